"""A crop's name in a sentence."""

from __future__ import annotations

from climwin.crops.model import Crop


def plural(crop: Crop) -> str:
    """A crop's name in a sentence, such as ``"potatoes"`` or ``"spinach"``.

    Examples
    --------
    >>> import climwin as cw
    >>> plural(cw.crop("potato")), plural(cw.crop("cauliflower")), plural(cw.crop("pea"))
    ('potatoes', 'cauliflower', 'peas')
    """
    return crop.plural or crop.name


def is_plural(crop: Crop) -> bool:
    """Whether that name takes a plural verb: potatoes are, spinach is.

    Examples
    --------
    >>> import climwin as cw
    >>> is_plural(cw.crop("potato")), is_plural(cw.crop("spinach"))
    (True, False)
    """
    return bool(crop.plural)
