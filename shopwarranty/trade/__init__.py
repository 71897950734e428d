"""The trade itself, as plain data and pure functions: panels, defects, technique, conditions, VINs, cuts.

Nothing here imports Django, reads a clock, or knows a shop.
"""
