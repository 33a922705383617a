"""Tiny rigs with round numbers, for any test that needs one."""

from __future__ import annotations

import os

import pytest
from hypothesis import settings

from vanpower.rig import Battery, Cable, Circuit, Climate, Controller, Panel, Rig, Wiring

settings.register_profile("ci", derandomize=True, deadline=None)
settings.register_profile("home", deadline=None)
settings.load_profile("home")
# no example fails because the machine was busy
if os.environ.get("CI"):
    # the same examples in every run, so that a change is judged by what it changed; at home they are drawn anew
    settings.load_profile("ci")

PANEL = Panel(name="100 W", v_oc=22.0, i_sc=6.0, v_mp=18.0, i_mp=5.6, cells_in_series=36, substrings=2)


def tiny_rig(panels: tuple[Panel, ...], *strings: tuple[int, ...]) -> Rig:
    """Panels on a 12 V battery, a 100 V controller and 5 m of 4 mm²."""
    circuit = Circuit(
        wiring=Wiring(strings=strings),
        controller=Controller(name="100 V 30 A", v_pv_max=100.0, i_charge_max=30.0),
        cable=Cable(length_m=5.0, section_mm2=4.0),
    )
    return Rig(
        name=f"tiny rig of {len(panels)}",
        source="round numbers for tests",
        panels=panels,
        battery=Battery(name="12 V", v_nominal=12, v_now=13.0, v_absorption=14.0),
        climate=Climate(temp_coldest=-10.0),
        circuits=(circuit,),
    )


@pytest.fixture
def one_panel() -> Rig:
    """One panel of 22 V, 6 A."""
    return tiny_rig((PANEL,), (0,))


@pytest.fixture
def four_panels() -> Rig:
    """Four of them as 2s2p."""
    return tiny_rig((PANEL,) * 4, (0, 1), (2, 3))
