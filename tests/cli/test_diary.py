"""The command of one's own past sowings, on a table of three."""

import pandas as pd
import pytest

import climwin as cw
from climwin.cli.main import main
from climwin.io.daily import read_daily
from climwin.io.exports import to_csv
from climwin.io.samples import sample
from climwin.trials.sowings import DatedPlan

DIARY = """\
crop,way,sown,set_out,harvested,failed,packet_days
cauliflower,in place,2015-06-20,,2015-10-02,,50
cauliflower,cold frame,2018-03-03,2018-04-15,2018-06-28,,50
cauliflower,in place,2019-04-18,,,too hot,50
"""


@pytest.fixture
def desk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "diary.csv").write_text(DIARY, "utf-8")
    to_csv(read_daily(sample()).sel(time=slice("2008", "2023")), tmp_path / "record.csv")
    return tmp_path


def run(capsys, *arguments):
    code = main(["diary", *arguments])
    shown = capsys.readouterr()
    return code, shown.out.splitlines(), shown.err


def test_each_sowing_then_the_counts_then_the_earliness(desk, capsys):
    code, out, err = run(capsys, "diary.csv", "record.csv", "--out", "scores.csv")
    assert (code, err) == (0, "")
    rows = [line for line in out if line[:4].isdigit()]
    assert [row[:10] for row in rows] == ["2015-06-20", "2018-03-03", "2019-04-18"]
    assert "harvest 2 Oct" in rows[0]
    assert "too hot" in rows[2]
    assert all("; the model of that year: " in row for row in rows)
    assert any(line.startswith("2 harvests came of 3 sowings; by the odds ") for line in out)
    assert any(line.startswith("2 harvests of cauliflower point to ") for line in out)
    assert "Plan with these days" in out[-2]
    assert out[-1] == "scores.csv"
    table = pd.read_csv(desk / "scores.csv", comment="#")
    assert table["came"].tolist() == [1, 1, 0]
    assert table["years_known"].max() <= 15  # sixteen years, less the sowing's own


def test_without_a_harvest_no_earliness_is_given(desk, capsys):
    lines = DIARY.splitlines()
    (desk / "diary.csv").write_text("\n".join([lines[0], lines[3]]))
    code, out, _ = run(capsys, "diary.csv", "record.csv")
    assert code == 0
    assert out[-1] == "No sowing gave a harvest, and only a harvest shows how early a variety is."


@pytest.mark.parametrize(
    ("old", "new", "says"),
    [
        ("2015-06-20", "1980-06-20", "Line 2: cauliflower on 1980-06-20 lies outside the record"),
        ("2018-06-28", "2018-02-28", "line 3 '2018-02-28'. Correct the dates."),
        ("cold frame", "cold fram", "line 3 'cold fram'. Nearest: cold frame."),
        ("too hot", "voles", "For what weather does not explain, such as slugs, write other."),
    ],
)
def test_a_wrong_table_is_told_with_its_line(desk, capsys, old, new, says):
    text = DIARY.replace(old, new)
    if new.startswith("1980"):
        text = text.replace("2015-10-02", "1980-10-02")
    (desk / "diary.csv").write_text(text, "utf-8")
    code, _, err = run(capsys, "diary.csv", "record.csv")
    assert code == 1
    assert says in err


def in_the_frame(desk, way="frame"):
    """The table with its sowing under cover raised in a frame of one's own, and its logger."""
    (desk / "frame_logger.csv").write_bytes(sample("frame_logger.csv").read_bytes())
    (desk / "diary.csv").write_text(DIARY.replace("cold frame", way), "utf-8")


def test_a_sowing_in_ones_own_space_is_grown_in_it(desk, capsys):
    in_the_frame(desk)
    asked = ("diary.csv", "record.csv", "--logger", "frame_logger.csv", "--out", "scores.csv")
    code, out, err = run(capsys, *asked)
    assert (code, err) == (0, "")
    assert any(line.startswith("2018-03-03  cauliflower, frame ") for line in out)
    own = pd.read_csv(desk / "scores.csv", comment="#")
    # The same by hand: the space fitted, and the sowing's plan evaluated in it.
    daily = read_daily(desk / "record.csv")
    space = cw.fit_cover(cw.read_logger(desk / "frame_logger.csv"), daily, name="frame")
    plan = DatedPlan(
        cw.crop("cauliflower"),
        "03-03",
        6,
        "frame",
        earliness=50.0,
        space=space,
        days_under_cover=43,
    )
    grown = cw.evaluate_plan(plan, daily).drop_sel(season=2018)
    assert own["years_harvested"][1] == int((grown["outcome"] == "harvest").sum())


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((), "Of a space of your own, add its logger: --logger."),
        (("--logger-units", "F"), "--logger-units has no effect without --logger"),
        (("--climate", "today"), "your sowings are past"),
    ],
)
def test_what_a_space_of_ones_own_lacks_is_said(desk, capsys, arguments, says):
    in_the_frame(desk)
    code, _, err = run(capsys, "diary.csv", "record.csv", *arguments)
    assert code == 1
    assert says in err


def test_a_logger_that_no_sowing_needs_is_refused(desk, capsys):
    in_the_frame(desk, way="cold frame")
    code, _, err = run(capsys, "diary.csv", "record.csv", "--logger", "frame_logger.csv")
    assert code == 1
    assert "--logger has no effect: no sowing in diary.csv has the way 'frame'" in err
    assert "Write frame as the way of those that were raised there, or leave it out." in err


def test_past_sowings_are_not_judged_in_todays_climate(desk):
    moved = cw.todays_climate(read_daily(desk / "record.csv")).assign_attrs(climate="today")
    with pytest.raises(ValueError, match="judged by the weather of their own years"):
        cw.score_sowings(cw.read_sowings(desk / "diary.csv"), moved)


def test_a_short_record_is_refused_unless_it_will_do(desk, capsys):
    to_csv(read_daily(sample()).sel(time=slice("2014", "2019")), desk / "short.csv")
    code, _, err = run(capsys, "diary.csv", "short.csv")
    assert code == 1
    assert "--few-years" in err
    assert run(capsys, "diary.csv", "short.csv", "--few-years")[0] == 0


def test_the_table_is_never_written_over(desk, capsys):
    code, _, err = run(capsys, "diary.csv", "record.csv", "--out", "diary.csv", "--force")
    assert code == 1
    assert "is a file that this command reads" in err


def test_help_offers_no_climate_that_past_sowings_refuse(capsys):
    with pytest.raises(SystemExit):
        main(["diary", "--help"])
    told = " ".join(capsys.readouterr().out.split())
    assert "no other than record: past sowings are judged by the weather of their own time" in told
    assert "which a page leads with" not in told
