"""How long 60 crops, each in two ways, take to be swept over 365 start dates of 40 years.

Against a plain NumPy loop on the same data in the same run, which slices each stage out of each
year. The loop is given its daily means and covers ready-made, is run on a sample, and must come to
the same counts. Both are measured in seconds of one processor. Run it by itself::

    python tests/benchmarks/bench_sweep.py
"""

from __future__ import annotations

import os
import sys
import time
from pathlib import Path
from statistics import median

os.environ["OPENBLAS_NUM_THREADS"] = "1"  # both on one thread
sys.path.insert(0, str(Path(__file__).parents[1]))

import numpy as np
import xarray as xr
from records import weather

from climwin.climate.soil import soil_temperature
from climwin.climate.windows import running_mean_bounds
from climwin.core.schema import TOLERANCE_C
from climwin.core.seasons import DAYS, by_year, coldest_day, seen_range, warmest_day
from climwin.crops.catalogue import crop, crop_names
from climwin.planning.evaluate import sweep_plans
from climwin.planning.growth import REASONS
from climwin.planning.plan import Plan
from climwin.shelter.covers import COVERS, under_cover

LIMIT, ROUNDS, SAMPLE = 800, 7, 20
CROPS, YEARS = 60, 40


def plans() -> list[Plan]:
    """Each crop sown in place, and raised in a cold frame for its usual weeks, or four."""
    chosen = [crop(name) for name in crop_names()[:CROPS]]
    weeks = [each.weeks_under_cover.usual if each.weeks_under_cover else 4 for each in chosen]
    raised = [Plan(c, "04-01", w, "cold frame") for c, w in zip(chosen, weeks, strict=True)]
    return [Plan(each, "04-01") for each in chosen] + raised


class PlainLoop:
    """What anyone would write: every year of every start date on its own, stage by stage."""

    def __init__(self, record: xr.Dataset) -> None:
        def grid(da: xr.DataArray) -> np.ndarray:
            return np.pad(by_year(da).values, ((1, 1), (0, 0)), constant_values=np.nan)

        self.low, self.high = (mean.ravel() for mean in running_mean_bounds(grid(record["tmean"])))
        soil = grid(soil_temperature(record))
        self.soil, self.warmest_soil = soil.ravel(), self._filled(soil, seen_range(soil)[1])
        self.night, self.coldest_night = {}, {}
        for name in ("none", "cold frame"):
            night = grid(under_cover(record, COVERS[name])["tmin"])
            self.night[name] = night.ravel()
            self.coldest_night[name] = self._filled(night, seen_range(night)[0])
        coldest, warmest = coldest_day(record).item(), warmest_day(record).item()
        day = np.arange(1, DAYS + 1)
        rising = (day - coldest) % DAYS < (warmest - coldest) % DAYS
        self.rising = np.tile(rising, YEARS + 2)

    @staticmethod
    def _filled(grid: np.ndarray, fill: np.ndarray) -> np.ndarray:
        return np.where(np.isnan(grid), fill, grid).ravel()

    def counts(self, plan: Plan, start_day: int) -> list[int]:
        """Years that succeeded, are known, and failed by each reason."""
        fates = [self.fate(plan, year * DAYS + start_day - 1) for year in range(1, YEARS + 1)]
        known = [fate for fate in fates if fate != "unknown"]
        return [fates.count("success"), len(known), *(fates.count(reason) for reason in REASONS)]

    def fate(self, plan: Plan, at: int) -> str:
        """What became of a plan that started on one day."""
        late = autumn = most_freezes = hot = cold = 0
        sure = possible = True
        for stage in plan.crop.stages:
            pieces = [piece for piece in plan.pieces() if piece.stage is stage]
            days = inside = most_inside = 0
            band, kills = stage.tolerates, stage.survives.low_c + TOLERANCE_C
            for piece in pieces if stage.place == "air" else []:
                span = slice(at + piece.begin, at + piece.end)
                frozen, rising = self.night[piece.cover][span] <= kills, self.rising[span]
                late += (frozen & rising).sum()
                autumn += (frozen & ~rising).sum()
                most_freezes += (self.coldest_night[piece.cover][span] <= kills).sum()
                if piece.cover == "none":
                    low, high = self.low[span], self.high[span]
                    under, over = band.low_c - TOLERANCE_C, band.high_c + TOLERANCE_C
                    days += piece.end - piece.begin
                    inside += ((low >= under) & (high <= over)).sum()
                    most_inside += ((high >= under) & (low <= over)).sum()
                    hot += (low > over).sum()
                    cold += (high < under).sum()
            need = plan.conditions.share_in_band * days - 1e-9
            sure, possible = sure and inside >= need, possible and most_inside >= need
        warm = maybe_warm = True
        if not plan.weeks_under_cover:
            span, limit = slice(at - 4, at + 1), plan.crop.germination.minimum_c - TOLERANCE_C
            warm, maybe_warm = (
                (soil[span] >= limit).all() for soil in (self.soil, self.warmest_soil)
            )
        if sure and most_freezes == 0 and warm:
            return "success"
        if possible and late + autumn == 0 and maybe_warm:
            return "unknown"
        met = (late > 0, autumn > 0, not maybe_warm, hot >= cold)
        return next((r for r, m in zip(REASONS, met, strict=False) if m), REASONS[-1])


def ratio() -> float:
    """Time of the plain loop for all, from its sample, over that of `sweep_plans`."""
    record, each = weather(0, YEARS, gaps=0.01), plans()
    rng = np.random.default_rng(1)
    loop, times, plain_times = PlainLoop(record), [], []
    for _ in range(ROUNDS):
        began = time.process_time()
        swept = sweep_plans(each, record)
        times.append(time.process_time() - began)
        sample = list(
            zip(
                rng.integers(len(each), size=SAMPLE), rng.integers(1, DAYS + 1, SAMPLE), strict=True
            )
        )
        began = time.process_time()
        plain = [loop.counts(each[plan], start) for plan, start in sample]
        plain_times.append((time.process_time() - began) * len(each) * DAYS / SAMPLE)
        for (plan, start), counted in zip(sample, plain, strict=True):
            ours = swept.isel(plan=plan).sel(start_day=start)
            assert counted == [
                int(ours["succeeded"]),
                int(ours["known"]),
                *ours["failed_by"].values.tolist(),
            ], (each[plan].crop.name, start)
    print(f"sweep of {len(each)} plans: {median(times):.3f} s; plain: {median(plain_times):.0f} s")
    return median(plain_times) / median(times)


if __name__ == "__main__":
    found = ratio()
    print(f"{found:.0f} times a plain NumPy loop (at least {LIMIT})")
    sys.exit(found < LIMIT)
