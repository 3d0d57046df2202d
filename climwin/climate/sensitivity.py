"""Sensitivity of the odds of too short a window to the crop's limits and the criterion."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

import xarray as xr

from climwin.climate.level import in_climate
from climwin.climate.usable import CRITERIA
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.errors import InputError, Parameter
from climwin.core.provenance import year_range
from climwin.crops.bands import bearable_band
from climwin.crops.model import Crop, Limits

STEPS_C = (-2.0, 0.0, 2.0)
"""Plausible errors of a published limit (common practice). [degC]"""


def sensitivity(
    daily: xr.Dataset,
    crop: Crop | Limits,
    need_days: int,
    *,
    steps: Sequence[float] = STEPS_C,
    climate: str = "record",
) -> xr.Dataset:
    """Odds of too short a window if the limits of the crop's band were different.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmean`` and ``tmin``. [degC]
    crop : Crop or Limits
        A crop, or a band of daily mean temperature. [degC]
    need_days : int
        Number of days that the crop needs.
    steps : sequence of float
        Shifts of the lower and of the upper limit. [degC]
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (low_shift, high_shift, ..., part)
        ``shorter`` of ``known`` years and their ``share``, see `odds_shorter`;
        ``has_two_windows``, whether the year has a window on the rise and one on the fall; without
        it these two have no share. The killing temperature is not changed.

    Raises
    ------
    ValueError
        If there is no step, or a step puts the lower limit above the upper one.

    See Also
    --------
    compare_criteria : The same odds by each criterion of a usable day.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> band = cw.Limits(low_c=7.2, high_c=21.0, source="example")
    >>> odds = cw.sensitivity(daily, band, need_days=60, steps=(0, 2))
    >>> odds["shorter"].sel(part="rise", low_shift=0).values.tolist()
    [19, 6]
    """
    daily = in_climate(daily, climate)
    band = bearable_band(crop) if isinstance(crop, Crop) else crop
    killed_at = crop.killed_at_c if isinstance(crop, Crop) else None
    if not len(steps) or not band.low_c + max(steps) < band.high_c + min(steps):
        msg = (
            f" must be one or more moves that leave the low limit, {band.low_c} degC, below the "
            f"high one, {band.high_c} degC; got {', '.join(map(str, steps)) or 'none'}. Give "
            "smaller ones."
        )
        raise InputError(Parameter("steps"), msg)

    def odds(low_shift: float, high_shift: float) -> xr.Dataset:
        moved = replace(band, low_c=band.low_c + low_shift, high_c=band.high_c + high_shift)
        return _odds(daily, moved, need_days, killed_at=killed_at)

    rows = [_along("high_shift", steps, [odds(low, high) for high in steps]) for low in steps]
    out = _along("low_shift", steps, rows)
    for axis in ("low_shift", "high_shift"):
        out[axis].attrs["units"] = "degC"
    return out.assign_attrs(low_c=band.low_c, high_c=band.high_c, **year_range(daily))


def compare_criteria(
    daily: xr.Dataset, crop: Crop | Limits, need_days: int, *, climate: str = "record"
) -> xr.Dataset:
    """Odds of too short a window by each criterion of a usable day.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmean``, ``tmin`` and ``tmax``. [degC]
    crop : Crop or Limits
        A crop, or a band of daily mean temperature. [degC]
    need_days : int
        Number of days that the crop needs.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (criterion, ..., part)
        The same variables as from `sensitivity`, for each criterion of `usable_days`; by hours only
        if the record has a latitude.

    See Also
    --------
    sensitivity : The same odds with other limits.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> band = cw.Limits(low_c=7.2, high_c=21.0, source="example")
    >>> odds = cw.compare_criteria(daily, band, need_days=60)
    >>> odds["shorter"].sel(part="rise", criterion=["mean", "extremes"]).values.tolist()
    [19, 40]
    """
    daily = in_climate(daily, climate)
    has_latitude = "latitude" in {*daily.attrs, *daily.coords}
    criteria = [criterion for criterion in CRITERIA if has_latitude or criterion != "hours"]
    odds = [_odds(daily, crop, need_days, criterion=criterion) for criterion in criteria]
    return _along("criterion", criteria, odds)


def _odds(
    daily: xr.Dataset,
    crop: Crop | Limits,
    need_days: int,
    criterion: str = "mean",
    *,
    killed_at: float | None = None,
) -> xr.Dataset:
    windows = usable_windows(daily, crop, criterion=criterion, killed_at=killed_at)
    odds = odds_shorter(windows, need_days)[["shorter", "known", "share"]]
    has_part = windows["has_two_windows"] | (odds["part"] == "longest")
    odds["share"] = odds["share"].where(has_part)
    odds = odds.assign(has_two_windows=windows["has_two_windows"])
    return odds.drop_vars("first_day")  # the cut moves with the band


def _along(axis: str, values: Sequence[object], odds: Sequence[xr.Dataset]) -> xr.Dataset:
    labels = xr.DataArray(list(values), dims=axis, name=axis)
    out: xr.Dataset = xr.concat(odds, labels, combine_attrs="drop_conflicts")
    return out
