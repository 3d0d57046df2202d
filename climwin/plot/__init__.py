"""Results and axes in, artists out, in one look.

May import from the rooms above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning, trials, report.
"""
