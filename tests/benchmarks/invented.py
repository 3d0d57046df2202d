"""An invented region of any number of stations, made batch by batch where it is asked for."""

from __future__ import annotations

import dask.array as da
import numpy as np
import xarray as xr

from climwin.core.schema import VARIABLES

NAMES = ("tmin", "tmax", "tmean")


def region(stations: int, years: int = 40, *, batch: int = 100) -> xr.Dataset:
    """Daily record of invented stations, lazy: a wave, spells, 1 % missing, tenths of degC.

    A station is the same whatever stands beside it.
    """
    time = np.arange(f"{1985}-01-01", f"{1985 + years}-01-01", dtype="datetime64[D]")
    places = np.random.default_rng(0).uniform((44, 5), (48, 11), (stations, 2))

    def block(block_info):
        since, until = block_info[None]["array-location"][1]
        each = [_station(n, time, places[n, 0]) for n in range(since, until)]
        return np.stack(each, axis=1)

    sizes = [min(batch, stations - n) for n in range(0, stations, batch)]
    chunks = ((len(NAMES),), tuple(sizes), (len(time),))
    values = da.map_blocks(block, chunks=chunks, dtype=float, meta=np.empty((0, 0, 0)))
    return xr.Dataset(
        {
            name: (("station", "time"), values[n], VARIABLES[name]._asdict())
            for n, name in enumerate(NAMES)
        },
        coords={
            "time": time.astype("datetime64[s]"),
            "station": [f"P{n:05}" for n in range(stations)],
            "latitude": ("station", places[:, 0]),
            "longitude": ("station", places[:, 1]),
        },
        attrs={"title": "an invented region", "source": "invented"},
    )


def _station(n: int, time: np.ndarray, latitude: float) -> np.ndarray:
    """Its daily minimum, maximum and mean: shape (3, days)."""
    rng = np.random.default_rng([7, n])
    day, height = np.arange(len(time)), rng.uniform(0, 1500)
    noise = rng.normal(0, 1, len(time) + 30)
    spells = 2.5 * np.convolve(noise, 0.75 ** np.arange(31), "valid")
    swing, mean = rng.uniform(8, 12), 12 - 0.0065 * height - 0.7 * (latitude - 46)
    middle = mean - swing * np.cos(2 * np.pi * (day - 20) / 365.25) + spells
    half = rng.uniform(2, 8, len(time))
    tmin, tmax = (middle - half).round(1), (middle + half).round(1)
    for values in (tmin, tmax):
        values[rng.random(len(time)) < 0.01] = np.nan
    return np.stack([tmin, tmax, (tmin + tmax) / 2])


def without_gaps(record: xr.Dataset) -> xr.Dataset:
    """The same record with its gaps filled from the days beside them."""
    filled = record.interpolate_na("time").bfill("time").ffill("time").round(1)
    filled["tmean"] = (filled["tmin"] + filled["tmax"]) / 2
    for name in NAMES:
        filled[name].attrs = record[name].attrs
    return filled
