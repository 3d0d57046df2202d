"""A club's file, and a report on each of its gardens."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import Literal

import xarray as xr

from climwin.climate.adjust import adjust_to_garden
from climwin.core.errors import ClimwinError, InputError, Mention, Parameter, RecordError
from climwin.core.measures import metres_of
from climwin.core.schema import Garden, Units
from climwin.crops.catalogue import crop, read_crop
from climwin.crops.model import Crop
from climwin.io.daily import read_daily
from climwin.io.structured import read_toml
from climwin.report.garden import GardenReport, garden_report


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
    elevation : float or str, optional
        Height above sea level: a number of metres, or a text with its unit, such as ``"1020 ft"``.
    record_units : {"C", "F"}, optional
        Of a record that does not say.
    temperatures : {"station", "garden"}
        As the station measured them, or moved to the garden's height.
    """

    name: str
    record: str
    latitude: float
    longitude: float
    elevation: float | str | None = None
    record_units: Units | None = None
    temperatures: Literal["station", "garden"] = "station"

    def __post_init__(self) -> None:
        if self.elevation is not None:
            metres_of(self.elevation)  # refuses what is no height
        elif self.temperatures == "garden":
            msg = (
                f'{self.name!r}: temperatures = "garden" moves the record to the garden\'s height, '
                "which is not given. Give its elevation, or leave temperatures out."
            )
            raise InputError(msg)

    @property
    def height_m(self) -> float | None:
        """Height above sea level, however it was given. [m]"""
        return None if self.elevation is None else metres_of(self.elevation)


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
        Days the crop needs of a window; where it is left out, those that its usual way of growing
        stands outdoors in each garden.
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
            raise InputError(msg)


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
    """A report for each garden, the same as for its own page.

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
        If a record cannot be used, or has fewer than ten known years.
    """
    where = Path(folder)
    # Each once, in order: the same file in other units would be another record.
    files = dict.fromkeys((member.record, member.record_units) for member in club.gardens)
    records = {(file, units): _read(where / file, units) for file, units in files}
    grown = read_crop(where / club.crop) if club.crop.endswith(".toml") else crop(club.crop)
    return tuple(
        _report(
            member,
            records[member.record, member.record_units],
            grown,
            club.need_days,
            few_years,
        )
        for member in club.gardens
    )


def _read(file: Path, units: Units | None) -> xr.Dataset:
    """A member's record; an error about its units says what to write in the club's file."""
    try:
        return read_daily(file, units=units)
    except ClimwinError as error:
        raise RecordError(*map(_in_club_file, error.pieces)) from error


def _in_club_file(piece: str | Mention) -> str | Mention:
    """A piece of an error; units are spelled as the key of the club's file."""
    if not isinstance(piece, Parameter) or piece.name != "units":
        return piece
    return f'record_units = "{piece.value}"' if piece.value else "record_units"


def _report(
    member: Member, daily: xr.Dataset, grown: Crop, need: int | None, few_years: bool
) -> GardenReport:
    garden = Garden(member.name, member.latitude, member.longitude, member.height_m)
    moved = adjust_to_garden(daily, garden) if member.temperatures == "garden" else daily
    return garden_report(garden, moved, crop=grown, need_days=need, few_years=few_years)
