"""Live panels for the notebook: move a limit, a need or a date, and see every year change.

`panel` shows all; `freeze_panel`, `window_panel`, `plans_panel` and `cover_panel` show a part of
it each. What was chosen by hand can be read and set in Python, as a plan, limits or a report.
"""

from __future__ import annotations

import base64
import io
import json
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

import xarray as xr

from climwin.core.dialect import in_dialect
from climwin.core.errors import Call, InputError, Parameter
from climwin.core.schema import Garden, Units, check_choice
from climwin.core.seasons import day_name
from climwin.crops import catalogue
from climwin.crops.catalogue import crop_names
from climwin.crops.model import Crop, Limits
from climwin.planning.plan import Plan
from climwin.planning.schedule import at_best_date
from climwin.report.garden import GardenReport, with_latitude
from climwin.shelter.covers import Cover
from climwin.widgets import front_end, payload
from climwin.widgets.background import DebouncedTasks, SharedRuns
from climwin.widgets.state import (
    State,
    checked_need,
    covers_offered,
    first_state,
    garden_of,
    limits_of,
    plan_of,
    span_of,
    units_of,
    with_killing_night,
    with_limits,
    with_plan,
    within,
)
from climwin.widgets.static_figure import static_figure
from climwin.widgets.tasks import DEPENDS_ON, TASKS, TASKS_OF_PART, Inputs, fit_space, inputs_of

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

    What was wrong with the last input stands in ``message``, and in the panel, which stays as it
    was; setting an attribute to something wrong does the same.
    """

    _esm = front_end.widget_script()
    _css = front_end.style()

    # Shared with the front end: numbers of the place and the crops, the state that both sides
    # change, and the results of the tasks, each with the state that it was computed for.
    numbers = traitlets.Dict().tag(sync=True)
    results = traitlets.Dict().tag(sync=True)
    state = traitlets.Dict().tag(sync=True)
    parts: traitlets.List[str] = traitlets.List(traitlets.Unicode()).tag(sync=True)
    busy = traitlets.Bool(default_value=False).tag(sync=True)
    message = traitlets.Unicode("").tag(sync=True)

    def __init__(
        self,
        daily: xr.Dataset,
        parts: Sequence[str],
        *,
        crop: Crop | str = "cauliflower",
        plans: Sequence[Plan] = (),
        logger: xr.Dataset | None = None,
        garden: Garden | None = None,
        need_days: int | None = None,
        years: tuple[int, int] | None = None,
        units: Units = "C",
    ) -> None:
        self.logger, self._garden = logger, garden
        self._daily = daily if garden is None else with_latitude(daily, garden)
        self._crops = {name: catalogue.crop(name) for name in crop_names()}
        self._spaces: dict[str, Cover] = {}  # the gardener's own, that plants are raised in
        self._done: dict[str, State] = {}  # inputs of each task's last result
        self._shared = SharedRuns()
        self._tasks = DebouncedTasks(self._take_result, lambda busy: self.set_trait("busy", busy))
        super().__init__(parts=list(parts))
        with self._reporting_faults():
            self._begin(crop, plans, need_days, years, units)

    # --- what was chosen by hand, as Python ---------------------------------------------------

    @property
    def crop(self) -> Crop:
        """The crop, with its killing temperature as moved in the panel."""
        return with_killing_night(self._crops[self._now["crop"]], self._now["killed"])

    @crop.setter
    def crop(self, chosen: Crop | str) -> None:
        with self._reporting_faults():
            state = first_state(self._offer(chosen), (0, 0), self._now["units"])
            for key in ("date", "threshold", "years", "hot"):  # they do not depend on the crop
                state[key] = self._now[key]
            self.state = state

    @property
    def limits(self) -> Limits:
        """Daily means of the window: those that the crop can bear, unless they were moved. [degC]

        Moving them moves the window alone; what becomes of a plan follows from the crop.
        """
        return limits_of(self.crop, self._now)

    @limits.setter
    def limits(self, chosen: Limits | tuple[float, float]) -> None:
        with self._reporting_faults():
            if not isinstance(chosen, Limits):
                chosen = Limits(low_c=chosen[0], high_c=chosen[1], source="")
            self.state = with_limits(self._now, self.crop, chosen, self.killed_at)

    @property
    def killed_at(self) -> float:
        """Minimum at or below which the crop dies while it is young. [degC]."""
        return self.crop.killed_at_c

    @killed_at.setter
    def killed_at(self, chosen: float) -> None:
        with self._reporting_faults():
            with_killing_night(self.crop, chosen)  # raises where it is no such temperature
            self.state = with_limits(self._now, self.crop, self.limits, chosen)

    @property
    def need_days(self) -> int:
        """Days needed of a window: those that the first plan stands outdoors, unless moved."""
        return self.report.need_days

    @need_days.setter
    def need_days(self, chosen: int) -> None:
        with self._reporting_faults():
            self.state = {**self._now, "need": checked_need(chosen)}

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
        plan = plan_of(self.crop, self._now, which, self._spaces)
        if self._now["starts"][which]:
            return plan
        if self._done.get("plans") == inputs_of("plans", self._now):
            best = self.results["plans"]["plans"][which]["best_date"]
            return replace(plan, start=day_name(best))
        return at_best_date(plan, self._inputs().ahead)

    def _set_plan(self, which: int, chosen: Plan) -> None:
        """Set one of the two plans; its crop and its space are offered as well."""
        if chosen.crop.is_perennial:
            name = chosen.crop.name
            self.message = f"{name} stands for years: there is no start to choose. Set the crop."
            return
        if chosen.crop not in (self.crop, self._crops[self._now["crop"]]):
            self.crop = chosen.crop
        with self._reporting_faults():
            self._offer_space(chosen.space)
            self.state = with_plan(self._now, which, chosen)

    @property
    def years(self) -> tuple[int, int]:
        """First and last year of the history that count."""
        first, last = self._now["years"]
        return first, last

    @years.setter
    def years(self, chosen: tuple[int, int]) -> None:
        with self._reporting_faults():
            within(self._daily, chosen)
            self.state = {**self._now, "years": list(chosen)}

    @property
    def units(self) -> Units:
        """Unit of the temperatures shown."""
        return units_of(self._now)

    @units.setter
    def units(self, chosen: Units) -> None:
        with self._reporting_faults():
            check_choice("units", chosen, ("C", "F"))
            self.state = {**self._now, "units": chosen}

    @property
    def daily(self) -> xr.Dataset:
        """History of the years that count."""
        return within(self._daily, self._now["years"])

    @property
    def report(self) -> GardenReport:
        """The library's report on the crop and its plans, ready to draw and to share."""
        state = self._now
        band = None if state["limits"] is None else self.limits
        plans = (self.plan,) if self.plan == self.other else (self.plan, self.other)
        return GardenReport(self._place, self.daily, plans, state["need"], band)

    # --- what moves it --------------------------------------------------------------------

    @property
    def _now(self) -> State:
        """The state; where there is none, an error says why."""
        if not self.state:
            raise InputError(self.message)
        return self.state

    @property
    def _place(self) -> Garden:
        """The garden; where none was given, where the record is from."""
        return self._garden or garden_of(self._daily)

    def _begin(
        self,
        crop: Crop | str,
        plans: Sequence[Plan],
        need_days: int | None,
        years: tuple[int, int] | None,
        units: Units,
    ) -> None:
        """First state: the crop's own, then what was given."""
        self.numbers = {"constants": payload.constants(), "crops": self._crop_numbers()}
        if self.logger is not None:
            cover = fit_space(self.logger, self._daily, self._garden)
            days = payload.cover_days(self.logger, self._daily, cover)
            self.numbers = {**self.numbers, "cover": days}
            if all(plan.space is None for plan in plans):
                self._offer_space(replace(cover, name="covered space"))
        grown = self._offer(plans[0].crop if plans else crop)
        years = years or span_of(self._daily)
        within(self._daily, years)
        state = first_state(grown, years, units)
        for which, plan in enumerate(plans[:2]):
            self._offer_space(plan.space)
            state = with_plan(state, which, plan)
        if need_days is not None:
            state["need"] = checked_need(need_days)
        self.state = state
        self._follow()

    def _crop_numbers(self) -> list[dict[str, Any]]:
        return [payload.crop_numbers(each) for each in self._crops.values()]

    def _offer(self, chosen: Crop | str) -> Crop:
        """A crop by name, or one of the gardener's own, put among those to choose from."""
        grown = catalogue.crop(chosen) if isinstance(chosen, str) else chosen
        if self._crops.get(grown.name) != grown:
            self._crops[grown.name] = grown
            self.numbers = {**self.numbers, "crops": self._crop_numbers()}
        return grown

    def _offer_space(self, space: Cover | None) -> None:
        """A covered space of the gardener's own, put first among the covers to choose from.

        Raises
        ------
        ValueError
            If another space of that name is offered already.
        """
        if space is None or self._spaces.get(space.name) == space:
            return
        if space.name in self._spaces:
            msg = (
                f"The panel has another space called {space.name!r} already. Give one of the two "
                "another name, with ",
                Call("fit_cover", ("logger", "daily", Parameter("name"))),
                ".",
            )
            raise InputError(*msg)
        self._spaces = {**self._spaces, space.name: space}
        constants = {**self.numbers["constants"], "covers": covers_offered(self._spaces)}
        self.numbers = {**self.numbers, "constants": constants}

    @contextmanager
    def _reporting_faults(self) -> Iterator[None]:
        """Show in the panel what was wrong, instead of raising it."""
        try:
            yield
        except ValueError as error:
            self.message = str(error)

    @traitlets.observe("state")
    def _on_state(self, _: Any) -> None:
        self.message = ""
        with self._reporting_faults():
            self._follow()

    def _follow(self) -> None:
        """Run the tasks whose results the state needs and that are out of date."""
        inputs = self._inputs()
        wanted = {"record"}.union(*(TASKS_OF_PART[part] for part in self.parts))
        due = {}
        for name in (name for name in DEPENDS_ON if name in wanted):  # what is seen first, first
            depends_on = inputs_of(name, self.state)
            if self._done.get(name) != depends_on:
                due[name] = partial(self._run, name, depends_on, inputs)
        is_first = not self._done
        if is_first:
            due.pop("crops", None)  # it takes longest, and the first picture does not need it
        self._tasks.submit([*due.items()], at_once=is_first)

    def _inputs(self) -> Inputs:
        crops = list(self._crops.values())
        return Inputs(
            self.state, self._daily, self.logger, self.crop, crops, self._garden, self._spaces
        )

    def _run(self, name: str, depends_on: State, inputs: Inputs) -> dict[str, Any]:
        """Result of one task, with the values of the state that it was computed for."""
        if name == "record":
            numbers = payload.record_numbers(inputs.years, self._place.name)
            return {"inputs": depends_on, "record": numbers}
        key = (name, json.dumps(depends_on))
        return {"inputs": depends_on, **self._shared.result(key, partial(TASKS[name], inputs))}

    def _take_result(self, name: str, result: dict[str, Any] | ValueError) -> None:
        """Keep a task's result for the front end, or show its fault."""
        if isinstance(result, ValueError):
            self.message = self.message or str(result)  # the first fault causes the others
            return
        self._done[name] = result["inputs"]
        if name == "record":
            self.numbers = {**self.numbers, "record": result["record"]}
        else:
            self.results = {**self.results, name: result}

    # --- where no script runs -------------------------------------------------------------

    def picture(self) -> Figure:
        """Still figure of the state that is shown, in the English of its units."""
        return in_dialect(static_figure(self.parts, self._inputs(), self.report), self.units)

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
    need_days: int | None = None,
    years: tuple[int, int] | None = None,
    units: Units = "C",
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
        Of a covered space, from `climwin.io.loggers.read_logger`. Plants can be raised in it, as in
        the space of a plan.
    garden : Garden, optional
        The place; else where the record is from.
    need_days : int, optional
        Days needed of a window. Default: those that the first plan stands outdoors.
    years : tuple of int, optional
        First and last year that count. Default: all of the record.
    units : {"C", "F"}
        Unit of the temperatures shown.

    Returns
    -------
    Panel
        To be shown, read and set: its ``plan``, ``other``, ``crop``, ``limits``, ``killed_at``,
        ``need_days``, ``years``, ``units`` and ``report``. What was wrong with what was given
        stands in its ``message``.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.panel(daily, "pea")  # doctest: +SKIP
    """
    parts = ["freeze", "window", "plans", *(["cover"] if logger is not None else [])]
    return Panel(
        daily,
        parts,
        crop=crop,
        plans=plans,
        logger=logger,
        garden=garden,
        need_days=need_days,
        years=years,
        units=units,
    )


def freeze_panel(
    daily: xr.Dataset,
    *,
    garden: Garden | None = None,
    years: tuple[int, int] | None = None,
    units: Units = "C",
) -> Panel:
    """Odds of a freeze by date, at any threshold; parameters as for `panel`.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.freeze_panel(daily)  # doctest: +SKIP
    """
    return Panel(daily, ["freeze"], garden=garden, years=years, units=units)


def window_panel(
    daily: xr.Dataset,
    crop: Crop | str = "cauliflower",
    *,
    plans: Sequence[Plan] = (),
    garden: Garden | None = None,
    need_days: int | None = None,
    years: tuple[int, int] | None = None,
    units: Units = "C",
) -> Panel:
    """The window of every year, under limits that move; parameters as for `panel`.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.window_panel(daily, cw.crop("pea"))  # doctest: +SKIP
    """
    return Panel(
        daily,
        ["window"],
        crop=crop,
        plans=plans,
        garden=garden,
        need_days=need_days,
        years=years,
        units=units,
    )


def plans_panel(
    daily: xr.Dataset,
    plans: Sequence[Plan],
    *,
    garden: Garden | None = None,
    years: tuple[int, int] | None = None,
    units: Units = "C",
) -> Panel:
    """One or two plans on the same years; parameters as for `panel`.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.plans_panel(daily, [cw.Plan(cw.crop("pea"), "04-10")])  # doctest: +SKIP
    """
    return Panel(daily, ["plans"], plans=plans, garden=garden, years=years, units=units)


def cover_panel(
    daily: xr.Dataset,
    logger: xr.Dataset,
    crop: Crop | str = "cauliflower",
    *,
    garden: Garden | None = None,
    years: tuple[int, int] | None = None,
    units: Units = "C",
) -> Panel:
    """A covered space against its own logger; parameters as for `panel`.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> logger = cw.read_logger(cw.sample("frame_logger.csv"))
    >>> cw.cover_panel(daily, logger, cw.crop("cauliflower"))  # doctest: +SKIP
    """
    return Panel(
        daily, ["cover"], crop=crop, logger=logger, garden=garden, years=years, units=units
    )
