"""Arrays in, arrays out.

Freezes, percentiles, usable windows, heat, soil, rain, trends, breakpoints; a record adjusted to
the garden, its gaps filled from a neighbour, stations compared.

May import from the rooms above it in the table of DEVELOPERS.md: core, io, stations, crops.
"""
