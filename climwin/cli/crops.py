"""The catalogue of crops, and one crop in sentences, with their sources."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from climwin.cli.growing import chosen_crop
from climwin.cli.options import argument, shown_units_option
from climwin.core.schema import Units

if TYPE_CHECKING:
    from climwin.crops.model import Crop


@dataclass(frozen=True)
class CropsOptions:
    """Which crops are shown."""

    filter: str = argument(
        "FILTER",
        "a crop, your own crop.toml, a family, or cool or warm; numbers in your file that no crop "
        "of the catalogue comes near are refused, unless it says unusual = true",
        default="",
    )
    shown_units: Units = shown_units_option("units of a crop's temperatures")


def crops(options: CropsOptions) -> None:
    """The catalogue, or one crop with its sources."""
    from climwin.core.errors import nearest_names
    from climwin.crops.catalogue import crop, crop_names
    from climwin.crops.explain import explain_crop

    if Path(options.filter).suffix == ".toml":
        print(explain_crop(chosen_crop(options.filter), options.shown_units))
        return

    wanted = _known(options.filter).lower()
    catalogue = [crop(name) for name in crop_names()]
    shown = [c for c in catalogue if wanted in (c.name.lower(), c.family.lower(), c.season, "")]
    if not shown:
        families = sorted({c.family for c in catalogue})
        near = nearest_names(options.filter, [*crop_names(), *families, "cool", "warm"])
        meant = f" Nearest: {', '.join(near)}." if near else ""
        msg = (
            f"No crop, family or season is called {options.filter!r}.{meant} Families: "
            f"{', '.join(families)}. Seasons: cool, warm. `climwin crops` lists all."
        )
        raise ValueError(msg)
    if wanted and [c.name.lower() for c in shown] == [wanted]:
        print(explain_crop(shown[0], options.shown_units))
        return
    if options.shown_units != "C":
        msg = (
            "--units has no effect on a list of crops, which has no temperatures. Name one crop, "
            f"such as `climwin crops {shown[0].name!r} --units F`, or leave it out."
        )
        raise ValueError(msg)
    for c in shown:
        print(f"{c.name:22} {c.season:5} {c.family:18} {_time(c):>9}  {c.botanical}")


def _known(text: str) -> str:
    """The catalogue's name of a crop that is called otherwise, such as tomatoes; else the text."""
    from climwin.core.errors import InputError
    from climwin.crops.catalogue import crop

    try:
        return crop(text).name
    except InputError:  # a family, a season, or nothing of that name
        return text.strip()


def _time(crop: Crop) -> str:
    """Days of a main variety to its first harvest."""
    from climwin.core.formatting import days_long

    return "perennial" if crop.maturity is None else days_long(crop.maturity.main)
