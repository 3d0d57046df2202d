"""Grow a plan in every year of a history, and compare two plans."""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.climate.level import in_climate
from climwin.core.draws import count_over_draws
from climwin.core.odds import odds_of, prefixed
from climwin.core.provenance import climate_of, level_error_of, provenance
from climwin.core.schema import apply
from climwin.core.seasons import date_of, day_number
from climwin.core.stats import LEVEL, paired_difference
from climwin.planning.counts import harvest_per_degree
from climwin.planning.grown import Calendar, drawn_outcomes, grow_plan
from climwin.planning.growth import GOOD_GROWTH, HARVEST, OPEN, REASONS
from climwin.planning.over_sites import Result, over_sites
from climwin.planning.plan import Plan
from climwin.planning.site import GROWN_DRAWS, FilledSites

_DATES = ("emergence", "set_out", "harvest_begin", "harvest_end")

_OUTCOMES = np.array(["harvest", "failed", "unknown"])

_REASON_WORDS = np.array([*REASONS, "", ""])  # the last two are OPEN and HARVEST, from the end


def evaluate_plan(plan: Plan, daily: xr.Dataset, *, climate: str = "record") -> xr.Dataset:
    """Grow a plan in every year of a history.

    Parameters
    ----------
    plan : Plan
        What is done.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude as a coordinate or an attribute.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (..., season)
        By year of the start, of a perennial in the north that of the harvest: ``outcome``,
        ``"harvest"``, ``"failed"`` or ``"unknown"``, the last where a gap or the record's end
        changes it, see the notes; ``harvested``, the same as 1, 0 and missing; ``reason`` of a
        failure, one of `growth.REASONS`, and the ``stage`` it struck;
        the dates ``start``, ``emergence``, ``set_out``, ``harvest_begin``, ``harvest_end`` and
        ``stage_begin`` (dims ..., season, stage); ``growth``, 0 to 1, of a harvest;
        ``yield_index``, 0 in a failed year [MJ m-2]; ``days_outdoors`` from emergence or setting
        out to the first harvest. ``harvested_drawn`` and ``good_drawn``, dims (..., season, draw):
        1 or 0 by each draw of the gaps where these leave the outcome unknown, see `draw_gaps`; else
        missing; ``reason_drawn``, why it fails in each draw.
        ``harvest_per_degree``, dims (...): by how much the share of harvests rises with each degC
        of mean temperature between start and harvest [1/degC].

    See Also
    --------
    harvest_odds, sweep_start_dates, compare_plans

    Notes
    -----
    Gaps change an outcome if it differs with every missing day as cold, and as warm, as was ever
    seen near its time of the year. That is nearly sure: of 10,000 years that count as known, 1 to 4
    end otherwise, after a night colder than was ever seen, or by values between both
    (``tests/odds/GAPS.md``).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> grown = cw.evaluate_plan(cw.Plan(cw.crop("pea"), "04-10"), daily)
    >>> grown["outcome"].sel(season=2000).item(), grown["reason"].sel(season=2000).item()
    ('failed', 'too hot')
    """
    daily = in_climate(daily, climate)
    # A perennial's year begins on the same day whatever its plan says, as in a sweep.
    day = 1 if plan.crop.is_perennial else day_number(plan.start)
    stages = [stage.name for stage in plan.crop.stages]

    def kernel(sites: FilledSites, calendar: Calendar) -> tuple[np.ndarray, ...]:
        grown = grow_plan(plan, sites, calendar, np.array([day]))
        columns = (grown.reason, grown.stage, *(getattr(grown, name) for name in _DATES))
        columns += (grown.growth, grown.yield_index)
        harvested, good = drawn_outcomes(grown)
        reasons = np.full((*grown.reason.shape, GROWN_DRAWS), OPEN)
        if grown.drawn is not None:
            reasons[grown.drawn.season, grown.drawn.start] = grown.drawn.reason
        return (
            *(values[:, 0] for values in columns),
            grown.begins[:, 0],
            harvested[:, 0],
            good[:, 0],
            reasons[:, 0],
            harvest_per_degree(grown, sites.usual)[0],
        )

    season = ("season",)
    out = over_sites(
        kernel,
        daily,
        results=[
            Result("reason", season, int),
            Result("stage", season, int),
            *(Result(name, season) for name in _DATES),
            Result("growth", season),
            Result("yield_index", season),
            Result("stage_begin", ("season", "stage_number")),
            Result("harvested_drawn", ("season", "draw")),
            Result("good_drawn", ("season", "draw")),
            Result("reason_drawn", ("season", "draw"), int),
            Result("harvest_per_degree", ()),
        ],
        sizes={"stage_number": len(stages), "draw": GROWN_DRAWS},
    )
    code, number = out["reason"], out["stage"]
    kind: xr.DataArray = apply(_outcome_number, code, core=[[]], dtypes=[int])
    out["outcome"] = _words(kind, _OUTCOMES)
    out["harvested"] = (code == HARVEST).where(code != OPEN)
    out["reason"] = _words(code, _REASON_WORDS)
    out["reason_drawn"] = _words(out["reason_drawn"], _REASON_WORDS)
    out["stage"] = _words(number, np.array([*stages, ""]))
    begun = out["set_out"].where(out["emergence"] < out["set_out"], out["emergence"])
    out["days_outdoors"] = (out["harvest_begin"] - begun).assign_attrs(units="days")
    out["yield_index"].attrs["units"] = "MJ m-2"
    out["harvest_per_degree"].attrs["units"] = "1/degC"
    start = date_of(out["season"].values, np.array(day)).astype("datetime64[s]")
    out["start"] = "season", start
    for name in (*_DATES, "stage_begin"):
        out[name] = _dates(out["start"], out[name])
    out = out.rename(stage_number="stage_name").assign_coords(stage_name=stages)
    return out.assign_attrs(provenance(daily), plan=plan.name, crop=plan.crop.name)


def _outcome_number(reason: np.ndarray) -> np.ndarray:
    """Position in `_OUTCOMES` of a life's reason."""
    return np.select([reason == HARVEST, reason == OPEN], [0, 2], 1)


def _words(number: xr.DataArray, words: np.ndarray) -> xr.DataArray:
    """Numbers as words; negative ones count from the end."""
    named: xr.DataArray = apply(lambda n: words[n], number, core=[[]], dtypes=[words.dtype])
    return named


def _dates(start: xr.DataArray, days: xr.DataArray) -> xr.DataArray:
    seconds = (days * 86_400).fillna(0).astype("timedelta64[s]")
    dates: xr.DataArray = (start + seconds).where(days.notnull()).transpose(*days.dims)
    return dates


def harvest_odds(evaluated: xr.Dataset) -> xr.Dataset:
    """Odds of a harvest and of a good one over the years, and the reasons of failed years.

    Parameters
    ----------
    evaluated : Dataset, dims (..., season)
        From `evaluate_plan`.

    Returns
    -------
    Dataset, dims (...)
        ``harvested`` of ``known`` years, and ``unknown`` ones; the plain ``share`` over all years,
        those that a gap leaves open as its draws say (``leaning`` counts them); ``share_least`` and
        ``share_most``, had no unknown year a harvest, and had all of them (nearly sure bounds, see
        `evaluate_plan`); the ``odds``, the share
        again, but never 0 or 1 (see `stats.within_reach`); ``low`` to ``high``, how well the
        odds of this climate are known (90 %), wider if years depend on draws; ``next_low`` to
        ``next_high``, in how many of the next ten years it is likely to come to a harvest (90 %).
        The same of ``good`` years, whose growth is at least 0.6: ``good_share``, ``good_odds`` and
        so on. ``growth``, the mean over the harvests; ``failed_by``, dims (..., reason): known
        years by reason; ``failed_share``, the share of all years that each reason fails, over draws
        as the share of harvests, with which it adds up to 1.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> grown = cw.evaluate_plan(cw.Plan(cw.crop("pea"), "04-10"), daily)
    >>> odds = cw.harvest_odds(grown)
    >>> print(f"a harvest in {odds['harvested'].item()} of {odds['known'].item()} years")
    a harvest in 26 of 37 years
    >>> round(odds["low"].item(), 2), round(odds["high"].item(), 2)
    (0.56, 0.82)
    """
    harvested, reason = evaluated["harvested"], evaluated["reason"]
    known = harvested.notnull().sum("season")
    out = xr.Dataset({"harvested": harvested.sum("season").astype(int), "known": known})
    is_good = evaluated["growth"] >= GOOD_GROWTH
    out["good"] = is_good.sum("season")
    is_good = is_good.where(harvested.notnull())
    for prefix, happened, drawn in (
        ("good_", is_good, "good_drawn"),
        ("", harvested, "harvested_drawn"),
    ):
        out[f"{prefix}share"], _, out["leaning"], out[f"{prefix}worth"] = apply(
            count_over_draws,
            happened.astype(float),
            evaluated.get(drawn, xr.full_like(harvested, np.nan).expand_dims("draw")),
            core=[["season"], ["season", "draw"]],
            out=[[]] * 4,
            dtypes=[float, int, int, float],
        )
    out["unknown"] = evaluated.sizes["season"] - known
    out["growth"] = evaluated["growth"].mean("season")
    reasons = xr.DataArray(list(REASONS), dims="reason", coords={"reason": list(REASONS)})
    out["failed_by"] = (reason == reasons).sum("season")
    by_draw = evaluated.get("reason_drawn", xr.full_like(reason, "").expand_dims("draw"))
    failed = out["failed_by"] + (by_draw == reasons).mean("draw").sum("season")
    answered = out["known"] + out["leaning"]
    out["failed_share"] = failed / answered.where(answered > 0)
    out["harvest_per_degree"] = evaluated.get("harvest_per_degree", xr.DataArray(np.nan))
    out = with_shares(out, evaluated)
    return out.assign_attrs(evaluated.attrs | out.attrs)


def with_shares(counts: xr.Dataset, record: xr.Dataset) -> xr.Dataset:
    """Counts with their odds, and the share that the gaps allow at either end.

    `record` is what they were counted from, and says what climate its years are of.
    """
    answered = counts["known"] + counts["leaning"]
    for prefix in ("", "good_"):
        odds = odds_of(
            counts[f"{prefix}share"] * answered,
            answered,
            kind="harvest",
            climate=climate_of(record),
            worth=counts[f"{prefix}worth"],
            level_error=level_error_of(record),
            per_degree=counts["harvest_per_degree"],
        )
        counts = counts.assign(prefixed(odds, prefix)).assign_attrs(odds.attrs)
    every = (counts["known"] + counts["unknown"]).where(lambda years: years > 0)
    counts["share_least"] = counts["harvested"] / every
    counts["share_most"] = (counts["harvested"] + counts["unknown"]) / every
    return counts.drop_vars(["worth", "good_worth"])


# --- two plans ----------------------------------------------------------------------------


def compare_plans(
    plan: Plan, other: Plan, daily: xr.Dataset, *, climate: str = "record"
) -> xr.Dataset:
    """Compare two plans on the same years.

    Parameters
    ----------
    plan, other : Plan
        Rivals.
    daily : Dataset, dims (..., time)
        As for `evaluate_plan`.
    climate : {"record", "today"}
        As for `evaluate_plan`.

    Returns
    -------
    Dataset, dims (...)
        Of the years known for both: ``both`` harvested, ``only_plan``, ``only_other``,
        ``neither``, their sum ``known``; ``difference`` of the shares over all years, plan minus
        other, with its 90 % interval ``low`` to ``high``. Years that a gap leaves open for either
        count in the difference as their draws say, which meet both plans alike.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> pea = cw.crop("pea")
    >>> compared = cw.compare_plans(cw.Plan(pea, "04-10"), cw.Plan(pea, "06-20"), daily)
    >>> {name: compared[name].item() for name in ("both", "only_plan", "only_other", "neither")}
    {'both': 24, 'only_plan': 2, 'only_other': 10, 'neither': 1}
    """
    daily = in_climate(daily, climate)
    return compare_evaluated(evaluate_plan(plan, daily), evaluate_plan(other, daily))


def compare_evaluated(plan: xr.Dataset, other: xr.Dataset) -> xr.Dataset:
    """Compare two plans as `compare_plans` does, from their outcomes in the same years.

    Parameters
    ----------
    plan, other : Dataset, dims (..., season)
        From `evaluate_plan`, of one record.
    """
    first, second = plan["harvested"], other["harvested"]
    known = first.notnull() & second.notnull()
    won, lost = (first == 1) & known, (second == 1) & known
    out = xr.Dataset(
        {
            "both": (won & lost).sum("season"),
            "only_plan": (won & ~lost & known).sum("season"),
            "only_other": (lost & ~won & known).sum("season"),
            "neither": (known & ~won & ~lost).sum("season"),
            "known": known.sum("season"),
        }
    )
    one, two = (each["harvested"].fillna(each["harvested_drawn"]) for each in (plan, other))
    has_answer = (one + two).notnull().all("draw")
    out["difference"], out["low"], out["high"] = apply(
        paired_difference,
        ((one > two) & has_answer).mean("draw").sum("season"),
        ((two > one) & has_answer).mean("draw").sum("season"),
        has_answer.sum("season"),
        core=[[], [], []],
        out=[[], [], []],
        dtypes=[float] * 3,
    )
    names = {"plan": plan.attrs["plan"], "other": other.attrs["plan"]}
    return out.assign_attrs(provenance(plan), **names, interval=LEVEL)
