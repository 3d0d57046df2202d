"""A covered space and its own logger, beside a crop and all years of a record."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.cli.growing import chosen_crop, crop_option
from climwin.cli.notes import progress, say_caveats_of_odds
from climwin.cli.options import argument, group, option
from climwin.cli.place import PlaceOptions, garden_if_given
from climwin.cli.reading import ReadingOptions, few_years_option, read_record, record_argument
from climwin.cli.wording import about
from climwin.core.schema import Units

if TYPE_CHECKING:
    from climwin.crops.model import Crop, Stage
    from climwin.shelter.covers import Cover
    from climwin.shelter.risk import SpaceCheck

_MINUTE = 16  # letters of a time that tell its minute


@dataclass(frozen=True)
class SpaceOptions:
    """A logger's file, a record of the outdoors, and what grows in the space."""

    logger: Path = argument("LOGGER", "the logger's file: times and temperatures", convert=Path)
    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    few_years: bool = few_years_option()
    crop: str = crop_option()
    stage: str | None = option("--stage", "of the crop; else its first above ground")
    logger_units: Units | None = option(
        "--logger-units", "of a file that does not say", choices=("C", "F")
    )
    zone: str | None = option("--zone", "of its clock, such as Europe/Zurich; else as it stands")
    first: str | None = option(
        "--first", "day of the time under cover; else the log's", metavar="MM-DD"
    )
    last: str | None = option(
        "--last", "day of the time under cover; else the log's", metavar="MM-DD"
    )


def space(options: SpaceOptions) -> None:
    """What a logger says of a covered space, for a crop's young plants, and what all years add."""
    from climwin.io.loggers import read_logger
    from climwin.shelter.covers import CAUTIONS, fit_cover
    from climwin.shelter.risk import check_space, space_odds

    crop = chosen_crop(options.crop)
    stage = _stage(crop, options.stage)
    with about("logger", renamed={"units": "logger_units"}):
        logger = read_logger(options.logger, units=options.logger_units, zone=options.zone)
    logged = [str(logger["time"].values[i])[5:10] for i in (0, -1)]
    first = _day("first", options.first, logged[0])
    last = _day("last", options.last, logged[1])
    daily = read_record(options.record, options.reading)
    garden = garden_if_given(options.place, daily)
    progress("fitting the space to the outdoors")
    cover = fit_cover(logger, daily, name=options.logger.stem)
    odds = space_odds(daily, cover, stage, first, last)
    say_caveats_of_odds(
        daily,
        garden,
        known=min(int(odds[f"{side}_known"]) for side in ("cold", "hot")),
        few_years=options.few_years,
    )
    print(f"{crop.name}, {stage.name}")
    print(*_checked(check_space(logger, stage), stage), *_response(cover), sep="\n")
    print(f"From {first} to {last}, over the whole record:")
    for side in ("cold", "hot"):
        share, low, high = (float(odds[f"{side}_share{end}"]) for end in ("", "_low", "_high"))
        known = int(odds[f"{side}_known"])
        print(
            f"  a day too {side} in {100 * share:.0f} % of {known} years "
            f"({100 * low:.0f} to {100 * high:.0f} %)"
        )
    print(*(f"mind: {text}" for text in CAUTIONS), sep="\n")


def _day(field: str, given: str | None, logged: str) -> str:
    """A day of the time under cover, checked; the log's own where none was given."""
    from climwin.core.seasons import day_number

    if given is None:
        return logged
    with about(field):
        day_number(given)
    return given


def _stage(crop: Crop, name: str | None) -> Stage:
    stages = {stage.name: stage for stage in crop.stages}
    if name is None:
        return next((stage for stage in crop.stages if stage.place == "air"), crop.stages[0])
    if name not in stages:
        msg = f"--stage: {crop.name} has no stage {name!r}; it has {', '.join(stages)}."
        raise ValueError(msg)
    return stages[name]


def _checked(check: SpaceCheck, stage: Stage) -> list[str]:
    band = f"{stage.tolerates.low_c} to {stage.tolerates.high_c} degC"
    return [
        f"  {check.hours_in_band:.0f} of {check.hours:.0f} hours at {band}; "
        f"{check.hours_below:.0f} colder, {check.hours_above:.0f} warmer",
        f"  coldest {check.coldest_c:.1f} degC at {str(check.coldest_at)[:_MINUTE]}, "
        f"hottest {check.hottest_c:.1f} degC at {str(check.hottest_at)[:_MINUTE]}",
        f"  days too cold: {', '.join(check.too_cold) or 'none'}",
        f"  days too hot: {', '.join(check.too_hot) or 'none'}",
    ]


def _response(cover: Cover) -> list[str]:
    return [
        f"  {what} inside = {line.intercept_c:.1f} degC + {line.slope:.2f} x outdoors, "
        f"single days within {line.spread_c:.1f} degC (standard deviation, {cover.days} days)"
        for what, line in (("minimum", cover.coldest), ("maximum", cover.warmest))
    ]
