"""The command ``climwin``: arguments in, exit code out."""

from __future__ import annotations

import argparse
import datetime as dt
import os
import re
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.schema import Garden, StationError

if TYPE_CHECKING:
    import xarray as xr

    from climwin.crops import Crop
    from climwin.plans import Plan
    from climwin.report import GardenReport

EXAMPLES = """\
examples:
  climwin demo
      the invented sample: cauliflower at Pellbrook, a page in shared/
  climwin page record.csv --place "Our plot" --lat 46.1 --lon 7.2 --elevation 640 --crop potato
      your own record, the crop raised or sown at its best dates there
  climwin page record.csv --place "Our plot" --lat 46.1 --lon 7.2 --crop cauliflower \\
      --sow 04-20 --raise 03-05 --weeks 6 --cover "cold frame" --units F
      your own dates, in degrees Fahrenheit
  climwin look record.csv --column tmin=Low
      what was read, what is missing, what was set aside and why
  climwin crops cool
      crops of the catalogue, by name, family or season
"""


_TYPED = {
    r"units=['\"]([CF])['\"]": r"--record-units \1",
    r"columns=\{'(\w+)': '([^']*)'\}": r"--column \1='\2'",
    r"dates=(['\"][^'\"]*['\"])": r"--dates \1",
    r"climwin\.crops\(\)": "`climwin crops`",
}
"""What the library's errors advise, as one would type it."""


def main(arguments: Sequence[str] | None = None) -> int:
    """Run the command; return its exit code: 0 done, 1 cannot be done, 2 wrongly called."""
    parser = _parser()
    chosen = parser.parse_args(arguments)
    try:
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


def _plainly(error: Exception) -> str:
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {error.strerror}."
    text = str(error)
    for said, typed in _TYPED.items():
        text = re.sub(said, typed, text)
    return text


def _say(step: str) -> None:
    """Tell what is going on, to a person at a terminal alone."""
    if sys.stderr.isatty():
        print(f"  {step} ...", file=sys.stderr)


# --- commands -----------------------------------------------------------------------------


def _demo(chosen: argparse.Namespace) -> None:
    from climwin.crops import crop
    from climwin.figures import answer
    from climwin.plans import Plan
    from climwin.records import read_daily, sample

    _say("reading the sample")
    daily = read_daily(sample())
    cauliflower = crop("cauliflower")
    plans = [Plan(cauliflower, "03-05", 6, "cold frame"), Plan(cauliflower, "04-20")]
    garden = Garden("Pellbrook allotments", 46.1, 7.2, 640)
    report = _write(garden, daily, plans, None, chosen, made=None)
    picture = chosen.out.with_suffix(".png")
    answer(report, units=chosen.units).savefig(picture, dpi=150)
    print(picture)


def _page(chosen: argparse.Namespace) -> None:
    grown = _crop(chosen.crop)
    daily = _record(chosen)
    made = chosen.made or dt.date.today().isoformat()
    plans = _plans(grown, chosen) or None
    _write(_garden(chosen, daily), daily, plans, grown, chosen, made=made)


def _look(chosen: argparse.Namespace) -> None:
    from climwin.quality import coverage, describe
    from climwin.words import set_aside

    daily = _record(chosen)
    print(*daily.attrs["history"].splitlines(), *describe(coverage(daily)), sep="\n")
    for line in set_aside(daily):
        print(f"  {line}")


def _crops(chosen: argparse.Namespace) -> None:
    from climwin.crops import crop, crops

    wanted = chosen.filter.strip().lower()
    found = [crop(name) for name in crops()]
    shown = [c for c in found if wanted in (c.name.lower(), c.family.lower(), c.season, "")]
    if len(shown) == 1 and wanted:
        print(_sheet(shown[0]))
        return
    if not shown:
        families = sorted({c.family for c in found})
        msg = (
            f"No crop, family or season is called {chosen.filter!r}. Families: "
            f"{', '.join(families)}. Seasons: cool, warm. `climwin crops` lists all."
        )
        raise ValueError(msg)
    for c in shown:
        print(f"{c.name:22} {c.season:5} {c.family:14} {c.need_days:4} days  {c.botanical}")


def _sheet(crop: Crop) -> str:
    lines = [f"{crop.name} ({crop.botanical}), {crop.season}-season {crop.family}"]
    lines.append(
        f"  grows at {crop.band.low_c} to {crop.band.high_c} degC, daily mean: {crop.band.source}"
    )
    g = crop.germination
    lines.append(
        f"  soil {g.minimum_c} to {g.maximum_c} degC, best {g.optimum_low_c} to "
        f"{g.optimum_high_c}: {g.source}"
    )
    if crop.weeks_under_cover:
        w = crop.weeks_under_cover
        lines.append(f"  under cover {w.usual} weeks ({w.fewest} to {w.most}): {w.source}")
    for s in crop.stages:
        lines += [
            f"  {s.name}",
            f"    {s.days.usual} days ({s.days.fewest} to {s.days.most}): {s.days.source}",
            f"    best {s.prefers.low_c} to {s.prefers.high_c} degC: {s.prefers.source}",
            f"    grows {s.tolerates.low_c} to {s.tolerates.high_c} degC: {s.tolerates.source}",
            f"    killed at {s.survives.low_c} degC: {s.survives.source}",
        ]
    return "\n".join([*lines, *(f"  mind: {text}" for text in crop.cautions)])


# --- from arguments to things -------------------------------------------------------------


def _record(chosen: argparse.Namespace) -> xr.Dataset:
    from climwin.records import read_daily

    _say(f"reading {chosen.record}")
    columns = dict(chosen.columns or ())
    return read_daily(
        chosen.record, units=chosen.record_units, columns=columns or None, dates=chosen.dates
    )


def _column(text: str) -> tuple[str, str]:
    role, equals, name = text.partition("=")
    if not equals:
        msg = f"write ROLE=NAME, such as tmin=Low; got {text!r}"
        raise argparse.ArgumentTypeError(msg)
    return role, name


def _crop(text: str) -> Crop:
    from climwin.crops import crop, read_crop

    return read_crop(text) if text.endswith(".toml") else crop(text)


def _garden(chosen: argparse.Namespace, daily: xr.Dataset) -> Garden:
    found = {}
    for key, given in (("latitude", chosen.lat), ("longitude", chosen.lon)):
        value = daily.attrs.get(key) if given is None else given
        if value is None:
            msg = f"The record does not say its {key}: give --{key[:3]} in decimal degrees."
            raise ValueError(msg)
        found[key] = float(value)
    return Garden(chosen.place, **found, elevation=chosen.elevation)


def _plans(crop: Crop, chosen: argparse.Namespace) -> list[Plan]:
    from climwin.plans import Plan

    plans = []
    if chosen.raised:
        usual = crop.weeks_under_cover.usual if crop.weeks_under_cover else 4
        plans.append(Plan(crop, chosen.raised, chosen.weeks or usual, chosen.cover))
    if chosen.sow:
        plans.append(Plan(crop, chosen.sow))
    return plans


def _write(
    garden: Garden,
    daily: xr.Dataset,
    plans: list[Plan] | None,
    crop: Crop | None,
    chosen: argparse.Namespace,
    *,
    made: str | None,
) -> GardenReport:
    from climwin.page import share
    from climwin.report import garden_report
    from climwin.words import headline

    _say("judging every year")
    report = garden_report(garden, daily, plans=plans or (), crop=crop, need_days=chosen.need)
    _say("drawing the page")
    path = share(report, chosen.out, units=chosen.units, made=made)
    print(headline(report))
    print(path)
    return report


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="climwin",
        description="How long is a garden's usable season, how often is it too short for a crop, "
        "and which way of starting it does better? From the history of your own place.",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")

    demo = commands.add_parser("demo", help="the whole job on the invented sample")
    demo.set_defaults(run=_demo)
    _add_output(demo, Path("shared") / "pellbrook.html")

    page = commands.add_parser(
        "page",
        help="one page to share, from your own record",
        epilog=EXAMPLES,
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )
    page.set_defaults(run=_page)
    _add_record(page)
    page.add_argument("--place", required=True, help="what you call the garden")
    page.add_argument("--lat", type=float, help="degrees north; else the record's own")
    page.add_argument("--lon", type=float, help="degrees east; else the record's own")
    page.add_argument("--elevation", type=float, help="of the garden, in metres")
    page.add_argument("--crop", required=True, help="a crop's name, or your own crop.toml")
    page.add_argument("--sow", metavar="MM-DD", help="sow in place on this day")
    page.add_argument("--raise", dest="raised", metavar="MM-DD", help="sow under cover on this day")
    page.add_argument("--weeks", type=int, help="under cover; else the crop's usual")
    page.add_argument("--cover", default="cold frame", help="where it is raised (%(default)s)")
    page.add_argument("--made", metavar="DATE", help="date at the foot of the page (today)")
    _add_output(page, Path("page.html"))

    look = commands.add_parser("look", help="what a record holds, lacks, and was set aside")
    look.set_defaults(run=_look)
    _add_record(look)

    crops = commands.add_parser("crops", help="list the catalogue, or show one crop's limits")
    crops.set_defaults(run=_crops)
    crops.add_argument("filter", nargs="?", default="", help="a crop, a family, or cool or warm")
    return parser


def _add_record(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("record", type=Path, help="daily weather: CSV, or NOAA's GHCN-Daily")
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


def _add_output(parser: argparse.ArgumentParser, default: Path) -> None:
    parser.add_argument("--need", type=int, metavar="DAYS", help="days the crop needs of a window")
    parser.add_argument(
        "--units", choices=("C", "F"), default="C", help="of the page (%(default)s)"
    )
    parser.add_argument("--out", type=Path, default=default, help="where to write (%(default)s)")
