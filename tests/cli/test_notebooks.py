"""The notebooks run from the command line, with values of one's own.

That one answers for another place and crop is asked in tests/notebooks, where it is looked at too.
"""

import re

import nbformat
import pytest

from climwin.cli.lab import originals
from climwin.cli.main import main
from climwin.cli.notebooks import defaults, opened, with_values


@pytest.fixture
def at(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("path", originals(), ids=lambda p: p.stem)
def test_the_cell_that_writes_a_page_is_tagged_for_the_command(path):
    cells = [cell for cell in nbformat.read(path, 4).cells if cell.cell_type == "code"]
    for cell in cells:
        assert ("page" in cell.metadata.get("tags", [])) == ("write_page(" in cell.source)


def test_it_is_kept_as_a_notebook_too(at, capsys):
    asked = ["--set", "pairs=6", "--out", "ours.ipynb"]
    assert main(["notebook", "a_trial_this_season", *asked]) == 0
    assert capsys.readouterr().out == "ours.ipynb\n"  # it writes no page to share
    book = nbformat.read(at / "ours.ipynb", 4)
    [given] = [c for c in book.cells if "injected-parameters" in c.metadata.get("tags", [])]
    assert given.source.splitlines()[0] == "pairs = 6"
    assert given.outputs[0]["text"] == "pairs = 6\n"


def test_its_figures_are_drawn_for_a_page_and_for_a_phone(at):
    """Text that can be found, no picture; a notebook that is kept has pictures."""
    asked = ["how_is_this_year_going", "--set", "units=F"]
    for out in ("going.html", "going.ipynb"):
        assert main(["notebook", *asked, "--out", out]) == 0
    html = (at / "going.html").read_text("utf-8")
    assert "data:image/png" not in html
    drawn = re.findall(
        r'<div class="(\w+)-only" role="img" aria-label="([^"]+)">(.*?)</div>', html, re.DOTALL
    )
    assert [kind for kind, _, _ in drawn] == ["wide", "narrow"]
    for _, finding, svg in drawn:
        assert finding.startswith("Expect to pick the first peas about Jul")
        written = " ".join(re.findall(r"<text[^>]*>([^<]*)</text>", svg))
        assert re.search(r"Apr \d", written)
        assert not re.search(r"\d Apr", written)
        assert "var(--c" in svg
    widths = [float(re.search(r'viewBox="0 0 ([\d.]+)', svg)[1]) for _, _, svg in drawn]
    assert widths[1] * 16 / 12 < 390 < widths[0] * 16 / 12  # points as pixels
    assert "Tested on long records" in html
    book = nbformat.read(at / "going.ipynb", 4)
    kinds = {kind for c in book.cells for o in c.get("outputs", []) for kind in o.get("data", {})}
    assert "image/png" in kinds


def test_it_speaks_the_english_of_the_units_that_are_set(at, capsys):
    assert main(["notebook", "more_from_one_bed", "--set", "units=F", "--out", "bed.html"]) == 0
    html = (at / "bed.html").read_text("utf-8").replace("\N{NO-BREAK SPACE}", " ")
    said = re.sub(r"<(style|script).*?</\1>|<[^>]*>", " ", html, flags=re.DOTALL)
    assert re.search(r"\b(?:Apr|May|Jun) \d", said)
    assert not re.search(r"\b\d{1,2} (?:Mar|Apr|May|Jun|Jul|Aug|Sep|Oct)\b", said)
    capsys.readouterr()
    asked = ["sow_or_raise", "--set", "units=F", "--set", "sow_on=31-31"]
    assert main(["notebook", *asked]) == 1
    assert "'31-31'" in capsys.readouterr().err  # as it was typed


@pytest.mark.parametrize("path", originals(), ids=lambda p: p.stem)
def test_what_can_be_set_is_read_from_its_cell(path):
    book = nbformat.read(path, 4)
    [cell] = [c for c in book.cells if "parameters" in c.metadata.get("tags", [])]
    names = {}
    exec(cell.source, {}, names)
    assert defaults(cell.source) == names


def test_values_are_read_as_the_notebooks_own_are():
    given = [("sow_on", "5-01"), ("place", "7"), ("latitude", "-44"), ("weeks", "4")]
    book, own = with_values(opened("sow_or_raise"), given), {}
    for cell in book.cells:
        if {"parameters", "injected-parameters"} & {*cell.metadata.get("tags", [])}:
            exec(cell.source, own)
    assert [own[name] for name, _ in given] == ["5-01", "7", -44, 4]


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["sow_or_raised"], "no notebook 'sow_or_raised'; there are a_trial_this_season"),
        (
            ["sow_or_raise", "--set", "crop=pea"],
            "no 'crop'; what can be set is record, record_units, place",
        ),
        (["sow_or_raise", "--set", "weeks=six"], "weeks is a value such as 6; got 'six'"),
        (["which_crops_suit", "--set", "covers=none"], r"such as ['none', 'cold frame']; got"),
    ],
)
def test_what_cannot_be_set_is_told(at, capsys, arguments, told):
    assert main(["notebook", *arguments]) == 1
    assert told in capsys.readouterr().err
    assert list(at.iterdir()) == []


def test_without_a_name_the_notebooks_are_listed(at, capsys):
    assert main(["notebook"]) == 1
    text = capsys.readouterr().err
    assert text.startswith("climwin: Name a notebook, such as")
    assert all(book.stem in text for book in originals())


def test_a_value_without_a_name_is_a_wrong_call(capsys):
    with pytest.raises(SystemExit, match="2"):
        main(["notebook", "sow_or_raise", "--set", "pea"])
    assert "write NAME=VALUE, such as crop_name=pea; got 'pea'" in capsys.readouterr().err
