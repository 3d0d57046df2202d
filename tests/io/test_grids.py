"""Gridded data: recognised by what it says of itself, and taken cell by cell as any record."""

import numpy as np
import numpy.testing as npt
import pytest
import xarray as xr
from records import weather
from written import LATITUDES, LONGITUDES, SAID, a_grid

from climwin.batch.results import station_results
from climwin.climate.freeze import freeze_dates
from climwin.climate.percentiles import day_bands
from climwin.climate.windows import usable_windows
from climwin.core.errors import RecordError
from climwin.crops.catalogue import crop
from climwin.io.grids import as_daily, as_stations, open_grid


@pytest.fixture(scope="module")
def cells():
    """Records of six cells, row by row."""
    return [weather(n, years=3, gaps=0.01) for n in range(6)]


def test_kelvin_at_noon_becomes_degc_by_day(cells):
    daily = as_daily(a_grid(cells, "tmin", "tmax", "tmean", tmin="a", tmax="b", tmean="c"))
    assert daily["tmin"].dims == ("latitude", "longitude", "time")
    for n, record in enumerate(cells):
        cell = daily.isel(latitude=n // 3, longitude=n % 3)
        npt.assert_array_equal(cell["time"], record["time"])
        for name in SAID:
            npt.assert_allclose(cell[name], record[name], atol=1e-9)
            assert cell[name].attrs["units"] == "degC"
            assert cell[name].attrs["cell_methods"] == f"time: {SAID[name]}"


def test_without_a_mean_it_is_half_the_sum(cells):
    daily = as_daily(a_grid(cells, kelvin=False))
    npt.assert_array_equal(daily["tmean"], (daily["tmin"] + daily["tmax"]) / 2)
    assert daily["tmean"].attrs["derived_from"] == "tmin tmax"


@pytest.mark.parametrize("names", [("tasmin", "tasmax"), ("tn", "tx"), ("tmmn", "tmmx")])
def test_known_by_name_where_it_does_not_say(cells, names):
    grid = a_grid(cells, tmin=names[0], tmax=names[1])
    for name in names:
        grid[name].attrs = {"units": "kelvin"}
    npt.assert_allclose(as_daily(grid)["tmin"].values[0, 0], cells[0]["tmin"], atol=1e-9)


def test_fahrenheit_is_converted(cells):
    grid = a_grid(cells, kelvin=False)
    for name in ("tmin", "tmax"):
        grid[name] = (grid[name] * 1.8 + 32).assign_attrs(grid[name].attrs | {"units": "degF"})
    npt.assert_allclose(as_daily(grid)["tmax"].values[1, 2], cells[5]["tmax"], atol=1e-9)


def test_projected_grid_keeps_its_places(cells):
    grid = a_grid(cells).rename(lat="y", lon="x").drop_vars(["y", "x"])
    at = np.meshgrid(LATITUDES, LONGITUDES, indexing="ij")
    for name, values in zip(("latitude", "longitude"), at, strict=True):
        grid = grid.assign_coords({name: (("y", "x"), values, {"standard_name": name})})
    stations = as_stations(as_daily(grid))
    assert stations["station"].values.tolist()[:2] == ["46.25 N 7 E", "46.25 N 7.25 E"]
    npt.assert_allclose(stations["tmin"].values[4], cells[4]["tmin"], atol=1e-9)


def test_climate_models_year_without_leap_days(cells):
    noleap = a_grid(cells).convert_calendar("noleap", use_cftime=True)
    daily = as_daily(noleap)
    kept = cells[3].sel(time=daily["time"])
    assert kept.sizes["time"] == cells[3].sizes["time"] - 1
    npt.assert_allclose(daily["tmin"].values[1, 0], kept["tmin"], atol=1e-9)


# --- through every function ---------------------------------------------------------------


def test_cells_pass_through_every_function(cells):
    daily = as_daily(a_grid(cells, "tmin", "tmax", "tmean", kelvin=False))
    bands, dates = day_bands(daily["tmin"]), freeze_dates(daily)
    windows = usable_windows(daily, crop("pea"))
    for n, record in enumerate(cells):
        at = {"latitude": n // 3, "longitude": n % 3}
        npt.assert_array_equal(bands["tmin"].isel(at), day_bands(record["tmin"])["tmin"])
        npt.assert_array_equal(dates["last_spring"].isel(at), freeze_dates(record)["last_spring"])
        own = usable_windows(record, crop("pea"))
        npt.assert_array_equal(windows["length"].isel(at), own["length"])


@pytest.mark.parametrize("ending", [".nc", ".zarr"])
def test_file_is_opened_lazily_and_answered_as_stations(cells, tmp_path, ending):
    path = tmp_path / f"grid{ending}"
    grid = a_grid(cells, "tmin", "tmax", "tmean").chunk(time=400)
    if ending == ".zarr":
        pytest.importorskip("zarr")
        grid.to_zarr(path, zarr_format=2)
    else:
        grid.to_netcdf(path)
    daily = open_grid(path)
    assert daily["tmin"].chunks is not None
    stations = as_stations(daily)
    assert stations["tmin"].dims == ("station", "time")
    found = station_results(stations.isel(station=[0, 5]).compute(), [crop("pea")])
    assert found["station"].values.tolist() == ["46.25 N 7 E", "46 N 7.5 E"]
    bands = day_bands(cells[5]["tmean"])["tmean"]
    npt.assert_allclose(found["bands"].isel(station=1), bands, atol=1e-9)
    daily.close()


# --- errors -------------------------------------------------------------------------------


def without(grid, name, key):
    grid[name].attrs.pop(key)
    return grid


def said_in(grid, name, units):
    grid[name].attrs["units"] = units
    return grid


def swapped(grid):
    low, high = grid["tmin"].values.copy(), grid["tmax"].values.copy()
    grid["tmin"].values[:], grid["tmax"].values[:] = high, low
    return grid


@pytest.mark.parametrize("units", ["K", "degF"])
def test_degc_that_is_said_to_be_something_else_is_refused_or_plausible(cells, units):
    grid = said_in(a_grid(cells, kelvin=False), "tmin", units)
    if units == "K":
        with pytest.raises(RecordError, match=r"units are 'K', but then .* They look like degC"):
            as_daily(grid)
    else:  # degC read as degF is colder, but above the maximum nowhere: nothing shows it
        assert float(as_daily(grid)["tmin"].mean()) < float(as_daily(grid)["tmax"].mean())


def test_degf_that_is_said_to_be_degc_is_refused(cells):
    grid = a_grid(cells, kelvin=False)
    for name in ("tmin", "tmax"):
        grid[name].values[:] = grid[name].values * 1.8 + 60  # a warm place in degF
    with pytest.raises(RecordError, match=r"units are 'degC', but then .* They look like degF"):
        as_daily(grid)


@pytest.mark.parametrize("first", ["2001-01-01", "2004-01-01"])
def test_years_of_360_days_lose_nothing_and_leave_nothing_unknown(first):
    # A model's twenty years of 360 days, each day with a value of its own
    time = xr.date_range(first, periods=20 * 360, freq="D", calendar="360_day", use_cftime=True)
    n = np.arange(len(time), dtype=float)
    wave = 10 - 12 * np.cos(2 * np.pi * (n % 360 + 0.5) / 360) + n * 1e-6
    attrs = {"units": "degC"}
    grid = xr.Dataset(
        {
            "tasmin": (("time", "lat"), wave[:, None], attrs),
            "tasmax": (("time", "lat"), wave[:, None] + 8, attrs),
        },
        {"time": time, "lat": ("lat", [46.0], {"standard_name": "latitude"})},
    )
    daily = as_daily(grid)
    values = daily["tmin"].values[0]
    assert np.isin(wave, values).all()  # all 7200 values are there
    assert np.isfinite(values).all()  # and nothing is unknown
    days = daily["time"].values
    assert (np.diff(days) == np.timedelta64(1, "D")).all()
    assert len(days) >= 20 * 365 + 4
    assert "years of 360 days spread over the calendar year" in daily.attrs["history"]
    # each day keeps its place in the seasons: the wave of 365 days, within a day's change
    share = (daily["time"].dt.dayofyear.values - 0.5) / (365 + daily["time"].dt.is_leap_year.values)
    np.testing.assert_allclose(values, 10 - 12 * np.cos(2 * np.pi * share), atol=0.25)
    # a day missing in the model's own calendar stays unknown
    holed = as_daily(grid.isel(time=np.r_[0:100, 103:7200]))
    assert len(np.setdiff1d(days, holed["time"].values)) >= 2


@pytest.mark.parametrize(
    ("change", "told"),
    [
        (
            lambda g: g.drop_vars("tmin"),
            "No daily minimum air temperature is recognised among tmax",
        ),
        (lambda g: g.assign(other=g["tmin"]), "other and tmin could each be the daily minimum"),
        (lambda g: without(g, "tmax", "units"), "'tmax' must be in K, degC or degF.*'not said'"),
        (lambda g: g.isel(time=0, drop=True), "No time is recognised among lat, lon"),
        (lambda g: xr.concat([g, g], "time"), "Some days are repeated"),
        (
            lambda g: said_in(g, "tmin", "degC"),
            r"'tmin' says its units are 'degC', but then .* is 2\d\d degC. They look like K",
        ),
        (
            lambda g: swapped(g),
            r"^The minimum 'tmin' is above the maximum 'tmax' on \d+ % of days.*swapped",
        ),
        (
            lambda g: g.assign(tmin=g["tmax"].assign_attrs(g["tmin"].attrs)),
            r"^The minimum 'tmin' and the maximum 'tmax' are the same on 100 % of days.* saved",
        ),
        (
            lambda g: g.assign(tmax=g["tmax"].where(g["lat"] > g["lat"].min(), -9999.0)),
            r"'tmax' holds values such as -9999 K, which no place.*_FillValue",
        ),
        (
            lambda g: g.resample(time="MS").mean(keep_attrs=True),
            r"has a value every 31 days\..*give daily minima and maxima",
        ),
        (
            lambda g: g.assign_coords(lat=("lat", -g["lat"].values, g["lat"].attrs)),
            "warm months are those of the other hemisphere's summer.*latitude",
        ),
    ],
)
def test_grid_that_cannot_be_used_says_why(cells, change, told):
    with pytest.raises(RecordError, match=told):
        as_daily(change(a_grid(cells)))


def test_file_that_cannot_be_opened_is_named(tmp_path):
    (tmp_path / "no.nc").write_text("no")
    with pytest.raises(RecordError, match=r"no\.nc cannot be used as daily weather"):
        open_grid(tmp_path / "no.nc")
    with pytest.raises(RecordError, match=r"gone\.nc cannot be used as daily weather"):
        open_grid(tmp_path / "gone.nc")


def test_stations_need_a_place():
    with pytest.raises(ValueError, match="needs the coordinates latitude and longitude, got time"):
        as_stations(weather())


# --- in chunks ------------------------------------------------------------------------------


def counted_chunks(grid, chunks):
    """The grid in chunks, and a list to which each reading of one adds its place."""
    reads = []

    def read(values, block_info):
        reads.append(tuple(block_info[0]["chunk-location"]))
        return values

    lazy = grid.chunk(chunks)
    for name in ("tmin", "tmax"):
        lazy[name].data = lazy[name].data.map_blocks(read, dtype=float)
    reads.clear()  # dask tried the function on no values
    return lazy, reads


@pytest.mark.parametrize("chunks", [{"lat": 1, "lon": 2}, {"time": 200}, {"lat": 2, "time": 500}])
def test_cells_of_a_lazy_grid_hold_their_own_values(cells, chunks):
    daily = as_daily(a_grid(cells, "tmin", "tmax"))
    eager = as_stations(daily)
    lazy = as_stations(as_daily(a_grid(cells, "tmin", "tmax").chunk(chunks)))
    assert lazy["tmin"].chunks is not None
    assert sorted(lazy["station"].values) == sorted(eager["station"].values)
    xr.testing.assert_identical(lazy.sel(station=eager["station"]).compute(), eager)


def test_stations_side_by_side_lie_in_one_chunk(cells):
    """So that each chunk is read once when stations are read in their order, a chunk at a time."""
    lazy, reads = counted_chunks(a_grid(cells, "tmin", "tmax"), {"lat": 1, "lon": 2})
    stations = as_stations(as_daily(lazy))
    reads.clear()  # its values were checked
    sizes = stations["tmin"].chunksizes["station"]
    assert set(sizes) <= {1, 2}
    since = 0
    for size in sizes:
        stations.isel(station=slice(since, since + size)).compute(scheduler="synchronous")
        since += size
    assert len(reads) == 2 * len(set(reads)) == 2 * len(sizes)  # of two variables
