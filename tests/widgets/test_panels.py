"""Panels in Python: what they hold, what a hand or a cell moves, and where no script runs."""

import asyncio
import base64
import json
import re
import subprocess
import sys
import threading
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import replace
from itertools import groupby
from types import SimpleNamespace

import numpy as np
import pytest
import records
import xarray as xr
from hypothesis import given
from hypothesis import strategies as st
from reading import codes_of, from_letters, signed

import climwin as cw
from climwin.core.seasons import day_name, day_number
from climwin.crops.bands import bearable_band
from climwin.planning.growth import HARVEST, OPEN
from climwin.planning.site import GROWN_DRAWS
from climwin.planning.suitability import rank_crops
from climwin.report import sentences
from climwin.shelter.covers import COVERS
from climwin.widgets import background, payload
from climwin.widgets.background import DebouncedTasks, SharedRuns
from climwin.widgets.panels import cover_panel, freeze_panel, panel, plans_panel, window_panel
from climwin.widgets.tasks import DEPENDS_ON, TASKS, TASKS_OF_PART


@pytest.fixture(scope="module")
def daily():
    return cw.read_daily(cw.sample())


@pytest.fixture(scope="module")
def cauliflower():
    return cw.crop("cauliflower")


@pytest.fixture(scope="module")
def logger():
    return cw.read_logger(cw.sample("frame_logger.csv"))


@pytest.fixture
def short():
    """Six years of an invented place, quick to judge."""
    return records.weather(4, 6, gaps=0.01).assign_attrs(latitude=46.0)


# --- what it holds --------------------------------------------------------------------------


def test_a_panel_opens_on_what_it_was_given(daily, cauliflower, logger):
    plans = [cw.Plan(cauliflower, "03-05", 6, "cold frame"), cw.Plan(cauliflower, "04-20")]
    garden = cw.Garden("Pellbrook allotments", 46.1, 7.2)
    shown = panel(daily, plans=plans, need_days=70, garden=garden, units="F", logger=logger)
    assert [shown.plan.name, shown.other.name] == [plan.name for plan in plans]
    assert replace(shown.plan, start="03-05") == plans[0]
    assert shown.crop == cauliflower
    assert (shown.limits, shown.killed_at) == (bearable_band(cauliflower), cauliflower.killed_at_c)
    assert (shown.need_days, shown.units, shown.years) == (70, "F", (1985, 2024))
    assert shown.parts == ["freeze", "window", "plans", "cover"]
    assert shown.report.garden == garden
    assert "mild spell was long enough for cauliflower in" in sentences.finding(shown.report)
    assert shown.message == ""
    assert not shown.busy


def test_plans_that_were_not_given_stand_on_their_best_dates(short):
    shown = window_panel(short, "lettuce")
    here = cw.Garden("here", 46, 7)
    report = cw.garden_report(here, short, crop=cw.crop("lettuce"), few_years=True)
    raised, sown = report.plans
    assert (shown.plan, shown.other) == (raised, sown)


def test_all_that_the_chart_is_given_is_plain_json(daily, logger):
    shown = panel(daily, logger=logger)
    for part in (shown.numbers, shown.results, shown.state):
        assert json.loads(json.dumps(part, allow_nan=False)) == part


def test_a_moved_limit_gives_the_windows_of_the_library(short):
    shown = window_panel(short, "lettuce")
    before = shown.results["plans"]
    shown.limits = (5.0, 21.5)
    shown.need_days = 44
    assert (shown.limits.low_c, shown.limits.high_c) == (5.0, 21.5)
    assert shown.limits.source == "moved by hand in the panel"
    assert shown.crop == shown.plan.crop == cw.crop("lettuce")  # a window is not the crop
    assert shown.results["plans"] is before
    assert shown.report.need_days == 44
    own = cw.usable_windows(short, shown.limits, killed_at=shown.killed_at)
    xr.testing.assert_equal(shown.report.windows, own)
    shown.limits = (5.0, 22.0)
    assert (shown.limits.low_c, shown.limits.high_c) == (5.0, 22.0)


def test_one_plan_twice_is_one_plan_of_the_report(short):
    shown = panel(short, "carrot")
    assert shown.plan == shown.other
    assert shown.report.plans == (shown.plan,)
    assert len(panel(short, "lettuce").report.plans) == 2


def test_limits_that_were_not_moved_are_those_the_crop_bears(short):
    shown = window_panel(short, "lettuce")
    assert shown.limits == bearable_band(cw.crop("lettuce"))
    xr.testing.assert_equal(shown.report.windows, cw.usable_windows(short, cw.crop("lettuce")))


def test_a_moved_killing_night_is_that_of_the_young_crop(short):
    shown = window_panel(short, "tomato")
    own = cw.crop("tomato")
    shown.killed_at = 3.0
    assert shown.crop.killed_at_c == shown.killed_at == 3.0
    assert shown.crop.stages[0].cold.damaged_at_c >= 3.0
    assert shown.crop.stages[1:] == own.stages[1:]
    assert shown.limits == bearable_band(own)
    odds = [
        cw.sweep_start_dates(replace(shown.plan, crop=each), short)["harvested"].sum()
        for each in (own, shown.crop)
    ]
    packed = shown.results["plans"]["plans"][0]
    codes = unpacked(packed)[0]
    assert np.isin(codes, [payload.GOOD_HARVEST, HARVEST]).sum() == odds[1] < odds[0]


def test_the_need_is_the_days_the_first_plan_stands_outdoors(short):
    shown = window_panel(short, "lettuce")
    days = cw.evaluate_plan(shown.plan, short)["days_outdoors"].dropna("season")
    assert shown.need_days == shown.report.need_days == int(days.median())
    shown.plan = replace(shown.plan, start="06-20")
    days = cw.evaluate_plan(shown.plan, short)["days_outdoors"].dropna("season")
    assert shown.need_days == int(days.median())


def test_another_crop_begins_with_its_own_limits(short):
    shown = panel(short, "lettuce", units="F")
    shown.need_days, shown.limits = 30, (1.0, 20.0)
    shown.crop = "pea"
    assert (shown.crop, shown.limits) == (cw.crop("pea"), bearable_band(cw.crop("pea")))
    assert (shown.state["need"], shown.units) == (None, "F")
    mine = replace(cw.crop("pea"), name="our own pea")
    shown.plan = cw.Plan(mine, "04-01")
    assert shown.crop == mine
    assert [crop["name"] for crop in shown.numbers["crops"]][-1] == "our own pea"


def test_years_that_count(daily):
    shown = freeze_panel(daily)
    shown.years = (1991, 2020)
    assert (shown.numbers["record"]["first_year"], shown.numbers["record"]["last_year"]) == (
        1991,
        2020,
    )
    assert shown.daily["time"].dt.year.values[[0, -1]].tolist() == [1991, 2020]
    assert shown.report.daily.sizes == shown.daily.sizes


# --- wrong input ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("given", "said"),
    [
        ({"crop": "cauliflwer"}, "Nearest: cauliflower"),
        ({"years": (1900, 1910)}, "No day of the years 1900 to 1910 is in the record"),
        ({"need_days": 0}, "need_days must lie between 1 and 365, got 0"),
        ({"units": "K"}, "units must be one of C, F; got 'K'"),
    ],
)
def test_wrong_input_is_said_in_the_panel(short, given, said):
    shown = window_panel(short, **given)
    assert said in shown.message
    assert said in shown._repr_mimebundle_()[0]["text/plain"]
    with pytest.raises(ValueError, match=re.escape(said)):
        _ = shown.plan


@pytest.mark.parametrize(
    ("name", "value", "said"),
    [
        ("limits", (24, 7), "low_c must lie below high_c, got low_c=24 and high_c=7"),
        ("limits", (70, 90), "Is it in degF?"),
        ("killed_at", 400.0, "must lie between -60 and 50 degC"),
        ("killed_at", 20.0, "killed_at must lie below the band, which begins at"),
        ("need_days", 400, "need_days must lie between 1 and 365, got 400"),
        ("years", (1900, 1910), "it runs from 1999 to 2004"),
        ("years", (2002, 2001), "No day of the years 2002 to 2001"),
        ("units", "K", "units must be one of C, F"),
        ("crop", "no such", "The catalogue has no crop 'no such'"),
    ],
)
def test_what_was_wrong_is_said_and_what_was_there_stays(short, name, value, said):
    shown = window_panel(short, "lettuce")
    before = shown.state
    setattr(shown, name, value)
    assert said in shown.message
    assert shown.state == before
    shown.need_days = 41
    assert shown.message == ""


def test_years_without_data_are_named(short):
    shown = window_panel(short, "lettuce")
    place = shown.numbers["record"]
    for years in ([1900, 1910], [None, 2001]):
        shown.state = {**shown.state, "years": years}  # as the browser sends it
        assert "No day of the years" in shown.message
        assert shown.numbers["record"] == place
    shown.state = {**shown.state, "years": [2000, 2003]}
    assert shown.message == ""
    assert shown.numbers["record"]["first_year"] == 2000


def test_a_record_too_thin_is_named(short):
    shown = freeze_panel(short.isel(time=slice(0, 90)))
    assert "The record is too thin to have a usual year" in shown.message
    shown = freeze_panel(short.isel(time=slice(0, 0)))
    assert "has no days at all" in shown.message
    shown = freeze_panel(records.side_by_side(short, short))
    assert "A panel shows one place" in shown.message


def test_no_logger_no_covered_space(short):
    shown = window_panel(short, "lettuce")
    with pytest.raises(ValueError, match="There is no logger of a covered space"):
        TASKS["cover"](shown._inputs())


# --- what is worked out in the background ---------------------------------------------------------


def unpacked(packed):
    """Codes, days of harvest and days needed that the front end is given, with their axes."""

    def by_start(text):
        return np.cumsum(signed(from_letters(text)))

    harvest = np.array([by_start(text) for text in packed["harvest_days"]])
    return codes_of(packed), harvest, by_start(packed["need_days"])


def test_letters_are_the_whole_numbers_that_the_front_end_reads():
    # The same pairs stand in climwin/widgets/js/test/rules.test.js.
    numbers = [0, 1, 57, 55_260, 55_261, 1_112_028]
    assert payload.letters(np.array(numbers)) == "#$\\\ud7ff\ue000\U0010ffff"
    assert payload._steps(np.array([2, 1, 1, 2])) == "'$#%"


@given(st.lists(st.integers(0, 1_112_028)))
def test_numbers_are_read_back_from_their_letters(numbers):
    text = payload.letters(np.array(numbers, dtype=int))
    assert len(text) == len(numbers)
    assert from_letters(json.loads(json.dumps(text))).tolist() == numbers


@given(
    st.lists(st.one_of(st.none(), st.floats(-90, 60)), min_size=1),
    st.integers(0, 6),
)
def test_readings_are_read_back_to_the_last_bit(values, decimals):
    values = np.array(values, dtype=float).round(decimals)
    packed = payload._readings(values)
    known = [step for step in packed["steps"] if step is not None]
    back = np.full(len(values), np.nan)
    back[[step is not None for step in packed["steps"]]] = np.cumsum(known)
    assert packed["decimals"] <= decimals
    np.testing.assert_array_equal(back / 10 ** packed["decimals"], values)


@pytest.mark.parametrize(
    ("name", "weeks", "start"),
    [("lettuce", 4, "02-10"), ("lettuce", 4, "08-20"), ("tomato", 0, "05-01"), ("pea", 0, "04-01")],
)
def test_outcomes_are_those_of_the_plan_grown_from_that_date(short, name, weeks, start):
    plan = cw.Plan(cw.crop(name), start, weeks, "cold frame" if weeks else "none")
    codes, harvest, need = unpacked(payload.outcomes([plan], short)[0])
    constants, day = payload.constants(), day_number(start) - 1
    grown = cw.evaluate_plan(plan, short)
    good = grown["growth"].values >= 0.6
    of_day = codes[:, day]
    assert (of_day == constants["good_harvest"]).tolist() == good.tolist()
    harvested = np.isin(of_day, [constants["good_harvest"], constants["harvest"]])
    assert harvested.tolist() == (grown["outcome"] == "harvest").values.tolist()
    unknown = of_day == constants["unknown"]
    assert unknown.tolist() == (grown["outcome"] == "unknown").values.tolist()
    reasons = [constants["failure_reasons"][code] if code >= 0 else "" for code in of_day]
    assert reasons == [sentences.reason_in_words(each) for each in grown["reason"].values]
    # With what the draws of the gaps say, as the library tells it.
    levels = cw.sweep_start_dates(plan, short)["harvest_day"].sel(start_day=day + 1).values
    if np.isfinite(levels).all():
        assert harvest[:, day].tolist() == np.floor(levels + 0.5).tolist()
        assert need[day] == int(grown["days_outdoors"].median())
    else:
        assert harvest[:, day].tolist() == [-1] * 3
        assert need[day] == round(plan.crop.maturity.main)


def test_best_dates_are_those_of_a_sweep(short):
    plan = cw.Plan(cw.crop("lettuce"), "01-01", 4, "cold frame")
    packed = payload.outcomes([plan], short)[0]
    swept = cw.sweep_start_dates(plan, short)
    assert tuple(packed["best_dates"]) == cw.best_dates(swept)
    # Dates of other seasons are safe too, and are no part of those that lead.
    first, last = packed["best_dates"]
    for begin, end in packed["other_dates"]:
        run = (begin - 1 + np.arange((end - begin) % 365 + 1)) % 365 + 1
        assert ((run - first) % 365 > (last - first) % 365).all()
        assert swept["share"].sel(start_day=run).max() >= 0.8
    assert day_name(packed["best_date"]) == day_name(day_number(cw.at_best_date(plan, short).start))


def test_years_that_are_all_unknown_have_no_best_dates(short):
    few = short.sel(time=slice("2000-05-01", "2000-07-01"))
    packed = payload.outcomes([cw.Plan(cw.crop("potato"), "05-01")], few)[0]
    codes, harvest, _ = unpacked(packed)
    assert packed["best_dates"] is None or (codes != payload.constants()["unknown"]).any()
    assert (harvest == -1).all()


def changed_results(shown, before):
    """Names of the tasks that have run again."""
    return {name for name, result in before.items() if shown.results[name] is not result}


def test_only_what_depends_on_a_move_runs_again(short):
    shown = panel(short, "lettuce")
    before = dict(shown.results)
    shown.state = {**shown.state, "date": 200, "units": "F"}
    assert changed_results(shown, before) == {"caveats"}  # in the unit that is shown
    before = dict(shown.results)
    shown.state = {**shown.state, "threshold": -2.0}
    assert changed_results(shown, before) == {"freeze"}
    before = dict(shown.results)
    shown.limits = (3.0, 22.0)
    assert changed_results(shown, before) == {"trend"}
    before = dict(shown.results)
    shown.killed_at = -2.5
    assert changed_results(shown, before) == {"trend", "plans"}
    assert set(DEPENDS_ON) == {"record", *TASKS} == {"record", *sum(TASKS_OF_PART.values(), ())}


def test_how_each_crop_does_at_its_best_comes_last(short):
    shown = window_panel(short, "lettuce")
    best = shown.results["crops"]["best"]
    suits = rank_crops(short).to_dataframe().sort_values("rank").groupby("crop").first()
    assert set(best) == set(cw.crop_names())
    for name in ("pea", "tomato", "lettuce"):
        # In years that were not used to choose the dates; drawn ones count in part.
        columns = ("elsewhere_harvested", "elsewhere_known")
        assert best[name] == [round(suits.loc[name, column]) for column in columns]


def test_caveats_are_those_of_the_years_and_the_garden(daily):
    up = cw.Garden("up", 46.1, 7.2, 900.0)
    shown = freeze_panel(daily, garden=up, units="F")
    caveats = shown.results["caveats"]["sentences"]
    for text, begin in zip(
        caveats,
        (
            "Your garden is 1,575 ft above the station",
            "It has grown warmer here, by ",
            "In 2 of 40 years a missing day may hide the last or the first freeze.",
            "Harvests and chances of a freeze are what the weather of each past year would give in",
        ),
        strict=True,
    ):
        assert text.startswith(begin), text
    assert "°F" in caveats[0]
    shown.years = (2016, 2022)
    assert shown.results["caveats"]["sentences"][0] == sentences.FEW_YEARS


def test_a_perennial_has_no_start_to_choose(daily):
    asparagus = cw.crop("asparagus")
    shown = plans_panel(daily, [cw.Plan(asparagus, "04-01")])
    assert shown.plan == shown.other
    packed = shown.results["plans"]["plans"][0]
    assert packed["best_dates"] is None
    codes, _, need = unpacked(packed)
    assert (codes == codes[:, :1]).all()  # the same whatever the start
    odds = shown.report.ahead.odds[0]
    assert np.isin(codes[:, 0], [payload.GOOD_HARVEST, HARVEST]).sum() == int(odds["harvested"])
    assert (codes[:, 0] != OPEN).sum() == int(odds["known"])
    assert set(need) == {shown.need_days}
    row = rank_crops(shown.report.ahead.daily, [asparagus]).isel(plan=0)
    assert int(row["harvested"]) == int(odds["harvested"])
    shown.plan = cw.Plan(asparagus, "06-01")
    assert shown.message == (
        "asparagus stands for years: there is no start to choose. Set the crop."
    )


def test_a_plan_keeps_all_of_its_way(short):
    lettuce = cw.crop("lettuce")
    plans = [
        cw.Plan(lettuce, "10 Apr", 0, "none", 2, "early", "black film", "bought"),
        cw.Plan(lettuce, "1 May", earliness=50.0),
    ]
    shown = plans_panel(short, plans)
    assert (shown.plan, shown.other) == tuple(plans)


def test_plants_are_raised_in_a_space_of_ones_own(short):
    lettuce, space = cw.crop("lettuce"), replace(COVERS["cold frame"], name="our frame")
    own = cw.Plan(lettuce, "10 Apr", 4, "our frame", space=space)
    shown = plans_panel(short, [own, cw.Plan(lettuce, "04-20")])
    assert shown.message == ""
    assert shown.plan == own
    covers = shown.numbers["constants"]["covers"]
    assert covers[0] == "our frame"
    assert "none" not in covers
    assert set(covers) == {"our frame", *COVERS} - {"none"}
    # A hand that raises the second plan there too, for other weeks, has the library's own counts.
    first, second = shown.state["ways"]
    shown.state = {**shown.state, "ways": [first, {**second, "weeks": 3, "cover": "our frame"}]}
    raised = replace(shown.other, start="04-20")
    assert (raised.weeks_under_cover, raised.space) == (3, space)
    [_, told] = TASKS["plans"](shown._inputs())["plans"]
    on_the_day = codes_of(told)[:, day_number("04-20") - 1]
    odds = cw.harvest_odds(cw.evaluate_plan(raised, shown.daily))
    harvested = np.isin(on_the_day, (HARVEST, payload.GOOD_HARVEST)).sum()
    assert (harvested, (on_the_day != OPEN).sum()) == (int(odds["harvested"]), int(odds["known"]))


def test_two_spaces_of_one_name_are_told_apart(short):
    lettuce, space = cw.crop("lettuce"), replace(COVERS["cold frame"], name="our frame")
    shown = plans_panel(short, [cw.Plan(lettuce, "04-10", 4, "our frame", space=space)])
    other = replace(COVERS["fleece"], name="our frame")
    shown.plan = cw.Plan(lettuce, "04-10", 4, "our frame", space=other)
    assert "has another space called 'our frame' already" in shown.message
    assert "Give one of the two another name, with " in shown.message
    assert shown.plan.space == space


def test_the_space_of_a_logger_can_be_chosen(daily, logger):
    shown = panel(daily, "pea", logger=logger)
    assert shown.numbers["constants"]["covers"][0] == "covered space"
    first, second = shown.state["ways"]
    shown.state = {**shown.state, "ways": [{**first, "weeks": 4, "cover": "covered space"}, second]}
    assert shown.plan.space == replace(
        cw.fit_cover(logger, daily, name="covered space"), name="covered space"
    )


def busy_until_done(busy):
    """What notes whether work goes on, and an event that its end sets."""
    done = asyncio.Event()

    def note(is_busy):
        busy.append(is_busy)
        if not is_busy:
            done.set()

    return note, done


def test_in_a_notebook_the_newest_move_wins_and_the_last_one_is_not_lost(monkeypatch):
    monkeypatch.setattr(background, "DELAY_S", 1.0)  # longer than five moves take
    results, busy = [], []

    async def moves():
        note, done = busy_until_done(busy)
        tasks = DebouncedTasks(lambda *result: results.append(result), note)
        for n in range(5):
            tasks.submit([("double", lambda n=n: 2 * n), ("wrong", _refuse)])
            await asyncio.sleep(0)
        assert results == []
        assert busy[-1] is True
        await asyncio.wait_for(done.wait(), 60)

    asyncio.run(moves())
    assert results[0] == ("double", 8)
    assert isinstance(results[1][1], ValueError)
    assert len(results) == 2
    assert busy[-1] is False


def test_a_move_in_the_midst_of_work_drops_its_result():
    results = []

    async def moves():
        note, done = busy_until_done([])
        tasks = DebouncedTasks(lambda *result: results.append(result), note)
        began, moved = asyncio.Event(), threading.Event()
        loop = asyncio.get_running_loop()

        def slow():
            loop.call_soon_threadsafe(began.set)
            assert moved.wait(60)
            return "old"

        tasks.submit([("slow", slow), ("after", lambda: "never")])
        await began.wait()
        [old] = tasks._running
        tasks.submit([("new", lambda: "new")])
        moved.set()
        await asyncio.wait_for(asyncio.gather(old, done.wait()), 60)

    asyncio.run(moves())
    assert results == [("new", "new")]


def test_two_that_want_the_same_share_one_run(monkeypatch):
    shared, runs = SharedRuns(), []
    begun, second_asks, go_on = (threading.Event() for _ in range(3))

    def slow():
        runs.append("slow")
        begun.set()
        assert go_on.wait(60)
        return "done"

    class Watched(Future):
        """The result of a run, which goes on once another waits for it."""

        def result(self, timeout=None):
            if second_asks.is_set():
                go_on.set()
            return super().result(timeout)

    monkeypatch.setattr(background, "Future", Watched)
    with ThreadPoolExecutor() as pool:
        first = pool.submit(shared.result, "same", slow)
        assert begun.wait(60)
        assert shared.result("another", lambda: "else") == "else"
        second_asks.set()
        second = pool.submit(shared.result, "same", slow)
        assert (first.result(60), second.result(60)) == ("done", "done")
    assert runs == ["slow"]
    assert shared.result("same", lambda: "again") == "again"  # nothing is remembered
    with pytest.raises(ValueError, match="no"):
        shared.result("same", _refuse)


def _refuse():
    msg = "no"
    raise ValueError(msg)


# --- where no script runs -----------------------------------------------------------------------


@pytest.mark.parametrize("part", ["freeze", "window", "plans", "cover"])
def test_a_still_picture_stands_in_with_its_words(daily, cauliflower, logger, part):
    plans = [cw.Plan(cauliflower, "03-05", 6, "cold frame"), cw.Plan(cauliflower, "04-20")]
    late = [cw.Plan(cauliflower, "05-05", 6, "cold frame"), cw.Plan(cauliflower, "06-01")]
    windows = cw.usable_windows(daily, cauliflower)
    ahead = cw.evaluate_plan(late[0], daily, climate="today")
    need = int(ahead["days_outdoors"].median())
    odds = cw.odds_shorter(windows, need).sel(part="longest")
    enough = int(odds["known"]) - int(odds["shorter"])
    risk = cw.freeze_odds(daily, levels=(0.1,), method="smoothed", climate="today")
    last = day_name(risk["last_spring"].item())
    made = {
        "freeze": lambda: freeze_panel(daily),
        "window": lambda: window_panel(daily, plans=late),
        "plans": lambda: plans_panel(daily, plans),
        "cover": lambda: cover_panel(daily, logger),
    }[part]()
    said = {
        "freeze": f"Nine years in ten have no night of 0 °C or colder from {last} on",
        "window": f"after 6 weeks under cover in {enough} of",
        "plans": "Sown in a cold frame: best ",
        "cover": "too hot on 1 day",
    }[part]
    data, metadata = made._repr_mimebundle_()
    assert base64.b64decode(data["image/png"]).startswith(b"\x89PNG")
    assert said in data["text/plain"]
    assert metadata["image/png"]["alt"] == data["text/plain"]
    assert "application/vnd.jupyter.widget-view+json" in data


def test_without_the_notebooks_packages_it_says_what_to_install():
    code = "import sys; sys.modules['anywidget'] = None; import climwin; climwin.panel"
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert "pip install 'climwin[notebook]'" in done.stderr


def test_runs_are_those_of_a_plain_loop():
    values = np.random.default_rng(5).integers(-1, 2, 200)
    runs = [(value, len(list(run))) for value, run in groupby(values.tolist())]
    found = zip(*payload._runs(values), strict=True)
    assert [(int(value), int(count)) for value, count in found] == runs


def test_drawn_harvests_are_bits_in_the_order_of_the_draws():
    drawn = np.random.default_rng(5).integers(0, 2, (3, 5, GROWN_DRAWS)).astype(float)
    drawn[1, 2, 3] = np.nan  # a draw without an answer: none counts
    swept = SimpleNamespace(
        reason=np.zeros((3, 5)),
        drawn=SimpleNamespace(harvested=None, laid_out=lambda *_: drawn),
    )
    for bits, row in zip(
        payload._harvested_by_draw(swept).ravel(), drawn.reshape(-1, GROWN_DRAWS), strict=True
    ):
        if np.isnan(row).any():
            assert bits == -1
        else:
            assert [int(bit) for bit in f"{bits:08b}"] == row.tolist()
