"""Text from anybody, made safe to show."""

import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.cli import main as command
from climwin.core.schema import Garden
from climwin.core.text import plain_text


@given(st.text())
def test_nothing_that_steers_is_left_and_nothing_else_is_lost(text):
    plain = plain_text(text)
    joiners = "\u200c\u200d"
    assert all(c in joiners or unicodedata.category(c) not in ("Cc", "Cf", "Cs") for c in plain)
    kept = [c for c in text if c in joiners or unicodedata.category(c) not in ("Cc", "Cf", "Cs")]
    assert list(plain) == kept


@pytest.mark.parametrize("name", ["Pellbrook", "می‌خواهم", "Zürich-Höngg", "北京市", "e\u0301"])
def test_names_of_all_languages_stay(name):
    # The second has a zero width non-joiner, as Persian spelling wants it.
    assert plain_text(name) == name


def test_a_garden_is_named_without_them():
    assert Garden("Mill\x1b[2J \u202eplot", 46, 7).name == "Mill[2J plot"
    with pytest.raises(ValueError, match="needs a name"):
        Garden("\u202e\x07", 46, 7)


def test_no_command_prints_them(capsys, monkeypatch):
    def crops(_):
        print("Mill\x1b[31m\u202e\tplot\nsecond line")

    monkeypatch.setattr("climwin.cli.crops.crops", crops)
    assert command.main(["crops"]) == 0
    assert capsys.readouterr().out == "Mill[31m\tplot\nsecond line\n"
    assert command.main(["page", "--place", "\x1b[31mNowhere at all\u202e", "--crop", "pea"]) == 1
    err = capsys.readouterr().err
    assert "Nowhere at all" in err
    assert all(c == "\n" or c.isprintable() for c in err)
