"""Odd but legal rigs over the whole path: finite and lawful answers, or a plain refusal.

Every rig of the table is compared, checked, run through a day, listed against controllers on offer, drawn on a page and
put to the command line as a file. What the watts must obey is stated once, for all of them.
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass, replace

import matplotlib.pyplot as plt
import numpy as np
import pytest
from adapters import cell_by_cell
from conftest import PANEL, tiny_rig
from dense_reference import solve

from vanpower import (
    Circuit,
    Days,
    Load,
    MadeSky,
    Panel,
    Place,
    Rig,
    Shade,
    Snapshot,
    check,
    compare,
    rank_wirings,
    read_controllers,
    rig_to_toml,
    shortlist,
    simulate,
)
from vanpower.cli import main
from vanpower.components.controllers import V_DARK
from vanpower.engine.array import best_power
from vanpower.figures.sheet import sheet
from vanpower.model.conditions import lit_cells
from vanpower.model.light import array_of

SEEN = 5e-5
# share of the power that a closer look may leave open
POWER_DENSE = 2e-5
# share of the power by which a dense solver may answer otherwise
NOTHING = 1e-3
# [W] that no law cares for
NOON = Snapshot(light=800.0, temp_cell=25.0)
DAY = Days(weather="greensboro", day="bright")
UNLIKE = tuple(replace(PANEL, v_oc=22.0 + k, v_mp=18.0 + k, i_sc=6.0 - k, i_mp=5.6 - k) for k in range(3))
TINY = Panel(name="1 W", v_oc=6.6, i_sc=0.2, v_mp=5.5, i_mp=0.185, cells_in_series=11, substrings=1)
HUGE = Panel(
    name="700 W", v_oc=48.0, i_sc=18.4, v_mp=40.3, i_mp=17.4, cells_in_series=66, substrings=3, branches=2
)  # fmt: skip
HALF_CUT = Panel(
    name="144 half cells", v_oc=49.0, i_sc=11.3, v_mp=41.0, i_mp=10.7, cells_in_series=72, substrings=3, branches=2
)  # fmt: skip
GROUPS = replace(PANEL, substrings=6)
SINGLES = replace(PANEL, substrings=36)
LONG = replace(PANEL, name="200 cells", v_oc=120.0, v_mp=99.0, cells_in_series=200, substrings=1)


@dataclass(frozen=True, kw_only=True)
class Odd:
    """A rig and the moment and day it is asked about."""

    rig: Rig
    light: Snapshot = NOON
    day: Days = DAY


def rig(*panels: Panel, strings: tuple[tuple[int, ...], ...] = (), battery=(), controller=(), **circuit) -> Rig:
    """Panels in series, or in strings, with a battery and a load; changes of parts as dictionaries."""
    made = tiny_rig(panels, *(strings or (tuple(range(len(panels))),)))
    first = made.circuits[0]
    whole = replace(first, controller=replace(first.controller, **dict(controller)), **circuit)
    house = replace(made.battery, **{"capacity_ah": 100.0, **dict(battery)})
    return replace(made, circuits=(whole,), battery=house, loads=(Load(name="fridge", p_load=20.0),))


def bare(some: Rig) -> Rig:
    """The rig without cables' resistance."""
    cables = (replace(circuit, cable=replace(circuit.cable, length_m=0.0)) for circuit in some.circuits)
    return replace(some, circuits=tuple(cables))


def shaded(*notes: tuple[int, int | None, int | None, float], light: float = 800.0) -> Snapshot:
    """A moment at 25 °C with shade notes of panel, substring, cells and lit share."""
    named = tuple(Shade(panel=p, substring=s, cells=c, lit=lit) for p, s, c, lit in notes)
    return Snapshot(light=light, temp_cell=25.0, shade=named)


def levels(*panels: Panel) -> Snapshot:
    """Another light on every substring of all panels."""
    pairs = [(p, s) for p, panel in enumerate(panels) for s in range(panel.substrings)]
    return shaded(*((p, s, None, (k + 1) / len(pairs)) for k, (p, s) in enumerate(pairs)))


def pole(date: str) -> Days:
    """A clear day a degree from the north pole, by the hour."""
    sky = MadeSky(kind="clear", place=Place(latitude_deg=89.0, longitude_deg=0.0), step_min=60.0, temp_air=-5.0)
    return Days(weather=sky, day=date)


BATTERY_48 = {"v_nominal": 48, "v_now": 52.0, "v_absorption": 56.0}
TWO = (PANEL, PANEL)
ODD = {
    "one cell lit": Odd(rig=rig(PANEL), light=shaded((0, 0, None, 0.0), (0, 1, 17, 0.0))),
    "one cell lit of two panels in parallel": Odd(
        rig=rig(*TWO, strings=((0,), (1,))), light=shaded((0, 0, None, 0.0), (0, 1, 17, 0.0), (1, None, None, 0.0))),
    "all dark by night": Odd(rig=rig(*TWO), light=Snapshot(light=0.0, temp_cell=-5.0)),
    "all dark by shade": Odd(
        rig=rig(*TWO), light=shaded((0, None, None, 0.0), (1, None, None, 0.0)),
        day=replace(DAY, shade=(Shade(panel=0, lit=0.0), Shade(panel=1, lit=0.0)))),
    "one panel": Odd(rig=rig(PANEL)),
    "24 panels in 12 strings": Odd(
        rig=rig(*[PANEL] * 24, strings=tuple((k, k + 1) for k in range(0, 24, 2))), light=shaded((3, 0, 5, 0.1))),
    "24 panels in a string": Odd(rig=rig(*[PANEL] * 24, controller={"v_pv_max": 900.0})),
    "no diodes": Odd(rig=rig(*[replace(PANEL, bypass_diodes=False)] * 2), light=shaded((0, 0, 2, 0.1))),
    "every substring different": Odd(rig=rig(GROUPS, GROUPS), light=levels(GROUPS, GROUPS)),
    "every cell a substring and different": Odd(rig=rig(SINGLES), light=levels(SINGLES)),
    "zero-length cable": Odd(rig=bare(rig(*TWO))),
    "100 m of 0.5 mm²": Odd(rig=rig(*TWO, strings=((0,), (1,)), cable=replace(
        rig(PANEL).circuits[0].cable, length_m=100.0, section_mm2=0.5))),
    "48 V battery and one panel": Odd(rig=rig(PANEL, battery=BATTERY_48)),
    "48 V battery, one panel and a plain switch": Odd(
        rig=rig(PANEL, battery=BATTERY_48, controller={"tracker": "direct"})),
    "plain switch far below the panels": Odd(rig=rig(*[HALF_CUT] * 2, controller={"tracker": "direct"})),
    "ceiling below one panel": Odd(rig=rig(PANEL, controller={"v_pv_max": 10.0})),
    "no margins": Odd(rig=rig(*TWO, controller={"v_start_margin": 0.0, "v_hold_margin": 0.0, "p_own": 0.0,
                                                "loss_fixed_pct": 0.0, "loss_ratio_pct": 0.0})),
    "half an amp into the battery": Odd(rig=rig(*TWO, controller={"i_charge_max": 0.5})),
    "loses all it steps down": Odd(rig=rig(*[LONG] * 2, controller={
        "v_pv_max": 900.0, "loss_fixed_pct": 30.0, "loss_ratio_pct": 10.0})),
    "-60 °C": Odd(rig=rig(*TWO), light=Snapshot(light=800.0, temp_cell=-60.0)),
    "+90 °C": Odd(rig=rig(*TWO), light=Snapshot(light=800.0, temp_cell=90.0)),
    "0.01 W/m²": Odd(rig=rig(*TWO), light=Snapshot(light=0.01, temp_cell=5.0)),
    "1800 W/m²": Odd(rig=rig(*TWO), light=Snapshot(light=1800.0, temp_cell=70.0)),
    "1800 and 0.01 W/m² in one string": Odd(rig=rig(*TWO), light=shaded((0, 0, 3, 5.6e-6), light=1800.0)),
    "square label": Odd(rig=rig(*[replace(PANEL, v_mp=20.9)] * 2)),
    "flat label": Odd(rig=rig(*[replace(PANEL, v_mp=11.5, i_mp=3.5)] * 2)),
    "two controllers": Odd(rig=replace(
        rig(PANEL, HUGE, strings=((0,),)), circuits=tuple(
            rig(PANEL, HUGE, strings=((k,),)).circuits[0] for k in (0, 1)))),
    "a panel that is in no circuit": Odd(rig=rig(PANEL, HUGE, strings=((0,),))),
    "half-cut with blocking diodes": Odd(
        rig=rig(*[HALF_CUT] * 3, strings=((0,), (1,), (2,)), blocking_diodes=True),
        light=shaded((0, 1, 3, 0.2), (2, None, None, 0.0))),
    "strings of one and of two panels": Odd(rig=rig(*[PANEL] * 3, strings=((0, 1), (2,)))),
    "unlike panels in series": Odd(rig=rig(*UNLIKE)),
    "unlike panels in parallel": Odd(rig=rig(*UNLIKE, strings=((0,), (1,), (2,)))),
    "1 W": Odd(rig=rig(TINY)),
    "1 W beside 700 W": Odd(rig=rig(TINY, HUGE, strings=((0,), (1,)))),
    "1 W before 700 W": Odd(rig=rig(TINY, HUGE)),
    "700 W": Odd(rig=rig(HUGE)),
    "144 half cells, one lit in each branch": Odd(rig=rig(HALF_CUT), light=shaded(
        (0, 0, None, 0.0), (0, 1, None, 0.0), (0, 2, 23, 0.0))),
    "200 cells without a group": Odd(rig=rig(LONG), light=shaded((0, 0, 1, 0.0))),
    "leaks like a sieve": Odd(rig=rig(PANEL, replace(PANEL, r_leak=0.1))),
    "polar day": Odd(rig=rig(*TWO), day=pole("06-21")),
    "polar night": Odd(rig=rig(*TWO), light=Snapshot(light=0.0, temp_cell=-30.0), day=pole("12-21")),
    "upright, facing north": Odd(rig=rig(*[replace(PANEL, tilt_deg=90.0, azimuth_deg=0.0)] * 2)),
    "one Ah": Odd(rig=rig(*TWO, battery={"capacity_ah": 1.0})),
    "empty battery of lead, heavy load": Odd(rig=replace(
        rig(*TWO, battery={"chemistry": "lead-acid", "soc_start_pct": 0.0}),
        loads=(Load(name="oven", p_load=20000.0),))),
    "battery that never charges": Odd(rig=rig(*TWO, battery={"temp_lockout": 30.0})),
    "no loads": Odd(rig=replace(rig(*TWO), loads=())),
}  # fmt: skip
ON_PAPER = ("24 panels in 12 strings", "two controllers", "unlike panels in series", "1 W before 700 W", "flat label")
# rigs whose page is drawn, which takes a second each
BY_NAME = pytest.mark.parametrize("name", ODD)


# In one light


@BY_NAME
def test_watts_are_finite_and_every_one_is_booked(name):
    odd = ODD[name]
    for one in compare(odd.rig.wirings(shade=odd.light.shade, apart=True), odd.light).outcomes.values():
        panels, battery = float(one.p_panels[0]), float(one.p_battery[0])
        amounts = [panels, battery, *(float(part[0]) for part in one.lost.values())]
        assert all(map(math.isfinite, amounts))
        assert 0.0 <= battery <= panels + 1e-9
        assert sum(amounts[1:]) == pytest.approx(panels, rel=1e-9, abs=1e-9)
        assert min(amounts) >= -SEEN * panels - NOTHING
        for circuit, operation in zip(one.rig.circuits, one.operations, strict=True):
            assert operation.p_battery[0] <= circuit.controller.i_charge_max * one.rig.battery.v_now + 1e-9
            assert operation.p_array[0] <= operation.p_best[0] * (1 + SEEN) + 1e-9


@BY_NAME
def test_best_watts_are_those_of_a_dense_solver(name):
    # by the label's curve, which the engine solves; what measured panels give in dull light is booked after it
    odd = ODD[name]
    [one] = compare({"it": odd.rig}, odd.light).outcomes.values()
    for circuit, operation in zip(odd.rig.circuits, one.by_label, strict=True):
        if light_on(odd.rig, circuit, odd.light) == 0.0:
            assert (operation.p_best[0], operation.v_oc[0]) == (
                pytest.approx(0.0, abs=1e-9),
                pytest.approx(0.0, abs=V_DARK),
            )
            continue
        truth = solve(cell_by_cell(odd.rig.panels, circuit, odd.light))
        assert operation.p_best[0] == pytest.approx(truth.best.p, rel=POWER_DENSE, abs=1e-6)
        assert operation.v_oc[0] == pytest.approx(truth.v_oc, rel=2e-3, abs=0.02)


def light_on(some: Rig, circuit: Circuit, light: Snapshot) -> float:
    """Light on the best lit cell of a circuit. [W/m²]"""
    return max(float(light.light * lit_cells(some.panels[p], p, light.shade).max()) for p in circuit.wiring.panels)


@pytest.mark.parametrize("cells", [24, 36, 60, 144])
@pytest.mark.parametrize("lit", [0.0, 0.1, 0.5])
@pytest.mark.parametrize("dark", [1, 3])
def test_cells_that_break_down_before_a_diode_across_many_takes_over_are_met(cells, lit, dark):
    """One diode across a long chain: its shaded cells carry the others' amps in avalanche, at volts of their own."""
    volts = {"v_oc": 0.6 * cells, "v_mp": 0.495 * cells}
    one_diode = replace(PANEL, name=f"{cells} cells", cells_in_series=cells, substrings=1, **volts)
    for some in (rig(one_diode), rig(one_diode, one_diode)):
        light = shaded((0, 0, dark, lit))
        truth = solve(cell_by_cell(some.panels, some.circuits[0], light)).best.p
        assert best_power(array_of(some, light))[1][0] == pytest.approx(truth, rel=POWER_DENSE)


@BY_NAME
def test_equal_panels_in_equal_light_give_the_same_in_every_wiring(name):
    odd = ODD[name]
    light = replace(odd.light, shade=())
    circuit = replace(odd.rig.circuits[0], blocking_diodes=False)
    alike = bare(replace(odd.rig, panels=(odd.rig.panels[0],) * len(odd.rig.panels), circuits=(circuit,)))
    best = [one.operations[0].p_best[0] for one in compare(alike.wirings(), light).outcomes.values()]
    assert min(best) == pytest.approx(max(best), rel=SEEN, abs=NOTHING)


# What is said and drawn


@BY_NAME
def test_every_check_and_choice_answers_in_numbers(name):
    odd = ODD[name]
    found = rank_wirings(odd.rig, odd.light)
    verdicts = [*check(odd.rig), compare({"it": odd.rig}, odd.light).verdict, found.verdict]
    for verdict in verdicts:
        assert verdict.answer in ("yes", "no", "close")
        assert math.isfinite(verdict.margin)
        assert sound(str(verdict))
    assert sound(found.text())


def sound(text: str) -> bool:
    """Whether a text says something, and no number in it is none, no zero negative, no word Python's."""
    return bool(text) and not re.search(r"\b(nan|inf|None(?!\.)|float64)\b|-0\.0 |\b-0 [A-Z%]|e[+-]\d\d", text)


@BY_NAME
def test_day_adds_up_and_the_battery_stays_within_its_walls(name):
    odd = ODD[name]
    run = simulate(odd.rig.wirings(shade=odd.day.shade), odd.day)
    ladder = run.ladder()
    for wiring, outcome in run.outcomes.items():
        rows, steps = outcome.rows, ladder.steps[wiring]
        for watts in (rows.p_offered, rows.p_used, rows.p_served, rows.p_lost):
            assert np.isfinite(watts).all()
            assert watts.min() >= -1e-9
        assert (rows.p_used <= rows.p_offered + 1e-9).all()
        assert ((rows.soc >= -1e-9) & (rows.soc <= 1 + 1e-9)).all()
        assert abs(ladder.slack(wiring)) <= 1e-9 * max(steps["label"], 1.0)
        assert min(steps.values()) >= -SEEN * steps["label"]
    assert sound(f"{run.text()}{run.verdict}{ladder.text()}")


@BY_NAME
def test_shortlist_ranks_what_passes(name):
    odd = ODD[name]
    found = shortlist(odd.rig, read_controllers(), odd.day)
    for offer in found.offers:
        assert math.isfinite(offer.wh_day)
        assert offer.wh_day >= 0.0
    assert sound(f"{found.text()}{found.verdict}")


@pytest.mark.parametrize("name", ON_PAPER)
def test_page_of_the_rig_can_be_drawn(name):
    figure = sheet(ODD[name].rig)
    figure.canvas.draw()
    plt.close(figure)


@BY_NAME
def test_command_line_answers_the_rig_from_its_file(name, tmp_path, capsys):
    odd = ODD[name]
    path = tmp_path / "van.toml"
    path.write_text(rig_to_toml(odd.rig), encoding="utf-8")
    light = ["--light", repr(odd.light.light), "--temp", repr(odd.light.temp_cell)]
    for words, codes in (
        (["compare", str(path), *light, *notes(odd.light)], [0]),
        (["check", str(path)], [0, 1]),
        (["day", str(path), "--wiring", "all", "--day", "bright"], [0]),
    ):
        assert main(words) in codes
        out, err = capsys.readouterr()
        assert err == ""
        assert sound(out)


def notes(light: Snapshot) -> list[str]:
    """The shade of a moment as it is typed."""
    typed = []
    for note in light.shade:
        group = "" if note.substring is None else f".{note.substring + 1}"
        cells = "" if note.cells is None else f"x{note.cells}"
        typed.append(f"P{note.panel + 1}{group}{cells}={note.lit:.9f}")
    return ["--shade", *typed] if typed else []
