"""Freeze odds of records read in whole degrees: bias, and how often their intervals hold.

Invented weather whose odds are known from 24,000 years, read in tenths, in whole degF and in whole
degC. Run it as ``python tests/odds/resolution.py [records]``; its table is in ``GAPS.md``.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import scipy.signal

sys.path.insert(0, str(Path(__file__).parents[1]))

import records
from results import table_head

import climwin as cw
from climwin.core.seasons import date_of

STEPS = {"tenths": 0.1, "whole degF": 5 / 9, "whole degC": 1.0}
LEVELS = (0.5, 0.9)
YEARS = 30
TRUTH_YEARS = 24_000


def temperatures(count: int, seed: int) -> np.ndarray:
    """Daily minima of a cool place, shape (count, 365): a wave and its spells. [degC]"""
    noise = np.random.default_rng(seed).normal(0, 3.2, count * 365)
    spell = scipy.signal.lfilter([1], [1, -0.6], noise)
    day = np.arange(count * 365)
    wave = 4 - 13 * np.cos(2 * np.pi * (day - 20) / 365)
    return np.asarray(wave + spell).reshape(count, 365)


def read(celsius: np.ndarray, step: float) -> np.ndarray:
    """What a thermometer of a step shows, stored in tenths. [degC]"""
    return np.round(np.round(celsius / step) * step, 1)


def season_lengths(minima: np.ndarray) -> np.ndarray:
    """Days between the last freeze before July and the first after, of calendar years."""
    frozen = minima <= 0.0
    spring = 181 - frozen[:, :182][:, ::-1].argmax(axis=1)
    autumn = 182 + frozen[:, 182:].argmax(axis=1)
    return np.asarray(autumn - spring - 1)


def lengths_told(minima: np.ndarray, method: str) -> np.ndarray:
    """Length at each level with its interval, shape (3, levels)."""
    day = np.tile(np.arange(1, 366), len(minima))
    time = date_of(np.repeat(1981 + np.arange(len(minima)), 365), day)
    odds = cw.freeze_odds(records.daily(time, tmin=minima.ravel()), method=method, levels=LEVELS)
    names = ("freeze_free_days", "freeze_free_days_low", "freeze_free_days_high")
    return np.array([odds[name].values for name in names])


def rows(count: int, steps: dict[str, float], method: str) -> list[str]:
    lines = []
    for name, step in steps.items():
        lengths = season_lengths(read(temperatures(TRUTH_YEARS, 999), step))
        truth = np.quantile(lengths, [1 - level for level in LEVELS])
        told = np.array(
            [lengths_told(read(temperatures(YEARS, i), step), method) for i in range(count)]
        )
        bias = (told[:, 0] - truth).mean(axis=0)
        # A length is told in whole days: an interval that ends on the truth holds it.
        holds = ((told[:, 1] <= truth) & (truth <= told[:, 2])).mean(axis=0)
        cells = " | ".join(f"{b:+.1f} | {h:.2f}" for b, h in zip(bias, holds, strict=True))
        lines.append(f"| {name} | {method} | {cells} |")
    return lines


def main(count: int = 40, *names: str) -> None:
    columns = ("bias, 1 in 2 [days]", "holds", "bias, 9 in 10 [days]", "holds")
    print(*table_head("read in", "method", *columns), sep="\n")
    steps = {name: STEPS[name] for name in names or STEPS}
    for method in ("ranked", "resampled"):
        print("\n".join(rows(count, steps, method)), flush=True)


if __name__ == "__main__":
    main(*(int(text) for text in sys.argv[1:2]), *sys.argv[2:])
