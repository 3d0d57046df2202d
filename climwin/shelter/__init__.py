"""Covered spaces: presets, the fit to a logger, and the odds inside.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate.
"""
