"""SVG with fewer letters and the same look: lines without points that nobody sees, and steps in place of places.

A chart that is sent in hundreds of states has to be light. Left out: curves of Bézier pieces, which stay as they are.
"""

from __future__ import annotations

import math
import re
from collections.abc import Iterator

Point = tuple[int, int]
# [tenths of a point] as fragments say their coordinates
PATH = re.compile(r' d="([^"]*)"')
LINES_ALONE = re.compile(r"(?:[MLz]|-?\d+(?:\.\d+)?|\s)+\Z")
PIECE = re.compile(r"([ML])\s*(-?[\d.]+)\s+(-?[\d.]+)\s*|z\s*")
SEEN = 1.0
# [tenths of a point] how far a line may pass by a point that is left out: a sixth of a pixel where a chart of 400
# points is 700 pixels wide
NEEDLESS = re.compile(
    r"\s*<metadata>.*?</metadata>|\s*font-family: [^;\"]*;?|\s*transform=\"rotate\(-?0(?:\.0)? [^)]*\)\"", re.DOTALL
)
# who made it and when, which stands on the page; the fonts of the page's charts; turns by nothing
BLANKS = re.compile(r"\s*\n\s*")


def lighter(svg: str) -> str:
    """The same picture in fewer letters; its words take the font of what it stands in.

    Examples
    --------
    >>> lighter('<path d="M 0.0 0.0 \\nL 1.0 1.0 \\nL 2.0 2.0 \\nL 2.0 5.5 \\n"/>')
    '<path d="M0 0l2 2 0 3.5"/>'
    """
    said = NEEDLESS.sub("", svg)
    return BLANKS.sub(" ", PATH.sub(lambda found: f' d="{_path(found[1])}"', said))


def _path(told: str) -> str:
    """A path of straight lines in steps; any other as it stands."""
    if not LINES_ALONE.match(told):
        return told
    return "".join(_line(points) + "z" * closed for points, closed in _lines(told))


def _lines(told: str) -> Iterator[tuple[list[Point], bool]]:
    """The lines of a path, each with whether it is closed."""
    points: list[Point] = []
    for word, x, y in PIECE.findall(told):
        if word == "M" and points:
            yield points, False
            points = []
        if word:
            points.append((round(10 * float(x)), round(10 * float(y))))
        elif points:
            yield points, True
            points = []
    if points:
        yield points, False


def _line(points: list[Point]) -> str:
    """One line: where it begins, and steps between the points that are seen."""
    kept = seen(points)
    steps = [(x - before[0], y - before[1]) for before, (x, y) in zip(kept, kept[1:], strict=False)]
    begins = "M" + _joined(kept[:1])
    return f"{begins}l{_joined(steps)}" if steps else begins


def _joined(pairs: list[Point]) -> str:
    """Numbers with a blank between them where a minus sign does not part them."""
    said = " ".join(_tenths(number) for pair in pairs for number in pair)
    return said.replace(" -", "-")


def _tenths(number: int) -> str:
    """A number of tenths as a number of points."""
    whole, rest = divmod(abs(number), 10)
    digits = f"{whole or ''}.{rest}" if rest else str(whole)
    return f"-{digits}" if number < 0 else digits


def seen(points: list[Point], off: float = SEEN) -> list[Point]:
    """The points of a line without those that it would pass by within `off` anyhow.

    From a point that is kept, directions that pass by all points since stay open in a wedge; the last point within it
    is kept next. Steps back along the same way are kept as well.

    Examples
    --------
    >>> seen([(0, 0), (100, 0), (200, 1), (300, 1), (300, 50)])
    [(0, 0), (300, 1), (300, 50)]
    """
    kept = points[:1]
    low, high, last = -math.inf, math.inf, 0.0
    middle: float | None = None
    before = points[0]
    for point in points[1:]:
        far, turn = _from(kept[-1], point)
        if middle is not None and not (far >= last and low <= _turned(turn - middle) <= high):
            kept.append(before)
            low, high, last, middle = -math.inf, math.inf, 0.0, None
            far, turn = _from(before, point)
        if far > off:
            middle = turn if middle is None else middle
            open_by, way = math.asin(off / far), _turned(turn - middle)
            low, high = max(low, way - open_by), min(high, way + open_by)
        before, last = point, max(far, last)
    return [*kept, before] if before != kept[-1] or len(points) == 1 else kept


def _from(here: Point, there: Point) -> tuple[float, float]:
    """How far and in which direction a point lies."""
    x, y = there[0] - here[0], there[1] - here[1]
    return math.hypot(x, y), math.atan2(y, x)


def _turned(angle: float) -> float:
    """An angle between half a turn to the left and to the right."""
    return (angle + math.pi) % (2 * math.pi) - math.pi
