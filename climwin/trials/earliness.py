"""Estimate how early a variety is in your own garden from the days on which it was harvested.

In the growing model a stage ends when its thermal time is complete, and the days to maturity on a
seed packet set how much that is. Each past harvest therefore tells which days on the packet would
have made the crop ripe on that day, in the weather of that year. Few harvests say little, and each
is a few days off for other reasons, so the estimate is shrunk towards the packet's days or, without
a packet, those of the catalogue's main variety.

References
----------
.. [1] A. Gelman et al., Bayesian Data Analysis, 3rd ed., 2013, sections 3.2 and 5.4 (from memory):
   an unknown mean with a prior, and an unknown variance with a scaled inverse chi-squared one.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import xarray as xr

from climwin.core.errors import DataGapError, InputError
from climwin.core.provenance import provenance
from climwin.core.stats import LEVEL, z_of
from climwin.crops.catalogue import crop
from climwin.crops.model import Crop
from climwin.planning.grown import Calendar
from climwin.planning.growth import ripe_days
from climwin.planning.heat_needs import heat_to_harvest
from climwin.planning.over_sites import Result, check_one_place, over_sites
from climwin.planning.phases import NEVER
from climwin.planning.plan import MOST_PACKET_DAYS, SHORTEST_SHARE
from climwin.planning.site import FilledSites, running_sum
from climwin.trials.sowings import LONGEST_DAYS, plan_of, start_of

if TYPE_CHECKING:
    import pandas as pd

SCATTER_DAYS, SCATTER_WORTH = 6.0, 4.0
"""Prior of the scatter: days by which a first harvest differs from the model's, and how many
harvests that is worth (common practice: a crop stands ready for about a week)."""
LEAST_OF_DAYS = 0.9
"""A sowing counts only if at least this share of the days from start to harvest is measured (common
practice)."""
STEP_DAYS = 1.0
"""Step between the days on a packet that are tried. [day]"""

_DAY = np.timedelta64(1, "D")


class Usual(NamedTuple):
    """Prior of the days on a variety's packet."""

    days: float
    """Median: the packet's days, or those of the catalogue's main variety."""
    spread: float
    """Standard deviation of their logarithm."""


def usual_earliness(grown: Crop, packet_days: float | None = None) -> Usual:
    """Prior of the days on a variety's packet, before any harvest is known.

    The middle 90 % of varieties is taken to span the same ratio of days as the catalogue's early
    and late ones (common practice).

    Parameters
    ----------
    grown : Crop
        Not a perennial.
    packet_days : float, optional
        Days on its packet; the default is those of the catalogue's main variety.

    Returns
    -------
    Usual
        Parameters of a log-normal distribution.

    Raises
    ------
    InputError
        If the crop is a perennial.

    Examples
    --------
    >>> import climwin as cw
    >>> usual_earliness(cw.crop("cauliflower")).days
    63.0
    """
    maturity = grown.maturity
    if maturity is None:
        msg = f"{grown.name} stands for years: it has no days to a first harvest from the start."
        raise InputError(msg, parameter="crop")
    spread = np.log(maturity.late / maturity.early) / (2 * z_of(LEVEL))
    return Usual(float(packet_days or maturity.main), max(float(spread), 0.05))


def days_tried(grown: Crop) -> np.ndarray:
    """Days on a packet to try for a crop, shape (days,)."""
    maturity = grown.maturity
    assert maturity is not None
    low = max(SHORTEST_SHARE * maturity.early, maturity.emergence_days + 5)
    high = min(2 * maturity.late, MOST_PACKET_DAYS)
    return np.arange(np.ceil(low), high + STEP_DAYS / 2, STEP_DAYS)


def posterior(
    days: np.ndarray, ripe: np.ndarray, harvested: np.ndarray, usual: Usual
) -> np.ndarray:
    """Posterior probability of each number of days on a packet, given the harvests.

    Parameters
    ----------
    days : ndarray, shape (days,)
        The numbers tried, evenly spaced.
    ripe : ndarray, shape (sowings, days)
        Days from the start to ripeness of each sowing, in the weather of its own year.
    harvested : ndarray, shape (sowings,)
        Days from the start to the first harvest.
    usual : Usual
        The prior.

    Returns
    -------
    ndarray, shape (days,)
        Adds up to 1.

    Notes
    -----
    Harvests scatter normally about the day of ripeness. Their unknown variance has a scaled inverse
    chi-squared prior, `SCATTER_DAYS` and `SCATTER_WORTH`, and is integrated out. The logarithm of
    the days has a normal prior.
    """
    squares = ((harvested[:, None] - ripe) ** 2).sum(axis=0)
    worth = SCATTER_WORTH + len(harvested)
    of_harvests = -worth / 2 * np.log(SCATTER_WORTH * SCATTER_DAYS**2 + squares)
    away = np.log(days / usual.days) / usual.spread
    logs = of_harvests - away**2 / 2 - np.log(days)
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def quantile_of(days: np.ndarray, shares: np.ndarray, at: float) -> float:
    """Quantile of the days; each number's probability is spread evenly over its step."""
    upper = np.concatenate([[0.0], np.cumsum(shares)])
    edges = np.concatenate([days - STEP_DAYS / 2, [days[-1] + STEP_DAYS / 2]])
    return float(np.interp(at, upper, edges))


def fit_earliness(sowings: pd.DataFrame, daily: xr.Dataset) -> xr.Dataset:
    """Estimate how early each variety is in your own garden, as days on a packet for a plan.

    Parameters
    ----------
    sowings : DataFrame
        From `read_sowings`. Sowings that failed say nothing about earliness and are left out.
    daily : Dataset, dims (time)
        Weather of the place: needs ``tmin`` and ``tmax`` [degC], and its latitude.

    Returns
    -------
    Dataset, dims (row)
        For each ``crop`` and ``variety`` with a harvest: ``days``, the earliness to give a `Plan`,
        with its 90 % interval ``low`` to ``high``; ``usual_days`` of its packet or of the
        catalogue's main variety; ``heat_share``, its thermal time to the first harvest divided by
        the usual one, with ``heat_low`` and ``heat_high``; ``scatter_days`` of the harvests about
        the model's; how many ``sowings`` count and how many are ``left_out`` because their weather
        is not known; and ``own_share``, 0 to 1, how much of the estimate rests on your harvests
        rather than the prior.

    Raises
    ------
    ValueError
        If the record is of several places.
    DataGapError
        If there is no harvest in the years of the record.

    See Also
    --------
    read_sowings, score_sowings

    Notes
    -----
    Harvests scatter by some days about the model's day of ripeness, see `posterior`. The estimate
    also absorbs errors in the garden's temperature and a habit of cutting early or late, as a plan
    for this garden needs.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> fit = cw.fit_earliness(cw.read_sowings(cw.sample("past_sowings.csv")), daily)
    >>> [round(float(fit[name][0])) for name in ("low", "days", "high", "usual_days")]
    [39, 40, 42, 50]
    >>> plan = cw.Plan(cw.crop("cauliflower"), "04-20", earliness=float(fit["days"][0]))
    """
    check_one_place(daily, "A fit of earliness")
    harvested = sowings[sowings["harvested"].notna()]
    if harvested.empty:
        msg = "No sowing gave a harvest, and only a harvest shows how early a variety is."
        raise DataGapError(msg)
    rows = [
        _of_variety(group, daily) for _, group in harvested.groupby(["crop", "variety"], sort=False)
    ]
    rows = [row for row in rows if row["sowings"]]
    if not rows:
        msg = (
            "No harvest is in years that were measured. Give a record with the days from each "
            "start to its harvest."
        )
        raise DataGapError(msg)
    out = xr.Dataset({name: ("row", [row[name] for row in rows]) for name in rows[0]})
    out = out.set_coords(["crop", "variety"])
    for name in ("days", "low", "high", "usual_days", "scatter_days"):
        out[name].attrs["units"] = "days"
    return out.assign_attrs(provenance(daily), interval=LEVEL)


def _of_variety(group: pd.DataFrame, daily: xr.Dataset) -> dict[str, str | float | int]:
    name, variety = (str(group[column].iloc[0]) for column in ("crop", "variety"))
    grown = crop(name)
    packets = group["packet_days"].dropna()
    usual = usual_earliness(grown, float(packets.iloc[0]) if len(packets) else None)
    days = days_tried(grown)
    ripe, measured = _ripe_by_days(group, daily, days)
    began = np.array([start_of(row) for _, row in group.iterrows()])
    stood = (group["harvested"].to_numpy().astype("datetime64[D]") - began) / _DAY
    counts = measured >= LEAST_OF_DAYS
    shares = posterior(days, ripe[counts], stood[counts], usual)
    before = posterior(days, ripe[:0], stood[:0], usual)
    median, low, high = (quantile_of(days, shares, at) for at in (0.5, 0.05, 0.95))
    heats = [heat_to_harvest(grown, each) for each in (median, low, high, usual.days)]
    at_median = ripe[counts][:, int(np.abs(days - median).argmin())]
    squares = float(((stood[counts] - at_median) ** 2).sum())
    worth = SCATTER_WORTH + int(counts.sum())
    return {
        "crop": name,
        "variety": variety,
        "days": median,
        "low": low,
        "high": high,
        "usual_days": usual.days,
        "heat_share": heats[0] / heats[3],
        "heat_low": heats[1] / heats[3],
        "heat_high": heats[2] / heats[3],
        "scatter_days": float(np.sqrt((SCATTER_WORTH * SCATTER_DAYS**2 + squares) / worth)),
        "sowings": int(counts.sum()),
        "left_out": int((~counts).sum()),
        "own_share": max(0.0, 1 - _variance(days, shares) / _variance(days, before)),
    }


def _variance(days: np.ndarray, shares: np.ndarray) -> float:
    logs = np.log(days)
    return float((shares * (logs - (shares * logs).sum()) ** 2).sum())


def _ripe_by_days(
    group: pd.DataFrame, daily: xr.Dataset, days: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Days to ripeness of each sowing for each number of days on a packet; share of days measured.

    Shapes (sowings, days) and (sowings,); the share is 0 where a sowing is outside the record.
    """
    rows = [row for _, row in group.iterrows()]
    plans = [plan_of(row) for row in rows]
    began = np.array([start_of(row) for row in rows])
    ended = group["harvested"].to_numpy().astype("datetime64[D]")

    def kernel(sites: FilledSites, calendar: Calendar) -> tuple[np.ndarray, ...]:
        start, end = ((day - calendar.first_date) / _DAY for day in (began, ended))
        start, end = start.astype(int), end.astype(int)
        inside = (start >= 0) & (end < calendar.size)
        gaps = running_sum(sites.missing)
        ripe = np.full((len(rows), len(days)), 2.0 * LONGEST_DAYS)
        measured = np.zeros(len(rows))
        for place in np.flatnonzero(inside):
            begin = start[place]
            missing = gaps[end[place]] - gaps[begin]
            measured[place] = 1 - missing / max(end[place] - begin, 1)
            for column, each in enumerate(days):
                way = replace(plans[place].way, earliness=float(each))
                day = ripe_days(sites.usual, plans[place].crop, way, np.array([begin]))[0]
                if day < NEVER:
                    ripe[place, column] = min(day - begin, 2 * LONGEST_DAYS)
        return ripe, measured

    found = over_sites(
        kernel,
        daily,
        results=[Result("ripe", ("sowing", "packet")), Result("measured", ("sowing",))],
        sizes={"sowing": len(rows), "packet": len(days)},
    )
    return found["ripe"].values, found["measured"].values
