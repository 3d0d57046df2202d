"""Write any result to a file: CSV for spreadsheets, netCDF for programs, with units and source.

A file is complete or absent: it is written under another name, then moved into place.
"""

from __future__ import annotations

import re
from collections import Counter
from collections.abc import Iterator
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin.core.errors import InputError
from climwin.core.schema import Variable
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    import pandas as pd

Result = xr.Dataset | xr.DataArray

_UNITS = {"days": "day", "day of the year": "1"}
"""UDUNITS spellings of the units that climwin writes in words."""
_PLACE: dict[str, dict[str, str]] = {
    "time": {"standard_name": "time", "axis": "T", "units_metadata": "leap_seconds: none"},
    "latitude": {"standard_name": "latitude", "units": "degrees_north"},
    "longitude": {"standard_name": "longitude", "units": "degrees_east"},
    "elevation": {"standard_name": "altitude", "units": "m", "positive": "up"},
}

_AS_TEXT = "'"
_RUNS = r"""^{0}(?=['"]*[=+\-@\t\r\n])|(?<=[,;\t\r\n]){0}(?=['"]*[=+\-@])"""
"""Where a spreadsheet would start to run text as a formula, whatever its cell separator."""
_FORMULA, _TAMED = re.compile(_RUNS.format("")), re.compile(_RUNS.format(_AS_TEXT))
_NUMBER = re.compile(r"[+-]?\d*\.?\d*")  # or a dash alone


# --- CSV ----------------------------------------------------------------------------------


def to_csv(result: Result, path: str | Path) -> Path:
    """Write a result as a CSV table, with its description, source and units above.

    Parameters
    ----------
    result : Dataset or DataArray
        Any result, or a record.
    path : str or Path
        File to write, ending in ``.csv``; an existing one is replaced.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ValueError
        If the name has another ending.

    Notes
    -----
    Rows run along the dimensions that most variables have. Any other dimension of a variable
    becomes columns, such as ``tmean[10]`` to ``tmean[90]``; a variable without a dimension of the
    rows is repeated along it. Single draws of missing days are left out, see `draw_gaps`; netCDF
    has them.

    Lines above the table begin with ``#``. Dates are year-month-day, and missing values are empty.
    Text that a spreadsheet would run as a formula gets an apostrophe in front.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.to_csv(cw.freeze_odds(daily), "freezes.csv")  # doctest: +SKIP
    """
    loaded = _without_draws(_whole(result))
    rows = _rows(loaded)
    table = _table(loaded, rows)
    text = "".join(map(remark, _head(loaded, rows)))
    text += without_formulas(table).to_csv(index=bool(rows), lineterminator="\n")
    with atomic_write(_named(path, ".csv")) as part:
        part.write_text(text, "utf-8", newline="")
    return Path(path)


def remark(text: str) -> str:
    """Text as a comment above a table, with further lines indented, and safe for spreadsheets."""
    indented = "\n#   ".join(text.splitlines())
    return f"# {_tamed(indented)}\n"


def without_formulas(table: pd.DataFrame) -> pd.DataFrame:
    """The table with an apostrophe before any text that a spreadsheet would run as a formula.

    References
    ----------
    .. [1] OWASP, "CSV Injection" (from memory).
    """
    out = table.rename(index=_tamed, columns=_tamed)
    for name in out:
        if out[name].dtype.kind not in "biufmM":
            out[name] = out[name].map(_tamed)
    return out


def _tamed(value: Any) -> Any:
    """A cell with an apostrophe before text that would run as a formula; all else unchanged."""
    is_text = isinstance(value, str) and not _NUMBER.fullmatch(value)
    return _FORMULA.sub(_AS_TEXT, value) if is_text else value


def as_written(cell: str) -> str:
    """The text from which `without_formulas` made this cell."""
    return _TAMED.sub("", cell)


def _whole(result: Result) -> xr.Dataset:
    """The result as a Dataset in memory."""
    if isinstance(result, xr.Dataset):
        return result.compute()
    named = result.rename(result.name or "value").compute()
    facts = {key: value for key, value in named.attrs.items() if key not in Variable._fields}
    return named.to_dataset().assign_attrs(facts)


def _without_draws(result: xr.Dataset) -> xr.Dataset:
    """The result without single draws of missing days, which would be twenty columns each."""
    return result.drop_dims("draw", errors="ignore")


def _rows(result: xr.Dataset) -> list[str]:
    """Dimensions of the table's rows: those of most variables; if tied, the fewest."""
    kinds = Counter(frozenset(map(str, da.dims)) for da in result.data_vars.values())
    most = min(kinds, key=lambda dims: (-kinds[dims], len(dims)), default=frozenset[str]())
    return [str(dim) for dim in result.dims if dim in most]


def _table(result: xr.Dataset, rows: list[str]) -> pd.DataFrame:
    """Variables and the coordinates beside them as columns, one row for each place along `rows`."""
    import pandas as pd

    beside = [name for name in result.coords if name not in result.dims]
    columns = {
        label: column
        for name in (*result.data_vars, *beside)
        for label, column in _columns(result[name], rows)
    }
    if not rows:
        return pd.DataFrame({label: [column.item()] for label, column in columns.items()})
    return xr.Dataset(columns).to_dataframe(dim_order=rows)[[*columns]]


def _columns(da: xr.DataArray, rows: list[str]) -> Iterator[tuple[str, xr.DataArray]]:
    """Columns of a variable: one for each position along its dimensions that are not rows."""
    across = [dim for dim in da.dims if dim not in rows]
    for place in np.ndindex(*(da.sizes[dim] for dim in across)):
        at = dict(zip(across, place, strict=True))
        labels = ", ".join(str(da[dim].values[i]) for dim, i in at.items())
        column = da.isel(at).reset_coords(drop=True)
        yield f"{da.name}[{labels}]" if at else str(da.name), column


def _head(result: xr.Dataset, rows: list[str]) -> Iterator[str]:
    """Comments above the table: the result's attributes, and what its columns are."""
    for key, value in result.attrs.items():
        yield f"{key}: {_text(value)}"
    yield f"written by: {author()}"
    for name, da in {**result.coords, **result.data_vars}.items():
        across = ", ".join(str(dim) for dim in da.dims if dim not in rows and dim != name)
        units = da.attrs.get("units")
        meaning = "; ".join(filter(None, (da.attrs.get("long_name"), _flags(da))))
        if across or units or meaning:
            label = f"{name}[{across}]" if across else name
            unit = f" in {units}" if units else ""
            yield f"column {label}{unit}: {meaning}".removesuffix(": ")


def _flags(da: xr.DataArray) -> str:
    """What the numbers of a flag mean."""
    meanings = str(da.attrs.get("flag_meanings", "")).split()
    numbers = np.atleast_1d(da.attrs.get("flag_values", []))
    return ", ".join(f"{n} {text}" for n, text in zip(numbers, meanings, strict=True))


def _text(value: Any) -> str:
    """An attribute in words."""
    return (
        ", ".join(map(str, value)) if isinstance(value, list | tuple | np.ndarray) else str(value)
    )


def author() -> str:
    """The program that wrote a file, and its version."""
    from climwin import __version__

    return f"climwin {__version__}"


# --- netCDF -------------------------------------------------------------------------------


def to_netcdf(result: Result, path: str | Path) -> Path:
    """Write a result as netCDF that follows the CF conventions.

    Parameters
    ----------
    result : Dataset or DataArray
        Any result, or a record.
    path : str or Path
        File to write, ending in ``.nc``; an existing one is replaced.

    Returns
    -------
    Path
        The file.

    Raises
    ------
    ValueError
        If the name has another ending.

    Notes
    -----
    ``units`` are spelled as in UDUNITS; if climwin spells them in words, ``comment`` has the words.

    References
    ----------
    .. [1] CF conventions 1.11, cfconventions.org (from memory).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.to_netcdf(cw.freeze_odds(daily), "freezes.nc")  # doctest: +SKIP
    """
    by_convention = _by_convention(_whole(result))
    with atomic_write(_named(path, ".nc")) as part:
        by_convention.to_netcdf(part, engine="netcdf4")
    return Path(path)


def _by_convention(result: xr.Dataset) -> xr.Dataset:
    """The result with the attributes and encodings that CF requires."""
    out = result.drop_encoding()
    for name in [*out.variables]:
        if out[name].dtype == object:  # text with missing values
            out[name] = out[name].fillna("").astype(str)
        out[name].attrs = _described(str(name), out[name])
        out[name].encoding = _encoded(out[name], coordinate=name in out.coords)
    facts = {"title": "Result of climwin", **out.attrs}
    facts = {key: _plain(value) for key, value in facts.items() if value is not None}
    licence = {"license": facts["licence"]} if "licence" in facts else {}  # as ACDD spells it
    story = "\n".join(filter(None, (facts.get("history"), f"written by {author()}")))
    out.attrs = {**facts, **licence, "history": story, "Conventions": "CF-1.11"}
    return out


def _described(name: str, da: xr.DataArray) -> dict[str, Any]:
    """Attributes of a variable, always with a ``long_name``."""
    out = {"long_name": name.replace("_", " "), **da.attrs, **_PLACE.get(name, {})}
    words = str(out.get("units", ""))
    base, decade, _ = words.partition("per decade")
    units = _UNITS.get(base.strip(), base.strip()) + (" (10 year)-1" if decade else "")
    if da.dtype.kind == "M":
        out.pop("units", None)  # the encoding has them
    elif units != words:
        out |= {"units": units.strip(), "comment": f"in {words}"}
    if "time" not in da.dims:
        out.pop("cell_methods", None)  # these are of the daily values
    if str(out.get("standard_name")).endswith("_temperature"):
        out["units_metadata"] = "temperature: on_scale"
    return {key: _plain(value) for key, value in out.items() if value is not None}


def _encoded(da: xr.DataArray, *, coordinate: bool) -> dict[str, Any]:
    """How numbers and dates are stored; coordinates have no fill value."""
    fill = {"_FillValue": None if coordinate else np.nan}
    if da.dtype.kind == "M":
        dates = da.values[~np.isnat(da.values)]
        step = "days" if (dates == dates.astype("datetime64[D]")).all() else "seconds"
        return {"units": f"{step} since 1970-01-01", "dtype": "float64", **fill}
    return fill if da.dtype.kind == "f" else {}


def _plain(value: Any) -> Any:
    """An attribute in a type that netCDF can store."""
    plain = isinstance(value, str | int | float | list | tuple | np.ndarray | np.number)
    return value if plain and not isinstance(value, bool) else str(value)


# --- the file -----------------------------------------------------------------------------


def _named(path: str | Path, suffix: str) -> Path:
    """The file's path, its ending checked."""
    target = Path(path)
    if target.suffix != suffix:
        msg = f"The file's name must end in {suffix}, got {target.name!r}. Rename it."
        raise InputError(msg)
    return target
