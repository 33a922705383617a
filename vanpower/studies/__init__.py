"""Rigs side by side: which delivers more, which is allowed, what is worth buying, and how sure that is.

comparison   Rigs side by side over a moment or real days: what each delivers, and which loss makes the difference.
next_changes What to change first, each change as a whole rig, per unit of money.
ranking      Every wiring of a rig: those allowed ranked, those refused with the reason; also with one more panel.
restarts     Wirings of a comparison with two local maxima of power, and the volts that tell on which one a tracker
             sits.
roof         What fixtures on the roof cost, wiring by wiring, and what moving, turning or rewiring would regain.
shortlist    Which of several controllers is worth its price: which pass the checks, what each delivers, whether to keep
             the old.
sweeps       Many rigs, controllers, places and days in one table, on one processor or on many machines.
trips        A trip: the battery walked across its stops, which days fall short, and the least change that carries it.
uncertainty  How sure a comparison is: what is not known is varied within its usual bounds, and the wirings are
             compared again.
"""
