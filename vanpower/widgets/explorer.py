"""Controls, the verdict as a sentence, and a chart that follows the drag.

Knows no physics: it is given a function that answers and a chart that is told the answer.
"""

from __future__ import annotations

import html
import time
from collections.abc import Callable, Mapping
from functools import partial, wraps
from inspect import signature
from typing import Any

import ipywidgets
from IPython.display import display

from vanpower.checks import Checks
from vanpower.figures import live_chart, must_show
from vanpower.figures.handles import Handle
from vanpower.figures.touchable import touchable
from vanpower.results.verdict import Verdict
from vanpower.widgets.controls import labelled, nearest
from vanpower.widgets.live_picture import NARROW_PX, LiveChart, LivePicture
from vanpower.widgets.page import head, paragraph, plain

SLOW_S = 0.3
# [s] an answer that takes longer waits until the slider is let go; no source
SENTENCES = {"width": "100%", "max_width": "60em", "margin": "0"}
# how wide a control and the sentences get
BESIDE = "0 0 0 6px"
# room between the bar that marks a cell and the words, as code and text have it


def explore(answer: Callable[..., Any], chart: str | LiveChart, **controls: Any) -> Explorer:
    """Show controls, the verdict in words and the chart, and answer anew at every move.

    Parameters
    ----------
    answer : callable
        Takes the controls' values by name. Gives a result with a `verdict`, or the result and its verdicts as a
        pair (result, verdict) or (result, (verdict, verdict)). One with a parameter `dragging` is told whether a
        handle is on its way, so that it may leave slow work until it is let go.
    chart : str or LiveChart
        The name of a chart, as `.plot()` and `save_chart` have it: "power", "comparison", "day", "roof", "roof pair",
        "ceiling", "charge", "months", "ladder" or "trial"; or a chart that is told every result by `update`.
    **controls
        Widgets with a value, such as `slider` and `choice` make; a `Guess`, which is compared and not told; and what a
        chart is told besides when it is named, such as p_top=250 [W] and v_top=90 [V], which hold the axes of "power"
        still.

    Returns
    -------
    Explorer
        With the latest `result` and `sentence`. What an answer raises is said in the page and stands in `failure`.

    Raises
    ------
    ValueError
        For a chart of an unknown name, and what is neither a control nor something that the chart can be told.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> from vanpower.widgets import explore, slider
    >>> def answer(light):
    ...     return compare(example("bookmobile").wirings(), Snapshot(light=light, temp_cell=15))
    >>> live = explore(answer, "power", light=slider("Light (W/m²)", 10, 1000, start=200))  # doctest: +ELLIPSIS
    VBox(...
    >>> live.controls["light"].value = 10
    >>> live.result.outcomes["2s"].energy_wh < 2
    True
    """
    moved = {name: one for name, one in controls.items() if isinstance(one, ipywidgets.ValueWidget)}
    told = {name: one for name, one in controls.items() if name not in moved}
    if not isinstance(chart, str):
        if told:
            name, value = next(iter(told.items()))
            raise ValueError(f"{name} is {value!r}, no control; a chart that is made already is told nothing besides.")
        explorer = Explorer(answer, chart, moved)
    else:
        explorer = Explorer(_showing(chart, answer), live_chart(chart, **told), moved)
    explorer.show()
    return explorer


def _showing(chart: str, answer: Callable[..., Any]) -> Callable[..., Any]:
    """What answers, refused where the chart of that name shows something else."""

    @wraps(answer)
    def shown(**values: Any) -> Any:
        given = answer(**values)
        must_show(chart, _split(given)[0])
        return given

    return shown


class Explorer:
    """Controls, a verdict line, a line for what went wrong, a live picture, and below it what several verdicts say.

    Attributes
    ----------
    result : object
        The latest answer.
    sentence : str
        The latest verdict in plain text.
    failure : str
        What went wrong at the last move; empty when nothing did.
    """

    def __init__(
        self, answer: Callable[..., Any], chart: LiveChart, controls: Mapping[str, ipywidgets.ValueWidget]
    ) -> None:
        self.answer, self.chart, self.controls = answer, chart, dict(controls)
        self.guesses = {name: self.controls.pop(name) for name in list(self.controls) if _guesses(self.controls[name])}
        self.result: Any = None
        self.waits_for_release = "dragging" in signature(answer).parameters
        self.dragging = False
        self.sentence = self.failure = ""
        self.verdict_line, self.failure_line, self.details = (ipywidgets.HTML(layout=SENTENCES) for _ in range(3))
        self.picture: LivePicture | None = None
        self.values = {name: control.value for name, control in self.controls.items()}
        started = time.perf_counter()
        self._answer()
        self.slow = time.perf_counter() - started > SLOW_S and self._took_long_again()
        for name, control in self.controls.items():
            control.observe(partial(self._moved, name), names="value")
            if self.slow and hasattr(control, "continuous_update"):
                control.continuous_update = False
        for guess in self.guesses.values():
            guess.observe(lambda change: self._guessed(), names="value")

    def show(self) -> None:
        """Display the controls and sentences, and the picture below them."""
        rows = [labelled(control, partial(self._moved, name)) for name, control in self.controls.items()]
        rows += self.guesses.values()
        box = ipywidgets.Box(rows, layout={"display": "flex", "flex_flow": "row wrap", "width": "100%"})
        lines = [self.verdict_line, self.failure_line]
        display(ipywidgets.VBox([box, *lines], layout={"width": "100%", "overflow": "hidden", "padding": BESIDE}))
        self.picture = LivePicture(self.chart, self._touched, self._laid_out)
        self.picture.more = self._guess_handles
        self.picture.show(self.sentence, self.values, waits=self.slow)
        if self.details.value:
            display(ipywidgets.Box([self.details], layout={"padding": BESIDE}))

    def _took_long_again(self) -> bool:
        """Whether a second answer is slow too: the first may only have loaded modules and worked panels out."""
        started = time.perf_counter()
        self._answer()
        return time.perf_counter() - started > SLOW_S

    def _moved(self, name: str, change: Mapping[str, Any]) -> None:
        """One move of one control. A slider and its box both tell of it, and the first to do so is answered."""
        if change["new"] == self.values[name]:
            return
        self.values[name] = change["new"]
        if self.slow:
            self.verdict_line.value = "<p role='status'>Working &hellip;</p>"
        self._answer()

    def _touched(self, key: str, at: tuple[float, float], done: bool) -> None:
        """A touch of the picture: it moves the controls, which take what they have room for, and is answered once."""
        if key in self.guesses:
            self.guesses[key].touched(self.chart, at)
            return
        chart = touchable(self.chart)
        assert chart is not None
        before, said = dict(self.values), (self.verdict_line.value, self.details.value)
        self._put({name: nearest(self.controls[name], to) for name, to in chart.touched(key, at, self.values).items()})
        let_go = self.waits_for_release and self.dragging and done
        self.dragging = not done
        if self.values == before and not let_go:
            return
        self._answer()
        if self.failure:
            # what may not lie there stays where it was, and why is said
            self._put(before)
            self.verdict_line.value, self.details.value = said

    def _put(self, values: Mapping[str, Any]) -> None:
        """Move controls without an answer."""
        self.values |= values
        for name, value in values.items():
            self.controls[name].value = value

    def _laid_out(self, wide: int) -> None:
        """The page is so many pixels wide: a chart that has two layouts takes the one that suits."""
        phone = wide < NARROW_PX
        if self.picture is None or getattr(self.chart, "phone", phone) == phone:
            return
        self.chart = self.chart.laid_out(phone=phone)  # type: ignore[attr-defined]
        self.chart.update(self.result)
        self.picture.change(self.chart)
        self.picture.refresh(self.picture.shown(self.sentence, self.values))

    def _answer(self) -> None:
        """Work out the result, draw it and say it. Whatever fails is said, since nobody would see it otherwise."""
        try:
            self.result, verdicts = _split(self.answer(**self.values, **self._while_dragging()))
            self.chart.update(self.result)
            sentence = "\n".join(map(plain, verdicts))
            shown = self.picture.shown(sentence, self.values) if self.picture is not None else {}
        except Exception as problem:
            self.failure = f"{type(problem).__name__}: {problem}"
            words = f"This setting gives no answer. {html.escape(str(problem) or type(problem).__name__)}"
            self.failure_line.value = f"<p role='alert' style='margin:0'><b>{words}</b></p>"
            self.verdict_line.value = self.details.value = ""
            return
        self.sentence, self.failure, self.failure_line.value = sentence, "", ""
        self._say(verdicts)
        for guess in self.guesses.values():
            guess.compare(self.result)
        if self.picture is not None:
            self.picture.refresh(shown)

    def _while_dragging(self) -> dict[str, bool]:
        """Whether a handle is on its way, for an answer that leaves slow work until it is let go."""
        return {"dragging": self.dragging} if self.waits_for_release else {}

    def _guess_handles(self) -> list[Handle]:
        """The marks of guesses in the chart."""
        return [guess.handle(self.chart, name) for name, guess in self.guesses.items()]

    def _guessed(self) -> None:
        """A guess was moved: its mark moves, the answer stays."""
        if self.picture is not None:
            self.picture.refresh(self.picture.shown(self.sentence, self.values))

    def _say(self, verdicts: tuple[Verdict, ...]) -> None:
        """The words, sent when the picture is ready: a page takes both in one go sooner than one after the other."""
        sentences = "".join(paragraph(verdict.in_html()) for verdict in verdicts)
        several = len(verdicts) > 1
        self.verdict_line.value = paragraph(" &middot; ".join(map(head, verdicts))) if several else sentences
        self.details.value = sentences if several else ""


def _guesses(control: Any) -> bool:
    """Whether a control takes a guess, which the answer is compared with and not told."""
    return hasattr(control, "compare")


def _split(given: Any) -> tuple[Any, tuple[Verdict, ...]]:
    """The result and its verdicts."""
    several = given if isinstance(given, Checks) else None
    result, verdicts = given if isinstance(given, tuple) else (given, several or given.verdict)
    return result, (verdicts,) if isinstance(verdicts, Verdict) else tuple(verdicts)
