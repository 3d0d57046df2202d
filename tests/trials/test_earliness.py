"""Earliness fitted to harvests: an oracle, harvests grown from a known one, and its intervals."""

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import integrate, stats

from climwin.core.errors import DataGapError
from climwin.crops.catalogue import crop
from climwin.io.daily import read_daily
from climwin.io.samples import sample
from climwin.planning.evaluate import evaluate_plan
from climwin.planning.plan import Plan
from climwin.trials.earliness import (
    SCATTER_DAYS,
    SCATTER_WORTH,
    Usual,
    _ripe_by_days,
    days_tried,
    fit_earliness,
    posterior,
    quantile_of,
    usual_earliness,
)
from climwin.trials.sowings import read_sowings

PEA = crop("pea")


@pytest.fixture(scope="module")
def daily():
    return read_daily(sample()).sel(time=slice("1994", "2008"))


def table(rows):
    """Sowings of peas in place: start and harvest of each, as `read_sowings` gives them."""
    blank = pd.NaT
    return pd.DataFrame(
        [
            {
                "line": n,
                "crop": "pea",
                "way": "in place",
                "variety": "",
                "packet_days": np.nan,
                "sown": pd.Timestamp(start),
                "set_out": blank,
                "harvested": pd.Timestamp(harvest),
                "failed": "",
            }
            for n, (start, harvest) in enumerate(rows, 1)
        ]
    )


def harvests(daily, days, starts=("03-20", "04-01", "04-10")):
    """Starts and harvests of peas by the growing model, of a variety of so many days."""
    rows = []
    for start in starts:
        grown = evaluate_plan(Plan(PEA, start, earliness=float(days)), daily)
        came = grown["outcome"].values == "harvest"
        rows += list(
            zip(grown["start"].values[came], grown["harvest_begin"].values[came], strict=True)
        )
    return rows


# --- harvests from a known earliness ------------------------------------------------------


@pytest.mark.simulated
@pytest.mark.parametrize("days", [52, 60, 70])
def test_harvests_of_a_known_variety_give_its_days_back(daily, days):
    rows = harvests(daily, days)
    assert len(rows) >= 5
    fit = fit_earliness(table(rows), daily).isel(row=0)
    # A day of harvest is a whole one: about one and a half days on the packet.
    assert float(fit["days"]) == pytest.approx(days, abs=1.5)
    assert fit["low"] < days < fit["high"]
    assert int(fit["sowings"]) == len(rows)


@pytest.fixture(scope="module")
def ripe(daily):
    """Days to ripeness of six sowings by the days on a packet."""
    starts = [f"{year}-04-0{1 + year % 5}" for year in range(1996, 2002)]
    rows = [(start, np.datetime64(start) + np.timedelta64(90, "D")) for start in starts]
    found, measured = _ripe_by_days(table(rows), daily, days_tried(PEA))
    assert (measured == 1).all()
    return found


def test_the_model_ripens_later_varieties_later(ripe):
    assert (np.diff(ripe, axis=1) >= 0).all()
    assert (ripe[:, -1] - ripe[:, 0] > 30).all()


@pytest.mark.parametrize("sowings", [1, 3, 6])
def test_intervals_hold_as_often_as_they_say(ripe, sowings):
    # Varieties and scatters drawn as they are thought to be before any harvest: then a 90 %
    # interval must hold nine times in ten, however few the harvests.
    days, usual, rng = days_tried(PEA), usual_earliness(PEA), np.random.default_rng(sowings)
    trials, held = 400, 0
    for _ in range(trials):
        true = usual.days * np.exp(usual.spread * rng.standard_normal())
        true = np.clip(true, days[0], days[-1])
        scatter = SCATTER_DAYS * np.sqrt(SCATTER_WORTH / rng.chisquare(SCATTER_WORTH))
        ready = [np.interp(true, days, each) for each in ripe[:sowings]]
        harvested = np.array(ready) + scatter * rng.standard_normal(sowings)
        shares = posterior(days, ripe[:sowings], harvested, usual)
        low, high = (quantile_of(days, shares, at) for at in (0.05, 0.95))
        held += low <= true <= high
    assert stats.binomtest(held, trials, 0.9).pvalue > 0.01


@pytest.mark.parametrize("true", [55.0, 62.0, 70.0])
def test_intervals_of_one_variety_hold_too(ripe, true):
    # Harvests cut within three days of ripeness, six of them: no worse than nine times in ten.
    days, usual, rng = days_tried(PEA), usual_earliness(PEA), np.random.default_rng(int(true))
    ready = np.array([np.interp(true, days, each) for each in ripe])
    trials, held, off = 300, 0, []
    for _ in range(trials):
        harvested = ready + rng.normal(0, 3, len(ready)).round()
        shares = posterior(days, ripe, harvested, usual)
        low, middle, high = (quantile_of(days, shares, at) for at in (0.05, 0.5, 0.95))
        held += low <= true <= high
        off.append(middle - true)
    assert held / trials >= 0.9 - 2.33 * np.sqrt(0.9 * 0.1 / trials)
    assert abs(np.mean(off)) < 1.5


# --- the likelihood -----------------------------------------------------------------------


def test_the_likelihood_is_the_integral_over_the_scatter():
    days, usual = np.arange(40.0, 81.0), Usual(60.0, 0.15)
    ripe = np.stack([days + 20, 1.2 * days + 5, days + 31])
    harvested = np.array([82.0, 76.0, 95.0])

    def density(place):
        """Prior of the days, times the likelihood under each variance, by quadrature."""
        log_days = stats.lognorm(usual.spread, scale=usual.days).pdf(days[place])

        def at(variance):
            likely = stats.norm.pdf(harvested, ripe[:, place], np.sqrt(variance)).prod()
            prior = stats.invgamma.pdf(
                variance, SCATTER_WORTH / 2, scale=SCATTER_WORTH * SCATTER_DAYS**2 / 2
            )
            return likely * prior

        return log_days * integrate.quad(at, 0, np.inf, limit=200)[0]

    oracle = np.array([density(place) for place in range(len(days))])
    npt.assert_allclose(posterior(days, ripe, harvested, usual), oracle / oracle.sum(), rtol=1e-4)


@settings(max_examples=50)
@given(
    st.lists(st.floats(50, 110), min_size=1, max_size=6),
    st.floats(0, 20),
    st.randoms(use_true_random=False),
)
def test_order_is_nothing_and_later_harvests_are_later_varieties(waits, later, random):
    days, usual = days_tried(PEA), usual_earliness(PEA)
    ripe = np.tile(days + 20, (len(waits), 1))

    def middle(harvested):
        return quantile_of(days, posterior(days, ripe, np.array(harvested), usual), 0.5)

    shuffled = waits.copy()
    random.shuffle(shuffled)
    assert middle(shuffled) == pytest.approx(middle(waits), abs=1e-6)
    usual_wait = usual.days + 20
    alike = [usual_wait + later] * len(waits)  # all as late as each other: nothing scatters
    assert middle(alike) >= middle([usual_wait] * len(waits)) - 1e-9


def test_one_late_harvest_is_drawn_to_the_usual_and_more_are_believed(ripe):
    days, usual = days_tried(PEA), usual_earliness(PEA)
    true = usual.days + 10
    harvested = np.array([np.interp(true, days, each) for each in ripe])
    middles = [
        quantile_of(days, posterior(days, ripe[:n], harvested[:n], usual), 0.5) for n in range(7)
    ]
    assert middles[0] == pytest.approx(usual.days, rel=0.01)
    assert usual.days < middles[1] < true
    assert abs(middles[6] - true) < abs(middles[1] - true)


def test_own_share_rises_with_the_harvests(daily):
    rows = harvests(daily, 66)
    shares = [float(fit_earliness(table(rows[:n]), daily)["own_share"][0]) for n in (1, 3, 8)]
    assert 0 < shares[0] < shares[1] < shares[2] < 1


# --- what cannot be fitted ----------------------------------------------------------------


def test_a_packet_moves_what_is_usual(daily):
    rows = table(harvests(daily, 66)[:1])
    fit = fit_earliness(rows.assign(packet_days=72.0), daily).isel(row=0)
    assert float(fit["usual_days"]) == 72
    assert fit["days"] > fit_earliness(rows, daily)["days"][0]


def test_varieties_are_fitted_apart(daily):
    rows = [
        table(harvests(daily, days)[:5]).assign(variety=name)
        for days, name in ((54, "first"), (70, "second"))
    ]
    fit = fit_earliness(pd.concat(rows, ignore_index=True), daily)
    assert fit["variety"].values.tolist() == ["first", "second"]
    assert float(fit["high"][0]) < float(fit["low"][1])


def test_harvests_without_weather_are_left_out(daily):
    rows = harvests(daily, 60)
    holed = daily.copy(deep=True)
    year = str(rows[0][0])[:4]
    holed["tmin"].loc[{"time": slice(f"{year}-04-15", f"{year}-06-15")}] = np.nan
    fit = fit_earliness(table(rows[:4]), holed).isel(row=0)
    assert int(fit["left_out"]) >= 1
    assert int(fit["sowings"] + fit["left_out"]) == 4


def test_no_harvest_says_nothing(daily):
    sowings = read_sowings(sample("past_sowings.csv"))
    with pytest.raises(DataGapError, match="No sowing gave a harvest"):
        fit_earliness(sowings[sowings["failed"] != ""], daily)
    with pytest.raises(DataGapError, match="No harvest is in years that were measured"):
        fit_earliness(table([("1960-04-01", "1960-07-01")]), daily)
    with pytest.raises(ValueError, match="takes the record of one place"):
        fit_earliness(sowings, daily.expand_dims(station=["a", "b"]))


def test_a_perennial_has_no_earliness():
    with pytest.raises(ValueError, match="asparagus stands for years"):
        usual_earliness(crop("asparagus"))
