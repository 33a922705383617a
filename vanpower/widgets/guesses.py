"""A guess that is typed, chosen or written on paper before one looks, and then held against the answer."""

from __future__ import annotations

import html
from collections.abc import Callable, Mapping, Sequence
from typing import Any

import ipywidgets
import traitlets
from matplotlib.axes import Axes

from vanpower.figures.handles import UP, Handle, Point, in_picture, on_axes
from vanpower.results.numbers import known
from vanpower.widgets.page import glued, in_large

DOWN = "Guesses are down: show the answer"
# on the button for a class
ASKS, ANSWER = "vanpower-asks", "vanpower-answer"
# classes of a question that is open, and of what a page keeps back until it is not
STYLE = f"<style>@media print {{.{ANSWER} {{display:block !important}} .{ASKS} button {{display:none}}}}</style>"
# paper has all, and nothing to press
FIRST, STEP = 0.25, 0.02
# shares of the axis at which a mark waits, and by which an arrow key moves it; no source
GAP = "2px 8px 2px 0"
# around a question, so that it stands apart from the place for its answer
CLOSE = 0.1
# share of the answer within which a guess is called close; no source


class OnPaper(ipywidgets.VBox, ipywidgets.ValueWidget):
    """A question for a class, and a button that shows what hides the answer until then.

    Parameters
    ----------
    question : str

    Attributes
    ----------
    value : bool
        Whether guesses are down; a page keeps it with where its controls stand.

    Examples
    --------
    >>> asked, chart = OnPaper("in series or in parallel?"), ipywidgets.HTML()
    >>> asked.hide([chart])
    >>> chart.layout.display
    'none'
    >>> asked.button.click()
    >>> chart.layout.display is None, asked.value, asked.layout.display
    (True, True, 'none')
    """

    value = traitlets.Bool(False)

    def __init__(self, question: str) -> None:
        self.button = ipywidgets.Button(
            description=DOWN, style={"button_color": "#16202A", "text_color": "#FFFFFF"},
            layout={"width": "auto", "height": "44px", "align_self": "flex-start"},
        )  # fmt: skip
        question = in_large(glued(f"Write down first: {html.escape(question)}"))
        asked = ipywidgets.HTML(f"{STYLE}{question}", layout={"width": "100%"})
        super().__init__([asked, self.button], layout={"width": "100%"})
        self.add_class(ASKS)
        self.button.on_click(lambda _: self.set_trait("value", True))

    def hide(self, answers: Sequence[ipywidgets.DOMWidget]) -> None:
        """Keep these out of the page until guesses are down; the question goes then, and with it its button."""
        for one in answers:
            one.add_class(ANSWER)
            one.layout.display = "none"
        self.observe(lambda _: self._show(answers), "value")

    def _show(self, answers: Sequence[ipywidgets.DOMWidget]) -> None:
        for one in answers:
            one.layout.display = None
        self.remove_class(ASKS)
        self.layout.display = "none"


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
    drawn : bool
        Whether the number is a mark on the chart's upright axis as well.
    """

    def __init__(
        self,
        question: str,
        *,
        at: Mapping[str, Any],
        truth: Callable[[Any], Any],
        words: Sequence[str],
        unit: str,
        drawn: bool = False,
    ) -> None:
        self.question, self.at, self.truth, self.unit, self.drawn = question, dict(at), truth, unit, drawn
        asked = ipywidgets.HTML(glued(f"<b>Guess first:</b> {html.escape(question)}"), layout={"margin": GAP})
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

    def handle(self, chart: Any, key: str) -> Handle:
        """The mark in the chart: where the number is, or a quarter up the axis before there is one."""
        ax = _curves(chart)
        (left, right), (low, high) = ax.get_xlim(), ax.get_ylim()
        number = self._number()
        x, y = in_picture(ax, left, min(max(FIRST * high if number is None else number, low), high))
        (reach, bottom), top = in_picture(ax, right, low), in_picture(ax, left, high)[1]
        return Handle(
            key=key, label=f"My guess: {self.question}",
            now="none yet" if number is None else f"{number:g} {self.unit}",
            use=UP, mark="level", x=x, y=y, reach=reach - x, step=STEP * (bottom - top),
            verb="drag your guess" if number is None else "my guess",
        )  # fmt: skip

    def touched(self, chart: Any, at: Point) -> None:
        """The mark was put there: the number is written beside the question."""
        ax = _curves(chart)
        self.field.value = f"{min(max(on_axes(ax, at)[1], 0.0), ax.get_ylim()[1]):.0f}"

    def _number(self) -> float | None:
        """What is typed, if it is a number."""
        try:
            return float(self.field.value.replace(",", "."))
        except ValueError:
            return None


def _curves(chart: Any) -> Axes:
    """The axes that a mark stands on; of several charts together those of the curves."""
    axes: Axes = getattr(chart, "power", chart).ax
    return axes


def guess(
    question: str,
    *,
    at: Mapping[str, Any] | None = None,
    truth: Callable[[Any], Any] | None = None,
    words: Sequence[str] = (),
    unit: str = "",
    drawn: bool = False,
) -> Guess | OnPaper:
    """A guess for `explore`: typed in a unit, or chosen from words, and then held against the answer.

    Without a truth to hold it against it is written on paper: finding and chart stay hidden until a button is pressed.

    Parameters
    ----------
    question : str
        What is guessed: "how many watts at 80 W/m²?".
    at : mapping of str to object, optional
        Values that the controls are given before the answer is read, or functions of the van that give them.
    truth : callable, optional
        Takes the result and gives the number, or one of the words.
    words : sequence of str, optional
        What there is to choose from; without them a number is typed.
    unit : str, optional
        Unit of the number.
    drawn : bool, optional
        Whether the number is also a mark that is dragged up and down the chart, whose upright axis has this unit.

    Examples
    --------
    >>> asked = guess("how many months?", at={}, truth=lambda result: 4, unit="months")
    >>> asked.field.value = "8"
    >>> asked.compare(lambda at: None)
    >>> asked.said.value
    "<p role='status'>You guessed 8 months; it is 4 months.</p>"
    """
    if truth is None:
        return OnPaper(question)
    return Guess(question, at=at or {}, truth=truth, words=words, unit=unit, drawn=drawn)
