"""Analysing a bed trial: the completed sheet, treatments compared, and the result in words."""

from __future__ import annotations

import re
from collections.abc import Callable
from itertools import islice, product
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import xarray as xr

from climwin.core.errors import Call
from climwin.core.formatting import counted, number, percent, significant
from climwin.core.schema import DataGapError, RecordError, check_choice
from climwin.core.stats import LEVEL
from climwin.io import delimited
from climwin.io.exports import as_written
from climwin.trials import plausibility
from climwin.trials.design import DATE_COLUMNS, NOTES_COLUMN, PLOT_COLUMNS, check_fraction

if TYPE_CHECKING:
    import pandas as pd

ONE_SEASON = (
    "One season on one bed cannot tell how it goes in a colder, wetter or hotter year, on other "
    "soil or with another variety: repeat it."
)

_EXACT_PAIRS = 15  # up to here all swaps within pairs are counted, 32,768 at most
_SWAPS = 20_000
_SEED = 20_270_401  # of the swaps drawn at random, so that a result can be had again


# --- the completed sheet ------------------------------------------------------------------


def read_trial(path: str | Path) -> pd.DataFrame:
    """Read a completed record sheet.

    Parameters
    ----------
    path : str or Path
        CSV with columns ``block``, ``plot`` and ``treatment``; ``planted``, ``harvested`` and
        ``notes`` where they are there; every other column is a response variable.

    Returns
    -------
    DataFrame
        One row a plot; response variables as numbers, missing where blank; ``days_to_harvest``
        among them where both dates are there.

    Raises
    ------
    RecordError
        Names the line and the cell, or the plots that are missing; also where a comma may part
        thousands or decimals, where a weight or count lies below zero, and where a plot is so far
        from the others that its unit or a digit must be wrong.

    See Also
    --------
    record_sheet : The sheet to start from.
    trial_result : What the treatments differ by.

    Examples
    --------
    >>> import climwin as cw
    >>> trial = cw.read_trial(cw.sample("bed_trial.csv"))
    >>> sorted(trial["treatment"].unique())
    ['raised in a frame', 'sown in place']
    """
    import pandas as pd

    file = Path(path)
    body = delimited.lines(file, delimited.encoding(file))
    head = _head(next(body, None), file.name)
    lines, texts, faults = delimited.columns(body, head, range(len(head.names)))
    cells: dict[str, np.ndarray] = {}
    measured = {
        name: texts[position]
        for position, name in enumerate(head.names)
        if name not in ("", NOTES_COLUMN, *PLOT_COLUMNS, *DATE_COLUMNS)
    }
    every = [text for column in measured.values() for text in column]
    convention = plausibility.number_convention(every, head.delimiter)
    for position, name in enumerate(head.names):
        if name in ("", NOTES_COLUMN):
            continue
        kind, column = _kind_of(name), texts[position]
        if name in measured:
            cells[name], is_bad, faults_here = _measured(name, column, lines, convention)
            faults += faults_here
        else:
            cells[name], is_bad = kind.read(column)
        what = f"cells of {name!r} {kind.fault}"
        faults += delimited.fault(what, kind.advice, is_bad, lines, column)
    if set(DATE_COLUMNS) <= set(cells):
        days = (cells["harvested"] - cells["planted"]) / np.timedelta64(1, "D")
        cells["days_to_harvest"] = days
        what, advice = "plots were harvested before planted", "Correct the dates."
        faults += delimited.fault(what, advice, days < 0, lines, cells["plot"].tolist())
        what = f"plots stood for more than {number(plausibility.LONGEST_DAYS)} days"
        is_long = days > plausibility.LONGEST_DAYS
        faults += delimited.fault(what, "Correct the year.", is_long, lines, cells["plot"].tolist())
    delimited.refuse(file.name, faults)
    trial = pd.DataFrame(cells)
    _check_complete(trial, lines, file.name)
    return trial


def _measured(
    name: str, column: list[str], lines: np.ndarray, convention: plausibility.Convention
) -> tuple[np.ndarray, np.ndarray, list[delimited.Fault]]:
    """Values of a response variable, cells that are no numbers, and faults of those that are."""
    values, is_bad, is_doubtful = plausibility.read_numbers(column, convention)
    faults = delimited.fault(
        f"cells of {name!r} may be thousands or decimals",
        "Write 3890 or 3.89: nothing in the file shows what its comma means.",
        is_doubtful,
        lines,
        column,
    )
    faults += delimited.fault(
        f"cells of {name!r} lie below zero",
        "No weight or count does: correct them, or leave them empty.",
        plausibility.below_zero(name, values),
        lines,
        column,
    )
    is_unit = plausibility.in_another_unit(values)
    faults += delimited.fault(
        f"cells of {name!r} lie far from the others",
        "Two units in one column? Write all plots in the same.",
        is_unit,
        lines,
        column,
    )
    faults += delimited.fault(
        f"cells of {name!r} lie {number(plausibility.SLIP_TIMES)} times or more above all others",
        "Has a digit or a point slipped? Correct it, or leave it empty.",
        plausibility.slips(values) & ~is_unit,
        lines,
        column,
    )
    return values, is_bad, faults


def _head(first: tuple[int, str] | None, file: str) -> delimited.Head:
    """Names of the columns, from the first line of the table."""
    head = delimited.head(*first) if first else delimited.Head([], None, 0)
    head = head._replace(names=[as_written(name) for name in head.names])
    names = [name for name in head.names if name]
    lacking = [name for name in PLOT_COLUMNS if name not in names]
    if lacking or len(set(names)) < len(names):
        what = f"lacks {', '.join(lacking)}" if lacking else "names a column twice"
        msg = (
            f"{file} {what}; its head is {', '.join(names)[:80] or 'empty'}. Start from a sheet of "
        )
        call = Call("record_sheet", ("layout",))
        raise RecordError(msg, call, ", with a name of its own for every response variable.")
    return head


def _read_labels(texts: list[str]) -> tuple[np.ndarray, np.ndarray]:
    words = np.array([as_written(" ".join(text.split())) for text in texts], dtype=object)
    return words, words == ""


def _read_dates(texts: list[str]) -> tuple[np.ndarray, np.ndarray]:
    days, ambiguity = delimited.dates(texts)
    if ambiguity is not None:  # such as 04/05/2027, of April or of May
        days = np.full(len(texts), np.datetime64("NaT", "D"))
    is_bad = np.isnat(days) & np.array([bool(text) for text in texts], dtype=bool)
    return days.astype("datetime64[s]"), is_bad


class _Kind(NamedTuple):
    """How a kind of column is read, and what to say of cells that cannot be."""

    read: Callable[[list[str]], tuple[np.ndarray, np.ndarray]]
    """Texts of the cells to their values, and which cells are bad."""
    fault: str
    advice: str


def _kind_of(column: str) -> _Kind:
    if column in PLOT_COLUMNS:
        advice = "Every plot needs its block, plot and treatment."
        return _Kind(_read_labels, "are empty", advice)
    if column in DATE_COLUMNS:
        advice = "Write them as 2027-05-31, or leave them empty."
        return _Kind(_read_dates, "are no dates", advice)
    return _Kind(delimited.numbers, "are no numbers", "Correct them, or leave them empty.")


def _check_complete(trial: pd.DataFrame, lines: np.ndarray, file: str) -> None:
    """Refuse a sheet that does not have every treatment once in each block."""
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
    lacking = len(blocks) * len(treatments) - len(trial)
    if lacking:
        present = set(zip(trial["block"], trial["treatment"], strict=True))
        # Looked for one by one: a sheet of many odd names has more missing plots than memory.
        missing = (plot for plot in product(blocks, treatments) if plot not in present)
        examples = (
            f"{delimited.quoted(name)} of block {block:.60}" for block, name in islice(missing, 6)
        )
        msg = (
            f"{file} lacks {lacking} of its plots: {', '.join(examples)}. Keep the row of a plot "
            "that failed and leave its other cells blank; spell treatments alike in every block."
        )
        raise RecordError(msg)


def _numbered(blocks: list[str]) -> list[str]:
    """The blocks of a sheet; where they are numbers, from 1 on, so that none goes unnoticed."""
    if not all(re.fullmatch("[1-9][0-9]{0,2}", block) for block in blocks):
        return blocks
    return [str(n) for n in range(1, max(map(int, blocks), default=0) + 1)]


# --- the result ---------------------------------------------------------------------------


def trial_result(
    trial: pd.DataFrame,
    response_variable: str,
    *,
    against: str | None = None,
    level: float = LEVEL,
) -> xr.Dataset:
    """Differences of treatments within pairs or blocks.

    Parameters
    ----------
    trial : DataFrame
        From `read_trial`.
    response_variable : str
        What the treatments are compared by: one of the trial's columns of numbers.
    against : str, optional
        Treatment that the others are compared with; else the first of the alphabet.
    level : float
        Confidence of the interval, 0 to 1.

    Returns
    -------
    Dataset, dims (treatment)
        Of each other treatment: ``difference`` from `against`, the mean of all pairs, with ``low``
        and ``high`` by Student's t; ``p``, the share of all ways to swap the labels within pairs
        that separate the treatments at least as far (20,000 drawn ways above 15 pairs); ``pairs``
        that count and ``left_out``, in which either cell is blank; ``mean`` and ``mean_against``.

    Raises
    ------
    ValueError
        If the response variable or the treatment is not in the trial.
    DataGapError
        If fewer than two pairs are complete.

    See Also
    --------
    describe_trial : The result in words.

    References
    ----------
    .. [1] R. A. Fisher, The Design of Experiments, 1935, section 21: the swaps within pairs.

    Examples
    --------
    >>> import climwin as cw
    >>> trial = cw.read_trial(cw.sample("bed_trial.csv"))
    >>> result = cw.trial_result(trial, "weight_g", against="sown in place")
    >>> result["treatment"].values.tolist(), result["pairs"].values.tolist()
    (['raised in a frame'], [7])
    >>> result["difference"].round().values.tolist()
    [751.0]
    """
    columns = [name for name in trial.columns if name not in (*PLOT_COLUMNS, *DATE_COLUMNS)]
    check_choice("response_variable", response_variable, columns)
    check_fraction("level", level)
    plots = {str(name): rows.set_index("block") for name, rows in trial.groupby("treatment")}
    against = min(plots) if against is None else against
    check_choice("against", against, plots)
    first = plots.pop(against)[response_variable]
    comparisons = [
        _compared(first, other[response_variable].reindex(first.index), level)
        for other in plots.values()
    ]
    out = {
        name: ("treatment", [getattr(each, name) for each in comparisons])
        for name in _Comparison._fields
    }
    attrs = {"response_variable": response_variable, "against": against, "interval": level}
    return xr.Dataset(out, {"treatment": list(plots)}, attrs)


class _Comparison(NamedTuple):
    """One treatment against another; see `trial_result`."""

    difference: float
    low: float
    high: float
    p: float
    pairs: int
    left_out: int
    mean: float
    mean_against: float


def _compared(first: pd.Series, other: pd.Series, level: float) -> _Comparison:
    """The other treatment against the first, block by block."""
    from scipy import stats

    has_both = (first.notna() & other.notna()).to_numpy()
    first_values = first.to_numpy(float)[has_both]
    other_values = other.to_numpy(float)[has_both]
    pairs = len(first_values)
    if pairs < 2:
        msg = (
            f"Only {counted(pairs, 'pair')} with {first.name!r} on both sides: at least 2 are "
            "needed, and six or more are worth a trial. Fill in the sheet, or "
            "choose another response variable."
        )
        raise DataGapError(msg)
    differences = other_values - first_values
    mean = differences.mean()
    half_width = stats.t.isf((1 - level) / 2, pairs - 1) * differences.std(ddof=1) / np.sqrt(pairs)
    return _Comparison(
        difference=mean,
        low=mean - half_width,
        high=mean + half_width,
        p=swap_p(differences),
        pairs=pairs,
        left_out=len(has_both) - pairs,
        mean=other_values.mean(),
        mean_against=first_values.mean(),
    )


def swap_p(differences: np.ndarray) -> float:
    """Share of all ways to swap labels within pairs that separate treatments at least as far.

    Parameters
    ----------
    differences : ndarray, shape (pairs,)
        Within pairs. Up to 15 pairs all ways are counted; above, 20,000 are drawn.
    """
    pairs = len(differences)
    # Less a little, so that rounding does not leave out the trial's own way.
    threshold = abs(differences.sum()) - 1e-9 * np.abs(differences).sum()
    if pairs <= _EXACT_PAIRS:
        # A swap turns the sign of a difference: every row is one way to choose the signs.
        signs = 2 * np.indices((2,) * pairs).reshape(pairs, -1).T - 1
        return float((np.abs(signs @ differences) >= threshold).mean())
    signs = np.random.default_rng(_SEED).choice((-1, 1), (_SWAPS, pairs))
    as_large = (np.abs(signs @ differences) >= threshold).sum()
    return float((as_large + 1) / (_SWAPS + 1))  # the trial's own way is one of those drawn


def describe_trial(result: xr.Dataset) -> str:
    """The result of a trial in plain words, and what one season cannot tell.

    Parameters
    ----------
    result : Dataset, dims (treatment)
        From `trial_result`.

    Returns
    -------
    str
        A sentence for each treatment, one on luck where there are several, and what one season
        cannot tell.

    Examples
    --------
    >>> import climwin as cw
    >>> trial = cw.read_trial(cw.sample("bed_trial.csv"))
    >>> result = cw.trial_result(trial, "weight_g", against="sown in place")
    >>> print(cw.describe_trial(result).split(" (")[0])
    weight_g differed: 751 higher with raised in a frame than with sown in place
    """
    sentences = [_sentence(result.sel(treatment=name)) for name in result["treatment"].values]
    if len(sentences) > 1:
        sentences.append(f"Of {len(sentences)} comparisons one may stand out by luck alone.")
    return " ".join([*sentences, ONE_SEASON])


def _sentence(row: xr.Dataset) -> str:
    name, against = row["treatment"].item(), row.attrs["against"]
    response = row.attrs["response_variable"]
    difference, low, high = (float(row[key]) for key in ("difference", "low", "high"))
    interval = (
        f"{percent(row.attrs['interval'])} interval {significant(low)} to {significant(high)}"
    )
    if low > 0 or high < 0:
        way = "higher" if difference > 0 else "lower"
        outcome = (
            f"{response} differed: {significant(abs(difference))} {way} with {name} than with "
            f"{against}"
        )
    else:
        outcome = (
            f"{name} and {against} cannot be told apart by {response}: "
            f"a difference of {significant(difference)}"
        )
    return (
        f"{outcome} ({interval}, {counted(int(row['pairs']), 'pair')}). With no real difference "
        f"chance alone would part them as far in {significant(100 * float(row['p']))} of 100 such "
        "trials."
    )
