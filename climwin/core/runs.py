"""Runs: where a series is true, or stays the same, for a while."""

from __future__ import annotations

import numpy as np


def true_runs(mask: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where each run of true elements begins, and where the first element after it is.

    Parameters
    ----------
    mask : ndarray of bool, shape (n,)

    Returns
    -------
    begin, end : ndarray of int, shape (runs,)
        In order; their difference is the length of each run.

    See Also
    --------
    equal_runs : Runs of any value.

    Examples
    --------
    >>> import numpy as np
    >>> begin, end = true_runs(np.array([True, True, False, True]))
    >>> begin.tolist(), end.tolist()
    ([0, 3], [2, 4])
    """
    edges = np.flatnonzero(np.diff(np.concatenate([[False], mask, [False]])))
    return edges[::2], edges[1::2]


def equal_runs(values: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Where each run of equal neighbours begins, and where the first element after it is.

    Parameters
    ----------
    values : ndarray, shape (n,)
        NaN equals nothing, so each is a run of its own.

    Returns
    -------
    begin, end : ndarray of int, shape (runs,)
        In order; together they cover the series.

    See Also
    --------
    true_runs : Runs of true elements alone.

    Examples
    --------
    >>> import numpy as np
    >>> begin, end = equal_runs(np.array([5, 5, 3]))
    >>> begin.tolist(), end.tolist()
    ([0, 2], [2, 3])
    """
    is_new = np.append(True, values[1:] != values[:-1])[: len(values)]
    begin = np.flatnonzero(is_new)
    return begin, np.append(begin, len(values))[1:]
