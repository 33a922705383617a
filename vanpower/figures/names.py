"""What charts call wirings and rigs, whose names may have any length, and the finding that a title says of them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from functools import lru_cache

import numpy as np

from vanpower.checks.registry import harmed
from vanpower.components.controllers import ASLEEP
from vanpower.components.low_light import is_read
from vanpower.figures.style import FONT, width_of
from vanpower.results.numbers import ALIKE, known, known_in
from vanpower.studies.comparison import Comparison

NAME_WIDTH = 1.72
# [inch] of a name in a title or a legend: a wiring such as 2s2p (P1+P3 | P2+P4) fits
LEGEND_WIDTH = 4.7
# [inch] that a legend over the curves may take of a chart of the usual size
LEFT_OUT = "\N{HORIZONTAL ELLIPSIS}"


@lru_cache(maxsize=1024)
def cut(words: str, width: float = NAME_WIDTH) -> str:
    """Words on one line, without their middle where they are wider; a dollar sign stays one.

    Examples
    --------
    >>> cut("as it was in the spring before the box came")
    'as it was…e box came'
    """
    line = " ".join(words.split())
    kept, short = len(line), line
    while width_of(short) > width and kept > 1:
        kept -= 1
        short = line[: math.ceil(kept / 2)].rstrip() + LEFT_OUT + line[len(line) - kept // 2 :].lstrip()
    return short.replace("$", r"\$")


def short_names(names: Iterable[str], width: float = NAME_WIDTH) -> dict[str, str]:
    """What a chart calls each name; where two would look the same once they are cut, each gets a number in front.

    Examples
    --------
    >>> list(short_names(["2s", "2p"]).values())
    ['2s', '2p']
    """
    names = list(names)
    alike = len({cut(name, width) for name in names}) < len(names)
    return {name: cut(f"{k}: {name}" if alike else name, width) for k, name in enumerate(names, start=1)}


def legend_columns(labels: Sequence[str], most: int, *, line: float, gap: float = 1.2) -> int:
    """The most columns, up to a number, in which a legend over the curves keeps inside its chart.

    Parameters
    ----------
    labels : sequence of str
    most : int
    line, gap : float
        Length of the drawn line with the room behind it, and room between columns, in sizes of the letters.
    """
    for columns in range(most, 1, -1):
        widest = [max(map(width_of, part)) for part in np.array_split(np.array(labels, object), columns) if len(part)]
        if sum(widest) + (len(widest) * (line + gap) - gap) * FONT / 72 <= LEGEND_WIDTH:
            return columns
    return 1


def amount(name: str, said: str, comparison: Comparison) -> str:
    """A wiring and what it delivers; asleep is said, since 0 W could be mistaken for a lack of light."""
    outcome = comparison.outcomes[name]
    if outcome.energy_wh <= 0 and all((o.held_by == ASLEEP).any() for o in outcome.operations):
        return f"{said} asleep"
    return f"{said} {known_in(outcome.energy_wh, comparison.unit)}"


def barred(name: str) -> str:
    """Said over the days of a wiring that must not be joined.

    Examples
    --------
    >>> barred("3p")
    '3p is not allowed; drawn is what it would take'
    """
    return f"{cut(name)} is not allowed; drawn is what it would take"


def finding(comparison: Comparison) -> str:
    """A comparison in a line: who is ahead by how much, or that it makes no difference.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> finding(found)
    'No difference: 2s 169 W, 2p 167 W'
    """
    allowed = [name for name in comparison.ranking if comparison.outcomes[name].refused is None]
    out = [name for name in comparison.ranking if name not in allowed]
    if not allowed:
        refusals = [refused for name in out if (refused := comparison.outcomes[name].refused)]
        return f"Not allowed: every wiring here would damage {harmed(refusals)}"
    best, *others = allowed
    short = short_names(comparison.outcomes)
    amounts = {name: amount(name, short[name], comparison) for name in allowed}
    alike = [name for name in allowed if comparison.share(name) >= 1 - ALIKE]
    behind = [amounts[name] for name in allowed if name not in alike]
    if comparison.outcomes[best].energy_wh <= 0:
        line = f"Nothing arrives: {', '.join(amounts.values())}"
    elif not others:
        line = f"{amounts[best]} into the battery"
    elif len(alike) > 1:
        line = "; ".join([f"No difference: {', '.join(amounts[name] for name in alike)}", *behind])
    else:
        line = f"{short[best]} is ahead: {', '.join(amounts.values())}"
    line = f"{line} ({', '.join(short[name] for name in out)} not allowed)" if out else line
    return f"{line}{_band_words(comparison, best)}" if comparison.dull else line


def _band_words(comparison: Comparison, best: str) -> str:
    """What measured panels give where labels leave it open: the middle and the band."""
    outcome = comparison.outcomes[best]
    low, high = (known(end) for end in outcome.band_wh)
    if all(map(is_read, outcome.rig.panels)):
        return f"; as read {low} to {high}"
    return f"; measured panels {low} to {high}"
