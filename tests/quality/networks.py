"""Monthly anomalies of several stations whose breaks are known, for `breaks.py` and its test."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from typing import NamedTuple

import numpy as np
import pandas as pd
from records import SHARED

from climwin.climate.attribution import find_changes
from climwin.climate.differences import changes_to_try

MONTHS = 360
FIRST, LAST = "1985-01-01", "2014-12-31"
REAL = ("Indianola_IA", "FortDodge_IA", "Urbana_IL", "Wooster_OH", "Champion_NE")
"""140 km to 1,100 km apart, by the positions in their files."""
HELD_OUT = {
    "east": ("Albany_NY", "Clemson_SC", "Gainesville_FL"),
    "west": ("Merced_CA", "SanDiego_CA", "WilliamHead_BC", "PrinceGeorge_BC"),
}
"""Stations that no limit or factor was chosen on, 560 km to 2,400 km apart."""
FIRST_HELD_OUT, LAST_HELD_OUT = "1975-01-01", "2004-12-31"


class Injected(NamedTuple):
    """A change put into one station."""

    kind: str
    size: float
    """Of a drift what it comes to at the record's end. [degC]"""
    month: int
    """First month of a step; month at which a drift begins."""

    def added(self) -> np.ndarray:
        """What it adds to each month, shape (MONTHS,)."""
        time = np.arange(MONTHS)
        if self.kind == "step":
            return self.size * (time >= self.month)
        return self.size * np.clip((time - self.month) / (MONTHS - 1 - self.month), 0, 1)


def real_anomalies(
    name: str, stations: Sequence[str] = REAL, first: str = FIRST, last: str = LAST
) -> np.ndarray:
    """Monthly anomalies of real records, shape (stations, MONTHS); gaps as the others were."""
    time = pd.date_range(first, last)
    month = (time.year - time.year[0]) * 12 + time.month - 1
    rows = []
    for station in stations:
        path = SHARED / "records" / f"{station}.csv"
        table = pd.read_csv(path, comment="#", parse_dates=["date"]).set_index("date")
        values = table[name].reindex(time).to_numpy()
        known = np.isfinite(values)
        days = np.bincount(month[known], minlength=MONTHS)
        mean = np.bincount(month[known], values[known], minlength=MONTHS) / np.maximum(days, 1)
        mean[days < 20] = np.nan
        for calendar in range(12):
            mean[calendar::12] -= np.nanmean(mean[calendar::12])
        rows.append(mean)
    out = np.array(rows)
    return np.where(np.isfinite(out), out, np.nanmean(out, axis=0))


def without_changes(anomalies: np.ndarray) -> np.ndarray:
    """Anomalies less what is found in them, so that no real break is taken for noise."""
    out = anomalies.copy()
    search = find_changes(differences(out), changes_to_try(MONTHS))
    for change in search.changes:
        shape = search.dates.shape[change.place] - search.dates.shape[change.place].mean()
        stations = [change.station] if change.station >= 0 else list(change.pair)
        for station in stations:
            rest = out[station] - np.delete(out, station, 0).mean(0)
            size = (rest * shape).sum() / (shape**2).sum()
            out[station] -= size * shape / len(stations)
    return out


def like(anomalies: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Other anomalies with the spectra of these, and those of all their differences.

    Phases are turned at random, those of one frequency alike in all stations (D. Prichard and
    J. Theiler, "Generating surrogate data for time series with several simultaneously measured
    variables," Physical Review Letters, vol. 73, pp. 951-954, 1994; from memory).
    """
    calendar = np.arange(MONTHS) % 12
    spread = np.array([anomalies[:, calendar == m].std(1) for m in range(12)]).T[:, calendar]
    waves = np.fft.rfft(anomalies / spread, axis=1)
    phase = rng.uniform(0, 2 * np.pi, waves.shape[1])
    phase[[0, -1]] = 0
    return np.fft.irfft(waves * np.exp(1j * phase), n=MONTHS, axis=1) * spread


def near(
    rng: np.random.Generator,
    stations: int = 5,
    *,
    scatter: float = 0.35,
    share: float = 0.3,
    lag_one: float = 0.9,
) -> np.ndarray:
    """Anomalies of invented stations a short drive apart, less what they have in common.

    Each scatters by 0.35 degC, so that two differ by 0.5 (our choice); three tenths of it lasts,
    with a correlation of 0.9 from month to month.
    """
    lasting = np.zeros((stations, MONTHS + 60))
    drawn = rng.normal(size=lasting.shape)
    for month in range(1, MONTHS + 60):
        lasting[:, month] = (
            lag_one * lasting[:, month - 1] + np.sqrt(1 - lag_one**2) * drawn[:, month]
        )
    single = rng.normal(size=(stations, MONTHS))
    return np.asarray(scatter * (np.sqrt(share) * lasting[:, 60:] + np.sqrt(1 - share) * single))


def fast_and_slow(rng: np.random.Generator) -> np.ndarray:
    """The same with noise that lasts for years and noise that lasts for a season."""
    return near(rng, scatter=0.3, share=0.4, lag_one=0.97) + near(
        rng, scatter=0.2, share=0.6, lag_one=0.7
    )


def with_long_memory(
    rng: np.random.Generator, stations: int = 5, scatter: float = 0.35, memory: float = 0.25
) -> np.ndarray:
    """The same with a memory that fades as a power of time, which is no noise that is fitted.

    Fractionally integrated noise, by its spectrum (C. W. J. Granger and R. Joyeux, "An introduction
    to long-memory time series models and fractional differencing," Journal of Time Series Analysis,
    vol. 1, pp. 15-29, 1980; from memory).
    """
    length = 4 * MONTHS
    waves = np.fft.rfft(rng.normal(size=(stations, length)), axis=1)
    frequency = np.arange(waves.shape[1]) / length
    waves[:, 1:] *= np.abs(2 * np.sin(np.pi * frequency[1:])) ** -memory
    waves[:, 0] = 0
    noise = np.fft.irfft(waves, n=length, axis=1)
    return np.asarray(scatter * noise[:, :MONTHS] / noise.std())


def differences(anomalies: np.ndarray) -> dict[tuple[int, int], np.ndarray]:
    """Of each two stations."""
    return {
        (one, other): anomalies[one] - anomalies[other]
        for one, other in combinations(range(len(anomalies)), 2)
    }
