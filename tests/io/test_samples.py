"""The bundled sample is there; what it contains is tested in tests/test_samples.py."""

import pytest

from climwin.core.errors import RecordError
from climwin.io.daily import read_daily
from climwin.io.samples import sample


def test_the_sample_is_a_record():
    assert {"tmin", "tmax", "precip"} <= set(read_daily(sample()))


def test_another_name_is_answered_with_those_there_are():
    with pytest.raises(RecordError, match=r"no 'frost\.csv'; it has .*pellbrook_valley\.csv"):
        sample("frost.csv")
