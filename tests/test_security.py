"""What nobody may do to a grower's computer through a file, a server or a name.

Tests that stand elsewhere: station ids as file names in `test_store`, names as files' names and
HTML escaped in `page/test_write`, no text that becomes code of a notebook in `page/test_notebook`,
iCalendar text in `test_calendar`, TOML files in `test_toml_file`, packed netCDF in `test_fuzz`, the
only module with a network in `test_house`.
"""

import ast
import csv
import gzip
import json
import threading
import time

import pytest
import xarray as xr
from house import PACKAGE, imported, trees
from hypothesis import given
from hypothesis import strategies as st
from standin import StandIn, pointed_at

import climwin as cw
from climwin.batch.stations import read_stations
from climwin.io import exports
from climwin.io.grids import open_grid
from climwin.page.html import TEMPLATES, environment
from climwin.stations import cache, meteostat_client
from climwin.stations.meteostat_client import RetryPolicy, station_list
from climwin.trials.analysis import read_trial
from climwin.trials.design import lay_out_trial, record_sheet

RUNS_WHAT_IT_READS = {"dill", "joblib", "marshal", "pickle", "ruamel", "shelve", "yaml"}
RUNS_TEXT = {"eval", "exec", "compile", "__import__", "breakpoint"}
UNPACKS = {"bz2", "lzma", "tarfile", "zipfile"}


def calls():
    """Module and node of every call in the package."""
    for name, tree in trees().items():
        yield from ((name, node) for node in ast.walk(tree) if isinstance(node, ast.Call))


def notebook_trees():
    for path in sorted((PACKAGE / "page" / "templates").glob("*.ipynb")):
        book = json.loads(path.read_text("utf-8"))
        for cell in book["cells"]:
            if cell["cell_type"] == "code":
                yield path.name, ast.parse("".join(cell["source"]))


# --- the code -----------------------------------------------------------------------------


def test_nothing_is_read_that_can_run():
    whole = [*trees().items(), *notebook_trees()]
    roots = {(name, module.split(".")[0]) for name, tree in whole for module in imported(tree)}
    assert len(whole) > len(trees())
    assert [pair for pair in roots if pair[1] in RUNS_WHAT_IT_READS | UNPACKS] == []


def test_no_text_is_run():
    by_name = [(m, c.func.id) for m, c in calls() if isinstance(c.func, ast.Name)]
    assert [pair for pair in by_name if pair[1] in RUNS_TEXT] == []
    # Dataset.eval, DataFrame.query and NumPy's object arrays would run text, too
    by_attribute = [(m, c.func.attr) for m, c in calls() if isinstance(c.func, ast.Attribute)]
    assert [p for p in by_attribute if p[1] in {"eval", "exec", "system", "popen"}] == []
    assert [m for m, c in calls() for k in c.keywords if k.arg == "allow_pickle"] == []


def test_programs_are_called_as_lists_without_a_shell():
    ran = [
        (module, call)
        for module, call in calls()
        if ast.unparse(call.func).startswith(("subprocess.", "os.spawn", "os.exec"))
    ]
    assert {module for module, _ in ran} == {"cli/lab", "page/pdf"}
    assert [k.arg for _, call in ran for k in call.keywords if k.arg == "shell"] == []


def test_toml_of_others_is_read_by_the_standard_library_in_one_place():
    readers = {name for name, tree in trees().items() if "tomllib" in set(imported(tree))}
    of_the_package = "stations/gazetteer"  # its regions come with it
    assert readers == {"io/structured", of_the_package}


def test_every_template_escapes():
    own = environment()
    assert own.autoescape is True
    names = [path.name for path in TEMPLATES.iterdir() if path.name.endswith(".j2")]
    assert len(names) >= 4
    marked = {name for name in names if "safe" in (TEMPLATES / name).read_text("utf-8")}
    # The frame shows what the parts, escaped each, put together; the macros show figures, whose
    # texts matplotlib escapes: test_what_a_user_wrote_comes_out_as_text.
    assert marked == {"frame.html.j2", "macros.html.j2"}
    assert own.from_string("{{ it }}").render(it="<b>&\"'") == "&lt;b&gt;&amp;&#34;&#39;"


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


def cells_of(text, *marks):
    """Every cell as spreadsheets of several locales cut the text."""
    return [
        c for mark in marks for row in csv.reader(text.splitlines(), delimiter=mark) for c in row
    ]


RUN = [
    "=1+1",
    "a;=1+1",
    'a,"=1+1"',
    "a\t@SUM(A1)",
    "a\n=1+1",
    "a\r=1+1",
    'a;"+1+1"',
    "Kohl\r\n-2+3",
]


def test_no_text_is_run_whatever_parts_the_cells(tmp_path):
    result = xr.Dataset({"kind": ("plan", RUN)}, {"plan": RUN}, {"title": "\n".join(RUN)})
    text = exports.to_csv(result, tmp_path / "t.csv").read_text("utf-8")
    assert not [c for c in cells_of(text, ",", ";", "\t") if c[:1] in tuple("=+-@\t")]


@given(st.text(st.sampled_from("=+-@\t\r\n,;'\"a1.")))
def test_a_text_made_harmless_is_had_back(text):
    made = exports._tamed(text)
    assert exports.as_written(made) == text
    assert made[:1] not in tuple("=@\t\r\n")


def test_a_station_named_as_a_formula_is_not_run(tmp_path, kept_station):
    (tmp_path / "station-PLB01.nc").write_bytes(kept_station)
    record = cache.load("PLB01", tmp_path)
    evil = "Mill\n=1+1\r@SUM(A1),=2+2;=3+3"
    cache.save(record.assign_attrs(title=evil, credit="x\n+1+1"), tmp_path)
    text = cache.export("PLB01", tmp_path / "t.csv", tmp_path).read_text("utf-8")
    head = text[: text.index("date,")]
    assert all(line.startswith("# ") for line in head.splitlines())
    assert not [c for c in cells_of(head, ",", ";", "\t") if c[:1] in tuple("=+-@\t")]
    assert text[text.index("date,") :].count("'") == 0


@given(
    st.lists(
        st.text(st.sampled_from("=+-@,;'\"ab ")).map(str.strip).filter(bool), min_size=2, max_size=3
    )
)
def test_a_trial_sheet_is_harmless_and_read_back_as_its_author_wrote_it(tmp_path_factory, names):
    names = [f"{name}{n}x" for n, name in enumerate(" ".join(n.split()) for n in names)]
    layout = lay_out_trial(names, blocks=2, seed=1)
    text = record_sheet(layout, response_variables=["@yield"])
    begun = [c for c in cells_of(text, ",") if c[:1] in tuple("=+-@")]
    assert begun == []
    sheet = tmp_path_factory.mktemp("sheet") / "t.csv"
    sheet.write_text(text, "utf-8")
    back = read_trial(sheet)
    assert back["treatment"].tolist() == layout["treatment"].tolist()
    assert "@yield" in back


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
    monkeypatch.setattr(meteostat_client, "LARGEST_YEAR", 1000)  # a year of the stand-in has more
    with pytest.raises(ValueError, match="larger than 1 kB, too large for a year"):
        meteostat_client.download_year("PLB01", 1999, timeout=5)


def test_the_largest_yearly_file_unpacks_to_what_memory_holds():
    # DEFLATE packs no better than 1032 to 1 (zlib.net, technical details; from memory)
    assert meteostat_client.LARGEST_YEAR * 1032 < 250e6


def until_the_line_is_closed(piece, hung_up, pause=0.0):
    """A server that never ends what it sends, and notes that nobody reads it any more."""

    def send(self, status, *_):
        self.send_response(status)
        self.end_headers()
        try:
            while True:
                self.wfile.write(bytes(piece))
                time.sleep(pause)
        except OSError:
            hung_up.set()

    return send


def test_a_list_of_stations_without_end_is_cut_off(server, monkeypatch, tmp_path):
    hung_up = threading.Event()
    monkeypatch.setattr(meteostat_client, "LARGEST_LIST", 1_000_000)
    monkeypatch.setattr(server.handler, "send", until_the_line_is_closed(100_000, hung_up))
    path, fault = station_list(tmp_path, retry_policy=RetryPolicy(40.0, 1, 0.01))
    assert fault == "it could not be read (it is larger than 1 MB, or took longer than 4000 s)"
    assert list(tmp_path.iterdir()) == []
    assert not path.exists()
    assert hung_up.wait(60)


def test_a_list_of_stations_that_trickles_is_given_up(server, monkeypatch, tmp_path):
    hung_up = threading.Event()
    monkeypatch.setattr(meteostat_client, "LONGEST_LIST", 0.0125)
    monkeypatch.setattr(server.handler, "send", until_the_line_is_closed(70_000, hung_up, 0.02))
    _, fault = station_list(tmp_path, retry_policy=RetryPolicy(40.0, 1, 0.01))
    assert "or took longer than 0.5 s" in fault
    assert hung_up.wait(60)


def test_a_packed_list_is_not_unpacked(server, monkeypatch, tmp_path):
    packed = gzip.compress(bytes(30_000_000))

    def bomb(self, status, *_):
        self.send_response(status)
        self.send_header("Content-Encoding", "gzip")
        self.send_header("Content-Length", f"{len(packed)}")
        self.end_headers()
        self.wfile.write(packed)

    monkeypatch.setattr(meteostat_client, "LARGEST_LIST", 1_000_000)
    monkeypatch.setattr(server.handler, "send", bomb)
    path, fault = station_list(tmp_path, retry_policy=RetryPolicy(2.0, 1, 0.01))
    assert "not a data file" in fault
    assert not path.exists()


def test_a_grid_is_never_fetched(server):
    with pytest.raises(cw.RecordError, match="No such file"):
        open_grid(f"{server.address}/stations.db")
    assert server.asked == []


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
