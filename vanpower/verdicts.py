"""The answer a van owner acts on: one question, yes, no or close, the margin, and a sentence with the numbers."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

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
    """

    question: str
    answer: Answer
    margin: float
    unit: str
    sentence: str
    basis: str
    caution: str = ""

    def __str__(self) -> str:
        lines = [
            f"{self.answer.upper():5} {self.question}",
            f"      {self.sentence}",
            f"      Rests on: {self.basis}",
        ]
        return "\n".join(lines + [f"      Caution: {self.caution}"] * bool(self.caution))
