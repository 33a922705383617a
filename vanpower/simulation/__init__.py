"""Rigs through days and years, with battery and loads.

The operating point depends on the battery's volts and the volts on the power. `circuit_tables` works each circuit out
at six battery volts, whole days at a time, with every loss by name; `time_stepping` then steps through the moments in
plain floats (awake, stage, lock-out, charge) and reads straight lines between the six. All losses of a moment are
read with the same weights, so their sum stays exact. Where a controller is held does not depend on the six volts
unless its window or its amps bite; 48 volts instead of six change a hot day of glued panels in parallel by 0.06 %.
In frost a controller's own cut-off (`time_stepping.Guard`) may stop it from charging: then it feeds the loads before
the others do, or has shut down, and what it would have offered is booked as refused (`battery cold`, `controller
cold`). A lithium battery is never charged below its lock-out, whoever stops it, so no rig gains by harming it;
`frost` says who does. The battery moves in steps of 10 minutes at most. The ladder's step "dull light" or "kind
light" is what is left between the label's watts and all that is named; a test works it out on its own.

battery_arrays  One step of battery and controllers for many moments at once, as `time_stepping` does it for one.
budget          Energy month by month: what comes in, what is drawn, how full the battery gets, and how long a full
                one lasts.
circuit_tables  Power that the circuits of a rig can give, moment by moment and at any battery voltage, with every
                loss by name.
days_abreast    A long simulation with all its days stepped on abreast, until every day begins where the last one ended.
frost           Energy lost because of frost: what stops the charge, when it charges again, and what a heated battery
                gains.
harvests        The harvest that a weather file says was measured, beside what the model gives on the same rows.
ladder          The loss ladder: from the label's watt-hours in this light down to what loads and battery took, every
                loss named.
needs           What loads ask for and what other sources can give, moment by moment: by clock, date, air and driving.
run             Simulation of rigs over a day, a winter or a year: what the battery takes and refuses, and whether
                loads are met.
time_stepping   The simulation of a rig in steps of time: controllers awake or asleep, the battery's charge and stage.
"""
