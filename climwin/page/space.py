"""The page's part on a covered space, and on what would make a poor crop work."""

from __future__ import annotations

from climwin.core.schema import Units
from climwin.planning.ways import Tried, mends
from climwin.report.garden import GardenReport
from climwin.report.sentences_space import verdict
from climwin.report.sentences_ways import what_would_mend
from climwin.shelter.verdict import space_verdict


def space_and_mends(report: GardenReport, units: Units) -> list[str]:
    """When the gardener's own space serves, and what would make a crop work that does badly.

    Parameters
    ----------
    report : GardenReport
        The space is that of its first plan that has one.
    units : {"C", "F"}
        Of the temperatures.

    Returns
    -------
    list of str
        Empty where no plan has a space of its own and a way works well.
    """
    said = []
    own = [plan.space for plan in report.plans if plan.space is not None]
    if own:
        found = space_verdict(report.daily, own[0], report.crop)
        said += verdict(found, units, name=f"the {own[0].name}")
    tried = [Tried(plan, odds) for plan, odds in zip(report.plans, report.odds, strict=True)]
    return said + what_would_mend(tried, mends(tried, report.daily), units)
