"""Every command as a new user types it: once right, and three times slightly wrong.

What stands beside each call is what it says; a wrong call is answered in one line that says what
to do, and writes nothing.
"""

import os
import re
import shutil
import subprocess
import sys

import pytest
from standin import StandIn, pointed_at

from climwin.cli.lab import originals
from climwin.cli.main import COMMANDS, main
from climwin.cli.options import typed_names
from climwin.io.daily import read_daily
from climwin.io.exports import to_csv
from climwin.io.samples import sample

R = "record.csv"
AT = ("--lat", "46.1", "--lon", "7.2")
CLUB = """
name = "Pellbrook club"
crop = "pea"
gardens = [
    { name = "Low", record = 'record.csv', latitude = 46.1, longitude = 7.2 },
    { name = "High", record = 'record.csv', latitude = 46.2, longitude = 7.2, elevation = 640 },
]
"""
DIARY = "crop,way,sown,harvested,failed\nPeas,in place,2015-04-10,2015-07-05,\n"

CALLS = {
    "demo": (
        (),  # runs in tests/cli/test_main.py
        "",
        [
            (("demo", "--units", "K"), "--units takes C, or F"),
            (("demo", "--paper", "A4"), "--paper has no effect without --pdf"),
            (("demo", "--out", "."), ". is a folder"),
        ],
    ),
    "page": (
        ("page", R, "--crop", "Cauliflowers", "--logger", "frame.csv", "--elevation", "2100ft"),
        "For young cauliflower plants the frame is ",
        [
            (("page", R, "--crop", "potatoe"), "Nearest: potato"),
            (
                ("page", R, "--crop", "pea", "--cover", "nonsense"),
                "must be one of fleece, cold frame",
            ),
            (("page", R, "--crop", "pea", "--weeks", "6"), "--weeks has no effect without --raise"),
        ],
    ),
    "club": (
        ("club", "club.toml"),
        "club.html",
        [
            (("club", "clubs.toml"), "No such file or directory. Did you mean club.toml?"),
            (("club", "alone.toml"), "compares two gardens or more"),
            (("club", "units.toml"), "record_units must be one of C, F; got 'K'"),
        ],
    ),
    "lab": (
        ("lab", "desk"),
        "desk",
        [
            (("lab", "a-file"), "a-file"),
            (("lab", "desk", "more"), "'more' is not understood"),
            (("lab", "--folder", "desk"), "'--folder' is not understood"),
        ],
    ),
    "notebook": (
        ("notebook", "a_trial_this_season", "--set", "pairs=6"),
        "a_trial_this_season.html",
        [
            (("notebook", "sow_or_rais"), "Did you mean sow_or_raise?"),
            (("notebook", "sow_or_raise", "--set", "crp_name=pea"), "Did you mean crop_name?"),
            (("notebook", "sow_or_raise", "--set", "weeks=six"), "weeks is a value such as 6"),
        ],
    ),
    "inspect": (
        ("inspect", R, "--units", "F", "--elevation", "3300 ft"),
        "ft above the station",
        [
            (("inspect", "recrod.csv"), "Did you mean record.csv?"),
            (("inspect", R, "--elevation", "850 yards"), "such as 260 or 850ft; got '850 yards'"),
            (("inspect", R, "--units", "Kelvin"), "takes C, or F"),
        ],
    ),
    "freezes": (
        ("freezes", R, "--on", "10 May", "--nights", "-2.2 °C"),
        "on this day or later",
        [
            (("freezes", R, "--nights", "28"), "with its unit, such as -2C or 28F; got '28'"),
            (("freezes", R, "--nights", "28C"), "Is its unit right?"),
            (("freezes", R, "--on", "10/5"), "'10-05' (5 Oct) or '05-10' (10 May)"),
        ],
    ),
    "weeks": (
        ("weeks", R, "--crop", "peas"),
        "peas are comfortable here for",
        [
            (("weeks", R), "Missing: --crop"),
            (("weeks", R, "--crop", "pea", "--crop", "bean"), "is given twice"),
            (("weeks", R, "--crop", "pea", "--out", R), "is a file that this command reads"),
        ],
    ),
    "spells": (
        ("spells", R, "--crop", "Peas", "--need", "80"),
        "long enough for peas",
        [
            (("spells", R, "--crop", "pee"), "Nearest: pea"),
            (("spells", R, "--crop", "pea", "--need", "400"), "between 1 and 365, got 400"),
            (("spells", R, "--crop", "pea", "--out", "x.png"), "takes a file that ends in .csv"),
        ],
    ),
    "hindcast": (
        ("hindcast", "whole.csv"),
        "hindcast.csv",
        [
            (("hindcast", R), "40 are the least"),
            (("hindcast", "whole.csv", "--out", "x.txt"), "takes a file that ends in .csv"),
            (("hindcast", "whole.csv", "--lat", "46"), "Add --lon"),
        ],
    ),
    "stations": (
        ("stations", *AT, "--units", "F", "--radius", "30mi", "--first-year", "2003"),
        "miles",
        [
            (("stations", "--place", "Lebannon, NH"), "Did you mean Lebanon, New Hampshire"),
            (("stations", *AT, "--radius", "30 leagues"), "such as 50 or 30mi; got '30 leagues'"),
            (("stations", "--lon", "7.2"), "got --lon alone. Add --lat"),
        ],
    ),
    "fetch": (
        ("fetch", *AT, "--first-year", "2021", "--last-year", "2022"),
        "Pellbrook Mill",
        [
            (("fetch", "--place", "Grennoble"), "Did you mean Grenoble"),
            (("fetch", *AT, "--first-year", "2022", "--last-year", "2021"), "must not end before"),
            (("fetch",), "Give --place with a town's name"),
        ],
    ),
    "store list": (
        ("store", "list"),
        "No station is stored yet",
        [
            (("store", "lists"), "got 'lists'"),
            (("store",), "Missing: ACTION"),
            (("store", "list", "more"), "'more' is not understood"),
        ],
    ),
    "store check": (
        ("store", "check"),
        "is short, absent or doubtful",
        [
            (("store", "chek"), "got 'chek'"),
            (("store", "check", "PLB01"), "'PLB01' is not understood"),
            (("store", "check", "--all"), "'--all' is not understood"),
        ],
    ),
    "store refresh": (
        None,
        "",
        [
            (("store", "refresh"), "Missing: ID"),
            (("store", "refresh", "PLB01"), "has no station 'PLB01'"),
            (("store", "refresh", "PLB01", "last"), "takes a year"),
        ],
    ),
    "store remove": (
        None,
        "",
        [
            (("store", "remove"), "Missing: ID"),
            (("store", "remove", "PLB01"), "has no station 'PLB01'"),
            (("store", "remove", "PLB01", "2001"), "'2001' is not understood"),
        ],
    ),
    "store export": (
        None,
        "",
        [
            (("store", "export", "PLB01"), "Missing: FILE"),
            (("store", "export", "PLB01", "x.csv"), "has no station 'PLB01'"),
            (("store", "export", "PLB01", "x.csv", "y"), "'y' is not understood"),
        ],
    ),
    "crops": (
        ("crops", "Tomatoes", "--units", "fahrenheit"),
        "°F",
        [
            (("crops", "potatoe"), "Nearest: potato"),
            (("crops", "cool", "--units", "F"), "--units has no effect on a list of crops"),
            (("crops", "mine.toml"), "mine.toml cannot be read"),
        ],
    ),
    "suits": (
        ("suits", R, "--season", "cool", "--most", "3", "--units", "F"),
        "years",
        [
            (("suits", R, "--season", "spring"), "got 'spring'"),
            (("suits", R, "--most", "0"), "--most must be 1 or more, got 0"),
            (("suits", R, "--dates", "d/m/y"), "--dates"),
        ],
    ),
    "calendar": (
        ("calendar", R, "--crop", "pea", "--odds", "70%"),
        "calendar.csv",
        [
            (("calendar", R, "--crop", "pea", "--odds", "80"), "Did you mean 80%, which is 0.8?"),
            (("calendar", R, "--crop", "peaa"), "Nearest: pea"),
            (("calendar", R, "--crop", "pea", "--out", "x.png"), "takes a file that ends in .csv"),
        ],
    ),
    "sowings": (
        ("sowings", R, "--crop", "lettuce", "--sow", "1 Apr", "--units", "F"),
        "harvest begins",
        [
            (
                ("sowings", R, "--crop", "lettuce", "--sow", "4/5"),
                "'4/5' may be '04-05' (5 Apr) or '05-04' (4 May).",
            ),
            (("sowings", R, "--crop", "lettuce"), "Say how it is started: --sow MM-DD"),
            (("sowings", R, "--crop", "lettuce", "--sow", "04-01", "--every", "0"), "--every"),
        ],
    ),
    "dates": (
        ("dates", R, "--crop", "pea", "--raise", "03-05", "--cover", "Cold Frame"),
        "sown in a cold frame 5 Mar",
        [
            (
                ("dates", R, "--crop", "pea", "--raise", "5.3."),
                "'05-03' (3 May) or '03-05' (5 Mar)",
            ),
            (
                ("dates", R, "--crop", "pea", "--raise", "03-05", "--cover", "cold fram"),
                "Did you mean 'cold frame'?",
            ),
            (("dates", R, "--crop", "pea", "--sow", "04-01", "--year", "27000"), "such as 2027"),
        ],
    ),
    "season": (
        ("season", "whole.csv", "--crop", "Peas", "--sown", "04-28", "--on", "2024-06-14", *AT),
        "This is not a weather forecast",
        [
            (("season", R, "--crop", "pee"), "Nearest: pea"),
            (("season", R, "--crop", "pea", "--on", "2030-02-21"), "such as --on 2024-01-01"),
            (("season", R, "--crop", "pea", "--sown", "8.4"), "'04-08' (8 Apr)"),
        ],
    ),
    "space": (
        ("space", "frame.csv", R, "--crop", "cauliflower", "--units", "F"),
        "°F + ",
        [
            (("space", R, "frame.csv", "--crop", "cauliflower"), R),
            (
                ("space", "frame.csv", R, "--crop", "pea", "--stage", "seedlin"),
                "--stage must be one of",
            ),
            (("space", "frame.csv", R, "--crop", "pea", "--first", "3/10"), "'03-10' (10 Mar)"),
        ],
    ),
    "diary": (
        ("diary", "diary.csv", "whole.csv", "--few-years"),
        "days on the packet",
        [
            (("diary", "diary.csv"), "Missing: RECORD"),
            (("diary", "whole.csv", "diary.csv"), "whole.csv is no list of past sowings"),
            (("diary", "diary.csv", R, "--out", "x.txt"), "takes a file that ends in .csv"),
        ],
    ),
    "trial plan": (
        ("trial", "plan", "sown in place", "raised in a frame", "--crop", "Potatoes"),
        "trial.svg",
        [
            (("trial", "plan", "sown in place"), "got 'sown in place'"),
            (("trial", "plan", "a", "b", "--blocks", "1"), "--blocks"),
            (("trial", "plan", "a", "b", "--out", "no/x.csv"), "there is no folder no"),
        ],
    ),
    "trial size": (
        ("trial", "size", "--difference", "500", "--spread", "900", "--unit", "g"),
        "pairs see a difference of 500 g",
        [
            (("trial", "size", "--difference", "500"), "Missing: --spread"),
            (("trial", "size", "--difference", "500g", "--spread", "900"), "takes a number"),
            (("trial", "size", "--difference", "0", "--spread", "900"), "--difference"),
        ],
    ),
    "trial read": (
        ("trial", "read", "filled.csv", "--measure", "weight_g", "--crop", "cauliflower"),
        "weight of heads cut",
        [
            (("trial", "read", "filled.csv"), "Missing: --measure"),
            (("trial", "read", "filled.csv", "--measure", "weights"), "weight_g"),
            (("trial", "read", "filled.csv", "--measure", "heads", "--unit", "g"), "says count"),
        ],
    ),
    "batch": (
        ("batch", "stations.csv", "--crop", "pea", "--out", "many.nc"),
        "many.nc",
        [
            (("batch", "stations.csv", "--crop", "peaa"), "Nearest: pea"),
            (("batch", "station.csv", "--crop", "pea"), "station.csv"),
            (("batch", "stations.csv", "--crop", "pea", "--out", "x.doc"), "--out"),
        ],
    ),
}
"""Each command: a right call, what it says, and three wrong ones with what they say."""


@pytest.fixture(scope="module")
def files(tmp_path_factory):
    """A folder with all that the calls read."""
    folder = tmp_path_factory.mktemp("desk")
    # Twelve years of the sample: a test of words needs no more.
    to_csv(read_daily(sample()).sel(time=slice("2012", "2023")), folder / R)
    for name, file in {
        "pellbrook_valley.csv": "whole.csv",
        "frame_logger.csv": "frame.csv",
        "bed_trial.csv": "filled.csv",
    }.items():
        (folder / file).write_bytes(sample(name).read_bytes())
    (folder / "diary.csv").write_text(DIARY)
    (folder / "a-file").write_text("")
    (folder / "club.toml").write_text(CLUB)
    (folder / "alone.toml").write_text(re.sub(".*High.*", "", CLUB))
    (folder / "units.toml").write_text(CLUB.replace("elevation = 640", 'record_units = "K"'))
    rows = f"station,latitude,longitude,record\nS1,46.1,7.2,{R}\n"
    (folder / "stations.csv").write_text(rows)
    return folder


@pytest.fixture
def desk(tmp_path, monkeypatch, files):
    """A copy of that folder, in which a command works."""
    desk = shutil.copytree(files, tmp_path / "desk")
    monkeypatch.chdir(desk)
    monkeypatch.setenv("CLIMWIN_DATA", str(desk / "store"))
    return desk


def said(capsys, arguments):
    """What a call says, and its exit code."""
    try:
        code = main(arguments)
    except SystemExit as stop:
        code = stop.code
    shown = capsys.readouterr()
    return code, shown.out, shown.err


def test_every_command_is_here():
    assert list(CALLS) == [command.name for command in COMMANDS]
    assert all(len(wrong) == 3 for _, _, wrong in CALLS.values())


@pytest.mark.parametrize("name", [name for name, (right, _, _) in CALLS.items() if right])
def test_a_right_call_answers(desk, capsys, monkeypatch, name):
    right, says, _ = CALLS[name]
    if name == "lab":  # JupyterLab itself is opened elsewhere
        monkeypatch.setattr("climwin.cli.lab.subprocess.run", lambda *_, **__: None)
        monkeypatch.setattr("climwin.cli.lab.os.geteuid", lambda: 1000, raising=False)
    if name in ("stations", "fetch"):
        with StandIn() as server:  # in a process of its own, which asks this server and no other
            done = subprocess.run(
                [sys.executable, "-m", "climwin", *right],
                capture_output=True,
                text=True,
                encoding="utf-8",
                env=os.environ | server.settings,
                check=False,
            )
        code, out, err = done.returncode, done.stdout, done.stderr
    else:
        code, out, err = said(capsys, right)
    assert code == 0, err
    if name == "lab":
        assert {path.name for path in (desk / says).iterdir()} == {
            book.name for book in originals()
        }
    else:
        assert says in out, out


DATES_OF_OTHERS = {
    "C": r"\b(?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)[a-z]* \d{1,2}\b(?! |\d)",
    "F": r"\b\d{1,2}[ \u00a0](?:Jan|Feb|Mar|Apr|May|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b",
}
OF_OTHERS = {
    "C": rf"\b[Ff]reezes?\b|\d ?(?:°|deg)F|\d (?:ft|miles?)\b|{DATES_OF_OTHERS['C']}",
    "F": rf"\d ?(?:°|deg)C|\d (?:km|cm|mm|m)\b|{DATES_OF_OTHERS['F']}",
}
"""Turns that a reader of these units never meets: the other's dates, units and word for frost."""
SPEAKING = [
    command.name
    for command in COMMANDS
    if "--units" in typed_names(command.options).values() and command.name != "demo"
]
WRITTEN = {"dates": ["dates.ics"], "season": ["season.ics"], "calendar": [], "hindcast": []}
"""Files of text that a call writes beside what it prints."""


@pytest.mark.parametrize("units", ["C", "F"])
@pytest.mark.parametrize("name", SPEAKING)
def test_a_command_speaks_one_english(desk, capsys, name, units):
    right = [*CALLS[name][0]]
    if "--units" in right:
        place = right.index("--units")
        del right[place : place + 2]
    if name == "crops":
        right[1] = "garlic"
    if name == "season":
        right += ["--out", "season.ics"]
    with StandIn() as server, pointed_at(server):
        code, out, err = said(capsys, [*right, "--units", units])
    text = out + err
    assert code == 0, text
    text += "".join((desk / file).read_text("utf-8") for file in WRITTEN.get(name, []))
    said_here = [line for line in text.splitlines() if not line.startswith("[")]  # but sources
    turns = [line for line in said_here if re.search(OF_OTHERS[units], line)]
    assert not turns


ADVICE = re.compile(
    r"such as|one of|takes |Nearest|Did you mean|must |between|may be|at least|at most|`climwin|"
    r"\b(?:Give|Add|Leave|Write|Say|Name|Take|Put|Make|Correct|Check|Choose|Set|give)\b"
)
"""What is allowed, or what to do."""
SNAKE_CASE = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")
SHEET_AND_FILES = [
    *(path.stem for path in originals()),  # notebooks, by name
    *("crop_name", "sow_on", "raise_on", "record_units"),  # values of a notebook; keys of a club
    *("weight_g", "days_to_harvest", "set_out", "packet_days"),  # columns
]
"""Names with an underscore that people type or read in their own files."""

WRONG = [(name, *call) for name, (_, _, calls) in CALLS.items() for call in calls]


@pytest.mark.parametrize(("name", "arguments", "says"), WRONG)
def test_a_slightly_wrong_call_says_what_to_do(desk, capsys, name, arguments, says):
    before = sorted(path.name for path in desk.iterdir())
    code, out, err = said(capsys, arguments)
    assert code in (1, 2), out
    text = err.rpartition("error: ")[2].removeprefix("climwin: ").strip()
    assert says in text, text
    assert "Traceback" not in err
    assert code == 2 or "\n  File" not in err
    # What was given is repeated, unless it is what lacks; and what is allowed or to do is said.
    words = [word for word in arguments if word in text] or re.findall("Missing|Give|Say", text)
    assert words, text
    assert ADVICE.search(text), text
    own = " ".join([*arguments, *SHEET_AND_FILES])
    unquoted = re.sub(r"'[^']*'", "", text)  # in quotes stands what a file has
    assert not [word for word in SNAKE_CASE.findall(unquoted) if word not in own], text
    after = sorted(path.name for path in desk.iterdir() if path.name != "store")
    assert after == [each for each in before if each != "store"]


def test_the_advice_on_a_loggers_columns_works(desk, capsys):
    lines = (desk / "frame.csv").read_text("utf-8").splitlines()
    start = next(n for n, line in enumerate(lines) if line.startswith("time,"))
    lines[start] = "When,Inside"
    (desk / "frame.csv").write_text("\n".join(lines), "utf-8")
    call = ("space", "frame.csv", R, "--crop", "cauliflower")
    code, _, err = said(capsys, call)
    assert code == 1
    assert "--column time=" in err
    code, out, err = said(
        capsys, (*call, "--column", "time=When", "--column", "temperature=Inside")
    )
    assert (code, err) == (0, "")
    assert "hours were right for growth" in out
