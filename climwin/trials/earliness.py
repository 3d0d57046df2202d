"""How early a variety is in one's own garden, by the days on which it was harvested.

A stage of the growing model ends when its heat has come together, and the days on a packet say how
much that is. So each past harvest answers which days on the packet would have made the crop ripe on
just that day, in the weather of just that year. Few harvests say little, and each is a few days off
for other reasons, so the answer is drawn towards what the packet, or the card's main variety, says.

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

from climwin.core.errors import InputError
from climwin.core.provenance import provenance
from climwin.core.schema import DataGapError
from climwin.core.stats import LEVEL, z_of
from climwin.crops.catalogue import crop
from climwin.crops.model import Crop
from climwin.planning.evaluate import Calendar, Result, check_one_place, over_sites
from climwin.planning.growth import NEVER, heat_to_harvest, ripe_days
from climwin.planning.plan import MOST_PACKET_DAYS, SHORTEST_SHARE
from climwin.planning.site import FilledSites, running_sum
from climwin.trials.sowings import LONGEST_DAYS, plan_of, start_of

if TYPE_CHECKING:
    import pandas as pd

SCATTER_DAYS, SCATTER_WORTH = 6.0, 4.0
"""Days by which a first harvest scatters about the model's before anything is known of this garden,
and how many harvests that is worth (common practice: a crop stands ready for about a week)."""
LEAST_OF_DAYS = 0.9
"""Share of the days from start to harvest that must be measured for a sowing to count (common
practice)."""
STEP_DAYS = 1.0
"""Step of the days on a packet that are tried. [day]"""

_DAY = np.timedelta64(1, "D")


class Usual(NamedTuple):
    """What is thought of a variety before its harvests are looked at."""

    days: float
    """On the packet, or those of the card's main variety."""
    spread: float
    """Standard deviation of their logarithm."""


def usual_earliness(grown: Crop, packet_days: float | None = None) -> Usual:
    """What is thought of a variety's days before its harvests are looked at.

    Nine varieties of ten are taken to lie as close to it as the card's early and late ones lie to
    each other (common practice).

    Parameters
    ----------
    grown : Crop
        Not a perennial.
    packet_days : float, optional
        Days on its packet; else those of the card's main variety.

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
    """Days on a packet that are tried for a crop, shape (days,)."""
    maturity = grown.maturity
    assert maturity is not None
    low = max(SHORTEST_SHARE * maturity.early, maturity.emergence_days + 5)
    high = min(2 * maturity.late, MOST_PACKET_DAYS)
    return np.arange(np.ceil(low), high + STEP_DAYS / 2, STEP_DAYS)


def posterior(
    days: np.ndarray, ripe: np.ndarray, harvested: np.ndarray, usual: Usual
) -> np.ndarray:
    """How likely each number of days on a packet is, by the harvests.

    Parameters
    ----------
    days : ndarray, shape (days,)
        Those tried, evenly spaced.
    ripe : ndarray, shape (sowings, days)
        Days from the start to ripeness of each sowing, in the weather of its own year.
    harvested : ndarray, shape (sowings,)
        Days from the start to the first harvest.
    usual : Usual
        Before the harvests.

    Returns
    -------
    ndarray, shape (days,)
        Adds up to 1.

    Notes
    -----
    A harvest lies about the day of ripeness with a normal scatter, whose unknown variance has a
    scaled inverse chi-squared prior of `SCATTER_DAYS` and `SCATTER_WORTH`, and is integrated out;
    the logarithm of the days has a normal prior about the usual ones.
    """
    squares = ((harvested[:, None] - ripe) ** 2).sum(axis=0)
    worth = SCATTER_WORTH + len(harvested)
    of_harvests = -worth / 2 * np.log(SCATTER_WORTH * SCATTER_DAYS**2 + squares)
    away = np.log(days / usual.days) / usual.spread
    logs = of_harvests - away**2 / 2 - np.log(days)
    shares = np.exp(logs - logs.max())
    return np.asarray(shares / shares.sum())


def quantile_of(days: np.ndarray, shares: np.ndarray, at: float) -> float:
    """The days below which a share of the likelihood lies; each number stands for its step."""
    upper = np.concatenate([[0.0], np.cumsum(shares)])
    edges = np.concatenate([days - STEP_DAYS / 2, [days[-1] + STEP_DAYS / 2]])
    return float(np.interp(at, upper, edges))


def fit_earliness(sowings: pd.DataFrame, daily: xr.Dataset) -> xr.Dataset:
    """How early each variety is in one's own garden, as days on a packet for a plan.

    Parameters
    ----------
    sowings : DataFrame
        From `read_sowings`. Those that failed say nothing of earliness and are left out.
    daily : Dataset, dims (time)
        Weather of the place: needs ``tmin`` and ``tmax`` [degC], and its latitude.

    Returns
    -------
    Dataset, dims (row)
        Of each ``crop`` and ``variety`` with a harvest: ``days``, the earliness for a `Plan`, with
        its 90 % interval ``low`` to ``high``; ``usual_days``, of its packet or the card's main
        variety; ``heat_share``, its heat to the first harvest as a share of the usual one's, from
        ``heat_low`` to ``heat_high``; ``scatter_days`` of the harvests about the model's; the
        ``sowings`` that count and those ``left_out`` since their weather is not known; and
        ``own_share``, how much of the answer rests on them, 0 to 1.

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
    The harvests are the model's days of ripeness with a scatter of some days, see `posterior`. The
    interval is of the variety's earliness in this garden; what is off in the garden's warmth, or in
    the habit of cutting early or late, is in the number too, and that is what a plan needs.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> fit = cw.fit_earliness(cw.read_sowings(cw.sample("past_sowings.csv")), daily)
    >>> bool(fit["low"][0] < fit["days"][0] < fit["high"][0])
    True
    >>> plan = cw.Plan(cw.crop("cauliflower"), "04-20", earliness=float(fit["days"][0]))
    """
    check_one_place(daily, "A fit of earliness")
    harvested = sowings[sowings["harvested"].notna()]
    if harvested.empty:
        msg = "No sowing came to a harvest, and only a harvest says how early a variety is."
        raise DataGapError(msg)
    rows = [
        _of_variety(group, daily) for _, group in harvested.groupby(["crop", "variety"], sort=False)
    ]
    rows = [row for row in rows if row["sowings"]]
    if not rows:
        msg = (
            "No harvest lies in years whose days were measured. Give a record that holds the days "
            "from each start to its harvest."
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
    """Days to ripeness of each sowing by the days on a packet, and the share of days measured.

    Shape (sowings, days), and (sowings,): 0 where a sowing lies outside the record.
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
