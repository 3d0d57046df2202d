"""Whether the season that a page leads with is one that calendars give.

``python tests/agreement/leading.py PLACE ...`` prints, for each crop and way of starting it that is
published for a place, the share of its published days that the leading run of dates holds: if the
first season led, as parted on the coldest day, and as it is led with now, where dates run through a
mild winter. Without a place, for the mild places, where the two differ.
"""

from __future__ import annotations

import sys
from pathlib import Path

import numpy as np
import xarray as xr

sys.path.insert(0, str(Path(__file__).resolve().parents[1]))
from agreement import calendars, model, records
from agreement.dates import DAYS

from climwin.crops.catalogue import crop
from climwin.planning.dates import recommended_dates
from climwin.planning.spans import leading_span, needs_winter, through_winter, weaker_in_winter

MILD = ("Dublin_IE", "Gainesville_FL", "Merced_CA", "SanDiego_CA", "Tunis_TN", "WilliamHead_BC")


def leading_runs(group: calendars.Group) -> tuple[np.ndarray, np.ndarray] | None:
    """Days of the year of the leading run: by the first season, and as a page has it."""
    plan = model._plan(group.crop, group.method)
    found = recommended_dates(plan, records.load(group.place))
    if not found.sizes["span"]:
        return None
    return _held(*_first(found, group)), _held(*_led(found, group))


def _first(found: xr.Dataset, group: calendars.Group, weaker: int | None = None) -> tuple[int, int]:
    place = _place(found, group, weaker)
    return int(found["first_day"][place]), int(found["last_day"][place])


def _led(found: xr.Dataset, group: calendars.Group) -> tuple[int, int]:
    told = [found[name].values for name in ("elsewhere_share", "first_day", "last_day")]
    weaker = weaker_in_winter(*told)
    if crop(group.crop).season != "cool":
        return _first(found, group, weaker)
    return through_winter(_place(found, group, weaker), *told)


def _place(found: xr.Dataset, group: calendars.Group, weaker: int | None) -> int:
    at_best = (found[n].values for n in ("elsewhere_share", "crop_of_variety", "growth"))
    return leading_span(*at_best, weaker=weaker, needs_winter=needs_winter(crop(group.crop)))


def _held(first: int, last: int) -> np.ndarray:
    days = np.arange(1, DAYS + 1)
    return (days - first) % DAYS <= (last - first) % DAYS


def published_days(group: calendars.Group) -> np.ndarray:
    """Days of the year that any calendar gives."""
    return np.any([_held(window.first, window.last) for window in group.windows], axis=0)


def main() -> None:
    """Print them, and the means."""
    places = sys.argv[1:] or MILD
    shares = []
    for group in calendars.published()[0]:
        runs = leading_runs(group) if group.place in places else None
        if runs is None:
            continue
        days = published_days(group)
        shares.append([float(run[days].mean()) for run in runs])
        before, now = shares[-1]
        print(f"{group}: {before:.2f}, {now:.2f}", flush=True)
    meant = np.array(shares)
    met = (meant > 0).sum(axis=0)
    print(f"{len(meant)} groups; published days held: {meant.mean(axis=0).round(2)}; met: {met}")


if __name__ == "__main__":
    main()
