"""Sentences on a covered space, on months made up by hand: cold, hardly growing, too hot."""

import re

import numpy as np
import pytest
import xarray as xr

from climwin.report.sentences_space import verdict

KNOWN = 40
COLD = np.array([0.8, 0.5, 0.1, 0, 0, 0, 0, 0, 0, 0, 0.1, 0.6])
HOT = np.array([0, 0, 0, 0, 0.1, 0.3, 0.7, 0.4, 0, 0, 0, 0])
MEAN = np.array([3.0, 4, 7, 11, 15, 18, 20, 19, 16, 12, 8, 4])


def found(cold=COLD, hot=HOT, mean=MEAN, safe_from=92.0, heat=-2.0, days_in_doubt=""):
    shares = {"cold_share": cold, "hot_share": hot, "mean": mean}
    counts = {f"{side}_known": np.full(12, KNOWN) for side in ("cold", "hot")}
    columns = {name: ("month", np.asarray(v)) for name, v in (shares | counts).items()}
    attrs = {"crop": "cauliflower", "grows_from_c": 6.0, "days_in_doubt": days_in_doubt}
    return xr.Dataset(
        columns | {"safe_from": safe_from, "heat": heat},
        coords={"month": np.arange(1, 13)},
        attrs=attrs,
    )


def text_of(**given):
    return " ".join(verdict(found(**given), name="the frame"))


def test_it_is_good_enough_from_its_day_and_too_cold_in_the_months_before():
    text = verdict(found(), name="the frame")[0]
    assert "the frame is good enough from 2 April in nine years of ten" in text
    assert "too cold from December to February (in January in 32 of 40 years)" in text
    assert re.search(r"Heat to .* keep them alive", text)
    assert "hot" not in text


@pytest.mark.parametrize(
    ("safe", "must"), [(0.0, "warm enough all winter"), (np.nan, "not warm enough in any month")]
)
def test_a_space_may_serve_always_or_never(safe, must):
    text = verdict(found(safe_from=safe), name="the frame")[0]
    assert text.startswith("For young cauliflower plants the frame is ")
    assert must in text
    assert "nine years of ten" in text
    assert "good enough from" not in text


def test_one_month_is_named_alone():
    cold = np.zeros(12)
    cold[0] = 0.6
    text = verdict(found(cold=cold), name="the frame")[0]
    assert "too cold in January in 24 of 40 years" in text


def test_twelve_cold_months_are_all_year():
    cold = np.full(12, 0.6)
    cold[0] = 0.8
    text = verdict(found(cold=cold, safe_from=np.nan), name="the frame")[0]
    assert "too cold all year (in January in 32 of 40 years)" in text


def test_where_plants_live_and_stand_still_the_coldest_month_says_so():
    cold = np.zeros(12)
    text = verdict(found(cold=cold, safe_from=0.0))[1]
    assert text.startswith(
        "Where it does not kill them, they hardly grow there from December to February: "
    )
    assert "a middling January has 3 °C inside, and cauliflower begins to grow at 6 °C" in text
    warm = verdict(found(cold=cold, safe_from=0.0, mean=MEAN + 10))
    assert not any("hardly grow" in each for each in warm)


def test_heat_is_a_matter_of_opening():
    (text,) = [each for each in verdict(found()) if "hot" in each]
    assert "too hot from June to August (in July in 28 of 40 years)" in text
    assert "open" in text
    assert not any("hot" in each for each in verdict(found(hot=np.zeros(12))))


def test_nights_that_nobody_measured_are_unknown():
    text = text_of(cold=np.full(12, np.nan), hot=np.zeros(12))
    assert "unknown" in text
    assert "lacks its nights" in text


def test_unknown_nights_are_those_of_the_space_for_the_plants():
    text = verdict(found(cold=np.full(12, np.nan), hot=np.zeros(12)), name="the frame")[0]
    assert text.startswith("Whether the frame is warm enough for young cauliflower plants is")


@pytest.mark.parametrize("heat", [-2.0, -1.6, 3.2])
def test_heat_that_keeps_plants_alive_is_no_less_than_what_kills_none(heat):
    text = verdict(found(heat=heat), name="the frame")[0]
    kept = re.search(r"Heat to (\S+) °C would keep them alive", text)[1]
    assert heat <= float(kept.replace("\N{MINUS SIGN}", "-")) <= heat + 1.0


def test_nothing_is_told_of_a_space_whose_logger_has_other_days():
    (text,) = verdict(found(days_in_doubt="dates"), name="the frame")
    assert text.startswith(
        "Whether the frame is warm enough for young cauliflower plants is not told: "
    )
    assert "Correct its dates" in text
    assert not re.search(r"\d", text)  # neither a day nor a count


def test_what_rests_on_a_doubtful_clock_is_told_with_that_condition():
    first, *rest = verdict(found(days_in_doubt="clock"), name="the frame")
    assert first == "What is said of the frame holds only if its logger's clock is right."
    assert rest == verdict(found(), name="the frame")
