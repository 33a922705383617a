"""Descriptions refuse what cannot be, and say the field, the value, what would make sense and the likely slip."""

from __future__ import annotations

from dataclasses import FrozenInstanceError, replace

import pytest

from vanpower.rig import Battery, Cable, Circuit, Climate, Controller, Panel, Rig, Shade, Snapshot, Wiring, unit_of

PANEL = Panel(name="100 W", v_oc=22.0, i_sc=6.0, v_mp=18.0, i_mp=5.6, cells_in_series=36, substrings=2)
CONTROLLER = Controller(name="100 V 30 A", v_pv_max=100.0, i_charge_max=30.0)
BATTERY = Battery(name="12 V", v_nominal=12, v_now=13.0, v_absorption=14.0)
CLIMATE = Climate(temp_coldest=-10.0)
SHADE = Shade(panel=0, lit=0.5)
SNAPSHOT = Snapshot(light=800.0, temp_cell=45.0)

REFUSED = [
    (PANEL, {"v_oc": 22000.0}, ["Panel.v_oc is 22000 V", "1 to 200 V", "millivolts"]),
    (PANEL, {"v_oc": "22"}, ["Panel.v_oc is '22'", "1 to 200 V", "plain number"]),
    (PANEL, {"v_oc": float("nan")}, ["Panel.v_oc is nan V", "1 to 200 V"]),
    (PANEL, {"v_mp": 18000.0}, ["Panel.v_mp is 18000 V", "millivolts"]),
    (PANEL, {"i_sc": 6000.0}, ["Panel.i_sc is 6000 A", "0.05 to 40 A", "milliamps"]),
    (PANEL, {"i_mp": 0.0}, ["Panel.i_mp is 0 A", "0.04 to 40 A"]),
    (PANEL, {"v_oc": 18.0, "v_mp": 22.0}, ["Panel.v_mp is 22 V", "below v_oc, 18 V", "swapped"]),
    (PANEL, {"i_sc": 5.6, "i_mp": 6.0}, ["Panel.i_mp is 6 A", "below i_sc, 5.6 A", "swapped"]),
    (PANEL, {"cells_in_series": 72}, ["is 72", "0.31 V a cell", "72 half cells are 36", "branches = 2"]),
    (PANEL, {"cells_in_series": 20}, ["is 20", "1.10 V a cell", "About 35"]),
    (PANEL, {"cells_in_series": 36.5}, ["is 36.5", "whole number from 1 to 200"]),
    (PANEL, {"v_oc": 6.0, "v_mp": 5.6, "i_sc": 22.0, "i_mp": 18.0}, ["0.17 V a cell", "v_oc and i_sc swapped"]),
    (
        PANEL,
        {"v_oc": 9.7, "v_mp": 9.1, "i_sc": 41.0, "i_mp": 34.0, "cells_in_series": 60, "substrings": 3},
        ["i_sc is 41 A", "v_oc and i_sc swapped? v_oc is 9.7 V"],
    ),
    (PANEL, {"substrings": 5}, ["Panel.substrings is 5", "36 cells", "1, 2, 3, 4 or 6"]),
    (PANEL, {"substrings": 0}, ["Panel.substrings is 0", "1 to 200"]),
    (PANEL, {"branches": 3}, ["Panel.branches is 3", "1 to 2"]),
    (PANEL, {"beta_voc_pct_per_k": 0.3}, ["is 0.3 %/K", "-0.6 to -0.2 %/K", "minus sign"]),
    (PANEL, {"beta_voc_pct_per_k": -0.066}, ["is -0.066 %/K", "-0.066 V/K?", "-0.30 %/K"]),
    (PANEL, {"beta_voc_pct_per_k": -66.0}, ["is -66 %/K", "-66 mV/K?", "-0.30 %/K"]),
    (PANEL, {"gamma_pmp_pct_per_k": 0.4}, ["gamma_pmp_pct_per_k is 0.4 %/K", "minus sign"]),
    (PANEL, {"alpha_isc_pct_per_k": 3.0}, ["alpha_isc_pct_per_k is 3 %/K", "mA/K"]),
    (PANEL, {"tilt_deg": 100.0}, ["tilt_deg is 100 degrees", "0 to 90 degrees"]),
    (PANEL, {"azimuth_deg": -90.0}, ["azimuth_deg is -90 degrees", "west 270"]),
    (PANEL, {"mount": "rails"}, ["Panel.mount is 'rails'", '"open", "gap" or "glued"', 'On rails is "gap"']),
    (PANEL, {"r_leak": 0.0}, ["Panel.r_leak is 0 ohm", "0.1 to 1e+06 ohm"]),
    (Cable(), {"length_m": 450.0}, ["Cable.length_m is 450 m", "one way", "centimetres"]),
    (Cable(), {"section_mm2": 0.0}, ["Cable.section_mm2 is 0 mm²", "0.5 to 70 mm²", "AWG"]),
    (CONTROLLER, {"v_pv_max": 5.0}, ["v_pv_max is 5 V", "10 to 1500 V"]),
    (CONTROLLER, {"i_charge_max": 30000.0}, ["i_charge_max is 30000 A", "milliamps"]),
    (CONTROLLER, {"v_start_margin": 31.0}, ["v_start_margin is 31 V", "above the battery"]),
    (CONTROLLER, {"v_hold_margin": 6.0}, ["v_hold_margin is 6 V", "v_start_margin, 5 V", "swapped"]),
    (CONTROLLER, {"tracker": "mppt"}, ["tracker is 'mppt'", '"sweep", "climb" or "direct"', "whole curve"]),
    (CONTROLLER, {"loss_fixed_pct": 97.0}, ["loss_fixed_pct is 97 %", "efficiency"]),
    (BATTERY, {"v_nominal": 12.8}, ["v_nominal is 12.8 V", "12, 24, 36 and 48 V", "v_now"]),
    (BATTERY, {"v_nominal": 24}, ["v_now is 13 V", "v_nominal is 24 V", "which of the two"]),
    (BATTERY, {"chemistry": "agm"}, ["chemistry is 'agm'", '"AGM", "gel" or "lead-acid"', 'Is "AGM" meant?']),
    (BATTERY, {"chemistry": "NMC"}, ["chemistry is 'NMC'", 'Is "other lithium" meant?']),
    (BATTERY, {"chemistry": "sealed"}, ["chemistry is 'sealed'", 'A sealed one is "AGM" or "gel"']),
    (BATTERY, {"cells": 16}, ["cells is 16", "a 12 V lithium iron phosphate battery has 4 in series", "in parallel"]),
    (BATTERY, {"cells": 4.0}, ["cells is 4", "a whole number"]),
    (BATTERY, {"temp_hottest": 113.0}, ["temp_hottest is 113 °C", "Fahrenheit"]),
    (BATTERY, {"capacity_ah": 100000.0}, ["capacity_ah is 100000 Ah", "milliamp-hours"]),
    (CLIMATE, {"temp_coldest": 41.0}, ["temp_coldest is 41 °C", "Fahrenheit"]),
    (CLIMATE, {"temp_coldest": 40.0, "temp_cell_hottest": 30.0}, ["temp_cell_hottest is 30 °C", "40 °C", "swapped"]),
    (SHADE, {"lit": 40.0}, ["Shade.lit is 40", "0 to 1", "percent"]),
    (SHADE, {"panel": -1}, ["Shade.panel is -1"]),
    (SHADE, {"substring": -1}, ["Shade.substring is -1"]),
    (SHADE, {"cells": 0}, ["Shade.cells is 0"]),
    (SNAPSHOT, {"light": 40000.0}, ["Snapshot.light is 40000", "1800 W/m²", "lux"]),
    (SNAPSHOT, {"temp_cell": 113.0}, ["Snapshot.temp_cell is 113 °C", "Fahrenheit"]),
    (Wiring(strings=((0,),)), {"strings": ()}, ["Wiring.strings is ()", "at least one panel"]),
    (Wiring(strings=((0,),)), {"strings": ((0,), ())}, ["at least one panel"]),
    (Wiring(strings=((0,),)), {"strings": (0, 1)}, ["(0, 1)", "tuple of strings", "((0, 1),)"]),
    (Wiring(strings=((0,),)), {"strings": [[0, 1]]}, ["[[0, 1]]", "tuple of strings"]),
    (Wiring(strings=((0,),)), {"strings": ((1, -1),)}, ["((1, -1),)", "0, 1, 2", "P1 is 0"]),
    (Wiring(strings=((0,),)), {"strings": ((0, 1), (1, 2))}, ["one string only", "P2 is used twice"]),
]


@pytest.mark.parametrize(("good", "change", "words"), REFUSED, ids=lambda value: str(value)[:40])
def test_impossible_description_is_refused_with_field_value_sense_and_slip(good, change, words):
    with pytest.raises(ValueError, match=type(good).__name__) as error:
        replace(good, **change)
    assert [word for word in words if word not in str(error.value)] == []


def rig(*strings: tuple[tuple[int, ...], ...], panels: int = 2) -> Rig:
    """A rig with one circuit for each set of strings."""
    circuits = tuple(Circuit(wiring=Wiring(strings=each), controller=CONTROLLER) for each in strings)
    return Rig(name="r", source="test", panels=(PANEL,) * panels, battery=BATTERY, climate=CLIMATE, circuits=circuits)


def test_panel_in_two_circuits_is_named():
    with pytest.raises(ValueError, match="P2 twice; each panel belongs to one circuit"):
        rig(((0, 1),), ((1,),))


def test_circuit_with_a_panel_the_roof_lacks_is_told_how_many_there_are():
    with pytest.raises(ValueError, match="name P3, and there are 2 panels"):
        rig(((0, 2),))
    with pytest.raises(ValueError, match="name P2, and there is 1 panel;"):
        rig(((1,),), panels=1)


def test_rig_needs_panels_and_circuits_in_tuples():
    with pytest.raises(ValueError, match=r"Rig\.panels is \(\); .* at least one panel"):
        rig(((0,),), panels=0)
    with pytest.raises(ValueError, match=r"Rig\.circuits is \(\); .* at least one circuit"):
        rig()
    with pytest.raises(ValueError, match=r"Rig\.panels is \[.*with a comma"):
        replace(rig(((0,),)), panels=[PANEL])


def test_long_value_is_cut_short_in_the_message():
    with pytest.raises(ValueError, match=r"xxx\.\.\.; it is") as error:
        replace(PANEL, mount="x" * 900)
    assert len(str(error.value)) < 200


def test_labels_at_the_edge_of_what_is_sold_are_taken():
    replace(PANEL, beta_voc_pct_per_k=-0.22, gamma_pmp_pct_per_k=-0.24)
    replace(PANEL, beta_voc_pct_per_k=-0.45, gamma_pmp_pct_per_k=-0.66)
    replace(PANEL, v_oc=27.0, v_mp=22.5)


def test_missing_coefficients_stay_missing():
    assert PANEL.beta_voc_pct_per_k is None
    assert PANEL.i_max_fuse is None


def test_descriptions_are_frozen_and_serve_as_keys():
    assert {rig(((0, 1),)): "series"}[rig(((0, 1),))] == "series"
    with pytest.raises(FrozenInstanceError):
        PANEL.v_oc = 30.0


def test_label_watts_are_volts_times_amps_at_best_power():
    assert PANEL.p_mp == pytest.approx(100.8)


@pytest.mark.parametrize(
    ("strings", "name", "grouping"),
    [
        (((0,),), "1s", "P1"),
        (((0, 1, 2),), "3s", "P1+P2+P3"),
        (((0,), (1,)), "2p", "P1 | P2"),
        (((0, 1), (2, 3)), "2s2p", "P1+P2 | P3+P4"),
        (((0, 2), (1, 3)), "2s2p (P1+P3 | P2+P4)", "P1+P3 | P2+P4"),
        (((0, 1), (2,)), "P1+P2 | P3", "P1+P2 | P3"),
    ],
)
def test_wiring_is_named_as_the_trade_writes_it(strings, name, grouping):
    wiring = Wiring(strings=strings)
    assert (wiring.name, wiring.grouping) == (name, grouping)


@pytest.mark.parametrize(
    ("field", "unit"),
    [
        ("v_start_margin", "V"),
        ("i_max_fuse", "A"),
        ("p_own", "W"),
        ("r_leak", "ohm"),
        ("temp_coldest", "°C"),
        ("length_m", "m"),
        ("section_mm2", "mm²"),
        ("capacity_ah", "Ah"),
        ("beta_voc_pct_per_k", "%/K"),
        ("loss_ratio_pct", "%"),
        ("tilt_deg", "degrees"),
        ("tracker", ""),
        ("cells_in_series", ""),
    ],
)
def test_names_carry_their_unit(field, unit):
    assert unit_of(field) == unit
