"""The season as it runs, in sentences: results in, plain words out."""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.climate.season import QUANTITIES, SOIL_DAYS, SOWING_DEPTH_M
from climwin.core.formatting import (
    INCH_MM,
    counted,
    days_long,
    degree_days,
    depth,
    fixed,
    number,
    ordinal,
    percent,
    years,
)
from climwin.core.schema import Units, from_celsius
from climwin.core.seasons import day_name, day_of_year
from climwin.core.stats import LEAST_YEARS
from climwin.core.wording import capitalized
from climwin.report.sentences import reason_in_words
from climwin.report.sentences_climate import degrees

NOT_A_FORECAST = (
    "This is no weather forecast: the days to come are taken from each past year in turn. The odds "
    "leave out doubt about the crop's limits and about your garden's own spot."
)
FREEZES_AS_EVER = (
    "These are the odds of past years from this date on; the season so far has not been shown to "
    "change them."
)
ODDS_AS_EVER = (
    "The season so far has not been shown to say more about whether it comes to a harvest than "
    "past years do, so weigh both."
)
LOOKED_BACK = (
    "In a look back over fourteen long records, 94 of 100 harvests fell on the days given for nine "
    "in ten. Half-way from the start to the usual harvest, knowing the season so far halves the "
    "error; in the first weeks it takes a sixth of it away."
)
SOIL_AS_EVER = "So far ahead, this season's soil says no more of it than past years do."
TOO_EARLY = (
    "It is too early for this season to say more of the harvest than past years do: these are the "
    "dates of past years."
)

_PLACES = {
    "heat_sum": ("least", "most"),
    "mean_temperature": ("coldest", "warmest"),
    "soil_temperature": ("coldest", "warmest"),
    "frost_nights": ("fewest", "most"),
    "rain": ("driest", "wettest"),
}


def day_of(date: xr.DataArray | np.datetime64) -> str:
    """A date as day and month."""
    return day_name(int(day_of_year(np.atleast_1d(np.asarray(date)))[0]))


def span_of(first: xr.DataArray, last: xr.DataArray) -> str:
    """Two dates as day and month; one where they are the same."""
    return " to ".join(dict.fromkeys([day_of(first), day_of(last)]))


def whole_date(text: str) -> str:
    """A date with its year, such as ``"15 May 2024"``."""
    return f"{day_of(np.datetime64(text))} {text[:4]}"


# --- this season among the past ones ------------------------------------------------------


def season_heading(so_far: xr.Dataset) -> str:
    """What is compared with what."""
    until = whole_date(so_far.attrs["through"])
    since = day_name(int(so_far.attrs["first_day"]))
    return f"The season from {since} to {until}, among the same dates of past years:"


def season_lines(so_far: xr.Dataset, units: Units) -> list[str]:
    """Heat, mean temperature, soil, frost nights and rain so far, each with its rank."""
    lines = [_quantity_line(so_far, name, units) for name in QUANTITIES]
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
    unit = {"heat_sum": f"°{units} days", "frost_nights": "nights", "rain": rain}
    return (
        f"{_title(name, so_far, units)}: {now} {unit.get(name, f'°{units}')}, {_place(row, name)}; "
        f"usually {usual} ({low} to {high} in 8 years of 10)"
    )


def _title(name: str, so_far: xr.Dataset, units: Units) -> str:
    down = depth(SOWING_DEPTH_M, units)
    return {
        "heat_sum": f"Heat above {degrees(float(so_far.attrs['base_c']), units)}",
        "mean_temperature": "Mean temperature",
        "soil_temperature": f"Soil at {down}, by its model, over the last {SOIL_DAYS} days",
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
            f"{counted(bridged, 'day')} of the last year {'is' if bridged == 1 else 'are'} missing:"
            " up to five in a row are bridged from the days beside them, more are taken from each "
            "past year."
        )
    if behind:
        notes.append(
            f"The record ends on {whole_date(result.attrs['through'])}: the "
            f"{counted(behind, 'day')} since then {'is' if behind == 1 else 'are'} taken from each "
            "past year."
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
    came = "" if bool(row["came"].isnull()) else f"; the latest so far was on {day_of(row['came'])}"
    if hits == 0:
        return f"No night of {cold} came this late in spring in {years(known)}{came}."
    text = (
        f"Another night of {cold} this spring: odds {percent(float(row['odds']))} "
        f"({_percents(row)}); it came in {hits} of {years(known)}{came}."
    )
    falls = [
        f"{odds} from {day_of(row['date'].sel(level=level))} on ({_dates(row, level)})"
        for level, odds in ((0.5, "one in two"), (0.1, "one in ten"))
        if float(row["odds"]) > level and bool(row["date"].sel(level=level).notnull())
    ]
    return f"{text} The odds are down to {', and to '.join(falls)}." if falls else text


def _autumn_line(row: xr.Dataset, cold: str) -> str:
    known = int(row["known"])
    if bool(row["came"].notnull()):
        return f"The first autumn night of {cold} came on {day_of(row['came'])}."
    rises = [
        f"{odds} by {day_of(row['date'].sel(level=level))} ({_dates(row, level)})"
        for level, odds in ((0.1, "one in ten"), (0.5, "one in two"))
        if bool(row["date"].sel(level=level).notnull())
    ]
    if not rises:
        return f"A night of {cold} is rare in autumn here: fewer than one in ten of {years(known)}."
    return f"The first autumn night of {cold}: {', '.join(rises)}."


def _percents(row: xr.Dataset) -> str:
    return f"{percent(float(row['low']))} to {percent(float(row['high']))}"


def _dates(row: xr.Dataset, level: float) -> str:
    low, high = (row[f"date_{end}"].sel(level=level) for end in ("low", "high"))
    ends = [day_of(each) if bool(each.notnull()) else "…" for each in (low, high)]
    return " to ".join(dict.fromkeys(ends))


# --- a crop that stands -------------------------------------------------------------------


def outlook_lines(ahead: xr.Dataset, units: Units) -> list[str]:
    """What is still to come of a crop, from `outlook`."""
    if "start" in ahead.dims:
        return _start_lines(ahead, units)
    return _standing_lines(ahead)


def outlook_heading(ahead: xr.Dataset) -> str:
    """The crop, how it was started, and where it stands."""
    crop, on = capitalized(ahead.attrs["crop"]), whole_date(ahead.attrs["on"])
    if "start" in ahead.dims:
        return f"{crop}, not yet started on {on}:"
    begun = ""
    if ahead.attrs["sown"]:
        start = whole_date(ahead.attrs["sown"])
        begun = f", {_without_date(ahead.attrs['plan'])} on {start}"
    if bool(ahead["has_failed"]):
        return f"{crop}{begun}. By the growing model it has failed by now: {_why(ahead)}."
    now = str(ahead["stage_now"].item())
    if not now:
        return f"{crop}{begun}. By the growing model nothing shows yet on {on}."
    since = day_of(ahead["date_mid"].sel(event=now))
    return f"{crop}{begun}. Latest stage by the growing model: {now}, from {since}."


def _without_date(plan: str) -> str:
    """How a plan is started, without the day that its name ends with."""
    words = plan.split()
    cut = next((n for n, word in enumerate(words) if word.isdigit()), len(words))
    kept = [*words[:cut], *words[cut + 2 :]]
    return " ".join(kept).removesuffix(", sown").removesuffix(" from")


def _why(ahead: xr.Dataset) -> str:
    failed = ahead.isel(year=int((ahead["outcome"] == "failed").argmax("year")))
    on = day_of(failed["failed_on"])
    stage = str(failed["stage"].item())
    return f"{failed['reason'].item()}{f' ({stage})' if stage else ''}, on {on}"


def _standing_lines(ahead: xr.Dataset) -> list[str]:
    lines = []
    if not bool(ahead["has_failed"]):
        says_more = bool(ahead["says_more"])
        lines += [_event_line(row, says_more=says_more) for row in events_to_come(ahead)]
        seen = int(ahead["seen"].sel(event="harvest"))
        if not says_more and seen >= LEAST_YEARS:
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


def _event_line(row: xr.Dataset, *, says_more: bool) -> str:
    name = str(row["event"].item())
    usual = [row[f"usual_{end}"] for end in ("mid", "low", "high")]
    has_usual = bool(usual[0].notnull())
    if not int(row["seen"]):
        return f"{capitalized(name)}: does not come with the weather of any past year"
    if int(row["seen"]) < LEAST_YEARS:
        dates = row["date"].dropna("year")
        span = span_of(dates.min(), dates.max())
        return f"{capitalized(name)}: comes in {years(int(row['seen']))} only, on {span}"
    if not says_more and has_usual:
        return f"{capitalized(name)}: {day_of(usual[0])} ({span_of(*usual[1:])})"
    now = [row[f"date_{end}"] for end in ("mid", "low", "high")]
    text = f"{capitalized(name)}: {day_of(now[0])} ({span_of(*now[1:])} nine times in ten)"
    if has_usual:
        text += f"; by past years alone {day_of(usual[0])} ({span_of(*usual[1:])})"
    return text


def _odds_lines(ahead: xr.Dataset) -> list[str]:
    known, harvested = int(ahead["known"]), int(ahead["harvested"])
    usual = ahead["harvest_usual_odds"]
    ends = (percent(float(ahead[f"harvest_usual_{end}"])) for end in ("low", "high"))
    text = (
        f"With the weather of {harvested} of {counted(known, 'past year')} from here on it comes "
        f"to a harvest: odds {percent(float(ahead['odds']))} ({_percents(ahead)})."
    )
    if bool(usual.notnull()):
        text += (
            " In past years in which it still stood on this day the odds were "
            f"{percent(float(usual))} ({' to '.join(ends)}). {ODDS_AS_EVER}"
        )
    failed = ahead["failed_by"]
    reasons = failed.where(failed > 0, drop=True).sortby(failed.where(failed > 0), ascending=False)
    parts = [f"{reason_in_words(why)} in {int(count)}" for why, count in _pairs(reasons)]
    return [text, f"Why it fails in the others: {', '.join(parts)}." if parts else ""]


def _pairs(counts: xr.DataArray) -> list[tuple[str, float]]:
    return [(str(name), float(counts.sel(failure=name))) for name in counts["failure"].values]


def _narrowing(ahead: xr.Dataset) -> list[str]:
    """How the spread of the harvest narrowed since the start."""
    widths = ((ahead["told_high"] - ahead["told_low"]) / np.timedelta64(1, "D")).values
    shares = ahead["told_share"].values[[0, -1]] * int(ahead["known"])
    if ahead["told"].size < 2 or not (shares >= LEAST_YEARS).all():
        return []
    start = day_of(ahead["told"].isel(told=0))
    return [
        f"On {start} the first harvest could be told to within {days_long(float(widths[0]))}, now "
        f"to within {days_long(float(widths[-1]))}."
    ]


# --- a crop still to be started -----------------------------------------------------------

_LEAST_ODDS = {"8 in 10": 0.8, "5 in 10": 0.5}


def _start_lines(ahead: xr.Dataset, units: Units) -> list[str]:
    lines = [_warm_line(ahead, units)]
    shown = ahead.isel(start=(ahead["harvested"] > 0).values)
    if not shown.sizes["start"]:
        return [*filter(None, lines), "No start in the next half-year comes to a harvest."]
    late = {words: _last_start(ahead, share) for words, share in _LEAST_ODDS.items()}
    if late["8 in 10"] == late["5 in 10"]:
        del late["5 in 10"]
    lines += [
        f"Odds of {odds} or more for a start up to {day}." for odds, day in late.items() if day
    ]
    step = 1 if shown.sizes["start"] <= 13 else 2
    for n in range(0, shown.sizes["start"], step):
        row = shown.isel(start=n)
        lines.append(
            f"Start {day_of(row['start'])}: a harvest in {int(row['harvested'])} of "
            f"{years(int(row['known']))}, a good one in {int(row['good'])}; first harvest "
            f"{day_of(row['harvest_mid'])} "
            f"({span_of(row['harvest_low'], row['harvest_high'])})"
        )
    return [line for line in lines if line]


def _last_start(ahead: xr.Dataset, share: float) -> str:
    """The last start of the first run that has the odds; empty where the first has not."""
    enough = (ahead["odds"] >= share).values
    if not enough.any():
        return ""
    begin = int(enough.argmax())
    run = enough[begin:]
    last = begin + (int((~run).argmax()) if not run.all() else len(run)) - 1
    if begin:
        return f"{day_of(ahead['start'][last])}, from {day_of(ahead['start'][begin])} on"
    return day_of(ahead["start"][last])


def _warm_line(ahead: xr.Dataset, units: Units) -> str:
    limit = float(ahead.attrs["warm_soil_c"])
    if not np.isfinite(limit) or bool(ahead["warm_mid"].isnull()):
        return ""
    says_more = bool(ahead["soil_says_more"]) or bool(ahead["usual_warm_mid"].isnull())
    prefix = "warm" if says_more else "usual_warm"
    warm = [ahead[f"{prefix}_{end}"] for end in ("mid", "low", "high")]
    text = (
        f"The soil at {depth(SOWING_DEPTH_M, units)} is likely to reach {degrees(limit, units)}, "
        f"at which the seed comes up well, by {day_of(warm[0])} "
        f"({span_of(*warm[1:])} nine times in ten)."
    )
    return text if says_more else f"{text} {SOIL_AS_EVER}"
