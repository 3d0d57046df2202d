"""Days counted by running sums, against slices of single days."""

import numpy as np
import numpy.testing as npt
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from records import side_by_side, weather

from climwin.climate.windows import running_mean_bounds
from climwin.core.seasons import DAYS, by_year, seen_range
from climwin.crops.catalogue import Limits
from climwin.planning.weather import Count, Weather, check_one_place

BAND = Limits(low_c=4.02, high_c=15.03, source="test")
ROOM = ((1, 3), (0, 0))


def a_station(seed, gaps=0.05, years=3):
    """Three invented series by year and day, and which days lie in the rise."""
    rng = np.random.default_rng(seed)
    wave = 8 - 10 * np.cos(2 * np.pi * np.arange(DAYS) / DAYS)
    grids = wave + rng.normal(0, 4, (3, years, DAYS)).round(1)
    grids[rng.random(grids.shape) < gaps] = np.nan
    return grids, (np.arange(DAYS) < 182)


def counted(mask, begin, end, starts, years=3):
    """True days of each stretch, one by one."""
    flat = np.asarray(mask).ravel()
    return [
        [flat[(y + 1) * DAYS + s + begin : (y + 1) * DAYS + s + end].sum() for s in starts]
        for y in range(years)
    ]


@given(
    st.integers(0, 1000),
    st.integers(-4, 400),
    st.integers(0, 300),
    st.sampled_from([slice(None), slice(99, 100)]),
)
@settings(max_examples=25)
def test_counts_are_those_of_a_plain_loop(seed, begin, length, starts):
    (tmean, tsoil, tmin), rising = a_station(seed)
    end = min(begin + length, 730)
    asked = Weather(tmean, tsoil, {"none": tmin}, rising=rising, longest=730, starts=starts)
    days = range(DAYS)[starts]
    mean, soil, night = (
        np.pad(grid, ROOM, constant_values=np.nan) for grid in (tmean, tsoil, tmin)
    )
    low, high = running_mean_bounds(mean)
    under, over = BAND.low_c - 0.05, BAND.high_c + 0.05
    in_band = asked.in_band(BAND, begin, end)
    npt.assert_array_equal(
        in_band.least, counted((low >= under) & (high <= over), begin, end, days)
    )
    npt.assert_array_equal(in_band.most, counted((high >= under) & (low <= over), begin, end, days))
    npt.assert_array_equal(asked.too_hot(BAND, begin, end), counted(low > over, begin, end, days))
    npt.assert_array_equal(
        asked.too_cold(BAND, begin, end), counted(high < under, begin, end, days)
    )
    could = np.isnan(soil) & (seen_range(soil)[1] >= 5.98 - 0.05)
    warm = asked.warm_soil(5.98, begin, end)
    npt.assert_array_equal(warm.least, counted(soil >= 5.98 - 0.05, begin, end, days))
    npt.assert_array_equal(warm.most, counted((soil >= 5.98 - 0.05) | could, begin, end, days))
    could = np.isnan(night) & (seen_range(night)[0] <= 0.02 + 0.05)
    for count, half in zip(asked.freezes("none", 0.02, begin, end), (rising, ~rising), strict=True):
        frozen = night <= 0.02 + 0.05
        npt.assert_array_equal(count.least, counted(frozen & half, begin, end, days))
        npt.assert_array_equal(count.most, counted((frozen | could) & half, begin, end, days))


def test_freezes_of_a_year_are_xclims_frost_days(champion):
    """ETCCDI's FD counts colder than a limit; with 0.05 degC of slack it counts as we do."""
    from xclim.indices import frost_days

    theirs = frost_days(champion["tmin"], thresh="0.05 degC")
    leap = theirs["time"].dt.is_leap_year.values  # 29 February has no place of its own
    grids = [by_year(champion[name]) for name in ("tmean", "tmean", "tmin")]
    tmean, tsoil, tmin = (grid.values for grid in grids)
    asked = Weather(
        tmean, tsoil, {"none": tmin}, rising=np.arange(DAYS) < 200, longest=DAYS, starts=slice(1)
    )
    late, autumn = asked.freezes("none", 0.0, 0, DAYS)
    kept = ~leap & champion["tmin"].notnull().groupby("time.year").all().values
    assert kept.sum() > 15
    npt.assert_array_equal((late + autumn).least[kept, 0], theirs.values[kept])


def test_counts_are_kept_apart_by_limit_and_cover():
    (tmean, tsoil, tmin), rising = a_station(1)
    nights = {"none": tmin, "cold frame": tmin + 3}
    asked = Weather(tmean, tsoil, nights, rising=rising, longest=100)
    late = [asked.freezes(*which, 0, 100)[0].least for which in (("none", 0), ("cold frame", 0))]
    assert (late[0] >= late[1]).all()
    assert (late[0] > late[1]).any()
    npt.assert_array_equal(asked.freezes("cold frame", 3, 0, 100)[0].least, late[0])
    npt.assert_array_equal(asked.freezes("none", 0, 0, 100)[0].least, late[0])


def test_a_count_is_known_where_both_its_ends_agree():
    count = Count(np.array([2, 3]), np.array([2, 5])) + Count(np.array([1, 1]), np.array([1, 1]))
    npt.assert_array_equal(count.known, [3, np.nan])


def test_one_place_is_asked_for():
    record = weather()
    check_one_place(record, "succession")
    with pytest.raises(ValueError, match=r"succession takes .* one place.*station.*Choose one"):
        check_one_place(side_by_side(record, weather(2)), "succession")
