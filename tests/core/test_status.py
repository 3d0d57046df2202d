"""Statuses: three words, in one order."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr

from climwin.core.status import NONE, OBSERVED, STATUSES, UNKNOWN, decode_status


def test_codes_are_decoded_in_their_shape():
    code = xr.DataArray([[0, 1, 2], [2, 2, 0]], dims=("station", "season"))
    words = decode_status(code)
    assert words.dims == code.dims
    npt.assert_array_equal(words, [[OBSERVED, NONE, UNKNOWN], [UNKNOWN, UNKNOWN, OBSERVED]])


def test_dask_stays_lazy():
    pytest.importorskip("dask")
    words = decode_status(xr.DataArray(np.arange(3), dims="season").chunk())
    assert words.chunks is not None
    npt.assert_array_equal(words, STATUSES)


def test_a_code_that_is_none_of_them_is_an_error():
    with pytest.raises(IndexError):
        decode_status(xr.DataArray([3], dims="season"))
