"""Many verdicts in a line each, to read before the reasons."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence

from vanpower.checks.common import rounded_down, rounded_up
from vanpower.results.verdict import Verdict


def at_a_glance(verdicts: Sequence[Verdict]) -> str:
    """One line a verdict: answer, what it is about, what is left or short.

    Examples
    --------
    >>> from vanpower import check, example
    >>> print(at_a_glance(check(example("puppet-stage"))).splitlines()[0])
    YES   Cold ceiling            28.1 V left
    """
    names = [subject(verdict) for verdict in verdicts]
    width = max(map(len, names))
    lines = [f"{v.answer.upper():5} {name:{width}}  {_aligned(v)}" for v, name in zip(verdicts, names, strict=True)]
    return "\n".join(line.rstrip() for line in lines)


def subject(verdict: Verdict) -> str:
    """What a verdict is about, with its panels where there are several circuits.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.checks import clipping
    >>> rig = example("kiln-bus")  # two controllers
    >>> subject(clipping(rig, rig.circuits[0]))
    'Clipping, P1+P2'
    """
    which = re.search(r" of (P\d+(?:[+| ]+P\d+)*)", verdict.question)
    return verdict.question.partition(":")[0] + (f", {which[1]}" if which else "")


def in_hand(verdict: Verdict) -> str:
    """What is left, or missing, where the verdict counts it; rounded to the careful side.

    Examples
    --------
    >>> from vanpower import check, example
    >>> in_hand(check(example("puppet-stage"))[0])
    '28.1 V left'
    """
    if verdict.unit not in ("V", "A", "points") or verdict.margin == 0 or not math.isfinite(verdict.margin):
        return ""
    if verdict.answer == "yes" and verdict.margin < 0:
        # short of a volt whose loss is next to nothing; the reasons tell it
        return ""
    unit = "% points" if verdict.unit == "points" else verdict.unit
    if verdict.margin > 0:
        return f"{rounded_down(verdict.margin)} {unit} left"
    return f"{rounded_up(-verdict.margin)} {unit} short"


def _aligned(verdict: Verdict) -> str:
    """The same with its number in a column."""
    amount, _, rest = in_hand(verdict).partition(" ")
    return f"{amount:>7} {rest}"
