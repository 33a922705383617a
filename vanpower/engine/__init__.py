"""Currents and voltages of cells, substrings, panels and arrays, in numpy alone; it knows no rigs.

How a power is found
--------------------
1. `components.single_diode` fits five parameters to the label (Isc, Voc, best-power point, flat top, voltage
   coefficient). Several idealities fit; the one that gives the label's voltage coefficient is taken, or the nearest
   with positive resistances, and then the band gap carries what is missing.
2. `engine.cells` merges cells of a chain with equal light into levels. The junction voltage of the weakest level is
   the parameter of the curve: current and volts are explicit in it, avalanche included, and it moves evenly where the
   curve has its knee. Other levels follow in closed form (Wright omega).
3. A `Curves` is a table of exact points with exact slopes; between them runs a monotone cubic. Series adds volts on
   the union of all currents, parallel adds amps on the union of all volts, two curves at a time; a bypass diode adds
   its current point by point. Each row has its own currents: on a shared axis the knees of some rows would fall
   between two points. Amps read between the points of 72 arrays err by 0.0134 % of the short-circuit amps on the
   mean, 1.0 % at a knee; with slopes not limited at a curve's own points 0.0142 and 0.8 %, with all curves added at
   once 0.0134 and 1.0 %: nothing to mend.
4. `maxima` solves for every maximum on the cubics. The table only has to show the place: `operating_point.solve` then
   expands every chain there to second order (volts, slope and curvature, exact), adds the parabolas as the wiring
   says and steps to the maximum of the sum, which tells at which point to expand every chain next. Two rounds mostly
   do; a row is done when a round changes its power by less than 2e-6, and then it is right to some 1e-7. The
   few rows that are not done after six rounds are tabulated again, closer and closer around the place
   (`PVArray.refined_at`).
5. A table may be wrong by a per mille, and a hill on it need not be one. So every hill that the table puts above the
   power found, less two per mille, is solved for as well (`maxima.global_maximum`).
6. Where a circuit's panels are alike and carry the same light and heat, one cell tells the whole, so steps 3 to 5 fall
   away (`even_array`): every moment is solved for by itself, to 1e-9 of its power, with no table to err. Its
   open-circuit volts are exact; a table's are so of one string, and err by up to 0.1 % where strings or half-cells feed
   each other, 0.2 % behind blocking diodes.

Where no power is drawn, parallel strings are evaluated at zero amps in sum (`checks.backfeed`): the tables then reach
to the reverse current that the other strings can push (`model.arrays.roof_of` with i_back), since beyond its last
point a curve runs straight. A circuit simulator has the same amps to 1e-3 (`test_circulating.py`).

Equal chains are worked out once, and equal substrings and strings share one object, by which later steps know them
again. Panel curves do not know the wiring, so every wiring is tried on the same ones.
"""
