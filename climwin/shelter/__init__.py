"""Covered spaces: presets, the fit to a logger, and the odds inside.

May import from the rooms above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate.
"""
