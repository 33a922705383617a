"""Hidden readings: 200 simulated faults on six rigs, and how often the right cause comes first.

    .venv/bin/python tests/benchmarks/fault_readings.py [200 [3 [18]]]

The second number is how many of the measurements asked for are made, the third the seed; every fault has its own random
numbers, so that two versions of the package are asked about the same faults. Readings come from `tests/faulty_rigs.py`,
cell by cell by another solver. Prints the tables that stand in README.md.
"""

from __future__ import annotations

import sys
from collections import Counter, defaultdict
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1]))

from faulty_rigs import Fault, measured, readings_of, works_at
from foreign_rigs import foreign

from vanpower import example
from vanpower.rig import Rig, Shade
from vanpower.trials.faults.finding import FaultFinding, find_fault

DIGITS = {
    "volts": 0.1, "amps": 0.05, "watts": 1.0, "loaded": 0.05, "restart": 0.1, "terminals": 0.05, "open": 0.1,
    "string-amps": 0.05, "string-volts": 0.1, "panel-volts": 0.1, "dusk": 0.1, "light": 2.0,
}  # fmt: skip
# last digits of the meters, as `faulty_rigs.measured` has them
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
        fault = Fault(kind, **plain, v_battery=volts, takes=float(rng.uniform(0.02, 0.6)))
        # one that would sleep at these volts anyway is not held by its battery
        return fault if works_at(rig, replace(fault, takes=1.0))[1] > 0.05 else None
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


def followed(rig: Rig, fault: Fault, rng: np.random.Generator, steps: int) -> list[FaultFinding]:
    """The findings after none, one, ... of the measurements that each asks for, as long as it is not sure."""
    readings = readings_of(rig, fault, rng)
    trail = [find_fault(rig, readings)]
    for _ in range(steps):
        found = trail[-1]
        if found.sure or found.step is None or not found.step.worth:
            break
        name = found.step.measurement.name
        value = measured(rig, fault, name, rng)
        readings = (
            replace(readings, stage=value) if isinstance(value, str)
            else replace(readings, light=value, light_within_pct=5.0) if name == "light"
            else replace(readings, measured=(*readings.measured, (name, value)))
        )  # fmt: skip
        trail.append(find_fault(rig, readings))
    return trail


def run_of(count: int, seed: int = 18, steps: int = 0) -> Iterator[tuple[str, Rig, list[FaultFinding]]]:
    """True cause, rig, and findings after none, one, ... of the measurements that were asked for."""
    vans = list(rigs().values())
    done = turn = 0
    while done < count:
        kind, rig = KINDS[turn % len(KINDS)], vans[(turn // len(KINDS)) % len(vans)]
        rng = np.random.default_rng([seed, turn])
        turn += 1
        fault = drawn(kind, rig, rng)
        if fault is not None:
            yield kind, rig, followed(rig, fault, rng, steps)
            done += 1


def run(count: int, seed: int = 18, steps: int = 0) -> dict[str, list[FaultFinding]]:
    """The last findings by the true cause."""
    found: dict[str, list[FaultFinding]] = defaultdict(list)
    for kind, _, trail in run_of(count, seed, steps):
        found[kind].append(trail[-1])
    return found


def reliability(pairs: Sequence[tuple[str, FaultFinding]]) -> Iterator[tuple[float, int, float, float]]:
    """By tenths of the first cause's share: from where, how many, what was said on average, and how many were right."""
    said = np.array([one.shares[one.first] for _, one in pairs])
    right = np.array([one.first == kind for kind, one in pairs])
    tenth = np.minimum((10 * said).astype(int), 9)
    for k in np.unique(tenth):
        rows = tenth == k
        yield k / 10, int(rows.sum()), float(said[rows].mean()), float(right[rows].mean())


def main() -> None:
    """Print the tables: by cause before and after, and how often what is said so surely is right."""
    count, steps, seed = (int(word) for word in (*sys.argv[1:], *("200", "0", "18")[len(sys.argv) - 1 :]))
    report(list(run_of(count, seed, steps)), f"seed {seed}")


def report(cases: Sequence[tuple[str, Rig, list[FaultFinding]]], seed: str) -> None:
    """The same of some faults."""
    for named, pick in {"four readings": 0, "after the measurements asked for": -1}.items():
        print(f"\n{named}, {seed}\n")
        pairs = [(kind, trail[pick]) for kind, _, trail in cases]
        _by_cause(pairs)
        print("\n| said from | answers | said | right |\n|---|---|---|---|")
        for least, many, said, right in reliability(pairs):
            print(f"| {100 * least:.0f} % | {many} | {100 * said:.0f} % | {100 * right:.0f} % |")


def _by_cause(pairs: Sequence[tuple[str, FaultFinding]]) -> None:
    """Print one table by cause."""
    found: dict[str, list[FaultFinding]] = defaultdict(list)
    for kind, one in pairs:
        found[kind].append(one)
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
