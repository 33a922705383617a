"""The answer a van owner acts on: one question, yes, no or close, the margin, and a sentence with the numbers."""

from __future__ import annotations

import re
from dataclasses import dataclass
from textwrap import fill
from typing import Literal

LINE, INDENT = 100, " " * 6
# how wide a printed line may be, and how far what follows the question is set in
DIGITS = 4
# of watt-hours in a table; the models are known to a hundredth at best, and a digit is left for comparing; no source

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


def whole(amount: float) -> str:
    """A whole number with the digits that a model can know at most; small ones in full.

    Examples
    --------
    >>> whole(1304.6), whole(446084.5)
    ('1305', '446100')
    """
    return f"{float(f'{amount:.{DIGITS}g}'):.0f}"


def _wrapped(text: str, first: str) -> str:
    """The text in lines, a number kept together with its unit."""
    glued = re.sub(r"(\d) (?=[°%\w])", "\\1\N{NO-BREAK SPACE}", text)
    return fill(glued, LINE, initial_indent=first, subsequent_indent=INDENT).replace("\N{NO-BREAK SPACE}", " ")
