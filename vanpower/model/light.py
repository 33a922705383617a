"""The panels of a rig in their light, computed once and kept for every wiring and the next move of a slider."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache, partial
from typing import Any, TypeVar

import numpy as np

from vanpower.components.controllers import AnyArray, Operation, operate
from vanpower.components.low_light import best_watts, dull_middle
from vanpower.engine import compiled
from vanpower.engine.array import PanelTables, PVArray, best_power, seek_peaks
from vanpower.model.arrays import even_array, join, roof_of
from vanpower.model.cache import KEPT
from vanpower.model.conditions import Conditions, conditions_of, evenly_lit
from vanpower.rig import Circuit, Days, Panel, Request, Rig, Roof, Snapshot, nameless
from vanpower.weather.days import day_of, stamp
from vanpower.weather.planes import plane_notes

Array = np.ndarray
R = TypeVar("R", bound=Request)
Progress = Callable[[Iterable[Any]], Iterable[Any]]
# wraps what is worked through one by one, as `tqdm.auto.tqdm` does

CHUNK = 288
# moments worked on at a time, so that tables stay in the processor's cache
CHUNK_ON_ROOF = 96
# the same where shadows of fixtures leave hardly two cells equal, which makes tables several times as large
FEW_MOMENTS = 12
# up to which a call costs more than the numbers it works on: together, 12 or 24 moments took 0.9 of the time, 48 all
WORTH_COMPILING = 4000
# moments under a roof's shadows that take so long, 15 s, that a third less is more than the compiled loops' loading
COARSE_H = 0.5
# [h] steps from which the bursts at the edges of clouds, seconds to minutes long, are lost in the mean
CLOUD_EDGES = "hourly means hide cloud edges: clipping is a lower bound"


@dataclass(frozen=True, eq=False)
class LitPanels:
    """The panels of a rig in given conditions, computed `CHUNK` moments at a time and kept while there is room.

    Parameters
    ----------
    panels : tuple of Panel
    conditions : Conditions
        Of all moments.
    clear : LitPanels, optional
        The same without shade, where there is shade.
    chunk : int
        Moments worked on at a time.
    i_back : float
        Reverse current up to which the tables have to reach, where that is more than the brightest panel gives. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> light = lit_panels(example("bookmobile").panels, Snapshot(light=1000, temp_cell=25))
    >>> light.p_alone.round().tolist()
    [[110.0, 110.0]]
    """

    panels: tuple[Panel, ...]
    conditions: Conditions
    clear: LitPanels | None
    chunk: int
    i_back: float = 0.0
    _alone: dict[int, Array] = field(default_factory=dict)
    _typical: dict[tuple[int, ...], Array] = field(default_factory=dict)
    _together: dict[tuple[int, ...], tuple[Array, ...]] = field(default_factory=dict)
    _levels: dict[tuple[int, int], Array | None] = field(default_factory=dict)

    def __len__(self) -> int:
        """How many chunks there are."""
        return -(-len(self.conditions) // self.chunk)

    def part(self, number: int) -> PanelTables:
        """The tables of all panels in one chunk of moments."""
        return KEPT.get(
            (self, number), lambda: roof_of(self.panels, self._moments(number), i_back=self.i_back), _moving
        )

    def array(self, number: int, circuit: Circuit) -> PVArray:
        """One chunk of a circuit's array, worked out once for all controllers."""
        key = (self, number, circuit.wiring, circuit.cable, circuit.blocking_diodes)
        return KEPT.get(key, lambda: join(self.part(number), circuit), lambda made: (made.curves, made.strings))

    def source(self, number: int, circuit: Circuit) -> AnyArray:
        """As `array`, without any table where the circuit's panels are alike and evenly lit."""
        even = self._even_light(number, circuit)
        if even is None:
            return self.array(number, circuit)
        key = (self, number, circuit.wiring, circuit.cable, circuit.blocking_diodes, "even")
        made = partial(even_array, self.panels, circuit, *even)
        return KEPT.get(key, made, lambda array: array.cells)

    def _even_light(self, number: int, circuit: Circuit) -> tuple[Array, Array] | None:
        """Light and heat of every panel of a circuit (moment,), where they and its strings are all alike."""
        first, *others = circuit.wiring.panels
        light, heat = self._level(number, first), self._moments(number).temp_cell
        if light is None or len({len(string) for string in circuit.wiring.strings}) > 1:
            return None
        for panel in others:
            beside = self._level(number, panel)
            if beside is None or nameless(self.panels[panel]) != nameless(self.panels[first]):
                return None
            if (beside != light).any() or (heat[:, panel] != heat[:, first]).any():
                return None
        return light, heat[:, first]

    def _level(self, number: int, panel: int) -> Array | None:
        """The light of all cells of one panel in one chunk (moment,); None where they ever differ."""
        if (number, panel) not in self._levels:
            light = self._moments(number).light[panel]
            self._levels[number, panel] = None if uneven(light) else light[:, 0, 0, 0]
        return self._levels[number, panel]

    def seek_peaks(self, circuits: Sequence[Circuit]) -> None:
        """Find the best points of circuits and shaded panels together, which is quicker where moments are few."""
        if len(self.conditions) <= FEW_MOMENTS:
            each = [self.source(0, circuit) for circuit in circuits]
            self._watts_alone(0, [array for array in each if isinstance(array, PVArray)])

    @property
    def p_alone(self) -> Array:
        """Maximum power of each panel by itself (moment, panel). [W]"""
        if len(self) == 1:
            return self._watts_alone(0)
        return np.concatenate([np.zeros((0, len(self.panels))), *map(self._watts_alone, range(len(self)))])

    @property
    def p_clear(self) -> Array:
        """Maximum power of each panel by itself, without shade (moment, panel). [W]"""
        return self.p_alone if self.clear is None else self.clear.p_alone

    def together(self, panels: Sequence[int]) -> tuple[Array, ...]:
        """Maximum power of some panels each by itself, summed, as lit and without shade, each (moment,). [W]"""
        used = tuple(panels)
        if used not in self._together:
            self._together[used] = tuple(p[:, list(used)].sum(axis=1) for p in (self.p_alone, self.p_clear))
        return self._together[used]

    def typical(self, panels: Iterable[int]) -> Array:
        """What some of the panels typically give in this light, as a share of their labels' curve (moment,)."""
        used = tuple(sorted(panels))
        if used not in self._typical:
            self._typical[used] = dull_middle([self.panels[panel] for panel in used], self.conditions.brightest)
            self._typical[used].setflags(write=False)
        return self._typical[used]

    def _watts_alone(self, number: int, beside: Sequence[PVArray] = ()) -> Array:
        """`p_alone` of one chunk, worked out once; the peaks of other arrays in this light are sought beside."""
        if number not in self._alone:
            these = self._moments(number)
            watts, known = self._as_without_shade(number, these)
            if not known.all():
                _alone(self.panels, these, watts, np.flatnonzero(~known), lambda: self.part(number), beside)
            self._alone[number] = watts
        seek_peaks(beside)
        return self._alone[number]

    def _as_without_shade(self, number: int, these: Conditions) -> tuple[Array, Array]:
        """Watts of one chunk (moment, panel), and which panels' are known, since no shade lies on them (panel,)."""
        known = np.zeros(len(self.panels), bool)
        if self.clear is None:
            return np.empty((len(these), len(self.panels))), known
        rows = slice(number * self.chunk, (number + 1) * self.chunk)
        bare, watts = self.clear.conditions.moments(rows), self.clear.p_alone[rows].copy()
        for panel, (lit, free) in enumerate(zip(these.light, bare.light, strict=True)):
            known[panel] = not uneven(lit) and bool((lit[:, 0, 0, 0] == free[:, 0, 0, 0]).all())
        return watts, known

    def _moments(self, number: int) -> Conditions:
        """The moments of one chunk."""
        if len(self) == 1:
            return self.conditions
        return self.conditions.moments(slice(number * self.chunk, (number + 1) * self.chunk))


def lit_panels(panels: tuple[Panel, ...], asked: Conditions | Request, roof: Roof | None = None) -> LitPanels:
    """The panels of a rig in given conditions, before any wiring; kept, so that another wiring or cable costs little.

    Parameters
    ----------
    panels : tuple of Panel
    asked : Conditions, Snapshot, Days or Parked
        Conditions count as the clear light too.
    roof : Roof, optional
        What throws shade under a sky.

    Examples
    --------
    >>> from vanpower import Shade, example
    >>> half = Snapshot(light=1000, temp_cell=25, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> light = lit_panels(example("bookmobile").panels, half)
    >>> light.p_alone.round().tolist(), light.p_clear.round().tolist()
    ([[52.0, 110.0]], [[110.0, 110.0]])
    >>> lit_panels(light.panels, light.conditions).p_clear.round().tolist()
    [[52.0, 110.0]]
    """
    if isinstance(asked, Conditions):
        asked.check_fit(panels)
        return LitPanels(panels, asked, None, CHUNK)
    under = None if isinstance(asked, Snapshot) else roof
    return _worked_out(panels, asked, under, stamp(asked.weather) if isinstance(asked, Days) else 0)


@lru_cache(maxsize=4)
def _worked_out(panels: tuple[Panel, ...], request: Request, plan: Roof | None, _stamp: int) -> LitPanels:
    """`lit_panels`, kept while the weather file stays as it is."""
    bare = unshaded(request, plan)
    clear = None if bare == (request, plan) else lit_panels(panels, *bare)
    if plan is None or not plan.fixtures:
        return LitPanels(panels, conditions_of(panels, request, plan), clear, CHUNK)
    if not isinstance(request, Snapshot) and len(day_of(request).table) >= WORTH_COMPILING:
        compiled.load()
    return LitPanels(panels, conditions_of(panels, request, plan), clear, min(CHUNK, CHUNK_ON_ROOF))


def unshaded(request: R, plan: Roof | None) -> tuple[R, Roof | None]:
    """The same without notes of shade, and with nothing on the roof but the panels."""
    return replace(request, shade=()), None if plan is None else replace(plan, fixtures=())


def shaded(rig: Rig, circuit: Circuit, request: Request) -> bool:
    """Whether a note or something on the roof may shade a circuit's panels."""
    noted = any(note.panel in circuit.wiring.panels and note.lit < 1 for note in request.shade)
    if rig.roof is None or not rig.roof.fixtures or isinstance(request, Snapshot):
        return noted
    return noted or any(spot.panel in circuit.wiring.panels for spot in rig.roof.spots)


def uneven(light: Array) -> bool:
    """Whether the cells of one panel (moment, substring, branch, cell) ever differ in their light."""
    return not evenly_lit(light) and bool((light != light[:, :1, :1, :1]).any())


def array_of(rig: Rig, request: Request, circuit: int = 0) -> PVArray:
    """The current-voltage curve of one circuit's array, behind its cable, as power charts draw it.

    Parameters
    ----------
    rig : Rig
    request : Snapshot, Days or Parked
    circuit : int
        Which circuit, counted from 0.

    Returns
    -------
    PVArray
        Its `curves` are at the controller's terminals; of a long request the first `CHUNK` moments.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.engine.maxima import maxima
    >>> array = array_of(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> float(maxima(array.curves).power.max().round())
    213.0
    """
    return lit_panels(rig.panels, request, rig.roof).array(0, rig.circuits[circuit])


def title_of(request: Request) -> str:
    """The light in a few words."""
    if not isinstance(request, Snapshot):
        day = day_of(request)
        words = day.title if isinstance(request, Days) or request.hour is None else f"{day.place}, {day.date}"
        return f"{words}{', with shade' * bool(request.shade)}"
    return f"at {request.light:g} W/m² and cells at {request.temp_cell:g} °C{', with shade' * bool(request.shade)}"


def notes_of(panels: tuple[Panel, ...], request: Request) -> tuple[str, ...]:
    """What the light rests on: gaps, estimates, and hours that hide the edges of clouds."""
    if isinstance(request, Snapshot):
        return ()
    day = day_of(request)
    coarse = (CLOUD_EDGES,) if day.step_h >= COARSE_H and isinstance(request, Days) else ()
    return (*day.notes, *plane_notes(day, panels), *coarse)


def _moving(made: PanelTables) -> tuple[object, ...]:
    """What of the panels changes with the light and takes room for every moment."""
    return made.chains, made.substring_curves, made.panel_curves


def _alone(
    panels: Sequence[Panel], these: Conditions, watts: Array, wanted: Array, part: Callable[[], PanelTables],
    beside: Sequence[PVArray],
) -> None:  # fmt: skip
    """Fill in best watts of some panels, each on its own, without cable; only shaded ones need their curves."""
    shaded = [number for number in wanted.tolist() if uneven(these.light[number])]
    alike: dict[Panel, list[int]] = {}
    for number in wanted.tolist():
        if number not in shaded:
            alike.setdefault(nameless(panels[number]), []).append(number)
    for panel, numbers in alike.items():
        light = np.stack([these.light[number][:, 0, 0, 0] for number in numbers], axis=1)
        found = best_watts(panel, light.ravel(), these.temp_cell[:, numbers].ravel())
        watts[:, numbers] = found.reshape(light.shape)
    if shaded:
        watts[:, shaded] = _alone_in_shade(part(), shaded, beside)


def _alone_in_shade(tables: PanelTables, numbers: Sequence[int], beside: Sequence[PVArray]) -> Array:
    """Best watts of some panels, each on its own (moment, panel); equal panels are worked out once."""
    arrays = {tables.which[number]: PVArray.of_panels(tables, ((number,),)) for number in reversed(numbers)}
    seek_peaks([*arrays.values(), *beside])
    return np.stack([best_power(arrays[tables.which[number]])[1] for number in numbers], axis=1)


def run_circuit(
    light: LitPanels, circuit: Circuit, v_battery: float, *, awake: bool = False, progress: Progress | None = None
) -> Operation:
    """Operating points of one circuit through all moments in order; the controller remembers whether it was awake."""
    return run_at_volts(light, circuit, [v_battery], awake=awake, progress=progress)[0]


def run_at_volts(
    light: LitPanels,
    circuit: Circuit,
    v_battery: Sequence[float],
    *,
    awake: bool = False,
    progress: Progress | None = None,
) -> list[Operation]:
    """`run_circuit` at each of several battery volts; the array is computed once for all of them."""
    operations: list[list[Operation]] = [[] for _ in v_battery]
    chunks = range(len(light))
    for number in chunks if progress is None else progress(chunks):
        array = light.source(number, circuit)
        for before, volts in zip(operations, v_battery, strict=True):
            was = bool(before[-1].awake[-1]) if before else awake
            before.append(operate(array, circuit.controller, volts, awake=was))
    return [_one_after_another(each) for each in operations]


def _one_after_another(operations: Sequence[Operation]) -> Operation:
    """The operations of several stretches of moments as one."""
    if len(operations) == 1:
        return operations[0]
    fields = Operation.__dataclass_fields__
    return Operation(*(np.concatenate([getattr(o, name) for o in operations]) for name in fields))
