"""What is still to come of a crop this year: its dates and its odds, run through past years.

See `climwin.planning.traces` for the technique. Nothing here is a weather forecast: the days to
come are those of the past years, each of them once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Mapping
from typing import NamedTuple

import numpy as np
import xarray as xr

from climwin.climate.level import in_climate
from climwin.climate.season import Asked, asked_on, whole_date
from climwin.core.errors import InputError, Parameter
from climwin.core.odds import odds_of, prefixed
from climwin.core.provenance import provenance
from climwin.core.schema import TOLERANCE_C, apply, variable
from climwin.core.seasons import ONE_DAY, coldest_day, date_of, day_number, split_dates
from climwin.core.stats import LEVEL, check_years, sorted_quantile
from climwin.crops.naming import is_plural, plural
from climwin.planning.growth import GOOD_GROWTH, HARVEST, OPEN, REASONS
from climwin.planning.over_sites import latitude_of
from climwin.planning.plan import Plan, place_of, start_verb
from climwin.planning.site import FilledSites, filled_sites
from climwin.planning.traces import (
    LEAD_DAYS,
    Joint,
    Lives,
    TraceSite,
    lives_in_traces,
    long_gaps,
)

AHEAD_DAYS = 420
"""Days after the last start that a trace goes on: longer than any life. [day]"""
ASKED_EVERY = 14
"""Days between the dates for which the harvest is predicted, from the start to now. [day]"""
START_EVERY, STARTS = 7, 27
"""Days between the start dates that are tried, and how many: half a year. [day]"""
WARM_DAYS = 5
"""Days whose mean soil must reach the temperature at which seed comes up well. [day]"""
OLDEST_START = 364
"""Days before the date beyond which a start is no longer of this season. [day]"""
INTERVAL_ENDS = (("low", 0.05), ("mid", 0.5), ("high", 0.95))
"""Ends and middle of the dates' interval, as shares of the traces."""
LEAST_ELAPSED = 0.1
"""Share of the days from the start to the usual harvest that must be over before the season so far
says more of the harvest date than past years do. In the hindcast (``tests/odds``) it gains nothing
within the first tenth, and 18 % (9 to 28) of the miss from there to a quarter."""

SOIL_SAYS_WITHIN = 15
"""Days to the warm soil within which this season's soil says more of it than past years do; from
the same hindcast."""

_OUTCOMES = np.array(["harvest", "failed", "unknown"])
_REASON_WORDS = np.array([*REASONS, "", ""])  # the last two are OPEN and HARVEST, from the end


def outlook(
    plan: Plan,
    daily: xr.Dataset,
    *,
    on: str | dt.date | np.datetime64 | None = None,
    sown: str | dt.date | np.datetime64 | None = None,
    climate: str = "record",
    few_years: bool = False,
) -> xr.Dataset:
    """What is still to come of a crop, from this year's days so far and the rest of each past year.

    Parameters
    ----------
    plan : Plan
        The crop, and how it is grown; its own start date plays no part.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude. It reaches into this year.
    on : str, date or datetime64, optional
        The date, such as ``"2024-05-15"``: all before it has been, it and all later are still to
        come. Left out, the day after the record's last. Later days of the record are not looked at.
    sown : str, date or datetime64, optional
        Day on which it was sown, planted, or set out where plants are bought: month and day, which
        mean the latest before `on`, or a whole date. Left out, it is still to be started. A
        perennial stands in any case.
    climate : {"record", "today"}
        The past years as they were, or moved to today's level, see `todays_climate`. This year's
        own days are never moved.
    few_years : bool
        Whether fewer than ten past years will do.

    Returns
    -------
    Dataset
        A trace is this year's days so far and the rest of one past ``year``. Of a crop that stands:

        - dims (..., event, year): ``date`` of the events ``emergence``, ``set out`` where plants
          leave a cover, each stage, ``harvest`` and ``last harvest``, missing where a trace does
          not come to it. Dims (..., event): ``date_low`` to ``date_high``, in which it lies with
          nine chances in ten where it comes at all, and the middle ``date_mid``; ``usual_low``,
          ``usual_mid`` and ``usual_high``, the same from the past years alone, as on the day of the
          start; ``has_come``, before `on`; ``seen``, traces that come to it.
        - dims (..., year): ``outcome``, ``reason`` and ``stage`` of a failure, ``failed_on``.
        - ``harvested`` of ``known`` traces, with ``share``, ``odds``, ``low`` to ``high`` (90 %),
          as `harvest_odds` has them; ``good`` and ``good_share``; ``failed_by``, dims (...,
          failure). ``harvest_usual_share`` and so on: the same of the past years alone, of those
          ``harvest_usual_known`` in which it still stood on this date. In the hindcast the traces
          tell no better than these whether it comes to a harvest at all.
        - ``stage_now``, by the growing model; ``has_failed`` where all traces have, before `on`.
        - dims (..., as_of), dates two weeks apart from the start to `on`: ``expected_low``,
          ``expected_mid`` and ``expected_high``, the dates of the harvest as expected on each of
          them, and ``expected_share``, of the traces that come to one.
        - ``says_more``: whether so much of its time is over that the season so far says more of the
          harvest than past years do, see `LEAST_ELAPSED`; else show the usual dates.

        Of a crop still to be started:

        - dims (..., start): ``harvested`` and ``good`` of ``known`` traces from a start each week
          of half a year from `on`, with ``share``, ``odds``, ``low`` and ``high``, and of the
          harvest ``harvest_low``, ``harvest_mid`` and ``harvest_high``. ``start`` has the dates.
        - dims (..., year): ``warm_soil``, the last of the first five days whose mean soil at sowing
          depth reaches ``warm_soil_c``, the least at which it comes up well; ``warm_low``,
          ``warm_mid`` and ``warm_high``; ``usual_warm_low`` and so on, of the past years alone.
          Missing where it is planted, not sown, or raised. ``soil_says_more``: whether it is so
          near that this season's soil says more of it than past years do, see `SOIL_SAYS_WITHIN`.

        Attributes: ``on``, ``through``, ``days_behind``, ``sown``, ``plan``, ``crop``, and its
        words in a sentence: ``crop_plural``, ``crop_be``, ``start_verb``, ``where`` and
        ``harvest_verb``.

    Raises
    ------
    ValueError
        If a date cannot be, or lies in the wrong order.
    DataGapError
        If the record does not tell of this season, or holds fewer than ten past years.

    See Also
    --------
    season_so_far : This year among the past ones, and freezes to come.
    evaluate_plan : The same plan in every past year.

    Notes
    -----
    Historical traces, as in ensemble streamflow prediction [1]_. Missing days of this year are
    bridged up to five in a row; more, and those since the record's end, are each past year's own.
    Intervals of dates are quantiles of the traces by Weibull's plotting positions, so that a year
    like any other lies in them with nine chances in ten; from fewer than 19 traces they are all
    that was seen. What this is worth, by lead, stands in ``tests/odds/RESULTS.md``.

    References
    ----------
    .. [1] G. N. Day, "Extended streamflow forecasting using NWSRFS," Journal of Water Resources
       Planning and Management, vol. 111, pp. 157-170, 1985 (pages from memory).

    Examples
    --------
    Peas sown on 10 April, asked on 15 May:

    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> ahead = cw.outlook(cw.Plan(cw.crop("pea"), "04-10"), daily, on="2024-05-15", sown="04-10")
    >>> harvest = ahead.sel(event="harvest")
    >>> [str(harvest[f"date_{end}"].dt.date.item()) for end in ("low", "mid", "high")]
    ['2024-07-03', '2024-07-05', '2024-07-08']
    """
    record, asked = asked_on(daily, on)
    past = in_climate(record, climate)
    first = np.asarray(record["time"]).astype("datetime64[D]").min()
    start = None if plan.crop.is_perennial or sown is None else _start(sown, asked, first)
    question = _Question(plan, asked, start)
    if start is None and not plan.crop.is_perennial:
        out = _still_to_start(question, record, past, few_years)
    else:
        out = _standing(question, record, past, few_years)
    return out.assign_attrs(
        provenance(past),
        station_name=str(daily.attrs.get("station_name", "")),
        plan=plan.name,
        crop=plan.crop.name,
        crop_plural=plural(plan.crop),
        crop_be="are" if is_plural(plan.crop) else "is",
        start_verb="" if plan.crop.is_perennial else start_verb(plan),
        where=place_of(plan),
        harvest_verb=plan.crop.harvest_verb,
        on=str(asked.on),
        through=str(asked.through),
        days_behind=asked.behind,
        days_left_out=asked.left_out,
        sown="" if start is None else str(start),
        interval=LEVEL,
        climate=climate,
    )


class _Question(NamedTuple):
    plan: Plan
    asked: Asked
    start: np.datetime64 | None


def _start(
    sown: str | dt.date | np.datetime64, asked: Asked, first: np.datetime64
) -> np.datetime64:
    """Date on which it was started, checked."""
    day = whole_date(sown)
    if day is None:
        day = _latest(_day_number(sown), asked)
    if day >= asked.on:
        msg = f", {day}, must lie before the date, {asked.on}. Leave it out where nothing is sown."
        raise InputError(Parameter("sown"), msg)
    if asked.on - day > OLDEST_START * ONE_DAY:
        msg = f", {day}, lies more than a year before the date, {asked.on}."
        raise InputError(Parameter("sown"), msg)
    if day < first:
        msg = f", {day}, lies before the record's first day, {first}."
        raise InputError(Parameter("sown"), msg)
    return day


def _day_number(sown: object) -> int:
    try:
        return day_number(str(sown))
    except ValueError:
        msg = f" is a day such as '04-28', or a date such as '2024-04-28', got {sown!r}."
        raise InputError(Parameter("sown"), msg) from None


# --- both records of one station ----------------------------------------------------------


class _Sites(NamedTuple):
    """One station's record: as measured, and as the days to come are taken from it."""

    own: FilledSites
    past: FilledSites
    first: np.datetime64
    shifts: np.ndarray

    def joint(self, seam: int, begin: int, end: int) -> Joint:
        return Joint(self.first, seam, begin, end, self.shifts)


def _over_stations(
    kernel: Callable[[_Sites], dict[str, np.ndarray]],
    question: _Question,
    record: xr.Dataset,
    past: xr.Dataset,
    results: Mapping[str, tuple[str, ...]],
    sizes: dict[str, int],
) -> xr.Dataset:
    """Lay a kernel over the weather of each station; `results` has the dimensions of each array."""
    dates = np.asarray(record["time"]).astype("datetime64[D]")
    first, size = dates.min(), int((dates.max() - dates.min()) / ONE_DAY) + 1
    place = ((dates - first) / ONE_DAY).astype(int)
    shifts = _shifts(first, question.asked)

    def of_station(*series: np.ndarray) -> tuple[np.ndarray, ...]:
        *weather, latitude = series
        every_day = np.full((4, size), np.nan)
        every_day[:, place] = weather
        own = filled_sites(first, every_day[0], every_day[1], float(latitude))
        then = filled_sites(first, every_day[2], every_day[3], float(latitude))
        found = kernel(_Sites(own, then, first, shifts))
        return tuple(found[name] for name in results)

    weather = [variable(each, name) for each in (record, past) for name in ("tmin", "tmax")]
    arrays = apply(
        of_station,
        *xr.broadcast(*weather),
        latitude_of(record),
        core=[["time"]] * 4 + [[]],
        out=list(results.values()),
        sizes={**sizes, "year": len(shifts)},
        dtypes=[float] * len(results),
        each=True,
    )
    out = xr.Dataset(dict(zip(results, arrays, strict=True)))
    year = int(split_dates(np.array([question.asked.on]))[0][0])
    return out.assign_coords(year=year + shifts)


def _shifts(first: np.datetime64, asked: Asked) -> np.ndarray:
    """Years from this one back to each past one that holds the date."""
    year = split_dates(np.array([first, asked.through]))[0]
    return np.arange(int(year[0]) - int(year[1]), 0)


def _day_of_record(date: np.datetime64, first: np.datetime64) -> int:
    return int((date - first) / ONE_DAY)


def _as_dates(days: xr.DataArray, first: np.datetime64) -> xr.DataArray:
    """Days of the record, which may be quantiles, as dates."""
    seconds = np.floor(days.fillna(0) + 0.5).astype("int64") * 86_400
    dates = first.astype("datetime64[s]") + seconds.astype("timedelta64[s]")
    out: xr.DataArray = dates.where(days.notnull())
    return out


def spread_of(days: np.ndarray) -> np.ndarray:
    """Ends and middle of what the traces say, over the last axis; shape (3, ...).

    Weibull's plotting positions: the next value of the same kind lies between the ends with nine
    chances in ten. Missing where no trace comes to it.
    """
    count = (~np.isnan(days)).sum(axis=-1)
    ordered = np.sort(np.where(np.isnan(days), np.inf, days), axis=-1)
    ends = [sorted_quantile(ordered, count, share, "weibull") for _, share in INTERVAL_ENDS]
    return np.where(count > 0, np.stack(ends), np.nan)


def _spread_over_years(days: xr.DataArray) -> dict[str, xr.DataArray]:
    """`spread_of` the traces, one for each past year, by the names in `INTERVAL_ENDS`."""
    ends = apply(
        lambda days: tuple(spread_of(days)),
        days,
        core=[["year"]],
        out=[[]] * len(INTERVAL_ENDS),
        dtypes=[float] * len(INTERVAL_ENDS),
    )
    return dict(zip((name for name, _ in INTERVAL_ENDS), ends, strict=True))


# --- a crop that stands -------------------------------------------------------------------


def event_names(plan: Plan) -> list[str]:
    """Events of a standing crop's life, as `outlook` names them."""
    if plan.crop.is_perennial:
        return ["bloom or first growth", "harvest", "last harvest"]
    names = ["emergence"] if plan.plants == "own" else []
    if plan.weeks_under_cover:
        names.append("set out")
    names += [stage.name for stage in plan.crop.stages]
    return [*names, "harvest", "last harvest"]


def event_days(plan: Plan, lives: Lives) -> np.ndarray:
    """Days of the record of each event of the first start, shape (events, traces)."""
    harvest = [lives.ripe[:, 0], lives.last[:, 0]]
    if plan.crop.is_perennial:
        return np.stack([lives.up[:, 0], *harvest])
    days = [lives.up[:, 0]] if plan.plants == "own" else []
    if plan.weeks_under_cover:
        days.append(lives.set_out[:, 0])
    return np.stack([*days, *lives.begins[:, 0].T, *harvest])


def _standing(
    question: _Question, record: xr.Dataset, past: xr.Dataset, few_years: bool
) -> xr.Dataset:
    plan, asked, sown = question
    first = np.asarray(record["time"]).astype("datetime64[D]").min()
    seam = _day_of_record(asked.through, first) + 1
    if sown is None:  # a perennial's year begins with the coldest day
        cold = coldest_day(record)
        starts = [_latest(int(each), asked) for each in np.unique(cold.values)]
        sown = min(starts)
    start = _day_of_record(sown, first)
    as_of = np.unique(np.append(np.arange(start, seam, ASKED_EVERY), seam))
    begin, end = start - LEAD_DAYS, max(seam, start) + AHEAD_DAYS

    def kernel(sites: _Sites) -> dict[str, np.ndarray]:
        def lives(at: int) -> Lives:
            joint = sites.joint(at, begin, end)
            return lives_in_traces(plan, sites.own, sites.past.usual, joint, np.array([start]))

        each = [lives(int(at)) for at in as_of]
        now, then = each[-1], each[0]
        return {
            "days": event_days(plan, now),
            "usual_days": event_days(plan, then),
            "reason_number": now.reason[:, 0].astype(float),
            "stage_number": now.stage[:, 0].astype(float),
            "failed": now.failed[:, 0],
            "growth": now.growth[:, 0],
            "usual_reason": then.reason[:, 0].astype(float),
            "usual_failed": then.failed[:, 0],
            "as_of_days": np.stack([one.ripe[:, 0] for one in each]),
            "as_of_reason": np.stack([one.reason[:, 0] for one in each]).astype(float),
        }

    names = event_names(plan)
    by_event, by_year, by_as_of = ("event", "year"), ("year",), ("as_of", "year")
    found = _over_stations(
        kernel,
        question,
        record,
        past,
        {
            "days": by_event,
            "usual_days": by_event,
            "reason_number": by_year,
            "stage_number": by_year,
            "failed": by_year,
            "growth": by_year,
            "usual_reason": by_year,
            "usual_failed": by_year,
            "as_of_days": by_as_of,
            "as_of_reason": by_as_of,
        },
        {"event": len(names), "as_of": len(as_of)},
    ).assign_coords(event=names)
    found = found.assign_coords(as_of=("as_of", (first + as_of * ONE_DAY).astype("datetime64[s]")))
    out = _with_spreads(found, first, seam)
    out = _with_outcomes(out, found, plan)
    out = _with_odds(out, found, few_years)
    out = _with_usual_odds(out, found, seam)
    return _with_progress(out, found, asked)


def _latest(day: int, asked: Asked) -> np.datetime64:
    """Latest date of a day of the year before the date."""
    year = int(split_dates(np.array([asked.on]))[0][0])
    dates = date_of(np.array([year, year - 1]), np.array(day))
    latest: np.datetime64 = dates[dates < asked.on][0]
    return latest


def _with_spreads(found: xr.Dataset, first: np.datetime64, seam: int) -> xr.Dataset:
    out = xr.Dataset({"date": _as_dates(found["days"], first)})
    for prefix, name in (("date", "days"), ("usual", "usual_days"), ("expected", "as_of_days")):
        for end, days in _spread_over_years(found[name]).items():
            out[f"{prefix}_{end}"] = _as_dates(days, first)
    out["seen"] = found["days"].notnull().sum("year")
    out["has_come"] = (found["days"].min("year") < seam) & (out["seen"] > 0)
    out["failed_on"] = _as_dates(found["failed"], first)
    return out


def _with_outcomes(out: xr.Dataset, found: xr.Dataset, plan: Plan) -> xr.Dataset:
    """What becomes of the crop in each trace, in words."""
    code, number = found["reason_number"].astype(int), found["stage_number"].astype(int)
    stages = np.array([*(stage.name for stage in plan.crop.stages), ""])
    kind = code.copy(data=np.select([code == HARVEST, code == OPEN], [0, 2], 1))
    for name, values, words in (
        ("outcome", kind, _OUTCOMES),
        ("reason", code, _REASON_WORDS),
        ("stage", number, stages),
    ):
        out[name] = values.copy(data=words[values.values])
    return out


def _with_odds(out: xr.Dataset, found: xr.Dataset, few_years: bool) -> xr.Dataset:
    """The odds of a harvest."""
    reason = found["reason_number"]
    harvested, known = (reason == HARVEST).sum("year"), (reason != OPEN).sum("year")
    check_years(int(known.max()), few_years=few_years)
    out["harvested"], out["known"], out["growth"] = harvested, known, found["growth"]
    good = (found["growth"] >= GOOD_GROWTH).sum("year")
    out["good"], out["good_share"] = good, good / known.where(known > 0)
    odds = odds_of(harvested, known, kind="harvest", climate="record")
    return out.assign(odds[["share", "odds", "low", "high"]])


def _with_usual_odds(out: xr.Dataset, found: xr.Dataset, seam: int) -> xr.Dataset:
    """The odds that past years gave a crop which still stood by this date."""
    reason = found["usual_reason"]
    stood = (reason == HARVEST) | ((reason != OPEN) & ~(found["usual_failed"] < seam))
    harvested, known = (reason == HARVEST).sum("year"), stood.sum("year")
    odds = odds_of(harvested, known, kind="harvest", climate="record")
    out = out.assign(prefixed(odds[["share", "odds", "low", "high"]], "harvest_usual_"))
    out["harvest_usual_known"] = known
    return out


def _with_progress(out: xr.Dataset, found: xr.Dataset, asked: Asked) -> xr.Dataset:
    """How the odds changed since the start, what fails, and how far the crop has come."""
    came, decided = (found["as_of_reason"] == HARVEST), (found["as_of_reason"] != OPEN).sum("year")
    out["expected_share"] = came.sum("year") / decided.where(decided > 0)
    reasons = xr.DataArray(list(REASONS), dims="reason_name", coords={"reason_name": [*REASONS]})
    out["failed_by"] = (out["reason"] == reasons).sum("year")
    on = asked.on.astype("datetime64[s]")
    over = (out["outcome"] == "failed") & (out["failed_on"] < on)
    out["has_failed"] = over.sum("year") == out["known"]
    out["stage_now"] = _stage_now(out)
    middle = out["usual_mid"].sel(event="harvest", drop=True)
    start = out["as_of"].isel(as_of=0, drop=True)
    elapsed = (on - start) / np.timedelta64(1, "D")
    whole = (middle - start) / np.timedelta64(1, "D")
    out["says_more"] = (elapsed >= LEAST_ELAPSED * whole) & middle.notnull()
    return out.rename(reason_name="failure")


def _stage_now(out: xr.Dataset) -> xr.DataArray:
    """The latest event that has come; empty where none has."""
    names = np.append(out["event"].values.astype(object), "")

    def latest(has_come: np.ndarray) -> np.ndarray:
        last = has_come.shape[-1] - 1 - has_come[..., ::-1].argmax(-1)
        return names[np.where(has_come.any(-1), last, len(names) - 1)]

    stage: xr.DataArray = apply(latest, out["has_come"], core=[["event"]], dtypes=[object])
    return stage.astype(str)


# --- a crop still to be started -----------------------------------------------------------


def _still_to_start(
    question: _Question, record: xr.Dataset, past: xr.Dataset, few_years: bool
) -> xr.Dataset:
    plan, asked, _ = question
    first = np.asarray(record["time"]).astype("datetime64[D]").min()
    seam, on = _day_of_record(asked.through, first) + 1, _day_of_record(asked.on, first)
    starts = on + START_EVERY * np.arange(STARTS)
    begin, end = seam - LEAD_DAYS, int(starts[-1]) + AHEAD_DAYS
    limit = warm_soil_limit(plan)

    def kernel(sites: _Sites) -> dict[str, np.ndarray]:
        joint = sites.joint(seam, begin, end)
        lives = lives_in_traces(plan, sites.own, sites.past.usual, joint, starts)
        warm = usual = np.full(len(sites.shifts), np.nan)
        if np.isfinite(limit):
            warm = _warm_soil(plan, sites, joint, on, limit)
            alone = joint._replace(hidden_from=seam, seam=begin)
            usual = _warm_soil(plan, sites, alone, on, limit)
        return {
            "reason": lives.reason.T.astype(float),
            "ripe": lives.ripe.T,
            "growth": lives.growth.T,
            "warm": warm,
            "usual_warm": usual,
        }

    by_start, by_year = ("start", "year"), ("year",)
    found = _over_stations(
        kernel,
        question,
        record,
        past,
        {
            "reason": by_start,
            "ripe": by_start,
            "growth": by_start,
            "warm": by_year,
            "usual_warm": by_year,
        },
        {"start": len(starts)},
    ).assign_coords(start=(first + starts * ONE_DAY).astype("datetime64[s]"))
    code = found["reason"]
    harvested, known = (code == HARVEST).sum("year"), (code != OPEN).sum("year")
    check_years(int(known.max()), few_years=few_years)
    out = xr.Dataset({"harvested": harvested, "known": known})
    out["good"] = (found["growth"] >= GOOD_GROWTH).sum("year")
    odds = odds_of(harvested, known, kind="harvest", climate="record")
    out = out.assign(odds[["share", "odds", "low", "high"]])
    out["warm_soil"] = _as_dates(found["warm"], first)
    spreads = {"harvest": "ripe", "warm": "warm", "usual_warm": "usual_warm"}
    for prefix, name in spreads.items():
        for end_name, days in _spread_over_years(found[name]).items():
            out[f"{prefix}_{end_name}"] = _as_dates(days, first)
    ahead = out["warm_mid"] - asked.on.astype("datetime64[s]")
    out["soil_says_more"] = ahead <= SOIL_SAYS_WITHIN * np.timedelta64(86_400, "s")
    reasons = xr.DataArray(np.arange(len(REASONS)), dims="failure")
    out["failed_by"] = (code == reasons).sum("year")
    return out.assign_coords(failure=list(REASONS)).assign_attrs(warm_soil_c=limit)


def warm_soil_limit(plan: Plan) -> float:
    """Least soil at which its seed comes up well; missing for what is not sown in place. [degC]

    The middle between the least at which it comes up at all and the low end of what suits it best
    (common practice).
    """
    seed = plan.crop.germination
    if seed is None or plan.weeks_under_cover or plan.plants == "bought" or plan.is_planted:
        return np.nan
    return (seed.minimum_c + seed.optimum_low_c) / 2


def _warm_soil(plan: Plan, sites: _Sites, joint: Joint, on: int, limit: float) -> np.ndarray:
    """Day from which the soil has been warm for some days in each trace, not before the date."""
    lost = long_gaps(sites.own.missing)
    site = TraceSite(sites.own.usual, sites.past.usual, joint, *joint.sources(lost))
    soil = site.outdoors(plan.bed).soil_sowing.reshape(site.traces, site.length)
    windows = np.lib.stride_tricks.sliding_window_view(soil, WARM_DAYS, axis=-1).mean(axis=-1)
    ends = np.arange(joint.begin + WARM_DAYS - 1, joint.end)
    warm = (windows >= limit - TOLERANCE_C) & (ends >= on - 1)
    within = ends < on + START_EVERY * STARTS
    warm &= within
    return np.where(warm.any(-1), ends[warm.argmax(-1)], np.nan)
