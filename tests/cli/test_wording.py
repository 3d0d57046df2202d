"""Errors at the command: each names the option that is wrong, and none speaks Python."""

import re
from dataclasses import fields
from importlib.resources import files

import pytest

from climwin.cli.main import COMMANDS, main, parser
from climwin.cli.options import parsed, typed_names
from climwin.cli.wording import explain, in_the_shell
from climwin.core.errors import Attribute, Call, InputError, Parameter
from climwin.crops.model import Crop
from climwin.io.daily import read_daily
from climwin.io.samples import sample

RECORD, LOGGER, SHEET, DIARY = "record.csv", "logger.csv", "sheet.csv", "diary.csv"
CLUB = """
name = "Pellbrook club"
crop = "pea"
gardens = [
    { name = "A", record = 'RECORD', latitude = 46.1, longitude = 7.2 },
    { name = "B", record = 'RECORD', latitude = 46.2, longitude = 7.2 },
]
"""

RIGHT = {
    "demo": (),
    "page": (RECORD, "--place", "here", "--crop", "pea"),
    "club": ("club.toml",),
    "notebook": ("sow_or_raise",),
    "inspect": (RECORD,),
    "freezes": (RECORD,),
    "weeks": (RECORD, "--crop", "pea"),
    "spells": (RECORD, "--crop", "pea"),
    "hindcast": (RECORD,),
    "stations": ("--place", "46.1, 7.2"),
    "fetch": ("--place", "46.1, 7.2"),
    "crops": ("pea",),
    "suits": (RECORD,),
    "calendar": (RECORD, "--crop", "pea"),
    "sowings": (RECORD, "--crop", "pea", "--sow", "04-01"),
    "dates": (RECORD, "--crop", "pea", "--sow", "04-01"),
    "season": (RECORD, "--crop", "pea", "--on", "2024-05-15"),
    "space": (LOGGER, RECORD, "--crop", "pea"),
    "diary": (DIARY, RECORD),
    "trial plan": ("here", "there"),
    "trial size": ("--difference", "1", "--spread", "1"),
    "trial read": (SHEET, "--measure", "heads"),
    "batch": ("stations.csv", "--crop", "pea"),
}
"""A right call of every command that takes options."""

READING = {
    "--record-units": ["K"],
    "--dates": ["%d"],
    "--column": ["tmin", "leaf=Low", "tmin=Low"],
}
PLACE = {
    "--place": [" "],
    "--lat": ["95 --lon 7", "north", "46"],
    "--lon": ["200 --lat 46", "east", "7"],
    "--elevation": ["99999", "high", "850 yards"],
}
PERIOD = {"--first-year": ["soon", "2010 --last-year 2001"], "--last-year": ["soon"]}
START = {
    "--crop": ["poe"],
    "--sow": ["02-30"],
    "--raise": ["13-01", "4/5"],
    "--weeks": ["six", "999 --raise 03-05", "0 --raise 03-05", "4"],
    "--fleece": ["six", "999"],
    "--cover": ["igloo", "igloo --raise 03-05", "fleece"],
    "--bought": ["02-30"],
    "--earliness": ["soon", "3 --sow 04-01", "65"],
    "--bed": ["gravel", "gravel --sow 04-01", "mulched"],
}
PLANNED = START | {
    "--earliness": ["soon", "3"],
    "--bed": ["gravel"],
    "--fleece": ["six", "999"],
}
"""The same for commands whose right call has a start already."""
SHOWN = {"--units": ["K"]}
CLIMATE = {"--climate": ["future"]}
STYLE = SHOWN | {"--paper": ["A0", "A4"]}

WRONG = {
    "demo": STYLE | {"--out": ["a-file/x.html", "."]},
    "page": READING
    | PLACE
    | PERIOD
    | START
    | STYLE
    | {
        "--station": ["10637"],
        "--thermometer": ["nowhere.csv"],
        "--logger": ["nowhere.csv", f"{LOGGER} --cover fleece"],
        "--logger-units": ["K", "F"],
        "--fill-from": ["nowhere.csv", f"{RECORD} --fill-from nowhere.csv"],
        "--warmer": ["warm", "nan", "0", "3K"],
        "--need": ["400", "long"],
        "--made": ["today"],
        "--out": ["a-file/x.html", "."],
        "--fleece": ["six", "999 --sow 04-01", "2"],
    },
    "club": STYLE | {"--made": ["today"], "--out": ["a-file/x.html", "."]},
    "notebook": {"--set": ["crop", "crop=pea", "weeks=six"], "--out": ["x.doc"]},
    "freezes": READING
    | PLACE
    | CLIMATE
    | SHOWN
    | {
        "--nights": ["cold", "28", "99C"],
        "--on": ["02-30", "4/5"],
        "--out": ["x.doc", "a-file/x.csv"],
    },
    "weeks": READING
    | PLACE
    | CLIMATE
    | SHOWN
    | {"--crop": ["poe"], "--out": ["x.doc", "a-file/x.csv"]},
    "spells": READING
    | PLACE
    | START
    | SHOWN
    | {
        "--need": ["400", "long"],
        "--fleece": ["six", "999 --sow 04-01", "2"],
        "--out": ["x.doc", "a-file/x.csv"],
    },
    "hindcast": READING | PLACE | SHOWN | {"--out": ["x.doc", "a-file/x.csv"]},
    "inspect": READING
    | PLACE
    | SHOWN
    | {"--neighbour": ["nowhere.csv"], "--accept": ["one", "1"], "--adjusted": ["x.csv", "."]},
    "stations": PLACE
    | PERIOD
    | SHOWN
    | {"--radius": ["0", "wide", "5 leagues"], "--place": [" ", "Springfieldia", "95N 7E"]},
    "fetch": PLACE
    | PERIOD
    | SHOWN
    | {"--station": ["!!"], "--place": [" ", "Nowhereville"], "--neighbour": ["nowhere.csv"]},
    "crops": SHOWN,
    "suits": READING | PLACE | CLIMATE | SHOWN | {"--season": ["wet"], "--most": ["0", "all"]},
    "calendar": READING
    | PLACE
    | CLIMATE
    | SHOWN
    | {
        "--crop": ["poe"],
        "--odds": ["2", "0", "good", "80"],
        "--out": ["x.doc", "a-file/x.csv"],
    },
    "sowings": READING
    | PLACE
    | PLANNED
    | CLIMATE
    | SHOWN
    | {"--every": ["0", "often"], "--odds": ["2", "good"]},
    "dates": READING
    | PLACE
    | PLANNED
    | CLIMATE
    | SHOWN
    | {"--year": ["0", "next"], "--out": ["x.doc", "nowhere/x.ics"]},
    "season": READING
    | PLACE
    | CLIMATE
    | {
        "--station": ["10637"],
        "--crop": ["poe"],
        "--sown": ["02-30", "2024-06-01", "2020-01-01"],
        "--weeks": ["six", "999 --cover fleece"],
        "--cover": ["igloo --weeks 4", "fleece"],
        "--fleece": ["six", "999"],
        "--earliness": ["soon", "3"],
        "--bed": ["gravel"],
        "--on": ["15 May", "2099-01-01", "1980-01-01"],
        "--units": ["K"],
        "--out": ["x.doc", "a-file/x.html", "."],
    },
    "space": READING
    | PLACE
    | CLIMATE
    | SHOWN
    | {
        "--crop": ["poe"],
        "--stage": ["bloom"],
        "--logger-units": ["K"],
        "--zone": ["Mars/Base"],
        "--first": ["02-30"],
        "--last": ["02-30"],
    },
    "diary": READING
    | PLACE
    | SHOWN
    | {
        "--climate": ["future", "today"],
        "--logger": ["nowhere.csv", LOGGER],
        "--logger-units": ["K", "F"],
        "--out": ["x.doc", "a-file/x.csv"],
    },
    "trial plan": {
        "--blocks": ["1", "few"],
        "--seed": ["-1", "lucky"],
        "--crop": ["poe"],
        "--unit": ["stone"],
        "--out": ["nowhere/x.csv", "x.gif"],
    },
    "trial size": {
        "--difference": ["0", "big"],
        "--spread": ["0", "wide"],
        "--treatments": ["1", "few"],
        "--unit": ["stone"],
    },
    "trial read": {
        "--measure": ["length"],
        "--against": ["nobody"],
        "--crop": ["poe"],
        "--unit": ["stone", "kg"],
    },
    "batch": CLIMATE
    | {
        "--crop": ["poe"],
        "--workers": ["0", "few"],
        "--cluster": ["nowhere://1"],
        "--batch-size": ["0", "few"],
        "--out": ["x.doc", "a-file/x.nc"],
    },
}
"""Wrong values of every option; another option that it needs may follow the value."""

CASES = [
    (name, option, value)
    for name, options in WRONG.items()
    for option, values in options.items()
    for value in values
]
PYTHON = re.compile(
    r"\bcw\.|\bclimwin\.\w+|\bNone\b|\bTrue\b|\bFalse\b|\bargument\b|Error\b|"
    r"\bstrptime\b|\binvalid (?:int|float) value|=['\"]"
)
"""What only someone who writes Python would understand."""
OWN_NAMES = ("--set", "--measure")
"""Options whose values are names: of a notebook's parameters, of a sheet's columns."""
SNAKE_CASE = re.compile(r"\b[a-z]+(?:_[a-z]+)+\b")


def flags(name):
    """Options of a command that take a value."""
    [command] = [each for each in COMMANDS if each.name == name]
    switches = {
        "--few-years",
        "--pdf",
        "--at-garden",
        "--notebook",
        "--force",
        "--join",
        "--as-root",
    }
    switches |= {"--bought-plants", "--as-root"}
    return {typed for typed in typed_names(command.options).values() if "--" in typed} - switches


def test_every_option_of_every_command_is_tried():
    every = {command.name: flags(command.name) for command in COMMANDS}
    assert {name: options for name, options in every.items() if options} == {
        name: set(options) for name, options in WRONG.items()
    }


@pytest.fixture
def desk(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("CLIMWIN_DATA", str(tmp_path / "store"))
    (tmp_path / "a-file").write_text("")
    names = {"pellbrook_valley.csv": RECORD, "frame_logger.csv": LOGGER, "bed_trial.csv": SHEET}
    names["past_sowings.csv"] = DIARY
    for name, file in names.items():
        (tmp_path / file).write_bytes(sample(name).read_bytes())
    (tmp_path / "club.toml").write_text(CLUB.replace("RECORD", RECORD))
    rows = f"station,latitude,longitude,record\nS1,46.1,7.2,{RECORD}\n"
    (tmp_path / "stations.csv").write_text(rows)
    return tmp_path


def called(name, option, value):
    """Arguments of a right call, with one option wrong."""
    right = list(RIGHT[name])
    value, *more = value.split(" --")
    more = [word for each in more for word in f"--{each}".split()]
    if option in right:
        at = right.index(option)
        del right[at : at + 2]
    if option in ("--raise", "--bought") and "--sow" in right:
        right[right.index("--sow") :] = []
    if option in ("--lat", "--lon") and name in ("stations", "fetch"):
        right = []
    return [*name.split(), *right, option, value, *more]


@pytest.mark.parametrize(("name", "option", "value"), CASES)
def test_a_wrong_value_is_told_by_its_option_and_without_python(
    desk, capsys, monkeypatch, name, option, value
):
    if (name, option) == ("fetch", "--neighbour"):
        daily = read_daily(RECORD)
        monkeypatch.setattr("climwin.stations.history.fetch_history", lambda *_, **__: daily)
    try:
        code = main(called(name, option, value))
    except SystemExit as stop:
        code = stop.code
    error = capsys.readouterr().err
    assert code in (1, 2), error
    text = error.rpartition("error: ")[2].removeprefix("climwin: ")  # argparse's usage comes first
    assert "Traceback" not in error
    assert re.search(rf"(?<![\w-]){re.escape(option)}(?![\w-])", text), text
    assert not PYTHON.findall(text), text
    if option not in OWN_NAMES:
        assert not SNAKE_CASE.findall(text), text


# --- a crop file of one's own -------------------------------------------------------------

OWN_CROP = (files("climwin.crops") / "data" / "tomato.toml").read_text("utf-8")
WRONG_CROPS = [
    ("base_c = 7.0", "base_c = 25", "response: .* base_c < optimum_from_c .* got 25, 22, 28, 45"),
    (
        "maximum_c = 45.0",
        "maximum_c = 100.4",
        "response: maximum_c must lie .* got 100.4. Is it in",
    ),
    ("optimum_low_c = 15.6", "optimum_low_c = 45", "germination: .* got 10, 45, 29.4, 35"),
    ("[10, 43]", "[20, 43]", r"germination: days_at_c must be pairs .* got \[20, 43\], \[15, 14\]"),
    ("days_source", "# ", "germination: days_at_c is given without days_source. Say where"),
    ('"setting out"', '"seed"', "counted_from must be one of sowing, setting out; got 'seed'"),
    ("early = 55.0", "early = 80", "maturity: days .* early <= main <= late, got 80, 72, 88"),
    ("killed_at_c = 0.0", "killed_at_c = 3", "stages 1, cold: killed_at_c must not .* got 3 and 0"),
    ("share = 0.3", "share = 0.1", "shares of its stages must add up to 1, got 0.8"),
    (
        "night_low_c = 10.0",
        "night_low_c = 25",
        "stages 2, setting: .* got 25 and 23.9, 18 and 32.2",
    ),
    ("harvested = true", "", "mark the stage that is harvested with harvested = true"),
    ("days = 5", "days = 0", "chilling: days must be more than 0, got 0"),
    ("fewest = 5", "fewest = 9", "weeks_under_cover: .* fewest <= usual <= most, got 9, 6, 7"),
    ("[maturity]", "[maturities]", "unknown key 'maturities'. Did you mean maturity"),
    ('season = "warm"', 'season = "hot"', "season must be one of cool, warm; got 'hot'"),
]
USES = (("crops", "mine.toml"), ("dates", RECORD, "--crop", "mine.toml", "--sow", "04-20"))


@pytest.mark.parametrize("use", USES, ids=["crops", "dates"])
@pytest.mark.parametrize(("old", "new", "says"), WRONG_CROPS)
def test_a_wrong_crop_file_is_told_by_its_own_keys(desk, capsys, use, old, new, says):
    assert old in OWN_CROP
    (desk / "mine.toml").write_text(OWN_CROP.replace(old, new, 1), "utf-8")
    assert main(use) == 1
    text = capsys.readouterr().err
    assert re.search(f"mine.toml.*{says}", text), text
    assert not PYTHON.findall(text), text
    keys = {word for word in SNAKE_CASE.findall(text) if "'" not in word}
    assert all(key in OWN_CROP + ALL_KEYS for key in keys), keys


ALL_KEYS = " ".join(each.name for each in fields(Crop))


def test_a_crop_file_is_read_back_in_sentences(desk, capsys):
    (desk / "mine.toml").write_text(OWN_CROP, "utf-8")
    said = []
    for given in ("tomato", "mine.toml"):
        assert main(["crops", given]) == 0
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]
    assert said[0].startswith("Tomato (Solanum lycopersicum)")


# --- files and words that are wrong -------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        (("crops", "nowhere.toml"), "nowhere.toml cannot be read: No such file"),
        (("crops", RECORD), "No crop, family or season is called 'record.csv'"),
        (("inspect", "nowhere.csv"), "No such file"),
        (("inspect", "."), "is a folder, a pipe or a device. Give a file"),
        (("inspect", SHEET), "has no date column that is known by its name"),
        (
            ("suits", LOGGER),
            "24 readings a day: it is a logger's file. A record has one row a day",
        ),
        (("suits", LOGGER), "`climwin space logger.csv record.csv`"),
        (
            ("trial", "plan", "here", "here"),
            "got 'here' and 'here'. Give for example 'sown in place'",
        ),
        (("trial", "plan", "here"), "different names, got 'here'"),
        (("trial", "read", RECORD, "--measure", "heads"), "record.csv lacks block, plot"),
        (("trial", "size", "--difference", "0.001", "--spread", "50"), "More than 10,000 pairs"),
        (("sowings", RECORD, "--crop", "apple", "--sow", "04-01"), "there is no date to choose"),
        (("store", "remove", "nothing"), "The local store has no station 'nothing'"),
        (("store", "export", "nothing", "x.doc"), "The local store has no station"),
        (("club", "lone.toml"), "compares two gardens or more"),
        (("club", "far.toml"), "lie between -90 and 90, got 96.1"),
        (("batch", "north.csv", "--crop", "pea"), "line 2: latitude must be a number, got 'north'"),
        (
            ("space", SHEET, RECORD, "--crop", "pea"),
            "sheet.csv has no header with 'time' and 'temperature' in its first 60 lines",
        ),
        (("notebook", "nothing"), "There is no notebook 'nothing'"),
    ],
)
def test_a_wrong_file_or_word_is_told_without_python(desk, capsys, arguments, says):
    garden = f"name = 'A', record = '{RECORD}', longitude = 7.2"
    head = 'name = "club"\ncrop = "pea"\ngardens = ['
    (desk / "lone.toml").write_text(f"{head}{{ {garden}, latitude = 46.1 }}]")
    second = garden.replace("'A'", "'B'")
    both = f"{{ {garden}, latitude = 46.1 }}, {{ {second}, latitude = 96.1 }}]"
    (desk / "far.toml").write_text(head + both)
    (desk / "north.csv").write_text(f"station,latitude,longitude,record\nS1,north,7.2,{RECORD}\n")
    assert main(arguments) == 1
    text = capsys.readouterr().err
    assert says in text
    assert not PYTHON.findall(text), text
    assert not re.search(r"\[['\"]|\{['\"]|\w+\(\)", text), text  # no list, table or call of Python


# --- options without effect ---------------------------------------------------------------

PAGE = ("page", RECORD, "--place", "here", "--crop", "pea")


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((*PAGE, "--weeks", "6"), "--weeks has no effect without --raise"),
        ((*PAGE, "--sow", "04-01", "--cover", "fleece"), "--cover has no effect without --raise"),
        ((*PAGE, "--fleece", "3"), "--fleece has no effect without a start"),
        ((*PAGE, "--earliness", "65"), "--earliness has no effect without a start"),
        ((*PAGE, "--bed", "mulched"), "--bed has no effect without a start"),
        ((*PAGE, "--bought", "05-01", "--weeks", "4"), "--weeks has no effect without --raise"),
        (("dates", RECORD, "--crop", "asparagus", "--bought", "04-01"), "Leave --bought out"),
        ((*PAGE, "--paper", "Letter"), "--paper has no effect without --pdf"),
        ((*PAGE, "--station", "10637"), "--station has no effect on a record of your own"),
        ((*PAGE, "--first-year", "2001"), "--first-year has no effect on a record of your own"),
        (("page", "--place", "x", "--crop", "pea", "--dates", "%d/%m/%Y"), "none was given"),
        (("page", "--place", "x", "--crop", "pea", "--record-units", "F"), "none was given"),
        (("dates", RECORD, "--crop", "asparagus", "--weeks", "3"), "Leave --weeks out"),
        (
            ("dates", RECORD, "--crop", "pea", "--sow", "04-01", "--raise", "03-01"),
            "Give one of --sow, --raise and --bought",
        ),
        (
            ("inspect", RECORD, "--column", "tmin=a", "--column", "tmin=b"),
            "--column names 'tmin' twice, 'a' and 'b'",
        ),
        (
            ("notebook", "sow_or_raise", "--set", "weeks=4", "--set", "weeks=5"),
            "--set names 'weeks' twice, '4' and '5'",
        ),
    ],
)
def test_an_option_without_effect_is_refused_with_its_use(desk, capsys, arguments, says):
    assert main(arguments) == 1
    assert says in capsys.readouterr().err
    assert not list(desk.glob("*.html"))


def test_an_option_given_twice_is_a_wrong_call(capsys):
    with pytest.raises(SystemExit, match="2"):
        main([*PAGE, "--crop", "potato"])
    assert (
        "--crop is given twice, pea and potato. Take one crop at a time" in capsys.readouterr().err
    )


def test_batch_takes_several_crops_as_its_help_says(capsys):
    typed = parser().parse_args(["batch", "s.csv", "--crop", "pea", "--crop", "potato"])
    assert parsed(typed.command.options, typed).crops == ("pea", "potato")
    with pytest.raises(SystemExit, match="0"):
        main(["batch", "--help"])
    assert "may be repeated" in " ".join(capsys.readouterr().out.split())


# --- near names ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("arguments", "says"),
    [
        ((*PAGE[:-1], "tomatto"), "Nearest: tomato"),
        (("crops", "tomatto"), "Nearest: tomato"),
        ((*PAGE, "--raise", "03-05", "--cover", "Cold Fram"), "Did you mean 'cold frame'?"),
        ((*PAGE, "--raise", "03-05", "--cover", "greenhouse"), "frost-free greenhouse"),
    ],
)
def test_near_names_are_offered(desk, capsys, arguments, says):
    assert main(arguments) == 1
    assert says in capsys.readouterr().err


# --- how mentions are spelled -------------------------------------------------------------

NAMES = {"units": "--record-units", "columns": "--column", "few_years": "--few-years"}


@pytest.mark.parametrize(
    ("mention", "typed"),
    [
        (Parameter("units"), "--record-units"),
        (Parameter("units", "F"), "--record-units F"),
        (Parameter("few_years", True), "--few-years"),
        (Parameter("columns", {"tmin": "Low"}), "--column tmin=Low"),
        (Parameter("columns", {"tmin": "Day's low"}), "--column tmin='Day'\"'\"'s low'"),
        (Parameter("share_in_band", 0.7), "share in band 0.7"),
        (Call("crop_names"), "`climwin crops`"),
        (Call("find_stations", ("garden",)), "`climwin stations`"),
        (
            Call("find_stations", ("garden", Parameter("radius_km", 100))),
            "`climwin stations --radius 100`",
        ),
        (Attribute("latitude", 46.1), "a line such as '# latitude: 46.1' above the record's table"),
        (Attribute("elevation"), "a line such as '# elevation: 610' above the record's table"),
    ],
)
def test_mentions_are_spelled_as_one_types_them(mention, typed):
    assert in_the_shell(mention, NAMES) == typed


def test_a_latitude_is_typed_where_the_command_has_the_option():
    typed = in_the_shell(Attribute("latitude", 46.1), {"latitude": "--lat"})
    assert typed.startswith("--lat 46.1 and --lon 7.2, or a line such as")


@pytest.mark.parametrize(
    "arguments",
    [
        ("suits",),
        ("calendar", "--crop", "pea"),
        ("sowings", "--crop", "pea", "--sow", "04-01"),
        ("dates", "--crop", "pea", "--sow", "04-01"),
    ],
)
def test_a_record_without_a_latitude_is_told_how_to_give_it(desk, capsys, arguments):
    lines = (desk / RECORD).read_text("utf-8").splitlines(keepends=True)
    nowhere = "".join(line for line in lines if "latitude" not in line)
    (desk / RECORD).write_text(nowhere, "utf-8")
    name, *rest = arguments
    assert main([name, RECORD, *rest]) == 1
    error = capsys.readouterr().err
    assert "--lat 46.1 and --lon 7.2" in error
    assert not PYTHON.findall(error)


def test_an_option_that_the_text_does_not_mention_goes_before_it():
    error = InputError("It is no day.", parameter="units")
    assert explain(error, NAMES) == "--record-units: It is no day."
    assert explain(InputError("It is no day."), NAMES) == "It is no day."


# --- slips of the hand --------------------------------------------------------------------

SLIPS = [
    ((*PAGE, "--elevaton", "850ft"), "Did you mean --elevation?"),
    ((*PAGE, "--elevaton", "850ft"), "`climwin page --help`"),
    (("suits", RECORD, "--crop", "pea"), "'--crop pea' is not understood here. Leave it out"),
    (("suits", RECORD, "--seson", "cool"), "Did you mean --season?"),
    # No option may be shortened: it could be short for another than the one meant.
    (("suits", RECORD, "--seas", "cool"), "'--seas cool' is not understood here. Did you mean"),
    (
        ("space", "--logger", "frame.csv", RECORD, "--crop", "pea"),
        "LOGGER is typed without --logger.",
    ),
    ((*PAGE, "--at-garden"), "--at-garden has no effect without the garden's height"),
    ((*PAGE, "--warmer", "30F"), "--warmer takes up to 10 degC (18 degF)"),
    ((*PAGE, "--out", "page.pdf"), "ends in .html, got 'page.pdf'. Add --pdf"),
    ((*PAGE[:-1], "pea,potato"), "--crop takes one crop at a time; got 'pea,potato'"),
    (("dates", RECORD, "--crop", "pea", "--sow", "04-15", "--year", "27"), "such as 2027; got 27"),
    (("season", RECORD, "--crop", "pea", "--weeks", "4", "--cover", "shed"), "one of fleece, cold"),
    (("season", RECORD, "--crop", "pea", "--out", "."), "end in .html or .ics, got '.'"),
    (("trial", "plan", "a", "b", "--out", "."), "ends in .csv, .svg or .png, got '.'"),
    (("inspect", "recrod.csv"), "Did you mean record.csv?"),
    (("inspect", "nothing-like-it.csv"), "Check its name, and the folder that you are in."),
    (("club", "clbu.toml"), "Did you mean club.toml?"),
    (("diary", "order.csv", RECORD), "may be day/month or month/day, 2 in all. Write them as"),
    (
        ("batch", "stations.csv", "--crop", "pea", "--out", "there.nc"),
        "is there already. Remove it",
    ),
]


@pytest.mark.parametrize(("arguments", "says"), SLIPS)
def test_a_slip_is_answered_with_what_to_type(desk, capsys, arguments, says):
    head = "crop,way,sown,set_out,harvested,failed"
    (desk / "order.csv").write_text(f"{head}\npea,in place,4/10/2010,,7/1/2010,\n")
    (desk / "there.csv").write_text("mine")
    try:
        code = main(arguments)
    except SystemExit as stop:
        code = stop.code
    error = capsys.readouterr().err
    assert code in (1, 2)
    assert says in error
    assert "did not write it" not in error
    assert not list(desk.glob("*.html"))


def test_a_file_of_another_name_is_not_offered_for_its_ending(desk, capsys):
    assert main(["inspect", "nothere.csv"]) == 1
    assert "Did you mean" not in capsys.readouterr().err
