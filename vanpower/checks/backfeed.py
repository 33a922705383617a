"""Reverse current into a string: from parallel strings, at open circuit or into a fault, and from the battery; and
whether a fuse opens on it. Numbers only; `circulating` and `fuses` make verdicts of them.
"""

from __future__ import annotations

import math
from collections import Counter
from dataclasses import dataclass, replace
from functools import lru_cache
from itertools import pairwise

import numpy as np

from vanpower.checks.common import LIGHT_TOP
from vanpower.engine.array import PVArray
from vanpower.engine.curves import current_at, open_circuit_voltage, voltage_at
from vanpower.model.conditions import even_light
from vanpower.model.light import LitPanels
from vanpower.rig import Circuit, Controller, Panel, Rig, nameless

TESTED = 1.35
# a panel carries so many times its largest fuse backwards for two hours without fire; IEC 61730-2 MST 26
NOT_OPENING, OPENING = 1.13, 1.45
# a photovoltaic fuse carries so many times its rating for ever, and is sure to open within its conventional time (an
# hour up to 63 A) from so many times; IEC 60269-6 (gPV), as the German committee of the IEC prints both on its page
I_ROUNDING = 1e-9
# [A] what is left of none where strings of equal volts meet; found 2e-14
LIGHT_EDGE = 1600.0
# [W/m²] brightest at the edge of a cloud, for seconds to minutes; Yordanov et al., Solar Energy (May 2015), near 58 °N
CIRCULATES_LITTLE, CIRCULATES_WARM, CIRCULATES_HOT = 0.05, 0.25, 1.0
# shares of a panel's own watts that may flow into it all day: what panels of one label push into each other by the
# spread of their volts; what warms it by 2 to 3 K; what idling in the sun adds to a working one. No source


@dataclass(frozen=True, kw_only=True)
class Circulation:
    """Circulating current between parallel strings while no power is drawn, into the panel that suffers most.

    Parameters
    ----------
    string, panel : int
        Which string is fed, and which of the rig's panels takes most for its size; counted from 0.
    amps, watts : float
        Into that panel in full sun, cells as cold or as hot as is worst. [A, W]
    share : float
        The watts, in panels of its kind.
    amps_edge : float
        For seconds to minutes at the edge of a cloud. [A]
    fed_by : tuple of int
        Strings that drive it, counted from 0.

    Examples
    --------
    >>> Circulation(string=0, panel=0, amps=2.7, watts=58.0, share=0.72, amps_edge=3.3, fed_by=(2,)).fed_by
    (2,)
    """

    string: int
    panel: int
    amps: float
    watts: float
    share: float
    amps_edge: float
    fed_by: tuple[int, ...]


def opens(amps: float, fuse: float) -> bool:
    """Whether a string's fuse is sure to open at this current; between 1.13 and 1.45 times its rating it may not.

    Examples
    --------
    >>> opens(11.3, 10.0), opens(13.7, 10.0), opens(14.5, 10.0)
    (False, False, True)
    """
    return amps >= OPENING * fuse


def passed(amps: float, fuse: float) -> float:
    """Current that may flow on through a fuse: all of it, or as much as the fuse is not sure to open at. [A]

    Examples
    --------
    >>> passed(13.7, 10.0), passed(20.0, 10.0)
    (13.7, 14.5)
    """
    return min(amps, OPENING * fuse)


def back_current(rig: Rig, circuit: Circuit, string: int) -> float:
    """Label amps that the other strings of a circuit can push into one that is shorted. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> back_current(rig, rig.circuits[0], 0)  # the other two push into P1
    13.8
    """
    others = [panels for k, panels in enumerate(circuit.wiring.strings) if k != string]
    return sum(max(rig.panels[p].i_sc for p in panels) for panels in others)


def feeds_back(controller: Controller) -> bool:
    """Whether battery current can flow through a controller back to the panels.

    Where its sheet does not say (`feeds_back` is None) a plain switch is taken to, a converter is taken to block.

    Examples
    --------
    >>> plain = Controller(name="switch", v_pv_max=50.0, i_charge_max=20.0, tracker="direct")
    >>> feeds_back(plain), feeds_back(Controller(name="converter", v_pv_max=100.0, i_charge_max=30.0))
    (True, False)
    """
    return controller.tracker == "direct" if controller.feeds_back is None else controller.feeds_back


def battery_push(circuit: Circuit) -> float:
    """Amps that the battery can push into the roof cable for long: what its fuse lets through; 0 where it cannot. [A]

    A battery without a fuse gives thousands of amps, counted without end.

    Examples
    --------
    >>> from vanpower import example
    >>> battery_push(example("bookmobile").circuits[0])  # a converter
    0.0
    """
    if not feeds_back(circuit.controller):
        return 0.0
    return min(circuit.i_fuse_array or math.inf, circuit.i_fuse_battery or math.inf)


def label_limits(rig: Rig, circuit: Circuit) -> list[float]:
    """Smallest "maximum series fuse" on the labels of each string; NaN where a label gives none. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> label_limits(rig, rig.circuits[0])
    [10.0, 10.0, 15.0]
    """
    labels = [[rig.panels[p].i_max_fuse for p in string] for string in circuit.wiring.strings]
    return [
        min((a for a in amps if a is not None), default=math.nan) if None not in amps else math.nan for amps in labels
    ]


def circulation(rig: Rig, circuit: Circuit) -> Circulation | None:
    """Circulating current between strings of unlike voltage while no power is drawn; None where strings are alike.

    Battery full, controller asleep or isolator open at the controller: the strings stay joined on the roof, and the
    tall ones drive current backwards through the cells of the short ones. A blocking diode in each string stops it;
    the numbers are those without.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> found = circulation(rig, rig.circuits[0])  # the new panel feeds the two old ones of 80 W
    >>> found.panel, round(found.amps, 1), round(found.watts), round(found.amps_edge, 1)
    (0, 2.7, 58, 3.3)
    """
    strings = tuple(tuple(_plain(rig.panels[p]) for p in string) for string in circuit.wiring.strings)
    if len({frozenset(Counter(string).items()) for string in strings}) == 1:
        return None
    found = _flows(strings, (rig.climate.temp_coldest, rig.climate.temp_cell_hottest))
    string, place = found.string, found.panel
    return replace(found, panel=circuit.wiring.strings[string][place])


def too_much(found: Circulation, limit: float) -> bool:
    """Whether a circulating current is too much: above the label's fuse or the panel's own watts, or at a cloud's edge.

    A fuse does not enter: a legal one is larger than 1.5 times the string's amps and sure to open only from 2.2 times
    them, where the panel takes more than its own watts already.

    Examples
    --------
    >>> found = Circulation(string=0, panel=0, amps=6.0, watts=90.0, share=0.9, amps_edge=10.0, fed_by=(1,))
    >>> too_much(found, 10.0), too_much(found, 5.0), too_much(found, float("nan"))
    (False, True, False)
    """
    return found.share > CIRCULATES_HOT or found.amps > limit or found.amps_edge > TESTED * limit


def must_stay_apart(rig: Rig, circuit: Circuit) -> bool:
    """Whether unlike strings burn a panel with nothing drawn, which no fuse mends.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> must_stay_apart(rig, rig.circuits[0])
    False
    """
    found = None if circuit.blocking_diodes else circulation(rig, circuit)
    return found is not None and too_much(found, label_limits(rig, circuit)[found.string])


@lru_cache(maxsize=256)
def _plain(panel: Panel) -> Panel:
    """What decides a panel's curve in a given light; how it lies and what its label allows do not."""
    flat = replace(nameless(panel), tilt_deg=0.0, azimuth_deg=180.0, turn_deg=0.0, mount="gap")
    return replace(flat, i_max_fuse=None, p_label=None)


@lru_cache(maxsize=512)
def _flows(strings: tuple[tuple[Panel, ...], ...], temps: tuple[float, float]) -> Circulation:
    """The worst panel of the strings, by its number within its string."""
    panels = tuple(panel for string in strings for panel in string)
    lights, heat = np.repeat([LIGHT_TOP, LIGHT_EDGE], 2), np.tile(temps, 2)
    edge = LIGHT_EDGE / LIGHT_TOP * 1.05 * sum(max(panel.i_sc for panel in string) for string in strings)
    light = LitPanels(panels, even_light(panels, lights, heat), None, len(lights), i_back=edge)
    ends = np.cumsum([0, *map(len, strings)])
    numbers = tuple(tuple(range(a, b)) for a, b in pairwise(ends))
    tables = light.part(0)
    array = PVArray.of_panels(tables, numbers)
    volts = open_circuit_voltage(array.curves)[:, None]
    met = [current_at(curve, volts)[0] for curve in array.each_string]
    amps = [np.where(np.abs(each) < I_ROUNDING, 0.0, each) for each in met]
    fed_by = tuple(k for k, given in enumerate(amps) if given[:2].max() > 0)
    found = []
    for k, string in enumerate(numbers):
        for place, number in enumerate(string):
            across = voltage_at(tables.curve(number), amps[k])[0]
            found.append(_fed(k, place, panels[number], -amps[k][:, 0], across[:, 0], fed_by))
    return max(found, key=lambda one: (one.share, one.amps))


def _fed(
    string: int, place: int, panel: Panel, back: np.ndarray, across: np.ndarray, fed_by: tuple[int, ...]
) -> Circulation:
    """What one panel takes in its worst moment of full sun, and of a cloud's edge."""
    back = np.maximum(back, 0.0)
    watts = float((back * across)[:2].max())
    return Circulation(
        string=string, panel=place, amps=float(back[:2].max()), watts=watts, share=watts / panel.p_mp,
        amps_edge=float(back[2:].max()), fed_by=fed_by,
    )  # fmt: skip
