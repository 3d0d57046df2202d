"""Analyse a bed trial: read the completed sheet, compare treatments, describe the result."""

from __future__ import annotations

import difflib
import re
from collections.abc import Callable
from itertools import islice, product
from pathlib import Path
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
import xarray as xr

from climwin.core.errors import Call, DataGapError, InputError, RecordError
from climwin.core.formatting import counted, fixed, number, percent, significant
from climwin.core.schema import check_choice
from climwin.crops.model import Crop
from climwin.io import delimited
from climwin.io.exports import as_written
from climwin.trials import plausibility
from climwin.trials.design import (
    DATE_COLUMNS,
    LEVEL_OF_TEST,
    NOTES_COLUMN,
    PLOT_COLUMNS,
    check_fraction,
)
from climwin.trials.dunnett import critical_value, share_within
from climwin.trials.measure import amount, change, change_range, measure_of, outcome, what

if TYPE_CHECKING:
    import pandas as pd

ONE_SEASON = (
    "One season on one bed cannot tell how it goes in a colder, wetter or hotter year, on other "
    "soil or with another variety: repeat it."
)

_LEAST_PAIRS = 2


# --- the completed sheet ------------------------------------------------------------------


def read_trial(path: str | Path) -> pd.DataFrame:
    """Read a completed record sheet.

    Parameters
    ----------
    path : str or Path
        CSV with columns ``block``, ``plot`` and ``treatment``; optional ``planted``, ``harvested``
        and ``notes``; every other column is a response variable.

    Returns
    -------
    DataFrame
        One row per plot; response variables as numbers, missing where blank; also
        ``days_to_harvest`` if the sheet has both dates.

    Raises
    ------
    RecordError
        If a cell cannot be read, plots are missing, a comma may separate thousands or decimals, a
        weight or count is below zero, or a plot is so far from the others that its unit or a digit
        must be wrong. The message names the line and the cell.

    See Also
    --------
    record_sheet : The sheet to start from.
    trial_result : Differences between treatments.

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
    for name, column in measured.items():
        faults += _tenfold(name, column, lines, cells)
    if set(DATE_COLUMNS) <= set(cells):
        days = (cells["harvested"] - cells["planted"]) / np.timedelta64(1, "D")
        cells["days_to_harvest"] = days
        what, advice = "plots were harvested before planted", "Correct the dates."
        faults += delimited.fault(what, advice, days < 0, lines, cells["plot"].tolist())
        what = f"plots stood for more than {number(plausibility.LONGEST_DAYS)} days"
        is_long = days > plausibility.LONGEST_DAYS
        faults += delimited.fault(what, "Correct the year.", is_long, lines, cells["plot"].tolist())
        faults += delimited.fault(
            "plots stood for half a year longer or shorter than the others",
            "Correct the year.",
            plausibility.out_of_season(days) & ~is_long & ~(days < 0),
            lines,
            cells["plot"].tolist(),
        )
    delimited.refuse(file.name, faults)
    cells["treatment"] = _spelt_alike(cells["treatment"])
    trial = pd.DataFrame(cells)
    _check_complete(trial, lines, file.name)
    return trial


def _spelt_alike(names: np.ndarray) -> np.ndarray:
    """Names as they are spelt first, whatever their capitals."""
    first: dict[str, str] = {}
    return np.array([first.setdefault(name.casefold(), name) for name in names], dtype=object)


def _measured(
    name: str, column: list[str], lines: np.ndarray, convention: plausibility.Convention
) -> tuple[np.ndarray, np.ndarray, list[delimited.Fault]]:
    """Values of a response variable, cells that are not numbers, and faults of those that are."""
    values, is_bad, is_doubtful = plausibility.read_numbers(column, convention)
    faults = delimited.fault(
        f"cells of {name!r} may be thousands or decimals",
        "Write 3890 or 3.89: nothing in the file shows what its comma means.",
        is_doubtful,
        lines,
        column,
    )
    faults += delimited.fault(
        f"cells of {name!r} are below zero",
        "No weight or count is: correct them, or leave them empty.",
        plausibility.below_zero(name, values),
        lines,
        column,
    )
    is_unit = plausibility.in_another_unit(values)
    faults += delimited.fault(
        f"cells of {name!r} are far from the others",
        "Two units in one column? Write all plots in the same.",
        is_unit,
        lines,
        column,
    )
    faults += delimited.fault(
        f"cells of {name!r} are {number(plausibility.SLIP_TIMES)} times or more above all others",
        "Has a digit or a point slipped? Correct it, or leave it empty.",
        plausibility.slips(values) & ~is_unit,
        lines,
        column,
    )
    faults += delimited.fault(
        f"cells of {name!r} are all the same",
        "Was one copied down? No two plots weigh the same: write what each weighed.",
        plausibility.copied_down(name, values),
        lines,
        column,
    )
    return values, is_bad, faults + _wrong_unit(name, values, lines, column)


def _wrong_unit(
    name: str, values: np.ndarray, lines: np.ndarray, column: list[str]
) -> list[delimited.Fault]:
    """Weights that no plot of a bed has, in the unit that the column's name says."""
    unit = measure_of(name).unit
    if unit is None or unit not in plausibility.GRAMS:
        return []
    low, high = (each / plausibility.GRAMS[unit] for each in plausibility.PLOT_GRAMS)
    return delimited.fault(
        f"cells of {name!r} are weights that no plot has: half of them must lie between "
        f"{significant(low)} and {significant(high)} {unit}",
        "Write the unit of the weights in the column's name: g, kg, oz or lb.",
        plausibility.no_plots_weight(values, unit),
        lines,
        column,
    )


def _tenfold(
    name: str, column: list[str], lines: np.ndarray, cells: dict[str, np.ndarray]
) -> list[delimited.Fault]:
    """A plot of a response variable that its block and treatment show to be ten times too large."""
    values = cells[name]
    is_told = plausibility.in_another_unit(values) | plausibility.slips(values)
    return delimited.fault(
        f"cells of {name!r} are {number(plausibility.TENFOLD_TIMES)} times or more what the other "
        "plots of their block and treatment make of them",
        "Has a digit or a point slipped? Correct it, or leave it empty.",
        plausibility.tenfold(values, cells["block"], cells["treatment"]) & ~is_told,
        lines,
        column,
    )


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
        raise RecordError(msg, call, ", with its own name for every response variable.")
    return head


def _read_labels(texts: list[str]) -> tuple[np.ndarray, np.ndarray]:
    words = np.array([as_written(" ".join(text.split())) for text in texts], dtype=object)
    return words, words == ""


def _read_dates(texts: list[str]) -> tuple[np.ndarray, np.ndarray]:
    days, ambiguity, two_forms = delimited.dates(texts)
    if ambiguity or two_forms:  # such as 04/05/2027, of April or of May
        days = np.full(len(texts), np.datetime64("NaT", "D"))
    is_bad = np.isnat(days) & np.array([bool(text) for text in texts], dtype=bool)
    return days.astype("datetime64[s]"), is_bad


class _Kind(NamedTuple):
    """How a kind of column is read, and what is said of cells that cannot be read."""

    read: Callable[[list[str]], tuple[np.ndarray, np.ndarray]]
    """Convert the texts of cells to values, and tell which cells are bad."""
    fault: str
    advice: str


def _kind_of(column: str) -> _Kind:
    if column in PLOT_COLUMNS:
        advice = "Every plot needs its block, plot and treatment."
        return _Kind(_read_labels, "are empty", advice)
    if column in DATE_COLUMNS:
        advice = "Write them as 2027-05-31, or leave them empty."
        return _Kind(_read_dates, "are not dates", advice)
    return _Kind(delimited.numbers, "are not numbers", "Correct them, or leave them empty.")


def _check_complete(trial: pd.DataFrame, lines: np.ndarray, file: str) -> None:
    """Refuse a sheet that does not have every treatment once in each block."""
    _refuse_summary(trial, lines, file)
    twice = trial.duplicated(["block", "treatment"]).to_numpy()
    if twice.any():
        row = int(twice.argmax())
        msg = (
            f"{file}, line {lines[row]}: {delimited.quoted(trial['treatment'][row])} occurs twice "
            f"in block {trial['block'][row]:.60}. Correct it against the plan of the bed."
        )
        raise RecordError(msg)
    _refuse_plot_twice(trial, lines, file)
    blocks, treatments = _numbered(list(trial["block"].unique())), trial["treatment"].unique()
    if len(treatments) < 2:
        msg = f"{file} has {len(treatments)} treatments. A trial compares at least two."
        raise RecordError(msg)
    lacking = len(blocks) * len(treatments) - len(trial)
    if lacking:
        present = set(zip(trial["block"], trial["treatment"], strict=True))
        # Lazily: a sheet with many misspelt names has more missing plots than fit in memory.
        missing = (plot for plot in product(blocks, treatments) if plot not in present)
        examples = (
            f"{delimited.quoted(name)} of block {block:.60}" for block, name in islice(missing, 6)
        )
        msg = (
            f"{file} lacks {lacking} of its plots: {', '.join(examples)}. Keep the row of a plot "
            "that failed and leave its other cells blank; spell treatments alike in every block."
            f"{_misspelt(trial, lines)}"
        )
        raise RecordError(msg)


def _refuse_summary(trial: pd.DataFrame, lines: np.ndarray, file: str) -> None:
    """Refuse a block that is not numbered, where the others are: it may be means or totals."""
    is_number = trial["block"].str.isdecimal().to_numpy(bool)
    odd, numbered = (set(trial["block"][each]) for each in (~is_number, is_number))
    if len(odd) == 1 and len(numbered) >= _LEAST_PAIRS:
        row = int((~is_number).argmax())
        msg = (
            f"{file}, line {lines[row]}: block {delimited.quoted(odd.pop())} is not numbered as "
            "the others are. If it holds means or totals leave those rows out; if not give it a "
            "number."
        )
        raise RecordError(msg)


def _misspelt(trial: pd.DataFrame, lines: np.ndarray) -> str:
    """Which name may be a slip for which other: one of a single plot, close to one of several."""
    count = trial["treatment"].value_counts()
    several = [str(name) for name in count.index[count > 1]]
    for name in count.index[count == 1]:
        near = difflib.get_close_matches(str(name), several, n=1)
        if near:
            line = lines[int((trial["treatment"] == name).to_numpy().argmax())]
            return (
                f" Line {line} has {delimited.quoted(name)}: did you mean "
                f"{delimited.quoted(near[0])}?"
            )
    return ""


def _refuse_plot_twice(trial: pd.DataFrame, lines: np.ndarray, file: str) -> None:
    """Refuse a plot on two rows; numbering may restart in each block or run through the bed."""
    of_each_block = {frozenset(rows) for _, rows in trial.groupby("block")["plot"]}
    restarts = len(of_each_block) == 1 < len(trial["block"].unique())
    twice = trial.duplicated(["block", "plot"] if restarts else ["plot"]).to_numpy()
    if twice.any():
        row = int(twice.argmax())
        msg = (
            f"{file}, line {lines[row]}: plot {delimited.quoted(trial['plot'][row])} is listed "
            "a second time. Correct it against the plan of the bed: a plot has one treatment and "
            "one row."
        )
        raise RecordError(msg)


def _numbered(blocks: list[str]) -> list[str]:
    """Blocks of a sheet; if numbered, all from 1 up, so that a missing one is noticed."""
    if not all(re.fullmatch("[1-9][0-9]{0,2}", block) for block in blocks):
        return blocks
    return [str(n) for n in range(1, max(map(int, blocks), default=0) + 1)]


# --- the result ---------------------------------------------------------------------------


def trial_result(
    trial: pd.DataFrame,
    response_variable: str,
    *,
    against: str | None = None,
    level: float = 1 - LEVEL_OF_TEST,
    unit: str | None = None,
) -> xr.Dataset:
    """Estimate and test the differences of treatments from one of them, within pairs or blocks.

    Parameters
    ----------
    trial : DataFrame
        From `read_trial`.
    response_variable : str
        What is compared: one of the trial's columns of numbers, or its quantity in words, such as
        weight for ``weight_g``.
    against : str, optional
        Treatment that the others are compared with; the default is the first in the alphabet.
    level : float
        Confidence level, 0 to 1, that all intervals hold simultaneously.
    unit : str, optional
        Of the response variable, for a column whose name does not say: g, kg, oz, lb, count, mm,
        cm, m, in, ft, ml, l, days, percent or score.

    Returns
    -------
    Dataset, dims (treatment)
        For each other treatment: ``difference`` from `against` by least squares (the mean of all
        pairs if no cell is blank), with ``low`` and ``high``; ``p``, the chance that any treatment
        would differ as clearly if none had an effect; complete ``pairs``, and ``left_out``, pairs
        with a blank cell; ``mean`` and ``mean_against`` of the complete pairs. A treatment differs
        if ``p`` is below 1 - `level`; exactly then the interval excludes zero.

    Raises
    ------
    ValueError
        If the response variable or the treatment is not in the trial, a treatment occurs twice in a
        block, or the column's name contradicts `unit`.
    DataGapError
        If fewer than two pairs are complete.

    See Also
    --------
    describe_trial : The result in words.
    pairs_needed : How large a trial must be for the same test.

    Notes
    -----
    Two treatments are compared by the paired t test, more by Dunnett's test on the residual mean
    square of blocks and treatments [1]_. The residual variance is at least that of rounding to the
    step in which the plots were measured.

    References
    ----------
    .. [1] C. W. Dunnett, "A multiple comparison procedure for comparing several treatments with a
       control," Journal of the American Statistical Association 50:1096-1121, 1955 (from memory).

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
    response_variable = _column_of(response_variable, columns)
    check_choice("response_variable", response_variable, columns)
    measured_in = measure_of(response_variable, unit).unit
    check_fraction("level", level)
    _refuse_repeated(trial)
    by_plot = trial.set_index(["block", "treatment"])[response_variable].astype(float)
    plots = by_plot.unstack("treatment")  # noqa: PD010 (each plot is there once)
    against = min(map(str, plots)) if against is None else against
    check_choice("against", against, plots)
    others = [name for name in plots if name != against]
    has_both = plots[others].notna().mul(plots[against].notna(), axis=0)
    pairs = has_both.sum()
    if pairs.min() < _LEAST_PAIRS:
        msg = (
            f"Only {counted(pairs.min(), 'pair')} of plots with the "
            f"{measure_of(response_variable, unit).name} of both {pairs.idxmin()!r} and "
            f"{against!r}: at least {_LEAST_PAIRS} are "
            "needed, and six or more are worth a trial. Fill in the sheet, or compare something "
            "else that you measured."
        )
        raise DataGapError(msg)
    fit = _least_squares(plots[[against, *others]].to_numpy())
    reach = critical_value(fit.correlations, fit.freedom, level) * fit.errors
    columns_of = {
        "difference": fit.differences,
        "low": fit.differences - reach,
        "high": fit.differences + reach,
        "p": _p_of(fit),
        "pairs": pairs.to_numpy(int),
        "left_out": (len(plots) - pairs).to_numpy(int),
        "mean": [plots[name][has_both[name]].mean() for name in others],
        "mean_against": [plots[against][has_both[name]].mean() for name in others],
    }
    out = {name: ("treatment", column) for name, column in columns_of.items()}
    attrs = {"response_variable": response_variable, "against": against, "interval": level}
    if measured_in is not None:
        attrs["unit"] = measured_in
    return xr.Dataset(out, {"treatment": [str(name) for name in others]}, attrs)


def _column_of(text: str, columns: list[str]) -> str:
    """Column that a text means: by its name, or by its quantity if only one column has it."""
    if text in columns:
        return text
    plain = " ".join(text.casefold().replace("_", " ").split())
    named = [
        name
        for name in columns
        if plain in (measure_of(name).name.casefold(), measure_of(name).label.casefold())
    ]
    return named[0] if len(named) == 1 else text


def _refuse_repeated(trial: pd.DataFrame) -> None:
    """Refuse a treatment that occurs twice in a block, which would count a plot twice."""
    twice = trial.duplicated(["block", "treatment"]).to_numpy()
    if twice.any():
        row = trial.iloc[int(twice.argmax())]
        msg = (
            f"The trial has {row['treatment']!r} twice in block {row['block']}. Keep the row of "
            "each plot once."
        )
        raise InputError(msg)


class _Fit(NamedTuple):
    """Differences of treatments from the one that they are compared with, by least squares."""

    differences: np.ndarray
    errors: np.ndarray
    """Standard errors of the differences."""
    correlations: np.ndarray
    """Between the differences, because all share one treatment."""
    freedom: int
    """Degrees of freedom of the standard errors."""


def _least_squares(plots: np.ndarray) -> _Fit:
    """Fit effects of treatments in blocks to plots of shape (blocks, treatments), blanks missing.

    The first treatment is the one that the others are compared with.
    """
    plots = plots[np.isfinite(plots).sum(axis=1) > 1]  # a lone plot has nothing to be compared with
    blocks, treatments = plots.shape
    block, treatment = np.nonzero(np.isfinite(plots))
    values = plots[block, treatment]
    values = values - values[0]  # so that identical plots leave no rounding error
    design = np.hstack([np.eye(blocks)[block], np.eye(treatments)[treatment][:, 1:]])
    effects, *_ = np.linalg.lstsq(design, values)
    residuals = values - design @ effects
    freedom = len(values) - np.linalg.matrix_rank(design)
    variance = max(residuals @ residuals / freedom, _step(values) ** 2 / 12)
    shape = np.linalg.pinv(design.T @ design)[blocks:, blocks:]
    scale = np.sqrt(np.diag(shape))
    return _Fit(
        differences=effects[blocks:],
        errors=np.sqrt(variance) * scale,
        correlations=shape / np.outer(scale, scale),
        freedom=int(freedom),
    )


def _step(values: np.ndarray) -> float:
    """Smallest difference between two plots; rounding to it has its square / 12 as variance."""
    steps = np.diff(np.unique(values))
    return float(steps.min()) if len(steps) else 0.0


def _p_of(fit: _Fit) -> np.ndarray:
    """Chance that any treatment differs as clearly as each does, if none had an effect."""
    t = np.abs(fit.differences) / np.where(fit.errors > 0, fit.errors, np.inf)
    return np.array([1 - share_within(each, fit.correlations, fit.freedom) for each in t])


def describe_trial(result: xr.Dataset, crop: Crop | None = None) -> str:
    """Describe the result of a trial in plain words, and what one season cannot tell.

    Parameters
    ----------
    result : Dataset, dims (treatment)
        From `trial_result`.
    crop : Crop, optional
        What was grown, for its own words, such as tubers lifted or heads cut.

    Returns
    -------
    str
        A sentence or two for each treatment, one on comparing several, and what one season cannot
        tell.

    Examples
    --------
    >>> import climwin as cw
    >>> trial = cw.read_trial(cw.sample("bed_trial.csv"))
    >>> result = cw.trial_result(trial, "weight_g", against="sown in place")
    >>> print(cw.describe_trial(result, cw.crop("cauliflower")).split(": ")[0])
    By weight of heads cut, raised in a frame and sown in place cannot be told apart
    """
    sentences = [_sentence(result.sel(treatment=name), crop) for name in result["treatment"].values]
    if len(sentences) > 1:
        sentences.append(
            f"Intervals and chances allow for all {len(sentences)} comparisons at once (Dunnett's "
            "test)."
        )
    return " ".join([*sentences, ONE_SEASON])


def differs(row: xr.Dataset) -> bool:
    """Whether a treatment differs significantly from the one that it is compared with.

    Parameters
    ----------
    row : Dataset
        One treatment of `trial_result`.
    """
    return bool(row["p"] < 1 - row.attrs["interval"])


def _sentence(row: xr.Dataset, crop: Crop | None) -> str:
    name, against = row["treatment"].item(), row.attrs["against"]
    measure = measure_of(row.attrs["response_variable"], row.attrs.get("unit"))
    difference, low, high = (float(row[key]) for key in ("difference", "low", "high"))
    if differs(row):
        found = f"With {name}, {outcome(measure, difference, crop)} than with {against}"
    else:
        # Gaps that cancel leave a rounding error, which is no difference.
        is_some = abs(difference) > 1e-9 * (high - low)
        size = change(difference, measure.unit) if is_some else "no difference"
        measured = what(measure, crop)
        found = f"By {measured}, {name} and {against} cannot be told apart: {size} with {name}"
    means = [amount(float(row[key]), measure.unit) for key in ("mean", "mean_against")]
    return (
        f"{found} ({percent(row.attrs['interval'])} interval "
        f"{change_range(low, high, measure.unit)}; means {means[0]} and {means[1]}, "
        f"{counted(int(row['pairs']), 'pair')}). If the two were really alike, chance alone would "
        f"set them as far apart in {_of_a_hundred(float(row['p']))} of 100 such trials."
    )


def _of_a_hundred(p: float) -> str:
    return fixed(100 * p) if p >= 0.01 else "fewer than 1"
