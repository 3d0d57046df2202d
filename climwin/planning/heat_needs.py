"""The heat that a crop takes from emergence to its harvest."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from climwin.climate.response import daily_response, hourly_curve
from climwin.core.errors import InputError
from climwin.crops.model import FIELD_DAYS, REFERENCE_DAYS, Cardinal, Crop

POT_RATE = 0.5
"""Development in pots under cover, as a share of that in the field at the same temperatures.

Lists that count from setting out stand 20 to 30 days below lists that count from sowing (common
practice), where a raised plant has had five to seven weeks: roots and light are short in a tray."""

RAISED_DAYS = {"cool": 20.0, "warm": 14.0}
"""Reference days of field growth that a plant of the usual age has behind it when it is set out, by
season; see `POT_RATE`."""


@lru_cache
def reference_rate(response: Cardinal, season: str) -> float:
    """Degree-days of a crop on the day for which a packet's days hold. [degC day]"""
    day = daily_response(_reference_hours(season), response.temperatures)
    return float(day) * (response.optimum_from_c - response.base_c)


@lru_cache
def _reference_hours(season: str) -> np.ndarray:
    """Temperatures of each hour of the day for which a packet's days hold, shape (24,). [degC]"""
    mean, half = REFERENCE_DAYS[season]
    tmin, tmax = np.full(3, mean - half), np.full(3, mean + half)
    hours = hourly_curve(tmin, tmax, np.full(3, 12.0))[1]
    hours.setflags(write=False)  # all crops of the season read it
    return hours


def heat_to_harvest(crop: Crop, earliness: str | float = "main") -> float:
    """Heat from emergence to the first harvest. [degC day]

    Parameters
    ----------
    crop : Crop
        Not a perennial.
    earliness : {"early", "main", "late"} or float
        Of the variety, or the days on its packet, which mean what the crop's `Maturity` says.

    Examples
    --------
    >>> import climwin as cw
    >>> pea = cw.crop("pea")
    >>> [round(cw.heat_to_harvest(pea, kind)) for kind in ("early", "late", 65)]
    [619, 949, 770]
    """
    maturity = crop.maturity
    if maturity is None:
        msg = f"{crop.name} is a perennial: it has no heat from sowing to a first harvest."
        raise InputError(msg, parameter="crop")
    rate = reference_rate(crop.response, crop.season)
    listed = {"early": maturity.early, "main": maturity.main, "late": maturity.late}
    days = listed[earliness] if isinstance(earliness, str) else float(earliness)
    if maturity.heat_sums is None:
        heat = (days - maturity.emergence_days) * FIELD_DAYS * rate
    else:
        heat = float(np.interp(days, list(listed.values()), maturity.heat_sums))
        if not maturity.early <= days <= maturity.late:  # beyond the list: in proportion
            edge = maturity.early if days < maturity.early else maturity.late
            heat *= days / edge
    return heat + raised_heat(crop) if crop.is_set_out else heat


def raised_heat(crop: Crop) -> float:
    """Heat that a plant of the usual age has behind it when it is set out. [degC day]"""
    return RAISED_DAYS[crop.season] * reference_rate(crop.response, crop.season)
