"""The command ``season``: this year among past ones, and what may still come."""

from __future__ import annotations

import datetime as dt
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from climwin.cli.growing import chosen_crop, crop_option, earliness, known_cover
from climwin.cli.notes import caution, progress, say_caveats_of_odds
from climwin.cli.options import group, option, shown_units_option, switch, whole_number
from climwin.cli.place import (
    WHOLE_HISTORY,
    PlaceOptions,
    fetched,
    garden_at,
    garden_if_given,
    located,
)
from climwin.cli.reading import (
    ReadingOptions,
    climate_option,
    few_years_option,
    read_record,
    record_or_history_argument,
    say_climate,
)
from climwin.cli.wording import about
from climwin.cli.writing import check_outputs, force_option
from climwin.core.schema import Garden, Units
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import numpy as np
    import xarray as xr

    from climwin.crops.model import Crop
    from climwin.planning.plan import Plan

UNCHANGED = 3
"""Exit code where every file of ``--out`` already says the same."""


@dataclass(frozen=True)
class SeasonOptions:
    """A record that reaches into this year, a crop, and the files for what is to come."""

    record: Path | None = record_or_history_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    station: str | None = option(
        "--station", "use this station instead of the best one", metavar="ID"
    )
    crop: str = crop_option()
    sown: str | None = option(
        "--sown",
        "when it was sown or planted, or set out if bought; leave it out if that is still to come",
        metavar="MM-DD|DATE",
    )
    weeks_under_cover: int = option(
        "--weeks",
        "weeks under cover from sowing on; 0 means sown outdoors (%(default)s)",
        convert=whole_number,
        metavar="N",
        default=0,
    )
    cover: str | None = option(
        "--cover",
        "where it is raised, with --weeks (a cold frame; for tender crops, a room with lights)",
    )
    fleece_weeks: int = option(
        "--fleece",
        "weeks under fleece once outdoors",
        convert=whole_number,
        metavar="WEEKS",
        default=0,
    )
    bought: bool = switch("--bought-plants", "the plants are bought, not raised")
    earliness: str | float = option(
        "--earliness",
        "an early, main or late variety, or the days to harvest on its packet, such as 65 (main)",
        convert=earliness,
        metavar="KIND|DAYS",
        default="main",
    )
    bed: str = option(
        "--bed",
        "what covers the soil: bare, mulched, clear film or black film (%(default)s)",
        default="bare",
    )
    on: str | None = option(
        "--on",
        "the day to look from, YYYY-MM-DD (today, or the day after the record's last)",
        metavar="DATE",
    )
    few_years: bool = few_years_option()
    climate: str = climate_option()
    shown_units: Units = shown_units_option()
    out: tuple[Path, ...] = option(
        "--out",
        "a page (.html), or the coming dates for a calendar (.ics); may be repeated. The exit code "
        f"is 0 if a file is new or has changed, and {UNCHANGED} if nothing has, for scheduled runs",
        convert=Path,
        repeated=True,
    )
    force: bool = force_option()


def season(options: SeasonOptions) -> int:
    """How this year is going and what is to come of a crop; 3 where no file has changed."""
    from climwin.climate.level import in_climate
    from climwin.climate.season import season_so_far
    from climwin.core.provenance import climate_of
    from climwin.planning.season import outlook
    from climwin.report import sentences_season
    from climwin.report.sentences_caveats import old_seedlings

    _check_files(options)
    crop = chosen_crop(options.crop)
    plan = _plan(crop, options)
    daily, garden = _record(options)
    on, story = _date(daily, options)
    here = located(daily, garden)
    moved = in_climate(here, options.climate)
    progress("running this year on with each past one")
    chosen: dict[str, Any] = {"on": on, "climate": options.climate, "few_years": options.few_years}
    so_far = season_so_far(here, **chosen)
    ahead = outlook(plan, here, sown=options.sown, **chosen)
    doubts = [*filter(None, [old_seedlings(plan)])]
    caution(doubts)
    caveats = say_caveats_of_odds(
        daily,
        garden,
        known=int(ahead["known"].max()),
        few_years=options.few_years,
        climate=climate_of(moved),
        units=options.shown_units,
    )
    say_climate(moved, options.climate, options.shown_units)
    units = options.shown_units
    lines = [
        *story,
        f"{sentences_season.finding(ahead)}.",
        sentences_season.outlook_heading(ahead),
        *(f"  {line}" for line in sentences_season.outlook_lines(ahead, units)),
        *sentences_season.freeze_lines(so_far, units),
        sentences_season.season_heading(so_far),
        *(f"  {line}" for line in sentences_season.season_lines(so_far, units)),
        *sentences_season.season_notes(so_far),
        sentences_season.NOT_A_FORECAST,
    ]
    print(*lines, sep="\n")
    return _write(options, so_far, ahead, garden, [*story, *doubts, *caveats])


def _check_files(options: SeasonOptions) -> None:
    """Refuse files of another kind, and those that may not be written."""
    for path in options.out:
        if path.suffix not in (".html", ".ics"):
            msg = f"--out takes files that end in .html or .ics, got {str(path)!r}."
            raise ValueError(msg)
    inputs = [options.record, Path(options.crop)]
    check_outputs(options.out, inputs=inputs, force=options.force)


def _plan(crop: Crop, options: SeasonOptions) -> Plan:
    """How the crop is grown; `outlook` is told the start, and does not read the plan's."""
    from climwin.planning.plan import Plan, usual_cover

    if options.cover is not None and not options.weeks_under_cover:
        msg = "--cover has no effect without --weeks. Give the weeks under cover too."
        raise ValueError(msg)
    if crop.is_perennial and options.sown is not None:
        msg = (
            f"{crop.name} is a perennial and comes up by itself: there is no date to give. "
            "Leave --sown out."
        )
        raise ValueError(msg)
    cover = "none"
    if options.weeks_under_cover:
        cover = usual_cover(crop) if options.cover is None else known_cover(options.cover)
    return Plan(
        crop,
        _month_and_day(options.sown),
        options.weeks_under_cover,
        cover,
        fleece_weeks=options.fleece_weeks,
        earliness=options.earliness,
        bed=options.bed,
        plants="bought" if options.bought else "own",
    )


def _month_and_day(sown: str | None) -> str:
    """Month and day of a start, for the plan's name."""
    try:
        return "01-01" if sown is None else f"{dt.date.fromisoformat(sown):%m-%d}"
    except ValueError:
        from climwin.core.seasons import day_number

        assert sown is not None
        with about("sown"):
            day_number(sown)
        return sown


def _record(options: SeasonOptions) -> tuple[xr.Dataset, Garden | None]:
    """The record that was named, or a station's history, and the garden if one was given."""
    if options.record is None:
        garden = garden_at(options.place)
        if not options.reading.is_blank:
            msg = (
                "--record-units, --dates and --column say how a file is to be read, and none was "
                "given. Name your record, such as `climwin season record.csv`."
            )
            raise ValueError(msg)
        return fetched(options.station or garden, WHOLE_HISTORY, options.shown_units), garden
    if options.station is not None:
        msg = (
            "--station has no effect on a record of your own. Leave it out, or leave the record "
            "out to have a station's history fetched."
        )
        raise ValueError(msg)
    daily = read_record(options.record, options.reading)
    return daily, garden_if_given(options.place, daily)


def _date(daily: xr.Dataset, options: SeasonOptions) -> tuple[np.datetime64, list[str]]:
    """The date of the question, and what is to be said of it first.

    Today, unless the record ended too long ago: then the day after its last, which is said.
    """
    import numpy as np

    from climwin.climate.season import MOST_BEHIND, asked_on
    from climwin.core.formatting import counted
    from climwin.core.seasons import ONE_DAY
    from climwin.report.sentences_season import whole_date

    this_day = dt.date.today()
    today = np.datetime64(this_day)
    if options.on is not None:
        asked = asked_on(daily, options.on)[1]
        if asked.on > today:
            msg = f"--on {asked.on} lies in the future: today is {today}."
            raise ValueError(msg)
        return asked.on, []
    last = asked_on(daily, None)[1].through
    if last >= today:  # a day more where the station's zone is ahead: the reader refuses others
        return today, ["The record's days from today on are not over: they are left out."]
    since = int((today - last) / ONE_DAY)
    if since - 1 <= MOST_BEHIND:
        return today, []
    day = last + ONE_DAY
    years_ago = this_day.year - int(str(last)[:4])
    ago = counted(since, "day") if since < 2 * 365 else counted(years_ago, "year")
    return day, [
        f"The record ended {ago} ago: this is how it stood on "
        f"{whole_date(str(day))}, and not today."
    ]


def _write(
    options: SeasonOptions,
    so_far: xr.Dataset,
    ahead: xr.Dataset,
    garden: Garden | None,
    notes: list[str],
) -> int:
    """Write the files that have changed; `UNCHANGED` where there are files and none has."""
    from climwin.page.season_page import season_page
    from climwin.report.season_calendar import season_calendar

    changed = False
    for path in options.out:
        if path.suffix == ".html":
            name = "" if garden is None else garden.full_name
            content = season_page(
                so_far, ahead, units=options.shown_units, place=name, notes=notes
            ).encode()
        else:
            content = season_calendar(ahead, units=options.shown_units)
        with about("out", OSError):
            if path.exists() and path.read_bytes() == content:
                print(f"{path} (nothing new)")
                continue
            with atomic_write(path) as part:
                part.write_bytes(content)
        changed = True
        print(path)
    return 0 if changed or not options.out else UNCHANGED
