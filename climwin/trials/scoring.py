"""Score your own past sowings against the odds and dates of the other years."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from climwin.core.errors import InputError, RecordError
from climwin.core.formatting import counted, number, percent
from climwin.core.provenance import climate_of, provenance, year_range
from climwin.core.seasons import day_number
from climwin.core.stats import LEAST_YEARS
from climwin.crops.catalogue import crop
from climwin.crops.naming import plural
from climwin.planning.evaluate import evaluate_plan
from climwin.planning.over_sites import check_one_place
from climwin.planning.timetable import dates_of
from climwin.trials.sowings import OTHER_REASON, day_of, plan_of, start_of

if TYPE_CHECKING:
    import pandas as pd

_DAY = np.timedelta64(1, "D")
_NO_DATE = np.datetime64("NaT", "s")


def score_sowings(
    sowings: pd.DataFrame, daily: xr.Dataset, *, earliness: str | float | None = None
) -> xr.Dataset:
    """Score past sowings against the odds and dates that all other years give.

    A sowing's own year is left out of its odds (leave-one-out).

    Parameters
    ----------
    sowings : DataFrame
        From `read_sowings`.
    daily : Dataset, dims (time)
        Weather of the place in those and other years: needs ``tmin`` and ``tmax`` [degC], and its
        latitude.
    earliness : {"early", "main", "late"} or float, optional
        Of all varieties; the default is the days on each one's packet, or a main variety.

    Returns
    -------
    Dataset, dims (sowing)
        Observed: ``came``, 1 for a harvest, 0 for a failure, missing if the sowing failed for a
        reason that weather does not explain; ``harvest`` and ``failed``.

        Expected from the other years: ``odds`` of a harvest, from ``years_harvested`` of
        ``years_known`` years; ``expected_first`` and ``expected_last``, between which the harvest
        begins in 8 years of 10, and the median ``expected_date``; ``days_off`` [day], harvest minus
        that date; ``within``, 1 if the harvest is between the first and the last.

        Modelled for the sowing's own year: ``outcome``, ``reason``, ``stage`` and ``model_date``;
        ``agrees``, 1 if garden and model both gave a harvest or both failed, missing where gaps
        leave the outcome unknown; ``model_days_off`` [day]; and ``growth``.

        Also ``crop``, ``variety``, ``way``, ``start``, ``amount`` and ``line`` of the table.

    Raises
    ------
    ValueError
        If the record is of several places, or was moved to today's climate.
    RecordError
        If a sowing is outside the record.

    See Also
    --------
    describe_sowings : The scores in words.
    fit_earliness : How early the varieties are, judging by the harvests.
    hindcast : The same question for the weather itself, over a whole record.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> scored = cw.score_sowings(cw.read_sowings(cw.sample("past_sowings.csv")), daily)
    >>> scored["odds"][:3].values.round(2).tolist(), scored["days_off"][:3].values.tolist()
    ([0.52, 0.99, 0.44], [nan, nan, -20.0])
    """
    check_one_place(daily, "A score of past sowings")
    if climate_of(daily) == "today":
        msg = (
            "Past sowings are judged by the weather of their own years, and this record has been "
            "moved to today's climate. Give the record as it was read."
        )
        raise InputError(msg, parameter="climate")
    _refuse_outside(sowings, daily)
    rows = [_scored(row, daily, earliness) for _, row in sowings.iterrows()]
    out = xr.Dataset({name: ("sowing", [row[name] for row in rows]) for name in rows[0]})
    out = out.assign_coords(sowing=np.arange(1, len(rows) + 1))
    for name in ("days_off", "model_days_off"):
        out[name].attrs["units"] = "days"
    return out.assign_attrs(provenance(daily), **year_range(daily))


def _refuse_outside(sowings: pd.DataFrame, daily: xr.Dataset) -> None:
    """Refuse sowings that begin or end where there is no weather."""
    days = daily["time"].values.astype("datetime64[D]")
    first, last = days.min(), days.max()
    for _, row in sowings.iterrows():
        ends = [start_of(row), day_of(row["harvested"])]
        outside = [day for day in ends if not np.isnat(day) and not first <= day <= last]
        if outside:
            msg = (
                f"Line {row['line']}: {row['crop']} on {outside[0]} lies outside the record, which "
                f"runs from {first} to {last}. Leave the row out, or give a record of those years."
            )
            raise RecordError(msg)


def _scored(row: pd.Series, daily: xr.Dataset, earliness: str | float | None) -> dict[str, object]:
    plan, start = plan_of(row, earliness), start_of(row)
    year = int(str(start)[:4])
    grown = evaluate_plan(plan, daily)
    told = dates_of(plan, grown.drop_sel(season=year)).sel(event="harvest")
    own = grown.sel(season=year)
    harvest = day_of(row["harvested"])
    first, usual, last = (
        _date_of(start, plan.start, float(told[f"begin_{which}"]))
        for which in ("first", "day", "last")
    )
    came = 0.0 if np.isnat(harvest) else 1.0
    if row["failed"] == OTHER_REASON:
        came = np.nan
    outcome = own["outcome"].item()
    modelled = np.datetime64(own["harvest_begin"].values.astype("datetime64[s]").item(), "D")
    has_both = np.isfinite(came) and outcome != "unknown"
    return {
        "line": int(row["line"]),
        "crop": row["crop"],
        "variety": row["variety"],
        "way": row["way"],
        "start": start.astype("datetime64[s]"),
        "harvest": harvest.astype("datetime64[s]"),
        "failed": row["failed"],
        "amount": float(row["amount"]),
        "came": came,
        "odds": float(told["odds"]),
        "years_harvested": int(told["harvested"]),
        "years_known": int(told["known"]),
        "expected_first": first,
        "expected_date": usual,
        "expected_last": last,
        "days_off": _days(harvest, usual),
        "within": np.nan
        if np.isnat(harvest) or np.isnat(usual)
        else float(first <= harvest <= last),
        "outcome": outcome,
        "reason": own["reason"].item(),
        "stage": own["stage"].item(),
        "model_date": modelled.astype("datetime64[s]"),
        "model_days_off": _days(harvest, modelled),
        "growth": float(own["growth"]),
        "agrees": float((outcome == "harvest") == bool(came)) if has_both else np.nan,
    }


def _date_of(start: np.datetime64, plan_start: str, day: float) -> np.datetime64:
    """Date of a day counted from 31 December before the start; not-a-time if the day is missing."""
    if not np.isfinite(day):
        return _NO_DATE
    return (start + round(day - day_number(plan_start)) * _DAY).astype("datetime64[s]")


def _days(later: np.datetime64, earlier: np.datetime64) -> float:
    """Days from one date to another; missing if either is."""
    return float((later - earlier) / _DAY) if not (np.isnat(later) or np.isnat(earlier)) else np.nan


# --- in words -----------------------------------------------------------------------------


def describe_sowings(scored: xr.Dataset) -> list[str]:
    """Describe the scores of past sowings in sentences.

    Parameters
    ----------
    scored : Dataset, dims (sowing)
        From `score_sowings`.

    Returns
    -------
    list of str
        Harvests against the odds, outcomes against the model of the same years, harvest dates
        against those expected, and what makes these counts weak.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> scored = cw.score_sowings(cw.read_sowings(cw.sample("past_sowings.csv")), daily)
    >>> cw.describe_sowings(scored)[-1]
    'One sowing failed for a reason that weather does not explain, and is left out.'
    """
    counted_ones = scored.isel(sowing=np.isfinite(scored["came"].values))
    lines = []
    if counted_ones.sizes["sowing"]:
        lines.append(_against_odds(counted_ones))
        lines += _against_model(counted_ones) + _against_dates(counted_ones)
        lines += _weakness(counted_ones)
    others = scored.sizes["sowing"] - counted_ones.sizes["sowing"]
    if others:
        which = "One sowing" if others == 1 else f"{number(others)} sowings"
        why, left = ("a reason", "is left out") if others == 1 else ("reasons", "are left out")
        lines.append(f"{which} failed for {why} that weather does not explain, and {left}.")
    return lines


def _against_odds(scored: xr.Dataset) -> str:
    came, odds = int(scored["came"].sum()), scored["odds"].values
    low, high = harvests_expected(odds)
    told = f"{counted(came, 'harvest')} came of {counted(len(odds), 'sowing')}"
    likely = f"by the odds {number(low)} to {number(high)} were likely"
    if came < low:
        return f"{told}; {likely}: fewer came than these odds allow."
    if came > high:
        return f"{told}; {likely}: more came than these odds allow."
    return f"{told}; {likely}."


def harvests_expected(odds: np.ndarray) -> tuple[int, int]:
    """90 % interval of the number of harvests, given the odds of each.

    Parameters
    ----------
    odds : ndarray, shape (sowings,)
        Of a harvest; the sowings are taken as independent.

    Examples
    --------
    >>> harvests_expected(np.full(10, 0.5))
    (2, 8)
    """
    chances = np.ones(1)
    for share in odds:
        chances = np.convolve(chances, [1 - share, share])
    below = np.cumsum(chances)
    low = int(np.searchsorted(below, 0.05 - 1e-12, side="right"))
    return low, int(np.searchsorted(below, 0.95 - 1e-12))


def _against_model(scored: xr.Dataset) -> list[str]:
    known = int(np.isfinite(scored["agrees"].values).sum())
    if not known:
        return []
    agreed = int(scored["agrees"].sum())
    return [
        f"Grown through its own year, {agreed} of {counted(known, 'sowing')} ended in the model as "
        "in your garden."
    ]


def _against_dates(scored: xr.Dataset) -> list[str]:
    off = scored["days_off"].dropna("sowing").values
    if not len(off):
        return []
    within, late = int(scored["within"].sum()), _how_late(off)
    came = f"{late} than expected" if late else "on the day expected"
    lines = [
        f"{number(within)} of {counted(len(off), 'harvest')} began within the dates expected in 8 "
        f"years of 10; the typical one came {came}."
    ]
    own = scored["model_days_off"].dropna("sowing").values
    if len(own):
        late = _how_late(own) or "on the same day"
        lines.append(f"Against the model of its own year, the typical one came {late}.")
    return lines


def _how_late(off: np.ndarray) -> str:
    """How late the harvest in the middle was; empty where it came on the day."""
    days = float(np.median(off))
    if not round(days):
        return ""
    return f"{counted(round(abs(days)), 'day')} {'later' if days > 0 else 'sooner'}"


def _weakness(scored: xr.Dataset) -> list[str]:
    lines = []
    if scored.sizes["sowing"] < LEAST_YEARS:
        lines.append("Fewer than ten sowings: take this as a hint, no more.")
    years = scored["start"].dt.year.values
    if len(set(years.tolist())) < len(years):
        lines.append(
            "Sowings of one year share its weather, so these counts scatter more than the odds "
            "allow."
        )
    return lines


def describe_earliness(fitted: xr.Dataset) -> list[str]:
    """Describe how early each variety is, in one sentence each.

    Parameters
    ----------
    fitted : Dataset, dims (row)
        From `fit_earliness`.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> fit = cw.fit_earliness(cw.read_sowings(cw.sample("past_sowings.csv")), daily)
    >>> cw.describe_earliness(fit)[0].split(" point")[0]
    '9 harvests of cauliflower (early)'
    """
    return [_earliness_line(fitted.isel(row=row)) for row in range(fitted.sizes["row"])]


def _earliness_line(row: xr.Dataset) -> str:
    variety = f" ({row['variety'].item()})" if row["variety"].item() else ""
    days, low, high, usual = (
        number(float(row[name])) for name in ("days", "low", "high", "usual_days")
    )
    left = int(row["left_out"])
    out = f" Left out: {counted(left, 'harvest')} whose weather is not known." if left else ""
    sowings = int(row["sowings"])
    point = "points" if sowings == 1 else "point"
    return (
        f"{counted(sowings, 'harvest')} of {plural(crop(row['crop'].item()))}{variety} {point} to "
        f"{days} days on the packet (likely {low} to {high}), where {usual} are usual; "
        f"{percent(float(row['own_share']))} of that rests on your harvests, which scatter by "
        f"{number(float(row['scatter_days']))} days.{out}"
    )
