"""The page to share: on the invented sample, or for one's own place and crop."""

from __future__ import annotations

import datetime as dt
import warnings
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

from climwin.cli.growing import StartOptions, chosen_crop, chosen_plans, need_option
from climwin.cli.notes import caution, progress
from climwin.cli.options import (
    group,
    logger_units_option,
    option,
    shown_units_option,
    switch,
    warming,
)
from climwin.cli.place import PeriodOptions, PlaceOptions, fetched, garden_at, garden_of_record
from climwin.cli.reading import (
    ReadingOptions,
    few_years_option,
    read_neighbour,
    read_own_logger,
    read_record,
    record_or_history_argument,
    refuse_itself,
)
from climwin.cli.wording import about
from climwin.cli.writing import PICTURE, check_outputs, force_option
from climwin.core.formatting import as_typed, metres
from climwin.core.schema import Garden, Units
from climwin.core.wording import capitalized
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import xarray as xr

    from climwin.crops.model import Crop
    from climwin.planning.plan import Plan
    from climwin.report.garden import GardenReport

FIRST_PAGE = 2000
"""First year that a page can be made in: an earlier one is a slip (our choice)."""
_WARMEST_C = 10  # an ice age was some 6 degC colder: more is likely a slip (our choice)


def out_option(default: str) -> Any:
    """Where a page is written."""
    return option("--out", "where to write (%(default)s)", convert=Path, default=Path(default))


def made_option() -> Any:
    """The date that a page carries."""
    return option("--made", "date at the foot of the page, YYYY-MM-DD (today)", metavar="DATE")


@dataclass(frozen=True)
class StyleOptions:
    """How a page speaks, and whether it is printed."""

    shown_units: Units = shown_units_option("units on the page")
    pdf: bool = switch("--pdf", "also print it to a PDF")
    paper: Literal["A4", "Letter"] | None = option(
        "--paper", "paper size of the PDF (A4)", choices=("A4", "Letter")
    )


@dataclass(frozen=True)
class DemoOptions:
    """The whole job on the invented sample."""

    style: StyleOptions = group(StyleOptions)
    out: Path = out_option("shared/pellbrook.html")
    force: bool = force_option()


@dataclass(frozen=True)
class PageOptions:
    """One page, for one's own place and crop."""

    record: Path | None = record_or_history_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    station: str | None = option(
        "--station", "use this station instead of the best one", metavar="ID"
    )
    period: PeriodOptions = group(PeriodOptions)
    start: StartOptions = group(StartOptions)
    logger: Path | None = option(
        "--logger",
        "readings from a logger in your greenhouse or frame: the page then compares your plans "
        "with raising plants in there",
        convert=Path,
        metavar="FILE",
    )
    logger_units: Units | None = logger_units_option()
    at_garden: bool = switch(
        "--at-garden",
        "adjust temperatures to the garden's height: 6.5 degC per km, or 3.6 degF per 1,000 ft",
    )
    thermometer: Path | None = option(
        "--thermometer",
        "readings from a logger in your garden, to adjust the station's temperatures month by "
        "month; months without readings are adjusted for height",
        convert=Path,
        metavar="FILE",
    )
    fill_from: tuple[str, ...] = option(
        "--fill-from",
        "fill gaps from this nearby record or station, provided it estimates known days well "
        "enough; may be repeated; the page says so",
        metavar="FILE|ID",
        repeated=True,
        parameter="neighbours",
    )
    warmer: float | None = option(
        "--warmer",
        "what if the same years had been warmer by this much, in degC, or in degF, such as 3F; "
        "the page says so",
        convert=warming,
        metavar="DEGREES",
        parameter="by",
    )
    few_years: bool = few_years_option()
    need_days: int | None = need_option()
    made: str | None = made_option()
    notebook: bool = switch("--notebook", "also write the page's notebook and record beside it")
    style: StyleOptions = group(StyleOptions)
    out: Path = out_option("page.html")
    force: bool = force_option()


def demo(options: DemoOptions) -> None:
    """The whole job on the invented sample."""
    from climwin.crops.catalogue import crop
    from climwin.io.daily import read_daily
    from climwin.io.samples import sample
    from climwin.planning.plan import Plan
    from climwin.plot.summary import plot_summary
    from climwin.report.garden import garden_report

    check_paper(options.style)
    outputs = page_files(options.out, options.style, picture=True)
    check_outputs(outputs, force=options.force, makes_folder=True)
    picture = options.out.with_suffix(".png")
    progress("reading the sample")
    daily = read_daily(sample())
    cauliflower = crop("cauliflower")
    plans = [
        Plan(cauliflower, "02-15", 6, "cold frame", earliness="early"),
        Plan(cauliflower, "04-20", earliness="early"),
    ]
    garden = Garden("Pellbrook allotments", 46.1, 7.2, 640)
    progress("growing it in every year")
    report = garden_report(garden, daily, plans=plans)
    _write(report, options.style, options.out, made=None)
    with about("out", OSError), atomic_write(picture) as part:
        # Drawn for a phone: so the README's picture can be read on every screen.
        figure = plot_summary(report, narrow=True)
        figure.savefig(part, dpi=200, metadata=PICTURE)
    print(picture)


def page(options: PageOptions) -> None:
    """One page to share, from a record or from the history of the stations around."""
    from climwin.report.garden import garden_report

    check_paper(options.style)
    _refuse_without_effect(options)
    inputs = [options.record, options.thermometer, options.logger, Path(options.start.crop)]
    inputs += map(Path, options.fill_from)
    outputs = page_files(options.out, options.style, notebook=options.notebook)
    check_outputs(outputs, inputs=inputs, force=options.force, makes_folder=True)
    made = date_made(options.made)
    if options.record is None:
        _check_name(options.place.name)
    crop = chosen_crop(options.start.crop)
    given = chosen_plans(crop, options.start, with_logger=options.logger is not None)
    daily, garden = _record_and_garden(options)
    _check_name(options.place.name or daily.attrs.get("station_name"))
    daily, garden = _adjusted(daily, garden, options)
    plans = given if options.logger is None else _ways(crop, given, daily, garden, options)
    progress("growing it in every year")
    report = garden_report(
        garden,
        daily,
        plans=plans,
        crop=crop,
        need_days=options.need_days,
        few_years=options.few_years,
    )
    _write(report, options.style, options.out, made=made, notebook=options.notebook)


def _record_and_garden(options: PageOptions) -> tuple[xr.Dataset, Garden]:
    """The record that was named, or a station's history, and the garden it is for."""
    if options.record is None:
        _refuse_reading_of_nothing(options)
        return _history(options)
    without_effect: dict[str, object] = {"--station": options.station}
    if all(Path(name).suffix for name in options.fill_from):  # else they are a neighbour's years
        without_effect |= {
            "--first-year": options.period.first_year,
            "--last-year": options.period.last_year,
        }
    for flag, value in without_effect.items():
        if value is not None:
            msg = (
                f"{flag} has no effect on a record of your own. Leave it out, or leave the record "
                "out to have a station's history fetched."
            )
            raise ValueError(msg)
    daily = read_record(options.record, options.reading, with_logger=options.logger is not None)
    return daily, garden_of_record(options.place, daily)


def _ways(
    crop: Crop, given: list[Plan], daily: xr.Dataset, garden: Garden, options: PageOptions
) -> list[Plan]:
    """The plans that were given, and the sensible ways beside them, in the gardener's own space."""
    from climwin.io.loggers import space_name
    from climwin.planning.ways import sensible_plans
    from climwin.report.garden import with_latitude
    from climwin.shelter.covers import fit_cover

    assert options.logger is not None  # the caller has asked
    with about("logger", renamed={"units": "logger_units"}):
        readings = read_own_logger(options.logger, options.reading, options.logger_units)
        name = space_name(options.logger)
        space = fit_cover(readings, daily, name=name, longitude=garden.longitude)
    progress("trying each way of growing it")
    found = sensible_plans(
        crop,
        with_latitude(daily, garden),
        space=space,
        weeks=options.start.weeks_under_cover,
        earliness="main" if options.start.earliness is None else options.start.earliness,
        bed="bare" if options.start.bed is None else options.start.bed,
    )
    own = [
        replace(plan, cover=space.name, space=space) if plan.weeks_under_cover else plan
        for plan in given
    ]
    # A way that was given a date has its best dates beside it.
    other = [way for way in found if way not in [replace(plan, start=way.start) for plan in own]]
    return list(dict.fromkeys([*other, *own]))


def _check_name(name: str | None) -> None:
    """Refuse a page that would bear no name, given or the record's own."""
    if name is None:
        msg = "A page needs the name of its place. Give --place, with any name you will recognise."
        raise ValueError(msg)


def _refuse_without_effect(options: PageOptions) -> None:
    """Refuse options that would change nothing, and say how they are used."""
    if options.at_garden and options.place.elevation is None:
        msg = (
            "--at-garden has no effect without the garden's height. Give --elevation too, such as "
            "260 or 850ft."
        )
        raise ValueError(msg)
    if options.at_garden and options.thermometer is not None:
        msg = (
            "--at-garden has no effect with --thermometer, whose offsets move the temperatures, "
            "and by height in the months without readings. Leave one of the two out."
        )
        raise ValueError(msg)
    if options.logger is None and options.logger_units is not None:
        msg = "--logger-units has no effect without --logger. Name the logger's file too."
        raise ValueError(msg)
    if options.logger is not None and options.start.cover is not None:
        msg = (
            "--cover has no effect with --logger: plants are raised in the space that was logged. "
            "Leave one of the two out."
        )
        raise ValueError(msg)
    if options.warmer == 0:
        msg = "--warmer 0 has no effect. Give the degrees by which the years are to be warmer."
        raise ValueError(msg)
    if options.warmer is not None and abs(options.warmer) > _WARMEST_C:
        msg = (
            f"--warmer takes up to {_WARMEST_C} degC (18 degF) either way, more than any past "
            f"change of climate; got {as_typed(options.warmer)} degC."
        )
        raise ValueError(msg)


def _refuse_reading_of_nothing(options: PageOptions) -> None:
    """Refuse options on how to read a file where no file is given."""
    reads_units = options.thermometer is not None or any(
        Path(name).suffix for name in options.fill_from
    )
    for flag, given in (
        ("--record-units", options.reading.units is not None and not reads_units),
        ("--dates", options.reading.dates is not None),
        ("--column", bool(options.reading.columns)),
    ):
        if given:
            msg = (
                f"{flag} says how a file is to be read, and none was given. Name your record, such "
                "as `climwin page record.csv`, or leave the option out."
            )
            raise ValueError(msg)


def _history(options: PageOptions) -> tuple[xr.Dataset, Garden]:
    """The history around a garden; one whose height is not given lies as high as the station."""
    garden = garden_at(options.place)
    daily = fetched(options.station or garden, options.period, options.style.shown_units)
    if garden.elevation is not None or "elevation" not in daily.attrs:
        return daily, garden
    height = float(daily.attrs["elevation"])
    note = f"the garden's height is not given: that of the station is taken, {metres(height)}"
    warnings.warn(f"{note}. Give it with --elevation.", stacklevel=1)
    story = f"{daily.attrs['history']}\n{note}"
    return daily.assign_attrs(history=story), replace(garden, elevation=height)


def _adjusted(daily: xr.Dataset, garden: Garden, options: PageOptions) -> tuple[xr.Dataset, Garden]:
    """The record joined with others, moved to the garden and made warmer, as the options say.

    The garden comes with what casts doubt on its thermometer.
    """
    from climwin.climate.adjust import adjust_to_garden
    from climwin.climate.joining import join_stations
    from climwin.core.provenance import warm_by

    if options.fill_from:
        neighbours = [
            read_neighbour(name, "fill_from", options.reading.units, options.period)
            for name in options.fill_from
        ]
        for name, neighbour in zip(options.fill_from, neighbours, strict=True):
            refuse_itself(daily, neighbour, name, "--fill-from")
        with about("fill_from"):
            daily = _compared(join_stations(daily, neighbours), neighbours)
    if options.thermometer:
        offsets, doubts = _measured_offsets(
            daily,
            garden,
            options.thermometer,
            options.reading.units,
            shown=options.style.shown_units,
        )
        daily = adjust_to_garden(daily, garden, offsets=offsets)
        garden = replace(garden, doubt=" ".join(filter(None, (garden.doubt, *doubts))))
    elif options.at_garden:
        with about("at_garden"):
            daily = adjust_to_garden(daily, garden)
    return (warm_by(daily, options.warmer) if options.warmer else daily), garden


def _compared(daily: xr.Dataset, neighbours: Sequence[xr.Dataset]) -> xr.Dataset:
    """The record with the changes that two or more neighbours show; nothing is corrected."""
    from climwin.climate.homogeneity import adjust_breaks, pairwise_breaks
    from climwin.climate.joining import name_of
    from climwin.core.errors import DataGapError

    if len(neighbours) < 2:
        return daily  # one neighbour does not show whose a change is
    progress("comparing all pairs of stations")
    named: dict[str, xr.Dataset] = {}
    for number, neighbour in enumerate(neighbours, 1):
        name = name_of(neighbour)
        named[f"{name} {number}" if name in named else name] = neighbour
    try:
        breaks = pairwise_breaks(daily, named)
    except DataGapError:  # too few months in common to compare, enough to fill gaps
        return daily
    return adjust_breaks(daily, breaks, accept=())


def _measured_offsets(
    daily: xr.Dataset, garden: Garden, logger: Path, units: Units | None, *, shown: Units
) -> tuple[xr.Dataset, tuple[str, ...]]:
    """By how much the garden's own thermometer differs from the record, printed by month.

    With it come the reasons to doubt that thermometer, which are told with the page.
    """
    from climwin.climate.adjust import measured_offsets
    from climwin.io.logger_plausibility import refuse_against_outdoors
    from climwin.io.loggers import read_logger
    from climwin.report.sentences_caveats import thermometer_caveats
    from climwin.report.tables import in_words
    from climwin.shelter.covers import logger_days

    with about("thermometer"):
        readings = read_logger(logger, units=units)
        days = logger_days(readings)
        refuse_against_outdoors(days, daily)
        offsets = measured_offsets(daily, days)
    measured = offsets.where((offsets["tmin_days"] > 0) | (offsets["tmax_days"] > 0), drop=True)
    measured = measured[[name for name in measured if not str(name).endswith("_middle")]]
    columns = [str(name) for name in measured.data_vars]
    print("The garden less the station, by month, with its standard error and the days behind it:")
    print(in_words(measured, columns, units=shown).to_string())
    return offsets, thermometer_caveats(readings, daily, garden, shown)


# --- written and printed ------------------------------------------------------------------


def _write(
    report: GardenReport,
    style: StyleOptions,
    out: Path,
    *,
    made: str | None,
    notebook: bool = False,
) -> None:
    """Write a report's page, and print what it says first, its doubts, and the files' names."""
    from climwin.core.provenance import scenario_in, scenario_of
    from climwin.page.space import space_and_mends
    from climwin.page.write import write_page
    from climwin.report.sentences import finding
    from climwin.report.sentences_caveats import (
        caveats,
        report_departures,
        report_space_caveats,
    )
    from climwin.report.sentences_decision import how_sure, numbers_behind, verdict

    progress("drawing the page")
    with about("out", OSError):
        path = write_page(report, out, units=style.shown_units, made=made, notebook=notebook)
    day = dt.date.fromisoformat(made) if made else None
    first = (
        *report_departures(report, day, style.shown_units),
        *report_space_caveats(report, style.shown_units),
        *filter(None, [report.garden.doubt]),
    )
    caution(first)
    # As on the page: what to do, the numbers behind it, then the reason.
    label = scenario_in(scenario_of(report.daily), style.shown_units)
    case = f"{capitalized(label)}: " if label else ""
    print(f"{case}{verdict(report)}. {numbers_behind(report)}")
    print(f"{finding(report, style.shown_units)}.", *how_sure(report), sep="\n")
    for text in space_and_mends(report, style.shown_units):
        print(text)
    caution(caveats(report, day, style.shown_units)[len(first) :])
    say_written(path, style)
    if notebook:
        print(path.with_suffix(".ipynb"))


def say_written(page: Path, style: StyleOptions) -> None:
    """Print where a page is, and print it to a PDF where that is wanted."""
    from climwin.page.pdf import pdf

    print(page)
    if style.pdf:
        with about("pdf"):
            print(pdf(page, paper=style.paper or "A4"))


def page_files(
    page: Path, style: StyleOptions, *, notebook: bool = False, picture: bool = False
) -> list[Path]:
    """The page, and what is written beside it."""
    if page.is_dir():  # it will be refused; "." has no name that another ending could be given
        return [page]
    if page.suffix not in (".html", ".htm"):
        also = " Add --pdf to print the page to a PDF as well." if page.suffix == ".pdf" else ""
        msg = f"--out takes a file that ends in .html, got {str(page)!r}.{also}"
        raise ValueError(msg)
    beside = {".pdf": style.pdf, ".ipynb": notebook, ".nc": notebook, ".png": picture}
    return [page, *(page.with_suffix(suffix) for suffix, wanted in beside.items() if wanted)]


def check_paper(style: StyleOptions) -> None:
    """Refuse a paper size where nothing is printed."""
    if style.paper is not None and not style.pdf:
        msg = "--paper has no effect without --pdf. Add --pdf to print the page to a PDF as well."
        raise ValueError(msg)


def date_made(text: str | None) -> str:
    """The date at the foot of a page, today's where none is given.

    A day more is allowed, for readers east of this computer.
    """
    from climwin.page.write import date_of_page

    today = dt.date.today()
    day = date_of_page(text) or today
    if day.year < FIRST_PAGE:
        msg = f"--made is the day on which the page is made, in {FIRST_PAGE} or later; got {day}."
        raise ValueError(msg)
    if day > today + dt.timedelta(days=1):
        msg = (
            f"--made is the day on which the page is made, {today} at the latest; got {day}. Leave "
            "it out for today."
        )
        raise ValueError(msg)
    return day.isoformat()
