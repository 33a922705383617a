"""Rigs through days and years, with battery and loads.

The operating point depends on the battery's volts and the volts on the power. `circuit_tables` works each circuit out
at six battery volts, whole days at a time, with every loss by name; `time_stepping` then steps through the moments in
plain floats (awake, stage, lock-out, charge) and reads straight lines between the six. All losses of a moment are
read with the same weights, so their sum stays exact. Where a controller is held does not depend on the six volts
unless its window or its amps bite; 48 volts instead of six change a hot day of glued panels side by side by 0.06 %.
In frost a controller's own cut-off (`time_stepping.Guard`) may stop it from charging: then it feeds the loads before
the others do, or has shut down, and what it would have offered is booked as refused (`battery cold`, `controller
cold`). A lithium battery is never charged below its lock-out, whoever stops it, so no rig gains by harming it;
`frost` says who does. The battery moves in steps of 10 minutes at most. The ladder's step "dull light" or "kind
light" is what is left between the label's watts and all that is named; a test works it out on its own.
"""

from __future__ import annotations

from vanpower.simulation.budget import Budget, Month, autonomy_days, rough_day_wh
from vanpower.simulation.frost import WarmLocker, warm_locker
from vanpower.simulation.harvests import harvest_said, measured_harvest
from vanpower.simulation.ladder import Ladder
from vanpower.simulation.run import RigRun, Run, simulate
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
    "simulate",
    "warm_locker",
]
