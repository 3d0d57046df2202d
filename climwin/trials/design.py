"""Design a bed trial: number of pairs, plots in random order, and a sheet to fill in."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from climwin.core.errors import InputError, Parameter
from climwin.core.formatting import as_typed, number
from climwin.crops.model import Crop
from climwin.io.exports import without_formulas
from climwin.trials.measure import response_variables as usual_variables

if TYPE_CHECKING:
    import pandas as pd

PLOT_COLUMNS = ("block", "plot", "treatment")
DATE_COLUMNS = ("planted", "harvested")
NOTES_COLUMN = "notes"
"""Columns of a record sheet beside the response variables."""

LEVEL_OF_TEST = 0.05
"""Chance that a trial shows a difference that does not exist (common practice)."""

_MOST_BLOCKS = 200
_MOST_PAIRS = 10_000
_MOST_TREATMENTS = 20


def lay_out_trial(treatments: Sequence[str], *, blocks: int = 6, seed: int) -> pd.DataFrame:
    """Lay out a side-by-side trial: every treatment once in each block, in random order.

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
        One row per plot along the bed: ``block``, ``plot``, ``position`` in the block,
        ``treatment``.

    Raises
    ------
    ValueError
        If there are fewer than two treatments, one is named twice, or `blocks` is out of range.

    See Also
    --------
    pairs_needed : How many blocks to lay out.
    record_sheet : The sheet to print and fill in.

    Examples
    --------
    >>> import climwin as cw
    >>> layout = cw.lay_out_trial(["sown in place", "raised under cover"], blocks=3, seed=7)
    >>> layout.groupby("block").size().tolist()
    [2, 2, 2]
    """
    import pandas as pd

    names = [" ".join(name.split()) for name in treatments]
    if len(names) < 2 or len({name.casefold() for name in names}) < len(names) or not all(names):
        msg = (
            "A trial compares at least two treatments with different names, got "
            f"{' and '.join(map(repr, treatments)) or 'none'}. Give for example "
            "'sown in place' and 'raised under cover'."
        )
        raise InputError(msg)
    if not 2 <= blocks <= _MOST_BLOCKS:
        msg = f" must lie between 2 and {_MOST_BLOCKS}, got {blocks}."
        raise InputError(Parameter("blocks"), msg)
    rng = np.random.default_rng(seed)
    order = np.concatenate([rng.permutation(len(names)) for _ in range(blocks)])
    plots = np.arange(len(order))
    return pd.DataFrame(
        {
            "block": plots // len(names) + 1,
            "plot": plots + 1,
            "position": plots % len(names) + 1,
            "treatment": [names[n] for n in order],
        }
    )


def record_sheet(
    layout: pd.DataFrame,
    *,
    response_variables: Sequence[str] | None = None,
    crop: Crop | None = None,
    unit: str = "g",
) -> str:
    """Make a sheet to print and fill in, as CSV that `read_trial` reads back.

    Parameters
    ----------
    layout : DataFrame
        From `lay_out_trial`.
    response_variables : sequence of str, optional
        What is measured on each plot; put the unit into the name. The default is the count of the
        crop's harvested part, and its weight.
    crop : Crop, optional
        What is grown, which says what is counted: tubers of potatoes; heads if it is left out.
    unit : {"g", "kg", "oz", "lb"}
        Unit of the weight.

    Returns
    -------
    str
        A line of advice, and a table with a row for each plot.

    Examples
    --------
    >>> import climwin as cw
    >>> layout = cw.lay_out_trial(["sown in place", "raised under cover"], blocks=2, seed=7)
    >>> sheet = cw.record_sheet(layout, response_variables=["weight_g"])
    >>> print(sheet.splitlines()[1])
    block,plot,treatment,planted,harvested,weight_g,notes
    >>> print(cw.record_sheet(layout, crop=cw.crop("potato"), unit="lb").splitlines()[1])
    block,plot,treatment,planted,harvested,tubers,weight_lb,notes
    """
    if response_variables is None:
        response_variables = usual_variables(crop, unit)
    advice = "# Dates as 2027-05-31. Keep the row of a plot that failed, its cells blank.\n"
    blanks = dict.fromkeys([*DATE_COLUMNS, *response_variables, NOTES_COLUMN], "")
    rows = layout[list(PLOT_COLUMNS)].assign(**blanks)
    return advice + without_formulas(rows).to_csv(index=False, lineterminator="\n")


def pairs_needed(
    difference: float,
    spread: float,
    *,
    treatments: int = 2,
    power: float = 0.8,
    level: float = LEVEL_OF_TEST,
) -> int:
    """Pairs that a trial needs to show a difference.

    A pair is one plot or plant of each treatment; with more than two treatments it is a block.

    Parameters
    ----------
    difference : float
        Smallest difference worth seeing, in the unit of the response variable.
    spread : float
        Standard deviation of the difference within pairs, or 1.41 times that of single plots.
    treatments : int
        Number of treatments, including the one that the others are compared with.
    power : float
        Chance, 0 to 1, to see such a difference if it exists.
    level : float
        Chance, 0 to 1, to see one that does not exist.

    Returns
    -------
    int
        Fewest pairs for which the test of `trial_result` reaches the power: the two-sided paired t
        test, or Dunnett's for several comparisons.

    Raises
    ------
    ValueError
        If an argument is out of range, or more than 10,000 pairs would be needed.

    Examples
    --------
    To see 100 g a plot where the differences within pairs scatter by 120 g:

    >>> import climwin as cw
    >>> cw.pairs_needed(100, 120)
    14

    The same for each of five ways against the usual one:

    >>> cw.pairs_needed(100, 120, treatments=6)
    17
    """
    from scipy import stats

    from climwin.trials.dunnett import critical_value, equal_correlations

    if not 2 <= treatments <= _MOST_TREATMENTS:
        msg = f" must lie between 2 and {_MOST_TREATMENTS}, got {treatments}."
        raise InputError(Parameter("treatments"), msg)
    check_fraction("power", power)
    check_fraction("level", level)
    if not level < power:
        must = Parameter("level"), " must lie below ", Parameter("power"), ", got "
        got = Parameter("level", level), " and ", Parameter("power", power), "."
        raise InputError(*must, *got, " Usual are 0.05 and 0.8.")
    if not (np.isfinite(difference) and difference != 0 and np.isfinite(spread) and spread > 0):
        pieces = (
            Parameter("difference"),
            " must not be 0 and ",
            Parameter("spread"),
            " must be above 0, both in the unit of what is measured; got ",
            Parameter("difference", difference),
            " and ",
            Parameter("spread", spread),
            ".",
        )
        raise InputError(*pieces)

    comparisons = treatments - 1

    def power_of(pairs: int, critical: Callable[[int], float]) -> float:
        freedom = (pairs - 1) * comparisons
        noncentrality = np.sqrt(pairs) * abs(difference) / spread
        bound = critical(freedom)
        right_side = stats.nct.sf(bound, freedom, noncentrality)
        wrong_side = stats.nct.cdf(-bound, freedom, noncentrality)
        return float(right_side + np.nan_to_num(wrong_side))  # SciPy: missing below 1e-15

    def fewest(critical: Callable[[int], float], low: int = 2, high: int = _MOST_PAIRS) -> int:
        sizes = range(low, high + 1)
        return low + bisect_left(sizes, power, key=lambda pairs: power_of(pairs, critical))

    # Dunnett's bound is slow to compute. It is between those of a single comparison and of
    # Bonferroni, so only the few sizes between theirs are tried.
    low = fewest(lambda freedom: float(stats.t.isf(level / 2, freedom)))
    high = fewest(lambda freedom: float(stats.t.isf(level / 2 / comparisons, freedom)))
    if low < high:
        correlations = equal_correlations(comparisons)
        bound = partial(critical_value, correlations, level=1 - level)
        low = fewest(bound, low, min(high, _MOST_PAIRS))
    if low > _MOST_PAIRS:
        msg = (
            f"More than {number(_MOST_PAIRS)} pairs would be needed to see {as_typed(difference)} "
            f"against a spread of {as_typed(spread)}. Look for a larger difference, or measure "
            "more evenly."
        )
        raise InputError(msg)
    return low


def check_fraction(name: str, fraction: float) -> None:
    """Refuse a number that is not between 0 and 1."""
    if not 0 < fraction < 1:
        msg = f" must lie between 0 and 1, got {fraction}."
        raise InputError(Parameter(name), msg)
