"""Sliders and lists to choose from, each below its label, in a row that a narrow screen breaks into a column."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping
from functools import partial
from typing import Any

import ipywidgets

from vanpower.weather.light_words import like_outside
from vanpower.widgets.of_van import OfVan, depends, told

CONTROL = {"max_width": "30em", "width": "auto", "margin": "0 0 4px 0"}
HANDLE = "0 8px"
# room at a slider's ends, where half of its handle stands out
NARROWEST_EM, LETTER_EM, BOX_EM = 15.0, 0.56, 7.0
# [em] least width of a control; of a letter of its label; of the box beside the label
BY_UNIT = {"(W/m²)": like_outside}
# what a number is like, said below its slider, by the unit of its label
DIGITS = 9
# of a slider's place; sums of steps err in the sixteenth


class _Unechoed:
    """A control whose moves are not sent back to the page that made them: the picture is there some 6 ms sooner.

    Left out: a second page on the same kernel sees the picture move, and not the control.
    """

    def trait_metadata(self, traitname: str, key: str, default: Any = None) -> Any:
        """As the control has it, but for the echo."""
        return False if key == "echo_update" else super().trait_metadata(traitname, key, default)  # type: ignore[misc]


class WholeSlider(_Unechoed, ipywidgets.IntSlider):
    """A slider over whole numbers."""


class Slider(_Unechoed, ipywidgets.FloatSlider):
    """A slider over numbers."""


class WholeBox(_Unechoed, ipywidgets.BoundedIntText):
    """A box for a whole number, beside a slider."""


class Box(_Unechoed, ipywidgets.BoundedFloatText):
    """A box for a number, beside a slider."""


SOFT = "#4A5560"
# of words that are read second, as in charts
Number = float | Callable[[Any], float]
# or what makes it of the van that is chosen


def slider(label: str, low: Number, high: Number, start: Number, step: float = 1) -> ipywidgets.ValueWidget | OfVan:
    """A slider over numbers; the label carries the unit. Whole numbers where all four are whole.

    Parameters
    ----------
    label : str
        What it sets, with its unit: "Light (W/m²)".
    low, high, start, step : float
        Both ends, where it stands at first, and the distance of two places, in that unit. Ends and start may be
        functions of the van that is chosen; a start beyond an end then moves the end.

    Raises
    ------
    TraitError
        Where the low end lies above the high one.

    Examples
    --------
    >>> slider("Light (W/m²)", 10, 1000, start=200, step=10).value
    200
    >>> slider("Battery (V)", 12, 14.6, start=13.3, step=0.1).value
    13.3
    """
    if depends(low, high, start):
        return OfVan(partial(_of_van, label, low, high, start, step))
    ends: tuple[Any, ...] = (low, high, start, step)
    whole = all(float(number).is_integer() for number in ends)
    kind, number = (WholeSlider, int) if whole else (Slider, float)
    least, most, place, distance = map(number, ends)
    return kind(description=label, min=least, max=most, value=place, step=distance)


def _of_van(label: str, low: Number, high: Number, start: Number, step: float, van: Any) -> ipywidgets.ValueWidget:
    """A slider for one van; over any numbers, since the next van's may not be whole."""
    ends, place = (float(told(low, van)), float(told(high, van))), float(told(start, van))
    return Slider(description=label, min=min(ends[0], place), max=max(ends[1], place), value=place, step=float(step))


Options = Mapping[str, Any] | Iterable[str]


def choice(
    label: str, options: Options | Callable[[Any], Options], start: Any = None
) -> ipywidgets.ValueWidget | OfVan:
    """A list to choose from: words, or words and what each stands for.

    Parameters
    ----------
    label : str
        What it sets.
    options : iterable of str, or mapping of str to anything
        Words, or words and the values that the answer is given for them; or a function that gives them for the van
        that is chosen. A list of one is not shown.
    start : object, optional
        One of the values, or a function of the van that gives it; the first one where it is none of them.

    Examples
    --------
    >>> choice("Panel P1", {"sound": None, "leaks": 30.0}, start=30.0).label
    'leaks'
    """
    if callable(options) or depends(start):
        return OfVan(lambda van: choice(label, told(options, van), told(start, van)))
    pairs = list(options.items()) if isinstance(options, Mapping) else [(word, word) for word in options]
    values = [value for _, value in pairs]
    index = values.index(start) if start in values else 0
    return ipywidgets.Dropdown(description=label, options=pairs, index=index)


def nearest(control: ipywidgets.ValueWidget, value: Any) -> Any:
    """The value that a control has room for: of a slider its place next to a number; another control takes it as it is.

    Examples
    --------
    >>> nearest(slider("Coldest dawn (°C)", -40, 10, start=-17), -43.7)
    -40
    >>> nearest(slider("Hour", 5, 19, start=9.5, step=0.25), 12.1)
    12.0
    """
    if not isinstance(control, ipywidgets.IntSlider | ipywidgets.FloatSlider):
        return value
    steps = round((min(max(value, control.min), control.max) - control.min) / control.step)
    place = min(control.min + steps * control.step, control.max)
    return int(place) if isinstance(control, ipywidgets.IntSlider) else round(place, DIGITS)


def one_further(control: ipywidgets.ValueWidget, before: Any, now: Any) -> Any:
    """Where the next step of a slider goes that has made one; None after what was no step, and at its ends.

    Examples
    --------
    >>> light = slider("Light (W/m²)", 10, 1000, start=200, step=10)
    >>> [one_further(light, *way) for way in ((200, 210), (210, 200), (200, 350), (990, 1000))]
    [220, 190, None, None]
    """
    if not isinstance(control, ipywidgets.IntSlider | ipywidgets.FloatSlider):
        return None
    if not 0 < abs(now - before) < 1.5 * control.step:
        return None
    further = nearest(control, now + math.copysign(control.step, now - before))
    return None if further == now else further


def labelled(control: ipywidgets.ValueWidget) -> ipywidgets.Widget:
    """A control below its label; a slider gets a box that takes the number typed and has a label of its own.

    The page moves slider and box together, and the slider alone is heard: after a touch the page tells once more where
    the box has been, and told late, on a busy machine, that would set the slider back to where the finger had passed.
    """
    if not hasattr(control, "description"):
        return control
    if not isinstance(control, ipywidgets.IntSlider | ipywidgets.FloatSlider):
        control.style.description_width = "initial"
        control.layout = _wide_enough(control.description)
        return control
    layout = _wide_enough(control.description) | {"overflow": "hidden"}
    kind = WholeBox if isinstance(control, ipywidgets.IntSlider) else Box
    box = kind(
        description=control.description, min=control.min, max=control.max, step=control.step, value=control.value,
        style={"description_width": "initial"}, layout={"width": "100%", "margin": "0"},
    )  # fmt: skip
    control.description, control.readout, control.layout = "", False, {"width": "auto", "margin": HANDLE}
    ipywidgets.jslink((control, "value"), (box, "value"))
    return ipywidgets.VBox([box, control, *_in_words(box.description, control)], layout=layout)


def _in_words(label: str, control: ipywidgets.ValueWidget) -> list[ipywidgets.HTML]:
    """What the number of a slider is like, where its unit tells; sent when it changes and not at every move."""
    found = []
    for like in [like for unit, like in BY_UNIT.items() if label.endswith(unit)]:
        line = ipywidgets.HTML(_small(like(control.value)), layout={"margin": "0"})
        control.observe(partial(_say_again, line, like), names="value")
        found.append(line)
    return found


def _say_again(line: ipywidgets.HTML, like: Callable[[float], str], change: Mapping[str, Any]) -> None:
    """What a number is like after it was moved."""
    line.value = _small(like(change["new"]))


def _small(words: str) -> str:
    """Words beneath a control."""
    return f"<p style='margin:0; font-size:.85em; line-height:1.3; color:{SOFT}'>{words}</p>"


def _wide_enough(label: str) -> dict[str, str]:
    """How wide a control gets: its label is never cut, and a row holds as many as fit."""
    width = f"{max(NARROWEST_EM, LETTER_EM * len(label) + BOX_EM):.1f}em"
    return CONTROL | {"flex": f"1 1 {width}", "min_width": f"min({width}, 100%)"}
