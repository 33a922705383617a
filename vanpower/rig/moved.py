"""Things moved about a roof: where panels and fixtures are put, apart from what the rig's file says."""

from __future__ import annotations

from dataclasses import dataclass, replace

from vanpower.rig.rigs import Rig
from vanpower.rig.roof import Roof

DIGITS = 2
# of a place on a roof in metres: a tape measure has centimetres


@dataclass(frozen=True)
class Moved:
    """Where things on a roof have been put.

    Parameters
    ----------
    places : tuple of (str, float, float)
        Each thing that was moved, as charts call it, such as "P3" or "flue"; how far it is from the roof's left and
        back edges. [m]

    Examples
    --------
    >>> from vanpower import example
    >>> van = Moved().to("flue", 0.5, 1.7).to("P3", 0.16, 2.2).on(example("goat-cheese-van"))
    >>> van.roof.fixtures[3].back_m, van.roof.spots[2].back_m
    (1.7, 2.2)
    """

    places: tuple[tuple[str, float, float], ...] = ()

    def to(self, name: str, left_m: float, back_m: float) -> Moved:
        """The same with one thing put there."""
        others = tuple(place for place in self.places if place[0] != name)
        return Moved((*others, (name, _told(left_m), _told(back_m))))

    def on(self, rig: Rig) -> Rig:
        """The rig with these things moved that are on its roof."""
        plan = rig.need_roof()
        for name, left, back in self.places:
            plan = put(plan, name, left, back)
        return rig.changed(roof=plan)


def things_on(plan: Roof) -> dict[str, tuple[float, float, float, float]]:
    """Everything on a roof that can be moved, by name: left edge, back edge, width and length. [m]

    Examples
    --------
    >>> from vanpower import example
    >>> things_on(example("goat-cheese-van").roof)["flue"]
    (0.83, 0.6, 0.12, 0.12)
    """
    panels = {f"P{s.panel + 1}": (s.left_m, s.back_m, s.wide_m, s.long_m) for s in plan.spots}
    loose = [fixture for fixture in plan.fixtures if not fixture.on_ground and fixture.kind != "cover"]
    return panels | {f.name: (f.left_m, f.back_m, f.wide_m, f.wide_m if f.round else f.long_m) for f in loose}


def put(plan: Roof, name: str, left_m: float, back_m: float) -> Roof:
    """The roof with one thing put elsewhere, as near as the roof's edges allow; as it is where it has no such thing."""
    things = things_on(plan)
    if name not in things:
        return plan
    _, _, wide, long = things[name]
    left = _told(min(max(left_m, 0.0), max(plan.wide_m - wide, 0.0)))
    back = _told(min(max(back_m, 0.0), max(plan.long_m - long, 0.0)))
    for number, spot in enumerate(plan.spots):
        if name == f"P{spot.panel + 1}":
            spots = (*plan.spots[:number], replace(spot, left_m=left, back_m=back), *plan.spots[number + 1 :])
            return plan.changed(spots=spots)
    return plan.with_fixture(name, left_m=left, back_m=back)


def _told(metres: float) -> float:
    """To the centimetre."""
    return round(metres, DIGITS)
