"""The command ``hindcast``: odds of earlier years, and what happened."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from climwin.cli.notes import progress, say_caveats
from climwin.cli.options import option
from climwin.cli.place import garden_if_given
from climwin.cli.reading import RecordOptions, read_record
from climwin.cli.writing import check_table, force_option, save_table


@dataclass(frozen=True)
class HindcastOptions(RecordOptions):
    """A record of 40 years or more, and the files for its hindcast."""

    force: bool = force_option()
    out: Path = option(
        "--out",
        ".csv file to write, with a picture beside it (%(default)s)",
        convert=Path,
        default=Path("hindcast.csv"),
    )


def hindcast(options: HindcastOptions) -> None:
    """How the odds of earlier years would have done, by kind of event."""
    from climwin.climate.hindcast import hindcast as look_back
    from climwin.plot.hindcast import reliability
    from climwin.report.sentences_climate import hindcast_lines

    check_table(options.out, [options.record], force=options.force)
    daily = read_record(options.record, options.reading)
    progress("asking at the end of every year")
    looked_back = look_back(daily)
    caveats = say_caveats(daily, garden_if_given(options.place, daily), units=options.shown_units)
    print(*hindcast_lines(looked_back), sep="\n")
    scores = looked_back[["brier", "skill", "skill_low", "skill_high", "held"]]
    if caveats:
        scores.attrs["comment"] = "\n".join(caveats)
    table = scores.drop_vars([name for name in scores.coords if name not in scores.dims])
    save_table(table, reliability(looked_back), options.out, options.shown_units)
