"""The command: right answers on standard output, one clear line and a code where there are none."""

import html
import re
import struct
import subprocess
import sys

import pytest
import records

import climwin as cw
from climwin.cli.main import main
from climwin.io.samples import sample
from climwin.page.club_file import read_club


@pytest.fixture
def at(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


class GrownError(Exception):
    """The demo has come as far as growing its plans."""


def test_the_demo_compares_a_cold_frame_with_the_open_ground(at, monkeypatch):
    def grown(garden, _daily, *, plans):
        raise GrownError(garden, plans)

    monkeypatch.setattr("climwin.report.garden.garden_report", grown)
    with pytest.raises(GrownError) as reached:
        main(["demo", "--out", str(at / "demo.html")])
    garden, (raised, sown) = reached.value.args
    assert garden.name == "Pellbrook allotments"
    assert {raised.crop.name, sown.crop.name} == {"cauliflower"}
    assert (raised.cover, raised.weeks_under_cover) == ("cold frame", 6)
    assert not sown.weeks_under_cover
    assert {raised.earliness, sown.earliness} == {"early"}


@pytest.mark.slow
def test_demo_writes_the_page_and_prints_the_finding(at, capsys):
    assert main(["demo"]) == 0
    out, err = capsys.readouterr()
    assert err == ""  # quiet when piped
    assert "pellbrook.html" in out
    # The finding of the page, with numbers of its own.
    finding = (
        r"cauliflower sown outdoors in \d+ of \d+ years, and for cauliflower after 6 weeks under "
        r"cover in \d+ of them\."
    )
    assert re.search(finding, out)
    # First what to do, as on the page.
    [head] = re.findall("<h1>(.+?)</h1>", (at / "shared" / "pellbrook.html").read_text("utf-8"))
    first = next(line for line in out.splitlines() if not line.startswith("caution: "))
    assert first.startswith(f"{html.unescape(head)}. ".replace("\N{NO-BREAK SPACE}", " "))
    assert (at / "shared" / "pellbrook.html").stat().st_size > 50_000
    picture = (at / "shared" / "pellbrook.png").read_bytes()
    width, height = struct.unpack(">II", picture[16:24])
    assert (width, height > 1.5 * width) == (780, True)  # twice a phone's, which the README shows


@pytest.mark.slow
def test_page_of_ones_own_record_at_the_best_dates(at, capsys):
    arguments = ["page", str(sample()), "--place", "Our plot", "--crop", "pea", "--units", "F"]
    assert main([*arguments, "--out", "ours.html", "--need", "60"]) == 0
    html = (at / "ours.html").read_text("utf-8")
    assert "Our plot · pea" in html
    assert "°F" in html
    report = cw.garden_report(
        cw.Garden("Our plot", 46.1, 7.2), cw.read_daily(sample()), crop=cw.crop("pea"), need_days=60
    )
    least, most = (report.window[f"length_{end}"].values for end in ("least", "most"))
    enough, known = int((least >= 60).sum()), int(((least >= 60) | (most < 60)).sum())
    assert f"long enough for peas in {enough} of {known} years.\n" in capsys.readouterr().out


@pytest.mark.slow
def test_page_of_ones_own_dates(at):
    arguments = ["page", str(sample()), "--place", "x", "--lat", "46", "--lon", "7"]
    arguments += ["--crop", "cauliflower", "--sow", "04-20", "--raise", "03-05", "--weeks", "5"]
    assert main([*arguments, "--made", "2026-01-02"]) == 0
    html = (at / "page.html").read_text("utf-8").replace("\N{NO-BREAK SPACE}", " ")
    assert "Sown in a cold frame 5 Mar" in html
    assert "Sown outdoors 20 Apr" in html
    assert "9 Apr" in html  # set out five weeks later
    assert "2 January 2026" in html


@pytest.mark.slow
def test_a_page_with_its_notebook_beside_it(at, capsys):
    arguments = ["page", str(sample()), "--place", "x", "--lat", "46", "--lon", "7"]
    assert main([*arguments, "--crop", "pea", "--sow", "04-20", "--notebook"]) == 0
    assert sorted(path.name for path in at.iterdir()) == ["page.html", "page.ipynb", "page.nc"]
    assert capsys.readouterr().out.splitlines()[-2:] == ["page.html", "page.ipynb"]


@pytest.mark.slow
def test_page_of_a_real_record(at, capsys):
    path = records.SHARED / "USW00014735_albany_ny_daily_1981-2010_degC.csv"
    if not path.exists():
        pytest.skip("the daily record of Albany is not here")
    arguments = ["--lat", "42.75", "--lon", "-73.8", "--crop", "potato"]
    assert main(["page", str(path), "--place", "Albany", *arguments]) == 0
    assert "of 30 years" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["page", "nowhere.csv", "--place", "x", "--crop", "pea"], "nowhere.csv: No such file"),
        (["page", "{sample}", "--place", "x", "--crop", "poe"], "no crop 'poe'. Nearest: pea"),
        (
            ["page", "{sample}", "--place", "x", "--crop", "pea", "--sow", "02-30"],
            "--sow: '02-30' is not",
        ),
        (["page", "{sample}", "--place", " ", "--crop", "pea"], "--place: A place needs a name"),
        (
            ["page", "{sample}", "--place", "x", "--crop", "pea", "--lat", "9"],
            "needs both --lat and --lon, got --lat alone. Add --lon",
        ),
        (["stations", "--place", "x", "--lat", "95", "--lon", "9"], "--lat of 'x'"),
        (["stations", "--place", "Springfieldia"], "No place of"),
        (["store", "remove", "00000"], "has no station '00000'"),
        (
            ["page", "{sample}", "--place", "x", "--crop", "pea", "--need", "400"],
            "between 1 and 365",
        ),
        (["crops", "dahlia"], "No crop, family or season is called 'dahlia'"),
    ],
)
def test_bad_input_is_one_line_and_code_1(at, capsys, arguments, told):
    assert main([a.replace("{sample}", str(sample())) for a in arguments]) == 1
    captured = capsys.readouterr()
    assert told in captured.err
    assert captured.err.startswith("climwin: ")
    assert captured.err.count("\n") == 1
    assert not list(at.glob("*.html"))


def test_a_record_that_does_not_say_where_it_is(at, capsys):
    (at / "r.csv").write_text("date,tmin,tmax\n2020-01-01,1,9\n2020-01-02,2,8\n")
    assert main(["page", "r.csv", "--place", "x", "--crop", "pea"]) == 1
    assert "give coordinates" in capsys.readouterr().err


def test_memory_that_runs_out_is_one_line_and_code_1(capsys, monkeypatch):
    def gone(*_, **__):
        raise MemoryError

    monkeypatch.setattr("climwin.io.daily.read_daily", gone)
    assert main(["inspect", str(sample())]) == 1
    assert capsys.readouterr().err == (
        "climwin: This machine has too little memory for that. Take fewer years, or fewer "
        "stations.\n"
    )


def test_wrong_calls_are_code_2(capsys):
    with pytest.raises(SystemExit) as stop:
        main(["page"])
    assert stop.value.code == 2


def test_crops_lists_and_shows_one(capsys):
    assert main(["crops", "cool"]) == 0
    listed = capsys.readouterr().out
    assert "cauliflower" in listed
    assert "tomato" not in listed
    assert main(["crops", "cauliflower"]) == 0
    assert "Knott's Handbook" in capsys.readouterr().out


def test_the_help_of_a_club_has_a_file_that_is_read(capsys, tmp_path):
    with pytest.raises(SystemExit):
        main(["club", "--help"])
    shown = capsys.readouterr().out
    assert "FILE lists two gardens or more" in shown
    file = tmp_path / "club.toml"
    file.write_text(shown.partition("such as:\n")[2].partition("A record's path")[0])
    club = read_club(file)
    assert [garden.name for garden in club.gardens] == ["Mill allotments", "Upper terrace"]
    assert club.gardens[0].height_m == 420
    assert "A height without a unit is in metres" in " ".join(shown.split())
    assert club.gardens[1].height_m == pytest.approx(3220 * 0.3048)


def test_help_teaches_and_stays_light():
    code = "import sys\nfrom climwin.cli.main import main\n"
    code += "try: main(['--help'])\nfinally: print('\\nmodules', *sys.modules)"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    told, _, loaded = done.stdout.rpartition("\nmodules ")
    assert "climwin page record.csv" in told
    assert not {"matplotlib", "jinja2", "scipy", "pandas", "xarray", "numpy"} & set(loaded.split())


@pytest.mark.parametrize(
    ("text", "told"),
    [
        ("date,tmin,tmax\n2020-07-01,55,75\n2020-07-02,56,76\n", "--record-units F"),
        ("when,a,b\n2020-07-01,5,15\n", "--column date=when"),
        ("date,tmin,tmax\n01/02/2020,5,15\n03/02/2020,5,15\n", "--dates '%d/%m/%Y'"),
    ],
)
def test_errors_advise_what_one_would_type(at, capsys, text, told):
    (at / "r.csv").write_text(text)
    assert main(["inspect", "r.csv"]) == 1
    assert told in capsys.readouterr().err


def test_a_record_and_a_garden_of_which_one_height_is_known(at, capsys):
    page = ["page", str(sample()), "--place", "x", "--lat", "46", "--lon", "7", "--crop", "pea"]
    text = sample().read_text("utf-8")
    (at / "r.csv").write_text("".join(x for x in text.splitlines(True) if "elevation" not in x))
    page[1] = "r.csv"
    assert main([*page, "--elevation", "900", "--at-garden"]) == 1
    assert "Give its metres in a line such as '# elevation: 610'" in capsys.readouterr().err


def test_inspect_shows_what_was_read_and_set_aside(capsys):
    assert main(["inspect", str(sample())]) == 0
    out = capsys.readouterr().out
    assert "tmin from 'tmin'" in out
    # the troubles that data_samples/make_samples.py plants
    assert re.search(r"2009-07-01 to 2009-07-30 tmin \S+ degC: flat line", out)
    assert len(re.findall(r"(?m)^  \S+ tm(?:in|ax) \S+ degC: min above max$", out)) == 2


def test_a_column_of_another_name_is_said(at, capsys):
    (at / "r.csv").write_text("date,a,b\n2020-07-01,5,15\n2020-07-02,6,16\n")
    assert main(["inspect", "r.csv", "--column", "tmin=a", "--column", "tmax=b"]) == 0
    assert "tmin from 'a', tmax from 'b'" in capsys.readouterr().out


@pytest.mark.slow
@pytest.mark.parametrize(("by", "units"), [("2.5", "C"), ("4.5F", "F")])
def test_what_if_it_were_warmer_is_said(at, capsys, by, units):
    arguments = ["page", str(sample()), "--place", "x", "--crop", "cauliflower", "--sow", "04-20"]
    assert main([*arguments, "--warmer", by, "--units", units]) == 0
    said, number = capsys.readouterr().out, by.removesuffix("F")
    assert said.startswith(f"What if it were {number} deg{units} warmer: ")
    assert {"C": "degF", "F": "degC"}[units] not in said
    html = (at / "page.html").read_text("utf-8").replace("\N{NO-BREAK SPACE}", " ")
    assert f"What if it were {number} °{units} warmer" in html
