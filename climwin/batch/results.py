"""Results for every station of a record: freezes, bands, windows, shortness, best dates.

What one garden's report holds, for many stations at once and in a form that a file can keep: words
become flags, and every variable says what it is by the CF conventions.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence

import numpy as np
import xarray as xr

from climwin.climate.freeze import freeze_odds
from climwin.climate.level import in_climate
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import odds_shorter, usable_windows
from climwin.core.errors import InputError
from climwin.core.provenance import provenance
from climwin.core.schema import apply, variable
from climwin.core.seasons import DAYS
from climwin.core.stats import sorted_quantile
from climwin.core.status import NONE, OBSERVED, UNKNOWN
from climwin.crops.model import Crop
from climwin.planning.plan import Plan, usual_cover
from climwin.planning.sweep import sweep_plans

STATUSES = (OBSERVED, NONE, UNKNOWN)
"""What the flags of ``window_status`` mean, from 0 on."""
STATION_COORDINATES: dict[str, dict[str, str]] = {
    "station": {"cf_role": "timeseries_id", "long_name": "station"},
    "name": {"long_name": "name of the station"},
    "latitude": {"standard_name": "latitude", "units": "degrees_north"},
    "longitude": {"standard_name": "longitude", "units": "degrees_east"},
    "elevation": {"standard_name": "height_above_mean_sea_level", "units": "m"},
}
"""Coordinates of a station, with their CF attributes."""
WAYS = ("in place", "under cover")
"""Sown where it grows; raised under its usual cover for its usual weeks and set out."""


def station_results(
    daily: xr.Dataset, crops: Sequence[Crop], *, climate: str = "record"
) -> xr.Dataset:
    """All results for every station of a record.

    Parameters
    ----------
    daily : Dataset, dims (station, time)
        Needs ``tmin``, ``tmax``, ``tmean`` [degC], and the ``latitude`` of each station.
    crops : sequence of Crop
        What is grown.
    climate : {"record", "today"}
        The years as they were, or moved to today's level, see `todays_climate`.

    Returns
    -------
    Dataset, dims (station, ...)
        ``last_spring``, ``first_autumn`` and ``freeze_free_days`` by threshold (0 degC, and what
        kills each crop) and odds, see `freeze_odds`; ``bands`` of the daily mean, see `day_bands`;
        by crop ``window_*`` and ``average_*``, see `usable_windows`, and ``shorter_*`` than the
        crop needs there, see `odds_shorter`. The need, ``need_days``, is what the crop stands
        outdoors to its first harvest in the middling year, started in the better way on its best
        date; where it never comes to a harvest, the days of a main variety. By crop and by `WAYS`:
        the first and last day of the start dates that lead, see `best_dates`,
        ``best_first`` and ``best_last``, missing where there is no harvest or no date to choose;
        of ``best_day`` the shares of years with a harvest and with a good one, ``best_share`` and
        ``best_good_share``, of ``best_known`` years; and ``best_elsewhere_share``, the share of
        harvests from dates chosen without the years that judge them: the one to tell, since the
        years that chose a date are too kind to it.

    Raises
    ------
    ValueError
        If there is no crop, two have one name, or the record lacks a variable.
    """
    check_crops(crops)
    daily = in_climate(daily, climate)
    thresholds = sorted({0.0, *(crop.killed_at_c for crop in crops)}, reverse=True)
    windows = usable_windows(daily, crops)
    best = _best_dates(daily, crops)
    parts = [
        freeze_odds(daily, thresholds, method="smoothed"),  # as on a garden's page
        day_bands(variable(daily, "tmean").rename("bands")),
        _windows(windows),
        _shorter(windows, best["need_days"], crops),
        best,
    ]
    bare = [part.drop_vars(["first_day", "scenario"], errors="ignore") for part in parts]
    out = xr.merge(bare, compat="override", combine_attrs="drop").transpose("station", ...)
    return _described(out).assign_attrs(provenance(daily))


def check_crops(crops: Sequence[Crop]) -> None:
    """Refuse no crop at all, and two of one name.

    Raises
    ------
    ValueError
        Says which names were given.
    """
    names = [crop.name for crop in crops]
    if not names or len(set(names)) < len(names):
        given = ", ".join(names) or "none"
        msg = f"Give at least one crop, each with a name of its own; got {given}."
        raise InputError(msg, parameter="crops")


def _windows(windows: xr.Dataset) -> xr.Dataset:
    """Windows with the names and flags that a file keeps; the draws are left out."""
    windows = windows.drop_vars("length_drawn")  # its odds are kept, its draws would be most of all
    own = [
        n for n in windows.data_vars if not str(n).startswith("average") and n != "has_two_windows"
    ]
    out = windows.rename({name: f"window_{name}" for name in own})
    status = windows["status"]
    out["window_status"] = (1 * (status == NONE) + 2 * (status == UNKNOWN)).astype(np.int8)
    out["window_median"] = apply(_middle, windows["length"], core=[["season"]])
    return out.assign(has_two_windows=windows["has_two_windows"].astype(np.int8))


def _middle(length: np.ndarray) -> np.ndarray:
    """Median length over the known seasons; NaN where there is none."""
    return sorted_quantile(np.sort(length), np.isfinite(length).sum(-1), 0.5, "linear")


def _shorter(windows: xr.Dataset, need: xr.DataArray, crops: Sequence[Crop]) -> xr.Dataset:
    """How often the windows of each crop are shorter than it needs."""
    names = [crop.name for crop in crops]
    odds = [odds_shorter(windows.sel(crop=name), need.sel(crop=name)) for name in names]
    out = xr.concat(odds, "crop", coords="different", compat="equals")
    renamed = {str(name): f"shorter_{name}" for name in out.data_vars}
    return out.rename(renamed | {"shorter": "shorter_years"})


_BEST = (
    "best_first",
    "best_last",
    "best_day",
    "best_share",
    "best_good_share",
    "best_known",
    "best_elsewhere_share",
)


def _best_dates(daily: xr.Dataset, crops: Sequence[Crop]) -> xr.Dataset:
    """Best dates by crop and way, and the days that each crop needs outdoors."""
    plans: list[Plan] = []
    cells: list[tuple[int, int]] = []  # of the crop and the way that each plan stands for
    for n, crop in enumerate(crops):
        plans.append(Plan(crop, "04-01"))
        cells.append((n, WAYS.index("in place")))
        if crop.weeks_under_cover and not crop.is_perennial:
            plans.append(Plan(crop, "04-01", crop.weeks_under_cover.usual, usual_cover(crop)))
            cells.append((n, WAYS.index("under cover")))
    swept = sweep_plans(plans, daily, with_band=False)
    *best, need = apply(
        _best_kernel(cells, crops),
        *(swept[name] for name in (*_BY_START, *_OF_PLAN)),
        core=[*[["plan", "start_day"]] * len(_BY_START), *[["plan"]] * len(_OF_PLAN)],
        out=[*[["crop", "way"]] * len(_BEST), ["crop"]],
        sizes={"crop": len(crops), "way": len(WAYS)},
        dtypes=[float] * (len(_BEST) + 1),
        each=True,
    )
    out = xr.Dataset(dict(zip(_BEST, best, strict=True)) | {"need_days": need})
    return out.assign_coords(crop=[crop.name for crop in crops], way=list(WAYS))


_BY_START = ("yield_index", "share", "good_share", "known", "days_outdoors")
_OF_PLAN = ("best_first", "best_last", "best_day", "elsewhere_share")


def _best_kernel(
    cells: Sequence[tuple[int, int]], crops: Sequence[Crop]
) -> Callable[..., tuple[np.ndarray, ...]]:
    """A kernel that lays the best dates of plans out by crop and way, shape (crops, ways)."""

    def kernel(
        worth: np.ndarray,
        share: np.ndarray,
        good_share: np.ndarray,
        known: np.ndarray,
        days_outdoors: np.ndarray,
        best_first: np.ndarray,
        best_last: np.ndarray,
        best_day: np.ndarray,
        elsewhere: np.ndarray,
    ) -> tuple[np.ndarray, ...]:
        out = np.full((len(_BEST), len(crops), len(WAYS)), np.nan)
        need = np.array([_usual_need(crop) for crop in crops])
        largest = np.zeros(len(crops))
        for row, (crop, way) in enumerate(cells):
            if np.isnan(best_day[row]):  # no year is known
                continue
            day = int(best_day[row]) - 1
            gives_harvest = (known[row] > 0) & (np.nan_to_num(worth[row]) > 0)
            if gives_harvest.any() and not crops[crop].is_perennial:
                out[:3, crop, way] = best_first[row], best_last[row], best_day[row]
            odds = share[row, day], good_share[row, day], known[row, day], elsewhere[row]
            out[3:, crop, way] = odds
            value = float(np.nan_to_num(worth[row, day]))
            if value > largest[crop]:
                largest[crop], need[crop] = value, max(1.0, np.floor(days_outdoors[row, day]))
        return *out, need

    return kernel


def _usual_need(crop: Crop) -> float:
    """Days that stand for the need of a crop which never comes to a harvest at a place."""
    return float(DAYS) if crop.maturity is None else float(round(crop.maturity.main))


# --- what every variable is ---------------------------------------------------------------

_MEANINGS: dict[str, tuple[str, str]] = {
    "last_spring": ("1", "day of the year with these odds of a freeze on it or later in spring"),
    "first_autumn": ("1", "day of the year with these odds of a freeze on it or earlier in autumn"),
    "freeze_free_days": ("day", "days between last and first freeze reached with these odds"),
    "bands": ("degC", "daily mean air temperature near each day of the year, all years together"),
    "sample_size": ("1", "values near each day of the year"),
    "window_start": ("", "first day of the usable window"),
    "window_end": ("", "last day of the usable window"),
    "window_length": ("day", "length of the usable window"),
    "window_usable_days": ("day", "usable days in the window"),
    "window_length_least": ("day", "least that the length can be, whatever a gap hides"),
    "window_length_most": ("day", "most that the length can be, whatever a gap hides"),
    "window_status": ("1", "what the record says of the window"),
    "window_median": ("day", "median length of the usable window, over the known years"),
    "average_start_day": ("1", "day of the year on which the average curve's window begins"),
    "average_end_day": ("1", "day of the year on which the average curve's window ends"),
    "average_length": ("day", "length of the average curve's window"),
    "has_two_windows": ("1", "1 where summer or winter splits the crop's year in two"),
    "shorter_years": ("1", "years whose window is shorter than the crop needs"),
    "shorter_known": ("1", "years of which that is known"),
    "shorter_unknown": ("1", "years of which a gap hides it"),
    "shorter_leaning": ("1", "years that a gap leaves open and that count as its draws say"),
    "shorter_share": ("1", "share of years whose window is shorter than the crop needs"),
    "shorter_share_least": ("1", "that share, were no unknown year's window shorter"),
    "shorter_share_most": ("1", "that share, were every unknown year's window shorter"),
    "shorter_odds": ("1", "odds of a window shorter than needed, smoothed over the lengths"),
    "shorter_trend": ("day (10 year)-1", "trend of the window's length, Theil and Sen's slope"),
    "shorter_trend_p": ("1", "p value of that trend, Mann and Kendall's test"),
    "best_first": ("1", "first start date that is recommended, day of the year"),
    "best_last": ("1", "last start date that is recommended, day of the year"),
    "best_day": ("1", "best of those start dates, day of the year"),
    "best_share": (
        "1",
        "share of years with a harvest from the best start date, in the years that chose it",
    ),
    "best_elsewhere_share": (
        "1",
        "share of harvests in years left out when the best date was chosen",
    ),
    "best_good_share": ("1", "share of years with a good harvest from the best start date"),
    "best_known": ("1", "years known of the best start date"),
    "crop": ("", "crop"),
    "day_of_year": ("1", "day of the year of 365 days"),
    "need_days": ("day", "days outdoors to the first harvest, what the crop needs of a window"),
    "odds": ("1", "odds"),
    "part": ("", "the longest window of the crop's year, or that on its rise or on its fall"),
    "percentile": ("percent", "percentile"),
    "season": ("1", "year that holds the season's middle"),
    "threshold": ("degC", "a freeze is a daily minimum at or below it"),
    "way": ("", "how the crop is started"),
}
_ENDS = {
    "low": "lower end of the 90 % interval of: ",
    "high": "upper end of the 90 % interval of: ",
}
_NEXT_ENDS = {
    "next_low": "least number of the next ten years, at 90 %, with: ",
    "next_high": "greatest number of the next ten years, at 90 %, with: ",
}
_COUNTS = {
    "known": "years known: ",
    "frozen": "years in which it froze: ",
    "leaning": "years that a gap leaves open and that count as its draws say: ",
}


def _described(out: xr.Dataset) -> xr.Dataset:
    """The results with the attributes that say what each variable is."""
    for name in out.variables:
        if name not in STATION_COORDINATES:
            out[name].attrs = _attributes(str(name))
    flags = {"flag_values": np.arange(len(STATUSES), dtype=np.int8)}
    out["window_status"].attrs |= flags | {"flag_meanings": " ".join(STATUSES)}
    return out


def _attributes(name: str) -> dict[str, str]:
    """Attributes of a variable, by its name and what its ending means."""
    base, _, last = name.rpartition("_")
    before, words = "", name
    if base.endswith("_next"):
        before = _NEXT_ENDS[f"next_{last}"]
        base = base.removesuffix("_next")
        of = _MEANINGS["shorter_share" if base == "shorter" else base][1]
        return {"long_name": before + of, "units": "1"}
    if name not in _MEANINGS:
        before = (_ENDS | _COUNTS)[last]
        words = "shorter_share" if base == "shorter" else base
    units, meaning = _MEANINGS[words]
    units = "1" if last in _COUNTS and before else units
    return {"long_name": before + meaning} | ({"units": units} if units else {})
