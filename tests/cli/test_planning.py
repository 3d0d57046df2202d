"""Commands that plan, on the sample: what they print is what the library says."""

import csv
import datetime as dt
import re

import icalendar
import pytest
import xarray as xr

import climwin as cw
from climwin.cli import planning
from climwin.cli.main import main
from climwin.core.dialect import american_dates
from climwin.core.seasons import day_name
from climwin.io.samples import sample
from climwin.planning.schedule import succession
from climwin.planning.suitability import rank_crops


@pytest.fixture
def run(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)

    def command(name, *arguments):
        code = main([name, str(sample()), *arguments])
        captured = capsys.readouterr()
        told = captured.out.splitlines()
        # For cautions see test_caveats.py; for climates, the test of those below.
        told = [each for each in told if not each.startswith(("caution: ", "All years count"))]
        return code, told, captured.err

    return command


def test_suits_ranks_the_crops(run, pellbrook):
    code, lines, _ = run("suits", "--season", "cool", "--most", "5")
    cool = [c for c in map(cw.crop, cw.crop_names()) if c.season == "cool"]
    found = rank_crops(pellbrook.daily, cool).sortby("rank")
    assert code == 0
    assert len(lines) == 5
    for line, at in zip(lines, range(5), strict=True):
        row = found.isel(plan=at)
        assert line.startswith(row["crop"].item())
        harvested, known = (round(float(row[f"elsewhere_{n}"])) for n in ("harvested", "known"))
        assert f"{harvested} of {known} years" in line
        assert f"growth {float(row['growth']):.2f}" in line
        assert (", early varieties" in line) is (row["earliness"].item() == "early")


@pytest.mark.parametrize(
    ("given", "of_what", "advice"),
    [
        (
            ("sowings", "--crop", "cauliflower", "--raise", "04-01"),
            "for cauliflower",
            ", or raise it under",
        ),
        (("calendar", "--crop", "runner bean"), "here for runner beans", " to accept less."),
    ],
)
def test_odds_that_no_start_date_reaches_are_reached_when_lowered(run, given, of_what, advice):
    code, _, err = run(*given, "--odds", "1")
    assert code == 1
    told = " ".join(err.split())
    assert f"No start date reaches the odds 1 {of_what}. Lower --odds{advice}" in told
    assert run(*given, "--odds", "0.5")[0] == 0


def test_sowings_under_fleece_begin_earlier(run, pellbrook):
    given = ("--crop", "pea", "--sow", "04-01", "--odds", "0.5")
    code, lines, _ = run("sowings", *given, "--fleece", "4")
    plan = cw.Plan(cw.crop("pea"), "04-01", fleece_weeks=4)
    first = succession(plan, pellbrook.daily, least_odds=0.5)["start_day"].values[0]
    assert code == 0
    [line] = [line for line in lines if line.startswith(" 1 ")]
    assert day_name(first) in line
    assert lines != run("sowings", *given)[1]


def test_sowings_one_after_another(run, pellbrook):
    given = ("--crop", "radish", "--sow", "04-01", "--odds", "0.9")
    code, lines, _ = run("sowings", *given)
    found = succession(cw.Plan(cw.crop("radish"), "04-01"), pellbrook.daily, least_odds=0.9)
    assert code == 0
    head, *lines = lines
    assert (
        "each with the share of years with a harvest, of those that had no part in choosing its "
        "date, and with a good one:"
    ) in head
    assert len(lines) == found.sizes["sowing"] > 1
    for n, line in enumerate(lines):
        row = found.isel(sowing=n)
        share, good = (
            f"{100 * float(row[name]):.0f}" for name in ("elsewhere_share", "good_share")
        )
        first, last = (day_name(float(row[f"harvest_{end}"])) for end in ("first", "last"))
        wanted = rf"^ *{n + 1} +{day_name(float(row['start_day']))} +{share}.%  good +{good}.%"
        assert re.search(rf"{wanted}  harvest begins {first} to {last}", line)


def test_dates_for_a_calendar_and_as_a_table(run, tmp_path):
    given = ("--crop", "cauliflower", "--raise", "03-05", "--weeks", "6", "--year", "2028")
    code, lines, _ = run("dates", *given, "--out", "plan.ics")
    assert code == 0
    assert "no forecast" in " ".join(lines)
    calendar = icalendar.Calendar.from_ical((tmp_path / "plan.ics").read_bytes())
    set_out = [e for e in calendar.walk("VEVENT") if "Set out" in str(e["summary"])]
    assert [str(e.decoded("dtstart")) for e in set_out] == ["2028-04-16"]  # 42 days after 5 March

    assert run("dates", *given, "--out", "plan.csv")[0] == 0
    lines = (tmp_path / "plan.csv").read_text("utf-8").splitlines()
    rows = [r for r in csv.reader(lines) if not r[0].startswith("#")]
    assert {"start", "set out", "curd"} <= {cell for row in rows for cell in row}


def dated(lines):
    """The days that lines begin with, and what each of them says."""
    found = [re.match(r" *(\d+ \w{3} 20\d\d)  (.*)", line) for line in lines]
    return [(dt.datetime.strptime(each[1], "%d %b %Y"), each[2]) for each in found if each]


def test_dates_on_screen_come_in_order_with_their_odds(run, pellbrook):
    given = ("--crop", "cauliflower", "--raise", "03-05", "--weeks", "6", "--year", "2028")
    _, lines, _ = run("dates", *given)
    plan = cw.Plan(cw.crop("cauliflower"), "03-05", 6, "cold frame")
    odds = cw.harvest_odds(cw.evaluate_plan(plan, pellbrook.daily))
    assert f"a harvest in {int(odds['harvested'])} of {int(odds['known'])} years" in lines[0]
    assert lines[0].endswith(f"a good one in {int(odds['good'])}")
    leaning = int(odds["leaning"])
    assert leaning > 0  # whole months of the sample are missing
    assert lines[1].startswith(f"In {leaning} year")
    assert int(odds["known"]) + int(odds["unknown"]) == 40
    ends = [int(odds[f"next_{end}"]) for end in ("low", "high")]
    assert f"likely {ends[0]} to {ends[1]} of the next ten" in lines[0]
    told = [day for day, _ in dated(lines)]
    assert len(told) > 3
    assert told == sorted(told)
    timetable = cw.plan_dates(plan, pellbrook.daily).sel(event="emergence")
    first, last = (day_name(float(timetable[f"begin_{end}"])) for end in ("first", "last"))
    [line] = [line for line in lines if "it comes up" in line]
    assert f"({first} to {last} in 8 years of 10)" in line
    _, lines, _ = run("dates", *given, "--units", "F")
    [line] = [line for line in lines if "it comes up" in line]
    assert f"({american_dates(first)} to {american_dates(last)} in 8 years of 10)" in line


def test_variety_and_bed_reach_the_plan(run, pellbrook):
    given = ("--crop", "tomato", "--bought", "05-20", "--year", "2028")
    options = ("--earliness", "65", "--bed", "black film")
    _, lines, _ = run("dates", *given, *options)
    plan = cw.Plan(cw.crop("tomato"), "05-20", plants="bought", earliness=65.0, bed="black film")
    odds = cw.harvest_odds(cw.evaluate_plan(plan, pellbrook.daily))
    assert f"a harvest in {int(odds['harvested'])} of" in lines[0]
    [harvest] = [day for day, what in dated(lines) if what.startswith("harvest")]
    _, later, _ = run("dates", *given)
    assert harvest < next(day for day, what in dated(later) if what.startswith("harvest"))


def test_what_stands_for_years_has_dates_and_no_start_to_choose(run, pellbrook):
    code, lines, _ = run("dates", "--crop", "asparagus", "--year", "2027")
    grown = cw.evaluate_plan(cw.Plan(cw.crop("asparagus"), "01-01"), pellbrook.daily)
    harvest = grown["harvest_begin"].dropna("season")
    usual = harvest.dt.dayofyear.median().item()
    assert code == 0
    [day] = [day for day, what in dated(lines) if what.startswith("harvest")]
    assert abs(day.timetuple().tm_yday - usual) <= 1


def test_a_calendar_of_some_crops_and_its_file(run, pellbrook, tmp_path):
    code, lines, _ = run("calendar", "--crop", "pea", "--crop", "tomato")
    crops = [cw.crop("pea"), cw.crop("tomato")]
    table = cw.planting_calendar(pellbrook.daily, crops)
    assert code == 0
    head, *rows = [line for line in lines if " to " in line or line.startswith("Of each")]
    assert head == (
        "Of each run of dates: the best one, the share of years in which it gives a harvest, and "
        "when that harvest begins in eight years out of ten."
    )
    assert len(rows) == table.sizes["row"] > 1
    for line, n in zip(rows, range(len(rows)), strict=True):
        row = table.isel(row=n)
        assert line.startswith(row["crop"].item())
        for end in ("first_day", "best_day", "last_day"):
            assert day_name(int(row[end])) in line
        begins = [day_name(float(row[f"harvest_{end}"])) for end in ("first", "last")]
        assert f" best {day_name(int(row['best_day'])):>6} " in line
        assert f"harvest begins {begins[0]} to {begins[1]};" in line
        assert row["best_for"].item() in line
    written = (tmp_path / "calendar.csv").read_text("utf-8").splitlines()
    cells = [r for r in csv.reader(written) if not r[0].startswith("#")]
    assert len(cells) == 1 + table.sizes["row"]
    assert {"crop", "first_day", "best_day", "last_day"} <= {*cells[0]}
    assert "calendar.csv" in lines
    # The file has what the screen warns of.
    assert any(line.startswith("# comment: It has grown warmer here") for line in written)


@pytest.mark.parametrize(
    ("names", "said"),
    [
        (["pear", "grape"], "Pears and grapes stand for years"),
        (["pear"], "Pears stand for years"),
        (["rhubarb"], "Rhubarb stands for years"),
        (["rhubarb", "asparagus"], "Rhubarb and asparagus stand for years"),
    ],
)
def test_what_stands_for_years_is_one_crop_or_several(names, said):
    crops = [cw.crop(name) for name in names]
    nothing = xr.Dataset(coords={"row": []})
    [line] = planning._without_dates(nothing, crops, 0.8)
    assert line == f"{said}: `climwin suits` has the odds."


def test_a_calendar_says_which_crops_have_no_dates(run):
    crops = ("pea", "chayote", "roselle", "pear", "grape")
    code, lines, _ = run("calendar", *(f"--crop={name}" for name in crops))
    assert code == 0
    assert {line.split()[0] for line in lines if " to " in line and " best " in line} == {"pea"}
    told = " ".join(" ".join(lines).split())
    assert "No start date reaches the odds 0.8 here for chayotes and roselle." in told
    assert "Pears and grapes stand for years: `climwin suits` has the odds." in told


@pytest.mark.parametrize(("ahead", "is_doubted"), [(1, False), (-1, True), (0, False), (300, True)])
def test_dates_of_a_year_that_odds_are_not_for_are_cautioned(
    capsys, tmp_path, monkeypatch, ahead, is_doubted
):
    monkeypatch.chdir(tmp_path)
    year = dt.date.today().year + ahead
    given = ("--crop", "pea", "--sow", "04-15", "--year", str(year))
    assert main(["dates", str(sample()), *given]) == 0
    told = "".join(capsys.readouterr())
    said = f"These are dates of {year}. Odds are for the years to come; --year says which."
    assert (said in " ".join(told.split())) is is_doubted


def test_a_calendar_asks_for_the_odds_it_is_given(run, pellbrook):
    _, lines, _ = run("calendar", "--crop", "pea", "--odds", "1")
    table = cw.planting_calendar(pellbrook.daily, [cw.crop("pea")], least_odds=1)
    assert len([line for line in lines if " to " in line]) == table.sizes["row"]


def test_a_crop_is_explained_in_the_units_asked_for(capsys):
    assert main(["crops", "pea", "--units", "F"]) == 0
    printed = capsys.readouterr().out
    assert printed.rstrip("\n") == cw.explain_crop("pea", "F").rstrip("\n")
    assert "°F" in printed
    assert main(["crops", "cool"]) == 0
    listed = capsys.readouterr().out
    cool = [c for c in map(cw.crop, cw.crop_names()) if c.season == "cool"]
    assert listed.count("\n") == len(cool)


def test_what_an_unknown_list_of_crops_is_answered_with_lists_crops(capsys):
    assert main(["crops", "moonflowers"]) == 1
    told = " ".join(capsys.readouterr().err.split())
    families, seasons = re.search(r"Families: (.*?)\. Seasons: (.*?)\. `climwin", told).groups()
    assert {*seasons.split(", ")} == {"cool", "warm"}
    for name in (*families.split(", "), *seasons.split(", ")):
        assert main(["crops", name]) == 0
    assert told.endswith("`climwin crops` lists all.")
    capsys.readouterr()
    assert main(["crops"]) == 0
    assert capsys.readouterr().out.count("\n") >= len(cw.crop_names())


@pytest.mark.parametrize(
    ("name", "arguments", "told"),
    [
        ("sowings", ("--crop", "cauliflower", "--raise", "04-01", "--odds", "1"), "Lower --odds"),
        ("sowings", ("--crop", "pear", "--sow", "04-01"), "there is no date to choose"),
        ("sowings", ("--crop", "pear"), "it is not sown one after another"),
        ("calendar", ("--crop", "asparagus"), "Asparagus stands for years"),
        ("dates", ("--crop", "pear", "--raise", "04-01"), "Leave --raise out"),
        (
            "sowings",
            ("--crop", "radish"),
            "--bought MM-DD, or --raise MM-DD with --weeks and --cover.",
        ),
        (
            "sowings",
            ("--crop", "radish", "--sow", "04-01", "--every", "0"),
            "--every must lie between 1 and 365",
        ),
        ("dates", ("--crop", "pea", "--sow", "04-01", "--out", "x.doc"), "ends in .ics or .csv"),
    ],
)
def test_bad_input_is_one_line(run, tmp_path, name, arguments, told):
    code, _, err = run(name, *arguments)
    assert code == 1
    assert told in err
    assert err.count("\n") == 1
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize(
    "asked",
    [
        ("freezes",),
        ("weeks", "--crop", "cauliflower"),
        ("suits", "--season", "cool", "--most", "3"),
        ("calendar", "--crop", "pea"),
        ("sowings", "--crop", "pea", "--sow", "04-10", "--every", "21"),
        ("dates", "--crop", "pea", "--sow", "04-10"),
    ],
    ids=lambda asked: asked[0],
)
def test_a_command_names_the_climate_of_its_odds(asked, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    command, *options = asked
    as_they_were = (
        "All years count as they were. Add `--climate today` to move them to today's level."
    )
    for climate, named in (("record", as_they_were), ("today", "Every year is moved to today's")):
        assert main([command, str(sample()), *options, "--climate", climate]) == 0
        told = capsys.readouterr().out
        assert named in told
        assert (as_they_were in told) is (climate == "record")
        assert ("warmer than those counted" in told) is (climate == "record")
        assert ("odds allow for that up to today" in told) is (climate == "today")


def test_a_short_record_moved_to_today_is_said_to_assume_the_warming_of_the_globe(tmp_path, capsys):
    daily = cw.read_daily(sample())
    last = int(daily["time"].dt.year[-1])
    for years, is_assumed in ((15, True), (26, False)):
        path = tmp_path / f"{years}.csv"
        some = daily[["tmin", "tmax"]].sel(time=slice(str(last - years + 1), None))
        some.to_dataframe()[["tmin", "tmax"]].round(1).to_csv(path)
        asked = ["freezes", str(path), "--record-units", "C"]
        assert main([*asked, "--climate", "today"]) == 0
        told = capsys.readouterr().out
        assert "Every year is moved to today's level" in told
        assert ("warming of the whole globe is assumed" in told) is is_assumed
        assert main(asked) == 0
        assert "globe" not in capsys.readouterr().out


def test_dates_in_todays_climate_are_those_of_the_moved_record(tmp_path, capsys):
    asked = ["dates", str(sample()), "--crop", "pea", "--sow", "04-10", "--climate", "today"]
    assert main([*asked, "--out", str(tmp_path / "dates.csv")]) == 0
    told = capsys.readouterr().out.splitlines()
    told = [each for each in told if not each.startswith("caution: ")]
    today = cw.todays_climate(cw.read_daily(sample()))
    shifts = [today.attrs[f"todays_{name}_shift_c"] for name in ("tmin", "tmax")]
    assert told[0] == (
        f"Every year is moved to today's level: nights by {shifts[0]:+.1f} °C, "
        f"days by {shifts[1]:+.1f} °C"
    )
    odds = cw.harvest_odds(cw.evaluate_plan(cw.Plan(cw.crop("pea"), "04-10"), today))
    line = next(each for each in told if each.startswith("pea"))
    assert f"a harvest in {int(odds['harvested'])} of {int(odds['known'])} years" in line
