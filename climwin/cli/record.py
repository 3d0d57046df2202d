"""What a record holds, and where it could mislead."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from climwin.cli.notes import say_caveats
from climwin.cli.options import group, option, shown_units_option, whole_number
from climwin.cli.place import WHOLE_HISTORY, PlaceOptions, garden_if_given
from climwin.cli.reading import (
    ReadingOptions,
    neighbours_option,
    read_record,
    record_argument,
    say_neighbours,
)
from climwin.cli.wording import about
from climwin.cli.writing import check_outputs, force_option
from climwin.core.errors import InputError
from climwin.core.schema import Units


@dataclass(frozen=True)
class InspectOptions:
    """A record, and neighbours to compare it with."""

    record: Path = record_argument()
    reading: ReadingOptions = group(ReadingOptions)
    place: PlaceOptions = group(PlaceOptions)
    neighbours: tuple[str, ...] = neighbours_option()
    accept: tuple[int, ...] = option(
        "--accept",
        "remove the change with this number in the list; it takes two neighbours or more; may be "
        "repeated",
        convert=whole_number,
        metavar="NUMBER",
        repeated=True,
    )
    adjusted: Path | None = option(
        "--adjusted",
        "write the adjusted record to this .csv file, beside the values as read",
        convert=Path,
        metavar="FILE",
    )
    force: bool = force_option()
    shown_units: Units = shown_units_option()


def inspect(options: InspectOptions) -> None:
    """What a record holds, what it lacks, what was set aside, and where it could mislead."""
    from climwin.climate.homogeneity import adjust_breaks
    from climwin.io.exports import to_csv
    from climwin.io.quality import coverage, describe
    from climwin.report.sentences import set_aside
    from climwin.report.sentences_caveats import read_in
    from climwin.report.sentences_homogeneity import effect_of_adjusting

    if options.accept or options.adjusted:
        _check_adjusting(options)
    daily = read_record(options.record, options.reading)
    facts = [*daily.attrs["history"].splitlines(), *describe(coverage(daily))]
    facts += [f"  {line}" for line in set_aside(daily, options.shown_units)]
    if "tmin" in daily:
        facts.append(read_in(daily))
    say_caveats(daily, garden_if_given(options.place, daily), facts, units=options.shown_units)
    breaks = say_neighbours(
        daily,
        options.neighbours,
        options.reading.units,
        WHOLE_HISTORY,
        shown=options.shown_units,
    )
    if breaks is not None and options.adjusted is not None:
        with about("accept"):
            adjusted = adjust_breaks(daily, breaks, options.accept)
        print(effect_of_adjusting(daily, adjusted))
        print(to_csv(adjusted, options.adjusted))


def _check_adjusting(options: InspectOptions) -> None:
    """Refuse to adjust without a list of changes, numbers out of it, and a file."""
    missing = ""
    if not options.accept:
        missing = (
            "--adjusted needs the changes to take off: look at the list first, then add --accept "
            "and a number of it."
        )
    elif len(options.neighbours) < 2:
        missing = (
            "--accept needs the list of changes, which two neighbours or more give: add "
            "--neighbour for each."
        )
    elif options.adjusted is None:
        missing = "--accept needs a file to write: add --adjusted and its name."
    if missing:
        raise InputError(missing)
    if options.adjusted is not None:
        with about("adjusted"):
            check_outputs([options.adjusted], inputs=[options.record], force=options.force)
