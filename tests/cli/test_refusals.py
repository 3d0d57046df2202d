"""What a command refuses: what was given, what is allowed, and what to do, each by itself."""

import re

import pytest

from climwin.cli.main import main
from climwin.io.samples import sample

RECORD = str(sample())
NEIGHBOUR = str(sample("pellbrook_hill.csv"))
PEA = ("--crop", "pea")
APPLE = ("--crop", "apple")

REFUSED = {
    "nothing to take off": (
        ("inspect", RECORD, "--adjusted", "new.csv"),
        ("needs the changes to take off", "look at the list first", "then add --accept"),
    ),
    "no list of changes": (
        ("inspect", RECORD, "--adjusted", "n.csv", "--accept", "1", "--neighbour", NEIGHBOUR),
        ("--accept needs the list of changes", "two neighbours or more", "add --neighbour"),
    ),
    "no file to write": (
        ("inspect", RECORD, "--accept", "1", "--neighbour", NEIGHBOUR, "--neighbour", NEIGHBOUR),
        ("--accept needs a file", "add --adjusted and its name"),
    ),
    "a record beside itself": (
        ("inspect", RECORD, "--neighbour", RECORD),
        ("has the temperatures of the record itself", "Name the record of another station"),
    ),
    "gaps filled from the record itself": (
        ("page", RECORD, *PEA, "--fill-from", RECORD),
        ("has the temperatures of the record itself", "Name the record of another station"),
    ),
    "the maximum as the minimum": (
        ("freezes", RECORD, "--column", "tmin=tmax"),
        ("'tmax' is given for tmin, and its name says tmax", "which column is tmax, too: --column"),
    ),
    "a record for a logger": (
        ("space", RECORD, str(sample("frame_logger.csv")), *PEA),
        (
            "a minimum and a maximum of each day",
            "no logger's file",
            "Give readings of an hour or less, and the record in its own place",
        ),
    ),
    "a record for past sowings": (
        ("diary", RECORD, str(sample("past_sowings.csv"))),
        ("is no list of past sowings", "none of the columns crop, way", "Give that list first"),
    ),
    "a folder for the results of many": (
        ("batch", RECORD, *PEA, "--out", "."),
        (". is a folder", "Give the name of a file"),
    ),
    "a page made in days long gone": (
        ("page", RECORD, *PEA, "--made", "1026-11-28"),
        ("--made is the day on which the page is made, in 2000 or later; got 1026-11-28",),
    ),
    "no crops": (("suits", RECORD, "--most", "0"), ("--most must be 1 or more", "got 0")),
    "a calendar that is no table": (
        ("calendar", RECORD, *PEA, "--out", "c.txt"),
        ("a file that ends in .csv", "got 'c.txt'"),
    ),
    "dates as no calendar": (
        ("dates", RECORD, *PEA, "--sow", "04-20", "--out", "d.txt"),
        ("a file that ends in .ics or .csv", "got 'd.txt'"),
    ),
    "a year long ago": (
        ("dates", RECORD, *PEA, "--sow", "04-20", "--year", "1066"),
        ("the year of sowing or planting", "such as 20", "got 1066"),
    ),
    "no way of growing": (
        ("dates", RECORD, *PEA),
        ("how it is started", "--sow MM-DD", "--bought MM-DD", "--raise MM-DD with --weeks and"),
    ),
    "two ways of growing": (
        ("dates", RECORD, *PEA, "--sow", "04-20", "--bought", "05-01"),
        ("those of one way of growing", "Give one of --sow, --raise and --bought"),
    ),
    "a perennial one after another": (
        ("sowings", RECORD, *APPLE),
        ("apple is a perennial", "not sown one after another", "`climwin dates` has its dates"),
    ),
    "a perennial sown": (
        ("page", RECORD, *APPLE, "--sow", "04-20"),
        ("apple is a perennial and comes up by itself", "no date to choose", "Leave --sow out"),
    ),
    "no earliness": (
        ("dates", RECORD, *PEA, "--sow", "04-20", "--earliness", "soon"),
        ("takes early, main, late or the days on a packet", "such as 65", "got 'soon'"),
    ),
    "weeks without raising": (
        ("page", RECORD, *PEA, "--sow", "04-20", "--weeks", "5"),
        (
            "--weeks has no effect without --raise",
            "Give the day of sowing under cover too",
            "03-05",
        ),
    ),
    "fleece without a start": (
        ("page", RECORD, *PEA, "--fleece", "2"),
        (
            "--fleece has no effect without a start of your own",
            "Give --sow MM-DD, --raise MM-DD or --bought MM-DD too",
        ),
    ),
    "a cover without weeks": (
        ("season", RECORD, *PEA, "--cover", "fleece"),
        ("--cover has no effect without --weeks", "Give the weeks under cover too"),
    ),
    "a perennial's season": (
        ("season", RECORD, *APPLE, "--sown", "04-20"),
        ("apple is a perennial and comes up by itself", "no date to give", "Leave --sown out"),
    ),
    "a season as a table": (
        ("season", RECORD, *PEA, "--out", "s.csv"),
        ("files that end in .html or .ics", "got 's.csv'"),
    ),
    "how to read no file": (
        ("season", *PEA, "--lat", "46", "--lon", "7", "--record-units", "F"),
        ("say how a file is to be read, and none was given", "Name your record"),
    ),
    "a station beside a record": (
        ("season", RECORD, *PEA, "--station", "PLB01"),
        ("--station has no effect on a record of your own", "Leave it out, or leave the record"),
    ),
    "a seed below nought": (
        ("trial", "plan", "a", "b", "--seed", "-1"),
        ("a whole number, 0 or more", "got -1"),
    ),
    "a sheet of another kind": (
        ("trial", "plan", "a", "b", "--out", "t.doc"),
        ("ends in .csv, .svg or .png", "got 't.doc'"),
    ),
    "a sheet that is there": (
        ("trial", "plan", "a", "b", "--out", RECORD),
        (f"{RECORD} is there already, perhaps filled in", "Give another file with --out"),
    ),
    "odds that no date reaches": (
        ("sowings", RECORD, "--crop", "sweet potato", "--sow", "05-20", "--odds", "100%"),
        (
            "No start date reaches the odds 1 for sweet potato",
            "Lower --odds, or raise it under cover with --raise",
        ),
    ),
    "a calendar without a date": (
        ("calendar", RECORD, "--crop", "chayote", "--odds", "100%"),
        ("No start date reaches the odds 1 here for chayote", "Lower --odds to accept less"),
    ),
    "a page made in days to come": (
        ("page", RECORD, *PEA, "--made", "2999-01-01"),
        (
            "--made is the day on which the page is made",
            "at the latest; got 2999-01-01",
            "Leave it out",
        ),
    ),
    "a club's page made in days to come": (
        ("club", str(sample("club.toml")), "--made", "2999-01-01"),
        ("--made is the day on which the page is made", "at the latest; got 2999-01-01"),
    ),
    "a radius of nothing": (
        ("stations", "--lat", "46", "--lon", "7", "--radius", "0"),
        ("--radius must be more than 0 km", "got 0"),
    ),
    "a crop that nobody knows": (
        ("crops", "potatoe"),
        (
            "No crop, family or season is called 'potatoe'",
            r"Nearest: [^.]*\bpotato\b[^.]*\.",
            r"Families: [^.]*\bnightshade\b[^.]*\.",
            "Seasons: cool, warm",
            "`climwin crops` lists all",
        ),
    ),
    "a word like no other": (
        ("crops", "xqzxqz"),
        ("is called 'xqzxqz'. Families: ",),
    ),
    "units of a list": (
        ("crops", "cool", "--units", "F"),
        ("--units has no effect on a list", "has no temperatures", "Name one crop"),
    ),
    "past sowings in today's climate": (
        ("diary", str(sample("past_sowings.csv")), RECORD, "--climate", "today"),
        ("--climate today has no place here", "your sowings are past", "Leave it out"),
    ),
    "a page without a name": (
        ("page", "--crop", "pea", "--lat", "46.1", "--lon", "7.2"),
        ("A page needs the name of its place", "Give --place, with any name you will recognise"),
    ),
    "the height of a garden without a height": (
        ("page", RECORD, *PEA, "--at-garden"),
        (
            "--at-garden has no effect without the garden's height",
            "Give --elevation too, such as 260 or 850ft",
        ),
    ),
    "no day to sow on": (("dates", RECORD, *PEA, "--sow", "02-30"), ("--sow", "02-30")),
    "no day to raise on": (("dates", RECORD, *PEA, "--raise", "02-30"), ("--raise", "02-30")),
    "no day to set out on": (("dates", RECORD, *PEA, "--bought", "02-30"), ("--bought", "02-30")),
    "a garden's height beside its thermometer": (
        ("page", RECORD, *PEA, "--at-garden", "--elevation", "260", "--thermometer", NEIGHBOUR),
        (
            "--at-garden has no effect with --thermometer, whose offsets move the temperatures, "
            "and by height in the months without readings",
            "Leave one of the two out",
        ),
    ),
    "spells that are no table": (
        ("spells", RECORD, *PEA, "--out", "s.txt"),
        ("--out takes a file that ends in .csv", "got 's.txt'"),
    ),
    "freezes that are neither table nor picture": (
        ("freezes", RECORD, "--out", "f.txt"),
        ("--out takes a file that ends in .csv", "got 'f.txt'"),
    ),
    "no first day in a space": (
        ("space", str(sample("frame_logger.csv")), RECORD, *PEA, "--first", "02-30"),
        ("--first", "02-30"),
    ),
    "no last day in a space": (
        ("space", str(sample("frame_logger.csv")), RECORD, *PEA, "--last", "02-30"),
        ("--last", "02-30"),
    ),
    "no warmer": (
        ("page", RECORD, *PEA, "--warmer", "0"),
        ("--warmer 0 has no effect", "the degrees by which the years are to be warmer"),
    ),
    "a paper that nothing is printed on": (
        ("page", RECORD, *PEA, "--paper", "A4"),
        ("--paper has no effect without --pdf", "Add --pdf to print the page to a PDF as well"),
    ),
    "the unit of a logger that a page has not": (
        ("page", RECORD, *PEA, "--logger-units", "F"),
        ("--logger-units has no effect without --logger", "Name the logger's file too"),
    ),
    "nights above 50 degF": (
        ("freezes", RECORD, "--nights", "0C", "--nights", "12.5C"),
        ("--nights takes nights of up to 10 degC (50 degF)", "got 12.5 degC", "Is its unit right"),
    ),
    "a cover beside a logger": (
        ("page", RECORD, "--crop", "pea", "--raise", "03-01", "--cover", "fleece", "--logger", "x"),
        (
            "--cover has no effect with --logger: plants are raised in the space that was logged",
            "Leave one of the two out",
        ),
    ),
    "the unit of no logger": (
        ("diary", str(sample("past_sowings.csv")), RECORD, "--logger-units", "F"),
        ("--logger-units has no effect without --logger", "Name the logger's file too"),
    ),
    "a diary that is no table": (
        ("diary", str(sample("past_sowings.csv")), RECORD, "--out", "d.txt"),
        ("a file that ends in .csv", "got 'd.txt'"),
    ),
    "a hindcast that is no table": (
        ("hindcast", RECORD, "--out", "h.txt"),
        ("a file that ends in .csv", "got 'h.txt'"),
    ),
    "a latitude alone": (
        ("stations", "--lat", "46"),
        ("needs both --lat and --lon", "got --lat alone", "Add --lon"),
    ),
    "a longitude alone": (
        ("stations", "--lon", "7"),
        ("needs both --lat and --lon", "got --lon alone", "Add --lat"),
    ),
    "nowhere": (
        ("stations",),
        ("Where is it?", "Give --place with a town's name, or --lat and --lon"),
    ),
}
"""What is typed, and what the refusal says of it: each a claim of its own."""


@pytest.mark.parametrize("what", REFUSED)
def test_a_refusal_says_what_was_given_what_is_allowed_and_what_to_do(
    what, capsys, tmp_path, monkeypatch
):
    monkeypatch.chdir(tmp_path)
    typed, claims = REFUSED[what]
    with pytest.MonkeyPatch.context() as at:
        at.setenv("COLUMNS", "1000")
        try:
            code = main([*typed])
        except SystemExit as end:  # argparse's own
            code = end.code
    said = " ".join(capsys.readouterr().err.split())
    assert code in (1, 2), said
    assert [claim for claim in claims if not re.search(_pattern(claim), said)] == [], said
    assert list(tmp_path.iterdir()) == []


def test_a_trial_without_a_unit_says_which_there_are(tmp_path, capsys):
    sheet = tmp_path / "trial.csv"
    lines = sample("bed_trial.csv").read_text().splitlines()
    head = next(n for n, line in enumerate(lines) if line.startswith("block,"))
    rows = [f"{line},{n % 5}" for n, line in enumerate(lines[head + 1 :], 3)]
    sheet.write_text("\n".join([*lines[:head], f"{lines[head]},vigour", *rows]) + "\n")
    assert main(["trial", "read", str(sheet), "--measure", "vigour"]) == 1
    said = capsys.readouterr().err
    for claim in ("'vigour' in the sheet's head has no unit", "--unit g", "--unit score"):
        assert claim in said


@pytest.mark.parametrize(("treatments", "what"), [(2, "pairs"), (3, "blocks of 3")])
def test_a_trial_of_two_has_pairs_and_one_of_more_has_blocks(capsys, treatments, what):
    asked = ("--difference", "80", "--spread", "120", "--treatments", str(treatments))
    assert main(["trial", "size", *asked]) == 0
    assert re.match(rf"\d+ {what} see a difference of 80\b", capsys.readouterr().out)


def _pattern(claim):
    return claim if "\\b" in claim else re.escape(claim)
