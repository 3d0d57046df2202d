"""What tests ask of a figure: its words, where they lie, and how large they are on a phone."""

from matplotlib.backends.backend_agg import FigureCanvasAgg
from matplotlib.text import Text

PHONE_PX = 390 - 36
"""Width of a figure on a phone of 390 px, the page's margins taken off."""


def title(figure) -> str:
    return figure.get_suptitle().replace("\n", " ")


def foot(figure) -> str:
    return figure.get_supxlabel().replace("\n", " ")


def written(ax) -> list[str]:
    """Texts within the axes, in order."""
    return [text.get_text().replace("\n", " ") for text in ax.texts]


def keys(ax) -> list[str]:
    return [text.get_text() for text in ax.get_legend().get_texts()]


def line(ax, label):
    """The one line of that label."""
    (found,) = [each for each in ax.lines if each.get_label() == label]
    return found


def bars(ax, label):
    """Bars of that label, from the top down."""
    (found,) = [each for each in ax.containers if each.get_label() == label]
    return sorted(found, key=lambda bar: bar.get_y())


def row(bar) -> float:
    return bar.get_y() + bar.get_height() / 2


def assert_fits_a_phone(figure) -> None:
    """No text below 11 px at 390 px, and none that leaves the figure."""
    canvas = FigureCanvasAgg(figure)
    canvas.draw()
    width, height = canvas.get_width_height()
    scale = PHONE_PX / figure.get_figwidth() / 72
    ticks = {
        label for ax in figure.axes for label in (*ax.get_xticklabels(), *ax.get_yticklabels())
    }
    for text in figure.findobj(Text):
        if text.get_text().strip() and text.get_visible():
            assert text.get_fontsize() * scale >= 11, text.get_text()
            if text in ticks:  # of which some lie beyond the axes and are not drawn
                continue
            box = text.get_window_extent()
            inside = box.x0 > -3 and box.x1 < width + 3 and box.y0 > -3 and box.y1 < height + 3
            assert inside, (text.get_text(), box, width, height)
