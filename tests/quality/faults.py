"""Put faults into real records and write which of them climwin sees: `RESULTS.md`.

    python tests/quality/faults.py

The records are no part of the project; see `records.SHARED` for where they are looked for. It takes
several minutes on two cores.
"""

from __future__ import annotations

import sys
import tempfile
import warnings
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))

from agreement.records import PLACES
from quality.injected import FAULTS, LASTING, TODAY, Fault, Table, table_of, verdict
from quality.injected_garden import (
    LOGGER_FAULTS,
    SCATTER,
    TRIAL_FAULTS,
    TRIALS,
    LoggerFault,
    frame_of,
    is_a_slip,
    logger_verdict,
    simulated_trial,
    trial_verdict,
    with_a_digit_too_many,
)
from records import SHARED
from results import table_head, table_row

from climwin.io.daily import read_daily
from climwin.io.plausibility import departures
from climwin.io.samples import sample

INJECTED = (
    "Albany_NY",
    "Brussels_BE",
    "Champion_NE",
    "Dublin_IE",
    "Gainesville_FL",
    "PrinceGeorge_BC",
    "SanDiego_CA",
    "Tunis_TN",
)
"""Records that faults are put into: far inland and coast, cold and without frost."""
COVERED = (
    "cold frame",
    "unheated greenhouse",
    "frost-free greenhouse",
    "fleece",
    "room with lights",
)
SEASONS = ("01-05", "04-01", "07-01", "10-01")
"""Covered spaces, and the first days of their sound loggers."""
DRAWN = 1000
"""Simulated trials for each number."""
PIECES = (40, 20, 10)
"""Years of the pieces in which clean records are read too."""


def real_records() -> dict[str, object]:
    """All real records, each with its place."""
    out = {}
    for name, place in PLACES.items():
        daily = read_daily(SHARED / "records" / f"{name}.csv")
        out[name] = daily.assign_attrs(latitude=place.latitude, elevation=place.elevation)
    return out


def has_frost(table: Table) -> bool:
    """Whether most years have a month of frost."""
    return float((table.tmin < -0.5).sum()) >= 30 * len(table.whole)


def detection(records: dict[str, object], path: Path) -> pd.DataFrame:
    """Each fault in each record at both sizes: what is said."""
    rows = []
    for name in INJECTED:
        table = table_of(records[name], years=30)
        for number, fault in enumerate(FAULTS):
            if fault.frost and not has_frost(table):
                continue
            for large in (False, True):
                rng = np.random.default_rng(number)
                said, text, _ = verdict(fault.put(table, large, rng), path)
                rows.append((fault.name, large, name, said, text))
    return pd.DataFrame(rows, columns=["fault", "large", "record", "said", "text"])


def lasting(records: dict[str, object], path: Path) -> dict[str, list[str]]:
    """The records in which each fault of all years alike is seen."""
    seen: dict[str, list[str]] = {name: [] for name in LASTING}
    for name in INJECTED:
        table = table_of(records[name], years=30)
        for fault, put in LASTING.items():
            if verdict(put(table, np.random.default_rng(0)), path)[0]:
                seen[fault].append(name)
    return seen


def false_alarms(records: dict[str, object]) -> tuple[int, list[tuple[str, str]]]:
    """Clean records, whole and in pieces: how many there are, and what is said of any of them."""
    pieces, found = 0, []
    for name, daily in records.items():
        first, last = (int(daily["time"].dt.year[end]) for end in (0, -1))
        spans = [(first, last)]
        for length in PIECES:
            spans += [
                (begin, begin + length - 1) for begin in range(first, last - length + 2, length)
            ]
        for begin, end in dict.fromkeys(spans):
            part = daily.sel(time=slice(str(begin), str(end)))
            pieces += 1
            found += [(f"{name} {begin}-{end}", each.text()) for each in departures(part, TODAY)]
    return pieces, found


def loggers(records: dict[str, object], path: Path) -> tuple[pd.DataFrame, int, list[str]]:
    """Each fault in loggers of each place; and sound loggers: how many, and what is said of any."""
    rows, sound, alarms = [], 0, []
    for name in INJECTED:
        daily = records[name]
        year = int(daily["time"].dt.year[-1]) - 2
        frame = frame_of(daily, "cold frame", f"{year}-02-20", seed=1)
        for number, fault in enumerate(LOGGER_FAULTS):
            for large in (False, True):
                put = fault.put(frame, large, np.random.default_rng(number))
                rows.append((fault.name, large, name, *logger_verdict(put, daily, path)))
        for cover in COVERED:
            for first in SEASONS:
                said = logger_verdict(frame_of(daily, cover, f"{year}-{first}", 1), daily, path)
                sound += 1
                alarms += [f"{name}, {cover}, from {first}: {said[1]}"] if said[0] else []
    columns = ["fault", "large", "record", "said", "text"]
    return pd.DataFrame(rows, columns=columns), sound, alarms


def slipped() -> list[list[object]]:
    """Simulated trials in which a plot is refused, by their size and scatter."""
    rows = []
    for blocks, treatments in TRIALS:
        for scatter in SCATTER:
            rng = np.random.default_rng(1)

            def draw(failed: float = 0.0, size=(blocks, treatments, scatter), rng=rng):
                return simulated_trial(*size, failed, rng)

            sound, failing = (
                sum(is_a_slip(draw(failed))[1] for _ in range(DRAWN)) for failed in (0.0, 0.1)
            )
            drawn = [is_a_slip(with_a_digit_too_many(draw(), rng)) for _ in range(DRAWN)]
            alone, seen = (f"{100 * np.mean(column):.0f} %" for column in zip(*drawn, strict=True))
            rows.append([f"{blocks} x {treatments}", f"{scatter:.0%}".replace("%", " %"),
                         sound, failing, alone, seen])  # fmt: skip
    return rows


def main() -> None:
    """Measure, and write the table."""
    warnings.simplefilter("error")
    records = real_records()
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "file.csv"
        table = detection(records, path)
        alike = lasting(records, path)
        logged = loggers(records, path)
        trials = [[trial_verdict(sheet, path)[0] for sheet in f.sheets] for f in TRIAL_FAULTS]
    pieces, alarms = false_alarms(records)
    invented = [departures(read_daily(sample(n)), TODAY)
                for n in ("pellbrook_valley.csv", "pellbrook_hill.csv")]  # fmt: skip
    (Path(__file__).parent / "RESULTS.md").write_text(
        page(table, alike, pieces, alarms, invented) + of_garden(*logged, trials, slipped())
    )


def page(
    table: pd.DataFrame, alike: dict[str, list[str]], pieces: int, alarms: list, invented: list
) -> str:
    """The results in Markdown."""
    lines = ["# Faults put into real records", "", HEAD, "", *_faults_seen(FAULTS, table)]
    missed = table[table["large"] & (table["said"] == "")]
    lines += ["", "## Large faults that pass", ""]
    lines += [f"- {row.fault}: {row.record}" for row in missed.itertuples()] or ["None."]
    lines += ["", "## All years wrong alike", "", ALIKE, ""]
    lines += table_head("fault, of all years", "seen", "in")
    lines += [
        table_row(fault, f"{len(names)} of {len(INJECTED)}", ", ".join(names))
        for fault, names in alike.items()
    ]
    lines += ["", "## False alarms", ""]
    count = len({name for name, _ in alarms})
    lines += [f"{count} of {pieces} clean records and pieces of {_listed(PIECES)} years.", ""]
    lines += [f"- {name}: {text}" for name, text in alarms]
    said = sum(len(each) for each in invented)
    lines += [""] if alarms else []
    lines += [f"The two invented samples: {said}."]
    return "\n".join(lines)


def of_garden(
    table: pd.DataFrame, sound: int, alarms: list[str], trials: list, slips: list[list[object]]
) -> str:
    """The results of loggers and trials in Markdown."""
    lines = ["", "", "## Loggers", "", LOGGERS, "", *_faults_seen(LOGGER_FAULTS, table)]
    lines += ["", f"Sound loggers that are doubted: {len(alarms)} of {sound}.", ""]
    lines += [f"- {alarm}" for alarm in alarms]
    lines += [""] if alarms else []
    lines += ["## Trials", "", *table_head("fault", "small", "said", "large", "said")]
    for fault, (small, large) in zip(TRIAL_FAULTS, trials, strict=True):
        lines.append(table_row(fault.name, fault.small, small, fault.large, large))
    lines += ["", SLIPPED, ""]
    lines += table_head(
        "blocks x treatments", "scatter", "sound, refused", "with failed plots, refused",
        "a digit too many, seen beside the next largest alone", "seen",
    )  # fmt: skip
    lines += [table_row(*row) for row in slips]
    return "\n".join([*lines, ""])


def _faults_seen(faults: Sequence[Fault | LoggerFault], table: pd.DataFrame) -> list[str]:
    """A table of faults at both sizes: in how many records each is seen, and refused."""
    lines = table_head("fault", "small", "seen", "large", "seen", "refused")
    for fault in faults:
        here = table[table["fault"] == fault.name]
        small, large = here[~here["large"]], here[here["large"]]
        refused = (large["said"] == "refused").sum()
        seen = fault.small, _share(small), fault.large, _share(large)
        lines.append(table_row(fault.name, *seen, refused))
    return lines


def _share(rows: pd.DataFrame) -> str:
    """In how many records something is said."""
    return f"{(rows['said'] != '').sum()} of {len(rows)}"


def _listed(numbers: tuple[int, ...]) -> str:
    *before, last = map(str, numbers)
    return f"{', '.join(before)} and {last}"


LOGGERS = """\
Each fault is put into 70 days of a cold frame from 20 February on, hourly, made from the weather
of each of the eight places. Sound loggers are five kinds of covered space at four times of the
year."""

SLIPPED = """\
A digit too many in any plot of simulated trials, 1,000 for each number. Blocks scatter by 30 %,
treatments by 40 %, plots as the table says; one plot in ten fails where the head says so."""

ALIKE = """\
A fault that keeps to what some real climate shows, and is the same in all years, cannot be seen in
the record alone. These pass, but where the place or a rough edge gives them away. Compare with a
nearby record before you trust one that is not from a weather service."""

HEAD = """\
Made by `python tests/quality/faults.py`. Each fault is put into the last 30 years of eight real
records, at two sizes; a record is read from a file as anybody would. *Seen* counts the records that
are refused, or whose first line of all is a doubt about the record; *refused* those of the large
size that are refused. Faults of frost are put into records with a month of frost a year."""

if __name__ == "__main__":
    main()
