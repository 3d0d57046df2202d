"""What a page's notebook is given: data, in which no text of a user can become code."""

import base64
import datetime as dt
import io
import json

import nbformat
import numpy as np
import pytest
from reading import Reader

import climwin as cw
from climwin.page.club_parts import ClubPage
from climwin.page.given import _unpacked, from_text, to_text
from climwin.page.notebook import DATA, rendered, run
from climwin.page.tables import Page

RUNS = "{ran!r}); __import__('pathlib').Path({ran!r}).touch() #"
EVIL = "</script><script>alert(1)</script>'\"\\\n__import__('os').system('x')\u2028{{ 7 * 7 }}"


def renamed(report, name):
    return cw.garden_report(cw.Garden(name, 46.1, 7.2, 640), report.daily, plans=report.plans)


def same(one, other):
    """Whether a report came through with everything that it is worked out from."""
    kept = ("garden", "plans", "need_days")
    return one.daily.identical(other.daily) and all(
        getattr(one, name) == getattr(other, name) for name in kept
    )


def test_a_page_comes_through_as_it_was(pellbrook):
    page = Page(renamed(pellbrook, EVIL), "F", dt.date(2026, 11, 25))
    back = from_text(Page, to_text(page))
    assert same(back.report, page.report)
    assert back[1:] == page[1:]


def test_a_clubs_page_comes_through_as_it_was(pellbrook):
    page = ClubPage(EVIL, (pellbrook, renamed(pellbrook, EVIL)), "C", None)
    back = from_text(ClubPage, to_text(page))
    assert (back.name, back[2:]) == (EVIL, ("C", None))
    assert all(map(same, back.reports, page.reports))


def test_a_clubs_notebook_takes_its_names_as_data_and_never_as_code(pellbrook, tmp_path):
    ran = tmp_path / "ran"
    evil = f"{EVIL} {RUNS.format(ran=str(ran))}"
    page = ClubPage(evil, (pellbrook, renamed(pellbrook, evil)), "C", None)
    book = run("club", page)
    shipped = nbformat.reads((DATA / "club.ipynb").read_text("utf-8"), as_version=4)
    assert [cell.source for cell in book.cells] == [cell.source for cell in shipped.cells]
    assert not ran.exists()
    html = rendered(book, title=evil)
    read = Reader(html)
    assert "<script>alert" not in html
    assert read.all("script") == []
    assert "alert(1)" in read.words
    assert "{{ 7 * 7 }}" in read.words
    assert "49" not in read.heads[0][1]


def test_types_alone_say_what_is_built():
    garden = '{"name": "a", "latitude": 1.0, "longitude": 2.0, "__class__": "os.system"}'
    with pytest.raises(KeyError, match="__class__"):
        from_text(cw.Garden, garden)
    assert from_text(dt.date, '"2026-11-25"') == dt.date(2026, 11, 25)


def test_objects_are_never_unpacked_from_arrays():
    buffer = io.BytesIO()
    np.save(buffer, np.array([print], dtype=object), allow_pickle=True)
    with pytest.raises(ValueError, match="allow_pickle"):
        _unpacked(base64.b64encode(buffer.getvalue()).decode())


def test_it_is_plain_json(pellbrook):
    given = json.loads(to_text(Page(pellbrook, "C", None)))
    assert set(given) == {"report", "units", "made"}
    assert given["report"]["garden"]["name"] == "Pellbrook allotments"
