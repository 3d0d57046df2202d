"""Numbers in sentences: what holds for every number, beside the examples in the docstrings."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.core import formatting as f

NUMBERS = st.floats(-1e5, 1e5)
WRITTEN = {
    "fixed": lambda value: f.fixed(value, 1),
    "number": lambda value: f.number(value, 1),
    "plain": f.plain,
    "significant": f.significant,
    "signed": lambda value: f.signed(value, 1),
}


def read(text):
    """The number in a text, as a reader takes it."""
    return float(text.replace(",", "").replace("\N{MINUS SIGN}", "-"))


@pytest.mark.parametrize("write", WRITTEN.values(), ids=WRITTEN)
@given(value=NUMBERS)
def test_a_number_is_read_back_as_near_as_it_is_written(write, value):
    near = 0.05 if write not in (f.plain, f.significant) else max(abs(value) * 5e-3, 1e-12)
    assert abs(read(write(value)) - value) <= near * (1 + 1e-9)


@pytest.mark.parametrize("name", WRITTEN)
@given(value=NUMBERS)
def test_zero_has_no_sign_and_print_no_hyphen(name, value):
    text = WRITTEN[name](value)
    assert (text[0] in "-\N{MINUS SIGN}") == (read(text) < 0)
    assert name == "fixed" or "-" not in text
    assert "e" not in text


@given(value=NUMBERS)
def test_a_signed_number_has_a_plus_above_zero_alone(value):
    assert f.signed(value, 1).startswith("+") == (read(f.signed(value, 1)) > 0)


@given(count=st.integers(0, 10**6))
def test_one_is_the_only_singular(count):
    number, noun = f.counted(count, "day").split(" ")
    assert int(number.replace(",", "")) == count
    assert noun == ("day" if count == 1 else "days")


@given(size=st.floats(-40, 40), digits=st.integers(0, 2))
def test_a_difference_in_fahrenheit_is_nine_fifths_without_an_offset(size, digits):
    text, unit = f.difference(size, "F", digits).split(" ")
    assert unit == "°F"
    assert read(text) == pytest.approx(abs(size) * 9 / 5, abs=0.5 * 10**-digits + 1e-9)


def test_lengths_and_heights():
    assert [f.kilometres(0.4), f.kilometres(1234.4)] == ["0 km", "1,234 km"]
    assert [f.metres(-12.6), f.metres(0)] == ["13 m", "0 m"]
    assert f.centimetres(0.3) == "30 cm"
