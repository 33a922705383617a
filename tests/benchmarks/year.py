"""A year of daylight in heavy shade in a process of its own: `python year.py MOMENTS` prints seconds and MiB.

The light is made chunk by chunk, so that the memory told is the engine's. The MiB are those of the whole process above
what it took when everything was imported.
"""

from __future__ import annotations

import resource
import sys
import time

from heavy_shade import CHUNK, best_watts, light_of


def memory() -> float:
    """Most memory this process has had. [MiB]"""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def year(moments: int) -> tuple[float, float]:
    """Seconds of work for so many moments, and the memory over the imports. [s, MiB]"""
    before, spent = memory(), 0.0
    for first in range(0, moments, CHUNK):
        light = light_of(min(CHUNK, moments - first), seed=first)
        start = time.perf_counter()
        best_watts(light)
        spent += time.perf_counter() - start
    return spent, memory() - before


if __name__ == "__main__":
    print(*year(int(sys.argv[1])))
