"""Hidden readings: 200 simulated faults on six rigs, and how often the right cause comes first.

    .venv/bin/python tests/benchmarks/fault_readings.py [200 [2]]

The second number is how many of the measurements asked for are made. Readings come from `tests/faulty_rigs.py`, cell by
cell by another solver. Prints the tables that stand in README.md.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from faulty_rigs import Fault, measured, readings_of, works_at
from foreign_rigs import foreign

from vanpower import example
from vanpower.rig import Rig, Shade
from vanpower.trials.faults import FaultFinding, find_fault

KINDS = (
    "nothing wrong", "no sun", "asleep", "battery full", "hot floor", "current limit", "cold lock-out", "shade",
    "wrong hill", "dead diode", "lost group", "leaky panel", "reversed panel", "open line", "bad plug", "battery line",
    "controller dead",
)  # fmt: skip


def rigs() -> dict[str, Rig]:
    """Six: in parallel, in series, both at 48 V, half-cut, unlike, one panel."""
    return {"2p": example("bookmobile")} | {
        name: foreign(name) for name in ("tilted", "48 V", "half-cut", "unlike", "one panel")
    }


def drawn(kind: str, rig: Rig, rng: np.random.Generator) -> Fault | None:
    """A fault of a kind with random light, heat, place and size; None where this rig cannot have it."""
    panel = int(rng.integers(len(rig.panels)))
    own = rig.panels[panel]
    group = int(rng.integers(own.substrings))
    light = float(rng.uniform(400, 1000))
    heat = float(np.clip(17 + 0.033 * light + rng.normal(0, 8), 0, 75))
    rows = max(sum(rig.panels[p].substrings for p in s) for s in rig.circuits[0].wiring.strings)
    part = (Shade(panel=panel, substring=group, lit=float(rng.uniform(0.0, 0.4))),)
    plain = {"light": light, "temp_cell": heat, "panel": panel}
    ratio = own.v_mp / own.i_mp
    if kind in ("no sun", "asleep"):
        return _dim(kind, rig, rng)
    if kind in ("current limit", "hot floor"):
        return _held(kind, rig, rng)
    if kind in ("lost group", "dead diode", "wrong hill", "shade") and rows == 1:
        return None
    if kind == "battery full":
        volts = rig.battery.v_absorption if rng.random() < 0.5 else rig.battery.v_float or rig.battery.v_absorption
        return Fault(kind, **plain, v_battery=volts, takes=float(rng.uniform(0.02, 0.6)))
    if kind == "shade":
        whole = rng.random() < 0.5
        note = Shade(panel=panel, substring=None if whole else group, lit=float(rng.uniform(0.05, 0.5)))
        return Fault(kind, **plain, shade=(note,))
    if kind == "wrong hill":
        fault = Fault(kind, **plain, shade=part, climbs=True)
        here, best = works_at(rig, fault), works_at(rig, Fault(kind, **plain, shade=part))
        return fault if here[0] * here[1] < 0.9 * best[0] * best[1] else None
    if kind == "dead diode":
        return Fault(kind, **plain, shade=part)
    if kind == "lost group":
        return Fault(kind, **plain, shade=(Shade(panel=panel, substring=group, lit=0.0),))
    if kind == "leaky panel":
        return Fault(kind, **plain, ohms=float(ratio * 10 ** rng.uniform(-0.6, 0.6)))
    if kind == "bad plug":
        string = next(s for s in rig.circuits[0].wiring.strings if panel in s)
        volts = sum(rig.panels[p].v_mp for p in string)
        return Fault(kind, **plain, ohms=float(volts / own.i_mp * 10 ** rng.uniform(-0.7, 0.5)))
    return Fault(kind, **plain)


def _dim(kind: str, rig: Rig, rng: np.random.Generator) -> Fault | None:
    """Light that does not do: none to speak of, or not enough to wake the controller."""
    for _ in range(40):
        light = float(rng.uniform(0.05, 6.0) if kind == "no sun" else rng.uniform(12.0, 150.0))
        fault = Fault(kind, light=light, temp_cell=float(rng.uniform(5, 30)))
        if works_at(rig, fault)[1] < 0.05:
            return fault
    return None


def _held(kind: str, rig: Rig, rng: np.random.Generator) -> Fault | None:
    """Moments in which the current limit, or the floor of the window, takes more than 5 % of the watts."""
    controller, battery = rig.circuits[0].controller, rig.battery
    if controller.tracker == "direct":
        return None
    for _ in range(30):
        hot = kind == "hot floor"
        fault = Fault(
            kind,
            light=float(rng.uniform(800, 1100)),
            temp_cell=float(rng.uniform(55, 78) if hot else rng.uniform(15, 45)),
        )
        free = rig.with_controller(v_hold_margin=0.0, i_charge_max=500.0).with_battery(v_now=0.8 * battery.v_nominal)
        v, i, _ = works_at(rig, fault)
        v_best, i_best, _ = works_at(free, fault)
        at_floor = v < battery.v_now + controller.v_hold_margin + 0.1
        if v * i < 0.95 * v_best * i_best and at_floor == hot:
            return fault
    return None


def followed(rig: Rig, fault: Fault, rng: np.random.Generator, steps: int) -> FaultFinding:
    """The finding after so many of the measurements that it asks for."""
    readings = readings_of(rig, fault, rng)
    found = find_fault(rig, readings)
    for _ in range(steps):
        if found.sure or found.step is None or not found.step.worth:
            break
        name = found.step.measurement.name
        value = measured(rig, fault, name, rng)
        readings = (
            replace(readings, stage=value) if isinstance(value, str)
            else replace(readings, light=value, light_within_pct=5.0) if name == "light"
            else replace(readings, measured=(*readings.measured, (name, value)))
        )  # fmt: skip
        found = find_fault(rig, readings)
    return found


def run(count: int, seed: int = 18, steps: int = 0) -> dict[str, list[FaultFinding]]:
    """Findings by the true cause, after so many of the measurements that were asked for."""
    rng = np.random.default_rng(seed)
    found: dict[str, list[FaultFinding]] = defaultdict(list)
    vans = list(rigs().values())
    done = turn = 0
    while done < count:
        kind, rig = KINDS[turn % len(KINDS)], vans[(turn // len(KINDS)) % len(vans)]
        turn += 1
        fault = drawn(kind, rig, rng)
        if fault is not None:
            found[kind].append(followed(rig, fault, rng, steps))
            done += 1
    return found


def main() -> None:
    """Print the table."""
    count, steps = (int(word) for word in (*sys.argv[1:], *("200", "0")[len(sys.argv) - 1 :]))
    found = run(count, steps=steps)
    print("| what was wrong | readings | first | among the first two | sure, and right | sure, and wrong | taken for |")
    print("|---|---|---|---|---|---|---|")
    every = sure = right = wrong = 0
    for kind, findings in found.items():
        firsts = Counter(one.first for one in findings)
        two = sum(kind in list(one.shares)[:2] for one in findings)
        good = sum(one.sure and one.first == kind for one in findings)
        bad = sum(one.sure and one.first != kind for one in findings)
        others = ", ".join(f"{name} {n}" for name, n in firsts.most_common() if name != kind)
        print(f"| {kind} | {len(findings)} | {firsts[kind]} | {two} | {good} | {bad} | {others} |")
        every, right, wrong = every + len(findings), right + firsts[kind], wrong + bad
        sure += good + bad
    print(f"first {right} of {every}; sure {sure}, of them right {sure - wrong}")


if __name__ == "__main__":
    main()
