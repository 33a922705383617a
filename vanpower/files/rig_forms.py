"""The keys a rig file may have, what they mean, and what reads each kind of table."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

from pydantic import TypeAdapter

from vanpower.rig import Battery, Cable, Climate, Controller, Fixture, Load, Panel, Placement
from vanpower.rig.roof import ABOVE_GROUND_M, GLASS_M

LARGEST_FILE = 1_000_000
# [bytes] a rig of 24 unlike panels takes 20 000; more is another kind of file
MOST_PANELS = 24
# more than a van roof holds; common practice, no source
MOST_FIXTURES = 40
# more than a van roof holds; common practice, no source
MOST_TOLD = 3
# problems told at once; the rest is counted
MOST_WEIGHED = 100
# problems of one table put into words; a file with more is another kind of file
MEANINGS = {
    "name": "what charts call it",
    "source": "where the numbers come from",
    "count": "how many equal ones",
    "panels": "the panels on the roof",
    "battery": "the house battery",
    "climate": "the coldest and hottest it meets",
    "circuits": "what hangs on each controller",
    "controller": "the charge controller",
    "cable": "the run from roof to controller",
    "battery_cable": "the run from controller to battery",
    "rule_book": '"IEC" or "US": whose wiring rules decide',
    "wiring": 'as the trade writes it, "2s2p", or panel by panel, [[1, 2], [3, 4]]',
    "blocking_diodes": "true with a diode in each string",
    "v_oc": "open circuit",
    "i_sc": "short circuit",
    "v_mp": "at best power",
    "i_mp": "at best power",
    "cells_in_series": "between plus and minus; of half-cut cells count one half",
    "substrings": "groups of cells, each under its bypass diode",
    "branches": "1 is full cells, 2 is half-cut",
    "bypass_diodes": "false for a panel without any",
    "beta_voc_pct_per_k": "change of v_oc with heat",
    "gamma_pmp_pct_per_k": "change of power with heat",
    "alpha_isc_pct_per_k": "change of i_sc with heat",
    "i_max_fuse": "largest series fuse",
    "p_label": "watts as printed, only to be checked",
    "v_bypass": "drop of a bypass diode that conducts",
    "r_leak": "leak of an old or damaged panel",
    "ideality": "how volts fall with the light, from a dull reading",
    "read_by": '"watts" or "volts": what the dull reading gave',
    "tilt_deg": "0 is flat",
    "azimuth_deg": "faces 90 east, 180 south",
    "mount": '"open" air all round, "gap" on brackets, "glued"',
    "length_m": "one way",
    "section_mm2": "copper of one core",
    "temp_conductor": "of the copper; worked out where it is left out",
    "insulation": '"PVC 70", "XLPE 90" or "solar 120"',
    "copper": '"class 5 tinned" is solar cable',
    "laying": '"apart" in free air, "surface" or "conduit"',
    "bundled": "circuits in one bundle",
    "temp_around": "hottest air around the cable",
    "temp_terminals": "what its terminals are marked for, 60, 75 or 90; US rules",
    "i_plug_max": "rating of the branch plugs",
    "i_extension_max": "rating of an extension lead's plugs",
    "i_fuse_string": "fuse in each string that needs one",
    "i_fuse_array": "fuse in the roof cable, at the controller",
    "i_fuse_battery": "fuse fitted at the battery",
    "v_isolator_max": "direct-current rating of the isolator",
    "i_isolator_max": "direct-current rating of the isolator",
    "v_pv_max": "above it the controller can break",
    "i_charge_max": "into the battery",
    "i_pv_sc_max": "largest short-circuit current at the input",
    "v_start_margin": "above the battery, to wake",
    "v_hold_margin": "above the battery, to stay awake",
    "tracker": '"sweep" sees the whole curve, "climb" keeps the first hill, "direct" is a plain switch',
    "p_own": "used by the controller while awake",
    "loss_fixed_pct": "lost in any case",
    "loss_ratio_pct": "lost per unit of step-down above 1",
    "cold_cutoff": "true if it stops charging in frost",
    "feeds_back": "true if battery current can flow back to the panels",
    "temp_cold_cutoff": "battery below which it stops; 0 as usual",
    "temp_cold_release": "battery from which it charges again; 3 K warmer as usual",
    "cold_feeds_loads": "false if it shuts down in frost, loads and all",
    "price": "in your own money",
    "v_nominal": "12, 24, 36 or 48",
    "v_now": "at its terminals, for this study",
    "v_absorption": "full charge",
    "chemistry": '"lithium iron phosphate", "other lithium", "flooded lead-acid", "AGM" or "gel"',
    "cells": "in series; 15 or 16 of a 48 V lithium iron phosphate block",
    "capacity_ah": "as on its label",
    "v_float": "held once it is full",
    "soc_start_pct": "charge when a run through time begins",
    "usable_pct": "share of capacity_ah that loads may take",
    "r_internal": "inside the battery",
    "i_tail": "absorption ends below it",
    "absorption_h": "absorption ends after it",
    "coulombic_pct": "of the Ah put in, the share that comes out",
    "compensation_mv_per_k": "of the charge settings, whole battery",
    "temp_lockout": "battery takes no charge below it",
    "temp_release": "and takes charge again above it",
    "temp_heated": "its place is kept at least so warm",
    "temp_hottest": "hottest that the battery gets where it lies",
    "temp_offset": "by which its place is warmer than the air",
    "lag_h": "by which the battery follows the air",
    "other_chargers": "note: what else charges it",
    "loads": "what draws from the battery every day",
    "p_load": "while it runs",
    "from_h": "it runs from, hours after midnight",
    "to_h": "it runs to; may lie past midnight",
    "p_hourly": "24 values from midnight, instead of p_load",
    "i_accept_max": "most amps it accepts",
    "temp_coldest": "coldest first light of the year's plan",
    "temp_cell_hottest": "hottest cells of the year's plan",
    "basis": "who says so",
    "places": 'coldest first light of each, [["coast", -3], ["pass", -22]]',
    "roof": "the roof from above",
    "spots": "where each panel lies",
    "fixtures": "what throws shade",
    "wide_m": "across the van; of things on the ground, east-west",
    "long_m": "along the van; of things on the ground, north-south",
    "glass_m": "the panels' glass above the roof's skin",
    "above_ground_m": "the roof's skin above the ground",
    "slope_deg": "of the pitch; 0 is level",
    "downhill_deg": "which way is downhill, 90 east, 180 south",
    "panel": "which panel, counted from 1",
    "left_m": "from the roof's left edge",
    "back_m": "from the roof's back edge",
    "junction": 'the short edge its junction end faces: "front", "back", "left" or "right"',
    "cells_across": "columns of cells side by side",
    "kind": '"box", "cylinder", "bar", "plate" or "cover" on the roof, "wall" or "mast" on the ground',
    "high_m": "its top, above the roof's skin or the ground",
    "under_m": "its underside, or the hinge of a plate",
    "east_m": "of what stands on the ground, from the roof's middle",
    "north_m": "of what stands on the ground, from the roof's middle",
    "turn_deg": "turned clockwise, seen from above",
    "lifts": 'which edge of a plate is lifted: "front", "back", "left" or "right"',
    "lets_through": "share of the light that passes it, 0 to 1",
}

NOT_KEYS = {
    "awg": "section_mm2 takes the copper area; 12 AWG is 3.31 mm², 10 AWG 5.26, 8 AWG 8.37, 6 AWG 13.3.",
    "watts": "Watts follow from v_mp and i_mp; leave it out.",
    "power": "Watts follow from v_mp and i_mp; leave it out.",
    "pmp": "Watts follow from v_mp and i_mp; leave it out.",
    "pmax": "Watts follow from v_mp and i_mp; leave it out.",
    "wp": "Watts follow from v_mp and i_mp; leave it out.",
}
# keys people write that have no near one here; AWG areas: ASTM B258
ROOF_SIZES = {
    **dict.fromkeys(("lengthm", "length"), "long_m takes the roof's length along the van"),
    **dict.fromkeys(("widthm", "width"), "wide_m takes the roof's width across the van"),
    **dict.fromkeys(("heightm", "height"), "above_ground_m takes the height of the roof's skin above the ground"),
}
# what people call the sizes of a roof, where the same word elsewhere is a cable's or a panel's


@dataclass(kw_only=True)
class FileForm:
    """Keys at the top of a rig file; what is inside its tables is checked table by table."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012
    name: str
    source: str
    panels: list[Any]
    battery: dict[str, Any]
    climate: dict[str, Any]
    circuits: list[Any]
    loads: list[Any] = field(default_factory=list)
    rule_book: str = "IEC"
    roof: dict[str, Any] | None = None


@dataclass(kw_only=True)
class CircuitForm:
    """Keys of one circuit in a rig file."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012
    wiring: Any
    controller: dict[str, Any]
    cable: dict[str, Any] = field(default_factory=dict)
    battery_cable: dict[str, Any] | None = None
    panels: list[int] = field(default_factory=list)
    blocking_diodes: bool = False
    i_plug_max: float | None = None
    i_extension_max: float | None = None
    i_fuse_string: float | None = None
    i_fuse_array: float | None = None
    i_fuse_battery: float | None = None
    v_isolator_max: float | None = None
    i_isolator_max: float | None = None


GUARDS = tuple(CircuitForm.__dataclass_fields__)[5:]
# what a circuit has besides wiring, controller and cables, in the order in which a file writes it


@dataclass(kw_only=True)
class RoofForm:
    """Keys of the roof in a rig file."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012
    wide_m: float
    long_m: float
    glass_m: float = GLASS_M
    above_ground_m: float = ABOVE_GROUND_M
    slope_deg: float = 0.0
    downhill_deg: float = 180.0
    spots: list[Any] = field(default_factory=list)
    fixtures: list[Any] = field(default_factory=list)


HOMES = {
    "at the top of the file, above the first table": FileForm,
    "in [[panels]]": Panel,
    "in [battery]": Battery,
    "in [climate]": Climate,
    "in [[loads]]": Load,
    "in [[circuits]]": CircuitForm,
    "in [circuits.controller]": Controller,
    "in [circuits.cable] or [circuits.battery_cable]": Cable,
    "in [roof]": RoofForm,
    "in [[roof.spots]]": Placement,
    "in [[roof.fixtures]]": Fixture,
}
# where each kind of key lives
ADAPTERS: dict[Any, TypeAdapter[Any]] = {kind: TypeAdapter(kind) for kind in HOMES.values()}
# what reads each kind of table


HEADERS = {
    "panels": "[[panels]]",
    "circuits": "[[circuits]]",
    "loads": "[[loads]]",
    "battery": "[battery]",
    "climate": "[climate]",
    "controller": "[circuits.controller]",
    "cable": "[circuits.cable]",
    "battery_cable": "[circuits.battery_cable]",
    "roof": "[roof]",
    "spots": "[[roof.spots]]",
    "fixtures": "[[roof.fixtures]]",
}
# how a file writes the tables
