"""The answer a van owner acts on: yes, no or close, the margin, a sentence, and how numbers are said in it."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass
from textwrap import fill
from typing import Literal

LINE, INDENT = 100, " " * 6
# how wide a printed line may be, and how far what follows the question is set in
LONGEST = 120
# letters of an answer in one line; no source


Answer = Literal["yes", "no", "close"]
WORST_FIRST: tuple[Answer, ...] = ("no", "close", "yes")
# answers in the order in which they count where several are told as one
Sign = Literal["no", "check", "not stated", "ok"]
SIGNS: tuple[Sign, ...] = ("no", "check", "not stated", "ok")
# what a check comes to, the most urgent first
SIGN_COLOURS: Mapping[str, str] = {"no": "#9E1B45", "check": "#5B3F8C", "not stated": "#4A5560", "ok": "#00684A"}
# of the sign, where there is colour; each is read on white (contrast 6.7 and more, WCAG 2.1 asks for 4.5), and none is
# a wiring's or the ceiling's
SIGN_MARKS: Mapping[str, str] = {
    "no": "\N{BLACK DIAMOND}",
    "check": "\N{DIAMOND WITH LEFT HALF BLACK}",
    "not stated": "\N{DOTTED CIRCLE}",
    "ok": "\N{CHECK MARK}",
}
# beside the word: the more ink, the more urgent, so that grey tells them too


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """The answer to one question: yes, no or close, the margin, and a sentence a van owner can act on.

    Parameters
    ----------
    question, sentence : str
        What was asked, and the answer in a sentence with its numbers.
    answer : {"yes", "no", "close"}
        "close" is legal or possible with too little margin.
    margin : float
        What is left until the answer changes; negative where the limit is passed. Its unit is in `unit`.
    basis : str
        The assumption the answer rests on, with its source.
    caution : str
        What can hurt here; empty when nothing does.
    unit : str
        Unit of the margin.
    stated : bool
        False where the answer is "close" only since nobody stated a value: not in the file, or not on a label.

    Examples
    --------
    >>> from vanpower import check, example
    >>> ceiling = check(example("puppet-stage"))[0]
    >>> ceiling.answer, round(ceiling.margin, 1), ceiling.unit
    ('yes', 28.2, 'V')
    >>> check(example("goat-cheese-van"))["isolator"].sign  # the file names none
    'not stated'
    """

    question: str
    answer: Answer
    margin: float
    unit: str
    sentence: str
    basis: str
    caution: str = ""
    stated: bool = True

    @property
    def sign(self) -> Sign:
        """What it comes to in a list: no, check (known, and close or costly), not stated (nobody said), or ok."""
        if self.answer != "close":
            return "ok" if self.answer == "yes" else "no"
        return "check" if self.stated else "not stated"

    @property
    def word(self) -> str:
        """The answer to its question in capitals: YES, NO, CHECK or NOT STATED."""
        return "YES" if self.answer == "yes" else self.sign.upper()

    def __str__(self) -> str:
        said = [self.sentence, f"Rests on: {self.basis}."] + [f"Caution: {self.caution}"] * bool(self.caution)
        lines = [_wrapped(f"{self.word:5} {self.question}", ""), *(_wrapped(text, INDENT) for text in said)]
        return "\n".join(lines)

    def __repr__(self) -> str:
        return shortened(f"Verdict: {self.word}. {self.question} {self.sentence}")

    def in_html(self) -> str:
        """The verdict as HTML: question, answer, sentence and caution."""
        from html import escape

        caution = f" <b>{escape(self.caution)}</b>" if self.caution else ""
        return f"{escape(self.question)} <b>{self.word}.</b> {escape(self.sentence)}{caution}"

    def _repr_html_(self) -> str:
        return f"<p>{self.in_html()}</p>"


def shortened(line: str, most: int = LONGEST) -> str:
    """One line of at most so many letters; points stand for sentences, or else words, that were left out.

    Examples
    --------
    >>> shortened("No. It is too cold. Wait for the sun.", 30), shortened("two" + chr(10) + "lines")
    ('No. It is too cold. ...', 'two lines')
    """
    one = " ".join(line.split())
    if len(one) <= most:
        return one
    room = one[: most - 3]
    end = room.rfind(". ") + 1 if room.count(". ") > 1 else room.rfind(" ")
    return f"{room[:end] if end > 0 else room} ..."[:most]


def hung(head: str, said: str, width: int | None) -> str:
    """A line of a table, broken at a width; its last column goes on under itself, or under the first if space is short.

    Parameters
    ----------
    head, said : str
        The first columns as printed, and the text of the last.
    width : int or None
        Letters in a line; None for no break.

    Examples
    --------
    >>> print(hung("2p  ", "out: too many amps", 16))
    2p  out: too
        many amps
    """
    if width is None:
        return f"{head}{said}"
    hang = len(head) if 2 * len(head) <= width else 2
    return fill(f"{head}{glued(said)}", width, subsequent_indent=" " * hang).replace("\N{NO-BREAK SPACE}", " ")


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
