"""The command ``climwin``: arguments in, exit code out."""

from __future__ import annotations

import argparse
import io
import os
import re
import sys
import warnings
from collections.abc import Callable, Iterable, Sequence
from functools import partial
from pathlib import Path
from typing import Any

from climwin.cli import batch, commands, growing, notebooks, options, planning, stations
from climwin.cli.lab import lab as lab_run
from climwin.core.schema import StationError

Command = Callable[..., argparse.ArgumentParser]

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
  climwin club club.toml
      several gardens side by side
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
  climwin notebook sow_or_raise --set record=record.csv --set crop_name=pea --set sow_on=04-01
      a notebook run for your own place and crop, as a page
  climwin crops cool
      crops of the catalogue, by name, family or season
"""

_TYPED = {
    r"units=['\"]([CF])['\"]": r"--record-units \1",
    r"columns=\{'(\w+)': '([^']*)'\}": r"--column \1='\2'",
    r"dates=(['\"][^'\"]*['\"])": r"--dates \1",
    r"Set daily\.attrs\['elevation'\] in metres": "Write its metres above the table, "
    "such as '# elevation: 610'",
    r"few_years=True": "--few-years",
    r"climwin\.crops\(\)": "`climwin crops`",
    r"climwin\.stations\(garden, radius_km=([\d.]+)\)": r"--radius \1",
    r"climwin\.stations\(garden\)": "`climwin stations`",
    r"climwin\.read_daily": "`climwin page record.csv`",
    r"the invented sample that comes with climwin": "the invented sample (`climwin demo`)",
}
"""What the library's errors advise, as one would type it."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code: 0 done, 1 cannot be done, 2 wrongly called."""
    if isinstance(sys.stdout, io.TextIOWrapper):  # where letters are lacking, "?" and no error
        sys.stdout.reconfigure(errors="replace")
    chosen = _parser().parse_args(arguments)
    try:
        _check_letters(vars(chosen).values())
        with warnings.catch_warnings():
            warnings.showwarning = _note
            chosen.run(chosen)
    except BrokenPipeError:  # whoever read the output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (ValueError, StationError, OSError, MemoryError) as error:
        print(f"climwin: {_plainly(error)}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("climwin: stopped", file=sys.stderr)
        return 130
    return 0


def _check_letters(given: Iterable[object]) -> None:
    """Refuse arguments with letters that the locale lacks: they came as bytes, not as letters."""
    for text in map(str, given):
        try:
            text.encode()
        except UnicodeEncodeError as error:
            msg = f"{text!a} has letters that this session's locale lacks. Set PYTHONUTF8=1."
            raise ValueError(msg) from error


def _note(message: Warning | str, *_: Any, **__: Any) -> None:
    """A warning as a line for the person at the command."""
    print(f"climwin: {message}", file=sys.stderr)


def _plainly(error: Exception) -> str:
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {error.strerror}."
    if isinstance(error, MemoryError):
        return "The memory of this machine does not hold that. Take fewer years, or fewer stations."
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
    for part in (_pages, _records, _planning, _season, _region):
        part(partial(_command, add))
    return parser


def _command(
    add: Callable[..., Any], name: str, run: Callable[..., None] | None, told: str
) -> argparse.ArgumentParser:
    parser: argparse.ArgumentParser = add(
        name, help=told, description=f"{told[0].upper()}{told[1:]}."
    )
    if run:
        parser.set_defaults(run=run)
    return parser


def _actions(parser: argparse.ArgumentParser) -> Command:
    kinds = parser.add_subparsers(title="actions", required=True, metavar="ACTION")
    return partial(_command, kinds.add_parser)


def _pages(command: Command) -> None:
    demo = command("demo", commands.demo, "the whole job on the invented sample")
    options.output(demo, Path("shared") / "pellbrook.html")

    page = command("page", commands.page, "one page to share, for your own place and crop")
    options.record(page, needed=False)
    options.place(page, needed=True)
    options.period(page)
    options.start(page)
    options.changes(page)
    options.few_years(page)
    page.add_argument("--need", type=int, metavar="DAYS", help="days the crop needs of a window")
    page.add_argument("--made", metavar="DATE", help="date at the foot of the page (today)")
    page.add_argument(
        "--notebook", action="store_true", help="its notebook and record beside it as well"
    )
    options.output(page, Path("page.html"))

    club = command("club", commands.club, "one page for several gardens side by side")
    club.add_argument("file", type=Path, help="the members' gardens and records, as TOML")
    options.few_years(club)
    club.add_argument("--made", metavar="DATE", help="date at the foot of the page (today)")
    options.output(club, Path("club.html"))

    lab = command("lab", lab_run, "the notebooks in JupyterLab, on copies of your own")
    lab.add_argument("folder", nargs="?", default="climwin-notebooks", help="(%(default)s)")

    book = command("notebook", notebooks.notebook, "one of the notebooks, run for your own place")
    book.add_argument("notebook", help="its name, such as sow_or_raise")
    options.values(book)
    book.add_argument("--out", type=Path, help=".html or .ipynb (the notebook's name, .html)")


def _records(command: Command) -> None:
    look = command("look", commands.look, "what a record holds, lacks, and was set aside")
    options.record(look)
    options.place(look)
    options.neighbour(look)

    around = command("stations", stations.stations, "weather stations around a place")
    options.place(around)
    options.period(around)
    around.add_argument("--radius", type=float, default=50.0, help="in km (%(default)s)")

    fetch = command("fetch", stations.fetch, "bring a station's history into the store")
    options.place(fetch)
    options.period(fetch)
    options.neighbour(fetch)

    action = _actions(command("store", None, "the histories kept on this computer"))
    action("list", stations.store_list, "what is kept")
    remove = action("remove", stations.store_remove, "take a station out")
    remove.add_argument("station", metavar="ID")
    export = action("export", stations.store_export, "write a station to a file of yours")
    export.add_argument("station", metavar="ID")
    export.add_argument("file", type=Path, help=".csv or .nc")


def _planning(command: Command) -> None:
    crops = command("crops", commands.crops, "the catalogue, or one crop's limits")
    crops.add_argument("filter", nargs="?", default="", help="a crop, a family, or cool or warm")

    suits = command("suits", planning.suits, "which crops suit a place")
    options.record(suits)
    options.place(suits)
    options.few_years(suits)
    suits.add_argument("--season", choices=("cool", "warm"), help="else both")
    suits.add_argument("--most", type=int, default=30, metavar="N", help="shown (%(default)s)")

    sowings = command("sowings", planning.sowings, "sowings while the odds hold")
    options.record(sowings)
    options.place(sowings)
    options.start(sowings)
    options.few_years(sowings)
    sowings.add_argument("--every", type=int, default=14, metavar="DAYS", help="(%(default)s)")
    sowings.add_argument("--odds", type=float, default=0.7, help="least, 0 to 1 (%(default)s)")

    dates = command("dates", planning.dates, "a plan's dates to take along")
    options.record(dates)
    options.place(dates)
    options.start(dates)
    options.few_years(dates)
    dates.add_argument("--year", type=int, help="of the start; else next year")
    dates.add_argument("--out", type=Path, default=Path("dates.ics"), help=".ics or .csv")


def _season(command: Command) -> None:
    space = command("space", growing.space, "a covered space and its own logger")
    space.add_argument("logger", type=Path, help="the logger's file: times and temperatures")
    options.record(space)
    options.place(space)
    options.few_years(space)
    space.add_argument("--crop", required=True, help="a crop's name, or your own crop.toml")
    space.add_argument("--stage", help="of the crop; else its first above ground")
    space.add_argument("--logger-units", choices=("C", "F"), help="where the file does not say")
    space.add_argument("--zone", help="of its clock, such as Europe/Zurich; else as it stands")
    space.add_argument("--first", metavar="MM-DD", help="of the time under cover; else the log's")
    space.add_argument("--last", metavar="MM-DD", help="of the time under cover; else the log's")

    action = _actions(command("trial", None, "a side-by-side bed trial"))
    plan = action("plan", growing.trial_plan, "lay out plots, and a sheet to fill")
    plan.add_argument("treatments", nargs="+", metavar="TREATMENT", help="two or more, in quotes")
    plan.add_argument("--blocks", type=int, default=6, help="or pairs (%(default)s)")
    plan.add_argument("--seed", type=int, default=1, help="the same seed, the same plan")
    plan.add_argument("--out", type=Path, default=Path("trial.csv"), help="(%(default)s)")
    size = action("size", growing.trial_size, "how many pairs are needed")
    size.add_argument("--difference", type=float, required=True, help="worth seeing")
    size.add_argument("--spread", type=float, required=True, help="of the differences within pairs")
    read = action("read", growing.trial_read, "what came out of a filled sheet")
    read.add_argument("sheet", type=Path)
    read.add_argument("--measure", required=True, help="a column of the sheet")
    read.add_argument("--against", metavar="TREATMENT", help="the one the others are held against")


def _region(command: Command) -> None:
    many = command("many", batch.many, "the whole answer for many stations, or a grid")
    many.add_argument("stations", type=Path, help="a CSV list of stations and files, .nc or .zarr")
    many.add_argument("--crop", action="append", required=True, help="may be given again")
    options.few_years(many)
    many.add_argument("--cluster", metavar="ADDRESS", help="of a dask scheduler; else this machine")
    many.add_argument("--batch", type=int, help="stations in one go, fewer take less memory")
    many.add_argument("--out", type=Path, default=Path("many.nc"), help=".nc or .zarr")
