"""Distances, against the sphere's geometry and a second formula."""

import numpy as np
import numpy.testing as npt
import pytest
from hypothesis import given
from hypothesis import strategies as st

from climwin.core.geo import distance_km, east_north_km

latitudes, longitudes = st.floats(-89, 89), st.floats(-180, 180)


def test_a_quarter_and_half_of_the_globe():
    # a quarter of the way round the equator, and from the pole to it: 6371 km times pi / 2
    quarter = pytest.approx(6371 * np.pi / 2)
    assert distance_km(0, 0, 0, 90) == quarter
    assert distance_km(90, 0, 0, 17) == quarter
    assert distance_km(90, 0, -90, 0) == pytest.approx(6371 * np.pi)


@given(latitudes, longitudes, latitudes, longitudes)
def test_distances_are_those_of_the_law_of_cosines(lat, lon, lat2, lon2):
    one, other, east = np.radians(lat), np.radians(lat2), np.radians(lon2 - lon)
    cosine = np.sin(one) * np.sin(other) + np.cos(one) * np.cos(other) * np.cos(east)
    expected = 6371 * np.arccos(np.clip(cosine, -1, 1))
    # The law of cosines is poor for neighbours: an error of 1e-16 in a cosine near 1 is 0.1 m.
    npt.assert_allclose(distance_km(lat, lon, lat2, lon2), expected, rtol=1e-6, atol=0.2)


def test_many_places_at_once_are_each_alone():
    lat, lon = np.array([46.2, -10.0, 46.1]), np.array([7.3, 170.0, 7.2])
    single = [distance_km(46.1, 7.2, *place) for place in zip(lat, lon, strict=True)]
    npt.assert_array_equal(distance_km(46.1, 7.2, lat, lon), single)
    assert single[2] == 0


def test_the_date_line_is_crossed_the_short_way():
    expected = pytest.approx(0.2 * 111.195 * np.sqrt(0.5), rel=1e-4)
    assert distance_km(-45, 179.9, -45, -179.9) == expected
    east, north = east_north_km(-45, 179.9, np.array([-45.0]), np.array([-179.9]))
    assert east[0] == expected
    assert north[0] == 0


@given(
    latitudes.filter(lambda lat: abs(lat) < 65),
    longitudes,
    st.floats(-0.4, 0.4),
    st.floats(-0.4, 0.4),
)
def test_the_flat_map_agrees_with_the_globe_nearby(lat, lon, up, right):
    east, north = east_north_km(lat, lon, np.array([lat + up]), np.array([lon + right]))
    apart = distance_km(lat, lon, lat + up, lon + right)
    # 0.4 degrees nearer the pole, a parallel at 65 degrees is 1.5 % shorter
    npt.assert_allclose(np.hypot(east, north)[0], apart, rtol=0.02, atol=1e-3)
