"""The whole answer for one garden, its sentences, tables and dates.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning, trials.
"""
