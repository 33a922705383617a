"""A guess that is typed or chosen before one looks, and then held against the answer."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ipywidgets

from vanpower.results.numbers import known

CLOSE = 0.1
# share of the answer within which a guess is called close; no source


class Guess(ipywidgets.VBox):
    """A question, a place for the guess, a button, and a line that holds the guess against the answer.

    Parameters
    ----------
    question : str
    at : mapping of str to object
        Where the controls go before the answer is read.
    truth : callable
        Takes the result and gives a number, or one of the words.
    words : sequence of str
        What there is to choose from; a number is typed where it is empty.
    unit : str
        Unit of the number.
    """

    def __init__(
        self, question: str, *, at: Mapping[str, Any], truth: Callable[[Any], Any], words: Sequence[str], unit: str
    ) -> None:
        self.at, self.truth, self.unit = dict(at), truth, unit
        asked = ipywidgets.HTML(f"<b>Guess first:</b> {html.escape(question)}")
        style, layout = {"description_width": "initial"}, {"width": "auto", "min_width": "8em", "max_width": "16em"}
        if words:
            self.field = ipywidgets.Dropdown(options=["", *words], description="Guess", style=style, layout=layout)
        else:
            self.field = ipywidgets.Text(description=f"Guess ({unit})", style=style, layout=layout)
        self.button = ipywidgets.Button(description="Compare", layout={"width": "auto"})
        self.said = ipywidgets.HTML()
        row = ipywidgets.HBox(
            [asked, self.field, self.button], layout={"flex_flow": "row wrap", "align_items": "center"}
        )
        super().__init__([row, self.said], layout={"width": "100%", "margin": "6px 0"})

    def asked_by(self, settle: Callable[[Mapping[str, Any]], Any]) -> None:
        """Let the button compare: `settle` moves the controls and gives the result."""
        self.button.on_click(lambda _: self.compare(settle))

    def compare(self, settle: Callable[[Mapping[str, Any]], Any]) -> None:
        """Hold the guess against the answer; without a guess nothing is given away."""
        guess = self.field.value.strip()
        if not guess:
            self.said.value = "<p role='alert'>Write down a guess first.</p>"
            return
        said = self._held(guess, settle)
        self.said.value = f"<p role='status'>{html.escape(said)}</p>"

    def _held(self, guess: str, settle: Callable[[Mapping[str, Any]], Any]) -> str:
        """The guess beside the answer, in a sentence."""
        if isinstance(self.field, ipywidgets.Dropdown):
            truth = self.truth(settle(self.at))
            return f"You chose {guess}, and so it is." if guess == truth else f"You chose {guess}; it is {truth}."
        try:
            number = float(guess.replace(",", "."))
        except ValueError:
            return f"{guess!r} is not a number; write one in {self.unit}."
        truth = self.truth(settle(self.at))
        near = " Close." if abs(number - truth) <= CLOSE * abs(truth) else ""
        is_it = truth if isinstance(truth, int) else known(truth)
        return f"You guessed {number:g} {self.unit}; it is {is_it} {self.unit}.{near}"


def guess(
    question: str, *, at: Mapping[str, Any], truth: Callable[[Any], Any], words: Sequence[str] = (), unit: str = ""
) -> Guess:
    """A guess for `explore`: typed in a unit, or chosen from words, and then held against the answer.

    Parameters
    ----------
    question : str
        What is guessed: "how many watts at 80 W/m²?".
    at : mapping of str to object
        Values that the controls are given before the answer is read, or functions of the van that give them.
    truth : callable
        Takes the result and gives the number, or one of the words.
    words : sequence of str, optional
        What there is to choose from; without them a number is typed.
    unit : str, optional
        Unit of the number.

    Examples
    --------
    >>> asked = guess("how many months?", at={}, truth=lambda result: 4, unit="months")
    >>> asked.field.value = "8"
    >>> asked.compare(lambda at: None)
    >>> asked.said.value
    "<p role='status'>You guessed 8 months; it is 4 months.</p>"
    """
    return Guess(question, at=at, truth=truth, words=words, unit=unit)
