"""What `manage.py` does before Django can be imported: set up, serve, test.

Everything here runs on a bare Python 3.11 and imports the standard library alone.
"""
