"""The live panel of a season: choose a crop, its day of sowing and a date; see what may come."""

from __future__ import annotations

import base64
import html
import io
from typing import TYPE_CHECKING, Any

import xarray as xr

from climwin.climate.season import asked_on, season_so_far
from climwin.core.dialect import in_dialect
from climwin.core.schema import Units, check_choice
from climwin.core.text import unbroken
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.model import Crop
from climwin.planning.plan import Plan
from climwin.planning.season import outlook
from climwin.plot import style
from climwin.plot.season import season_ahead
from climwin.report import sentences_season
from climwin.widgets import front_end

try:
    import anywidget
    import traitlets
except ModuleNotFoundError as error:
    msg = "Live panels need what notebooks need: pip install 'climwin[notebook]'"
    raise ModuleNotFoundError(msg) from error

if TYPE_CHECKING:
    from matplotlib.figure import Figure


class SeasonPanel(anywidget.AnyWidget):
    """A live panel of a season, made by `season_panel`.

    What was wrong with the last input stands in ``message``, and in the panel, which stays as it
    was. Its ``so_far`` and ``ahead`` are the results that it shows.
    """

    _esm = front_end.season_script()
    _css = f"{front_end.style()}\n{style.css_colours('.climwin')}"

    crops: traitlets.List[str] = traitlets.List(traitlets.Unicode()).tag(sync=True)
    state = traitlets.Dict().tag(sync=True)
    message = traitlets.Unicode("").tag(sync=True)
    lines: traitlets.List[str] = traitlets.List(traitlets.Unicode()).tag(sync=True)
    finding = traitlets.Unicode("").tag(sync=True)
    drawings: traitlets.List[str] = traitlets.List(traitlets.Unicode()).tag(sync=True)
    """The figure as SVG, for a wide panel and for a narrow one."""

    def __init__(
        self, daily: xr.Dataset, plan: Plan, *, sown: str, on: str | None, units: Units
    ) -> None:
        self.daily, self._plan = daily, plan
        names = sorted({*crop_names(), plan.crop.name})
        on = str(asked_on(daily, on)[1].on)
        super().__init__(crops=names)
        self.so_far = self.ahead = xr.Dataset()
        self.state = {"crop": plan.crop.name, "sown": sown, "on": on, "units": units}
        if self.message:  # what was given cannot be shown: there is nothing to fall back on
            season_so_far(daily, on=on)
            self._ahead()

    @property
    def plan(self) -> Plan:
        """The crop, and how it is grown: the first crop as it was given, others sown in place."""
        name = self.state["crop"]
        return self._plan if name == self._plan.crop.name else Plan(crop(name), "01-01")

    @property
    def units(self) -> Units:
        """Unit of the temperatures shown."""
        chosen: Units = self.state["units"]
        check_choice("units", chosen, ("C", "F"))
        return chosen

    def _ahead(self) -> xr.Dataset:
        sown = self.state["sown"] or None
        return outlook(self.plan, self.daily, on=self.state["on"], sown=sown)

    @traitlets.observe("state")
    def _on_state(self, _: Any) -> None:
        """Answer for a new state; one that cannot be answered says why and changes nothing else."""
        try:
            so_far, ahead = season_so_far(self.daily, on=self.state["on"]), self._ahead()
            units = self.units
        except ValueError as error:
            self.message = str(error)
            return
        self.so_far, self.ahead = so_far, ahead
        with self.hold_sync():
            self.message = ""
            self.finding = in_dialect(sentences_season.finding(ahead), units)
            lines = [
                sentences_season.outlook_heading(ahead),
                *sentences_season.outlook_lines(ahead, units),
                *sentences_season.freeze_lines(so_far, units),
                *sentences_season.season_notes(so_far),
                sentences_season.NOT_A_FORECAST,
            ]
            self.lines = in_dialect(lines, units)
            self.drawings = [self._drawing(narrow=narrow) for narrow in (False, True)]

    def _drawing(self, *, narrow: bool) -> str:
        from climwin.plot.svg import inline_svg

        figure = self.picture(narrow=narrow)
        figure.suptitle("")  # it stands above, as the panel's heading
        return inline_svg(figure)

    def picture(self, *, narrow: bool = False) -> Figure:
        """Still figure of what is shown, in the English of its units."""
        place = str(self.daily.attrs.get("station_name", ""))
        figure = season_ahead(self.so_far, self.ahead, place=place, narrow=narrow)
        return in_dialect(figure, self.units)

    def _png(self) -> str:
        with io.BytesIO() as image:
            self.picture().savefig(image, format="png", dpi=110)
            return base64.b64encode(image.getvalue()).decode("ascii")

    def _repr_mimebundle_(self, **options: Any) -> tuple[dict[str, Any], dict[str, Any]]:
        data, metadata = super()._repr_mimebundle_(**options) or ({}, {})
        data["image/png"] = self._png()
        data["text/plain"] = self.finding
        data["text/html"] = self._still(data["image/png"])
        metadata["image/png"] = {"alt": self.finding}
        return data, metadata

    def _still(self, png: str) -> str:
        """The panel for viewers that run no script: its picture and its text."""
        picture = f'<img src="data:image/png;base64,{png}" alt="{html.escape(self.finding)}">'
        return picture + self.text_html()

    def text_html(self) -> str:
        """The panel's text, for viewers that run no script."""
        heading, *lines = (unbroken(html.escape(line)) for line in self.lines)
        items = "".join(f"<li>{line}</li>" for line in lines)
        return f"<p><b>{heading}</b></p><ul>{items}</ul>"


def season_panel(
    daily: xr.Dataset,
    plan: Plan | Crop | str = "pea",
    *,
    sown: str = "",
    on: str | None = None,
    units: Units = "C",
) -> SeasonPanel:
    """How this year is going, to move by hand: the crop, its day of sowing, and the date.

    Parameters
    ----------
    daily : Dataset, dims (time)
        A record that reaches into this year, of one place. [degC]
    plan : Plan, Crop or str
        A crop and how it is grown; a crop, or its name in the catalogue, is sown in place.
    sown : str
        Day of sowing, as for `outlook`; empty where it is still to be started.
    on : str, optional
        Date of the question; the day after the record's last where left out.
    units : {"C", "F"}
        Unit of the temperatures shown.

    Returns
    -------
    SeasonPanel
        To be shown and read: its ``plan``, ``so_far``, ``ahead`` and ``message``; setting its
        ``state`` moves it.

    Raises
    ------
    ValueError, DataGapError
        As for `outlook`, where what is given cannot be shown.

    Examples
    --------
    >>> import climwin as cw
    >>> daily = cw.read_daily(cw.sample())
    >>> cw.season_panel(daily, "pea", sown="04-10", on="2024-05-15")  # doctest: +SKIP
    """
    if not isinstance(plan, Plan):
        plan = Plan(crop(plan) if isinstance(plan, str) else plan, "01-01")
    return SeasonPanel(daily, plan, sown=sown, on=on, units=units)
