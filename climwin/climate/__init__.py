"""Arrays in, arrays out.

Freezes, percentiles, usable windows, heat, soil, rain, trends, breakpoints, and the move from a
station to a garden.

May import from the rooms above it in the table of DEVELOPERS.md: core, io, stations, crops.
"""
