"""Bed trials: designed, and analysed; past sowings of one's own, and what they say.

May import from the rooms above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning.
"""
