"""Heights, distances, differences and shares as people type them."""

import pytest

from climwin.core.formatting import depth, distance, height, lapse
from climwin.core.measures import celsius_difference_of, kilometres_of, metres_of, share_of


@pytest.mark.parametrize(
    ("typed", "metres"),
    [
        (260, 260),
        ("260", 260),
        ("260 m", 260),
        ("1000ft", 304.8),  # the international foot: 0.3048 m
        ("1,000 feet", 304.8),
        ("-10 ft", -3.048),
        ("1.5 metres", 1.5),
    ],
)
def test_a_height_is_read_in_metres_or_feet(typed, metres):
    assert metres_of(typed) == pytest.approx(metres, abs=1e-9)


@pytest.mark.parametrize("typed", ["high", "850 yards", "", "1000 ft 3", "1e400", "ft"])
def test_what_is_no_height_is_refused(typed):
    with pytest.raises(ValueError, match="such as 260 or 850ft"):
        metres_of(typed)


def test_distances_and_differences():
    assert kilometres_of("26.2188 miles") == pytest.approx(42.195, abs=1e-3)  # a marathon
    assert celsius_difference_of("9F") == pytest.approx(5)  # no offset of 32
    with pytest.raises(ValueError, match="50 or 30mi"):
        kilometres_of("30 leagues")
    with pytest.raises(ValueError, match=r"1\.5 or 3F"):
        celsius_difference_of("3K")


@pytest.mark.parametrize(("typed", "share"), [("0.8", 0.8), ("80%", 0.8), ("80 %", 0.8), (1, 1)])
def test_odds_are_a_share_or_a_percentage(typed, share):
    assert share_of(typed) == pytest.approx(share)


def test_a_percentage_without_its_sign_is_offered_as_one():
    with pytest.raises(ValueError, match=r"got '80'\. Did you mean 80%, which is 0\.8\?"):
        share_of("80")
    with pytest.raises(ValueError, match="got '180%'") as refused:
        share_of("180%")
    assert "Did you mean" not in str(refused.value)


def test_a_share_with_a_sign_that_it_does_not_need_is_no_percentage():
    with pytest.raises(ValueError, match=r"got '0\.8%'\. Did you mean 80%\?"):
        share_of("0.8%")
    assert share_of("0%") == 0
    assert share_of("1%") == pytest.approx(0.01)


def test_what_is_shown_belongs_to_one_system():
    shown_f = [height(304.8, "F"), distance(1.609344, "F"), lapse(6.5, "F"), depth(0.0508, "F")]
    assert shown_f == ["1,000 ft", "1 mile", "3.6 °F in 1000 ft", "2 in"]
    shown_c = [height(304.8, "C"), distance(1.609344, "C"), lapse(6.5, "C"), depth(0.05, "C")]
    assert shown_c == ["305 m", "2 km", "6.5 °C in 1000 m", "5 cm"]
