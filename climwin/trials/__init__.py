"""Bed trials: designed, and analysed.

May import from the rooms above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning.
"""
