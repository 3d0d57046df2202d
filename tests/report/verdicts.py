"""The first screen for ten real records and five crops, to be read aloud.

``python tests/report/verdicts.py`` prints what the page says before anything is unfolded (the
verdict, its rows, doubts, jobs and the reason), for somebody who knows the place to read. The
records are no part of the project: `RECORDS` lies beside the repository, and nothing is printed
where it is missing.
"""

from __future__ import annotations

import datetime as dt
import sys
from collections.abc import Iterator
from pathlib import Path

import climwin as cw
from climwin.core.dialect import in_dialect
from climwin.core.schema import Units
from climwin.page.sections import Page
from climwin.report.garden import GardenReport

RECORDS = Path(__file__).resolve().parents[3] / "shared" / "data" / "records"
PLACES = {
    "Albany_NY": (42.75, -73.80),
    "Brussels_BE": (50.80, 4.36),
    "Clemson_SC": (34.68, -82.82),
    "Dublin_IE": (53.42, -6.24),
    "FortDodge_IA": (42.50, -94.20),
    "Gainesville_FL": (29.69, -82.28),
    "Merced_CA": (37.29, -120.51),
    "PrinceGeorge_BC": (53.89, -122.68),
    "SanDiego_CA": (32.73, -117.18),
    "Tunis_TN": (36.83, 10.23),
}
"""Latitude and longitude of each station, rounded (the heads of the files)."""
CROPS = ("potato", "tomato", "lettuce", "cauliflower", "garlic")


def reports(places: list[str], crops: tuple[str, ...] = CROPS) -> Iterator[GardenReport]:
    """A report for each place and crop, in the crop's usual ways."""
    for place in places:
        daily = cw.read_daily(RECORDS / f"{place}.csv")
        name, latitude, longitude = place.replace("_", ", "), *PLACES[place]
        for crop in crops:
            garden = cw.Garden(name, latitude, longitude)
            yield cw.garden_report(garden, daily, crop=cw.crop(crop))


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
    if not RECORDS.is_dir():
        print(f"There are no records in {RECORDS}.")
        return
    for report in reports(sys.argv[1:] or list(PLACES)):
        first, *others = first_screen(report, UNITS.get(report.garden.name.split()[-1], "F"))
        print(first, *(f"    {line}" for line in others), sep="\n", flush=True)


if __name__ == "__main__":
    main()
