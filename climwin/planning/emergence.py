"""Emergence by the temperature of the soil, and how long a crop is waited for."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from climwin.crops.model import REFERENCE_DAYS, Crop, Germination

LONGEST_LIFE, LONGEST_WINTER_LIFE, LONGEST_WAIT = 270, 365, 400
"""Days after which no annual crop is still waited for, one that stands over winter, whose next
planting has come by then, and one whose tuber or root waits in frozen soil: planted in autumn, it
is lifted at the end of the next (common practice)."""


@lru_cache
def emergence_rate(crop: Crop) -> tuple[np.ndarray, np.ndarray]:
    """Soil temperatures, and the share of emergence that a day at each brings. [degC, 1]

    The published days at some temperatures give rates; between them the rate is linear, below the
    coldest it falls in a straight line to zero, and it ends at the highest temperature at which
    seed germinates. Where no days are published, the rate rises from the crop's base so that the
    days of its `Maturity` hold on a reference day.
    """
    germination, base = crop.germination, crop.response.base_c
    if germination is not None and len(germination.days_at_c) > 1:
        return _tabulated_rate(germination, crop)
    reference = REFERENCE_DAYS[crop.season][0]
    days = max(crop.maturity.emergence_days if crop.maturity else 0.0, 7.0)
    hottest = germination.maximum_c if germination is not None else crop.response.maximum_c
    full = max(min(30.0, hottest - 3.0), reference)
    rate = 1 / (days * (reference - base))
    return np.array([base, full, hottest]), np.array([0.0, rate * (full - base), 0.0])


def _tabulated_rate(germination: Germination, crop: Crop) -> tuple[np.ndarray, np.ndarray]:
    soil = np.array([celsius for celsius, _ in germination.days_at_c])
    rate = np.array([1 / days for _, days in germination.days_at_c])
    slope = max((rate[1] - rate[0]) / (soil[1] - soil[0]), 1e-9)
    coldest = max(soil[0] - rate[0] / slope, soil[0] - 5.0)
    if crop.season == "warm":  # its seed rots below the base rather than waits
        coldest = max(coldest, min(crop.response.base_c, soil[0] - 1.0))
    hottest = max(soil[-1] + 3.0, germination.maximum_c)
    return np.array([coldest, *soil, hottest]), np.array([0.0, *rate, 0.0])


def longest_emergence(crop: Crop) -> float:
    """Days after which seed that has not come up is lost.

    A cool crop's may take 2.5 times the days that it takes at 10 degC (21 to 60 days), a warm
    crop's 1.4 times those at 15 degC (18 to 28): seed of warm crops rots in cold soil (common
    practice). Potatoes, cloves, sets and slips wait for 55 days. Tubers and roots that live through
    frozen soil, such as Jerusalem artichokes, lie there until spring, however early planted.
    """
    if crop.waits_in_frozen_soil:
        return float(LONGEST_WAIT)
    if crop.propagation in ("tubers", "cloves", "sets", "slips", "roots"):
        return 55.0
    soil, rate = emergence_rate(crop)
    at = max(15.0 if crop.season == "warm" else 10.0, float(soil[1]) if len(soil) > 3 else 0.0)
    days = 1 / max(float(np.interp(at, soil, rate)), 1e-3)
    if crop.season == "warm":
        return float(np.clip(1.4 * days, 18, 28))
    return float(np.clip(2.5 * days, 21, 60))


def longest_life(crop: Crop) -> int:
    """Days after which a crop that does not stand over winter is no longer waited for.

    Four times the days of its list from sowing, at most `LONGEST_LIFE`: a radish that stands for
    four months is wood (common practice).
    """
    maturity, weeks = crop.maturity, crop.weeks_under_cover
    assert maturity is not None
    raising = 7 * weeks.usual if crop.is_set_out and weeks is not None else 0
    return min(round(4 * (maturity.main + raising)), LONGEST_LIFE)
