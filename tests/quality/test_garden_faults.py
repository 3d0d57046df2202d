"""Plausible but wrong loggers and trials: each fault is seen, and nothing is said of sound ones."""

import sys
from pathlib import Path

import numpy as np
import pandas as pd
import pytest

sys.path.insert(0, str(Path(__file__).parent))

from injected_garden import (
    LOGGER_FAULTS,
    SHEET,
    TRIAL_FAULTS,
    WEIGHTS,
    frame_of,
    logger_verdict,
    trial_verdict,
)

from climwin.cli.main import main
from climwin.core.errors import RecordError
from climwin.io.daily import read_daily
from climwin.io.loggers import read_logger
from climwin.io.samples import sample
from climwin.report.sentences_caveats import CHECK_LOGGER, logger_caveats
from climwin.shelter.covers import COVERS, fit_cover
from climwin.trials.analysis import read_trial

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
    assert capsys.readouterr().out.startswith(f"caution: {CHECK_LOGGER}Its nights match those")


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


def test_few_plants_may_be_many_times_fewer(tmp_path):
    assert sheet(tmp_path, "1", "9", "0", "1", "1", "1") == [1, 9, 0, 1, 1, 1]


def test_a_difference_may_lie_below_zero(tmp_path):
    path = tmp_path / "trial.csv"
    changed = SHEET.replace("weight", "change_c").format("-1.5", "0.5", "1", "-2", "0.2", "1.1")
    path.write_text(changed)
    assert read_trial(path)["change_c"].min() == -2
