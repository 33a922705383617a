"""Random panels, wirings and light for tests: unlike, tilted, leaky, half-cut, without bypass, shaded, up to the night.

Test utility; imports nothing but the package and numpy.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from vanpower.model.conditions import Conditions
from vanpower.rig import Cable, Circuit, Controller, Panel, Wiring

CABLES = (0.0, 0.01, 3.0)
# [m] none, which is what a file without cable has, a stub, and a usual one
TRACKERS = ("sweep", "climb", "direct")


@dataclass(frozen=True)
class Trial:
    """Panels on one controller in some moments of light, and the battery volts of each."""

    panels: tuple[Panel, ...]
    strings: tuple[tuple[int, ...], ...]
    blocking: bool
    light: Conditions
    v_battery: np.ndarray

    def circuits(self) -> Iterator[Circuit]:
        """Every cable with every tracker."""
        for length in CABLES:
            for tracker in TRACKERS:
                controller = Controller(name="any", v_pv_max=1500.0, i_charge_max=500.0, tracker=tracker)
                yield Circuit(
                    wiring=Wiring(strings=self.strings), controller=controller, cable=Cable(length_m=length),
                    blocking_diodes=self.blocking,
                )  # fmt: skip


def random_trial(seed: int, moments: int) -> Trial:
    """The same panels, wiring and light for the same seed."""
    rng = np.random.default_rng([seed, 4711])
    kinds = [_panel(rng) for _ in range(int(rng.choice([1, 1, 2, 3])))]
    number = int(rng.choice([1, 2, 3, 4, 6]))
    panels = tuple(kinds[int(rng.integers(len(kinds)))] for _ in range(number))
    length = int(rng.choice([each for each in (1, 2, 3, 4, 6) if number % each == 0]))
    order = [int(panel) for panel in rng.permutation(number)]
    strings = tuple(tuple(order[k : k + length]) for k in range(0, number, length))
    light = _light(rng, panels, moments)
    volts = rng.choice([12.0, 24.0, 48.0]) * rng.uniform(1.0, 1.2, moments)
    return Trial(panels, strings, bool(rng.random() < 0.25), light, volts)


def _panel(rng: np.random.Generator) -> Panel:
    """A panel of 30 to 72 cells."""
    cells = int(rng.choice([30, 36, 60, 72]))
    v_oc, i_sc = cells * rng.uniform(0.58, 0.70), rng.uniform(2.0, 18.0)
    return Panel(
        name="any", v_oc=v_oc, v_mp=rng.uniform(0.78, 0.84) * v_oc, i_sc=i_sc, i_mp=rng.uniform(0.91, 0.955) * i_sc,
        cells_in_series=cells, substrings=2 if cells <= 36 else 3, branches=int(rng.choice([1, 1, 2])),
        bypass_diodes=bool(rng.random() < 0.85), r_leak=rng.choice([None, None, None, 30.0, 200.0]),
        v_bypass=float(rng.choice([0.5, 0.5, 0.3])),
        beta_voc_pct_per_k=-0.3, gamma_pmp_pct_per_k=-0.4, alpha_isc_pct_per_k=0.05,
    )  # fmt: skip


def _light(rng: np.random.Generator, panels: tuple[Panel, ...], moments: int) -> Conditions:
    """From night-dim to a cloud's edge, the first half by day; tilted, shaded and unlike warm panels among them."""
    base = 10.0 ** rng.uniform(-2.0, 3.15, moments)
    base[: moments // 2] = rng.uniform(50.0, 1400.0, moments // 2)
    style = int(rng.integers(4))
    warm = rng.uniform(-30.0, 80.0, (moments, 1)) + np.zeros(len(panels))
    warm += rng.uniform(-10.0, 10.0, warm.shape) if style == 3 else 0.0
    return Conditions(tuple(base[:, None, None, None] * _share(rng, panel, moments, style) for panel in panels), warm)


def _share(rng: np.random.Generator, panel: Panel, moments: int, style: int) -> np.ndarray:
    """Share of the light on every cell: a tilt from style 1 on, shadows of any depth from style 2 on."""
    cells = panel.cells_in_series // panel.substrings
    share = np.ones((moments, panel.substrings, panel.branches, cells))
    if style >= 1:
        share *= rng.uniform(0.85, 1.0, (moments, 1, 1, 1))
    for moment in range(moments if style >= 2 else 0):
        for _ in range(int(rng.integers(0, 4))):
            group, branch = int(rng.integers(panel.substrings)), int(rng.integers(panel.branches))
            share[moment, group, branch, : int(rng.integers(1, cells + 1))] *= rng.choice([0.0, 1.0, rng.random()])
    return share
