"""The command ``climwin season``: one screen, its files, its exit code, and every kind of end."""

import datetime as dt

import icalendar
import pytest
from standin import StandIn, pointed_at

import climwin as cw
from climwin.cli import season as command
from climwin.cli.main import main
from climwin.core.dialect import in_dialect
from climwin.io.samples import sample
from climwin.report import sentences_season as said
from climwin.stations import history

PEA = ("--crop", "pea", "--sown", "04-10")


def lines_until(last):
    """The invented sample's file from 2006 to a day."""
    kept = [
        line
        for line in sample().read_text("utf-8").splitlines()
        if not line[:4].isdigit() or "2006" <= line[:10] <= last
    ]
    return "\n".join(kept) + "\n"


@pytest.fixture
def record(tmp_path):
    path = tmp_path / "garden.csv"
    path.write_text(lines_until("2024-05-14"), "utf-8")
    return path


@pytest.fixture
def on_the_15th(monkeypatch):
    """A clock that stands on 15 May 2024, to be turned on."""
    now = [dt.datetime(2024, 5, 15)]

    class Clock(dt.date):
        @classmethod
        def today(cls):
            return cls(now[0].year, now[0].month, now[0].day)

    monkeypatch.setattr(command.dt, "date", Clock)
    return now


def run(capsys, *arguments):
    code = main(["season", *map(str, arguments)])
    told = capsys.readouterr()
    return code, told.out, told.err


def test_it_says_how_the_year_goes_and_what_is_to_come(record, capsys, on_the_15th):
    code, out, err = run(capsys, record, *PEA)
    assert code == 0, err
    daily = cw.read_daily(record)
    so_far, ahead = cw.season_so_far(daily), cw.outlook(_pea(), daily, sown="04-10")
    for line in (
        *said.season_lines(so_far, "C"),
        *said.freeze_lines(so_far, "C"),
        said.outlook_heading(ahead),
        *said.outlook_lines(ahead, "C"),
        said.NOT_A_FORECAST,
    ):
        assert in_dialect(line, "C") in out
    assert len(out.splitlines()) <= 30  # one screen


def _pea():
    return cw.Plan(cw.crop("pea"), "04-10")


def test_the_exit_code_says_whether_anything_is_new(record, capsys, tmp_path, on_the_15th):
    page, dates = tmp_path / "season.html", tmp_path / "season.ics"
    asked = (record, *PEA, "--out", page, "--out", dates)
    assert run(capsys, *asked)[0] == 0
    before = page.read_bytes(), dates.read_bytes(), page.stat().st_mtime_ns
    code, out, _ = run(capsys, *asked)
    assert code == 3
    assert f"{page} (nothing new)" in out
    assert (page.read_bytes(), dates.read_bytes(), page.stat().st_mtime_ns) == before
    record.write_text(lines_until("2024-05-10"), "utf-8")  # days that were taken back
    assert run(capsys, *asked)[0] == 0
    assert page.read_bytes() != before[0]
    events = icalendar.Calendar.from_ical(dates.read_bytes()).walk("VEVENT")
    assert {"Peas: first picked"} <= {str(event["SUMMARY"]) for event in events}


def test_a_crop_still_to_be_started_is_told_by_its_starts(record, capsys, on_the_15th):
    page = record.with_name("page.html")
    code, out, _ = run(capsys, record, "--crop", "snap bean", "--units", "F", "--out", page)
    assert code == 0
    assert "°C" not in page.read_text("utf-8")
    assert "Snap beans, not yet sown on May 15, 2024:" in out
    assert "the crop comes to a harvest at least 8 years in 10." in out
    assert "60 °F, warm enough for the seed to come up well" in out


@pytest.mark.parametrize(
    ("last", "code", "says"),
    [
        ("2024-05-14", 0, "to 14 May 2024, compared with the same dates of past years:"),
        ("2024-05-16", 0, "The record's days from today on are not over"),
        (
            "2024-05-15",
            0,
            "The record's days from today on are not over: they are left out.",
        ),
        ("2024-05-04", 0, "The 10 days since then are taken from each past year"),
        (
            "2024-04-10",
            0,
            "The record ended 35 days ago: this is how it stood on 11 April 2024, and not today.",
        ),
        (
            "2024-06-02",
            1,
            "17 days lie in the future, from 2024-05-17 to 2024-06-02",
        ),
    ],
    ids=[
        "yesterday",
        "in a zone ahead",
        "today at noon",
        "ten days ago",
        "a month ago",
        "in the future",
    ],
)
def test_every_end_of_a_record_has_a_clear_answer(record, capsys, on_the_15th, last, code, says):
    record.write_text(lines_until(last), "utf-8")
    found, out, err = run(capsys, record, "--crop", "pea", "--sown", "04-01")
    assert found == code
    assert says in out + err


def test_a_date_of_ones_own_leaves_later_days_out(record, capsys, on_the_15th):
    code, out, _ = run(capsys, record, *PEA, "--on", "2024-05-01")
    assert code == 0
    assert "to 30 April 2024" in out
    code, _, err = run(capsys, record, *PEA, "--on", "2024-05-20")
    assert code == 1
    assert "--on 2024-05-20 lies in the future: today is 2024-05-15." in err


@pytest.mark.parametrize(
    ("options", "says"),
    [
        (("--cover", "fleece"), "--cover has no effect without --weeks"),
        (("--station", "10637"), "--station has no effect on a record of your own"),
        (("--out", "x.doc"), "--out takes files that end in .html or .ics, got 'x.doc'"),
        (("--sown", "2024-06-01"), "--sown, 2024-06-01, must lie before the date, 2024-05-15"),
        (("--on", "tomorrow"), "--on is a date such as '2024-05-15', got 'tomorrow'"),
    ],
)
def test_an_option_without_sense_is_refused(record, capsys, on_the_15th, options, says):
    code, _, err = run(capsys, record, "--crop", "pea", *options)
    assert code == 1
    assert says in err


def test_a_perennial_takes_no_start(record, capsys, on_the_15th):
    code, out, _ = run(capsys, record, "--crop", "apple")
    assert code == 0
    assert "Apples. Latest stage by the growing model: bloom or first growth, reached on " in out
    assert run(capsys, record, "--crop", "apple", "--sown", "04-01")[0] == 1


def test_a_scheduled_run_asks_for_the_running_year_again_when_it_is_a_day_old(
    tmp_path, capsys, monkeypatch, on_the_15th
):
    """Nothing but the command: it fetches, writes its page, and says whether anything is new."""
    monkeypatch.setenv("CLIMWIN_DATA", str(tmp_path / "store"))
    asked = ("--station", "PLB01", "--lat", "46.1", "--lon", "7.2", *PEA)
    asked = (*asked, "--out", tmp_path / "season.html")
    for day, years, code in ((15, range(20, 40), 0), (15, [0], 3), (16, [1], 0)):
        on_the_15th[0] = dt.datetime(2024, 5, day, 6, 30)
        monkeypatch.setattr(history, "_now", lambda: on_the_15th[0])
        with StandIn(today=on_the_15th[0].date()) as server, pointed_at(server):
            found, out, err = run(capsys, *asked)
            assert found == code, err
            assert server.count("/daily/") in years
        assert f"to {day - 1} May 2024, compared with the same dates" in out
