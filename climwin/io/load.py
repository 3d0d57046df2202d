"""Records ready for use: read, checked, and the invented sample."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

import xarray as xr

from climwin.core.schema import RecordError, Units
from climwin.io import quality, readers

_PACKAGE = Path(__file__).parents[1]
_SAMPLES = (_PACKAGE / "data_samples", _PACKAGE.parent / "data_samples")


def read_daily(
    path: str | Path,
    *,
    units: Units | None = None,
    columns: Mapping[str, str] | None = None,
    dates: str | None = None,
) -> xr.Dataset:
    """Read a file of daily weather and check its values.

    Parameters
    ----------
    path : str or Path
        CSV, GHCN-Daily ``.dly``, or NOAA's by-station CSV.
    units : {"C", "F"}, optional
        Of the temperatures, where the file does not say.
    columns : mapping, optional
        Own names of the columns, such as ``{"tmin": "Low"}``.
    dates : str, optional
        Form of the dates, such as ``"%d/%m/%Y"``.

    Returns
    -------
    Dataset, dims (time)
        ``tmin``, ``tmax``, ``tmean`` [degC] and ``precip`` [mm] where there is any; of each what
        was set aside and why, see `quality.quality_control`.

    Raises
    ------
    RecordError
        Says which line and value, what is allowed, and what to do.
    """
    return quality.quality_control(
        readers.read_daily(path, units=units, columns=columns, dates=dates)
    )


def sample(name: str = "pellbrook_valley.csv") -> Path:
    """Path of a file of the invented sample.

    Raises
    ------
    RecordError
        If there is no such file; the text lists those there are.
    """
    for folder in _SAMPLES:
        if (folder / name).is_file():
            return folder / name
    held = sorted(p.name for folder in _SAMPLES if folder.is_dir() for p in folder.glob("*.*"))
    msg = f"The sample has no {name!r}; it has {', '.join(held)}."
    raise RecordError(msg)
