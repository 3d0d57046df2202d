"""What every part shares.

Names and units, errors and places, the grid of years by days, statistics, resampling, and where a
record comes from.

Imports no other room.
"""
