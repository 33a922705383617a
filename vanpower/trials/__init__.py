"""Field trials: was it the wiring or the sun, what the model says to that, and whether a used panel is sound."""

from __future__ import annotations

from vanpower.trials.analysis import Trial, analyse_trial
from vanpower.trials.light_sources import clear_light, spare_light
from vanpower.trials.logs import Log, read_log, typed_log
from vanpower.trials.model_comparison import Hypothesis, ModelComparison, compare_with_model
from vanpower.trials.planning import Plan, TrialDesign, plan_trial
from vanpower.trials.stages import stages
from vanpower.trials.stuck_trackers import Jump, Reading, jumps, jumps_table, stuck_tracker, stuck_tracker_in
from vanpower.trials.used_panel import Finding, PanelReadings, PanelTest, check_used_panel, covered_amps, leak_of

__all__ = [
    "Finding",
    "Hypothesis",
    "Jump",
    "Log",
    "ModelComparison",
    "PanelReadings",
    "PanelTest",
    "Plan",
    "Reading",
    "Trial",
    "TrialDesign",
    "analyse_trial",
    "check_used_panel",
    "clear_light",
    "compare_with_model",
    "covered_amps",
    "jumps",
    "jumps_table",
    "leak_of",
    "plan_trial",
    "read_log",
    "spare_light",
    "stages",
    "stuck_tracker",
    "stuck_tracker_in",
    "typed_log",
]
