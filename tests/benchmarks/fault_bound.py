"""How many hidden causes can be told at all: the best that anybody could do who knew how the faults were drawn.

    .venv/bin/python tests/benchmarks/fault_bound.py 200 3 18

Bayes' rule with what `fault_readings.drawn` draws from and what `faulty_rigs.metered` errs by, over thousands of draws
of each kind on each rig: no ranking of the same readings is right more often. It is given the readings that the package
asked for. A reading "can tell" where its first cause has 80 % or more. Meters of a draw are the package's model with
the label's cells, as the simulator has them.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path

import numpy as np
from scipy.special import logsumexp

sys.path.insert(0, str(Path(__file__).parents[1]))
sys.path.insert(0, str(Path(__file__).parent))

from fault_readings import DIGITS, KINDS, report, run_of
from faulty_rigs import STAGES

from vanpower.rig import Rig
from vanpower.trials.faults import expected
from vanpower.trials.faults.draws import Draws
from vanpower.trials.faults.expected import HILL, LEAKS, OHMS, ONE_GROUP, ONE_PANEL, SHADE_DEEP, SHADE_LETS, TAKES
from vanpower.trials.faults.meters import Shown
from vanpower.trials.faults.next_step import BY_NAME, YES_NO
from vanpower.trials.faults.readings import FaultReadings

COUNT = 4000
# draws of each kind on each rig
TELLS = 0.80
# share of the first cause from which readings tell
Array = np.ndarray
LIGHTS: Mapping[str, tuple[float, float]] = {
    "no sun": (0.05, 6.0), "asleep": (12.0, 150.0), "current limit": (800.0, 1100.0), "hot floor": (800.0, 1100.0),
}  # fmt: skip
HEATS = {"no sun": (5, 30), "asleep": (5, 30), "current limit": (15, 45), "hot floor": (55, 78)}
FAMILY = {"no sun": "nothing wrong", "asleep": "nothing wrong", "current limit": "nothing wrong",
          "hot floor": "nothing wrong"}  # fmt: skip


def depth_of(kind: str, rng: np.random.Generator) -> Array:
    """The share that stands for how deep a shade is, or how much a battery takes, as the kind is drawn."""
    if kind == "battery full":
        return np.interp(np.log(rng.uniform(0.02, 0.6, COUNT)), np.log(TAKES), [0, 1])
    if kind == "dead diode":
        return rng.uniform(0.0, 0.4, COUNT) / SHADE_DEEP
    least, most = (0.0, 0.4) if kind == HILL else (0.05, 0.5)
    return np.interp(rng.uniform(least, most, COUNT), SHADE_LETS, [0, 1])


def size_of(kind: str, rng: np.random.Generator) -> Array:
    """The share that stands for ohms, or for what a shade covers, as the kind is drawn."""
    u = rng.random(COUNT)
    if kind == "bad plug":
        return np.interp(-0.7 + 1.2 * u, OHMS, [0, 1])
    if kind == "leaky panel":
        return np.interp(-0.6 + 1.2 * u, LEAKS, [0, 1])
    if kind == HILL:
        return u * ONE_GROUP
    if kind == "shade":
        return np.where(rng.random(COUNT) < 0.5, u * ONE_GROUP, ONE_GROUP + u * (ONE_PANEL - ONE_GROUP))
    return 0.5 * u if kind == "reversed panel" else u


@dataclass(frozen=True, eq=False)
class Known(expected.Expected):
    """Draws of one kind, as the hidden faults are drawn."""

    kind: str = ""

    @cached_property
    def draws(self) -> Draws:
        rng = np.random.default_rng([7, KINDS.index(self.kind)])
        light = rng.uniform(*LIGHTS.get(self.kind, (400.0, 1000.0)), COUNT)
        heat = np.clip(17 + 0.033 * light + rng.normal(0, 8, COUNT), 0, 75)
        heat = rng.uniform(*HEATS[self.kind], COUNT) if self.kind in HEATS else heat
        # the start margin is the file's: a middle share
        middle = np.full(COUNT, 0.5)
        place = rng.random(COUNT)
        return Draws(light, heat, size_of(self.kind, rng), depth_of(self.kind, rng), place, middle, np.ones(COUNT))


@dataclass(frozen=True, eq=False)
class Best:
    """The best ranking for one rig."""

    rig: Rig

    @cached_property
    def every(self) -> dict[str, Shown]:
        """What each kind shows."""
        found = {}
        for kind in KINDS:
            one = Known(self.rig, 0, FaultReadings(v_array=1.0, v_battery=self.rig.battery.v_now), kind=kind)
            family = FAMILY.get(kind, kind)
            if family in one.families():
                shown = one.shown(family)
                own = shown.causes == kind if family != kind or kind == "nothing wrong" else shown.share > 0
                found |= {kind: replace(shown, rows=np.flatnonzero(own))} if own.any() else {}
        return found

    def shares(self, read: FaultReadings, by_eye: float) -> dict[str, float]:
        """Chance of each kind, each beforehand as likely as any other."""
        logs = {kind: self._log(kind, read, by_eye) for kind in self.every}
        whole = logsumexp(list(logs.values()))
        return {kind: float(np.exp(log - whole)) for kind, log in logs.items()}

    def _log(self, kind: str, read: FaultReadings, by_eye: float) -> float:
        """Log of how likely the readings are under one kind."""
        shown = self.every[kind]
        rows, light = shown.rows, shown.values["light"][shown.rows]
        log = np.where(np.abs(by_eye / light - 1) <= 0.2, -np.log(light), -30.0)
        for name in BY_NAME:
            value = read.of(name)
            if value is None or name == "battery":
                continue
            if name in YES_NO:
                log = log + (0.0 if (value > 0.5) == TRUE[name](kind) else -20.0)
            else:
                log = log + normal(value, shown.values[name][rows], DIGITS[name])
        if read.light is not None and read.light_within_pct <= 5:
            log = log + normal(read.light, light, DIGITS["light"])
        if read.stage is not None:
            charges = shown.values["amps"][rows] > 0.01
            log = log + np.where(np.where(charges, "bulk", "asleep") == read.stage, 0.0, -20.0) * (kind not in STAGES)
            log = log - 20.0 * (kind in STAGES and STAGES[kind] != read.stage)
        return float(logsumexp(log) - np.log(len(rows)) + self._battery(kind, read.v_battery))

    def _battery(self, kind: str, volts: float | None) -> float:
        """Log of how likely the battery's volts are."""
        battery = self.rig.battery
        held = [battery.v_absorption, battery.v_float or battery.v_absorption]
        where = held if kind == "battery full" else [battery.v_now]
        return 0.0 if volts is None else float(logsumexp([normal(volts, np.array(v), 0.05) for v in where]) - 0.5)


def normal(read: float, value: Array, digit: float) -> Array:
    """Log of a meter's error: a share of 1 % and a digit, each even, and the rounding."""
    error = np.sqrt((0.01 * value) ** 2 / 3 + digit**2 / 3 + digit**2 / 12)
    return -0.5 * ((read - value) / error) ** 2 - np.log(error)


TRUE: Mapping[str, Callable[[str], bool]] = {
    "shade": lambda kind: kind in ("shade", "wrong hill", "dead diode"), "fuse": lambda kind: False,
    "cold": lambda kind: kind == "cold lock-out", "plugs": lambda kind: kind == "bad plug",
    "cable": lambda kind: False, "polarity": lambda kind: kind == "reversed panel",
    "diodes": lambda kind: kind == "dead diode",
}  # fmt: skip


def main() -> None:
    """Print our tables, and ours beside the best."""
    count, steps, seed = (int(word) for word in (*sys.argv[1:], *("200", "3", "18")[len(sys.argv) - 1 :]))
    # the simulator has label cells in dull light too
    cases = list(run_of(count, seed, steps))
    report(cases, f"seed {seed}")
    expected.dull_middle = lambda panels, light: np.ones_like(np.asarray(light, float))
    best: dict[str, Best] = {}
    for named in ("four readings", f"after up to {steps} more"):
        told, ours, right, hoped = 0, 0, 0, 0.0
        for kind, rig, trail in cases:
            found = trail[0] if named == "four readings" else trail[-1]
            shares = best.setdefault(rig.name, Best(rig)).shares(found.readings, trail[0].readings.light)
            first = max(shares, key=lambda name: shares[name])
            right, hoped = right + (first == kind), hoped + shares[first]
            if shares[first] >= TELLS:
                told, ours = told + 1, ours + (found.first == kind)
        mine = sum((trail[0] if named == "four readings" else trail[-1]).first == kind for kind, _, trail in cases)
        print(f"{named}: the best is right first in {right} of {len(cases)} (says {hoped:.0f}), ours in {mine};"
              f" can tell in {told}, ours right first there in {ours} ({100 * ours / max(told, 1):.0f} %)")  # fmt: skip


if __name__ == "__main__":
    main()
