"""The command ``climwin``: arguments in, exit code out."""

from __future__ import annotations

import argparse
import io
import re
import sys
from collections.abc import Collection, Sequence
from importlib import import_module
from typing import Any, NamedTuple, NoReturn

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
    """A command: its name, the module that has it, and its line in the help.

    The module is loaded when the command is typed, so that ``climwin --help`` is there at once. The
    command ``store list`` is a function ``store_list``, which takes ``StoreListOptions``.
    """

    name: str
    module: str
    help: str

    def _of_module(self, name: str, default: Any = None) -> Any:
        return getattr(import_module(f"climwin.cli.{self.module}"), name, default)

    @property
    def run(self) -> Any:
        """What it does: a function of its options that may return an exit code."""
        return self._of_module(self.name.replace(" ", "_"))

    @property
    def options(self) -> type[Any]:
        """Its options, a dataclass."""
        options: type[Any] = self._of_module(f"{self.name.title().replace(' ', '')}Options")
        return options

    @property
    def layout(self) -> str:
        """How the file that it takes is written, which its own help shows below the options."""
        layout: str = self._of_module("LAYOUT", "")
        return layout


COMMANDS = (
    Command("demo", "page", "try it all on the invented sample"),
    Command("page", "page", "write a page to share, for your own place and crop"),
    Command("club", "club", "write one page for several gardens, side by side"),
    Command("lab", "lab", "open copies of the notebooks in JupyterLab"),
    Command("notebook", "notebooks", "run one of the notebooks for your own place"),
    Command("inspect", "record", "see what is in a record, and what is wrong with it"),
    Command("freezes", "climate", "see the odds of a freeze by date"),
    Command("weeks", "climate", "see how warm each week is, and how often it suits a crop"),
    Command("spells", "climate", "see how often a year's mild spell is too short for a crop"),
    Command("hindcast", "looking_back", "check what the odds of earlier years were worth"),
    Command("stations", "stations", "list the weather stations around a place"),
    Command("fetch", "stations", "download a station's history into the store"),
    Command("store list", "stations", "list the stations and their years"),
    Command("store check", "stations", "find years that are incomplete or doubtful"),
    Command("store refresh", "stations", "download years again"),
    Command("store remove", "stations", "remove a station"),
    Command("store export", "stations", "write a station's history to a file"),
    Command("crops", "crops", "list the crops, or describe one of them"),
    Command("suits", "planning", "see which crops suit a place"),
    Command("calendar", "planning", "see when to sow, plant or set out each crop"),
    Command("sowings", "planning", "plan one sowing after another, while the odds are good"),
    Command("dates", "planning", "save a plan's dates as a calendar file"),
    Command("season", "season", "see how this year is going, and what a crop may still do"),
    Command("space", "space", "judge a greenhouse or frame by its own logger"),
    Command("diary", "diary", "see how your own past sowings compare with the odds"),
    Command("trial plan", "trial", "lay out the plots, and write a sheet to fill in"),
    Command("trial size", "trial", "work out how many pairs you need"),
    Command("trial read", "trial", "read the result from a filled-in sheet"),
    Command("batch", "batch", "work it all out for many stations, or a grid"),
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
    typed, unknown = parser(arguments).parse_known_args(arguments)
    command: Command = typed.command
    if unknown:
        _refuse_unknown(unknown, command)
    from climwin.cli.running import run  # after the help, which needs nothing of it

    return run(command.run, command.options, typed, arguments)


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
    from climwin.cli.options import typed_names
    from climwin.core.errors import did_you_mean

    names = typed_names(command.options).values()
    bare = typed.removeprefix("--").upper()
    meant = ""
    if typed.startswith("--") and bare in names:  # a positional argument
        meant = f" {bare} is typed without {typed}."
    elif typed.startswith("-"):
        meant = did_you_mean(typed, [each for each in names if each.startswith("--")])
    text = f"{' '.join(unknown)!r} is not understood here.{meant} Leave it out, or see"
    _Parser(prog=name, add_help=False, usage=f"{name} --help").error(f"{text} `{name} --help`.")


def _plainly(message: str, command: str) -> str:
    """An error of argparse as what was typed, what is allowed and what to do."""
    from climwin.core.errors import did_you_mean

    choice = re.fullmatch(r"(\S+): invalid choice: '(.*)' \(choose from (.*)\)", message)
    if choice:
        name, given, listed = choice.groups()
        allowed = [word.strip(" '") for word in listed.split(",")]
        meant = did_you_mean(given, allowed)
        return f"{name} must be one of {', '.join(allowed)}; got {given!r}.{meant}"
    _, is_missing, missing = message.partition("arguments are required: ")
    if is_missing:
        return f"Missing: {missing}. Add it; `{command} --help` says what it is."
    return re.sub(r"^(--[\w-]+): (?=takes |is given twice)", r"\1 ", message)


def parser(arguments: Collection[str] | None = None) -> argparse.ArgumentParser:
    """The parser of all commands; ``command`` of what it parses is the one that was typed.

    Where arguments are given, a command has options only if it is named among them.
    """
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
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )
        if arguments is None or {*command.name.split()} <= {*arguments}:
            _fill(each, command)
    return top


def _fill(own: argparse.ArgumentParser, command: Command) -> None:
    """Give the parser of a command what its module knows."""
    from climwin.cli.options import add_arguments

    own.epilog = command.layout
    own.set_defaults(command=command)
    add_arguments(own, command.options)


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."
