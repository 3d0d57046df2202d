"""The usable window of every year: the longest time with temperatures that suit a crop.

The window of the average curve is not the average window: each year is measured on its own, and the
window of the average curve is given for comparison.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from numbers import Real
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate._windows_kernel import (
    WINDOW_PARTS,
    CropYears,
    Windows,
    crop_years,
    padded_years,
    seasons_of,
    windows_of_seasons,
    windows_of_years,
)
from climwin.climate.adjust import TEMPERATURES
from climwin.climate.freeze import check_cold_limit, temperature_grids
from climwin.climate.imputation import (
    DRAWS,
    LEAST_MEASURED,
    GapsOfGrids,
    covered_days,
    drawn_gaps,
)
from climwin.climate.level import in_climate
from climwin.climate.resolution import slack, steps
from climwin.climate.usable import (
    CRITERIA,
    Criterion,
    core_dims,
    drawn_hours,
    running_mean,
    within_band,
)
from climwin.core.dependence import trend_per_decade
from climwin.core.draws import count_over_draws
from climwin.core.errors import DataGapError, InputError, Parameter
from climwin.core.formatting import as_typed
from climwin.core.odds import odds_of
from climwin.core.provenance import climate_of, provenance
from climwin.core.schema import apply, check_choice, variable
from climwin.core.seasons import (
    DAYS,
    keep_inside,
    offset,
    offset_of,
    season_dates,
    seen_near,
    seen_range,
    smoothed,
    usual_days,
)
from climwin.core.stats import kernel_share_above
from climwin.core.status import NONE_CODE, OBSERVED_CODE, UNKNOWN_CODE, decode_status
from climwin.crops.bands import bearable_band
from climwin.crops.model import Crop, Limits

__all__ = ["WINDOW_PARTS", "odds_shorter", "usable_windows"]


def usable_windows(
    daily: xr.Dataset,
    crop: Crop | Limits | Sequence[Crop | Limits],
    *,
    criterion: str = "mean",
    killed_at: float | None = None,
    climate: str = "record",
    with_draws: bool = True,
) -> xr.Dataset:
    """Measure the usable window of every year.

    Parameters
    ----------
    daily : Dataset, dims (..., time)
        Needs ``tmean`` and ``tmin``, and what the criterion needs. [degC]
    crop : Crop or Limits, or a sequence of them
        A crop, for which the `bearable_band` is used, or a band of daily mean temperature. Several
        give a dimension ``crop``, and take little longer than one. [degC]
    criterion : {"mean", "extremes", "hours"}
        The criterion for a usable day, see `usable_days`.
    killed_at : float, optional
        Minimum at or below which the unprotected crop dies. Default: the crop's own, or none for a
        band. [degC]
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.
    with_draws : bool
        Whether to draw the gaps. Without draws a record with gaps takes a fraction of the time, and
        ``length_drawn`` is NaN where a gap leaves a year unknown.

    Returns
    -------
    Dataset, dims (..., season, part)
        The longest run of usable days, with at most 3 unusable days in a row between them, after
        the last killing freeze on the rise and before the first on the fall: ``start``, ``end``,
        ``length`` [days], ``usable_days``, ``status``. ``length_least`` and ``length_most`` bound
        the length if a gap leaves it unknown. ``length_drawn``, dims (..., season, part, draw), is
        the length in each draw of the gaps, see `draw_gaps`; NaN if the record begins or ends too
        close, or if less than half of the season was measured. ``part`` is ``"longest"`` in the
        crop's year and, if summer (or winter) splits it (``has_two_windows``), also ``"rise"``
        (begins at least 30 days before midsummer) and ``"fall"`` (ends at least 30 days after it);
        a window that runs through is counted whole in both. ``average_*`` is the window of the
        average curve, in days of the year, without freezes.

    Raises
    ------
    ValueError
        If there is no crop, the criterion is unknown, or the record lacks what it needs.
    DataGapError
        If the record is too sparse to have a usual year.

    See Also
    --------
    odds_shorter : How often these windows are shorter than a crop needs.
    compare_criteria : The same odds by each criterion.

    Notes
    -----
    The crop's year is cut on the day of the smoothed climatology that lies furthest outside the
    band, so a window may run through a mild winter.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> band = cw.Limits(low_c=7.2, high_c=21.0, source="example")
    >>> windows = cw.usable_windows(daily, band)
    >>> spring = windows.sel(part="rise")
    >>> spring["length"].median().item()
    63.0
    >>> str(spring["start"].sel(season=2010).dt.date.item())
    '2010-04-18'
    """
    daily = in_climate(daily, climate)
    crops = [crop] if isinstance(crop, Crop | Limits) else list(crop)
    requests = [_request(each, killed_at) for each in crops]
    if not requests:
        msg = "A window needs a crop or a band, got an empty sequence. Give at least one."
        raise InputError(msg)
    windows, tmean = _search(daily, requests, criterion, with_draws)
    attrs = [request.attrs for request in requests]
    common = {"criterion": criterion} | provenance(daily)
    if isinstance(crop, Crop | Limits):
        windows = windows.isel(crop=0)
        out = _with_dates(windows, keep_inside(windows, tmean, windows["first_day"]))
        return out.assign_attrs(attrs[0] | common)
    windows = windows.transpose("crop", ...)
    out = _with_dates(windows, keep_inside(windows, tmean, windows["first_day"]))
    out = out.assign_coords(crop=[request.label for request in requests])
    by_crop = {key: [each[key] for each in attrs] for key in attrs[0]}
    return out.assign_attrs(by_crop | common)


class _Request(NamedTuple):
    """The crop or band of a window."""

    crop: str
    band: Limits
    killed_at_c: float

    @property
    def label(self) -> str:
        return self.crop or f"{as_typed(self.band.low_c)} to {as_typed(self.band.high_c)} degC"

    @property
    def attrs(self) -> dict[str, str | float]:
        return {
            "crop": self.crop,
            "low_c": self.band.low_c,
            "high_c": self.band.high_c,
            "killed_at_c": self.killed_at_c,
        }


def _request(crop: Crop | Limits, killed_at: float | None) -> _Request:
    if killed_at is not None:
        check_cold_limit("killed_at", killed_at)
    if isinstance(crop, Crop):
        killed_at = crop.killed_at_c if killed_at is None else killed_at
        return _Request(crop.name, bearable_band(crop), killed_at)
    return _Request("", crop, -np.inf if killed_at is None else killed_at)


_OF_SEASONS = (
    "start_day",
    "end_day",
    "length",
    "usable_days",
    "length_least",
    "length_most",
    "code",
)
_OF_AVERAGE = ("average_start_day", "average_end_day", "average_length")
_OF_CROPS = ("first_day", "has_two_windows")
"""Variables that the kernel returns, in this order: by season and part, by part, and by crop only;
last come the lengths by draw."""


def _search(
    daily: xr.Dataset, requests: Sequence[_Request], criterion: str, with_draws: bool = True
) -> tuple[xr.Dataset, xr.DataArray]:
    """Windows by crop, as days of the season, and the record's grid of daily means."""
    check_choice("criterion", criterion, CRITERIA)
    chosen, bands = CRITERIA[criterion], [request.band for request in requests]
    thresholds = np.array([request.killed_at_c for request in requests])
    variable(daily, "tmean")
    temperatures = temperature_grids(daily, TEMPERATURES if with_draws else ("tmin", "tmean"))
    tmean = temperatures["tmean"]
    _check_has_usual_year(tmean)
    grids = [*temperatures.values(), steps(temperatures["tmin"]), *chosen.grids(daily, bands)]
    if with_draws and not chosen.reads and bool(np.isnan(grids[-1]).any()):
        grids.append(drawn_hours(daily, bands))
    results = apply(
        _station_kernel(bands, thresholds, chosen, list(temperatures), with_draws),
        *grids,
        core=core_dims(grids),
        out=[
            *([["crop", "season", "part"]] * len(_OF_SEASONS)),
            *([["crop", "part"]] * len(_OF_AVERAGE)),
            *([["crop"]] * len(_OF_CROPS)),
            ["crop", "season", "part", "draw"],
        ],
        sizes={
            "crop": len(requests),
            "season": tmean.sizes["year"],
            "part": len(WINDOW_PARTS),
            "draw": DRAWS,
        },
        dtypes=[float] * 6 + [int] + [float] * 3 + [int, bool, float],
        each=True,
    )
    names = (*_OF_SEASONS, *_OF_AVERAGE, *_OF_CROPS, "length_drawn")
    windows = xr.Dataset(dict(zip(names, results, strict=True)))
    if tmean.chunks is not None:
        # Which seasons count must be known now; asked of the kernel, it would run twice.
        windows["first_day"] = _first_days(tmean, bands).compute()
    return windows.assign_coords(season=tmean["year"].values, part=list(WINDOW_PARTS)), tmean


def _first_days(tmean: xr.DataArray, bands: Sequence[Limits]) -> xr.DataArray:
    """Day on which each crop's year begins, dims (..., crop), as `_station_kernel` finds it."""

    def kernel(grid: np.ndarray) -> np.ndarray:
        return crop_years(smoothed(grid), bands).first_day

    days: xr.DataArray = apply(
        kernel,
        tmean,
        core=[["year", "day_of_year"]],
        out=[["crop"]],
        sizes={"crop": len(bands)},
        dtypes=[int],
        each=True,
    )
    return days


def _check_has_usual_year(tmean: xr.DataArray) -> None:
    if tmean.chunks is not None:
        return  # counting days would compute lazy data
    days = tmean.notnull().any("year").sum("day_of_year")
    if not bool((days >= 200).any()):
        msg = (
            "The record is too thin to have a usual year: fewer than 200 days of the year hold any "
            "value. Give a record of some whole years."
        )
        raise DataGapError(msg)


class _Days(NamedTuple):
    """Days of seasons, shape (crops, seasons, 365): usable ones, and those that kill the crop."""

    usable: np.ndarray
    kills: np.ndarray


class _DrawnDays(NamedTuple):
    """A temperature's running mean on some days in each draw; arrays of shape (draws, days)."""

    least: np.ndarray
    greatest: np.ndarray
    """The same array as `least` if every day could be drawn."""
    missing: np.ndarray
    """Whether a day that it averages could not be drawn."""


def _on_drawn_days(
    grid: np.ndarray, gaps: GapsOfGrids, name: str, length: int, days: np.ndarray
) -> _DrawnDays:
    """Bounds of a temperature's running mean on some days, in each draw.

    Parameters
    ----------
    grid : ndarray, shape (years, 365)
        The record, with its gaps. [degC]
    gaps : GapsOfGrids
    name : str
        The temperature.
    length : int
        Length of the mean, odd.
    days : ndarray of bool, shape (days of padded years,)
        None of them within `length` of either end.
    """
    half = length // 2
    is_read = _around(days, half)
    read = np.flatnonzero(is_read)
    drawn, place = gaps.values[name], gaps.place + DAYS  # there is a year before the first
    values = np.repeat(padded_years(grid).reshape(1, -1)[:, read], len(drawn), axis=0)
    values[:, np.searchsorted(read, place[is_read[place]])] = drawn[:, is_read[place]]
    first = np.searchsorted(read, np.flatnonzero(days) - half)

    def mean(values: np.ndarray) -> np.ndarray:
        return np.asarray(sum(values[:, first + shift] for shift in range(length)) / length)

    missing = np.isnan(values)
    if not missing.any():
        both = mean(values)
        return _DrawnDays(both, both, np.zeros(both.shape, dtype=bool))
    lowest, highest = _drawn_range(grid, gaps.place, drawn)
    least, greatest = (
        mean(np.where(missing, end[:, read % DAYS], values)) for end in (lowest, highest)
    )
    return _DrawnDays(least, greatest, mean(missing) > 0)


def _around(days: np.ndarray, reach: int) -> np.ndarray:
    """Days that lie at most `reach` days from one of the given; boolean, shape (days,)."""
    out = days.copy()
    for shift in range(1, reach + 1):
        out[shift:] |= days[:-shift]
        out[:-shift] |= days[shift:]
    return out


def _drawn_range(
    grid: np.ndarray, place: np.ndarray, drawn: np.ndarray
) -> tuple[np.ndarray, np.ndarray]:
    """Lowest and highest value near each day of the year in each draw, see `seen_range`."""
    ends = []
    for nearest in (np.fmin, np.fmax):
        of_draws = np.repeat(nearest.reduce(grid, axis=0)[None], len(drawn), axis=0)
        nearest.at(of_draws.T, place % DAYS, drawn.T)  # a day may occur in several years
        ends.append(of_draws)
    return seen_near(ends[0], ends[1])


class _DrawnSeasons(NamedTuple):
    """Seasons of one station that gaps leave open, to be searched in each draw of the gaps."""

    bands: Sequence[Limits]
    criterion: Criterion
    temperatures: dict[str, np.ndarray]
    """The record, with its gaps, shape (years, 365). [degC]"""
    limits: np.ndarray
    """Minimum that kills each crop in each padded year, shape (crops, years + 2, 1). [degC]"""
    years: CropYears
    is_open: np.ndarray
    """Shape (seasons,)."""
    gaps: GapsOfGrids
    needed: np.ndarray
    """Days of padded years that lie in an open season of a crop."""

    @classmethod
    def of_station(
        cls,
        bands: Sequence[Limits],
        criterion: Criterion,
        temperatures: dict[str, np.ndarray],
        limits: np.ndarray,
        years: CropYears,
        is_open: np.ndarray,
    ) -> _DrawnSeasons:
        """Draw the gaps, and find the days that matter."""
        needed = np.zeros((len(is_open) + 2) * DAYS, dtype=bool)
        for start in DAYS + offset(years.first_day):
            needed[start : start + len(is_open) * DAYS] |= np.repeat(is_open, DAYS)
        gaps = drawn_gaps(temperatures)
        return cls(bands, criterion, temperatures, limits, years, is_open, gaps, needed)

    def lengths(self, grids: Sequence[np.ndarray], hours: np.ndarray | None) -> np.ndarray:
        """Lengths of the windows, shape (crops, open seasons, parts, draws).

        Parameters
        ----------
        grids : sequence of ndarray, shape (years, 365)
            Those of the criterion that are the same in every draw, such as steps.
        hours : ndarray, shape (draws, bands, years, 365), or None
            Hours in the band, for the criterion that counts them.
        """
        kills = self._kills()
        usable = self._usable(grids) if hours is None else self._usable_by_hours(hours)

        def windows(number: int) -> Windows:
            """Of all draws at once, as additional seasons."""
            days, killing = (
                each[number].reshape(len(self.bands), -1, DAYS) for each in (usable, kills)
            )
            return windows_of_years(days, killing, self.years)

        worst = windows(0)
        is_known = usable[0] is usable[1] and kills[0] is kills[1]
        alike = True if is_known else _are_alike(worst, windows(1))
        lengths = np.where(alike, worst.length.astype(float), np.nan)
        return np.moveaxis(lengths.reshape(len(self.bands), DRAWS, -1, len(WINDOW_PARTS)), 1, -1)

    def _kills(self) -> tuple[np.ndarray, np.ndarray]:
        """Days that kill by draw, with the worst and with the best that gaps still allow."""
        tmin = self.temperatures["tmin"]
        padded = padded_years(tmin)
        changed = np.isnan(padded).ravel() & self.needed
        days = _on_drawn_days(tmin, self.gaps, "tmin", 1, changed)
        limit = self.limits[:, np.flatnonzero(changed) // DAYS]  # of each crop and changed day
        killing = days.least <= np.swapaxes(limit, 1, 2)
        worst = self._with_drawn(padded <= self.limits, changed, killing)
        if not days.missing.any():
            return worst, worst
        return worst, self._with_drawn(padded <= self.limits, changed, killing & ~days.missing)

    def _usable(self, grids: Sequence[np.ndarray]) -> tuple[np.ndarray, np.ndarray]:
        """Usable days by draw, for sure and possibly."""
        criterion = self.criterion
        read = [padded_years(self.temperatures[name]) for name in criterion.reads]
        others = [padded_years(grid) for grid in grids]
        of_record, _ = criterion.masks(self.bands, *read, *others)
        missing = np.any([np.isnan(grid) for grid in read], axis=0).ravel()
        changed = _around(missing, criterion.days // 2) & self.needed
        drawn = [
            _on_drawn_days(self.temperatures[name], self.gaps, name, criterion.days, changed)
            for name in criterion.reads
        ]
        sure, possible = criterion.usable(
            self.bands,
            *((each.least, each.greatest) for each in drawn),
            *(grid.ravel()[changed] for grid in others),
        )
        worst = self._with_drawn(of_record, changed, sure)
        if all(each.least is each.greatest for each in drawn):
            return worst, worst
        return worst, self._with_drawn(of_record, changed, possible)

    def _usable_by_hours(self, hours: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Usable days by draw, for sure and possibly, from hours drawn for whole years."""
        masks = [self.criterion.masks(self.bands, padded_years(each)) for each in hours]
        sure, possible = (
            np.stack([seasons_of(mask, self.years)[:, self.is_open] for mask in by_draw], axis=1)
            for by_draw in zip(*masks, strict=True)
        )
        return sure, possible

    def _with_drawn(self, mask: np.ndarray, changed: np.ndarray, drawn: np.ndarray) -> np.ndarray:
        """These seasons in each draw, shape (crops, draws, open seasons, 365).

        Parameters
        ----------
        mask : ndarray of bool, shape (crops, seasons + 2, 365)
            Days of the record itself, in padded years.
        changed : ndarray of bool, shape (days of padded years,)
            Days that differ from draw to draw.
        drawn : ndarray of bool, shape (crops, draws, changed days)
            These days in each draw.
        """
        of_record = seasons_of(mask, self.years)[:, self.is_open]
        out = np.repeat(of_record[:, None], drawn.shape[1], axis=1)
        row = np.cumsum(self.is_open) - 1  # of an open season among the open ones
        for crop, start in enumerate(DAYS + offset(self.years.first_day)):
            season, day = np.divmod(np.flatnonzero(changed) - start, DAYS)
            here = (season >= 0) & (season < len(self.is_open))
            here[here] = self.is_open[season[here]]
            out[crop, :, row[season[here]], day[here]] = drawn[crop][:, here].T
        return out


def _station_kernel(
    bands: Sequence[Limits],
    thresholds: np.ndarray,
    criterion: Criterion,
    names: Sequence[str],
    with_draws: bool,
) -> Callable[..., tuple[np.ndarray, ...]]:
    """Kernel for one station, which returns the variables that `_search` names.

    Its arguments are the grids of the temperatures `names`, the steps of the minimum by year, and
    the criterion's grids; then the criterion's grid by draw, if it reads no temperatures.
    """

    def days_of_seasons(
        grids: Sequence[np.ndarray], tmin: np.ndarray, limits: np.ndarray, years: CropYears
    ) -> tuple[_Days, _Days]:
        """Days of seasons, with the worst and with the best that gaps allow."""
        sure, possible = criterion.masks(bands, *(padded_years(grid) for grid in grids))
        padded = padded_years(tmin)
        could_be = np.where(np.isnan(padded), seen_range(padded)[0], padded)
        worst = _Days(seasons_of(sure, years), seasons_of(could_be <= limits, years))
        best = _Days(seasons_of(possible, years), seasons_of(padded <= limits, years))
        return worst, best

    def kernel(*arrays: np.ndarray) -> tuple[np.ndarray, ...]:
        temperatures = dict(zip(names, arrays, strict=False))
        step, *grids = arrays[len(names) :]
        hours = None if criterion.reads else _hours_of_draws(grids)
        tmean, tmin = temperatures["tmean"], temperatures["tmin"]
        kills_at = thresholds[:, None, None]
        limits = kills_at + slack(kills_at, np.pad(step, 1, mode="edge")[:, None])
        years = crop_years(smoothed(tmean), bands)
        worst, best = (
            windows_of_years(days.usable, days.kills, years)
            for days in days_of_seasons(grids, tmin, limits, years)
        )
        known = _are_alike(worst, best)
        code = np.select([~known, worst.length > 0], [UNKNOWN_CODE, OBSERVED_CODE], NONE_CODE)

        length = np.where(known, worst.length, np.nan)
        by_draw = np.repeat(length[..., None], DRAWS, axis=-1)
        covered = covered_days(temperatures, "tmin") & covered_days(temperatures, "tmean")
        can_be_drawn = _measured_share(np.where(covered, 1.0, np.nan), years) >= LEAST_MEASURED
        # What could be seen at that time of the year, in other years, is no evidence of this one.
        unmeasured = ~known & ~can_be_drawn[..., None]
        least = np.where(unmeasured, 0.0, worst.length)
        most = np.where(unmeasured, float(DAYS), best.length)
        is_open = np.asarray((~known.all(-1) & can_be_drawn).any(0))
        if with_draws and is_open.any():
            seasons = _DrawnSeasons.of_station(
                bands, criterion, temperatures, limits, years, is_open
            )
            new = seasons.lengths(grids[len(criterion.reads) :], hours)
            new = np.where(can_be_drawn[:, is_open, None, None], new, np.nan)
            of_known = known[:, is_open, :, None]
            by_draw[:, is_open] = np.where(of_known, by_draw[:, is_open], new)
        average = _average_windows(tmean, bands, years)
        return (
            np.where(code == OBSERVED_CODE, worst.start, np.nan),
            np.where(code == OBSERVED_CODE, worst.end, np.nan),
            length,
            np.where(known, worst.usable_days, np.nan),
            least,
            most,
            code,
            *average,
            years.first_day,
            years.has_two_windows,
            by_draw,
        )

    return kernel


def _hours_of_draws(grids: list[np.ndarray]) -> np.ndarray:
    """Hours by draw, taken off the end of the grids; where none is missing, all draws are alike."""
    if len(grids) > 1:
        return grids.pop()
    return np.broadcast_to(grids[0], (DRAWS, *grids[0].shape))


def _are_alike(worst: Windows, best: Windows) -> np.ndarray:
    """Where windows do not depend on gaps."""
    return np.all([low == high for low, high in zip(worst, best, strict=True)], axis=0)


def _measured_share(grid: np.ndarray, years: CropYears) -> np.ndarray:
    """Share of measured days in each season, shape (crops, seasons)."""
    measured = padded_years(np.where(np.isnan(grid), np.nan, 1.0)) == 1.0
    by_crop = np.broadcast_to(measured, (len(years.first_day), *measured.shape))
    return np.asarray(seasons_of(by_crop, years).mean(axis=-1))


def _average_windows(
    tmean: np.ndarray, bands: Sequence[Limits], years: CropYears
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Start, end and length of the average curve's window, shape (crops, parts) each.

    The curve is each day's mean over the years, smoothed over a week.
    """
    mean = usual_days(tmean)
    curve = running_mean(mean[None], mean)
    usable = np.stack(
        [
            np.roll(within_band(curve, curve, band), 1 - first, axis=1)  # from the season's start
            for band, first in zip(bands, years.first_day, strict=True)
        ]
    )
    windows = windows_of_seasons(usable, np.zeros_like(usable), years)
    start, end, length = windows.start[:, 0], windows.end[:, 0], windows.length[:, 0]
    there = length > 0
    return np.where(there, start, np.nan), np.where(there, end, np.nan), length


def _with_dates(windows: xr.Dataset, inside: xr.Dataset) -> xr.Dataset:
    """Windows as dates and lengths with units, of the seasons inside the record."""
    first = windows["first_day"]
    # Without a split, a year has neither rise nor fall.
    has_part = inside["has_two_windows"] | (inside["part"] == "longest")
    out = xr.Dataset()
    for name in ("start", "end"):
        out[name] = season_dates(inside[f"{name}_day"], first)
    for name in ("length", "usable_days", "length_least", "length_most", "length_drawn"):
        out[name] = inside[name].where(has_part).assign_attrs(units="days")
    out["status"] = decode_status(inside["code"])
    shift = offset_of(first) + 1
    for name in ("average_start_day", "average_end_day"):
        out[name] = (inside[name] + shift).assign_attrs(units="day of the year")
    out["average_length"] = inside["average_length"].assign_attrs(units="days")
    out["has_two_windows"] = inside["has_two_windows"].assign_attrs(
        long_name="summer or winter splits the year in two"
    )
    return out


# --- shorter than needed ------------------------------------------------------------------


def odds_shorter(windows: xr.Dataset, need_days: int | xr.DataArray) -> xr.Dataset:
    """How often the usable window is shorter than a crop needs.

    Parameters
    ----------
    windows : Dataset, dims (..., season, part)
        From `usable_windows`.
    need_days : int or DataArray, dims (...)
        Number of days that the crop needs; an array if they differ by place.

    Returns
    -------
    Dataset, dims (..., part)
        ``shorter`` of ``known`` years, and the number of ``unknown`` ones; the plain ``share`` of
        all years, where years with a gap count as their draws say (``leaning`` counts them);
        ``share_least`` and ``share_most``, if no unknown year, or all of them, were too short; the
        ``odds``, smoothed over the lengths of the years and never 0 or 1; ``low`` to ``high``, how
        well the odds of this climate are known (90 %), wider the more depends on draws;
        ``next_low`` to ``next_high``, in how many of the next ten years it is likely to be shorter
        (90 %); ``trend`` of the length, the Theil-Sen slope [days per decade], with its interval
        ``trend_low`` to ``trend_high`` and Mann-Kendall's ``trend_p``, both for autocorrelated
        years, see `trend`.

    Raises
    ------
    ValueError
        If the need is not between 1 and 365 days.

    See Also
    --------
    sensitivity : The same odds with other limits.

    Notes
    -----
    A year with an unknown length still counts as long enough, or too short, if both of its bounds
    agree. For the odds each known year's length is spread by a normal kernel; a year without a
    window stays without one.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> band = cw.Limits(low_c=7.2, high_c=21.0, source="example")
    >>> windows = cw.usable_windows(daily, band)
    >>> odds = cw.odds_shorter(windows, need_days=60).sel(part="rise")
    >>> print(f"shorter in {odds['shorter'].item()} of {odds['known'].item()} years")
    shorter in 19 of 39 years
    """
    is_one = not isinstance(need_days, xr.DataArray)
    if is_one and not (isinstance(need_days, Real) and 0 < need_days <= DAYS):
        msg = f" must lie between 1 and {DAYS}, got {need_days!r}."
        raise InputError(Parameter("need_days"), msg)
    is_short = windows["length_most"] < need_days
    is_enough = windows["length_least"] >= need_days
    shorter = is_short.sum("season")
    known = (is_short | is_enough).sum("season")
    # Not `~is_enough`: if nothing splits the year, rise and fall have no length, which is not
    # unknown.
    unknown = ((windows["length_least"] < need_days) & ~is_short).sum("season")
    nothing_drawn = xr.full_like(windows["length"], np.nan).expand_dims("draw")
    drawn = windows.get("length_drawn", nothing_drawn)
    is_known = is_short | is_enough
    share, counted, leaning, worth = apply(
        count_over_draws,
        is_short.astype(float).where(is_known),
        (drawn < need_days).where(drawn.notnull()),
        core=[["season"], ["season", "draw"]],
        out=[[]] * 4,
        dtypes=[float, int, int, float],
    )
    middle = (windows["length_least"] + windows["length_most"]) / 2
    smoothed = apply(
        _odds_shorter_kernel,
        middle.where(is_known, drawn),
        xr.DataArray(need_days),
        core=[["season", "draw"], []],
        each=True,
    )
    odds = odds_of(
        share * counted,
        counted,
        kind="window",
        climate=climate_of(windows),
        smoothed=smoothed,
        worth=worth,
    )
    every = known + unknown
    slope, slope_low, slope_high, p = apply(
        trend_per_decade,
        windows["season"],
        windows["length"],
        core=[["season"]] * 2,
        out=[[]] * 4,
        dtypes=[float] * 4,
        each=True,
    )
    out = xr.Dataset(
        {
            "shorter": shorter,
            "known": known,
            "unknown": unknown,
            "leaning": leaning,
            "share_least": shorter / every.where(every > 0),
            "share_most": (shorter + unknown) / every.where(every > 0),
            **odds,
            "trend": slope,
            "trend_low": slope_low,
            "trend_high": slope_high,
            "trend_p": p,
        }
    )
    for name in set(out) - set(odds):
        in_days = name in ("trend", "trend_low", "trend_high")
        out[name].attrs = {"units": "days per decade" if in_days else "1"}
    return out.assign_attrs(windows.attrs | odds.attrs, need_days=need_days)


def _odds_shorter_kernel(lengths: np.ndarray, need_days: float) -> float:
    """Odds of a window shorter than needed, from lengths of shape (seasons, draws)."""
    lengths = lengths[~np.isnan(lengths).any(axis=-1)]
    lengths = np.where(lengths > 0, lengths, -np.inf)  # a year without a window is not smoothed
    # Lengths are whole days, so shorter ones lie below the need minus half a day.
    at = np.array([need_days - 0.5])
    different, count = np.unique(lengths, axis=-1, return_counts=True)  # draws often agree
    by_draw = [kernel_share_above(draw, at)[0] for draw in different.T]
    return float(1 - np.average(by_draw, weights=count))
