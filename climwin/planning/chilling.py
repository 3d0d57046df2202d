"""The kind of tree that a place has the winters for."""

from __future__ import annotations

import numpy as np
import xarray as xr

from climwin.crops.model import Crop
from climwin.planning.grown import Calendar
from climwin.planning.over_sites import Result, over_sites
from climwin.planning.perennial import chill_need_at
from climwin.planning.site import FilledSites


def chill_need(crop: Crop, daily: xr.Dataset) -> xr.DataArray:
    """Chill units that end the rest of the kind of tree, vine or bush that a place is judged with.

    That of the common kinds, or, where winters are too mild for these, what nine winters in ten
    bring, if there are kinds that need no more.

    Parameters
    ----------
    crop : Crop
        What is grown.
    daily : Dataset, dims (..., time)
        Needs ``tmin`` and ``tmax`` [degC], and its latitude.

    Returns
    -------
    DataArray, dims (...)
        Daily positive Utah units; 0 for what has no rest.

    Raises
    ------
    ValueError
        If the record holds no latitude.

    References
    ----------
    .. [1] E. Luedeling and P. H. Brown, "A global analysis of the comparability of winter chill
       models for fruit and nut trees," International Journal of Biometeorology, vol. 55,
       pp. 411-421, 2011 (abstract).

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> float(cw.chill_need(cw.crop("apple"), daily))
    1000.0
    """

    def kernel(sites: FilledSites, _: Calendar) -> tuple[np.ndarray, ...]:
        need = chill_need_at(sites.usual, crop) if sites.usual.has_usual_year else np.nan
        return (np.array(need),)

    out = over_sites(kernel, daily, results=[Result("chill_need", (), float)])
    need: xr.DataArray = out["chill_need"].assign_attrs(long_name="Chill units that end its rest")
    return need
