"""The command ``climwin``: arguments in, exit code out."""

from __future__ import annotations

import argparse
import io
import os
import re
import sys
import warnings
from collections.abc import Callable, Iterable, Sequence
from contextlib import redirect_stderr, redirect_stdout
from typing import Any, NamedTuple, NoReturn, TextIO

from climwin.cli.batch import BatchOptions, batch
from climwin.cli.climate import FreezesOptions, SpellsOptions, WeeksOptions, freezes, spells, weeks
from climwin.cli.club import LAYOUT, ClubOptions, club
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
from climwin.core.dialect import in_dialect, is_date
from climwin.core.errors import nearest_names
from climwin.core.schema import Units
from climwin.core.text import plain_text

EXAMPLES = """\
examples:
  climwin demo
      the invented sample: cauliflower at Pellbrook, a page in shared/
  climwin page record.csv --place "Our plot" --lat 46.1 --lon 7.2 --crop potato
      your own record; the best dates for the crop are worked out
  climwin page record.csv --place "Our plot" --lat 46.1 --lon 7.2 --crop cauliflower \\
      --sow 04-20 --raise 03-05 --weeks 6 --cover "cold frame" --units F
      your own dates, in degrees Fahrenheit, feet and miles
  climwin page --place "Lebanon, NH, US" --elevation 180 --crop cauliflower
      no record: downloads the history of the best station nearby
  climwin club club.toml
      several gardens, side by side
  climwin stations --place "Lebanon, NH, US"
      stations nearby, the best first, and why
  climwin inspect record.csv --column tmin=Low
      what was read, what is missing, and which values were rejected and why
  climwin freezes record.csv --on 05-10
      dates of the last frosts and the first ones, by their odds; and the odds on 10 May
  climwin weeks record.csv --crop cauliflower
      how warm each week of the year is, and in how many years it suits the crop
  climwin spells record.csv --crop cauliflower
      every year's mild spell, and in how many years it was shorter than the crop needs
  climwin hindcast record.csv
      had you asked years ago: the odds then, against what happened; takes 40 years or more
  climwin suits record.csv --season cool
      crops by their odds of a harvest here and how they grow, and what stops the others
  climwin calendar record.csv --crop pea --crop tomato
      when to sow, plant or set out, season by season; name no crop to see them all
  climwin dates record.csv --crop cauliflower --raise 03-05 --out dates.ics
      the plan's dates and odds, for your calendar
  climwin season record.csv --crop pea --sown 04-28 --out season.html
      how this year is going, and what may still happen; exit code 3 if nothing is new
  climwin space frame.csv record.csv --crop cauliflower
      a cold frame's logger: how it was inside, and how often it is too cold or too hot
  climwin trial plan "sown outdoors" "raised in a frame" --crop potato
      a bed trial: plots in random order, drawn, and a sheet to fill in
  climwin diary my_sowings.csv record.csv
      your past sowings: what would have been said of them, and how early your varieties are
  climwin notebook sow_or_raise --set record=record.csv --set crop_name=pea --set sow_on=04-01
      runs a notebook for your own place and crop, and writes it as a page
  climwin crops cool
      crops by family or season; with the name of a crop, or your own crop.toml,
      everything about it
"""


class Command(NamedTuple):
    """A command: its name, what it does, its options, and its line in the help.

    ``layout`` is how the file that it takes is written, below the options in its own help.
    """

    name: str
    run: Callable[[Any], int | None]
    options: type[Any]
    help: str
    layout: str = ""


COMMANDS = (
    Command("demo", demo, DemoOptions, "try it all on the invented sample"),
    Command("page", page, PageOptions, "write a page to share, for your own place and crop"),
    Command("club", club, ClubOptions, "write one page for several gardens, side by side", LAYOUT),
    Command("lab", lab, LabOptions, "open copies of the notebooks in JupyterLab"),
    Command("notebook", notebook, NotebookOptions, "run one of the notebooks for your own place"),
    Command(
        "inspect", inspect, InspectOptions, "see what is in a record, and what is wrong with it"
    ),
    Command("freezes", freezes, FreezesOptions, "see the odds of a freeze by date"),
    Command(
        "weeks", weeks, WeeksOptions, "see how warm each week is, and how often it suits a crop"
    ),
    Command(
        "spells",
        spells,
        SpellsOptions,
        "see how often a year's mild spell is too short for a crop",
    ),
    Command(
        "hindcast", hindcast, HindcastOptions, "check what the odds of earlier years were worth"
    ),
    Command("stations", stations, StationsOptions, "list the weather stations around a place"),
    Command("fetch", fetch, FetchOptions, "download a station's history into the store"),
    Command("store list", store_list, StoreListOptions, "list the stations and their years"),
    Command(
        "store check", store_check, StoreCheckOptions, "find years that are incomplete or doubtful"
    ),
    Command("store refresh", store_refresh, StoreRefreshOptions, "download years again"),
    Command("store remove", store_remove, StoreRemoveOptions, "remove a station"),
    Command(
        "store export", store_export, StoreExportOptions, "write a station's history to a file"
    ),
    Command("crops", crops, CropsOptions, "list the crops, or describe one of them"),
    Command("suits", suits, SuitsOptions, "see which crops suit a place"),
    Command("calendar", calendar, CalendarOptions, "see when to sow, plant or set out each crop"),
    Command(
        "sowings", sowings, SowingsOptions, "plan one sowing after another, while the odds are good"
    ),
    Command("dates", dates, DatesOptions, "save a plan's dates as a calendar file"),
    Command(
        "season", season, SeasonOptions, "see how this year is going, and what a crop may still do"
    ),
    Command("space", space, SpaceOptions, "judge a greenhouse or frame by its own logger"),
    Command("diary", diary, DiaryOptions, "see how your own past sowings compare with the odds"),
    Command(
        "trial plan",
        trial_plan,
        TrialPlanOptions,
        "lay out the plots, and write a sheet to fill in",
    ),
    Command("trial size", trial_size, TrialSizeOptions, "work out how many pairs you need"),
    Command("trial read", trial_read, TrialReadOptions, "read the result from a filled-in sheet"),
    Command("batch", batch, BatchOptions, "work it all out for many stations, or a grid"),
)
"""All commands, in the order of the help; a name of two words is an action of `GROUPS`."""

GROUPS = {
    "store": "manage the histories stored on this computer",
    "trial": "plan a side-by-side bed trial, and read its result",
}


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code: 0 done, 1 cannot be done, 2 wrongly called.

    A command may return a code of its own, such as 3 of ``season``: done, and nothing is new.
    """
    if isinstance(sys.stdout, io.TextIOWrapper):  # "?" for letters that the terminal lacks
        sys.stdout.reconfigure(errors="replace")
    arguments = _with_negative_values(sys.argv[1:] if arguments is None else arguments)
    typed, unknown = parser().parse_known_args(arguments)
    command: Command = typed.command
    if unknown:
        _refuse_unknown(unknown, command)
    speech = _Speech(_shown_units(typed), _repeated(arguments))
    try:
        _check_letters(vars(typed).values())
        with (
            warnings.catch_warnings(),
            redirect_stdout(_SpokenOutput(sys.stdout, speech)),
            redirect_stderr(_SpokenOutput(sys.stderr, speech)),
        ):
            warnings.showwarning = _note
            code = command.run(parsed(command.options, typed))
    except BrokenPipeError:  # such as `head`, which has read enough
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    except (*Failure, OptionError, MemoryError) as error:
        text = speech.says(explain(error, typed_names(command.options)))
        print(f"climwin: {plain_text(text, keep=chr(10))}", file=sys.stderr)
        return 1
    except KeyboardInterrupt:
        print("climwin: stopped", file=sys.stderr)
        return 130
    else:
        return code or 0
    return 0  # a broken pipe


def _with_negative_values(arguments: Sequence[str]) -> list[str]:
    """The arguments, those below zero with a unit joined to their option: ``--warmer=-3F``.

    argparse takes ``-3`` for a number, and ``-3F`` for an option.
    """
    joined: list[str] = []
    for text in arguments:
        if re.match(r"-\.?\d", text) and joined and re.fullmatch(r"--[\w-]+", joined[-1]):
            joined[-1] += f"={text}"
        else:
            joined.append(text)
    return joined


def _shown_units(typed: argparse.Namespace) -> Units:
    """The units that the person reads, whichever of a command's groups has them; C by default.

    A notebook has them among the values that are set.
    """
    for name, value in vars(typed).items():
        if name.endswith(".shown_units"):
            units: Units = value
            return units
        if name.endswith(".values") and ("units", "F") in (value or ()):
            return "F"
    return "C"


def _repeated(arguments: Sequence[str]) -> tuple[str, ...]:
    """What was typed, as output may repeat it: in quotes, and bare if it is a name or a file.

    A bare date is left out, since it may also be a result.
    """
    return (*map(repr, arguments), *(text for text in arguments if not is_date(text)))


class _Speech(NamedTuple):
    """The reader's units, and what was typed, which is repeated unchanged."""

    units: Units
    typed: tuple[str, ...]

    def says(self, text: str) -> str:
        return in_dialect(text, self.units, verbatim=self.typed)


class _SpokenOutput:
    """A stream that writes in the reader's own English, for all commands.

    It drops control characters, since names in files and lists may come from anybody.
    """

    def __init__(self, stream: TextIO, speech: _Speech) -> None:
        self._stream, self._speech = stream, speech

    def write(self, text: str) -> int:
        return self._stream.write(self._speech.says(plain_text(text, keep="\n\r\t")))

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
    """A parser, and those of its commands, whose errors begin with what was typed.

    An option is typed in full: ``--logger`` is no short form of ``--logger-units``.
    """

    def __init__(self, *args: Any, **settings: Any) -> None:
        super().__init__(*args, **settings)
        self.allow_abbrev = False

    def error(self, message: str) -> NoReturn:
        super().error(_plainly(message.removeprefix("argument "), self.prog))


def _refuse_unknown(unknown: Sequence[str], command: Command) -> NoReturn:
    """End with what a command does not understand, and the option of a near name."""
    name = f"climwin {command.name}"
    typed = unknown[0].partition("=")[0]
    names = typed_names(command.options).values()
    bare = typed.removeprefix("--").upper()
    near = nearest_names(typed, [each for each in names if each.startswith("--")])[:1]
    meant = ""
    if typed.startswith("--") and bare in names:  # a positional argument
        meant = f" {bare} is typed without {typed}."
    elif typed.startswith("-") and near:
        meant = f" Did you mean {near[0]}?"
    text = f"{' '.join(unknown)!r} is not understood here.{meant} Leave it out, or see"
    _Parser(prog=name, add_help=False, usage=f"{name} --help").error(f"{text} `{name} --help`.")


def _plainly(message: str, command: str) -> str:
    """An error of argparse as what was typed, what is allowed and what to do."""
    choice = re.fullmatch(r"(\S+): invalid choice: '(.*)' \(choose from (.*)\)", message)
    if choice:
        name, given, listed = choice.groups()
        allowed = [word.strip(" '") for word in listed.split(",")]
        near = nearest_names(given, allowed)[:1]
        meant = f" Did you mean {near[0]}?" if near else ""
        return f"{name} must be one of {', '.join(allowed)}; got {given!r}.{meant}"
    _, is_missing, missing = message.partition("arguments are required: ")
    if is_missing:
        return f"Missing: {missing}. Add it; `{command} --help` says what it is."
    return re.sub(r"^(--[\w-]+): (?=takes |is given twice)", r"\1 ", message)


def parser() -> argparse.ArgumentParser:
    """The parser of all commands; ``command`` of what it parses is the one that was typed."""
    top = _Parser(
        prog="climwin",
        description="When to sow and plant, how often a crop comes through, and whether a start "
        "under cover does better: worked out from the weather history of your own place.",
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
        each = among.add_parser(
            action,
            help=command.help,
            description=_sentence(command.help),
            epilog=command.layout,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        each.set_defaults(command=command)
        add_arguments(each, command.options)
    return top


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
