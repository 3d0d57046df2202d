"""A covered space and its own logger, beside a crop and all years of a record."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Literal

from climwin.cli.growing import chosen_crop, crop_option
from climwin.cli.notes import caution, progress, say_caveats_of_odds
from climwin.cli.options import argument, group, logger_units_option, option, shown_units_option
from climwin.cli.place import PlaceOptions, garden_if_given
from climwin.cli.reading import (
    ReadingOptions,
    climate_option,
    few_years_option,
    read_own_logger,
    read_record,
    record_argument,
    say_climate,
)
from climwin.cli.wording import about
from climwin.core.errors import RecordError
from climwin.core.formatting import counted, fixed, number, percent
from climwin.core.schema import Units, difference_from_celsius, from_celsius
from climwin.core.wording import MONTHS

if TYPE_CHECKING:
    import numpy as np
    import xarray as xr

    from climwin.crops.model import Crop
    from climwin.shelter.covers import Cover, Response
    from climwin.shelter.risk import SpaceCheck

_MOST_DATES = 6  # more are counted


@dataclass(frozen=True)
class SpaceOptions:
    """A logger's file, a record of the outdoors, and what grows in the space."""

    logger: Path = argument("LOGGER", "the logger's file: times and temperatures", convert=Path)
    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    few_years: bool = few_years_option()
    climate: str = climate_option()
    shown_units: Units = shown_units_option()
    crop: str = crop_option()
    stage: str | None = option("--stage", "stage of the crop to judge (its first)")
    logger_units: Units | None = logger_units_option()
    zone: str | None = option(
        "--zone", "time zone of its clock, such as Europe/Zurich (times are taken as they stand)"
    )
    first: str | None = option(
        "--first", "first day under cover (the log's first)", metavar="MM-DD"
    )
    last: str | None = option("--last", "last day under cover (the log's last)", metavar="MM-DD")


def space(options: SpaceOptions) -> None:
    """What a logger says of a covered space, for a crop's young plants, and what all years add."""
    from climwin.climate.level import in_climate
    from climwin.core.provenance import climate_of
    from climwin.io.loggers import space_name
    from climwin.report.sentences_caveats import space_caveats
    from climwin.report.sentences_space import verdict
    from climwin.shelter.covers import CAUTIONS, fit_cover
    from climwin.shelter.risk import check_space, space_odds
    from climwin.shelter.verdict import space_verdict

    units = options.shown_units
    crop = chosen_crop(options.crop)
    stage = crop.stage(options.stage)
    with about("logger", renamed={"units": "logger_units"}):
        logger = read_own_logger(
            options.logger, options.reading, options.logger_units, zone=options.zone
        )
    ends = [str(logger["time"].values[i])[5:10] for i in (0, -1)]
    logged = ["02-28" if end == "02-29" else end for end in ends]  # the year has 365 days
    first = _day("first", options.first, logged[0])
    last = _day("last", options.last, logged[1])
    daily = read_record(options.record, options.reading, with_logger=True)
    garden = garden_if_given(options.place, daily)
    progress("fitting the space to the outdoors")
    longitude = None if garden is None else garden.longitude
    with about("logger", RecordError, renamed={"units": "logger_units"}):
        cover = fit_cover(logger, daily, name=space_name(options.logger), longitude=longitude)
    caution(space_caveats(cover, units))
    here = in_climate(daily, options.climate)
    odds = space_odds(here, cover, crop, first, last, stage=stage.name)
    say_caveats_of_odds(
        daily,
        garden,
        known=min(int(odds[f"{side}_known"]) for side in ("cold", "hot")),
        few_years=options.few_years,
        climate=climate_of(here),
        units=units,
    )
    say_climate(here, options.climate, units)
    caution(note for note in logger.attrs["history"].splitlines() if "taken as set" in note)
    print(f"{crop.name}, {stage.name}")
    check = check_space(logger, crop, stage=stage.name)
    print(*_checked(check, crop, units), sep="\n")
    if cover.days_in_doubt != "dates":  # else nothing is known but what the logger saw by itself
        print(*_response(cover, units), *_over_all_years(odds, first, last), sep="\n")
    print(*verdict(space_verdict(here, cover, crop, stage=stage.name), units), sep="\n")
    print(*(f"caution: {text}" for text in CAUTIONS), sep="\n")


def _over_all_years(odds: xr.Dataset, first: str, last: str) -> list[str]:
    """How often a time of the year, given by two dates, is too cold or too hot under cover."""
    from climwin.core.seasons import day_name, day_number
    from climwin.report.sentences import next_years

    days = [day_name(day_number(day)) for day in (first, last)]
    lines = [f"From {' to '.join(days)}, over the whole record:"]
    for side in ("cold", "hot"):
        share, low, high = (float(odds[f"{side}_share{end}"]) for end in ("", "_low", "_high"))
        known = int(odds[f"{side}_known"])
        lines.append(
            f"  a day too {side} in {percent(share)} of {counted(known, 'year')}: likely in "
            f"{next_years(odds, f'{side}_')} of the next ten "
            f"({fixed(100 * low)} to {percent(high)} in the long run)"
        )
    return lines


def _day(field: str, given: str | None, logged: str) -> str:
    """A day of the time under cover, checked; the log's own where none was given."""
    from climwin.core.seasons import day_number

    if given is None:
        return logged
    with about(field):
        day_number(given)
    return given


def _checked(check: SpaceCheck, crop: Crop, units: Units) -> list[str]:
    """What the logged period was like for a crop, a line for each fact."""
    from climwin.crops.bands import bearable_band

    band = bearable_band(crop)
    right, colder, warmer = map(round, (check.hours_in_band, check.hours_below, check.hours_above))
    return [
        f"  {number(right)} of {number(right + colder + warmer)} hours were right for growth, "
        f"{_degrees(band.low_c, units)} to {_degrees(band.high_c, units)}; "
        f"{number(colder)} were colder, {number(warmer)} warmer",
        f"  coldest {_degrees(check.coldest_c, units)} on {_moment(check.coldest_at)}, "
        f"hottest {_degrees(check.hottest_c, units)} on {_moment(check.hottest_at)}",
        f"  days too cold: {_days(check.too_cold)}",
        f"  days too hot: {_days(check.too_hot)}",
    ]


def _degrees(value_c: float, units: Units) -> str:
    """A temperature with one decimal, in the reader's unit."""
    return f"{fixed(float(from_celsius(value_c, units)), 1)} \N{DEGREE SIGN}{units}"


def _days(dates: tuple[str, ...]) -> str:
    """Logged days: each by its date where they are few, else their count and the ends."""
    if len(dates) <= _MOST_DATES:
        return ", ".join(map(_date, dates)) or "none"
    return f"{len(dates)}, from {_date(dates[0])} to {_date(dates[-1])}"


def _date(text: str) -> str:
    """A day such as 2010-02-09 as people write it."""
    year, month, day = text[:10].split("-")
    return f"{int(day)} {MONTHS[int(month) - 1]} {year}"


def _moment(time: np.datetime64) -> str:
    """A time of the log to the minute, as people write it."""
    text = str(time)
    return f"{_date(text)} at {text[11:16]}"


def _response(cover: Cover, units: Units) -> list[str]:
    """The line of the nights and of the days, in words with their errors."""
    from climwin.report.sentences_garden import bend

    lines = []
    sides: tuple[tuple[Literal["minimum", "maximum"], Response], ...] = (
        ("minimum", cover.coldest),
        ("maximum", cover.warmest),
    )
    for what, line in sides:
        _, (low, high) = line.intervals()
        # In degF the same line has another intercept: 32 + 1.8 inside_c = a + slope outdoors_f.
        at_zero = (
            line.intercept_c if units == "C" else 32 + 1.8 * line.intercept_c - 32 * line.slope
        )
        spread = float(difference_from_celsius(line.spread_c, units))
        lines.append(
            f"  {what} inside = {fixed(at_zero, 1)} \N{DEGREE SIGN}{units} + "
            f"{fixed(line.slope, 2)} x outdoors (likely {fixed(low, 2)} to {fixed(high, 2)}); of "
            f"{counted(cover.days, 'day')}, two in three are within {fixed(spread, 1)} "
            f"\N{DEGREE SIGN}{units} of it"
        )
        if line.knee_c is not None:
            lines.append(f"    {bend(line, what, units)}")
    return lines
