"""A place's frosts by date, and its weeks and mild spells beside what a crop needs."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.cli.growing import StartOptions, chosen_crop, chosen_plans, crop_option, need_option
from climwin.cli.notes import caution, progress, say_caveats_of_odds
from climwin.cli.options import group, option, temperature
from climwin.cli.place import garden_if_given, garden_of_record, located
from climwin.cli.reading import (
    ClimateOptions,
    RecordInClimate,
    ShortRecordOptions,
    read_in_climate,
    read_record,
    say_before_odds,
)
from climwin.cli.wording import about
from climwin.cli.writing import check_table, force_option, save_table
from climwin.core.formatting import fixed, number
from climwin.core.schema import Units, from_celsius

if TYPE_CHECKING:
    import pandas as pd
    import xarray as xr

    from climwin.report.garden import GardenReport

USUAL_NIGHTS_C = (0.0, -2.0)
"""Nights counted unless others are asked for: a freeze, a hard one (common practice). [degC]"""

WARMEST_NIGHT_C = 10.0
"""Warmest night that may be counted: a warmer one is likely a slip of the unit. [degC]"""

_KINDS_OF_DAYS = {"Cold day": 10, "Typical": 50, "Warm day": 90}
"""Percentiles of the daily mean."""


@dataclass(frozen=True)
class FreezesOptions(ClimateOptions):
    """A record, and the nights and dates whose odds are asked for."""

    nights: tuple[float, ...] = option(
        "--nights",
        "count nights of this temperature or colder, such as -2C or 28F; may be repeated (0C and "
        "-2C)",
        convert=temperature,
        parameter="threshold",
        metavar="TEMPERATURE",
        repeated=True,
    )
    on: tuple[str, ...] = option(
        "--on",
        "also say how likely such a night is from this day on in spring, and up to it in autumn; "
        "may be repeated",
        metavar="MM-DD",
        repeated=True,
    )
    out: Path | None = option(
        "--out", ".csv file to write the table to, with a picture beside it", convert=Path
    )
    force: bool = force_option()


@dataclass(frozen=True)
class WeeksOptions(ClimateOptions):
    """A record, and a crop whose limits are laid over its weeks."""

    crop: str = crop_option()
    out: Path | None = option(
        "--out", ".csv file to write the weeks to, with a picture beside it", convert=Path
    )
    force: bool = force_option()


@dataclass(frozen=True)
class SpellsOptions(ShortRecordOptions):
    """A record, a crop and its ways of growing."""

    start: StartOptions = group(StartOptions)
    need_days: int | None = need_option()
    out: Path | None = option(
        "--out", ".csv file to write the years to, with a picture beside it", convert=Path
    )
    force: bool = force_option()


def freezes(options: FreezesOptions) -> None:
    """Dates of the last frosts of spring and the first of autumn, by their odds."""
    from climwin.climate.freeze import freeze_chance, freeze_dates, freeze_odds
    from climwin.core.seasons import by_year, extreme_days
    from climwin.plot.freeze import freeze_curve
    from climwin.report.sentences import CAUTIONS
    from climwin.report.sentences_climate import chance_on, colder

    if options.out is not None:
        check_table(options.out, [options.record], force=options.force)
    days = [_day(text) for text in options.on]
    nights = sorted({*(options.nights or USUAL_NIGHTS_C)}, reverse=True)
    if nights[0] > WARMEST_NIGHT_C:
        msg = (
            f"--nights takes nights of up to {fixed(WARMEST_NIGHT_C)} degC (50 degF); got "
            f"{number(nights[0], 1)} degC. Is its unit right?"
        )
        raise ValueError(msg)
    record = read_in_climate(options)
    odds = freeze_odds(record.here, nights, method="smoothed")
    chance = freeze_chance(freeze_dates(record.here, nights))
    coldest, warmest = extreme_days(by_year(record.here["tmin"]))
    extremes = (int(coldest), int(warmest))
    known = min(int(odds[f"{half}_known"].min()) for half in ("last_spring", "first_autumn"))
    caveats = say_before_odds(record, options, known)
    for night in nights:
        print(f"Nights of {colder(night, options.shown_units)}")
        _print_freezes(odds.sel(threshold=night), options.shown_units)
        for day in days:
            print(f"  {chance_on(chance.sel(threshold=night), day, extremes)}")
    caution(CAUTIONS[:1])
    if options.out is not None:
        odds.attrs["comment"] = "\n".join(caveats)
        curve = freeze_curve(chance, odds, units=options.shown_units)
        save_table(odds, curve, options.out, options.shown_units)


def _print_freezes(odds: xr.Dataset, units: Units) -> None:
    """The dates of one kind of night, a line for each level of odds, and what they rest on."""
    import numpy as np

    from climwin.climate.freeze import SHOWN_ODDS
    from climwin.report.sentences import freeze_note, frost_free_days
    from climwin.report.tables import in_words

    shown = odds.sel(odds=list(SHOWN_ODDS))
    columns = ["last_spring", "first_autumn"]
    if any(bool(np.isfinite(shown[name]).any()) for name in columns):
        table = in_words(shown[columns], columns, units=units)
        print("\n".join(f"  {line}" for line in table.to_string().splitlines()))
    for line in (frost_free_days(odds), freeze_note(odds)):
        print(f"  {line}")


def weeks(options: WeeksOptions) -> None:
    """The spread of the daily means in each week, and how often it suits a crop."""
    from climwin.climate.level import in_climate
    from climwin.plot.comfort import plot_comfort
    from climwin.report.garden import garden_report
    from climwin.report.sentences import limits
    from climwin.report.sentences_decision import comfort_title

    if options.out is not None:
        inputs = [options.record, Path(options.crop)]
        check_table(options.out, inputs, force=options.force)
    units = options.shown_units
    crop = chosen_crop(options.crop)
    daily = read_record(options.record, options.reading)
    garden = garden_of_record(options.place, daily)
    here = in_climate(located(daily, garden), options.climate)
    report = garden_report(garden, here, crop=crop, few_years=options.few_years)
    record = RecordInClimate(daily, garden_if_given(options.place, daily), here)
    caveats = say_before_odds(record, options, int(report.comfort["known"].max()))
    print(f"{comfort_title(report)}.")
    print(
        f"Comfortable is a week with a mean of {limits(report.comfortable, units)}; bearable, "
        f"of {limits(report.band, units)}. A cold day is colder than nine in ten of its time of "
        "year, a warm day warmer than nine in ten. The other columns count years."
    )
    print(_weeks_table(report, units).to_string())
    if options.out is not None:
        table = report.comfort.assign_attrs(comment="\n".join(caveats))
        save_table(table, plot_comfort(report, units=units), options.out, units)


def _weeks_table(report: GardenReport, units: Units) -> pd.DataFrame:
    """Each week's cold, typical and warm day, and in how many years it suited the crop."""
    import pandas as pd

    from climwin.climate.comfort import STATES
    from climwin.core.seasons import day_name

    years = report.comfort["years"]
    first_days = 7 * (years["week"].values - 1) + 1
    # The middle of a week stands for it.
    means = report.bands["tmean"].sel(day_of_year=first_days + 3)
    shown = {
        f"{name} \N{DEGREE SIGN}{units}": [
            number(float(from_celsius(value, units)))
            for value in means.sel(percentile=percentile).values
        ]
        for name, percentile in _KINDS_OF_DAYS.items()
    }
    heads = dict(zip(STATES, ("Too cold", "Cool", "Comfortable", "Warm", "Too hot"), strict=True))
    for state, head in heads.items():
        shown[head] = [str(count) for count in years.sel(state=state).values]
    return pd.DataFrame(shown, index=[f"from {day_name(day)}" for day in first_days.tolist()])


def spells(options: SpellsOptions) -> None:
    """The mild spell of every year, beside the days that the crop needs."""
    from climwin.plot.summary import plot_summary
    from climwin.report import sentences
    from climwin.report.garden import garden_report
    from climwin.report.spells import stands_through_winter
    from climwin.report.tables import in_words

    if options.out is not None:
        inputs = [options.record, Path(options.start.crop)]
        check_table(options.out, inputs, force=options.force)
    units = options.shown_units
    crop = chosen_crop(options.start.crop)
    plans = chosen_plans(crop, options.start)
    daily = read_record(options.record, options.reading)
    progress("growing it in every year")
    report = garden_report(
        garden_of_record(options.place, daily),
        daily,
        plans=plans,
        crop=crop,
        need_days=options.need_days,
        few_years=options.few_years,
    )
    caveats = say_caveats_of_odds(
        daily,
        garden_if_given(options.place, daily),
        known=int(report.shorter["known"]),
        few_years=options.few_years,
        climate=report.leading("window"),
        units=units,
    )
    lines = [
        f"{sentences.finding(report, units)}.",
        sentences.need(report),
        f"A mild spell is a run of days with a mean of {sentences.limits(report.band, units)}"
        f"{sentences.after_freeze(crop, units)}.",
    ]
    if crop.is_perennial or not stands_through_winter(report):  # else no spell can be too short
        lines += [sentences.average(report), sentences.how_sure(report)]
    print("\n".join(lines))
    print(in_words(report.window, ["start", "end", "length", "status"], units=units).to_string())
    caution(["A spell that is long enough is not yet a harvest: `climwin page` counts harvests."])
    if options.out is not None:
        table = report.window.assign_attrs(comment="\n".join(caveats))
        save_table(table, plot_summary(report), options.out, units)


def _day(text: str) -> int:
    from climwin.core.seasons import day_number

    with about("on"):
        return day_number(text)
