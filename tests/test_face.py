"""The public face: every name is there when asked for, and stays what it is."""

import subprocess
import sys

import pytest

import climwin
from climwin import _FACE


def test_every_name_is_there():
    for name in climwin.__all__:
        assert getattr(climwin, name) is not None
    assert set(climwin.__all__) <= set(dir(climwin))


def test_no_lazy_name_is_a_module_s_name():
    """Importing the module would put it in the function's place."""
    names = {name for names in _FACE.values() for name in names}
    assert names & set(_FACE) == set()


def test_crops_stays_the_function_whatever_is_imported():
    code = (
        "import climwin.crops.catalogue, climwin.planning.suitability, climwin as cw;"
        "print(callable(cw.crop_names), cw.crop('pea').name)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.split() == ["True", "pea"]


def test_a_name_that_is_not_there_is_answered_with_those_that_are():
    with pytest.raises(AttributeError, match=r"no 'frost_dates'\. It offers .*freeze_dates"):
        climwin.frost_dates  # noqa: B018
