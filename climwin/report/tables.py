"""Results as tables that anyone can read: plain heads with their units, dates as dates."""

from __future__ import annotations

import re
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.formatting import fixed, in_ten, number
from climwin.core.schema import Units, difference_from_celsius, from_celsius
from climwin.core.seasons import MONTH_STARTS, day_name
from climwin.core.status import UNKNOWN
from climwin.core.wording import WINDOW_NAMES
from climwin.planning.plan import PLANTED
from climwin.report import sentences, sentences_climate

if TYPE_CHECKING:
    import pandas as pd

MINUS, BLANK = "\N{MINUS SIGN}", "\N{NO-BREAK SPACE}"

Say = Callable[[Any, Units], str]

# --- values -------------------------------------------------------------------------------


def _known(say: Say) -> Say:
    """Empty for a missing value, which is the only one that does not equal itself."""
    return lambda value, units: "" if value != value else say(value, units)


def _number(digits: int) -> Say:
    return _known(lambda value, _: number(value, digits))


def _freeze(day: float, _: Units) -> str:
    return sentences.date(day)


@_known
def _day(day: float, _: Units) -> str:
    return day_name(day)


def _start(day: float, units: Units) -> str:
    return _day(day, units) or "no date"


@_known
def _year(year: float, _: Units) -> str:
    return fixed(year)


@_known
def _date(when: Any, _: Units) -> str:
    return sentences.day_of(xr.DataArray(np.datetime64(when)))


def _share(value: float, _: Units) -> str:
    return sentences.percent(value).replace("-", MINUS)


def _chance(value: float, _: Units) -> str:
    return in_ten(value).replace(" ", BLANK)


def _warmth(value: float, units: Units) -> str:
    return _number(1)(from_celsius(value, units), units)


def _gap(value: float, units: Units) -> str:
    return _number(1)(difference_from_celsius(value, units), units)


def _fine_gap(value: float, units: Units) -> str:
    return _number(2)(difference_from_celsius(value, units), units)


def _words(known: dict[str, str]) -> Say:
    """A term of the library in everyday words; an unknown one is unchanged."""
    return _known(lambda value, _: known.get(str(value), str(value)))


def _month(number: float, _: Units) -> str:
    return day_name(MONTH_STARTS[int(number) - 1] + 1).split()[-1]


def _season(value: Any, units: Units) -> str:
    """A year, or one of the seasons of recommended dates."""
    return str(value) if isinstance(value, str) else _year(value, units)


@_known
def _growth(value: float, _: Units) -> str:
    return fixed(value, 2)


_measured = _words(
    {"tmin": "daily minimum", "tmax": "daily maximum", "tmean": "daily mean", "precip": "rain"}
)
_part = _words(WINDOW_NAMES)
_status = _words({"observed": "yes", "none": "yes: none", UNKNOWN: "no: a gap hides it"})
_usable = _words(
    {
        "mean": "the mean of its seven days is within the limits",
        "extremes": "its minimum and maximum are",
        "hours": "half of its hours are",
    }
)
_cover = _words({"none": "sown outdoors"})
_WITHOUT_COVER = {"perennial": "established plants"} | dict.fromkeys(PLANTED, "planted outdoors")
_event = _words(sentences_climate.KIND_NAMES)
_rule = _words(sentences_climate.RULE_NAMES)
_text = _words({})
_whole = _number(0)

# --- heads --------------------------------------------------------------------------------

_LONG_RUN = "Likely range in the long run"
_HEADS: dict[str, tuple[str, Say]] = {
    # freezes, soil
    "odds": ("Chance", _chance),
    "last_spring": ("Spring: a frost on this day or later", _freeze),
    "first_autumn": ("Autumn: a frost on this day or earlier", _freeze),
    "freeze_free_days": ("Days without frost, at least", _whole),
    "warm_soil_day": ("Soil warm by", _freeze),
    "warm_soil_low to warm_soil_high": (_LONG_RUN, _freeze),
    # windows and their odds
    "season": ("Year", _season),
    "part": ("Mild spell", _part),
    "start": ("Begins", _date),
    "end": ("Ends", _date),
    "length": ("Days", _whole),
    "status": ("Known", _status),
    "shorter": ("Years too short", _whole),
    "known": ("Years known", _whole),
    "unknown": ("Years not known", _whole),
    "leaning": ("Years that hang on missing days", _whole),
    "share": ("Share of the years", _share),
    "low to high": (_LONG_RUN, _share),
    "next_low to next_high": ("Likely in the next ten years", _whole),
    "kind": ("Event", _event),
    "rule": ("Odds from", _rule),
    "skill": ("Better than a plain count (%)", _number(1)),
    "skill_low to skill_high": ("likely range", _number(1)),
    "held": ("Ranges that held", _share),
    "odds_given": ("Odds given", _share),
    "came": ("Years in which it came", _whole),
    "followed": ("Years that followed", _whole),
    "criterion": ("A day counts if", _usable),
    # plans
    "both": ("Both gave a harvest", _whole),
    "only_plan": ("Only the first", _whole),
    "only_other": ("Only the second", _whole),
    "neither": ("Neither", _whole),
    "difference": ("Share of the first less that of the second", _share),
    "outcome": ("Outcome", _text),
    "harvested": ("Years with a harvest", _whole),
    "good": ("Years with a good one", _whole),
    "good_share": ("Share of a good harvest", _share),
    "good_low to good_high": ("A good one: likely range in the long run", _share),
    "good_next_low to good_next_high": (
        "A good one: likely in the next ten years",
        _whole,
    ),
    "elsewhere_share": ("Share in years left out when the date was chosen", _share),
    "elsewhere_low to elsewhere_high": (
        "That share: likely range in the long run",
        _share,
    ),
    "elsewhere_harvested": ("Harvests in years left out when the date was chosen", _whole),
    "elsewhere_known": ("Years left out when the date was chosen", _whole),
    "growth": ("Growth, 1 is the best that temperature allows", _growth),
    "expected_crop": ("Expected crop, of the best", _share),
    "days_outdoors": ("Days outdoors to the first harvest", _whole),
    "reason": ("Why it failed", _text),
    "stage": ("In stage", _text),
    "emergence": ("Came up", _date),
    "set_out": ("Set out", _date),
    "harvest_begin": ("Harvest begins", _date),
    "harvest_end": ("Harvest ends", _date),
    "sowing": ("Sowing", _whole),
    "start_day": ("Sow on", _day),
    "best_day": ("Best about", _day),
    "earliness": ("Variety", _text),
    "best_for": ("Best for", _text),
    "harvest_usual": ("Harvest begins, typical year", _day),
    "harvest_first to harvest_last": ("Harvest begins, in 8 years out of 10", _day),
    "event": ("What", _text),
    "begin_day": ("Begins", _day),
    "begin_first to begin_last": ("In 8 years out of 10", _day),
    "end_day": ("Ends", _day),
    "seen": ("Years that came so far", _whole),
    "killed": ("Years in which cold ended it", _whole),
    "freeze_day": ("First killing frost", _freeze),
    "freeze_low to freeze_high": ("That frost: likely range", _freeze),
    # past sowings
    "harvest": ("Harvest", _date),
    "failed": ("Failed", _text),
    "expected_first to expected_last": ("Harvest expected, in 8 years of 10", _date),
    "expected_date": ("Harvest expected, middle year", _date),
    "model_date": ("Harvest by the model of that year", _date),
    "own_share": ("Rests on your harvests", _share),
    "sowings": ("Harvests that count", _whole),
    "days": ("Days on a packet", _whole),
    "usual_days": ("Usual", _whole),
    # crops
    "crop": ("Crop", _text),
    "cover": ("Cover", _cover),
    "weeks": ("Weeks under cover", _whole),
    "first_day to last_day": ("Sow or plant", _start),
    "limit": ("What limits it", _text),
    # the record
    "variable": ("Measured", _measured),
    "present": ("Days present", _whole),
    "missing": ("Days missing", _whole),
    "set_aside": ("Days rejected", _whole),
    "break_year": ("First year after the step", _year),
    "step": ("Step ({unit})", _gap),
    "p": ("Chance alone, p", _number(3)),
    # a covered space
    "coldest": ("Coldest inside ({unit})", _warmth),
    "hottest": ("Hottest inside ({unit})", _warmth),
    "too_cold": ("Days too cold", _whole),
    "too_hot": ("Days too hot", _whole),
    # stations and gardens
    "window_median": ("Mild spell, typical year (days)", _whole),
    "shorter_share": ("Years too short", _share),
    "name": ("Record", _text),
    "mean": ("Mean ({unit})", _warmth),
    "difference in degC": ("Warmer than the first ({unit})", _gap),
    "spread": ("Spread of that ({unit})", _gap),
    "freezes": ("Days a year with a frost", _whole),
    "error": ("Error on days left out ({unit})", _gap),
    "explained": ("Variance explained", _share),
    "shift_days": ("Days shifted", _whole),
    "weight": ("Weight", _number(2)),
    "month": ("Month", _month),
    "tmin": ("Minimum ({unit})", _gap),
    "tmin_se": ("give or take", _fine_gap),
    "tmin_days": ("from days", _whole),
    "tmax": ("Maximum ({unit})", _gap),
    "tmax_se": ("give or take", _fine_gap),
    "tmax_days": ("from days", _whole),
    "tmean": ("Mean ({unit})", _gap),
    "tmean_se": ("give or take", _fine_gap),
    "tmean_days": ("from days", _whole),
    "tmin_years": ("of years", _whole),
    "tmax_years": ("of years", _whole),
    "tmean_years": ("of years", _whole),
}
"""Heading and wording of each column."""


# --- tables -------------------------------------------------------------------------------


def in_words(
    result: xr.Dataset | pd.DataFrame, columns: Sequence[str], *, units: Units = "C"
) -> pd.DataFrame:
    """A result as a table to read, not to compute with.

    Parameters
    ----------
    result : Dataset or DataFrame
        A result; its dimensions come first, as columns of their own.
    columns : sequence of str
        What is shown of it, in this order; ``"low to high"`` shows two as one. What has no words
        here keeps its name.
    units : {"C", "F"}
        Unit of the temperatures shown.

    Returns
    -------
    DataFrame
        Of text, under a head for each column; heads may be alike. The first column is the index. A
        result without dimensions has a row for each column instead.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> odds = cw.freeze_odds(daily, levels=[0.5, 0.1])
    >>> table = cw.in_words(odds, ["last_spring", "first_autumn"])
    >>> table.shape, table.columns.tolist()
    ((2, 2), ['Spring: a frost on this day or later', 'Autumn: a frost on this day or earlier'])
    """
    import pandas as pd

    frame, names = _flat(result, list(columns))
    heads, rows = {}, {}
    for name in names:
        pair = name.split(" to ")
        given = f"{name} in {result[pair[0]].attrs.get('units')}"
        own = name.replace("_", " ").capitalize(), _text
        head, say = _HEADS.get(given) or _HEADS.get(name, own)
        if name == "season" and any(isinstance(each, str) for each in frame[name]):
            head = "Season"  # of recommended dates; else the year in which a season begins
        ends = zip(*(frame[end] for end in pair), strict=True)
        texts = (" to ".join(dict.fromkeys(say(end, units) for end in both)) for both in ends)
        heads[name] = head.format(unit=f"°{units}")
        rows[name] = [re.sub(r"(?<=\d) ", BLANK, text) for text in texts]
    table = pd.DataFrame(rows)
    if isinstance(result, xr.Dataset) and not result[_single(columns)].sizes:
        return table.rename(columns=heads).T.set_axis([""], axis=1)
    first, *others = heads
    table = table.set_index(first).set_axis([heads[name] for name in others], axis=1)
    return table.rename_axis(index=None, columns=heads[first])


def _single(columns: Sequence[str]) -> list[str]:
    """Names of columns, with those shown as one split."""
    return [end for name in columns for end in name.split(" to ")]


def _as_started(frame: pd.DataFrame) -> pd.DataFrame:
    """A table of ways whose crops without a cover are planted, not sown, or stand already."""
    bare = frame["cover"] == "none"
    how = frame["propagation"].map(_WITHOUT_COVER).where(bare)
    frame = frame.assign(cover=how.fillna(frame["cover"]))
    blank = {"weeks": bare, **dict.fromkeys(("first_day", "last_day"), how == "established plants")}
    hidden = {name: frame[name].mask(rows) for name, rows in blank.items() if name in frame}
    return frame.assign(**hidden)


def _flat(result: xr.Dataset | pd.DataFrame, columns: list[str]) -> tuple[pd.DataFrame, list[str]]:
    """The result with all its dimensions as columns, and the names of the columns shown."""
    if not isinstance(result, xr.Dataset):
        return result, columns
    chosen = result[_single(columns)]
    labels = [str(name) for name in chosen.dims if name in chosen.indexes]
    frame = (chosen if chosen.sizes else chosen.expand_dims("row")).to_dataframe().reset_index()
    if {"cover", "propagation"} <= {*frame}:
        frame = _as_started(frame)
    return frame, [*(name for name in labels if name not in columns), *columns]
