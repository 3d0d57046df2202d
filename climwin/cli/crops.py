"""The catalogue of crops, and one crop's limits with their sources."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from climwin.cli.options import argument

if TYPE_CHECKING:
    from climwin.crops.model import Crop


@dataclass(frozen=True)
class CropsOptions:
    """Which crops are shown."""

    filter: str = argument("FILTER", "a crop, a family, or cool or warm", default="")


def crops(options: CropsOptions) -> None:
    """The catalogue, or one crop with its sources."""
    from climwin.core.errors import nearest_names
    from climwin.crops.catalogue import crop, crop_names

    wanted = options.filter.strip().lower()
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
        print(_sheet(shown[0]))
        return
    for c in shown:
        print(f"{c.name:22} {c.season:5} {c.family:18} {c.need_days:4} days  {c.botanical}")


def _sheet(crop: Crop) -> str:
    soil = crop.germination
    best = f"{soil.optimum_low_c} to {soil.optimum_high_c}"
    lines = [
        f"{crop.name} ({crop.botanical}), {crop.season}-season, {crop.family}",
        f"  grows at {crop.band.low_c} to {crop.band.high_c} degC, daily mean: {crop.band.source}",
        f"  soil {soil.minimum_c} to {soil.maximum_c} degC, best {best}: {soil.source}",
    ]
    if crop.weeks_under_cover:
        weeks = crop.weeks_under_cover
        lines.append(
            f"  under cover {weeks.usual} weeks ({weeks.fewest} to {weeks.most}): {weeks.source}"
        )
    for s in crop.stages:
        lines += [
            f"  {s.name}",
            f"    {s.days.usual} days ({s.days.fewest} to {s.days.most}): {s.days.source}",
            f"    best {s.prefers.low_c} to {s.prefers.high_c} degC: {s.prefers.source}",
            f"    grows {s.tolerates.low_c} to {s.tolerates.high_c} degC: {s.tolerates.source}",
            f"    killed at {s.survives.low_c} degC: {s.survives.source}",
        ]
    return "\n".join([*lines, *(f"  mind: {text}" for text in crop.cautions)])
