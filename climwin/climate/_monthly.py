"""Helpers for comparing two daily records: a common time axis, and autocorrelation."""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.core.seasons import every_day

MONTHS = np.arange(1, 13)


def on_every_day(*arrays: xr.DataArray) -> list[xr.DataArray]:
    """Arrays on one axis that has every day from the first of any to the last of any."""
    ends = [da["time"].values[[0, -1]].astype("datetime64[D]") for da in arrays]
    days = every_day(min(first for first, _ in ends), max(last for _, last in ends))
    return [da.reindex(time=days) for da in arrays]


def lag_one_correlation(departure: np.ndarray) -> float:
    """Correlation of a day's departure with the next day's: 0 to 0.99."""
    today, tomorrow = departure[:-1], departure[1:]
    both = np.isfinite(today) & np.isfinite(tomorrow)
    today, tomorrow = today[both], tomorrow[both]
    scale = np.sqrt((tomorrow**2).sum() * (today**2).sum())
    if scale == 0:
        return 0.0
    return float(np.clip((tomorrow * today).sum() / scale, 0, 0.99))
