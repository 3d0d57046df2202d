"""The page to share: one HTML file that needs nothing, opened on a phone or pinned to the shed."""

from __future__ import annotations

import base64
import io
import os
import tempfile
from importlib.resources import files
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
import xarray as xr

from climwin import words
from climwin.figures import answer
from climwin.report import GardenReport
from climwin.schema import Units, check_choice

if TYPE_CHECKING:
    from matplotlib.figure import Figure

_CHANCES = (0.9, 0.5, 0.1)
_PLAN_ROWS = (
    ("Succeeds in", "odds"),
    ("True odds, nine chances in ten", "interval"),
    ("What failed the other years", "failures"),
    ("Best start dates here", "best"),
    ("Set out", "set_out"),
    ("Ready by", "ready"),
)


def share(
    report: GardenReport, path: str | Path, *, units: Units = "C", made: str | None = None
) -> Path:
    """Write a report as one HTML file that opens without network or software.

    Parameters
    ----------
    report : GardenReport
        From `garden_report`.
    path : str or Path
        Where to; its folder is made, an older file is replaced in one step.
    units : {"C", "F"}
        Unit of the temperatures shown.
    made : str, optional
        A date to print at the foot.

    Returns
    -------
    Path
        Of the file written.
    """
    check_choice("units", units, ("C", "F"))
    target = Path(path)
    target.parent.mkdir(parents=True, exist_ok=True)
    html = render(report, units=units, made=made)
    handle, name = tempfile.mkstemp(dir=target.parent, prefix=".page-", suffix=".html")
    try:
        with os.fdopen(handle, "w", encoding="utf-8") as file:
            file.write(html)
        Path(name).chmod(0o644)
        Path(name).replace(target)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
    return target


def render(report: GardenReport, *, units: Units = "C", made: str | None = None) -> str:
    """Page as text, see `share`."""
    import jinja2

    data = files("climwin") / "data"
    environment = jinja2.Environment(autoescape=True, undefined=jinja2.StrictUndefined)
    template = environment.from_string((data / "page.html.j2").read_text("utf-8"))
    style = (data / "page.css").read_text("utf-8")
    return template.render(style=style, made=made, **_contents(report, units))


def _contents(report: GardenReport, units: Units) -> dict[str, Any]:
    from climwin import __version__

    crop = report.crop
    return {
        "title": f"{crop.name} at {report.garden.name}",
        "place": f"{report.garden.name}, {crop.name}",
        "finding": words.too_short(report),
        "best": words.best_way(report),
        "wide": _picture(answer(report, units=units)),
        "narrow": _picture(answer(report, units=units, narrow=True)),
        "alt": f"{words.too_short(report)}. {words.average(report)}",
        "years": words.years(report.window.sizes["season"]),
        "crop": crop.name,
        "band": words.band(crop, units),
        "after_freeze": words.after_freeze(crop, units),
        "how_sure": words.how_sure(report),
        "drift": words.drift(report),
        "average": words.average(report),
        "plan_rows": _PLAN_ROWS,
        "plans": _plans(report),
        "comparisons": _comparisons(report),
        "conditions": list(dict.fromkeys(c for p in report.plans for c in words.conditions(p))),
        "freezes": _freezes(report, units),
        "window_name": words.PARTS[report.part],
        "yearly": _yearly(report),
        "sources": words.sources(report),
        "history": report.daily.attrs.get("history", "").splitlines(),
        "stages": _stages(report, units),
        "cautions": [*words.CAUTIONS, *crop.cautions],
        "version": __version__,
    }


def _picture(figure: Figure) -> str:
    import matplotlib as mpl

    buffer = io.BytesIO()
    with mpl.rc_context({"svg.hashsalt": "climwin"}):  # the same page again, to the last byte
        figure.savefig(buffer, format="svg", metadata={"Date": None})
    return "data:image/svg+xml;base64," + base64.b64encode(buffer.getvalue()).decode("ascii")


def _plans(report: GardenReport) -> list[dict[str, str]]:
    told = zip(report.plans, report.odds, report.swept, strict=True)
    return [
        {
            "title": words.plan_title(plan),
            "odds": f"{int(odds['succeeded'])} of {words.years(int(odds['known']))}",
            "interval": words.interval(odds),
            "failures": words.failures(odds),
            "best": words.best_dates(swept),
            "set_out": words.set_out(plan),
            "ready": words.ready(plan),
        }
        for plan, odds, swept in told
    ]


def _comparisons(report: GardenReport) -> list[str]:
    others = zip(report.plans[1:], report.comparisons, strict=True)
    return [words.comparison(report.plans[0], other, found) for other, found in others]


def _freezes(report: GardenReport, units: Units) -> list[dict[str, Any]]:
    tables = []
    for threshold in report.freeze_odds["threshold"].values:
        odds = report.freeze_odds.sel(threshold=threshold)
        kills = threshold == report.crop.killed_at_c
        tables.append(
            {
                "threshold": words.temperature(float(threshold), units, 1),
                "meaning": f", which kill {report.crop.name} in the open" if kills else "",
                "rows": [_chance_row(odds.sel(odds=chance)) for chance in _CHANCES],
                "note": words.freeze_note(odds),
            }
        )
    return tables


def _chance_row(odds: xr.Dataset) -> dict[str, str]:
    days = float(odds["freeze_free_days"])
    return {
        "chance": f"{10 * float(odds['odds']):.0f} in 10",
        "spring": words.date(float(odds["last_spring"])),
        "autumn": words.date(float(odds["first_autumn"])),
        "days": "no limit" if np.isnan(days) else f"{days:.0f}",
    }


def _yearly(report: GardenReport) -> list[dict[str, Any]]:
    rows = []
    for season in report.window["season"].values:
        year = report.window.sel(season=season)
        length = float(year["length"])
        rows.append(
            {
                "year": int(season),
                "start": words.day_of(year["start"]),
                "end": words.day_of(year["end"]),
                "length": words.length(year),
                "short": length < report.need_days,
                "plans": [words.outcome(judged, int(season)) for judged in report.judged],
            }
        )
    return rows


def _stages(report: GardenReport, units: Units) -> list[dict[str, str]]:
    return [
        {
            "name": stage.name,
            "days": f"{stage.days.usual} ({stage.days.fewest} to {stage.days.most})",
            "band": words.limits(stage.tolerates, units),
            "killed": words.temperature(stage.survives.low_c, units, 1),
            "source": "; ".join(
                dict.fromkeys(part.source for part in (stage.days, stage.tolerates, stage.survives))
            ),
        }
        for stage in report.crop.stages
    ]
