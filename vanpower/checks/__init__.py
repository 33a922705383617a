"""Safety and fitness checks from labels and tape measures, before anything is ordered; each gives a `Verdict`.

A check is asked with a rig and one of its circuits, or with the rig alone where it is about the whole; `unit` of its
verdict says what its margin is in, and below zero that much is lacking.

amps                Current into the controller: the most its input may see, and the energy it clips at its charge
                    current limit.
backfeed            Reverse current into a string: from parallel strings, at open circuit or into a fault, and from
                    the battery; and whether a fuse opens on it. Numbers only; `circulating` and `fuses` make
                    verdicts of them.
battery             What the battery can take: current from all controllers together, and charging below freezing and
                    in heat.
caveats             Assumptions behind an answer and shortcomings of a wiring, in the same words in every output.
charging            Charge settings: do absorption, float and compensation suit the battery's chemistry and number of
                    cells?
circulating         Circulating current between parallel strings of unlike voltage while no power is drawn.
coldest             Coldest dawn and hottest cells of a place: from weather data, a year's plan of several places, or
                    both.
common              What several checks share: the strings of a circuit, their volts, cautions, and how numbers are
                    rounded.
copper              Cables: what the roof cable costs and may carry, which section to buy, and the run to the battery
                    with its fuse.
feeding             The battery as a source of fault current in the roof cable, where the controller can conduct
                    backwards.
fuses               Fuses in the strings: needed or not, which sizes are legal, and what current can flow backwards
                    without them.
glance              The checks of a rig as one object, and as a short text with a line for each verdict.
labels              Labels that contradict themselves, and values that are not on them.
order               In what order a rig is put together, measured and taken apart, so that a meter can follow and
                    nothing arcs.
parts               What to buy and to fit: cables, fuses, isolator and plugs of every circuit, with the rating that
                    is wanted.
plugs_and_isolator  Parts that are touched or switched: branch plugs, extension lead, isolator, and the voltage on
                    bare ends.
registry            All checks of a rig in order of danger; which of them forbid a rig, and what no check answers.
settings_card       What to type into controller, load output and alarm, the battery maker's sheet first.
switch              Controllers that are plain switches ("direct"): how well the panels' voltage suits the battery
                    they are tied to.
volts               Volts: the cold ceiling, the start and the hot floor.
"""

from __future__ import annotations

from vanpower.checks.amps import clipping, half_sine, input_current
from vanpower.checks.backfeed import Circulation, back_current, circulation, feeds_back, must_stay_apart, opens
from vanpower.checks.battery import amps_in, charge_current, cold_charging
from vanpower.checks.charging import Settings, air_for, charge_settings
from vanpower.checks.circulating import circulating
from vanpower.checks.coldest import RARE_COLD, climate_over, coldest_dawn, hottest_from
from vanpower.checks.common import (
    DO_NOT_TOUCH,
    INPUT_FACTOR,
    NOT_WET,
    THIN,
    V_DO_NOT_TOUCH,
    V_EXTRA_LOW,
    V_WET,
    cold_voltage,
    cold_volts,
    counted_amps,
    rounded_down,
    rounded_up,
    string_voltage,
    tallest_string,
    touch_words,
    when_coldest,
)
from vanpower.checks.copper import (
    battery_fuses,
    battery_section,
    battery_side,
    cable_current,
    cable_loss,
    row_amps,
    section_to_buy,
)
from vanpower.checks.feeding import array_fuse_to_fit, array_fuses, battery_feed
from vanpower.checks.fuses import (
    FUSES,
    can_be_fused,
    fuse_needed,
    fuse_to_fit,
    fuse_window,
    fused_strings,
    legal_fuses,
    reverse_current,
    string_fuse,
    string_fuse_sizes,
)
from vanpower.checks.glance import Checks, at_a_glance, in_hand, subject
from vanpower.checks.labels import (
    GAMMA_BELOW_BETA,
    IMP_OVER_ISC,
    V_PER_CELL,
    VMP_OVER_VOC,
    contradictions,
    labels,
    missing,
)
from vanpower.checks.order import Step, order_of_work
from vanpower.checks.parts import Part, array_fuse_size, battery_fuse_size, parts, short_circuit_of, with_parts
from vanpower.checks.plugs_and_isolator import (
    LICENSED,
    extension,
    isolator,
    plugs,
    touch_cautions,
    touch_volts,
    wind_caution,
)
from vanpower.checks.registry import (
    DESTROYS,
    burning,
    check,
    failed,
    harmed,
    mended_by_parts,
    refusal,
    shortfalls,
    unasked,
    unmended,
)
from vanpower.checks.settings_card import Setting, SettingsCard, settings_card
from vanpower.checks.switch import plain_switch, tied_watts
from vanpower.checks.volts import (
    COLD_FACTORS,
    cold_ceiling,
    cold_factor,
    coldest_safe,
    hot_floor,
    most_in_series,
    start_volts,
)

__all__ = [
    "COLD_FACTORS",
    "DESTROYS",
    "DO_NOT_TOUCH",
    "FUSES",
    "GAMMA_BELOW_BETA",
    "IMP_OVER_ISC",
    "INPUT_FACTOR",
    "LICENSED",
    "NOT_WET",
    "RARE_COLD",
    "THIN",
    "VMP_OVER_VOC",
    "V_DO_NOT_TOUCH",
    "V_EXTRA_LOW",
    "V_PER_CELL",
    "V_WET",
    "Checks",
    "Circulation",
    "Part",
    "Setting",
    "Settings",
    "SettingsCard",
    "Step",
    "air_for",
    "amps_in",
    "array_fuse_size",
    "array_fuse_to_fit",
    "array_fuses",
    "at_a_glance",
    "back_current",
    "battery_feed",
    "battery_fuse_size",
    "battery_fuses",
    "battery_section",
    "battery_side",
    "burning",
    "cable_current",
    "cable_loss",
    "can_be_fused",
    "charge_current",
    "charge_settings",
    "check",
    "circulating",
    "circulation",
    "climate_over",
    "clipping",
    "cold_ceiling",
    "cold_charging",
    "cold_factor",
    "cold_voltage",
    "cold_volts",
    "coldest_dawn",
    "coldest_safe",
    "contradictions",
    "counted_amps",
    "extension",
    "failed",
    "feeds_back",
    "fuse_needed",
    "fuse_to_fit",
    "fuse_window",
    "fused_strings",
    "half_sine",
    "harmed",
    "hot_floor",
    "hottest_from",
    "in_hand",
    "input_current",
    "isolator",
    "labels",
    "legal_fuses",
    "mended_by_parts",
    "missing",
    "most_in_series",
    "must_stay_apart",
    "opens",
    "order_of_work",
    "parts",
    "plain_switch",
    "plugs",
    "refusal",
    "reverse_current",
    "rounded_down",
    "rounded_up",
    "row_amps",
    "section_to_buy",
    "settings_card",
    "short_circuit_of",
    "shortfalls",
    "start_volts",
    "string_fuse",
    "string_fuse_sizes",
    "string_voltage",
    "subject",
    "tallest_string",
    "tied_watts",
    "touch_cautions",
    "touch_volts",
    "touch_words",
    "unasked",
    "unmended",
    "when_coldest",
    "wind_caution",
    "with_parts",
]
