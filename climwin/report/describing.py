"""The answer of a notebook in words: sentences that page and commands say too, in one call."""

from __future__ import annotations

from typing import TYPE_CHECKING

from climwin.report import sentences_season, sentences_space
from climwin.report.sentences_decision import numbers_behind, verdict

if TYPE_CHECKING:
    import xarray as xr

    from climwin.core.schema import Units
    from climwin.report.garden import GardenReport


def describe_decision(report: GardenReport) -> str:
    """What to do, and in how many years it worked, as the page's first lines say it.

    Parameters
    ----------
    report : GardenReport
        From `garden_report`, or the ``report`` of a panel.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> report = cw.garden_report(cw.garden_of(daily), daily, crop=cw.crop("pea"))
    >>> print(cw.describe_decision(report))
    Sow peas in mid-March; summer is surer. Sown outdoors about 15 March, peas gave a harvest in
    36 of 40 years; about 15 July, in 40 of 40.
    """
    return f"{verdict(report)}. {numbers_behind(report)}"


def describe_space(found: xr.Dataset, units: Units = "C", *, name: str = "the space") -> str:
    """From when a covered space serves for young plants, and in which months it does not.

    Parameters
    ----------
    found : Dataset, dims (month)
        From `space_verdict`.
    units : {"C", "F"}
        Of the temperatures.
    name : str
        What to call the space.

    Examples
    --------
    >>> import climwin as cw
    >>> daily, pea = cw.read_daily(cw.sample()), cw.crop("pea")
    >>> found = cw.space_verdict(daily, cw.COVERS["cold frame"], pea)
    >>> print(cw.describe_space(found, name="the frame").split(";")[0])
    For young pea plants the frame is good enough from 16 February in nine years of ten
    """
    return "\n".join(sentences_space.verdict(found, units, name=name))


def describe_season(so_far: xr.Dataset, units: Units = "C") -> str:
    """How the season compares with past ones, line by line.

    Parameters
    ----------
    so_far : Dataset
        From `season_so_far`.
    units : {"C", "F"}
        Of the temperatures; rain in inches beside degF.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample()).sel(time=slice(None, "2024-05-14"))
    >>> print(cw.describe_season(cw.season_so_far(daily)).splitlines()[1])
      By its heat so far the season is 11 days ahead of a typical year.
    """
    lines = [
        sentences_season.season_heading(so_far),
        *(f"  {line}" for line in sentences_season.season_lines(so_far, units)),
        *sentences_season.season_notes(so_far),
    ]
    return "\n".join(lines)
