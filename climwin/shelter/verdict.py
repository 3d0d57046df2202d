"""Judge a covered space by month: when it suits young plants, and what would help."""

from __future__ import annotations

import math

import numpy as np
import xarray as xr

from climwin.climate.level import in_climate
from climwin.core.schema import Units, from_celsius, to_celsius, variable
from climwin.core.seasons import DAYS, MONTH_STARTS, coldest_day, warmest_day
from climwin.crops.bands import bearable_band
from climwin.crops.model import Crop
from climwin.shelter.covers import Cover
from climwin.shelter.risk import HOT_C, space_odds

SELDOM, OFTEN = 0.1, 0.5
"""Shares of years with a day at risk: a space is suitable up to the first (common practice)."""

HEAT_MARGIN_C = 2.0
"""By how much a heater is set above the killing temperature, because thermostats are a degree or
two off and the coldest corner is colder (common practice). [degC]"""

_MONTHS = 12


def space_verdict(
    daily: xr.Dataset,
    cover: Cover,
    crop: Crop,
    *,
    stage: str | None = None,
    hot_c: float = HOT_C,
    climate: str = "record",
) -> xr.Dataset:
    """When a covered space suits a crop's young plants: by month, and from which day on.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Outdoor record of one place, needs ``tmin`` and ``tmax``. [degC]
    cover : Cover
        From `COVERS` or `fit_cover`.
    crop : Crop
        A day is too cold whose minimum inside is at or below what kills the stage.
    stage : str, optional
        Name of the stage grown inside. Default: the crop's first.
    hot_c : float
        A day is too hot if its maximum inside reaches this. [degC]
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (month)
        By month: ``cold_share`` and ``hot_share``, the share of the known years with such a day;
        ``cold_known`` and ``hot_known``, the number of known years; and ``mean``, the median year's
        mean inside [degC]. For the year as a whole: ``safe_from``, the day of the year from which
        no day is too cold until midsummer in nine years of ten, 0 if that is true of the whole
        winter, NaN if there is no such day; and ``heat``, the temperature that a heater would have
        to keep [degC]. The attribute ``days_in_doubt`` is that of `cover`.

    Raises
    ------
    ValueError
        If the crop has no such stage.

    Notes
    -----
    The cold half of the year is counted from the previous warmest day, so the same code serves both
    hemispheres.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> found = cw.space_verdict(daily, cw.COVERS["cold frame"], cw.crop("cauliflower"))
    >>> found["cold_share"].sel(month=[1, 4]).round(2).values.tolist()
    [0.96, 0.01]
    """
    daily = in_climate(daily, climate)
    grown = crop.stage(stage)
    ends = np.append(MONTH_STARTS, DAYS)
    months: dict[str, list[float]] = {
        name: [] for name in ("cold_share", "cold_known", "hot_share", "hot_known")
    }
    for month in range(_MONTHS):
        odds = space_odds(
            daily,
            cover,
            crop,
            int(ends[month]) + 1,
            int(ends[month + 1]),
            stage=grown.name,
            hot_c=hot_c,
        )
        for name, values in months.items():
            values.append(float(odds[name]))
    means = _means_inside(daily, cover)
    out = xr.Dataset(
        {
            **{name: ("month", values) for name, values in months.items()},
            "mean": ("month", means, {"units": "degC", "long_name": "mean inside, middle year"}),
            "safe_from": _safe_from(daily, cover, crop, grown.name),
            "heat": ((), grown.cold.killed_at_c + HEAT_MARGIN_C, {"units": "degC"}),
        },
        coords={"month": np.arange(1, _MONTHS + 1)},
    )
    out["safe_from"].attrs = {"units": "day of the year"}
    return out.assign_attrs(
        crop=crop.name,
        stage=grown.name,
        cover=cover.name,
        cover_source=cover.source,
        grows_from_c=bearable_band(crop).low_c,
        kills_at_c=grown.cold.killed_at_c,
        days_in_doubt=cover.days_in_doubt,
        floor_c=math.nan if cover.floor_c is None else cover.floor_c,
    )


def heat_to(heat_c: float, units: Units) -> float:
    """Heater setting: rounded up to a whole degree in the reader's units. [degC]

    Examples
    --------
    >>> heat_to(1.5, "C"), round(float(from_celsius(heat_to(1.5, "F"), "F")))
    (2.0, 35)
    """
    shown = float(from_celsius(heat_c, units))
    return float(to_celsius(float(math.ceil(shown - 1e-9)), units))


def _safe_from(daily: xr.Dataset, cover: Cover, crop: Crop, stage: str) -> float:
    """First day from which hardly any year is too cold before midsummer.

    The later the day, the fewer years are too cold after it, so the day is found by bisection.
    """
    coldest, summer = int(coldest_day(daily)), int(warmest_day(daily))
    begin = (summer - 1 + DAYS // 2) % DAYS + 1  # about midwinter, at the latest
    begin = begin if (coldest - begin) % DAYS > DAYS // 2 else coldest
    begin = (
        begin - 1 - DAYS // 4
    ) % DAYS + 1  # a season earlier, so that the whole winter is included
    length = (summer - begin) % DAYS

    def is_too_cold(offset: int) -> bool:
        first = (begin - 1 + offset) % DAYS + 1
        odds = space_odds(daily, cover, crop, first, summer, stage=stage)
        return not float(odds["cold_share"]) <= SELDOM  # an unknown share does not count as safe

    if not is_too_cold(0):
        return 0.0
    low, high = 0, length  # too cold from `low` on, but not from `high` on
    if is_too_cold(high):
        return math.nan
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if is_too_cold(middle) else (low, middle)
    return float((begin - 1 + high) % DAYS + 1)


def _means_inside(daily: xr.Dataset, cover: Cover) -> list[float]:
    """Mean inside of each month in the median year. [degC]"""
    lowest = cover.coldest.inside(variable(daily, "tmin"))
    if cover.floor_c is not None:
        lowest = lowest.clip(min=cover.floor_c)
    highest = cover.warmest.inside(variable(daily, "tmax"))
    middle = (lowest + highest) / 2
    by_month = middle.resample(time="MS").mean()
    out = []
    for month in range(1, _MONTHS + 1):
        own = by_month.values[(by_month["time"].dt.month == month).values]
        own = own[np.isfinite(own)]
        out.append(float(np.median(own)) if len(own) else math.nan)
    return out
