"""The order of work on the printed page, walked step by step by somebody with a meter: every act needs its state.

The states are those of IEC 62446-1:2016 clause 6 (its contents read in a secondary copy: continuity 6.1, polarity 6.2,
combiner 6.3, open-circuit volts 6.4, current 6.5, function 6.6; "polarity before other tests" in a summary of it), of a
commissioning manual (fuses go in only after every string was measured), and battery before panels (common practice, no
source). A meter reads no full volts under covered glass, and no arc starts where amps are zero.
"""

from __future__ import annotations

import random
import re
from dataclasses import dataclass, field, replace

import pytest
from conftest import PANEL, tiny_rig

from vanpower.checks.order import Step, order_of_work
from vanpower.checks.parts import parts
from vanpower.checks.registry import refusal
from vanpower.figures.sheet import sheet
from vanpower.files.rig_files import example
from vanpower.rig import Rig

LABEL = replace(PANEL, i_max_fuse=10.0, beta_voc_pct_per_k=-0.30)


def strings(series: int, parallel: int, **battery: object) -> Rig:
    """Equal strings on one controller."""
    panels = (LABEL,) * (series * parallel)
    rig = tiny_rig(panels, *(tuple(range(k * series, (k + 1) * series)) for k in range(parallel)))
    return replace(rig, battery=replace(rig.battery, **battery))


def plain_switch(**circuit: object) -> Rig:
    """One panel on a plain switch."""
    rig = strings(1, 1)
    box = replace(rig.circuits[0].controller, tracker="direct")
    return replace(rig, circuits=(replace(rig.circuits[0], controller=box, **circuit),))


RIGS = {
    "1s": strings(1, 1),
    "2s": strings(2, 1),
    "3p with fuses": strings(1, 3),
    "2s2p": strings(2, 2),
    "two circuits": example("kiln-bus"),
    "unlike strings": example("seed-swap"),
    "48 V": strings(4, 1, v_nominal=48, v_now=52.0, v_absorption=56.8),
    "6s": strings(6, 1),
    "24p": strings(1, 24),
    "plain switch": plain_switch(),
    "plain switch with fuses": plain_switch(i_fuse_array=12.0, i_fuse_string=10.0),
}


@dataclass
class Van:
    """What is joined, covered and measured; everything apart and in daylight at the start."""

    rig: Rig
    covered: set = field(default_factory=set)
    on: set = field(default_factory=set)
    done: set = field(default_factory=set)

    def do(self, act: str, c: int, s: int | None) -> None:
        """One act, refused where its state is wrong."""
        needs = getattr(self, f"_{act.replace(' ', '_')}")
        needs(c, s)
        self.done.add((act, c, s))

    def every(self, c: int) -> list[int]:
        return [s for s, _ in enumerate(self.rig.circuits[c].wiring.strings)]

    def dark(self, c: int) -> bool:
        return all((c, s) in self.covered for s in self.every(c))

    def bare(self, c: int) -> bool:
        return not any((c, s) in self.covered for s in self.every(c))

    def fused(self, c: int) -> set:
        return {s for act, k, s in self.planned if act == "string fuse in" and k == c}

    @property
    def planned(self) -> list:
        return [act for step in order_of_work(self.rig) for act in step.acts]

    def _cover(self, c, s):
        self.covered.add((c, s))

    def _uncover(self, c, s):
        assert (c, s) in self.covered
        self.covered.remove((c, s))

    def _panel_volts(self, c, s):
        assert (c, s) not in self.covered, "no volts under covered glass"
        assert ("mounted", c) not in self.on
        assert ("plugged", c, s) not in self.on

    def _mount(self, c, s):
        assert self.dark(c)
        assert all(("panel volts", c, k) in self.done for k in self.every(c))
        self.on.add(("mounted", c))

    def _continuity(self, c, s):
        assert not self.on & {("battery", c), ("roof", c), ("controller", c)}, "ohms are read on dead cables"

    def _battery_cable_on(self, c, s):
        assert ("continuity", c, None) in self.done
        assert not self.on & {("battery fuse", c), ("closed", c)}
        self.on.add(("battery", c))

    def _battery_volts(self, c, s):
        assert ("battery", c) in self.on
        assert ("battery fuse", c) not in self.on, "polarity is read before the controller sees it"

    def _battery_fuse_in(self, c, s):
        assert ("battery volts", c, None) in self.done
        assert ("closed", c) not in self.on, "battery before panels"
        self.on.add(("battery fuse", c))

    def _settings(self, c, s):
        assert ("battery fuse", c) in self.on, "a controller without supply cannot be set"
        assert ("closed", c) not in self.on

    def _plug_string(self, c, s):
        assert (c, s) in self.covered
        assert ("mounted", c) in self.on
        assert ("joined", c) not in self.on
        self.on.add(("plugged", c, s))

    def _string_polarity(self, c, s):
        assert ("plugged", c, s) in self.on
        assert (c, s) not in self.covered, "no volts under covered glass"
        assert not self.on & {("joined", c), ("roof", c), ("string fuse", c, s)}, "the string must be by itself"

    def _string_volts(self, c, s):
        assert ("string polarity", c, s) in self.done, "polarity first"
        self._string_polarity(c, s)

    def _measured(self, c):
        return all(("string volts", c, s) in self.done for s in self.every(c))

    def _join(self, c, s):
        assert self._measured(c), "a string turned round would feed the others"
        assert self.dark(c)
        assert not any(("string fuse", c, k) in self.on for k in self.every(c))
        assert ("closed", c) not in self.on
        self.on.add(("joined", c))

    def _roof_cable_on(self, c, s):
        assert self._measured(c)
        assert self.dark(c)
        assert ("closed", c) not in self.on
        self.on.add(("roof", c))

    def _controller_cable_on(self, c, s):
        assert ("closed", c) not in self.on
        assert ("battery fuse", c) in self.on, "battery before panels"
        self.on.add(("controller", c))

    def _string_fuse_in(self, c, s):
        assert self._measured(c)
        assert self.dark(c), "fuses are not put in under light"
        assert ("closed", c) not in self.on
        self.on.add(("string fuse", c, s))

    def _roof_fuse_in(self, c, s):
        assert {("roof", c), ("controller", c)} <= self.on
        assert self.dark(c)
        assert ("closed", c) not in self.on
        self.on.add(("roof fuse", c))

    def _roof_fuse_out(self, c, s):
        self._dead(c)
        self.on.remove(("roof fuse", c))

    def _isolator_polarity(self, c, s):
        assert {("roof", c), ("controller", c)} <= self.on
        assert ("joined", c) in self.on or len(self.every(c)) == 1
        assert all(("string fuse", c, k) in self.on for k in self.fused(c)), "no volts behind a fuse that is out"
        assert self.bare(c), "no volts under covered glass"
        assert ("closed", c) not in self.on

    def _isolator_volts(self, c, s):
        assert ("isolator polarity", c, None) in self.done
        self._isolator_polarity(c, s)

    def _isolator_closed(self, c, s):
        assert {("isolator volts", c, None), ("settings", c, None)} <= self.done
        assert self.dark(c)
        assert ("roof fuse in", c, None) not in self.planned or ("roof fuse", c) in self.on
        self.on.add(("closed", c))

    def _amps(self, c, s):
        assert ("closed", c) in self.on
        assert self.bare(c)

    def _isolator_opened(self, c, s):
        assert ("closed", c) in self.on
        self.on.remove(("closed", c))

    def _no_amps(self, c, s):
        assert ("closed", c) not in self.on

    def _isolator_closed_again(self, c, s):
        assert ("no amps", c, None) in self.done
        self.on.add(("closed", c))
        self.done.remove(("no amps", c, None))

    def _charging_off(self, c, s):
        assert ("amps", c, None) in self.done

    def _dead(self, c):
        assert self.dark(c)
        assert ("closed", c) not in self.on
        assert ("no amps", c, None) in self.done, "nothing is pulled before amps read zero"

    def _string_fuse_out(self, c, s):
        self._dead(c)
        self.on.remove(("string fuse", c, s))

    def _part(self, c, s):
        self._dead(c)
        assert not any(("string fuse", c, k) in self.on for k in self.every(c))
        self.on.remove(("joined", c))

    def _unplug_string(self, c, s):
        self._dead(c)
        assert ("joined", c) not in self.on
        self.on.remove(("plugged", c, s))

    def _roof_cable_off(self, c, s):
        self._dead(c)
        self.on -= {("roof", c), ("controller", c)}

    def _battery_fuse_out(self, c, s):
        assert ("roof", c) not in self.on, "panels off before the battery"
        self.on.remove(("battery fuse", c))

    def _battery_cable_off(self, c, s):
        assert ("battery fuse", c) not in self.on
        self.on.remove(("battery", c))


def walked(rig: Rig, steps: tuple[Step, ...]) -> Van:
    """The van after all acts of the steps; an act in the wrong state raises."""
    van = Van(rig)
    for step in steps:
        for act in step.acts:
            van.do(*act)
    return van


@pytest.mark.parametrize("name", RIGS)
def test_every_act_of_the_order_can_be_done_with_a_meter_in_hand(name):
    rig = RIGS[name]
    van = walked(rig, order_of_work(rig))
    # taken apart again: nothing is joined but what is screwed to the roof
    assert {what[0] for what in van.on} == {"mounted"}
    for c, circuit in enumerate(rig.circuits):
        assert {"settings", "amps", "isolator volts"} <= {act for act, k, _ in van.done if k == c}
        assert len({s for act, k, s in van.done if act == "string volts" and k == c}) == len(circuit.wiring.strings)


@pytest.mark.parametrize("name", RIGS)
def test_no_step_can_change_places_with_the_next_but_those_that_do_not_meet(name):
    # mounting and continuity, and settings and strings, may be done in either order; all else is held by a state
    rig = RIGS[name]
    steps = order_of_work(rig)
    free = set()
    for k in range(len(steps) - 1):
        turned = (*steps[:k], steps[k + 1], steps[k], *steps[k + 2 :])
        try:
            walked(rig, turned)
        except (AssertionError, KeyError):
            continue
        free.add(k)
    assert free == {2, 5}


@pytest.mark.parametrize("name", RIGS)
def test_order_shuffled_is_never_one_that_can_be_followed(name):
    rig, drawn = RIGS[name], random.Random(7)
    steps = list(order_of_work(rig))
    allowed = {tuple(steps), (*steps[:2], steps[3], steps[2], *steps[4:]), (*steps[:5], steps[6], steps[5], *steps[7:])}
    for _ in range(30):
        order = tuple(drawn.sample(steps, len(steps)))
        if order not in allowed:
            with pytest.raises((AssertionError, KeyError)):
                walked(rig, order)


READY = [("cover", 0, 0), ("cover", 0, 1), ("plug string", 0, 0)]
WRONG = {
    "join before the strings were measured": [*READY, ("join", 0, None)],
    "volts under covered glass": [("cover", 0, 0), ("panel volts", 0, 0)],
    "settings without a battery": [("settings", 0, None)],
    "battery fuse before polarity": [(act, 0, None) for act in ("continuity", "battery cable on", "battery fuse in")],
}


@pytest.mark.parametrize("name", WRONG)
def test_what_the_page_once_asked_for_is_refused(name):
    with pytest.raises((AssertionError, KeyError)):
        walked(strings(1, 2), (Step(words="", acts=tuple(WRONG[name])),))


SAID = {
    "uncover": "ncover", "cover": "over", "panel volts": "volts", "mount": "Glue", "continuity": "ohms",
    "battery cable on": "cable to controller", "battery volts": "battery volts", "battery fuse in": "Then the fuse in",
    "settings": "Set what can be set", "plug string": "by itself", "string polarity": "polarity",
    "string volts": "volts", "join": "branch plugs together", "roof cable on": "roof cable to isolator",
    "controller cable on": "to controller", "string fuse in": "string fuses",
    "roof fuse in": "roof cable's fuse in last", "roof fuse out": "roof cable's fuse", "isolator polarity": "polarity",
    "isolator volts": "volts", "isolator closed": "Isolator closed, then glass uncovered", "amps": "amps",
    "isolator opened": "solator", "no amps": "zero", "isolator closed again": "close it",
    "charging off": "charging off", "string fuse out": "string fuses", "part": "plugs", "unplug string": "plugs",
    "roof cable off": "roof cable", "battery fuse out": "battery fuse", "battery cable off": "its cable last",
}  # fmt: skip
# act: words that its step must hold


@pytest.mark.parametrize("name", RIGS)
def test_words_of_a_step_say_its_acts_and_no_others_of_them(name):
    for step in order_of_work(RIGS[name]):
        acts = {act for act, _, _ in step.acts}
        assert [act for act in acts if SAID[act] not in step.words] == []
        fuses = any(act.startswith("string fuse") for act in acts)
        assert fuses or "string fuses" not in step.words
        assert "join" in acts or "branch plugs" not in step.words


def test_meter_is_told_the_volts_of_each_string():
    # 3 x 22 V = 66 V by label, at -10 °C and -0.30 %/K 72.93 V
    said = " ".join(step.words for step in order_of_work(strings(3, 1)))
    assert "about 66 V (at most 73.0 V in frost)" in said
    assert "shrouded probes" in said
    assert "licensed" in " ".join(step.words for step in order_of_work(strings(6, 1)))
    assert "agree within 5 %" in " ".join(step.words for step in order_of_work(strings(1, 2)))


def test_cold_cut_off_is_set_for_lithium_alone_and_controllers_alike():
    lithium = strings(1, 1, chemistry="lithium iron phosphate")
    assert [
        "cold cut-off" in order_of_work(rig)[5].words for rig in (lithium, strings(1, 1, chemistry="lead-acid"))
    ] == [
        True,
        False,
    ]
    assert "alike on both" in order_of_work(example("kiln-bus"))[5].words


@pytest.mark.parametrize("name", RIGS)
def test_page_carries_the_order_in_letters_one_can_read(name):
    page = sheet(RIGS[name], date="2031-05-01")
    said = re.sub(r"\s+", " ", " ".join(text.get_text() for text in page.texts))
    for step in order_of_work(RIGS[name]):
        # no order makes it safe where a controller dies or a panel burns
        assert (step.words in said) == (refusal(RIGS[name]) is None)
    assert ("None yet: " in said) == (refusal(RIGS[name]) is not None)
    # numbers of two digits keep clear of their words
    renderer = page.canvas.get_renderer()
    numbers = [text for text in page.texts if text.get_text() in ("10", "11")]
    lines = {(text.get_position()[1], text.get_position()[0]): text for text in page.texts}
    for number in numbers:
        x, y = number.get_position()
        beside = min((line for line in lines if line[0] == y and line[1] > x), key=lambda line: line[1])
        ends, begins = (t.get_window_extent(renderer) for t in (number, lines[beside]))
        assert ends.x1 < begins.x0


@pytest.mark.parametrize("fuses", [{}, {"i_fuse_battery": 25.0}, {"i_fuse_battery": 200.0}])
@pytest.mark.parametrize("tracker", ["direct", "sweep"])
def test_steps_name_a_fuse_in_the_roof_cable_exactly_where_the_list_has_one(tracker, fuses):
    # internal: the page has one list and one order
    rig = strings(1, 2)
    first = rig.circuits[0]
    rig = replace(rig, circuits=(replace(first, controller=replace(first.controller, tracker=tracker), **fuses),))
    on_list = any(part.name.startswith("Fuse in the roof cable") for part in parts(rig, rig.circuits[0]))
    assert ("roof cable's fuse" in " ".join(step.words for step in order_of_work(rig))) == on_list
