"""Soil temperature at depth, and by when the soil is warm enough to sow.

Heat is conducted down from a surface that follows the air and absorbs a share of the solar
radiation. The soil is a column of layers with constant properties, so its temperature is a weighted
mean of the surface temperatures of today and the days before. The weights are computed once,
exactly in time, and applied to any record.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.heat import record_latitude
from climwin.climate.radiation import solar_radiation
from climwin.core.errors import Attribute, DataGapError, InputError, Parameter
from climwin.core.measures import check_most_celsius
from climwin.core.memo import remembered
from climwin.core.schema import TOLERANCE_C, VARIABLES, apply, check_choice, check_units, variable
from climwin.core.seasons import (
    DAYS,
    by_year,
    checked_day,
    cut_seasons,
    day_of_year,
    keep_inside,
    mean_by_day,
    offset_of,
    season_dates,
    seen_range,
    smoothed,
)
from climwin.core.stats import LEVEL, between, bootstrap_interval, bootstrap_ranks, neighbours
from climwin.core.status import NONE, UNKNOWN, UNKNOWN_CODE, decode_status

DIFFUSIVITY = 5e-7
"""Diffusivity of a garden soil (common practice), between clay, 4e-7, and sand, 10e-7, with a fifth
of water (Moene and van Dam 2014, table 2.2). [m2 s-1]"""
DIFFUSIVITIES = (1e-7, 1e-6)
"""From dry clay to moist sand, in the same table. [m2 s-1]"""
HEAT_CAPACITY = 2.0e6
"""Heat capacity of a moist soil (from memory: de Vries 1963). [J m-3 K-1]"""
DEPTHS = (0.01, 2.0)
"""Smallest and largest depth of the model. [m]"""
WARMEST_LIMIT_C = 40.0
"""Highest temperature of warm soil: few seeds come up above it (common practice). [degC]"""
LARGEST_DOUBT = 0.05
"""Largest root sum of squares of the weights of missing days for a result: 0.2 degC if the air
departs 4 degC from its usual year (common practice)."""
FEWEST_PROBE_DAYS = 20
"""Least number of days that a probe and the weather must share for a fit (our choice). [day]"""
LEVELS = (0.5, 0.8, 0.9)

_LAYERS = 0.01 * 1.15 ** np.arange(40)  # thickness from the surface down, 18 m in all [m]
_SECONDS = 86_400
_RESAMPLES = 2000


# --- the bed ------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Bed:
    """A soil and its cover.

    Parameters
    ----------
    diffusivity : float
        Thermal diffusivity of the soil, 1e-7 to 1e-6. [m2 s-1]
    sun : float
        Warming of the surface above the air per MJ of daily radiation. [degC m2 day MJ-1]
    offset : float
        Daily mean temperature of a surface without sun minus that of the air: usually negative,
        because of heat lost to the sky and to evaporation. [degC]
    resistance : float
        Thermal resistance of the cover. [m2 K W-1]
    source : str
        Source of the numbers.
    """

    diffusivity: float = DIFFUSIVITY
    sun: float
    offset: float
    resistance: float = 0.0
    source: str

    def __post_init__(self) -> None:
        low, high = DIFFUSIVITIES
        if not low <= self.diffusivity <= high:
            msg = f" must lie between {low} and {high} m2 s-1, got {self.diffusivity}."
            raise InputError(Parameter("diffusivity"), msg)
        for name, value in (("sun", self.sun), ("resistance", self.resistance)):
            if not value >= 0:
                msg = f" must not be less than 0, got {value}."
                raise InputError(Parameter(name), msg)

    @property
    def in_the_air(self) -> Bed:
        """The same bed with the air's own temperature at its surface."""
        return replace(self, sun=0.0, offset=0.0)


_FILMS = (
    "{share} times the sun of bare soil, so that its mean is {warmer} degC warmer under 20 MJ of "
    "sun (common practice). Published: {published}"
)
BEDS = {
    "bare": Bed(
        sun=0.20,
        offset=-1.7,
        source="fitted on Dublin Airport, 10 cm, 1995-2009 (Met Eireann), March to October",
    ),
    "mulched": Bed(
        sun=0.20,
        offset=-1.7,
        resistance=0.25,
        source="5 cm of straw (common practice) that conducts 0.2; mulches conduct 0.1 to 0.6 W "
        "m-1 K-1 (van Donk and Tollner 2000). It takes as much sun as bare soil: its soil is then "
        "1.6 degC cooler in June at 39 degrees north, 4.5 if it took none; under cut vetch it was "
        "0.6 to 2.8 degC cooler there at 5 cm (Teasdale and Mohler 1993, Teasdale and Daughtry "
        "1993)",
    ),
    "clear film": Bed(
        sun=0.38,
        offset=-1.7,
        source=_FILMS.format(
            share=1.9,
            warmer=3.6,
            published="by day 8 to 14 degF warmer than bare soil at 2 inches (Lamont 1993, from "
            "memory); 3 to 8 degC at 10 cm in a spring in Texas, under clear and black alike "
            "(Texas A&M University, HortScience 39:802, 2004)",
        ),
    ),
    "black film": Bed(
        sun=0.28,
        offset=-1.7,
        source=_FILMS.format(
            share=1.4,
            warmer=1.6,
            published="1 to 2 degC on five farms (Schonbeck and Evanylo 1998); by day up to 5 degF "
            "at 2 inches and 3 degF at 4 (Pennsylvania State University); 0.6 degC less than clear "
            "film over a whole crop of maize (Agronomy 10:453, 2020)",
        ),
    ),
}
"""Beds: bare soil, under straw, and under film laid tight on the soil."""


def bed_of(cover: str | Bed) -> Bed:
    """A bed of `BEDS` by its name, or the bed itself."""
    if isinstance(cover, Bed):
        return cover
    check_choice("cover", cover, BEDS)
    return BEDS[cover]


# --- soil from air and sun ----------------------------------------------------------------


@remembered
def soil_temperature(
    daily: xr.Dataset,
    depth: float = 0.05,
    *,
    cover: str | Bed = "bare",
    latitude: float | xr.DataArray | None = None,
    coast: bool = False,
) -> xr.DataArray:
    """Daily mean soil temperature at a depth, from air temperature and radiation.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax``, or ``tmean`` alone. [degC]
    depth : float
        Below the soil's surface, 0.01 to 2. [m]
    cover : {"bare", "mulched", "clear film", "black film"} or Bed
        Cover of the soil; `fit_soil` fits a `Bed` to the garden's own probe.
    latitude : float or DataArray, optional
        Degrees north; a DataArray for several stations. Default: the record's own.
    coast : bool
        Whether the place is near a large body of water; see `solar_radiation`.

    Returns
    -------
    DataArray, dims (..., time)
        ``tsoil``. If the record has no latitude or no extremes, the surface has the temperature of
        the air, and the attribute ``sun`` says so. [degC]

    Raises
    ------
    ValueError
        If the depth or the cover is not allowed, the air is not in degC, or a `Bed` with a share of
        the sun is given and the record has no latitude or no extremes.
    DataGapError
        If the record is too sparse to have a usual year.

    Warnings
    --------
    Do not use it to judge what winter kills. Without snow and the heat of freezing water it is far
    too cold then: -21 degC at 5 cm in a cold continental winter.

    Notes
    -----
    The surface temperature is that of the air (the mean of the extremes) plus a share of the
    radiation (Hargreaves and Samani, see `solar_radiation`) and an offset: ``air + 0.20 Rs - 1.7``
    for bare soil. Below it, heat is conducted in one dimension, in 40 layers to 18 m, with each day
    taken as constant; waves are damped and delayed as in theory [1]_. Mulch resists the flow, so
    its soil lags behind the season; film keeps more of the sun's warmth.

    Compared with measured soil from April to June, the root mean square error of days is

    ======================================== ======== ============
    soil                                     air only air and sun
    ======================================== ======== ============
    Dublin, 10 cm, bare, 2010-2025           3.46     1.52
    Cork, 10 cm, bare, 1962-2022             2.21     0.79
    USA, 5 cm, grass, moist, 55 places, 2020 2.92     2.89
    USA, 5 cm, grass, dry, 14 places, 2020   4.30     3.01
    ======================================== ======== ============

    (the median, for several places). So it is right for bare beds, but 1.6 degC too warm under
    moist grass, which shades its soil. ``tests/agreement/soil.py`` prints the table.

    Before the record and on missing days the surface is that of the usual year. The result is NaN
    where that could matter: where the weights of missing days have a root sum of squares above
    0.05. After a long gap, and at the start of the record, that is 1 day at 5 cm in bare soil, 2
    days at 10 cm, and 5 days under mulch.

    Not included: snow (which keeps the soil warmer), freezing and thawing (which keep it at 0
    degC), rain and drying, and the shade of the crop.

    References
    ----------
    .. [1] D. Hillel, "Introduction to Soil Physics," Academic Press, 1982 (title from memory).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> soil = cw.soil_temperature(daily)
    >>> soil.sel(time=["2010-04-20", "2010-05-20"]).round(1).values.tolist()
    [8.9, 17.1]
    """
    check_depth(depth)
    north = record_latitude(daily) if latitude is None else latitude
    has_sun = north is not None and _has_extremes(daily)
    bed = bed_of(cover)
    if not has_sun:
        bed = _without_sun(bed, cover)
    air = _daily_mean(daily)
    radiation = xr.zeros_like(air)
    if bed.sun and north is not None:
        radiation = solar_radiation(daily["tmin"], daily["tmax"], north, coast=coast)
    soil = _conducted_down(air + bed.sun * radiation + bed.offset, depth, bed)
    return soil.assign_attrs(
        VARIABLES["tsoil"]._asdict(),
        depth_m=depth,
        cover=cover if isinstance(cover, str) else "a bed of the garden's own",
        diffusivity_m2_s=bed.diffusivity,
        sun="share of the sun"
        if has_sun
        else "left out: the record does not say how much there is",
    )


def _without_sun(bed: Bed, cover: str | Bed) -> Bed:
    """The bed for a record without radiation."""
    if not isinstance(cover, Bed):
        return bed.in_the_air
    if bed.sun:
        msg = (
            "This bed takes sun, and the record does not say how much there is. Give a record with "
            "tmin and tmax, and its latitude in degrees north: "
        )
        more = (Parameter("latitude"), " or ", Attribute("latitude", 46.1), ".")
        raise InputError(msg, *more)
    return bed


def _has_extremes(daily: xr.Dataset) -> bool:
    return {"tmin", "tmax"} <= {*daily.data_vars}


def _daily_mean(daily: xr.Dataset) -> xr.DataArray:
    """Mean of the extremes, with which the beds were fitted, or else the record's own mean."""
    if _has_extremes(daily):
        return (variable(daily, "tmin") + variable(daily, "tmax")) / 2
    return variable(daily, "tmean")


def _conducted_down(surface: xr.DataArray, depth: float, bed: Bed) -> xr.DataArray:
    """Soil temperature below a surface; missing where the surface's missing days matter. [degC]"""
    dates = np.asarray(surface["time"]).astype("datetime64[D]")
    place = (dates - dates.min()).astype(int)
    days = day_of_year(dates.min() + np.arange(place.max() + 1))

    def kernel(values: np.ndarray) -> np.ndarray:
        every_day = np.full(len(days), np.nan)
        every_day[place] = values
        soil = _Surface(every_day, days).conducted(depth, bed)
        doubt = _doubt(~np.isnan(every_day), depth, bed)
        return np.where(doubt > LARGEST_DOUBT, np.nan, soil)[place]

    soil = apply(kernel, surface, core=[["time"]], out=[["time"]], each=True)
    if soil.chunks is None and not bool(soil.notnull().any()):
        msg = (
            "The air's record is too thin to have a usual year: fewer than 200 days of the year "
            "hold any value. Give a record of some whole years."
        )
        raise DataGapError(msg)
    return soil.rename("tsoil")


def soil_kernel(
    tmean: np.ndarray,
    radiation: np.ndarray,
    day_of_year: np.ndarray,
    *,
    depth: float = 0.05,
    cover: str | Bed = "bare",
) -> np.ndarray:
    """Kernel of `soil_temperature`: one station on every day of a record.

    Parameters
    ----------
    tmean : ndarray, shape (time,)
        Mean of the extremes of every day, NaN where missing. [degC]
    radiation : ndarray, shape (time,)
        Radiation at the ground, see `solar_radiation_kernel`. [MJ m-2 day-1]
    day_of_year : ndarray, shape (time,)
        1 to 365, 29 February as 59.
    depth : float
        Below the soil's surface, 0.01 to 2. [m]
    cover : str or Bed
        One of `BEDS`, or a bed of the garden's own.

    Returns
    -------
    ndarray, shape (time,)
        Never NaN on single days, because missing days and the time before the record are taken from
        the usual year. All NaN if fewer than 200 days of the year have any value. [degC]
    """
    return soil_column(tmean, radiation, day_of_year, cover=cover)(depth)


def soil_column(
    tmean: np.ndarray,
    radiation: np.ndarray,
    day_of_year: np.ndarray,
    *,
    cover: str | Bed = "bare",
) -> Callable[[float], np.ndarray]:
    """`soil_kernel` at several depths: what they share is worked out once.

    Parameters
    ----------
    tmean, radiation, day_of_year, cover
        As for `soil_kernel`.

    Returns
    -------
    callable
        Takes a depth [m], gives the soil's temperature there, shape (time,). [degC]
    """
    bed = bed_of(cover)

    @cache
    def surface() -> _Surface:
        return _Surface(tmean + bed.sun * radiation + bed.offset, day_of_year)

    def at_depth(depth: float) -> np.ndarray:
        check_depth(depth)
        return surface().conducted(depth, bed)

    return at_depth


def check_depth(depth: float) -> None:
    """Refuse a depth outside the model's column."""
    low, high = DEPTHS
    if not low <= depth <= high:
        msg = f" must lie between {low} and {high} m, got {depth}."
        raise InputError(Parameter("depth"), msg)


class _Surface:
    """What drives the soil from above, ready to be conducted to any depth.

    Parameters
    ----------
    surface : ndarray, shape (time,)
        Temperature of the surface on every day, NaN where missing. [degC]
    day_of_year : ndarray, shape (time,)
        1 to 365.
    """

    def __init__(self, surface: np.ndarray, day_of_year: np.ndarray) -> None:
        self._day = day_of_year - 1
        measured = ~np.isnan(surface)
        usual = smoothed(mean_by_day(surface[measured], day_of_year[measured])[None])
        departure = np.where(measured, surface - usual[self._day], 0.0)
        self._usual = np.fft.rfft(usual, DAYS)
        self._departure = np.fft.rfft(departure, _room(len(surface)))

    def conducted(self, depth: float, bed: Bed) -> np.ndarray:
        """Temperature at depth on every day, with missing days taken from the usual year."""
        span = len(self._day)
        weights, circle = _spectra(depth, bed.diffusivity, bed.resistance, span)
        usual = np.fft.irfft(self._usual * circle, DAYS)
        return usual[self._day] + np.fft.irfft(self._departure * weights, _room(span))[:span]


def _doubt(measured: np.ndarray, depth: float, bed: Bed) -> np.ndarray:
    """Root sum of squares of the weights of missing days, for every day."""
    squares = _weights(depth, bed.diffusivity, bed.resistance, len(measured))[0] ** 2
    unmeasured = squares.sum() - _past_days(measured.astype(float), squares)
    return np.sqrt(np.maximum(unmeasured, 0.0))


def _past_days(series: np.ndarray, weights: np.ndarray) -> np.ndarray:
    """Weighted sum of each day and the days before it, with zeros before the first."""
    room = _room(len(series))
    spectrum = np.fft.rfft(series, room) * np.fft.rfft(weights, room)
    return np.fft.irfft(spectrum, room)[: len(series)]


def _room(span: int) -> int:
    """Length of a circle on which so many days do not run into each other."""
    return 1 << int(2 * span).bit_length()  # a power of two is fast


@lru_cache(maxsize=64)
def _weights(
    depth: float, diffusivity: float, resistance: float, span: int
) -> tuple[np.ndarray, np.ndarray]:
    """Weights of previous days, for a record of `span` days and for an endlessly repeated year."""
    column = _column(depth, diffusivity, resistance)
    return column.weights(span), column.circle()


@lru_cache(maxsize=16)
def _spectra(
    depth: float, diffusivity: float, resistance: float, span: int
) -> tuple[np.ndarray, np.ndarray]:
    """Spectra of these weights: of the record's on a circle of `_room` days, and of the year's."""
    weights, circle = _weights(depth, diffusivity, resistance, span)
    return np.fft.rfft(weights, _room(span)), np.fft.rfft(circle, DAYS)


class _Column(NamedTuple):
    """Amplitude at a depth, and decay rate, of each mode of the column."""

    share: np.ndarray
    rate: np.ndarray  # [per day]

    def weights(self, days: int) -> np.ndarray:
        """Weights of the air 0, 1, 2 ... days before in a day's mean soil temperature."""
        return np.append(self._today, self._past(days - 1, 1.0))

    def circle(self) -> np.ndarray:
        """Weights of the air of each day of a year that repeats itself endlessly, shape (365,)."""
        circle = np.roll(self._past(DAYS, -np.expm1(-DAYS * self.rate)), 1)
        circle[0] += self._today
        return circle

    @property
    def _today(self) -> float:
        return float(1 + self.share @ (np.expm1(-self.rate) / self.rate))

    def _past(self, days: int, over: np.ndarray | float) -> np.ndarray:
        """Weights of the air 1, 2 ... days before, divided by a factor for each mode."""
        step = self.share * np.expm1(-self.rate) ** 2 / self.rate / over
        return np.exp(-np.outer(np.arange(days), self.rate)) @ step


@lru_cache(maxsize=64)
def _column(depth: float, diffusivity: float, resistance: float) -> _Column:
    over = resistance * diffusivity * HEAT_CAPACITY  # equivalent depth of this soil [m]
    middle = np.cumsum(_LAYERS) - _LAYERS / 2
    passes = 1 / np.append(over + middle[0], np.diff(middle))  # from the air, then layer to layer
    below = passes[1:]
    flow = np.diag(passes + np.append(below, 0)) - np.diag(below, 1) - np.diag(below, -1)
    root = np.sqrt(_LAYERS)
    rate, modes = np.linalg.eigh(flow / np.outer(root, root))
    at_depth = [np.interp(depth, middle, mode) for mode in (modes / root[:, None]).T]
    return _Column(np.array(at_depth) * (root @ modes), rate * diffusivity * _SECONDS)


# --- fitted to a probe --------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class SoilFit:
    """A garden's own soil, fitted to its probe.

    Parameters
    ----------
    bed : Bed
        Bed for `soil_temperature`. A diffusivity of exactly 1e-7 or 1e-6 means that conduction
        alone does not explain the probe: check its depth and the cover of the soil.
    rmse : float
        Root mean square error of the fit. [degC]
    days : int
        Number of days that the probe and the weather share.
    """

    bed: Bed
    rmse: float
    days: int


def fit_soil(
    daily: xr.Dataset,
    probe: xr.DataArray,
    depth: float,
    *,
    cover: str | Bed = "bare",
    latitude: float | None = None,
    coast: bool = False,
) -> SoilFit:
    """Fit a bed to a gardener's probe: diffusivity, share of the sun, and offset.

    Parameters
    ----------
    daily : Dataset, dims (time,)
        Weather of some whole years, including those of the probe, as for `soil_temperature`. [degC]
    probe : DataArray, dims (time,)
        Daily mean soil temperature. [degC]
    depth : float
        Depth of the probe. [m]
    cover : str or Bed
        Cover of the soil over the probe. Its thermal resistance is not fitted.
    latitude : float, optional
        Degrees north. Default: the record's own.
    coast : bool
        As for `soil_temperature`.

    Returns
    -------
    SoilFit
        Least-squares fit. The share of the sun is not fitted if the record has no latitude or no
        extremes.

    Raises
    ------
    DataGapError
        If the two share fewer than 20 days.
    ValueError
        If the depth or the cover is not allowed, or a temperature is not in degC.

    Examples
    --------
    The model's own soil in spring stands in for a probe here:

    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> probe = cw.soil_temperature(daily, 0.1).sel(time=slice("2010-03-01", "2010-05-31"))
    >>> fit = cw.fit_soil(daily, probe, depth=0.1)
    >>> fit.days, round(fit.bed.sun, 2), round(fit.bed.offset, 1)
    (92, 0.2, -1.7)
    """
    check_units(probe, "degC")
    bed = bed_of(cover)
    north = record_latitude(daily) if latitude is None else latitude
    inputs = [_daily_mean(daily)]
    if bed.sun and north is not None and _has_extremes(daily):
        inputs.append(solar_radiation(daily["tmin"], daily["tmax"], north, coast=coast))

    def parts(diffusivity: float) -> list[np.ndarray]:
        """The probe, and the contributions of air and sun at its depth, on common days."""
        tried = replace(bed, diffusivity=diffusivity)
        soils = [_conducted_down(each, depth, tried) for each in inputs]
        joined = [np.asarray(each) for each in xr.align(probe, *soils, join="inner")]
        shared = ~np.isnan(sum(joined))
        return [each[shared] for each in joined]

    days = len(parts(DIFFUSIVITY)[0])
    if days < FEWEST_PROBE_DAYS:
        msg = (
            f"The probe and the air's record share {days} days; at least {FEWEST_PROBE_DAYS} are "
            "needed, better a whole spring. Give a record that covers the probe's days."
        )
        raise DataGapError(msg)
    best = _least(lambda value: _best_surface(*parts(value))[2], *DIFFUSIVITIES)
    sun, offset_c, error = _best_surface(*parts(best))
    fitted = replace(
        bed, diffusivity=best, sun=sun, offset=offset_c, source=f"the garden's probe, {days} days"
    )
    return SoilFit(fitted, error, days)


def _best_surface(
    probe: np.ndarray, air: np.ndarray, radiation: np.ndarray | None = None
) -> tuple[float, float, float]:
    """Share of the sun, offset and root mean square error, by least squares."""
    left = probe - air
    sun = 0.0
    if radiation is not None:
        apart = radiation - radiation.mean()
        sun = max(float(apart @ left / (apart @ apart)), 0.0)
        left = left - sun * radiation
    return sun, float(left.mean()), float(left.std())


def _least(loss: Callable[[float], float], low: float, high: float) -> float:
    """Minimise a loss on a geometric grid that is refined four times."""
    for _ in range(4):
        grid = np.geomspace(low, high, 11)
        best = int(np.argmin([loss(value) for value in grid]))
        low, high = grid[max(best - 1, 0)], grid[min(best + 1, len(grid) - 1)]
    return float(grid[best])


# --- when it is warm enough to sow --------------------------------------------------------


def warm_soil_dates(
    tsoil: xr.DataArray, limit: float, first_day: int | str | xr.DataArray, *, days: int = 5
) -> xr.Dataset:
    """First date of every season on which the soil has been warm enough for some days.

    Parameters
    ----------
    tsoil : DataArray, dims (..., time)
        Daily mean soil temperature at sowing depth. [degC]
    limit : float
        The soil is warm enough at or above it. [degC]
    first_day : int, str or DataArray, dims (...)
        Day of the year on which the season begins, or a date such as ``"01-20"``: the coldest, see
        `coldest_day`.
    days : int
        Number of days in a row.

    Returns
    -------
    Dataset, dims (..., season)
        ``warm_soil``, the date of the last of these days; ``warm_soil_day``, counted from 1 January
        of the season's own year; ``warm_soil_status``: ``observed``; ``none`` if it never was;
        ``unknown`` if missing days could make the date earlier, or exist at all, given how warm the
        soil has been at that time of the year.

    Raises
    ------
    ValueError
        If `days` is not 1 to 365, the soil is not in degC, or `limit` can only be in degF.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> dates = cw.warm_soil_dates(cw.soil_temperature(daily), 10.0, int(cw.coldest_day(daily)))
    >>> str(dates["warm_soil"].sel(season=2010).dt.date.item())
    '2010-04-07'
    """
    check_units(tsoil, "degC")
    check_most_celsius("limit", limit, WARMEST_LIMIT_C)
    if isinstance(first_day, str):
        first_day = checked_day(first_day)
    if not 1 <= days <= DAYS:
        msg = f" must lie between 1 and {DAYS}, got {days}."
        raise InputError(Parameter("days"), msg)
    grid, first = by_year(tsoil), xr.DataArray(first_day)
    results = apply(
        lambda grid, first: _warm_days(grid, first, limit - TOLERANCE_C, days),
        grid,
        first,
        core=[["year", "day_of_year"], []],
        out=[["season"], ["season"]],
        sizes={"season": grid.sizes["year"]},
        dtypes=[float, int],
        each=True,
    )
    found = xr.Dataset(dict(zip(("day", "code"), results, strict=True)))
    found = keep_inside(found.assign_coords(season=grid["year"].values), grid, first)
    out = xr.Dataset({"warm_soil": season_dates(found["day"], first)})
    out["warm_soil_day"] = (found["day"] + offset_of(first) + 1).assign_attrs(
        units="day of the year"
    )
    out["warm_soil_status"] = decode_status(found["code"])
    return out.assign_attrs(limit_c=limit, days=days)


def _warm_days(
    grid: np.ndarray, first_day: int, limit: float, days: int
) -> tuple[np.ndarray, np.ndarray]:
    """Day of each season on which the soil has been warm for so many days, and its status code."""
    season = cut_seasons(grid, first_day)
    could = np.roll(seen_range(grid)[1] >= limit, -(first_day - 1))
    sure = _first_run(season >= limit, days)
    possible = _first_run((season >= limit) | (np.isnan(season) & could), days)
    known = (sure == possible) | np.isnan(possible)
    code = np.where(known, np.isnan(sure), UNKNOWN_CODE)  # observed is 0, none is 1
    return np.where(known, sure, np.nan), code


def _first_run(warm: np.ndarray, days: int) -> np.ndarray:
    """Last day of the first run of `days` warm days in each season; NaN if there is none."""
    runs = np.lib.stride_tricks.sliding_window_view(warm, days, axis=-1).all(axis=-1)
    return np.where(runs.any(axis=-1), runs.argmax(axis=-1) + days - 1.0, np.nan)


# --- odds of warm soil --------------------------------------------------------------------


def warm_soil_odds(dates: xr.Dataset, *, levels: Sequence[float] = LEVELS) -> xr.Dataset:
    """Dates by which the soil is warm enough with given odds.

    Parameters
    ----------
    dates : Dataset, dims (..., season)
        From `warm_soil_dates`.
    levels : sequence of float
        Shares of the years, each between 0 and 1.

    Returns
    -------
    Dataset, dims (..., odds)
        ``warm_soil_day``, counted from 1 January of the season's own year, with its 90 % interval
        by bootstrap over years, ``warm_soil_low`` to ``warm_soil_high``; NaN if too many years
        never have warm soil. Without the dimension `odds`: the number of ``known`` years.

    Raises
    ------
    ValueError
        If a level is not between 0 and 1.

    Notes
    -----
    Hazen's plotting positions, as for freezes. Years in which the soil never was warm enough count
    as infinitely late.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> dates = cw.warm_soil_dates(cw.soil_temperature(daily), 10.0, int(cw.coldest_day(daily)))
    >>> odds = cw.warm_soil_odds(dates)
    >>> odds["warm_soil_day"].sel(odds=[0.5, 0.9]).round().values.tolist()
    [108.0, 123.0]
    """
    if not levels or not all(0 < level < 1 for level in levels):
        msg = f" are shares between 0 and 1, such as 0.5 and 0.9; got {list(levels)}."
        raise InputError(Parameter("levels"), msg)
    status = dates["warm_soil_status"]
    results = apply(
        lambda day, status: _by_odds(day, status, np.array(levels)),
        dates["warm_soil_day"],
        status,
        core=[["season"]] * 2,
        out=[["odds"]] * 3,
        sizes={"odds": len(levels)},
        dtypes=[float] * 3,
        each=True,
    )
    names = ("warm_soil_day", "warm_soil_low", "warm_soil_high")
    units = {"units": "day of the year"}
    out = xr.Dataset({n: r.assign_attrs(units) for n, r in zip(names, results, strict=True)})
    out["known"] = (status != UNKNOWN).sum("season")
    return out.assign_coords(odds=list(levels)).assign_attrs(dates.attrs, interval=LEVEL)


def _by_odds(day: np.ndarray, status: np.ndarray, levels: np.ndarray) -> tuple[np.ndarray, ...]:
    """Day of warm soil at each level, and the ends of its interval; NaN where it may never come."""
    sample = np.sort(np.where(status == NONE, np.inf, day)[status != UNKNOWN])
    if not len(sample):
        return (np.full(len(levels), np.nan),) * 3
    below, above, t = neighbours(np.array(len(sample)), levels, "hazen")
    resamples = sample[bootstrap_ranks(len(sample), _RESAMPLES)]
    day, resampled = (
        between(each[..., below], each[..., above], t) for each in (sample, resamples)
    )
    low, high = bootstrap_interval(resampled)
    return tuple(np.where(np.isfinite(d), d, np.nan) for d in (day, low, high))
