"""Judge the numbers of a crop file of one's own by those of the catalogue.

A number in another unit, without its sign or in another's place is far from what any crop of the
catalogue has. Numbers of one kind are compared: temperatures may lie a little outside the
catalogue's, days and weeks may be nearly twice as many. How far is common practice: judged by the
others, 76 of the catalogue's 79 crops would pass (not Florence fennel, garlic and strawberry). A
file that says ``unusual = true`` is not compared.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import fields, is_dataclass

from climwin.core.formatting import as_typed
from climwin.crops.model import Crop

BEYOND_C = 6.0
"""How far outside the catalogue's a temperature may lie. [degC]"""
BEYOND_H = 2.0
"""How far outside the catalogue's a day length may lie. [h]"""
BEYOND_TIMES = 1.8
"""How many times the catalogue's largest number anything else may be, or a part of its smallest."""
FEWEST_CROPS = 5
"""Least number of numbers of one kind, for another to be judged by them."""
FREEZING_GAP_C = 3.0
"""A stage that is damaged above freezing is killed at most so far below it: basil, damaged at 5.6
degC, dies at 2. [degC]"""

_BY_SEASON = "response"
"""What differs between crops of the cool and of the warm season."""
_NOT_JUDGED = ("share", "sum", "chill_units", "smaller_crop")
"""Ends of names that are shares, or have checks of their own."""

Numbers = dict[str, list[float]]
_DAYS_AT = "germination.days_at_c"


def unlike_all(crop: Crop, catalogue: Iterable[Crop]) -> str:
    """Which number of a crop lies too far outside a whole catalogue's; empty if none does.

    Parameters
    ----------
    crop : Crop
        Read from a file of one's own.
    catalogue : iterable of Crop
        Crops to compare with.

    Returns
    -------
    str
        The first number that cannot be right, what is allowed, and what it may be.

    Examples
    --------
    >>> import climwin as cw
    >>> unlike_all(cw.crop("leek"), [cw.crop(name) for name in cw.crop_names()])
    ''
    """
    others = [*catalogue]
    every, own_season = (
        _numbers_of(others),
        _numbers_of(each for each in others if each.season == crop.season),
    )
    for name, values in _numbers_of([crop]).items():
        seasonal = name.startswith(_BY_SEASON)
        known = (own_season if seasonal else every).get(name, [])
        if len(known) < FEWEST_CROPS or name.endswith(_NOT_JUDGED):
            continue
        low, high = _allowed(name, known)
        for value in values:
            if not low <= value <= high:
                of = f"{crop.season}-season crops" if seasonal else "crops"
                return (
                    f"{_in_file(name)} is {as_typed(value)}; of the catalogue's {of} it is "
                    f"{as_typed(min(known))} to {as_typed(max(known))}, and "
                    f"{as_typed(round(low, 1))} to {as_typed(round(high, 1))} is allowed. "
                    f"{_advice(name)}"
                )
    return ""


def out_of_step(crop: Crop) -> str:
    """Numbers of a crop that contradict each other, in a sentence; empty if none do."""
    for stage in crop.stages:
        damaged, killed = stage.cold.damaged_at_c, stage.cold.killed_at_c
        if damaged > 0 and killed < -FREEZING_GAP_C:
            return (
                f"stage {stage.name!r}: damaged_at_c is {as_typed(damaged)} and killed_at_c "
                f"{as_typed(killed)}. What suffers above freezing dies at "
                f"{as_typed(-FREEZING_GAP_C)} degC or warmer: has damaged_at_c lost its minus sign?"
            )
    germination = crop.germination
    if germination is not None and len(germination.days_at_c) > 1:
        (coldest, slow), *warmer = germination.days_at_c
        if coldest < germination.optimum_low_c and slow <= min(days for _, days in warmer):
            return (
                f"germination, days_at_c: it comes up after {as_typed(slow)} days in soil of "
                f"{as_typed(coldest)} degC, and no sooner in warmer soil. Give pairs of the soil's "
                "temperature and the days until it shows; in cold soil they are many."
            )
    if crop.propagation == "seed" and crop.is_set_out:
        return (
            'maturity, counted_from is "setting out", and propagation is "seed", which is sown in '
            'place. Write "sowing", or "plants" for what is raised and set out.'
        )
    return ""


def _numbers_of(crops: Iterable[Crop]) -> Numbers:
    """Numbers of crops by the path of their field, such as ``stages.cold.killed_at_c``."""
    found: Numbers = defaultdict(list)
    for crop in crops:
        for name, value in _walk(crop, ""):
            found[name].append(value)
    return found


def _walk(value: object, name: str) -> Iterator[tuple[str, float]]:
    if is_dataclass(value):
        for field in fields(value):
            yield from _walk(getattr(value, field.name), f"{name}.{field.name}".lstrip("."))
    elif name == _DAYS_AT and isinstance(value, tuple):
        yield from (("germination.days", days) for _, days in value)
    elif isinstance(value, tuple):
        for each in value:
            yield from _walk(each, name)
    elif isinstance(value, (int, float)) and not isinstance(value, bool):
        # A day length is one kind of number, whatever depends on it.
        yield "day_length_h" if name.endswith("_h") else name, float(value)


def _allowed(name: str, known: list[float]) -> tuple[float, float]:
    low, high = min(known), max(known)
    if name.endswith("_c"):
        return low - BEYOND_C, high + BEYOND_C
    if name.endswith("_h"):
        return low - BEYOND_H, high + BEYOND_H
    return low / BEYOND_TIMES, high * BEYOND_TIMES


def _in_file(name: str) -> str:
    """A field with its table, as a reader of the file finds it."""
    table, _, key = name.rpartition(".")
    if name == "germination.days":
        return "a number of days in germination, days_at_c,"
    return f"{table.replace('.', ', ')}, {key}" if table else key


def _advice(name: str) -> str:
    if name.endswith("_c"):
        return "Give degC: is it in degF, without its sign, or in another's place?"
    if name.endswith("_h"):
        return "Give hours of daylight."
    if name.startswith("weeks"):
        return "Give weeks: are they days?"
    return "Give days: are they weeks or hours, or has it a digit too many?"
