"""Many stations and grids, on this machine or on a dask cluster.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning, trials, report, plot, widgets, page.
"""
