"""Field trials: was it the wiring or the sun, what the model says to that, and whether a used panel is sound.

analysis          Did the new wiring help? Gain, interval and verdict out of a log, with the naive figure beside it
                  and what made it.
blocks            Blocks of a trial given by their times, for logs without a column for the wiring.
cards             The filled commissioning card as a file.
commissioning     What meters should show before anything is joined and after; and what has become of it a year later.
faults            Why does a circuit charge so little? Causes ranked by the rig's model, and the next measurement.
light_sources     Light for logs without a light sensor: a spare panel's short-circuit amps, or a clear-sky curve.
logs              A field log as arrays: what was measured in each row and which wiring it belongs to.
model_comparison  The gain that the model expects of a trial's rigs at the same moments, and what would explain a
                  difference.
planning          Before the trial: how many swaps it takes to see a gain, on a day like this one.
posterior         Statistics of a trial: how sure a difference between rows is whose noise drifts and is correlated
                  in time.
refusing          Logs that cannot tell in spite of a return to the first wiring, since no drift explains what their
                  blocks show.
rounding          Rounding error of a trial's readings: readings that stand still share one error, however many there
                  are.
sensor_plane      The error of a trial whose light sensor lies in another plane than the panels.
stages            Which rows of a trial count: bulk rows, in which the panels give all they can.
stuck_trackers    Is the tracker on a lower maximum? Shaded strings have several local maxima of power ("hills"), and
                  some trackers stay on the first.
used_panel        Is a used panel sound? Three tests with a multimeter: amps in the sun, volts in dull light, one
                  group covered.
"""
