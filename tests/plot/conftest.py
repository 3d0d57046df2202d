"""What the tests of figures share."""

import pytest

import climwin as cw


@pytest.fixture(scope="session")
def pellbrook(pellbrook):
    """The sample's report, raised so early that its ways need different times outdoors."""
    raised, sown = pellbrook.plans
    plans = [cw.Plan(raised.crop, "02-15", 6, "cold frame", earliness="early"), sown]
    report = cw.garden_report(pellbrook.garden, pellbrook.daily, plans=plans)
    assert len(set(report.needs)) == 2
    return report
