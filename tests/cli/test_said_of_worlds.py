"""Whole commands on worlds in which a sentence is true, and on others in which it is not.

What each command prints is compared with the table that the library makes of the same world, or
with a count by hand, word by word.
"""

import datetime as dt
import functools
import io
import re
import warnings
from contextlib import redirect_stdout
from types import SimpleNamespace

import numpy as np
import pandas as pd
import pytest
import xarray as xr

import climwin as cw
from climwin.batch.stations import ANSWERED, FAILED
from climwin.cli import batch, diary, page, planning, season, stations
from climwin.cli.main import main
from climwin.cli.reading import RecordInClimate
from climwin.core.errors import DataGapError
from climwin.core.formatting import date
from climwin.crops.bands import bearable_band, comfortable_band
from climwin.io.exports import to_csv
from climwin.io.samples import sample
from climwin.planning.schedule import succession
from climwin.report.sentences import next_years
from climwin.shelter.covers import fit_cover
from climwin.shelter.risk import space_odds

MOVED_C = {"sample": 0.0, "colder": -6.0, "warmer": 6.0}
"""The invented place as it is, with every day so much colder, and so much warmer."""


@pytest.fixture(scope="module")
def said(tmp_path_factory):
    """What a command prints on a world; each is run once."""
    folder = tmp_path_factory.mktemp("worlds")

    @functools.cache
    def record(world):
        if world == "sample":
            return sample()
        daily = cw.read_daily(sample())
        if world == "old":
            daily = daily.sel(time=slice(None, "2008"))
        return to_csv(daily + MOVED_C.get(world, 0.0), folder / f"{world}.csv")

    @functools.cache
    def command(name, world, *arguments):
        printed = io.StringIO()
        with redirect_stdout(printed):
            assert main([name, str(record(world)), *arguments]) == 0
        return printed.getvalue()

    command.record, command.folder = record, folder
    return command


def whole_percent(share):
    return f"{100 * float(share):.0f}\N{NO-BREAK SPACE}%"


def plainly(text):
    """With plain spaces and minus signs."""
    blanks = {"\N{NO-BREAK SPACE}": " ", "\N{NARROW NO-BREAK SPACE}": " ", "\N{MINUS SIGN}": "-"}
    return text.translate(str.maketrans(blanks))


# --- a covered space ----------------------------------------------------------------------


@pytest.mark.parametrize("world", ["sample", "colder", "warmer"])
def test_the_days_too_cold_and_too_hot_in_a_space_are_those_of_its_odds(said, capsys, world):
    """The logger is that of the world's own frame: moved by as much as the days outdoors."""
    table = pd.read_csv(sample("frame_logger.csv"), comment="#")
    table.iloc[:, 1] += MOVED_C[world]
    logger = said.folder / f"frame-{world}.csv"
    table.to_csv(logger, index=False)
    record = said.record(world)
    given = ("--crop", "cauliflower", "--first", "03-05", "--last", "04-16")
    assert main(["space", str(logger), str(record), *given]) == 0
    out = plainly(capsys.readouterr().out)
    daily = cw.read_daily(record)
    cover = cw.fit_cover(cw.read_logger(logger), daily, name="frame")
    odds = space_odds(daily, cover, cw.crop("cauliflower"), "03-05", "04-16")
    for side in ("cold", "hot"):
        share, low, high = (float(odds[f"{side}_share{end}"]) for end in ("", "_low", "_high"))
        assert (
            f"  a day too {side} in {100 * share:.0f} % of {int(odds[f'{side}_known'])} years: "
            f"likely in {plainly(next_years(odds, f'{side}_'))} of the next ten "
            f"({100 * low:.0f} to {100 * high:.0f} % in the long run)\n"
        ) in out
    assert "\nFrom 5 Mar to 16 Apr, over the whole record:\n" in out
    is_cold, is_hot = (float(odds[f"{side}_share"]) > 0.5 for side in ("cold", "hot"))
    assert is_cold or world != "colder"
    assert is_hot or world != "warmer"


# --- a plan's dates -----------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["csv", "ics"])
def test_the_file_of_dates_bears_its_plan_and_where_it_could_mislead(said, ending):
    out = said.folder / f"dates.{ending}"
    start = ("--crop", "cauliflower", "--raise", "03-15", "--weeks", "6")
    printed = said("dates", "old", *start, "--year", "2027", "--out", str(out), "--force")
    plan = "cauliflower, sown in a cold frame 15 Mar"
    assert f"\n{plan}: a harvest in " in plainly(printed)
    text = plainly(out.read_text("utf-8").replace("\n ", "").replace("\\,", ","))
    if ending == "ics":
        assert re.search(rf"^(X-WR-CALNAME|NAME)\S*:{plan}", text, re.MULTILINE)
    assert "The record stops in 2008" in plainly(printed)
    assert "The record stops in 2008" in text


# --- sowings ------------------------------------------------------------------------------


def test_each_sowing_has_its_share_its_good_share_and_its_harvest(said):
    given = ("--crop", "radish", "--sow", "04-10", "--every", "21")
    lines = plainly(said("sowings", "sample", *given)).splitlines()
    head = lines.index(
        "Sowings, each with the share of years with a harvest, of those that had no part in "
        "choosing its date, and with a good one:"
    )
    plan = cw.Plan(cw.crop("radish"), "04-10")
    daily = cw.read_daily(sample())
    rows = succession(plan, daily, 21, least_odds=0.7)
    assert rows.sizes["sowing"] == len(lines) - head - 1 > 2
    for line, n in zip(lines[head + 1 :], rows["sowing"].values, strict=True):
        row = rows.sel(sowing=n)
        share, good = (whole_percent(row[f"{kind}_share"]) for kind in ("elsewhere", "good"))
        assert re.sub(" +", " ", line).strip() == plainly(
            f"{n} {date(float(row['start_day']))} {share} good {good} harvest begins "
            f"{date(float(row['harvest_first']))} to {date(float(row['harvest_last']))}"
        )
    first, second = (float(rows["start_day"].sel(sowing=n)) for n in rows["sowing"].values[:2])
    assert second > first


# --- weeks and spells ---------------------------------------------------------------------

WEEKS = [
    ("Cold", "day"), ("Typical",), ("Warm", "day"),
    ("Too", "cold"), ("Cool",), ("Comfortable",), ("Warm",), ("Too", "hot"),
]  # fmt: skip


def test_the_columns_of_the_weeks_stand_below_their_names(said):
    told = plainly(said("weeks", "sample", "--crop", "cauliflower"))
    [head] = [line for line in told.splitlines() if "Comfortable" in line and "is a" not in line]
    assert head.replace("\N{DEGREE SIGN}C", "").split() == [word for each in WEEKS for word in each]
    crop = cw.crop("cauliflower")
    comfortable, bearable = comfortable_band(crop), bearable_band(crop)
    assert (
        f"Comfortable is a week with a mean of {comfortable.low_c:.0f} to {comfortable.high_c:.0f} "
        f"\N{DEGREE SIGN}C; bearable, of {bearable.low_c:.0f} to {bearable.high_c:.0f} "
        "\N{DEGREE SIGN}C. A cold day is colder than nine in ten of its time of year, a warm day "
        "warmer than nine in ten. The other columns count years."
    ) in told


def test_colder_years_have_more_weeks_too_cold_and_warmer_ones_more_too_hot(said):
    count = {}
    for world in MOVED_C:
        told = plainly(said("weeks", world, "--crop", "cauliflower"))
        rows = [line.split()[-5:] for line in told.splitlines() if re.match(r"from +\d", line)]
        assert len(rows) == 52
        count[world] = np.array(rows, int).sum(axis=0)
    for column, coldest_first in ((0, 1), (4, -1)):
        order = [count[world][column] for world in ("colder", "sample", "warmer")][::coldest_first]
        assert order[0] > order[1] > order[2]


def test_a_spell_that_is_long_enough_is_said_to_be_no_harvest_yet(said):
    told = said("spells", "sample", "--crop", "cauliflower", "--need", "100")
    assert (
        "caution: A spell that is long enough is not yet a harvest: `climwin page` counts harvests."
    ) in told


# --- crops that suit ----------------------------------------------------------------------


def ranked(known):
    crops = ["pea", "leek", "kale"]
    columns = {
        "rank": [1, 2, 3],
        "crop": crops,
        "known": known,
        "elsewhere_harvested": [9.0, 8.0, 7.0],
        "elsewhere_known": [float(n) for n in known],
        "limit": ["too hot"] * 3,
        "weeks": [0, 0, 0],
        "cover": ["none"] * 3,
        "propagation": ["seed"] * 3,
        "first_day": [64.0] * 3,
        "last_day": [106.0] * 3,
        "earliness": ["main"] * 3,
        "good_share": [0.4] * 3,
        "growth": [0.7] * 3,
    }
    return xr.Dataset({name: ("plan", values) for name, values in columns.items()})


@pytest.mark.parametrize(
    ("known", "few_years", "left_out"),
    [
        ([12, 9, 10], False, "leek"),
        ([9, 12, 8], False, "pea, kale"),
        ([12, 10, 11], False, ""),
        ([12, 9, 8], True, ""),
    ],
)
def test_a_crop_known_in_few_years_is_left_out_by_name(
    monkeypatch, capsys, known, few_years, left_out
):
    monkeypatch.setattr("climwin.planning.suitability.rank_crops", lambda *_: ranked(known))
    record = RecordInClimate(xr.Dataset(), None, xr.Dataset())
    monkeypatch.setattr(planning, "read_in_climate", lambda _: record)
    monkeypatch.setattr(planning, "say_before_odds", lambda *_: [])
    options = SimpleNamespace(most=30, season=None, few_years=few_years)
    planning.suits(options)
    lines = capsys.readouterr().out.splitlines()
    told = [line for line in lines if line.startswith("left out")]
    assert told == [f"left out, known in fewer than ten years: {left_out}"] * bool(left_out)
    shown = [line.split()[0] for line in lines if line not in told]
    assert shown == [name for name in ("pea", "leek", "kale") if name not in left_out]


# --- many stations ------------------------------------------------------------------------


@pytest.mark.parametrize("lost", [0, 1, 5, 6, 9])
def test_the_stations_without_results_are_counted_and_five_are_named(
    monkeypatch, capsys, tmp_path, lost
):
    from climwin.batch.stations import TOO_FEW_YEARS
    from climwin.core.stats import FEW_YEARS

    names = [f"S{n}" for n in range(10)]
    status = [FAILED] * lost + [ANSWERED] * (10 - lost)
    reasons = [f"{TOO_FEW_YEARS}: {n} known" for n in range(lost)]
    reasons += [FEW_YEARS] * min(1, 10 - lost) + [""] * (9 - lost)
    results = xr.Dataset(
        {"status": ("station", status), "reason": ("station", reasons)}, {"station": names}
    )
    monkeypatch.setattr("climwin.batch.run.run_stations", lambda *_, **__: results)
    monkeypatch.setattr("climwin.batch.run.count_stations", lambda *_: 10)
    monkeypatch.setattr(batch, "_stations", lambda _: [])
    options = batch.BatchOptions(
        stations=tmp_path / "list.csv", crops=("pea",), few_years=False, climate="record",
        workers=1, cluster=None, batch_size=None, out=tmp_path / "out.nc",
    )  # fmt: skip
    batch.batch(options)
    first, few, *lines = capsys.readouterr().out.splitlines()
    assert first == f"results for {10 - lost} of 10 stations"
    assert few == (
        "caution: 1 of them from fewer than ten years: take their odds as a hint, no more"
    )
    named = [line for line in lines if re.match(r"  S\d: ", line)]
    assert named == [f"  S{n}: {TOO_FEW_YEARS}: {n} known" for n in range(min(lost, 5))]
    more = [line for line in lines if line.startswith("  and ")]
    assert more == [f"  and {lost - 5} more, see the table"] * (lost > 5)
    advice = "Add --few-years to have answers from fewer than ten years all the same."
    assert (advice in lines) is (lost > 0)
    assert lines[-2:] == [str(tmp_path / "out.nc"), str(tmp_path / "out.csv")]


# --- the season's files -------------------------------------------------------------------


def test_a_file_of_the_season_is_new_only_where_it_says_something_new(
    monkeypatch, capsys, tmp_path
):
    says = {"html": "first", "ics": b"first"}
    monkeypatch.setattr("climwin.page.season_page.season_page", lambda *_, **__: says["html"])
    monkeypatch.setattr(
        "climwin.report.season_calendar.season_calendar", lambda *_, **__: says["ics"]
    )
    files = (tmp_path / "a.html", tmp_path / "a.ics")
    options = SimpleNamespace(out=files, shown_units="C")

    def written():
        code = season._write(options, xr.Dataset(), xr.Dataset(), None, [])
        return code, capsys.readouterr().out.splitlines()

    html, ics = map(str, files)
    assert written() == (0, [html, ics])
    assert written() == (season.UNCHANGED, [f"{html} (nothing new)", f"{ics} (nothing new)"])
    says["ics"] = b"second"
    assert written() == (0, [f"{html} (nothing new)", ics])
    assert files[1].read_bytes() == b"second"
    options = SimpleNamespace(out=(), shown_units="C")
    assert written() == (0, [])


# --- a page -------------------------------------------------------------------------------


@pytest.mark.parametrize("label", ["", "what if it were 2 degC warmer"])
def test_a_page_is_told_with_what_to_do_first_and_the_case_that_it_supposes(
    monkeypatch, capsys, tmp_path, label
):
    def says(place, text):
        monkeypatch.setattr(place, lambda *_, **__: text)

    says("climwin.page.write.write_page", tmp_path / "page.html")
    told = ("First of all", "Then the logger", "Then its thermometer", "It is old")
    says("climwin.report.sentences_caveats.report_departures", ("First of all",))
    says("climwin.report.sentences_caveats.report_space_caveats", ("Then the logger",))
    says("climwin.report.sentences_caveats.caveats", told)
    says("climwin.core.provenance.scenario_of", label)
    says("climwin.core.provenance.scenario_in", label.replace("2 degC", "3.6 degF"))
    says("climwin.report.sentences_decision.verdict", "Sow in April")
    says("climwin.report.sentences_decision.numbers_behind", "It gave 8 of 9.")
    says("climwin.report.sentences_decision.how_sure", ["Rather sure."])
    says("climwin.report.sentences.finding", "The window is long")
    says("climwin.page.space.space_and_mends", ["The frame is good enough."])
    garden = SimpleNamespace(doubt="Then its thermometer")
    report = SimpleNamespace(daily=None, garden=garden)
    style = SimpleNamespace(shown_units="F", pdf=False)
    page._write(report, style, tmp_path / "page.html", made="2026-11-12")
    assert capsys.readouterr().out.splitlines() == [
        "caution: First of all",
        "caution: Then the logger",
        "caution: Then its thermometer",
        f"{'What if it were 3.6 degF warmer: ' if label else ''}Sow in April. It gave 8 of 9.",
        "The window is long.",
        "Rather sure.",
        "The frame is good enough.",
        "caution: It is old",
        str(tmp_path / "page.html"),
    ]


@pytest.mark.parametrize(("bed", "earliness"), [(None, None), ("black film", "early")])
def test_the_ways_of_a_page_have_the_bed_and_the_variety_that_were_given(
    monkeypatch, bed, earliness
):
    asked = {}
    monkeypatch.setattr(page, "read_own_logger", lambda *_: xr.Dataset())
    monkeypatch.setattr(page, "caution", lambda _: None)
    monkeypatch.setattr("climwin.report.garden.with_latitude", lambda *_: None)
    monkeypatch.setattr(
        "climwin.shelter.covers.fit_cover",
        lambda *_, name, longitude: asked.update(longitude=longitude) or SimpleNamespace(name=name),
    )
    monkeypatch.setattr(
        "climwin.planning.ways.sensible_plans", lambda *_, **given: asked.update(given) or []
    )
    options = SimpleNamespace(
        logger=sample("frame_logger.csv"), reading=None, logger_units=None,
        style=SimpleNamespace(shown_units="C"),
        start=SimpleNamespace(weeks_under_cover=6, earliness=earliness, bed=bed),
    )  # fmt: skip
    garden = cw.Garden("Our plot", 46.1, 7.4, 420)
    assert page._ways(cw.crop("pea"), [], None, garden, options) == []
    assert asked["longitude"] == 7.4  # the logger's clock is judged by the sun of the garden
    assert asked["bed"] == (bed or "bare")
    assert asked["earliness"] == (earliness or "main")
    assert asked["weeks"] == 6


def test_a_way_that_was_given_a_date_is_tried_once(monkeypatch):
    pea = cw.crop("pea")
    sown, raised = cw.Plan(pea, "05-01"), cw.Plan(pea, "03-01", 4, "cold frame")
    monkeypatch.setattr(page, "read_own_logger", lambda *_: xr.Dataset())
    monkeypatch.setattr("climwin.report.garden.with_latitude", lambda *_: None)
    monkeypatch.setattr(
        "climwin.shelter.covers.fit_cover", lambda *_, name, **__: SimpleNamespace(name=name)
    )
    monkeypatch.setattr("climwin.planning.ways.sensible_plans", lambda *_, **__: [sown, raised])
    options = SimpleNamespace(
        logger=sample("frame_logger.csv"), reading=None, logger_units=None,
        style=SimpleNamespace(shown_units="C"),
        start=SimpleNamespace(weeks_under_cover=None, earliness=None, bed=None),
    )  # fmt: skip
    garden = cw.Garden("Our plot", 46.1, 7.4, 420)
    own = cw.Plan(pea, "04-10")
    assert page._ways(pea, [own], None, garden, options) == [raised, own]
    fleeced = cw.Plan(pea, "04-10", fleece_weeks=3)
    assert page._ways(pea, [fleeced], None, garden, options) == [sown, raised, fleeced]


def test_the_offsets_of_a_thermometer_are_those_of_the_garden_against_the_station(said, capsys):
    """The garden is 1.5 degC warmer than the record, by night and by day."""
    record = said.record("sample")
    days = cw.read_daily(record).sel(time=slice("2015-04-01", "2015-06-30")).to_dataframe()
    lines = ["time,temperature"]
    for day, row in days[["tmin", "tmax"]].dropna().iterrows():
        middle, half = (row["tmin"] + row["tmax"]) / 2, (row["tmax"] - row["tmin"]) / 2
        lines += [
            f"{day:%Y-%m-%d} {hour:02}:00,"
            f"{middle - half * np.cos(2 * np.pi * (hour - 3) / 24) + 1.5:.2f}"
            for hour in range(24)
        ]
    logger = said.folder / "garden.csv"
    logger.write_text("\n".join(lines) + "\n")
    garden = cw.Garden("Our plot", 46.1, 7.4)
    page._measured_offsets(cw.read_daily(record), garden, logger, "C", shown="C")
    told = plainly(capsys.readouterr().out)
    assert (
        "The garden less the station, by month, with its standard error and the days behind it:\n"
    ) in told
    april = next(line for line in told.splitlines() if re.search(r"\bApr", line))
    by_night = float(re.search(r"-?\d+\.\d", april)[0])
    assert by_night == pytest.approx(1.5, abs=0.3)


@pytest.mark.parametrize(("name", "advised"), [("a.pdf", True), ("a.png", False)])
def test_a_page_that_was_to_be_a_pdf_is_told_of_the_option(name, advised):
    style = SimpleNamespace(pdf=False)
    with pytest.raises(ValueError, match=r"ends in \.html") as error:
        page.page_files(page.Path(name), style)
    advice = " Add --pdf to print the page to a PDF as well."
    assert str(error.value).endswith(advice) is advised


# --- the store ----------------------------------------------------------------------------


@pytest.mark.parametrize("stored", [[], ["A1"]])
def test_an_empty_store_is_said_to_be_empty(monkeypatch, capsys, stored):
    table = pd.DataFrame({"years": [3] * len(stored)}, index=stored)
    monkeypatch.setattr("climwin.stations.cache.listing", lambda: table)
    monkeypatch.setattr("climwin.stations.cache.folder", lambda: "the folder")
    stations.store_list(stations.StoreListOptions())
    out = capsys.readouterr().out
    assert (out == "No station is stored yet in the folder.\n") is not bool(stored)
    assert ("A1" in out) is bool(stored)


def test_years_that_are_not_whole_are_fetched_again_with_a_command(monkeypatch, capsys):
    row = {
        "station_id": "A1", "name": "Oxhey", "year": 1994, "status": "short",
        "fault": "lacks its maximum", "retrieved": dt.datetime(2026, 11, 3), "sources": "X",
    }  # fmt: skip
    monkeypatch.setattr("climwin.stations.history.check_store", lambda: pd.DataFrame([row]))
    stations.store_check(stations.StoreCheckOptions())
    assert capsys.readouterr().out.splitlines()[-1] == (
        "Fetch them again with `climwin store refresh ID`, or name the years after the ID."
    )


# --- where it is said to lie, and what is said of it --------------------------------------


@pytest.mark.parametrize(
    ("height", "of_station", "told"),
    [(None, 412.0, True), (260.0, 412.0, False), (None, None, False)],
)
def test_a_garden_without_a_height_is_said_to_lie_as_high_as_its_station(
    monkeypatch, height, of_station, told
):
    garden = cw.Garden("Ours", 46.0, 7.0, height)
    attrs = {"history": "read"} | ({} if of_station is None else {"elevation": of_station})
    monkeypatch.setattr(page, "garden_at", lambda _: garden)
    monkeypatch.setattr(page, "fetched", lambda *_: xr.Dataset(attrs=attrs))
    options = SimpleNamespace(
        place=None, station=None, period=None, style=SimpleNamespace(shown_units="C")
    )
    said = "the garden's height is not given: that of the station is taken, 412 m"
    with warnings.catch_warnings(record=True) as caught:
        warnings.simplefilter("always")
        daily, there = page._history(options)
    texts = [plainly(str(each.message)) for each in caught]
    assert texts == [f"{said}. Give it with --elevation."] * told
    assert plainly(daily.attrs["history"]) == (f"read\n{said}" if told else "read")
    assert there.elevation == (of_station if told else height)


def test_two_neighbours_of_one_name_are_told_apart_by_a_number(monkeypatch):
    compared = {}
    monkeypatch.setattr(
        "climwin.climate.homogeneity.pairwise_breaks",
        lambda _, named: compared.update(named) or "breaks",
    )
    monkeypatch.setattr("climwin.climate.homogeneity.adjust_breaks", lambda daily, *_, **__: daily)
    monkeypatch.setattr("climwin.climate.joining.name_of", lambda one: one.attrs["title"])
    stations_near = [xr.Dataset(attrs={"title": name}) for name in ("Ash", "Oxhey", "Ash")]
    page._compared(xr.Dataset(), stations_near)
    assert list(compared) == ["Ash", "Oxhey", "Ash 3"]
    compared.clear()
    page._compared(xr.Dataset(), stations_near[:1])
    assert not compared  # one does not show whose a change is


@pytest.mark.parametrize("is_named", [True, False])
def test_the_page_of_a_season_bears_its_garden_and_its_unit(monkeypatch, tmp_path, is_named):
    asked = {}
    monkeypatch.setattr(
        "climwin.page.season_page.season_page", lambda *_, **given: asked.update(given) or "page"
    )
    options = SimpleNamespace(out=(tmp_path / "a.html",), shown_units="F")
    garden = cw.Garden("Ours", 46.0, 7.0) if is_named else None
    assert season._write(options, xr.Dataset(), xr.Dataset(), garden, ["It is old."]) == 0
    assert asked["place"] == (garden.full_name if is_named else "")
    assert asked["units"] == "F"
    assert asked["notes"] == ["It is old."]


def test_each_fact_of_a_history_is_told_with_its_name(monkeypatch, capsys):
    attrs = {"title": "Oxhey, 1990 to 2020", "history": "read\njoined", "licence": "CC BY 4.0"}
    monkeypatch.setattr(stations, "fetched", lambda *_: xr.Dataset(attrs=attrs))
    monkeypatch.setattr(stations, "garden_at", lambda _: None)
    monkeypatch.setattr(stations, "_garden", lambda *_: None)
    monkeypatch.setattr("climwin.io.quality.coverage", lambda _: None)
    monkeypatch.setattr("climwin.io.quality.describe", lambda _: ["tmin: 3 days missing"])
    monkeypatch.setattr(stations, "say_neighbours", lambda *_, **__: None)
    monkeypatch.setattr(
        stations, "say_caveats", lambda _, __, facts, *, units: print(*facts, units, sep="\n")
    )
    options = SimpleNamespace(
        station="A1", place=None, period=None, shown_units="F", neighbours=(), join=False
    )
    stations.fetch(options)
    assert capsys.readouterr().out.splitlines() == [
        "Oxhey, 1990 to 2020", "read", "joined", "licence: CC BY 4.0", "tmin: 3 days missing", "F",
    ]  # fmt: skip


# --- dates, by the years ahead ------------------------------------------------------------


@pytest.mark.parametrize(("ahead", "told"), [(-1, True), (0, False), (5, False), (6, True)])
def test_dates_of_a_year_gone_by_or_far_ahead_are_said_to_be_of_that_year(said, ahead, told):
    year = dt.date.today().year + ahead
    out = said.folder / f"of-{ahead}.csv"
    start = ("--crop", "pea", "--sow", "04-10")
    printed = said("dates", "sample", *start, "--year", str(year), "--out", str(out))
    doubt = f"These are dates of {year}. Odds are for the years to come; --year says which."
    assert (f"caution: {doubt}\n" in printed) is told
    assert re.search(rf"^ *10.Apr {year}  sow outdoors$", printed, re.MULTILINE)
    assert re.search(rf"^ *\d+.\w+ {year}  it comes up  \(", printed, re.MULTILINE)


def test_the_file_of_a_calendar_bears_where_it_could_mislead(said):
    out = said.folder / "calendar.csv"
    printed = said("calendar", "old", "--crop", "pea", "--out", str(out), "--force")
    assert "The record stops in 2008" in plainly(printed)
    assert "The record stops in 2008" in plainly(out.read_text("utf-8"))


def test_the_name_of_a_command_is_no_reason_to_speak_american(said):
    assert "frosts now end earlier" in plainly(said("freezes", "old"))
    assert "freezes now end earlier" in plainly(said("freezes", "old", "--units", "F"))


def test_a_record_without_a_latitude_is_judged_by_its_garden(said):
    placed = ("--lat", "-46.1", "--lon", "7.2")
    doubt = "Check the record first: The year is warmest about"
    bare = said.folder / "bare.csv"
    rows = said.record("sample").read_text("utf-8").splitlines()
    bare.write_text("\n".join(row for row in rows if not row.startswith("#")), "utf-8")
    for south, place in ((True, placed), (False, ("--lat", "46.1", "--lon", "7.2"))):
        printed = io.StringIO()
        with redirect_stdout(printed):
            assert main(["freezes", str(bare), *place]) == 0
        assert (doubt in plainly(printed.getvalue())) is south


def test_a_mild_spell_is_a_run_of_days_that_the_crop_bears(said):
    band = bearable_band(cw.crop("cauliflower"))
    assert (
        f"A mild spell is a run of days with a mean of {band.low_c:.0f} to {band.high_c:.0f} "
        "\N{DEGREE SIGN}C"
    ) in plainly(said("spells", "sample", "--crop", "cauliflower", "--need", "100"))


@pytest.mark.parametrize("command", ["space", "diary"])
@pytest.mark.parametrize("is_placed", [True, False])
def test_a_logger_is_judged_by_where_its_garden_lies(
    monkeypatch, capsys, tmp_path, is_placed, command
):
    asked = {}
    fitted = fit_cover
    monkeypatch.setattr(
        "climwin.shelter.covers.fit_cover",
        lambda *files, name, longitude: (
            asked.update(longitude=longitude) or fitted(*files, name=name, longitude=longitude)
        ),
    )
    where = ("--lat", "46.1", "--lon", "7.4", "--elevation", "420") if is_placed else ()
    logger, record = str(sample("frame_logger.csv")), str(sample())
    sowings = tmp_path / "sowings.csv"
    sowings.write_text(
        "crop,way,sown,set_out,harvested,failed\npea,frame,2018-03-03,2018-04-14,2018-06-20,\n"
    )
    asking = {
        "space": ("space", logger, record, "--crop", "cauliflower"),
        "diary": ("diary", str(sowings), record, "--logger", logger),
    }
    assert main([*asking[command], *where]) == 0
    assert asked["longitude"] == (7.4 if is_placed else None)
    out = capsys.readouterr().out
    if command == "diary":
        return
    first = cw.crop("cauliflower").stages[0].name
    assert f"\ncauliflower, {first}\n" in out


@pytest.mark.parametrize("fits", [True, False])
def test_fitted_days_are_to_be_given_to_the_commands_that_take_them(monkeypatch, capsys, fits):
    def fitted(*_):
        if not fits:
            msg = "No harvest to fit."
            raise DataGapError(msg)
        return "the fit"

    scored = xr.Dataset({"years_known": ("sowing", [30])}, {"sowing": [1]})
    for place, given in (
        ("climwin.trials.earliness.fit_earliness", fitted),
        ("climwin.trials.scoring.describe_earliness", lambda _: ["pea: 61 days"]),
        ("climwin.trials.scoring.describe_sowings", lambda _: ["of 1 sowing"]),
        ("climwin.trials.scoring.score_sowings", lambda *_: scored),
        ("climwin.trials.sowings.read_sowings", lambda _: None),
    ):
        monkeypatch.setattr(place, given)
    for name in ("read_record", "garden_if_given", "located"):
        monkeypatch.setattr(diary, name, lambda *_, **__: xr.Dataset())
    monkeypatch.setattr(diary, "say_caveats_of_odds", lambda *_, **__: [])
    monkeypatch.setattr(diary, "_line", lambda _: "the sowing")
    options = SimpleNamespace(
        sowings=None, record=None, reading=None, place=None, logger=None, logger_units=None,
        few_years=False, climate="record", shown_units="C", out=None,
    )  # fmt: skip
    diary.diary(options)
    advice = (
        "Plan with these days: give them to `climwin page` or `climwin dates` with --earliness."
    )
    end = ["pea: 61 days", advice] if fits else ["No harvest to fit."]
    assert capsys.readouterr().out.splitlines() == ["the sowing", "of 1 sowing", *end]


@pytest.mark.parametrize(
    ("bought", "weeks", "cover"),
    [
        (True, 0, None),
        (False, 0, None),
        (False, 6, None),
        (False, 6, "unheated greenhouse"),
    ],
)
def test_the_plan_of_a_season_is_the_one_that_was_given(bought, weeks, cover):
    crop = cw.crop("cauliflower")
    options = SimpleNamespace(
        sown="04-10", weeks_under_cover=weeks, cover=cover, fleece_weeks=2, bought=bought,
        earliness="early", bed="mulched",
    )  # fmt: skip
    plan = season._plan(crop, options)
    assert plan.plants == ("bought" if bought else "own")
    assert plan.weeks_under_cover == weeks
    assert plan.cover == ((cover or "cold frame") if weeks else "none")
    assert (plan.start, plan.fleece_weeks) == ("04-10", 2)
    assert (plan.earliness, plan.bed) == ("early", "mulched")


@pytest.mark.parametrize("warmer", [10.5, -12.0])
def test_more_warming_than_any_past_change_is_refused_with_what_was_given(warmer):
    options = SimpleNamespace(
        at_garden=False, thermometer=None, logger=None, logger_units=None, warmer=warmer
    )
    said = (
        f"--warmer takes up to 10 degC (18 degF) either way, more than any past change of climate; "
        f"got {warmer:g} degC."
    )
    with pytest.raises(ValueError, match=re.escape(said)):
        page._refuse_without_effect(options)
