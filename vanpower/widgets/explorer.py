"""What was found in a sentence, a chart that follows the drag, and the controls that move both.

From above: whose van, the finding with what it leaves open, the first control, the chart, what can hurt, the other
controls, a guess, and what several verdicts say. Knows no physics: it is given a function that answers and a chart that
is told the answer.
"""

from __future__ import annotations

import asyncio
import html
import os
import time
from collections.abc import Callable, Iterator, Mapping
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from dataclasses import replace
from functools import partial, wraps
from inspect import signature
from typing import Any

import ipywidgets
from IPython.display import display

from vanpower.checks.glance import FEW, Checks
from vanpower.figures.handles import Handle
from vanpower.figures.kinds import live_chart, must_show
from vanpower.figures.touchable import touchable
from vanpower.results.verdict import Verdict
from vanpower.widgets.chooser import Chooser, Chosen
from vanpower.widgets.controls import labelled, nearest, one_further
from vanpower.widgets.guesses import Guess, OnPaper
from vanpower.widgets.kept import Answered, Kept
from vanpower.widgets.live_picture import LIVE_PAGE, LiveChart, LivePicture, Page, suited
from vanpower.widgets.of_van import OfVan, told
from vanpower.widgets.page import beside, cautions, finding, in_large, in_room_of, plain, reasons

SLOW_S = 0.3
# [s] an answer that takes longer waits until the slider is let go; no source
SENTENCES = {"width": "100%", "margin": "0"}
ROW = {"display": "flex", "flex_flow": "row wrap", "grid_gap": "0 1em", "width": "100%"}
# how sentences stand, and controls beside each other
GUESS = "guess "
# begins the key of a guess's handle, with its number
WORDS_S, REST_S, BREATH_S, GONE_S = 0.12, 0.25, 0.01, 0.003
# [s] after the last move words are worked out that take long, and a result works out what is left of it; between its
# steps moves are answered; after an answer, until it has left and what came meanwhile is answered; no source
ASIDE = ThreadPoolExecutor(1)
# where such words are worked out; those that nobody waits for any more are left out
END = object()
# comes after the last step
BESIDE = "0 0 0 6px"
# room between the bar that marks a cell and the words, as code and text have it


def explore(answer: Callable[..., Any], chart: str | LiveChart, **controls: Any) -> Explorer:
    """Show the verdict in words, the chart and controls, and answer anew at every move.

    Parameters
    ----------
    answer : callable
        Takes the controls' values by name. Gives a result with a `verdict`, or the result and its verdicts as a
        pair (result, verdict) or (result, (verdict, verdict)). Where the words take long and the picture does not
        need them, a function that gives the verdict stands in its place: the picture moves first, and no words stand
        beside it until they are its own. One with a parameter `dragging` is told whether a handle is on its way, so
        that it may leave slow work until it is let go.
    chart : str or LiveChart
        The name of a chart, as `.plot()` and `save_chart` have it: "power", "comparison", "day", "roof", "roof pair",
        "ceiling", "charge", "months", "ladder", "trial", "as read", "shade by touch" or "roof by touch"; or a chart
        that is told every result by `update`.
    **controls
        Widgets with a value, such as `slider` and `choice` make; the first stands above the chart. Of a `whose_van` the
        answer is given the rig, and controls that depend on the van follow it. A `guess` stands last, and the answer
        is told nothing of it. What is no control is told to a chart that is named, such as p_top=250 [W] and
        v_top=90 [V], which hold the axes of "power" still.

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
    moved = {name: one for name, one in controls.items() if isinstance(one, ipywidgets.Widget | OfVan)}
    besides = {name: one for name, one in controls.items() if name not in moved}
    if not isinstance(chart, str):
        if besides:
            name, value = next(iter(besides.items()))
            raise ValueError(f"{name} is {value!r}, no control; a chart that is made already is told nothing besides.")
        explorer = Explorer(answer, chart, moved)
    else:
        explorer = Explorer(_showing(chart, answer), live_chart(chart, **besides), moved)
    explorer.show()
    return explorer


def _showing(chart: str, answer: Callable[..., Any]) -> Callable[..., Any]:
    """What answers, refused where the chart of that name shows something else."""

    @wraps(answer)
    def shown(**values: Any) -> Any:
        given = answer(**values)
        must_show(chart, given[0] if isinstance(given, tuple) else given)
        return given

    return shown


class Explorer:
    """Controls, a verdict line, a line for what went wrong, a live picture, and below it what several verdicts say.

    Attributes
    ----------
    result : object
        The latest answer.
    verdicts : tuple of Verdict
        Those of the latest answer.
    sentence : str
        The latest verdict in plain text.
    failure : str
        What went wrong at the last move; empty when nothing did.
    """

    def __init__(
        self,
        answer: Callable[..., Any],
        chart: LiveChart,
        controls: Mapping[str, ipywidgets.ValueWidget | OfVan | Guess],
    ) -> None:
        self.answer, self._chart = answer, suited(chart, Page.wide)
        self._drawn: Any = None
        # the result that the chart shows now: the latest, or one that was worked out ahead
        self.guesses = [control for control in controls.values() if isinstance(control, Guess)]
        self.paper = next((control for control in controls.values() if isinstance(control, OnPaper)), None)
        self.of_van = {name: control for name, control in controls.items() if isinstance(control, OfVan)}
        self.chooser = next((control for control in controls.values() if isinstance(control, Chooser)), None)
        van = None if self.chooser is None else self.chooser.value.rig
        self.controls: dict[str, Any] = {
            name: control.made(van) if isinstance(control, OfVan) else control
            for name, control in controls.items()
            if not isinstance(control, Guess | OnPaper)
        }
        self.rows: dict[str, ipywidgets.Widget] = {}
        self.latest, self.kept, self.failure = Answered(), Kept(), ""
        self.waits_for_release = "dragging" in signature(answer).parameters
        self.settling = self.dragging = False
        self.finishing: asyncio.Task[None] | None = None
        self.ahead: asyncio.Task[None] | None = None
        self._room = ""
        # what was found last with nothing left to work out: until that is so again its room is kept
        self.further: dict[str, Any] | None = None
        # what is likely asked next
        said, self.failure_line = ipywidgets.Layout(**SENTENCES), ipywidgets.HTML(layout=SENTENCES)
        self.verdict_line, self.caution_line, self.details = (ipywidgets.HTML(layout=said) for _ in range(3))
        self.picture: LivePicture | None = None
        self.values = {name: control.value for name, control in self.controls.items()}
        self.took_s = 0.0
        self._answer()
        self.slow = self.took_s > SLOW_S and self._took_long_again()
        for name, control in self.controls.items():
            control.observe(partial(self._moved, name), names="value")
            if self.slow and hasattr(control, "continuous_update"):
                control.continuous_update = False
        for one in self.guesses:
            one.asked_by(self.settle)
            if one.drawn:
                one.field.observe(self._guessed, names="value")

    @property
    def chart(self) -> LiveChart:
        """The chart, which shows the latest result."""
        self._bring_up()
        return self._chart

    @property
    def result(self) -> Any:
        """The latest answer."""
        return self.latest.result

    @property
    def verdicts(self) -> tuple[Verdict, ...]:
        """Those of the latest answer."""
        return self.latest.verdicts

    @property
    def sentence(self) -> str:
        """The latest verdict in plain text."""
        return self.latest.sentence

    def show(self) -> None:
        """Display whose van, the sentences and the first control; the picture below them; then the others."""
        for name, control in self.controls.items():
            self.rows[name] = control if control is self.chooser else labelled(control)
            _hide_a_list_of_one(control)
        first, *others = [row for row in self.rows.values() if row is not self.chooser] or [ipywidgets.Box()]
        above = [one for one in (self.chooser, self.paper) if one is not None]
        lines = [*above, self.verdict_line, self.failure_line, ipywidgets.Box([first], layout=ROW)]
        display(ipywidgets.VBox(lines, layout={"width": "100%", "overflow": "hidden", "padding": BESIDE}))
        if LIVE_PAGE not in os.environ:
            # a stored page shows all of it
            self._finish_at_once()
        self.picture = LivePicture(self.chart, self._touched, self._laid_out)
        # laid out, it may have other room for names
        self._drawn = None
        self._bring_up()
        self.picture.more = self._guess_handles
        self.picture.show(self.sentence, self._asked(), waits=self.slow)
        below = [self.caution_line, ipywidgets.Box(others, layout=ROW), *self.guesses, self.details]
        display(ipywidgets.VBox(below, layout={"width": "100%", "padding": BESIDE}))
        if self.paper is not None:
            self.paper.hide([self.verdict_line, self.picture.widget, self.caution_line, self.details])
        if self.chooser is not None:
            self.chooser.watch()
        self._finish()

    def settle(self, at: Mapping[str, Any]) -> Any:
        """Move several controls at once, to values or to what functions make of the van, and give the result."""
        self.settling = True
        for name, value in at.items():
            self.controls[name].value = told(value, self._asked().get("van"))
            self.values[name] = self.controls[name].value
        self.settling = False
        self._answer()
        return self.result

    def _took_long_again(self) -> bool:
        """Whether a second answer is slow too: the first may only have loaded modules and worked panels out."""
        self._answer()
        return self.took_s > SLOW_S

    def _moved(self, name: str, change: Mapping[str, Any]) -> None:
        """One move of one control."""
        if self.settling or change["new"] == self.values[name]:
            return
        before, self.values[name] = self.values[name], change["new"]
        if self.slow:
            self.verdict_line.value = "<p role='status'>Working &hellip;</p>"
        if isinstance(change["new"], Chosen):
            self._follow(change["new"])
        self._answer()
        further = one_further(self.controls[name], before, change["new"])
        if further is not None and not self.failure:
            self.further = self.values | {name: further}
            self._look_ahead()

    def _touched(self, key: str, at: tuple[float, float], done: bool) -> None:
        """A touch of the picture: it moves the controls, which take what they have room for, and is answered once."""
        if (number := _guess_of(key)) is not None:
            self.guesses[number].touched(self.chart, at)
            return
        chart = touchable(self.chart)
        assert chart is not None
        before, said = dict(self.values), [line.value for line in self._lines()]
        self._put(
            {name: nearest(self.controls[name], to) for name, to in chart.touched(key, at, self._asked()).items()}
        )
        let_go = self.waits_for_release and self.dragging and done
        self.dragging = not done
        if self.values == before and not let_go:
            return
        self._answer()
        if self.failure:
            # what may not lie there stays where it was, and why is said
            self._put(before)
            for line, words in zip(self._lines(), said, strict=True):
                line.value = words

    def _lines(self) -> tuple[ipywidgets.HTML, ...]:
        """What is said of an answer."""
        return self.verdict_line, self.caution_line, self.details

    def _put(self, values: Mapping[str, Any]) -> None:
        """Move controls without an answer."""
        self.settling = True
        self.values |= values
        for name, value in values.items():
            self.controls[name].value = value
        self.settling = False

    def _guess_handles(self) -> list[Handle]:
        """The marks of guesses that are drawn in the chart."""
        drawn = [(number, guess) for number, guess in enumerate(self.guesses) if guess.drawn]
        return [guess.handle(self._chart, f"{GUESS}{number}") for number, guess in drawn]

    def _guessed(self, _: Any) -> None:
        """A guess was typed or moved: its mark moves, the answer stays."""
        self._show_again()

    def _laid_out(self, wide: int) -> None:
        """The page is so many pixels wide: a chart that has two layouts takes the one that suits."""
        chart = suited(self.chart, wide)
        if self.picture is None or chart is self.chart:
            return
        self._chart, self._drawn = chart, None
        self.picture.change(self.chart)
        self._drawn = None
        self._show_again()

    def _follow(self, chosen: Chosen) -> None:
        """Give the controls that depend on the van the ends and starts of another one."""
        self.kept.forget()
        self.settling = True
        for name, made in self.of_van.items():
            control = self.controls[name]
            for one in (control, *_boxes(self.rows.get(name), control)):
                made.reset(one, chosen.rig)
            _hide_a_list_of_one(control)
            self.values[name] = control.value
        self.settling = False

    def _asked(self) -> dict[str, Any]:
        """What the answer is asked: the controls' values, and the rig for a van."""
        return _for_the_answer(self.values)

    def _on_its_way(self) -> dict[str, bool]:
        """Whether a handle is on its way, for an answer that leaves slow work until it is let go."""
        return {"dragging": self.dragging} if self.waits_for_release else {}

    def _answer(self) -> None:
        """Take what is kept for the controls' values, or work it out. Whatever fails is said, since nobody would see it
        otherwise."""
        self.further = None
        if self.ahead is not None:
            self.ahead.cancel()
        try:
            self.latest = self.kept.of(self.values) or self._worked_out(self.values)
        except Exception as problem:
            self._fail(problem)
            return
        self.failure, self.failure_line.value = "", ""
        if self.picture is not None:
            # before the words: a browser that has them draws its page once more before it takes the picture
            self.picture.refresh(self.latest.shown)
            self._finish()
        self._say()

    def _worked_out(self, values: Mapping[str, Any]) -> Answered:
        """Work out the result for these values of the controls, and draw it."""
        started, asked = time.perf_counter(), _for_the_answer(values)
        result, words = _pair(self.answer(**asked, **self._on_its_way()))
        self._draw(result)
        self.took_s = time.perf_counter() - started
        if callable(words) and self.picture is not None and _somebody_waits():
            found = Answered(result=result, late=words)
        else:
            found = self._heard(Answered(result=result), words() if callable(words) else words)
        if self.picture is None:
            return found
        found = replace(found, shown=self.picture.shown(found.sentence, asked))
        if not (self.dragging and self.waits_for_release):
            self.kept.keep(values, found)
        return found

    def _draw(self, result: Any) -> None:
        """Have the chart show a result."""
        self._drawn = None
        self._chart.update(result)
        self._drawn = result

    def _bring_up(self) -> None:
        """Have the chart show the latest result, where it shows one that was worked out ahead."""
        if self._drawn is not self.result:
            self._draw(self.result)

    def _look_ahead(self) -> None:
        """After a step of a control, work out the next one the same way, which is then there when it is asked for."""
        if self.further is not None and self.took_s < SLOW_S and not self.slow and _somebody_waits():
            self.ahead = asyncio.ensure_future(self._work_ahead(self.further))

    async def _work_ahead(self, values: Mapping[str, Any]) -> None:
        """Work out what may be asked next, once the answer is on its way; what fails says so when it is asked for."""
        await asyncio.sleep(GONE_S)
        if self.kept.of(values) is None:
            with suppress(Exception):
                self._worked_out(values)

    def _heard(self, found: Answered, words: Any) -> Answered:
        """An answer with what was found in it."""
        verdicts, first = _split(words)
        sentence = self._lack() or "\n".join(map(plain, first))
        return replace(found, late=None, verdicts=verdicts, first=first, sentence=sentence)

    def _fail(self, problem: Exception) -> None:
        """Say that there is no answer, and why."""
        self.latest = replace(self.latest, late=None)
        self.failure = f"{type(problem).__name__}: {problem}"
        words = f"This setting gives no answer. {html.escape(str(problem) or type(problem).__name__)}"
        self.failure_line.value = f"<p role='alert' style='margin:0; max-width:62em'><b>{words}</b></p>"
        self.verdict_line.value = self.caution_line.value = self.details.value = ""

    def _finish(self) -> None:
        """Have the result work out what is left of it, after a pause and in steps where something runs the page."""
        if self.finishing is not None:
            self.finishing.cancel()
        if _somebody_waits():
            self.finishing = asyncio.ensure_future(self._finish_in_steps(self.result))
        else:
            self._finish_at_once()

    async def _finish_in_steps(self, result: Any) -> None:
        """Words that take long, then the rest of a result, step by step."""
        if self.latest.late is not None:
            await asyncio.sleep(WORDS_S)
            await self._say_late(self.latest.late)
        await asyncio.sleep(REST_S)
        steps = _rest(result)
        if next(steps, END) is END:
            return
        for _ in steps:
            await asyncio.sleep(BREATH_S)
        self._show_more()
        self._look_ahead()

    async def _say_late(self, late: Callable[[], Any]) -> None:
        """Work out the words of the picture that stands there, beside moves and one after the other, and say them."""

        def words() -> Any:
            return late() if self.latest.late is late else None

        try:
            found = await asyncio.get_running_loop().run_in_executor(ASIDE, words)
            if self.latest.late is not late:
                return
            heard = self._heard(self.latest, found)
            self.latest = replace(heard, shown={**heard.shown, "words": heard.sentence})
            self.kept.keep(self.values, self.latest)
        except Exception as problem:
            self._fail(problem)
        if self.picture is not None:
            self.picture.refresh({"words": self.sentence})
        self._say()

    def _finish_at_once(self) -> None:
        """The rest of a result in one go."""
        if list(_rest(self.result)):
            self._show_more()

    def _show_more(self) -> None:
        """Draw and say a result that knows more than when it was drawn, as others may that it shares this with."""
        self._drawn = None
        self.latest = self._heard(self.latest, self.result.verdict)
        self._show_again()
        self._say()

    def _show_again(self) -> None:
        """Draw the latest result once more; what was drawn before is not shown again."""
        self.kept.forget()
        self._bring_up()
        if self.picture is not None:
            self.latest = replace(self.latest, shown=self.picture.shown(self.sentence, self._asked()))
            self.kept.keep(self.values, self.latest)
            self.picture.refresh(self.latest.shown)

    def _lack(self) -> str:
        """What one's own van lacks for this page; empty where it lacks nothing, or the example is shown."""
        return "" if self.chooser is None else self.chooser.value.lacks

    def _say(self) -> None:
        """The words, sent behind the picture that they go with; until they are there nothing stands in their room."""
        self.verdict_line.layout.visibility = None if self.latest.late is None else "hidden"
        if self.latest.late is not None:
            return
        if self.chooser is not None and self._lack():
            self.verdict_line.value = in_large(self.chooser.lack(self.chooser.value))
            self.caution_line.value = self.details.value = ""
            return
        found = finding(self.latest.first)
        if getattr(self.result, "is_whole", True):
            self._room = found
        self.verdict_line.value = in_room_of(self._room, found)
        self.caution_line.value = cautions(self.latest.first)
        self.details.value = reasons(beside(self.verdicts, self.latest.first)) if len(self.verdicts) > 1 else ""


def _for_the_answer(values: Mapping[str, Any]) -> dict[str, Any]:
    """Values of controls as the answer is asked for them: the rig for a van."""
    return {name: value.rig if isinstance(value, Chosen) else value for name, value in values.items()}


def _rest(result: Any) -> Iterator[None]:
    """Steps in which a result works out what is left of it; none where it has no such thing."""
    return result.rest() if hasattr(result, "rest") else iter(())


def _guess_of(key: str) -> int | None:
    """Which guess a handle moves; None for one of the chart's own."""
    return int(key.removeprefix(GUESS)) if key.startswith(GUESS) else None


def _boxes(row: ipywidgets.Widget | None, control: ipywidgets.Widget) -> list[ipywidgets.Widget]:
    """What stands in a control's row beside it, such as the box that takes a number typed."""
    others = [] if row is None or row is control else [one for one in row.children if one is not control]
    return [one for one in others if not isinstance(one, ipywidgets.HTML)]


def _hide_a_list_of_one(control: ipywidgets.Widget) -> None:
    """Leave a list out of the page while there is nothing to choose."""
    if isinstance(control, ipywidgets.Dropdown):
        control.layout.display = None if len(control.options) > 1 else "none"


def _somebody_waits() -> bool:
    """Whether this runs in a page or a notebook, which goes on when a move has been answered."""
    try:
        asyncio.get_running_loop()
    except RuntimeError:
        return False
    return True


def _pair(given: Any) -> tuple[Any, Any]:
    """The result, and its verdicts or what gives them."""
    if isinstance(given, tuple):
        return given
    return given, given if isinstance(given, Checks) else given.verdict


def _split(verdicts: Any) -> tuple[tuple[Verdict, ...], tuple[Verdict, ...]]:
    """The verdicts, and those that stand first: all of a few, or what is said of many together."""
    told = (verdicts,) if isinstance(verdicts, Verdict) else tuple(verdicts)
    return told, (verdicts.verdict,) if isinstance(verdicts, Checks) and len(told) > FEW else told
