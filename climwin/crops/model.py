"""The crop model: response to temperature, duration, and what makes a crop fail.

Every number has its source. The catalogue in ``climwin/crops/data`` has one TOML file for each
crop; your own file has the same form.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass
from typing import Literal, get_args

from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import as_typed
from climwin.core.schema import check_choice

COMMON_PRACTICE, FROM_MEMORY = "common practice", "from memory"
"""Sources of numbers that are not published, or that could not be looked up again."""

Season = Literal["cool", "warm"]
Propagation = Literal[
    "seed", "seed or plants", "plants", "tubers", "cloves", "sets", "slips", "roots", "perennial"
]
HarvestVerb = Literal["cut", "lifted", "picked", "pulled", "harvested"]
HarvestedPart = Literal[
    "heads",
    "bunches",
    "bulbs",
    "roots",
    "tubers",
    "sprouts",
    "spears",
    "stalks",
    "stems",
    "pods",
    "ears",
    "berries",
    "fruits",
]

REFERENCE_DAYS = {"cool": (16.0, 5.0), "warm": (22.0, 6.0)}
"""Mean and half the range of the reference day for which a packet's days hold, by season: the
weather of the months in which such crops are tested for the lists (common practice). [degC]"""
FIELD_DAYS = 1.12
"""Ratio of days in the field to days on the packet. Field heat sums of six crops (Paredes et al.
2025) give 1.11; the lists count to the first harvest."""

LEAST_DAY_H = 10.0
"""Day length below which a plant outdoors lives but does not develop: the ten-hour rule of winter
growers (Coleman, The Winter Harvest Handbook, 2009, from memory). [h]"""
DAYS_TO_HEAL = 14
"""Days in which the cut faces of seed potatoes heal, or rot where the soil is too cold (common
practice)."""
DAYS_TO_SPROUT_AGAIN = 12
"""Days until new shoots replace frozen ones: 10 to 14 (Iowa State University Extension, on
potatoes)."""
LOST_WITH_SHOOTS = 0.1
"""Share of the harvest lost each time the shoots freeze: it is later and possibly somewhat smaller
(Irish Times, 3 May 2025, on potatoes); how much is common practice."""

FROZEN_SOIL_C = -18.0
"""A tuber or root that survives this temperature can stay in the ground all winter and comes up
again in spring (common practice with Jerusalem artichokes and horseradish). [degC]"""
WARM_AFTERNOON_C = 18.0
"""Daily maximum from which a cold night no longer counts towards bolting (from memory). [degC]"""

COLD_NEED_RANGE_C = (-2.0, 10.0)
"""Temperatures whose hours count towards the cold requirement of garlic and similar crops: below 10
(sources in their files), not much below freezing (common practice). [degC]"""
RIPENING_BASE_C = 10.0
"""Base of a vine's heat sum (Amerine and Winkler 1944: 50 degF). [degC]"""
CHILL_BELOW_C = 9.4
"""Daily mean below which a winter day counts towards the cold requirement of rhubarb and similar
plants (dormant rhubarb before forcing, scilit eb7e28bc). [degC]"""


def _check_celsius(**temperatures: float | None) -> None:
    """Refuse implausible temperatures, such as a number in degF."""
    for name, value in temperatures.items():
        if value is not None and not -60 <= value <= 50:
            msg = f" must lie between -60 and 50 degC, got {as_typed(value)}. Is it in degF?"
            raise InputError(Parameter(name), msg)


def _check_positive(**values: float | None) -> None:
    for name, value in values.items():
        if value is not None and not value > 0:
            msg = (
                f" must be more than 0, got {as_typed(value)}. Leave it out, or give a larger one."
            )
            raise InputError(Parameter(name), msg)


def _check_share(**shares: float) -> None:
    for name, value in shares.items():
        if not 0 <= value <= 1:
            msg = f" must lie between 0 and 1, got {as_typed(value)}. Half is 0.5."
            raise InputError(Parameter(name), msg)


def _check_day_length(**hours: float | None) -> None:
    for name, value in hours.items():
        if value is not None and not 0 < value <= 24:
            msg = (
                f" must lie between 0 and 24 hours, got {as_typed(value)}. Give hours of daylight."
            )
            raise InputError(Parameter(name), msg)


def _check_order(subject: str, signs: str, *, above_zero: bool = False, **values: float) -> None:
    """Refuse numbers that are out of order; `signs` are the relations between successive ones."""
    names, numbers, relations = [*values], [*values.values()], signs.split()
    steps = zip(itertools.pairwise(numbers), relations, strict=True)
    in_order = all(low < high if sign == "<" else low <= high for (low, high), sign in steps)
    if in_order and not (above_zero and not numbers[0] > 0):
        return
    begin = "0 < " if above_zero else ""
    chain: list[str | Parameter] = [f"{subject} must be ordered {begin}", Parameter(names[0])]
    for sign, name in zip(relations, names[1:], strict=True):
        chain += [f" {sign} ", Parameter(name)]
    got = f", got {', '.join(map(as_typed, numbers))}. Correct the one that is out of order."
    raise InputError(*chain, got)


def _check_source(given: str, source: str, cited: str) -> None:
    """Refuse a parameter `given` without its source in the parameter `source`."""
    if not cited:
        advice = ". Say where it is published; 'common practice' and 'from memory' will do."
        raise InputError(Parameter(given), " is given without ", Parameter(source), advice)


FEWEST_DAYS = 14.0
"""Fewest days to a first harvest: the quickest crop outdoors, a radish, takes three weeks (common
practice). [day]"""
MOST_HARDENING_C = 20.0
"""Largest gain by hardening before winter's own, for which `Winter` has limits (common practice).
[degC]"""


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """A temperature range with its source.

    Parameters
    ----------
    low_c, high_c : float
        Its two ends. [degC]
    source : str
        Where they are from.

    Raises
    ------
    ValueError
        If they are the wrong way round, or no temperatures in degC.

    Examples
    --------
    >>> import climwin as cw
    >>> band = cw.Limits(low_c=7.2, high_c=21.0, source="common practice")
    """

    low_c: float
    high_c: float
    source: str

    def __post_init__(self) -> None:
        _check_celsius(low_c=self.low_c, high_c=self.high_c)
        if not self.low_c < self.high_c:
            got = Parameter("low_c", self.low_c), " and ", Parameter("high_c", self.high_c)
            must = Parameter("low_c"), " must lie below ", Parameter("high_c")
            raise InputError(*must, ", got ", *got, ". Are they the wrong way round?")


# --- temperature and time -----------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Cardinal:
    """Cardinal temperatures: base, optimum and maximum of growth. [degC]

    The response of an hour rises linearly from the base to the optimum, and falls linearly from the
    optimum to the maximum; see `climwin.climate.response`.
    """

    base_c: float
    optimum_from_c: float
    optimum_to_c: float
    maximum_c: float
    source: str

    def __post_init__(self) -> None:
        _check_celsius(base_c=self.base_c, maximum_c=self.maximum_c)
        _check_order(
            "cardinal temperatures",
            "< <= <",
            base_c=self.base_c,
            optimum_from_c=self.optimum_from_c,
            optimum_to_c=self.optimum_to_c,
            maximum_c=self.maximum_c,
        )

    @property
    def temperatures(self) -> tuple[float, float, float, float]:
        """Base, lower and upper end of the optimum, maximum. [degC]"""
        return self.base_c, self.optimum_from_c, self.optimum_to_c, self.maximum_c


@dataclass(frozen=True, slots=True, kw_only=True)
class Maturity:
    """Days to maturity: from the start to the first harvest, as on seed packets and lists.

    Parameters
    ----------
    early, main, late : float
        Days of early, main and late varieties.
    counted_from : {"sowing", "setting out"}
        What the list counts from. For tubers, cloves, sets, slips and roots ``"sowing"`` means
        planting.
    emergence_days : float
        How many of these days pass before emergence; 0 for plants that are set out.
    source : str
        Source of the days.
    heat_sums : tuple of three floats, optional
        Heat from emergence (or setting out) to the first harvest, if published or calibrated; it
        then takes precedence over the days. [degC day]
    heat_source : str
        Source of the heat sums, required with them.
    """

    early: float
    main: float
    late: float
    counted_from: Literal["sowing", "setting out"]
    source: str
    emergence_days: float = 0.0
    heat_sums: tuple[float, float, float] | None = None
    heat_source: str = ""

    def __post_init__(self) -> None:
        check_choice("counted_from", self.counted_from, ("sowing", "setting out"))
        days = {"early": self.early, "main": self.main, "late": self.late}
        _check_order("days", "<= <=", above_zero=True, **days)
        if self.early < FEWEST_DAYS:
            msg = f" must be {as_typed(FEWEST_DAYS)} days or more, got {as_typed(self.early)}."
            raise InputError(Parameter("early"), msg, " Is it in weeks? Give days.")
        if not 0 <= self.emergence_days < self.early:
            msg = f", got {as_typed(self.emergence_days)}. Give the days until it shows."
            between = Parameter("emergence_days"), " must lie between 0 and ", Parameter("early")
            raise InputError(*between, msg)
        if self.heat_sums is not None:
            _check_source("heat_sums", "heat_source", self.heat_source)


# --- what fails it ------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Cold:
    """Night minima at or below which a stage is damaged, and killed.

    Parameters
    ----------
    damaged_at_c, killed_at_c : float
        Onset of damage, and death, for plants that are not hardened. Equal if only one number is
        known. [degC]
    source : str
        Where they are published.
    """

    damaged_at_c: float
    killed_at_c: float
    source: str

    def __post_init__(self) -> None:
        _check_celsius(damaged_at_c=self.damaged_at_c, killed_at_c=self.killed_at_c)
        if self.killed_at_c > self.damaged_at_c:
            msg = f", got {as_typed(self.killed_at_c)} and {as_typed(self.damaged_at_c)}."
            above = Parameter("killed_at_c"), " must not lie above ", Parameter("damaged_at_c")
            raise InputError(*above, msg, " Where only one is known give it as both.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """Mean daily maximum, minimum or mean over a stage above which it suffers, or fails.

    If it can fail by both a maximum and a minimum, cool nights offset hot days: the two limits are
    averaged and compared with the daily mean.

    Parameters
    ----------
    maximum_from_c, minimum_from_c, mean_from_c : float, optional
        The harvest shrinks above this mean of the stage's daily maxima, minima or means. [degC]
    maximum_fails_c, minimum_fails_c, mean_fails_c : float, optional
        The harvest is lost above this; omitted if it only shrinks. [degC]
    source : str
        Where they are published.
    """

    source: str
    maximum_from_c: float | None = None
    maximum_fails_c: float | None = None
    minimum_from_c: float | None = None
    minimum_fails_c: float | None = None
    mean_from_c: float | None = None
    mean_fails_c: float | None = None

    def __post_init__(self) -> None:
        _check_celsius(
            maximum_from_c=self.maximum_from_c,
            maximum_fails_c=self.maximum_fails_c,
            minimum_from_c=self.minimum_from_c,
            minimum_fails_c=self.minimum_fails_c,
            mean_from_c=self.mean_from_c,
            mean_fails_c=self.mean_fails_c,
        )
        pairs = (
            ("maximum", self.maximum_from_c, self.maximum_fails_c),
            ("minimum", self.minimum_from_c, self.minimum_fails_c),
            ("mean", self.mean_from_c, self.mean_fails_c),
        )
        if all(first is None for _, first, _ in pairs):
            msg = (
                *("heat needs at least one of ", Parameter("maximum_from_c"), ", "),
                *(Parameter("minimum_from_c"), ", ", Parameter("mean_from_c"), ", got none. "),
                "Give the mean above which the harvest shrinks.",
            )
            raise InputError(*msg)
        for name, first, last in pairs:
            begins, fails = Parameter(f"{name}_from_c"), Parameter(f"{name}_fails_c")
            if last is not None and first is None:
                raise InputError(fails, " needs ", begins, ", where the harvest begins to shrink.")
            if last is not None and first is not None and last < first:
                got = f", got {as_typed(last)} and {as_typed(first)}. Leave it out if not known."
                raise InputError(fails, " must not lie below ", begins, got)


@dataclass(frozen=True, slots=True, kw_only=True)
class Setting:
    """Ranges of nights and days in which fruit sets, and how many such days are needed. [degC]"""

    night_low_c: float
    night_high_c: float
    day_low_c: float
    day_high_c: float
    days: int
    source: str

    def __post_init__(self) -> None:
        _check_positive(days=self.days)
        nights, days = (self.night_low_c, self.night_high_c), (self.day_low_c, self.day_high_c)
        if not (nights[0] < nights[1] and days[0] < days[1]):
            needed = (
                *("setting needs ", Parameter("night_low_c"), " below ", Parameter("night_high_c")),
                *(" and ", Parameter("day_low_c"), " below ", Parameter("day_high_c")),
            )
            given = [f"{as_typed(low)} and {as_typed(high)}" for low, high in (nights, days)]
            raise InputError(*needed, f", got {', '.join(given)}. Are they the wrong way round?")


@dataclass(frozen=True, slots=True, kw_only=True)
class Stage:
    """One stage of a crop's life above ground.

    Parameters
    ----------
    name : str
        Name of the stage, as growers call it.
    share : float
        Its share of the heat from emergence to the first harvest, 0 to 1.
    cold : Cold
        Night minima that damage and kill it.
    harvested : bool
        Whether it makes the part that is harvested.
    heat : Heat, optional
        Effect of heat.
    setting : Setting, optional
        Days needed for fruit to set.
    hardens : bool
        Whether cool weather hardens it; flowers and fruits do not harden.
    """

    name: str
    share: float
    cold: Cold
    harvested: bool = False
    hardens: bool = True
    heat: Heat | None = None
    setting: Setting | None = None

    def __post_init__(self) -> None:
        if not 0 < self.share <= 1:
            msg = f" must be above 0 and at most 1, got {as_typed(self.share)}. Half is 0.5."
            stage = f"Stage {self.name!r}: ", Parameter("share")
            raise InputError(*stage, msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Chilling:
    """A run of cold days without frost that stops a young warm crop for good.

    Parameters
    ----------
    mean_below_c : float
        Daily mean. [degC]
    days : int
        Days in a row.
    source : str
        Where they are published.
    first_days : int
        How long it is sensitive, from emergence or setting out. [day]
    """

    mean_below_c: float
    days: int
    source: str
    first_days: int = 28

    def __post_init__(self) -> None:
        _check_celsius(mean_below_c=self.mean_below_c)
        _check_positive(days=self.days, first_days=self.first_days)


@dataclass(frozen=True, slots=True, kw_only=True)
class ColdBolting:
    """Cold days that make a crop run to flower instead of producing.

    A day counts if its mean is below `mean_below_c` and its maximum below `WARM_AFTERNOON_C`: a
    warm afternoon undoes a cold night (from memory).

    Parameters
    ----------
    mean_below_c : float
        Daily mean. [degC]
    days : int
        Number of days that is enough.
    source : str
        Where they are published.
    from_share : float
        Share of its heat, as a measure of size, from which cold counts; 0 for from emergence on.
    within_days : int, optional
        Period from emergence in which cold counts. Default: its whole life. [day]
    day_length_h : float, optional
        It flowers only if a day of at least this length follows. [h]
    """

    mean_below_c: float
    days: int
    source: str
    from_share: float = 0.0
    within_days: int | None = None
    day_length_h: float | None = None

    def __post_init__(self) -> None:
        _check_celsius(mean_below_c=self.mean_below_c)
        _check_positive(days=self.days, within_days=self.within_days)
        _check_day_length(day_length_h=self.day_length_h)
        _check_share(from_share=self.from_share)


@dataclass(frozen=True, slots=True, kw_only=True)
class Vernalization:
    """Cold, as a sum of its own response, that makes a crop flower in long days.

    Parameters
    ----------
    base_c, optimum_c, maximum_c : float
        Response to cold: none at the base, full at the optimum, none at the maximum. [degC]
    sum : float
        Sum of cold that is enough. [degC day]
    from_share : float
        Share of its heat from which cold counts.
    day_length_h : float
        It flowers only if a day of at least this length follows. [h]
    source : str
        Where they are published.
    """

    base_c: float
    optimum_c: float
    maximum_c: float
    sum: float
    from_share: float
    day_length_h: float
    source: str

    def __post_init__(self) -> None:
        _check_positive(sum=self.sum)
        _check_day_length(day_length_h=self.day_length_h)
        _check_order(
            "temperatures",
            "< <",
            base_c=self.base_c,
            optimum_c=self.optimum_c,
            maximum_c=self.maximum_c,
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class LongDayBolting:
    """Long and warm days that make a crop run to flower before it can be cut.

    Parameters
    ----------
    day_length_h : float
        Longer days count. [h]
    mean_above_c : float
        Warmer days, by their mean, count. [degC]
    days : int
        Number of days that is enough.
    source : str
        Where they are published.
    """

    day_length_h: float
    mean_above_c: float
    days: int
    source: str

    def __post_init__(self) -> None:
        _check_celsius(mean_above_c=self.mean_above_c)
        _check_positive(days=self.days)
        _check_day_length(day_length_h=self.day_length_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bulbing:
    """Day length from which bulbs form.

    Parameters
    ----------
    short_day_h, intermediate_h, long_day_h : float
        Day lengths for the kinds grown up to 32 degrees of latitude, up to 38, and beyond. [h]
    source : str
        Where they are published.
    too_long_h : float, optional
        Day length in which short-day kinds bulb even without enough leaves, and only make pickling
        onions. [h]
    """

    short_day_h: float
    intermediate_h: float
    long_day_h: float
    source: str
    too_long_h: float | None = None

    def __post_init__(self) -> None:
        hours = (self.short_day_h, self.intermediate_h, self.long_day_h)
        _check_day_length(short_day_h=hours[0], long_day_h=hours[2], too_long_h=self.too_long_h)
        _check_order(
            "day lengths",
            "<= <=",
            short_day_h=self.short_day_h,
            intermediate_h=self.intermediate_h,
            long_day_h=self.long_day_h,
        )

    def day_length_at(self, latitude: float) -> float:
        """Day length that the kind grown at a latitude needs. [h]"""
        if self.is_short_day_at(latitude):
            return self.short_day_h
        return self.intermediate_h if abs(latitude) < 38 else self.long_day_h

    def is_short_day_at(self, latitude: float) -> bool:
        """Whether short-day kinds are grown at a latitude."""
        return abs(latitude) < 32


@dataclass(frozen=True, slots=True, kw_only=True)
class ShortDays:
    """Day length below which a crop flowers or makes tubers; until then it only grows leaves.

    Parameters
    ----------
    day_length_h : float
        The stage does not begin before the first day that is at most this long. [h]
    stage : str
        Name of that stage.
    source : str
        Where they are published.
    """

    day_length_h: float
    stage: str
    source: str

    def __post_init__(self) -> None:
        _check_day_length(day_length_h=self.day_length_h)


@dataclass(frozen=True, slots=True, kw_only=True)
class Lifting:
    """Roots and tubers that are lifted at any size, once growth has stopped in autumn.

    Parameters
    ----------
    days : float
        Least number of days from the start; before that there is nothing worth lifting.
    source : str
        Where they are published.
    """

    days: float
    source: str

    def __post_init__(self) -> None:
        _check_positive(days=self.days)


@dataclass(frozen=True, slots=True, kw_only=True)
class Winter:
    """How a crop survives a winter in the ground.

    Parameters
    ----------
    hardy_to_c : float
        Night minimum that kills it once it is hardened. Ignored if `below_ground`, because air
        temperature does not decide for a covered root or clove. [degC]
    source : str
        Where that is published.
    below_ground : bool
        Whether the overwintering part is below ground; of what is sown, only once it has formed.
    cold_days : int, optional
        Time at -2 to 10 degC that it needs, counted in hours, as days of 24; with less the crop is
        smaller.
    smaller_crop : float
        Size of such a crop relative to a full one, 0 to 1.
    cold_source : str
        Where these are published.
    most_heat_before : float, optional
        Largest heat sum by the coldest time of the year; with more it is too advanced for winter.
        [degC day]
    least_root_heat : float, optional
        Heat sum of the soil above 0 degC that its roots need before the coldest time of the year,
        if the soil at sowing depth freezes before then. [degC day]
    """

    hardy_to_c: float
    source: str
    below_ground: bool = False
    cold_days: int | None = None
    smaller_crop: float = 1.0
    cold_source: str = ""
    most_heat_before: float | None = None
    least_root_heat: float | None = None

    def __post_init__(self) -> None:
        _check_celsius(hardy_to_c=self.hardy_to_c)
        _check_positive(cold_days=self.cold_days)
        _check_share(smaller_crop=self.smaller_crop)
        if self.cold_days is not None:
            _check_source("cold_days", "cold_source", self.cold_source)


# --- sowing -------------------------------------------------------------------------------


_HOTTEST_SOIL_C = 45.0  # no seed was counted in hotter soil; 50 degF is typed for 10 degC


@dataclass(frozen=True, slots=True, kw_only=True)
class Germination:
    """Soil temperatures for sowing or planting, and days to emergence at some of them. [degC]"""

    minimum_c: float
    optimum_low_c: float
    optimum_high_c: float
    maximum_c: float
    source: str
    days_at_c: tuple[tuple[float, float], ...] = ()
    days_source: str = ""

    def __post_init__(self) -> None:
        _check_celsius(minimum_c=self.minimum_c, maximum_c=self.maximum_c)
        _check_order(
            "soil temperatures",
            "<= <= <=",
            minimum_c=self.minimum_c,
            optimum_low_c=self.optimum_low_c,
            optimum_high_c=self.optimum_high_c,
            maximum_c=self.maximum_c,
        )
        soil = [celsius for celsius, _ in self.days_at_c]
        beyond = [c for c in soil if not 0 <= c <= _HOTTEST_SOIL_C]
        if beyond:
            msg = f" must have soil of 0 to {as_typed(_HOTTEST_SOIL_C)} degC"
            msg += f", got {as_typed(beyond[0])}. Is it in degF?"
            raise InputError(Parameter("days_at_c"), msg)
        if soil != sorted(set(soil)) or any(not days > 0 for _, days in self.days_at_c):
            given = ", ".join(f"[{as_typed(c)}, {as_typed(d)}]" for c, d in self.days_at_c)
            msg = f" must be pairs of a rising soil temperature and days above 0, got {given}."
            raise InputError(Parameter("days_at_c"), msg, " Begin with the coldest soil.")
        if self.days_at_c:
            _check_source("days_at_c", "days_source", self.days_source)


@dataclass(frozen=True, slots=True, kw_only=True)
class WeeksUnderCover:
    """Usual time under cover before setting out. [week]"""

    usual: int
    fewest: int
    most: int
    source: str

    def __post_init__(self) -> None:
        weeks = {"fewest": self.fewest, "usual": self.usual, "most": self.most}
        _check_order("weeks", "<= <=", above_zero=True, **weeks)


# --- plants that stand for years ----------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class BudStage:
    """A stage of bud or bloom, with the minima that kill a tenth and nine tenths of the buds.

    Parameters
    ----------
    name : str
        What growers call it.
    share : float
        Share of the heat from the end of rest to full bloom at which it begins; above 1 after full
        bloom.
    tenth_killed_c, most_killed_c : float
        Night minima, lasting half an hour. [degC]
    """

    name: str
    share: float
    tenth_killed_c: float
    most_killed_c: float

    def __post_init__(self) -> None:
        _check_celsius(tenth_killed_c=self.tenth_killed_c, most_killed_c=self.most_killed_c)
        if self.most_killed_c > self.tenth_killed_c:
            got = f", got {as_typed(self.most_killed_c)} and {as_typed(self.tenth_killed_c)}."
            msg = (
                *(f"Buds at {self.name!r}: ", Parameter("most_killed_c"), " must not lie above "),
                *(Parameter("tenth_killed_c"), got, " Are they the wrong way round?"),
            )
            raise InputError(*msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Bloom:
    """Rest, bloom and fruit of a tree, vine or bush.

    Parameters
    ----------
    chill_units : float
        Chilling that ends the rest of common kinds, in daily positive Utah units (Richardson et al.
        1974; Linsley-Noakes et al. 1995); 0 if it needs hardly any.
    heat_to_bloom : float
        Growing degree hours (Anderson et al. 1986: base 4, optimum 25, ceiling 36 degC) from the
        end of rest to full bloom.
    days_to_harvest : float
        Days from full bloom to the first ripe fruit of a main variety.
    source : str
        Where these are published.
    buds : tuple of BudStage
        In order of their shares.
    buds_source : str
        Where the temperatures of the buds are published.
    heat_to_ripen : float, optional
        Degree-days above `RIPENING_BASE_C` that the fruit needs to ripen, counted from the coldest
        time of the year. [degC day]
    ripening_source : str
        Source of `heat_to_ripen`, required with it.
    least_chill_units : float, optional
        Chilling with which it still breaks its rest, only later; omitted if that is `chill_units`.
    low_chill_units : float, optional
        Chilling that ends the rest of the kinds that need least, which are grown where winters are
        too mild for common ones; omitted if there are none.
    low_chill_source : str
        Source of `low_chill_units`, and names of such kinds; required with it.
    flowering_days : int
        Days from the first flowers to the last ones, where they open one after the other and a
        frost finds some still in bud; 0 where all bloom at once.
    flowering_source : str
        Source of `flowering_days`, required with it.
    """

    chill_units: float
    heat_to_bloom: float
    days_to_harvest: float
    source: str
    buds: tuple[BudStage, ...]
    buds_source: str
    heat_to_ripen: float | None = None
    ripening_source: str = ""
    least_chill_units: float | None = None
    low_chill_units: float | None = None
    low_chill_source: str = ""
    flowering_days: int = 0
    flowering_source: str = ""

    def __post_init__(self) -> None:
        _check_positive(heat_to_bloom=self.heat_to_bloom, days_to_harvest=self.days_to_harvest)
        _check_positive(heat_to_ripen=self.heat_to_ripen)
        if self.least_chill_units is not None:
            _check_order(
                "chill units",
                "<=",
                least_chill_units=self.least_chill_units,
                chill_units=self.chill_units,
            )
        if self.low_chill_units is not None:
            _check_source("low_chill_units", "low_chill_source", self.low_chill_source)
            _check_positive(low_chill_units=self.low_chill_units)
            _check_order(
                "chill units",
                "<=",
                low_chill_units=self.low_chill_units,
                chill_units=self.chill_units,
            )
        if self.flowering_days < 0:
            msg = f" must be 0 or more days, got {as_typed(self.flowering_days)}."
            raise InputError(Parameter("flowering_days"), msg)
        if self.flowering_days:
            _check_source("flowering_days", "flowering_source", self.flowering_source)
        if self.heat_to_ripen is not None:
            _check_source("heat_to_ripen", "ripening_source", self.ripening_source)
        shares = [stage.share for stage in self.buds]
        if not shares or shares != sorted(set(shares)):
            given = ", ".join(map(as_typed, shares)) or "none"
            msg = f" must have rising shares, got {given}. Give the stages in their order."
            raise InputError(Parameter("buds"), msg)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sprouting:
    """How a herbaceous perennial sprouts and is cut.

    Parameters
    ----------
    base_c : float
        Daily mean, of the soil at 20 cm if `in_soil`, from which it grows. [degC]
    heat_to_first_cut : float
        Degree-days above the base, from the coldest time of the year, to the first cut. [degC day]
    harvest_days : int
        Length of the cutting season. [day]
    cut_killed_at_c : float
        Night minimum that spoils the growth above ground, which grows again. [degC]
    source : str
        Where these are published.
    in_soil : bool
        Whether soil rather than air temperature drives it.
    chill_days : int
        Number of winter days with a mean below 9.4 degC that it needs; 0 for none.
    """

    base_c: float
    heat_to_first_cut: float
    harvest_days: int
    cut_killed_at_c: float
    source: str
    in_soil: bool = False
    chill_days: int = 0

    def __post_init__(self) -> None:
        _check_celsius(base_c=self.base_c, cut_killed_at_c=self.cut_killed_at_c)
        _check_positive(heat_to_first_cut=self.heat_to_first_cut, harvest_days=self.harvest_days)


@dataclass(frozen=True, slots=True, kw_only=True)
class Perennial:
    """A perennial's winter hardiness, and how it blooms or sprouts.

    Parameters
    ----------
    hardy_to_c : float
        Minimum that kills its wood, canes or crown in winter. [degC]
    hardy_source : str
        Where that is published.
    buds_hardy_to_c : float, optional
        Minimum that kills its flower buds in deep rest, if they are less hardy. [degC]
    crown_below_ground : bool
        Whether soil and snow cover the overwintering part, so that air temperature does not decide.
    bloom : Bloom, optional
        For trees, vines and bushes.
    sprouting : Sprouting, optional
        For herbaceous perennials.
    """

    hardy_to_c: float
    hardy_source: str
    buds_hardy_to_c: float | None = None
    crown_below_ground: bool = False
    bloom: Bloom | None = None
    sprouting: Sprouting | None = None

    def __post_init__(self) -> None:
        if (self.bloom is None) == (self.sprouting is None):
            got = "neither" if self.bloom is None else "both"
            msg = (
                *("a perennial needs either a ", Parameter("bloom"), " or a "),
                *(Parameter("sprouting"), f" table, and not both; got {got}. "),
                "Trees, vines and bushes bloom, herbs sprout.",
            )
            raise InputError(*msg)


# --- the crop -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Crop:
    """A crop: response to temperature, duration, and what makes it fail.

    Parameters
    ----------
    name, botanical : str
        Common and botanical name.
    family : str
        Kind of crop, such as ``"brassica"``.
    season : {"cool", "warm"}
        Whether it is a cool- or a warm-season crop.
    propagation : str
        What is sown or planted, one of `Propagation`.
    confidence : {"solid", "fair", "thin"}
        How well its numbers are known.
    response : Cardinal
        Its cardinal temperatures.
    stages : tuple of Stage
        From emergence to the first harvest; the shares add up to 1. A perennial has one.
    germination : Germination, optional
        Emergence from seed, tubers or sets.
    maturity : Maturity, optional
        Days to maturity; for all but perennials.
    weeks_under_cover : WeeksUnderCover, optional
        If it is raised under cover.
    chilling, cold_bolting, vernalization, long_day_bolting, bulbing, short_days, winter : optional
        Other reasons to fail.
    lifting : Lifting, optional
        For roots and tubers that are lifted at any size.
    cut_from_share : float
        From this share of its last stage on it can be cut small before heat or frost ends it; 1 if
        it cannot.
    picking_share : float
        Heat over which it is picked after the first harvest, as a share of the heat until then.
    flowers_again : bool
        Whether it flowers again after a frost, as peas and broad beans do.
    sprouts_again : bool
        Whether it comes back after its shoots froze, as potatoes do.
    hardens_by_c : float
        By how much hardening lowers its `Cold` temperatures: fully after two weeks with a mean of 4
        degC or less, not at all at 12 degC or more. [degC]
    hardening_source : str
        Where that is published.
    perennial : Perennial, optional
        For perennials.
    cautions : tuple of str
        Cautions, in the grower's words.
    plural : str
        Its name in a sentence with a plural verb, such as ``"potatoes"``; empty if the name takes
        a singular one, as spinach does.
    harvest_verb : {"cut", "lifted", "picked", "pulled", "harvested"}
        What growers do to it at harvest.
    harvested_part : str, optional
        What is counted at harvest, one of `HarvestedPart`, such as ``"tubers"``.
    unusual : bool
        Whether its numbers are right although they are far from those of all other crops, which
        `read_crop` would otherwise refuse.
    """

    name: str
    botanical: str
    family: str
    season: Season
    propagation: Propagation
    confidence: Literal["solid", "fair", "thin"]
    response: Cardinal
    stages: tuple[Stage, ...]
    germination: Germination | None = None
    maturity: Maturity | None = None
    weeks_under_cover: WeeksUnderCover | None = None
    chilling: Chilling | None = None
    cold_bolting: ColdBolting | None = None
    vernalization: Vernalization | None = None
    long_day_bolting: LongDayBolting | None = None
    bulbing: Bulbing | None = None
    short_days: ShortDays | None = None
    winter: Winter | None = None
    lifting: Lifting | None = None
    cut_from_share: float = 1.0
    picking_share: float = 0.0
    flowers_again: bool = False
    sprouts_again: bool = False
    hardens_by_c: float = 0.0
    hardening_source: str = ""
    perennial: Perennial | None = None
    cautions: tuple[str, ...] = ()
    plural: str = ""
    harvest_verb: HarvestVerb = "harvested"
    harvested_part: HarvestedPart | None = None
    unusual: bool = False

    def __post_init__(self) -> None:
        check_choice("season", self.season, get_args(Season))
        check_choice("propagation", self.propagation, get_args(Propagation))
        check_choice("confidence", self.confidence, ("solid", "fair", "thin"))
        check_choice("harvest_verb", self.harvest_verb, get_args(HarvestVerb))
        check_choice("harvested_part", self.harvested_part, (*get_args(HarvestedPart), None))
        if not 0 < self.cut_from_share <= 1:
            msg = f" must be above 0 and at most 1, got {as_typed(self.cut_from_share)}."
            raise InputError(
                Parameter("cut_from_share"), msg, " Where it is cut whole leave it out."
            )
        if self.hardens_by_c < 0 or (self.hardens_by_c > 0 and not self.hardening_source):
            source = f"from {self.hardening_source!r}" if self.hardening_source else "without one"
            raise InputError(
                *(Parameter("hardens_by_c"), " must be 0, or more than 0 with a "),
                *(Parameter("hardening_source"), f", got {as_typed(self.hardens_by_c)} {source}."),
                " Give degrees, and where they are published.",
            )
        if self.hardens_by_c > MOST_HARDENING_C:
            most = f" must be {as_typed(MOST_HARDENING_C)} degC or less, got "
            advice = f"{as_typed(self.hardens_by_c)}. It is a difference, and not a temperature."
            raise InputError(Parameter("hardens_by_c"), most, advice)
        self._check_stages()
        if (self.perennial is None) == (self.maturity is None):
            got = "neither" if self.perennial is None else "both"
            needed = (
                *(f"Crop {self.name!r} needs either a ", Parameter("maturity"), " or a "),
                *(Parameter("perennial"), f" table, and not both; got {got}. "),
                "A perennial is what stands for years.",
            )
            raise InputError(*needed)

    def _check_stages(self) -> None:
        names = [stage.name for stage in self.stages]
        if not names:
            none = f"Crop {self.name!r} has no ", Parameter("stages"), ". Give at least one."
            raise InputError(*none)
        if len(set(names)) < len(names):
            msg = (
                f"Crop {self.name!r} names a stage twice: {', '.join(names)}. "
                "Each needs its own name."
            )
            raise InputError(msg, parameter="stages")
        total = sum(stage.share for stage in self.stages)
        if abs(total - 1) > 0.005:
            msg = f"Crop {self.name!r}: the shares of its stages must add up to 1, got "
            raise InputError(msg, f"{as_typed(total)}. Change one of them.", parameter="stages")
        if not any(stage.harvested for stage in self.stages):
            msg = f"Crop {self.name!r}: mark the stage that is harvested with "
            raise InputError(msg, Parameter("harvested", True), ", got none.")
        if self.short_days is not None and self.short_days.stage not in names[1:]:
            msg = (
                f" must be a stage after the first, one of {', '.join(names[1:]) or 'none'}; got "
                f"{self.short_days.stage!r}."
            )
            stage = Parameter("stage"), " of ", Parameter("short_days"), msg
            named = f"Crop {self.name!r}: "
            raise InputError(named, *stage)

    @property
    def is_perennial(self) -> bool:
        """Whether it is a perennial, which has no start to choose."""
        return self.perennial is not None

    @property
    def killed_at_c(self) -> float:
        """Night minimum that kills it while it is young, or spoils a perennial's harvest. [degC]"""
        return self.stages[0].cold.killed_at_c

    def stage(self, name: str | None = None) -> Stage:
        """A stage by its name; by default the first.

        Raises
        ------
        ValueError
            If there is no such stage; the message lists the stages.
        """
        if name is None:
            return self.stages[0]
        check_choice("stage", name, [stage.name for stage in self.stages])
        return next(stage for stage in self.stages if stage.name == name)

    @property
    def is_set_out(self) -> bool:
        """Whether lists count its days from setting out."""
        return self.maturity is not None and self.maturity.counted_from == "setting out"

    @property
    def rots_in_cold_soil(self) -> bool:
        """Whether it is planted as cut tubers, which rot in soil colder than they sprout in."""
        cut = self.propagation == "tubers" and not self.waits_in_frozen_soil
        return cut and self.germination is not None

    @property
    def waits_in_frozen_soil(self) -> bool:
        """Whether it is planted as a tuber or root that lives through frozen soil."""
        if self.propagation not in ("tubers", "roots"):
            return False
        harvested = (stage for stage in self.stages if stage.harvested)
        return all(stage.cold.killed_at_c <= FROZEN_SOIL_C for stage in harvested)
