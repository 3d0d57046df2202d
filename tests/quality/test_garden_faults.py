"""Plausible but wrong loggers and trials: each fault is seen, and nothing is said of sound ones."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
from scipy import stats

sys.path.insert(0, str(Path(__file__).parent))

from injected_garden import (
    LOGGER_FAULTS,
    SHEET,
    TRIAL_FAULTS,
    WEIGHTS,
    frame_of,
    is_a_slip,
    logger_verdict,
    simulated_trial,
    trial_verdict,
    with_a_digit_too_many,
)

from climwin.cli.main import main
from climwin.core.errors import RecordError
from climwin.crops.catalogue import crop
from climwin.io.daily import read_daily
from climwin.io.loggers import read_logger
from climwin.io.samples import sample
from climwin.page.space import space_and_mends
from climwin.planning.plan import Plan
from climwin.report.garden import garden_report
from climwin.report.sentences_caveats import CHECK_LOGGER, logger_caveats, thermometer_caveats
from climwin.report.sentences_decision import worst_doubt
from climwin.shelter.covers import COVERS, fit_cover
from climwin.stations.garden import garden_of
from climwin.trials import plausibility
from climwin.trials.analysis import read_trial
from climwin.widgets.panels import cover_panel

EVIDENCE = {
    "degF not said": "degC when read as degC",
    "degF part of the way": "degC when read as degC",
    "degC taken for degF": "colder than outdoors by night and by day",
    "ten times too large": "degC when read as degC",
    "clock off by hours": "brightest days are warmest at",
    "calendar off by days": "9 days",
    "stuck sensor": "without a change",
    "zeros for missing readings": "exactly zero",
    "spikes of 15 degC": "above or below both",
    "-127 for no contact": "-127",
    "sign turned": "for each degree outdoors its nights move by \N{MINUS SIGN}",
    "another, colder place": "colder than outdoors by night and by day",
    "sensor in the sun": "degC when read as degC",
    "sun on every third day": "the sun may fall on the sensor on those days",
    "calendar off by years": "2 years later",
    "lain indoors at first": "on its first 4 days its nights are",
    "sensor in the soil": "its days swing by",
    "hottest readings cut off": "and none is higher",
}
"""What is said, among other things, of each large fault of a logger."""


@pytest.fixture(scope="module")
def invented():
    return read_daily(sample())


@pytest.fixture(scope="module")
def frame(invented):
    return frame_of(invented, "cold frame", "2022-02-20", seed=1)


@pytest.mark.parametrize("number", range(len(LOGGER_FAULTS)), ids=lambda n: LOGGER_FAULTS[n].name)
def test_a_large_fault_of_a_logger_is_refused_or_doubted(invented, frame, tmp_path, number):
    fault = LOGGER_FAULTS[number]
    put = fault.put(frame, True, np.random.default_rng(number))
    said, text = logger_verdict(put, invented, tmp_path / "log.csv")
    assert said in ("refused", "doubted")
    assert EVIDENCE[fault.name].lower() in text.lower()


@pytest.mark.parametrize("cover", [name for name in COVERS if name != "none"])
@pytest.mark.parametrize("first", ["2021-01-05", "2021-07-01"])
def test_a_sound_logger_is_not_doubted(invented, tmp_path, cover, first):
    log = frame_of(invented, cover, first, seed=2)
    assert logger_verdict(log, invented, tmp_path / "log.csv") == ("", "")


def test_the_invented_logger_is_not_doubted(invented):
    assert logger_caveats(read_logger(sample("frame_logger.csv")), invented) == ()


def test_a_closed_frame_that_grows_hot_on_bright_days_is_not_doubted(invented, tmp_path):
    log = frame_of(invented, "cold frame", "2022-02-20", seed=3)
    is_bright = log.index.day_of_year % 3 == 0
    sun = 17 * np.clip(np.sin(np.pi * (log.index.hour - 8) / 12), 0, None)  # 20 with its own 3
    path = tmp_path / "log.csv"
    assert logger_verdict(log + np.where(is_bright, sun, 0), invented, path) == ("", "")


def cold_fahrenheit(invented):
    """A fleece in January, in degF, so cold that its numbers could be degC of a warm place."""
    log = frame_of(invented, "fleece", "2022-01-05", seed=1) - 4
    fahrenheit = log * 1.8 + 32
    assert fahrenheit.max() < 60  # so nothing is out of a garden's range
    assert fahrenheit.median() < 40
    return fahrenheit


def test_a_cold_logger_in_degf_is_told_by_the_nights_outdoors(invented, tmp_path):
    log = cold_fahrenheit(invented)
    path = tmp_path / "log.csv"
    log.rename("temperature").rename_axis("time").to_csv(path, date_format="%Y-%m-%d %H:%M")
    with pytest.raises(RecordError, match=r"warmer than outdoors.*units='F'"):
        fit_cover(read_logger(path), invented)
    assert fit_cover(read_logger(path, units="F"), invented).days > 60


def test_the_command_names_its_own_option_for_a_loggers_unit(invented, tmp_path, capsys):
    path = tmp_path / "log.csv"
    log = cold_fahrenheit(invented)
    log.rename("temperature").rename_axis("time").to_csv(path, date_format="%Y-%m-%d %H:%M")
    assert main(["space", str(path), str(sample()), "--crop", "pea"]) == 1
    said = capsys.readouterr().err
    assert "--logger-units F" in said
    assert "--record-units" not in said


def test_a_doubt_about_a_logger_is_said_before_the_answer(invented, frame, tmp_path, capsys):
    path = tmp_path / "log.csv"
    late = frame.set_axis(frame.index + pd.Timedelta(days=9))
    late.rename("temperature").rename_axis("time").to_csv(path, date_format="%Y-%m-%d %H:%M")
    assert main(["space", str(path), str(sample()), "--crop", "pea"]) == 0
    said = capsys.readouterr().out
    assert said.startswith(f"caution: {CHECK_LOGGER}Its nights match those")
    assert "Whether the space is warm enough for young pea plants is not told" in said
    assert " inside = " not in said
    assert "over the whole record" not in said


def test_a_logger_of_other_days_makes_no_verdict_on_the_page_and_in_the_panel(
    invented, frame, tmp_path
):
    path = tmp_path / "log.csv"
    late = frame.set_axis(frame.index + pd.Timedelta(days=9))
    late.rename("temperature").rename_axis("time").to_csv(path, date_format="%Y-%m-%d %H:%M")
    logger = read_logger(path)
    space = fit_cover(logger, invented, name="frame")
    assert space.days_in_doubt == "dates"
    pea = crop("pea")
    plan = Plan(pea, "03-01", 4, "frame", space=space)
    report = garden_report(garden_of(invented), invented, plans=[plan])
    not_told, ways, *_ = space_and_mends(report, "C")
    assert not_told.startswith("Whether the frame is warm enough for young pea plants is not told")
    assert "only if its dates are right" in ways
    assert worst_doubt(report, None, "C").startswith(f"{CHECK_LOGGER}Its nights match those")
    panel = cover_panel(invented, logger, pea)
    said = panel.results["cover"]["sentences"]
    assert said[0].startswith(CHECK_LOGGER)
    assert said[-1].startswith("Whether the covered space is warm enough for young pea plants is")


def test_a_verdict_that_hangs_on_the_clock_says_so(invented, frame, tmp_path, capsys):
    path = tmp_path / "log.csv"
    late = frame.set_axis(frame.index + pd.Timedelta(hours=9))
    late.rename("temperature").rename_axis("time").to_csv(path, date_format="%Y-%m-%d %H:%M")
    assert main(["space", str(path), str(sample()), "--crop", "pea"]) == 0
    said = capsys.readouterr().out
    assert "brightest days are warmest at" in said
    condition = "holds only if its logger's clock is right."
    assert said.index(condition) < said.index("For young pea plants")
    assert " inside = " in said


def test_a_sensor_under_snow_is_not_stuck(frame, tmp_path):
    log = frame.copy()
    log.iloc[300:500] = 0.4
    path = tmp_path / "log.csv"
    log.rename("temperature").rename_axis("time").to_csv(path, date_format="%Y-%m-%d %H:%M")
    assert read_logger(path).sizes["time"] == len(log)


# --- trials -------------------------------------------------------------------------------


@pytest.mark.parametrize("large", [False, True])
@pytest.mark.parametrize("fault", TRIAL_FAULTS, ids=lambda fault: fault.name)
def test_a_fault_of_a_trial_is_refused(fault, large, tmp_path):
    said, text = trial_verdict(fault.sheets[large], tmp_path / "trial.csv")
    assert said == "refused"
    assert fault.answer in text


def sheet(tmp_path, *weights):
    path = tmp_path / "trial.csv"
    path.write_text(SHEET.format(*weights))
    return read_trial(path)["weight"].tolist()


def test_a_comma_is_read_as_the_file_writes_its_other_numbers(tmp_path):
    grouped = sheet(tmp_path, "3,890", "4,570.5", "5,240", "4,410", "3,655", "4,980")
    assert grouped == [3890, 4570.5, 5240, 4410, 3655, 4980]
    decimal = sheet(tmp_path, "3,890", "4,57", "5,240", "4,410", "3,655", "4,980")
    assert decimal == [3.89, 4.57, 5.24, 4.41, 3.655, 4.98]


def test_in_a_file_parted_by_commas_a_comma_parts_thousands(tmp_path):
    path = tmp_path / "trial.csv"
    rows = SHEET.format(*(f'"{w[0]},{w[1:]}"' for w in WEIGHTS)).replace(";", ",")
    path.write_text(rows)
    assert read_trial(path)["weight"].tolist() == [float(text) for text in WEIGHTS]


def test_a_plot_that_failed_stays(tmp_path):
    assert sheet(tmp_path, "120", "4570", "0", "4410", "3655", "4980")[0] == 120


def test_a_digit_too_many_is_noticed_in_most_trials_and_hardly_ever_where_there_is_none():
    rng = np.random.default_rng(11)
    sound = [simulated_trial(6, 2, 0.2, 0.1, rng) for _ in range(400)]
    assert sum(is_a_slip(trial)[1] for trial in sound) <= 2
    slipped = [with_a_digit_too_many(simulated_trial(6, 2, 0.2, 0, rng), rng) for _ in range(200)]
    alone, all_checks = np.array([is_a_slip(trial) for trial in slipped]).sum(axis=0)
    assert all_checks > 0.75 * 200 > alone  # beside the next largest alone, fewer than half


def test_a_plot_is_held_against_its_own_block_and_treatment():
    block, treatment = np.repeat(["1", "2", "3", "4"], 2), np.array(["early", "late"] * 4)
    weights = np.array([400.0, 410, 900, 930, 2400, 2500, 500, 520])
    assert not plausibility.tenfold(weights, block, treatment).any()  # a good block is no slip
    alone = np.array([400.0, 410, 900, 930, 2400, np.nan, 500, 520])
    assert not plausibility.tenfold(
        alone, block, treatment
    ).any()  # nothing else is known of its block
    slipped = np.array([400.0, 410, 900, 930, 500, 5200, 500, 520])
    assert plausibility.tenfold(slipped, block, treatment).nonzero()[0].tolist() == [5]
    assert not plausibility.tenfold(
        slipped - 600, block, treatment
    ).any()  # what may be below zero has no times


def test_the_test_of_a_plot_is_that_of_a_term_of_its_own(monkeypatch):
    """Cook and Weisberg 1982: the residual without a plot is the t of an indicator for it."""
    rng = np.random.default_rng(3)
    weights = 4000 * np.exp(rng.normal(0, 0.2, 15))
    block, treatment = (place.astype(str).ravel() for place in np.indices((5, 3)))
    weights[4] *= 10
    plot = np.arange(15) == 4
    design = [*(block == name for name in np.unique(block))]
    design += [treatment == name for name in np.unique(treatment)[1:]]
    design = np.column_stack([*design, plot]).astype(float)
    fit, (rest,) = np.linalg.lstsq(design, np.log(weights))[:2]
    freedom = 15 - design.shape[1]
    error = np.sqrt(rest / freedom * np.linalg.inv(design.T @ design)[-1, -1])
    p = 15 * stats.t.sf(fit[-1] / error, freedom)
    for level, is_found in ((0.99 * p, False), (1.01 * p, True)):
        monkeypatch.setattr(plausibility, "TENFOLD_LEVEL", level)
        assert plausibility.tenfold(weights, block, treatment)[4] == is_found


def test_few_plants_may_be_many_times_fewer(tmp_path):
    assert sheet(tmp_path, "1", "9", "0", "1", "1", "1") == [1, 9, 0, 1, 1, 1]


def test_a_difference_may_lie_below_zero(tmp_path):
    path = tmp_path / "trial.csv"
    changed = SHEET.replace("weight", "change_c").format("-1.5", "0.5", "1", "-2", "0.2", "1.1")
    path.write_text(changed)
    assert read_trial(path)["change_c"].min() == -2


# --- the wrong one of two loggers ---------------------------------------------------------


def written_logger(log, path):
    log.rename("temperature").rename_axis("time").to_csv(path, date_format="%Y-%m-%d %H:%M")


def test_a_frame_taken_for_the_gardens_thermometer_is_doubted(invented):
    logger = read_logger(sample("frame_logger.csv"))
    (text,) = thermometer_caveats(logger, invented, garden_of(invented))
    assert text.startswith(f"{CHECK_LOGGER}Its days are ")
    assert "warmer than the station's" in text
    assert "It may hang under cover or in the sun" in text


@pytest.mark.parametrize("seed", [1, 2])
@pytest.mark.parametrize("warmer", [-2.0, 0.0, 2.0])
def test_a_thermometer_in_the_open_is_not(invented, tmp_path, seed, warmer):
    path = tmp_path / "garden.csv"
    written_logger(frame_of(invented, "none", "2023-03-10", seed) + warmer, path)
    assert thermometer_caveats(read_logger(path), invented, garden_of(invented)) == ()


def test_a_thermometer_in_the_open_taken_for_a_frames_is_doubted(invented, tmp_path):
    path = tmp_path / "frame.csv"
    days = invented[["tmin", "tmax"]].sel(time=slice("2023-03-10", "2023-05-20"))
    times = [days["time"].to_index() + pd.Timedelta(hours=hour) for hour in (5, 14)]
    values = [days[name].values for name in ("tmin", "tmax")]
    readings = pd.concat(map(pd.Series, values, times)).sort_index().dropna()
    written_logger(readings.resample("1h").interpolate(), path)
    texts = logger_caveats(read_logger(path), invented)
    assert any("Even fleece keeps 1.0" in text for text in texts)
