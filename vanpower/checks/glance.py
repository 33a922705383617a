"""The checks of a rig as one object, and as a short text with a line for each verdict."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from difflib import get_close_matches
from typing import overload

from vanpower.checks.common import rounded_down, rounded_up
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import SIGN_COLOURS, SIGN_MARKS, SIGNS, WORST_FIRST, Verdict
from vanpower.rig import Rig

FEW = 3
# checks that are said one by one; of more it is said how many pass, and which do not
MOST_STRINGS_TOLD = 4
# strings of a circuit that are told one by one; no source


@dataclass(frozen=True, repr=False)
class Checks(Result, Sequence[Verdict]):
    """The checks of a rig: a sequence of verdicts, each also found by what it is about.

    Parameters
    ----------
    rig : Rig
    verdicts : tuple of Verdict

    Examples
    --------
    >>> from vanpower import check, example
    >>> found = check(example("puppet-stage"), only=("cold ceiling", "start"))
    >>> found
    Checks: YES. All 2 are a yes.
    >>> found["cold ceiling"].answer, len(found)
    ('yes', 2)
    >>> print(found.table())
    OK          Cold ceiling     28.1 V left
    OK          Start             8.9 V left
    """

    rig: Rig
    verdicts: tuple[Verdict, ...]

    def __len__(self) -> int:
        return len(self.verdicts)

    @overload
    def __getitem__(self, which: int | str) -> Verdict: ...
    @overload
    def __getitem__(self, which: slice) -> tuple[Verdict, ...]: ...
    def __getitem__(self, which: int | str | slice) -> Verdict | tuple[Verdict, ...]:
        if not isinstance(which, str):
            return self.verdicts[which]
        return min(self.about(which), key=lambda verdict: (WORST_FIRST.index(verdict.answer), verdict.margin))

    def about(self, name: str) -> tuple[Verdict, ...]:
        """The verdicts about something, one for each circuit; `[name]` is the worst of them.

        Raises
        ------
        ValueError
            Where nothing of that name was checked.

        Examples
        --------
        >>> from vanpower import check, example
        >>> [verdict.answer for verdict in check(example("kiln-bus")).about("cold ceiling")]
        ['yes', 'yes']
        """
        found = tuple(v for v in self.verdicts if name.lower() in (_about(v), subject(v).lower()))
        if not found:
            names = list(dict.fromkeys(map(_about, self.verdicts)))
            near = get_close_matches(name.lower(), names, 1)
            meant = f" did you mean {near[0]!r}?" if near else ""
            raise ValueError(f"nothing called {name!r} is checked on this rig;{meant} There are {', '.join(names)}.")
        return found

    def only(self, names: Sequence[str]) -> Checks:
        """Those about some things, in the order of the names."""
        return replace(self, verdicts=tuple(verdict for name in names for verdict in self.about(name)))

    def table(self, what: None = None) -> Table:
        """One line a verdict: sign, what it is about, what is left or short."""
        return _table(self.verdicts)

    @property
    def verdict(self) -> Verdict:
        """The worst answer, and what is not a yes."""
        told = {sign: [subject(v) for v in self.verdicts if v.sign == sign] for sign in SIGNS}
        answers = {v.answer for v in self.verdicts}
        worst = next(answer for answer in WORST_FIRST if answer in answers or answer == "yes")
        yes, all_of = len(told["ok"]), len(self.verdicts)
        less = [f"{sign.capitalize()}: {', '.join(told[sign])}." for sign in SIGNS[:-1] if told[sign]]
        said = " ".join([*less, f"{yes} of {all_of} are a yes."]) if less else f"All {all_of} are a yes."
        return Verdict(
            question=f"Checks: does {self.rig.name} pass those made here?",
            answer=worst,
            margin=float(yes - all_of),
            unit="answers",
            sentence=said,
            basis=f"labels and tape measures, by {self.rig.rule_book} rules; how well it is made is not checked here",
            caution=" ".join(dict.fromkeys(v.caution for v in self.verdicts if v.answer == "no" and v.caution)),
            stated=bool(told["check"]) or not told["not stated"],
        )


def at_a_glance(verdicts: Sequence[Verdict]) -> str:
    """Verdicts as a short text, one line each: sign, subject, and what is left or short.

    Parameters
    ----------
    verdicts : sequence of Verdict
        Such as `check(rig)`.

    Returns
    -------
    str

    Examples
    --------
    >>> from vanpower import check, example
    >>> print(at_a_glance(check(example("puppet-stage"))).splitlines()[0])
    OK          Cold ceiling            28.1 V left
    """
    return str(_table(verdicts))


def subject(verdict: Verdict, *, inside: bool = False) -> str:
    """What a verdict is about, with its panels where there are several circuits; in small letters inside a sentence.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.checks.amps import clipping
    >>> rig = example("kiln-bus")  # two controllers
    >>> subject(clipping(rig, rig.circuits[0]))
    'Clipping, P1+P2'
    """
    which, about = of_panels(verdict), verdict.question.partition(":")[0]
    return (about.lower() if inside else about) + (f", {which}" if which else "")


def of_panels(verdict: Verdict) -> str:
    """The panels of the circuit that a verdict is about, many by the first and last; empty where there is one circuit.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.checks.amps import clipping
    >>> [of_panels(clipping(rig, rig.circuits[0])) for rig in (example("kiln-bus"), example("bookmobile"))]
    ['P1+P2', '']
    """
    which = re.search(r" of (P\d+(?:[+| ]+P\d+)*)", verdict.question)
    return few(which[1]) if which else ""


def few(grouping: str) -> str:
    """The strings of a circuit as a heading has room for them: of many the first and the last.

    Examples
    --------
    >>> few("P1+P2 | P3+P4"), few("P1 | P2 | P3 | P4 | P5")
    ('P1+P2 | P3+P4', 'P1 | ... | P5')
    """
    strings = grouping.split(" | ")
    return grouping if len(strings) <= MOST_STRINGS_TOLD else f"{strings[0]} | ... | {strings[-1]}"


def reason(verdict: Verdict) -> str:
    """What a verdict says, behind the panels it says it of where there are several circuits.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.checks.amps import clipping
    >>> rig = example("kiln-bus")  # two controllers
    >>> reason(clipping(rig, rig.circuits[0])).partition(",")[0]
    'P1+P2: 361 W of panels'
    """
    which = of_panels(verdict)
    return f"{which}: {verdict.sentence}" if which else verdict.sentence


def in_hand(verdict: Verdict) -> str:
    """What is left, or missing, where the verdict counts it; rounded to the careful side.

    Examples
    --------
    >>> from vanpower import check, example
    >>> in_hand(check(example("puppet-stage"))[0])
    '28.1 V left'
    """
    if verdict.unit not in ("V", "A", "points") or verdict.margin == 0 or not math.isfinite(verdict.margin):
        return ""
    if verdict.answer == "yes" and verdict.margin < 0:
        # short of a volt whose loss is next to nothing; the reasons tell it
        return ""
    unit = "% points" if verdict.unit == "points" else verdict.unit
    if verdict.margin > 0:
        return f"{rounded_down(verdict.margin)} {unit} left"
    return f"{rounded_up(-verdict.margin)} {unit} short"


def _about(verdict: Verdict) -> str:
    """What a verdict is about, whatever its circuit; in small letters."""
    return verdict.question.partition(":")[0].lower()


def _table(verdicts: Sequence[Verdict]) -> Table:
    """A line a verdict; its margin and reasons where there is room."""
    columns = (
        Column(
            name="sign", width=max(map(len, SIGNS)), left=True, say=str.upper, colours=SIGN_COLOURS, marks=SIGN_MARKS
        ),
        Column(name="check", left=True),
        Column(name="in hand", width=0, left=True),
        Column(name="margin", aside=True),
        Column(name="unit", left=True, aside=True),
        Column(name="why", left=True, aside=True),
    )
    rows = [(v.sign, subject(v), _aligned(v), v.margin, v.unit, v.sentence) for v in verdicts]
    return Table(columns, rows, headed=False, key=0)


def _aligned(verdict: Verdict) -> str:
    """The same with its number in a column."""
    amount, _, rest = in_hand(verdict).partition(" ")
    return f"{amount:>7} {rest}"
