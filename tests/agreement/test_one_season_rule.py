"""One garden, a club, many stations and the panels count the same seasons on the same record."""

import json
import shutil
import subprocess

import numpy as np
import numpy.testing as npt
import pytest
from house import PACKAGE
from records import weather

from climwin.batch.results import station_results
from climwin.batch.stations import _whole_years
from climwin.climate.freeze import freeze_dates, freeze_odds
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.schema import Garden
from climwin.crops.bands import bearable_band
from climwin.crops.catalogue import crop
from climwin.io.exports import to_csv
from climwin.page.club import ClubPage
from climwin.page.club_file import club_reports, read_club
from climwin.report.garden import garden_report
from climwin.widgets.payload import record_numbers

JS = PACKAGE / "widgets" / "js"
NODE = shutil.which("node")
PEA = crop("pea")
NEED = 50
CLUB = """
name = "Club"
crop = "pea"
need_days = 50
"""
MEMBER = """
[[gardens]]
name = "{name}"
record = "record.csv"
latitude = {latitude}
longitude = 7
"""


def truncated(n):
    """One of twenty records that begin and end on any day of the year, north and south."""
    rng = np.random.default_rng(500 + n)
    south = n % 4 == 3
    record = weather(n, years=14, gaps=0.005 * (n % 3), coldest=202 if south else 20)
    days = record.sizes["time"]
    part = record.isel(time=slice(rng.integers(0, 730), days - rng.integers(1, 730)))
    return part.assign_attrs(latitude=-44.0 if south else 46.0)


@pytest.fixture(params=range(20))
def record(request):
    return truncated(request.param)


def test_page_club_batch_and_panel_give_equal_numbers(record, tmp_path):
    latitude = record.attrs["latitude"]
    report = garden_report(
        Garden("Pellbrook", latitude, 7.0), record, crop=PEA, need_days=NEED, few_years=True
    )
    freezes = report.freeze_odds.sel(threshold=0.0)

    # many stations: the record alone in a batch, on the calendar years that it touches
    station = _whole_years(record).expand_dims(station=["A"])
    station = station.assign_coords(latitude=("station", [latitude]))
    many = freeze_odds(station, [0.0], method="smoothed").isel(station=0, threshold=0)
    for name in ("last_spring", "first_autumn", "freeze_free_days"):
        npt.assert_array_equal(many[name], freezes[name])
        for count in (f"{name}_known", f"{name}_count"):
            if count in many:
                npt.assert_array_equal(many[count], freezes[count])
    windows = usable_windows(station, bearable_band(PEA), killed_at=PEA.killed_at_c)
    shorter = odds_shorter(windows, NEED).sel(part=report.part).isel(station=0)
    npt.assert_array_equal(
        windows["length"].sel(part=report.part).isel(station=0), report.window["length"]
    )
    for name in ("shorter", "known"):
        assert int(shorter[name]) == int(report.shorter[name]), name

    # a club of the same garden twice
    to_csv(record, tmp_path / "record.csv")
    members = [MEMBER.format(name=name, latitude=latitude) for name in ("One", "Two")]
    (tmp_path / "club.toml").write_text(CLUB + "".join(members), "utf-8")
    reports = club_reports(read_club(tmp_path / "club.toml"), tmp_path, few_years=True)
    for row in ClubPage("Club", reports, "C", None).rows:
        # the file has tenths of degrees, and so has the record that it is compared with
        assert row.length.sizes == report.window["length"].sizes
        assert (int(row.shorter["shorter"]), int(row.shorter["known"])) == (
            int(row.report.shorter["shorter"]),
            int(row.report.shorter["known"]),
        )
        assert row.median_length == row.report.median_length

        npt.assert_array_equal(row.report.window["length"], report.window["length"])
        for name in ("last_spring", "first_autumn", "freeze_free_days"):
            npt.assert_array_equal(row.report.freeze_odds.sel(threshold=0.0)[name], freezes[name])


IN_THE_PANEL = """
import {{ freezeDates }} from "{src}/freezes.js";
import {{ unpackRecord }} from "{src}/unpack.js";
import {{ usableWindows }} from "{src}/windows.js";
let text = "";
for await (const part of process.stdin) text += part;
const {{ numbers, limits }} = JSON.parse(text);
const answers = numbers.map((each) => {{
  const record = unpackRecord(each);
  return {{ freezes: freezeDates(record, 0), windows: usableWindows(record, limits).rows }};
}});
console.log(JSON.stringify(answers, (_, value) => (Number.isNaN(value) ? "none" : value)));
"""


@pytest.mark.skipif(NODE is None, reason="the panel's own rules run in Node.js")
def test_the_panel_has_the_numbers_of_the_page_on_all_twenty_records(tmp_path):
    band = bearable_band(PEA)
    limits = {"low": band.low_c, "high": band.high_c, "killed": PEA.killed_at_c}
    records = [truncated(n) for n in range(20)]
    given = {"numbers": [record_numbers(each, "Pellbrook") for each in records], "limits": limits}
    script = tmp_path / "panel.mjs"
    script.write_text(IN_THE_PANEL.format(src=(JS / "src").as_uri()), "utf-8")
    done = subprocess.run(
        [NODE, script], input=json.dumps(given), capture_output=True, text=True, check=True
    )
    for record, found in zip(records, json.loads(done.stdout), strict=True):
        dates, windows = (
            freeze_dates(record),
            usable_windows(record, band, killed_at=limits["killed"]),
        )
        assert [each["year"] for each in found["freezes"]] == dates["season"].values.tolist()
        for half, event in (("spring", "last_spring"), ("autumn", "first_autumn")):
            status, day = dates[f"{event}_status"].values, dates[f"{event}_day"].values
            expected = [
                {"unknown": None, "none": "none"}.get(how, on)
                for how, on in zip(status.ravel(), day.ravel(), strict=True)
            ]
            assert [each[half] for each in found["freezes"]] == expected
        longest = windows.sel(part="longest")
        lengths = [each["longest"].get("length") for each in found["windows"]]
        assert lengths == [None if np.isnan(n) else n for n in longest["length"].values]


@pytest.mark.parametrize("end", ["2013-05-31", "2013-06-15", "2013-07-01"])
def test_a_spring_that_was_seen_counts_where_the_record_ends_before_the_middle_of_the_year(end):
    # A place whose last freezes are long past by the end of May.
    whole = weather(3, years=15, mean=11.0, swing=11.0)
    cut = whole.sel(time=slice(None, end))
    both = [freeze_dates(each).sel(season=2013) for each in (whole, cut)]
    assert str(both[1]["last_spring_status"].values) == "observed"
    assert both[0]["last_spring"].values == both[1]["last_spring"].values
    assert str(both[1]["first_autumn_status"].values) == "unknown"


def test_a_batch_has_the_numbers_of_the_page():
    # the whole answer of a batch, sweeps of dates and all, of one truncated record
    record = truncated(1)
    station = _whole_years(record).expand_dims(station=["A"])
    station = station.assign_coords(latitude=("station", [46.0]))
    found = station_results(station, [PEA]).isel(station=0)
    report = garden_report(Garden("Pellbrook", 46.0, 7.0), record, crop=PEA, few_years=True)
    npt.assert_array_equal(
        found["window_length"].sel(crop="pea", part=report.part), report.window["length"]
    )
    for name in ("last_spring", "first_autumn", "freeze_free_days", "last_spring_known"):
        npt.assert_array_equal(
            found[name].sel(threshold=0.0), report.freeze_odds[name].sel(threshold=0.0)
        )
    assert float(found["need_days"].sel(crop="pea")) == report.need_days
    for mine, theirs in (("shorter", "shorter_years"), ("known", "shorter_known")):
        assert int(report.shorter[mine]) == int(found[theirs].sel(crop="pea", part=report.part))
