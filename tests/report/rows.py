"""A row of a decision as the tests of decisions need it."""

from types import SimpleNamespace

import climwin as cw
from climwin.core.seasons import day_number
from climwin.report.decision import Row

SOWN = cw.Plan(cw.crop("cauliflower"), "04-20")


def report_of(**parts):
    """A report of one climate alone, with no more than these parts."""
    report = SimpleNamespace(**parts)
    report.ahead = report
    return report


def row(plan=SOWN, share=0.9, **given):
    start = 1 if plan.crop.is_perennial else day_number(plan.start)
    values = {
        "number": 0,
        "is_best": False,
        "start": start,
        "first": start,
        "last": start,
        "harvest": (200.0, 210.0),
        "harvested": round(40 * share),
        "known": 40,
        "share": share,
        "low": share - 0.1,
        "high": share + 0.1,
        "crop": 1.0,
        "growth": 0.8,
        "was_asked": True,
        "yield_index": 1000.0,
        **given,
    }
    return Row(plan=plan, **values)
