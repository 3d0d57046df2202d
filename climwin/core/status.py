"""Status of a yearly result: it was observed, it did not happen, or a gap hides it.

None is not unknown: a year without a frost is an answer; a year whose spring is missing is not.
"""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.core.schema import apply

OBSERVED, NONE, UNKNOWN = "observed", "none", "unknown"

STATUSES = np.array([OBSERVED, NONE, UNKNOWN])
"""The three statuses; kernels return their positions here as codes."""
OBSERVED_CODE, NONE_CODE, UNKNOWN_CODE = range(3)


def decode_status(code: xr.DataArray) -> xr.DataArray:
    """Statuses in words.

    Parameters
    ----------
    code : DataArray of int, any shape
        Positions in `STATUSES`, as kernels return them.

    Returns
    -------
    DataArray of str, shape of `code`
    """
    return apply(lambda codes: STATUSES[codes], code, core=[[]], dtypes=[STATUSES.dtype])
