"""The command ``climwin``: arguments in, exit code out."""

from __future__ import annotations

import argparse
import io
import os
import sys
import warnings
from collections.abc import Callable, Iterable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from typing import Any, NamedTuple, NoReturn, TextIO

from climwin.cli.batch import BatchOptions, batch
from climwin.cli.club import ClubOptions, club
from climwin.cli.crops import CropsOptions, crops
from climwin.cli.diary import DiaryOptions, diary
from climwin.cli.lab import LabOptions, lab
from climwin.cli.looking_back import HindcastOptions, hindcast
from climwin.cli.notebooks import NotebookOptions, notebook
from climwin.cli.options import add_arguments, parsed, typed_names
from climwin.cli.page import DemoOptions, PageOptions, demo, page
from climwin.cli.planning import (
    CalendarOptions,
    DatesOptions,
    SowingsOptions,
    SuitsOptions,
    calendar,
    dates,
    sowings,
    suits,
)
from climwin.cli.record import InspectOptions, inspect
from climwin.cli.season import SeasonOptions, season
from climwin.cli.space import SpaceOptions, space
from climwin.cli.stations import (
    FetchOptions,
    StationsOptions,
    StoreCheckOptions,
    StoreExportOptions,
    StoreListOptions,
    StoreRefreshOptions,
    StoreRemoveOptions,
    fetch,
    stations,
    store_check,
    store_export,
    store_list,
    store_refresh,
    store_remove,
)
from climwin.cli.trial import (
    TrialPlanOptions,
    TrialReadOptions,
    TrialSizeOptions,
    trial_plan,
    trial_read,
    trial_size,
)
from climwin.cli.wording import Failure, OptionError, explain
from climwin.core.text import plain_text

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
  climwin inspect record.csv --column tmin=Low
      what was read, what is missing, what was set aside and why
  climwin hindcast record.csv
      had you asked then: the odds of earlier years against what came, from 40 years on
  climwin suits record.csv --season cool
      crops by their odds of a harvest at the place, and what limits the others
  climwin calendar record.csv --crop pea --crop tomato
      when to sow, plant or set out, season by season; all crops where none is named
  climwin dates record.csv --crop cauliflower --raise 03-05 --out dates.ics
      the plan's dates with their odds, for a calendar
  climwin season record.csv --crop pea --sown 04-28 --out season.html
      how this year is going, and what may come; the exit code is 3 where nothing is new
  climwin space frame.csv record.csv --crop cauliflower
      a cold frame's logger: what it was like inside, and in how many years too cold or hot
  climwin trial plan "sown in place" "raised in a frame" --crop potato
      a bed trial: plots in random order, drawn, and a sheet to fill
  climwin diary my_sowings.csv record.csv
      your past sowings: what would have been said of them, and how early your varieties are
  climwin notebook sow_or_raise --set record=record.csv --set crop_name=pea --set sow_on=04-01
      a notebook run for your own place and crop, as a page
  climwin crops cool
      crops of the catalogue, by family or season; one crop by its name, or your own
      crop.toml, in sentences
"""


class Command(NamedTuple):
    """A command: its name, what it does, its options, and its line in the help."""

    name: str
    run: Callable[[Any], int | None]
    options: type[Any]
    help: str


COMMANDS = (
    Command("demo", demo, DemoOptions, "the whole job on the invented sample"),
    Command("page", page, PageOptions, "one page to share, for your own place and crop"),
    Command("club", club, ClubOptions, "one page for several gardens side by side"),
    Command("lab", lab, LabOptions, "the notebooks in JupyterLab, on copies of your own"),
    Command("notebook", notebook, NotebookOptions, "one of the notebooks, run for your own place"),
    Command(
        "inspect", inspect, InspectOptions, "what a record holds, what it lacks, what was set aside"
    ),
    Command("hindcast", hindcast, HindcastOptions, "the odds of earlier years against what came"),
    Command("stations", stations, StationsOptions, "weather stations around a place"),
    Command("fetch", fetch, FetchOptions, "bring a station's history into the store"),
    Command("store list", store_list, StoreListOptions, "the stations and their years"),
    Command("store check", store_check, StoreCheckOptions, "years that are short or doubtful"),
    Command("store refresh", store_refresh, StoreRefreshOptions, "fetch years again"),
    Command("store remove", store_remove, StoreRemoveOptions, "take a station out"),
    Command("store export", store_export, StoreExportOptions, "write a station to a file of yours"),
    Command("crops", crops, CropsOptions, "the catalogue, or one crop in sentences"),
    Command("suits", suits, SuitsOptions, "which crops suit a place"),
    Command("calendar", calendar, CalendarOptions, "when to start each crop at a place"),
    Command("sowings", sowings, SowingsOptions, "sowings while the odds hold"),
    Command("dates", dates, DatesOptions, "a plan's dates to take along"),
    Command("season", season, SeasonOptions, "how this year is going, and what may come of a crop"),
    Command("space", space, SpaceOptions, "a covered space and its own logger"),
    Command(
        "diary", diary, DiaryOptions, "your own past sowings against what would have been said"
    ),
    Command("trial plan", trial_plan, TrialPlanOptions, "lay out plots, and a sheet to fill"),
    Command("trial size", trial_size, TrialSizeOptions, "how many pairs are needed"),
    Command("trial read", trial_read, TrialReadOptions, "what came out of a filled sheet"),
    Command("batch", batch, BatchOptions, "the same answers for many stations, or a grid"),
)
"""All commands, in the order of the help; a name of two words is an action of `GROUPS`."""

GROUPS = {
    "store": "the histories stored on this computer",
    "trial": "a side-by-side bed trial",
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code: 0 done, 1 cannot be done, 2 wrongly called.

    A command may return a code of its own, such as 3 of ``season``: done, and nothing is new.
    """
    if isinstance(sys.stdout, io.TextIOWrapper):  # where letters are lacking, "?" and no error
        sys.stdout.reconfigure(errors="replace")
    typed = parser().parse_args(arguments)
    command: Command = typed.command
    try:
        _check_letters(vars(typed).values())
        with (
            warnings.catch_warnings(),
            redirect_stdout(_PlainOutput(sys.stdout)),
            redirect_stderr(_PlainOutput(sys.stderr)),
        ):
            warnings.showwarning = _note
            code = command.run(parsed(command.options, typed))
    except BrokenPipeError:  # whoever read the output has seen enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (*Failure, OptionError, MemoryError) as error:
        text = plain_text(explain(error, typed_names(command.options)), keep="\n")
        print(f"climwin: {text}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("climwin: stopped", file=sys.stderr)
        return 130
    else:
        return code or 0
    return 0


class _PlainOutput:
    """A stream that drops what steers a terminal: names in files and lists come from anybody."""

    def __init__(self, stream: TextIO) -> None:
        self._stream = stream

    def write(self, text: str) -> int:
        return self._stream.write(plain_text(text, keep="\n\r\t"))

    def __getattr__(self, name: str) -> Any:
        return getattr(self._stream, name)


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


class _Parser(argparse.ArgumentParser):
    """A parser, and those of its commands, whose errors begin with what was typed."""

    def error(self, message: str) -> NoReturn:
        super().error(message.removeprefix("argument "))


def parser() -> argparse.ArgumentParser:
    """The parser of all commands; ``command`` of what it parses is the one that was typed."""
    top = _Parser(
        prog="climwin",
        description="How long is a garden's usable season, how often is it too short for a crop, "
        "and which way of starting it does better? From the history of your own place.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = top.add_subparsers(title="commands", required=True, metavar="COMMAND")
    actions: dict[str, Any] = {}
    for command in COMMANDS:
        group, _, action = command.name.rpartition(" ")
        if group and group not in actions:
            own = commands.add_parser(
                group, help=GROUPS[group], description=_sentence(GROUPS[group])
            )
            actions[group] = own.add_subparsers(title="actions", required=True, metavar="ACTION")
        among = actions[group] if group else commands
        each = among.add_parser(action, help=command.help, description=_sentence(command.help))
        each.set_defaults(command=command)
        add_arguments(each, command.options)
    return top


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
