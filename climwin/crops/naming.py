"""A crop's name in a sentence: its plural, what is counted, and the verb for harvesting it.

Gardeners do not "start" crops: potatoes are planted and lifted, peas sown and picked, lettuces sown
and cut (common practice). A crop that is not listed keeps its name and is harvested.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from climwin.crops.model import Crop

CUT = (
    *("Brussels sprouts", "Chinese cabbage", "New Zealand spinach", "amaranth", "artichoke"),
    *("arugula", "asparagus", "basil", "broccoli", "cabbage", "cardoon", "cauliflower", "celery"),
    *("chard", "chicory", "chives", "collards", "coriander", "endive", "kale", "kohlrabi"),
    *("lettuce", "mustard greens", "pak choi", "parsley", "savoy cabbage", "sorrel", "spinach"),
)
LIFTED = (
    *("Jerusalem artichoke", "beet", "carrot", "celeriac", "Florence fennel", "garlic"),
    *("horseradish", "leek", "onion", "parsnip", "potato", "rutabaga", "salsify", "scorzonera"),
    *("shallot", "sweet potato", "turnip"),
)
PULLED = ("radish", "rhubarb", "spring onion")
PICKED = (
    *("apple", "broad bean", "cape gooseberry", "chayote", "cowpea", "cucumber", "eggplant"),
    *("grape", "hot pepper", "lima bean", "muskmelon", "okra", "pea", "peach", "pear"),
    *("raspberry", "roselle", "runner bean", "snap bean", "strawberry", "summer squash"),
    *("sweet cherry", "sweet corn", "sweet pepper", "tomato", "vegetable soybean", "watermelon"),
)
"""Pumpkins, winter squash, dry beans and soybeans are left out: they are harvested."""

_VERBS: Mapping[str, str] = MappingProxyType(
    {
        name: verb
        for verb, names in (
            ("cut", CUT),
            ("lifted", LIFTED),
            ("pulled", PULLED),
            ("picked", PICKED),
        )
        for name in names
    }
)

_PARTS: Mapping[str, tuple[str, ...]] = MappingProxyType(
    {
        "heads": (
            *("Chinese cabbage", "artichoke", "broccoli", "cabbage", "cauliflower", "celery"),
            *("chicory", "endive", "lettuce", "pak choi", "savoy cabbage"),
        ),
        "bunches": (
            *("New Zealand spinach", "amaranth", "arugula", "basil", "chard", "chives", "collards"),
            *("coriander", "grape", "kale", "mustard greens", "parsley", "radish", "sorrel"),
            *("spinach", "spring onion"),
        ),
        "bulbs": ("Florence fennel", "garlic", "kohlrabi", "onion", "shallot"),
        "roots": (
            *("beet", "carrot", "celeriac", "horseradish", "parsnip", "rutabaga", "salsify"),
            *("scorzonera", "sweet potato", "turnip"),
        ),
        "tubers": ("Jerusalem artichoke", "potato"),
        "sprouts": ("Brussels sprouts",),
        "spears": ("asparagus",),
        "stalks": ("cardoon", "rhubarb"),
        "stems": ("leek",),
        "pods": (
            *("broad bean", "cowpea", "dry bean", "lima bean", "okra", "pea", "runner bean"),
            *("snap bean", "soybean", "vegetable soybean"),
        ),
        "ears": ("sweet corn",),
        "berries": ("raspberry", "strawberry"),
        "fruits": (
            *("apple", "cape gooseberry", "chayote", "cucumber", "eggplant", "hot pepper"),
            *("muskmelon", "peach", "pear", "pumpkin", "roselle", "summer squash", "sweet cherry"),
            *("sweet pepper", "tomato", "watermelon", "winter squash"),
        ),
    }
)
"""What is counted of each crop at harvest (common practice)."""
PARTS = tuple(_PARTS)

_AS_THEY_ARE = {
    *("Brussels sprouts", "Florence fennel", "New Zealand spinach", "amaranth", "arugula"),
    *("asparagus", "basil", "broccoli", "celery", "celeriac", "chard", "chicory", "chives"),
    *("collards", "coriander", "endive", "garlic", "horseradish", "kale", "kohlrabi", "lettuce"),
    *("mustard greens", "okra", "pak choi", "parsley", "rhubarb", "roselle", "salsify"),
    *("scorzonera", "sorrel", "spinach", "summer squash", "sweet corn", "winter squash"),
    *("Chinese cabbage", "cabbage", "cauliflower", "cardoon", "savoy cabbage"),
}
"""Names that a sentence leaves unchanged, in the singular or already plural."""
_OTHERWISE = {
    "cape gooseberry": "cape gooseberries",
    "potato": "potatoes",
    "radish": "radishes",
    "peach": "peaches",
    "raspberry": "raspberries",
    "strawberry": "strawberries",
    "sweet cherry": "sweet cherries",
    "sweet potato": "sweet potatoes",
    "tomato": "tomatoes",
}
_REGULAR = {
    *("Jerusalem artichoke", "apple", "artichoke", "beet", "broad bean", "carrot", "chayote"),
    *("cowpea", "cucumber", "dry bean", "eggplant", "grape", "hot pepper", "leek", "lima bean"),
    *("muskmelon", "onion", "parsnip", "pea", "pear", "pumpkin", "runner bean", "rutabaga"),
    *("shallot", "snap bean", "soybean", "spring onion", "sweet pepper", "turnip"),
    *("vegetable soybean", "watermelon"),
}
_PLURAL_FORMS = {"Brussels sprouts", "chives", "collards", "mustard greens"}


def plural(crop: Crop) -> str:
    """A crop's name in a sentence, such as ``"potatoes"`` or ``"spinach"``.

    Examples
    --------
    >>> import climwin as cw
    >>> plural(cw.crop("potato")), plural(cw.crop("cauliflower")), plural(cw.crop("pea"))
    ('potatoes', 'cauliflower', 'peas')
    """
    name = crop.name
    if name in _OTHERWISE:
        return _OTHERWISE[name]
    return f"{name}s" if name in _REGULAR else name


def is_plural(crop: Crop) -> bool:
    """Whether that name takes a plural verb: potatoes are, spinach is.

    Examples
    --------
    >>> import climwin as cw
    >>> is_plural(cw.crop("potato")), is_plural(cw.crop("spinach"))
    (True, False)
    """
    return crop.name in _PLURAL_FORMS or plural(crop) != crop.name


def harvest_verb(crop: Crop) -> str:
    """The verb for harvesting a crop: cut, lifted, picked, pulled or harvested.

    Examples
    --------
    >>> import climwin as cw
    >>> harvest_verb(cw.crop("potato")), harvest_verb(cw.crop("winter squash"))
    ('lifted', 'harvested')
    """
    return _VERBS.get(crop.name, "harvested")


def harvested_part(crop: Crop) -> str | None:
    """What is counted of a crop at harvest, in the plural; None for a crop that is not listed.

    Examples
    --------
    >>> import climwin as cw
    >>> harvested_part(cw.crop("potato")), harvested_part(cw.crop("snap bean"))
    ('tubers', 'pods')
    """
    return next((part for part, names in _PARTS.items() if crop.name in names), None)
