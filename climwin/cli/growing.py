"""Commands for the growing season: the covered space against its logger, and bed trials."""

from __future__ import annotations

import argparse
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.cli.commands import chosen_crop, record, say, say_doubts
from climwin.io.files import atomic_write

if TYPE_CHECKING:
    from climwin.crops.model import Stage
    from climwin.shelter.covers import Cover
    from climwin.shelter.risk import SpaceCheck

_MINUTE = 16  # letters of a time that tell its minute


# --- the covered space --------------------------------------------------------------------


def space(chosen: argparse.Namespace) -> None:
    """What a logger says of a covered space, for a crop's young plants, and what all years add."""
    from climwin.io.loggers import read_logger
    from climwin.shelter.covers import CAUTIONS, fit_cover
    from climwin.shelter.risk import check_space, space_odds

    crop = chosen_crop(chosen.crop)
    stage = _stage(crop.stages, chosen.stage)
    logger = read_logger(chosen.logger, units=chosen.logger_units, zone=chosen.zone)
    daily = record(chosen)
    say("fitting the space to the outdoors")
    cover = fit_cover(logger, daily, name=Path(chosen.logger).stem)
    days = [str(logger["time"].values[i])[5:10] for i in (0, -1)]
    odds = space_odds(daily, cover, stage, chosen.first or days[0], chosen.last or days[1])
    known = min(int(odds[f"{side}_known"]) for side in ("cold", "hot"))
    say_doubts(daily, chosen, known=known)
    print(f"{crop.name}, {stage.name}")
    print(*_checked(check_space(logger, stage), stage), *_response(cover), sep="\n")
    print(f"From {chosen.first or days[0]} to {chosen.last or days[1]}, over the whole record:")
    for side in ("cold", "hot"):
        share, low, high = (float(odds[f"{side}_share{end}"]) for end in ("", "_low", "_high"))
        known = int(odds[f"{side}_known"])
        print(
            f"  a day too {side} in {100 * share:.0f} % of {known} years "
            f"({100 * low:.0f} to {100 * high:.0f} %)"
        )
    print(*(f"mind: {text}" for text in CAUTIONS), sep="\n")


def _stage(stages: tuple[Stage, ...], name: str | None) -> Stage:
    named = {stage.name: stage for stage in stages}
    if name is None:
        return next((stage for stage in stages if stage.place == "air"), stages[0])
    if name not in named:
        msg = f"The crop has no stage {name!r}; it has {', '.join(named)}."
        raise ValueError(msg)
    return named[name]


def _checked(found: SpaceCheck, stage: Stage) -> list[str]:
    band = f"{stage.tolerates.low_c} to {stage.tolerates.high_c} degC"
    return [
        f"  {found.hours_in_band:.0f} of {found.hours:.0f} hours at {band}; "
        f"{found.hours_below:.0f} colder, {found.hours_above:.0f} warmer",
        f"  coldest {found.coldest_c:.1f} degC at {str(found.coldest_at)[:_MINUTE]}, "
        f"hottest {found.hottest_c:.1f} degC at {str(found.hottest_at)[:_MINUTE]}",
        f"  days too cold: {', '.join(found.too_cold) or 'none'}",
        f"  days too hot: {', '.join(found.too_hot) or 'none'}",
    ]


def _response(cover: Cover) -> list[str]:
    return [
        f"  {what} inside = {line.intercept_c:.1f} degC + {line.slope:.2f} x outdoors, "
        f"single days within {line.spread_c:.1f} degC (standard deviation, {cover.days} days)"
        for what, line in (("minimum", cover.coldest), ("maximum", cover.warmest))
    ]


# --- bed trials ---------------------------------------------------------------------------


def trial_plan(chosen: argparse.Namespace) -> None:
    """A trial laid out, and the sheet to fill."""
    from climwin.trials.design import lay_out_trial, record_sheet

    layout = lay_out_trial(chosen.treatments, blocks=chosen.blocks, seed=chosen.seed)
    if chosen.out.exists():
        msg = f"{chosen.out} is there already, perhaps filled in. Give another file with --out."
        raise ValueError(msg)
    with atomic_write(chosen.out) as part:
        part.write_text(record_sheet(layout), encoding="utf-8")
    for block, plots in layout.groupby("block"):
        print(
            f"block {block}: " + " | ".join(f"{p.plot} {p.treatment}" for p in plots.itertuples())
        )
    print(chosen.out)


def trial_size(chosen: argparse.Namespace) -> None:
    """How many pairs a trial needs."""
    from climwin.trials.design import pairs_needed

    pairs = pairs_needed(chosen.difference, chosen.spread)
    print(
        f"{pairs} pairs see a difference of {chosen.difference:g} in 4 trials of 5, if single "
        f"pairs differ by about {chosen.spread:g}."
    )


def trial_read(chosen: argparse.Namespace) -> None:
    """What came out of a filled sheet."""
    from climwin.trials.analysis import describe_trial, read_trial, trial_result

    result = trial_result(read_trial(chosen.sheet), chosen.measure, against=chosen.against)
    print(describe_trial(result))
