"""The demo shop on the given day: what is open, waiting, booked and owed, done through the rooms' own acts.

Everything happened before the day began, so that nothing on the pages lies in the future.
"""
