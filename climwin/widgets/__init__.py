"""Live notebook panels: the Python side here, the front end in ``js``.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning, trials, report, plot.
"""
