"""Figures as SVG, to stand in a page's own markup; matplotlib's settings are left alone."""

from __future__ import annotations

import codecs
import hashlib
import io
import re
from typing import Any

from matplotlib.backends.backend_mixed import MixedModeRenderer
from matplotlib.backends.backend_svg import FigureCanvasSVG, RendererSVG
from matplotlib.figure import Figure

from climwin.plot import style

POINTS_PER_INCH = 72
"""Resolution at which SVG is drawn."""

_SALT = b"climwin"


def inline_svg(figure: Figure) -> str:
    """A figure as SVG for a page's own markup; the same figure gives the same bytes.

    Its inks are the page's variables (`style.css_colours`), its type is the page's, and the page's
    own paper shows through.
    """
    figure.patch.set_visible(False)
    for axes in figure.axes:
        axes.patch.set_visible(False)
    return _inline(_small(svg_text(figure)))


def svg_text(figure: Figure) -> str:
    """Draw a figure as SVG, without the date.

    Matplotlib names parts of a drawing by random numbers, unless its setting ``svg.hashsalt``
    tells otherwise. Settings are shared by all threads, so the names are made here.
    """
    buffer = io.StringIO()
    canvas = _Canvas(figure)
    # `print_figure` draws a figure twice, the first time for its layout alone.
    figure.dpi = POINTS_PER_INCH
    layout = figure.get_layout_engine()
    if layout is not None:
        layout.execute(figure)
        figure.set_layout_engine("none")
    canvas.print_svg(buffer, metadata={"Date": None})
    return buffer.getvalue()


class _Canvas(FigureCanvasSVG):
    def print_svg(
        self, filename: Any, *, bbox_inches_restore: Any = None, metadata: Any = None, **_: Any
    ) -> None:
        """Draw through a renderer of our own; `FigureCanvasSVG.print_svg` names matplotlib's."""
        # matplotlib measures a figure on a file of bytes first, then draws it on ours
        file = codecs.getwriter("utf-8")(filename) if isinstance(filename, io.BytesIO) else filename
        figure: Any = self.figure
        dpi, figure.dpi = figure.dpi, POINTS_PER_INCH
        width, height = figure.get_size_inches()
        make_svg: Any = _Renderer
        make_mixed: Any = MixedModeRenderer
        size = POINTS_PER_INCH * width, POINTS_PER_INCH * height
        svg = make_svg(*size, file, image_dpi=dpi, metadata=metadata)
        renderer = make_mixed(
            figure, width, height, dpi, svg, bbox_inches_restore=bbox_inches_restore
        )
        figure.draw(renderer)
        renderer.finalize()


class _Renderer(RendererSVG):
    def draw_text(
        self,
        gc: Any,
        x: float,
        y: float,
        s: str,
        prop: Any,
        angle: float,
        ismath: Any = False,
        mtext: Any = None,
    ) -> None:
        """Write text as text, whatever ``svg.fonttype`` says: it can be found and read out."""
        as_text: Any = self._draw_text_as_text  # not typed, and matplotlib's own
        as_text(gc, x, y, s, prop, angle, ismath, mtext)

    def _make_id(self, type: str, content: object) -> str:  # noqa: A002 - matplotlib's own name
        """Name of a part of the drawing, by its content."""
        digest = hashlib.sha256(_SALT + str(content).encode())
        return f"{type}{digest.hexdigest()[:10]}"


# --- for a page's own markup --------------------------------------------------------------


def _small(svg: str) -> str:
    """A drawing without needless blanks, with coordinates to a tenth of a point; lines in steps."""

    def tenths(numbers: re.Match[str]) -> str:
        return re.sub(r"-?\d+\.\d+", lambda number: _tenths(number[0]), numbers[0])

    short = re.sub(r'(?<= d=")[^"]+', lambda path: _in_steps(path[0]), svg)
    short = re.sub(r"(?<=translate)\([^)]+", tenths, short)
    short = re.sub(r"<!--.*?-->|<metadata>.*?</metadata>", "", short, flags=re.DOTALL)
    short = short.replace("xlink:href", "href")
    return re.sub(r"\s*\n\s*", "\n", short)


def _in_steps(path: str) -> str:
    """A path of absolute lines and curves with each point told from the one before it.

    Points are rounded first, so that no step moves those after it.
    """
    steps = []
    start = at = (0, 0)
    for letter, numbers in re.findall(r"([A-Za-z])([^A-Za-z]*)", path):
        whole = [round(10 * float(number)) for number in numbers.split()]
        points = list(zip(whole[::2], whole[1::2], strict=True))
        told = (f"{x - at[0]} {y - at[1]}" for x, y in points)
        steps.append(letter.lower() + re.sub(r"-?\d+", _of_tenths, " ".join(told)))
        at = points[-1] if points else start  # "z" goes back to where "M" began
        start = at if letter == "M" else start
    return "".join(steps).replace(" -", "-")


def _of_tenths(whole: re.Match[str]) -> str:
    return _tenths(int(whole[0]) / 10)


def _tenths(number: str | float) -> str:
    return f"{float(number):.1f}".removesuffix(".0")


_NAME = r"(?:C[0-9a-f]+_[0-9a-f]+_)?[a-z]?[0-9a-f]{10}"
"""Names of parts that others use, with those of the marks of a scatter; all others are dropped."""


def _inline(svg: str) -> str:
    """A drawing for the page's own markup: its colours are the page's, its type is the page's.

    Names of parts are made different from those of all other drawings on a page, by its content.
    """
    body = svg[svg.index("<svg") :]
    body = re.sub(r"<defs>\s*<style[^>]*>.*?</style>\s*</defs>", "", body, flags=re.DOTALL)
    body = re.sub(rf'(<g|<path|<use) id="(?!{_NAME}")[^"]*"', r"\1", body)
    body = re.sub(r"font-family: [^;\"]+; ", "", body)
    body = re.sub(r' transform="rotate\(-0 [^)]*\)"', "", body)
    body = re.sub(
        r'( (?:x|y|width|height)=")(-?\d+\.\d+)', lambda at: f"{at[1]}{_tenths(at[2])}", body
    )
    body = re.sub(r"#[0-9a-f]{6}", lambda colour: style.css_name(colour[0]), body)
    body = re.sub(r"<g([^>]*)>\s*((?:<use [^>]*/>\s*){2,})</g>", _styled_once, body)
    names = dict.fromkeys(re.findall(rf'id="({_NAME})"', body))
    # Matplotlib names parts by unrounded places, which differ in the last digits from run to run.
    for number, name in enumerate(names):
        body = body.replace(name, f"part{number}_")
    mark = hashlib.sha256(body.encode()).hexdigest()[:8]
    body = re.sub(r"part(\d+)_", rf"s{mark}-\g<1>", body)
    head, close, rest = body.partition(">")
    return re.sub(r' (?:width|height)="[^"]*"', "", head) + close + rest


def _styled_once(group: re.Match[str]) -> str:
    """Marks of one style, which matplotlib styles one by one: their group has the style."""
    styles = set(re.findall(r' style="[^"]*"', group[2]))
    if len(styles) != 1:
        return group[0]
    style_of_all = styles.pop()
    return f"<g{group[1]}{style_of_all}>{group[2].replace(style_of_all, '')}</g>"
