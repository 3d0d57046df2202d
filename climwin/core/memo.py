"""Results that are remembered: by a key, or by the content of what they were computed from.

Almost every question about a record begins with its grid of years, its usual year, its sudden steps
and the soil temperature. The functions that compute these stay pure, arrays in and arrays out, and
remember their latest results: a page asks for the same grid a hundred times, and it is computed
once. The alternative, passing the grids from the page down, would add them to the signature of
every function.
"""

from __future__ import annotations

import functools
import hashlib
import threading
from collections import OrderedDict
from collections.abc import Callable, Hashable
from typing import TYPE_CHECKING, Any, Generic, ParamSpec, TypeVar

import numpy as np

if TYPE_CHECKING:
    import xarray as xr

KEPT_BYTES = 32_000_000
"""Most that a function remembers, its latest results: the drawn gaps of two batches of stations."""
LARGEST = 2_000_000
"""Largest argument or result that is remembered, about two centuries of days. [bytes]"""

P = ParamSpec("P")
T = TypeVar("T")
Labelled = TypeVar("Labelled", "xr.DataArray", "xr.Dataset")


class Latest(Generic[T]):
    """What was made for the latest keys.

    Parameters
    ----------
    most : int, optional
        Keys that are remembered; all where left out.

    Examples
    --------
    >>> squares = Latest[int](most=2)
    >>> squares.once(3, lambda: 9), squares.once(3, lambda: 0)
    (9, 9)
    """

    def __init__(self, most: int | None = None) -> None:
        self._most = most
        self._made: OrderedDict[Hashable, T] = OrderedDict()

    def once(self, key: Hashable, make: Callable[[], T]) -> T:
        """What `make` gives, made once as long as its key is among the latest."""
        made = self._made[key] if key in self._made else make()
        self._made[key] = made
        self._made.move_to_end(key)  # the latest
        if self._most is not None and len(self._made) > self._most:
            self._made.popitem(last=False)
        return made


def remembered(function: Callable[P, Labelled]) -> Callable[P, Labelled]:
    """Remember the latest results of a function of arrays, datasets and plain values.

    The key is the content of the arguments: values, coordinates, names and attributes. So an array
    that was changed in place is a new one, and an equal copy is the same one. Each caller gets a
    copy of the result. If an argument is large, lazy or holds objects, the result is computed each
    time. Thread-safe.

    Parameters
    ----------
    function : callable
        Pure; returns one DataArray or one Dataset.
    """
    results: OrderedDict[bytes, Labelled] = OrderedDict()
    lock = threading.Lock()
    kept = 0

    @functools.wraps(function)
    def wrapper(*args: P.args, **kwargs: P.kwargs) -> Labelled:
        nonlocal kept
        try:
            key = _digest((args, sorted(kwargs.items())))
        except _NotRememberedError:
            return function(*args, **kwargs)
        with lock:
            known = results.get(key)
            if known is not None:
                results.move_to_end(key)
        if known is None:
            known = function(*args, **kwargs)
            if known.nbytes > LARGEST:
                return known
            with lock:
                if key not in results:  # another thread may have computed it meanwhile
                    results[key] = known
                    kept += known.nbytes
                while kept > KEPT_BYTES:
                    kept -= results.popitem(last=False)[1].nbytes
        return _copy(known)

    return wrapper


def _copy(known: Labelled) -> Labelled:
    """A copy of the result, so that a caller may change its values and attributes."""
    import xarray as xr

    if isinstance(known, xr.Dataset):
        return known.copy(deep=False, data={name: known[name].values.copy() for name in known})
    return known.copy(deep=False, data=known.values.copy())


class _NotRememberedError(Exception):
    """An argument is too large, lazy, or of a type whose content cannot be hashed."""


def _digest(arguments: Any) -> bytes:
    digest = hashlib.blake2b(digest_size=16)
    _add(digest, arguments)
    return digest.digest()


def _add(digest: Any, value: Any) -> None:
    """Add a value to a digest, type and length first, so that no two values run together."""
    import xarray as xr

    if isinstance(value, xr.DataArray):
        _add_labelled(digest, value)
    elif isinstance(value, xr.Dataset):
        _add(digest, ["dataset", value.attrs, list(value.data_vars.items())])
        _add(digest, list(value.coords.items()))  # also those that no variable uses
    elif isinstance(value, np.ndarray):
        _add_values(digest, value)
    elif isinstance(value, dict):
        _add(digest, list(value.items()))
    elif isinstance(value, list | tuple):
        digest.update(f"{len(value)} items ".encode())
        for item in value:
            _add(digest, item)
    elif isinstance(value, str | int | float | bool | np.generic | None):
        text = repr(value)
        digest.update(f"{type(value).__name__} {len(text)} {text} ".encode())
    else:
        raise _NotRememberedError


def _add_labelled(digest: Any, array: xr.DataArray) -> None:
    if array.chunks is not None or array.nbytes > LARGEST:
        raise _NotRememberedError
    _add(digest, ["array", array.name, array.dims, array.attrs, array.values])
    _add(digest, [[name, c.dims, c.attrs, c.values] for name, c in array.coords.items()])


def _add_values(digest: Any, values: np.ndarray) -> None:
    if values.dtype == object:
        raise _NotRememberedError
    digest.update(f"values {values.dtype.str} {values.shape} ".encode())
    digest.update(np.ascontiguousarray(values).tobytes())
