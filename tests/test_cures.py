"""Beside every NO, CHECK and NOT STATED stands what to do about it, and where that can be tried, it mends its row.

Vans are the eight foreign ones, the examples and random ones. What is tried is read out of the sentence: another number
in series, a fuse, a section, plugs, an isolator, a limit, a cut-off. What cannot be tried here is listed in `BY_HAND`:
covering bare ends, a measured label, a box with rails, strings kept apart, a shorter run, a question to a maker.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache

import pytest
from conftest import PANEL, tiny_rig
from foreign_rigs import FOREIGN, foreign
from random_vans import random_van

from vanpower.checks.copper import SHORT_RUN_M
from vanpower.checks.glance import few, of_panels
from vanpower.checks.registry import check
from vanpower.files.examples import examples
from vanpower.files.rig_files import example
from vanpower.files.rig_tables import rig_of
from vanpower.results.verdict import Verdict
from vanpower.rig import Cable, Rig, Wiring

SEEDS = range(36)
# of random vans, among which every kind of row is open
NUMBER = r"(\d+(?:\.\d+)?)"
Made = Callable[[Rig, int, re.Match[str]], Rig]
# a change: of a rig, which circuit, and the words that name it


def changed(number: int, rig: Rig, **fields: object) -> Rig:
    """The rig with fields of one circuit changed."""
    circuits = list(rig.circuits)
    circuits[number] = circuits[number].changed(**fields)
    return replace(rig, circuits=tuple(circuits))


def in_series(rig: Rig, number: int, found: re.Match[str]) -> Rig:
    """So many of the first panel of a circuit in one string, and the controller with the ceiling that this wants."""
    count, circuit = int(found[1]), rig.circuits[number]
    panel, others = rig.panels[circuit.wiring.panels[0]], len(rig.panels)
    rig = replace(rig, panels=(*rig.panels, *[panel] * count), roof=None)
    v_pv_max = 500.0 if "higher ceiling" in found.string else circuit.controller.v_pv_max
    string = Wiring(strings=(tuple(range(others, others + count)),))
    return changed(number, rig, wiring=string, controller=circuit.controller.changed(v_pv_max=v_pv_max))


def with_controller(field: str) -> Made:
    """A field of the controller as the sentence has it."""

    def made(rig: Rig, number: int, found: re.Match[str]) -> Rig:
        return changed(number, rig, controller=rig.circuits[number].controller.changed(**{field: float(found[1])}))

    return made


def with_part(field: str) -> Made:
    """A part of the circuit as the sentence has it."""
    return lambda rig, number, found: changed(number, rig, **{field: float(found[1])})


def roof_cable(rig: Rig, number: int, found: re.Match[str]) -> Rig:
    """Another section from the roof, solar cable where that is asked for."""
    cable = rig.circuits[number].cable
    insulation = {"insulation": "solar"} if "buy solar cable" in found.string else {}
    return changed(number, rig, cable=cable.changed(section_mm2=float(found[1]), **insulation))


def less_charge(rig: Rig, number: int, found: re.Match[str]) -> Rig:
    """Every controller set to its share of what the battery takes, once that is warm."""
    share = float(found[1]) / len(rig.circuits)
    circuits = [c.changed(controller=c.controller.changed(i_charge_max=share)) for c in rig.circuits]
    return replace(rig.with_climate(temp_coldest=20.0, places=()), circuits=tuple(circuits))


def cut_off(rig: Rig, number: int, found: re.Match[str]) -> Rig:
    """A cold cut-off in every controller."""
    circuits = [c.changed(controller=c.controller.changed(cold_cutoff=True)) for c in rig.circuits]
    return replace(rig, circuits=tuple(circuits))


def battery_run(rig: Rig, number: int, found: re.Match[str]) -> Rig:
    """Fuse and cable to the battery, which is kept short."""
    run = Cable(length_m=SHORT_RUN_M, section_mm2=float(found[2]))
    return changed(number, rig, i_fuse_battery=float(found[1]), battery_cable=run)


def isolated(rig: Rig, number: int, found: re.Match[str]) -> Rig:
    """An isolator for so many volts and amps."""
    return changed(number, rig, v_isolator_max=float(found[1]), i_isolator_max=float(found[2]))


TRIED: tuple[tuple[str, str, Made], ...] = (
    ("Cold ceiling", r"at most (\d+) of these in series", in_series),
    ("Cold ceiling", f"a controller for {NUMBER} V", with_controller("v_pv_max")),
    ("Input current", f"a controller for at least {NUMBER} A", with_controller("i_pv_sc_max")),
    ("String fuse", rf"(?:fuse of|fit) {NUMBER} A (?:in each string|in the string, )", with_part("i_fuse_string")),
    ("String fuse", rf"here; fit {NUMBER} A", with_part("i_fuse_string")),
    ("Battery feed", rf"fit {NUMBER} A in the roof cable(?!.*the file gives no roof cable)", with_part("i_fuse_array")),
    ("Extension", f"plugs for at least {NUMBER} A", with_part("i_extension_max")),
    ("Cable current", rf"(?:Buy|buy solar cable of) {NUMBER} mm²", roof_cable),
    ("Cable", rf"{NUMBER} mm² \(AWG [\d/]+\) keeps it under", roof_cable),
    ("Battery side", rf"a {NUMBER} A fuse at the battery and at least {NUMBER} mm²", battery_run),
    ("Battery side", rf"For the {NUMBER} A fuse: at least {NUMBER} mm²", battery_run),
    ("Battery side", rf"[:,] fit {NUMBER} A(?: at the battery)?\.$", with_part("i_fuse_battery")),
    ("Isolator", f"(?:against|Buy one for at least) {NUMBER} V and {NUMBER} A", isolated),
    ("Cold charging", "Fit a cold cut-off", cut_off),
    ("Charge current", rf"against {NUMBER} A \(.*set the controllers' limits lower(?!;)", less_charge),
    ("Start", r"At least (\d+) of these in series", in_series),
    ("Hot floor", r"At least (\d+) of these in series", in_series),
    ("Clipping", f"A limit of {NUMBER} A", with_controller("i_charge_max")),
    ("Clipping", f"a controller for at least {NUMBER} A", with_controller("i_charge_max")),
)
# what a sentence may ask for, and how it is made; after it the row is OK
BY_HAND = {
    "Cold ceiling": r"at most \d+ of these in series|fewer in a string",
    "Circulating current": "Do not join them|a controller for each, or strings of like volts|test them every year",
    "String fuse": "ask its maker|Use fewer strings|Do not join them|Fit a photovoltaic|fit .* A in the string of"
    "|Take a controller that lets no current back|maker for its largest|take it out",
    "Reverse current": "fuse in .* stops it|fewer strings in parallel|Do not join them|nothing is wanted"
    "|the label gives no largest series fuse|smaller one, where one is legal|takes? a controller|take a controller",
    "Battery feed": "buy a roof cable|the file gives no roof cable|no single cable does",
    "Plugs": "Gather the strings in a box|fewer strings in parallel|names no rating",
    "Cable current": "No single cable in the table does",
    "Battery side": "buy .* with a|split the panels|no single cable|keeps it under|Shorten the run|fit .* A; and",
    "Touch": "cover every bare part|a licensed person fits this",
    "Charge current": "fewer panels|set the limits so in winter|leave panels unplugged|does not say|shade and air",
    "Charge settings": "the usual|Its label says which|against it",
    "Start": "Put more panels in series|start earlier",
    "Hot floor": "Put more panels in series|Panels of more cells",
    "Plain switch": "Re-plugged as|Only a controller that tracks",
    "Clipping": "Leave it so",
    "Cable": "shorten the run|No single cable",
    "Portable": "a string of its own",
    "Labels": "Measure a panel",
    "Missing": "not on the label|capacity_ah|temp_coldest",
}
# what a sentence, or its caution, asks for otherwise


def vans() -> Iterator[Rig]:
    """All of them."""
    yield from map(foreign, FOREIGN)
    yield from map(example, examples())
    yield from (rig_of(random_van(seed), "van.toml") for seed in SEEDS)
    yield from PROVOKED


def _provoked() -> Iterator[Rig]:
    """Vans that fall out of rows which the others pass."""
    rig = example("bookmobile")
    small = rig.circuits[0].changed(v_isolator_max=20.0, i_isolator_max=10.0, i_extension_max=15.0, i_fuse_string=5.0)
    yield replace(rig, circuits=(small,))
    yield rig.with_controller(i_pv_sc_max=10.0, cold_cutoff=False)
    yield tiny_rig((replace(PANEL, i_max_fuse=10.0),) * 2, (0,), (1,)).with_controller(i_pv_sc_max=9.0)


PROVOKED = tuple(_provoked())


def circuit_of(rig: Rig, verdict: Verdict) -> int:
    """Which circuit a row is about; the first where it is about the whole van."""
    which = of_panels(verdict)
    return next((k for k, one in enumerate(rig.circuits) if few(one.wiring.grouping) == which), 0)


def tried(verdict: Verdict) -> tuple[Made, re.Match[str]] | None:
    """What a sentence asks for that can be made here."""
    about = verdict.question.partition(":")[0]
    for subject, pattern, made in TRIED:
        found = re.search(pattern, verdict.sentence, re.IGNORECASE) if subject == about else None
        if found:
            return made, found
    return None


@lru_cache(maxsize=1)
def open_rows() -> list[tuple[Rig, Verdict]]:
    """Every row that is not OK, once for each of its sentences."""
    rows = {verdict.sentence: (rig, verdict) for rig in vans() for verdict in check(rig) if verdict.sign != "ok"}
    return list(rows.values())


def test_rows_of_every_kind_are_among_them():
    said = {verdict.question.partition(":")[0] for _, verdict in open_rows()}
    assert said >= {subject for subject, _, _ in TRIED}
    assert said >= set(BY_HAND) - {"Portable"}


def test_beside_every_row_that_is_not_ok_stands_what_to_do():
    assert [f"{rig.name}: {verdict}" for rig, verdict in open_rows() if not says_what_to_do(verdict)] == []


def test_beside_every_row_of_one_van_stands_what_to_do():
    rows = [verdict for verdict in check(foreign("unlike")) if verdict.sign != "ok"]
    assert len(rows) > 5
    assert all(map(says_what_to_do, rows))


def says_what_to_do(verdict: Verdict) -> bool:
    """Whether a sentence, or its caution, asks for something that is known to mend its row."""
    by_hand = BY_HAND.get(verdict.question.partition(":")[0])
    words = f"{verdict.sentence} {verdict.caution}"
    return tried(verdict) is not None or bool(by_hand and re.search(by_hand, words))


@pytest.mark.parametrize("number", range(len(TRIED)), ids=[f"{one}-{k}" for k, (one, _, _) in enumerate(TRIED)])
def test_what_a_row_asks_for_mends_it(number):
    made_some = 0
    for rig, verdict in open_rows():
        found = tried(verdict)
        if found is None or (found[1].re.pattern, found[0]) != TRIED[number][1:]:
            continue
        which = circuit_of(rig, verdict)
        mended = found[0](rig, which, found[1])
        about = verdict.question.partition(":")[0]
        rows = check(mended).about(about)
        now = rows[min(which, len(rows) - 1)]
        # just under a ceiling is thin, and as many volts as a battery asks for may still lose a little
        thin = now.answer == "close" and about in ("Cold ceiling", "Hot floor", "Start")
        assert now.sign == "ok" or thin, f"{rig.name}: {verdict.sentence} -> {now.sentence}"
        made_some += 1
    assert made_some
