"""What is kept is handed out again, and never grows beyond its bound."""

from __future__ import annotations

import numpy as np
from conftest import PANEL, tiny_rig

from vanpower import Snapshot, compare
from vanpower.model.cache import KEPT, SizedCache, bytes_of


def made(number: int) -> np.ndarray:
    return np.full(1000, float(number))


def test_what_is_kept_is_not_made_again():
    kept = SizedCache(10**6)
    assert kept.get("a", lambda: made(1)) is kept.get("a", lambda: made(2))


def test_the_longest_unused_is_forgotten_when_there_is_no_room():
    kept = SizedCache(2 * made(0).nbytes)
    first = kept.get("first", lambda: made(1))
    kept.get("second", lambda: made(2))
    kept.get("first", lambda: made(3))
    kept.get("third", lambda: made(4))
    assert kept.bytes <= kept.most_bytes
    assert kept.get("first", lambda: made(5)) is first
    assert kept.get("second", lambda: made(6))[0] == 6


def test_what_is_too_large_is_handed_out_and_not_kept():
    kept = SizedCache(100)
    assert kept.get("a", lambda: made(1))[0] == 1
    assert kept.bytes == 0


def test_an_array_that_is_there_twice_counts_once():
    array = made(1)
    assert bytes_of(({"a": array}, [array, made(2)])) == 2 * array.nbytes


def test_a_slider_moved_again_and_again_stays_within_the_bound(monkeypatch):
    rig = tiny_rig((PANEL,) * 2, (0, 1))
    monkeypatch.setattr(KEPT, "most_bytes", 200_000)
    KEPT.clear()
    sizes = []
    for light in range(300, 330):
        compare({"it": rig}, Snapshot(light=float(light), temp_cell=30.0))
        sizes.append(KEPT.bytes)
    assert max(sizes) <= 200_000
    assert min(sizes[5:]) > 0
