"""The first screen for ten real records and five crops, to be read aloud.

``python tests/report/verdicts.py`` prints what the page says before anything is unfolded (the
verdict, its rows, doubts, jobs and the reason), for somebody who knows the place to read. The
records are no part of the project: their folder lies beside the repository, and nothing is printed
where it is missing.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Iterator, Sequence
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))

from agreement import records

import climwin as cw
from climwin.core.dialect import in_dialect
from climwin.core.schema import Units
from climwin.page.sections import Page
from climwin.report.garden import GardenReport

PLACES = (
    "Albany_NY",
    "Brussels_BE",
    "Clemson_SC",
    "Dublin_IE",
    "FortDodge_IA",
    "Gainesville_FL",
    "Merced_CA",
    "PrinceGeorge_BC",
    "SanDiego_CA",
    "Tunis_TN",
)
CROPS = ("potato", "tomato", "lettuce", "cauliflower", "garlic")


def reports(places: Sequence[str], crops: tuple[str, ...] = CROPS) -> Iterator[GardenReport]:
    """A report for each place and crop, in the crop's usual ways."""
    for place in places:
        daily = cw.read_daily(records.RECORDS / f"{place}.csv")
        garden = garden_at(place)
        for crop in crops:
            yield cw.garden_report(garden, daily, crop=cw.crop(crop))


def garden_at(place: str) -> cw.Garden:
    """A garden where a record was made, whose height is not told."""
    latitude, longitude, _ = records.PLACES[place]
    return cw.Garden(place.replace("_", ", "), latitude, longitude)


UNITS: dict[str, Units] = {"BC": "C", "BE": "C", "IE": "C", "TN": "C"}
"""Units by the end of a place's name; the others are American, in degrees Fahrenheit."""


def first_screen(report: GardenReport, units: Units) -> list[str]:
    """What the page says before anything is unfolded, line by line, in the reader's English."""
    page = Page(report, units, dt.date.today())
    shown, why, sure = (page.content(name) for name in ("decision", "reason", "sure"))
    head = " | ".join(["", *shown["heads"], "Years", "Likely"])
    rows = [
        " | ".join(
            [
                row["name"],
                *(" ".join(filter(None, date)) for date in row["dates"]),
                row["count"],
                row["likely"],
            ]
        )
        for row in shown["rows"]
    ]
    jobs = [" | ".join(job) for job in page.content("sheet")["jobs"]]
    lines = [
        f"{shown['place']}, {shown['crop']}, {shown['years']}: {shown['verdict']}",
        *shown["check"],
        shown["numbers"],
        head,
        *rows,
        f"Before you trust this: {shown['doubt']}",
        *(["Add to calendar:"] if shown["file"] else []),
        *jobs,
        f"{why['heading']}. {' '.join(why['texts'])}",
        *why["winter"],
        why["finding"],
        *sure["how_sure"],
        sure["limits"],
        *sure["doubts"],
    ]
    return in_dialect([line for line in lines if line], units)


def main() -> None:
    """Print them, for the places named or for all."""
    if not records.RECORDS.is_dir():
        print(f"There are no records in {records.RECORDS}.")
        return
    for report in reports(sys.argv[1:] or PLACES):
        first, *others = first_screen(report, UNITS.get(report.garden.name.split()[-1], "F"))
        print(first, *(f"    {line}" for line in others), sep="\n", flush=True)


if __name__ == "__main__":
    main()
