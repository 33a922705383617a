"""What the reader of a page moves: controls with the values they take, and the question that stands at each.

A page holds worked-out states alone, so a control has a number of values, and what was asked is one of them.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product

from vanpower.model.light import title_of
from vanpower.rig import Days, Request, Rig, Snapshot
from vanpower.sharing.recipe import MOST_WORK, Option, curves_in, moments_of
from vanpower.weather.days import DAY_SHARE
from vanpower.weather.typical_years import TYPICAL_YEARS

MOST_OF_ONE, MOST_OF_TWO = 60, 400
# states of a page with one control and with two: more than a finger tells apart on a telephone; no source
DRAWN_OF_ONE, DRAWN_OF_TWO = 360, 1500
# states x wirings that a page of 150 kB and one of 600 kB have room for, as measured
FEWEST = 5
# values of a control
LIGHT_FROM, LIGHT_TO = 10.0, 1200.0
# [W/m²] from deep dusk to full sun at the edge of a cloud
VOLTS_FROM, VOLTS_TO = 0.9, 1.25
# shares of a battery's nominal volts between which controllers charge; inside what any battery may have
ROUND_SHARES = (21, 11, 6)
# how many values a control of shares has from 0 to 100 %: in steps of 5, 10 or 20 %
ROUND_VOLTS = (22, 15, 8)
# how many values a control of volts has: in steps of 0.2, 0.3 or 0.6 V for a battery of 12 V
MOST_NAMED = 3
# shaded places in the name of a control
Question = tuple[dict[str, Rig], Request]


@dataclass(frozen=True, kw_only=True)
class Control:
    """One thing that a reader moves.

    Parameters
    ----------
    word : str
        By which it is asked for, one of `WORDS`.
    name : str
        What stands beside it.
    labels : tuple of str
        What each of its values is called.
    start : int
        The value that was asked for.
    questions : callable
        Rigs and request as they are at a value, of those at the values of other controls.

    Examples
    --------
    >>> from vanpower import example
    >>> light, = controls({"2p": example("bookmobile")}, [Snapshot(light=150, temp_cell=15)], {"light": 60})
    >>> light.labels[0], light.labels[light.start], light.labels[-1]
    ('10 W/m²', '150 W/m²', '1200 W/m²')
    """

    word: str
    name: str
    labels: tuple[str, ...]
    start: int
    question: Callable[[int, Question], Question]


@dataclass(frozen=True, kw_only=True)
class State:
    """What a page shows at one place of its controls; drawings and words are numbers of those that the page holds.

    Examples
    --------
    >>> State(still=0, moving=3, finding=6, title=0, verdict=1, rows=((2, 3),), assumed=(4,), cautions=(5,)).moving
    3
    """

    still: int
    moving: int
    finding: int
    title: int
    verdict: int
    rows: tuple[tuple[int, ...], ...]
    assumed: tuple[int, ...]
    cautions: tuple[int, ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class Page:
    """All that a page shows: controls, states in their order, and drawings and words that states share.

    Examples
    --------
    >>> Page(name="van", controls=(), heads=(), states=(), stills=(), movings=(), words=("2s 43 W",)).words[0]
    '2s 43 W'
    """

    name: str
    controls: tuple[Control, ...]
    heads: tuple[str, ...]
    states: tuple[State, ...]
    stills: tuple[str, ...]
    movings: tuple[str, ...]
    hatches: tuple[str, ...] = ()
    words: tuple[str, ...]

    @property
    def start(self) -> int:
        """Which state was asked for."""
        return place([len(control.labels) for control in self.controls], [c.start for c in self.controls])


def place(counts: Sequence[int], values: Sequence[int]) -> int:
    """The number of a state by the values of its controls; the last control runs fastest.

    Examples
    --------
    >>> place([19, 21], [2, 4])
    46
    """
    number = 0
    for count, value in zip(counts, values, strict=True):
        number = number * count + value
    return number


def usual_words(requests: Sequence[Request]) -> tuple[str, ...]:
    """What a reader moves where nobody chose: light or the day, and shade where some was noted.

    Examples
    --------
    >>> usual_words([Snapshot(light=150, temp_cell=15)]), usual_words([Days(day="12-21")])
    (('light',), ('volts',))
    """
    first = requests[0]
    light = ("light",) if isinstance(first, Snapshot) else ("day",) if len(requests) > 1 else ()
    return (*light, *["shade"] * bool(first.shade)) or ("volts",)


def with_kin(requests: Sequence[Request]) -> list[Request]:
    """The days asked for; a single one asked for by its kind, out of a typical year, with the other kinds behind it.

    Examples
    --------
    >>> [request.day for request in with_kin([Days(day="dull")])]
    ['dull', 'dullest', 'median', 'bright', 'brightest']
    """
    first = requests[0]
    if len(requests) > 1 or not isinstance(first, Days) or first.weather not in TYPICAL_YEARS:
        return list(requests)
    kind, _, month = first.day.partition(" ")
    if kind not in DAY_SHARE:
        return [first]
    return [first, *(replace(first, day=f"{other} {month}".strip()) for other in DAY_SHARE if other != kind)]


def counts_for(words: Sequence[str], rigs: Mapping[str, Rig], requests: Sequence[Request]) -> dict[str, int]:
    """How many values each control has, so that the page stays light and is worked out within a minute.

    Examples
    --------
    >>> from vanpower import example, shade
    >>> moment = Snapshot(light=150, temp_cell=15, shade=shade("P1=0.2"))
    >>> counts_for(["light", "shade"], example("bookmobile").wirings(), [moment])
    {'light': 19, 'shade': 21}
    """
    check_words(words, requests)
    work = sum(moments_of(requests[0]) * curves_in(rig, requests[0]) for rig in rigs.values())
    most, drawn = (MOST_OF_ONE, DRAWN_OF_ONE) if len(words) == 1 else (MOST_OF_TWO, DRAWN_OF_TWO)
    states = min(most, drawn // len(rigs), MOST_WORK // max(work, 1))
    if "day" in words:
        return {word: len(requests) if word == "day" else _round(word, states // len(requests)) for word in words}
    if len(words) == 1:
        return {word: _round(word, states) for word in words}
    last = _round(words[1], math.isqrt(states) + 1)
    return {words[0]: _round(words[0], states // last), words[1]: last}


def _round(word: str, most: int) -> int:
    """A number of values of which each is a round number."""
    fit = {"shade": ROUND_SHARES, "volts": ROUND_VOLTS}.get(word, (max(most, FEWEST),))
    return next((count for count in fit if count <= most), fit[-1])


def check_words(words: Sequence[str], requests: Sequence[Request]) -> None:
    """Refuse what no reader can move over such a question.

    Raises
    ------
    ValueError
        With what would make sense.

    Examples
    --------
    >>> check_words(["shade"], [Snapshot(light=150, temp_cell=15)])
    Traceback (most recent call last):
    ValueError: a page moves the shade that was noted, and none was; name the cells, such as P1=0.2.
    """
    for word in words:
        if word not in WORDS:
            raise ValueError(f"a page moves {', '.join(WORDS)}; {word[:40]!r} is none of them.")
    if not 1 <= len(set(words)) == len(words) <= 2:
        raise ValueError(f"a page moves one thing or two different ones; here are {len(words)}.")
    moment = isinstance(requests[0], Snapshot)
    if "light" in words and not moment:
        raise ValueError("a page moves the light of one moment; days bring their own: move the day.")
    if "day" in words and (moment or len(requests) < 2):
        raise ValueError("a page moves between days where several were asked for, such as dull, median and bright.")
    if "shade" in words and not requests[0].shade:
        raise ValueError("a page moves the shade that was noted, and none was; name the cells, such as P1=0.2.")


def controls(rigs: Mapping[str, Rig], requests: Sequence[Request], counts: Mapping[str, Option]) -> tuple[Control, ...]:
    """The controls of a page, by how many values each has.

    Raises
    ------
    ValueError
        For more states than a page has, or what cannot be moved.

    Examples
    --------
    >>> from vanpower import example
    >>> volts, = controls({"2p": example("bookmobile")}, [Snapshot(light=150, temp_cell=15)], {"volts": 15})
    >>> volts.name, volts.labels[:3], volts.labels[volts.start]
    ('Battery', ('10.8 V', '11.1 V', '11.4 V'), '13.3 V')
    """
    check_words(list(counts), requests)
    each = [count for count in counts.values() if isinstance(count, int) and not isinstance(count, bool) and count >= 2]
    if len(each) < len(counts) or math.prod(each) > MOST_OF_TWO or max(each) > MOST_OF_ONE:
        raise ValueError(f"a control has 2 to {MOST_OF_ONE} values, and a page up to {MOST_OF_TWO} states.")
    work = math.prod(each) * sum(moments_of(requests[0]) * curves_in(rig, requests[0]) for rig in rigs.values())
    if work > MOST_WORK:
        raise ValueError(
            f"the page's states need {work / 1e6:.1f} million curves of cells, which would take minutes; up to "
            f"{MOST_WORK / 1e6:g} million make sense. Ask for fewer days, wirings or notes of shade."
        )
    return tuple(WORDS[word](rigs, requests, count) for word, count in zip(counts, each, strict=True))


def questions(rigs: Mapping[str, Rig], requests: Sequence[Request], moved: Sequence[Control]) -> list[Question]:
    """Rigs and request of every state, in the order of `place`.

    Examples
    --------
    >>> from vanpower import example
    >>> rigs, requests = {"2p": example("bookmobile")}, [Snapshot(light=150, temp_cell=15)]
    >>> asked = questions(rigs, requests, controls(rigs, requests, {"light": 9, "volts": 8}))
    >>> len(asked), asked[0][1].light, asked[-1][0]["2p"].battery.v_now
    (72, 10.0, 15.0)
    """
    found = []
    for values in product(*(range(len(control.labels)) for control in moved)):
        question: Question = (dict(rigs), requests[0])
        for control, value in zip(moved, values, strict=True):
            question = control.question(value, question)
        found.append(question)
    return found


# The controls


def _light(rigs: Mapping[str, Rig], requests: Sequence[Request], count: int) -> Control:
    """Light, in even steps of its logarithm: dull light has as much room as bright."""
    first = requests[0]
    assert isinstance(first, Snapshot)
    low = min(LIGHT_FROM, first.light) or LIGHT_FROM
    high = max(LIGHT_TO, first.light)
    steps = (low * (high / low) ** (k / (count - 1)) for k in range(count))
    values, start = _with(first.light, [float(f"{step:.2g}") for step in steps])

    def question(k: int, of: Question) -> Question:
        assert isinstance(of[1], Snapshot)
        return of[0], replace(of[1], light=values[k])

    return Control(word="light", name="Light", labels=_labels(values, " W/m²"), start=start, question=question)


def _shade(rigs: Mapping[str, Rig], requests: Sequence[Request], count: int) -> Control:
    """Light that is left on the shaded cells; where notes differ, how much of what they take is taken."""
    notes = requests[0].shade
    alike = len({note.lit for note in notes}) == 1
    asked = 100 * notes[0].lit if alike else 100.0
    values, start = _with(round(asked, 6), [round(100.0 * k / (count - 1), 1) for k in range(count)])

    def question(k: int, of: Question) -> Question:
        if k == start:
            return of
        share = values[k] / 100
        shade = tuple(replace(note, lit=share if alike else 1 - share * (1 - note.lit)) for note in of[1].shade)
        return of[0], replace(of[1], shade=shade)

    places = list(dict.fromkeys(note.place for note in notes))
    named = ", ".join(places[:MOST_NAMED]) + f" and {len(places) - MOST_NAMED} more" * (len(places) > MOST_NAMED)
    name = f"Light left on {named}" if alike else f"Share of the shade noted on {named}"
    return Control(word="shade", name=name, labels=_labels(values, " %"), start=start, question=question)


def _volts(rigs: Mapping[str, Rig], requests: Sequence[Request], count: int) -> Control:
    """The battery's volts."""
    battery = next(iter(rigs.values())).battery
    low, high = VOLTS_FROM * battery.v_nominal, VOLTS_TO * battery.v_nominal
    steps = [round(low + (high - low) * k / (count - 1), 2) for k in range(count)]
    values, start = _with(battery.v_now, steps)

    def question(k: int, of: Question) -> Question:
        if k == start:
            return of
        return {name: rig.with_battery(v_now=values[k]) for name, rig in of[0].items()}, of[1]

    return Control(word="volts", name="Battery", labels=_labels(values, " V"), start=start, question=question)


def _day(rigs: Mapping[str, Rig], requests: Sequence[Request], count: int) -> Control:
    """The days asked for; kinds of day from the dullest on, others as they were asked for."""
    kinds = list(DAY_SHARE)
    words = [request.day.partition(" ") for request in requests if isinstance(request, Days)]
    order = list(range(len(requests)))
    if all(kind in kinds for kind, *_ in words) and len({month for *_, month in words}) == 1:
        order.sort(key=lambda k: kinds.index(words[k][0]))
    days = [requests[k] for k in order]

    def question(k: int, of: Question) -> Question:
        return of[0], replace(days[k], shade=of[1].shade)

    labels = tuple(f"{said}: {when}" if said in kinds else when for said, when in map(_day_words, days))
    return Control(word="day", name="Day", labels=labels, start=order.index(0), question=question)


def _day_words(day: Request) -> tuple[str, str]:
    """The kind of a day, and what it turned out to be, without its place."""
    assert isinstance(day, Days)
    place_named, _, rest = title_of(replace(day, shade=())).partition(", ")
    return day.day.partition(" ")[0], rest or place_named


WORDS: dict[str, Callable[[Mapping[str, Rig], Sequence[Request], int], Control]] = {
    "light": _light,
    "day": _day,
    "shade": _shade,
    "volts": _volts,
}
# what a reader may move


def _with(asked: float, steps: Sequence[float]) -> tuple[list[float], int]:
    """Steps without twins, the nearest of which gives its place to the value asked for; and where that is."""
    values = list(dict.fromkeys(steps))
    start = min(range(len(values)), key=lambda k: abs(values[k] - asked))
    values[start] = asked
    return values, start


def _labels(values: Sequence[float], unit: str) -> tuple[str, ...]:
    return tuple(f"{value:g}{unit}" for value in values)
