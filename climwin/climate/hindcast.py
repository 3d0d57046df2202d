"""Hindcast: the odds that would have been given in earlier years, and what then happened.

A hindcast cuts the record off at an earlier year, computes the odds as of that year, and compares
them with the ten years that followed. It covers freeze dates, windows, heat sums and hot days, from
all years as they were or moved to the level of that year.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.breakpoints import BREAK_P, sudden_step, yearly_means
from climwin.climate.freeze import freeze_dates
from climwin.climate.level import HALF_LIFE, level_shift
from climwin.climate.windows import usable_windows
from climwin.core.errors import DataGapError, InputError, Parameter
from climwin.core.provenance import provenance
from climwin.core.schema import TOLERANCE_C, variable
from climwin.core.seasons import by_year, coldest_day, cut_seasons
from climwin.core.stats import (
    LEVEL,
    NEXT_YEARS,
    bootstrap_interval,
    kernel_share_above,
    next_interval,
    next_worth,
    wilson,
)
from climwin.core.status import NONE
from climwin.crops.model import Limits

RULES = ("count", "record", "today")
"""The plain count of the latest 30 years; the odds of all years; the odds of all years moved to the
level of the year of asking."""
COUNTED = 30
"""Number of latest years in the plain count, as in the WMO's normals. [year]"""
FIRST_YEARS = 30
"""Number of known years before the first year of asking. [year]"""
LEAST_YEARS_OF_RECORD = 40
"""Least number of known years for a hindcast. [year]"""
MILD = Limits(low_c=7.0, high_c=21.0, source="common practice")
"""Band of daily means for the windows, typical of cool-season vegetables. [degC]"""
HEAT_BASE_C = 10.0
"""Base of the heat sums. [degC]"""
HEAT_DAYS = (180, 240)
"""Days after the coldest day of the year up to which heat is summed. [day]"""
HOT_C = 30.0
"""Maximum of a hot day. [degC]"""
SHARES = tuple(tenth / 10 for tenth in range(1, 10))
"""Shares of all years at which limits are set, such as the date after which one year in ten had
its last freeze."""
BINS = 10
"""Bins of odds in a table of reliability."""
LEAST_FOLLOWED = 8
"""Least number of known years among the next ten for judging an interval."""

_BLOCK = 10  # years that the bootstrap draws together, because their outcomes overlap
_RESAMPLES = 1_000
_LEAST_BLOCKS = 3


class _Question(NamedTuple):
    """A yearly quantity by year of asking; the odds are those of exceeding a limit."""

    event: str
    kind: str
    units: str
    as_it_was: np.ndarray
    """Shape (years,); infinite if the event did not occur, NaN if unknown."""
    at_level: np.ndarray
    """With all years moved to the level of each year of asking, shape (asked, years)."""


def hindcast(daily: xr.Dataset, *, first_years: int = FIRST_YEARS) -> xr.Dataset:
    """Compare the odds that earlier years would have been given with what happened.

    Parameters
    ----------
    daily : Dataset, dims (time)
        A record of at least 40 known years, with ``tmin``, ``tmax`` and ``tmean``. [degC]
    first_years : int
        Number of known years before the first year of asking, at least 10.

    Returns
    -------
    Dataset
        At the end of each ``year`` with enough years before it, for each ``event`` and ``limit``
        (dims question): ``odds_given`` (rule, year, question), the odds of exceeding the limit;
        ``next_low`` and ``next_high``, in how many of the next ten years that is likely; ``came``,
        in how many it happened, of the ``followed`` known ones (year, question).

        In total, by ``kind`` of event and over all: ``brier``, the Brier score; ``skill``, by how
        much it is smaller than the plain count's [%], with its 90 % interval ``skill_low`` to
        ``skill_high``, NaN unless at least three decades are half covered by outcomes; ``held``,
        the share of the ``judged`` intervals for the next ten years that contain the outcome.
        Reliability, by ``bin`` of the odds: ``odds_in_bin`` and ``came_in_bin``, means over
        ``cases``.

        The rules are ``"count"``, the plain count of the latest 30 years with Wilson's interval;
        ``"record"`` and ``"today"``, the odds from all years before, as they were and moved to the
        level of the year of asking.

    Raises
    ------
    ValueError
        If the record has several places, or `first_years` is below 10.
    DataGapError
        If fewer than 40 years are known.

    See Also
    --------
    todays_climate : How years are moved.

    Notes
    -----
    Odds asked in neighbouring years share most of the years that followed, so the interval of the
    skill resamples whole decades [1]_. The limits, and the usual year that cuts the seasons, are
    those of the whole record. They are known only afterwards, but help every rule equally.

    References
    ----------
    .. [1] H. R. Kuensch, "The jackknife and the bootstrap for general stationary observations," The
       Annals of Statistics, vol. 17, pp. 1217-1241, 1989 (from memory).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> looked_back = cw.hindcast(daily)
    >>> of_all = looked_back.sel(kind="all")
    >>> dict(zip(of_all["rule"].values.tolist(), of_all["held"].values.round(2).tolist()))
    {'count': 0.68, 'record': 1.0, 'today': 1.0}
    """
    if variable(daily, "tmin").dims != ("time",):
        msg = "hindcast takes the record of one place. Choose one, such as with .sel(station=...)."
        raise InputError(msg, parameter="daily")
    if first_years < 10:
        msg = f" is a number of years, 10 or more, got {first_years!r}."
        raise InputError(Parameter("first_years"), msg)
    years, levels = _levels(daily)
    if LEAST_YEARS_OF_RECORD <= len(years) <= first_years:
        msg = (
            f" is a number of years, fewer than the record's {len(years)} known ones, got "
            f"{first_years}."
        )
        raise InputError(Parameter("first_years"), msg)
    if len(years) < LEAST_YEARS_OF_RECORD:
        msg = (
            f"Too short a record to look back: {len(years)} years are known, "
            f"{LEAST_YEARS_OF_RECORD} are the least. Give a longer record."
        )
        raise DataGapError(msg)
    asked = np.arange(first_years - 1, len(years) - 1)
    shifts = _shifts(years, levels, asked)
    questions = _questions(daily, years, shifts)
    answers = [_answer(question, years, asked) for question in questions]
    out = _joined(answers, years[asked]).assign_attrs(last_year=int(years[-1]))
    return _summed(out).assign_attrs(
        provenance(daily),
        first_years=first_years,
        interval=LEVEL,
        next_years=NEXT_YEARS,
        years=f"{years[0]}-{years[-1]}",
    )


# --- levels -------------------------------------------------------------------------------


def _levels(daily: xr.Dataset) -> tuple[np.ndarray, dict[str, np.ndarray]]:
    """Years with a mean of both extremes, and those means."""
    means = {name: yearly_means(variable(daily, name)) for name in ("tmin", "tmax")}
    years = means["tmin"]["year"].values
    known = np.isfinite(means["tmin"].values) & np.isfinite(means["tmax"].values)
    return years[known], {name: each.values[known] for name, each in means.items()}


def _shifts(
    years: np.ndarray, levels: dict[str, np.ndarray], asked: np.ndarray
) -> dict[str, np.ndarray]:
    """Shifts to the level of each year of asking, from the years up to it, shape (asked,)."""
    shifts = {name: np.zeros(len(asked)) for name in levels}
    for row, last in enumerate(asked):
        year = years[: last + 1].astype(float)
        for name, level in levels.items():  # both are compared with the same noise
            until = level[: last + 1]
            change = sudden_step(year, until, beside_trend=True, enough_p=BREAK_P)
            first = change.break_year if change.is_step and change.p < BREAK_P else np.nan
            shifts[name][row] = level_shift(year, until, first, HALF_LIFE).by
    return shifts


# --- questions ----------------------------------------------------------------------------


def _questions(
    daily: xr.Dataset, years: np.ndarray, shifts: dict[str, np.ndarray]
) -> list[_Question]:
    """All yearly quantities; moving the years up is the same as moving the limits down."""
    low, high = shifts["tmin"], shifts["tmax"]
    middle = (low + high) / 2
    return [
        *_freeze_questions(daily, years, low),
        _window_question(daily, years, middle),
        *_heat_questions(daily, years, middle),
        _hot_question(daily, years, high),
    ]


def _freeze_questions(daily: xr.Dataset, years: np.ndarray, shift: np.ndarray) -> list[_Question]:
    dates = freeze_dates(daily, [0.0, *(-shift)], with_draws=False).reindex(season=years)
    questions = []
    for event, name, kind, units, endless in (
        ("last freeze", "last_spring", "spring freeze", "day of the year", -np.inf),
        ("first freeze", "first_autumn", "autumn freeze", "day of the year", np.inf),
        ("days without a freeze", "freeze_free_days", "freeze-free days", "days", np.inf),
    ):
        values = dates[name if units == "days" else f"{name}_day"].values
        none = dates[f"{name}_status"].values == NONE
        values = np.where(none, endless, values)
        questions.append(_Question(event, kind, units, values[0], values[1:]))
    return questions


def _window_question(daily: xr.Dataset, years: np.ndarray, shift: np.ndarray) -> _Question:
    def length(moved: np.ndarray) -> np.ndarray:
        bands = [
            Limits(low_c=MILD.low_c - by, high_c=MILD.high_c - by, source=MILD.source)
            for by in moved.tolist()
        ]
        found = usable_windows(daily, bands, with_draws=False)
        windows = found.sel(part="longest").reindex(season=years)
        lengths = windows["length"].transpose("crop", "season").values
        return np.where(lengths == 0, -np.inf, lengths)

    values = length(np.concatenate([[0.0], shift]))
    return _Question("longest window", "window", "days", values[0], values[1:])


def _heat_questions(daily: xr.Dataset, years: np.ndarray, shift: np.ndarray) -> list[_Question]:
    season = _seasons(daily, "tmean", years)

    def of_days(days: int) -> _Question:
        def heat(by: float) -> np.ndarray:
            return np.asarray(np.maximum(season[:, :days] + by - HEAT_BASE_C, 0).sum(axis=1))

        event = f"heat sum {days} days after the coldest"
        at_level = np.stack([heat(by) for by in shift.tolist()])
        return _Question(event, "heat", "degC day", heat(0.0), at_level)

    return [of_days(days) for days in HEAT_DAYS]


def _hot_question(daily: xr.Dataset, years: np.ndarray, shift: np.ndarray) -> _Question:
    season = _seasons(daily, "tmax", years)

    def hot(by: float) -> np.ndarray:
        days = (season + by >= HOT_C - TOLERANCE_C).sum(axis=1).astype(float)
        return np.where(np.isnan(season).any(axis=1), np.nan, days)

    at_level = np.stack([hot(by) for by in shift.tolist()])
    return _Question("hot days", "hot days", "days", hot(0.0), at_level)


def _seasons(daily: xr.Dataset, name: str, years: np.ndarray) -> np.ndarray:
    """Seasons from the coldest day on, with short gaps interpolated, shape (years, 365)."""
    bridged = variable(daily, name).interpolate_na("time", max_gap=np.timedelta64(6, "D"))
    grid = by_year(bridged.assign_attrs(units="degC"))
    first = int(coldest_day(daily))
    seasons = xr.DataArray(
        cut_seasons(grid.values, first),
        dims=("season", "day"),
        coords={"season": grid["year"].values},
    )
    return np.asarray(seasons.reindex(season=years))


# --- odds and outcomes --------------------------------------------------------------------


class _Answer(NamedTuple):
    """Answers to one question, by rule, year of asking and limit."""

    question: _Question
    limits: np.ndarray
    odds: np.ndarray
    low: np.ndarray
    high: np.ndarray
    came: np.ndarray
    followed: np.ndarray
    above: np.ndarray
    """Whether each of the next years lay above each limit, shape (asked, next years, limits)."""


def _answer(question: _Question, years: np.ndarray, asked: np.ndarray) -> _Answer:
    limits = _limits(question)
    above = _above_next(question, limits, years, asked)
    followed = np.isfinite(above).sum(axis=1)
    shape = (len(RULES), len(asked), len(limits))
    odds, low, high = np.full(shape, np.nan), np.full(shape, np.nan), np.full(shape, np.nan)
    for row, last in enumerate(asked):
        before = question.as_it_was[: last + 1]
        at_level = question.at_level[row, : last + 1]
        samples = (before[np.isfinite(before) | np.isinf(before)], at_level[~np.isnan(at_level)])
        counted = samples[0][-COUNTED:]
        if not len(counted):
            continue
        share = (counted[:, None] > limits).mean(axis=0)
        odds[0, row] = share
        ends = wilson(share * len(counted), np.full(len(limits), len(counted)))
        low[0, row], high[0, row] = (np.round(followed[row] * end) for end in ends)
        for rule, (climate, sample) in enumerate(zip(RULES[1:], samples, strict=True), 1):
            odds[rule, row] = kernel_share_above(sample, limits)
            worth = next_worth(np.array(float(len(sample))), question.kind, climate)
            for years_ahead in np.unique(followed[row]):
                these = followed[row] == years_ahead
                ends = next_interval(odds[rule, row], worth, int(years_ahead))
                low[rule, row, these], high[rule, row, these] = (end[these] for end in ends)
    return _Answer(question, limits, odds, low, high, np.nansum(above, axis=1), followed, above)


def _limits(question: _Question) -> np.ndarray:
    """Limits at quantiles of the whole record; a year on a limit does not exceed it."""
    values = question.as_it_was
    there = values[~np.isnan(values)]
    quantiles = np.quantile(there, SHARES, method="closest_observation")
    limits = np.unique(quantiles[np.isfinite(quantiles)])
    share = (there[:, None] > limits).mean(axis=0)
    # If ties put a limit at an end, its odds are uninformative.
    return limits[(share > 0.02) & (share < 0.98)]


def _above_next(
    question: _Question, limits: np.ndarray, years: np.ndarray, asked: np.ndarray
) -> np.ndarray:
    out = np.full((len(asked), NEXT_YEARS, len(limits)), np.nan)
    place = {int(year): n for n, year in enumerate(years)}
    for row, last in enumerate(asked):
        for ahead in range(NEXT_YEARS):
            at = place.get(int(years[last]) + 1 + ahead)
            if at is not None and not np.isnan(question.as_it_was[at]):
                out[row, ahead] = question.as_it_was[at] > limits
    return out


def _joined(answers: Sequence[_Answer], asked: np.ndarray) -> xr.Dataset:
    by_method, by_year = ("rule", "year", "question"), ("year", "question")
    parts = [
        xr.Dataset(
            {
                "odds_given": (by_method, each.odds),
                "next_low": (by_method, each.low),
                "next_high": (by_method, each.high),
                "came": (by_year, each.came),
                "followed": (by_year, each.followed),
                "above": (("year", "ahead", "question"), each.above),
            },
            coords={
                "event": ("question", [each.question.event] * len(each.limits)),
                "kind_of": ("question", [each.question.kind] * len(each.limits)),
                "limit": ("question", each.limits),
                "limit_units": ("question", [each.question.units] * len(each.limits)),
            },
        )
        for each in answers
        if len(each.limits)
    ]
    out: xr.Dataset = xr.concat(parts, "question")
    out = out.assign_coords(rule=list(RULES), year=asked, ahead=np.arange(1, NEXT_YEARS + 1))
    for name in ("next_low", "next_high", "came", "followed"):
        out[name].attrs["units"] = "years"
    for name in ("odds_given", "above"):
        out[name].attrs["units"] = "1"
    return out


# --- summary ------------------------------------------------------------------------------


def _summed(out: xr.Dataset) -> xr.Dataset:
    kinds = list(dict.fromkeys(out["kind_of"].values.tolist()))
    squares, cases, decades = _squares(out, kinds)
    total = squares.sum(axis=0)  # (kind, rule)
    counted = cases.sum(axis=0)[:, None]
    with np.errstate(divide="ignore", invalid="ignore"):
        brier = np.where(counted > 0, total / counted, np.nan)
    skill = _skill(brier)
    low, high = np.full_like(skill, np.nan), np.full_like(skill, np.nan)
    came = np.unique(out["year"].values[:, None] + out["ahead"].values)
    came = came[came <= int(out.attrs["last_year"])]
    whole = [each for each in decades if (came // _BLOCK == each).sum() >= _BLOCK / 2]
    if len(whole) >= _LEAST_BLOCKS:
        rng = np.random.default_rng(0)
        drawn = rng.integers(0, len(decades), (_RESAMPLES, len(decades)))
        with np.errstate(divide="ignore", invalid="ignore"):
            resampled = squares[drawn].sum(axis=1) / cases[drawn].sum(axis=1)[..., None]
        low, high = bootstrap_interval(np.nan_to_num(np.array([_skill(b) for b in resampled])))
    labels = [*kinds, "all"]
    by_kind = ("kind", "rule")
    out = out.assign_coords(kind=labels)
    for name, values in (("skill", skill), ("skill_low", low), ("skill_high", high)):
        out[name] = (by_kind, values, {"units": "%"})
    out["brier"] = (by_kind, np.vstack([brier, np.nanmean(brier, axis=0)]), {"units": "1"})
    return _with_held(_with_reliability(out), labels)


def _squares(out: xr.Dataset, kinds: Sequence[str]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Squared errors and numbers of cases, by decade of the outcome, kind and rule."""
    miss = (out["odds_given"] - out["above"]).transpose("rule", "year", "ahead", "question").values
    came = out["year"].values[:, None] + out["ahead"].values
    decade = came // _BLOCK
    decades = np.unique(decade[np.isfinite(miss[0]).any(axis=-1)])
    kind_of = out["kind_of"].values
    squares = np.zeros((len(decades), len(kinds), len(RULES)))
    cases = np.zeros((len(decades), len(kinds)))
    for d, each in enumerate(decades):
        for k, kind in enumerate(kinds):
            part = miss[:, decade == each][..., kind_of == kind]
            squares[d, k] = np.nansum(part**2, axis=(1, 2))
            cases[d, k] = np.isfinite(part[0]).sum()
    return squares, cases, decades


def _skill(brier: np.ndarray) -> np.ndarray:
    """Brier skill score of each rule relative to the plain count, and the mean over kinds. [%]"""
    with np.errstate(divide="ignore", invalid="ignore"):
        skill = 100 * (1 - brier / brier[:, :1])
    return np.vstack([skill, np.nanmean(skill, axis=0)])


def _with_reliability(out: xr.Dataset) -> xr.Dataset:
    odds = out["odds_given"].values
    above = out["above"].transpose("year", "ahead", "question").values
    number = np.minimum((odds * BINS).astype(int), BINS - 1)
    shape = (len(RULES), BINS)
    mean_odds, mean_came, cases = np.full(shape, np.nan), np.full(shape, np.nan), np.zeros(shape)
    followed, came = np.isfinite(above).sum(axis=1), np.nansum(above, axis=1)
    for m in range(len(RULES)):
        for b in range(BINS):
            these = (number[m] == b) & np.isfinite(odds[m])
            cases[m, b] = followed[these].sum()
            if cases[m, b]:
                mean_odds[m, b] = (odds[m] * followed)[these].sum() / cases[m, b]
                mean_came[m, b] = came[these].sum() / cases[m, b]
    by_bin = ("rule", "bin")
    for name, values in (("odds_in_bin", mean_odds), ("came_in_bin", mean_came)):
        out[name] = (by_bin, values, {"units": "1"})
    out["cases"] = (by_bin, cases.astype(int), {"units": "1"})
    return out


def _with_held(out: xr.Dataset, labels: Sequence[str]) -> xr.Dataset:
    """Add the share of intervals for the next ten years that held, by kind."""
    judged = out["followed"] >= LEAST_FOLLOWED
    inside = (out["next_low"] <= out["came"]) & (out["came"] <= out["next_high"])
    held, number = [], []
    for label in labels:
        these = judged & ((out["kind_of"] == label) | (label == "all"))
        number.append(int(these.sum()))
        held.append(inside.where(these).mean(["year", "question"]).values)
    out["held"] = (("kind", "rule"), np.array(held), {"units": "1"})
    out["judged"] = ("kind", number, {"units": "1"})
    return out
