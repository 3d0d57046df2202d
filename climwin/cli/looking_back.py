"""The command ``hindcast``: odds of earlier years, and what happened."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from climwin.cli.notes import progress, say_caveats
from climwin.cli.options import option
from climwin.cli.place import garden_if_given
from climwin.cli.reading import RecordOptions, read_record
from climwin.cli.wording import about
from climwin.cli.writing import check_outputs, force_option, save_picture


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
    from climwin.io.exports import to_csv
    from climwin.plot.hindcast import reliability
    from climwin.report.sentences_climate import hindcast_lines

    if options.out.suffix != ".csv":
        msg = f"--out takes a file that ends in .csv, got {str(options.out)!r}."
        raise ValueError(msg)
    picture = options.out.with_suffix(".png")
    check_outputs([options.out, picture], inputs=[options.record], force=options.force)
    daily = read_record(options.record, options.reading)
    progress("asking at the end of every year")
    looked_back = look_back(daily)
    caveats = say_caveats(daily, garden_if_given(options.place, daily), units=options.shown_units)
    print(*hindcast_lines(looked_back), sep="\n")
    scores = looked_back[["brier", "skill", "skill_low", "skill_high", "held"]]
    if caveats:
        scores.attrs["comment"] = "\n".join(caveats)
    with about("out", OSError):
        to_csv(scores.drop_vars([n for n in scores.coords if n not in scores.dims]), options.out)
        print(options.out)
        save_picture(reliability(looked_back), picture, options.shown_units)
        print(picture)
