"""The model's ranking of start dates held against simulated yields of an independent crop model.

AquaCrop-OSPy [1]_ simulates canopy, biomass and yield from a water balance and a calendar in
growing degree-days. It shares no code and no crop table with climwin. It knows no frost, so each
year's yield is cut off on the first killing night after emergence. Water is never short. Start
dates so late that AquaCrop finds too few degree-days left to ripen stop it with an error, or end
its season after two days: these are left out (dry bean from late May, tomato from late June).

A simulation of thirty years takes tens of seconds, so the yields stand in ``aquacrop_albany.csv``
beside this file, and this makes them anew::

    python tests/agreement/yield_model.py

References
----------
.. [1] T. D. Kelly and T. Foster, "AquaCrop-OSPy: Bridging the gap between research and practice in
   crop-water modeling," Agricultural Water Management, vol. 254, 106976, 2021.
"""

from __future__ import annotations

import csv
import sys
import warnings
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
import pandas as pd
import scipy.stats

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[1]))

from agreement import model, records
from agreement.dates import day_of_year, name_of, smoothed

YIELDS = Path(__file__).parent / "aquacrop_albany.csv"
PLACE, YEARS = "Albany_NY", (1981, 2010)


class TooLateError(ValueError):
    """A start date from which AquaCrop's crop cannot ripen."""


class Simulated(NamedTuple):
    """A crop of AquaCrop and the one of climwin that it stands for.

    Parameters
    ----------
    name : str
        AquaCrop's parameter set, in growing degree-days.
    method : str
        How AquaCrop starts it. Its tomato is set out.
    killed_at_c : float
        Night minimum that ends it. Potato: leaves die at about -2 degC; tomato and bean: at the
        first light frost (common practice). [degC]
    shortened : float
        Factor on all of its growing degree-days. AquaCrop's tomato is a late variety of Cordoba
        (1,933 degree-days), which does not ripen at Albany; a quarter less makes a garden variety.
    reach : float or None
        Rank agreement to reach; none for potato, whose simulated yield hardly depends on the date.
    """

    name: str
    method: str
    killed_at_c: float
    shortened: float = 1.0
    reach: float | None = None


CROPS = {
    "tomato": Simulated("TomatoGDD", "transplanted", -0.5, shortened=0.75, reach=0.85),
    "dry bean": Simulated("DryBeanGDD", "sown", -1.0, reach=0.85),
    "potato": Simulated("PotatoGDD", "sown", -2.0),
}
FIRST_START, LAST_START, EVERY_DAYS = "03-20", "08-20", 5
SHORTEST_SEASON_DAYS = 30
BEST_REACH = 0.93
"""Share of the highest simulated yield that the model's best date must reach."""


# --- comparing ----------------------------------------------------------------------------


@dataclass(frozen=True)
class Agreement:
    """The model beside the simulation.

    Parameters
    ----------
    rank : float
        Spearman's rank correlation of expected crop and simulated yield over start dates.
    best : int
        Of the simulated start dates the one with the highest expected crop, as a day of the year.
    best_yield : float
        Its simulated yield as a share of the highest.
    """

    crop: str
    dates: int
    rank: float
    best: int
    best_yield: float
    reach: float | None


def agreement(crop: str) -> Agreement:
    """Rank agreement over start dates, and what the model's best date yields."""
    simulated = CROPS[crop]
    days, yields = simulated_yields(crop)
    swept = model.sweep(PLACE, crop, simulated.method, YEARS)
    expected = smoothed(swept.expected_crop)[days - 1]
    best = int(expected.argmax())
    rank = scipy.stats.spearmanr(expected, yields).statistic
    share = float(yields[best] / yields.max())
    return Agreement(crop, len(days), float(rank), int(days[best]), share, simulated.reach)


@cache
def simulated_yields(crop: str) -> tuple[np.ndarray, np.ndarray]:
    """Start days of the year, and mean dry yields of the simulation. [t/ha]"""
    with YIELDS.open(encoding="utf-8") as file:
        lines = [line for line in file if not line.startswith("#")]
    rows = [row for row in csv.DictReader(lines) if row["crop"] == crop]
    days = np.array([day_of_year(row["start"]) for row in rows])
    return days, np.array([float(row["yield_t_ha"]) for row in rows])


# --- simulating ---------------------------------------------------------------------------


def weather() -> pd.DataFrame:
    """Weather of Albany as AquaCrop wants it: no rain, reference evaporation by Hargreaves.

    Hargreaves and Samani's formula and the radiation above the air as in FAO Irrigation and
    Drainage Paper 56, equations 21 to 25 and 52.
    """
    daily = records.load(PLACE, YEARS)
    low, high = (daily[name].to_series().interpolate() for name in ("tmin", "tmax"))
    outside = radiation_above_air(daily.attrs["latitude"], low.index.day_of_year.to_numpy())
    span = np.sqrt(np.maximum(high - low, 0))
    evaporation = 0.0023 * ((low + high) / 2 + 17.8) * span * 0.408 * outside
    columns = {
        "MinTemp": low,
        "MaxTemp": high,
        "Precipitation": 0.0,
        "ReferenceET": np.maximum(evaporation, 0.1),
        "Date": low.index,
    }
    return pd.DataFrame(columns).reset_index(drop=True)


def radiation_above_air(latitude: float, day: np.ndarray) -> np.ndarray:
    """Daily radiation on a level surface above the atmosphere. [MJ m-2]"""
    phi = np.radians(latitude)
    distance = 1 + 0.033 * np.cos(2 * np.pi * day / 365)
    declination = 0.409 * np.sin(2 * np.pi * day / 365 - 1.39)
    sunset = np.arccos(-np.tan(phi) * np.tan(declination))
    height = sunset * np.sin(phi) * np.sin(declination)
    height += np.cos(phi) * np.cos(declination) * np.sin(sunset)
    return 24 * 60 / np.pi * 0.0820 * distance * height


def parameters(simulated: Simulated, start: str) -> Any:
    """Crop of AquaCrop for a start date such as ``"05/20"``."""
    from aquacrop.entities.crop import Crop

    if simulated.shortened == 1:
        return Crop(simulated.name, planting_date=start)
    full, by = Crop(simulated.name, planting_date=start), simulated.shortened
    times = ["Emergence", "Flowering", "YldForm", "HIstart", "Senescence", "Maturity", "MaxRooting"]
    shorter = {name: getattr(full, name) * by for name in times}
    # The canopy grows and fades per degree-day, so faster by as much.
    return Crop(
        simulated.name, planting_date=start, CGC=full.CGC / by, CDC=full.CDC / by, **shorter
    )


def mean_yield(crop: str, start: str, given: pd.DataFrame) -> float:
    """Mean over the years of the yield up to the first killing night after emergence. [t/ha]

    Raises
    ------
    TooLateError
        If AquaCrop finds too few degree-days left to ripen.
    """
    # From the modules themselves: the package leaves its names out where a command line holds
    # `-m`, as `pytest -m 'not slow'` does.
    from aquacrop.core import AquaCropModel
    from aquacrop.entities.inititalWaterContent import InitialWaterContent
    from aquacrop.entities.irrigationManagement import IrrigationManagement
    from aquacrop.entities.soil import Soil

    simulated = CROPS[crop]
    begin = f"{YEARS[0]}/01/01"
    run = AquaCropModel(
        begin,
        f"{YEARS[1]}/12/31",
        given,
        Soil("Loam"),
        parameters(simulated, start.replace("-", "/")),
        InitialWaterContent(value=["FC"]),
        irrigation_management=IrrigationManagement(irrigation_method=4, NetIrrSMT=80),
    )
    try:
        run.run_model(till_termination=True)
    except AssertionError as error:
        raise TooLateError(start) from error
    growth = run.get_crop_growth()
    growth = growth[growth["dap"] > 0].copy()
    minima = given["MinTemp"].to_numpy()[growth["time_step_counter"].to_numpy().astype(int)]
    growth["dead"] = (growth["canopy_cover"] > 0) & (minima <= simulated.killed_at_c)
    yields = []
    # The last year's season may run past the end of the record: left out.
    for _, season in growth[growth["season_counter"] < YEARS[1] - YEARS[0]].groupby(
        "season_counter"
    ):
        if len(season) < SHORTEST_SEASON_DAYS:
            raise TooLateError(start)
        dead = season["dead"].to_numpy()
        yields.append(season["DryYield"].iloc[int(dead.argmax()) if dead.any() else -1])
    return float(np.mean(yields))


def write() -> None:
    """Simulate all start dates of all crops anew and write the yields."""
    given = weather()
    with YIELDS.open("w", encoding="utf-8", newline="") as file:
        file.write(
            "# Simulated dry yields by start date, mean of 1981-2010 at Albany NY "
            "(GHCN-Daily USW00014735, NOAA)\n"
            "# by AquaCrop-OSPy without shortage of water, cut at the first killing night; "
            "made by yield_model.py\n"
        )
        out = csv.writer(file, lineterminator="\n")
        out.writerow(["crop", "start", "yield_t_ha"])
        for crop in CROPS:
            for day in range(day_of_year(FIRST_START), day_of_year(LAST_START) + 1, EVERY_DAYS):
                start = name_of(day)
                try:
                    out.writerow([crop, start, f"{mean_yield(crop, start, given):.3f}"])
                except TooLateError:
                    print(crop, start, "is too late")
                file.flush()


if __name__ == "__main__":
    warnings.simplefilter("ignore")  # AquaCrop's own, by the thousand
    write()
