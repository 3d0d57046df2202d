"""Make the sample data: an invented valley, its weather, a cold frame, a bed trial, past sowings.

There is no Pellbrook. Every value is drawn from a seeded generator, so that running this script
again writes the same files. What they hold is meant to look like real records, troubles included:

``pellbrook_valley.csv``, ``pellbrook_hill.csv``
    Daily weather of two stations, forty years. Late freezes and hot summers. With days missing,
    a sensor stuck for a month, and two slips of the pen.
``frame_logger.csv``
    Hourly temperatures inside a cold frame near the valley station, one spring.
``bed_trial.csv``
    The filled sheet of a side-by-side trial, one plot lost.
``past_sowings.csv``
    Ten years of one gardener's cauliflower, raised in a cold frame or sown in place.

Run it as ``python data_samples/make_samples.py``; it writes beside itself. ``own_crop.toml``, a
crop file of a gardener's own, is written by hand.
"""

from __future__ import annotations

from collections.abc import Iterable
from pathlib import Path
from typing import NamedTuple

import numpy as np

SEED = 20_270_420
INVENTED = f"Invented data: no real place, made by make_samples.py with seed {SEED}."
DATES = np.arange("1985-01-01", "2025-01-01", dtype="datetime64[D]")
DAY = np.timedelta64(1, "D")
DAY_OF_YEAR = (DATES - DATES.astype("datetime64[Y]")).astype(int)
VARIABLES = ("tmin", "tmax", "tmean", "precip")

Record = dict[str, np.ndarray]


class Station(NamedTuple):
    """A place of record, and what makes its weather differ from the valley's."""

    file: str
    name: str
    latitude: float
    longitude: float
    elevation: int  # m
    wetter: float  # share of the valley's precipitation


VALLEY = Station("pellbrook_valley.csv", "Pellbrook Mill", 46.10, 7.20, 420, 1.0)
HILL = Station("pellbrook_hill.csv", "Pellbrook Pass", 46.13, 7.24, 905, 1.35)

DAY_LAPSE, NIGHT_LAPSE = 5.8, 3.0  # degC/km; cold air gathers in the valley by night
TREND = 0.25  # degC a decade


# --- the weather of the region ------------------------------------------------------------


class Weather(NamedTuple):
    """What both stations share, day by day."""

    wet: np.ndarray  # whether it rained or snowed
    amount: np.ndarray  # precipitation of wet days, mm
    mean: np.ndarray  # temperature at the valley's height, degC
    swing: np.ndarray  # from minimum to maximum, degC


def yearly(*months: float) -> np.ndarray:
    """Mid-month values as a smooth cycle of four harmonics, on every day of the record."""
    turns = 2 * np.pi * (DAY_OF_YEAR - 14) / 365.25
    waves = np.fft.rfft(months)[:5] / len(months)
    return waves[0].real + 2 * sum(
        wave.real * np.cos(n * turns) - wave.imag * np.sin(n * turns)
        for n, wave in enumerate(waves[1:], start=1)
    )


def memory(rng: np.random.Generator, carried: float) -> np.ndarray:
    """Autoregression of unit variance: each day carries this share of the day before."""
    out = rng.standard_normal(len(DATES))
    for n in range(1, len(out)):
        out[n] = carried * out[n - 1] + np.sqrt(1 - carried**2) * out[n]
    return out


def wet_days(rng: np.random.Generator) -> np.ndarray:
    """Two-state Markov chain: rain follows rain, more often in early summer."""
    after_dry = yearly(0.24, 0.22, 0.22, 0.24, 0.27, 0.28, 0.25, 0.23, 0.21, 0.22, 0.25, 0.26)
    draws = rng.random(len(DATES))
    wet = np.zeros(len(DATES), dtype=bool)
    for n in range(1, len(DATES)):
        wet[n] = draws[n] < (0.55 if wet[n - 1] else after_dry[n])
    return wet


def region(rng: np.random.Generator) -> Weather:
    """Weather of the whole valley: rain, spells of days, seasons that are early or late.

    By month, in degC: the usual mean, the usual swing from night to day, the spread of single
    days, and how much warmer a wet day is than a dry one.
    """
    usual = yearly(-2.2, 1.0, 6.6, 8.5, 12.9, 21.5, 24.6, 22.9, 16.1, 7.5, 2.5, -1.0)
    swing = yearly(8.7, 9.5, 11.8, 15.8, 17.7, 16.2, 13.9, 13.9, 15.8, 14.6, 9.9, 7.7)
    spread = yearly(3.8, 3.4, 2.9, 2.5, 2.3, 2.1, 2.0, 2.0, 2.2, 2.5, 3.1, 3.6)
    damp = yearly(1.0, 0.6, -0.4, -1.4, -2.0, -2.2, -2.2, -2.0, -1.4, -0.6, 0.4, 1.0)
    wet = wet_days(rng)
    amount = rng.gamma(0.75, yearly(5, 5, 5, 6, 7, 9, 10, 10, 8, 7, 6, 5))
    unusual = spread * (0.9 * memory(rng, 0.72) + 0.4 * memory(rng, 0.98))
    warming = TREND * (DATES - DATES[len(DATES) // 2]).astype(float) / 3652.5
    mean = usual + unusual + warming + np.where(wet, 0.68, -0.32) * damp
    cloud = np.where(wet, 0.72, 1.13) * np.exp(0.10 * rng.standard_normal(len(DATES)))
    return Weather(wet, amount, mean, (swing * cloud + 0.5 * unusual).clip(1.5))


def station_weather(weather: Weather, station: Station, rng: np.random.Generator) -> Record:
    """A station's days: the region's weather at its height, and something of its own."""
    km = (station.elevation - VALLEY.elevation) / 1000
    own = 0.6 * memory(rng, 0.5)
    tmax = weather.mean + own + weather.swing / 2 - DAY_LAPSE * km
    tmin = weather.mean + own - weather.swing / 2 - NIGHT_LAPSE * km
    tmin = np.minimum(tmin, tmax - 0.5)
    share = 0.5 + 0.03 * rng.standard_normal(len(DATES)).clip(-2, 2)
    amount = weather.amount * station.wetter * rng.gamma(6, 1 / 6, len(DATES))
    return {
        "tmin": tmin.round(1),
        "tmax": tmax.round(1),
        "tmean": (tmin + share * (tmax - tmin)).round(1),
        "precip": np.where(weather.wet, amount, 0.0).round(1),
    }


# --- what goes wrong with records ---------------------------------------------------------


def days(first: str, last: str | None = None) -> slice:
    """Days of the record from `first` to `last`, both in."""
    begin, end = np.searchsorted(DATES, np.array([first, last or first], DATES.dtype))
    return slice(begin, end + 1)


def lose(record: Record, *spans: tuple[str, ...]) -> None:
    """Blank all values of some days."""
    for span in spans:
        for name in VARIABLES:
            record[name][days(*span)] = np.nan


def trouble_in_the_valley(record: Record) -> None:
    """Outages, a sensor stuck for a month, and a day whose extremes were written down crossed."""
    lose(record, ("1986-02-11",), ("1999-12-25",), ("2005-08-02",), ("2012-11-19",))
    lose(record, ("1993-07-11", "1993-07-19"), ("2016-04-12", "2016-05-02"))
    lose(record, ("1990-10-01", "1990-10-31"))
    stuck = days("2009-07-01", "2009-07-30")
    record["tmin"][stuck] = record["tmin"][stuck.start]
    slip = days("2000-08-19")
    record["tmin"][slip], record["tmax"][slip] = record["tmax"][slip], record["tmin"][slip].copy()


def trouble_on_the_hill(record: Record) -> None:
    """Outages, and a decimal point left out."""
    lose(record, ("1988-03-03",), ("2007-01-16",), ("2007-01-17",), ("2021-11-05",))
    lose(record, ("1996-12-28", "1997-01-14"))
    record["tmax"][days("2003-08-05")] *= 10


# --- the frame and the bed ----------------------------------------------------------------


def frame_hours(record: Record, rng: np.random.Generator) -> list[tuple[np.datetime64, float]]:
    """Hourly temperatures in a frame: mild by night, and by day the hotter the more sun."""
    around = days("2023-03-09", "2023-05-21")  # a day more at either end, for the nights
    tmin, tmax = (record[name][around] for name in ("tmin", "tmax"))
    clear = ((tmax - tmin) / 20).clip(0, 1)
    night = tmin + 3.6 - 1.2 * clear + 0.5 * rng.standard_normal(len(tmin))
    noon = tmax + 4 + 8 * clear * rng.uniform(0.6, 1.0, len(tmin))
    turns = DATES[around].astype("datetime64[h]")[:, None] + np.array([6, 14])  # o'clock
    hours = np.arange("2023-03-10", "2023-05-21", dtype="datetime64[h]")
    values = between(hours, turns.ravel(), np.column_stack([night, noon]).ravel())
    return list(zip(hours, values.round(1), strict=True))


def between(hours: np.ndarray, turns: np.ndarray, extremes: np.ndarray) -> np.ndarray:
    """Half cosine waves from each extreme to the next."""
    after = np.searchsorted(turns, hours, side="right")
    gone = (hours - turns[after - 1]) / (turns[after] - turns[after - 1])
    step = extremes[after] - extremes[after - 1]
    return extremes[after - 1] + step * (1 - np.cos(np.pi * gone)) / 2


def trial_plots(rng: np.random.Generator) -> list[tuple[object, ...]]:
    """Eight pairs of plots, ten plants each; a better bed end, a plot dug up by voles."""
    rows = []
    for block in range(1, 9):
        for side, treatment in enumerate(rng.permutation(["raised in a frame", "sown in place"])):
            raised = treatment == "raised in a frame"
            heads = rng.binomial(10, 0.85 if raised else 0.80)
            each = (580 if raised else 560) + 12 * block + 60 * rng.standard_normal()
            planted = np.datetime64("2024-04-16" if raised else "2024-04-20")
            days = (43 if raised else 84) + int(rng.integers(-3, 4))
            harvested = planted + days * DAY
            filled = (planted, harvested, heads, round(heads * each / 10) * 10, "")
            lost = (block, treatment) == (6, "sown in place")
            measured = (planted, "", "", "", "missing: dug up by voles") if lost else filled
            rows.append((block, 2 * block - 1 + side, treatment, *measured))
    return rows


# --- past sowings -------------------------------------------------------------------------


def past_sowings(record: Record, rng: np.random.Generator) -> list[tuple[object, ...]]:
    """Ten years of an early cauliflower: raised in a cold frame, sown in place, sown in summer."""
    rows: list[tuple[object, ...]] = []
    for year in range(2014, 2024):
        shift = int(rng.integers(-4, 5)) * DAY
        sown = np.datetime64(f"{year}-03-05") + shift
        out = sown + int(rng.integers(39, 46)) * DAY
        rows.append(past_sowing(record, rng, "cold frame", sown, out, out, 960))
        sown = np.datetime64(f"{year}-04-20" if year % 2 else f"{year}-06-20") + shift
        rows.append(past_sowing(record, rng, "in place", sown, "", sown + 10 * DAY, 1140))
    lost = rows[11]
    rows[11] = (*lost[:6], "", "other", "", "slugs took the seedlings")
    return rows


def past_sowing(
    record: Record,
    rng: np.random.Generator,
    way: str,
    sown: np.datetime64,
    out: np.datetime64 | str,
    grows_from: np.datetime64,
    need: float,
) -> tuple[object, ...]:
    """A sowing that is ready once its warmth has come together, unless the last weeks are too hot.

    A day's warmth rises with its mean to 17 degC, is full to 22 and falls to nothing at 33.
    """
    begin = int((grows_from - DATES[0]) / DAY)
    mean = record["tmean"][begin : begin + 200]
    warmth = np.interp(mean, [0, 17, 22, 33], [0, 17, 17, 0])
    ready = int(np.searchsorted(np.cumsum(warmth), need))
    is_hot = record["tmax"][begin + ready - 25 : begin + ready].mean() > 29.5
    harvested = "" if is_hot else grows_from + (ready + int(rng.integers(-3, 5))) * DAY
    amount = "" if is_hot else int(rng.integers(40, 62)) * 100
    failed = "too hot" if is_hot else ""
    return ("cauliflower", way, "early", 50, sown, out, harvested, failed, amount, "")


# --- files --------------------------------------------------------------------------------


def write(path: Path, notes: Iterable[str], names: Iterable[str], rows: Iterable[Iterable]) -> None:
    """A CSV with its notes above it, the same bytes everywhere."""
    lines = [f"# {note}" for note in (INVENTED, *notes)] + [",".join(names)]
    lines += [",".join(map(cell, row)) for row in rows]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8", newline="\n")


def cell(value: object) -> str:
    """A value as the files have it: one decimal, blank where missing."""
    if isinstance(value, float):
        return "" if np.isnan(value) else f"{value + 0.0:.1f}"  # + 0.0: no minus before zero
    return str(value)


def write_station(folder: Path, station: Station, record: Record) -> None:
    """A station's record."""
    place = ("latitude", "longitude", "elevation")
    notes = [f"station name: {station.name}", *(f"{key}: {getattr(station, key)}" for key in place)]
    notes.append("Daily, midnight to midnight; temperatures in degC, precip in mm.")
    rows = zip(DATES, *(record[name] for name in VARIABLES), strict=True)
    write(folder / station.file, notes, ("date", *VARIABLES), rows)


def write_logger(folder: Path, hours: list[tuple[np.datetime64, float]]) -> None:
    """The frame's logger, with some hours lost and one written twice."""
    notes = (
        "A cold frame near Pellbrook Mill, degC, sensor shaded.",
        "The clock kept the place's winter time throughout.",
    )
    lost = (211, 212, 700, 1203, 1204, 1205)  # counted from the first
    rows = [row for n, row in enumerate(hours) if n not in lost]
    rows.insert(900, rows[900])
    written = ((str(hour).replace("T", " ") + ":00", value) for hour, value in rows)
    write(folder / "frame_logger.csv", notes, ("time", "temperature"), written)


def write_trial(folder: Path, rows: list[tuple[object, ...]]) -> None:
    """The filled sheet of the trial."""
    notes = (
        "Cauliflower at Pellbrook, 8 pairs of plots side by side, 10 plants a plot.",
        "raised in a frame: sown 2024-03-05, planted out as below. sown in place: as below.",
        "heads fit to eat; weight_g of all heads of the plot, trimmed.",
    )
    names = ("block", "plot", "treatment", "planted", "harvested", "heads", "weight_g", "notes")
    write(folder / "bed_trial.csv", notes, names, rows)


def write_sowings(folder: Path, rows: list[tuple[object, ...]]) -> None:
    """The gardener's own past sowings."""
    notes = (
        "Cauliflower in one garden at Pellbrook. set_out is blank where it was sown in place;",
        "harvested is the day of the first head, failed the reason if there was none; amount in g.",
    )
    names = ("crop", "way", "variety", "packet_days", "sown", "set_out", "harvested", "failed")
    write(folder / "past_sowings.csv", notes, (*names, "amount", "notes"), rows)


def main(folder: Path) -> None:
    """Write all files into a folder."""
    sky, mill, top, frame, bed, years = (np.random.default_rng([SEED, n]) for n in range(6))
    weather = region(sky)
    valley = station_weather(weather, VALLEY, mill)
    hill = station_weather(weather, HILL, top)
    write_logger(folder, frame_hours(valley, frame))
    write_trial(folder, trial_plots(bed))
    write_sowings(folder, past_sowings(valley, years))
    trouble_in_the_valley(valley)
    trouble_on_the_hill(hill)
    write_station(folder, VALLEY, valley)
    write_station(folder, HILL, hill)


if __name__ == "__main__":
    main(Path(__file__).parent)
