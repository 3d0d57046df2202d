"""A page as the notebook that it is: its cells run here, on the reports that exist.

Each code cell of ``templates/page.ipynb`` shows one section, as ``page.section("dates")``. No
kernel is started: the one call that a cell may make is made here, and its result becomes the
output of the cell. A kernel that runs the cells makes the same outputs.
"""

from __future__ import annotations

import json
import pprint
import re
from collections.abc import Iterator
from dataclasses import MISSING, Field, fields, is_dataclass
from typing import Any, Protocol

from climwin.core.errors import InputError
from climwin.core.schema import Garden
from climwin.core.stats import LEAST_YEARS
from climwin.crops.catalogue import crop, crop_names
from climwin.crops.model import Crop
from climwin.page.html import TEMPLATES, Fragment
from climwin.page.sections import Page
from climwin.planning.plan import Plan

Notebook = dict[str, Any]

SETUP = "setup"
"""Tag of the cell that makes ``page``; it is not run if the page exists already."""

_SECTION = re.compile(r'page\.section\("(\w+)"\)')
_WIDTH = 96


class Sectioned(Protocol):
    """A page that is shown section by section."""

    def section(self, name: str) -> Fragment:
        """One section as HTML."""


def read_template(name: str) -> Notebook:
    """A notebook of the templates, the source of each cell one text."""
    notebook: Notebook = json.loads((TEMPLATES / f"{name}.ipynb").read_text("utf-8"))
    for cell in notebook["cells"]:
        cell["source"] = "".join(cell["source"])
    return notebook


def run_cells(notebook: Notebook, page: Sectioned) -> Notebook:
    """Run the cells that show a section; their outputs come into the notebook.

    Raises
    ------
    ValueError
        If a code cell does anything else.
    """
    shown = (cell for cell in notebook["cells"] if cell["cell_type"] == "code")
    for count, cell in enumerate((cell for cell in shown if not _is_setup(cell)), start=2):
        call = _SECTION.fullmatch(cell["source"].strip())
        if not call:
            msg = f'A cell of the page shows a section, page.section("name"); got {cell["source"]}.'
            raise InputError(msg)
        html = page.section(call[1]).html
        cell["execution_count"] = count  # the first is the cell that makes the page
        cell["outputs"] = [
            {
                "output_type": "execute_result",
                "execution_count": count,
                "data": {"text/html": html, "text/plain": "Fragment()"},
                "metadata": {},
            }
        ]
    return notebook


def _is_setup(cell: Notebook) -> bool:
    return SETUP in cell["metadata"].get("tags", [])


# --- a notebook to run on -----------------------------------------------------------------


def to_run_on(notebook: Notebook, page: Page, record: str) -> Notebook:
    """The page's notebook with a first cell that makes the same report again.

    Parameters
    ----------
    notebook : dict
        From `run_cells`, with its outputs.
    page : Page
        What it shows.
    record : str
        Name of the file beside the notebook that holds the record, see `record_file.save_record`.
    """
    setup = _setup(page, record)
    cells = [cell | {"source": setup} if _is_setup(cell) else cell for cell in notebook["cells"]]
    return {**notebook, "cells": cells}


def notebook_text(notebook: Notebook) -> str:
    """A notebook as the text of its file."""
    return json.dumps(notebook, ensure_ascii=False, indent=1) + "\n"


def _setup(page: Page, record: str) -> str:
    """Python that reads the record and makes ``page`` of it; every text in it is quoted."""
    report = page.report
    garden = report.garden
    known = int(report.shorter["known"])
    options = ""
    if report.given_need_days is not None:
        options += f", need_days={report.given_need_days}"
    if known < LEAST_YEARS:
        options += ", few_years=True"
    crops = list(dict.fromkeys(plan.crop for plan in report.plans))
    names = ["crop"] if len(crops) == 1 else [f"crop_{n}" for n in range(1, len(crops) + 1)]
    plans = [_plan_source(plan, names[crops.index(plan.crop)]) for plan in report.plans]
    made = f'dt.date.fromisoformat("{page.made.isoformat()}")' if page.made else "None"
    lines = [
        "import datetime as dt",
        "",
        "import climwin as cw",
        *_imports([*crops, *(plan.space for plan in report.plans if plan.space is not None)]),
        "from climwin.page.record_file import load_record",
        "from climwin.page.sections import Page",
        "",
        f"daily = load_record({record!r})",
        f"garden = cw.Garden({garden.name!r}, {garden.latitude!r}, {garden.longitude!r}, "
        f"{garden.elevation!r}{_address(garden)})",
        *(f"{name} = {_crop_source(each)}" for name, each in zip(names, crops, strict=True)),
        "plans = [",
        *(f"    {plan}," for plan in plans),
        "]",
        f"report = cw.garden_report(garden, daily, plans=plans{options})",
        f"page = Page(report, units={page.units!r}, made={made})",
    ]
    return "\n".join(lines)


def _address(garden: Garden) -> str:
    """What else is known of where the garden is, as arguments."""
    facts = {"address": garden.address, "doubt": garden.doubt}
    return "".join(f", {name}={text!r}" for name, text in facts.items() if text)


def _in_catalogue(grown: Crop) -> bool:
    return grown.name in crop_names() and grown == crop(grown.name)


def _crop_source(grown: Crop) -> str:
    """A crop of the catalogue by its name, any other one in full."""
    if _in_catalogue(grown):
        return f"cw.crop({grown.name!r})"
    return pprint.pformat(grown, width=_WIDTH)


def _plan_source(plan: Plan, crop_variable: str) -> str:
    """A plan as Python; what it leaves at its default is left out."""
    given = [
        f"{each.name}={getattr(plan, each.name)!r}"
        for each in fields(plan)
        if each.name != "crop" and getattr(plan, each.name) != _default(each)
    ]
    return f"cw.Plan({', '.join([crop_variable, *given])})"


def _default(field: Field[Any]) -> Any:
    if field.default_factory is not MISSING:
        return field.default_factory()
    return field.default


def _imports(values: list[Any]) -> list[str]:
    """Import lines for the classes by which some values are spelled out."""
    spelled = [each for each in values if not (isinstance(each, Crop) and _in_catalogue(each))]
    classes = sorted({(each.__module__, each.__name__) for each in _classes(spelled)})
    return [f"from {module} import {name}" for module, name in classes]


def _classes(value: Any) -> Iterator[type]:
    """Classes of a dataclass and of all that it holds."""
    if isinstance(value, list | tuple):
        for item in value:
            yield from _classes(item)
    elif is_dataclass(value) and not isinstance(value, type):
        yield type(value)
        for each in fields(value):
            yield from _classes(getattr(value, each.name))
