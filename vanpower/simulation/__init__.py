"""Rigs through days and years, with battery and loads."""

from __future__ import annotations

from vanpower.simulation.budget import Budget, Month, autonomy_days, rough_day_wh
from vanpower.simulation.frost import WarmLocker, warm_locker
from vanpower.simulation.harvests import harvest_said, measured_harvest
from vanpower.simulation.ladder import Ladder
from vanpower.simulation.run import RigRun, Run, run_day, run_year
from vanpower.simulation.time_stepping import GAINS, REFUSALS, STEPS, TimeSeries

__all__ = [
    "GAINS",
    "REFUSALS",
    "STEPS",
    "Budget",
    "Ladder",
    "Month",
    "RigRun",
    "Run",
    "TimeSeries",
    "WarmLocker",
    "autonomy_days",
    "harvest_said",
    "measured_harvest",
    "rough_day_wh",
    "run_day",
    "run_year",
    "warm_locker",
]
