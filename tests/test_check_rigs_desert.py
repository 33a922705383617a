"""Every answer of `check` for rigs at the ends of the weather and for a plain switch on a long cable, with its reason.

The reasons are sums done here by hand: coefficient of volts -0.30 %/K from 25 °C, amps counted 1.25 times (IEC 62548),
cables by BS 7671 Tables 4D1A and 4E1A and EN 50618 with the square-root law for the air, copper +0.393 %/K (IEC 60228).
"""

from __future__ import annotations

import re
from dataclasses import replace

import pytest

from vanpower.checks.glance import subject
from vanpower.checks.registry import check
from vanpower.results.verdict import Verdict
from vanpower.rig import Battery, Cable, Circuit, Climate, Controller, Panel, Rig, Wiring

PANEL = Panel(
    name="105 W", v_oc=22.0, i_sc=6.2, v_mp=18.0, i_mp=5.8, cells_in_series=36, substrings=2,
    beta_voc_pct_per_k=-0.30, gamma_pmp_pct_per_k=-0.39, alpha_isc_pct_per_k=0.05, i_max_fuse=10.0, p_label=104.4,
)  # fmt: skip
LEAD = Battery(
    name="lead", v_nominal=12, v_now=13.0, v_absorption=14.2, chemistry="lead-acid", capacity_ah=200.0,
    compensation_mv_per_k=-24.0,
)  # fmt: skip
LITHIUM = Battery(name="lithium", v_nominal=24, v_now=26.6, v_absorption=28.4, capacity_ah=200.0)
TRACKER = Controller(name="30 A", v_pv_max=100.0, i_charge_max=30.0, i_pv_sc_max=35.0, cold_cutoff=True)
SWITCH = Controller(name="switch", v_pv_max=30.0, i_charge_max=10.0, i_pv_sc_max=10.0, tracker="direct", p_own=0.1)
GUARDS = {"i_plug_max": 30.0, "v_isolator_max": 100.0, "i_isolator_max": 25.0}


def rig(battery: Battery, climate: Climate, *strings: tuple[int, ...], **circuit: object) -> Rig:
    """Equal panels in strings on one controller."""
    one = Circuit(wiring=Wiring(strings=strings), **{"controller": TRACKER, **GUARDS, **circuit})
    panels = (PANEL,) * sum(map(len, strings))
    return Rig(name="far away", source="invented", panels=panels, battery=battery, climate=climate, circuits=(one,))


DESERT = rig(
    LEAD,
    Climate(temp_coldest=2.0, temp_cell_hottest=88.0, basis="invented: a salt pan"),
    (0, 1),
    (2, 3),
    cable=Cable(length_m=6.0, section_mm2=4.0, temp_around=75.0),
    battery_cable=Cable(length_m=1.2, section_mm2=10.0, insulation="PVC 70", temp_around=62.0),
    i_fuse_battery=40.0,
)
ARCTIC = rig(
    LITHIUM,
    Climate(temp_coldest=-42.0, temp_cell_hottest=40.0, basis="invented: a frozen river"),
    (0, 1, 2),
    (3, 4, 5),
    controller=replace(TRACKER, v_pv_max=80.0, cold_cutoff=False),
    cable=Cable(length_m=6.0, section_mm2=4.0, temp_around=25.0),
    battery_cable=Cable(length_m=1.2, section_mm2=10.0, insulation="PVC 70", temp_around=25.0),
    i_fuse_battery=40.0,
)
MEADOW = rig(
    LEAD,
    Climate(temp_coldest=-4.0, temp_cell_hottest=60.0, basis="invented: a meadow"),
    (0,),
    controller=SWITCH,
    cable=Cable(length_m=14.0, section_mm2=4.0),
    battery_cable=Cable(length_m=0.8, section_mm2=4.0, insulation="XLPE 90"),
    i_fuse_battery=15.0,
    i_fuse_array=10.0,
)
ALIKE = {
    "Input current": "yes",  # 1.25 x 2 x 6.2 = 15.5 A against 35 A
    "String fuse": "yes",  # two strings: 6.2 A against the label's 10 A
    "Reverse current": "yes",  # 1.25 x 6.2 = 7.8 A against the label's 10 A
    "Plugs": "yes",  # 15.5 A against 30 A
    "Charge settings": "yes",  # 14.2 V for lead-acid, 28.4 V for lithium iron phosphate
    "Start": "yes",  # hot strings stand far above battery and margin
    "Clipping": "yes",  # 418 W x 0.9 / 13 V = 28.9 A; 626 W x 0.9 / 26.6 V = 21.2 A
    "Labels": "yes",  # 18 V x 5.8 A = 104.4 W, as printed
    "Missing": "yes",  # nothing is
    "Isolator": "yes",  # 100 V and 25 A
}
ANSWERS = {
    "desert": (DESERT, {
        **ALIKE,
        "Circulating current": "yes",  # equal strings
        "Cold ceiling": "yes",  # 44 V x (1 + 0.003 x 23) = 47.0 V under 100 V
        "Cable current": "yes",  # 44 A x sqrt(45/60) = 38 A; copper 75 + 60 x (15.5/44)² = 82 °C
        "Battery side": "no",  # 65 A x sqrt(8/40) = 29 A of PVC: no fuse of 37.5 A or more guards it
        "Touch": "close",  # 47 V: over 30 V on a roof that may be wet
        "Cold charging": "yes",  # lead-acid
        "Charge current": "yes",  # 30 A against 0.3 x 200 A
        "Hot floor": "yes",  # 36 V x (1 - 0.0039 x 63) and more against 15.2 V
        "Cable": "yes",  # 11.6² A² x 12 m x 5.09 mohm/m x 1.23 at 79 °C = 10.1 W of 418 W, 2.4 %
    }),
    "arctic": (ARCTIC, {
        **ALIKE,
        "Circulating current": "yes",  # equal strings
        "Cold ceiling": "close",  # 66 V x (1 + 0.003 x 67) = 79.3 V: under 80 V, and thin
        "Cable current": "yes",  # the row for 60 °C is not raised in the cold: 44 A
        "Battery side": "yes",  # 65 A of PVC at 25 °C, not raised below 30 °C; 40 A between 37.5 and 65 A
        "Touch": "close",  # 79.3 V: over 60 V anywhere
        "Cold charging": "no",  # lithium iron phosphate at -42 °C and no cut-off
        "Charge current": "yes",  # 30 A against 0.5 x 200 A
        "Hot floor": "yes",  # 54 V x 0.94 against 29.4 V
        "Cable": "yes",  # 11.6² x 61 mohm x 1.04 at 29 °C = 8.5 W of 626 W, 1.4 %
    }),
    "plain switch": (MEADOW, {
        **ALIKE,
        "Battery feed": "yes",  # battery amps come back: 10 A in the roof cable, over 1.5 x 6.2 A, under 44 A
        "Plain switch": "yes",  # one panel of 36 cells suits 12 V
        "Cold ceiling": "yes",  # 22 V x (1 + 0.003 x 29) = 23.9 V under 30 V
        "Cable current": "yes",  # 7.8 A against 44 A
        "Battery side": "yes",  # 46 A x sqrt(40/60) = 38 A; 15 A between 12.5 and 38 A
        "Touch": "yes",  # 23.9 V
        "Cold charging": "yes",  # lead-acid
        "Charge current": "yes",  # 10 A against 60 A
        "Hot floor": "yes",  # 60 °C cells stand above 14.2 V and the drop of 1 V
        "Cable": "yes",  # the cable drops 1 V, and without it 2.3 W more would come
    }),
}  # fmt: skip


def said(rig: Rig, about: str) -> Verdict:
    """The verdict of one subject."""
    return next(verdict for verdict in check(rig) if subject(verdict) == about)


@pytest.mark.parametrize("name", ANSWERS)
def test_every_answer_is_the_one_worked_out_by_hand(name):
    rig, answers = ANSWERS[name]
    assert {subject(verdict): verdict.answer for verdict in check(rig)} == answers


def test_desert_names_the_amps_of_hot_pvc_and_a_cable_that_carries_them():
    # 65 A x 0.45 = 29.3 A; 40 A want 88.9 A of a PVC row: 25 mm² (114 A); 6 mm² of 90 °C cable carry 59 A x 0.68 =
    # 40.1 A and drop 30 A x 8.14 mohm x 1.21 = 0.30 V, over 2 % of 12 V: 10 mm²
    told = said(DESERT, "Battery side").sentence
    assert "(PVC 70 at 62 °C) may carry 29 A" in told
    assert "buy 25 mm² (AWG 3) with a 40 A fuse, or 10 mm² (AWG 6) of XLPE 90" in told
    for section, insulation in ((25.0, "PVC 70"), (10.0, "XLPE 90")):
        run = replace(DESERT.circuits[0].battery_cable, section_mm2=section, insulation=insulation)
        mended = replace(DESERT, circuits=(replace(DESERT.circuits[0], battery_cable=run),))
        assert said(mended, "Battery side").answer == "yes"


def test_desert_counts_the_drop_in_hot_copper():
    # 75 + 60 x (11.6/44)² = 79.2 °C; 0.0611 ohm at 20 °C x (1 + 0.00393 x 59.2)
    hot = 75 + 60 * (11.6 / 44) ** 2
    volts = 11.6 * 2 * 6 * 5.09e-3 * (1 + 0.00393 * (hot - 20))
    told = said(DESERT, "Cable")
    assert f"11.6 A drop {volts:.2f} V" in told.sentence
    assert "copper at 79 °C, as 11.6 A warm it in air of 75 °C" in told.basis


def test_plain_switch_on_a_long_cable_is_told_the_few_watts_it_costs_and_a_tracker_the_many():
    # the same cable before a tracker: 5.8 A x 5.8 A x 0.1425 ohm x 1.16 at 61 °C = 5.6 W of 104.4 W, 5.3 %
    told = said(MEADOW, "Cable").sentence
    watts = float(re.search(r"deliver ([\d.]+) W more", told)[1])
    assert 1.0 < watts < 3.0
    tracked = replace(MEADOW.circuits[0], controller=replace(SWITCH, tracker="sweep"))
    found = said(replace(MEADOW, circuits=(tracked,)), "Cable")
    assert found.answer == "close"
    assert "5.3 %" in found.sentence
