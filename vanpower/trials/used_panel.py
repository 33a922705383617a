"""Is a used panel sound? Three tests with a multimeter: amps in the sun, volts in dull light, one group covered.

Each reading is held against the label's curve in the same light. Left out: insulation, broken glass, and a fault that
comes and goes; look at the panel, and bend no flexible one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from vanpower.model.iv_curve import panel_curve
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Panel, Shade
from vanpower.rig.fields import Description, listed, number, require

PASS, DOUBT, LEAKY, DEAD_DIODE, SKIPPED = "pass", "doubt", "leaky", "dead diode", "not measured"
COVERED = "one group covered"
# the test of bypass diodes
WORST = (DEAD_DIODE, LEAKY, DOUBT, PASS, SKIPPED)
# words for a test, the one that counts most first
I_LOW, I_HIGH = 0.90, 1.10
# measured for expected amps that pass: label 3 %, light meter 5 to 10 %, dirt some percent; common practice, no source
I_NONE = 0.02
# share under which no current flows at all, which no dirt does; no source
V_TOLERANCE = 0.045
# share by which open-circuit volts in dull light miss the label's curve in sound panels: worst of six measured modules
# from 100 to 1100 W/m², tests/reference/lowlight_modules.csv
V_BRIGHT = 0.06
# share by which volts in the sun may miss the label: 3 to 5 %, and the cells' temperature; common practice, no source
GROUP_NEAR = 0.35
# a lack of volts within this share of one group's volts is one group; no source
DIODE_WORKS, DIODE_DEAD = 0.80, 0.50
# amps with one group covered, as a share of those without: a working diode leaves nearly all, none leaves next to
# nothing (tests/test_trials_panel.py holds both against the model); no source
COVER_LETS = 0.02
# share of the light that a cardboard cover lets through; no source
R_SOUND, R_SHORT = 1e4, 0.5
# [ohm] between which a leak is sought
LIGHT_DULL = 60.0
# [W/m²] the dull test is best below this: there a small leak takes a large share of the amps; no source
HALVINGS = 40
AMPS_DRAWN, VOLTS_DRAWN = 0.1, 0.7
# least shares of a label's amps and volts that a panel is drawn with: fewer volts are a lost group; no source
SAFETY = (
    "Short-circuit one panel alone, never a string: meter range above its amps, leads on while the glass is covered, "
    "then uncover; cover again before taking them off. Cover a group for seconds only."
)


class PanelReadings(Description):
    """What a multimeter and a light meter read on a used panel; None where a test was left out.

    Examples
    --------
    >>> PanelReadings(light=900.0, temp_cell=40.0, i_sc=5.6, v_oc=21.3).v_oc_dull is None
    True
    """

    light: float = number(
        200.0,
        1500.0,
        "irradiance in the sun, on the panel's plane",
        unit="W/m²",
        slip="The sun test needs sun.",
        more="A sound panel of the same kind beside it serves as light meter: 1000 times its short-circuit amps over "
        "its label's.",
    )
    temp_cell: float = number(-40.0, 100.0, "temperature at its back in the sun", above="Is this Fahrenheit?")
    i_sc: float | None = number(0.0, 40.0, "short-circuit amps in the sun", default=None, above="Are these milliamps?")
    v_oc: float | None = number(
        0.0, 200.0, "open-circuit volts in the sun", default=None, above="Are these millivolts?"
    )
    i_sc_covered: tuple[float, ...] = listed(
        "short-circuit amps in the sun with the first group covered by cardboard, then the second alone, and so on",
        sense="amps from 0 to 40 make sense", default=(),
    )  # fmt: skip
    light_dull: float | None = number(
        5.0, 300.0, "irradiance in dull light, best 30 to 60 W/m²", default=None, unit="W/m²",
        above="That is not dull; wait for dusk or heavy cloud.",
    )  # fmt: skip
    temp_dull: float | None = number(
        -40.0, 100.0, "temperature at its back in dull light", default=None, above="Is this Fahrenheit?"
    )
    v_oc_dull: float | None = number(
        0.0, 200.0, "open-circuit volts in dull light", default=None, above="Are these millivolts?"
    )

    def together(self) -> None:
        """Check that amps are possible, and that light comes with the volts of the dull test.

        Raises
        ------
        ValueError
            Where it is not so.
        """
        sound = all(0 <= amps <= 40 for amps in self.i_sc_covered)
        require(sound, self, "i_sc_covered", "amps from 0 to 40 make sense")
        dull = (self.light_dull is None) == (self.v_oc_dull is None)
        require(dull, self, "v_oc_dull", "volts in dull light and light_dull belong together")


@dataclass(frozen=True)
class Finding:
    """Finding of one test: its name, the measured and the expected value with unit, the word for it, and why.

    Examples
    --------
    >>> from vanpower import example
    >>> dull = PanelReadings(light=900, temp_cell=40, light_dull=40, temp_dull=15, v_oc_dull=12)
    >>> volts = check_used_panel(example("bookmobile").panels[0], dull).findings[2]
    >>> volts.test, volts.measured, volts.expected, volts.word
    ('volts in dull light', '12.0 V', '20.3 V', 'leaky')
    """

    test: str
    measured: str
    expected: str
    word: str
    why: str


@dataclass(frozen=True, repr=False)
class PanelTest(Result):
    """Result of `check_used_panel`: the findings of each test, and whether the panel is sound.

    Parameters
    ----------
    panel : Panel
        Its label.
    findings : tuple of Finding

    Examples
    --------
    >>> from vanpower import example
    >>> check_used_panel(example("bookmobile").panels[0], PanelReadings(light=900, temp_cell=40, v_oc=10.5)).word
    'dead diode'
    """

    panel: Panel
    findings: tuple[Finding, ...]

    @property
    def word(self) -> str:
        """pass, doubt, leaky or dead diode: the gravest of the tests."""
        return min((finding.word for finding in self.findings), key=WORST.index)

    def table(self, what: None = None) -> Table:
        """One line a test."""
        columns = (
            Column(name="test", left=True),
            Column(name="measured", width=14),
            Column(name="expected", width=9),
            Column(name="word", left=True),
        )
        return Table(columns, [(one.test, one.measured, one.expected, one.word) for one in self.findings])

    @property
    def verdict(self) -> Verdict:
        """Whether the panel is sound."""
        answers: dict[str, Answer] = {PASS: "yes", DOUBT: "close", SKIPPED: "close"}
        told = [f"{one.test[0].upper()}{one.test[1:]}: {one.word}, {one.why}" for one in self.findings if one.why]
        left = [one.test for one in self.findings if one.word == SKIPPED and self._may_be_measured(one)]
        said = " ".join(told + [f"Not measured, so not known: {', '.join(left)}."] * bool(left))
        so_far = bool(left) and self.word == PASS
        return Verdict(
            question=f"Is {self.panel.name} sound? {self.word[0].upper()}{self.word[1:]}{' so far' * so_far}.",
            answer="close" if so_far else answers.get(self.word, "no"),
            margin=float(sum(one.word == PASS for one in self.findings)),
            unit="tests passed",
            sentence=said,
            basis="the label's one-diode curve at the light and heat that were read",
            caution=SAFETY,
        )

    def _may_be_measured(self, one: Finding) -> bool:
        """Whether a test can be made at all: covering a group says something where there are others and diodes."""
        return one.test != COVERED or (self.panel.substrings > 1 and self.panel.bypass_diodes)


def check_used_panel(panel: Panel, readings: PanelReadings) -> PanelTest:
    """Whether a used panel is sound, by comparing meter readings with its label.

    Parameters
    ----------
    panel : Panel
        As the label describes it.
    readings : PanelReadings

    Returns
    -------
    PanelTest

    Raises
    ------
    ValueError
        For readings that do not fit this panel, such as another number of covered groups.

    Notes
    -----
    In the sun, leakage through a shunt is small beside the light current. In dull light it takes a large share of it,
    and open-circuit volts fall towards amps times ohms: hence the second reading of volts.

    Examples
    --------
    >>> from vanpower import PanelReadings, example
    >>> panel = example("bookmobile").panels[0]
    >>> sunny = PanelReadings(light=900, temp_cell=40, i_sc=5.65, v_oc=21.2, i_sc_covered=(5.6, 5.6))
    >>> check_used_panel(panel, sunny).verdict.answer, check_used_panel(panel, sunny).word
    ('close', 'pass')
    """
    if len(readings.i_sc_covered) > panel.substrings:
        raise ValueError(
            f"PanelReadings.i_sc_covered has {len(readings.i_sc_covered)} readings; {panel.name} has "
            f"{panel.substrings} groups under a bypass diode."
        )
    bright = panel_curve(panel, readings.light, readings.temp_cell)
    findings = (
        _amps(readings, bright.i_sc),
        _volts(panel, readings, bright.v_oc),
        _dull(panel, readings, bright.v_oc),
        _covered(panel, readings),
    )
    return PanelTest(panel, findings)


def worth_buying(
    panel: Panel, readings: PanelReadings, *, price: float | None = None, new_per_watt: float | None = None
) -> Verdict:
    """Whether to buy a used panel: sound by both readings, the sunny and the dull one, and cheaper than new watts.

    Parameters
    ----------
    panel : Panel
        As its label describes it.
    readings : PanelReadings
    price, new_per_watt : float, optional
        What is asked for it, and what a watt costs new, in your own money; without them soundness alone decides.

    Returns
    -------
    Verdict

    Examples
    --------
    >>> from vanpower import PanelReadings, example
    >>> panel = example("bookmobile").panels[0]
    >>> both = PanelReadings(light=900, temp_cell=40, i_sc=5.65, v_oc=21.2, light_dull=40, temp_dull=15, v_oc_dull=20.1)
    >>> worth_buying(panel, both, price=30, new_per_watt=0.5).sentence[:52]
    'Buy it: sound in the sun and in dull light. 109 W ar'
    """
    test, left = check_used_panel(panel, readings), watts_left(panel, readings)
    unread = [one.test for one in test.findings if one.word == SKIPPED and one.test != COVERED]
    per_watt = price / left if price is not None and left else None
    dear = per_watt is not None and new_per_watt is not None and per_watt > new_per_watt
    against = "" if new_per_watt is None else f", against {new_per_watt:g} new"
    costs = "" if per_watt is None else f" {price:g} for {left:.0f} W is {per_watt:.2f} a watt{against}."
    gone = test.word in (LEAKY, DEAD_DIODE)
    answer: Answer = "no" if gone or dear else "close" if unread or test.word == DOUBT else "yes"
    why = {
        "no": f"Leave it: {test.word if gone else 'new watts cost less'}.",
        "close": f"Not yet: measure {', '.join(unread)} first." if unread else "Not yet: in doubt, read again.",
        "yes": "Buy it: sound in the sun and in dull light.",
    }[answer]
    kept = "" if left is None else f" {left:.0f} W are left of {panel.p_mp:.0f} W by the label."
    return Verdict(
        question=f"Buy {panel.name} used?",
        answer=answer,
        margin=0.0 if left is None else round(left, 1),
        unit="W left",
        sentence=f"{why}{kept}{costs}",
        basis="amps and volts in the sun against the label; a leak takes more of a dull day than of these watts; what "
        "is left of its life no meter tells",
        caution=f"{SAFETY} Glass broken, back sheet blistered or plugs burnt: leave it, whatever it reads.",
    )


def watts_left(panel: Panel, readings: PanelReadings) -> float | None:
    """Label watts times the shares of amps and volts that were read in the sun; None without both. [W]

    Examples
    --------
    >>> from vanpower import PanelReadings, example
    >>> panel = example("bookmobile").panels[0]
    >>> round(watts_left(panel, PanelReadings(light=1000, temp_cell=25, i_sc=5.0, v_oc=22.3)))  # 110 W x 5.0 / 6.25
    88
    """
    shares = _shares(panel, readings)
    return None if shares is None else panel.p_mp * shares[0] * shares[1]


def panel_as_read(panel: Panel, readings: PanelReadings) -> Panel:
    """The panel with the amps and volts that are left of it, and the leak that its volts in dull light show.

    One of less than `VOLTS_DRAWN` of its volts has lost a group of cells, and the tests say so; no cell has so few.

    Examples
    --------
    >>> from vanpower import PanelReadings, example
    >>> panel = example("bookmobile").panels[0]
    >>> read = PanelReadings(light=1000, temp_cell=25, i_sc=5.0, v_oc=22.3, light_dull=40, temp_dull=15, v_oc_dull=12)
    >>> left = panel_as_read(panel, read)
    >>> round(left.i_sc, 1), round(left.v_oc, 1), round(left.r_leak)
    (5.0, 22.3, 60)
    """
    amps, volts = _shares(panel, readings) or (1.0, 1.0)
    amps, volts = max(amps, AMPS_DRAWN), max(volts, VOLTS_DRAWN)
    left = replace(
        panel, i_sc=amps * panel.i_sc, i_mp=amps * panel.i_mp, v_oc=volts * panel.v_oc, v_mp=volts * panel.v_mp,
        p_label=None,
    )  # fmt: skip
    light, temp, v_dull = readings.light_dull, readings.temp_dull, readings.v_oc_dull
    if light is None or temp is None or v_dull is None:
        return left
    return replace(left, r_leak=leak_of(left, light, temp, v_dull))


def _shares(panel: Panel, readings: PanelReadings) -> tuple[float, float] | None:
    """What the sunny readings leave of a label's amps and volts; None without both. [-]"""
    if readings.i_sc is None or readings.v_oc is None:
        return None
    bright = panel_curve(panel, readings.light, readings.temp_cell)
    return min(readings.i_sc / bright.i_sc, 1.0), min(readings.v_oc / bright.v_oc, 1.0)


def dull_volts(panel: Panel, light: float, temp: float, r_leak: float | None) -> float:
    """Open-circuit volts with so many ohms across the panel. [V]"""
    return panel_curve(replace(panel, r_leak=r_leak), light, temp).v_oc


def leak_of(panel: Panel, light: float, temp: float, volts: float) -> float:
    """The ohms across the panel that would explain its volts in this light. [ohm]

    Examples
    --------
    >>> from vanpower import example
    >>> round(leak_of(example("bookmobile").panels[0], light=40, temp=15, volts=12))
    48
    """
    low, high = math.log(R_SHORT), math.log(R_SOUND)
    for _ in range(HALVINGS):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if dull_volts(panel, light, temp, math.exp(middle)) < volts else (low, middle)
    return math.exp(0.5 * (low + high))


def _amps(readings: PanelReadings, expected: float) -> Finding:
    """Short-circuit amps against the light."""
    name = "amps in the sun"
    if readings.i_sc is None:
        return Finding(name, "-", f"{expected:.2f} A", SKIPPED, "")
    share = readings.i_sc / expected
    words = f"{100 * share:.0f} % of what the label gives in this light"
    if share < I_NONE:
        word, why = DOUBT, f"{words}, so a line is open: the meter's fuse, range and leads first, then plugs and panel."
    elif share < I_LOW:
        word, why = (
            DOUBT,
            f"{words}: clean it and read again; else browned, cracked or shaded cells, or a light meter off.",
        )
    elif share > I_HIGH:
        word, why = DOUBT, f"{words}: more than it can give, so the light was read too low."
    else:
        word, why = PASS, f"{words}."
    return Finding(name, f"{readings.i_sc:.2f} A", f"{expected:.2f} A", word, why)


def _volts(panel: Panel, readings: PanelReadings, expected: float) -> Finding:
    """Open-circuit volts in the sun: whole groups that are missing."""
    name = "volts in the sun"
    if readings.v_oc is None:
        return Finding(name, "-", f"{expected:.1f} V", SKIPPED, "")
    lack = expected - readings.v_oc
    groups = lack * panel.substrings / expected
    whole = max(round(groups), 1)
    shown = f"{readings.v_oc:.1f} V", f"{expected:.1f} V"
    if abs(lack) <= V_BRIGHT * expected:
        return Finding(name, *shown, PASS, f"within {100 * V_BRIGHT:.0f} % of the label.")
    if panel.substrings > 1 and abs(groups - whole) < GROUP_NEAR:
        counted = "one group is" if whole == 1 else f"{whole} groups are"
        why = f"{lack:.1f} V are missing, as if {counted} gone: a bypass diode melted shut, or a broken line."
        return Finding(name, *shown, DEAD_DIODE, why)
    why = f"{lack:+.1f} V off the label: check cell temperature, label and plugs, then read again."
    return Finding(name, *shown, DOUBT, why)


def _dull(panel: Panel, readings: PanelReadings, bright: float) -> Finding:
    """Open-circuit volts in dull light, against those in the sun: leaks."""
    name = "volts in dull light"
    light, volts = readings.light_dull, readings.v_oc_dull
    if light is None or volts is None:
        return Finding(name, "-", "-", SKIPPED, "")
    temp = readings.temp_cell if readings.temp_dull is None else readings.temp_dull
    own = 1.0 if readings.v_oc is None else min(max(readings.v_oc / bright, 1 - V_BRIGHT), 1 + V_BRIGHT)
    sound = dull_volts(panel, light, temp, panel.r_leak) * own
    lack = 1 - volts / sound
    shown = f"{volts:.1f} V", f"{sound:.1f} V"
    blind = leak_of(panel, light, temp, sound / own * (1 - 2 * V_TOLERANCE))
    if lack <= V_TOLERANCE:
        late = f" Leaks above {blind:.0f} ohm do not show at {light:g} W/m²." + (
            f" Read again below {LIGHT_DULL:g} W/m²." if light > LIGHT_DULL else ""
        )
        return Finding(name, *shown, PASS, f"{100 * (1 - lack):.0f} % of a sound panel's.{late}")
    ohms = f"as if {leak_of(panel, light, temp, volts / own):.0f} ohm lay across it"
    if lack <= 2 * V_TOLERANCE:
        return Finding(name, *shown, DOUBT, f"{100 * lack:.0f} % low, {ohms}; read again in duller light.")
    why = f"{100 * lack:.0f} % low, {ohms}. In series it loses its own share when dull, in parallel others' as well."
    return Finding(name, *shown, LEAKY, why)


def covered_amps(panel: Panel, light: float, temp: float, group: int, *, diode: bool) -> float:
    """Short-circuit amps with one group covered, its bypass diode working or dead. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> panel = example("bookmobile").panels[0]
    >>> [round(covered_amps(panel, 900, 40, group=0, diode=works), 1) for works in (True, False)]
    [5.7, 0.1]
    """
    tried = replace(panel, bypass_diodes=panel.bypass_diodes and diode)
    shade = (Shade(panel=0, substring=group, lit=COVER_LETS),)
    return panel_curve(tried, light, temp, shade).i_sc


def _covered(panel: Panel, readings: PanelReadings) -> Finding:
    """Short-circuit amps with one group covered after the other: bypass diodes that do not conduct."""
    name = COVERED
    open_amps = readings.i_sc
    if not readings.i_sc_covered or not open_amps or panel.substrings == 1 or not panel.bypass_diodes:
        return Finding(name, "-", "-", SKIPPED, "")
    expected = covered_amps(panel, readings.light, readings.temp_cell, 0, diode=True)
    shares = [amps / open_amps for amps in readings.i_sc_covered]
    shown = ", ".join(f"{amps:.2f}" for amps in readings.i_sc_covered) + " A", f"{expected:.2f} A"
    dead = [str(k + 1) for k, share in enumerate(shares) if share < DIODE_DEAD]
    vague = [str(k + 1) for k, share in enumerate(shares) if DIODE_DEAD <= share < DIODE_WORKS]
    if dead:
        why = f"amps collapse with group {' and '.join(dead)} covered: its diode is open, and shaded cells can burn."
        return Finding(name, *shown, DEAD_DIODE, why)
    if vague:
        why = f"group {' and '.join(vague)} leaves {100 * min(shares):.0f} %: cover it fully and read again."
        return Finding(name, *shown, DOUBT, why)
    tested = len(shares) == panel.substrings
    rest = "" if tested else f" {panel.substrings - len(shares)} more to try."
    return Finding(name, *shown, PASS, f"{100 * min(shares):.0f} % of the amps remain, so the diode works.{rest}")
