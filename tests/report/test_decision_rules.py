"""Which row leads, and which dates make a row: each rule beside the case that turns it."""

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest
import xarray as xr
from report.rows import SOWN, row

import climwin as cw
from climwin.core.seasons import day_number
from climwin.report import decision as choosing
from climwin.report import sentences_decision as words
from climwin.report.decision import Decision, decide

COLE, TOMATO, GARLIC = (cw.crop(name) for name in ("cauliflower", "tomato", "garlic"))
RAISED = cw.Plan(COLE, "03-05", 6, "cold frame")


# --- which row leads ----------------------------------------------------------------------


def lead_of(monkeypatch, *rows):
    """The place of the row that leads, and the order of the others."""
    by_plan = {number: [r for r in rows if r.number == number] for number in (0, 1)}
    report = SimpleNamespace(
        plans=[r for n in (0, 1) for r in by_plan[n][:1]], once=lambda _, answer: answer()
    )
    monkeypatch.setattr(choosing, "_rows", lambda _, number: by_plan[number])
    found = decide(report)
    assert sorted(map(id, found.rows)) == sorted(map(id, rows))
    return rows.index(found.lead), [rows.index(each) for each in found.rows[1:]]


@pytest.mark.parametrize(
    ("sown", "raised", "leads"),
    [
        (0.9, 0.9, "sown"),  # the open ground costs least
        (0.81, 0.9, "sown"),  # within the likely range of the best
        (0.79, 0.9, "raised"),
        (0.9, 0.5, "sown"),
        (0.3, 0.35, "sown"),
    ],
)
def test_the_open_ground_leads_unless_raised_plants_are_clearly_safer(
    monkeypatch, sown, raised, leads
):
    rows = (row(RAISED, raised), row(SOWN, sown, number=1))
    assert lead_of(monkeypatch, *rows)[0] == ("raised", "sown").index(leads)


@pytest.mark.parametrize("bought", [True, False])
@pytest.mark.parametrize(
    ("sown", "raised", "leads"),
    [
        (1.0, 0.81, "raised"),  # nobody sows tomatoes outdoors for the sake of some harvests more
        (1.0, 0.79, "sown"),
        (0.6, 0.7, "raised"),
        (0.75, 0.7, "sown"),
    ],
)
def test_tomatoes_are_raised_or_bought_where_that_is_reliable(
    monkeypatch, bought, sown, raised, leads
):
    in_place = cw.Plan(TOMATO, "05-20")
    if bought:
        plants = cw.Plan(TOMATO, "05-20", plants="bought")
    else:
        plants = cw.Plan(TOMATO, "04-05", 6, "room with lights")
    rows = (row(in_place, sown, low=sown - 0.02), row(plants, raised, number=1, low=raised - 0.1))
    assert lead_of(monkeypatch, *rows)[0] == ("sown", "raised").index(leads)


def test_only_warm_crops_that_are_planted_out_are_usually_raised():
    usual = {"tomato": True, "cauliflower": False, "snap bean": False, "leek": False}
    for name, is_raised in usual.items():
        crop = cw.crop(name)
        raised = cw.Plan(crop, "04-05", 6, "cold frame")
        assert choosing._is_usual(raised) is is_raised
        assert choosing._is_usual(cw.Plan(crop, "05-20")) is not is_raised


@pytest.mark.parametrize(
    ("crop", "growth", "asked_leads"),
    [(1.0, 0.8, True), (0.8, 0.8, True), (0.7, 0.8, False), (1.0, 0.5, False)],
)
def test_dates_that_were_asked_lead_unless_better_ones_crop_or_grow_clearly_more(
    monkeypatch, crop, growth, asked_leads
):
    best = row(share=0.95, is_best=True, was_asked=False, start=160, first=155, last=170)
    asked = row(share=0.9, crop=crop, growth=growth)
    assert lead_of(monkeypatch, best, asked)[0] == int(asked_leads)


def test_better_dates_of_another_way_say_nothing_of_those_asked(monkeypatch):
    asked = row(SOWN, 0.9, number=1, crop=0.5)
    other = row(RAISED, 0.9, is_best=True, was_asked=False)
    assert lead_of(monkeypatch, other, asked)[0] == 1


@pytest.mark.parametrize(("share", "first_leads"), [(0.81, True), (0.79, False)])
def test_the_first_season_leads_where_it_is_reliable(monkeypatch, share, first_leads):
    first = row(share=share, is_best=True, was_asked=False, is_first_season=True)
    later = row(share=1.0, is_best=True, start=200, low=0.97)
    assert lead_of(monkeypatch, later, first)[0] == int(first_leads)


def test_of_rows_as_good_the_safest_leads_then_best_dates_come_before_those_asked(monkeypatch):
    asked = row(SOWN, 0.3)
    safer = row(SOWN, 0.95, is_best=True, was_asked=False)
    other = row(RAISED, 0.4, number=1)
    other_best = row(RAISED, 0.93, number=1, is_best=True, was_asked=False)
    leads, order = lead_of(monkeypatch, asked, safer, other, other_best)
    assert leads == 1
    assert order == [3, 0, 2]


# --- how rows stand to each other ---------------------------------------------------------


@pytest.mark.parametrize(
    ("other", "as_well"),
    [
        ({}, True),
        ({"share": 0.81}, True),  # in the likely range of the lead
        ({"share": 0.79}, False),
        ({"yield_index": 760.0}, True),
        ({"yield_index": 740.0}, False),
        ({"growth": 0.61}, True),
        ({"growth": 0.59}, False),
    ],
)
def test_a_row_does_as_well_by_its_odds_its_crop_and_its_growth(other, as_well):
    lead = row(share=0.9)
    assert row(**{"share": 0.9} | other).does_as_well_as(lead) is as_well


def test_what_is_poor_fails_in_more_than_half_of_the_years():
    assert row(share=0.49).is_poor
    assert not row(share=0.5).is_poor


def test_plants_leave_their_cover_after_their_weeks_and_a_bed_has_no_such_day():
    assert row(RAISED).set_out == day_number("03-05") + 42
    assert np.isnan(row(SOWN).set_out)


@pytest.mark.parametrize(("known", "few"), [(9, True), (10, False)])
def test_ten_years_are_no_longer_few(known, few):
    assert Decision((row(known=known),)).has_few_years is few


def test_the_other_way_is_the_best_row_of_another_plan():
    lead = row(SOWN, 0.9, is_best=True, was_asked=False)
    asked, poor, good = row(SOWN, 0.7), row(RAISED, 0.4, number=1), row(RAISED, 0.8, number=1)
    decision = Decision((lead, good, asked, poor))
    assert decision.other_way() is good
    assert decision.same_way_asked() is asked
    assert Decision((lead, asked)).other_way() is None


@pytest.mark.parametrize(
    ("own", "other", "fails"),
    [
        ({"share": 0.3}, {"share": 0.2}, "own"),  # the way that leads comes first
        ({"share": 0.9}, {"share": 0.2}, "other"),
        ({"share": 0.81}, {"share": 0.81}, None),
        ({"share": 0.79}, {"share": 0.9}, "own"),
        ({"share": 0.3, "known": 0}, {"share": 0.9}, None),  # no year tells
        # Nobody asked for this date, and others of the same way do well.
        ({"share": 0.3, "is_best": True}, {"share": 0.9}, None),
    ],
)
def test_the_dates_that_need_a_reason_are_those_asked_that_fail(own, other, fails):
    best = row(SOWN, 0.95, is_best=True, was_asked=False, is_first_season=True)
    asked, raised = row(SOWN, **own), row(RAISED, number=1, **other)
    expected = {"own": asked, "other": raised, None: None}[fails]
    assert Decision((best, asked, raised)).failing() is expected


def test_a_date_nobody_asked_for_needs_a_reason_where_its_way_has_no_better_one():
    alone = row(SOWN, 0.3, is_best=True)
    elsewhere = row(RAISED, 0.9, number=1)
    assert Decision((alone,)).failing() is alone
    assert Decision((alone, elsewhere)).failing() is alone


# --- which rows a plan has ----------------------------------------------------------------


def rows_of(monkeypatch, asked, best, *, chosen=200, crop=COLE, spans=None):
    swept = xr.Dataset(
        {
            "best_day": chosen,
            "best_season": 0,
            "elsewhere_harvested": 31.0,
            "elsewhere_known": 39.0,
            "elsewhere_share": 0.79,
            "elsewhere_low": 0.66,
            "elsewhere_high": 0.89,
        }
    )
    report = SimpleNamespace(
        crop=crop, ahead=SimpleNamespace(swept=[swept]), recommended=[spans], plans=[asked.plan]
    )
    monkeypatch.setattr(choosing, "_asked", lambda *_: asked)
    monkeypatch.setattr(choosing, "_best", lambda *_: best)
    return choosing._rows(report, 0)


BEST = row(share=0.9, is_best=True, was_asked=False, start=160, first=150, last=170)


@pytest.mark.parametrize(
    ("given", "has_best"),
    [
        ({"start": 155, "share": 0.8}, False),  # among the best dates
        ({"start": 120, "share": 0.8}, True),
        ({"start": 120, "share": 0.9}, False),  # elsewhere, and as safe
        ({"start": 155, "crop": 0.7}, True),  # a clearly smaller crop
        ({"start": 155, "growth": 0.5}, True),
    ],
)
def test_best_dates_are_a_row_of_their_own_where_they_do_better(monkeypatch, given, has_best):
    asked = replace(row(share=0.9), **given)
    assert rows_of(monkeypatch, asked, BEST) == ([BEST, asked] if has_best else [asked])


def test_a_perennial_and_a_plan_without_better_dates_have_one_row(monkeypatch):
    asked = row(start=120, share=0.3)
    assert rows_of(monkeypatch, asked, None) == [asked]
    assert rows_of(monkeypatch, asked, BEST, crop=cw.crop("apple")) == [asked]


def test_a_date_nobody_asked_for_is_judged_on_the_years_left_out(monkeypatch):
    asked = row(start=160, share=0.99)
    for spans in (None, xr.Dataset(coords={"span": []})):
        [chosen] = rows_of(monkeypatch, asked, BEST, chosen=160, spans=spans)
        assert chosen.is_best
        assert chosen.was_asked
        assert not chosen.is_given
        assert (chosen.harvested, chosen.known, chosen.share) == (31, 39, 0.79)
        assert (chosen.low, chosen.high) == (0.66, 0.89)
        assert (chosen.first, chosen.last) == (150, 170)
    outside = replace(BEST, first=100, last=120)
    [chosen] = rows_of(monkeypatch, asked, outside, chosen=160)
    assert (chosen.first, chosen.last) == (160, 160)


def test_the_dates_of_an_early_variety_are_not_lent_to_the_main_one(monkeypatch):
    asked = row(start=160, share=0.99)
    early = replace(BEST, first=120, last=200, is_early=True)
    for run, wanted in (((155, 165), (155, 165)), (None, (160, 160))):
        monkeypatch.setattr(choosing, "best_run_of", lambda _, run=run: run)
        [chosen] = rows_of(monkeypatch, asked, early, chosen=160)
        assert (chosen.first, chosen.last) == wanted


def spans_of(*dates, crop=1.0, growth=0.8, expected=None, share=0.9):
    """Recommended dates: first, best and last day of each, and how large a crop."""
    first, best, last = np.array(dates).T
    sizes = crop, growth, crop if expected is None else expected
    crop, growth, expected = (np.broadcast_to(each, len(dates)) for each in sizes)
    return xr.Dataset(
        {
            "first_day": ("span", first),
            "best_day": ("span", best),
            "last_day": ("span", last),
            "elsewhere_share": ("span", np.broadcast_to(share, len(dates))),
            "crop_of_variety": ("span", crop),
            "expected_crop": ("span", expected),
            "growth": ("span", growth),
        }
    )


@pytest.mark.parametrize(
    ("first_day", "share", "rows"),
    [
        (150, 0.8, "one"),  # the same season, hardly safer
        (150, 0.86, "both"),  # an early variety that is clearly safer
        (60, 0.8, "both"),  # an earlier season
    ],
)
def test_the_first_season_has_a_row_where_it_is_another_or_clearly_safer(
    monkeypatch, first_day, share, rows
):
    span = row(
        is_best=True, was_asked=False, share=share, start=first_day + 10, first=first_day,
        last=first_day + 20,
    )  # fmt: skip
    monkeypatch.setattr(choosing, "_row_of_span", lambda *_: span)
    spans = spans_of((first_day, first_day + 10, first_day + 20))
    found = rows_of(monkeypatch, row(start=160), BEST, chosen=160, spans=spans)
    if rows == "one":
        [only] = found
        assert only.is_first_season
        assert only.start == 160
    else:
        first, chosen = found
        assert first.is_first_season
        assert first.start == first_day + 10
        assert not chosen.is_first_season
        assert chosen.start == 160


@pytest.mark.parametrize(
    ("start", "place"),
    [
        (100, 0),  # inside
        (130, 0),  # 10 days after the first span, 20 before the second
        (140, 1),
        (245, 1),
        (5, 2),  # inside a span over the turn of the year
        (310, 2),
        (40, 2),
    ],
)
def test_the_dates_nearest_to_those_asked_are_those_of_the_calendar(start, place):
    spans = spans_of((90, 100, 120), (150, 170, 250), (350, 360, 10))
    assert choosing._nearest(spans, start) == place


def test_dates_with_a_small_crop_are_not_the_nearest():
    spans = spans_of((90, 100, 120), (150, 170, 250), crop=[0.3, 1.0])
    assert choosing._nearest(spans, 100) == 1
    sizes = {"crop": [0.3, 1.0], "growth": [0.8, 0.2]}
    spans = spans_of((90, 100, 120), (150, 170, 250), expected=0.5, **sizes)
    assert choosing._nearest(spans, 100) == 0  # neither is full


def test_a_season_with_nearly_the_best_expected_crop_counts_as_one_with_a_full_crop():
    dates = (90, 100, 120), (150, 170, 250)
    for expected, place in ((0.8, 0), (0.5, 1)):
        spans = spans_of(*dates, crop=[0.3, 1.0], expected=[expected, 1.0])
        assert choosing._nearest(spans, 100) == place


@pytest.mark.parametrize(
    ("variety", "of_span", "is_early"),
    [("main", "early", True), ("main", "main", False), ("early", "early", False)],
)
def test_only_an_early_variety_in_a_main_ones_place_is_named_early(
    monkeypatch, variety, of_span, is_early
):
    plan = cw.Plan(COLE, "04-20", earliness=variety)
    monkeypatch.setattr(choosing, "_row_of_best", lambda *_: row(plan))
    values = {"harvest_first": 200.0, "harvest_last": 210.0, "earliness": of_span}
    values["season"] = "spring"
    columns = {name: ("span", [value]) for name, value in {**values, "yield_index": 9.0}.items()}
    spans = spans_of((90, 100, 120)).assign(columns)
    report = SimpleNamespace(plans=[plan], crop=COLE)
    assert choosing._row_of_span(report, 0, spans, 0).is_early is is_early


def test_the_weaker_end_of_dates_that_run_through_the_winter_is_not_the_nearest():
    dates = (20, 40, 150), (330, 350, 19)  # parted on the coldest day alone
    for share, place in (([0.99, 0.83], 0), ([0.95, 0.9], 1), ([0.8, 0.95], 1)):
        spans = spans_of(*dates, share=share)
        assert choosing._nearest(spans, 300) == place
    apart = spans_of((20, 40, 150), (330, 350, 10), share=[0.99, 0.83])
    assert choosing._nearest(apart, 300) == 1


def surer_rows(share=0.95, first=200, last=240):
    lead = row(is_best=True, was_asked=False, share=0.82, start=100, first=90, last=120)
    lead = replace(lead, is_first_season=True, season="spring")
    other = row(is_best=True, was_asked=True, share=share, start=210, first=first, last=last)
    return lead, replace(other, season="summer for autumn")


@pytest.mark.parametrize(
    ("share", "first", "last", "is_surer"),
    [
        (0.95, 200, 240, True),
        (0.91, 200, 240, False),  # by less than one year in ten
        (0.95, 121, 240, False),  # its dates go on where the others end
        (0.95, 200, 89, False),
    ],
)
def test_a_season_apart_that_is_clearly_surer_is_named(share, first, last, is_surer):
    lead, other = surer_rows(share, first, last)
    found = Decision((lead, other)).surer_season()
    assert found == (other if is_surer else None)
    assert Decision((replace(lead, is_first_season=False), other)).surer_season() is None


def test_the_verdict_and_its_numbers_name_the_surer_season():
    lead, other = surer_rows()
    decision = Decision((lead, other))
    assert words._beside_it(decision) == ["; summer is surer"]
    assert words.row_name(decision, lead).endswith(", spring dates")
    assert words.row_name(decision, other).endswith(", summer dates")
    assert words.season_of(replace(other, season="")) == "late July"


@pytest.mark.parametrize(("name", "runs_on"), [("cauliflower", True), ("tomato", False)])
def test_only_cool_weather_crops_are_begun_from_autumn_to_spring(monkeypatch, name, runs_on):
    plan = cw.Plan(cw.crop(name), "04-20")
    found = []
    monkeypatch.setattr(
        choosing, "_row_of_best", lambda *given: found.append(given[3]) or row(plan)
    )
    spans = spans_of((20, 40, 150), (330, 350, 19), share=0.9).assign(
        {key: ("span", [9.0, 9.0]) for key in ("harvest_first", "harvest_last", "yield_index")}
        | {key: ("span", ["", ""]) for key in ("earliness", "season")}
    )
    report = SimpleNamespace(plans=[plan], crop=plan.crop)
    for place in (0, 1):
        choosing._row_of_span(report, 0, spans, place)
    assert found == (
        [(330, 40, 150), (330, 350, 150)] if runs_on else [(20, 40, 150), (330, 350, 19)]
    )


@pytest.mark.parametrize("name", ["cauliflower", "apple"])
def test_a_row_that_was_asked_has_the_odds_and_the_crop_of_its_own_date(name):
    crop = cw.crop(name)
    plan = cw.Plan(crop, "04-20")
    swept = xr.Dataset(
        {"expected_crop": ("start_day", [0.2, 0.7]), "yield_index": ("start_day", [200.0, 700.0])},
        {"start_day": [1, 110]},
    )
    harvest = {f"begin_{end}": ("event", [day]) for end, day in (("first", 190.0), ("last", 215.0))}
    odds = {"harvested": 30, "known": 40, "share": 0.75, "low": 0.6, "high": 0.86, "growth": 0.8}
    report = SimpleNamespace(
        crop=crop, plans=[plan], timetables=[xr.Dataset(harvest, {"event": ["harvest"]})],
        ahead=SimpleNamespace(odds=[xr.Dataset(odds)], swept=[swept]),
    )  # fmt: skip
    asked = choosing._asked(report, 0)
    start, share, size = (1, 1.0, 0.0) if crop.is_perennial else (110, 0.7, 700.0)
    assert (asked.start, asked.first, asked.last) == (start,) * 3
    assert (asked.crop, asked.yield_index) == (share, size)
    assert asked.harvest == (190.0, 215.0)
    assert (asked.harvested, asked.known) == (30, 40)
    assert (asked.low, asked.share, asked.high) == (0.6, 0.75, 0.86)
    assert asked.was_asked
    assert not asked.is_best


@pytest.mark.parametrize(
    ("share", "started", "is_told"), [(0.95, 100, True), (0.95, 220, False), (0.85, 100, False)]
)
def test_a_surer_season_has_a_row_unless_a_row_has_its_dates(monkeypatch, share, started, is_told):
    lead = replace(surer_rows()[0], share=0.82)
    surer = row(is_best=True, was_asked=False, share=share, start=210, first=200, last=240)
    chosen = row(is_best=True, start=started, first=started, last=started)
    monkeypatch.setattr(choosing, "_row_of_span", lambda *given: (lead, surer)[given[3]])
    spans = spans_of((90, 100, 120), (200, 210, 240))
    found = choosing._surer_seasons(SimpleNamespace(), [lead, chosen], spans)
    assert found == ([surer] if is_told else [])
    for sizes in ({"crop": [1.0, 0.1]}, {"growth": [0.8, 0.1]}):
        poor = spans_of((90, 100, 120), (200, 210, 240), **sizes)
        assert choosing._surer_seasons(SimpleNamespace(), [lead, chosen], poor) == []


@pytest.mark.parametrize(
    ("spans", "run", "expected"),
    [
        (spans_of((90, 100, 120), (200, 210, 240)), (155, 165), "the second span"),
        (None, (155, 165), (155, 160, 165)),
        (xr.Dataset(coords={"span": []}), (360, 10), (360, 2, 10)),
        (None, None, None),
    ],
)
def test_best_dates_are_those_recommended_or_else_the_best_run(monkeypatch, spans, run, expected):
    """Of a run, the day in its middle, over the turn of the year too."""
    monkeypatch.setattr(
        choosing, "_row_of_span", lambda *given: ("zeroth", "the second span")[given[3]]
    )
    monkeypatch.setattr(choosing, "_row_of_best", lambda *given: given[3])
    monkeypatch.setattr(choosing, "best_run_of", lambda _: run)
    days = np.arange(1, 366)
    swept = xr.Dataset(
        {"harvest_day": (("start_day", "end"), np.stack([days + 80.0, days + 110.0], axis=1))},
        {"start_day": days},
    )
    plan = cw.Plan(COLE, "07-20")  # day 201
    report = SimpleNamespace(
        plans=[plan], recommended=[spans], ahead=SimpleNamespace(swept=[swept])
    )  # fmt: skip
    assert choosing._best(report, 0) == expected
