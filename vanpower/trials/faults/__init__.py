"""Fault finding: why does a circuit charge so little, and what to measure next?

causes       What may be behind it, how often, what is then to be done, and what somebody sees or feels.
draws        Light, heat and the rest, as far as the readings leave them open.
expected     What meters would show under each cause: the rig's own model, drawn over all that nobody knows.
meters       Readings that are worked out when they are asked for.
finding      Causes ranked by how well they meet the readings, and the verdict.
next_step    The one measurement that tells the first two apart best, and the safe way to it.
readings     What was read.
"""
