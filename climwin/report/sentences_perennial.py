"""Sentences on winter and spring for a plant that stands for years."""

from __future__ import annotations

import numpy as np

from climwin.core.formatting import fixed, number
from climwin.core.schema import TOLERANCE_C, Units, from_celsius
from climwin.core.seasons import day_name
from climwin.core.wording import article
from climwin.planning.growth import BUDS, COLD_NEED, REASONS, WINTER
from climwin.planning.perennial import REST_AFTER, REST_BEFORE, UTAH
from climwin.report.garden import GardenReport
from climwin.report.sentences import spread, temperature, years


def winter_story(report: GardenReport, units: Units) -> list[str]:
    """Winter kill, frost on buds, cold need and bloom of a perennial; none for another crop."""
    perennial = report.crop.perennial
    if perennial is None:
        return []
    texts = [_hardiness(report, units), *_winters_lost(report)]
    if perennial.bloom is not None:
        texts += [_bloom(report, units), _chill(report, shown_in=units)]
    else:
        texts.append(_first_growth(report))
    return [text for text in texts if text]


def _hardiness(report: GardenReport, units: Units) -> str:
    """What the plant survives in winter, and how cold the winters of the record were."""
    perennial, name = report.crop.perennial, report.crop.name
    assert perennial is not None
    limit, weakest = perennial.hardy_to_c, "it survives"
    part = "wood"
    if perennial.crown_below_ground:
        part = "crown, below ground and under snow,"
    survives = f"Winter: the {part} of {article(name)} {name} survives {temperature(limit, units)}"
    if perennial.buds_hardy_to_c is not None:
        survives += f", its dormant flower buds {temperature(perennial.buds_hardy_to_c, units)}"
        if perennial.buds_hardy_to_c > limit:
            limit, weakest = perennial.buds_hardy_to_c, "its buds survive"
    coldest = _coldest_of_winters(report)
    if not len(coldest):
        return f"{survives} (source: {perennial.hardy_source})."
    so_cold = int((coldest <= limit + TOLERANCE_C).sum())
    middle, worst = float(np.median(coldest)), float(coldest.min())
    text = (
        f"{survives}. The coldest night was {temperature(middle, units)} in a typical winter here "
        f"and {temperature(worst, units)} in the worst of {years(len(coldest))}"
    )
    if perennial.crown_below_ground:
        return f"{text}; soil and snow keep the crown warmer than that."
    return f"{text}; {so_cold or 'none'} had a night colder than {weakest}."


def _coldest_of_winters(report: GardenReport) -> np.ndarray:
    """Lowest minimum of each winter of the record that has its nights. [degC]"""
    tmin = report.daily["tmin"]
    into_year = np.timedelta64(int(report.freeze_dates["first_day"]) - 1, "D")
    before, after = np.timedelta64(REST_BEFORE, "D"), np.timedelta64(REST_AFTER, "D")
    time = tmin["time"].values.astype("datetime64[D]")
    winters = []
    for year in np.unique(time.astype("datetime64[Y]")):
        middle = year.astype("datetime64[D]") + into_year
        nights = tmin.values[(time >= middle - before) & (time < middle + after)]
        if len(nights) == REST_BEFORE + REST_AFTER and not np.isnan(nights).all():
            winters.append(np.nanmin(nights))
    return np.array(winters)


def _winters_lost(report: GardenReport) -> list[str]:
    """Note that no year was lost to winter or frost; lost years are explained with the odds."""
    odds = report.ahead.odds[0]
    reasons = [REASONS[code] for code in (WINTER, BUDS, COLD_NEED)]
    if int(odds["failed_by"].sel(reason=reasons).sum()) or not int(odds["known"]):
        return []
    return [f"Neither winter nor frost cost a harvest in {years(int(odds['known']))}."]


def _bloom(report: GardenReport, units: Units) -> str:
    """When it blooms, and the frost that kills its flowers then."""
    perennial = report.crop.perennial
    assert perennial is not None
    assert perennial.bloom is not None
    when = spread(report.timetables[0].sel(event="bloom or first growth"))
    if not when:
        return ""
    last = report.freeze_odds.isel(threshold=0).sel(odds=0.5)["last_spring"]
    open_flower = perennial.bloom.buds[-1]
    opens = "First flowers" if perennial.bloom.flowering_days else "Full bloom"
    text = (
        f"{opens}: {when}. Open flowers begin to die at "
        f"{temperature(open_flower.tenth_killed_c, units, 1)}"
    )
    if np.isfinite(last):
        text += f"; in one year in two a freeze comes on {day_name(float(last))} or later"
    return f"{text}."


def _chill(report: GardenReport, shown_in: Units) -> str:
    perennial = report.crop.perennial
    assert perennial is not None
    assert perennial.bloom is not None
    units = report.chill_need
    if units <= 0:
        return ""
    low, high = (fixed(float(from_celsius(UTAH[place][0], shown_in))) for place in (1, 2))
    rests = (
        f"It rests until it has had {number(round(units))} chill units (hours between about {low} "
        f"and {high} °{shown_in} count in full)."
    )
    common = perennial.bloom.chill_units
    if units >= common:
        return rests
    return (
        f"Common kinds need {number(common)} chill units, more than nine winters in ten bring "
        f"here, so these odds are of a kind that needs less. {rests}"
    )


def _first_growth(report: GardenReport) -> str:
    when = spread(report.timetables[0].sel(event="bloom or first growth"))
    return f"First growth: {when}." if when else ""
