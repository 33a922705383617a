"""A cache of results with a limit in bytes; the least recently used are dropped first."""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Callable, Hashable, Mapping
from dataclasses import is_dataclass
from threading import Lock
from typing import Any, TypeVar

import numpy as np

T = TypeVar("T")

KEPT_BYTES = 128 * 2**20
# [B] of tables kept for the next wiring, controller or slider move; some 25 days at 5 minutes of four panels


class SizedCache:
    """Results by the values they were computed from; the least recently used are dropped when all grow too large.

    Parameters
    ----------
    most_bytes : int
        Limit for all of them together. A result that is larger by itself is returned and not kept. [B]

    Attributes
    ----------
    bytes : float
        What the results kept take, about. [B]
    """

    def __init__(self, most_bytes: int):
        self.most_bytes = most_bytes
        self._kept: OrderedDict[Hashable, tuple[Any, float]] = OrderedDict()
        self._lock = Lock()
        self.bytes = 0.0

    def get(self, key: Hashable, make: Callable[[], T], weighed: Callable[[T], object] = lambda made: made) -> T:
        """The result kept under a key, computed by `make` where there is none.

        `weighed` gives the part of a result whose bytes count, since others may share the rest.
        """
        with self._lock:
            if key in self._kept:
                self._kept.move_to_end(key)
                return self._kept[key][0]
        made = make()
        with self._lock:
            # another thread may have made it meanwhile
            before = self._kept[key][1] if key in self._kept else 0.0
            self._kept[key] = made, float(bytes_of(weighed(made)))
            self.bytes += self._kept[key][1] - before
        self.shrink(self.most_bytes)
        return made

    def shrink(self, most_bytes: float) -> None:
        """Forget what is longest unused, until the rest is no larger. [B]"""
        with self._lock:
            while self._kept and self.bytes > most_bytes:
                self.bytes -= self._kept.popitem(last=False)[1][1]

    def clear(self) -> None:
        """Forget everything."""
        with self._lock:
            self._kept.clear()
            self.bytes = 0.0


def bytes_of(value: object) -> int:
    """Bytes of all different arrays within tuples, mappings and dataclasses."""
    sizes: dict[int, int] = {}
    left = [value]
    for one in left:
        if isinstance(one, np.ndarray):
            sizes[id(one)] = one.nbytes
        elif isinstance(one, (tuple, list)):
            left += one
        elif isinstance(one, Mapping):
            left += one.values()
        elif is_dataclass(one):
            left += vars(one).values()
    return sum(sizes.values())


KEPT = SizedCache(KEPT_BYTES)
