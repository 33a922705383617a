"""From a rig and what is asked to light on cells, then to curves of panels, strings and whole arrays.

Panel curves do not know the wiring: they are computed once and every wiring is tried on them. An array can be looked
at again more closely around any voltage, which is how a working point is found to many digits. Left out: unlike cells
within a panel.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np

from vanpower import shade, sky
from vanpower.cables import resistance
from vanpower.cells import FRONT_CONTACT, Avalanche, Cell, Chains, chains
from vanpower.curves import (
    Curves,
    Diode,
    Hills,
    best,
    current_at,
    current_of_each,
    highest,
    hills,
    in_parallel,
    in_series,
    settled,
    voltage_at,
    voltage_of_each,
    with_blocking,
    with_resistance,
)
from vanpower.labels import fit_panel
from vanpower.rig import Circuit, Controller, Panel, Request, RoofPlan, Shade, Snapshot
from vanpower.substrings import Branch, Substring, seen_closely, tabulated
from vanpower.working import Bundle, Part, Strand, met

Array = np.ndarray

V_FOLD_SCHOTTKY = 0.0283
# [V] one e-fold of a Schottky diode's current: ideality 1.1 at 25 °C; common practice, no source
I_DROP = 10.0
# [A] current at which a diode's drop is stated; common practice, no source

V_SAME_HILL = 0.01
# [V] two hilltops closer than this are one

LIGHT_DIGITS = 1
# decimals to which light in the roof's shadows is rounded, so that equal cells are found [W/m²]

BLOCKING = Diode(I_DROP / np.expm1(0.45 / V_FOLD_SCHOTTKY), V_FOLD_SCHOTTKY)
# a Schottky blocking diode, 0.45 V at 10 A; common practice, no source


@dataclass(frozen=True, eq=False)
class Conditions:
    """Light on every cell and the heat of every panel, for a list of moments.

    Parameters
    ----------
    light : tuple of ndarray (moment, substring, branch, cell)
        One array a panel. [W/m²]
    temp_cell : ndarray (moment, panel)
        [°C]
    step_h : float
        Hours that each moment stands for.
    time : ndarray (moment,), optional
        Local time of each moment, datetime64; None for a snapshot.

    Examples
    --------
    >>> two = Conditions((np.full((2, 2, 1, 18), 500.0),), np.full((2, 1), 25.0))
    >>> len(two), two.brightest, len(two.moments(slice(0, 1)))
    (2, array([500., 500.]), 1)
    """

    light: tuple[Array, ...]
    temp_cell: Array
    step_h: float = 1.0
    time: Array | None = None

    def __len__(self) -> int:
        return len(self.temp_cell)

    @property
    def brightest(self) -> Array:
        """Light on the best lit cell of all panels, shape (moment,). [W/m²]"""
        return np.max([light.max(axis=(1, 2, 3)) for light in self.light], axis=0)

    def moments(self, index: slice | Array) -> Conditions:
        """Some of the moments."""
        time = None if self.time is None else self.time[index]
        return replace(self, light=tuple(a[index] for a in self.light), temp_cell=self.temp_cell[index], time=time)


Roof = tuple[tuple[Substring, ...], ...]


@dataclass(frozen=True, eq=False)
class PanelCurves:
    """One panel at every moment: the curves of its substrings, and of all of them in series.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, load_rig
    >>> array = array_of(load_rig("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> len(array.parts[0].substrings), float(array.parts[0].whole.voltage.max().round(1))  # volts where it is back-fed
    (2, 24.2)
    """

    substrings: tuple[Curves, ...]
    whole: Curves


Parts = Mapping[int, PanelCurves]
Peaks = tuple[Hills, tuple[Array, Array, Array]]


@dataclass(frozen=True, eq=False)
class Joined:
    """An array in its wiring, with its parts at hand for a closer look.

    Parameters
    ----------
    roof : tuple of tuple of Substring
        Every panel of the rig, substring by substring.
    circuit : Circuit
        Wiring, blocking diodes and cable.
    curves : Curves (moment, point)
        At the controller's terminals.
    strings : tuple of Curves
        Each string's curve before the strings meet.
    parts : mapping
        Curves by panel.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, load_rig
    >>> array = array_of(load_rig("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [part.round(1) for part in array.peaks[1]]  # volts, amps, watts
    [array([18.]), array([11.8]), array([212.6])]
    """

    roof: Roof
    circuit: Circuit
    curves: Curves
    strings: tuple[Curves, ...]
    parts: Parts
    _peaks: list[Peaks] = field(default_factory=list)

    @property
    def peaks(self) -> Peaks:
        """Every hill as the table shows it, and volts, amps and watts of the highest, met exactly."""
        seek_peaks([self])
        return self._peaks[0]

    def on(self, controller: Controller) -> Joined:
        """The same array on another controller, which changes nothing up to its terminals."""
        if controller == self.circuit.controller:
            return self
        return replace(self, circuit=replace(self.circuit, controller=controller))

    def near(self, voltage: Array) -> Joined:
        """The same array known closely around one terminal voltage a moment, shape (moment,). [V]"""
        at = voltage[:, None]
        across = at + current_at(self.curves, at)[0] * resistance(self.circuit.cable)
        keys: dict[tuple[int, int], tuple[int, int]] = {}
        different: dict[tuple[int, int], tuple[Substring, Array]] = {}
        for string, curve in zip(self.circuit.wiring.strings, self.strings, strict=True):
            current = current_at(curve, across)[0]
            for panel, number in ((p, s) for p in string for s in range(len(self.roof[p]))):
                part = self.roof[panel][number]
                keys[panel, number] = key = (id(curve), id(part))
                if key not in different:
                    different[key] = (part, voltage_at(self.parts[panel].substrings[number], current)[0][:, 0])
        seen = dict(zip(different, seen_closely(list(different.values())), strict=True))
        return join(self._with(lambda panel, number: seen[keys[panel, number]]), self.circuit)

    def met(self, voltage: Array, on_hill: Array) -> tuple[Array, Array, Array, Array]:
        """Volts, amps and watts of the hilltop next to the terminal volts (moment,), or just there, and whether met."""
        found = met([self.bundle(voltage)], self._blocking, voltage[None], on_hill[None])
        v, i, p, sure = (a[0] for a in found)
        return v, i, p, sure

    def bundle(self, voltage: Array) -> Bundle:
        """Its strings and their parts about where they work at the terminal volts, shape (moment,)."""
        cable = resistance(self.circuit.cable)
        across = voltage + current_at(self.curves, voltage[:, None])[0][:, 0] * cable
        pairs = zip(self.strings, self.circuit.wiring.strings, strict=True)
        first = {id(curve): (curve, string) for curve, string in pairs}
        often = Counter(map(id, self.strings))
        amps = current_of_each([curve for curve, _ in first.values()], np.repeat(across[None], len(first), axis=0))
        different = [self._different(string) for _, string in first.values()]
        curves = [self.parts[p].substrings[s] for parts in different for p, s in parts]
        volts = iter(voltage_of_each(curves, np.repeat(amps, [len(parts) for parts in different], axis=0)))
        strands = (
            Strand(often[key], current, tuple(Part(self.roof[p][s], n, next(volts)) for (p, s), n in parts.items()))
            for key, current, parts in zip(first, amps, different, strict=True)
        )
        return Bundle(tuple(strands), cable)

    @property
    def _blocking(self) -> Diode | None:
        """The diode in front of every string."""
        return BLOCKING if self.circuit.blocking_diodes else None

    def _different(self, string: tuple[int, ...]) -> dict[tuple[int, int], int]:
        """The first of all equal substrings of a string, by panel and number, and how often each is there."""
        numbered = [(panel, number) for panel in string for number in range(len(self.roof[panel]))]
        often = Counter(id(self.roof[panel][number]) for panel, number in numbered)
        return {place: often.pop(key) for place in numbered if (key := id(self.roof[place[0]][place[1]])) in often}

    def rows(self, index: Array) -> Joined:
        """Some of the moments."""
        parts = {id(part): part for panel in self.circuit.wiring.panels for part in self.roof[panel]}
        curves = [
            self.curves,
            *self.strings,
            *(c for panel in self.parts.values() for c in (*panel.substrings, panel.whole)),
        ]
        some_parts = {key: part.rows(index) for key, part in parts.items()}
        some = {id(curve): curve.rows(index) for curve in curves}
        known = {
            p: PanelCurves(tuple(some[id(c)] for c in panel.substrings), some[id(panel.whole)])
            for p, panel in self.parts.items()
        }
        roof = self._with(lambda panel, number: some_parts[id(self.roof[panel][number])])
        strings = tuple(some[id(curve)] for curve in self.strings)
        return Joined(roof, self.circuit, some[id(self.curves)], strings, known)

    def _with(self, substring: Callable[[int, int], Substring]) -> Roof:
        """The roof with new substrings on this circuit's panels, by (panel, substring)."""
        used = set(self.circuit.wiring.panels)
        return tuple(
            tuple(substring(p, s) for s in range(len(panel))) if p in used else panel
            for p, panel in enumerate(self.roof)
        )


def seek_peaks(arrays: Sequence[Joined]) -> None:
    """Find the `peaks` of several arrays over the same moments, where they are not known yet, all at once.

    Notes
    -----
    At few moments a round for all arrays costs about as much as one for each.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, load_rig
    >>> array = array_of(load_rig("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> seek_peaks([array])
    >>> array.peaks[0].power.round()
    array([[213.]])
    """
    unknown = {id(array._peaks): array for array in arrays if not array._peaks}
    for diode in (None, BLOCKING):
        some = [array for array in unknown.values() if array._blocking is diode]
        if some:
            found = [hills(array.curves) for array in some]
            volts = np.stack([best(each)[0] for each in found])
            bundles = [array.bundle(v) for array, v in zip(some, volts, strict=True)]
            closely = met(bundles, diode, volts, np.full(volts.shape, True))
            for array, each, *spot in zip(some, found, *closely, strict=True):
                array._peaks.append((each, highest(array.curves, each, array, tuple(spot))))


def best_power(array: Joined) -> tuple[Array, Array]:
    """Volts and watts of the highest hill at every moment, seen closely (moment,).

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, load_rig
    >>> array = array_of(load_rig("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> [part.round(1) for part in best_power(array)]
    [array([18.]), array([212.6])]
    """
    volts, _, watts = array.peaks[1]
    return volts, watts


def hilltops(array: Joined) -> Hills:
    """Every local maximum of power, each seen closely, shape (moment, hill).

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, array_of, load_rig, rewired
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> hilltops(array_of(rewired(load_rig("bookmobile"), "2s"), half)).power.round()
    array([[ 34., 110.]])
    """
    rough = hills(array.curves)
    columns: list[list[Array]] = []
    for number in range(rough.voltage.shape[1]):
        there = ~np.isnan(rough.voltage[:, number])
        volts = np.where(there, rough.voltage[:, number], 0.0)
        seen = settled(array.curves, volts, there, array)
        again = [np.abs(seen[0] - other[0]) < V_SAME_HILL for other in columns]
        new = there & ~np.any(again, axis=0) if again else there
        columns.append([np.where(new, values, np.nan) for values in seen])
    voltage, current, power = (np.stack(values, axis=1) for values in zip(*columns, strict=True))
    return Hills(voltage, current, power)


def join(roof: Roof, circuit: Circuit, parts: Parts | None = None) -> Joined:
    """Panels in one circuit's wiring, behind its cable.

    Parameters
    ----------
    parts : mapping, optional
        Curves by panel, where another wiring has them already.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, load_rig
    >>> array = array_of(load_rig("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> again = join(array.roof, array.circuit, array.parts)
    >>> len(again.strings), again.peaks[1][2].round()
    (2, array([213.]))
    """
    known = panel_curves(roof, circuit.wiring.panels) if parts is None else parts
    made: dict[tuple[int, ...], Curves] = {}
    strings = []
    for string in circuit.wiring.strings:
        curves = [known[panel].whole for panel in string]
        key = tuple(map(id, curves))
        if key not in made:
            curve = in_series(curves)
            made[key] = with_blocking(curve, BLOCKING) if circuit.blocking_diodes else curve
        strings.append(made[key])
    behind = with_resistance(in_parallel(strings), resistance(circuit.cable))
    return Joined(roof, circuit, behind, tuple(strings), known)


def panel_curves(roof: Roof, wanted: Sequence[int]) -> Parts:
    """Curves of the wanted panels; no wiring enters. Equal panels, and equal substrings, share one object.

    Examples
    --------
    >>> from vanpower import Snapshot, array_of, load_rig
    >>> array = array_of(load_rig("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> curves = panel_curves(array.roof, (0, 1))
    >>> curves[0].whole is curves[1].whole  # equal panels
    True
    """
    different = {id(part): part for panel in wanted for part in roof[panel]}
    curves = {key: part.curves() for key, part in different.items()}
    keys = {panel: tuple(map(id, roof[panel])) for panel in wanted}
    made = {}
    for key in keys.values():
        if key not in made:
            substrings = tuple(curves[part] for part in key)
            made[key] = PanelCurves(substrings, in_series(substrings))
    return {panel: made[keys[panel]] for panel in wanted}


def lit_cells(panel: Panel, number: int, shade: Sequence[Shade]) -> Array:
    """Share of the light on every cell of the panel with this number, shape (substring, branch, cell).

    Examples
    --------
    >>> from vanpower import load_rig
    >>> panel = load_rig("bookmobile").panels[0]
    >>> lit_cells(panel, 0, [Shade(panel=0, substring=1, lit=0.2)]).mean(axis=(1, 2))
    array([1. , 0.2])
    """
    cells = panel.cells_in_series // panel.substrings
    lit = np.ones((panel.substrings, panel.branches, cells))
    for note in shade:
        if note.panel == number:
            group, half = (
                slice(None) if which is None else slice(which, which + 1) for which in (note.substring, note.branch)
            )
            lit[group, half, : note.cells] *= note.lit
    return lit


@lru_cache(maxsize=256)
def cell_of(panel: Panel) -> Cell:
    """One cell of a panel, from its label: the label's curve shared out over series cells and branches.

    A leak is taken out of the label's own shunt as far as that goes, so that a small one leaves the label as it is.

    Examples
    --------
    >>> from vanpower import load_rig
    >>> cell = cell_of(load_rig("bookmobile").panels[0])
    >>> round(cell.i_light, 2), round(cell.r_series, 4)
    (6.25, 0.0055)
    """
    fit = fit_panel(panel)
    share = panel.branches / panel.cells_in_series
    alpha = (fit.panel.alpha_isc_pct_per_k or 0.0) / 100 * panel.i_sc
    r_leak = np.inf if panel.r_leak is None else panel.r_leak
    vanishing = max(1.0 / fit.r_shunt - 1.0 / r_leak, 0.0)
    return Cell(
        i_light=fit.i_light / panel.branches,
        i_0=fit.i_0 / panel.branches,
        a=fit.a / panel.cells_in_series,
        r_series=fit.r_series * share,
        r_shunt=share / vanishing if vanishing else np.inf,
        alpha=alpha / panel.branches,
        r_leak=r_leak * share,
        e_gap=fit.e_gap,
    )


def bypass_diode(panel: Panel) -> Diode | None:
    """The diode across each substring, from its drop at 10 A.

    Examples
    --------
    >>> from vanpower import load_rig
    >>> diode = bypass_diode(load_rig("bookmobile").panels[0])
    >>> round(float(diode.drop(10.0)), 2)
    0.5
    """
    if not panel.bypass_diodes:
        return None
    return Diode(I_DROP / np.expm1(panel.v_bypass / V_FOLD_SCHOTTKY), V_FOLD_SCHOTTKY)


def roof_of(panels: Sequence[Panel], conditions: Conditions, *, i_back: float = 0.0) -> Roof:
    """Every panel's substrings in their light and heat; equal chains are worked out once.

    Parameters
    ----------
    panels : sequence of Panel
    conditions : Conditions
        Light (moment, substring, branch, cell) for each panel.
    i_back : float
        Amps up to which they may be fed backwards, where that is more than the brightest panel gives. [A]

    Examples
    --------
    >>> from vanpower import Snapshot, load_rig
    >>> panels = load_rig("bookmobile").panels
    >>> roof = roof_of(panels, conditions(panels, Snapshot(light=700, temp_cell=30)))
    >>> [len(panel) for panel in roof], roof[0][0] is roof[1][1]  # equal substrings are one object
    ([2, 2], True)
    """
    return roof_of_cells([cell_of(p) for p in panels], [bypass_diode(p) for p in panels], conditions, i_back=i_back)


def roof_of_cells(
    cells: Sequence[Cell],
    diodes: Sequence[Diode | None],
    conditions: Conditions,
    avalanche: Avalanche = FRONT_CONTACT,
    *,
    i_back: float = 0.0,
) -> Roof:
    """As `roof_of`, for cells and diodes given by their parameters.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> even = Conditions((np.full((1, 2, 1, 18), 500.0),), np.full((1, 1), 25.0))
    >>> float(roof_of_cells([one], [None], even)[0][0].curves().voltage.max().round(1))  # volts where it is back-fed
    11.9
    """
    i_top = max(i_back, 1.05 * max(_brightest(c, light) for c, light in zip(cells, conditions.light, strict=True)))
    roof = {}
    for diode in dict.fromkeys(diodes):
        these = [p for p, own in enumerate(diodes) if own == diode]
        sets = _chains_of(cells, conditions, these)
        tables = iter(tabulated([chain for p in these for chain in sets[p]], i_top, diode, avalanche))
        shared: dict[tuple[int, ...], Substring] = {}
        for p in these:
            roof[p] = _panel_of(conditions.light[p].shape[1:3], tables, diode, shared)
    return tuple(roof[p] for p in range(len(cells)))


def _brightest(cell: Cell, light: Array) -> float:
    """Most amps a panel of such cells can give in this light, whatever its branches."""
    return float(light.max(initial=1.0)) / 1000.0 * cell.i_light * light.shape[2]


def _chains_of(cells: Sequence[Cell], conditions: Conditions, these: Sequence[int]) -> dict[int, list[Chains]]:
    """Chains of some panels, substring by substring and branch by branch, a row a moment; equal panels at once."""
    alike: dict[tuple[Cell, tuple[int, ...]], list[int]] = {}
    for p in these:
        alike.setdefault((cells[p], conditions.light[p].shape[1:]), []).append(p)
    found: dict[int, list[Chains]] = {}
    for (cell, (substrings, branches, number)), panels in alike.items():
        light = np.stack([conditions.light[p] for p in panels]).transpose(0, 2, 3, 1, 4).reshape(-1, number)
        own = substrings * branches
        every = chains(cell, light, np.repeat(conditions.temp_cell.T[panels], own, axis=0).ravel())
        step = len(conditions)
        each = [every.rows(slice(first, first + step)) for first in range(0, len(light), step)]
        found |= {p: each[k * own : (k + 1) * own] for k, p in enumerate(panels)}
    return found


def _panel_of(
    shape: tuple[int, ...], tables: Iterator[Branch], diode: Diode | None, shared: dict[tuple[int, ...], Substring]
) -> tuple[Substring, ...]:
    """The next tables, put together as one panel of (substring, branch); equal substrings are one object."""
    made = []
    for _ in range(shape[0]):
        branches = tuple(next(tables) for _ in range(shape[1]))
        made.append(shared.setdefault(tuple(map(id, branches)), Substring(branches, diode)))
    return tuple(made)


def conditions(panels: tuple[Panel, ...], request: Request, roof: RoofPlan | None = None) -> Conditions:
    """Light on every cell and the heat of every panel, for what was asked.

    Parameters
    ----------
    panels : tuple of Panel
        All panels of the rig.
    request : Snapshot, Outlook or Parked
        One moment set by hand, a real day or a made sky; shade notes dim whole cells, direct and diffuse light alike.
    roof : RoofPlan, optional
        What throws shade under a sky; a moment set by hand has no sun and leaves it out.

    Examples
    --------
    >>> from vanpower import Snapshot, load_rig
    >>> conditions(load_rig("bookmobile").panels, Snapshot(light=700, temp_cell=30)).temp_cell.shape  # moment, panel
    (1, 2)
    """
    for note in request.shade:
        _check_note(note, panels)
    lit = [lit_cells(panel, number, request.shade) for number, panel in enumerate(panels)]
    if isinstance(request, Snapshot):
        temp = np.full((1, len(panels)), request.temp_cell)
        return Conditions(tuple(request.light * share[None] for share in lit), temp)
    day = sky.day_of(request)
    planes = [sky.plane_light(day, panel, request.heading_deg) for panel in panels]
    heat = [sky.cell_temperature(day, panel, plane) for panel, plane in zip(panels, planes, strict=True)]
    light = tuple(plane[:, None, None, None] * share for plane, share in zip(planes, lit, strict=True))
    if roof is not None:
        light = _on_roof(roof, panels, day, request.heading_deg, light, lit)
    return Conditions(light, np.stack(heat, axis=1), day.step_h, day.table.index.tz_localize(None).to_numpy())


def _on_roof(
    roof: RoofPlan,
    panels: tuple[Panel, ...],
    day: sky.Day,
    heading_deg: float,
    light: tuple[Array, ...],
    lit: list[Array],
) -> tuple[Array, ...]:
    """Light on every cell with the roof's shadows; panels without a place on the roof keep theirs."""
    beams = sky.beams_of(day)
    shaded = shade.roof_shade(roof, panels, beams.elevation, beams.azimuth, heading_deg=heading_deg)
    beam, diffuse = (part[:, None, None, None] for part in beams.on_pitch(shaded.suns[:, 2], roof.slope_deg))
    return tuple(
        plain if share is None else np.round((beam * share + diffuse * view) * note, LIGHT_DIGITS)
        for plain, share, view, note in zip(light, shaded.lit, shaded.view, lit, strict=True)
    )


def _check_note(note: Shade, panels: Sequence[Panel]) -> None:
    """Refuse a shade note for a panel, substring or cell that is not there."""
    if note.panel >= len(panels):
        raise ValueError(f"shade note {note.place}: there are {len(panels)} panels, P1 to P{len(panels)}.")
    panel = panels[note.panel]
    if note.substring is not None and note.substring >= panel.substrings:
        groups = f"has groups 1 to {panel.substrings} under a bypass diode"
        raise ValueError(f"shade note {note.place}: {panel.name} {groups}.")
    if note.branch is not None and panel.branches == 1:
        slip = "If it is half-cut, write branches = 2 beside its cells_in_series; else leave the half out"
        raise ValueError(f"shade note {note.place}: {panel.name} is not half-cut and has no halves. {slip}.")
    if note.branch is not None and note.branch >= panel.branches:
        raise ValueError(f"shade note {note.place}: {panel.name} has halves 1 to {panel.branches}.")
    cells = panel.cells_in_series // panel.substrings
    if note.cells is not None and not 1 <= note.cells <= cells:
        where = "in each half" if panel.branches > 1 else "in a row"
        raise ValueError(f"shade note {note.place}: a group of {panel.name} has 1 to {cells} cells {where}.")
