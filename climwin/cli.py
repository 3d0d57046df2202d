"""The command ``climwin``: arguments in, exit code out."""

from __future__ import annotations

import argparse
import os
import re
import sys
import warnings
from collections.abc import Callable, Sequence
from pathlib import Path
from typing import Any

from climwin import commands, commands_growing, commands_planning
from climwin.schema import StationError

EXAMPLES = """\
examples:
  climwin demo
      the invented sample: cauliflower at Pellbrook, a page in shared/
  climwin page record.csv --place "Our plot" --lat 46.1 --lon 7.2 --crop potato
      your own record, the crop raised or sown at its best dates there
  climwin page record.csv --place "Our plot" --lat 46.1 --lon 7.2 --crop cauliflower \\
      --sow 04-20 --raise 03-05 --weeks 6 --cover "cold frame" --units F
      your own dates, in degrees Fahrenheit
  climwin page --place "Lebanon, NH, US" --elevation 180 --crop cauliflower
      no record: the history of the best station around
  climwin stations --place "Lebanon, NH, US"
      the stations around, the best first, and why
  climwin look record.csv --column tmin=Low
      what was read, what is missing, what was set aside and why
  climwin suits record.csv --season cool
      crops by their odds at the place, and what limits the others
  climwin dates record.csv --crop cauliflower --raise 03-05 --out dates.ics
      the plan's dates with their odds, for a calendar
  climwin space frame.csv record.csv --crop cauliflower
      a cold frame's logger: what it was like inside, and in how many years too cold or hot
  climwin trial plan "sown in place" "raised in a frame" --blocks 8
      a bed trial: plots in random order, and a sheet to fill
  climwin crops cool
      crops of the catalogue, by name, family or season
"""

_TYPED = {
    r"units=['\"]([CF])['\"]": r"--record-units \1",
    r"columns=\{'(\w+)': '([^']*)'\}": r"--column \1='\2'",
    r"dates=(['\"][^'\"]*['\"])": r"--dates \1",
    r"climwin\.crops\(\)": "`climwin crops`",
    r"climwin\.stations\(garden, radius_km=([\d.]+)\)": r"--radius \1",
}
"""What the library's errors advise, as one would type it."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code: 0 done, 1 cannot be done, 2 wrongly called."""
    chosen = _parser().parse_args(arguments)
    try:
        with warnings.catch_warnings():
            warnings.showwarning = _note
            chosen.run(chosen)
    except BrokenPipeError:  # whoever read the output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (ValueError, StationError, OSError) as error:
        print(f"climwin: {_plainly(error)}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("climwin: stopped", file=sys.stderr)
        return 130
    return 0


def _note(message: Warning | str, *_: Any) -> None:
    """A warning as a line for the person at the command."""
    print(f"climwin: {message}", file=sys.stderr)


def _plainly(error: Exception) -> str:
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {error.strerror}."
    text = str(error)
    for said, typed in _TYPED.items():
        text = re.sub(said, typed, text)
    return text


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="climwin",
        description="How long is a garden's usable season, how often is it too short for a crop, "
        "and which way of starting it does better? From the history of your own place.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    add = parser.add_subparsers(title="commands", required=True, metavar="COMMAND").add_parser

    demo = _command(add, "demo", commands.demo, "the whole job on the invented sample")
    _add_output(demo, Path("shared") / "pellbrook.html")

    page = _command(add, "page", commands.page, "one page to share, for your own place and crop")
    _add_record(page, needed=False)
    _add_place(page, needed=True)
    _add_period(page)
    _add_start(page)
    _add_changes(page)
    page.add_argument("--made", metavar="DATE", help="date at the foot of the page (today)")
    _add_output(page, Path("page.html"))

    look = _command(add, "look", commands.look, "what a record holds, lacks, and was set aside")
    _add_record(look, needed=True)

    around = _command(add, "stations", commands.stations, "weather stations around a place")
    _add_place(around, needed=False)
    _add_period(around)
    around.add_argument("--radius", type=float, default=50.0, help="in km (%(default)s)")

    fetch = _command(add, "fetch", commands.fetch, "bring a station's history into the store")
    _add_place(fetch, needed=False)
    _add_period(fetch)

    _add_store(_command(add, "store", None, "the histories kept on this computer"))

    suits = _command(add, "suits", commands_planning.suits, "which crops suit a place")
    _add_record(suits, needed=True)
    suits.add_argument("--season", choices=("cool", "warm"), help="else both")
    suits.add_argument("--most", type=int, default=30, metavar="N", help="shown (%(default)s)")

    sowings = _command(add, "sowings", commands_planning.sowings, "sowings while the odds hold")
    _add_record(sowings, needed=True)
    _add_start(sowings)
    sowings.add_argument("--every", type=int, default=14, metavar="DAYS", help="(%(default)s)")
    sowings.add_argument("--odds", type=float, default=0.7, help="least, 0 to 1 (%(default)s)")

    dates = _command(add, "dates", commands_planning.dates, "a plan's dates to take along")
    _add_record(dates, needed=True)
    _add_start(dates)
    dates.add_argument("--year", type=int, help="of the start; else next year")
    dates.add_argument("--out", type=Path, default=Path("dates.ics"), help=".ics or .csv")

    space = _command(add, "space", commands_growing.space, "a covered space and its own logger")
    _add_space(space)

    _add_trial(_command(add, "trial", None, "a side-by-side bed trial"))

    crops = _command(add, "crops", commands.crops, "the catalogue, or one crop's limits")
    crops.add_argument("filter", nargs="?", default="", help="a crop, a family, or cool or warm")
    return parser


def _command(
    add: Callable[..., Any], name: str, run: Callable[..., None] | None, help_: str
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = add(name, help=help_, description=f"{help_}.".capitalize())
    if run:
        parser.set_defaults(run=run)
    return parser


def _add_record(parser: argparse.ArgumentParser, *, needed: bool) -> None:
    told = "daily weather: CSV, or NOAA's GHCN-Daily"
    told += "" if needed else "; without one, the best station's history is fetched"
    parser.add_argument("record", type=Path, nargs=None if needed else "?", help=told)
    parser.add_argument("--record-units", choices=("C", "F"), help="where the file does not say")
    parser.add_argument("--dates", metavar="FORM", help="form of the dates, such as %%d/%%m/%%Y")
    parser.add_argument(
        "--column",
        dest="columns",
        action="append",
        type=_column,
        metavar="ROLE=NAME",
        help="a column's name, such as tmin=Low; may be given again",
    )


def _column(text: str) -> tuple[str, str]:
    role, equals, name = text.partition("=")
    if not equals:
        msg = f"write ROLE=NAME, such as tmin=Low; got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return role, name


def _add_place(parser: argparse.ArgumentParser, *, needed: bool) -> None:
    parser.add_argument("--place", required=needed, help="what you call it, or a town's name")
    parser.add_argument("--lat", type=float, help="degrees north; else the record's, or the town's")
    parser.add_argument("--lon", type=float, help="degrees east; else the record's, or the town's")
    parser.add_argument("--elevation", type=float, help="of the garden, in metres")


def _add_period(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--station", metavar="ID", help="fetch this station, not the best one")
    parser.add_argument("--first-year", type=int, metavar="YEAR", help="of the history")
    parser.add_argument("--last-year", type=int, metavar="YEAR", help="of the history")


def _add_start(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--crop", required=True, help="a crop's name, or your own crop.toml")
    parser.add_argument("--sow", metavar="MM-DD", help="sow in place on this day")
    parser.add_argument("--raise", dest="raised", metavar="MM-DD", help="sow under cover then")
    parser.add_argument("--weeks", type=int, help="under cover; else the crop's usual")
    parser.add_argument("--cover", default="cold frame", help="where it is raised (%(default)s)")


def _add_changes(parser: argparse.ArgumentParser) -> None:
    parser.add_argument(
        "--at-garden",
        action="store_true",
        help="move the temperatures to the garden's height, 6.5 degC a kilometre",
    )
    parser.add_argument(
        "--warmer",
        type=float,
        metavar="DEGC",
        help="what if: the same years, so much warmer; the page says so",
    )


def _add_store(parser: argparse.ArgumentParser) -> None:
    add = parser.add_subparsers(title="actions", required=True, metavar="ACTION").add_parser
    _command(add, "list", commands.store_list, "what is kept")
    remove = _command(add, "remove", commands.store_remove, "take a station out")
    remove.add_argument("station", metavar="ID")
    export = _command(add, "export", commands.store_export, "write a station to a file of yours")
    export.add_argument("station", metavar="ID")
    export.add_argument("file", type=Path, help=".csv or .nc")


def _add_space(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("logger", type=Path, help="the logger's file: times and temperatures")
    _add_record(parser, needed=True)
    parser.add_argument("--crop", required=True, help="a crop's name, or your own crop.toml")
    parser.add_argument("--stage", help="of the crop; else its first above ground")
    parser.add_argument("--logger-units", choices=("C", "F"), help="where the file does not say")
    parser.add_argument("--zone", help="of its clock, such as Europe/Zurich; else as it stands")
    parser.add_argument("--first", metavar="MM-DD", help="of the time under cover; else the log's")
    parser.add_argument("--last", metavar="MM-DD", help="of the time under cover; else the log's")


def _add_trial(parser: argparse.ArgumentParser) -> None:
    add = parser.add_subparsers(title="actions", required=True, metavar="ACTION").add_parser
    plan = _command(add, "plan", commands_growing.trial_plan, "lay out plots, and a sheet to fill")
    plan.add_argument("treatments", nargs="+", metavar="TREATMENT", help="two or more, in quotes")
    plan.add_argument("--blocks", type=int, default=6, help="or pairs (%(default)s)")
    plan.add_argument("--seed", type=int, default=1, help="the same seed, the same plan")
    plan.add_argument("--out", type=Path, default=Path("trial.csv"), help="(%(default)s)")
    size = _command(add, "size", commands_growing.trial_size, "how many pairs are needed")
    size.add_argument("--difference", type=float, required=True, help="worth seeing")
    size.add_argument("--spread", type=float, required=True, help="of the differences within pairs")
    read = _command(add, "read", commands_growing.trial_read, "what came out of a filled sheet")
    read.add_argument("sheet", type=Path)
    read.add_argument("--measure", required=True, help="a column of the sheet")
    read.add_argument("--against", metavar="TREATMENT", help="the one the others are held against")


def _add_output(parser: argparse.ArgumentParser, default: Path) -> None:
    parser.add_argument("--need", type=int, metavar="DAYS", help="days the crop needs of a window")
    parser.add_argument("--units", choices=("C", "F"), default="C", help="shown (%(default)s)")
    parser.add_argument("--out", type=Path, default=default, help="where to write (%(default)s)")
