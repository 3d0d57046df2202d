"""Figures as SVG, the same again to the last byte; matplotlib's settings are left alone."""

from __future__ import annotations

import codecs
import hashlib
import io
from typing import Any

from matplotlib.backends.backend_mixed import MixedModeRenderer
from matplotlib.backends.backend_svg import FigureCanvasSVG, RendererSVG
from matplotlib.figure import Figure

POINTS_PER_INCH = 72
"""Resolution at which SVG is drawn."""

_SALT = b"climwin"


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
