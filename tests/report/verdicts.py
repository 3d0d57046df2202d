"""Verdicts for ten real records and five crops, to be read aloud.

``python tests/report/verdicts.py`` prints each verdict, the numbers behind it and the worst doubt,
for somebody who knows the place to read. The records are no part of the project: `RECORDS` lies
beside the repository, and nothing is printed where it is missing.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from pathlib import Path

import climwin as cw
from climwin.report import sentences_decision as words
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


def main() -> None:
    """Print them, for the places named or for all."""
    if not RECORDS.is_dir():
        print(f"There are no records in {RECORDS}.")
        return
    for report in reports(sys.argv[1:] or list(PLACES)):
        print(f"{report.garden.name}, {report.crop.name}: {words.verdict(report)}")
        print(f"    {words.numbers_behind(report)}")
        print(f"    {words.worst_doubt(report, None, 'C')}", flush=True)


if __name__ == "__main__":
    main()
