"""SVG with fewer letters and the same look: lines without points that nobody sees, and steps in place of places.

A chart that is sent in hundreds of states has to be light. Left out: arcs of ellipses, which the charts do not have.
"""

from __future__ import annotations

import math
import re
from itertools import pairwise

Point = tuple[int, int]
# [tenths of a point] as fragments say their coordinates
PATH = re.compile(r' d="([^"]*)"')
PIECES_ALONE = re.compile(r"(?:[MLCQz]|-?\d+(?:\.\d+)?|\s)+\Z")
PIECE = re.compile(r"([MLCQ])([^MLCQz]*)|z")
SEEN = 1.0
# [tenths of a point] how far a line may pass by a point that is left out: a sixth of a pixel where a chart of 400
# points is 700 pixels wide
PATTERN = re.compile(r'(<pattern id="([^"]*)".*?</pattern>)', re.DOTALL)
PLAIN = re.compile(r'fill="(#[0-9a-f]{6})"')
FILLED = re.compile(r"url\(#(h[0-9a-f]+)\)")
# a hatch, the colour behind it, and where it is used
NEEDLESS = re.compile(
    r"\s*<metadata>.*?</metadata>|\s*font-family: [^;\"]*;?|\s*transform=\"rotate\(-?0(?:\.0)? [^)]*\)\"", re.DOTALL
)
# who made it and when, which stands on the page; the fonts of the page's charts; turns by nothing
GROUP = re.compile(r'<g id="[^"]*"')
# groups are called by nobody, and a page holds both parts, each with a first patch
BLANKS = re.compile(r"\s*\n\s*")


def lighter(svg: str) -> str:
    """The same picture in fewer letters; its words take the font of what it stands in.

    Examples
    --------
    >>> lighter('<path d="M 0.0 0.0 \\nL 1.0 1.0 \\nL 2.0 2.0 \\nL 2.0 5.5 \\n"/>')
    '<path d="M0 0l2 2 0 3.5"/>'
    """
    said = GROUP.sub("<g", NEEDLESS.sub("", svg))
    return BLANKS.sub(" ", PATH.sub(lambda found: f' d="{_path(found[1])}"', said))


def hatches_apart(svg: str) -> tuple[str, dict[str, str]]:
    """The same picture without its hatches, and these by their names; a plain colour stands in where one is missing.

    A hatch takes more letters than the rest of a chart, and all states of a chart have the same ones.

    Examples
    --------
    >>> tile = '<pattern id="h1"><rect fill="#ff0000"/><path d="M0 0l9 9"/></pattern>'
    >>> hatches_apart(f'<defs>{tile}</defs><path style="fill: url(#h1)"/>')[0]
    '<defs></defs><path style="fill: url(#h1) #ff0000"/>'
    """
    found = {name: tile for tile, name in PATTERN.findall(svg)}
    colours = {name: colour[1] for name, tile in found.items() if (colour := PLAIN.search(tile))}
    bare = PATTERN.sub("", svg)
    return FILLED.sub(lambda fill: f"{fill[0]} {colours.get(fill[1], 'none')}", bare), found


def _path(told: str) -> str:
    """A path in steps from piece to piece; any with other pieces than lines and curves as it stands."""
    if not PIECES_ALONE.match(told):
        return told
    said: list[str] = []
    line: list[Point] = []
    for word, numbers in PIECE.findall(told):
        points = _points(numbers)
        if word == "L":
            line += points
            continue
        said.append(_steps(line))
        if word == "M":
            said.append(f"M{_joined(points)}")
        elif word:
            said.append(f"{word.lower()}{_joined([(x - line[-1][0], y - line[-1][1]) for x, y in points])}")
        else:
            said.append("z")
        line = points[-1:]
    return "".join([*said, _steps(line)])


def _points(numbers: str) -> list[Point]:
    """The places in a piece of a path."""
    tenths = [round(10 * float(number)) for number in numbers.split()]
    return list(zip(tenths[::2], tenths[1::2], strict=True))


def _steps(line: list[Point]) -> str:
    """A line in steps between the points that are seen; the first is where the pen is."""
    if len(line) < 2:
        return ""
    return "l" + _joined([(x - before[0], y - before[1]) for before, (x, y) in pairwise(seen(line))])


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
