"""What fixtures on the roof cost, wiring by wiring, and what moving, turning or rewiring would regain."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from vanpower.model.conditions import even_light
from vanpower.model.light import lit_panels
from vanpower.model.rig_in_light import RigModel
from vanpower.results.numbers import ALIKE, amounts_in, apart, difference, known, known_in, share_of
from vanpower.results.result import Plotted, Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Verdict
from vanpower.rig import Days, Parked, Request, Rig, Roof
from vanpower.rig.wirings import equal_strings
from vanpower.shading.layout import cells_of
from vanpower.studies.comparison import Comparison, compare

Array = np.ndarray
Sky = Days | Parked

ALL, NONE = "all of them", "nothing on the roof"
# rows of the fixture table
ISOTROPIC = "the sky's light taken as even, nothing thrown back by fixtures; battery held at its volts"
# what roof answers rest on
MOST_TOLD = 3
# wirings that a sentence names; no source
LADDER = "Move things on the roof in dry, still weather, with somebody holding the ladder."
LIT = 0.2
# share of the light left in a map's shadow; common practice, no source
LIGHTS, SHARES = np.geomspace(60.0, 1000.0, 10), np.linspace(0.0, 1.0, 25)
# lights [W/m²] and shaded shares of a map
GROWS = {"left": [0, 1], "right": [1, 0], "back": [2, 3], "front": [3, 2]}
# which edges of a cell a shadow from an edge of the roof reaches first and last


@dataclass(frozen=True, eq=False, repr=False)
class RoofAnswer(Result):
    """Power or energy of several roofs, headings or trackers, wiring by wiring, with the finding.

    Parameters
    ----------
    question : str
    energy : mapping of str to mapping of str to float
        By roof, heading or tracker, then by wiring. [W for a moment, else Wh]
    unit, title : str
    sentence : str
        The finding with its numbers.
    margin : float
        What the best delivers more than the worst, in the wiring where that is most. [unit]
    caution : str
        What can hurt when one acts on it.
    notes : tuple of str
        Assumptions about light and labels.

    Examples
    --------
    >>> energy = {"front": {"3s": 240.0}, "back": {"3s": 250.0}}
    >>> answer = RoofAnswer("Does the place matter", energy, "W", "at nine", "best back, worst front", margin=10.0)
    >>> answer.best(), answer.verdict.answer
    (('back', '3s'), 'yes')
    """

    question: str
    energy: Mapping[str, Mapping[str, float]]
    unit: str
    title: str
    sentence: str
    margin: float
    caution: str = ""
    notes: tuple[str, ...] = ()

    def best(self) -> tuple[str, str]:
        """The roof and the wiring that deliver most."""
        return max(((row, wiring) for row in self.energy for wiring in self.energy[row]), key=lambda at: self.of(*at))

    def of(self, row: str, wiring: str) -> float:
        """What one roof delivers in one wiring."""
        return self.energy[row][wiring]

    def table(self, what: None = None) -> Table:
        """A line a roof, a column a wiring."""
        rows = [(row, brings, _known(brings)) for row, brings in self.energy.items()]
        return _table(self.unit, rows, next(iter(self.energy.values())))

    @property
    def verdict(self) -> Verdict:
        """The finding as an answer: yes where it is worth acting on."""
        best = self.of(*self.best())
        worth = self.margin > ALIKE * best
        return Verdict(
            question=f"{self.question}, {self.title}?",
            answer="yes" if worth else "no",
            margin=self.margin,
            unit=self.unit,
            sentence=self.sentence if round(best, 1) else "Nothing arrives in this light, whatever is chosen.",
            basis="; ".join((ISOTROPIC, *self.notes)),
            caution=self.caution if worth else "",
        )


@dataclass(frozen=True, eq=False, repr=False)
class FixtureCosts(Result):
    """Result of `fixture_costs`: what each fixture costs alone, and all together, wiring by wiring.

    Parameters
    ----------
    clear, full : mapping of str to float
        Power or energy by wiring with nothing on the roof, and with everything. [unit]
    alone : mapping of str to mapping of str to float
        Lost by fixture, standing there alone, then by wiring. [unit]
    unit, title : str
        "W" for a moment, "Wh" for days; the light in a few words.
    span : str
        What amounts are counted over, such as " of the day"; empty where the title tells it.
    out : tuple of str
        Wirings that must not be joined.

    Examples
    --------
    >>> alone = {"flue": {"3s": 60.0}, "vent": {"3s": 15.0}}
    >>> FixtureCosts({"3s": 250.0}, {"3s": 180.0}, alone, "W", "at nine").verdict.sentence
    'Most is lost to the flue: 60.0 W in 3s. Each is counted alone; everything together costs 70 W of 250 (28 %) in 3s.'
    """

    clear: Mapping[str, float]
    full: Mapping[str, float]
    alone: Mapping[str, Mapping[str, float]]
    unit: str
    title: str
    notes: tuple[str, ...] = ()
    span: str = ""
    out: tuple[str, ...] = ()

    def table(self, what: None = None) -> Table:
        """What each fixture costs alone, the dearest first, all of them, and what is left; a column a wiring."""
        lost = sorted(self.alone.items(), key=lambda item: -max(item[1].values()))
        together = {wiring: self.clear[wiring] - self.full[wiring] for wiring in self.clear}
        rows = [(NONE, self.clear, _known(self.clear)), *((f"- {name}", costs, _known(costs)) for name, costs in lost)]
        said = {wiring: apart(self.clear[wiring], self.full[wiring]) for wiring in self.clear}
        rows += [(f"- {ALL}", together, said), ("what is left", self.full, _known(self.full))]
        return _table(self.unit, rows, self.clear)

    def dearest(self, wiring: str = "") -> str:
        """The fixture that costs most in a wiring, the best where none is named."""
        return max(self.alone, key=lambda name: self.alone[name][wiring or self.best])

    @property
    def allowed(self) -> list[str]:
        """The wirings that sentences are about: those that may be joined, and all where none may."""
        return [wiring for wiring in self.full if wiring not in self.out] or list(self.full)

    @property
    def best(self) -> str:
        """The allowed wiring that delivers most with everything on the roof."""
        return max(self.allowed, key=lambda wiring: self.full[wiring])

    @property
    def verdict(self) -> Verdict:
        """Which fixture costs most, wiring by wiring."""
        best = self.best
        whole = self.clear[best] - self.full[best]
        return Verdict(
            question=f"Do the things on the roof cost much, {self.title}?",
            answer="yes" if self._share(best) > ALIKE else "no",
            margin=whole,
            unit=self.unit,
            sentence=self._sentence(best, whole),
            basis="; ".join((ISOTROPIC, *self.notes)),
        )

    def _sentence(self, best: str, whole: float) -> str:
        """What costs most, and what everything together costs in the best wiring."""
        clear = self.clear[best]
        if not self.alone:
            return "Nothing stands on the roof."
        if not round(clear, 1):
            return "Nothing arrives in this light, with or without what stands on the roof."
        together = difference(clear, self.full[best], self.unit)
        return (
            f"{self._most()}. Each is counted alone; everything together costs {together} of {known(clear)} "
            f"({share_of(whole, clear)}) in {best}."
        )

    def _share(self, wiring: str) -> float:
        """What everything together costs, as a share of the bare roof."""
        clear = self.clear[wiring]
        return (clear - self.full[wiring]) / clear if clear > 0 else 0.0

    def _told(self) -> list[str]:
        """The wirings that are told, the best first; of many that one, and the one where a thing costs most."""
        others = [wiring for wiring in self.allowed if wiring != self.best]
        if len(others) < MOST_TOLD:
            return [self.best, *others]
        worst = max(self.allowed, key=lambda wiring: self.alone[self.dearest(wiring)][wiring])
        return list(dict.fromkeys((self.best, worst)))

    def _most(self) -> str:
        """What costs most and how much, and where it is little."""
        dearest = {wiring: self.dearest(wiring) for wiring in self._told()}
        cost = {wiring: max(self.alone[name][wiring], 0.0) for wiring, name in dearest.items()}
        if not round(max(cost.values()), 1):
            return "Nothing that stands on the roof costs anything worth telling"
        lost = {wiring: known_in(amount, self.unit) for wiring, amount in cost.items()}
        most = "Most is lost" if any(self._share(wiring) > ALIKE for wiring in lost) else "Little is lost, most"
        if len(set(dearest.values())) == 1:
            return f"{most} to the {self.dearest()}: {amounts_in(lost, self.span)}"
        (first, amount), *others = lost.items()
        also = "".join(f"; in {wiring} to the {dearest[wiring]}, {amount}" for wiring, amount in others)
        return f"{most} in {first} to the {dearest[first]}, {amount}{self.span}{also}"


def fixture_costs(rigs: Mapping[str, Rig], request: Sky) -> FixtureCosts:
    """How much each fixture on the roof costs, alone and together with all others.

    Parameters
    ----------
    rigs : mapping of str to Rig
        The same roof in several wirings, such as `rig.wirings()`.
    request : Parked or Days
        Conditions with a sun.

    Returns
    -------
    FixtureCosts
        Watts or watt-hours lost, by fixture and wiring.

    Raises
    ------
    ValueError
        For a rig without a roof.

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> nine = Parked(latitude_deg=47, day="06-21", hour=9)
    >>> costs = fixture_costs({"3s": example("goat-cheese-van")}, nine)
    >>> max(costs.alone, key=lambda name: costs.alone[name]["3s"])
    'flue'
    """
    *_, found = costs_one_by_one(rigs, request)
    assert found is not None
    return found


def costs_one_by_one(rigs: Mapping[str, Rig], request: Sky) -> Iterator[FixtureCosts | None]:
    """`fixture_costs` for whoever has something else to do in between: None after every step, and the costs last.

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> nine = Parked(latitude_deg=47, day="06-21", hour=9)
    >>> [found is None for found in costs_one_by_one({"3s": example("goat-cheese-van")}, nine)]
    [True, True, True, True, True, True, True, True, False]
    """
    plan = next(iter(rigs.values())).need_roof()
    clear = _energies(rigs, request, replace(plan, fixtures=()))
    yield None
    full = compare(rigs, request)
    yield None
    alone = {}
    for fixture in plan.fixtures:
        brings = _energies(rigs, request, replace(plan, fixtures=(fixture,)))
        alone[fixture.name] = {name: clear[name] - brings[name] for name in rigs}
        yield None
    span = " of the day" if isinstance(request, Parked) and request.hour is None else ""
    out = tuple(name for name, outcome in full.outcomes.items() if outcome.refused is not None)
    yield FixtureCosts(clear, _brought(full), alone, full.unit, full.title, full.notes, span, out)


def compare_roofs(
    rigs: Mapping[str, Rig], plans: Mapping[str, Roof], request: Sky, *, what: str = "place"
) -> RoofAnswer:
    """Which of several roof layouts delivers most: fixtures in other places, panels turned or moved.

    Parameters
    ----------
    rigs : mapping of str to Rig
        The same roof in several wirings, such as `rig.wirings()`.
    plans : mapping of str to Roof
        Layouts by name, such as `{"front": plan.with_fixture("vent", back_m=3.0), "as it is": plan}`.
    request : Parked or Days
        Conditions with a sun.
    what : str
        What differs between the layouts, in a word for the verdict.

    Returns
    -------
    RoofAnswer
        Watts or watt-hours of each layout and wiring, and the verdict.

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> rig = example("goat-cheese-van")
    >>> plans = {"as it is": rig.roof, "far trees": rig.roof.with_fixture("trees in the east", east_m=40)}
    >>> compare_roofs({"3s": rig}, plans, Parked(latitude_deg=47, day="06-21", hour=9)).verdict.sentence
    '3s: alike, 256 W within 3 %.'
    """
    energy = {name: _energies(rigs, request, plan) for name, plan in plans.items()}
    return replace(_answer(f"Does the {what} matter", energy, compare(rigs, request)), caution=LADDER)


def compare_headings(rigs: Mapping[str, Rig], request: Sky, angles: Iterable[float] = range(0, 360, 45)) -> RoofAnswer:
    """What the van delivers for each heading of its nose, clockwise from north. [degrees]

    Parameters
    ----------
    rigs : mapping of str to Rig
        The same roof in several wirings, such as `rig.wirings()`.
    request : Parked or Days
        Conditions with a sun.
    angles : iterable of float
        The headings to compare. [degrees]

    Returns
    -------
    RoofAnswer
        Watts or watt-hours of each heading and wiring, and the verdict.

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> nine = Parked(latitude_deg=47, day="06-21", hour=9)
    >>> list(compare_headings({"3s": example("goat-cheese-van")}, nine, (0, 180)).energy)
    ['nose north', 'nose south']
    """
    energy = {f"nose {_compass(a)}": _brought(compare(rigs, replace(request, heading_deg=float(a)))) for a in angles}
    return _answer("Does it matter how the van stands", energy, compare(rigs, request))


def compare_trackers(rigs: Mapping[str, Rig], request: Sky) -> RoofAnswer:
    """A tracker that sweeps the whole curve ("sweep") against one that stays on the first local maximum ("climb").

    Parameters
    ----------
    rigs : mapping of str to Rig
        The same roof in several wirings, such as `rig.wirings()`.
    request : Parked or Days
        Conditions with a sun.

    Returns
    -------
    RoofAnswer
        Watts or watt-hours of each tracker and wiring, and the verdict.

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> nine = Parked(latitude_deg=47, day="06-21", hour=9)
    >>> compare_trackers({"3s": example("goat-cheese-van")}, nine).verdict.answer
    'yes'
    """
    energy = {}
    for tracker in ("sweep", "climb"):
        tracked = {name: rig.with_controller(tracker=tracker) for name, rig in rigs.items()}
        energy[tracker] = _brought(compare(tracked, request))
    return _answer("Does the tracker matter", energy, compare(rigs, request))


def string_mates(rig: Rig, request: Request) -> Comparison:
    """Which panels should share a string: every assignment of the first circuit's panels to equal strings, compared.

    Equal panels are told apart, since shade may fall on them differently.

    Parameters
    ----------
    rig : Rig
    request : Snapshot, Days or Parked

    Returns
    -------
    Comparison
        Its rigs are named by their strings, such as "P1+P2 | P3+P4".

    Examples
    --------
    >>> from vanpower import Parked, example
    >>> list(string_mates(example("goat-cheese-van"), Parked(latitude_deg=47, day="06-21", hour=9)).outcomes)
    ['P1+P2+P3', 'P1 | P2 | P3']
    """
    panels = sorted(rig.circuits[0].wiring.panels)
    return compare({wiring.grouping: rig.wired(wiring) for wiring in equal_strings(panels, panels)}, request)


@dataclass(frozen=True, eq=False)
class ShadeMap(Plotted):
    """Result of `shade_map`: power of every wiring by light and shaded share.

    Parameters
    ----------
    light : ndarray (light,)
        Irradiance. [W/m²]
    share : ndarray (share,)
        Share of the panels' cells that lies in the shadow.
    watts : mapping of str to ndarray (light, share)
        Power into the battery, by wiring. [W]
    edge : str
        The edge of the roof from which the shadow grows.

    Examples
    --------
    >>> watts = {"2s": np.array([[100.0, 40.0]]), "2p": np.array([[99.0, 60.0]])}
    >>> ShadeMap(np.array([800.0]), np.array([0.0, 0.5]), watts, "front").winner.tolist()
    [[-1, 1]]
    """

    light: Array
    share: Array
    watts: Mapping[str, Array]
    edge: str

    @property
    def winner(self) -> Array:
        """Number of the wiring that delivers most, -1 where two are `ALIKE` (light, share)."""
        stack = np.stack(list(self.watts.values()))
        second, first = np.sort(np.concatenate([np.full_like(stack[:1], -np.inf), stack]), axis=0)[-2:]
        return np.where(second >= (1 - ALIKE) * first, -1, np.argmax(stack, axis=0))


def shade_map(rigs: Mapping[str, Rig], *, edge: str = "front", lit: float = LIT, temp_cell: float = 35.0) -> ShadeMap:
    """Power of every wiring, by light and by the share of the panels that a straight shadow covers from one edge.

    Parameters
    ----------
    rigs : mapping of str to Rig
        One roof in several wirings.
    edge : str
        "front", "back", "left" or "right": where the shadow begins.
    lit : float
        Share of the light left in the shadow.
    temp_cell : float
        Cell temperature. [°C]

    Returns
    -------
    ShadeMap
        Watts into the battery (light, share) for each wiring. [W]

    Raises
    ------
    ValueError
        For a rig without a roof, or with a panel that has no place on it.

    Examples
    --------
    >>> from vanpower import example
    >>> shade_map({"3s": example("goat-cheese-van")}).watts["3s"].shape
    (10, 25)
    """
    first = next(iter(rigs.values()))
    even = even_light(first.panels, np.repeat(LIGHTS, len(SHARES)), temp_cell)
    shares = [1 - (1 - lit) * np.tile(covered, (len(LIGHTS), 1, 1, 1)) for covered in _growing(first, edge)]
    asked = replace(even, light=tuple(light * share for light, share in zip(even.light, shares, strict=True)))
    known = lit_panels(first.panels, asked)
    watts = {
        name: RigModel(rig, asked, known).p_battery.reshape(len(LIGHTS), len(SHARES)) for name, rig in rigs.items()
    }
    return ShadeMap(LIGHTS, SHARES, watts, edge)


def _growing(rig: Rig, edge: str) -> list[Array]:
    """Covered share of every cell under a straight shadow that grows, (share, substring, branch, cell) each."""
    plan, panels = rig.need_roof(), range(len(rig.panels))
    missing = [f"P{p + 1}" for p in panels if plan.spot(p) is None]
    if missing:
        has = "has" if len(missing) == 1 else "have"
        raise ValueError(f"{', '.join(missing)} {has} no place on the roof; a map needs every panel's.")
    grids = {spot.panel: cells_of(rig.panels[spot.panel], spot) for spot in plan.spots}
    near, far = np.concatenate([grids[p].edges for p in panels]).T[GROWS[edge]]
    away = np.sign(far[0] - near[0])

    def covered(reach: Array) -> Array:
        """Share of each cell under a shadow whose edge has come so far (reach, cell)."""
        return np.clip((reach[:, None] - near) / (far - near), 0.0, 1.0)

    # between two edges of cells the mean goes straight, so that every share is exact
    reach = away * np.unique(away * np.concatenate([near, far]))
    picked = covered(np.interp(SHARES, covered(reach).mean(axis=1), reach))
    parts = np.split(picked, np.cumsum([len(grids[p].edges) for p in panels])[:-1], axis=1)
    return [part.reshape(len(SHARES), *grids[p].shape) for p, part in zip(panels, parts, strict=True)]


def _known(brings: Mapping[str, float]) -> dict[str, str]:
    """Amounts as they are printed; one below nothing is rounding."""
    return {wiring: known(max(amount, 0.0)) for wiring, amount in brings.items()}


def _table(
    unit: str, rows: Sequence[tuple[str, Mapping[str, float], Mapping[str, str]]], wirings: Iterable[str]
) -> Table:
    """A line a row, a column a wiring, from numbers and the same in words."""
    names = list(wirings)
    columns = [
        Column(name=wiring, width=max(len(wiring), 6), said=tuple(said[wiring] for _, _, said in rows))
        for wiring in names
    ]
    numbers = [(name, *(brings[wiring] for wiring in names)) for name, brings, _ in rows]
    return Table((Column(name=unit, left=True), *columns), numbers)


def _energies(rigs: Mapping[str, Rig], request: Sky, plan: Roof) -> dict[str, float]:
    """What every wiring delivers under one roof plan."""
    return _brought(compare({name: rig.changed(roof=plan) for name, rig in rigs.items()}, request))


def _brought(comparison: Comparison) -> dict[str, float]:
    """Energy by wiring."""
    return {name: outcome.energy_wh for name, outcome in comparison.outcomes.items()}


def _answer(question: str, energy: dict[str, dict[str, float]], asked: Comparison) -> RoofAnswer:
    """Best and worst candidate in every wiring, in a sentence; the margin is the widest of the gaps."""
    said, leads = [], []
    for wiring in asked.ranking:
        by = {name: brings[wiring] for name, brings in energy.items()}
        best, worst = max(by, key=lambda name: by[name]), min(by, key=lambda name: by[name])
        leads.append(by[best] - by[worst])
        alike = leads[-1] <= ALIKE * by[best]
        far = f"best {best} with {known_in(by[best], asked.unit)}, worst {worst} with {known_in(by[worst], asked.unit)}"
        said.append(
            f"{wiring}: {f'alike, {known_in(by[best], asked.unit)} within {100 * ALIKE:.0f} %' if alike else far}."
        )
    return RoofAnswer(question, energy, asked.unit, asked.title, " ".join(said), max(leads), notes=asked.notes)


def _compass(angle: float) -> str:
    """A direction in a word where it has one."""
    words = ("north", "north-east", "east", "south-east", "south", "south-west", "west", "north-west")
    return words[int(angle) // 45 % 8] if angle % 45 == 0 else f"{angle:g}°"
