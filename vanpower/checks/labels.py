"""Labels that contradict themselves, and values that are not on them."""

from __future__ import annotations

import re
from collections.abc import Iterable

import numpy as np

from vanpower.checks.common import cold_volts, rounded_up, string_voltage, tallest_string
from vanpower.checks.volts import TEMP_WARM_DAWN
from vanpower.components.panel_cells import cell_of
from vanpower.components.single_diode import fit_panel, gaps, steep_gaps
from vanpower.engine.cells import chains, max_power
from vanpower.engine.constants import LIGHT_REFERENCE, TEMP_REFERENCE
from vanpower.results.numbers import known
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Panel, Rig

WATTS_AGREE = 0.02
# share within which the printed watts are volts times amps; rounding to three digits explains less; no source
VMP_OVER_VOC, IMP_OVER_ISC = (0.75, 0.85), (0.85, 0.985)
# 1st to 99th percentile over the groups of tests/reference/cec_percentiles.csv, rounded outwards
V_PER_CELL = (0.57, 0.75)
# [V] the same at open circuit, but for those of 72 cells, of which some are listed with more than they have; the upper
# bound leaves room for heterojunction cells, from memory
GAMMA_BELOW_BETA = (0.01, 0.23)
# [%/K] how much faster power falls with heat than volts: all but 1 % at either end of the 20 946 silicon panels in the
# CEC table of 2019 that comes with pvlib
NMOT_SHARE = (0.70, 0.78)
# watts at 800 W/m² and cells at 42 to 48 °C, as sheets print them beside the label's, over the label's: 0.8 times what
# power coefficients of -0.29 to -0.46 %/K leave
TEMP_HOT, HOT_AGREES = 60.0, 0.02
# [°C] cells on a hot roof, where a power coefficient is told in watts; and the share of the watts there from which the
# label's and the curve's own are called unlike: a silicon curve's own lay within 1.1 % for every panel of the kit that
# prints one; no source

BASIS = "ratios of 98 of 100 silicon panels in the CEC table of 2019; volts times amps against printed watts"
ODD = "Measure a panel whose label is odd before trusting any other answer."
NO_DIODES = "Shaded cells of a panel without bypass diodes are driven backwards and can burn; keep shade off it."
# cautions about panels


def contradictions(panel: Panel) -> list[str]:
    """Contradictions on a label, a sentence each; the first is certain if it names printed watts.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> contradictions(Panel(name="cheap", p_label=120.0, **label))
    ['prints 120 W, and 17.8 V x 5.6 A = 99.7 W']
    >>> contradictions(Panel(name="135 W", **label))
    ['is called 135 W, and 17.8 V x 5.6 A = 99.7 W; are volts and amps those at NMOT or NOCT? Those at 1000 W/m² count']
    """
    said = []
    if not watts_agree(panel):
        printed = panel.p_label or panel.p_mp
        said.append(f"prints {printed:g} W, and {_as_at_nmot(panel, printed) or _watts(panel)}")
    named = None if panel.p_label else re.search(r"\b(\d{2,4})\s*Wp?\b", panel.name)
    if named and (nmot := _as_at_nmot(panel, float(named[1]))):
        said.append(f"is called {named[1]} W, and {nmot}")
    said += _ratio("Vmp / Voc", panel.v_mp / panel.v_oc, VMP_OVER_VOC, "")
    said += _ratio("Imp / Isc", panel.i_mp / panel.i_sc, IMP_OVER_ISC, "")
    said += _ratio("Voc a cell", panel.v_oc / panel.cells_in_series, V_PER_CELL, " V; is the count of cells right?")
    beta, gamma = panel.beta_voc_pct_per_k, panel.gamma_pmp_pct_per_k
    if beta is not None and gamma is not None:
        low, high = GAMMA_BELOW_BETA
        if not low <= beta - gamma <= high:
            swapped = " Are the two swapped?" if gamma > beta else ""
            falls = f"power falls {-gamma:g} %/K and volts {-beta:g} %/K"
            said.append(f"{falls}, and power falls {low:g} to {high:g} %/K faster than volts.{swapped}")
    return said


def _watts(panel: Panel) -> str:
    """Volts times amps, as a sum."""
    return f"{panel.v_mp:g} V x {panel.i_mp:g} A = {known(panel.p_mp)} W"


def _as_at_nmot(panel: Panel, printed: float) -> str:
    """Volts times amps where they look like a sheet's second column; empty where they do not."""
    low, high = NMOT_SHARE
    nmot = "are volts and amps those at NMOT or NOCT? Those at 1000 W/m² count"
    return f"{_watts(panel)}; {nmot}" if low <= panel.p_mp / printed <= high else ""


def odd_labels(panels: Iterable[Panel]) -> str:
    """What is odd about labels, for answers that hold a meter's readings against them; empty where nothing is.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> print(odd_labels([Panel(name="cheap", p_label=120.0, **label)]))
    The label itself is odd (cheap prints 120 W, and 17.8 V x 5.6 A = 99.7 W): a reading outside may be its fault.
    >>> odd_labels([Panel(name="sound", p_label=100.0, **label)])
    ''
    """
    said = dict.fromkeys(f"{panel.name} {text}" for panel in panels for text in contradictions(panel))
    return f"The label itself is odd ({'; '.join(said)}): a reading outside may be its fault." if said else ""


def watts_agree(panel: Panel) -> bool:
    """Whether the printed watts, if any, are volts times amps.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> watts_agree(Panel(name="100 W", p_label=100.0, **label)), watts_agree(Panel(name="?", p_label=120.0, **label))
    (True, False)
    """
    return panel.p_label is None or abs(panel.p_mp / panel.p_label - 1.0) <= WATTS_AGREE


def power_in_heat(panel: Panel) -> tuple[float, float, float]:
    """Power coefficient of the fitted curve at 25 °C, and watts in full sun at 60 °C by it and by the label's own.

    Returns
    -------
    tuple of float
        [%/K, W, W] The last is NaN where the label gives none. Every answer of the kit rests on the curve.

    Examples
    --------
    >>> from vanpower import example
    >>> [round(value, 2) for value in power_in_heat(example("bookmobile").panels[0])]
    [-0.37, 95.07, 94.19]
    """
    temps = np.array([TEMP_REFERENCE - 1.0, TEMP_REFERENCE + 1.0, TEMP_HOT])
    cells = chains(cell_of(panel), np.full((3, 1), LIGHT_REFERENCE), temps)
    cold, hot, roof = panel.cells_in_series * panel.branches * max_power(cells)
    gamma = panel.gamma_pmp_pct_per_k
    by_label = float("nan") if gamma is None else panel.p_mp * (1.0 + gamma / 100.0 * (TEMP_HOT - TEMP_REFERENCE))
    return float(100.0 * (hot - cold) / (hot + cold)), float(roof), by_label


def _heat_words(panel: Panel) -> str:
    """Both power coefficients of a label that prints one, and what they mean on a hot roof."""
    own, by_curve, by_label = power_in_heat(panel)
    return (
        f"power falls {-(panel.gamma_pmp_pct_per_k or 0.0):.2f} %/K by the label and {-own:.2f} by the curve through "
        f"its other values, which decides: {by_curve:.0f} W instead of {by_label:.0f} W at {TEMP_HOT:g} °C"
    )


def _unlike_in_heat(panel: Panel) -> bool:
    """Whether the label's power coefficient gives other watts on a hot roof than its curve."""
    _, by_curve, by_label = power_in_heat(panel)
    return abs(by_curve / by_label - 1.0) > HOT_AGREES


def labels(rig: Rig) -> Verdict:
    """Do the numbers on each label agree with each other?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> print(labels(rig).sentence)
    The label looks like a silicon panel's.
    """
    # how a panel stands is no part of its label: one flat and one tilted of a kind are told once
    kinds = list(
        dict.fromkeys(panel.changed(tilt_deg=0.0, azimuth_deg=180.0, turn_deg=0.0, mount="gap") for panel in rig.panels)
    )
    said = [f"{panel.name}: {text}." for panel in kinds for text in contradictions(panel)]
    fits = [fit_panel(panel) for panel in kinds]
    said += [f"{fit.panel.name}: {note}." for fit in fits if not fit.exact for note in fit.notes]
    printed = [panel for panel in kinds if panel.gamma_pmp_pct_per_k is not None]
    said += [f"{panel.name}: {_heat_words(panel)}." for panel in printed if _unlike_in_heat(panel)]
    alike = [f"{panel.name}: {_heat_words(panel)}" for panel in printed if not _unlike_in_heat(panel)]
    wrong = [panel for panel in kinds if not watts_agree(panel)]
    answer: Answer = "no" if wrong else "close" if said else "yes"
    off = max((abs(p.p_mp / p.p_label - 1.0) for p in kinds if p.p_label is not None), default=0.0)
    return Verdict(
        question="Labels: do the numbers on each go together?",
        answer=answer,
        margin=100 * (WATTS_AGREE - off),
        unit="%",
        sentence=" ".join(text.replace("..", ".").replace("?.", "?") for text in said) or _agreed(kinds),
        basis="; ".join([BASIS, *alike]),
        caution=" ".join([ODD] * bool(said) + [NO_DIODES] * any(not panel.bypass_diodes for panel in kinds)),
    )


def missing(rig: Rig) -> Verdict:
    """Is every label value given that other checks need?

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> print(missing(rig).sentence)
    Isc with heat 0.0537 %/K not on the labels of old 80 W, new 170 W, typical of 36 cells, <250 W (CEC table of 2019).
    """
    said = [*gaps(rig.panels), *(f"{text}: for cold ceiling, start and hot floor" for text in steep_gaps(rig.panels))]
    unknown = dict.fromkeys(panel.name for panel in rig.panels if panel.i_max_fuse is None)
    if unknown and _side_by_side(rig):
        said.append(f"largest series fuse not on the label{'s' if len(unknown) > 1 else ''} of {', '.join(unknown)}")
    if rig.battery.capacity_ah is None:
        said.append("amp-hours of the battery (capacity_ah)")
    unstated = bool(said)
    said += _warm_dawn(rig)
    return Verdict(
        question="Missing: is every value there that an answer rests on?",
        answer="close" if said else "yes",
        margin=-float(len(said)),
        unit="values",
        sentence=f"{'; '.join(said)}." if said else "Nothing is missing.",
        basis="what is missing is replaced by a typical value, or left open",
        stated=not unstated,
    )


def _warm_dawn(rig: Rig) -> list[str]:
    """What a coldest dawn that is no cold may have been meant to be, and the volts that hang on it."""
    temp = rig.climate.temp_coldest
    if temp <= TEMP_WARM_DAWN:
        return []
    frost = (temp - 32.0) / 1.8
    circuit = max(rig.circuits, key=lambda one: cold_volts(rig, one))
    volts = string_voltage(tallest_string(rig, circuit), frost)
    return [
        f"{temp:g} °C (temp_coldest) is no coldest dawn: is it Fahrenheit or a noon? {temp:g} °F are {frost:.0f} °C, "
        f"and the string then has {rounded_up(volts)} V"
    ]


def _side_by_side(rig: Rig) -> bool:
    """Whether any circuit has strings in parallel, for which the label's fuse matters."""
    return any(len(circuit.wiring.strings) > 1 for circuit in rig.circuits)


def _ratio(name: str, value: float, limits: tuple[float, float], hint: str) -> list[str]:
    """A ratio outside what labels have."""
    low, high = limits
    return [] if low <= value <= high else [f"{name} is {value:.2f}, and labels have {low:g} to {high:g}{hint}"]


def _agreed(kinds: list[Panel]) -> str:
    """Said where nothing contradicts."""
    return f"{'All labels look' if len(kinds) > 1 else 'The label looks'} like a silicon panel's."
