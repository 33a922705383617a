"""The boxes of the form "my van": label, unit, help, field by field.

What a field means and which values make sense, `rig.fields` says; here is only how a person is asked for it. Fields
that the form does not show are named in `KEPT`: a file's own values of them stay as they are.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from vanpower.rig import (
    INSULATIONS,
    Battery,
    Cable,
    Circuit,
    Climate,
    Controller,
    Fixture,
    Inverter,
    Load,
    Panel,
    Placement,
    Rig,
    Roof,
    Source,
)
from vanpower.rig.fields import Description, Field, Number, Whole, YesOrNo, table, unit_of
from vanpower.rig.house import BATTERY_KINDS, VOLTS_USUAL
from vanpower.rig.roof import EDGES, ON_GROUND, ON_ROOF

NOT_STATED = "not stated"
# the choice that leaves a field open
UNSAID: tuple[tuple[str, str], ...] = (("", NOT_STATED), ("true", "yes"), ("false", "no"))
# of a field that is true, false or not on the sheet
YES_NO: tuple[tuple[str, str], ...] = (("true", "yes"), ("false", "no"))
SHOWN_UNITS = {"degrees": "°"}
# units as a box has them behind it, where a message spells them out


@dataclass(frozen=True, kw_only=True)
class Box:
    """How a person is asked for one field.

    Parameters
    ----------
    label, short : str
        Beside the box, and within a sentence; the label in small letters where it is not given.
    help : str
        A line below it.
    choices : tuple of (value, words)
        Where it is chosen rather than typed.
    folded : bool
        Whether it is out of sight until asked for.

    Examples
    --------
    >>> FIELDS[Panel]["v_mp"].short
    'Vmp'
    """

    label: str
    short: str = ""
    help: str = ""
    choices: tuple[tuple[str, str], ...] = ()
    folded: bool = False

    @property
    def said(self) -> str:
        """What a sentence calls it."""
        return self.short or self.label[:1].lower() + self.label[1:]


FIELDS: Mapping[type[Description], Mapping[str, Box]] = {
    Panel: {
        "count": Box(label="How many"),
        "v_oc": Box(label="Open-circuit volts Voc", short="Voc"),
        "i_sc": Box(label="Short-circuit amps Isc", short="Isc"),
        "v_mp": Box(label="Best-power volts Vmp", short="Vmp"),
        "i_mp": Box(label="Best-power amps Imp", short="Imp"),
        "beta_voc_pct_per_k": Box(label="Volts lost with heat", help="Beside Voc on the sheet, as %/K or %/°C."),
        "i_max_fuse": Box(label="Largest series fuse", help="On the label, mostly near the foot."),
        "name": Box(label="Name", folded=True),
        "cells_in_series": Box(
            label="Cells in series", help="Count them; of half-cut cells count one half.", folded=True
        ),
        "substrings": Box(label="Groups, each with a bypass diode", short="groups", folded=True),
        "branches": Box(label="Cells", choices=(("1", "full"), ("2", "half-cut")), folded=True),
        "gamma_pmp_pct_per_k": Box(label="Power lost with heat", help="Beside Pmax on the sheet.", folded=True),
        "alpha_isc_pct_per_k": Box(label="Amps gained with heat", help="Beside Isc on the sheet.", folded=True),
        "p_label": Box(label="Watts as printed", folded=True),
        "bypass_diodes": Box(label="Bypass diodes", choices=YES_NO, folded=True),
        "mount": Box(
            label="How it lies",
            choices=(("gap", "on brackets"), ("glued", "glued flat"), ("open", "tilted, air all round")),
            folded=True,
        ),
        "tilt_deg": Box(label="Tilt", help="0 is flat.", folded=True),
        "azimuth_deg": Box(label="Faces", help="90 is east, 180 south.", folded=True),
        "turn_deg": Box(
            label="Turned after the sun", help="By hand: so far east until noon, and west after it.", folded=True
        ),
    },
    Battery: {
        "v_nominal": Box(label="Nominal volts", choices=tuple((f"{volts}", f"{volts} V") for volts in VOLTS_USUAL)),
        "chemistry": Box(label="Kind", choices=tuple((kind, kind) for kind in BATTERY_KINDS)),
        "capacity_ah": Box(label="Amp-hours"),
        "v_absorption": Box(
            label="Absorption", short="absorption", help="Volts of full charge, set at the controller."
        ),
        "name": Box(label="Name", folded=True),
        "cells": Box(label="Cells in series", folded=True),
        "v_now": Box(
            label="Volts while it charges", help="At its terminals; watts are worked out for them.", folded=True
        ),
        "v_float": Box(label="Float", short="float", help="Volts held once it is full.", folded=True),
        "i_accept_max": Box(label="Most amps it accepts", help="By its sheet, from all chargers.", folded=True),
        "temp_lockout": Box(label="Takes no charge below", help="By its own electronics.", folded=True),
        "soc_start_pct": Box(label="Charge when a day or a trip begins", short="charge at the start", folded=True),
        "usable_pct": Box(label="Share loads may take", short="what loads may take", folded=True),
        "temp_offset": Box(
            label="Its place is warmer than the air by", short="how much warmer its place is", folded=True
        ),
        "temp_heated": Box(
            label="Its place is kept at, at least", help="By a heater or the living space.", folded=True
        ),
        "other_chargers": Box(label="What else charges it", folded=True),
    },
    Controller: {
        "v_pv_max": Box(
            label="Most panel volts", short="most panel volts", help="The ceiling: above it the controller can break."
        ),
        "i_charge_max": Box(label="Charge current"),
        "i_pv_sc_max": Box(label="Most input amps", help="On its sheet as the largest Isc of the panels."),
        "cold_cutoff": Box(label="Stops charging in frost", choices=UNSAID),
        "tracker": Box(
            label="How it finds the best point",
            choices=(
                ("sweep", "looks over the whole curve"),
                ("climb", "keeps the first hill"),
                ("direct", "plain switch, no converter"),
            ),
            folded=True,
        ),
        "v_start_margin": Box(label="Wakes above the battery by", short="the volts to wake", folded=True),
        "v_hold_margin": Box(label="Stays awake above the battery by", short="the volts to stay awake", folded=True),
        "p_own": Box(label="Uses itself", folded=True),
        "feeds_back": Box(label="Lets battery current back", choices=UNSAID, folded=True),
        "name": Box(label="Name", folded=True),
    },
    Circuit: {
        "wiring": Box(label="Wiring", help="Such as 3s, 3p, 2s2p, or P1+P2 | P3+P4; or choose it from the list."),
        "i_fuse_string": Box(label="String fuses, each"),
        "i_plug_max": Box(label="Branch plugs", help="Amps they are rated for; they gather the strings."),
        "i_fuse_battery": Box(label="Fuse at the battery"),
        "v_isolator_max": Box(label="Isolator, volts DC"),
        "i_isolator_max": Box(label="Isolator, amps DC"),
        "i_fuse_array": Box(label="Fuse in the roof cable", folded=True),
        "i_extension_max": Box(label="Plugs of an extension lead", folded=True),
        "blocking_diodes": Box(label="Blocking diode in each string", choices=YES_NO, folded=True),
    },
    Cable: {
        "length_m": Box(label="One way"),
        "section_mm2": Box(label="Conductor", help="Copper of one core."),
        "insulation": Box(
            label="Insulation",
            choices=(("", NOT_STATED), *((kind, f"{kind} °C") for kind in INSULATIONS)),
            folded=True,
        ),
        "laying": Box(
            label="Laid",
            choices=(("surface", "on a surface"), ("apart", "each core in free air"), ("conduit", "in conduit")),
            folded=True,
        ),
        "bundled": Box(label="Circuits in its bundle", folded=True),
    },
    Climate: {
        "temp_coldest": Box(
            label="Coldest dawn", help="The coldest air at first light wherever you will park. The colder, the safer."
        ),
        "temp_cell_hottest": Box(label="Hottest cells", folded=True),
        "basis": Box(label="Who says so", folded=True),
    },
    Load: {
        "name": Box(label="What it is"),
        "p_load": Box(label="Takes, while it runs", short="its watts"),
        "from_h": Box(label="From", help="Hours after midnight; half past seven is 7.5."),
        "to_h": Box(label="To", help="May lie past midnight."),
        "runs": Box(
            label="It runs",
            choices=(("always", "driving or parked"), ("driving", "only while driving"), ("parked", "only parked")),
            folded=True,
        ),
        "temp_inside": Box(label="Inside, of a fridge", help="Its power then follows the air outside.", folded=True),
        "days": Box(label="On weekdays", help="Such as sat, sun; empty is every day.", folded=True),
        "months": Box(label="In months", help="Such as november..march; empty is all year.", folded=True),
        "mains": Box(label="Through the inverter", help="What runs on mains volts.", choices=YES_NO, folded=True),
    },
    Inverter: {
        "p_own": Box(label="Uses itself, while it is on", short="its own draw"),
        "efficiency_pct": Box(label="Of the power comes out", short="its efficiency", help="On top of its own draw."),
        "p_out_max": Box(label="Most it gives for long", short="the most it gives"),
        "always_on": Box(label="Left on", choices=(("true", "day and night"), ("false", "only while something runs"))),
        "name": Box(label="Name", folded=True),
    },
    Source: {
        "name": Box(label="What it is"),
        "kind": Box(
            label="Fed by",
            choices=(
                ("alternator", "the alternator, while driving"),
                ("shore", "a cable to shore"),
                ("generator", "a generator"),
                ("wind", "wind"),
            ),
        ),
        "i_charge_max": Box(label="Charges with at most", short="its amps"),
        "from_h": Box(label="From", help="Hours after midnight, if it runs by the clock; a trip says when you drive."),
        "to_h": Box(label="To", help="May lie past midnight."),
        "p_charge_max": Box(label="Or with at most so many watts", short="its watts", folded=True),
        "days": Box(label="On weekdays", help="Such as sat, sun; empty is every day.", folded=True),
        "every_days": Box(label="On the last of every so many days", help="1 is every day.", folded=True),
        "months": Box(label="In months", help="Such as november..march; empty is all year.", folded=True),
    },
    Roof: {
        "wide_m": Box(label="Roof, across the van"),
        "long_m": Box(label="Roof, along the van"),
        "above_ground_m": Box(label="Roof above the ground"),
        "glass_m": Box(label="Panels' glass above the roof"),
    },
    Placement: {
        "left_m": Box(label="From the roof's left edge"),
        "back_m": Box(label="From the roof's back edge"),
        "wide_m": Box(label="Across the van"),
        "long_m": Box(label="Along the van"),
        "junction": Box(label="Junction box faces", choices=(("", "as usual"), *((edge, edge) for edge in EDGES))),
    },
    Fixture: {
        "name": Box(label="What it is"),
        "kind": Box(label="Shape", choices=tuple((kind, kind) for kind in (*ON_ROOF, *ON_GROUND))),
        "wide_m": Box(label="Across the van, or its diameter"),
        "long_m": Box(label="Along the van"),
        "high_m": Box(label="Its top above the roof or ground"),
        "left_m": Box(label="From the roof's left edge"),
        "back_m": Box(label="From the roof's back edge"),
        "east_m": Box(label="East of the van, on the ground"),
        "north_m": Box(label="North of the van, on the ground"),
        "under_m": Box(label="Its underside"),
    },
    Rig: {
        "name": Box(label="What you call it", short="its name"),
        "rule_book": Box(label="Wiring rules", choices=(("IEC", "IEC"), ("US", "US"))),
    },
}
# every box in the order of the page

KEPT: Mapping[type[Description], tuple[str, ...]] = {
    Panel: ("v_bypass", "r_leak", "ideality", "read_by"),
    Battery: (
        "r_internal", "i_tail", "absorption_h", "coulombic_pct", "compensation_mv_per_k", "temp_release",
        "temp_hottest", "lag_h",
    ),
    Controller: (
        "loss_fixed_pct", "loss_ratio_pct", "temp_cold_cutoff", "temp_cold_release", "cold_feeds_loads", "price",
    ),
    Circuit: ("controller", "cable", "battery_cable"),
    Cable: ("temp_conductor", "copper", "temp_around", "temp_terminals"),
    Climate: ("places",),
    Load: ("p_hourly", "temp_rated"),
    Inverter: (),
    Source: ("p_hourly",),
    Roof: ("spots", "fixtures", "slope_deg", "downhill_deg"),
    Placement: ("panel", "cells_across"),
    Fixture: ("turn_deg", "tilt_deg", "lifts", "lets_through"),
    Rig: ("source", "panels", "battery", "climate", "circuits", "loads", "roof", "sources", "inverter"),
}  # fmt: skip
# fields without a box: parts that have boxes of their own, and what a file alone says; they stay as the file has them


def field_of(kind: type[Description], name: str) -> Field | None:
    """What is known of a box's field; None for the count of equal panels, which a description does not have.

    Examples
    --------
    >>> field_of(Panel, "v_mp").meaning, field_of(Panel, "count")
    ('voltage at best power', None)
    """
    return table(kind).get(name)


def unit_beside(kind: type[Description], name: str) -> str:
    """The unit that stands in a box.

    Examples
    --------
    >>> unit_beside(Panel, "v_mp"), unit_beside(Panel, "tilt_deg"), unit_beside(Panel, "count")
    ('V', '°', '')
    """
    field = field_of(kind, name)
    unit = (field.unit or unit_of(name)) if isinstance(field, Number) else ""
    return SHOWN_UNITS.get(unit, unit)


def holds(kind: type[Description], name: str) -> str:
    """What a box takes: "whole", "number", "word" or "text".

    Examples
    --------
    >>> holds(Panel, "count"), holds(Panel, "v_oc"), holds(Panel, "mount"), holds(Rig, "name")
    ('whole', 'number', 'word', 'text')
    """
    field, box = field_of(kind, name), FIELDS[kind][name]
    if isinstance(field, YesOrNo) or (box.choices and not isinstance(field, Number)):
        return "word"
    if field is None or isinstance(field, Whole):
        return "whole"
    return "number" if isinstance(field, Number) else "text"
