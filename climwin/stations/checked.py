"""Histories ready for use: fetched, or taken from the store, and checked."""

from __future__ import annotations

from typing import Any

import xarray as xr

from climwin.core.schema import Garden, Station
from climwin.io import quality
from climwin.stations import history


def fetch_history(
    place: Garden | Station | str,
    first_year: int | None = None,
    last_year: int | None = None,
    **options: Any,
) -> xr.Dataset:
    """Fetch a history, or take it from the local store, and check its values.

    Takes and gives what `history.fetch_history` does; of each variable also what was set aside
    and why, see `quality.quality_control`.
    """
    return quality.quality_control(history.fetch_history(place, first_year, last_year, **options))
