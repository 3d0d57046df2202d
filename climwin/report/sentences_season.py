"""Sentences on the running season."""

from __future__ import annotations

import datetime as dt
from typing import Any

import numpy as np
import xarray as xr

from climwin.climate.season import QUANTITIES, SOIL_DAYS, SOWING_DEPTH_M
from climwin.core.formatting import (
    INCH_MM,
    between,
    counted,
    days_long,
    degree_days,
    depth,
    fixed,
    number,
    ordinal,
    years,
)
from climwin.core.schema import Units, from_celsius
from climwin.core.seasons import date_of, day_of_year
from climwin.core.stats import LEAST_YEARS
from climwin.core.wording import capitalized
from climwin.report.sentences import reason_in_words
from climwin.report.sentences_climate import degrees
from climwin.report.sentences_decision import day_range, full_date, on_day, short_range

NOT_A_FORECAST = (
    "This is not a weather forecast: the days to come are taken from each past year in turn. The "
    "odds leave out doubt about the crop's limits and about your garden's own spot."
)
FREEZES_AS_EVER = (
    "These odds are those of past years from this date on. The season so far has not been shown to "
    "change them."
)
ODDS_AS_EVER = (
    "Tested on long records, the first count was no surer guide than the second, so weigh both."
)
LOOKED_BACK = (
    "Tested on fourteen long records, 94 of 100 harvests came within their likely dates, where 90 "
    "should. Early on, knowing the season so far gains nothing; halfway to the harvest, it cuts "
    "the error by about half."
)
SOIL_AS_EVER = "So far ahead, this season's soil says no more about it than past years do."
TOO_EARLY = (
    "It is too early in this crop's life for the season to say more than past years do: these are "
    "the dates of past years."
)

_PLACES = {
    "heat_sum": ("lowest", "highest"),
    "mean_temperature": ("coldest", "warmest"),
    "soil_temperature": ("coldest", "warmest"),
    "frost_nights": ("fewest", "most"),
    "rain": ("driest", "wettest"),
}
DONE = {"sow": "sown", "plant": "planted", "set out": "set out"}
_DOING = {"sow": "sowing", "plant": "planting", "set out": "setting out"}
ENOUGH_ODDS = 0.8
"""Odds of a harvest from which a start date is worth advising, if good ones are at least half as
frequent as from the best date."""

MOST_ROWS = 13
"""Start dates up to which each has its row."""


def day_of(date: xr.DataArray | np.datetime64) -> str:
    """A date as a table has it, such as ``"5 Jul"``."""
    day = _day(date)
    return short_range(day, day)


def span_of(first: xr.DataArray, last: xr.DataArray) -> str:
    """Two dates as a table has them, such as ``"3–8 Jul"``, or one."""  # noqa: RUF002
    return short_range(_day(first), _day(last))


def _day(date: xr.DataArray | np.datetime64) -> int:
    return int(day_of_year(np.atleast_1d(np.asarray(date)))[0])


def _in_prose(date: xr.DataArray | np.datetime64) -> str:
    """A date as a sentence has it, such as ``"5 July"``."""
    return on_day(_day(date))


def _likely(first: xr.DataArray, last: xr.DataArray) -> str:
    """The likely range of a date in a sentence."""
    return f"likely {day_range(_day(first), _day(last))}"


def whole_date(text: str) -> str:
    """A date with its year, such as ``"15 May 2024"``."""
    return full_date(dt.date.fromisoformat(text))


def _likely_percent(row: xr.Dataset, prefix: str = "") -> str:
    low, high = (100 * float(row[f"{prefix}{end}"]) for end in ("low", "high"))
    return f"likely {between(low, high)} in 100"


def season_title(ahead: xr.Dataset) -> str:
    """Title of a page or a calendar, such as ``"Peas this season"``."""
    return f"{capitalized(ahead.attrs['crop_plural'])} this season"


# --- the finding ----------------------------------------------------------------------------


def finding(ahead: xr.Dataset) -> str:
    """Finding of an outlook, as a heading or a figure's title of at most eleven words."""
    crop = ahead.attrs["crop_plural"]
    if "start" in ahead.dims:
        return _finding_to_start(ahead, crop)
    verb = _harvest_verb(ahead)
    if bool(ahead["has_failed"]):
        return f"By the growing model the {crop} will give no harvest"
    harvest = ahead.sel(event="harvest")
    seen, known = int(harvest["seen"]), int(ahead["known"])
    if _is_over(ahead):
        last = _in_prose(ahead["date_mid"].sel(event="last harvest"))
        return f"{capitalized(crop)} should have been {ahead.attrs['harvest_verb']} by {last}"
    if bool(harvest["has_come"]):
        return f"{capitalized(crop)} should be ready to {verb} by now"
    if not seen:
        return f"No past year's weather brings the {crop} to a harvest now"
    if 2 * seen < known:
        be = ahead.attrs["crop_be"]
        return f"{capitalized(crop)} {be} a gamble: {counted(seen, 'harvest')} in {years(known)}"
    middle = harvest[f"{prefix_of(harvest, ahead)}_mid"]
    return f"Expect to {verb} the first {crop} about {_in_prose(middle)}"


def _is_over(ahead: xr.Dataset) -> bool:
    """Whether even the last harvest has come."""
    return bool((ahead["has_come"] & (ahead["event"] == "last harvest")).any())


def _finding_to_start(ahead: xr.Dataset, crop: str) -> str:
    does = ahead.attrs["start_verb"]
    first, last = _first_run(worth_starting(ahead))
    if first is None or last is None:
        if not int(ahead["harvested"].max()):
            return f"No date in the next half-year suits {crop}"
        return f"{capitalized(_DOING[does])} {crop} from now on is a gamble"
    if first > 0:
        begin = _in_prose(ahead["start"][first])
        return f"{capitalized(does)} {crop} between {begin} and {_in_prose(ahead['start'][last])}"
    return f"There is time to {does} {crop} until {_in_prose(ahead['start'][last])}"


def _harvest_verb(ahead: xr.Dataset) -> str:
    """What the gardener does at harvest: pick, cut, lift, pull or harvest."""
    done = ahead.attrs["harvest_verb"]
    return {"picked": "pick", "cut": "cut", "lifted": "lift", "pulled": "pull"}.get(done, "harvest")


def prefix_of(row: xr.Dataset, ahead: xr.Dataset) -> str:
    """Whether an event's dates are those of this season, or of past years alone."""
    is_usual = not bool(ahead["says_more"]) and bool(row["usual_mid"].notnull())
    return "usual" if is_usual else "date"


def event_name(row: xr.Dataset, ahead: xr.Dataset) -> str:
    """An event as a gardener calls it, such as ``"First picked"``."""
    name, done = str(row["event"].item()), ahead.attrs["harvest_verb"]
    words = {"harvest": f"first {done}", "last harvest": f"last {done}"}
    return capitalized(words.get(name, name))


# --- this season among the past ones ------------------------------------------------------


def season_heading(so_far: xr.Dataset) -> str:
    """Which dates of this season and of past years are compared."""
    since, until = _season_ends(so_far)
    if until < since:
        return (
            f"The record has no day since {full_date(since)} yet, so there is nothing to compare."
        )
    begin = full_date(since) if since.year < until.year else on_day(int(so_far.attrs["first_day"]))
    return f"From {begin} to {full_date(until)}, compared with the same dates of past years:"


def _season_ends(so_far: xr.Dataset) -> tuple[dt.date, dt.date]:
    """First day of the season that is running, and the last day of it that was measured."""
    on, until = (dt.date.fromisoformat(so_far.attrs[key]) for key in ("on", "through"))
    first = np.array(int(so_far.attrs["first_day"]))
    starts = date_of(np.array([on.year - 1, on.year]), first).astype(object).tolist()
    return max(start for start in starts if start <= on), until


def early_or_late(so_far: xr.Dataset) -> str:
    """Days by which the season is ahead or behind, by its heat; empty where that is not known."""
    ahead = float(so_far["days_ahead"])
    if np.isnan(ahead):
        return ""
    days = round(ahead)
    if not days:
        return "By its heat so far the season is neither early nor late."
    side = "ahead of" if days > 0 else "behind"
    return f"By its heat so far the season is {days_long(abs(days))} {side} a typical year."


def season_lines(so_far: xr.Dataset, units: Units) -> list[str]:
    """Heat, mean temperature, soil, frost nights and rain so far, each with its rank."""
    since, until = _season_ends(so_far)
    if until < since:
        return []
    lines = [early_or_late(so_far), *(_quantity_line(so_far, name, units) for name in QUANTITIES)]
    return [line for line in lines if line]


def _quantity_line(so_far: xr.Dataset, name: str, units: Units) -> str:
    row = so_far.sel(quantity=name)
    if not int(row["ranked"].fillna(0)):
        if name == "rain" and bool(row["by_year"].isnull().all()):
            return ""  # the record has none
        return f"{_title(name, so_far, units)}: not known, too many days are missing"
    values = (row[key].item() for key in ("so_far", "usual", "usual_low", "usual_high"))
    now, usual, low, high = (_amount(name, value, units) for value in values)
    rain = "inches" if units == "F" else "mm"
    unit = {"heat_sum": f" °{units} days", "frost_nights": "", "rain": f" {rain}"}
    return (
        f"{_title(name, so_far, units)}: {now}{unit.get(name, f' °{units}')}, {_place(row, name)}; "
        f"a typical year has {usual}, eight years in ten {low} to {high}"
    )


def _title(name: str, so_far: xr.Dataset, units: Units) -> str:
    down = depth(SOWING_DEPTH_M, units)
    return {
        "heat_sum": f"Heat above {degrees(float(so_far.attrs['base_c']), units)}",
        "mean_temperature": "Mean temperature",
        "soil_temperature": f"Soil at a depth of {down}, modelled, last {SOIL_DAYS} days",
        "frost_nights": f"Nights of {degrees(0.0, units)} or colder",
        "rain": "Rain",
    }[name]


def _amount(name: str, value: float, units: Units) -> str:
    if name == "heat_sum":
        return degree_days(value, units)
    if name == "rain" and units == "F":
        return number(value / INCH_MM, 1)
    if name in ("frost_nights", "rain"):
        return number(value)
    return number(float(from_celsius(value, units)), 1)


def _place(row: xr.Dataset, name: str) -> str:
    """Place of this season, counted from the nearer end."""
    rank, of = int(row["rank"]), int(row["ranked"])
    if abs(rank - (of + 1) / 2) <= 0.1 * of:
        return f"about the middle of {years(of)}"
    from_top = of + 1 - rank
    least, most = _PLACES[name]
    place, end = (rank, least) if rank < from_top else (from_top, most)
    return f"the {'' if place == 1 else f'{ordinal(place)} '}{end} of {years(of)}"


def season_notes(result: xr.Dataset) -> list[str]:
    """Which days were not measured, and what stands in for them."""
    notes = []
    bridged, behind = (int(result.attrs.get(key, 0)) for key in ("bridged_days", "days_behind"))
    if bridged:
        notes.append(
            f"{counted(bridged, 'day')} of the last year {'is' if bridged == 1 else 'are'} missing."
            " Up to five in a row are filled in from the days beside them, longer gaps from each "
            "past year in turn."
        )
    if behind:
        notes.append(
            f"The record ends on {whole_date(result.attrs['through'])}. The "
            f"{counted(behind, 'day')} since then {'is' if behind == 1 else 'are'} taken from each "
            "past year in turn."
        )
    return notes


# --- freezes to come ----------------------------------------------------------------------


def freeze_lines(so_far: xr.Dataset, units: Units) -> list[str]:
    """Odds of another freeze in spring and of the first in autumn, from the date on."""
    lines = []
    for threshold in so_far["threshold"].values.tolist():
        of_level = so_far.sel(threshold=threshold)
        cold = f"{degrees(threshold, units)} or colder"
        spring, autumn = (of_level.sel(side=side) for side in so_far["side"].values)
        if bool(spring["odds"].notnull()):
            lines.append(_spring_line(spring, cold))
        lines.append(_autumn_line(autumn, cold))
    return lines


def _spring_line(row: xr.Dataset, cold: str) -> str:
    known = int(row["known"])
    hits = int(fixed(float(row["share"]) * known))
    latest = ""
    if bool(row["came"].notnull()):
        latest = f" The latest so far this year was on {_in_prose(row['came'])}."
    if hits == 0:
        return f"No night of {cold} came this late in spring in any of {years(known)}.{latest}"
    text = (
        f"Another night of {cold} may come this spring: one came after this date in {hits} of "
        f"{years(known)} ({_likely_percent(row)}).{latest}"
    )
    falls = [
        f"{odds} by {_in_prose(row['date'].sel(level=level))} ({_dates(row, level)})"
        for level, odds in ((0.5, "one in two"), (0.1, "one in ten"))
        if float(row["odds"]) > level and bool(row["date"].sel(level=level).notnull())
    ]
    return f"{text} The odds fall to {' and to '.join(falls)}." if falls else text


def _autumn_line(row: xr.Dataset, cold: str) -> str:
    known = int(row["known"])
    if bool(row["came"].notnull()):
        return f"The first autumn night of {cold} came on {_in_prose(row['came'])}."
    rises = [
        f"by {_in_prose(row['date'].sel(level=level))} in {odds} ({_dates(row, level)})"
        for level, odds in ((0.1, "one year in ten"), (0.5, "one year in two"))
        if bool(row["date"].sel(level=level).notnull())
    ]
    if not rises:
        return (
            f"A night of {cold} is rare in autumn here: it comes in fewer than one in ten of "
            f"{years(known)}."
        )
    return f"The first autumn night of {cold} comes {', '.join(rises)}."


def _dates(row: xr.Dataset, level: float) -> str:
    low, high = (row[f"date_{end}"].sel(level=level) for end in ("low", "high"))
    if bool(low.notnull()) and bool(high.notnull()):
        return _likely(low, high)
    if bool(low.notnull()):
        return f"likely {_in_prose(low)} or later"
    return f"likely {_in_prose(high)} or earlier" if bool(high.notnull()) else "hard to say"


# --- a crop that stands -------------------------------------------------------------------


def outlook_lines(ahead: xr.Dataset, units: Units, *, each_start: bool = True) -> list[str]:
    """What is still to come of a crop, from `outlook`.

    Parameters
    ----------
    ahead : Dataset
        From `outlook`, of one place.
    units : {"C", "F"}
        Unit of the temperatures.
    each_start : bool
        Whether each start date of a crop still to be started has a line; a page has a table.
    """
    if "start" in ahead.dims:
        return _start_lines(ahead, units, each_start=each_start)
    return _standing_lines(ahead)


def outlook_heading(ahead: xr.Dataset) -> str:
    """The crop, how it was started, and where it stands."""
    crop, on = capitalized(ahead.attrs["crop_plural"]), whole_date(ahead.attrs["on"])
    if "start" in ahead.dims:
        return f"{crop}, not yet {DONE[ahead.attrs['start_verb']]} on {on}:"
    begun = ""
    if ahead.attrs["sown"]:
        done = DONE[ahead.attrs["start_verb"]]
        begun = f", {done} {ahead.attrs['where']} on {whole_date(ahead.attrs['sown'])}"
    if bool(ahead["has_failed"]):
        return f"{crop}{begun}. By the growing model the crop has failed: {_why(ahead)}."
    now = str(ahead["stage_now"].item())
    if not now:
        return f"{crop}{begun}. By the growing model nothing shows yet on {on}."
    since = _in_prose(ahead["date_mid"].sel(event=now))
    if ahead.attrs["sown"] and since == _in_prose(np.datetime64(ahead.attrs["sown"])):
        # Garlic has no emergence: its first stage begins when it is planted.
        return f"{crop}{begun}. Still in the first stage by the growing model: {now}."
    return f"{crop}{begun}. Latest stage by the growing model: {now}, reached on {since}."


def _why(ahead: xr.Dataset) -> str:
    failed = ahead.isel(year=int((ahead["outcome"] == "failed").argmax("year")))
    stage = str(failed["stage"].item())
    why = reason_in_words(str(failed["reason"].item()))
    return f"{why}{f' ({stage})' if stage else ''}, on {_in_prose(failed['failed_on'])}"


def _standing_lines(ahead: xr.Dataset) -> list[str]:
    if bool(ahead["has_failed"]):
        return []
    if _is_over(ahead):
        begin, end = (ahead["date_mid"].sel(event=name) for name in ("harvest", "last harvest"))
        first, last = _in_prose(begin), _in_prose(end)
        when = f"lasted from {first} to {last}" if first != last else f"came on {first}"
        return [f"By the growing model the harvest is over: it {when}."]
    lines = [_event_line(row, ahead) for row in events_to_come(ahead)]
    seen = int(ahead["seen"].sel(event="harvest"))
    if not bool(ahead["says_more"]) and seen >= LEAST_YEARS:
        lines.append(TOO_EARLY)
    lines += [*_odds_lines(ahead), *_narrowing(ahead)]
    return [line for line in lines if line]


def events_to_come(ahead: xr.Dataset) -> list[xr.Dataset]:
    """Events of a standing crop that have not come, without those that fall on the one before."""
    rows = [ahead.sel(event=name) for name in ahead["event"].values]
    return [
        row
        for before, row in zip([None, *rows[:-1]], rows, strict=True)
        if not bool(row["has_come"]) and not (before is not None and _is_same(before, row))
    ]


def _is_same(before: xr.Dataset, row: xr.Dataset) -> bool:
    ends = [f"date_{end}" for end in ("low", "mid", "high")]
    return all(bool(before[end] == row[end]) for end in ends)


def _event_line(row: xr.Dataset, ahead: xr.Dataset) -> str:
    name, seen = event_name(row, ahead), int(row["seen"])
    if not seen:
        return f"{name}: does not come with the weather of any past year."
    if seen < LEAST_YEARS:
        dates = row["date"].dropna("year")
        span = day_range(_day(dates.min()), _day(dates.max()))
        return f"{name}: only with the weather of {counted(seen, 'past year')}, {span}."
    now, by_past = (_spread(row, prefix) for prefix in ("date", "usual"))
    if prefix_of(row, ahead) == "usual" or now == by_past:
        return f"{name}: {by_past}."
    return f"{name}: {now}. By past years alone: {by_past}." if by_past else f"{name}: {now}."


def _spread(row: xr.Dataset, prefix: str) -> str:
    """An event's typical date and its likely range, or the one day; empty where it has none."""
    middle, low, high = (row[f"{prefix}_{end}"] for end in ("mid", "low", "high"))
    if bool(middle.isnull()):
        return ""
    if _day(low) == _day(high):
        return _in_prose(middle)
    return f"{_in_prose(middle)}, {_likely(low, high)}"


def _odds_lines(ahead: xr.Dataset) -> list[str]:
    known, harvested = int(ahead["known"]), int(ahead["harvested"])
    text = (
        "Carried on with the weather of each past year, the crop comes to a harvest in "
        f"{harvested} of {known} ({_likely_percent(ahead)})."
    )
    if bool(ahead["harvest_usual_odds"].notnull()):
        stood = int(ahead["harvest_usual_known"])
        count = fixed(float(ahead["harvest_usual_share"]) * stood)
        text += (
            f" Of the past years in which it still stood on this date, {count} of {stood} gave a "
            f"harvest ({_likely_percent(ahead, 'harvest_usual_')}). {ODDS_AS_EVER}"
        )
    failed = ahead["failed_by"]
    reasons = failed.where(failed > 0, drop=True).sortby(failed.where(failed > 0), ascending=False)
    parts = [f"{reason_in_words(why)} in {int(count)}" for why, count in _pairs(reasons)]
    return [text, f"Why it fails in the others: {', '.join(parts)}." if parts else ""]


def _pairs(counts: xr.DataArray) -> list[tuple[str, float]]:
    return [(str(name), float(counts.sel(failure=name))) for name in counts["failure"].values]


def _narrowing(ahead: xr.Dataset) -> list[str]:
    """How the spread of the harvest narrowed since the start."""
    widths = ((ahead["expected_high"] - ahead["expected_low"]) / np.timedelta64(1, "D")).values + 1
    shares = ahead["expected_share"].values[[0, -1]] * int(ahead["known"])
    if ahead["as_of"].size < 2 or not (shares >= LEAST_YEARS).all():
        return []
    start = _in_prose(ahead["as_of"].isel(as_of=0))
    then, now = (days_long(float(width)) for width in widths[[0, -1]])
    return [
        f"On {start} the likely dates of the first harvest spanned {then}; now they span {now}."
    ]


# --- a crop still to be started -----------------------------------------------------------


def _start_lines(ahead: xr.Dataset, units: Units, *, each_start: bool) -> list[str]:
    lines = [_warm_line(ahead, units)]
    shown = ahead.isel(start=(ahead["harvested"] > 0).values)
    if not shown.sizes["start"]:
        return [*filter(None, lines), "No date in the next half-year leads to a harvest."]
    done = capitalized(DONE[ahead.attrs["start_verb"]])
    late = {"8 years in 10": _last_start(ahead, 0.8), "5 years in 10": _last_start(ahead, 0.5)}
    if late["8 years in 10"] == late["5 years in 10"]:
        del late["5 years in 10"]
    lines += [
        f"{done} {when}, the crop comes to a harvest at least {odds}."
        for odds, when in late.items()
        if when
    ]
    last = last_worth_starting(ahead)
    if last is not None and _only_good_ones_fail(ahead.isel(start=slice(last + 1, None)), ahead):
        after = _in_prose(ahead["start"][last])
        lines.append(f"{done} after {after}, it gives a good harvest at most half as often.")
    if int(shown["good"].max()):
        best = shown.isel(start=int(shown["good"].argmax("start")))
        lines.append(
            f"Good harvests are most frequent if it is {done.lower()} about "
            f"{_in_prose(best['start'])}: in {int(best['good'])} of {years(int(best['known']))}."
        )
    if each_start:
        lines += [
            f"{done} {day}: a harvest in {harvests} years, a good one in {good}; first "
            f"{ahead.attrs['harvest_verb']} {middle} ({likely})"
            for day, harvests, good, middle, likely in _start_rows(ahead)
        ]
    return [line for line in lines if line]


def _only_good_ones_fail(later: xr.Dataset, ahead: xr.Dataset) -> bool:
    """Whether some later date still gives a harvest as surely, and none a good one as often."""
    is_sure = bool((later["odds"] >= ENOUGH_ODDS).any())
    return is_sure and bool((2 * later["good"] < ahead["good"].max()).all())


def starts_table(ahead: xr.Dataset) -> dict[str, Any]:
    """Start dates of a crop still to be started, for a table: its caption, heads and rows."""
    done, picked = capitalized(DONE[ahead.attrs["start_verb"]]), ahead.attrs["harvest_verb"]
    most = int(ahead["known"].max())
    return {
        "caption": f"What comes of each date with the weather of the past {years(most)}",
        "heads": [done, "A harvest", "A good one", f"First {picked}", "Likely range"],
        "rows": _start_rows(ahead),
    }


def _start_rows(ahead: xr.Dataset) -> list[tuple[str, str, str, str, str]]:
    """Each start that leads to a harvest, or every other one where they are many."""
    shown = ahead.isel(start=(ahead["harvested"] > 0).values)
    step = 1 if shown.sizes["start"] <= MOST_ROWS else 2
    rows = [shown.isel(start=n) for n in range(0, shown.sizes["start"], step)]
    return [
        (
            day_of(row["start"]),
            f"{int(row['harvested'])} of {int(row['known'])}",
            str(int(row["good"])),
            day_of(row["harvest_mid"]),
            span_of(row["harvest_low"], row["harvest_high"]),
        )
        for row in rows
    ]


def worth_starting(ahead: xr.Dataset) -> np.ndarray:
    """Which starts are worth advising, see `ENOUGH_ODDS`; shape (starts,)."""
    good = ahead["good"].values
    return (ahead["odds"].values >= ENOUGH_ODDS) & (2 * good >= good.max())


def last_worth_starting(ahead: xr.Dataset) -> int | None:
    """Number of the last start of the first run that is worth advising; None where none is."""
    return _first_run(worth_starting(ahead))[1]


def _first_run(enough: np.ndarray) -> tuple[int, int] | tuple[None, None]:
    """First and last of the first run of starts that will do; None where there is none."""
    if not enough.any():
        return None, None
    begin = int(enough.argmax())
    run = enough[begin:]
    return begin, begin + (int((~run).argmax()) if not run.all() else len(run)) - 1


def _last_start(ahead: xr.Dataset, share: float) -> str:
    """Until when it may be started; empty where no start has the odds."""
    first, last = _first_run((ahead["odds"] >= share).values)
    if first is None or last is None:
        return ""
    end = _in_prose(ahead["start"][last])
    return f"between {_in_prose(ahead['start'][first])} and {end}" if first else f"by {end}"


def _warm_line(ahead: xr.Dataset, units: Units) -> str:
    limit = float(ahead.attrs["warm_soil_c"])
    if not np.isfinite(limit) or bool(ahead["warm_mid"].isnull()):
        return ""
    says_more = bool(ahead["soil_says_more"]) or bool(ahead["usual_warm_mid"].isnull())
    prefix = "warm" if says_more else "usual_warm"
    middle, low, high = (ahead[f"{prefix}_{end}"] for end in ("mid", "low", "high"))
    down, warm = depth(SOWING_DEPTH_M, units), degrees(limit, units)
    if bool(high < np.datetime64(ahead.attrs["on"])):
        return (
            f"The soil at a depth of {down} has passed {warm}, from which the seed comes up well."
        )
    text = (
        f"The soil at a depth of {down} should reach {warm}, warm enough for the seed to come up "
        f"well, by {_in_prose(middle)} ({_likely(low, high)})."
    )
    return text if says_more else f"{text} {SOIL_AS_EVER}"
