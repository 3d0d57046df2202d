"""Where a number could mislead: every hazard is seen in words wherever a headline number is.

A table in tests/HARD_USE.md names each hazard with what is said; this file makes a record for each.
The headline numbers all stand on the page (window, freezes, plans, dates, comparison, bands), and
the page says the doubts once, in *How sure is this?*; commands that give a number say them before.
"""

import datetime as dt
import html
import re
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
import records
import xarray as xr
from reading import carried

import climwin as cw
from climwin.cli.main import COMMANDS as ALL_COMMANDS
from climwin.cli.main import main
from climwin.cli.options import typed_names
from climwin.climate.trends import CLEAR_P
from climwin.core.measures import metres_of
from climwin.io.exports import to_csv
from climwin.page.club import ClubPage
from climwin.page.sections import Page, freezes, suiting, yearly
from climwin.report import caveats as caveats_of_record
from climwin.report import sentences, sentences_climate
from climwin.report.garden import GardenReport
from climwin.report.sentences_caveats import (
    beside,
    caveats,
    read_in,
    record_caveats,
    which_climate,
)

TODAY = dt.date(2023, 3, 1)
HERE = cw.Garden("here", 50.0, 5.0, 300.0)
STATION = {"latitude": 50.0, "longitude": 5.0, "elevation": 300.0}


def clean():
    """Twenty-four years to 2022, at the garden, whole and steady."""
    return records.weather(8, years=24).assign_attrs(STATION)


def of_one_climate():
    """The same, said to be of today's climate: there is no other to tell of."""
    return clean().assign_attrs(climate="today")


def added(record, degrees):
    """The record with `degrees` added to all temperatures."""
    out = record.copy()
    for name in ("tmin", "tmax", "tmean"):
        out[name] = (record[name] + degrees).assign_attrs(record[name].attrs)
    return out


def moved_away(record):
    """A station moved downhill in 2012."""
    return added(record, 2.5 * (record["time"].dt.year >= 2012))


def warmed_up(record):
    """A degree in ten years."""
    return added(record, 0.1 * (record["time"].dt.year - 1999))


def holed(record):
    """Two springs of five with most days of April and May gone."""
    time = record["time"].dt
    gone = time.month.isin([4, 5]) & (time.year % 5 < 2) & (time.day > 6)
    return record.where(~gone)


HAZARDS = {
    "old": (
        lambda record: record.sel(time=slice("2010")),
        HERE,
        "The record stops in 2010, 13 years ago.",
    ),
    "moved": (moved_away, HERE, "The record changes all at once: nights from 2012 on are 2"),
    "warming": (warmed_up, HERE, "It has grown warmer here, by 0.9 °C every ten years."),
    "holes": (holed, HERE, "Days are missing mostly in April and May: 3"),
    "height": (
        lambda record: record,
        cw.Garden("up", 50.0, 5.0, 520.0),
        "Your garden is 220 m above the station, so expect it to be about 1.4 °C colder, by the "
        "usual 6.5 °C in 1000 m.",
    ),
    "distance": (
        lambda record: record,
        cw.Garden("off", 51.0, 5.0, 300.0),
        "The station is 111 km from your garden",  # a degree of latitude: 111 km
    ),
}
OF_RECORD = ("old", "moved", "warming", "holes")


def report_of(record, garden=HERE, **given):
    crop = cw.crop("pea")
    plans = [cw.Plan(crop, "03-20"), cw.Plan(crop, "04-10")]
    return cw.garden_report(garden, record, plans=plans, **given)


def doubts(report):
    """What a report says could mislead, but for which climate its odds are of."""
    of_climate = which_climate(report)
    return tuple(text for text in caveats(report, TODAY) if text != of_climate)


def plain(shown):
    """A part of a page as it reads, numbers not glued to their units."""
    return html.unescape(shown.html).replace("\N{NO-BREAK SPACE}", " ")


def test_a_sound_record_has_no_doubts():
    assert doubts(report_of(clean())) == ()
    assert record_caveats(clean(), TODAY) == ()
    assert "mislead" not in Page(report_of(clean()), "C", TODAY).section("sure").html


def test_a_great_height_comes_before_warming_and_a_small_one_after():
    warm = warmed_up(clean())  # measured at 300 m
    gardens = [cw.Garden("up", 50.0, 5.0, height) for height in (590.0, 610.0, 0.0)]
    told = [doubts(report_of(warm, garden))[0] for garden in gardens]
    assert [text.split(",")[0] for text in told] == [
        "It has grown warmer here",
        "Your garden is 310 m above the station",
        "Your garden is 300 m below the station",
    ]


def test_a_great_distance_comes_before_warming_and_a_small_one_after():
    warm = warmed_up(clean()).assign_attrs(latitude=50.0, longitude=5.0)
    # A degree of latitude is 111.2 km.
    gardens = [cw.Garden("north", 50.0 + km / 111.2, 5.0, 300.0) for km in (140.0, 160.0)]
    told = [doubts(report_of(warm, garden)) for garden in gardens]
    assert [text[0].split(",")[0] for text in told] == [
        "It has grown warmer here",
        "The station is 160 km from your garden",
    ]
    assert [sum("km from your garden" in text for text in each) for each in told] == [1, 1]


@pytest.mark.parametrize(("garden_m", "asks"), [(-300.0, True), (-150.0, False)])
def test_a_height_whose_minus_sign_is_too_many_is_asked_about(garden_m, asks):
    garden = cw.Garden("down", 50.0, 5.0, garden_m)
    (told,) = record_caveats(clean(), TODAY, garden=garden)
    assert (f"It is {garden_m:g} m, below the sea: has it a minus sign too many?" in told) is asks


@pytest.mark.parametrize(
    ("garden_m", "asks"),
    [
        (984.0, True),  # the station's 300 m are 984 feet
        (1250.0, True),  # 381 m
        (610.0, False),  # 186 m as feet, farther below
        (1000 * 0.3048 + 400, False),  # no whole number was typed
    ],
)
def test_a_height_that_would_be_the_stations_in_feet_is_asked_about(garden_m, asks):
    garden = cw.Garden("up", 50.0, 5.0, garden_m)
    (told,) = record_caveats(clean(), TODAY, garden=garden)
    typed = f"{garden_m:g}"
    assert (f"If {typed} was meant in feet, write {typed}ft." in told) is asks
    if asks:
        assert abs(metres_of(f"{typed}ft") - 300) <= 100


@pytest.mark.parametrize("name", HAZARDS)
def test_each_hazard_is_seen_alone_on_the_page_and_the_clubs(name):
    change, garden, said = HAZARDS[name]
    report = report_of(change(clean()), garden)
    told = doubts(report)
    assert any(text.startswith(said) for text in told)
    if name == "moved":  # what the step makes of the warming is a doubt of its own
        told = [text for text in told if "sudden change" not in text]
    assert len(told) == 1
    assert said in plain(Page(report, "C", TODAY).section("sure"))
    club = ClubPage("club", (report, report), "C", TODAY)
    assert said in plain(club.section("sources"))


def test_tables_kept_from_a_page_carry_the_doubts():
    change, garden, said = HAZARDS["height"]
    report = report_of(change(of_one_climate()), garden)
    page, club = Page(report, "C", TODAY), ClubPage("club", (report, report), "C", TODAY)
    kept = [freezes(page)["file"], yearly(page)["file"], suiting(page)["file"]]
    texts = [carried(each.address)[1] for each in kept]
    assert all(f"# comment: {said[:60]}" in text for text in texts)
    of_club = re.search(r'href="(data:[^"]+)', club.section("side").html)
    assert f"{garden.name}: {said[:60]}" in carried(of_club[1])[1]


@pytest.mark.parametrize("name", OF_RECORD)
def test_what_is_amiss_with_a_record_is_told_whatever_is_asked_of_it(name):
    change, _, said = HAZARDS[name]
    assert any(text.startswith(said) for text in record_caveats(change(clean()), TODAY))


def test_holes_bound_the_odds_of_too_short_a_window():
    report = report_of(holed(clean()))
    gap = report.window.where(report.window["status"] == "unknown", drop=True)
    report = report_of(holed(clean()), need_days=int(gap["length_least"].min()) + 1)
    found = report.shorter
    short, known, unknown = (int(found[name]) for name in ("shorter", "known", "unknown"))
    assert unknown > 0
    (said,) = doubts(report)
    every = known + unknown
    assert re.search(
        rf"\ball the years .*too short, it would be {short + unknown} of {every}", said
    )
    assert f"were none, {short} of {every} years." in said


def test_holes_in_months_that_do_not_matter_are_left_out():
    record = clean()
    autumn = record["time"].dt.month.isin([11]) & (record["time"].dt.year % 2 == 0)
    report = report_of(record.where(~autumn))
    assert doubts(report) == ()
    assert record_caveats(report.daily, TODAY)[0].startswith(
        "Days are missing mostly in November: 50 %"
    )


def test_years_that_hang_on_missing_days_are_counted():
    record = clean()
    # 20 April to 10 May of every third year is missing: nobody knows when the freezes ended.
    day = record["time"].dt.dayofyear
    lost = (day >= 110) & (day <= 130) & (record["time"].dt.year % 3 == 0)
    for name in ("tmin", "tmax", "tmean"):
        record[name] = record[name].where(~lost)
    dates = cw.freeze_dates(record)
    unknown = (dates["last_spring_status"] == "unknown") | (
        dates["first_autumn_status"] == "unknown"
    )
    told = [text for text in record_caveats(record) if "filled in many times" in text]
    assert len(told) == 1
    assert f"In {int(unknown.sum())} of 24 years a missing day may hide" in told[0]
    report = report_of(record)
    told = [text for text in caveats(report) if "filled in many times" in text]
    window, harvest = report.shorter["leaning"], report.ahead.odds[report.best]["leaning"]
    assert len(told) == int(window + harvest > 0)
    if window:
        assert (
            f"n {sentences.years(int(window))} missing days decide whether the mild spell"
            in told[0]
        )
    if harvest:
        assert f"n {sentences.years(int(harvest))} missing days decide whether" in told[0]
    assert ("Counts, dates and causes of failure are those of the other years" in told[0]) == bool(
        harvest
    )
    assert not [text for text in record_caveats(clean()) if "drawn" in text]


def test_the_live_chart_says_which_climate_it_counts_harvests_and_freezes_in(pellbrook):
    said = "Harvests and chances of a frost are what the weather of each past year would give in"
    assert pellbrook.today is not None
    assert pellbrook.leading("spring freeze") == "today"
    assert said in " ".join(plain(Page(pellbrook, "C", TODAY).section("live")).split())
    milder = report_of(cw.warm_by(clean(), 12))
    assert milder.today is not None
    assert milder.leading("spring freeze") == "record"
    said = "mild spells and chances of a frost are of the years as they were"
    assert said in " ".join(plain(Page(milder, "C", TODAY).section("live")).split())
    alone = report_of(of_one_climate())
    assert alone.today is None
    assert "as they were" not in plain(Page(alone, "C", TODAY).section("live"))


def test_the_steps_a_record_was_read_in_are_told_with_the_year_they_changed():
    record = clean()
    fahrenheit = record.map(
        lambda v: (((v * 1.8 + 32).round() - 32) / 1.8).round(1), keep_attrs=True
    )
    assert read_in(record) == "Minima were read in tenths of a degree Celsius."
    assert read_in(fahrenheit) == "Minima were read in whole degrees Fahrenheit."
    changed = fahrenheit.where(record["time"].dt.year < 2010, record)
    for name in changed:
        changed[name].attrs = record[name].attrs
    halves = record.map(lambda v: (v * 2).round() / 2, keep_attrs=True)
    assert read_in(halves) == "Minima were read in half degrees Celsius."
    assert read_in(changed) == (
        "Minima were read in whole degrees Fahrenheit from 1999 on, in tenths of a degree Celsius "
        "from 2010 on. Thresholds allow for half a step."
    )


def test_a_trend_is_clear_at_one_threshold_wherever_it_is_told():
    report = report_of(warmed_up(clean()))
    calm = {"trend": 2.0, "trend_p": CLEAR_P}
    for p, clear in ((CLEAR_P - 0.001, True), (CLEAR_P, False)):
        doubted = replace(report)
        doubted.__dict__["shorter"] = report.shorter.assign(**(calm | {"trend_p": p}))
        assert sentences.drift(doubted).startswith("The mild spell has become") == clear
        yearly = xr.Dataset({"slope": 2.0, "p": p})
        assert ("no clear trend" not in sentences_climate.freeze_trend(yearly, yearly)) == clear


def test_a_warming_is_told_from_the_same_threshold_on(monkeypatch):
    record = warmed_up(clean())
    for p, told in ((CLEAR_P - 0.001, True), (CLEAR_P, False)):
        monkeypatch.setattr(caveats_of_record, "trend_test", lambda *_, p=p: (0.1, 0.0, 0.2, p))
        assert (caveats_of_record.clear_warming(record) is not None) == told


def test_odds_of_todays_climate_allow_for_the_warming_up_to_now():
    record = warmed_up(clean())
    today = cw.todays_climate(record)
    assert today.attrs["climate"] == "today"
    for text in (
        record_caveats(today, TODAY)[0],
        record_caveats(record, TODAY, climate="today")[0],
    ):
        assert "The odds allow for that up to today; the years to come may be warmer still." in text
    for text in (
        record_caveats(record, TODAY)[0],
        record_caveats(today, TODAY, climate="record")[0],
    ):
        assert text.endswith("The years to come may be warmer than those counted.")


def test_a_step_hides_no_warming_and_is_not_taken_for_it():
    stepped = record_caveats(moved_away(clean()), TODAY)
    assert [text.startswith("The record changes all at once") for text in stepped] == [True, False]
    assert stepped[1].startswith("If that sudden change is the climate's own, it has grown warmer")
    assert stepped[1].endswith("if it is the station's, no clear trend is left.")
    both = record_caveats(warmed_up(added(clean(), -3 * (clean()["time"].dt.year < 2012))), TODAY)
    assert both[0].startswith("The record changes all at once")
    assert both[1].startswith("Apart from that sudden change it has grown warmer here, by ")
    # a degree in ten years was added, whatever the step's three degrees do
    said = float(re.search(r"by ([\d.]+) °C every ten years", both[1])[1])
    assert said == pytest.approx(1.0, abs=0.5)
    # a step down that hides the warming of the whole record
    hidden = added(warmed_up(clean()), -2.0 * (clean()["time"].dt.year >= 2011))
    assert "sudden change it has grown warmer" in record_caveats(hidden, TODAY)[1]


def test_warming_holds_the_latest_years_against_all():
    report = report_of(warmed_up(clean()))
    late = cw.odds_shorter(report.windows.isel(season=slice(-15, None)), report.need_days)
    short, known = (int(late[name].sel(part=report.part)) for name in ("shorter", "known"))
    told = f"in {short} of the latest {known} years"
    assert (told in caveats(report, TODAY)[0]) is bool(int(report.shorter["shorter"]))
    harder = GardenReport(report.garden, report.daily, report.plans, 200)
    assert int(harder.shorter["shorter"])
    late, every = (
        " of ".join(str(int(each[name])) for name in ("shorter", "known"))
        for each in (harder.shorter_recently, harder.shorter)
    )
    late, every = late.replace("of ", "of the latest "), every.replace("of ", "of all ")
    told = f"was too short in {late} years, and in {every}."
    assert any(told in text for text in caveats(harder, TODAY))


def test_a_record_moved_to_the_garden_is_not_said_to_lie_elsewhere():
    up = HAZARDS["height"][1]
    assert doubts(report_of(cw.adjust_to_garden(clean(), up), up)) == ()


def test_differences_are_said_without_the_offset_in_fahrenheit():
    report = report_of(of_one_climate(), HAZARDS["height"][1])
    assert "about 2.6 °F colder, by the usual 3.6 °F in 1000 ft" in caveats(report, TODAY, "F")[0]


@pytest.mark.parametrize(("moved", "is_frozen"), [(-0.1, False), (0.1, True)])
def test_frozen_ground_is_said_of_snow_climates_alone(moved, is_frozen):
    months = clean().pipe(lambda d: (d["tmin"] + d["tmax"]) / 2).groupby("time.month").mean()
    colder = clean() - float(months.min()) - 3.0 - moved  # Koeppen's boundary is at -3 degC
    colder.attrs = clean().attrs
    said = "Snow and frozen ground are not counted: in spring, wait until your soil has thawed"
    assert any(said in text for text in doubts(report_of(colder))) is is_frozen
    assert said not in " ".join(record_caveats(colder))
    years = cw.garden_report(HERE, colder, crop=cw.crop("rhubarb"))
    assert said not in " ".join(caveats(years))


def test_without_a_date_or_places_nothing_is_guessed():
    old = clean().sel(time=slice("2012"))
    old.attrs = {}
    report = report_of(old, HAZARDS["height"][1])
    assert caveats(report) == (which_climate(report),)


def test_a_record_ends_with_its_last_value_though_the_file_goes_on():
    padded = clean().where(clean()["time"].dt.year <= 2010)
    assert record_caveats(padded, TODAY)[0].startswith("The record stops in 2010, 13 years ago.")


# --- few years ----------------------------------------------------------------------------


def test_fewer_than_ten_years_are_refused_unless_asked_for():
    short = clean().sel(time=slice("2007"))
    with pytest.raises(cw.DataGapError, match=r"the record has 9 known years, and 10 are needed"):
        report_of(short)
    report = report_of(short, few_years=True)
    assert sentences.FEW_YEARS in Page(report, "C", TODAY).section("sure").html
    assert sentences.FEW_YEARS in Page(report, "C", TODAY).section("decision").html
    assert "Too little history to say: 9" in plain(Page(report, "C", TODAY).section("decision"))
    club = ClubPage("club", (report, report), "C", TODAY)
    assert sentences.FEW_YEARS in club.section("sources").html
    assert record_caveats(short, TODAY)[0] == sentences.FEW_YEARS


# --- every command ------------------------------------------------------------------------

CROP = ("--crop", "pea", "--sow", "04-01")
COMMANDS = {
    "inspect": (),
    "page": ("--place", "here", *CROP),
    "freezes": (),
    "weeks": ("--crop", "pea"),
    "spells": ("--crop", "pea"),
    "suits": ("--season", "cool", "--most", "1"),
    "sowings": CROP,
    "dates": CROP,
    "season": ("--crop", "pea"),
    "calendar": ("--crop", "pea"),
    "space": ("--crop", "pea"),
    "diary": (),
}
"""Every command that reads a record and prints numbers of it."""
WITH_ODDS = [name for name in COMMANDS if name != "inspect"]


def test_none_is_forgotten():
    every = {command.name: set(typed_names(command.options)) for command in ALL_COMMANDS}
    takes = {name: options for name, options in every.items() if "record" in options}
    # A hindcast needs 40 years: tests/cli/test_hindcast.py has records for it.
    assert set(takes) == {*COMMANDS, "hindcast"}
    assert all({"latitude", "longitude", "elevation"} <= options for options in takes.values())
    assert [name for name, options in takes.items() if "few_years" not in options] == [
        "inspect",
        "hindcast",
    ]


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A record for each hazard, one without any, a short one, and the log of a frame."""
    folder = tmp_path_factory.mktemp("records")
    made = {name: change(clean()) for name, (change, *_) in HAZARDS.items()}
    made |= {"sound": clean(), "short": clean().sel(time=slice("2004"))}
    paths = {name: to_csv(record, folder / f"{name}.csv") for name, record in made.items()}
    diary = folder / "diary.csv"
    diary.write_text("crop,way,sown,harvested,failed\npea,in place,2004-04-01,2004-06-25,\n")
    return paths | {"log": _frame_log(folder / "frame.csv", clean()), "diary": diary}


def _frame_log(path, record):
    """Two readings a day, of a frame 3 degrees warmer than outdoors, of spring 2003."""
    spring = record.sel(time=slice("2003-03-05", "2003-04-30"))
    lines = ["time,temperature [C]"]
    for day, *ends in zip(spring["time"].values, spring["tmin"], spring["tmax"], strict=True):
        for hour in range(24):
            value = float(ends[0] if hour < 12 else ends[1]) + 3
            lines.append(f"{str(day)[:10]} {hour:02}:00,{value:.1f}")
    path.write_text("\n".join(lines))
    return path


@pytest.fixture
def command(files, capsys, tmp_path, monkeypatch):
    """A command run on one of the records, no page drawn; its code and what it printed."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr("climwin.page.write.write_page", lambda _, out, **__: out)

    def run(name, record, garden, *more):
        first = {"space": [files["log"]], "diary": [files["diary"]]}
        given = [*first.get(name, []), files[record]]
        place = ("--lat", garden.latitude, "--lon", garden.longitude)
        asked = (name, *given, *COMMANDS[name], *place, "--elevation", garden.elevation, *more)
        code = main([str(each) for each in asked])
        told = capsys.readouterr()
        return code, told.out, told.err

    return run


@pytest.mark.parametrize("hazard", HAZARDS)
@pytest.mark.parametrize("name", COMMANDS)
def test_every_command_says_each_hazard(command, name, hazard):
    _, garden, said = HAZARDS[hazard]
    code, told, wrong = command(name, hazard, garden)
    assert code == 0, wrong
    told = told.replace(f"{dt.date.today().year - 2010} years ago", "13 years ago")
    assert f"caution: {said}" in told


@pytest.mark.parametrize("name", WITH_ODDS)
def test_every_command_that_gives_odds_refuses_few_years_or_says_so(command, name):
    code, told, refused = command(name, "short", HERE)
    assert (code, told.count("caution: ")) == (1, 0)
    assert "10 are needed" in refused
    assert "go on with --few-years" in refused
    code, told, wrong = command(name, "short", HERE, "--few-years")
    assert code == 0, wrong
    assert sentences.FEW_YEARS in told


@pytest.mark.parametrize("name", ["suits", "dates"])
def test_without_a_garden_the_numbers_are_said_to_be_the_stations(files, capsys, name, tmp_path):
    out = ("--out", str(tmp_path / "x.ics")) * (name == "dates")
    assert main([name, str(files["sound"]), *COMMANDS[name], *out]) == 0
    told = [t for t in capsys.readouterr().out.splitlines() if t.startswith("caution: ")]
    assert len(told) == 1
    assert told[0].startswith("caution: The numbers are those of the record's own spot.")


@pytest.mark.parametrize("name", ["inspect", "dates"])
def test_a_sound_record_at_the_garden_is_left_alone(command, name):
    assert "caution: " not in command(name, "sound", HERE)[1]


def test_a_look_says_that_years_are_few(command):
    assert f"caution: {sentences.FEW_YEARS}" in command("inspect", "short", HERE)[1]


def test_a_fetched_history_is_told_like_a_file(files, capsys, monkeypatch):
    record = cw.read_daily(files["moved"])
    monkeypatch.setattr("climwin.stations.history.fetch_history", lambda *_, **__: record)
    far = ("--lat", "51", "--lon", "5", "--elevation", "520")
    assert main(["fetch", *far]) == 0
    told = capsys.readouterr().out
    for hazard in ("moved", "height", "distance"):
        assert f"caution: {HAZARDS[hazard][2]}" in told


@pytest.mark.parametrize("suffix", [".ics", ".csv"])
def test_files_of_dates_carry_what_is_to_be_minded(command, tmp_path, suffix):
    out = tmp_path / f"dates{suffix}"
    command("dates", "moved", HERE, "--out", out)
    text = " ".join(out.read_text("utf-8").replace("\n ", "").split())
    assert "The record changes all at once: nights from 2012 on are 2" in text.replace("\\,", ",")


# --- a neighbour --------------------------------------------------------------------------


def near(record):
    """A station nearby: the same weather, and half a degree of its own each day."""
    noise = np.random.default_rng(0).normal(0, 0.5, record.sizes["time"])
    return added(record, xr.DataArray(noise, dims="time"))


def test_a_look_beside_a_neighbour_sees_a_smaller_step(command, tmp_path, files):
    slight = added(clean(), 0.4 * (clean()["time"].dt.year >= 2012))
    to_csv(slight, tmp_path / "slight.csv")
    to_csv(near(clean()), tmp_path / "near.csv")
    near_one = ("--neighbour", tmp_path / "near.csv")
    assert "changes all at once" not in command("inspect", "sound", HERE, *near_one)[1]
    told = command("inspect", "sound", HERE, *near_one, "--neighbour", tmp_path / "slight.csv")[1]
    lines = [line for line in told.splitlines() if line.startswith("Against")]
    first, second = [line for line in lines if not line.endswith("no day is shifted.")]
    assert first.endswith("holds: no sudden step or drift in 24 years in common.")
    assert "nights from 2012 on are 0.4 °C colder, days from 2012 on are 0.4 °C colder" in second
    assert "a third station tells which" in second


def test_a_slow_drift_from_a_neighbour_is_told_as_one():
    drifting = added(clean(), 0.08 * (clean()["time"].dt.year - 1999))
    text = beside(drifting, near(clean()))
    assert "the record drifts: nights 0.8 °C warmer every ten years" in text
    assert "all at once" not in text
    assert "days 1.4 °F warmer every ten years" in beside(drifting, near(clean()), "F")


def test_the_year_of_a_step_is_told_with_its_interval_where_it_is_unsure():
    unsure = added(clean(), 0.25 * (clean()["time"].dt.year >= 2012))
    noise = np.random.default_rng(3).normal(0, 3, clean().sizes["time"])
    text = beside(unsure, added(clean(), xr.DataArray(noise, dims="time")))
    change = caveats_of_record.clear_changes(
        cw.detect_breakpoints(unsure, added(clean(), xr.DataArray(noise, dims="time")))
    )
    for each in change:
        if each.kind != "drift" and each.earliest < each.latest:
            near = each.latest == each.earliest + 1
            when = "in {} or {}" if near else "between {} and {}"
            assert f"the change came {when.format(each.earliest, each.latest)}" in text
    assert any(each.earliest < each.latest for each in change)


def test_a_neighbour_of_few_years_tells_nothing():
    few = near(clean()).sel(time=slice("2005"))
    assert "no step can be told: 7 years in common" in beside(clean(), few)
    with pytest.raises(cw.DataGapError, match=r"no day in common. Take another neighbour"):
        beside(clean().sel(time=slice("2006", None)), few)


# --- notebooks ----------------------------------------------------------------------------


def test_every_notebook_of_a_record_says_the_doubts():
    books = Path(__file__).parents[2] / "notebooks"
    sources = {path.stem: path.read_text("utf-8") for path in books.glob("*.ipynb")}
    reads = {name for name, source in sources.items() if "cw.read_daily" in source}
    assert {name for name in reads if "cw.record_caveats(" not in sources[name]} == set()
    assert len(reads) == 11
