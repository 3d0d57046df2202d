"""What nobody may do to a grower's computer through a file, a server or a name.

Tests that stand elsewhere: station ids as file names in `test_store`, names as files' names and
HTML escaped in `test_page`, iCalendar text in `test_calendar`, TOML files in `test_toml_file`,
the only module with a network in `test_house`.
"""

import ast
import csv
import datetime as dt
import io
import json

import numpy as np
import pytest
import xarray as xr
from standin import StandIn, pointed_at
from test_house import PACKAGE, TREES, imported

import climwin as cw
from climwin import exports, history
from climwin.batches import read_stations
from climwin.page_given import from_text, to_text
from climwin.page_notebook import DATA
from climwin.page_parts import environment
from climwin.page_tables import Page
from climwin.schema import Station

RUNS_WHAT_IT_READS = {"dill", "joblib", "marshal", "pickle", "ruamel", "shelve", "yaml"}
RUNS_TEXT = {"eval", "exec", "compile", "__import__", "breakpoint"}
UNPACKS = {"bz2", "lzma", "tarfile", "zipfile"}


def calls():
    """Module and node of every call in the package."""
    for name, tree in TREES.items():
        yield from ((name, node) for node in ast.walk(tree) if isinstance(node, ast.Call))


def notebook_trees():
    for path in sorted((PACKAGE / "data" / "page").glob("*.ipynb")):
        book = json.loads(path.read_text("utf-8"))
        for cell in book["cells"]:
            if cell["cell_type"] == "code":
                yield path.name, ast.parse("".join(cell["source"]))


# --- the code -----------------------------------------------------------------------------


def test_nothing_is_read_that_can_run():
    trees = [*TREES.items(), *notebook_trees()]
    roots = {(name, module.split(".")[0]) for name, tree in trees for module in imported(tree)}
    assert len(trees) > len(TREES)
    assert [pair for pair in roots if pair[1] in RUNS_WHAT_IT_READS | UNPACKS] == []


def test_no_text_is_run():
    by_name = [(m, c.func.id) for m, c in calls() if isinstance(c.func, ast.Name)]
    assert [pair for pair in by_name if pair[1] in RUNS_TEXT] == []
    # Dataset.eval, DataFrame.query and NumPy's object arrays would run text, too
    by_attribute = [(m, c.func.attr) for m, c in calls() if isinstance(c.func, ast.Attribute)]
    assert [p for p in by_attribute if p[1] in {"eval", "exec", "system", "popen"}] == []
    pickled = [k for _, c in calls() for k in c.keywords if k.arg == "allow_pickle"]
    assert len(pickled) == 2
    assert all(isinstance(k.value, ast.Constant) and k.value.value is False for k in pickled)


def test_programs_are_called_as_lists_without_a_shell():
    ran = [
        (module, call)
        for module, call in calls()
        if ast.unparse(call.func).startswith(("subprocess.", "os.spawn", "os.exec"))
    ]
    assert {module for module, _ in ran} == {"lab", "page_print"}
    assert [k.arg for _, call in ran for k in call.keywords if k.arg == "shell"] == []


def test_toml_is_read_by_the_standard_library_in_one_place():
    readers = {name for name, tree in TREES.items() if "tomllib" in set(imported(tree))}
    assert readers == {"toml_file"}


def test_every_template_escapes():
    own = environment()
    assert own.autoescape is True
    names = [path.name for path in DATA.iterdir() if path.name.endswith(".j2")]
    assert len(names) >= 4
    marked = {name for name in names if "safe" in (DATA / name).read_text("utf-8")}
    assert marked == {"frame.html.j2"}  # shows what the parts, escaped each, put together
    assert own.from_string("{{ it }}").render(it="<b>&\"'") == "&lt;b&gt;&amp;&#34;&#39;"


# --- what a notebook is given -------------------------------------------------------------

EVIL = "</script><script>alert(1)</script>'\"\\\n__import__('os').system('x')\u2028{{ 7 * 7 }}"


def test_a_page_is_handed_to_its_notebook_as_data(pellbrook):
    garden = cw.Garden(EVIL, 46.1, 7.2, 640)
    report = cw.garden_report(garden, pellbrook.daily, plans=pellbrook.plans)
    page = Page(report, "F", dt.date(2026, 11, 25))
    back = from_text(Page, to_text(page))
    assert back.report.daily.identical(report.daily)
    assert (back.report.garden, back.report.plans, back.report.need_days, back[1:]) == (
        garden,
        report.plans,
        report.need_days,
        page[1:],
    )


def test_what_a_notebook_is_given_is_built_by_annotations_alone():
    garden = '{"name": "a", "latitude": 1.0, "longitude": 2.0, "__class__": "os.system"}'
    with pytest.raises(KeyError, match="__class__"):
        from_text(cw.Garden, garden)
    assert from_text(dt.date, '"2026-11-25"') == dt.date(2026, 11, 25)


def test_objects_are_never_unpacked_from_arrays():
    buffer = io.BytesIO()
    np.save(buffer, np.array([print], dtype=object), allow_pickle=True)
    import base64

    from climwin.page_given import _unpacked

    with pytest.raises(ValueError, match="allow_pickle"):
        _unpacked(base64.b64encode(buffer.getvalue()).decode())


# --- tables for a spreadsheet -------------------------------------------------------------


def test_no_text_of_a_table_is_run_as_a_formula(tmp_path):
    texts = ["=cmd|' /C calc'!A0", "+1+1", "-2+3", "@SUM(A1)", "\t=1", "Kohl", "-3.5", "-"]
    result = xr.Dataset({"=head": ("plan", texts)}, {"plan": texts}, {"title": "a,=1+1"})
    lines = exports.to_csv(result, tmp_path / "t.csv").read_text("utf-8").splitlines()
    cells = [cell for row in csv.reader(lines) for cell in row]
    begun = [cell for cell in cells if cell[:1] in tuple("=+-@\t")]
    assert set(begun) == {"-3.5", "-"}
    assert cells.count("'=cmd|' /C calc'!A0") == 2
    assert {"'=head", "'=1+1", "Kohl"} <= set(cells)


def test_numbers_of_a_table_stay_numbers(tmp_path):
    result = xr.Dataset({"tmin": ("day", [-3.5, 2.0])}, {"day": [-1, 0]})
    rows = exports.to_csv(result, tmp_path / "t.csv").read_text("utf-8").splitlines()[-2:]
    assert rows == ["-1,-3.5", "0,2.0"]


# --- what a server sends ------------------------------------------------------------------


@pytest.fixture
def server():
    with StandIn() as server, pointed_at(server):
        yield server


def test_a_yearly_file_that_is_too_large_is_refused_unread(server, monkeypatch):
    mill = Station("PLB01", "Pellbrook Mill", 46.10, 7.20, 610)
    monkeypatch.setattr(history, "LARGEST_YEAR", 1000)  # a year of the stand-in has more
    with history.settings(), pytest.raises(ValueError, match="larger than 1 kB, which no year"):
        history.start(history.ask_year, mill, 1999).result(5)


def test_the_largest_yearly_file_unpacks_to_what_memory_holds():
    # DEFLATE packs no better than 1032 to 1 (zlib.net, technical details; from memory)
    assert history.LARGEST_YEAR * 1032 < 250e6


def test_no_opener_of_ours_is_left_behind(server):
    import urllib.request

    before = getattr(urllib.request, "_opener", None)
    with history.settings():
        assert urllib.request._opener is not before
    assert urllib.request._opener is before


# --- paths that a list names --------------------------------------------------------------


def test_a_list_of_stations_may_point_beside_its_folder_and_only_reads(tmp_path):
    # decided: whoever may write the list may read the files; what is no record is refused
    outside = tmp_path / "secret.txt"
    outside.write_text("a secret\nthat is no record\n", "utf-8")
    (tmp_path / "lists").mkdir()
    listed = tmp_path / "lists" / "stations.csv"
    listed.write_text("station,latitude,longitude,record\na,46,7,../secret.txt\n", "utf-8")
    (place,) = read_stations(listed)
    assert place.record == outside.resolve()
    with pytest.raises(cw.RecordError):
        place.read()
    assert outside.read_text("utf-8") == "a secret\nthat is no record\n"
