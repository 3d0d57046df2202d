"""Files that are read: regular ones, of a size that can be right. Writing: tests/test_faults.py."""

import netCDF4
import pytest
from refusing import refused

from climwin.core.errors import RecordError
from climwin.io.files import check_declared_size, file_size, reserve_name


def test_a_file_has_its_size_and_a_folder_none(tmp_path):
    (tmp_path / "a.csv").write_bytes(b"12345")
    assert file_size(tmp_path / "a.csv") == 5
    with pytest.raises(RecordError, match=r"is a folder, a pipe or a device\. Give a file"):
        file_size(tmp_path)
    with pytest.raises(FileNotFoundError):
        file_size(tmp_path / "none.csv")


def test_a_free_name_beside_a_file_is_reserved_while_there_is_one(tmp_path):
    path = tmp_path / "a.nc"
    names = [reserve_name(path, "damaged", most=3).name for _ in range(3)]
    assert names == ["a.nc.damaged", "a.nc.damaged-2", "a.nc.damaged-3"]
    refused(
        lambda: reserve_name(path, "damaged", most=3),
        "there are already 3 damaged files of it",
        kind=OSError,
    )


@pytest.fixture
def large_file(tmp_path):
    """A file that declares eight days of a thousand cells, and has none of them."""
    with netCDF4.Dataset(tmp_path / "a.nc", "w") as file:
        for name, size in {"time": 8, "cell": 1000}.items():
            file.createDimension(name, size)
        file.createVariable("time", "f8", ("time",))
        file.createVariable("tmin", "f8", ("time", "cell"), zlib=True)
    return tmp_path / "a.nc"


def test_the_largest_variable_counts(large_file):
    check_declared_size(large_file, 64_000)
    with pytest.raises(ValueError, match="'tmin' claims to have 64,000 bytes, and at most 63,999"):
        check_declared_size(large_file, 63_999)


def test_of_a_file_that_is_read_by_and_by_its_coordinates_alone_count(large_file):
    check_declared_size(large_file, 64, coordinates=True)
    with pytest.raises(ValueError, match="'time' claims to have 64 bytes, and at most 63 are"):
        check_declared_size(large_file, 63, coordinates=True)
