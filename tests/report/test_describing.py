"""The answers of notebooks in one call: the same sentences as on the page and in the commands."""

import re

import pytest

import climwin as cw
from climwin.cli.main import main
from climwin.io.samples import sample
from climwin.report.sentences_decision import verdict


@pytest.fixture(scope="module")
def daily():
    return cw.read_daily(cw.sample())


def test_a_decision_is_the_command_s_first_line(daily, tmp_path, capsys, monkeypatch):
    monkeypatch.setattr("climwin.page.write.write_page", lambda _, out, **__: out)  # read by none
    report = cw.garden_report(
        cw.garden_of(daily), daily, plans=[cw.Plan(cw.crop("radish"), "04-10")]
    )
    asked = ["--crop", "radish", "--sow", "04-10", "--out", str(tmp_path / "page.html")]
    assert main(["page", str(sample()), *asked]) == 0
    first = capsys.readouterr().out.splitlines()[0]
    assert cw.describe_decision(report) == first


def test_a_space_is_named_and_heated_in_the_reader_s_units(daily):
    found = cw.space_verdict(daily, cw.COVERS["cold frame"], cw.crop("tomato"))
    said = cw.describe_space(found, "F", name="our frame")
    assert "tomato plants our frame is" in said
    assert "°F" in said
    assert "°C" not in said


def test_a_season_in_degf_has_inches_of_rain_and_of_soil(daily):
    so_far = cw.season_so_far(daily.sel(time=slice(None, "2024-05-14")))
    metric, other = (cw.describe_season(so_far, units) for units in ("C", "F"))
    millimetres = float(so_far["so_far"].sel(quantity="rain"))
    assert f"Rain: {millimetres:.0f} mm" in metric
    assert f"Rain: {millimetres / 25.4:.1f} inches" in other  # 25.4 mm are an inch
    assert "Soil at a depth of 5 cm" in metric
    assert "Soil at a depth of 2 in" in other
    assert not {"mm", "°C", "cm"} & {*other.replace(",", " ").split()}


def test_a_verdict_comes_before_its_numbers(daily):
    report = cw.garden_report(
        cw.garden_of(daily), daily, plans=[cw.Plan(cw.crop("radish"), "04-10")]
    )
    advice, numbers = cw.describe_decision(report).split(". ")
    assert advice == verdict(report)
    assert re.match(r"Sown outdoors .*of \d+ years", numbers)
