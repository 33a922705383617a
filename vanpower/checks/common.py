"""What several checks share: the strings of a circuit, their volts, cautions, and how numbers are rounded."""

from __future__ import annotations

import math
from collections.abc import Sequence

from vanpower.components.single_diode import gaps, steep, steep_gaps
from vanpower.engine.array import PVArray
from vanpower.engine.constants import TEMP_REFERENCE
from vanpower.model.rig_in_light import rig_model
from vanpower.rig import OTHER_LITHIUM, Battery, Circuit, Panel, Rig, Snapshot

OVER_VOLTAGE = "Over-voltage can destroy a controller at once; do not connect this."
DO_NOT_TOUCH = "Above 60 V DC do not touch; panels are live in daylight."
NOT_WET = "Above 30 V DC not with wet hands, and a roof or deck counts as wet; panels are live in daylight."
NO_FROST_CHARGE = "Lithium iron phosphate is not charged below 0 °C unless its maker allows it."
NO_FROST_OTHER = "A lithium battery is not charged below 0 °C unless its maker allows it."
# cautions said in more than one place
THIN = 0.05
# share of the ceiling below which what is left is called thin; common practice, no source
LIGHT_USEFUL, WAKES_EARLY, LIGHT_TOP = 10.0, 30.0, 1000.0
# [W/m²] below this a controller's own draw takes most of the power; up to this a late start costs next to nothing; no
# source for these two; the light of the label
V_DO_NOT_TOUCH, V_WET, V_EXTRA_LOW = 60.0, 30.0, 120.0
# [V] bare live parts accepted in a dry place, and in any other such as a roof, ripple-free DC; IEC 60364-4-41 414.4.5
# (as BS 7671 words it, secondary copy), IEC 60598-1 8.2.3, US code 411.1; ceiling of extra-low voltage; IEC 61558-1
NOISE = 9
# decimals behind which a sum of label amps or volts says nothing
DULL = 0.15
# share of full sun on a dull day; no source


def no_frost_charge(battery: Battery) -> str:
    """That a lithium battery is not charged in frost.

    Examples
    --------
    >>> from vanpower import example
    >>> no_frost_charge(example("bookmobile").battery)
    'Lithium iron phosphate is not charged below 0 °C unless its maker allows it.'
    """
    return NO_FROST_OTHER if battery.chemistry == OTHER_LITHIUM else NO_FROST_CHARGE


def cold_voltage(v_oc: float, beta_voc_pct_per_k: float, temp: float) -> float:
    """Open-circuit volts of one panel at a cell temperature, by the label's coefficient. [V]

    Examples
    --------
    >>> round(cold_voltage(49.5, -0.27, -10), 2)
    54.18
    """
    return v_oc * (1.0 + beta_voc_pct_per_k / 100.0 * (temp - TEMP_REFERENCE))


INPUT_FACTOR = 1.25
# short-circuit amps are counted so many times; IEC 62548 and US National Electrical Code 690.8(A)(1)
NO_ARCS = "DC arcs hold: controller off, isolator off, glass covered, amps read zero, and only then unplug."


def counted_amps(rig: Rig, circuit: Circuit) -> float:
    """Short-circuit amps of a circuit with the factor for bright light. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> counted_amps(rig, rig.circuits[0])  # 1.25 x 2 x 6.25 A
    15.625
    """
    return _without_noise(INPUT_FACTOR * short_circuit_amps(rig, circuit))


def short_circuit_amps(rig: Rig, circuit: Circuit) -> float:
    """Label amps at short circuit, strings added up; in a string the strongest panel counts. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> short_circuit_amps(rig, rig.circuits[0])
    12.5
    """
    return sum(max(rig.panels[p].i_sc for p in string) for string in circuit.wiring.strings)


def cold_volts(rig: Rig, circuit: Circuit) -> float:
    """Open-circuit volts of a circuit's tallest string at the coldest dawn. [V]

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("puppet-stage")
    >>> round(cold_volts(rig, rig.circuits[0]), 1)  # two of 23.1 V at -17 °C
    51.8
    """
    return _without_noise(string_voltage(tallest_string(rig, circuit), rig.climate.temp_coldest))


def _without_noise(rating: float) -> float:
    """A rating that is wanted without the last digits of a sum, which no part on sale can meet."""
    return round(rating, NOISE)


def touch_words(volts: float) -> str:
    """A caution about bare ends of so many volts on a roof; empty where nothing hurts.

    Examples
    --------
    >>> touch_words(30.0), touch_words(60.0) == NOT_WET, touch_words(60.1) == DO_NOT_TOUCH
    ('', True, True)
    """
    return DO_NOT_TOUCH if volts > V_DO_NOT_TOUCH else NOT_WET if volts > V_WET else ""


def when_coldest(rig: Rig) -> str:
    """When a rig's strings have most volts, in words: frost is said only where it freezes.

    Examples
    --------
    >>> from vanpower import example
    >>> when_coldest(example("puppet-stage"))  # -17 °C
    'in frost'
    """
    return "in frost" if rig.climate.temp_coldest < 0 else "at the coldest dawn"


def named(rig: Rig, circuit: Circuit) -> str:
    """A circuit's wiring, with its panels where the rig has more than one circuit.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("kiln-bus")  # two controllers
    >>> named(rig, rig.circuits[0])
    '2s of P1+P2'
    """
    wiring = circuit.wiring
    if len(rig.circuits) == 1:
        return wiring.name
    kind = wiring.name.removesuffix(f" ({wiring.grouping})")
    return f"{'the group' if kind == wiring.grouping else kind} of {wiring.grouping}"


def tallest_string(rig: Rig, circuit: Circuit) -> tuple[Panel, ...]:
    """Panels of the string with the most open-circuit volts at the coldest dawn, gaps in their labels filled.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> [panel.name for panel in tallest_string(rig, rig.circuits[0])]
    ['new 170 W']
    """
    return max(strings_of(rig, circuit), key=lambda string: string_voltage(string, rig.climate.temp_coldest))


def strings_of(rig: Rig, circuit: Circuit) -> list[tuple[Panel, ...]]:
    """The panels of every string, a missing coefficient of volts filled in by a steep one, which is the careful side.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> [[panel.name for panel in string] for string in strings_of(rig, rig.circuits[0])]
    [['old 80 W'], ['old 80 W'], ['new 170 W']]
    """
    return [tuple(steep(rig.panels[p]) for p in string) for string in circuit.wiring.strings]


def assumed(rig: Rig, circuit: Circuit, fields: Sequence[str]) -> tuple[str, ...]:
    """What stands in for coefficients missing on the labels of the circuit's panels.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> print(assumed(rig, rig.circuits[0], ("alpha_isc_pct_per_k",))[0])
    Isc with heat 0.0537 %/K not on the labels of old 80 W, new 170 W, typical of 36 cells, <250 W (CEC table of 2019)
    """
    return gaps([rig.panels[panel] for panel in circuit.wiring.panels], fields)


def assumed_steep(rig: Rig, circuit: Circuit) -> tuple[str, ...]:
    """What stands in for coefficients of volts missing on the circuit's labels, where volts end a wiring.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> assumed_steep(rig, rig.circuits[0])
    ()
    """
    return steep_gaps([rig.panels[panel] for panel in circuit.wiring.panels])


def beta(panel: Panel) -> float:
    """Voltage coefficient of a panel whose gaps are filled. [%/K]

    Examples
    --------
    >>> from vanpower import example
    >>> beta(example("bookmobile").panels[0])
    -0.31
    """
    assert panel.beta_voc_pct_per_k is not None
    return panel.beta_voc_pct_per_k


def string_voltage(panels: Sequence[Panel], temp: float) -> float:
    """Open-circuit volts of a string at a cell temperature, by the coefficients of panels whose gaps are filled. [V]

    Examples
    --------
    >>> from vanpower import example
    >>> round(string_voltage(example("puppet-stage").panels, -17.0), 1)  # all four in series
    103.7
    """
    return sum(cold_voltage(panel.v_oc, beta(panel), temp) for panel in panels)


def array_in(rig: Rig, circuit: Circuit, request: Snapshot) -> PVArray:
    """The circuit's array in one light.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("puppet-stage")
    >>> array = array_in(rig, rig.circuits[0], Snapshot(light=1000.0, temp_cell=25.0))
    >>> round(float(array.peaks[1][2][0]))  # four labels give 541 W, the roof cable takes 12
    529
    """
    return rig_model(rig, request).array(circuit)


def rounded_up(value: float) -> str:
    """What a rating must reach, and the coldest safe temperature, to a tenth and never rounded down.

    Examples
    --------
    >>> rounded_up(51.81), rounded_up(51.8)
    ('51.9', '51.8')
    """
    return f"{math.ceil(value * 10 - 1e-9) / 10:.1f}"


def rounded_down(volts: float) -> str:
    """Volts left to a tenth, never rounded up.

    Examples
    --------
    >>> rounded_down(28.19), rounded_down(28.1)
    ('28.1', '28.1')
    """
    return f"{math.floor(volts * 10 + 1e-9) / 10:.1f}"


def percent(share: float) -> str:
    """A share in percent, where a small one is not called none.

    Examples
    --------
    >>> percent(0.034), percent(0.001)
    ('3 %', 'under 1 %')
    """
    return f"{100 * share:.0f} %" if share >= 0.005 else "under 1 %"


def joined(*parts: str) -> str:
    """The parts of a basis as one line.

    Examples
    --------
    >>> joined("label amps", "copper at 20 °C")
    'label amps; copper at 20 °C'
    """
    return "; ".join(parts)
