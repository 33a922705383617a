"""Field trials: was it the wiring or the sun, what the model says to that, and whether a used panel is sound."""

from __future__ import annotations

from vanpower.trials.judging import Trial, judge
from vanpower.trials.lights import clear_light, spare_light
from vanpower.trials.logs import Log, read_log, typed_log
from vanpower.trials.planning import Design, Plan, plan
from vanpower.trials.restart import Jump, Reading, jumps, jumps_table, wrong_hill, wrong_hill_in
from vanpower.trials.second_hand import Finding, PanelReadings, PanelTest, covered_amps, leak_of, used_panel
from vanpower.trials.stages import stages
from vanpower.trials.suspects import Expectation, Suspect, explain

__all__ = [
    "Design",
    "Expectation",
    "Finding",
    "Jump",
    "Log",
    "PanelReadings",
    "PanelTest",
    "Plan",
    "Reading",
    "Suspect",
    "Trial",
    "clear_light",
    "covered_amps",
    "explain",
    "judge",
    "jumps",
    "jumps_table",
    "leak_of",
    "plan",
    "read_log",
    "spare_light",
    "stages",
    "typed_log",
    "used_panel",
    "wrong_hill",
    "wrong_hill_in",
]
