"""Map of a region: what is drawn where, its words, and its colours for every kind of eye."""

import re

import matplotlib as mpl
import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from drawn import assert_fits_a_phone, keys, title

from climwin.climate.windows import WINDOW_PARTS
from climwin.plot.regional import region
from climwin.plot.svg import inline_svg

SHARES = np.array([0.0, 0.1, 0.3, 0.6, 1.0, np.nan])


@pytest.fixture
def found():
    """Six stations: the last without an answer, the year split in two at the third alone."""
    shape = ("station", "crop", "part")
    lengths = 40.0 + 10 * np.arange(6)
    lengths[5] = np.nan
    each = {"shorter_share": SHARES, "window_median": lengths}
    return xr.Dataset(
        {name: (shape, np.tile(v[:, None, None], (1, 1, 3))) for name, v in each.items()}
        | {"has_two_windows": (("station", "crop"), np.eye(6, dtype=np.int8)[2][:, None])},
        coords={
            "station": [f"s{n}" for n in range(6)],
            "crop": ["pea"],
            "part": list(WINDOW_PARTS),
            "latitude": ("station", [46.0, 46.1, 46.3, 46.2, 46.6, 46.5]),
            "longitude": ("station", [7.0, 7.4, 7.1, 7.9, 7.2, 7.7]),
        },
        attrs={"source": "invented"},
    )


def on_grid(found):
    return found.assign_coords(
        latitude=("station", np.repeat([46.0, 46.5], 3)),
        longitude=("station", np.tile([7.0, 7.5, 8.0], 2)),
    )


def test_points_stand_where_the_stations_are(found):
    figure = region(found, "pea")
    hollow, filled = figure.axes[0].collections
    npt.assert_array_equal(hollow.get_offsets(), [[7.7, 46.5]])
    where = np.stack([found["longitude"], found["latitude"]], axis=1)[:5]
    npt.assert_array_equal(filled.get_offsets(), where)
    npt.assert_allclose(filled.get_array(), 100 * SHARES[:5])
    assert keys(figure.axes[0]) == ["no answer"]
    told = (
        "The longest mild spell is too short for peas in half of the years or more at 2 of 5 places"
    )
    assert title(figure) == told
    assert not filled.get_clip_on()  # a place at the edge keeps its whole mark


def test_where_no_spell_is_too_short_at_any_place_it_says_none(found):
    found["shorter_share"] = 0.4 * found["shorter_share"]
    assert title(region(found, "pea")).endswith("in half of the years or more at none of 5 places")


def test_a_crop_of_ones_own_keeps_its_name(found):
    own = found.assign_coords(crop=["our pea"])
    assert "too short for our pea in half" in title(region(own, "our pea"))


def test_on_a_page_each_station_has_its_mark_and_colour(found):
    for narrow in (False, True):
        svg = inline_svg(region(found, "pea", narrow=narrow))
        named = set(re.findall(r'id="([^"]+)"', svg))
        used = re.findall(r'href="#([^"]+)"', svg) + re.findall(r"url\(#([^)]+)\)", svg)
        assert set(used) <= named  # a mark that is named nowhere is not drawn
        marks = re.findall(r"<use [^>]*fill: (#[0-9a-f]{6})", svg)
        assert len(set(marks)) == 5  # five shares in five classes


def test_length_is_the_median_window(found):
    figure = region(found, "pea", show="length")
    npt.assert_array_equal(figure.axes[0].collections[1].get_array(), [40, 50, 60, 70, 80])
    told = "The longest mild spell for peas lasts 60 days at a typical place, 44 to 76 at 8 in 10"
    assert title(figure) == told


def test_one_half_of_the_year_is_drawn_where_there_are_two(found):
    hollow, filled = region(found, "pea", part="rise").axes[0].collections
    npt.assert_allclose(filled.get_offsets(), [[7.1, 46.3]])
    assert len(hollow.get_offsets()) == 5


def test_cells_where_the_places_fill_a_grid(found):
    figure = region(on_grid(found), "pea")
    (mesh,) = figure.axes[0].collections
    cells = np.ma.filled(mesh.get_array(), np.nan).reshape(2, 3)
    npt.assert_allclose(cells, 100 * SHARES.reshape(2, 3))


def test_map_is_as_wide_as_the_land(found):
    # A degree of longitude is cos(46.28 deg) = 0.69 of one of latitude.
    assert region(found, "pea").axes[0].get_aspect() == pytest.approx(1 / 0.691, abs=1e-2)


def test_degrees_say_their_side_of_the_world(found):
    south = found.assign_coords(latitude=-found["latitude"], longitude=-found["longitude"])
    for drawn, ends in ((region(found, "pea"), "EN"), (region(south, "pea"), "WS")):
        drawn.draw_without_rendering()
        for axis, end in zip((drawn.axes[0].xaxis, drawn.axes[0].yaxis), ends, strict=True):
            assert {label.get_text()[-1] for label in axis.get_ticklabels()} == {end}


def test_colours_are_told_apart_by_their_light_alone():
    # Luminance (ITU-R BT.709 weights, from memory) rises all along, so no hue need be seen.
    light = mpl.colormaps["cividis"](np.linspace(0, 1, 50))[:, :3] @ [0.2126, 0.7152, 0.0722]
    assert (np.diff(light) > 0).all()


@pytest.mark.parametrize("show", ["share", "length"])
def test_map_fits_a_phone(found, show):
    assert_fits_a_phone(region(found, "pea", show=show, narrow=True))


def test_region_without_an_answer_says_so(found):
    nobody = found.assign(window_median=found["window_median"] * np.nan)
    told = "The longest mild spell for peas is known at none of 6 places"
    assert title(region(nobody, "pea", show="length")) == told


@pytest.mark.parametrize(
    ("given", "told"),
    [
        ({"crop": "plum"}, "crop must be one of pea; got 'plum'"),
        ({"show": "odds"}, "show must be one of share, length; got 'odds'"),
        ({"part": "spring"}, "part must be one of longest, rise, fall; got 'spring'"),
    ],
)
def test_what_is_not_there_is_refused(found, given, told):
    with pytest.raises(ValueError, match=told):
        region(found, **({"crop": "pea"} | given))


def test_map_needs_places(found):
    with pytest.raises(ValueError, match="answers hold neither or one") as refused:
        region(found.drop_vars("latitude"), "pea")
    assert str(refused.value).startswith("A map needs the stations' latitude and longitude; the")


def test_the_key_of_colours_says_what_they_are(found):
    too_short, lengths = (region(found, "pea", show=show) for show in ("share", "length"))
    assert too_short.axes[1].get_ylabel() == "years too short (%)"
    assert lengths.axes[1].get_ylabel() == "mild spell of a typical year (days)"


def test_each_half_of_the_year_is_named_in_the_title(found):
    told = {part: title(region(found, "pea", part=part)) for part in WINDOW_PARTS}
    assert told["longest"].startswith("The longest mild spell")
    assert told["rise"] != told["fall"]
    for part in ("rise", "fall"):  # 30 % at the one place that has two
        assert told[part].endswith(
            "is too short for peas in half of the years or more at none of 1 place"
        )
