"""The commissioning card: what a meter should show in the light and heat of now, before anything is joined and after.

Each expectation has its tolerance, put together from label, meter, light and heat as the root of the sum of their
squares (JCGM 100:2008, 5.1.2, errors that do not hang together). A filled card is a small table; two of them, a year
apart, tell dirt from a diode. Left out: what fails and comes back; insulation takes an instrument of its own.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from statistics import median

from vanpower.checks.common import NO_ARCS
from vanpower.checks.glance import subject
from vanpower.checks.labels import odd_labels
from vanpower.checks.order import order_of_work
from vanpower.checks.plugs_and_isolator import touch_cautions
from vanpower.checks.registry import failed, refusal
from vanpower.model.iv_curve import panel_curve
from vanpower.model.rig_in_light import rig_model
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Panel, Rig, Snapshot
from vanpower.trials.used_panel import GROUP_NEAR, I_LOW, SAFETY, V_BRIGHT

LABEL_V, LABEL_I = 0.02, 0.03
# share by which a sound panel's open-circuit volts and short-circuit amps miss its label: many labels say 3 %, and
# measured ones from 400 W/m² up kept within 1.5 and 3 % of their own (tests/test_commission.py); common practice
METER, DIGIT_V, DIGIT_A = 0.01, 0.1, 0.05
# share, and last digit in volts and amps; common practice, no source
TEMP_WITHIN = 4.0
# [K] by which cells differ from a thermometer at the back; no source
LIGHT_LEAST = 200.0
# [W/m²] less is too dull for a card: there labels alone say too little of sound panels
BY_CARD, BY_LABEL = (0.025, 0.04), (V_BRIGHT, 1.0 - I_LOW)
# share by which volts and amps must differ, against the other panels, to be called changed: from card to card twice the
# meter's error and a little (no source), against the label what a used panel is allowed
MOST_NAMED = 3
# panels of a string that its name lists
NONE = 0.02
# share of the amps under which no current flows
INSULATION_V, V_STEPS = (250, 500), 120.0
# [V] test volts of the insulation up to and above so many volts of 1.25 times the label's sum; IEC 62446-1 as a poster
# of an instrument maker tells it (studylib.net/doc/18490683, secondary copy)


@dataclass(frozen=True, kw_only=True)
class Expectation:
    """What a meter should show at one place: volts and amps, each with its tolerance; amps None where none are read.

    Examples
    --------
    >>> Expectation(at="P1", v=21.4, v_within=0.6, i=4.1, i_within=0.4).meets(v=21.0, i=3.2)
    (True, False)
    """

    at: str
    v: float
    v_within: float
    i: float | None = None
    i_within: float = 0.0

    def meets(self, *, v: float | None = None, i: float | None = None) -> tuple[bool | None, bool | None]:
        """Whether volts and amps lie within tolerance; None for what was not read."""
        volts = None if v is None else abs(v - self.v) <= self.v_within
        amps = None if i is None or self.i is None else abs(i - self.i) <= self.i_within
        return volts, amps


@dataclass(frozen=True, kw_only=True)
class Filled:
    """One line of a filled card: where, in what light and heat, and what the meter showed.

    Examples
    --------
    >>> Filled(at="P1", light=620.0, temp_cell=41.0, v=21.0).i is None
    True
    """

    at: str
    light: float
    temp_cell: float
    v: float | None = None
    i: float | None = None


@dataclass(frozen=True, repr=False)
class CommissionCard(Result):
    """What meters should show on one rig in one light, before its strings are joined and after.

    Parameters
    ----------
    rig : Rig
    light, light_within_pct, temp_cell : float
        As read or guessed, and by how much the light may be off. [W/m², %, °C]
    panels, strings, circuits : tuple of Expectation
        Open and short-circuited panels, open strings, and each controller at work.

    Examples
    --------
    >>> from vanpower import example
    >>> card = commission(example("bookmobile"), light=620, temp_cell=41)
    >>> [one.at for one in (*card.panels, *card.strings, *card.circuits)]
    ['P1', 'P2', 'string 1 (P1)', 'string 2 (P2)', 'controller']
    """

    rig: Rig
    light: float
    light_within_pct: float
    temp_cell: float
    panels: tuple[Expectation, ...]
    strings: tuple[Expectation, ...]
    circuits: tuple[Expectation, ...]

    @property
    def expected(self) -> tuple[Expectation, ...]:
        """All lines, in the order of work."""
        return (*self.panels, *self.strings, *self.circuits)

    def table(self, what: None = None) -> Table:
        """One line a place, with room to write."""
        columns = (
            Column(name="at", left=True), Column(name="volts", left=True), Column(name="read", left=True),
            Column(name="amps", left=True, gap=3), Column(name="read", left=True),
        )  # fmt: skip
        return Table(columns, [(one.at, *_cells(one)) for one in self.expected])

    @property
    def verdict(self) -> Verdict:
        """Whether it may be joined, by the checks; the readings are still to be made."""
        refused = refusal(self.rig)
        wrong = [refused] if refused else [one for one in failed(self.rig) if one.stated or one.margin < 0]
        answer: Answer = "no" if wrong else "close"
        unknown = "" if wrong else " ".join(f"{subject(one)}: {one.sentence}" for one in failed(self.rig))
        said = (
            f"Do not join or connect it: {', '.join(map(subject, wrong))}. Mend that first; `vanpower check` says why."
            if wrong
            else f"Not known before it is measured: {_many(self.panels, 'panel')}, "
            f"{_many(self.strings, 'string')}, then {_many(self.circuits, 'controller')}. Outside its tolerance: stop."
        )
        first = f"Before strings are joined, find out what is not stated. {unknown}" if unknown else ""
        said = " ".join(filter(None, (first, said, odd_labels(self.rig.panels))))
        return Verdict(
            question=f"May {self.rig.name} be joined and connected?",
            answer=answer,
            margin=float(len(self.expected)),
            unit="readings to make",
            sentence=said,
            basis=self.basis,
            caution=" ".join([SAFETY, NO_ARCS, *self.touch]),
        )

    @property
    def touch(self) -> list[str]:
        """What to be careful of where the rig's volts hurt; empty where they do not."""
        return touch_cautions({self.rig.name: self.rig})

    @property
    def basis(self) -> str:
        """What expectations and tolerances rest on."""
        return (
            f"light {self.light:.0f} W/m² within {self.light_within_pct:g} %, cells at {self.temp_cell:.3g} °C within "
            f"{TEMP_WITHIN:g} K; label within {100 * LABEL_V:g} % of volts and {100 * LABEL_I:g} % of amps; meter "
            f"{100 * METER:g} % and a digit; put together as the root of the sum of squares"
        )

    @property
    def steps(self) -> tuple[str, ...]:
        """The order of work with the tests of insulation in their place; none where a check forbids the rig."""
        if refusal(self.rig):
            return ()
        words = [step.words for step in order_of_work(self.rig)]
        words[1] += f" Volts, then amps into its boxes. {SAFETY}"
        words[3] += " Bonding to the chassis by local rules (IEC 62446-1 6.1)."
        words[6] += " (6.2 and 6.4)"
        words[9] += f" Into the boxes of the controller. {self.first_bulk} (6.5 and 6.6)"
        return (*words[:-1], self.insulation, words[-1])

    @property
    def first_bulk(self) -> str:
        """What goes into the battery once it is joined, in words."""
        now = rig_model(self.rig, Snapshot(light=self.light, temp_cell=self.temp_cell))
        amps = float(now.p_battery[0]) / self.rig.battery.v_now
        return (
            f"First bulk: about {amps:.1f} A into the battery in this light, while its volts rise to "
            f"{self.rig.battery.v_absorption:g} V and no further."
        )

    @property
    def insulation(self) -> str:
        """How insulation is tested, for whoever has the instrument."""
        most = 1.25 * max(sum(self.rig.panels[p].v_oc for p in s) for c in self.rig.circuits for s in c.wiring.strings)
        volts = INSULATION_V[most > V_STEPS]
        return (
            f"Insulation last (6.7), by a competent person with an insulation tester at {volts} V: charging off, "
            "isolator open, glass covered, amps read zero, roof cable off the controller; array to chassis. That "
            "standard's table says what passes."
        )


OUTSIDE = (
    "Volts a group low: a bypass diode or a reversed panel. No volts or the wrong sign: stop, find the plug. Amps low "
    "in one panel alone: dirt, shade, glass. Amps off in all alike: the light was misjudged. Volts off in all alike: "
    "the heat."
)
# what a reading outside its tolerance means
ORDER_FROM = (
    "The order of the tests is that of clause 6 of IEC 62446-1:2016, bonding, polarity, open volts, amps, function, "
    "insulation, by its contents and summaries of it; the clause itself was not read. Battery first, panel last: "
    "common practice."
)
# what the order of work rests on


def commission(rig: Rig, light: float, temp_cell: float, *, light_within_pct: float = 20.0) -> CommissionCard:
    """What meters should show on a rig's panels, strings and controllers in some light.

    Parameters
    ----------
    rig : Rig
    light, temp_cell : float
        Irradiance on the panels, and temperature at their back. [W/m², °C]
    light_within_pct : float
        By how much the light may be off: 20 guessed, 5 with a meter or a spare panel. [%]

    Returns
    -------
    CommissionCard

    Raises
    ------
    ValueError
        For light too dull for a card.

    Examples
    --------
    >>> from vanpower import example
    >>> round(commission(example("bookmobile"), light=620, temp_cell=41).panels[0].v, 1)
    20.8
    """
    Snapshot(light=light, temp_cell=temp_cell)
    if light < LIGHT_LEAST:
        raise ValueError(
            f"light is {light:g} W/m²; a commissioning card wants {LIGHT_LEAST:g} or more, since below labels alone "
            "say too little of a sound panel. Wait for sun."
        )
    off = light_within_pct / 100.0
    panels = tuple(
        _of_panel(panel, f"P{k + 1}", light, temp_cell, off)
        for k, panel in enumerate(rig.panels) if any(k in circuit.wiring.panels for circuit in rig.circuits)
    )  # fmt: skip
    by_name = {one.at: one for one in panels}
    every = [string for circuit in rig.circuits for string in circuit.wiring.strings]
    strings = tuple(_of_string(k, [by_name[f"P{p + 1}"] for p in string]) for k, string in enumerate(every, 1))
    circuits = tuple(_of_circuit(rig, number, light, temp_cell, off) for number, _ in enumerate(rig.circuits))
    return CommissionCard(rig, light, light_within_pct, temp_cell, panels, strings, circuits)


def _of_panel(panel: Panel, at: str, light: float, temp: float, off: float) -> Expectation:
    """One panel, open and short-circuited."""
    here = panel_curve(panel, light, temp)
    dim, hot = panel_curve(panel, light * (1 - off), temp), panel_curve(panel, light, temp + TEMP_WITHIN)
    v_within = math.hypot(LABEL_V * here.v_oc, METER * here.v_oc + DIGIT_V, here.v_oc - dim.v_oc, here.v_oc - hot.v_oc)
    i_within = math.hypot(LABEL_I * here.i_sc, METER * here.i_sc + DIGIT_A, here.i_sc - dim.i_sc, here.i_sc - hot.i_sc)
    return Expectation(at=at, v=here.v_oc, v_within=v_within, i=here.i_sc, i_within=i_within)


def _of_string(number: int, panels: Sequence[Expectation]) -> Expectation:
    """An open string: volts add up, and so do tolerances, which panels of one make share."""
    named = "+".join(one.at for one in panels) if len(panels) <= MOST_NAMED else f"{len(panels)} panels"
    at = f"string {number} ({named})"
    return Expectation(at=at, v=sum(one.v for one in panels), v_within=sum(one.v_within for one in panels))


def _of_circuit(rig: Rig, number: int, light: float, temp: float, off: float) -> Expectation:
    """A controller at work, battery not full."""

    def run(light: float, temp: float) -> tuple[float, float]:
        now = rig_model(rig, Snapshot(light=light, temp_cell=temp)).operations[number]
        return float(now.v_array[0]), float(now.i_array[0])

    (v, i), dim, hot = run(light, temp), run(light * (1 - off), temp), run(light, min(temp + TEMP_WITHIN, 105.0))
    v_within = math.hypot(LABEL_V * v, METER * v + DIGIT_V, v - dim[0], v - hot[0])
    i_within = math.hypot(LABEL_I * i, METER * i + DIGIT_A, i - dim[1], i - hot[1])
    at = f"controller {number + 1}" if len(rig.circuits) > 1 else "controller"
    return Expectation(at=at, v=v, v_within=v_within, i=i, i_within=i_within)


def _many(things: Sequence[Expectation], what: str) -> str:
    """So many of a thing, in words."""
    return f"{len(things)} {what}{'s' * (len(things) != 1)}"


def _cells(one: Expectation) -> tuple[str, str, str, str]:
    """Volts and amps with their tolerance, and room to write."""
    amps = ("-", "") if one.i is None else (f"{one.i:.2f} ± {one.i_within:.2f} A", "____ A")
    return f"{one.v:.1f} ± {one.v_within:.1f} V", "____ V", *amps


# A year later


@dataclass(frozen=True, kw_only=True)
class Change:
    """What has become of one panel from one card to the next, against the other panels.

    Parameters
    ----------
    at : str
    v, i : float or None
        Share by which volts and amps changed, light and heat taken out; None where one card has no reading.
    word, why : str
    """

    at: str
    v: float | None
    i: float | None
    word: str
    why: str


@dataclass(frozen=True, repr=False)
class CardComparison(Result):
    """Two filled cards of one rig, panel by panel; or one against the labels.

    Parameters
    ----------
    rig : Rig
    changes : tuple of Change
    by_label : bool
        Whether the labels stand for the older card.
    outside : tuple of str
        What strings and controllers show outside their tolerance, a sentence each.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> card = [(one.at, one.v, one.i) for one in commission(rig, 700, 35).panels]
    >>> old = [Filled(at=at, light=700, temp_cell=35, v=v, i=i) for at, v, i in card]
    >>> new = [old[0], Filled(at="P2", light=700, temp_cell=35, v=card[1][1], i=0.91 * card[1][2])]
    >>> compare_cards(rig, old, new).changes[1].word
    'dirt or glass'
    """

    rig: Rig
    changes: tuple[Change, ...]
    by_label: bool = False
    outside: tuple[str, ...] = ()

    def table(self, what: None = None) -> Table:
        """One line a panel."""
        columns = (
            Column(name="panel", left=True), Column(name="volts", unit="%", digits=1),
            Column(name="amps", unit="%", digits=1), Column(name="", left=True),
        )  # fmt: skip
        rows = [(one.at, *(None if x is None else 100 * x for x in (one.v, one.i)), one.word) for one in self.changes]
        return Table(columns, rows)

    @property
    def verdict(self) -> Verdict:
        """Whether anything has changed."""
        v, i = BY_LABEL if self.by_label else BY_CARD
        changed = [one for one in self.changes if one.word not in (AS_NEW, UNREAD)]
        unread = [one.at for one in self.changes if one.word == UNREAD]
        fine = "No panel is off its label" if self.by_label else "No panel has changed"
        said = " ".join([*(one.why for one in changed), *self.outside]) or f"{fine} more than meters and labels err."
        said += f" Not read twice: {', '.join(unread)}." * bool(unread)
        return Verdict(
            question=f"Are the panels of {self.rig.name} as {'their labels say' if self.by_label else 'they were'}?",
            answer="no" if changed or self.outside else "close" if unread else "yes",
            margin=100 * max((abs(x) for one in self.changes for x in (one.v, one.i) if x is not None), default=0.0),
            unit="% largest change",
            sentence=said,
            basis=f"each panel against the others on the same day, so that misjudged light and heat fall out; "
            f"differences of {100 * v:g} % of volts and {100 * i:g} % of amps and more count",
            caution=SAFETY if changed else "",
        )


AS_NEW, UNREAD, DIRT, GROUP, NO_LINE, VOLTS = (
    "as new",
    "not read",
    "dirt or glass",
    "a group lost",
    "line open",
    "volts",
)


def compare_cards(rig: Rig, old: Sequence[Filled], new: Sequence[Filled]) -> CardComparison:
    """What has changed between two filled cards of one rig.

    Parameters
    ----------
    rig : Rig
    old, new : sequence of Filled
        Lines of panels; others are left out.

    Returns
    -------
    CardComparison

    Notes
    -----
    Each reading is divided by what the panel's label gives in the light and heat of its line, and then by the middle of
    all panels on that card: what the light was misjudged by is common to them all and falls out. With fewer than three
    panels it does not fall out wholly, and with one not at all, so that its amps are told with the light's error.

    Examples
    --------
    >>> from vanpower import example
    >>> compare_cards(example("bookmobile"), [], []).changes[0].word
    'not read'
    """
    names = [f"P{p + 1}" for circuit in rig.circuits for p in circuit.wiring.panels]
    before, after = _ratios(rig, old), _ratios(rig, new)
    changes = tuple(_change(rig, name, before, after, BY_CARD) for name in sorted(names, key=_number))
    return CardComparison(rig, changes)


def judge_card(rig: Rig, card: Sequence[Filled], *, light_within_pct: float = 20.0) -> CardComparison:
    """What a filled card says of a new rig: each panel against its label, strings and controllers against tolerance.

    Parameters
    ----------
    rig : Rig
    card : sequence of Filled
    light_within_pct : float
        By how much its light may be off. [%]

    Returns
    -------
    CardComparison

    Examples
    --------
    >>> from vanpower import example
    >>> now = {"light": 700, "temp_cell": 35}
    >>> half = [Filled(at="P1", v=21.0, i=4.4, **now), Filled(at="P2", v=10.6, **now)]
    >>> [change.word for change in judge_card(example("bookmobile"), half).changes]
    ['as new', 'a group lost']
    """
    names = [f"P{p + 1}" for circuit in rig.circuits for p in circuit.wiring.panels]
    sound: Ratios = {name: (1.0, 1.0) for name in names}
    ratios = _ratios(rig, card)
    changes = tuple(_change(rig, name, sound, ratios, BY_LABEL) for name in sorted(names, key=_number))
    return CardComparison(rig, changes, by_label=True, outside=_outside(rig, card, light_within_pct))


def _number(name: str) -> int:
    """The number of a panel."""
    return int(name[1:])


def _outside(rig: Rig, card: Sequence[Filled], light_within_pct: float) -> tuple[str, ...]:
    """What strings and controllers show outside their tolerance."""
    said = []
    for line in card:
        if line.at.startswith(("string", "controller")):
            expected = commission(rig, line.light, line.temp_cell, light_within_pct=light_within_pct).expected
            place = next((one for one in expected if one.at == line.at), None)
            if place is None:
                raise ValueError(f"{line.at!r} is on the card and not in {rig.name}; was it made for another wiring?")
            volts, amps = place.meets(v=line.v, i=line.i)
            if volts is False:
                said.append(f"{_cap(line.at)}: {line.v:g} V, expected {place.v:.1f} ± {place.v_within:.1f} V.")
            if amps is False:
                said.append(f"{_cap(line.at)}: {line.i:g} A, expected {place.i:.2f} ± {place.i_within:.2f} A.")
    return tuple(said)


def _cap(words: str) -> str:
    """With a capital."""
    return words[:1].upper() + words[1:]


Ratios = Mapping[str, tuple[float | None, float | None]]


def _ratios(rig: Rig, card: Sequence[Filled]) -> Ratios:
    """Volts and amps of each panel against its label, each against the best middle of the card."""
    found: dict[str, tuple[float | None, float | None]] = {}
    for line in card:
        if line.at.startswith("P") and line.at[1:].isdigit() and 1 <= int(line.at[1:]) <= len(rig.panels):
            curve = panel_curve(rig.panels[int(line.at[1:]) - 1], line.light, line.temp_cell)
            found[line.at] = (
                None if line.v is None else line.v / curve.v_oc, None if line.i is None else line.i / curve.i_sc
            )  # fmt: skip
    volts, amps = (_middle([pair[k] for pair in found.values()]) for k in (0, 1))
    return {at: (None if v is None else v / volts, None if i is None else i / amps) for at, (v, i) in found.items()}


def _middle(values: Sequence[float | None]) -> float:
    """The middle of what was read; of two the higher, since panels lose and do not gain; of one nothing falls out."""
    read = [value for value in values if value is not None and value > 0]
    return 1.0 if len(read) < 2 else max(read) if len(read) == 2 else median(read)


def _change(rig: Rig, at: str, old: Ratios, new: Ratios, counts: tuple[float, float]) -> Change:
    """What has become of one panel."""
    before, after = old.get(at, (None, None)), new.get(at, (None, None))
    v, i = (None if a is None or b is None or a <= 0 else b / a - 1 for a, b in zip(before, after, strict=True))
    if v is None and i is None:
        return Change(at=at, v=v, i=i, word=UNREAD, why="")
    panel = rig.panels[int(at[1:]) - 1]
    groups = -(v or 0.0) * panel.substrings
    if (i is not None and i <= NONE - 1) or (v is not None and v <= NONE - 1):
        why = f"{at} gives nothing: plug, line or panel open; the meter's own fuse first."
        return Change(at=at, v=v, i=i, word=NO_LINE, why=why)
    if v is not None and panel.substrings > 1 and round(groups) >= 1 and abs(groups - round(groups)) < GROUP_NEAR:
        why = f"{at} has lost {-100 * v:.0f} % of its volts, as if a group were gone: a bypass diode or a broken line."
        return Change(at=at, v=v, i=i, word=GROUP, why=why)
    if v is not None and abs(v) >= counts[0]:
        why = f"{at} has {100 * v:+.0f} % of volts against the others: its heat again, then in dull light for a leak."
        return Change(at=at, v=v, i=i, word=VOLTS, why=why)
    if i is not None and i <= -counts[1]:
        kept = "volts as new" if v is not None else "volts not read"
        rest = ": dirt or glass; not a diode." if v is not None else "; read its volts too."
        why = f"{at} has lost {-100 * i:.0f} % of its amps, {kept}{rest} Wash it and read again."
        return Change(at=at, v=v, i=i, word=DIRT if v is not None else "amps", why=why)
    return Change(at=at, v=v, i=i, word=AS_NEW, why="")
