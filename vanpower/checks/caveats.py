"""Assumptions behind an answer and shortcomings of a wiring, in the same words in every output."""

from __future__ import annotations

from collections.abc import Sequence

from vanpower.checks.common import rounded_up
from vanpower.checks.glance import of_panels, subject
from vanpower.checks.labels import contradictions, watts_agree
from vanpower.checks.registry import burning, failed, shortfalls
from vanpower.components.low_light import READ_WITHIN, is_read
from vanpower.components.single_diode import MODELLED, fit_panel, gaps
from vanpower.model.light import notes_of
from vanpower.results.numbers import span_in
from vanpower.results.verdict import Verdict
from vanpower.rig import Panel, Request, Rig

PARTS = "parts"
# a wiring that lacks a part without which it burns, in a table
FALLEN = {"Start": "no wake", "Hot floor": "hot: no", "Plain switch": "wastes", "Portable": "portable"}
# a wiring that falls short of something, in a table
SHORT = {
    "Start": "never wakes",
    "Plain switch": "its plain switch throws much away",
    "Portable": "a string is open once what is portable is packed away",
}
# the same in a few words


def caveats(panels: Sequence[Panel], request: Request) -> tuple[str, ...]:
    """What is wrong with labels, what stands in for missing values, and what the light rests on.

    Examples
    --------
    >>> from vanpower import Days, example
    >>> caveats(example("bookmobile").panels, Days(day="dull"))
    ('hourly means hide cloud edges: clipping is a lower bound',)
    """
    kinds = tuple(dict.fromkeys(panels))
    fits = [fit_panel(panel) for panel in kinds]
    wrong = [f"{panel.name} {contradictions(panel)[0]}" for panel in kinds if not watts_agree(panel)]
    notes = [*wrong, *gaps(kinds, MODELLED), *(note for fit in fits if not fit.exact for note in fit.notes)]
    return tuple(dict.fromkeys([*notes, *notes_of(kinds, request)]))


def dull_words(name: str, rig: Rig, band: tuple[float, float], unit: str) -> str:
    """What the labels of a wiring's panels leave open in dull light.

    Examples
    --------
    >>> from vanpower import example
    >>> dull_words("2s", example("bookmobile"), (38.6, 61.2), "Wh").partition(":")[2].partition(",")[0]
    ' 2s may deliver 38.6 to 61.2 Wh'
    """
    brings = f"{name} may deliver {span_in(*band, unit)}, and the others move with it"
    if all(is_read(panel) for panel in rig.panels):
        by = sorted({panel.read_by or "volts" for panel in rig.panels})
        sure = ", ".join(f"{what} within {100 * READ_WITHIN[what]:.0f} %" for what in by)
        return f"panels as read in dull light, {sure} in 19 of 20 readings: {brings}"
    return (
        f"labels say little of dull light, and the middle of seven measured panels is taken: {brings}, as they do; "
        "about one in four others lies outside, and a reading of each panel on a grey day narrows it"
    )


def dull_told(by_label: str, middle: str, band: tuple[float, float]) -> str:
    """An amount in dull light: the middle of measured panels, their range, and what labels alone say.

    Examples
    --------
    >>> dull_told("61.3 Wh", "49.3 Wh", (38.7, 61.3))
    'about 49.3 Wh (38.7 to 61.3 as measured panels differ in dull light; 61.3 Wh by the label alone)'
    >>> dull_told("18.0 kWh", "15.9 kWh", (14_120.0, 17_960.0))
    'about 15.9 kWh (14.1 to 18.0 as measured panels differ in dull light; 18.0 kWh by the label alone)'
    >>> dull_told("50.1 Wh", "50.1 Wh", (43.0, 57.0))
    '50.1 Wh'
    """
    if middle == by_label:
        return by_label
    span, unit = _span_like(by_label, band)
    span = span.removesuffix(f" {unit}")
    return f"about {middle} ({span} as measured panels differ in dull light; {by_label} by the label alone)"


def dull_range(name: str, by_label: str, band: tuple[float, float]) -> str:
    """The sentence behind an amount of one wiring in dull light: the range of measured panels, and the label alone.

    Examples
    --------
    >>> dull_range("2p", "44.4 W", (39.3, 44.4))
    'Measured panels differ in dull light: 39.3 to 44.4 W in 2p, the upper end by the label alone.'
    >>> dull_range("2p", "50.1 W", (43.0, 57.0))
    'Measured panels differ in dull light: 43.0 to 57.0 W in 2p; 50.1 W by the label alone.'
    """
    span, _ = _span_like(by_label, band)
    label = ", the upper end" if span.endswith(f" to {by_label}") else f"; {by_label}"
    return f"Measured panels differ in dull light: {span} in {name}{label} by the label alone."


def _span_like(by_label: str, band: tuple[float, float]) -> tuple[str, str]:
    """A range in the unit of an amount that is said beside it, and that unit."""
    unit = by_label.rpartition(" ")[2]
    return span_in(*band, unit.removeprefix("k")), unit


def to_mend(name: str, rig: Rig) -> tuple[str, ...]:
    """What burns, lacks a fuse or falls short in an allowed wiring, a sentence each, whoever is answered.

    Examples
    --------
    >>> from vanpower import example
    >>> to_mend("3p", example("seed-swap"))[1].partition(";")[0]
    '3p, reverse current: The string of P1 and of P2 decides: up to 17.3 A in bright light'
    """
    return tuple(f"{name}, {subject(verdict, inside=True)}: {verdict.sentence}" for verdict in failed(rig))


def short_word(rig: Rig) -> str:
    """What a wiring lacks and the first thing that it falls short of, in a word each for a table; empty for nothing.

    Examples
    --------
    >>> from vanpower import example
    >>> short_word(example("puppet-stage")), short_word(example("puppet-stage").wired("4p"))
    ('', 'parts, no wake')
    >>> short_word(example("seed-swap"))  # two fuses are to be fitted first
    'parts'
    """
    fallen = [FALLEN[_subject(verdict)] for verdict in shortfalls(rig)][:1]
    return ", ".join([PARTS] * bool(burning(rig)) + fallen)


def short_of(rig: Rig) -> str:
    """All that a wiring falls short of, in a few words; empty for nothing.

    Examples
    --------
    >>> from vanpower import example
    >>> short_of(example("puppet-stage").wired("4p"))
    'never wakes, 14.5 V short on a hot roof'
    """
    said: dict[str, list[str]] = {}
    for verdict in shortfalls(rig):
        said.setdefault(of_panels(verdict), []).append(_said(verdict))
    return "; ".join(", ".join(words) + (f" ({which})" if which else "") for which, words in said.items())


def _subject(verdict: Verdict) -> str:
    """Which check it is."""
    return verdict.question.partition(":")[0]


def _said(verdict: Verdict) -> str:
    """One shortfall in a few words."""
    if _subject(verdict) == "Hot floor":
        return f"{rounded_up(-verdict.margin)} V short on a hot roof"
    return SHORT[_subject(verdict)]
