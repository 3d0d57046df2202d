"""A side-by-side bed trial: laid out, sized, and read."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

from climwin.cli.growing import chosen_crop
from climwin.cli.options import argument, number, option, whole_number
from climwin.cli.wording import about
from climwin.cli.writing import PICTURE, check_folder
from climwin.core.formatting import as_typed
from climwin.core.schema import check_choice
from climwin.io.files import atomic_write

_CROP = "what is grown, for its own words: tubers of potatoes, heads of cauliflower"


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
    crop: str | None = option("--crop", _CROP)
    unit: str = option("--unit", "unit of the weight: g, kg, oz or lb (%(default)s)", default="g")
    out: tuple[Path, ...] = option(
        "--out",
        "the sheet to fill in (.csv), or the bed drawn (.svg or .png); may be repeated (both, as "
        "trial.csv and trial.svg)",
        convert=Path,
        repeated=True,
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
    unit: str | None = option("--unit", "unit of both, such as g, kg, oz, lb, count, cm or in")


@dataclass(frozen=True)
class TrialReadOptions:
    """A filled sheet, and what to compare."""

    sheet: Path = argument("SHEET", "the sheet from `climwin trial plan`, filled in", convert=Path)
    response_variable: str = option(
        "--measure",
        "what to compare: a column of the sheet, or what it measures, such as weight",
        metavar="WHAT",
        required=True,
    )
    against: str | None = option(
        "--against", "the treatment that the others are compared with", metavar="TREATMENT"
    )
    crop: str | None = option("--crop", _CROP)
    unit: str | None = option(
        "--unit",
        "unit of a column whose name does not say: g, kg, oz, lb, count, mm, cm, m, in, ft, ml, l, "
        "days, percent or score",
    )


def trial_plan(options: TrialPlanOptions) -> None:
    """A trial laid out, the sheet to fill, and the bed drawn."""
    from climwin.plot.garden import bed_plan
    from climwin.trials.design import lay_out_trial, record_sheet

    if options.seed < 0:
        msg = f"--seed is a whole number, 0 or more; got {options.seed}."
        raise ValueError(msg)
    crop = None if options.crop is None else chosen_crop(options.crop)
    layout = lay_out_trial(options.treatments, blocks=options.blocks, seed=options.seed)
    sheet = record_sheet(layout, crop=crop, unit=options.unit)
    files = options.out or (Path("trial.csv"), Path("trial.svg"))
    for file in files:
        _check_new(file)
    for block, plots in layout.groupby("block"):
        print(
            f"block {block}: " + " | ".join(f"{p.plot} {p.treatment}" for p in plots.itertuples())
        )
    for file in files:
        with about("out", OSError), atomic_write(file) as part:
            if file.suffix == ".csv":
                part.write_text(sheet, encoding="utf-8")
            else:
                kind = file.suffix.removeprefix(".")
                made_by = PICTURE if kind == "png" else {"Date": None}
                bed_plan(layout).savefig(part, format=kind, dpi=150, metadata=made_by)
        print(file)


def _check_new(file: Path) -> None:
    """Refuse a file of another kind, or one that exists and may be filled in."""
    if file.suffix not in (".csv", ".svg", ".png"):
        msg = f"--out takes a file that ends in .csv, .svg or .png, got {str(file)!r}."
        raise ValueError(msg)
    check_folder(file)
    if file.exists():
        msg = f"{file} is there already, perhaps filled in. Give another file with --out."
        raise ValueError(msg)


def trial_size(options: TrialSizeOptions) -> None:
    """How many pairs a trial needs."""
    from climwin.trials.design import pairs_needed
    from climwin.trials.measure import UNITS

    if options.unit is not None:
        check_choice("unit", options.unit, UNITS)
    pairs = pairs_needed(options.difference, options.spread, treatments=options.treatments)
    what = "pairs" if options.treatments == 2 else f"blocks of {options.treatments}"
    unit = "" if options.unit in (None, "count") else f" {options.unit}"
    print(
        f"{pairs} {what} see a difference of {as_typed(options.difference)}{unit} in 4 trials of "
        f"5, if single pairs differ by about {as_typed(options.spread)}{unit}."
    )


def trial_read(options: TrialReadOptions) -> None:
    """What came out of a filled sheet."""
    from climwin.trials.analysis import describe_trial, read_trial, trial_result

    crop = None if options.crop is None else chosen_crop(options.crop)
    trial = read_trial(options.sheet)
    result = trial_result(
        trial, options.response_variable, against=options.against, unit=options.unit
    )
    if "unit" not in result.attrs:
        msg = (
            f"{options.response_variable!r} in the sheet's head has no unit. Give it, such as "
            "--unit g, kg, oz, lb, count, cm or in; or --unit score for marks."
        )
        raise ValueError(msg)
    print(describe_trial(result, crop))
