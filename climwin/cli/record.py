"""What a record holds, and where it could mislead."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from climwin.cli.notes import say_caveats
from climwin.cli.options import group, shown_units_option
from climwin.cli.place import WHOLE_HISTORY, PlaceOptions, garden_if_given
from climwin.cli.reading import (
    ReadingOptions,
    neighbours_option,
    read_record,
    record_argument,
    say_neighbours,
)
from climwin.core.schema import Units


@dataclass(frozen=True)
class InspectOptions:
    """A record, and neighbours to compare it with."""

    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    neighbours: tuple[str, ...] = neighbours_option()
    shown_units: Units = shown_units_option()


def inspect(options: InspectOptions) -> None:
    """What a record holds, what it lacks, what was set aside, and where it could mislead."""
    from climwin.io.quality import coverage, describe
    from climwin.report.sentences import set_aside
    from climwin.report.sentences_caveats import read_in

    daily = read_record(options.record, options.reading)
    facts = [*daily.attrs["history"].splitlines(), *describe(coverage(daily))]
    facts += [f"  {line}" for line in set_aside(daily, options.shown_units)]
    if "tmin" in daily:
        facts.append(read_in(daily))
    say_caveats(daily, garden_if_given(options.place, daily), facts, units=options.shown_units)
    say_neighbours(
        daily,
        options.neighbours,
        options.reading.units,
        WHOLE_HISTORY,
        shown=options.shown_units,
    )
