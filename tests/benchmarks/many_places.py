"""A sweep as somebody might ask for it: 200 places, 12 controllers, 6 wirings of four panels.

    python tests/benchmarks/many_places.py [processes]

Places are made up: a clear-sky-like day scaled and warmed from place to place, each in a small CSV file in a temporary
folder. With a number of processes the sweep runs on a pool of them; a cluster's executor goes in the same way.
"""

from __future__ import annotations

import sys
import time
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from multiprocessing import get_context
from pathlib import Path
from tempfile import TemporaryDirectory

import numpy as np
import pandas as pd

from vanpower import Battery, Cable, Circuit, Climate, Controller, Days, Panel, Rig, Shade, Wiring, sweep

PLACES = 200
PANEL = Panel(
    name="made-up 120 W", v_oc=22.4, i_sc=6.9, v_mp=18.7, i_mp=6.42, cells_in_series=36, substrings=2,
    beta_voc_pct_per_k=-0.3, gamma_pmp_pct_per_k=-0.4, alpha_isc_pct_per_k=0.05,
)  # fmt: skip
SHADE = (Shade(panel=0, substring=1, lit=0.3), Shade(panel=2, cells=3, lit=0.5))


def rigs() -> dict[str, Rig]:
    """Six ways to wire four panels."""
    ways = (((0, 1, 2, 3),), ((0, 1), (2, 3)), ((0, 2), (1, 3)), ((0, 3), (1, 2)), ((0, 1, 2), (3,)),
            ((0,), (1,), (2,), (3,)))  # fmt: skip
    first = Circuit(wiring=Wiring(strings=ways[0]), controller=controllers()["20 A, 100 V"], cable=Cable(length_m=5.0))
    rig = Rig(
        name="made up",
        source="invented for a benchmark",
        panels=(PANEL,) * 4,
        battery=Battery(name="12 V", v_nominal=12, v_now=13.2, v_absorption=14.4),
        climate=Climate(temp_coldest=-10.0),
        circuits=(first,),
    )
    wired = [replace(rig, circuits=(replace(first, wiring=Wiring(strings=way)),)) for way in ways]
    return {one.circuits[0].wiring.name: one for one in wired}


def controllers() -> dict[str, Controller]:
    """Twelve of them: three sizes, two input ceilings, with a sweep and without."""
    return {
        f"{amps} A, {volts} V{', no sweep' * (tracker == 'climb')}": Controller(
            name="made up", v_pv_max=float(volts), i_charge_max=float(amps), tracker=tracker
        )
        for tracker in ("sweep", "climb")
        for volts in (100, 150)
        for amps in (20, 30, 40)
    }


def places(folder: Path, number: int, step_min: int = 30) -> dict[str, Days]:
    """Days at made-up places, each in a file of its own."""
    rng = np.random.default_rng(3)
    hours = np.arange(0, 24, step_min / 60)
    high = np.clip(np.sin((hours - 6.0) / 12.0 * np.pi), 0.0, None)
    times = pd.date_range("2023-06-01", periods=len(hours), freq=f"{step_min}min").strftime("%Y-%m-%d %H:%M")
    found = {}
    for place in range(number):
        cloud = rng.uniform(0.15, 1.0) * rng.uniform(0.6, 1.0, len(hours))
        day = pd.DataFrame({"time": times, "ghi": (950 * high * cloud).round(1), "temp_air": 8 + rng.uniform(0, 15)})
        path = folder / f"place-{place + 1:03}.csv"
        day.to_csv(path, index=False)
        found[f"place {place + 1}"] = Days(weather=str(path), day="only", shade=SHADE)
    return found


def swept(number: int, processes: int = 0) -> tuple[pd.DataFrame, float]:
    """The table for so many places, and the seconds it took."""
    with TemporaryDirectory() as folder:
        asked, path = places(Path(folder), number), Path(folder) / "sweep.csv"
        start = time.perf_counter()
        if not processes:
            found = sweep(rigs(), asked, controllers=controllers(), path=path)
        else:
            with ProcessPoolExecutor(processes, mp_context=get_context("spawn")) as pool:
                found = sweep(rigs(), asked, controllers=controllers(), executor=pool, path=path)
        return found.table().to_pandas(), time.perf_counter() - start


if __name__ == "__main__":
    found, seconds = swept(PLACES, int(sys.argv[1]) if len(sys.argv) > 1 else 0)
    best = found[found["allowed"] == "yes"].sort_values("Wh").groupby("request").tail(1)
    print(f"{len(found)} cells in {seconds:.0f} s, {1000 * seconds / len(found):.1f} ms a cell; most Wh so many times:")
    print(best.groupby(["rig", "controller"]).size().sort_values(ascending=False).to_string())
