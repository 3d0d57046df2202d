"""The page needs nothing, says what the report says, and lets no text of a user become markup."""

import csv
import datetime as dt
import json
import re
from dataclasses import replace
from importlib.resources import files
from itertools import pairwise

import icalendar
import nbformat
import numpy as np
import pandas as pd
import pytest
import xarray as xr
from reading import Reader, carried, live_numbers

import climwin as cw
from climwin.core.provenance import warm_by
from climwin.core.seasons import day_name, day_number
from climwin.page import assets, live, write
from climwin.page.html import render_notebook
from climwin.page.notebook import read_template, run_cells
from climwin.page.sections import SECTIONS, Page
from climwin.plot import style
from climwin.report import sentences
from climwin.report import sentences_decision as decision
from climwin.report.decision import decide

RUDE = '<script>alert(1)</script> "quoted" & ümläuts حديقة الحي ' + "x" * 300
ORDER = (
    *("Change crop or dates", "How sure is this?", "When to do what", "Frost dates"),
    *("Week by week: comfortable, bearable or neither", "Year by year"),
    *("Crops that suit this place", "Data and method", "Safety"),
)
"""Parts of the page after the decision and its reason."""


@pytest.fixture(scope="module")
def executed(pellbrook):
    return run_cells(read_template("page"), Page(pellbrook, "C", None))


@pytest.fixture(scope="module")
def html(executed):
    return render_notebook(executed, title="cauliflower at Pellbrook allotments")


@pytest.fixture(scope="module")
def read(html):
    return Reader(html)


@pytest.fixture(scope="module")
def rude(pellbrook):
    """The report with a place and a crop that a user named badly."""
    crop = replace(pellbrook.crop, name=RUDE)
    plans = [replace(plan, crop=crop) for plan in pellbrook.plans]
    garden = replace(pellbrook.garden, name=RUDE)
    return cw.garden_report(garden, pellbrook.daily, plans=plans)


# --- one file ------------------------------------------------------------------------------


def test_it_asks_for_nothing_from_outside(html, read):
    policy = next(a["content"] for a in read.all("meta") if a.get("http-equiv"))
    assert policy.startswith("default-src 'none'; img-src data:; style-src 'unsafe-inline'; script")
    assert "script-src 'sha256-" in policy
    addresses = [a[k] for _, a in read.tags for k in ("src", "srcset", "href") if k in a]
    assert len(addresses) > 10
    assert all(address.startswith(("data:", "#")) for address in addresses)
    assert not [t for t, _ in read.tags if t in ("link", "iframe", "object", "base", "form")]
    assert len(html.encode()) < 1_500_000


def test_its_pictures_have_text_as_text_and_colours_of_the_page(html, read):
    assert (
        html.count("<svg") == 5
    )  # the figure that answers for a page and for a phone, three others once
    assert "When those spells came" in read.words
    pictures = html[html.index("<main") :]
    assert not re.search(r"(?:fill|stroke): #[0-9a-f]{6}", pictures)
    used = set(re.findall(r"var\((--c[0-9a-f]{6})\)", pictures))
    assert {f"--c{colour[1:]}" for colour in style.DARK} >= used > set()
    for name in used:
        assert re.search(rf"{name}:light-dark\(#[0-9a-f]{{6}},#[0-9a-f]{{6}}\)", html)


def test_no_two_parts_of_its_pictures_have_one_name(html):
    names = re.findall(r' id="([^"]+)"', html)
    assert len(names) == len(set(names))
    used = re.findall(r'(?:url\(#|href="#)(s[0-9a-f]{8}-\d+)', html)
    assert set(used) <= set(names)
    assert len(set(used)) > 20


def test_it_has_one_script_of_its_own_which_no_text_can_end(read):
    kinds = [a.get("type") for a in read.all("script")]
    assert kinds == ["application/octet-stream", "module"]
    assert ("html", {"lang": "en"}) in read.tags


def test_a_long_record_still_fits(pellbrook, tmp_path):
    # Twice the sample, 80 years: what grows with the years are pictures, table and numbers.
    daily = pellbrook.daily
    time = daily["time"].values.astype("datetime64[D]")
    copies = []
    for years in (40, 0):  # a multiple of 4: leap years stay leap years
        back = (time.astype("datetime64[Y]") - np.timedelta64(years, "Y")).astype("datetime64[D]")
        moved = back + (time - time.astype("datetime64[Y]"))
        copies.append(daily.assign_coords(time=moved.astype("datetime64[s]")))
    long = xr.concat(copies, "time", combine_attrs="override")
    report = cw.garden_report(pellbrook.garden, long, plans=pellbrook.plans)
    assert report.window.sizes["season"] == 80
    assert cw.write_page(report, tmp_path / "page.html").stat().st_size < 650_000


# --- what it says ---------------------------------------------------------------------------


def test_it_answers_in_order(pellbrook, read):
    first, *rest = read.heads
    assert (first[0], " ".join(first[1].split())) == ("h1", decision.verdict(pellbrook))
    parts = [" ".join(text.split()) for tag, text in rest if tag == "h2"]
    assert parts == [decision.reason_heading(pellbrook), *ORDER]
    levels = [int(tag[1]) for tag, _ in read.heads]
    assert all(below <= above + 1 for above, below in pairwise(levels))
    assert read.words.index("Before you trust this") < read.words.index("Each mark is one year")


def test_its_numbers_are_those_of_the_notebook(executed, html):
    shown = [o["data"]["text/html"] for c in executed["cells"] for o in c.get("outputs", [])]
    assert len(shown) == len(SECTIONS)

    def plain(text):  # styles that come again in drawings are classes of the page
        return re.sub(r' (?:style|class)="[^"]*"', "", text)

    page = plain(html)
    assert all(plain(piece.strip()) in page for piece in shown)


def test_the_notebook_is_kept_short_and_without_outputs():
    for name in ("page", "club"):
        raw = (files("climwin.page") / "templates" / f"{name}.ipynb").read_text("utf-8")
        cells = [c for c in nbformat.reads(raw, 4).cells if c.cell_type == "code"]
        assert all(not c.outputs and c.execution_count is None for c in cells)
        assert "def " not in "".join(c.source for c in cells)
        assert json.loads(raw)["metadata"]["kernelspec"]["name"] == "python3"


def test_code_is_hidden_and_what_is_no_part_of_the_page_too(read):
    assert "page.section(" not in read.words
    assert "This notebook makes it" not in read.words


def test_it_holds_every_year_and_both_plans(pellbrook, read):
    for season in pellbrook.window["season"].values:
        assert f" {season} " in read.words
    for plan, odds in zip(pellbrook.plans, pellbrook.ahead.odds, strict=True):
        assert decision.way_title(plan) in read.words
        harvests, good, known = (int(odds[name]) for name in ("harvested", "good", "known"))
        assert f"{harvests} of {known} years" in read.words
        assert f"{good} of {known} years" in read.words
    assert sentences.how_sure(pellbrook) in read.words
    assert decision.ways_compared(*pellbrook.plans, pellbrook.comparisons[0]) in read.words


def test_it_says_when_to_do_what(pellbrook, read):
    raised = pellbrook.plans[0]
    out = day_name(day_number(raised.start) + 7 * raised.weeks_under_cover)
    assert f"Sow in the cold frame {day_name(day_number(raised.start))} " in read.words
    assert f"Set out outdoors {out} " in read.words
    for row in decide(pellbrook).rows:  # the same best dates as on the first screen
        if row.is_best and row.first != row.last:
            dates = sentences.span(row.first, row.last)
            assert f"{dates} ({row.harvested} of {row.known})" in read.words


def test_crops_that_suit_are_all_there(pellbrook, read):
    text = read.words[read.words.index("Crops that suit this place, by odds times growth") :]
    assert all(f" {name} " in text for name in cw.crop_names())


def test_numbers_stay_on_one_line_with_what_they_count(html):
    text = re.sub(r"<[^>]+>", " ", html[html.index("<main") :])
    glued = text.replace("\N{NO-BREAK SPACE}", "_")
    assert re.search(r"about \d+_[A-Z][a-z]{2}", glued)
    assert re.search(r"in \d+_of_\d+_years", glued)
    assert not re.search(
        r"\d of \d|\d (?:June|August|years)\b", glued.partition("Change crop or dates")[0]
    )


def test_pictures_have_words_and_tables_have_heads(read):
    pictures = [a for _, a in read.tags if a.get("role") == "img"]
    assert len(pictures) == 2 + 3  # the first for a page and for a phone
    assert all(len(picture["aria-label"]) > 40 for picture in pictures)
    assert read.all("img") == []
    assert len(read.all("table")) == len(read.all("caption")) >= 9
    assert all("scope" in attrs for attrs in read.all("th"))


def test_cautions_and_source_stand_on_it(pellbrook, read):
    for text in ("not a forecast", "plant-health rules", "Invented data", "pellbrook_valley.csv"):
        assert text in read.words
    for text in sentences.sources(pellbrook)[:2]:
        assert text in read.words


def test_a_plan_that_never_gives_a_harvest_is_called_so(pellbrook):
    late = cw.Plan(pellbrook.crop, "12-01")
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=[late])
    read = Reader(Page(report, "C", None).section("ways").html)
    assert re.search(r"A harvest in 0 of \d+ years: do not rely on these dates", read.words)


def test_each_row_of_the_decision_is_drawn_as_it_is_counted(pellbrook):
    html = Page(pellbrook, "C", None).section("decision").html
    read, rows = Reader(html), decide(pellbrook).rows
    assert html.count('class="bar"') == len(rows)
    shares = [float(each) for each in re.findall(r'<i style="width:([\d.]+)%', html)]
    assert shares == [pytest.approx(100 * row.share, abs=0.05) for row in rows]
    ends = re.findall(r'<b style="left:([\d.]+)%;width:([\d.]+)%', html)
    for (left, width), row in zip(ends, rows, strict=True):
        assert float(left) == pytest.approx(100 * row.low, abs=0.06)
        assert float(left) + float(width) == pytest.approx(100 * row.high, abs=0.11)
        assert f"{row.harvested} of {row.known}" in read.words
    assert "Best dates are judged on years that had no part in choosing them" in read.words


def test_the_calendar_of_the_decision_is_of_the_dates_that_lead(pellbrook):
    page = Page(pellbrook, "C", dt.date(2026, 1, 2))
    link = next(a for a in Reader(page.section("decision").html).all("a") if "download" in a)
    events = icalendar.Calendar.from_ical(carried(link["href"])[1]).walk("VEVENT")
    start = next(e for e in events if "Sow" in e["SUMMARY"])
    assert day_number(f"{start['DTSTART'].dt:%m-%d}") == decide(pellbrook).lead.start


def test_what_a_user_wrote_comes_out_as_text(rude):
    wanted = Page(rude, "C", None)
    pieces = "".join(wanted.section(name).html for name in SECTIONS)
    read = Reader(pieces)
    assert [a.get("type") for a in read.all("script")] == ["application/octet-stream"]
    assert "<script>alert" not in pieces
    assert read.words.count(RUDE.split(" حديقة")[0]) > 10
    assert "حديقة الحي" in read.words
    files = [a["download"] for a in read.all("a") if "download" in a]
    assert len(files) >= 5
    assert all(re.fullmatch(r"[a-z0-9-]+\.(csv|ics)", name) for name in files)


def test_so_does_a_title(rude, executed):
    title = f"{rude.crop.name} at {rude.garden.name}"
    head = render_notebook(executed, title=title).partition("<style>")[0]
    assert "&lt;script&gt;alert(1)&lt;/script&gt;" in head
    assert "<script>" not in head


# --- files to take along --------------------------------------------------------------------


def test_dates_go_into_a_calendar(pellbrook, read):
    links = [a for a in read.all("a") if a.get("download", "").endswith(".ics")]
    assert len(links) == 1 + len(pellbrook.plans)  # the dates that lead, and each way's own
    raised = next(link for link in links if "cold-frame-5-mar" in link["download"])
    head, raw = carried(raised["href"])
    assert head == "data:text/calendar;charset=utf-8"
    events = icalendar.Calendar.from_ical(raw).walk("VEVENT")
    start = next(e for e in events if "Sow" in e["SUMMARY"])
    assert start["DTSTART"].dt == dt.date(2025, 3, 5)  # the year after the record's last


def test_tables_go_into_a_spreadsheet(pellbrook, read):
    links = [a for a in read.all("a") if a.get("download", "").endswith(".csv")]
    names = [a["download"] for a in links]
    assert names == [
        f"pellbrook-allotments-{what}.csv"
        for what in ("freeze-odds", "year-by-year", "crops-that-suit")
    ]
    head, raw = carried(links[1]["href"])
    assert head == "data:text/csv;charset=utf-8"
    lines = raw.splitlines()
    assert any("pellbrook_valley.csv" in line for line in lines if line.startswith("#"))
    rows = list(csv.DictReader(line for line in lines if not line.startswith("#")))
    assert [int(row["season"]) for row in rows] == pellbrook.window["season"].values.tolist()
    most = [float(row["length_most"] or "nan") for row in rows]
    assert sum(a < pellbrook.need_days for a in most) == int(pellbrook.shorter["shorter"])
    plan = pellbrook.plans[1]
    assert {row[f"outcome: {plan.name}"] for row in rows} <= {"harvest", "failed", "unknown"}
    failed = [
        row[f"reason: {plan.name}"] for row in rows if row[f"outcome: {plan.name}"] == "failed"
    ]
    assert len(failed) == int(pellbrook.odds[1]["failed_by"].sum())


@pytest.mark.parametrize(
    ("made", "year"),
    [
        (None, 2025),
        (dt.date(2026, 3, 5), 2026),
        (dt.date(2026, 3, 6), 2027),
        (dt.date(2028, 2, 29), 2028),
    ],
)
def test_the_calendar_is_of_the_next_start(pellbrook, made, year):
    assert assets.next_year(pellbrook.plans[0], pellbrook.daily, made) == year


def test_a_file_has_a_name_that_every_computer_takes():
    assert assets.plain("Gärten: 1/2 <b>") == "garten-1-2-b"
    assert assets.plain("Großer Møllehøj, Łódź") == "grosser-mollehoj-lodz"
    assert assets.plain("حديقة") == "climwin"
    assert len(assets.plain("x" * 300)) == 80


# --- the live chart's numbers ---------------------------------------------------------------


def test_the_live_chart_opens_on_the_report(pellbrook):
    given = live_numbers(live.numbers(pellbrook, "F"))
    state = given["state"]
    assert (state["crop"], state["units"]) == ("cauliflower", "F")
    assert state["starts"] == [day_number(plan.start) for plan in pellbrook.plans]
    assert [c["name"] for c in given["numbers"]["crops"]] == list(cw.crop_names())
    crops = [evaluated["crop"] for evaluated in given["plans"]]
    assert set(crops) == set(cw.crop_names())


def test_the_live_chart_begins_on_the_dates_of_the_table(pellbrook):
    given = live_numbers(live.numbers(pellbrook, "C"))
    assert pellbrook.leading("harvest") == "today"
    for name in ("cauliflower", "pea"):
        of_crop = [each for each in given["plans"] if each["crop"] == name]
        for each in of_crop[:: 1 if name == "pea" else 9]:
            way = each["way"]
            weeks, cover = way["weeks"], way["cover"]
            plan = cw.Plan(cw.crop(name), "04-01", weeks, cover if weeks else "none")
            swept = cw.sweep_start_dates(plan, pellbrook.daily, climate="today")
            told = each["outcomes"]
            assert told["best_date"] == int(swept["best_day"])
            assert told["best_dates"] == [int(swept["best_first"]), int(swept["best_last"])]
            assert told["best_share"] == pytest.approx(float(swept["elsewhere_share"]))
    (in_place,) = (
        each["outcomes"]["best_date"]
        for each in given["plans"]
        if (each["crop"], each["way"]["weeks"]) == ("cauliflower", 0)
    )
    at_best = cw.at_best_date(cw.Plan(pellbrook.crop, "04-20"), pellbrook.ahead.daily)
    assert in_place == day_number(at_best.start)


def test_a_single_plan_stands_beside_the_other_usual_way(pellbrook):
    plan = cw.Plan(pellbrook.crop, "04-20")
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=[plan])
    two = live._two_plans(report)
    assert two[0] == plan
    assert two[1].weeks_under_cover > 0


def test_window_and_harvest_stand_together(pellbrook):
    read = Reader(Page(pellbrook, "C", None).section("comfort").html)
    for text in sentences.window_and_harvest(pellbrook):
        assert text in read.words
    assert sentences.two_bands(pellbrook, "C") in read.words
    top = Reader(Page(pellbrook, "C", None).section("reason").html).words
    assert all(text in top for text in decision.reason(pellbrook))


def test_the_larger_doubt_stands_beside_the_smaller(pellbrook):
    told = Reader(Page(pellbrook, "C", None).section("sure").html).words
    assert told.index(sentences.how_sure(pellbrook)) < told.index(
        decision.limits_doubt(pellbrook, "C")
    )


def test_freeze_tables_do_not_mix_odds_of_dates_and_of_days(pellbrook):
    read = Reader(Page(pellbrook, "C", None).section("freezes").html)
    heads = [text for text in ("Last in spring", "First in autumn") if text in read.words]
    assert len(heads) == 2
    odds = pellbrook.of_climate(pellbrook.leading("spring freeze")).freeze_odds.isel(threshold=0)
    half, most = (round(float(odds["freeze_free_days"].sel(odds=o))) for o in (0.5, 0.9))
    assert (
        f"Half of the years had {half} days or more without such a night; nine in ten had {most}"
        in (read.words)
    )


def test_each_way_says_what_it_rests_on(pellbrook):
    read = Reader(Page(pellbrook, "C", None).section("ways").html)
    assert "A cold frame is taken to be 3 °C warmer at night and 6 °C by day" in read.words
    for years, spans in zip(pellbrook.ahead.evaluated, pellbrook.recommended, strict=True):
        assert sentences.failures_by_stage(years) in read.words
        assert all(text in read.words for text in sentences.recommended(spans, "sown"))


def test_a_perennial_has_no_start_to_choose_and_a_winter(pellbrook):
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, crop=cw.crop("asparagus"))
    given = Page(report, "C", None)
    told = Reader(given.section("ways").html).words
    assert "First growth" in told or "first growth" in told
    assert "Sow" not in told
    assert "largest crop" not in told
    assert "<svg" not in given.section("ways").html  # no curve by start date
    assert "Winter: the crown" in Reader(given.section("reason").html).words
    assert "asparagus" in Reader(given.section("decision").html).words.lower()


# --- writing it -----------------------------------------------------------------------------


def test_it_is_the_same_again_and_replaces_an_older_one_whole(pellbrook, tmp_path, html):
    target = tmp_path / "new" / "page.html"
    assert cw.write_page(pellbrook, target) == target
    assert target.read_text("utf-8") == html
    cw.write_page(pellbrook, target, units="F", made="2026-11-25")
    again = Reader(target.read_text("utf-8")).words
    assert "on November 25, 2026" in again
    assert "41 to 77 °F" in again
    assert "for 2027" in again
    assert [p.name for p in target.parent.iterdir()] == ["page.html"]


def test_without_a_name_it_is_named_for_the_place_and_the_crop(pellbrook, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setattr(write, "run_cells", lambda *_: {})
    monkeypatch.setattr(write, "render_notebook", lambda *_, **__: "whole")
    assert cw.write_page(pellbrook).read_text() == "whole"
    assert [p.name for p in tmp_path.iterdir()] == [
        f"{assets.plain(pellbrook.garden.name)}-cauliflower.html"
    ]


def test_a_page_that_cannot_be_written_leaves_the_old_one(tmp_path, monkeypatch):
    target = tmp_path / "page.html"
    target.write_text("old")
    monkeypatch.setattr(
        "pathlib.Path.write_text", lambda *_, **__: (_ for _ in ()).throw(OSError("full"))
    )
    with pytest.raises(OSError, match=r"page\.html cannot be written \(full\)"):
        write.write_text(target, "new")
    assert target.read_text() == "old"
    assert [p.name for p in tmp_path.iterdir()] == ["page.html"]


def test_units_are_c_or_f(pellbrook, tmp_path):
    with pytest.raises(ValueError, match="units must be one of C, F; got 'K'"):
        cw.write_page(pellbrook, tmp_path / "page.html", units="K")


def test_a_date_is_a_date(pellbrook, tmp_path):
    with pytest.raises(ValueError, match="such as '2026-11-25'; got 'today'"):
        cw.write_page(pellbrook, tmp_path / "page.html", made="today")


def test_any_notebook_goes_through_the_same_frame():
    book = nbformat.v4.new_notebook(
        cells=[
            nbformat.v4.new_markdown_cell("# A question\n\nIn words."),
            nbformat.v4.new_markdown_cell("## An answer\n\nIn *more* words."),
            nbformat.v4.new_code_cell(
                "secret",
                outputs=[
                    nbformat.v4.new_output("stream", name="stdout", text="1 < 2\n"),
                    nbformat.v4.new_output("stream", name="stderr", text="a warning"),
                    nbformat.v4.new_output("display_data", {"text/plain": "<Dataset>"}),
                    nbformat.v4.new_output(
                        "display_data",
                        {"image/png": "iVBORw0KGgo=\n", "text/plain": "x"},
                        metadata={"image/png": {"alt": "A curve"}},
                    ),
                    nbformat.v4.new_output("display_data", {"image/svg+xml": '<svg a="#1"></svg>'}),
                ],
            ),
        ]
    )
    read = Reader(render_notebook(book))
    assert ("title", {}) in read.tags
    assert read.words.startswith("A question")
    assert "1 < 2" in read.words
    assert "<Dataset>" in read.words
    assert "secret" not in read.words
    assert "a warning" not in read.words
    assert read.all("img")[0] == {"src": "data:image/png;base64,iVBORw0KGgo=", "alt": "A curve"}
    assert read.all("img")[1]["src"] == "data:image/svg+xml,%3Csvg%20a%3D%22%231%22%3E%3C/svg%3E"
    assert read.all("script") == []
    assert ["h2", "An answer"] in read.heads


def test_tables_of_a_notebook_have_names_and_only_heads_that_say_something():
    own = pd.DataFrame({"": ["5", "6"]}, index=["Both", "Neither"])
    beside = pd.DataFrame({"Mill": ["6 May"], "Pass": ["13 May"]}, index=["Last frost"])
    output = nbformat.v4.new_output
    outputs = [output("display_data", {"text/html": t.to_html()}) for t in (own, beside)]
    outputs += [output("stream", name="stdout", text="A place:\n  it is cold\n")]
    book = nbformat.v4.new_notebook(cells=[nbformat.v4.new_code_cell("", outputs=outputs)])
    written = render_notebook(book)
    assert re.findall(r'aria-label="(Table[^"]*)"', written) == ["Table 1", "Table 2"]
    assert written.count("<thead>") == 1
    assert not re.search(r"<th[^>]*></th>", written)
    assert all(text in written for text in ("Both", "Neither", "Mill", "Pass", "13 May"))
    assert '<p class="under">it is cold</p>' in written


@pytest.mark.filterwarnings("error")
def test_a_scenarios_years_are_joined_without_a_warning(pellbrook):
    daily = warm_by(pellbrook.daily, 2)
    report = cw.garden_report(pellbrook.garden, daily, plans=pellbrook.plans)
    assert "warmer" in Page(report, "C", None).section("decision").html
    assert "<table>" in Page(report, "C", None).section("yearly").html
