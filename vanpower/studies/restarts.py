"""Wirings of a comparison with two local maxima of power, and the volts that tell on which one a tracker sits."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vanpower.components.controllers import BY_SWITCH, RESTART, margins
from vanpower.engine.array import PVArray, hilltops
from vanpower.engine.maxima import maxima
from vanpower.model.light import LitPanels
from vanpower.model.losses import share_of_label
from vanpower.results.numbers import TOO_LITTLE, known
from vanpower.rig import Circuit, Rig
from vanpower.studies.comparison import Comparison

WORTH = 0.05
# share of the power by which the lower of two hills must lie under the higher for a restart to tell; meters and light
# within a minute are 2 to 3 %; no source
MOST_TOLD = 3
# wirings that a paragraph names; the rest is counted
MOST_CHUNKS = 3
# parts of a long request that are looked through, the brightest; no source


@dataclass(frozen=True)
class TwoHills:
    """The two highest power maxima of one circuit, at the moment in which they lie farthest apart.

    Parameters
    ----------
    wiring : str
    v_best, v_other : float
        Array voltage at the higher and at the lower one. [V]
    p_best, p_other : float
        Power there. [W]
    time : str
        Time of day of that moment; empty for a snapshot.
    climbs : bool
        Whether its tracker stays on the first local maximum it finds.

    Examples
    --------
    >>> str(TwoHills("2s", v_best=27.0, v_other=40.0, p_best=110.0, p_other=34.0, time="10:15", climbs=False))
    '2s at 10:15: 110 W at 27 V and 34.0 W at 40 V'
    """

    wiring: str
    v_best: float
    v_other: float
    p_best: float
    p_other: float
    time: str
    climbs: bool

    def __str__(self) -> str:
        when = f" at {self.time}" if self.time else ""
        low, high = sorted([(self.v_best, self.p_best), (self.v_other, self.p_other)])
        return f"{self.wiring}{when}: {known(low[1])} W at {low[0]:.0f} V and {known(high[1])} W at {high[0]:.0f} V"


def two_hills(comparison: Comparison) -> tuple[TwoHills, ...]:
    """Every allowed wiring that has two hills inside its controller's window, and where they lie.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, compare, example
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> (found,) = two_hills(compare(example("bookmobile").wirings(), half))
    >>> str(found)
    '2s: 110 W at 27 V and 34.3 W at 40 V'
    """
    found = []
    for name in comparison.ranking:
        one = comparison.outcomes[name]
        if one.refused is None and one.energy_wh >= TOO_LITTLE:
            pairs = [_of_circuit(comparison, name, one.rig, circuit) for circuit in one.rig.circuits]
            found += [pair for pair in pairs if pair is not None][:1]
    return tuple(found)


def restart_test(comparison: Comparison) -> str:
    """How to tell at the van whether a tracker sits on the lower of two power maxima: volts before and after a restart.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
        Empty where no wiring has two maxima.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, compare, example
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> restart_test(compare(example("bookmobile").wirings(), half))[:60]
    'Two hills of power: 2s: 110 W at 27 V and 34.3 W at 40 V. A '
    """
    found = two_hills(comparison)
    if not found:
        return ""
    first, more = found[0], len(found) - MOST_TOLD
    rest = f" and {more} more" if more > 0 else ""
    keeps = (
        "This tracker may keep the lower one" if first.climbs else "A tracker that does not sweep may keep the lower"
    )
    return (
        f"Two hills of power: {'; '.join(map(str, found[:MOST_TOLD]))}{rest}. {keeps}. {RESTART} From about "
        f"{first.v_other:.0f} V to about {first.v_best:.0f} V with more watts means that {first.wiring} was on the "
        f"lower hill; vanpower hill judges the readings. {BY_SWITCH}"
    )


def _of_circuit(comparison: Comparison, name: str, rig: Rig, circuit: Circuit) -> TwoHills | None:
    """The two hills of one circuit where they lie farthest apart; None where there is one, or a switch instead."""
    if circuit.controller.tracker == "direct" or not _may_have_two(rig, circuit):
        return None
    light = comparison.outcomes[name].model.light
    floor = rig.battery.v_now + margins(circuit.controller)[1]
    widest = {number: _widest(light.array(number, circuit), floor) for number in _brightest(light)}
    number = max(widest, key=lambda chunk: widest[chunk][1])
    row, gap = widest[number]
    if gap <= 0:
        return None
    top = hilltops(light.array(number, circuit).rows(np.array([row])))
    there = np.flatnonzero(top.voltage[0] >= floor)
    best, *others = sorted(there, key=lambda k: -top.power[0][k])
    if not others or top.power[0][others[0]] > (1 - WORTH) * top.power[0][best]:
        return None
    time = light.conditions.time
    when = (
        ""
        if time is None
        else _said(str(time[number * light.chunk + row]), date=len(time) * light.conditions.step_h > 25)
    )
    gives = float(share_of_label(circuit, light)[number * light.chunk + row])
    (v_best, v_other), (p_best, p_other) = (
        (float(values[0][best]), float(values[0][others[0]])) for values in (top.voltage, gives * top.power)
    )
    return TwoHills(name, v_best, v_other, p_best, p_other, when, circuit.controller.tracker == "climb")


def _brightest(light: LitPanels) -> list[int]:
    """The chunks in which the panels give most."""
    watts = light.p_clear.sum(axis=1)
    chunks = [float(watts[first : first + light.chunk].sum()) for first in range(0, len(watts), light.chunk)]
    return sorted(range(len(chunks)), key=lambda number: -chunks[number])[:MOST_CHUNKS]


def _said(time: str, *, date: bool) -> str:
    """A time of day, with its date where there are several."""
    return f"{time[5:10]} {time[11:16]}" if date else time[11:16]


def _may_have_two(rig: Rig, circuit: Circuit) -> bool:
    """Whether more than one group of cells with a diode, or more than one string, can give a hill of its own."""
    panels = [rig.panels[panel] for panel in circuit.wiring.panels]
    return len(panels) > 1 or panels[0].substrings > 1


def _widest(array: PVArray, floor: float) -> tuple[int, float]:
    """The moment in which the best two hills inside the window lie farthest apart, and how far. [W]"""
    rough = maxima(array.curves)
    power = np.where(rough.voltage >= floor, rough.power, np.nan)
    ranked = -np.sort(-np.nan_to_num(power, nan=0.0), axis=1)
    if ranked.shape[1] < 2:
        return 0, 0.0
    gap = np.where(ranked[:, 1] > 0, ranked[:, 0] - ranked[:, 1], 0.0)
    return int(np.argmax(gap)), float(gap.max())
