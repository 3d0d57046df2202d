"""Commands of the growing season, on the sample's logger and trial sheet."""

import re

import pandas as pd
import pytest

from climwin.cli.main import main
from climwin.crops.catalogue import crop
from climwin.io.loggers import read_logger
from climwin.io.samples import sample


def run(capsys, *arguments):
    code = main([str(a) for a in arguments])
    captured = capsys.readouterr()
    return code, captured.out, captured.err


def test_space_tells_the_logged_period_and_all_years(capsys):
    files = (sample("frame_logger.csv"), sample())
    code, out, _ = run(capsys, "space", *files, "--crop", "cauliflower")
    assert code == 0
    assert f"\ncauliflower, {crop('cauliflower').stages[0].name}\n" in out
    # the sample's script warms the frame's nights by about 3 degC (data_samples/make_samples.py)
    lift = float(re.search(r"minimum inside = (\S+) °C", out)[1])
    assert 2 < lift < 4
    for side in ("cold", "hot"):
        pattern = (
            rf"a day too {side} in (\d+) % of \d+ years: likely in (\d+)(?: to (\d+))? of the next "
            r"ten \((\d+) to (\d+) % in the long run\)"
        )
        own, fewest, most, low, high = (int(n or 0) for n in re.search(pattern, out).groups())
        assert low <= own <= high
        assert fewest <= (most or fewest) <= 10
    share = int(re.search(r"a day too hot in (\d+) %", out)[1])
    assert ("On bright days it is too hot " in out) == (share > 10)
    assert "carbon monoxide" in out


def test_space_writes_its_dates_as_its_reader_does(capsys, tmp_path):
    cold = read_logger(sample("frame_logger.csv"))["temperature"].to_series()
    day = cold.idxmin()
    leap = tmp_path / "leap.csv"
    hours = pd.date_range("2024-02-29", "2024-04-09 23:00", freq="h")
    rows = "".join(f"{when:%Y-%m-%d %H:%M},{8 + when.hour / 4}\n" for when in hours)
    leap.write_text("time,temperature\n" + rows)
    files = (sample("frame_logger.csv"), sample(), "--crop", "cauliflower")
    _, out, _ = run(capsys, "space", *files)
    assert f" on {day.day} {day:%b} {day.year} at {day:%H:%M}" in out
    _, out, _ = run(capsys, "space", *files, "--units", "F", "--first", "03-05", "--last", "04-16")
    assert f" on {day:%b} {day.day}, {day.year} at {day:%H:%M}" in out
    assert "From Mar 5 to Apr 16, over the whole record:" in out
    assert re.findall("^  a day too (cold|hot) in ", out, re.MULTILINE) == ["cold", "hot"]
    code, out, err = run(capsys, "space", leap, *files[1:])
    assert code == 0, err
    assert "From 28 Feb to 9 Apr, over the whole record:" in out  # a year of 365 days


def test_space_names_the_stages_there_are(capsys):
    files = (sample("frame_logger.csv"), sample())
    code, _, err = run(capsys, "space", *files, "--crop", "cauliflower", "--stage", "bloom")
    assert code == 1
    stages = ", ".join(stage.name for stage in crop("cauliflower").stages)
    assert f"--stage must be one of {stages}; got 'bloom'" in err


def test_a_trial_from_the_plan_to_the_result(capsys, tmp_path):
    sheet = tmp_path / "trial.csv"
    bed = tmp_path / "bed.png"
    told = ("--blocks", "4", "--crop", "cauliflower", "--out", sheet, "--out", bed)
    code, out, _ = run(capsys, "trial", "plan", "here", "there", *told)
    assert code == 0
    assert bed.read_bytes().startswith(b"\x89PNG")
    assert out.startswith("block 1: ")
    lines = sheet.read_text().splitlines()
    assert len(lines) == 2 + 8
    filled = lines[:2]
    for line in lines[2:]:
        cells = line.split(",")
        block = int(cells[0])
        cells[5] = str(10 + block + (3 + block % 2 if cells[2] == "there" else 0))
        filled.append(",".join(cells))
    sheet.write_text("\n".join(filled) + "\n")
    told = ("--measure", "heads", "--against", "here", "--crop", "cauliflower")
    code, out, _ = run(capsys, "trial", "read", sheet, *told)
    assert code == 0
    assert "With there, 3.5 more heads a plot were cut than with here" in out
    assert "One season on one bed cannot tell" in out


def test_how_many_pairs(capsys):
    code, out, _ = run(capsys, "trial", "size", "--difference", "0.5", "--spread", "1")
    # 34 pairs for d = 0.5, power 0.8, level 0.05: J. Cohen, Statistical Power Analysis, 1988
    # (from memory)
    assert (code, out.split()[0]) == (0, "34")


def test_a_plan_has_the_crops_own_columns_and_its_bed_drawn(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    code, out, _ = run(capsys, "trial", "plan", "a", "b", "--crop", "potatoes", "--unit", "lb")
    assert code == 0
    head = (tmp_path / "trial.csv").read_text().splitlines()[1]
    assert head == "block,plot,treatment,planted,harvested,tubers,weight_lb,notes"
    assert out.splitlines()[-2:] == ["trial.csv", "trial.svg"]
    drawn = (tmp_path / "trial.svg").read_text()
    assert drawn.count('<g id="patch_') >= 2 * 12  # each plot has its paint and its frame
    code, _, err = run(capsys, "trial", "plan", "a", "b")
    assert code == 1
    assert "trial.csv is there already, perhaps filled in" in err


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (
            ("trial", "read", "{bare}", "--measure", "yield"),
            "'yield' in the sheet's head has no unit. Give it, such as --unit g",
        ),
        (("trial", "plan", "a", "b", "--unit", "stone"), "--unit must be one of g, kg, oz, lb"),
        (("trial", "plan", "a", "b", "--crop", "potatoe"), "Nearest: potato"),
        (("trial", "plan", "a", "b", "--out", "bed.gif"), "ends in .csv, .svg or .png"),
        (("trial", "read", "{trial}", "--measure", "wieght"), "got 'wieght'"),
        (("trial", "plan", "here"), "at least two treatments"),
        (
            ("trial", "size", "--difference", "0", "--spread", "1"),
            "--difference must not be 0 and --spread must be above 0",
        ),
    ],
)
def test_bad_input_is_one_line(capsys, tmp_path, monkeypatch, arguments, told):
    monkeypatch.chdir(tmp_path)
    (tmp_path / "bare.csv").write_text(
        "block,plot,treatment,yield\n1,1,a,4\n1,2,b,5\n2,3,b,3\n2,4,a,3"
    )
    given = [
        a.replace("{trial}", str(sample("bed_trial.csv"))).replace("{bare}", "bare.csv")
        for a in arguments
    ]
    code, _, err = run(capsys, *given)
    assert code == 1
    assert told in err
    assert err.count("\n") == 1
