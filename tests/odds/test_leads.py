"""Which climate leads, as the hindcast's table says and as the library answers."""

from pathlib import Path

import pytest
import records

from climwin.climate.level import is_mild, leading_climate

TABLE = Path(__file__).with_name("RESULTS.md").read_text("utf-8")


def rows() -> list[list[str]]:
    """Kind, places, what leads, gain and whether it is proven."""
    lines = TABLE.partition("### Which leads")[2].partition("###")[0].splitlines()
    cells = [[cell.strip() for cell in line.strip("|").split("|")] for line in lines if "|" in line]
    return cells[2:]


@pytest.fixture(scope="module")
def places():
    cold = records.weather(3, years=16)
    mild = cold.copy()
    for name in ("tmin", "tmax", "tmean"):
        mild[name] = (cold[name] + 12.0).assign_attrs(cold[name].attrs)
    assert is_mild(mild)
    assert not is_mild(cold)
    return {"mild": mild, "others": cold}


def test_the_library_leads_as_the_table_says(places):
    assert {row[0] for row in rows()} >= {"spring freeze", "window", "heat", "hot days"}
    for kind, where, leads, _, _ in rows():
        assert leading_climate(places[where], kind) == leads


def test_no_climate_leads_against_a_proven_loss():
    proven = [(leads, gain) for _, _, leads, gain, is_proven in rows() if is_proven == "yes"]
    assert proven
    for leads, gain in proven:
        assert leads == ("today" if float(gain.split()[0]) > 0 else "record")
