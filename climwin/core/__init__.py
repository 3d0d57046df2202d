"""What every folder shares.

Names and units, errors and their wording, places and distances, the grid of years by days,
statuses, statistics, resampling, and where a record comes from.

Imports from no other folder.
"""
