"""Quantities that a trial measures, in words: name, unit, and how much more or less."""

from __future__ import annotations

from types import MappingProxyType
from typing import NamedTuple, get_args

from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import number, significant
from climwin.core.schema import check_choice
from climwin.crops.model import Crop, HarvestedPart
from climwin.crops.naming import plural

WEIGHTS = ("g", "kg", "oz", "lb")
LENGTHS = ("mm", "cm", "m", "in", "ft")
UNITS = (*WEIGHTS, "count", *LENGTHS, "ml", "l", "days", "percent", "score")
"""Units of a response variable."""

_SPELLED = MappingProxyType(
    {
        **{unit: unit for unit in UNITS},
        **dict.fromkeys(("gram", "grams"), "g"),
        **dict.fromkeys(("kilo", "kilos", "kilogram", "kilograms"), "kg"),
        **dict.fromkeys(("ounce", "ounces"), "oz"),
        **dict.fromkeys(("lbs", "pound", "pounds"), "lb"),
        **dict.fromkeys(("inch", "inches"), "in"),
        **dict.fromkeys(("foot", "feet"), "ft"),
        **dict.fromkeys(("litre", "litres", "liter", "liters"), "l"),
        **dict.fromkeys(("number", "counted"), "count"),
        "day": "days",
        "points": "score",
    }
)
"""How a column's name may spell its unit."""
_COUNTED = frozenset(get_args(HarvestedPart)) | {
    "plants",
    "fruit",
    "cobs",
    "leaves",
    "flowers",
    "seedlings",
}
"""Columns whose name alone says that something was counted."""
TO_HARVEST = "days from planting to harvest"
"""What the column ``days_to_harvest`` of a sheet measures."""


class Measure(NamedTuple):
    """What was measured on each plot."""

    name: str
    """In words, without the unit."""
    unit: str | None
    """One of `UNITS`; None if neither the column's name nor the user gave one."""

    @property
    def label(self) -> str:
        """Label of an axis: the quantity, its unit in brackets."""
        if self.unit in (None, "count", "days"):
            return self.name
        return f"{self.name} ({self.unit})"


def measure_of(column: str, unit: str | None = None) -> Measure:
    """Quantity and unit of a column of a sheet.

    Parameters
    ----------
    column : str
        Its name, such as ``"weight_g"``, ``"height_cm"`` or ``"heads"``.
    unit : str, optional
        One of `UNITS`, for a name that does not say.

    Raises
    ------
    ValueError
        If there is no such unit, or the column's name gives another one.

    Examples
    --------
    >>> measure_of("weight_kg"), measure_of("heads").unit, measure_of("weight").unit is None
    (Measure(name='weight', unit='kg'), 'count', True)
    >>> measure_of("weight", "lb").label
    'weight (lb)'
    """
    if unit is not None:
        check_choice("unit", unit, UNITS)
    *words, last = column.replace("-", "_").replace(" ", "_").strip("_").split("_")
    stated = _SPELLED.get(last.casefold())
    if column == "days_to_harvest":
        stated, name = "days", TO_HARVEST
    elif stated is None:
        name = " ".join([*words, last])
        stated = "count" if last.casefold() in _COUNTED else None
    else:
        name = " ".join(words) or _kind_of(stated)
    if unit is not None and stated is not None and unit != stated:
        msg = f" is {unit!r}, but the column {column!r} says {stated}. Leave it out, or give "
        raise InputError(Parameter("unit"), msg, Parameter("unit", stated), ".")
    return Measure(name, stated or unit)


def _kind_of(unit: str) -> str:
    """Quantity of a unit, for a column whose name is only the unit."""
    if unit in WEIGHTS:
        return "weight"
    if unit in LENGTHS:
        return "length"
    return {"days": "days", "count": "count"}.get(unit, unit)


def response_variables(crop: Crop | None = None, unit: str = "g") -> tuple[str, str]:
    """Columns of a sheet to fill in: the count of a crop's harvested part, and its weight.

    Parameters
    ----------
    crop : Crop, optional
        What is grown; heads are counted if it is left out.
    unit : {"g", "kg", "oz", "lb"}
        Of the weight.

    Raises
    ------
    ValueError
        If the unit is not one of weight.

    Examples
    --------
    >>> import climwin as cw
    >>> response_variables(cw.crop("potato"), "lb")
    ('tubers', 'weight_lb')
    """
    check_choice("unit", unit, WEIGHTS)
    part = "heads" if crop is None else crop.harvested_part or "count"
    return part, f"weight_{unit}"


# --- more or less of it -------------------------------------------------------------------


def amount(value: float, unit: str | None, *, with_unit: bool = True) -> str:
    """Size of a value without its sign, with its unit.

    Examples
    --------
    >>> amount(-653.2, "g"), amount(3.5, "count"), amount(1, "days"), amount(12.2, "days")
    ('653 g', '3.5', '1 day', '12 days')
    """
    size = abs(value)
    if unit == "days":
        days = number(size)
        return f"{days} {'day' if days == '1' else 'days'}" if with_unit else days
    text = significant(size)
    if unit in (None, "count") or not with_unit:
        return text
    written = {"percent": "%", "score": "point" if text == "1" else "points"}.get(unit, unit)
    return f"{text} {written}"


def more_or_less(value: float, unit: str | None) -> str:
    """Word for the sign of a difference.

    Examples
    --------
    >>> more_or_less(-3, "g"), more_or_less(-3, "count"), more_or_less(3, "days")
    ('less', 'fewer', 'more')
    """
    if value > 0:
        return "more"
    return "fewer" if unit == "count" else "less"


def change(value: float, unit: str | None) -> str:
    """A difference with its unit and its word, such as ``"653 g less"``."""
    return f"{amount(value, unit)} {more_or_less(value, unit)}"


def change_range(low: float, high: float, unit: str | None) -> str:
    """Range of a difference; unit and word are given once if both ends have the same sign.

    Examples
    --------
    >>> change_range(-1190, -120, "g"), change_range(-40, 1540, "g")
    ('120 to 1,190 g less', '40 g less to 1,540 g more')
    """
    if low < 0 < high:
        return f"{change(low, unit)} to {change(high, unit)}"
    near, far = sorted((low, high), key=abs)
    word = more_or_less(far, unit)
    return f"{amount(near, unit, with_unit=False)} to {amount(far, unit)} {word}"


def what(measure: Measure, crop: Crop | None = None) -> str:
    """What was measured as a phrase, such as ``"weight of tubers lifted"``.

    Examples
    --------
    >>> import climwin as cw
    >>> what(measure_of("weight_g"), cw.crop("potato")), what(measure_of("heads"))
    ('weight of tubers lifted', 'heads')
    """
    if crop is None or _is_of_plants(measure):
        return measure.name
    part = crop.harvested_part or plural(crop)
    if measure.unit == "count":
        return f"{part} {crop.harvest_verb}"
    return f"{measure.name} of {part} {crop.harvest_verb}" if _is_weight(measure) else measure.name


def outcome(measure: Measure, difference: float, crop: Crop | None = None) -> str:
    """A difference as a clause with its subject, in the crop's own words.

    Examples
    --------
    >>> import climwin as cw
    >>> outcome(measure_of("weight_g"), -653, cw.crop("potato"))
    'the tubers lifted weighed 653 g less a plot'
    >>> outcome(measure_of("heads"), 1.5, cw.crop("cauliflower"))
    '1.5 more heads a plot were cut'
    >>> outcome(measure_of("height_cm"), 4)
    'height was 4 cm more'
    """
    size = amount(difference, measure.unit)
    word = more_or_less(difference, measure.unit)
    if measure.name == TO_HARVEST:
        return f"it took {size} {word} from planting to harvest"
    if measure.unit == "count":
        if crop is None or _is_of_plants(measure):
            return f"{size} {word} {measure.name} a plot were counted"
        part = crop.harvested_part or measure.name
        return f"{size} {word} {part} a plot were {crop.harvest_verb}"
    if not _is_weight(measure):
        return f"{measure.name} was {size} {word}"
    if crop is None:
        return f"{measure.name} was {size} {word} a plot"
    harvest = f"the {crop.harvested_part or plural(crop)} {crop.harvest_verb}"
    return f"{harvest} weighed {size} {word} a plot"


def _is_weight(measure: Measure) -> bool:
    return measure.unit in WEIGHTS


def _is_of_plants(measure: Measure) -> bool:
    """Whether plants were counted, and not what is harvested of them."""
    return measure.unit == "count" and measure.name in ("plants", "seedlings", "flowers")
