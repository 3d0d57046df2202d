"""A crop, and how it is started."""

from __future__ import annotations

import argparse
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from climwin.cli.options import number, option, whole_number
from climwin.cli.wording import about
from climwin.core.errors import same_name
from climwin.core.schema import check_choice

if TYPE_CHECKING:
    from climwin.crops.model import Crop
    from climwin.planning.plan import Plan

_WEEKS = 4  # under cover, for a crop that is usually sown in place (common practice)


def crop_option() -> Any:
    """One crop."""
    return option(
        "--crop",
        "a crop's name, or your own crop.toml",
        required=True,
        again="Take one crop at a time: give the command once for each.",
    )


def need_option() -> Any:
    """Days that a crop needs of a mild spell."""
    return option(
        "--need",
        "days of mild weather the crop needs (worked out)",
        convert=whole_number,
        metavar="DAYS",
    )


def earliness(text: str) -> str | float:
    """The kind of variety, or the days on its packet."""
    kind = same_name(text, ("early", "main", "late"))
    if kind is not None:
        return kind
    try:
        return number(text)
    except argparse.ArgumentTypeError:
        msg = f"takes early, main, late or the days on a packet, such as 65; got {text!r}"
        raise argparse.ArgumentTypeError(msg) from None


@dataclass(frozen=True)
class StartOptions:
    """A crop, and the ways of starting it that are to be compared."""

    crop: str = crop_option()
    sow: str | None = option("--sow", "sow or plant outdoors on this day", metavar="MM-DD")
    raised: str | None = option("--raise", "sow under cover on this day", metavar="MM-DD")
    weeks_under_cover: int | None = option(
        "--weeks",
        "weeks under cover, with --raise (usual for the crop)",
        convert=whole_number,
        metavar="N",
    )
    fleece_weeks: int = option(
        "--fleece",
        "weeks under fleece once outdoors, with --sow or --raise",
        convert=whole_number,
        metavar="WEEKS",
        default=0,
    )
    cover: str | None = option(
        "--cover",
        "where to raise the plants, with --raise: fleece, cold frame, unheated greenhouse, "
        "frost-free greenhouse or room with lights (a cold frame; for tender crops, a room with "
        "lights)",
    )
    bought: str | None = option("--bought", "set out bought plants on this day", metavar="MM-DD")
    earliness: str | float | None = option(
        "--earliness",
        "an early, main or late variety, or the days to harvest on its packet, such as 65 (main)",
        convert=earliness,
        metavar="KIND|DAYS",
    )
    bed: str | None = option(
        "--bed", "what covers the soil: bare, mulched, clear film or black film (bare)"
    )


def chosen_crop(text: str) -> Crop:
    """A crop of the catalogue, or of a gardener's own file."""
    from climwin.crops.catalogue import crop, read_crop

    if "," in text:
        msg = f"--crop takes one crop at a time; got {text!r}. Name one, then the next."
        raise ValueError(msg)
    with about("crop"):
        return read_crop(text) if text.endswith(".toml") else crop(text)


def chosen_plans(crop: Crop, start: StartOptions, *, with_logger: bool = False) -> list[Plan]:
    """The ways of growing it that were given: raised under cover, bought, sown in place.

    With a logger, the weeks, the bed and the earliness also hold for the ways that are tried beside
    those given, and a perennial has nothing to raise.

    Raises
    ------
    ValueError
        If an option would have no effect, or a plan cannot be.
    """
    from climwin.planning.plan import Plan, usual_cover

    start = _with_known_names(start)
    _refuse_without_effect(crop, start, with_logger=with_logger)
    way: dict[str, Any] = {
        "fleece_weeks": start.fleece_weeks,
        "earliness": "main" if start.earliness is None else start.earliness,
        "bed": "bare" if start.bed is None else start.bed,
    }
    plans = []
    if start.raised is not None:
        usual = crop.weeks_under_cover.usual if crop.weeks_under_cover else _WEEKS
        weeks = usual if start.weeks_under_cover is None else start.weeks_under_cover
        cover = usual_cover(crop) if start.cover is None else start.cover
        _check_day("raised", start.raised)
        plans.append(Plan(crop, start.raised, weeks, cover, **way))
    if start.bought is not None:
        _check_day("bought", start.bought)
        plans.append(Plan(crop, start.bought, plants="bought", **way))
    if start.sow is not None:
        _check_day("sow", start.sow)
        plans.append(Plan(crop, start.sow, **way))
    return plans


def _check_day(field: str, text: str) -> None:
    from climwin.core.seasons import day_number

    with about(field):
        day_number(text)


def _with_known_names(start: StartOptions) -> StartOptions:
    """The options, the cover and the bed by the names that the library has for them.

    Raises
    ------
    ValueError
        If there is no such cover or bed; the text has those there are.
    """
    from climwin.climate.soil import BEDS

    cover = None if start.cover is None else known_cover(start.cover)
    bed = None if start.bed is None else _known("bed", start.bed, [*BEDS])
    return replace(start, cover=cover, bed=bed)


def known_cover(text: str) -> str:
    """The library's name of a cover; refused where there is none."""
    from climwin.planning.plan import OUTDOORS
    from climwin.shelter.covers import COVERS

    return _known("cover", text, [name for name in COVERS if name != OUTDOORS])


def _known(field: str, text: str, allowed: list[str]) -> str:
    name = same_name(text, allowed) or text
    check_choice(field, name, allowed)
    return name


def _refuse_without_effect(crop: Crop, start: StartOptions, *, with_logger: bool) -> None:
    """Refuse options that would change nothing, and say how they are used."""
    given = {
        "--sow": start.sow,
        "--raise": start.raised,
        "--bought": start.bought,
        "--weeks": start.weeks_under_cover,
        "--cover": start.cover,
        "--fleece": start.fleece_weeks or None,
        "--earliness": start.earliness,
        "--bed": start.bed,
    }
    typed = [flag for flag, value in given.items() if value is not None]
    if crop.is_perennial:
        _refuse_of_perennial(crop, typed + ["--logger"] * with_logger)
        return
    if not with_logger and start.raised is None:
        _refuse_without_raise(typed)
    if not {"--sow", "--raise", "--bought"} & {*typed}:
        # With a logger, the variety and the bed are those of the ways that are tried.
        _refuse_without_start(typed, ("--fleece",) if with_logger else _OF_A_START)


_OF_A_START = ("--fleece", "--earliness", "--bed")


def _refuse_of_perennial(crop: Crop, typed: list[str]) -> None:
    if typed:
        msg = (
            f"{crop.name} is a perennial and comes up by itself: there is no date to choose. "
            f"Leave {' and '.join(typed)} out."
        )
        raise ValueError(msg)


def _refuse_without_raise(typed: list[str]) -> None:
    for flag in ("--weeks", "--cover"):
        if flag in typed:
            msg = (
                f"{flag} has no effect without --raise. Give the day of sowing under cover too, "
                "such as --raise 03-05."
            )
            raise ValueError(msg)


def _refuse_without_start(typed: list[str], flags: tuple[str, ...]) -> None:
    for flag in flags:
        if flag in typed:
            msg = (
                f"{flag} has no effect without a start of your own. Give --sow MM-DD, --raise "
                "MM-DD or --bought MM-DD too."
            )
            raise ValueError(msg)
