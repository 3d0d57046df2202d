"""Records of daily weather: the file, how to read it, and records nearby."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from climwin.cli.notes import progress, say_caveats_of_odds
from climwin.cli.options import argument, group, option, pair, shown_units_option, switch, units
from climwin.cli.place import PeriodOptions, PlaceOptions, fetched, garden_if_given, located
from climwin.cli.wording import about
from climwin.core.schema import Garden, Units

if TYPE_CHECKING:
    import xarray as xr

_OF_A_LOGGER = ("time", "temperature")
"""Roles of columns in a logger's file that a daily record does not have."""

_HELP = "daily weather: CSV, or NOAA's GHCN-Daily"


@dataclass(frozen=True)
class ReadingOptions:
    """How a file of daily weather is to be read."""

    units: Units | None = option(
        "--record-units",
        "the unit of its temperatures, where the file does not say: C or F",
        convert=units,
        metavar="C|F",
    )
    dates: str | None = option(
        "--dates", "how the file writes dates, such as %%d/%%m/%%Y", metavar="FORM"
    )
    columns: tuple[tuple[str, str], ...] = option(
        "--column",
        "which column is which, such as tmin=Low; repeat for each",
        convert=pair("ROLE=NAME, such as tmin=Low"),
        metavar="ROLE=NAME",
        repeated=True,
    )

    @property
    def has_hours(self) -> bool:
        """Whether the form of dates is one of a logger's times."""
        return self.dates is not None and any(code in self.dates for code in ("%H", "%I"))

    @property
    def is_blank(self) -> bool:
        """Whether none of them was given."""
        return self == ReadingOptions(None, None, ())


def record_argument() -> Any:
    """A file of daily weather, needed."""
    return argument("RECORD", _HELP, convert=Path)


def record_or_history_argument() -> Any:
    """A file of daily weather, or none."""
    purpose = f"{_HELP}; without one, the history of the best station is fetched"
    return argument("RECORD", purpose, convert=Path, default=None)


def neighbours_option() -> Any:
    """Records nearby that show whether this one's station was moved."""
    purpose = (
        "compare with this nearby record or station, to see whether either station was moved or "
        "is a day out; may be repeated"
    )
    return option("--neighbour", purpose, metavar="FILE|ID", repeated=True)


def few_years_option() -> Any:
    """Whether a short record will do."""
    return switch(
        "--few-years", "go on with fewer than ten known years; the odds are then only a hint"
    )


def climate_option() -> Any:
    """The climate that odds are of."""
    return option(
        "--climate",
        "count all years as they were, or moved to today's climate, which a page leads with "
        "(%(default)s)",
        choices=("record", "today"),
        default="record",
    )


@dataclass(frozen=True)
class RecordOptions:
    """A record, its place, and the units in which answers from it are shown."""

    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    shown_units: Units = shown_units_option()


@dataclass(frozen=True)
class ShortRecordOptions(RecordOptions):
    """A record that may be short, its place, and the units in which answers are shown."""

    few_years: bool = few_years_option()


@dataclass(frozen=True)
class ClimateOptions(ShortRecordOptions):
    """A record that may be short, its place, the units, and the climate that odds are of."""

    climate: str = climate_option()


@dataclass(frozen=True)
class RecordInClimate:
    """A record as it was read, and as odds are counted from it.

    Parameters
    ----------
    daily : Dataset, dims (time)
        As read and checked.
    garden : Garden or None
        Where the odds are to hold, if any option says so.
    here : Dataset, dims (time)
        With the latitude of the garden if it has none, in the climate that was asked for.
    """

    daily: xr.Dataset
    garden: Garden | None
    here: xr.Dataset


def read_in_climate(options: ClimateOptions) -> RecordInClimate:
    """Read the record of a command, and move it to the climate that its odds are of."""
    from climwin.climate.level import in_climate

    daily = read_record(options.record, options.reading)
    garden = garden_if_given(options.place, daily)
    return RecordInClimate(daily, garden, in_climate(located(daily, garden), options.climate))


def say_before_odds(record: RecordInClimate, options: ClimateOptions, known: int) -> list[str]:
    """Print what to mind of odds that are counted in `known` years, and return the caveats.

    Raises
    ------
    DataGapError
        If they are fewer than ten, and that will not do.
    """
    from climwin.core.provenance import climate_of

    caveats = say_caveats_of_odds(
        record.daily,
        record.garden,
        known=known,
        few_years=options.few_years,
        climate=climate_of(record.here),
        units=options.shown_units,
    )
    say_climate(record.here, options.climate, options.shown_units)
    return caveats


def say_climate(moved: xr.Dataset, climate: str, units: Units = "C") -> None:
    """Print the climate that odds are of; doubts about the record come before it."""
    from climwin.climate.level import assumed_warming, shift_in_words
    from climwin.core.provenance import climate_of

    if climate == "record":
        print("All years count as they were. Add `--climate today` to move them to today's level.")
        return
    print(shift_in_words(moved, units))
    if climate_of(moved) == "today" and assumed_warming(moved):
        print(assumed_warming(moved))


def read_record(path: Path, reading: ReadingOptions, *, with_logger: bool = False) -> xr.Dataset:
    """A record, read and checked; with a logger beside it, its columns are left to that."""
    from climwin.io.daily import read_daily

    progress(f"reading {path}")
    columns = once_each("--column", reading.columns)
    if with_logger:
        columns = {role: name for role, name in columns.items() if role not in _OF_A_LOGGER}
    dates = None if with_logger and reading.has_hours else reading.dates
    return read_daily(path, units=reading.units, columns=columns or None, dates=dates)


def read_own_logger(
    path: Path, reading: ReadingOptions, units: Units | None, *, zone: str | None = None
) -> xr.Dataset:
    """A logger's readings; its columns are given as the record's are, by roles of their own.

    So is the form of its times, which has hours.
    """
    from climwin.io.loggers import read_logger

    columns = {role: name for role, name in reading.columns if role in _OF_A_LOGGER}
    dates = reading.dates if reading.has_hours else None
    return read_logger(path, units=units, zone=zone, columns=columns or None, dates=dates)


def once_each(flag: str, pairs: tuple[tuple[str, str], ...]) -> dict[str, str]:
    """Names and values of an option that was given several times, each name once."""
    values: dict[str, str] = {}
    for name, value in pairs:
        if name in values:
            msg = f"{flag} names {name!r} twice, {values[name]!r} and {value!r}. Give it once."
            raise ValueError(msg)
        values[name] = value
    return values


def read_neighbour(name: str, field: str, units: Units | None, period: PeriodOptions) -> xr.Dataset:
    """The record of a neighbour, by its file or by its station's id."""
    from climwin.io.daily import read_daily

    with about(field):
        if Path(name).suffix:
            return read_daily(name, units=units)
        return fetched(name, period)


def refuse_itself(daily: xr.Dataset, neighbour: xr.Dataset, name: str, flag: str) -> None:
    """Refuse a neighbour that is the record once more: beside itself nothing ever changes."""
    import xarray as xr

    extremes = [each for each in ("tmin", "tmax") if each in daily and each in neighbour]
    both = xr.align(daily[extremes], neighbour[extremes], join="inner")
    if extremes and both[0].sizes["time"] and both[0].equals(both[1]):
        msg = (
            f"{flag} {name} has the temperatures of the record itself, so it says nothing new. "
            "Name the record of another station."
        )
        raise ValueError(msg)


def say_neighbours(
    daily: xr.Dataset,
    neighbours: tuple[str, ...],
    units: Units | None,
    period: PeriodOptions,
    *,
    shown: Units = "C",
) -> xr.Dataset | None:
    """Print whether a record changes against its neighbours; the changes of several, listed."""
    from climwin.climate.homogeneity import pairwise_breaks
    from climwin.report.sentences_caveats import beside
    from climwin.report.sentences_homogeneity import station_changes
    from climwin.report.sentences_joining import days_beside

    records: dict[str, xr.Dataset] = {}
    for name in neighbours:
        neighbour = read_neighbour(name, "neighbours", units, period)
        refuse_itself(daily, neighbour, name, "--neighbour")
        own = str(neighbour.attrs.get("station_name") or Path(name).stem)
        records[name if own in records else own] = neighbour
        with about("neighbours"):
            print(beside(daily, neighbour, shown))
            print(days_beside(daily, neighbour))
    if len(records) < 2:
        return None
    progress("comparing all pairs of stations")
    with about("neighbours"):
        breaks = pairwise_breaks(daily, records)
    print(*station_changes(breaks, shown), sep="\n")
    return breaks
