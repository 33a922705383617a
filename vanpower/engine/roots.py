"""Roots of many falling functions, all at once."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np


def falling_root(
    function: Callable[[np.ndarray], np.ndarray], low: np.ndarray, high: np.ndarray, rounds: int = 100
) -> np.ndarray:
    """Where each falling function crosses zero; `low` or `high` itself where it does not between them.

    Chandrupatla, Advances in Engineering Software 28 (1997) 145-149: inverse quadratic steps where they can
    be trusted, halving otherwise, down to the spacing of floats.

    Examples
    --------
    >>> falling_root(lambda x: np.array([2.0, 3.0]) - x**2, np.zeros(2), np.full(2, 4.0)).round(6).tolist()
    [1.414214, 1.732051]
    """
    b, a = low, high
    fb, fa = function(low), function(high)
    flat = (fb <= 0) | (fa >= 0)
    answer = np.where(fb <= 0, low, high)
    c, fc = a, fa
    t = np.full_like(low, 0.5)
    for _ in range(rounds):
        x = a + t * (b - a)
        f = function(x)
        same = np.sign(f) == np.sign(fa)
        c, fc = np.where(same, a, b), np.where(same, fa, fb)
        b, fb = np.where(same, b, a), np.where(same, fb, fa)
        a, fa = x, f
        best = np.where(np.abs(fa) < np.abs(fb), a, b)
        width = np.abs(b - a)
        tol = 2 * np.finfo(float).eps * np.abs(best) + 1e-17
        if np.all((width <= 2 * tol) | (fa == 0) | flat):
            break
        t = np.clip(_step(a, b, c, fa, fb, fc), tol / np.maximum(width, tol), 1 - tol / np.maximum(width, tol))
    return np.where(flat, answer, best)


def _step(a: np.ndarray, b: np.ndarray, c: np.ndarray, fa: np.ndarray, fb: np.ndarray, fc: np.ndarray) -> np.ndarray:
    """Share of the way from `a` to `b`: inverse quadratic where the three points bend little, else half."""
    with np.errstate(divide="ignore", invalid="ignore"):
        xi, phi = (a - b) / (c - b), (fa - fb) / (fc - fb)
        gentle = (1 - np.sqrt(1 - xi) < phi) & (phi < np.sqrt(xi))
        t = fa / (fb - fa) * fc / (fb - fc) + (c - a) / (b - a) * fa / (fc - fa) * fb / (fc - fb)
    return np.where(gentle & np.isfinite(t), t, 0.5)
