"""Compare stations on the days that all of them have."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import xarray as xr

from climwin.climate._monthly import on_every_day
from climwin.core.errors import DataGapError, InputError
from climwin.core.formatting import as_typed
from climwin.core.provenance import check_alike
from climwin.core.schema import TOLERANCE_C, variable


def compare_stations(records: Sequence[xr.Dataset], *, threshold: float = 0.0) -> xr.Dataset:
    """Compare stations on the days that all of them have.

    Parameters
    ----------
    records : sequence of Dataset, dims (time)
        Two or more; the others are compared with the first.
    threshold : float
        A day whose minimum is at or below it is a freeze. [degC]

    Returns
    -------
    Dataset, dims (station, variable)
        ``share_present``, of the days spanned by all records; ``common_days``, the number of days
        in common; and on these days the ``mean`` [degC], the ``difference`` from the first station
        [degC], the ``spread`` of its daily values (standard deviation) [degC] and their
        ``correlation``. ``freezes`` by `station`: number of days a year at or below `threshold`.
        ``name`` and ``elevation`` [m] by `station`.

    Raises
    ------
    ValueError
        If fewer than two records are given.
    DataGapError
        If they have no day in common.

    See Also
    --------
    join_stations : Use stations to estimate another's missing days.

    Examples
    --------
    >>> import climwin as cw
    >>> valley = cw.read_daily(cw.sample())
    >>> hill = cw.read_daily(cw.sample("pellbrook_hill.csv"))
    >>> compared = cw.compare_stations([valley, hill])
    >>> compared["difference"].sel(variable="tmin").round(1).values.tolist()
    [0.0, -1.5]
    """
    if len(records) < 2:
        msg = f"A comparison needs two records or more, got {len(records)}."
        raise InputError(msg)
    check_alike(*records)
    arrays = [variable(record, name) for record in records for name in ("tmin", "tmax")]
    values = np.stack(on_every_day(*arrays)).reshape(len(records), 2, -1)  # station, variable, day
    present = ~np.isnan(values)
    is_common = present.all(axis=(0, 1))
    if not is_common.any():
        msg = "There is no day on which all records have a minimum and a maximum."
        raise DataGapError(msg)
    common = values[..., is_common]
    difference = common - common[0]
    freezes = (common[:, 0] <= threshold + TOLERANCE_C).mean(axis=-1) * 365.25
    attrs = [record.attrs for record in records]
    dims, celsius = ("station", "variable"), {"units": "degC"}
    freeze_words = {
        "units": "1",
        "long_name": f"days a year at or below {as_typed(threshold)} degC",
    }
    return xr.Dataset(
        {
            "share_present": (dims, present.mean(axis=-1), {"units": "1"}),
            "mean": (dims, common.mean(axis=-1), celsius),
            "difference": (dims, difference.mean(axis=-1), celsius),
            "spread": (dims, difference.std(axis=-1), celsius),
            "correlation": (dims, _correlation_with_first(common), {"units": "1"}),
            "freezes": ("station", freezes, freeze_words),
            "common_days": ((), int(is_common.sum()), {"units": "1"}),
        },
        coords={
            "station": [str(each.get("station_id", n)) for n, each in enumerate(attrs, start=1)],
            "variable": ["tmin", "tmax"],
            "name": ("station", [str(each.get("station_name", "")) for each in attrs]),
            "elevation": ("station", [float(each.get("elevation", np.nan)) for each in attrs]),
        },
    )


def _correlation_with_first(values: np.ndarray) -> np.ndarray:
    """Correlation of each station with the first, of values (stations, variables, days)."""
    departure = values - values.mean(axis=-1, keepdims=True)
    squares = (departure**2).sum(axis=-1)
    with np.errstate(invalid="ignore", divide="ignore"):
        return (departure * departure[0]).sum(axis=-1) / np.sqrt(squares * squares[0])
