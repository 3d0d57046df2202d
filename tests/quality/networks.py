"""Monthly anomalies of several stations whose breaks are known, for `breaks.py` and its test."""

from __future__ import annotations

from itertools import combinations
from typing import NamedTuple

import numpy as np
import pandas as pd
from records import SHARED

from climwin.climate.homogeneity import changes_to_try, find_changes

MONTHS = 360
FIRST, LAST = "1985-01-01", "2014-12-31"
REAL = ("Indianola_IA", "FortDodge_IA", "Urbana_IL", "Wooster_OH", "Champion_NE")
"""140 km to 1,100 km apart, by the positions in their files."""


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


def real_anomalies(name: str) -> np.ndarray:
    """Monthly anomalies of the five real records, shape (5, MONTHS); gaps as the others were."""
    time = pd.date_range(FIRST, LAST)
    month = (time.year - 1985) * 12 + time.month - 1
    rows = []
    for station in REAL:
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


def near(rng: np.random.Generator, stations: int = 5) -> np.ndarray:
    """Anomalies of invented stations a short drive apart, less what they have in common.

    Each scatters by 0.35 degC, so that two differ by 0.5 (our choice); three tenths of it lasts,
    with a correlation of 0.9 from month to month.
    """
    lasting = np.zeros((stations, MONTHS + 60))
    drawn = rng.normal(size=lasting.shape)
    for month in range(1, MONTHS + 60):
        lasting[:, month] = 0.9 * lasting[:, month - 1] + np.sqrt(1 - 0.81) * drawn[:, month]
    single = rng.normal(size=(stations, MONTHS))
    return np.asarray(0.35 * (np.sqrt(0.3) * lasting[:, 60:] + np.sqrt(0.7) * single))


def differences(anomalies: np.ndarray) -> dict[tuple[int, int], np.ndarray]:
    """Of each two stations."""
    return {
        (one, other): anomalies[one] - anomalies[other]
        for one, other in combinations(range(len(anomalies)), 2)
    }
