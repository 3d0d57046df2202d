"""What a page is made of, as text for its notebook and back: JSON, in which nothing can run."""

from __future__ import annotations

import base64
import datetime as dt
import io
import json
from dataclasses import fields, is_dataclass
from types import UnionType
from typing import Any, TypeVar, get_args, get_origin, get_type_hints

import numpy as np
import xarray as xr

Kind = TypeVar("Kind")


def to_text(given: Any) -> str:
    """A page's report, its units and its date as text.

    Parameters
    ----------
    given : dataclass or NamedTuple
        Its fields hold texts, numbers, dates, datasets, and tuples or dataclasses of these.

    Returns
    -------
    str
        JSON. What a report has worked out already is left behind.
    """
    return json.dumps(_plain(given))


def from_text(kind: type[Kind], text: str) -> Kind:
    """The object that `to_text` was given; its annotations alone say what is built.

    Parameters
    ----------
    kind : type
        Of the object, such as `tables.Page`.
    text : str
        From `to_text`.
    """
    built: Kind = _built(kind, json.loads(text))
    return built


# --- to text ------------------------------------------------------------------------------


def _plain(value: Any) -> Any:
    if is_dataclass(value):
        return {each.name: _plain(getattr(value, each.name)) for each in fields(value)}
    if hasattr(value, "_asdict"):
        return {name: _plain(item) for name, item in value._asdict().items()}
    if isinstance(value, tuple):
        return [_plain(item) for item in value]
    if isinstance(value, dt.date):
        return value.isoformat()
    return _plain_dataset(value.compute()) if isinstance(value, xr.Dataset) else value


def _plain_dataset(result: xr.Dataset) -> dict[str, Any]:
    variables = {
        str(name): [da.dims, _packed(da.values), _plain_attrs(da.attrs)]
        for name, da in result.variables.items()
    }
    return {
        "variables": variables,
        "coords": [str(name) for name in result.coords],
        "attrs": _plain_attrs(result.attrs),
    }


def _plain_attrs(attrs: dict[str, Any]) -> dict[str, Any]:
    return {
        str(key): {"array": _packed(value)} if isinstance(value, np.ndarray | np.generic) else value
        for key, value in attrs.items()
    }


def _packed(values: Any) -> str:
    array, buffer = np.asarray(values), io.BytesIO()
    np.save(buffer, array.astype(str) if array.dtype == object else array, allow_pickle=False)
    return base64.b64encode(buffer.getvalue()).decode("ascii")


# --- from text ----------------------------------------------------------------------------


def _built(kind: Any, value: Any) -> Any:
    origin, of = get_origin(kind), get_args(kind)
    if value is None:
        return None
    if origin is UnionType:  # of a type and None
        return _built(of[0], value)
    if origin is tuple:
        kinds = of[:1] * len(value) if of[-1] is Ellipsis else of
        return tuple(_built(each, item) for each, item in zip(kinds, value, strict=True))
    if kind is dt.date:
        return dt.date.fromisoformat(value)
    if kind is xr.Dataset:
        return _dataset(value)
    if is_dataclass(kind) or hasattr(kind, "_fields"):
        hints = get_type_hints(kind)
        return kind(**{name: _built(hints[name], item) for name, item in value.items()})
    return value


def _dataset(given: dict[str, Any]) -> xr.Dataset:
    variables = {
        name: (dims, _unpacked(packed), _attrs(attrs))
        for name, (dims, packed, attrs) in given["variables"].items()
    }
    return xr.Dataset(variables, attrs=_attrs(given["attrs"])).set_coords(given["coords"])


def _attrs(given: dict[str, Any]) -> dict[str, Any]:
    return {
        key: _unpacked(value["array"])[()] if isinstance(value, dict) else value
        for key, value in given.items()
    }


def _unpacked(packed: str) -> np.ndarray:
    array: np.ndarray = np.load(io.BytesIO(base64.b64decode(packed)), allow_pickle=False)
    return array
