"""The statistics of the failure review: arrays in, frozen results out.

Nothing here knows of shops, pages, databases or the time of day, and nothing draws a random
number without being handed a seed. Days are whole days since a place was finished.
"""
