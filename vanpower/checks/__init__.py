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
