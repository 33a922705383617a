"""What may be wrong with an array, and what each cause does to this rig's watts and volts in any light.

Each cause is the rig itself with something changed: a group of cells dark, a string taken out, a leak, a lower current
limit, one panel without the sun itself for two hours, a plain switch in place of the tracker. The tables come from the
same model as every other answer. Left out: more than one cause at once, and whatever is not on the list; "a loss"
stands for those.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from vanpower.model.conditions import even_light
from vanpower.model.rig_in_light import RigModel
from vanpower.rig import Circuit, Panel, Rig, Shade, Wiring

Array = np.ndarray

SOUND, DIRT, LOSS = "sound", "dirt", "loss"
GROUP, PANEL, LEAK, LIMIT, SHADOW, TIED = "group", "panel", "leak", "limit", "shadow", "tied"
NAMES = {
    "sound": "as it should be", "dirt": "dirt on the glass", "group": "a group of cells bypassed",
    "panel": "a panel without output", "leak": "a leaky panel", "limit": "a lower current limit",
    "shadow": "a new shadow on one panel", "tied": "the tracker stuck at the battery's volts",
    "loss": "a loss without a name",
}  # fmt: skip
# what tables and sentences call them
LIGHTS = np.concatenate([[0.0], np.geomspace(4.0, 1500.0, 23)])
# [W/m²] at which a cause's watts are worked out; between them straight lines, as far as 0.3 % off
HEATS = np.linspace(-30.0, 90.0, 11)
# [°C] of cells, likewise
LIT = (0.1, 0.35, 0.7)
# share of the light that one panel keeps without the sun itself, at which a shadow is worked out
DIRT_STEP, DIRT_STEPS = 0.05, 6
# share of the light, and how many steps of dirt are told apart
DIRT_SMALL = 1
# steps of dirt that are no fault; 5 %, no source
LOSSES = (0.12, 0.25, 0.55)
# share of the light that a loss without a name takes; the standing gain makes up for what lies between
LIMITS, LIMIT_SMALL = (0.85, 0.7, 0.55, 0.4), 0.8
# of what the array or the controller can give at most, and from where on it is no fault: it takes a
# twentieth of a clear day at most, and haze, heat and a label as much of the highest watts; no source
LEAKS = (18.0, 9.0)
# times v_mp / i_mp of the panel: 55 and 28 ohm across 100 W of 36 cells, whose ratio is 3.1 ohm; no source
WINDOWS = ((8.0, 10.0), (10.0, 12.0), (12.0, 14.0), (14.0, 16.0))
# [h] by the sun, in which a shadow falls
ALWAYS = (None,)
# what is wrong all day
SAME_SHAPE = 0.02
# share within which two causes are one for watts and volts alike; no source


@dataclass(frozen=True, eq=False)
class Behaviour:
    """Watts and volts of an array over light and heat, each (light, heat).

    Parameters
    ----------
    p : ndarray
        Into the battery. [W]
    v_work, v_oc : ndarray
        Where the tracker holds it, and without load. [V]
    """

    p: Array
    v_work: Array
    v_oc: Array


@dataclass(frozen=True, eq=False)
class Cause:
    """One thing that may be so, and how it behaves.

    Parameters
    ----------
    kinds : tuple of str
        What it may be called; several where watts and volts do not tell them apart.
    size : float
        How far it goes: groups, panels, share of the light or of the limit, ohms.
    tables : tuple of Behaviour
        One; of a shadow four, with the shaded panel at `LIT` of the light and at all of it.
    dim : float
        Share of the light that is taken from all panels.
    window : (float, float), optional
        Hours by the sun outside which nothing is wrong.
    circuit : int
        Of which controller, counted from 0.
    small : bool
        Whether it takes so little that nobody need be told.
    """

    kinds: tuple[str, ...]
    size: float
    tables: tuple[Behaviour, ...]
    dim: float = 0.0
    window: tuple[float, float] | None = None
    circuit: int = 0
    small: bool = False

    @property
    def kind(self) -> str:
        """What it is called first."""
        return self.kinds[0]

    @property
    def is_fault(self) -> bool:
        """Whether a person should be told."""
        return self.kind != SOUND and not self.small


def causes_of(rig: Rig, circuits: tuple[int, ...]) -> list[Cause]:
    """Every cause that is told apart from the sound array, for the circuits whose watts are counted together.

    Parameters
    ----------
    rig : Rig
    circuits : tuple of int
        Controllers whose watts a history adds up, counted from 0.

    Examples
    --------
    >>> from vanpower import example
    >>> [(cause.kinds, round(cause.size, 2)) for cause in causes_of(example("bookmobile"), (0,)) if cause.dim == 0][:3]
    [(('sound',), 0.0), (('panel', 'group'), 1.0), (('panel',), 2.0)]
    """
    sound = [_behaviour(rig, rig.circuits[number]) for number in circuits]
    whole = _together(sound)
    found = [Cause((SOUND,), 0.0, (whole,))]
    found += [Cause((DIRT,), DIRT_STEP * step, (whole,), dim=DIRT_STEP * step, small=step <= DIRT_SMALL)
              for step in range(1, DIRT_STEPS + 1)]  # fmt: skip
    found += [Cause((LOSS,), share, (whole,), dim=share) for share in LOSSES]
    for place, number in enumerate(circuits):
        for kind, size, changed, windows in _changes(rig, rig.circuits[number]):
            behaviour = [_together([*sound[:place], one, *sound[place + 1 :]]) for one in changed]
            tables = (*behaviour, whole) if kind == SHADOW else tuple(behaviour)
            small = kind == LIMIT and size > LIMIT_SMALL * _most_amps(rig, rig.circuits[number])
            for window in windows:
                _add(found, Cause((kind,), size, tables, window=window, circuit=number, small=small))
    return found


def _add(found: list[Cause], new: Cause) -> None:
    """Add a cause, or its name to one that looks alike; nothing where it changes nothing."""
    if new.window is not None:
        found.append(new)
        return
    for k, old in enumerate(found):
        if old.window is None and old.dim == 0 and _alike(old.tables[0], new.tables[0]):
            if old.kind != SOUND and new.kind not in old.kinds:
                found[k] = replace(old, kinds=(*old.kinds, new.kind))
            return
    found.append(new)


def _alike(one: Behaviour, other: Behaviour) -> bool:
    """Whether neither watts nor volts tell them apart in light of 50 W/m² and more."""
    bright = LIGHTS >= 50.0
    pairs = ((one.p, other.p), (one.v_work, other.v_work), (one.v_oc, other.v_oc))
    return all(bool((np.abs(a - b)[bright] <= SAME_SHAPE * np.maximum(a, b)[bright].max()).all()) for a, b in pairs)


Change = tuple[str, float, list[Behaviour], tuple[tuple[float, float] | None, ...]]


def _changes(rig: Rig, circuit: Circuit) -> Iterator[Change]:
    """What may be wrong with one circuit: its kind, how far it goes, the tables, and the hours of each such cause."""
    first = circuit.wiring.strings[0]
    panel = rig.panels[first[0]]
    yield from _parts_gone(rig, circuit, panel)
    for times in LEAKS:
        r_leak = times * panel.v_mp / panel.i_mp
        leaky = rig.with_panels(only=(first[0],), r_leak=r_leak)
        yield LEAK, r_leak, [_behaviour(leaky, circuit)], ALWAYS
    most = _most_amps(rig, circuit)
    for share in LIMITS:
        limited = replace(circuit.controller, i_charge_max=max(share * most, 0.5))
        yield LIMIT, share * most, [_behaviour(rig, replace(circuit, controller=limited))], ALWAYS
    shaded = [_behaviour(rig, circuit, (Shade(panel=first[0], lit=lit),)) for lit in LIT]
    yield SHADOW, 1.0, shaded, WINDOWS
    if circuit.controller.tracker != "direct":
        tied = replace(circuit.controller, tracker="direct")
        yield TIED, 1.0, [_behaviour(rig, replace(circuit, controller=tied))], ALWAYS


def _parts_gone(rig: Rig, circuit: Circuit, panel: Panel) -> Iterator[Change]:
    """Panels and groups of cells that give nothing."""
    strings = circuit.wiring.strings
    if len(strings) > 1:
        for gone in (1, 2)[: len(strings) - 1]:
            fewer = replace(circuit, wiring=Wiring(strings=strings[gone:]))
            yield PANEL, float(gone * len(strings[0])), [_behaviour(rig, fewer)], ALWAYS
    elif len(strings[0]) > 1:
        yield PANEL, 1.0, [_behaviour(rig, circuit, (Shade(panel=strings[0][0], lit=0.0),))], ALWAYS
    for groups in (1, 2):
        dark = tuple(
            Shade(panel=number, substring=group, lit=0.0) for number, group in _groups(rig, strings[0], groups)
        )
        if len(dark) == groups:
            yield GROUP, float(groups), [_behaviour(rig, circuit, dark)], ALWAYS
    nothing = np.zeros((len(LIGHTS), len(HEATS)))
    yield PANEL, float(len(circuit.wiring.panels)), [Behaviour(nothing, nothing, nothing)], ALWAYS


def _groups(rig: Rig, string: tuple[int, ...], count: int) -> list[tuple[int, int]]:
    """The first groups of cells of a string, panel after panel."""
    every = [(number, group) for number in string for group in range(rig.panels[number].substrings)]
    return every[:count] if len(every) > count else []


def _most_amps(rig: Rig, circuit: Circuit) -> float:
    """Charge amps that the array can reach, or the controller lets through. [A]"""
    p_label = sum(rig.panels[number].p_mp for number in circuit.wiring.panels)
    return min(circuit.controller.i_charge_max, 0.9 * p_label / rig.battery.v_now)


def _behaviour(rig: Rig, circuit: Circuit, dark: tuple[Shade, ...] = ()) -> Behaviour:
    """Watts and volts of one circuit over light and heat, its controller awake wherever it can stay so."""
    light, heat = np.meshgrid(np.maximum(LIGHTS, 0.5), HEATS, indexing="ij")
    model = RigModel(rig, even_light(rig.panels, light.ravel(), heat.ravel(), dark))
    keen = replace(circuit.controller, v_start_margin=circuit.controller.v_hold_margin)
    now = model.operation(replace(circuit, controller=keen), rig.battery.v_now, awake=True)
    p, v_work, v_oc = (each.reshape(light.shape).copy() for each in (now.p_battery, now.v_array, now.v_oc))
    p[0] = v_work[0] = v_oc[0] = 0.0
    return Behaviour(p, v_work, v_oc)


def _together(parts: list[Behaviour]) -> Behaviour:
    """Several circuits whose watts add up; volts are those of the first."""
    return Behaviour(np.sum([part.p for part in parts], axis=0), parts[0].v_work, parts[0].v_oc)
