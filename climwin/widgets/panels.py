"""Live panels for the notebook: move a limit, a need or a date, and see every year answer.

`panel` shows all; `freeze_panel`, `window_panel`, `plans_panel` and `cover_panel` are the parts it
is made of. What the hand chose is there in Python, as a plan, limits or a report, and can be set.
"""

from __future__ import annotations

import base64
import io
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

import xarray as xr

from climwin.core.schema import Garden, Units, check_choice
from climwin.core.seasons import day_name
from climwin.crops.catalogue import Crop, Limits, crop, crop_names
from climwin.planning.evaluate import at_best_date
from climwin.planning.plan import Plan
from climwin.report.garden import GardenReport
from climwin.widgets import payload
from climwin.widgets.background import Behind
from climwin.widgets.picture import still
from climwin.widgets.state import (
    State,
    checked_need,
    first_state,
    garden_of,
    limits_of,
    moved,
    need_of,
    plan_of,
    span_of,
    with_limits,
    with_plan,
    within,
)
from climwin.widgets.tasks import HEEDS, OF_PART, WORK, Question, fitted, heeded_by

try:
    import anywidget
    import traitlets
except ModuleNotFoundError as error:
    msg = "Live panels need what notebooks need: pip install 'climwin[notebook]'"
    raise ModuleNotFoundError(msg) from error

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class Panel(anywidget.AnyWidget):
    """A live panel, made by `panel` or by one of the functions for a part of it.

    What was wrong with the last input stands in ``message``, and in the panel, which keeps what it
    had; setting an attribute to something wrong does the same.
    """

    _esm = payload.script()
    _css = payload.style()

    numbers = traitlets.Dict().tag(sync=True)
    behind = traitlets.Dict().tag(sync=True)
    state = traitlets.Dict().tag(sync=True)
    parts: traitlets.List[str] = traitlets.List(traitlets.Unicode()).tag(sync=True)
    busy = traitlets.Bool(default_value=False).tag(sync=True)
    message = traitlets.Unicode("").tag(sync=True)

    def __init__(
        self,
        daily: xr.Dataset,
        parts: Sequence[str],
        *,
        logger: xr.Dataset | None = None,
        garden: Garden | None = None,
        **chosen: Any,
    ) -> None:
        self.logger, self._daily, self._garden = logger, daily, garden
        self._crops = {name: crop(name) for name in crop_names()}
        self._done: State = {}
        self._behind = Behind(self._hear, lambda busy: self.set_trait("busy", busy))
        super().__init__(parts=list(parts))
        with self._telling():
            self._begin(**chosen)

    # --- what the hand chose, as Python ---------------------------------------------------

    @property
    def crop(self) -> Crop:
        """The crop, with its limits as they were moved."""
        return moved(self._crops[self._now["crop"]], self._now["limits"])

    @crop.setter
    def crop(self, chosen: Crop | str) -> None:
        with self._telling():
            fresh = first_state(self._offer(chosen), (0, 0), self._now["units"])
            kept = ("date", "threshold", "years", "hot")
            self.state = fresh | {key: self._now[key] for key in kept}

    @property
    def limits(self) -> Limits:
        """Temperatures between which the crop, or the stage that is shown, grows. [degC]."""
        return limits_of(self.crop, self._now["of"])[0]

    @limits.setter
    def limits(self, chosen: Limits | tuple[float, float]) -> None:
        with self._telling():
            if not isinstance(chosen, Limits):
                chosen = Limits(low_c=chosen[0], high_c=chosen[1], source="")
            self._set_limits(chosen, self.killed_at)

    @property
    def killed_at(self) -> float:
        """Minimum at or below which the crop, or the stage that is shown, dies. [degC]."""
        return limits_of(self.crop, self._now["of"])[1]

    @killed_at.setter
    def killed_at(self, chosen: float) -> None:
        with self._telling():
            self._set_limits(self.limits, chosen)

    def _set_limits(self, limits: Limits, killed: float) -> None:
        state = with_limits(self._now, self.crop, limits, killed)
        moved(self._crops[state["crop"]], state["limits"])  # refuses what is not in order
        self.state = state

    @property
    def need_days(self) -> int:
        """Days needed of a window, by the crop or by the stage that is shown."""
        return need_of(self.crop, self._now)

    @need_days.setter
    def need_days(self, chosen: int) -> None:
        with self._telling():
            needs = {**self._now["needs"], self._now["of"]: checked_need(chosen)}
            self.state = {**self._now, "needs": needs}

    @property
    def plan(self) -> Plan:
        """The first plan."""
        return self._plan(0)

    @plan.setter
    def plan(self, chosen: Plan) -> None:
        self._set_plan(0, chosen)

    @property
    def other(self) -> Plan:
        """The second plan."""
        return self._plan(1)

    @other.setter
    def other(self, chosen: Plan) -> None:
        self._set_plan(1, chosen)

    def _plan(self, which: int) -> Plan:
        plan = plan_of(self.crop, self._now, which)
        if self._now["starts"][which]:
            return plan
        if self._done.get("plans") == heeded_by("plans", self._now):
            return replace(plan, start=day_name(self.behind["plans"]["each"][which]["middle"]))
        return at_best_date(plan, self.daily)

    def _set_plan(self, which: int, chosen: Plan) -> None:
        if chosen.crop.wakes:
            name = chosen.crop.name
            self.message = f"{name} begins by itself: there is no start to choose. Set the crop."
            return
        if chosen.crop not in (self.crop, self._crops[self._now["crop"]]):
            self.crop = chosen.crop
        self.state = with_plan(self._now, which, chosen)

    @property
    def years(self) -> tuple[int, int]:
        """First and last year of the history that count."""
        first, last = self._now["years"]
        return first, last

    @years.setter
    def years(self, chosen: tuple[int, int]) -> None:
        with self._telling():
            within(self._daily, chosen)
            self.state = {**self._now, "years": list(chosen)}

    @property
    def units(self) -> Units:
        """Unit of the temperatures shown."""
        return "F" if self._now["units"] == "F" else "C"

    @units.setter
    def units(self, chosen: Units) -> None:
        with self._telling():
            check_choice("units", chosen, ("C", "F"))
            self.state = {**self._now, "units": chosen}

    @property
    def daily(self) -> xr.Dataset:
        """History of the years that count."""
        return within(self._daily, self._now["years"])

    @property
    def report(self) -> GardenReport:
        """All that the library says of the crop and the two plans, ready to draw and to share."""
        need = self._now["needs"].get("", self.crop.need_days)
        return GardenReport(self._place, self.daily, (self.plan, self.other), need)

    # --- what moves it --------------------------------------------------------------------

    @property
    def _now(self) -> State:
        """The state, or why there is none."""
        if not self.state:
            raise ValueError(self.message)
        return self.state

    @property
    def _place(self) -> Garden:
        """The garden; where none was given, where the record is from."""
        return self._garden or garden_of(self._daily)

    def _begin(
        self,
        *,
        crop: Crop | str = "cauliflower",
        plans: Sequence[Plan] = (),
        need_days: int | None = None,
        years: tuple[int, int] | None = None,
        units: Units = "C",
    ) -> None:
        """First state: the crop's own, then what was chosen."""
        self.numbers = {"rules": payload.rules(), "crops": self._crop_numbers()}
        if self.logger is not None:
            days = payload.cover_days(self.logger, self._daily, fitted(self.logger, self._daily))
            self.numbers = {**self.numbers, "cover": days}
        grown = self._offer(plans[0].crop if plans else crop)
        years = years or span_of(self._daily)
        within(self._daily, years)
        state = first_state(grown, years, units)
        for which, plan in enumerate(plans[:2]):
            state = with_plan(state, which, plan)
        if need_days is not None:
            state["needs"] = {"": checked_need(need_days)}
        self.state = state
        self._follow()

    def _place_numbers(self, years: Sequence[int]) -> dict[str, Any]:
        return payload.place(within(self._daily, years), self._place.name)

    def _crop_numbers(self) -> list[dict[str, Any]]:
        return [payload.crop_numbers(each) for each in self._crops.values()]

    def _offer(self, chosen: Crop | str) -> Crop:
        """A crop by name, or one of the gardener's own, put among those to choose from."""
        grown = crop(chosen) if isinstance(chosen, str) else chosen
        if self._crops.get(grown.name) != grown:
            self._crops[grown.name] = grown
            self.numbers = {**self.numbers, "crops": self._crop_numbers()}
        return grown

    @contextmanager
    def _telling(self) -> Iterator[None]:
        """Say what was wrong in the panel, and keep what it had."""
        try:
            yield
        except ValueError as error:
            self.message = str(error)

    @traitlets.observe("state")
    def _moved(self, _: Any) -> None:
        self.message = ""
        with self._telling():
            self._follow()

    def _follow(self) -> None:
        """Have worked out what the state shown asks for and is not there; first what is seen."""
        asked = self._asked()
        wanted = {"place", *(name for part in self.parts for name in OF_PART[part])}
        heeded = {name: heeded_by(name, self.state) for name in HEEDS if name in wanted}
        due = [name for name, heeds in heeded.items() if self._done.get(name) != heeds]
        first = not self._done
        if first:
            due = [name for name in due if name != "crops"]
        steps = [(name, partial(self._work, name, heeded[name], asked)) for name in due]
        self._behind.follow(steps, at_once=first)

    def _asked(self) -> Question:
        crop_names = list(self._crops.values())
        return Question(self.state, self._daily, self.logger, self.crop, crop_names, self._garden)

    def _work(self, name: str, heeds: State, asked: Question) -> dict[str, Any]:
        if name == "place":
            return {"of": heeds, "place": self._place_numbers(heeds["years"])}
        return {"of": heeds, **WORK[name](asked)}

    def _hear(self, name: str, found: dict[str, Any] | ValueError) -> None:
        if isinstance(found, ValueError):
            self.message = self.message or str(found)  # the first fault brings the others
            return
        self._done[name] = found["of"]
        if name == "place":
            self.numbers = {**self.numbers, "place": found["place"]}
        else:
            self.behind = {**self.behind, name: found}

    # --- where no script runs -------------------------------------------------------------

    def picture(self) -> Figure:
        """Still figure of the state that is shown."""
        return still(self.parts, self._asked(), self.report)

    def _repr_mimebundle_(self, **options: Any) -> tuple[dict[str, Any], dict[str, Any]]:
        data, metadata = super()._repr_mimebundle_(**options) or ({}, {})
        try:
            figure = self.picture()
        except ValueError as error:  # a state that cannot be drawn says why
            data["text/plain"] = str(error)
            return data, metadata
        with io.BytesIO() as image:
            figure.savefig(image, format="png", dpi=110)
            data["image/png"] = base64.b64encode(image.getvalue()).decode("ascii")
        data["text/plain"] = " ".join(figure.get_suptitle().split())
        metadata["image/png"] = {"alt": data["text/plain"]}
        return data, metadata


# --- panels -------------------------------------------------------------------------------


def panel(
    daily: xr.Dataset,
    crop: Crop | str = "cauliflower",
    *,
    plans: Sequence[Plan] = (),
    logger: xr.Dataset | None = None,
    garden: Garden | None = None,
    **chosen: Any,
) -> Panel:
    """Everything about one place and one crop, to move by hand.

    Parameters
    ----------
    daily : Dataset, dims (time)
        Its history; needs ``tmin``, ``tmax`` and ``tmean``. [degC]
    crop : Crop or str
        A crop, or its name in the catalogue.
    plans : sequence of Plan
        One or two ways of growing a crop, instead of `crop` raised and sown at its best dates.
    logger : Dataset, optional
        Of a covered space, from `climwin.io.loggers.read_logger`.
    garden : Garden, optional
        The place; else where the record is from.
    **chosen
        ``need_days``, the days needed of a window; ``years``, the first and the last that count;
        ``units``, ``"C"`` or ``"F"``.

    Returns
    -------
    Panel
        To be shown, read and set: its ``plan``, ``other``, ``crop``, ``limits``, ``killed_at``,
        ``need_days``, ``years``, ``units`` and ``report``.
    """
    parts = ["freeze", "window", "plans", *(["cover"] if logger is not None else [])]
    return Panel(daily, parts, crop=crop, plans=plans, logger=logger, garden=garden, **chosen)


def freeze_panel(daily: xr.Dataset, **chosen: Any) -> Panel:
    """Odds of a freeze by date, at any threshold; takes what `panel` takes."""
    return Panel(daily, ["freeze"], **chosen)


def window_panel(daily: xr.Dataset, crop: Crop | str = "cauliflower", **chosen: Any) -> Panel:
    """The window of every year, under limits that move; takes what `panel` takes."""
    return Panel(daily, ["window"], crop=crop, **chosen)


def plans_panel(daily: xr.Dataset, plans: Sequence[Plan], **chosen: Any) -> Panel:
    """Two plans on the same years; takes what `panel` takes."""
    return Panel(daily, ["plans"], plans=plans, **chosen)


def cover_panel(
    daily: xr.Dataset, logger: xr.Dataset, crop: Crop | str = "cauliflower", **chosen: Any
) -> Panel:
    """A covered space against its own logger; takes what `panel` takes."""
    return Panel(daily, ["cover"], logger=logger, crop=crop, **chosen)
