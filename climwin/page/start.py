"""The form to begin with: a place or a file, a crop, one's own logger; it ends at panel and page.

Nothing of it needs a line of code. `notebooks/start_here.ipynb` shows it.
"""

from __future__ import annotations

import datetime as dt
import html
import tempfile
from collections.abc import Iterable, Iterator, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any

from climwin.core.dialect import in_dialect
from climwin.core.errors import Call, ClimwinError, Mention
from climwin.core.schema import Garden, Units
from climwin.crops.catalogue import crop, crop_names, read_crop
from climwin.crops.model import Crop
from climwin.io.daily import read_daily
from climwin.io.loggers import read_logger, space_name
from climwin.io.samples import sample
from climwin.page.html import Fragment, fill_macro
from climwin.page.sections import Page
from climwin.page.space import space_and_mends
from climwin.page.write import write_page
from climwin.planning.plan import Plan
from climwin.planning.ways import sensible_plans
from climwin.report.garden import GardenReport, garden_report, with_latitude
from climwin.report.sentences_caveats import caveats
from climwin.report.sentences_decision import how_sure
from climwin.shelter.covers import fit_cover
from climwin.stations.garden import garden_of
from climwin.stations.gazetteer import locate
from climwin.stations.history import fetch_history
from climwin.widgets.panels import panel

if TYPE_CHECKING:
    import xarray as xr

_AS_SAID = "as the file says"
_RECORD_BUTTON, _LOGGER_BUTTON = "Daily weather (CSV)", "Logger under cover (CSV)"
_WAIT = "One moment: the crop is being grown in every year of the record."
_NO_ANSWER = "There is no answer yet: the form says what is missing."
_WAIT_FOR_PAGE = "The page to share is written last, which may take half a minute."


class StartForm:
    """A form for the place, the crop and the logger, and the answer for what stands in it.

    Parameters
    ----------
    record, place, elevation, crop_name, log, units
        What stands in it at first, see `start_form`.
    """

    def __init__(
        self, *, record: str, place: str, elevation: str, crop_name: str, log: str, units: Units
    ) -> None:
        import ipywidgets as widgets  # type: ignore[import-untyped]

        fitting = {"width": "32em", "max_width": "98%"}  # a phone is narrower
        wide = {"style": {"description_width": "9em"}, "layout": fitting}
        self._given = {"record": record, "log": log}
        narrow = {"layout": {"width": "20em", "min_width": "14em"}}
        self.record = widgets.FileUpload(description=_RECORD_BUTTON, **narrow)
        self.record_units = _units_of_file(widgets, wide)
        self.place = widgets.Text(
            place,
            description="Place, or a town",
            placeholder="a town, if you have no file; else may be empty",
            **wide,
        )
        self.elevation = widgets.Text(
            elevation,
            description="Height above sea",
            placeholder="260 m or 850 ft; may be empty",
            **wide,
        )
        self.crop_name = widgets.Combobox(
            value=crop_name, options=crop_names(), description="Crop", **wide
        )
        self.log = widgets.FileUpload(description=_LOGGER_BUTTON, **narrow)
        self.log_units = _units_of_file(widgets, wide)
        self.units = widgets.Dropdown(
            options={"°C and metres": "C", "°F, feet and inches": "F"},
            value=units,
            description="Shown in",
            **wide,
        )
        self.button = widgets.Button(description="Show the answer", button_style="primary")
        self.button.on_click(lambda _: self._show())
        self.message = widgets.HTML()
        wrapped = {"flex_flow": "row wrap"}
        self.box = widgets.VBox(
            [
                widgets.HBox([self.record, self.record_units], layout=wrapped),
                self.place,
                self.elevation,
                self.crop_name,
                widgets.HBox([self.log, self.log_units], layout=wrapped),
                self.units,
                self.button,
                self.message,
            ]
        )
        for upload in (self.record, self.log):
            upload.observe(self._name_files, "value")
        self.record_units.observe(self._show_units_of_record, "value")
        self._folder = Path(tempfile.mkdtemp(prefix="climwin-"))
        self._handles: list[Any] = []
        self._readings: xr.Dataset | None = None

    def _repr_mimebundle_(self, **options: Any) -> Any:
        return self.box._repr_mimebundle_(**options)

    # --- what stands in the form ----------------------------------------------------------

    def crop(self) -> Crop:
        """The crop that is chosen: a name of the catalogue, or the name of a crop file."""
        chosen = self.crop_name.value.strip()
        return read_crop(chosen) if chosen.endswith(".toml") else crop(chosen)

    def daily(self) -> xr.Dataset:
        """The record: the file dropped in or named, else a station's history, else the sample.

        Raises
        ------
        ValueError
            If the file cannot be used, or no town is called so.
        """
        path = self._file("record")
        if path is not None:
            return read_daily(path, units=_unit(self.record_units.value))
        if self.place.value.strip():
            return fetch_history(locate(self.place.value))
        return read_daily(sample())

    def garden(self, daily: xr.Dataset) -> Garden:
        """The garden of a record, under the name in the form, else the record's own."""
        is_town = self._file("record") is None and bool(self.place.value.strip())
        if is_town:
            return garden_of(None, self.place.value, elevation=self.elevation.value)
        return garden_of(daily, self.place.value, elevation=self.elevation.value)

    def report(self) -> GardenReport:
        """The whole answer for what stands in the form."""
        grown, daily = self.crop(), self.daily()
        garden = self.garden(daily)
        path, self._readings = self._file("log"), None
        if path is None:
            return garden_report(garden, daily, crop=grown)
        self._readings = readings = read_logger(path, units=_unit(self.log_units.value))
        space = fit_cover(readings, daily, name=space_name(path), longitude=garden.longitude)
        plans = sensible_plans(grown, with_latitude(daily, garden), space=space)
        return garden_report(garden, daily, plans=plans)

    def _file(self, name: str) -> Path | None:
        """A file that was dropped into the form, else the one that was named; None for neither."""
        dropped = getattr(self, name).value
        if dropped:
            path = self._folder / Path(str(dropped[0]["name"])).name
            path.write_bytes(bytes(dropped[0]["content"]))
            return path
        return Path(self._given[name]) if self._given[name] else None

    # --- the answer -----------------------------------------------------------------------

    def answer(self) -> None:
        """Show the answer, the panel, and the page, for what stands in the form.

        What is shown is replaced when the button is pressed.

        Raises
        ------
        ValueError
            If something in the form cannot be used; the text says what to do.
        """
        from IPython import display as ipython

        display: Any = ipython.display
        blank = Fragment("")
        # Three places, so that the button can fill them even where the first answer was an error.
        at_first = (_wait(_WAIT), blank, _wait(_WAIT_FOR_PAGE))
        self._handles = [display(each, display_id=True) for each in at_first]
        try:
            self._fill(self._answer())
        except (ClimwinError, OSError):
            self._fill((blank, blank, blank))
            raise

    def _show(self) -> None:
        """Replace the answer; show an error in the form."""
        self.message.value, self.button.disabled = _WAIT, True
        blank = Fragment("")
        # The answer for what stood in the form before must not pass for that of what stands there.
        self._fill((_wait(_WAIT), blank, blank))
        try:
            self._fill(self._answer())
        except (ClimwinError, OSError) as error:
            self._fill((_wait(_NO_ANSWER), blank, blank))
            self.message.value = html.escape(_worded(error, self.units.value))
            return
        finally:
            self.button.disabled = False
        self.message.value = "The answer is below, under <b>The answer</b>."

    def _fill(self, shown: Iterable[Any]) -> None:
        """Put each part of an answer in its place as soon as it is there."""
        for place, each in enumerate(shown):
            if place < len(self._handles):
                self._handles[place].update(each)

    def _answer(self) -> Iterator[Any]:
        """The answer in words, the panel to move, and where the page is, one after the other."""
        report, units = self.report(), self.units.value
        today = dt.date.today()  # whether a record is old depends on it
        page = Page(report, units, today)
        words = {
            **page.content("decision"),
            "space": space_and_mends(report, units),
            "how_sure": how_sure(report),
            "caveats": caveats(report, today, units),
        }
        yield fill_macro("start.html.j2", "answer", words, units)
        yield panel(
            report.daily,
            report.crop,
            plans=_in_the_panel(report.plans),
            logger=self._readings,
            garden=report.garden,
            units=units,
        )
        # From here on only the page is to come.
        self._fill_page(_wait(_WAIT_FOR_PAGE))
        path = write_page(report, units=units, made=today.isoformat())
        yield fill_macro("start.html.j2", "page", {"name": path.name})

    def _fill_page(self, shown: Fragment) -> None:
        """Put something in the place of the page's link."""
        if self._handles:
            self._handles[-1].update(shown)

    def _show_units_of_record(self, _: Any) -> None:
        """Show the units of the file, once chosen: they are also those of the answer."""
        unit = _unit(self.record_units.value)
        if unit is not None:
            self.units.value = unit

    def _name_files(self, _: Any) -> None:
        """The name of each file on its button, once it is dropped in."""
        for field, name in ((self.record, _RECORD_BUTTON), (self.log, _LOGGER_BUTTON)):
            field.description = str(field.value[0]["name"]) if field.value else name


def _wait(text: str) -> Fragment:
    return fill_macro("start.html.j2", "wait", {"text": text})


def start_form(
    *,
    record: str = "",
    place: str = "",
    elevation: str = "",
    crop_name: str = "cauliflower",
    log: str = "",
    units: Units = "C",
) -> StartForm:
    """A form to begin with: no line of code is needed after it.

    Parameters
    ----------
    record : str
        A file of daily weather; where it is left out and none is dropped into the form, the
        history of the best station around the place, or the invented sample where there is none.
    place : str
        What the garden is called, or a town. Default: the record's own name.
    elevation : str
        Height of the garden, such as ``"260 m"`` or ``"850 ft"``.
    crop_name : str
        A crop of the catalogue, or a crop file.
    log : str
        The file of a logger in a greenhouse or a frame of one's own.
    units : {"C", "F"}
        Of what is shown.

    Returns
    -------
    StartForm
        To be shown; its ``answer`` answers for what stands in it.

    Examples
    --------
    >>> import climwin as cw
    >>> form = cw.start_form(crop_name="pea", units="F")
    >>> form.crop().name, form.report().garden.name
    ('pea', 'Pellbrook Mill')
    """
    return StartForm(
        record=record, place=place, elevation=elevation, crop_name=crop_name, log=log, units=units
    )


def _units_of_file(widgets: Any, wide: dict[str, Any]) -> Any:
    """A field for the units of a file, beside the file."""
    return widgets.Dropdown(
        options={_AS_SAID: "", "°C": "C", "°F": "F"}, value="", description="Its units", **wide
    )


def _unit(chosen: str) -> Units | None:
    """The unit that a menu has; None where it leaves that to the file."""
    units: dict[str, Units] = {"C": "C", "F": "F"}
    return units.get(chosen)


def _in_the_panel(plans: Sequence[Plan]) -> list[Plan]:
    """The ways that the panel begins with: the answer's first under cover and its first without."""
    raised = [plan for plan in plans if plan.weeks_under_cover]
    return [*raised[:1], *[plan for plan in plans if not plan.weeks_under_cover][:1]]


_FIELDS = {
    "units": "the file's units in the field “Its units”",
    "latitude": "a line such as “# latitude: 46.1” in the file",
    "longitude": "a line such as “# longitude: 7.2” in the file",
    "place": "the field “Place, or a town”",
    "elevation": "Height above sea",
    "crop": "Crop",
}
"""Fields of the form by parameter of the library."""


_INSTEAD = {
    "crop_names": "The menu of “Crop”",
    "read_crop": "the name of a crop file, typed there,",
    "find_stations": "a larger town near you",
    "sample": "an empty form",
}
"""Actions in the form that stand for functions of the library in an error's advice."""


def _worded(error: Exception, units: Units) -> str:
    """An error in the words of the form, and in the English of these units."""
    if isinstance(error, ClimwinError):
        return in_dialect(error.worded(_in_the_form), units)
    if isinstance(error, OSError) and error.filename:
        return f"{error.filename}: {error.strerror}."
    return str(error)


def _in_the_form(mention: Mention) -> str:
    """A mention of the library in the words of the form."""
    known = _INSTEAD if isinstance(mention, Call) else _FIELDS
    return known.get(mention.name, mention.name.replace("_", " "))
