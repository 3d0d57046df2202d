"""The page to share and the club's, with their templates.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning, trials, report, plot, widgets.
"""
