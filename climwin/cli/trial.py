"""A side-by-side bed trial: laid out, sized, and read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from climwin.cli.options import argument, number, option, whole_number
from climwin.cli.wording import about
from climwin.cli.writing import check_folder
from climwin.core.formatting import as_typed
from climwin.io.files import atomic_write


@dataclass(frozen=True)
class TrialPlanOptions:
    """What is compared, and on how many plots."""

    treatments: tuple[str, ...] = argument(
        "TREATMENT", "what to compare: two or more, in quotes", nargs="+"
    )
    blocks: int = option(
        "--blocks",
        "number of blocks, or pairs (%(default)s)",
        convert=whole_number,
        metavar="N",
        default=6,
    )
    seed: int = option(
        "--seed", "the same seed gives the same plan", convert=whole_number, metavar="N", default=1
    )
    out: Path = option(
        "--out", "the sheet to fill in (%(default)s)", convert=Path, default=Path("trial.csv")
    )


@dataclass(frozen=True)
class TrialSizeOptions:
    """What difference is worth seeing."""

    difference: float = option(
        "--difference",
        "the smallest difference worth finding",
        convert=number,
        metavar="X",
        required=True,
    )
    spread: float = option(
        "--spread",
        "the standard deviation of the differences within pairs",
        convert=number,
        metavar="X",
        required=True,
    )
    treatments: int = option(
        "--treatments",
        "how many are compared (%(default)s)",
        convert=whole_number,
        metavar="N",
        default=2,
    )


@dataclass(frozen=True)
class TrialReadOptions:
    """A filled sheet, and what to compare."""

    sheet: Path = argument("SHEET", "the sheet from `climwin trial plan`, filled in", convert=Path)
    response_variable: str = option(
        "--measure", "the column of the sheet to compare", metavar="COLUMN", required=True
    )
    against: str | None = option(
        "--against", "the treatment that the others are compared with", metavar="TREATMENT"
    )


def trial_plan(options: TrialPlanOptions) -> None:
    """A trial laid out, and the sheet to fill."""
    from climwin.trials.design import lay_out_trial, record_sheet

    if options.seed < 0:
        msg = f"--seed is a whole number, 0 or more; got {options.seed}."
        raise ValueError(msg)
    layout = lay_out_trial(options.treatments, blocks=options.blocks, seed=options.seed)
    check_folder(options.out)
    if options.out.exists():
        msg = f"{options.out} is there already, perhaps filled in. Give another file with --out."
        raise ValueError(msg)
    with about("out", OSError), atomic_write(options.out) as part:
        part.write_text(record_sheet(layout), encoding="utf-8")
    for block, plots in layout.groupby("block"):
        print(
            f"block {block}: " + " | ".join(f"{p.plot} {p.treatment}" for p in plots.itertuples())
        )
    print(options.out)


def trial_size(options: TrialSizeOptions) -> None:
    """How many pairs a trial needs."""
    from climwin.trials.design import pairs_needed

    pairs = pairs_needed(options.difference, options.spread, treatments=options.treatments)
    what = "pairs" if options.treatments == 2 else f"blocks of {options.treatments}"
    print(
        f"{pairs} {what} see a difference of {as_typed(options.difference)} in 4 trials of 5, "
        f"if single pairs differ by about {as_typed(options.spread)}."
    )


def trial_read(options: TrialReadOptions) -> None:
    """What came out of a filled sheet."""
    from climwin.trials.analysis import describe_trial, read_trial, trial_result

    trial = read_trial(options.sheet)
    print(describe_trial(trial_result(trial, options.response_variable, against=options.against)))
