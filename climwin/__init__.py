"""Climate windows for people who grow food.

From a garden's own weather history: odds of a freeze by date, the spread of temperature on each
day of the year, the weeks a crop can use in every year, and which way of starting it does better.

The names of the public face stand in the stub beside this file; each is loaded when first used, so
that importing climwin stays light.
"""

import lazy_loader

__version__ = "0.1.0"
__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
