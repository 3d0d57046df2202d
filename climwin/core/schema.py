"""Names and units of the daily variables, checks of arguments, errors, and places.

Everything inside the package is in degC, mm and days. Readers convert on entry, views on exit.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from numbers import Real
from typing import TYPE_CHECKING, Any, Literal, NamedTuple, TypeVar

from climwin.core.errors import Call, InputError, Parameter, RecordError, nearest_names
from climwin.core.text import plain_text

if TYPE_CHECKING:  # these take a second to load, and help and refusals do without them
    import numpy as np
    import xarray as xr

Units = Literal["C", "F"]
Temperature = TypeVar("Temperature", float, "np.ndarray", "xr.DataArray")

TOLERANCE_C = 0.05
"""Tolerance of every threshold [degC]: records of whole degF are stored as rounded tenths of degC,
such as 28 degF as -2.2."""
ZERO_C_IN_K = 273.15
"""0 degC in kelvin. [K]"""


UNTOLD_SOURCE, MEASURED_SOURCE = 0, 1
"""Codes of ``tmin_source`` and ``tmax_source`` in a joined record: a missing day that no nearby
station covers, and a measured day. Higher codes stand for the stations that cover it."""

HIGHEST_GARDEN_M, HIGHEST_STATION_M = 5000, 9000
"""Heights that no garden and no weather station lies above. Potatoes are grown to some 4300 m in
the Andes, and barley to 4700 m in Tibet (from memory). [m]"""


class Variable(NamedTuple):
    """One daily variable: its unit, what it is in words, its CF standard name and cell method."""

    units: str
    long_name: str
    standard_name: str
    cell_methods: str


VARIABLES: dict[str, Variable] = {
    "tmin": Variable("degC", "daily minimum air temperature", "air_temperature", "time: minimum"),
    "tmax": Variable("degC", "daily maximum air temperature", "air_temperature", "time: maximum"),
    "tmean": Variable("degC", "daily mean air temperature", "air_temperature", "time: mean"),
    "precip": Variable(
        "mm", "daily precipitation", "lwe_thickness_of_precipitation_amount", "time: sum"
    ),
    "tsoil": Variable("degC", "daily mean soil temperature", "soil_temperature", "time: mean"),
}


@dataclass(frozen=True, slots=True)
class Garden:
    """A place where someone grows food.

    Parameters
    ----------
    name : str
        What the gardener calls it.
    latitude, longitude : float
        Decimal degrees, north and east positive.
    elevation : float, optional
        Height above sea level. [m]
    address : str, optional
        Town, region and country, as `locate` gives them.
    doubt : str, optional
        What to check if other places have the same name.

    Raises
    ------
    ValueError
        If a position is nowhere, or higher than anything is grown, or name and numbers have changed
        places.

    Examples
    --------
    >>> import climwin as cw
    >>> garden = cw.Garden("Our plot", 46.1, 7.2, elevation=640, address="Lower Pellbrook")
    >>> garden.full_name
    'Our plot (Lower Pellbrook)'
    """

    name: str
    latitude: float
    longitude: float
    elevation: float | None = None
    address: str = ""
    doubt: str = ""

    def __post_init__(self) -> None:
        _check_place(self.name, self.latitude, self.longitude, self.elevation, HIGHEST_GARDEN_M)
        object.__setattr__(self, "name", plain_text(self.name))

    @property
    def full_name(self) -> str:
        """Its name, with region and country if they are known."""
        if not self.address:
            return self.name
        if self.address.split(", ")[0] == self.name:
            return self.address
        return f"{self.name} ({self.address})"


@dataclass(frozen=True, slots=True)
class Station:
    """A weather station: the place of a record.

    Parameters
    ----------
    id, name : str
        The provider's identifier, and the station's name.
    latitude, longitude : float
        Decimal degrees, north and east positive.
    elevation : float, optional
        Height above sea level. [m]
    """

    id: str
    name: str
    latitude: float
    longitude: float
    elevation: float | None = None

    def __post_init__(self) -> None:
        _check_place(self.name, self.latitude, self.longitude, self.elevation, HIGHEST_STATION_M)
        object.__setattr__(self, "name", plain_text(self.name))


def _check_place(
    name: object, latitude: object, longitude: object, elevation: object, highest: int
) -> None:
    """Refuse a place whose parts have changed places, or that is nowhere, or too high."""
    if not isinstance(name, str):
        msg = (
            f"A place is its name, its latitude and its longitude, in this order; got {name!r} as "
            "the name."
        )
        raise InputError(msg, parameter="name")
    if not plain_text(name).strip():
        msg = f"A place needs a name that shows, got {name!r}. Give it any that you will recognise."
        raise InputError(msg, parameter="name")
    for label, value, low, high in (
        ("latitude", latitude, -90, 90),
        ("longitude", longitude, -180, 180),
        ("elevation", elevation, -500, highest),
    ):
        if value is None and label == "elevation":
            continue
        if not isinstance(value, Real):
            msg = f" of {name!r} must be a number, such as 46.1, got {value!r}."
            raise InputError(Parameter(label), msg)
        if not low <= float(value) <= high:
            msg = f" of {name!r} must lie between {low} and {high}, got {value!r}."
            raise InputError(Parameter(label), msg)


def check_units(da: xr.DataArray, expected: str) -> None:
    """Refuse an array whose ``units`` attribute is not `expected`.

    Raises
    ------
    ValueError
        Names the array, the expected unit, the actual unit, and how to convert.
    """
    actual = da.attrs.get("units")
    if actual != expected:
        hint = (
            " Convert it first: (degF - 32) / 1.8 is degC. Then set its attribute units."
            if expected == "degC"
            else ""
        )
        msg = f"{da.name!r} must be in {expected}, got {actual!r}.{hint}"
        raise RecordError(msg)


def check_choice(name: str, given: object, allowed: Iterable[object]) -> None:
    """Refuse a value outside a list of choices, naming them all.

    Raises
    ------
    ValueError
        Says what was given and what is allowed.
    """
    choices = list(allowed)
    if given not in choices:
        near = nearest_names(given, choices)
        meant = f" Did you mean {near[0]!r}?" if near else ""
        msg = f" must be one of {', '.join(map(str, choices))}; got {given!r}.{meant}"
        raise InputError(Parameter(name), msg)


def variable(daily: xr.Dataset, name: str) -> xr.DataArray:
    """One daily variable of a record, its unit checked.

    Raises
    ------
    ValueError
        If the record lacks it, or has it in another unit; the message lists what is there.
    """
    check_record(daily)
    if name not in daily:
        present = ", ".join(v for v in VARIABLES if v in daily) or "none of the daily variables"
        msg = f"The record has no {name!r} ({VARIABLES[name].long_name}); it holds {present}."
        raise RecordError(msg)
    found = daily[name]
    check_units(found, VARIABLES[name].units)
    if found.dtype.kind not in "fiu":
        msg = f"{name!r} must hold numbers, got the type {found.dtype}. Convert it to float first."
        raise RecordError(msg)
    return found


def check_record(daily: object) -> None:
    """Refuse what is no record: another type, other dimensions, or a time without dates.

    Raises
    ------
    ValueError
        Says what was given, and how to make a record of it.
    """
    import xarray as xr  # here, because commands that need no record start faster without it

    if not isinstance(daily, xr.Dataset):
        msg = f"A record is an xarray Dataset with tmin and tmax, got {type(daily).__name__}. "
        raise RecordError(msg, "Read it with ", Call("read_daily", ("path",)), ".")
    if "time" not in daily.dims or "time" not in daily.coords:
        named = ", ".join(map(str, daily.sizes)) or "none"
        msg = f"A record has the dimension 'time' with its dates, got the dimensions {named}. Take "
        raise RecordError(msg, Call("as_daily", ("grid",)), ", or rename it.")
    time = daily["time"]
    if time.size and time.dtype.kind != "M" and not _of_a_calendar(time):
        msg = f"'time' must hold dates, got the type {time.dtype}. pandas.to_datetime makes dates."
        raise RecordError(msg)


def _of_a_calendar(time: xr.DataArray) -> bool:
    """Whether an axis holds the dates of a calendar of a climate model."""
    return bool(time.size) and hasattr(time.values.flat[0], "calendar")


def apply(
    kernel: Callable[..., Any],
    *arrays: xr.DataArray | xr.Variable,
    core: Sequence[Sequence[str]],
    out: Sequence[Sequence[str]] = ((),),
    sizes: Mapping[str, int] | None = None,
    dtypes: Sequence[Any] = (float,),
    each: bool = False,
) -> Any:
    """Apply a NumPy kernel to labelled arrays: other dimensions pass through, dask stays lazy.

    Parameters
    ----------
    kernel : callable
        Takes arrays whose last axes are the `core` dimensions; returns one array for each of `out`.
    *arrays : DataArray or Variable
        Its arguments; variables have no coordinates that would have to be aligned.
    core, out : sequence of sequences of str
        Dimensions that the kernel consumes, for each argument, and creates, for each result.
    sizes : mapping, optional
        Lengths of the dimensions of `out` that are not in `core`.
    dtypes : sequence of dtype
        The type of each result.
    each : bool
        Whether the kernel handles one station at a time, without leading axes.

    Returns
    -------
    DataArray, or tuple of DataArray
        One for each of `out`; variables of variables.
    """
    import xarray as xr

    return xr.apply_ufunc(
        kernel,
        *arrays,
        input_core_dims=core,
        output_core_dims=out,
        vectorize=each,
        dask="parallelized",
        keep_attrs=False,
        output_dtypes=list(dtypes),
        dask_gufunc_kwargs={"output_sizes": dict(sizes or {}), "allow_rechunk": True},
    )


def to_celsius(values: Temperature, units: Units) -> Temperature:
    """Temperature in `units` as degC.

    Examples
    --------
    >>> import climwin as cw
    >>> cw.to_celsius(50.0, "F")
    10.0
    """
    check_choice("units", units, ("C", "F"))
    return values if units == "C" else (values - 32) / 1.8


def from_celsius(values: Temperature, units: Units) -> Temperature:
    """Temperature in degC as `units`.

    Examples
    --------
    >>> import climwin as cw
    >>> float(cw.from_celsius(10.0, "F"))
    50.0
    """
    check_choice("units", units, ("C", "F"))
    return values if units == "C" else values * 1.8 + 32


def difference_from_celsius(values: Temperature, units: Units) -> Temperature:
    """Temperature difference in degC as `units`: scaled, without the offset."""
    check_choice("units", units, ("C", "F"))
    return values if units == "C" else values * 1.8
