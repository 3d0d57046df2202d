"""The page needs nothing, says what the report says, and lets no text of a user become markup."""

import re
from dataclasses import replace
from html.parser import HTMLParser

import pytest

import climwin as cw
from climwin import page, words


class Reader(HTMLParser):
    """Tags, their attributes, and the text outside style."""

    def __init__(self, html):
        super().__init__()
        self.tags, self.text, self.skip = [], [], False
        self.feed(html)

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        self.skip = tag == "style"

    def handle_endtag(self, _):
        self.skip = False

    def handle_data(self, data):
        if not self.skip:
            self.text.append(data)

    @property
    def words(self):
        return " ".join(" ".join(self.text).split())


@pytest.fixture(scope="module")
def html(pellbrook):
    return page.render(pellbrook)


@pytest.fixture(scope="module")
def read(html):
    return Reader(html)


def test_it_asks_for_nothing_from_outside(html, read):
    policy = next(a["content"] for t, a in read.tags if a.get("http-equiv"))
    assert policy.startswith("default-src 'none'")
    addresses = [a[k] for _, a in read.tags for k in ("src", "srcset", "href") if k in a]
    assert addresses
    assert all(address.startswith("data:") for address in addresses)
    assert not [t for t, _ in read.tags if t in ("script", "link", "iframe", "object")]
    assert len(html) < 1_500_000


def test_it_says_the_finding_first(pellbrook, read):
    heads = [t for t, _ in read.tags if re.fullmatch("h[1-6]", t)]
    assert heads[0] == "h1"
    assert heads.count("h1") == 1
    assert read.words.index(words.too_short(pellbrook)) < read.words.index("Odds of a freeze")


def test_it_holds_every_year_and_both_plans(pellbrook, read):
    for season in pellbrook.window["season"].values:
        assert f" {season} " in read.words
    for plan in pellbrook.plans:
        assert words.plan_title(plan) in read.words


def test_pictures_have_words_and_tables_have_heads(read):
    images = [a for t, a in read.tags if t == "img"]
    assert all("Spring window shorter" in image["alt"] for image in images)
    tables = [t for t, _ in read.tags if t == "table"]
    assert len(tables) == len([t for t, _ in read.tags if t == "caption"]) >= 4
    assert all("scope" in a for t, a in read.tags if t == "th")
    assert ("html", {"lang": "en"}) in read.tags


def test_cautions_and_source_stand_on_it(read):
    for text in ("not a forecast", "plant-health rules", "Invented data", "pellbrook_valley.csv"):
        assert text in read.words


@pytest.mark.parametrize(
    "name", ["<script>alert(1)</script>", 'a "quoted" & ümläuts', "حديقة الحي", "x" * 300]
)
def test_what_a_user_wrote_comes_out_as_text(pellbrook, name):
    garden = replace(pellbrook.garden, name=name)
    crop = replace(pellbrook.crop, name=name)
    plans = [replace(plan, crop=crop) for plan in pellbrook.plans]
    read = Reader(page.render(cw.garden_report(garden, pellbrook.daily, plans=plans)))
    assert not [t for t, _ in read.tags if t == "script"]
    assert " ".join(name.split()) in read.words


def test_it_is_the_same_again_and_replaces_an_older_one_whole(pellbrook, tmp_path, html):
    target = tmp_path / "new" / "page.html"
    assert cw.share(pellbrook, target) == target
    assert target.read_text("utf-8") == html
    cw.share(pellbrook, target, units="F", made="2026-11-25")
    again = target.read_text("utf-8")
    assert "on 2026-11-25" in again
    assert "45 to 75 °F" in again
    assert [p.name for p in target.parent.iterdir()] == ["page.html"]


def test_a_page_that_cannot_be_drawn_leaves_the_old_one(pellbrook, tmp_path, monkeypatch):
    target = tmp_path / "page.html"
    target.write_text("old")
    monkeypatch.setattr(page.os, "fdopen", lambda *_, **__: (_ for _ in ()).throw(OSError("full")))
    with pytest.raises(OSError, match="full"):
        cw.share(pellbrook, target)
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


def test_units_are_c_or_f(pellbrook, tmp_path):
    with pytest.raises(ValueError, match="units must be one of C, F; got 'K'"):
        cw.share(pellbrook, tmp_path / "page.html", units="K")
