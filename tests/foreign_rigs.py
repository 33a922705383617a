"""Eight vans as strangers type them: files of labels that no example has, for whatever must serve any van.

Kinds: one panel, twenty-four, two controllers, 48 V, a plain switch, half-cut panels, unlike ones, tilted ones. None
has a roof but by `roofed`, and every one leaves out something that a person may leave out. Labels are invented.
"""

from __future__ import annotations

from vanpower.files.rig_tables import rig_of
from vanpower.rig import Rig

SMALL = (
    "v_oc = 22.3, i_sc = 6.1, v_mp = 18.5, i_mp = 5.7, cells_in_series = 36, substrings = 2, "
    "beta_voc_pct_per_k = -0.30, gamma_pmp_pct_per_k = -0.39"
)
LITHIUM = 'battery = { name = "100 Ah", v_nominal = 12, v_now = 13.2, v_absorption = 14.4, capacity_ah = 100 }'


def written(name: str, panels: str, battery: str, *circuits: str, more: str = "") -> str:
    """A rig file of a few lines."""
    listed = "".join(f"\n[[circuits]]\n{circuit}\n" for circuit in circuits)
    return (
        f'name = "{name}"\nsource = "its labels"\npanels = [{panels}]\n{battery}\n'
        f"climate = {{ temp_coldest = -12 }}\n{more}{listed}"
    )


def circuit(wiring: str, v_pv_max: float, i_charge_max: float, more: str = "", *, length_m: float = 5) -> str:
    """A circuit of a rig file."""
    return (
        f"{wiring}\n"
        f'controller = {{ name = "{v_pv_max:g} V {i_charge_max:g} A", v_pv_max = {v_pv_max}, '
        f"i_charge_max = {i_charge_max}{more} }}\n"
        f"cable = {{ length_m = {length_m}, section_mm2 = 6 }}"
    )


HALF_CUT = (
    '{ count = 2, name = "half-cut 430 W", v_oc = 39.1, i_sc = 13.9, v_mp = 32.6, i_mp = 13.2, '
    "cells_in_series = 54, substrings = 3, branches = 2, i_max_fuse = 25 }"
)
UNLIKE = (
    '{ name = "old 100 W", v_oc = 21.9, i_sc = 6.0, v_mp = 17.8, i_mp = 5.6, cells_in_series = 36, substrings = 2 }, '
    '{ name = "new 200 W", v_oc = 24.2, i_sc = 10.4, v_mp = 20.1, i_mp = 9.9, cells_in_series = 40, substrings = 2 }, '
    '{ name = "odd 50 W", v_oc = 21.2, i_sc = 3.1, v_mp = 17.2, i_mp = 2.9, cells_in_series = 36, substrings = 1 }'
)
BIG = '{ name = "200 Ah", v_nominal = 48, v_now = 52.8, v_absorption = 56.8, capacity_ah = 200 }'

FOREIGN = {
    "one panel": written("Panel van, one panel", f'{{ count = 1, name = "small", {SMALL} }}', LITHIUM,
                         circuit('wiring = "1s"', 60, 10)),
    "twenty-four": written("Circus lorry, 24 panels", f'{{ count = 24, name = "small", {SMALL} }}',
                           f"battery = {BIG}", circuit('wiring = "4s6p"', 150, 60), more=""),
    "two circuits": written(
        "Bakery van, roof and bonnet",
        f'{{ count = 3, name = "small", {SMALL} }}, {HALF_CUT.replace("count = 2, ", "")}',
        LITHIUM, circuit('wiring = "3s"\npanels = [1, 2, 3]', 100, 20), circuit('wiring = "1s"\npanels = [4]', 75, 30)),
    "48 V": written("Film lorry, six at 48 V", f'{{ count = 6, name = "small", {SMALL} }}', f"battery = {BIG}",
                    circuit('wiring = "3s2p"', 150, 30), more='loads = [{ name = "fans", p_load = 40 }]\n'),
    "plain switch": written("Boat trailer, a plain switch", f'{{ count = 2, name = "small", {SMALL} }}', LITHIUM,
                            circuit('wiring = "2p"', 30, 20, ', tracker = "direct"')),
    "half-cut": written("Camper, two half-cut panels", HALF_CUT, LITHIUM, circuit('wiring = "2s"', 100, 50)),
    "unlike": written("Barrow, three unlike panels", UNLIKE,
                      'battery = { name = "AGM", chemistry = "AGM", v_nominal = 12, v_now = 12.8, '
                      "v_absorption = 14.6, capacity_ah = 90 }", circuit('wiring = "3p"', 75, 20)),
    "tilted": written("Ice-cream van, two tilted panels",
                      f'{{ count = 2, name = "small", tilt_deg = 30, azimuth_deg = 180, {SMALL} }}', LITHIUM,
                      circuit('wiring = "2s"', 60, 15)),
}  # fmt: skip
# as files, by what is foreign about them


ROOF = """
[roof]
wide_m = 2.1
long_m = 6.0

[[roof.fixtures]]
name = "roof window"
kind = "box"
left_m = 0.3
back_m = 2.6
wide_m = 0.5
long_m = 0.5
high_m = 0.15
"""
SPOTS = {
    "half-cut": ((0.1, 0.2), (0.1, 3.3)),
    "two circuits": ((0.1, 0.2), (0.8, 0.2), (0.1, 3.3)),
    "one panel": ((0.1, 0.2),),
}
# left and back edge of the panels [m], of vans whose roof has room left
ROWS = {"twenty-four": 24, "48 V": 6, "plain switch": 2, "unlike": 3, "tilted": 2}
# panels of the others, three in a row from the window forward


def roofed(kind: str) -> str:
    """One of the vans with a roof, a window on it and panels beside that."""
    rows = tuple((0.05 + 0.7 * (n % 3), 3.2 + 1.65 * (n // 3)) for n in range(ROWS.get(kind, 0)))
    spots = "".join(
        f"\n[[roof.spots]]\npanel = {number}\nleft_m = {left:.2f}\nback_m = {back:.2f}\nwide_m = 0.65\nlong_m = 1.6\n"
        for number, (left, back) in enumerate(SPOTS.get(kind, rows), 1)
    )
    long = max(6.0, *(back + 1.7 for _, back in rows), 0.0)
    return FOREIGN[kind] + ROOF.replace("long_m = 6.0", f"long_m = {long:.1f}") + spots


def foreign(kind: str) -> Rig:
    """One of the vans, as the command line reads it."""
    return rig_of(FOREIGN[kind], "van.toml")
