"""Arrays in, arrays out.

Freezes, percentiles, usable windows, heat, soil, rain, trends, breakpoints; a record adjusted to
the garden, joined with stations nearby, compared with them.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops.
"""
