"""Soil temperature at depth: heat conducted down from a surface that follows the air.

The soil is a column of layers with constant properties, so its temperature is a weighted mean of
the air's today, yesterday and before. The weights are worked out once, exact in time, and laid over
any record.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.core.memo import remembered
from climwin.core.schema import (
    VARIABLES,
    DataGapError,
    apply,
    check_choice,
    check_units,
)
from climwin.core.seasons import (
    DAYS,
    by_year,
    day_of_year,
    smoothed_year,
)

DIFFUSIVITY = 5e-7
"""Of a garden soil (common practice), between clay, 4e-7, and sand, 10e-7, with a fifth of water
(Moene and van Dam 2014, table 2.2). [m2 s-1]"""
DIFFUSIVITIES = (1e-7, 1e-6)
"""From dry clay to moist sand, in the same table. [m2 s-1]"""
HEAT_CAPACITY = 2.0e6
"""Of a moist soil (from memory: de Vries 1963). [J m-3 K-1]"""
SURFACES = {"bare": 0.0, "mulched": 0.25}
"""Thermal resistance over the soil: none, or 5 cm of straw (common practice) that conducts 0.2;
mulches conduct 0.1 to 0.6 W m-1 K-1 (van Donk and Tollner 2000). [m2 K W-1]"""
DEPTHS = (0.01, 2.0)
"""Depths at which the column answers. [m]"""
LARGEST_DOUBT = 0.05
"""Root sum of squares of the weights of days not measured, above which no answer is given: 0.2 degC
where the air departs 4 degC from its usual year (common practice)."""
FEWEST_PROBE_DAYS = 20

_LAYERS = 0.01 * 1.15 ** np.arange(40)  # thickness from the surface down, 18 m in all [m]
_SECONDS = 86_400


# --- soil from air ------------------------------------------------------------------------


@remembered
def soil_temperature(
    tmean: xr.DataArray,
    depth: float = 0.05,
    *,
    diffusivity: float = DIFFUSIVITY,
    surface: str = "bare",
    surface_offset: float = 0.0,
) -> xr.DataArray:
    """Daily mean soil temperature at a depth, from daily mean air temperature.

    Parameters
    ----------
    tmean : DataArray, dims (..., time)
        Daily mean air temperature. [degC]
    depth : float
        Below the soil's surface, 0.01 to 2. [m]
    diffusivity : float
        How fast the soil passes on warmth, 1e-7 to 1e-6; `fit_diffusivity` finds a garden's own.
        [m2 s-1]
    surface : {"bare", "mulched"}
        Bare soil has the air's temperature at its surface; mulched soil lies under 5 cm of straw,
        which resists the flow of heat and holds none.
    surface_offset : float
        By how much the surface is warmer than the air over the years. [degC]

    Returns
    -------
    DataArray, dims (..., time)
        ``tsoil``. [degC]

    Raises
    ------
    ValueError
        If the depth, diffusivity or surface is not allowed, or the air is not in degC.
    DataGapError
        If the record is too thin to have a usual year.

    Notes
    -----
    Heat conduction in one dimension, in 40 layers to 18 m, each day of the air taken as constant;
    a wave comes out damped and late as theory has it [1]_. The air before the record, and on a
    missing day, is taken as the usual year's. The result is missing where that could matter: where
    the days not measured have weights whose root sum of squares exceeds 0.05. Of a long gap, and
    of the time before the record, that is 1 day after it at 5 cm in bare soil, 2 days at 10 cm,
    and 5 days under mulch.

    Left out: sun on dry soil (warmer than the air by day), snow (keeps it warmer), freezing and
    thawing (holds it at 0 degC), rain and drying.

    References
    ----------
    .. [1] D. Hillel, "Introduction to Soil Physics," Academic Press, 1982 (title from memory).
    """
    column = _column(depth, diffusivity, surface)
    check_units(tmean, "degC")
    usual = smoothed_year(by_year(tmean))
    if usual.chunks is None and not bool(usual.notnull().any()):
        msg = (
            "The air's record is too thin to have a usual year: fewer than 200 days of the year "
            "hold any value. Give a record of some whole years."
        )
        raise DataGapError(msg)
    kernel = _soil_kernel(column, np.asarray(tmean["time"]))
    soil = apply(kernel, tmean, usual, core=[["time"], ["day_of_year"]], out=[["time"]])
    out = soil + surface_offset
    name = VARIABLES["tsoil"]._asdict()
    return out.rename("tsoil").assign_attrs(
        name,
        depth_m=depth,
        diffusivity_m2_s=diffusivity,
        surface=surface,
        surface_offset_c=surface_offset,
    )


def _soil_kernel(column: _Column, time: np.ndarray) -> Callable[..., np.ndarray]:
    dates = time.astype("datetime64[D]")
    place, day = (dates - dates.min()).astype(int), day_of_year(dates) - 1
    span = place.max() + 1
    weights, circle = column.weights(span), column.circle()
    room = 1 << int(2 * span).bit_length()  # nothing comes round; a power of two is fast

    def kernel(tmean: np.ndarray, usual: np.ndarray) -> np.ndarray:
        departure, measured = np.zeros((2, *tmean.shape[:-1], span))
        held = ~np.isnan(tmean)
        departure[..., place] = np.where(held, tmean - usual[..., day], 0.0)
        measured[..., place] = held
        soil = _convolved(usual, circle, DAYS)[..., day]
        soil += _convolved(departure, weights, room)[..., place]
        doubt = np.sum(weights**2) - _convolved(measured, weights**2, room)[..., place]
        return np.where(doubt > LARGEST_DOUBT**2, np.nan, soil)

    return kernel


def _convolved(series: np.ndarray, weights: np.ndarray, length: int) -> np.ndarray:
    """Each day's weighted sum of itself and the days before it, on a circle of `length` days."""
    spectrum = np.fft.rfft(series, length) * np.fft.rfft(weights, length)
    return np.fft.irfft(spectrum, length)


class _Column(NamedTuple):
    """What a depth shows of each mode in which the column comes to rest with the air."""

    share: np.ndarray
    rate: np.ndarray  # [per day]

    def weights(self, days: int) -> np.ndarray:
        """Weight of the air of 0, 1, 2 ... days before in a day's mean soil temperature."""
        return np.append(self._today, self._past(days - 1, 1.0))

    def circle(self) -> np.ndarray:
        """The same, where one year has come round forever."""
        circle = np.roll(self._past(DAYS, -np.expm1(-DAYS * self.rate)), 1)
        circle[0] += self._today
        return circle

    @property
    def _today(self) -> float:
        return float(1 + self.share @ (np.expm1(-self.rate) / self.rate))

    def _past(self, days: int, over: np.ndarray | float) -> np.ndarray:
        """Weight of the air of 1, 2 ... days before, over a factor of each mode."""
        step = self.share * np.expm1(-self.rate) ** 2 / self.rate / over
        return np.exp(-np.outer(np.arange(days), self.rate)) @ step


def _column(depth: float, diffusivity: float, surface: str) -> _Column:
    check_choice("surface", surface, SURFACES)
    for name, value, (low, high), unit in (
        ("depth", depth, DEPTHS, "m"),
        ("diffusivity", diffusivity, DIFFUSIVITIES, "m2 s-1"),
    ):
        if not low <= value <= high:
            msg = f"{name} must lie between {low} and {high} {unit}, got {value}."
            raise ValueError(msg)
    over = SURFACES[surface] * diffusivity * HEAT_CAPACITY  # as metres of this soil
    middle = np.cumsum(_LAYERS) - _LAYERS / 2
    passes = 1 / np.append(over + middle[0], np.diff(middle))  # from the air, then layer to layer
    below = passes[1:]
    flow = np.diag(passes + np.append(below, 0)) - np.diag(below, 1) - np.diag(below, -1)
    root = np.sqrt(_LAYERS)
    rate, modes = np.linalg.eigh(flow / np.outer(root, root))
    at_depth = [np.interp(depth, middle, mode) for mode in (modes / root[:, None]).T]
    return _Column(np.array(at_depth) * (root @ modes), rate * diffusivity * _SECONDS)


# --- calibrated on a probe ----------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SoilFit:
    """A garden's own soil, from its probe.

    Parameters
    ----------
    diffusivity : float
        For `soil_temperature`. At either end of 1e-7 to 1e-6 it says that conduction alone does
        not explain the probe: see to its depth and to what covers the soil. [m2 s-1]
    surface_offset : float
        By how much the surface is warmer than the air, for `soil_temperature`. [degC]
    rmse : float
        Root mean square of what is left. [degC]
    days : int
        Days that the probe and the air's record share.
    """

    diffusivity: float
    surface_offset: float
    rmse: float
    days: int


def fit_diffusivity(
    tmean: xr.DataArray, probe: xr.DataArray, depth: float, *, surface: str = "bare"
) -> SoilFit:
    """Fit the soil's diffusivity, and its surface's offset from the air, to a gardener's probe.

    Parameters
    ----------
    tmean : DataArray, dims (time,)
        Daily mean air temperature of some whole years, those of the probe among them. [degC]
    probe : DataArray, dims (time,)
        Daily mean soil temperature. [degC]
    depth : float
        Of the probe. [m]
    surface : {"bare", "mulched"}
        Over the probe.

    Returns
    -------
    SoilFit
        By least squares.

    Raises
    ------
    DataGapError
        If the two share fewer than 20 days.
    ValueError
        As for `soil_temperature`.
    """
    check_units(probe, "degC")

    def residuals(diffusivity: float) -> np.ndarray:
        soil = soil_temperature(tmean, depth, diffusivity=diffusivity, surface=surface)
        both = xr.align(probe, soil, join="inner")
        left = np.asarray(both[0] - both[1])
        return left[~np.isnan(left)]

    days = len(residuals(DIFFUSIVITY))
    if days < FEWEST_PROBE_DAYS:
        msg = (
            f"The probe and the air's record share {days} days; at least {FEWEST_PROBE_DAYS} are "
            "needed, better a whole spring. Give a record that reaches over the probe's days."
        )
        raise DataGapError(msg)
    best = _least(lambda diffusivity: float(np.var(residuals(diffusivity))), *DIFFUSIVITIES)
    left = residuals(best)
    return SoilFit(best, float(left.mean()), float(left.std()), len(left))


def _least(loss: Callable[[float], float], low: float, high: float) -> float:
    """Where a loss is least: a grid of ratios, made finer round its best point four times."""
    for _ in range(4):
        grid = np.geomspace(low, high, 11)
        best = int(np.argmin([loss(value) for value in grid]))
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    return float(grid[best])
