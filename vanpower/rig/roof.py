"""The roof from above: where panels lie, what stands beside them, and what stands beside the van.

On the roof, metres count from its left and back edges, seen by somebody who looks to the nose; heights count from
its skin. What stands on the ground has its middle so many metres east and north of the roof's middle, whichever way
the van is turned. Panels with a place on the roof lie flat on it, all at one height.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations
from math import cos, radians, sin
from typing import Any

from vanpower.rig.fields import Description, joined, number, part, require, text, twice_used, whole, word
from vanpower.rig.panels import Panel

EDGES = ("front", "back", "left", "right")
ON_ROOF, ON_GROUND = ("box", "cylinder", "bar", "plate", "cover"), ("wall", "mast")
KIND_SLIPS = {
    "vent": 'A vent with its lid shut is a "box"; its open lid is a "plate".',
    "aerial": 'On the roof it is a "cylinder", beside the van a "mast".',
    "antenna": 'On the roof it is a "cylinder", beside the van a "mast".',
    "flue": 'A round one is a "cylinder".',
    "chimney": 'A round one is a "cylinder".',
    "tree": 'A line of trees is a "wall" with lets_through, one trunk a "mast".',
    "house": 'It is a "wall".',
    "awning": 'It is a "plate".',
    "lid": 'It is a "plate".',
    "strap": 'It is a "bar".',
    "rack": 'Each of its bars is a "bar".',
    "snow": 'What lies on a panel is a "cover".',
}
EDGE_SLIPS = {"nose": 'It is "front".', "cab": 'It is "front".', "rear": 'It is "back".', "tail": 'It is "back".'}
TURN_SLIP = "Are wide_m (across the van) and long_m (along it) swapped?"
TOUCH_M = 1e-6
# [m] things closer than this touch and do not overlap
GLASS_M, ABOVE_GROUND_M = 0.05, 2.7
# [m] glass above the roof's skin, skin above the ground; common practice, no source

Point = tuple[float, float]


LEAST_M = 0.001
# [m] thinnest thing that throws shade; no source
NONE_LIES = (
    "panels that lie flat on a roof, and all of these are tilted or portable. Shade on such panels is set by hand: "
    "lesson 03, or vanpower compare with --shade P1=0.3"
)
# what a page or a command for shadows of a roof needs, and where to go instead
WIDE = "size across the van; of things on the ground, east-west"
LONG = "size along the van; of things on the ground, north-south"
CENTIMETRES = "Are these centimetres?"
LARGEST_ON_ROOF_M, LARGEST_ON_GROUND_M, HIGHEST_ON_ROOF_M, HIGHEST_ON_GROUND_M = 10.0, 500.0, 5.0, 200.0
# [m] of what throws shade; no source


class Placement(Description):
    """Where one panel lies on the roof, and which edge its junction box faces.

    Examples
    --------
    >>> Placement(panel=0, left_m=0.1, back_m=0.2, wide_m=1.5, long_m=0.7).junction
    'left'
    """

    panel: int = whole(0, 200, "which panel, counted from 1", more="So a file counts; code counts from 0.")
    left_m: float = number(-2.0, 20.0, "distance from the roof's left edge to its own", above=CENTIMETRES)
    back_m: float = number(-2.0, 20.0, "distance from the roof's back edge to its own", above=CENTIMETRES)
    wide_m: float = number(0.05, 4.0, WIDE, above=CENTIMETRES)
    long_m: float = number(0.05, 4.0, LONG, above=CENTIMETRES, more="A panel longer than wide lies along the van.")
    junction: str = word(
        EDGES,
        'the short edge its junction end faces: "front", "back", "left" or "right"',
        default="",
        slips=EDGE_SLIPS,
        more="Empty takes the back edge, or the left one where it lies across. Groups of cells count from the left, "
        "seen from there.",
    )
    cells_across: int | None = whole(
        1, 200, "columns of cells beside each other", default=None,
        more="None takes the number that makes the cells nearest to square.",
    )  # fmt: skip

    def together(self) -> None:
        """Fill in the usual edge for the junction box, and check that it is a short edge.

        Raises
        ------
        ValueError
            For a long edge.
        """
        if not self.junction:
            object.__setattr__(self, "junction", "back" if self.along else "left")
        short = ("front", "back") if self.along else ("left", "right")
        sense = f"the junction end is a short edge, {short[0]} or {short[1]}"
        require(self.junction in short or self.wide_m == self.long_m, self, "junction", sense, TURN_SLIP)

    @property
    def along(self) -> bool:
        """Whether its long side lies along the van."""
        return self.long_m >= self.wide_m

    @property
    def corners(self) -> tuple[Point, ...]:
        """Corners of the outline seen from above, to the right and forward of the roof's back left corner. [m]"""
        return _rectangle(self.left_m, self.back_m, self.wide_m, self.long_m)


def _largest(fixture: Fixture, least: float = LEAST_M) -> tuple[float, float]:
    """How wide and long a fixture can be: what stands on the ground may be a house."""
    return least, LARGEST_ON_GROUND_M if fixture.on_ground else LARGEST_ON_ROOF_M


def _size_slip(fixture: Fixture) -> str:
    """What a size may mean that no roof holds."""
    return "" if fixture.on_ground else CENTIMETRES


class Fixture(Description):
    """An object on the roof or on the ground that throws shade: box, cylinder, bar, plate, cover, wall or mast.

    Examples
    --------
    >>> Fixture(name="aerial", kind="cylinder", wide_m=0.03, left_m=0.9, back_m=3.0, high_m=0.6).round
    True
    """

    name: str = text("what charts call it")
    kind: str = word(
        (*ON_ROOF, *ON_GROUND),
        '"box", "cylinder", "bar", "plate" or "cover" on the roof, "wall" or "mast" on the ground', slips=KIND_SLIPS,
        more="A bar has air below, a plate is thin and at an angle, a cover lies on a panel.",
    )  # fmt: skip
    wide_m: float = number(
        LEAST_M, LARGEST_ON_GROUND_M, WIDE, within=_largest, above=_size_slip,
        more="Before it is turned. A round one has it for its diameter.",
    )  # fmt: skip
    long_m: float = number(
        0.0, LARGEST_ON_GROUND_M, LONG, default=0.0,
        within=lambda fixture: _largest(fixture, 0.0 if fixture.round else LEAST_M), above=_size_slip,
        more="Before it is turned.",
    )  # fmt: skip
    high_m: float = number(
        0.0, HIGHEST_ON_GROUND_M, "height of its top above the roof's skin or the ground", default=0.0,
        within=lambda fixture: (0.0, HIGHEST_ON_GROUND_M if fixture.on_ground else HIGHEST_ON_ROOF_M), above=_size_slip,
        more="Not of plates and covers.",
    )  # fmt: skip
    left_m: float = number(
        -20.0,
        20.0,
        "distance from the roof's left edge to its own",
        default=0.0,
        above=CENTIMETRES,
        more="On the roof.",
    )
    back_m: float = number(
        -20.0,
        20.0,
        "distance from the roof's back edge to its own",
        default=0.0,
        above=CENTIMETRES,
        more="On the roof.",
    )
    east_m: float = number(
        -500.0, 500.0, "distance east from the roof's middle to its own, on the ground", default=0.0,
        above=CENTIMETRES, more="West is negative.",
    )  # fmt: skip
    north_m: float = number(
        -500.0, 500.0, "distance north from the roof's middle to its own, on the ground", default=0.0,
        above=CENTIMETRES, more="South is negative.",
    )  # fmt: skip
    under_m: float = number(
        0.0, 5.0, "height of its underside, or of the hinge of a plate", default=0.0, above=CENTIMETRES
    )
    turn_deg: float = number(-360.0, 360.0, "how far it is turned about its middle, clockwise from above", default=0.0)
    tilt_deg: float = number(0.0, 90.0, "how far a plate is lifted, 0 is flat", default=0.0)
    lifts: str = word(
        EDGES, 'which edge of a plate is lifted: "front", "back", "left" or "right"', default="front", slips=EDGE_SLIPS
    )
    lets_through: float = number(
        0.0, 1.0, "share of the light that passes it, 0 to 1", default=0.0, said="(a share of the light)",
        above="Is this percent?", more="As through a tree without leaves.",
    )  # fmt: skip

    def together(self) -> None:
        """Check the sizes that only some kinds of fixture have or need.

        Raises
        ------
        ValueError
            For a size that this kind does not have, or one that it lacks.
        """
        if self.kind not in ("plate", "cover"):
            low = f"the top lies above the underside, {self.under_m:g} m"
            require(self.high_m >= self.under_m, self, "high_m", low, "Both count from the roof's skin.")
        if self.kind == "bar":
            require(self.under_m > 0, self, "under_m", "a bar has air below it", 'Without, it is a "box".')
        if self.kind != "plate":
            require(self.tilt_deg == 0, self, "tilt_deg", "only a plate is lifted", 'Is kind = "plate" meant?')
        if self.on_ground:
            none = self.left_m == self.back_m == 0
            require(none, self, "left_m", "on the ground it is placed by east_m and north_m")

    @property
    def on_ground(self) -> bool:
        """Whether it stands on the ground beside the van."""
        return self.kind in ON_GROUND

    @property
    def round(self) -> bool:
        """Whether it is circular, seen from above."""
        return self.kind in ("cylinder", "mast")

    @property
    def middle(self) -> Point:
        """Centre seen from above, (x, y): on the roof from its back left corner, on the ground east and north. [m]"""
        if self.on_ground:
            return self.east_m, self.north_m
        return self.left_m + self.wide_m / 2, self.back_m + (self.wide_m if self.round else self.long_m) / 2

    @property
    def corners(self) -> tuple[Point, ...]:
        """Corners of the outline seen from above, after turning; for a circle, those of the square around it. [m]"""
        long = self.wide_m if self.round else self.long_m
        x, y = self.middle
        square = _rectangle(x - self.wide_m / 2, y - long / 2, self.wide_m, long)
        return square if self.round else tuple(turned(corner, self.middle, self.turn_deg) for corner in square)


class Roof(Description):
    """The roof: its size, where panels lie on it, the fixtures that shade them, and its slope.

    Examples
    --------
    >>> hatch = Fixture(name="hatch", kind="box", wide_m=0.5, long_m=0.5, high_m=0.1)
    >>> Roof(wide_m=1.8, long_m=4.0, fixtures=(hatch,)).glass_m
    0.05
    """

    wide_m: float = number(0.5, 4.0, WIDE, above=CENTIMETRES)
    long_m: float = number(0.5, 20.0, LONG, above=CENTIMETRES)
    spots: tuple[Placement, ...] = part(
        "where each panel lies", default=(), more="A panel without one gets no shade from here."
    )
    fixtures: tuple[Fixture, ...] = part("what throws shade", default=())
    glass_m: float = number(
        0.0, 1.0, "height of the panels' glass above the roof's skin", default=GLASS_M, above=CENTIMETRES
    )
    above_ground_m: float = number(
        0.0, 6.0, "height of the roof's skin above the ground", default=ABOVE_GROUND_M, above=CENTIMETRES
    )
    slope_deg: float = number(0.0, 20.0, "pitch of the roof, 0 is level", default=0.0)
    downhill_deg: float = number(0.0, 360.0, "which way is downhill: 90 is east, 180 south", default=180.0)

    def together(self) -> None:
        """Check that each panel has at most one place, and each fixture a name of its own.

        Raises
        ------
        ValueError
            For a panel or a name that is there twice.
        """
        twice = twice_used(tuple(spot.panel for spot in self.spots))
        if twice:
            raise ValueError(f"Roof.spots place {twice} twice; each panel lies in one place.")
        names = [fixture.name for fixture in self.fixtures]
        again = next((name for name in names if names.count(name) > 1), None)
        if again is not None:
            raise ValueError(f"Roof.fixtures has two called {again!r}; give each a name of its own.")

    def spot(self, panel: int) -> Placement | None:
        """Where a panel lies, or None where the roof does not say; the panel is counted from 0."""
        return next((spot for spot in self.spots if spot.panel == panel), None)

    def with_fixture(self, fixture: Fixture | str, **changes: Any) -> Roof:
        """The roof with one more fixture, or with fields of the fixture of that name changed.

        Examples
        --------
        >>> from vanpower import example
        >>> plan = example("goat-cheese-van").roof
        >>> plan.with_fixture("trees in the east", east_m=40.0).fixtures[-1].east_m
        40.0
        """
        return self.changed(fixtures=joined("fixture", "on this roof", self.fixtures, fixture, changes))

    def with_placement(self, panel: int, *, across: bool | None = None, **changes: Any) -> Roof:
        """The roof with one panel in another place.

        Parameters
        ----------
        panel : int
            Which panel, counted from 0.
        across : bool, optional
            Whether its long side lies across the van; turned by a quarter about its back left corner if it does not.
        **changes
            Fields of `Placement` and their new values.

        Examples
        --------
        >>> from vanpower import example
        >>> plan = example("goat-cheese-van").roof
        >>> plan.with_placement(2, back_m=2.2).spots[2].back_m, plan.with_placement(0, across=True).spots[0].wide_m
        (2.2, 1.48)
        """
        there = self.spot(panel)
        if there is None:
            placed = [f"P{spot.panel + 1}" for spot in self.spots]
            has = f"{', '.join(placed)} {'has' if len(placed) == 1 else 'have'}" if placed else "none has"
            raise ValueError(f"P{panel + 1} has no place on this roof; {has}.")
        if across is not None and across == there.along:
            changes = {"wide_m": there.long_m, "long_m": there.wide_m, "junction": ""} | changes
        return self.changed(spots=tuple(s.changed(**changes) if s is there else s for s in self.spots))


@lru_cache(maxsize=64)
def check_roof(plan: Roof, panels: tuple[Panel, ...]) -> None:
    """Refuse panels that overlap, lie beyond the roof or have a fixture inside, with the names of both.

    Raises
    ------
    ValueError
        For the first such pair.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> spot = Placement(panel=3, left_m=0.1, back_m=0.1, wide_m=0.67, long_m=1.48)
    >>> check_roof(Roof(wide_m=1.8, long_m=4.2, spots=(spot,)), rig.panels)
    Traceback (most recent call last):
    ValueError: Roof.spots place P4, and the rig has 3.
    """
    for spot in plan.spots:
        if spot.panel >= len(panels):
            raise ValueError(f"Roof.spots place P{spot.panel + 1}, and the rig has {len(panels)}.")
        _check_on_roof(plan, spot, _said(spot, panels), panels[spot.panel])
    for one, other in combinations(plan.spots, 2):
        depth = overlap(one.corners, other.corners)
        if depth > TOUCH_M:
            names = f"{_said(one, panels)} and {_said(other, panels)}"
            raise ValueError(f"Roof.spots: {names} overlap by {_metres(depth)}; move one of them.")
    for fixture in plan.fixtures:
        if not fixture.on_ground and fixture.kind != "cover" and fixture.under_m <= plan.glass_m:
            for spot in plan.spots:
                depth = overlap(fixture.corners, spot.corners)
                if depth > TOUCH_M:
                    raise ValueError(
                        f"Roof.fixtures: {fixture.name} stands {_metres(depth)} inside {_said(spot, panels)}; "
                        f"move it, or give under_m if it passes above the glass at {plan.glass_m:g} m."
                    )


def lack_of_lying(panels: Sequence[Panel]) -> str:
    """What the shadows of a roof need where no panel lies on one, and where to go instead; empty where one may.

    Examples
    --------
    >>> from vanpower import example
    >>> panels = example("bookmobile").panels
    >>> lack_of_lying(panels), lack_of_lying([one.changed(tilt_deg=30) for one in panels])[:36]
    ('', 'panels that lie flat on a roof, and ')
    """
    return NONE_LIES if all(panel.tilt_deg for panel in panels) else ""


def overlap(one: Sequence[Point], other: Sequence[Point]) -> float:
    """How deep two convex outlines reach into each other; zero or less where they do not. [m]

    Examples
    --------
    >>> overlap(((0, 0), (2, 0), (2, 2), (0, 2)), ((1.5, 0), (3, 0), (3, 2), (1.5, 2)))
    0.5
    """
    depths = []
    for outline in (one, other):
        for (x0, y0), (x1, y1) in zip(outline, (*outline[1:], outline[0]), strict=True):
            length = ((x1 - x0) ** 2 + (y1 - y0) ** 2) ** 0.5
            across = ((y1 - y0) / length, (x0 - x1) / length)
            a, b = ([x * across[0] + y * across[1] for x, y in corners] for corners in (one, other))
            depths.append(min(max(a) - min(b), max(b) - min(a)))
    return min(depths)


def turned(point: Point, middle: Point, turn_deg: float) -> Point:
    """A point turned about a middle, clockwise seen from above.

    Examples
    --------
    >>> x, y = turned((0.0, 1.0), (0.0, 0.0), 90.0)  # from ahead to the right
    >>> round(x, 3), round(y, 3)
    (1.0, 0.0)
    """
    c, s = cos(radians(turn_deg)), sin(radians(turn_deg))
    x, y = point[0] - middle[0], point[1] - middle[1]
    return middle[0] + c * x + s * y, middle[1] - s * x + c * y


def _rectangle(x: float, y: float, wide: float, long: float) -> tuple[Point, ...]:
    """Corners anticlockwise from the lowest left."""
    return (x, y), (x + wide, y), (x + wide, y + long), (x, y + long)


def _said(spot: Placement, panels: Sequence[Panel]) -> str:
    """A panel as an error names it."""
    return f"P{spot.panel + 1} ({panels[spot.panel].name})"


def _metres(depth: float) -> str:
    """A length in words."""
    return f"{depth:.2f} m" if depth >= 0.005 else f"{1000 * depth:.1f} mm"


def _check_on_roof(plan: Roof, spot: Placement, said: str, panel: Panel) -> None:
    """Refuse a panel that is tilted or reaches beyond the roof."""
    if panel.tilt_deg:
        raise ValueError(
            f"Roof.spots: {said} is tilted by {panel.tilt_deg:g} degrees; a panel with a place on the roof lies "
            "flat. Leave its place out, or set tilt_deg = 0."
        )
    for size, length, reach, way in (
        ("wide_m", plan.wide_m, spot.left_m + spot.wide_m, ("left", "right")),
        ("long_m", plan.long_m, spot.back_m + spot.long_m, ("back", "front")),
    ):
        if getattr(spot, size) > length + TOUCH_M:
            raise ValueError(f"Roof.spots: {said} is {getattr(spot, size):g} m and the roof {length:g} m in {size}.")
        low = reach - getattr(spot, size)
        beyond, edge = (-low, way[0]) if low < 0 else (reach - length, way[1])
        if beyond > TOUCH_M:
            raise ValueError(f"Roof.spots: {said} reaches {_metres(beyond)} beyond the {edge} edge of the roof.")
