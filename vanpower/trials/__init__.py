"""Field trials: was it the wiring or the sun, what the model says to that, and whether a used panel is sound."""

from __future__ import annotations

from vanpower.trials.judging import Trial, judge
from vanpower.trials.lights import clear_light, spare_light
from vanpower.trials.logs import Log, read_log, typed_log
from vanpower.trials.stages import stages
from vanpower.trials.suspects import Expectation, Suspect, explain

__all__ = [
    "Expectation",
    "Log",
    "Suspect",
    "Trial",
    "clear_light",
    "explain",
    "judge",
    "read_log",
    "spare_light",
    "stages",
    "typed_log",
]
