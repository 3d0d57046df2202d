"""Options of the command that several commands share."""

from __future__ import annotations

import argparse
from pathlib import Path


def record(parser: argparse.ArgumentParser, *, needed: bool = True) -> None:
    """A file of daily weather, and how to read it."""
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


def values(parser: argparse.ArgumentParser) -> None:
    """Values of a notebook's parameters."""
    parser.add_argument(
        "--set",
        dest="values",
        action="append",
        default=[],
        type=_value,
        metavar="NAME=VALUE",
        help="a value of its first cell, such as crop_name=pea; may be given again",
    )


def _column(text: str) -> tuple[str, str]:
    return _pair(text, "ROLE=NAME, such as tmin=Low")


def _value(text: str) -> tuple[str, str]:
    return _pair(text, "NAME=VALUE, such as crop_name=pea")


def _pair(text: str, form: str) -> tuple[str, str]:
    left, equals, right = text.partition("=")
    if not equals:
        msg = f"write {form}; got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return left, right


def place(parser: argparse.ArgumentParser, *, needed: bool = False) -> None:
    """Where the garden is."""
    parser.add_argument("--place", required=needed, help="what you call it, or a town's name")
    parser.add_argument("--lat", type=float, help="degrees north; else the record's, or the town's")
    parser.add_argument("--lon", type=float, help="degrees east; else the record's, or the town's")
    parser.add_argument("--elevation", type=float, help="of the garden, in metres")


def neighbour(parser: argparse.ArgumentParser) -> None:
    """Records nearby that tell whether this one's station was moved."""
    parser.add_argument(
        "--neighbour",
        action="append",
        metavar="FILE|ID",
        help="held against this record or station nearby, to see whether one of the two was "
        "moved; may be given again",
    )


def period(parser: argparse.ArgumentParser) -> None:
    """Which station, and which years of it."""
    parser.add_argument("--station", metavar="ID", help="fetch this station, not the best one")
    parser.add_argument("--first-year", type=int, metavar="YEAR", help="of the history")
    parser.add_argument("--last-year", type=int, metavar="YEAR", help="of the history")


def start(parser: argparse.ArgumentParser) -> None:
    """A crop, and how it is started."""
    parser.add_argument("--crop", required=True, help="a crop's name, or your own crop.toml")
    parser.add_argument("--sow", metavar="MM-DD", help="sow in place on this day")
    parser.add_argument("--raise", dest="raised", metavar="MM-DD", help="sow under cover then")
    parser.add_argument("--weeks", type=int, help="under cover; else the crop's usual")
    parser.add_argument(
        "--fleece", type=int, default=0, metavar="WEEKS", help="under fleece once outdoors"
    )
    parser.add_argument("--cover", default="cold frame", help="where it is raised (%(default)s)")


def few_years(parser: argparse.ArgumentParser) -> None:
    """Whether a short record will do."""
    parser.add_argument(
        "--few-years",
        action="store_true",
        help="go on with fewer than ten known years; the odds are a hint, no more",
    )


def changes(parser: argparse.ArgumentParser) -> None:
    """What is done to the record before it is used."""
    parser.add_argument(
        "--at-garden",
        action="store_true",
        help="move the temperatures to the garden's height, 6.5 degC a kilometre",
    )
    parser.add_argument(
        "--thermometer",
        metavar="FILE",
        type=Path,
        help="readings of a logger in your garden: its monthly offsets from the station move the "
        "temperatures; other months move by height",
    )
    parser.add_argument(
        "--fill-from",
        metavar="FILE|ID",
        help="fill gaps from a neighbour's record or station, by monthly offset; the page says so",
    )
    parser.add_argument(
        "--warmer",
        type=float,
        metavar="DEGC",
        help="what if: the same years, so much warmer; the page says so",
    )


def output(parser: argparse.ArgumentParser, default: Path) -> None:
    """Where a page is written, and how it speaks."""
    parser.add_argument("--units", choices=("C", "F"), default="C", help="shown (%(default)s)")
    parser.add_argument("--out", type=Path, default=default, help="where to write (%(default)s)")
    parser.add_argument("--pdf", action="store_true", help="print it to a PDF beside it as well")
    parser.add_argument("--paper", choices=("A4", "Letter"), default="A4", help="(%(default)s)")
