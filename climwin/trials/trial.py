"""Bed trials: laid out at random, planned large enough, read back and weighed."""

from __future__ import annotations

import re
from bisect import bisect_left
from collections.abc import Sequence
from itertools import islice, product
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import xarray as xr

from climwin.core.schema import DataGapError, RecordError, check_choice
from climwin.core.stats import LEVEL
from climwin.io import delimited
from climwin.io.exports import as_written, without_formulas

if TYPE_CHECKING:
    import pandas as pd

ONE_SEASON = (
    "One season on one bed cannot tell how it goes in a colder, wetter or hotter year, on other "
    "soil or with another variety: repeat it."
)
MEASURES = ("heads", "weight_g")

_EXACT_PAIRS = 15  # up to here all swaps within pairs are counted, 32,768 at most
_MOST_BLOCKS, _MOST_PAIRS = 200, 10_000
_SWAPS = 20_000
_SEED = 20_270_401  # of the swaps drawn at random, so that a result can be had again
_KEYS = ("block", "plot", "treatment")
_DATES, _NOTES = ("planted", "harvested"), "notes"
_RESULTS = ("difference", "low", "high", "p", "pairs", "left_out", "mean", "mean_against")


# --- beforehand ---------------------------------------------------------------------------


def lay_out_trial(treatments: Sequence[str], *, blocks: int = 6, seed: int) -> pd.DataFrame:
    """Plots of a side-by-side trial: every treatment once in each block, in random order.

    With two treatments a block is a pair of neighbouring plots; with more it is a randomised
    complete block. Lay the blocks so that what differs along the bed, such as shade or soil,
    differs between blocks and not within them.

    Parameters
    ----------
    treatments : sequence of str
        At least two, such as ``["sown in place", "raised under cover"]``.
    blocks : int
        Pairs, or blocks; `pairs_needed` says how many.
    seed : int
        The same seed gives the same plan.

    Returns
    -------
    DataFrame
        One row a plot along the bed: ``block``, ``plot``, ``position`` in the block, ``treatment``.

    Raises
    ------
    ValueError
        If there are fewer than two treatments, one is named twice, or `blocks` is out of range.
    """
    import pandas as pd

    names = [" ".join(name.split()) for name in treatments]
    if len(names) < 2 or len(set(names)) < len(names) or not all(names):
        msg = (
            "A trial compares at least two treatments with names of their own, got "
            f"{list(treatments)}. Give such as ['sown in place', 'raised under cover']."
        )
        raise ValueError(msg)
    if not 2 <= blocks <= _MOST_BLOCKS:
        msg = f"blocks must lie between 2 and {_MOST_BLOCKS}, got {blocks}."
        raise ValueError(msg)
    draw = np.random.default_rng(seed)
    order = np.concatenate([draw.permutation(len(names)) for _ in range(blocks)])
    plots = np.arange(len(order))
    return pd.DataFrame(
        {
            "block": plots // len(names) + 1,
            "plot": plots + 1,
            "position": plots % len(names) + 1,
            "treatment": [names[n] for n in order],
        }
    )


def record_sheet(layout: pd.DataFrame, *, measures: Sequence[str] = MEASURES) -> str:
    """A sheet to print and fill, as CSV that `read_trial` reads back.

    Parameters
    ----------
    layout : DataFrame
        From `lay_out_trial`.
    measures : sequence of str
        What is measured on each plot; put the unit into the name.
    """
    head = "# Dates as 2027-05-31. Keep the row of a plot that failed, its cells blank.\n"
    blanks = dict.fromkeys([*_DATES, *measures, _NOTES], "")
    rows = layout[list(_KEYS)].assign(**blanks)
    return head + without_formulas(rows).to_csv(index=False, lineterminator="\n")


def pairs_needed(
    difference: float, spread: float, *, power: float = 0.8, level: float = 0.05
) -> int:
    """Pairs that a trial needs to see a difference, one plot or plant of each treatment a pair.

    Parameters
    ----------
    difference : float
        Smallest difference worth seeing, in the unit of the measure.
    spread : float
        Standard deviation of the difference within pairs; where only that of single plots is
        known, 1.41 times it.
    power : float
        Chance to see such a difference if it is there, 0 to 1.
    level : float
        Chance to see one that is not there, 0 to 1.

    Returns
    -------
    int
        Fewest pairs for which the two-sided paired t test has the power asked for.

    Raises
    ------
    ValueError
        If an argument is out of range, or more than 10,000 pairs were needed.
    """
    from scipy import stats

    _check_share("power", power)
    _check_share("level", level)
    if not (np.isfinite(difference) and difference != 0 and np.isfinite(spread) and spread > 0):
        msg = (
            "difference must not be 0 and spread must be above 0, both in the unit of the measure; "
            f"got difference={difference} and spread={spread}."
        )
        raise ValueError(msg)

    def chance(pairs: int) -> float:
        shift, edge = np.sqrt(pairs) * abs(difference) / spread, stats.t.isf(level / 2, pairs - 1)
        wrong_side = np.nan_to_num(stats.nct.cdf(-edge, pairs - 1, shift))  # missing below 1e-15
        return float(stats.nct.sf(edge, pairs - 1, shift) + wrong_side)

    sizes = range(2, _MOST_PAIRS + 1)
    place = bisect_left(sizes, power, key=chance)
    if place == len(sizes):
        msg = (
            f"More than {_MOST_PAIRS} pairs would be needed to see {difference} against a spread "
            f"of {spread}. Look for a larger difference, or measure more evenly."
        )
        raise ValueError(msg)
    return sizes[place]


def _check_share(name: str, share: float) -> None:
    if not 0 < share < 1:
        msg = f"{name} must lie between 0 and 1, got {share}."
        raise ValueError(msg)


# --- the filled sheet ---------------------------------------------------------------------


def read_trial(path: str | Path) -> pd.DataFrame:
    """A filled record sheet.

    Parameters
    ----------
    path : str or Path
        CSV with columns ``block``, ``plot`` and ``treatment``; ``planted``, ``harvested`` and
        ``notes`` where kept; every other column is a measure.

    Returns
    -------
    DataFrame
        One row a plot; measures as numbers, missing where blank; ``days_to_harvest`` among them
        where both dates are kept.

    Raises
    ------
    RecordError
        Names the line and the cell, or the plots that are missing.
    """
    import pandas as pd

    file = Path(path)
    body = delimited.lines(file, delimited.encoding(file))
    top = _head(next(body, None), file.name)
    lines, texts, faults = delimited.columns(body, top, range(len(top.names)))
    cells: dict[str, np.ndarray] = {}
    for place, name in enumerate(top.names):
        if name not in ("", _NOTES):
            read, what, advice = _COLUMNS.get(name, _NO_NUMBER)
            cells[name], bad = read(texts[place])
            faults += delimited.fault(f"cells of {name!r} {what}", advice, bad, lines, texts[place])
    if set(_DATES) <= set(cells):
        days = (cells["harvested"] - cells["planted"]) / np.timedelta64(1, "D")
        cells["days_to_harvest"] = days
        what, advice = "plots were harvested before planted", "Correct the dates."
        faults += delimited.fault(what, advice, days < 0, lines, cells["plot"].tolist())
    delimited.refuse(file.name, faults)
    trial = pd.DataFrame(cells)
    _refuse_holes(trial, lines, file.name)
    return trial


def _head(first: tuple[int, str] | None, file: str) -> delimited.Head:
    top = delimited.head(*first) if first else delimited.Head([], None, 0)
    top = top._replace(names=[as_written(name) for name in top.names])
    names = [name for name in top.names if name]
    lacking = [name for name in _KEYS if name not in names]
    if lacking or len(set(names)) < len(names):
        what = f"lacks {', '.join(lacking)}" if lacking else "names a column twice"
        msg = (
            f"{file} {what}; its head is {', '.join(names)[:80] or 'empty'}. Start from a sheet of "
            "climwin.record_sheet, with a name of its own for every measure."
        )
        raise RecordError(msg)
    return top


def _labels(texts: list[str]) -> tuple[np.ndarray, np.ndarray]:
    words = np.array([as_written(" ".join(text.split())) for text in texts], dtype=object)
    return words, words == ""


def _days(texts: list[str]) -> tuple[np.ndarray, np.ndarray]:
    days, doubt = delimited.dates(texts)
    read = days if doubt is None else np.full(len(texts), np.datetime64("NaT", "D"))
    bad = np.isnat(read) & np.array([bool(text) for text in texts], dtype=bool)
    return read.astype("datetime64[s]"), bad


_EMPTY = (_labels, "are empty", "Every plot needs its block, plot and treatment.")
_NO_DATE = (_days, "are no dates", "Write them as 2027-05-31, or leave them empty.")
_NO_NUMBER = (delimited.numbers, "are no numbers", "Correct them, or leave them empty.")
_COLUMNS = dict.fromkeys(_KEYS, _EMPTY) | dict.fromkeys(_DATES, _NO_DATE)
"""How a column is read, by its name, and what to say where it cannot be."""


def _refuse_holes(trial: pd.DataFrame, lines: np.ndarray, file: str) -> None:
    """Refuse a sheet that does not hold every treatment once in each block."""
    twice = trial.duplicated(["block", "treatment"]).to_numpy()
    if twice.any():
        row = int(twice.argmax())
        msg = (
            f"{file}, line {lines[row]}: {delimited.quoted(trial['treatment'][row])} stands twice "
            f"in block {trial['block'][row]:.60}. Correct it against the plan of the bed."
        )
        raise RecordError(msg)
    blocks, treatments = _numbered(list(trial["block"].unique())), trial["treatment"].unique()
    if len(treatments) < 2:
        msg = f"{file} holds {len(treatments)} treatments. A trial compares at least two."
        raise RecordError(msg)
    lost = len(blocks) * len(treatments) - len(trial)
    if lost:
        there = set(zip(trial["block"], trial["treatment"], strict=True))
        each = (pair for pair in product(blocks, treatments) if pair not in there)
        first = (
            f"{delimited.quoted(name)} of block {block:.60}" for block, name in islice(each, 6)
        )
        msg = (
            f"{file} lacks {lost} of its plots: {', '.join(first)}. Keep the row of a plot "
            "that failed and leave its measures blank; spell treatments alike in every block."
        )
        raise RecordError(msg)


def _numbered(blocks: list[str]) -> list[str]:
    """The blocks of a sheet; where they are numbers, from 1 on, so that none goes unnoticed."""
    if not all(re.fullmatch("[1-9][0-9]{0,2}", block) for block in blocks):
        return blocks
    return [str(n) for n in range(1, max(map(int, blocks), default=0) + 1)]


# --- what came out ------------------------------------------------------------------------


def trial_result(
    trial: pd.DataFrame, measure: str, *, against: str | None = None, level: float = LEVEL
) -> xr.Dataset:
    """Differences of treatments within pairs or blocks.

    Parameters
    ----------
    trial : DataFrame
        From `read_trial`.
    measure : str
        One of its measures.
    against : str, optional
        Treatment that the others are compared with; else the first of the alphabet.
    level : float
        Confidence of the interval, 0 to 1.

    Returns
    -------
    Dataset, dims (treatment)
        Of each other treatment: ``difference`` from `against`, the mean of all pairs, with ``low``
        and ``high`` by Student's t; ``p``, the share of all ways to swap the labels within pairs
        that part the treatments at least as far (20,000 drawn ways above 15 pairs); ``pairs`` that
        count and ``left_out``, in which either cell is blank; ``mean`` and ``mean_against``.

    Raises
    ------
    ValueError
        If the measure or the treatment is not in the trial.
    DataGapError
        If fewer than two pairs are whole.

    References
    ----------
    .. [1] R. A. Fisher, The Design of Experiments, 1935, section 21: the swaps within pairs.
    """
    check_choice("measure", measure, [n for n in trial.columns if n not in (*_KEYS, *_DATES)])
    _check_share("level", level)
    plots = {str(name): rows.set_index("block") for name, rows in trial.groupby("treatment")}
    against = min(plots) if against is None else against
    check_choice("against", against, plots)
    first = plots.pop(against)[measure]
    rows = {
        name: _compared(first, other[measure].reindex(first.index), level)
        for name, other in plots.items()
    }
    out = {name: ("treatment", [row[name] for row in rows.values()]) for name in _RESULTS}
    attrs = {"measure": measure, "against": against, "interval": level}
    return xr.Dataset(out, {"treatment": list(rows)}, attrs)


def _compared(first: pd.Series, other: pd.Series, level: float) -> dict[str, float]:
    from scipy import stats

    whole = (first.notna() & other.notna()).to_numpy()
    a, b = first.to_numpy(float)[whole], other.to_numpy(float)[whole]
    pairs = len(a)
    if pairs < 2:
        msg = (
            f"Only {pairs} pairs hold {first.name!r} on both sides: at least 2 are needed, and six "
            "or more are worth a trial. Fill in the sheet, or choose another measure."
        )
        raise DataGapError(msg)
    gaps = b - a
    half = stats.t.isf((1 - level) / 2, pairs - 1) * gaps.std(ddof=1) / np.sqrt(pairs)
    values = (gaps.mean(), gaps.mean() - half, gaps.mean() + half, swap_p(gaps), pairs)
    return dict(zip(_RESULTS, (*values, len(whole) - pairs, b.mean(), a.mean()), strict=True))


def swap_p(gaps: np.ndarray) -> float:
    """Share of all ways to swap labels within pairs that give a mean gap at least as large.

    Parameters
    ----------
    gaps : ndarray, shape (pairs,)
        Differences within pairs. Up to 15 all ways are counted; above, 20,000 are drawn.
    """
    pairs = len(gaps)
    if pairs <= _EXACT_PAIRS:
        ways = np.arange(2**pairs)[:, None] >> np.arange(pairs) & 1
    else:
        ways = np.random.default_rng(_SEED).integers(0, 2, (_SWAPS, pairs))
    sums = np.abs((2 * ways - 1) @ gaps)
    least = abs(gaps.sum()) - 1e-9 * np.abs(gaps).sum()  # rounding must not lose the trial itself
    drawn = int(pairs > _EXACT_PAIRS)  # of drawn ways the trial's own is one more
    return float(((sums >= least).sum() + drawn) / (len(ways) + drawn))


def describe_trial(result: xr.Dataset) -> str:
    """What came out of a trial in plain words, a sentence each treatment, and what it cannot tell.

    Parameters
    ----------
    result : Dataset, dims (treatment)
        From `trial_result`.
    """
    lines = [_sentence(result.sel(treatment=name)) for name in result["treatment"].values]
    luck = f"Of {len(lines)} comparisons one may stand out by luck alone."
    return " ".join([*lines, *([luck] if len(lines) > 1 else []), ONE_SEASON])


def _sentence(row: xr.Dataset) -> str:
    name, against, measure = row["treatment"].item(), row.attrs["against"], row.attrs["measure"]
    gap, low, high = (float(row[key]) for key in ("difference", "low", "high"))
    seen = f"{name} and {against} cannot be told apart by {measure}: a difference of {_plain(gap)}"
    if low > 0 or high < 0:
        way = "higher" if gap > 0 else "lower"
        seen = f"{measure} differed: {_plain(abs(gap))} {way} with {name} than with {against}"
    return (
        f"{seen} ({100 * row.attrs['interval']:.0f} % interval {_plain(low)} to {_plain(high)}, "
        f"{int(row['pairs'])} pairs). With no real difference chance alone would part them as far "
        f"in {_plain(100 * float(row['p']))} of 100 such trials."
    )


def _plain(value: float) -> str:
    return f"{float(f'{value:.3g}'):,.12g}".replace("-", "\N{MINUS SIGN}")
