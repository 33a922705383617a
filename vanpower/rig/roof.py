"""The roof from above: where panels lie, what stands beside them, and what stands beside the van.

On the roof, metres count from its left and back edges, seen by somebody who looks to the nose; heights count from
its skin. What stands on the ground has its middle so many metres east and north of the roof's middle, whichever way
the van is turned. Panels with a place on the roof lie flat on it, all at one height.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations
from math import cos, radians, sin

from vanpower.rig.checking import Checked, require, require_count, require_one_of, require_range, twice_used
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


@dataclass(frozen=True, kw_only=True)
class Placement(Checked):
    """Where one panel lies on the roof.

    Parameters
    ----------
    panel : int
        Which panel, counted from 0.
    left_m, back_m : float
        From the roof's left and back edge to the panel's. [m]
    wide_m, long_m : float
        Across and along the van; a panel longer than wide lies along the van. [m]
    junction : str
        The short edge its junction end faces: "front", "back", "left" or "right"; empty takes the back edge, or the
        left one where it lies across. Groups of cells count from the left, seen from there.
    cells_across : int, optional
        Columns of cells side by side; None takes the number that makes the cells nearest to square.

    Examples
    --------
    >>> Placement(panel=0, left_m=0.1, back_m=0.2, wide_m=1.5, long_m=0.7).junction
    'left'
    """

    panel: int
    left_m: float
    back_m: float
    wide_m: float
    long_m: float
    junction: str = ""
    cells_across: int | None = None

    def __post_init__(self) -> None:
        require_count(self, "panel", 0, 200)
        for field in ("left_m", "back_m"):
            require_range(self, field, -2.0, 20.0, above="Are these centimetres?")
        for field in ("wide_m", "long_m"):
            require_range(self, field, 0.05, 4.0, above="Are these centimetres?")
        if not self.junction:
            object.__setattr__(self, "junction", "back" if self.along else "left")
        require_one_of(self, "junction", EDGES, EDGE_SLIPS)
        short = ("front", "back") if self.along else ("left", "right")
        sense = f"the junction end is a short edge, {short[0]} or {short[1]}"
        require(self.junction in short or self.wide_m == self.long_m, self, "junction", sense, TURN_SLIP)
        require_count(self, "cells_across", 1, 200)

    @property
    def along(self) -> bool:
        """Whether its long side lies along the van."""
        return self.long_m >= self.wide_m

    @property
    def corners(self) -> tuple[Point, ...]:
        """Its outline from above, left and forward from the roof's back left corner. [m]"""
        return _rectangle(self.left_m, self.back_m, self.wide_m, self.long_m)


@dataclass(frozen=True, kw_only=True)
class Fixture(Checked):
    """Something that throws shade.

    Parameters
    ----------
    kind : str
        On the roof "box", "cylinder", "bar" (with air below), "plate" (thin, at an angle) or "cover" (lies on a
        panel); on the ground "wall" or "mast".
    wide_m, long_m : float
        Across and along the van, before it is turned; of things on the ground, east-west and north-south. A round
        one has wide_m for its diameter. [m]
    high_m : float
        Its top, above the roof's skin or the ground. [m] Not of plates and covers.
    left_m, back_m : float
        On the roof: from the roof's left and back edge to its own. [m]
    east_m, north_m : float
        On the ground: its middle, from the roof's middle. [m]
    under_m : float
        Its underside, or the hinge of a plate. [m]
    turn_deg : float
        Turned about its middle, clockwise from above.
    tilt_deg, lifts : float, str
        How far a plate is lifted, and which edge of it. [degrees]
    lets_through : float
        Share of the light that passes it, as through a tree without leaves.

    Examples
    --------
    >>> Fixture(name="aerial", kind="cylinder", wide_m=0.03, left_m=0.9, back_m=3.0, high_m=0.6).round
    True
    """

    name: str
    kind: str
    wide_m: float
    long_m: float = 0.0
    high_m: float = 0.0
    left_m: float = 0.0
    back_m: float = 0.0
    east_m: float = 0.0
    north_m: float = 0.0
    under_m: float = 0.0
    turn_deg: float = 0.0
    tilt_deg: float = 0.0
    lifts: str = "front"
    lets_through: float = 0.0

    def __post_init__(self) -> None:
        require_one_of(self, "kind", (*ON_ROOF, *ON_GROUND), KIND_SLIPS)
        size, centimetres = (500.0, "") if self.on_ground else (10.0, "Are these centimetres?")
        require_range(self, "wide_m", 0.001, size, above=centimetres)
        require_range(self, "long_m", 0.0 if self.round else 0.001, size, above=centimetres)
        require_range(self, "high_m", 0.0, 200.0 if self.on_ground else 5.0, above=centimetres)
        for field, most in (("left_m", 20.0), ("back_m", 20.0), ("east_m", 500.0), ("north_m", 500.0)):
            require_range(self, field, -most, most, above="Are these centimetres?")
        require_range(self, "under_m", 0.0, 5.0, above="Are these centimetres?")
        require_range(self, "turn_deg", -360.0, 360.0)
        require_range(self, "tilt_deg", 0.0, 90.0)
        require_one_of(self, "lifts", EDGES, EDGE_SLIPS)
        require_range(self, "lets_through", 0.0, 1.0, unit="(a share of the light)", above="Is this percent?")
        self._check_kind()

    def _check_kind(self) -> None:
        """What only some kinds have."""
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
        """Whether it stands beside the van."""
        return self.kind in ON_GROUND

    @property
    def round(self) -> bool:
        """Whether its plan is a circle."""
        return self.kind in ("cylinder", "mast")

    @property
    def middle(self) -> Point:
        """Its middle from above: on the roof from its back left corner, on the ground east and north. [m]"""
        if self.on_ground:
            return self.east_m, self.north_m
        return self.left_m + self.wide_m / 2, self.back_m + (self.wide_m if self.round else self.long_m) / 2

    @property
    def corners(self) -> tuple[Point, ...]:
        """Its outline from above, turned; of a round one the square around it. [m]"""
        long = self.wide_m if self.round else self.long_m
        x, y = self.middle
        square = _rectangle(x - self.wide_m / 2, y - long / 2, self.wide_m, long)
        return square if self.round else tuple(turned(corner, self.middle, self.turn_deg) for corner in square)


@dataclass(frozen=True, kw_only=True)
class Roof(Checked):
    """The roof: its size, what lies and stands on it or beside it, and how the van stands.

    Parameters
    ----------
    wide_m, long_m : float
        The roof across and along the van. [m]
    spots : tuple of Placement
        Where panels lie; a panel without one gets no shade from here.
    fixtures : tuple of Fixture
    glass_m : float
        The panels' glass above the roof's skin. [m]
    above_ground_m : float
        The roof's skin above the ground. [m]
    slope_deg, downhill_deg : float
        Slope of the pitch, and the direction that is downhill, clockwise from north. [degrees]

    Examples
    --------
    >>> hatch = Fixture(name="hatch", kind="box", wide_m=0.5, long_m=0.5, high_m=0.1)
    >>> Roof(wide_m=1.8, long_m=4.0, fixtures=(hatch,)).glass_m
    0.05
    """

    wide_m: float
    long_m: float
    spots: tuple[Placement, ...] = ()
    fixtures: tuple[Fixture, ...] = ()
    glass_m: float = GLASS_M
    above_ground_m: float = ABOVE_GROUND_M
    slope_deg: float = 0.0
    downhill_deg: float = 180.0

    def __post_init__(self) -> None:
        require_range(self, "wide_m", 0.5, 4.0, above="Are these centimetres?")
        require_range(self, "long_m", 0.5, 20.0, above="Are these centimetres?")
        require_range(self, "glass_m", 0.0, 1.0, above="Are these centimetres?")
        require_range(self, "above_ground_m", 0.0, 6.0, above="Are these centimetres?")
        require_range(self, "slope_deg", 0.0, 20.0)
        require_range(self, "downhill_deg", 0.0, 360.0)
        twice = twice_used(tuple(spot.panel for spot in self.spots))
        if twice:
            raise ValueError(f"Roof.spots place {twice} twice; each panel lies in one place.")
        names = [fixture.name for fixture in self.fixtures]
        again = next((name for name in names if names.count(name) > 1), None)
        if again is not None:
            raise ValueError(f"Roof.fixtures has two called {again!r}; give each a name of its own.")

    def spot(self, panel: int) -> Placement | None:
        """Where a panel lies, or None."""
        return next((spot for spot in self.spots if spot.panel == panel), None)


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
    for size, whole, reach, way in (
        ("wide_m", plan.wide_m, spot.left_m + spot.wide_m, ("left", "right")),
        ("long_m", plan.long_m, spot.back_m + spot.long_m, ("back", "front")),
    ):
        if getattr(spot, size) > whole + TOUCH_M:
            raise ValueError(f"Roof.spots: {said} is {getattr(spot, size):g} m and the roof {whole:g} m in {size}.")
        low = reach - getattr(spot, size)
        beyond, edge = (-low, way[0]) if low < 0 else (reach - whole, way[1])
        if beyond > TOUCH_M:
            raise ValueError(f"Roof.spots: {said} reaches {_metres(beyond)} beyond the {edge} edge of the roof.")
