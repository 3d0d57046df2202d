"""Results written and read back by pandas and xarray alone: equal, with what they are."""

from pathlib import Path

import numpy as np
import numpy.testing as npt
import pandas as pd
import pytest
import xarray as xr
from records import daily, days, missing, moved, side_by_side, weather

import climwin
from climwin.climate.freeze import freeze_dates, freeze_odds
from climwin.climate.percentiles import day_bands
from climwin.climate.rain import dry_spell_odds
from climwin.climate.trends import compare_halves, compare_periods, trend
from climwin.climate.windows import usable_windows
from climwin.core.provenance import scenario_of, warm_by
from climwin.crops.catalogue import crop
from climwin.crops.model import Limits
from climwin.io import quality
from climwin.io.daily import read_unchecked
from climwin.io.exports import to_csv, to_netcdf
from climwin.planning.evaluate import compare_plans, evaluate_plan, harvest_odds
from climwin.planning.plan import Plan
from climwin.planning.sweep import sweep_start_dates

FACTS = {
    "title": "Pellbrook",
    "source": "invented",
    "licence": "CC BY 4.0",
    "history": "read\nchecked",
}
BAND = Limits(low_c=8, high_c=20, source="invented")


def record(seed=1, **given):
    return weather(seed, **{"years": 4, **given}).assign_attrs(FACTS, latitude=46.1)


def plans():
    return Plan(crop("cauliflower"), "04-01", 6, "cold frame"), Plan(crop("cauliflower"), "04-20")


def gappy():
    return missing(record(), *np.arange("2000-04-01", "2000-05-20", dtype="datetime64[D]"))


RESULTS = {
    "record": lambda: quality.quality_control(record(gaps=0.02)),
    "one variable": lambda: record()["tmin"],
    "freeze dates": lambda: freeze_dates(gappy()),
    "freeze dates of the south": lambda: freeze_dates(moved(record())),
    "freeze odds": lambda: freeze_odds(record(), (0.0, -2.2)),
    "bands": lambda: day_bands(record()["tmean"]),
    "windows": lambda: usable_windows(gappy(), BAND),
    "grown": lambda: evaluate_plan(plans()[0], gappy()),
    "harvests": lambda: harvest_odds(evaluate_plan(plans()[1], record())),
    "sweep": lambda: sweep_start_dates(plans()[1], record()),
    "compared": lambda: compare_plans(*plans(), record()),
    "scenario": lambda: freeze_dates(warm_by(record(), 1.5)),
    "trend": lambda: trend(freeze_dates(record())["last_spring"]),
    "halves": lambda: compare_halves(usable_windows(record(), BAND)["length"]),
    "periods": lambda: compare_periods(freeze_odds, record(), latest=(2,)),
    "coverage": lambda: quality.coverage(quality.quality_control(record(gaps=0.02))),
    "stations": lambda: freeze_dates(side_by_side(record(1), record(2, coldest=202))),
}


def head_of(path):
    lines = path.read_text("utf-8").splitlines()
    return [line for line in lines if line.startswith("#")]


def table_of(path):
    """The table below the head, every field as it is written."""
    return pd.read_csv(path, skiprows=len(head_of(path)), dtype=str, keep_default_na=False)


def as_dataset(result):
    return result if isinstance(result, xr.Dataset) else result.to_dataset(name=result.name)


def understood(column, kind):
    """Fields of a column as dates, words, truth or numbers."""
    if kind == "M":
        return np.array(column, "datetime64[s]")
    if kind == "U":
        return np.array(column, str)
    return np.array([field == "True" if kind == "b" else float(field or "nan") for field in column])


# --- CSV ----------------------------------------------------------------------------------


@pytest.mark.parametrize("name", list(RESULTS))
def test_table_holds_every_value(name, tmp_path):
    result = as_dataset(RESULTS[name]())
    path = to_csv(result, tmp_path / "result.csv")
    table = table_of(path)
    # Single draws of missing days are no columns of a table that people read.
    assert not any("drawn" in column for column in table)
    result = result.drop_dims("draw", errors="ignore")
    rows = [dim for dim in result.dims if dim in table]
    assert len(table) == np.prod([result.sizes[dim] for dim in rows], dtype=int)
    for key in [*result.data_vars, *rows, *(set(result.coords) - set(result.dims))]:
        across = [dim for dim in result[key].dims if dim not in rows]
        for at in np.ndindex(*(result.sizes[dim] for dim in across)):
            one = result[key].isel(dict(zip(across, at, strict=True)))
            label = ", ".join(str(one[dim].item()) for dim in across)
            one = one.expand_dims({dim: result[dim] for dim in rows if dim not in one.dims})
            values = one.transpose(*rows).values.reshape(-1)
            column = table[f"{key}[{label}]" if across else key]
            npt.assert_array_equal(understood(column.tolist(), values.dtype.kind), values)


def test_rows_and_columns_follow_the_dimensions(tmp_path):
    def columns(result):
        return list(table_of(to_csv(result, tmp_path / "result.csv")))

    assert columns(day_bands(record()["tmean"], (10, 90))) == [
        *("day_of_year", "tmean[10]", "tmean[90]", "sample_size")
    ]
    assert columns(usable_windows(record(), BAND))[:4] == ["season", "part", "start", "end"]
    assert columns(harvest_odds(evaluate_plan(plans()[1], record())))[:2] == ["harvested", "known"]
    assert "failed_by[killed by cold]" in columns(sweep_start_dates(plans()[1], record()))


def test_head_says_what_it_is(tmp_path):
    head = head_of(to_csv(freeze_odds(record(), (0.0, -2.2)), tmp_path / "odds.csv"))
    for line in (
        "# title: Pellbrook",
        "# source: invented",
        "# licence: CC BY 4.0",
        "# threshold_c: 0.0, -2.2",
        f"# written by: climwin {climwin.__version__}",
    ):
        assert line in head
    for line in ("# column last_spring in day of the year", "# column freeze_free_days in days"):
        assert any(said.startswith(line) for said in head)


def test_head_of_a_record_tells_its_history_and_its_flags(tmp_path):
    head = head_of(to_csv(quality.quality_control(record()), tmp_path / "record.csv"))
    at = head.index("# history: read")
    assert head[at + 1] == "#   checked"
    assert "# column tmin in degC: daily minimum air temperature" in head
    flag = "# column tmin_flag: quality flag of daily minimum air temperature; 0 not_flagged, 1 out"
    assert any(line.startswith(flag) for line in head)


def test_scenario_stands_above_the_table_and_in_each_row(tmp_path):
    path = to_csv(freeze_dates(warm_by(record(), 1.5)), tmp_path / "scenario.csv")
    label = "what if it were 1.5 degC warmer"
    assert f"# scenario: {label}" in head_of(path)
    assert set(table_of(path)["scenario"]) == {label}


def test_columns_of_further_dimensions_are_named_in_the_head(tmp_path):
    head = head_of(to_csv(day_bands(record()["tmean"]), tmp_path / "bands.csv"))
    assert "# column tmean[percentile] in degC: daily mean air temperature" in head


def test_missing_is_empty_and_dates_are_dates(tmp_path):
    lines = to_csv(freeze_dates(gappy()), tmp_path / "dates.csv").read_text("utf-8").splitlines()
    row = next(line for line in lines if line.startswith("2000,"))
    assert row.startswith("2000,,,unknown,2000-")


def test_record_can_be_read_again(tmp_path):
    observed = record(gaps=0.02)
    again = read_unchecked(to_csv(observed, tmp_path / "record.csv"))
    for name in ("tmin", "tmax", "tmean"):
        npt.assert_array_equal(again[name], observed[name])
    assert "title: Pellbrook" in again.attrs["comment"]


# --- netCDF -------------------------------------------------------------------------------


def opened(path):
    seconds = xr.coders.CFDatetimeCoder(time_unit="s")  # the unit left open differs by version
    with xr.open_dataset(path, engine="netcdf4", decode_times=seconds) as file:
        return file.load()


@pytest.mark.parametrize("name", list(RESULTS))
def test_netcdf_reads_back_equal(name, tmp_path):
    result = as_dataset(RESULTS[name]())
    xr.testing.assert_equal(opened(to_netcdf(result, tmp_path / "result.nc")), result)


def test_netcdf_says_what_it_is(tmp_path):
    odds = freeze_odds(warm_by(record(), 1.5), (0.0, -2.2))
    facts = opened(to_netcdf(odds, tmp_path / "odds.nc")).attrs
    assert facts["Conventions"] == "CF-1.11"
    assert facts["license"] == facts["licence"] == "CC BY 4.0"
    assert facts["scenario"] == "what if it were 1.5 degC warmer"
    assert facts["history"].endswith(f"written by climwin {climwin.__version__}")
    npt.assert_array_equal(facts["threshold_c"], [0.0, -2.2])


def test_units_are_those_of_udunits_and_the_words_are_kept(tmp_path):
    lengths = usable_windows(record(), BAND)["length"]
    found = opened(to_netcdf(trend(lengths), tmp_path / "trend.nc"))["slope"].attrs
    assert found["units"] == "day (10 year)-1"
    assert found["comment"] == "in days per decade"
    found = opened(to_netcdf(freeze_dates(record()), tmp_path / "dates.nc"))
    assert found["last_spring_day"].attrs["units"] == "1"
    assert found["last_spring_day"].attrs["comment"] == "in day of the year"
    assert found["freeze_free_days"].attrs["units"] == "day"  # xarray makes a duration of "days"


def test_every_variable_has_a_name_and_no_coordinate_a_fill_value(tmp_path):
    path = to_netcdf(side_by_side(record(1), record(2)), tmp_path / "stations.nc")
    with xr.open_dataset(path, engine="netcdf4", decode_cf=False) as raw:
        assert all(da.attrs["long_name"] for da in raw.variables.values())
        assert not any("_FillValue" in raw[name].attrs for name in raw.coords)
        assert raw["time"].attrs["units"] == "days since 1970-01-01"
        assert raw["tmin"].attrs["cell_methods"] == "time: minimum"
        assert raw["tmin"].attrs["units_metadata"] == "temperature: on_scale"


def test_hours_of_a_logger_are_kept_to_the_second(tmp_path):
    time = np.array(["2024-03-01T06:00:07", "2024-03-01T06:30:00"], "datetime64[s]")
    logger = xr.Dataset({"temperature": ("time", [1.5, np.nan])}, {"time": time})
    npt.assert_array_equal(opened(to_netcdf(logger, tmp_path / "logger.nc"))["time"], time)
    table = table_of(to_csv(logger, tmp_path / "logger.csv"))
    assert table["temperature"].tolist() == ["1.5", ""]
    assert table["time"].tolist() == ["2024-03-01 06:00:07", "2024-03-01 06:30:00"]


def test_words_of_which_some_are_missing(tmp_path):
    found = compare_periods(freeze_dates, record(), latest=(2,))
    assert found["last_spring_status"].dtype == object
    status = opened(to_netcdf(found, tmp_path / "periods.nc"))["last_spring_status"]
    assert status.isel(period=1).values.tolist() == ["", "", "observed", "observed"]


def test_attributes_that_netcdf_does_not_know_are_written_in_words(tmp_path):
    odd = record().assign_attrs(checked=True, nothing=None, path=Path("station.csv"))
    facts = opened(to_netcdf(odd, tmp_path / "odd.nc")).attrs
    assert facts["checked"] == "True"
    assert facts["path"] == "station.csv"
    assert "nothing" not in facts


# --- both ---------------------------------------------------------------------------------

WRITERS = [(to_csv, "result.csv"), (to_netcdf, "result.nc")]


@pytest.mark.parametrize(("write", "name"), WRITERS)
def test_result_is_left_as_it_was(write, name, tmp_path):
    result = freeze_dates(record())
    before = result.copy(deep=True)
    write(result, tmp_path / name)
    xr.testing.assert_identical(result, before)
    assert result["last_spring"].encoding == before["last_spring"].encoding


@pytest.mark.parametrize(("write", "name"), WRITERS)
def test_dask_gives_the_same_file(write, name, tmp_path):
    both = side_by_side(record(1), record(2))
    files = [tmp_path / f"{n}-{name}" for n in range(2)]
    for file, one in zip(files, (both, both.chunk(station=1)), strict=True):
        write(dry_spell_odds(one.assign(precip=rain(one)), "05-01", "06-30"), file)
    if name.endswith(".csv"):
        assert files[0].read_bytes() == files[1].read_bytes()
    else:
        xr.testing.assert_identical(*map(opened, files))


def rain(both):
    """Rain on every third day."""
    return (
        xr.zeros_like(both["tmin"]).where(both["time"].dt.day % 3 > 0, 5.0).assign_attrs(units="mm")
    )


@pytest.mark.parametrize(("write", "name"), WRITERS)
def test_file_that_is_there_is_replaced(write, name, tmp_path):
    assert write(record(), tmp_path / name) == tmp_path / name
    write(freeze_dates(record()), str(tmp_path / name))
    assert [file.name for file in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize(("write", "name"), WRITERS)
def test_file_that_cannot_be_written_leaves_the_old_one(write, name, tmp_path, monkeypatch):
    path = write(record(), tmp_path / name)
    before = path.read_bytes()

    def full(*_, **__):
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(Path, "write_text", full)
    monkeypatch.setattr(xr.Dataset, "to_netcdf", full)
    with pytest.raises(OSError, match="No space left"):
        write(freeze_dates(record()), path)
    assert path.read_bytes() == before
    assert [file.name for file in tmp_path.iterdir()] == [name]


@pytest.mark.parametrize(
    ("write", "name", "suffix"), [(to_csv, "a.nc", ".csv"), (to_netcdf, "a.csv", ".nc")]
)
def test_name_must_fit_the_form(write, name, suffix, tmp_path):
    with pytest.raises(ValueError, match=rf"must end in \{suffix}, got '{name}'"):
        write(record(), tmp_path / name)


def test_number_alone_is_a_table_of_one(tmp_path):
    one = daily(days("2001-01-01", "2001-01-02"), tmin=[1.0, 2.0])["tmin"].mean()
    assert table_of(to_csv(one, tmp_path / "mean.csv")).to_dict("list") == {"tmin": ["1.5"]}


def test_an_exported_scenario_reads_back_as_one(tmp_path):
    path = to_csv(warm_by(weather(years=2), 1.5), tmp_path / "warmer.csv")
    assert scenario_of(read_unchecked(path)) == "what if it were 1.5 degC warmer"
