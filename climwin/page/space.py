"""The page's part on a covered space, and on what would make a poor crop work."""

from __future__ import annotations

from climwin.core.schema import Units
from climwin.report.decision import RELIABLE, decide
from climwin.report.garden import GardenReport
from climwin.report.sentences_space import verdict
from climwin.report.sentences_ways import what_would_mend


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
    found = report.space_verdict
    if found is not None:
        name = f"the {found.attrs['cover']}"
        said += verdict(found, units, name=name)
        if found.attrs["days_in_doubt"] == "dates":
            said.append(f"Odds of plants raised in {name} hold only if its dates are right, too.")
    if decide(report).lead.share >= RELIABLE:
        return said  # other dates make it work: the page leads with them
    return said + what_would_mend(report.tried, report.mends, units)
