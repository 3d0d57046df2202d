"""Design and analysis of bed trials, and scores of your own past sowings.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning.
"""
