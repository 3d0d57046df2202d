"""A drawing in fewer bytes that looks the same: marks as SVG markers, lines as steps.

Matplotlib writes a mark for each point and a place for each day. A figure of 540 marks takes 65 kB
like that, and 15 as here.
"""

from __future__ import annotations

import math
import re
from collections import Counter
from collections.abc import Iterator

FEWEST_MARKS = 3
"""Equal marks in a row from which a marker is shorter than the marks (common practice)."""

_MARKS = re.compile(r'(?:<use href="#([^"]+)" x="([^"]+)" y="([^"]+)"( [^>]*)?/>\n?)')
_PIECE = re.compile(r"[A-Za-z]|-?[\d.]+")


def compact(svg: str) -> str:
    """Shorten a drawing.

    Parameters
    ----------
    svg : str
        From `climwin.page.svg.svg_text`, its places in tenths of a point.
    """
    svg = re.sub(r'(?<= d=")[^"]+', lambda path: _in_steps(path[0]), svg)
    svg = _with_markers(svg)
    svg = _without_bare_groups(svg)
    svg = svg.replace(" font-family: var(--type);", "")  # the page's style says it of all drawings
    return re.sub(r'(?<= style=")[^"]+', lambda style: re.sub(r"([:;]) ", r"\1", style[0]), svg)


# --- lines ----------------------------------------------------------------------------------

Point = tuple[int, int]
"""Place in tenths of a point."""
UNSEEN = 1.5
"""How far a line may move, in tenths of a point: a fraction of the width it is drawn with."""


def _in_steps(path: str) -> str:
    """A path of straight lines as steps from each point to the next; others stay as they are.

    Points that no eye would miss are left out.
    """
    pieces = _PIECE.findall(path)
    if set(filter(str.isalpha, pieces)) - {"M", "L", "z"}:
        return path
    return "".join(_steps(*line) for line in _lines(pieces))


def _lines(pieces: list[str]) -> Iterator[tuple[list[Point], bool]]:
    """The lines of a path: their points, and whether they are closed."""
    points: list[Point] = []
    numbers: list[int] = []
    for piece in pieces:
        if piece in ("M", "z") and points:
            yield points, piece == "z"
            points = []
        if piece.isalpha():
            continue
        numbers.append(round(10 * float(piece)))
        if len(numbers) == 2:
            points.append((numbers[0], numbers[1]))
            numbers = []
    if points:
        yield points, False


def _steps(points: list[Point], closed: bool) -> str:
    return _through(_without_unseen(points)) + "z" * closed


def _without_unseen(points: list[Point]) -> list[Point]:
    """A line without the points that no eye would miss (Douglas and Peucker 1973)."""
    kept = {0, len(points) - 1}
    spans = [(0, len(points) - 1)]
    while spans:
        first, last = spans.pop()
        away = [_distance(points[i], points[first], points[last]) for i in range(first + 1, last)]
        if away and max(away) > UNSEEN:
            farthest = first + 1 + away.index(max(away))
            kept.add(farthest)
            spans += [(first, farthest), (farthest, last)]
    return [points[i] for i in sorted(kept)]


def _distance(point: Point, begin: Point, end: Point) -> float:
    """How far a point lies from the stretch between two others."""
    along = (end[0] - begin[0], end[1] - begin[1])
    offset = (point[0] - begin[0], point[1] - begin[1])
    length = along[0] ** 2 + along[1] ** 2
    share = (offset[0] * along[0] + offset[1] * along[1]) / length if length else 0.0
    share = min(1.0, max(0.0, share))
    return math.hypot(offset[0] - share * along[0], offset[1] - share * along[1])


def _through(points: list[Point]) -> str:
    """A line through points, as steps from one to the next."""
    (x, y), *others = points
    text = f"M{_tenths(x)} {_tenths(y)}"
    for across, down in others:
        text += _step(across - x, down - y)
        x, y = across, down
    return text


def _step(across: int, down: int) -> str:
    if not down:
        return f"h{_tenths(across)}"
    if not across:
        return f"v{_tenths(down)}"
    return f"l{_tenths(across)}{' ' if down > 0 else ''}{_tenths(down)}"


def _tenths(number: int) -> str:
    return f"{number / 10:.1f}".removesuffix(".0")


# --- marks ----------------------------------------------------------------------------------


def _with_markers(svg: str) -> str:
    """Equal marks in a row as the corners of one line that is not drawn itself."""
    out, at, named = [], 0, 0
    found = list(_MARKS.finditer(svg))
    first = 0
    while first < len(found):
        end = first + 1
        while end < len(found) and _belongs(found[end - 1], found[end]):
            end += 1
        run = found[first:end]
        if len(run) >= FEWEST_MARKS:
            out += [svg[at : run[0].start()], _marker(run, named)]
            at, named = run[-1].end(), named + 1
        first = end
    return "".join([*out, svg[at:]])


def _belongs(one: re.Match[str], next_one: re.Match[str]) -> bool:
    """Whether a mark follows another at once and looks like it."""
    return one.end() == next_one.start() and (one[1], one[4]) == (next_one[1], next_one[4])


def _marker(run: list[re.Match[str]], number: int) -> str:
    name, look = run[0][1], run[0][4] or ""
    places = [(round(10 * float(mark[2])), round(10 * float(mark[3]))) for mark in run]
    line = _through(places)
    url = f"url(#{name}m{number})"
    return (
        f'<marker id="{name}m{number}" markerUnits="userSpaceOnUse" overflow="visible">'
        f'<use href="#{name}"{look}/></marker>'
        f'<path d="{line}" fill="none" marker-start="{url}" marker-mid="{url}" '
        f'marker-end="{url}"/>\n'
    )


# --- groups ---------------------------------------------------------------------------------


def _without_bare_groups(svg: str) -> str:
    """A drawing without groups that say nothing of what is in them."""
    svg = re.sub(r"<g/>\n?", "", svg)
    parts = re.split(r"(<g>\n?|<g [^>]*>|</g>\n?)", svg)
    told: list[bool] = []  # of each open group, whether it says something
    kept = []
    for part in parts:
        if part.startswith("<g"):
            told.append(part.startswith("<g "))
            kept.append(part if told[-1] else "")
        elif part.startswith("</g>"):
            kept.append(part if told.pop() else "")
        else:
            kept.append(part)
    return "".join(kept)


# --- styles ---------------------------------------------------------------------------------

_DRAWING = re.compile(r"<svg.*?</svg>", re.DOTALL)
_STYLED = re.compile(r'<(?![^>]* class=)([^>]*?) style="([^"]+)"')


def with_classes(page: str) -> str:
    """A page in whose drawings a style that comes again is a class of the page's own style."""
    drawings = "".join(_DRAWING.findall(page))
    counts = Counter(style for _, style in _STYLED.findall(drawings))
    names = {style: f"d{n}" for n, (style, count) in enumerate(counts.most_common()) if count > 1}
    if not names or "</style>" not in page:
        return page

    def named(tag: re.Match[str]) -> str:
        return f'<{tag[1]} class="{names[tag[2]]}"' if tag[2] in names else tag[0]

    rules = "".join(f"svg .{name}{{{style}}}" for style, name in names.items())
    page = _DRAWING.sub(lambda drawing: _STYLED.sub(named, drawing[0]), page)
    return page.replace("</style>", f"{rules}\n</style>", 1)
