"""Whole answers of `check` for rigs whose battery decides: gel, compensated lithium, a block of 15 cells."""

from __future__ import annotations

from dataclasses import replace

import pytest
from conftest import PANEL

from vanpower.checks.glance import subject
from vanpower.checks.registry import check
from vanpower.cli import main
from vanpower.files.rig_files import rig_to_toml
from vanpower.rig import Battery, Cable, Circuit, Climate, Controller, Rig, Wiring

WHOLE = replace(
    PANEL, i_max_fuse=15.0, beta_voc_pct_per_k=-0.30, gamma_pmp_pct_per_k=-0.38, alpha_isc_pct_per_k=0.05, p_label=101.0
)


def house(*strings: tuple[int, ...], battery: Battery) -> Rig:
    """Equal panels of 100 W whose circuit leaves nothing to say, so that only the battery is in question."""
    circuit = Circuit(
        wiring=Wiring(strings=strings),
        controller=Controller(name="150 V 30 A", v_pv_max=150.0, i_charge_max=30.0, i_pv_sc_max=35.0, cold_cutoff=True),
        cable=Cable(length_m=3.0, section_mm2=6.0),
        battery_cable=Cable(length_m=0.5, section_mm2=16.0, temp_around=45.0),
        i_plug_max=30.0,
        i_fuse_battery=40.0,
        v_isolator_max=200.0,
        i_isolator_max=32.0,
    )
    return Rig(
        name="house",
        source="invented for a test",
        panels=(WHOLE,) * sum(map(len, strings)),
        battery=battery,
        climate=Climate(temp_coldest=-8.0, temp_cell_hottest=65.0),
        circuits=(circuit,),
    )


PAIR = ((0, 1),)
GEL = Battery(name="gel", v_nominal=12, v_now=12.8, v_absorption=14.8, v_float=13.6, chemistry="gel", capacity_ah=120.0)
LITHIUM = Battery(
    name="compensated lithium",
    v_nominal=12,
    v_now=13.2,
    v_absorption=14.2,
    capacity_ah=120.0,
    compensation_mv_per_k=-24.0,
)
FIFTEEN = Battery(name="fifteen cells", v_nominal=48, v_now=49.5, v_absorption=56.8, capacity_ah=50.0, cells=15)
FOUR = ((0, 1, 2, 3),)
SUBJECTS = (
    "Cold ceiling", "Input current", "String fuse", "Reverse current", "Plugs", "Cable current", "Battery side",
    "Isolator", "Touch", "Cold charging", "Charge current", "Charge settings", "Start", "Hot floor", "Cable",
    "Clipping", "Labels", "Missing",
)  # fmt: skip


@pytest.mark.parametrize(
    ("rig", "others"),
    [
        # touch: two in series pass 30 V, accepted wet
        # 14.8 V / 6 = 2.467 V a cell, over 2.42 V (a maker's rules for gel, quoted); two of 100 W bring 18 A of 36 A
        (house(*PAIR, battery=GEL), {"Charge settings": "no", "Touch": "close"}),
        # 14.2 V + 25 K x 24 mV/K = 14.8 V at 0 °C, over 4 x 3.65 V (BPX open example); 16 A of 60 A
        (house(*PAIR, battery=LITHIUM), {"Charge settings": "no", "Touch": "close"}),
        # 56.8 V / 15 = 3.79 V a cell, over 3.65 V; four in series are 96.7 V in frost; 8.5 A of 25 A
        (house(*FOUR, battery=FIFTEEN), {"Charge settings": "no", "Touch": "close"}),
        # the same volts on 16 cells are 3.55 V a cell
        (house(*FOUR, battery=replace(FIFTEEN, cells=16)), {"Touch": "close"}),
        # and nobody knows where the file does not say
        (house(*FOUR, battery=replace(FIFTEEN, cells=None)), {"Touch": "close", "Charge settings": "close"}),
    ],
    ids=["gel", "compensated lithium", "15 cells", "16 cells", "some cells"],
)
def test_battery_decides_the_whole_check(rig, others):
    answers = {subject(verdict): verdict.answer for verdict in check(rig)}
    assert answers == dict.fromkeys(SUBJECTS, "yes") | others


def test_gel_is_printed_with_its_reason(tmp_path, capsys):
    path = tmp_path / "gel.toml"
    path.write_text(rig_to_toml(house(*PAIR, battery=GEL)), encoding="utf-8")
    assert main(["check", str(path)]) == 1
    said = " ".join(capsys.readouterr().out.split())
    assert "NO Charge settings 0.3 V short" in said
    assert "Absorption 14.8 V is above the usual 14.0 to 14.5 V." in said
    assert "Never equalise this battery unless its maker's sheet says so." in said
