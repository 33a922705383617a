"""A year of daylight in heavy shade in a process of its own: `python year.py MOMENTS [fast]` prints seconds and MiB.

With `fast` the compiled loops are loaded first, as a year of a rig under a roof's shadows does; their loading counts.

The light is made chunk by chunk, so that the memory told is the engine's. The MiB are those of the whole process above
what it took when everything was imported.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

from heavy_shade import CHUNK, best_watts, light_of

from vanpower.engine import compiled


def memory() -> float:
    """Most memory this process has had, as Linux tells it; 0 elsewhere. [MiB]"""
    status = Path("/proc/self/status")
    lines = status.read_text().splitlines() if status.exists() else []
    return sum(int(line.split()[1]) for line in lines if line.startswith("VmHWM")) / 1024


def year(moments: int, fast: bool) -> tuple[float, float]:
    """Processor seconds for so many moments, and the memory over the imports. [s, MiB]"""
    spent = loaded() if fast else 0.0
    before = memory()
    for first in range(0, moments, CHUNK):
        light = light_of(min(CHUNK, moments - first), seed=first)
        start = time.process_time()
        best_watts(light)
        spent += time.process_time() - start
    return spent, memory() - before


def loaded() -> float:
    """Processor seconds that the compiled loops take to load, once they are kept on disk. [s]"""
    start = time.process_time()
    if not compiled.load():
        raise SystemExit("numba is not installed: pip install vanpower[fast]")
    best_watts(light_of(1))
    return time.process_time() - start


if __name__ == "__main__":
    print(*year(int(sys.argv[1]), "fast" in sys.argv))
