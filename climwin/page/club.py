"""A club's page: several gardens side by side, from a small TOML file, on the same years.

The page holds what the file lists, and nothing else of anybody. It is made as `page` makes its
own: ``data/page/club.ipynb`` is executed and rendered.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import xarray as xr

from climwin.climate.adjust import adjust_to_garden
from climwin.core.schema import Garden, Units, check_choice
from climwin.crops.catalogue import crop, read_crop
from climwin.crops.model import Crop
from climwin.io.daily import read_daily
from climwin.io.structured import read_toml
from climwin.page.club_parts import ClubPage
from climwin.page.write import date_of_page, write_whole
from climwin.report.garden import GardenReport, garden_report
from climwin.widgets.state import span_of, within

# --- the file -----------------------------------------------------------------------------


@dataclass(frozen=True, slots=True, kw_only=True)
class Member:
    """A garden of the club, and the weather record that stands for it.

    Parameters
    ----------
    name : str
        What the page calls it.
    record : str
        A daily record, its path as seen from the club's file.
    latitude, longitude : float
        Decimal degrees, north and east positive.
    elevation : float, optional
        Height above sea level. [m]
    temperatures : {"station", "garden"}
        As the station measured them, or moved to the garden's height.
    """

    name: str
    record: str
    latitude: float
    longitude: float
    elevation: float | None = None
    temperatures: Literal["station", "garden"] = "station"


@dataclass(frozen=True, slots=True, kw_only=True)
class Club:
    """A club: its gardens, and the crop that they are compared by.

    Parameters
    ----------
    name : str
        What the page calls it.
    crop : str
        A crop of the catalogue, or a crop file's path as seen from the club's file.
    gardens : tuple of Member
        Two or more, of different names.
    need_days : int, optional
        Days the crop needs of a window; its usual days above ground where it is left out.
    """

    name: str
    crop: str
    gardens: tuple[Member, ...]
    need_days: int | None = None

    def __post_init__(self) -> None:
        names = [garden.name for garden in self.gardens]
        if len(names) < 2 or len(set(names)) < len(names):
            msg = (
                "A club's page compares two gardens or more, each with a name of its own; got "
                f"{', '.join(names) or 'none'}. Write a [[gardens]] table for each."
            )
            raise ValueError(msg)


def read_club(path: str | Path) -> Club:
    """Club from its TOML file.

    Raises
    ------
    RecordError
        If the file cannot be used; the text names the table and key, and what is allowed.
    """
    return read_toml(Club, path)


def club_reports(
    club: Club, folder: str | Path = ".", *, few_years: bool = False
) -> tuple[GardenReport, ...]:
    """A report for each garden, over the years that all records have.

    Parameters
    ----------
    club : Club
        From `read_club`.
    folder : str or Path
        Where the paths of its records begin.
    few_years : bool
        Whether fewer than ten known years will do, see `garden_report`.

    Raises
    ------
    ValueError
        If the records have no year in common, or fewer than ten known ones.
    """
    where = Path(folder)
    files = dict.fromkeys(member.record for member in club.gardens)
    records = {file: read_daily(where / file) for file in files}
    spans = [span_of(daily) for daily in records.values()]
    years = max(first for first, _ in spans), min(last for _, last in spans)
    if years[0] > years[1]:
        told = [f"{f}: {a} to {b}" for f, (a, b) in zip(records, spans, strict=True)]
        msg = f"The records have no year in common ({'; '.join(told)}). Take longer ones."
        raise ValueError(msg)
    grown = read_crop(where / club.crop) if club.crop.endswith(".toml") else crop(club.crop)
    return tuple(
        _report(member, within(records[member.record], years), grown, club.need_days, few_years)
        for member in club.gardens
    )


def _report(
    member: Member, daily: xr.Dataset, grown: Crop, need: int | None, few_years: bool
) -> GardenReport:
    garden = Garden(member.name, member.latitude, member.longitude, member.elevation)
    moved = adjust_to_garden(daily, garden) if member.temperatures == "garden" else daily
    return garden_report(garden, moved, crop=grown, need_days=need, few_years=few_years)


# --- the page -----------------------------------------------------------------------------


def share_club(
    file: str | Path,
    path: str | Path,
    *,
    units: Units = "C",
    made: str | None = None,
    few_years: bool = False,
) -> Path:
    """Write the page of a club as one HTML file.

    Parameters
    ----------
    file : str or Path
        The club's TOML file, see `read_club`.
    path : str or Path
        Where to; an older page is replaced in one step.
    units : {"C", "F"}
        Unit of the temperatures shown.
    made : str, optional
        Today's date, such as ``"2026-11-25"``, printed at the foot.
    few_years : bool
        Whether fewer than ten known years will do; the page says that they are few.

    Returns
    -------
    Path
        Of the page.

    Raises
    ------
    RecordError, ValueError
        If the file, a record, the units or the date cannot be used.
    """
    from climwin.page.notebook import rendered, run

    check_choice("units", units, ("C", "F"))
    day, club = date_of_page(made), read_club(file)
    reports = club_reports(club, Path(file).parent, few_years=few_years)
    book = run("club", ClubPage(club.name, reports, units, day))
    return write_whole(path, rendered(book, title=f"{club.name}: gardens side by side"))
