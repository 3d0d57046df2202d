"""Every notebook runs from top to bottom on the sample, and is kept short and without outputs."""

import ast
import json
import re
import subprocess
import sys
from pathlib import Path

import nbformat
import numpy as np
import pytest
from axe_playwright_python.sync_playwright import Axe
from jupyter_client.manager import start_new_kernel
from nbclient import NotebookClient
from standin import StandIn
from test_language import BANNED, MOST_WORDS

import climwin as cw
from climwin.cli.lab import copy_notebooks
from climwin.climate.level import LEAST_LEVEL_YEARS

NOTEBOOKS = sorted((Path(__file__).parents[2] / "notebooks").glob("*.ipynb"))
QUESTIONS = (
    *("a_trial_this_season", "a_year_at_a_place", "compare_two_gardens", "explore_a_location"),
    *("had_you_asked_then", "how_is_this_year_going", "how_often_too_short"),
    *("is_the_frame_warm_enough", "many_stations"),
    *("more_from_one_bed", "sow_or_raise", "start_here", "which_crops_suit"),
)
CHOICES = {
    "explore_a_location": {"crop_name": "pea", "units": "F"},
    "had_you_asked_then": {"units": "F"},
    "how_is_this_year_going": {"units": "F"},
    "how_often_too_short": {"crop_name": "lettuce", "need_days": 50, "units": "F"},
    "many_stations": {"stations": 30, "crop_names": ["pea"], "shown": "pea"},
    "more_from_one_bed": {"units": "F"},
    "sow_or_raise": {"units": "F"},
    "which_crops_suit": {"covers": ["none"], "rows": 3, "units": "F"},
}
"""Another crop and other units, for some: what stands in the notebook is the sample's own."""
MAKES = {
    "a_trial_this_season": "trial-sheet.csv",
    "explore_a_location": "pellbrook-mill-pea.html",
    "how_often_too_short": "pellbrook-mill-lettuce.html",
    "sow_or_raise": "pellbrook-mill-cauliflower.html",
    "start_here": "pellbrook-mill-cauliflower.html",
    "which_crops_suit": "pellbrook-mill-pea.html",
}


RAW = re.compile(
    r"^(?:None|True|False|[-\d.e+]+|[\[({<].*)$|\w+\(.*\)|<xarray|object at 0x", re.DOTALL
)
"""What Python shows of a value that nobody put into words: numbers, containers, calls."""
MOST_ROWS = 12


@pytest.fixture(scope="module")
def desk(tmp_path_factory):
    """Copies of the notebooks in a folder of someone's own."""
    return copy_notebooks(tmp_path_factory.mktemp("desk"))


def tagged(book):
    return [c for c in book.cells if "parameters" in c.metadata.get("tags", [])]


@pytest.fixture(scope="module")
def kernel(desk):
    """A kernel on the desk for all notebooks: what they import takes two seconds."""
    manager, client = start_new_kernel(kernel_name="python3", cwd=str(desk))
    client.stop_channels()
    yield manager
    manager.shutdown_kernel(now=True)


def run(book, folder, kernel=None, **options):
    """The notebook, run from top to bottom in a folder; a cell that fails fails the test.

    A kernel that has run another one forgets its names first. Without one, a kernel is started.
    """
    where = {"metadata": {"path": str(folder)}}
    if kernel:
        book.cells.insert(0, nbformat.v4.new_code_cell("%reset -f"))
    client = NotebookClient(
        book, km=kernel, timeout=300, resources=where, kernel_name="python3", **options
    )
    client.execute()
    if kernel:
        client.kc.stop_channels()
        del book.cells[0]
    return [c for c in book.cells if c.cell_type == "code"]


def shown(cells, kind):
    return [o["data"][kind] for c in cells for o in c.outputs if kind in o.get("data", {})]


def plain_texts(cells):
    """What a cell's value is shown as where it is neither a picture, nor a table, nor a panel."""
    rich = {"image/png", "text/html", "application/vnd.jupyter.widget-view+json"}
    data = [o["data"] for c in cells for o in c.outputs if "data" in o]
    return [each["text/plain"] for each in data if not rich & {*each}]


BRITISH_DATE = re.compile(
    r"\b\d{1,2}\s(?:January|February|March|April|May|June|July|August|September|October|November|"
    r"December|Jan|Feb|Mar|Apr|Jun|Jul|Aug|Sep|Oct|Nov|Dec)\b"
)
FREEZE = re.compile(r"\b[Ff]reezes?\b")
TEXT = ("text/html", "text/plain")


def read_aloud(cells):
    """All that a notebook's cells show as text, without the tags."""
    data = [o["data"] for c in cells for o in c.outputs if "data" in o]
    texts = [re.sub(r"<[^>]*>", " ", each[kind]) for each in data for kind in TEXT if kind in each]
    return [*texts, *(o["text"] for c in cells for o in c.outputs if "text" in o)]


def test_a_raw_object_would_be_seen():
    for value in (Path("x"), cw.crop("pea"), np.ones(2), cw.freeze_dates, 3, None, (1, 2), {}):
        assert RAW.search(repr(value))
    assert not RAW.search("The page: pellbrook.html")


def test_each_question_has_its_notebook():
    assert tuple(path.stem for path in NOTEBOOKS) == QUESTIONS


@pytest.mark.parametrize("name", QUESTIONS)
def test_it_runs_on_a_desk_of_ones_own(name, desk, kernel):
    book = nbformat.read(desk / f"{name}.ipynb", 4)
    chosen = CHOICES.get(name, {})
    [parameters] = tagged(book)
    made = desk / MAKES.get(name, "nothing")
    made.unlink(missing_ok=True)
    assert all(f"\n{key} = " in f"\n{parameters.source}" for key in chosen)
    parameters.source += "".join(f"\n{key} = {value!r}" for key, value in chosen.items())
    cells = run(book, desk, kernel)
    assert all(c.execution_count for c in cells)
    views = shown(cells, "application/vnd.jupyter.widget-view+json")
    forms = [c for c in cells if "start_form" in c.source]  # nothing to picture
    # A panel's picture, where no script runs.
    assert len(shown(cells, "image/png")) >= len(views) - len(forms)
    outputs = [o.get("data", {}) for c in cells for o in c.outputs]
    drawn = [data for data in outputs if "<Figure" in data.get("text/plain", "")]
    assert all("image/png" in data for data in drawn)  # a picture, not its name alone
    assert name not in MAKES or made.stat().st_size > 100
    assert [text for text in plain_texts(cells) if RAW.search(text)] == []
    wrong = BRITISH_DATE if chosen.get("units") == "F" else FREEZE
    assert [text for text in read_aloud(cells) if wrong.search(text)] == []
    rows = [html.count("<tr") for html in shown(cells, "text/html") if "dataframe" in html]
    assert all(count <= MOST_ROWS + 2 for count in rows)  # two rows may be heads
    printed = "".join(o.get("text", "") for c in cells for o in c.outputs)
    reads = any("read_daily" in c.source for c in cells)
    assert ("It has grown warmer here" in printed) == reads  # as the sample has


def test_a_place_is_explored_by_the_stations_around(desk, monkeypatch, tmp_path):
    book = nbformat.read(desk / "explore_a_location.ipynb", 4)
    tagged(book)[0].source += "\nfetch = True\nlatitude, longitude, elevation = 46.1, 7.2, 640"
    with StandIn() as server:
        for name, value in (server.settings | {"CLIMWIN_DATA": f"{tmp_path}"}).items():
            monkeypatch.setenv(name, value)
        cells = {cell.id: cell for cell in run(book, desk)}
    assert shown([cells["explore-stations"]], "image/png")  # the map
    assert "99 % of the days" in shown([cells["explore-reasons"]], "text/html")[0]
    assert "Pellbrook Mill (PLB01) chosen" in cells["explore-04"].outputs[0].text


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_it_is_short_and_kept_without_outputs(path):
    book = nbformat.read(path, 4)
    cells = [c for c in book.cells if c.cell_type == "code"]
    assert all(not c.outputs and c.execution_count is None for c in cells)
    own_form = path.stem == "start_here"  # its values are in the form
    for cell in cells:
        is_folded = cell.metadata.get("jupyter", {}).get("source_hidden", False)
        tags = cell.metadata.get("tags", [])
        assert is_folded == ("hide-input" in tags)  # of JupyterLab and of the reference pages
        assert is_folded == (own_form or "parameters" not in tags)
    source = "\n".join(c.source for c in cells)
    assert "def " not in source
    assert len([line for line in source.splitlines() if line.strip()]) <= 45
    assert book.cells[0].source.startswith("# ")
    assert "Take care." in book.cells[-1].source
    assert json.loads(path.read_text("utf-8"))["metadata"]["kernelspec"]["name"] == "python3"


def displayed(tree):
    """Calls of climwin whose result a cell prints, displays or ends with."""
    for statement in ast.walk(tree):
        if not isinstance(statement, ast.Expr):
            continue
        shows = ast.unparse(statement.value).startswith(("print(", "display("))
        for each in statement.value.args if shows else [statement.value]:
            given = ast.unparse(each)
            if "cw." in given:
                yield given.removeprefix("*")


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_what_it_shows_is_in_the_english_of_its_units(path):
    """Panels turn their own text; so does the form; a page's name has nothing to turn."""
    cells = [c.source for c in nbformat.read(path, 4).cells if c.cell_type == "code"]
    if not any("units = " in source for source in cells):
        assert path.stem == "many_stations"  # which shows neither dates nor temperatures
        return
    own = ("panel(", "write_page(", "pairs_needed(", "to_csv(", "write_text(")
    trees = [ast.parse(source) for source in cells]
    given = [each for tree in trees for each in displayed(tree)]
    assert [g for g in given if not g.startswith("english(") and not any(o in g for o in own)] == []


def prose(path):
    """Sentences of a notebook, without the code in them."""
    texts = [c.source for c in nbformat.read(path, 4).cells if c.cell_type == "markdown"]
    blocks = [
        b for text in texts for b in re.sub(r"```.*?```", "", text, flags=re.DOTALL).split("\n")
    ]
    said = [re.sub(r"[*#`]", "", block) for block in blocks if block.strip()]
    return [each for block in said for each in re.split(r"(?<=[.:;?])\s+", block)]


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_it_speaks_as_the_style_sheet_asks(path):
    said = prose(path)
    assert len(said) > 8
    assert [each for each in said if BRITISH_DATE.search(each) or FREEZE.search(each)] == []
    assert [each for each in said if len(each.split()) > MOST_WORDS] == []
    assert [(turn, each) for turn in BANNED for each in said if turn in each.lower()] == []


def test_it_names_the_years_from_which_a_record_is_moved_to_todays_climate():
    said = re.findall(
        r"(\d+) or more", " ".join(each for path in NOTEBOOKS for each in prose(path))
    )
    assert len(said) >= 2
    assert set(said) == {str(LEAST_LEVEL_YEARS)}


@pytest.mark.parametrize("path", NOTEBOOKS, ids=lambda p: p.stem)
def test_the_answer_comes_before_the_doubts_about_the_record(path):
    cells = nbformat.read(path, 4).cells
    heads = [c.source.splitlines()[0] for c in cells if c.source.startswith("## ")]
    assert not heads[0].startswith("## Can you trust")
    reads = any("read_daily" in c.source for c in cells)
    assert any(head.startswith("## Can you trust") for head in heads) == reads


@pytest.fixture(scope="module")
def elsewhere(tmp_path_factory):
    """A notebook answered for another place and crop, in its folder; and what the command said.

    It runs in a process of its own, since a browser's events may run in this one.
    """
    folder = tmp_path_factory.mktemp("elsewhere")
    rows = cw.sample("pellbrook_hill.csv").read_text("utf-8").splitlines(keepends=True)
    # Its last twelve years, which answer sooner.
    kept = [row for row in rows if not row[:4].isdigit() or row >= "2013"]
    (folder / "ours.csv").write_text("".join(kept), "utf-8")
    values = ["record=ours.csv", "place=<b>Upper</b> bed", "page=up.html"]
    values += ["crop_name=pea", "need_days=50"]
    command = [sys.executable, "-m", "climwin", "notebook", "how_often_too_short"]
    command += [text for value in values for text in ("--set", value)]
    command += ["--out", "new/short.html"]
    done = subprocess.run(command, cwd=folder, capture_output=True, text=True, check=True)
    return folder, done.stdout


def test_a_notebook_answers_for_another_place_and_crop(elsewhere):
    folder, printed = elsewhere
    assert printed == "new/short.html\nThe page: up.html\n"
    html = (folder / "new" / "short.html").read_text("utf-8")
    assert "&lt;b&gt;Upper&lt;/b&gt; bed" in html
    assert "<b>Upper" not in html
    assert "Change the next cell" not in html
    assert "How often is the mild spell too short?" in html
    page = (folder / "up.html").read_text("utf-8").replace("\N{NO-BREAK SPACE}", " ")  # to share
    assert "Upper&lt;/b&gt; bed · pea" in page
    assert "50 days" in page


def test_as_a_page_it_is_whole_and_legible_on_any_screen(browser, elsewhere):
    address = (elsewhere[0] / "new" / "short.html").as_uri()
    for width, mode in [(w, m) for w in (1280, 390) for m in ("light", "dark")]:
        screen = {"viewport": {"width": width, "height": 900}, "color_scheme": mode}
        page = browser.new_page(**screen, bypass_csp=True)  # axe is a script
        page.goto(address)
        found = Axe().run(page).response["violations"]
        assert [(each["id"], [node["html"] for node in each["nodes"]]) for each in found] == []
        assert page.evaluate(CUT) == []
        sizes = page.evaluate(SIZES)
        assert len(sizes) > 20
        assert min(sizes) >= 11
        page.close()


CUT = """() => [document.documentElement, ...document.querySelectorAll(".scroll, figure, table")]
    .filter((part) => part.scrollWidth > part.clientWidth + 1).map((part) => part.outerHTML)"""
"""What is wider than its place."""
SIZES = """() => [...document.querySelectorAll("figure svg text")]
    .filter((text) => text.getBoundingClientRect().width)
    .map((text) => {
        const svg = text.ownerSVGElement;
        const scale = svg.clientWidth / svg.viewBox.baseVal.width;
        return parseFloat(getComputedStyle(text).fontSize) * scale;
    })"""
"""Sizes of the type that is shown in drawings, in pixels of the screen."""


SLIPS = {
    "cw.crop('potatoe')": "Nearest: potato",
    "cw.read_daily('no_such_file.csv')": "no_such_file.csv: No such file or directory.",
    "cw.read_logger('no_such_file.csv')": "no_such_file.csv: No such file or directory.",
    "cw.Plan(cw.crop('pea'), '31-31')": "Write month and day, such as '04-20'",
    "cw.Plan(cw.crop('pea'), '03-05', 6, 'cold frme')": "Did you mean 'cold frame'?",
    "cw.garden_of(None, 'Grennoble')": "Did you mean Grenoble",
}
"""Slips in the values of a notebook's first cell, and what is said of each."""


def test_a_slip_in_a_value_is_answered_in_one_line(desk, kernel):
    book = nbformat.v4.new_notebook()
    book.cells = [nbformat.v4.new_code_cell(f"import climwin as cw\n{slip}") for slip in SLIPS]
    run(book, desk, kernel, allow_errors=True)
    for cell, said in zip(book.cells, SLIPS.values(), strict=True):
        [error] = [o for o in cell.outputs if o.output_type == "error"]
        assert len(error.traceback) == 1
        assert "\n" not in error.traceback[0]
        assert said in error.traceback[0]
