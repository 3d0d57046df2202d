"""Bed trials: laid out, and read.

May import from the rooms above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning.
"""
