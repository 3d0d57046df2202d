"""The command line: arguments in, exit code out.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning, trials, report, plot, widgets, page, batch.
"""
