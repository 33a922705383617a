"""The answer a van owner acts on: yes, no or close, the margin, a sentence, and how numbers are said in it."""

from __future__ import annotations

import re
from dataclasses import dataclass
from textwrap import fill
from typing import Literal

LINE, INDENT = 100, " " * 6
# how wide a printed line may be, and how far what follows the question is set in
DIGITS = 4
# of watt-hours in a table; the models are known to a hundredth at best, and a digit is left for comparing; no source

MUCH_WH = 10_000
# [Wh] from which energy is told in kWh

Answer = Literal["yes", "no", "close"]


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """One sentence a van owner can act on.

    Parameters
    ----------
    question, sentence : str
        What was asked, and the answer in a sentence that carries the numbers.
    answer : {"yes", "no", "close"}
        "close" is legal or possible with too little in hand.
    margin : float
        What is left before the answer turns; negative when it has. Unit in `unit`.
    basis : str
        The assumption that decides it, with its source.
    caution : str
        What can hurt here, said where it bites; empty when nothing does.

    Examples
    --------
    >>> from vanpower import check, load_rig
    >>> ceiling = check(load_rig("puppet-stage"))[0]
    >>> ceiling.answer, round(ceiling.margin, 1), ceiling.unit
    ('yes', 28.2, 'V')
    """

    question: str
    answer: Answer
    margin: float
    unit: str
    sentence: str
    basis: str
    caution: str = ""

    def __str__(self) -> str:
        said = [self.sentence, f"Rests on: {self.basis}."] + [f"Caution: {self.caution}"] * bool(self.caution)
        lines = [_wrapped(f"{self.answer.upper():5} {self.question}", ""), *(_wrapped(text, INDENT) for text in said)]
        return "\n".join(lines)


def watt_hours(amount: float) -> str:
    """Energy in Wh as a sentence says it, in kWh where there is much.

    Examples
    --------
    >>> watt_hours(840.4), watt_hours(312_400)
    ('840 Wh', '312 kWh')
    """
    return f"{amount:.0f} Wh" if amount < MUCH_WH else f"{amount / 1000:.0f} kWh"


def between(low: float, high: float) -> str:
    """From where to where a change lies, in words.

    Examples
    --------
    >>> between(-0.031, 0.158)
    'from a loss of 3.1 % to a gain of 15.8 %'
    >>> between(0.02, 0.031)
    'from a gain of 2.0 % to a gain of 3.1 %'
    """
    ends = (f"a {'loss' if end < 0 else 'gain'} of {100 * abs(end):.1f} %" for end in (low, high))
    return "from {} to {}".format(*ends)


def gained(share: float) -> str:
    """A gain or a loss in percent, with its sign; what rounds to nothing has none.

    Examples
    --------
    >>> gained(0.021), gained(-0.2), gained(-0.0004)
    ('+2.1 %', '−20.0 %', '0.0 %')
    """
    said = f"{100 * share:+.1f}".replace("-", "\N{MINUS SIGN}")
    return f"{'0.0' if said[1:] == '0.0' else said} %"


def whole(amount: float) -> str:
    """A whole number with the digits that a model can know at most; small ones in full.

    Examples
    --------
    >>> whole(1304.6), whole(446084.5)
    ('1305', '446100')
    """
    return f"{float(f'{amount:.{DIGITS}g}'):.0f}"


def glued(text: str) -> str:
    """The text with every number kept on one line with its unit.

    Examples
    --------
    >>> glued("at -5 °C").split(" ")
    ['at', '-5\\xa0°C']
    """
    return re.sub(r"(\d) (?=[°%\w])", "\\1\N{NO-BREAK SPACE}", text)


def _wrapped(text: str, first: str) -> str:
    """The text in lines, a number kept together with its unit."""
    return fill(glued(text), LINE, initial_indent=first, subsequent_indent=INDENT).replace("\N{NO-BREAK SPACE}", " ")
