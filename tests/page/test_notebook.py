"""The page's notebook: its cells run here as a kernel runs them, and no text becomes code."""

import ast
import datetime as dt
import json
import os
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import nbformat
import numpy as np
import pytest
import xarray as xr
from nbclient import NotebookClient
from reading import Reader

import climwin as cw
from climwin.core.provenance import warm_by
from climwin.io.samples import sample
from climwin.page.club import ClubPage
from climwin.page.html import TEMPLATES, render_notebook
from climwin.page.notebook import read_template, run_cells, to_run_on
from climwin.page.record_file import load_record, save_record
from climwin.page.sections import SECTIONS, Page

EVIL = "</script><script>alert(1)</script>'\"\\\n__import__('os').system('x')\u2028{{ 7 * 7 }}"


def renamed(report, name):
    return cw.garden_report(cw.Garden(name, 46.1, 7.2, 640), report.daily, plans=report.plans)


def sources(notebook):
    return [cell["source"] for cell in notebook["cells"]]


def setup_of(notebook):
    [cell] = [c for c in notebook["cells"] if "setup" in c["metadata"].get("tags", [])]
    return cell["source"]


def run_setup(page, folder):
    """The page that the first cell of the notebook makes, beside its record."""
    notebook = to_run_on(read_template("page"), page, "page.nc")
    save_record(page.report.daily, folder / "page.nc")
    names = {}
    exec(setup_of(notebook), names)
    return names["page"]


def same(one, other):
    """Whether two pages are made of the same."""
    parts = ("garden", "plans", "need_days", "given_need_days")
    return (
        one.report.daily.identical(other.report.daily)
        and all(getattr(one.report, name) == getattr(other.report, name) for name in parts)
        and (one.units, one.made) == (other.units, other.made)
    )


# --- the cells ----------------------------------------------------------------------------


def test_no_kernel_is_started_and_no_package_for_one_is_imported(tmp_path):
    code = (
        "import sys, climwin as cw\n"
        "crop = cw.crop('pea')\n"
        "report = cw.garden_report(cw.Garden('here', 46.1, 7.2), cw.read_daily(cw.sample())"
        ".sel(time=slice('2005', None)), plans=[cw.Plan(crop, '04-01')])\n"
        "cw.write_page(report, 'page.html', notebook=True)\n"
        "heads = {name.split('.')[0] for name in sys.modules}\n"
        "print(*sorted(heads & {'ipykernel', 'IPython', 'jupyter_client', 'jupyter_core',"
        " 'nbclient', 'nbconvert', 'nbformat', 'zmq', 'mistune'}))\n"
    )
    env = {**os.environ, "PYTHONPATH": str(Path(cw.__file__).parents[1])}
    call = [sys.executable, "-c", code]
    done = subprocess.run(call, cwd=tmp_path, env=env, capture_output=True, text=True)
    assert (done.returncode, done.stdout.split()) == (0, []), done.stderr
    assert sorted(p.name for p in tmp_path.iterdir()) == ["page.html", "page.ipynb", "page.nc"]


def test_each_cell_shows_one_section_in_the_order_of_the_page():
    calls = [
        ast.literal_eval(ast.parse(s, mode="eval").body.args[0])
        for s in sources(read_template("page"))
        if s.startswith("page.section")
    ]
    assert calls == list(SECTIONS)


def test_a_cell_that_does_anything_else_is_refused(pellbrook):
    notebook = read_template("page")
    notebook["cells"][2]["source"] = "import os"
    with pytest.raises(ValueError, match=r"shows a section.*got import os"):
        run_cells(notebook, Page(pellbrook, "C", None))


def test_a_clubs_notebook_takes_its_names_as_data_and_never_as_code(pellbrook):
    page = ClubPage(EVIL, (pellbrook, renamed(pellbrook, EVIL)), "C", None)
    notebook = run_cells(read_template("club"), page)
    shipped = nbformat.reads((TEMPLATES / "club.ipynb").read_text("utf-8"), as_version=4)
    assert sources(notebook) == [cell.source for cell in shipped.cells]
    html = render_notebook(notebook, title=EVIL)
    read = Reader(html)
    assert "<script>alert" not in html
    assert read.all("script") == []
    assert "alert(1)" in read.words
    assert "{{ 7 * 7 }}" in read.words
    assert "49" not in read.heads[0][1]


# --- the notebook to run on ---------------------------------------------------------------


def test_its_first_cell_makes_the_same_report_again(pellbrook, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    page = Page(pellbrook, "F", dt.date(2026, 11, 25))
    assert same(run_setup(page, tmp_path), page)


def test_it_spells_out_what_no_catalogue_has(pellbrook, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    own = replace(pellbrook.crop, name="our cauliflower", cautions=(EVIL,))
    plans = [
        cw.Plan(own, "03-05", 6, "cold frame", fleece_weeks=2),
        cw.Plan(own, "04-20", earliness=75.0, bed="mulched"),
        cw.Plan(own, "03-20", 5, "our frame", space=replace(cw.COVERS["fleece"], name="our frame")),
    ]
    daily = warm_by(pellbrook.daily, 2)
    garden = cw.Garden("Ours", 46.1, 7.2)
    page = Page(cw.garden_report(garden, daily, plans=plans, need_days=50), "C", None)
    assert same(run_setup(page, tmp_path), page)


def test_plans_may_differ_in_the_earliness_of_their_varieties(pellbrook, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    tomato = cw.crop("tomato")
    plans = [cw.Plan(tomato, "05-20"), cw.Plan(tomato, "05-20", earliness="early")]
    page = Page(cw.garden_report(pellbrook.garden, pellbrook.daily, plans=plans), "C", None)
    assert same(run_setup(page, tmp_path), page)


def test_few_years_stay_allowed(pellbrook, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    few = pellbrook.daily.sel(time=slice("1990", "1996"))
    report = cw.garden_report(pellbrook.garden, few, plans=pellbrook.plans, few_years=True)
    page = Page(report, "C", None)
    assert same(run_setup(page, tmp_path), page)


def test_no_text_of_a_user_becomes_code_in_it(pellbrook, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    ran = tmp_path / "ran"
    evil = f"{EVIL} '); __import__('pathlib').Path({str(ran)!r}).touch() #"
    report = renamed(pellbrook, evil)
    crop = replace(report.crop, name=evil)
    plans = [replace(plan, crop=crop) for plan in report.plans]
    page = Page(cw.garden_report(report.garden, report.daily, plans=plans), "C", None)
    assert same(run_setup(page, tmp_path), page)
    assert not ran.exists()


def test_a_page_is_never_written_over_by_its_notebook(pellbrook, tmp_path):
    with pytest.raises(ValueError, match=r"is named \.html, got ours\.nc"):
        cw.write_page(pellbrook, tmp_path / "ours.nc", notebook=True)
    assert list(tmp_path.iterdir()) == []


def test_it_is_a_valid_notebook_with_the_outputs_of_the_page(pellbrook_page):
    beside = pellbrook_page.with_suffix(".ipynb")
    book = nbformat.read(beside, 4)
    nbformat.validate(book)

    def plain(text):  # styles that come again in drawings are classes of the page
        return re.sub(r' (?:style|class)="[^"]*"', "", text)

    page = plain(pellbrook_page.read_text("utf-8"))
    outputs = [o["data"]["text/html"] for c in book.cells for o in c.get("outputs", [])]
    assert len(outputs) == len(SECTIONS)
    assert all(plain(each.strip()) in page for each in outputs)
    assert "page.nc" in setup_of(json.loads(beside.read_text("utf-8")))


@pytest.mark.slow
def test_a_kernel_that_runs_it_makes_the_same_page(pellbrook_page):
    book = nbformat.read(pellbrook_page.with_suffix(".ipynb"), 4)
    written = [cell.get("outputs", []) for cell in book.cells]
    for cell in book.cells:
        if cell.cell_type == "code":
            cell.outputs, cell.execution_count = [], None
    where = {"metadata": {"path": str(pellbrook_page.parent)}}
    NotebookClient(book, timeout=300, resources=where, kernel_name="python3").execute()
    assert [cell.get("outputs", []) for cell in book.cells] == written
    again = render_notebook(book, title="cauliflower at Pellbrook allotments")
    assert again == pellbrook_page.read_text("utf-8")


# --- the record beside it -----------------------------------------------------------------


@pytest.mark.parametrize("change", [lambda d: d, lambda d: warm_by(d, 2)], ids=["read", "warmer"])
def test_a_record_comes_back_exactly(tmp_path, change):
    daily = change(cw.read_daily(sample("pellbrook_hill.csv")))
    daily = daily.assign_attrs(nothing=None, truth=True, number=np.float64(0.1))
    back = load_record(save_record(daily, tmp_path / "record.nc"))
    xr.testing.assert_identical(back, daily)
    assert back["time"].dtype == daily["time"].dtype
    assert {name: back[name].dtype for name in back} == {n: daily[n].dtype for n in daily}


def test_what_is_no_such_record_is_refused(tmp_path):
    other = cw.to_netcdf(cw.read_daily(sample()), tmp_path / "other.nc")
    with pytest.raises(cw.RecordError, match=r"other\.nc is no record beside a page's notebook"):
        load_record(other)
    with pytest.raises(cw.RecordError, match=r"none\.nc is no record.*read your own record with"):
        load_record(tmp_path / "none.nc")
