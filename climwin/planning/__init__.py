"""Ways of growing a crop.

Judged in every year, swept over start dates, compared, ranked, dated.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter.
"""
