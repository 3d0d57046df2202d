"""Figures: results and axes in, artists out, in one style.

The figures stand in the stub beside this file: ``cw.plot.start_dates(...)`` and so on.

May import from the folders above it in the table of DEVELOPERS.md: core, io, stations, crops,
climate, shelter, planning, trials, report.
"""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
