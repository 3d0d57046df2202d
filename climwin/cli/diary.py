"""The command ``diary``: past sowings against the odds of the other years."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.cli.notes import caution, progress, say_caveats_of_odds
from climwin.cli.options import argument, group, logger_units_option, option, shown_units_option
from climwin.cli.place import PlaceOptions, garden_if_given, located
from climwin.cli.reading import (
    ReadingOptions,
    few_years_option,
    read_own_logger,
    read_record,
    record_argument,
)
from climwin.cli.wording import about
from climwin.cli.writing import check_outputs, force_option
from climwin.core.errors import DataGapError
from climwin.core.schema import Garden, Units

if TYPE_CHECKING:
    import xarray as xr

    from climwin.shelter.covers import Cover


@dataclass(frozen=True)
class DiaryOptions:
    """Past sowings, and the record that judges them."""

    sowings: Path = argument(
        "SOWINGS",
        "your past sowings: a table with crop, way, sown, set_out, harvested and failed",
        convert=Path,
    )
    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    logger: Path | None = option(
        "--logger",
        "readings from a logger in your own greenhouse or frame, for sowings whose way is the "
        "logger's name: greenhouse.csv for greenhouse",
        convert=Path,
        metavar="FILE",
        parameter="space",
    )
    logger_units: Units | None = logger_units_option()
    few_years: bool = few_years_option()
    climate: str = option(
        "--climate",
        "no other than %(default)s: past sowings are judged by the weather of their own time",
        choices=("record", "today"),
        default="record",
    )
    shown_units: Units = shown_units_option()
    out: Path | None = option("--out", "the scores as a table (.csv)", convert=Path)
    force: bool = force_option()


def diary(options: DiaryOptions) -> None:
    """The odds of each past sowing, its outcome, and how early the varieties are."""
    from climwin.io.exports import to_csv
    from climwin.trials.earliness import fit_earliness
    from climwin.trials.scoring import describe_earliness, describe_sowings, score_sowings
    from climwin.trials.sowings import read_sowings

    _check_output(options)
    _refuse_without_effect(options)
    if options.logger is None:  # first, since a record takes longer to read
        sowings = read_sowings(options.sowings)
    daily = read_record(options.record, options.reading, with_logger=options.logger is not None)
    garden = garden_if_given(options.place, daily)
    if options.logger is not None:
        space = _space(options.logger, daily, garden, options)
        sowings = read_sowings(options.sowings, space=space)
    here = located(daily, garden)
    progress("growing each sowing in every year")
    scored = score_sowings(sowings, here)
    caveats = say_caveats_of_odds(
        daily,
        garden,
        known=int(scored["years_known"].min()),
        few_years=options.few_years,
        units=options.shown_units,
    )
    for number in scored["sowing"].values:
        print(_line(scored.sel(sowing=number)))
    print(*describe_sowings(scored), sep="\n")
    try:
        print(*describe_earliness(fit_earliness(sowings, here)), sep="\n")
        print(
            "Plan with these days: give them to `climwin page` or `climwin dates` with --earliness."
        )
    except DataGapError as error:
        print(error)
    if options.out is not None:
        if caveats:
            scored.attrs["comment"] = "\n".join(caveats)
        with about("out", OSError):
            to_csv(scored, options.out)
        print(options.out)


def _check_output(options: DiaryOptions) -> None:
    """Refuse a file that is no table, or that cannot be written."""
    if options.out is None:
        return
    if options.out.suffix != ".csv":
        msg = f"--out takes a file that ends in .csv, got {str(options.out)!r}."
        raise ValueError(msg)
    inputs = [options.sowings, options.record, options.logger]
    check_outputs([options.out], inputs=inputs, force=options.force)


def _refuse_without_effect(options: DiaryOptions) -> None:
    """Refuse what has no place beside past sowings, and say why."""
    if options.climate != "record":
        msg = (
            "--climate today has no place here: your sowings are past, and are judged by the "
            "weather of their own years and of the years around them. Leave it out. "
            "`climwin dates --climate today` looks ahead."
        )
        raise ValueError(msg)
    if options.logger is None and options.logger_units is not None:
        msg = "--logger-units has no effect without --logger. Name the logger's file too."
        raise ValueError(msg)


def _space(logger: Path, daily: xr.Dataset, garden: Garden | None, options: DiaryOptions) -> Cover:
    """The gardener's own covered space, by its logger."""
    from climwin.io.loggers import space_name
    from climwin.report.sentences_caveats import space_caveats
    from climwin.shelter.covers import fit_cover

    with about("logger", renamed={"units": "logger_units"}):
        readings = read_own_logger(logger, options.reading, options.logger_units)
        place = None if garden is None else garden.longitude
        space = fit_cover(readings, daily, name=space_name(logger), longitude=place)
    caution(space_caveats(space, options.shown_units))
    return space


def _line(row: xr.Dataset) -> str:
    """A sowing in a line: its outcome, the odds of the other years, and the model of its year."""
    from climwin.core.formatting import percent
    from climwin.report.sentences import day_of

    came = row["failed"].item() or f"harvest {day_of(row['harvest'])}"
    told = f"odds {percent(float(row['odds']))}"
    if first := day_of(row["expected_first"]):
        told += f", harvest begins {first} to {day_of(row['expected_last'])}"
    model = row["reason"].item() or "a gap hides it"
    if row["outcome"].item() == "harvest":
        model = f"harvest {day_of(row['model_date'])}"
    start = str(row["start"].values)[:10]
    what = f"{row['crop'].item()}, {row['way'].item()}"
    return f"{start}  {what:24} {came:15} {told}; the model of that year: {model}"
