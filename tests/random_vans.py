"""Random vans as rig files: any panels, battery and controllers on sale, every field present or missing by chance.

Test utility; for whatever must hold for any van that somebody types. Labels are invented.
"""

from __future__ import annotations

import random

USUAL = {12: (13.2, 14.2), 24: (26.4, 28.4), 48: (52.8, 56.8)}
# [V] nominal: held now, absorption


def table(known: dict[str, str], chance: random.Random, odds: float, **perhaps: str) -> str:
    """An inline table of what is known, and of what stands there by chance."""
    there = known | {key: value for key, value in perhaps.items() if chance.random() < odds}
    return "{ " + ", ".join(f"{key} = {value}" for key, value in there.items()) + " }"


def random_van(seed: int) -> str:
    """The same rig file for the same seed."""
    chance = random.Random(seed)
    count = chance.choice([1, 2, 2, 3, 4, 6, 8, 12, 24])
    first = chance.choice([count, count, chance.randint(1, count)])
    panels = [_panel(chance, many) for many in (first, count - first) if many]
    volts = chance.choice(list(USUAL))
    now, full = USUAL[volts]
    block = {"v_nominal": f"{volts}", "v_now": f"{now}", "v_absorption": f"{full}", "capacity_ah": "100"}
    battery = table(
        {"name": '"block"'} | block,
        chance, 0.5, chemistry=chance.choice(['"lithium iron phosphate"', '"AGM"', '"flooded lead-acid"']),
    )  # fmt: skip
    split = chance.choice([count, count, chance.randint(1, count)])
    groups = [group for group in (range(1, split + 1), range(split + 1, count + 1)) if group]
    return "\n".join([
        f'name = "Van {seed}"', 'source = "labels"', f"panels = [{', '.join(panels)}]", f"battery = {battery}",
        f"climate = {{ temp_coldest = {chance.choice([-35, -22, -10, -5, 2])} }}",
        *(_circuit(chance, list(group)) for group in groups),
    ])  # fmt: skip


def _panel(chance: random.Random, count: int) -> str:
    """A panel of 36 to 72 cells."""
    cells, amps = chance.choice([36, 36, 54, 72]), chance.uniform(3.0, 13.0)
    v_oc, substrings = cells * chance.uniform(0.59, 0.69), 2 if cells == 36 else 3
    known = {"count": count, "name": f'"{cells} cells"', "v_oc": f"{v_oc:.1f}", "i_sc": f"{amps:.2f}",
             "v_mp": f"{0.82 * v_oc:.1f}", "i_mp": f"{0.935 * amps:.2f}", "cells_in_series": cells,
             "substrings": substrings}  # fmt: skip
    return table(
        {key: f"{value}" for key, value in known.items()}, chance, 0.4, beta_voc_pct_per_k="-0.29", i_max_fuse="20",
        gamma_pmp_pct_per_k="-0.36", branches="2" if cells > 36 else "1", r_leak="80",
    )  # fmt: skip


def _circuit(chance: random.Random, panels: list[int]) -> str:
    """A circuit of equal strings."""
    series = chance.choice([k for k in range(1, len(panels) + 1) if len(panels) % k == 0])
    ceiling = chance.choice([50, 75, 100, 150])
    controller = table(
        {"name": f'"{ceiling} V"', "v_pv_max": f"{ceiling}", "i_charge_max": chance.choice(["10", "20", "40"])},
        chance, 0.25, tracker=chance.choice(['"direct"', '"climb"']), i_pv_sc_max="30", cold_cutoff="true",
    )  # fmt: skip
    parts = {"i_fuse_battery": "30", "i_fuse_string": "15", "i_plug_max": "30", "blocking_diodes": "true",
             "cable": f"{{ length_m = {chance.choice([0, 1.5, 6, 30])}, section_mm2 = {chance.choice([2.5, 6, 16])} }}",
             "battery_cable": "{ length_m = 1, section_mm2 = 16 }", "v_isolator_max": "150"}  # fmt: skip
    lines = [f"{key} = {value}" for key, value in parts.items() if chance.random() < 0.35]
    wiring = f"{series}s{len(panels) // series}p"
    return "\n".join(
        ["[[circuits]]", f'wiring = "{wiring}"', f"panels = {panels}", f"controller = {controller}", *lines]
    )
