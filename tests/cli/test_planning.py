"""Commands that plan, on the sample: what they print is what the library says."""

import csv

import icalendar
import pytest

import climwin as cw
from climwin.cli.main import main
from climwin.core.seasons import date_of, day_name
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
        return code, [t for t in told if not t.startswith("mind: ")], captured.err  # test_doubts.py

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
        assert f"{int(row['succeeded'])} of {int(row['known'])} years" in line


def test_sowings_under_fleece_begin_earlier(run, pellbrook):
    given = ("--crop", "lettuce", "--sow", "04-01", "--odds", "0.5")
    code, lines, _ = run("sowings", *given, "--fleece", "4")
    plan = cw.Plan(cw.crop("lettuce"), "04-01", fleece_weeks=4)
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
    assert len(lines) == found.sizes["sowing"] > 1
    for line, day in zip(lines, found["start_day"].values, strict=True):
        assert day_name(day) in line


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


def test_what_begins_by_itself_has_dates_and_no_start_to_choose(run, pellbrook):
    code, lines, _ = run("dates", "--crop", "asparagus", "--year", "2027")
    row = rank_crops(pellbrook.daily, [cw.crop("asparagus")]).isel(plan=0)
    woken = date_of(2027, row["start_day"])
    assert code == 0
    assert lines[0] == f"{woken}  Asparagus wakes by itself, about now"


@pytest.mark.parametrize(
    ("name", "arguments", "told"),
    [
        ("sowings", ("--crop", "lettuce", "--sow", "04-01", "--odds", "1"), "Lower --odds"),
        ("sowings", ("--crop", "pear", "--sow", "04-01"), "begins by itself where it stands"),
        ("sowings", ("--crop", "pear"), "it is not sown one after another"),
        ("dates", ("--crop", "pear", "--raise", "04-01"), "Leave --raise out"),
        ("sowings", ("--crop", "radish"), "Say how it is started: --sow MM-DD"),
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
