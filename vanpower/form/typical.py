"""Values that are offered where a box is left empty, and where they come from.

A ceiling, a charge current, the coldest dawn and the first five figures of a label have nothing typical: they decide
what breaks, and must be typed.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any

from vanpower.components.batteries import usual_float
from vanpower.components.single_diode import nearest_typical
from vanpower.rig import (
    AGM,
    FLOODED,
    GEL,
    IRON_PHOSPHATE,
    SOME_LEAD,
    V_CELL,
    Battery,
    Cable,
    Climate,
    Controller,
    Panel,
    Placement,
    Rig,
    Roof,
    Source,
)
from vanpower.rig.fields import MISSING, Description, table

GUESSED = (
    (Controller, "v_start_margin"), (Controller, "v_hold_margin"), (Controller, "p_own"), (Cable, "section_mm2"),
    (Climate, "temp_cell_hottest"), (Roof, "above_ground_m"), (Roof, "glass_m"),
)  # fmt: skip
# defaults that a person should know to be nobody's measurement

Values = Mapping[str, Any]
# what stands in the boxes of one description, by field

NO_SOURCE = "common practice, no source"
BOX_SIZES = (36, 48, 54, 60, 66, 72, 96)
# cells in series of usual panels, half-cut ones by one half: common practice, no source
FEWEST_USUAL = 30
# cells below which a panel is of any number; no source
V_CHARGING = {IRON_PHOSPHATE: 13.4, FLOODED: 12.9, AGM: 12.9, GEL: 12.9, SOME_LEAD: 12.9}
# [V] at the terminals of a 12 V block while it charges: common practice, no source
V_FULL = {IRON_PHOSPHATE: 14.2, FLOODED: 14.4, AGM: 14.4, GEL: 14.1, SOME_LEAD: 14.1}
# [V] absorption of a 12 V block, within what checks/charging.py has from makers' pages; of lead that nobody named the
# lowest of the three


@dataclass(frozen=True)
class Offer:
    """A value that is taken where nothing is typed, and what to say of it.

    Examples
    --------
    >>> Offer(14.2, "typical of lithium iron phosphate", "common practice, no source").note
    'typical of lithium iron phosphate; common practice, no source'
    """

    value: Any
    of: str
    source: str

    @property
    def note(self) -> str:
        """What stands beside the box."""
        return "; ".join(part for part in (self.of, self.source) if part)


def offered(kind: type[Description], name: str, values: Values) -> Offer | None:
    """What is typical of a field, beside other values of the same description; None where nothing is.

    Examples
    --------
    >>> offered(Battery, "v_absorption", {"v_nominal": 24.0, "chemistry": "gel"}).value
    28.2
    >>> offered(Panel, "v_oc", {}) is None
    True
    """
    special = SPECIAL.get((kind, name))
    if special is not None:
        return special(values)
    field = table(kind).get(name)
    if field is None or field.default is MISSING or field.default is None:
        return None
    return Offer(field.default, *(("usual", NO_SOURCE) if (kind, name) in GUESSED else ("", "")))


def _cells(values: Values) -> Offer | None:
    """Cells whose volts come nearest to those of one cell of silicon."""
    v_oc = values.get("v_oc")
    if not v_oc:
        return None
    plain = max(1, round(v_oc / V_CELL))
    usual = min(BOX_SIZES, key=lambda cells: abs(v_oc / cells - V_CELL))
    fits = plain >= FEWEST_USUAL and abs(v_oc / usual - V_CELL) < 0.1
    return Offer(usual if fits else plain, f"suits {v_oc:g} V", "CEC table of 2019: 0.62 V a cell; count them")


def _groups(values: Values) -> Offer | None:
    """Groups of cells by the usual number of diodes."""
    cells = values.get("cells_in_series")
    if not cells:
        return None
    groups = next(n for n in ((2, 1) if cells <= 44 else (3, 2, 1)) if cells % n == 0)
    return Offer(groups, f"typical of {cells} cells", NO_SOURCE)


def _coefficient(name: str, more: str = "") -> Callable[[Values], Offer | None]:
    """A coefficient of heat as the median of such panels; left open, answers say what they take."""

    def offer(values: Values) -> Offer | None:
        try:
            label = {key: values[key] for key in ("v_oc", "i_sc", "v_mp", "i_mp", "cells_in_series", "substrings")}
            group = nearest_typical(Panel(name="any", branches=values.get("branches") or 1, **label))
        except (KeyError, ValueError, TypeError):
            return None
        cells = f"{group.cells_in_series * group.branches} {'half cells' if group.branches > 1 else 'cells'}"
        return Offer(getattr(group, name), f"typical of {cells}", f"CEC table of 2019{more}")

    return offer


def _watts_name(values: Values) -> Offer | None:
    """A panel called by its watts."""
    v_mp, i_mp = values.get("v_mp"), values.get("i_mp")
    return Offer(f"{v_mp * i_mp:.0f} W", "", "") if v_mp and i_mp else None


def _source_name(values: Values) -> Offer | None:
    """A charger called by what feeds it."""
    return Offer(values["kind"], "", "") if values.get("kind") else None


def _controller_name(values: Values) -> Offer | None:
    """A controller called by its ratings."""
    volts, amps = values.get("v_pv_max"), values.get("i_charge_max")
    return Offer(f"{volts:g} V {amps:g} A", "", "") if volts and amps else None


def _scaled(volts: Mapping[str, float]) -> Callable[[Values], Offer | None]:
    """Volts of a battery by its kind, as many times as it is a 12 V block."""

    def offer(values: Values) -> Offer | None:
        kind, v_nominal = values.get("chemistry") or IRON_PHOSPHATE, values.get("v_nominal")
        if kind not in volts or not v_nominal:
            return None
        return Offer(round(volts[kind] * v_nominal / 12.0, 1), f"typical of {kind}", NO_SOURCE)

    return offer


def _battery(values: Values) -> Battery | None:
    """The battery as far as it is known."""
    try:
        known = ("v_nominal", "chemistry", "v_now", "v_absorption", "cells", "capacity_ah")
        return Battery(**{name: values[name] for name in known if values.get(name) is not None})
    except (TypeError, ValueError):
        return None


def _float(values: Values) -> Offer | None:
    """Float volts that answers take where none are given."""
    battery = _battery(values)
    if battery is None:
        return None
    return Offer(round(usual_float(battery), 2), f"typical of {battery.chemistry}", NO_SOURCE)


def _battery_cells(values: Values) -> Offer | None:
    """Cells in series, where the chemistry and the volts leave one number."""
    battery = _battery(values)
    possible = battery.cells_possible if battery else ()
    if battery is None or len(possible) != 1:
        return None
    return Offer(possible[0], f"{battery.v_nominal:g} V {battery.chemistry}", "")


SPECIAL: Mapping[tuple[type[Description], str], Callable[[Values], Offer | None]] = {
    (Panel, "name"): _watts_name,
    (Panel, "cells_in_series"): _cells,
    (Panel, "substrings"): _groups,
    (Panel, "beta_voc_pct_per_k"): _coefficient("beta_voc_pct_per_k", "; for frost a steeper one is taken"),
    (Panel, "gamma_pmp_pct_per_k"): _coefficient("gamma_pmp_pct_per_k"),
    (Panel, "alpha_isc_pct_per_k"): _coefficient("alpha_isc_pct_per_k"),
    (Battery, "v_nominal"): lambda values: Offer(12, "most vans", NO_SOURCE),
    (Battery, "v_now"): _scaled(V_CHARGING),
    (Battery, "v_absorption"): _scaled(V_FULL),
    (Battery, "v_float"): _float,
    (Battery, "cells"): _battery_cells,
    (Controller, "name"): _controller_name,
    (Source, "name"): _source_name,
    (Rig, "name"): lambda values: Offer("My van", "", ""),
    (Cable, "length_m"): lambda values: None,
    (Placement, "junction"): lambda values: None,
}
# what hangs on other boxes, and fields whose default stands for nothing said; what is not here has its own default
