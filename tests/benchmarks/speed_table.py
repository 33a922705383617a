"""The table under "Speed" in README.md beside it, in its order and words, filled as the benchmarks run."""

from __future__ import annotations

from collections.abc import Iterator

ROWS = {
    "further sweep": ("ngspice, a further 400-point sweep / ours, a curve: numpy / compiled loops", "800, least 450"),
    "loop": (
        "straightforward pvlib loop of 400 points, every array by itself / ours, a moment: numpy / compiled loops",
        "100, least 60",
    ),
    "fine loop": ("the same loop with 1,000 points a cell and 8,000 a curve / ours: numpy / compiled loops", ""),
    "loop error": ("error of the loop's best power, median and largest: 400 points; 8,000", ""),
    "whole process": ("whole ngspice process / ours, one warm array with 400 points and its best", "8"),
    "day": ("day of 288 moments, four wirings: 1 / 2 / 4 / 14 levels a substring, s", "0.08"),
    "daylight year": (
        "daylight year of 26,280 moments, 14 levels, s: numpy / compiled loops, their loading among it",
        "3, at most 5",
    ),
    "year": (
        "year of hours at 10 minutes (29,293 in daylight), battery, ladder and window, four "
        "wirings / a part shaded all year, s",
        "0.3 / 1.5, at most 0.8 / 3",
    ),
    "year without tables": (
        "largest share by which a moment of that year differs from tables, 29,293 moments, four wirings: best power / "
        "open-circuit volts",
        "1e-5",
    ),
    "dense": (
        "largest error of the best power against the dense solver: uniform / two / many levels / "
        "half-cut / avalanche / unlike strings / leaky / blocking diodes / no bypass",
        "1e-5",
    ),
    "twice": ("largest change on tables of twice the points: 1 / 2 / 4 / 14 levels", "1e-5"),
    "memory": ("memory over imports, year, MiB: numpy / compiled loops", "30, at most 60"),
    "year over day": ("cost a moment, year / day", "1.1"),
    "import": ("`import vanpower`, which loads not even numpy; with its engine / `import numpy`", "1.3"),
    "two panels": (
        "a moment of two panels in both wirings, losses booked: light moved / shade moved / light moved in shade, ms; "
        "the three by compiled loops",
        "1.5, at most 2.5",
    ),
    "moment": ("the same of four panels, light moved in shade: one wiring / four, ms", "10"),
    "same moment": ("that moment in the same light: another cable / another controller, ms", "10"),
    "same day": (
        "a day at 5 minutes, unchanged sun and shade: another cable / another wiring / another controller, ms",
        "60",
    ),
    "sweep": ("sweep, a cell of 48 moments, ms", ""),
    "labels": ("curves of many labels at once, ms a label", "2"),
    "counted": ("cell evaluations a moment (a test guards this one)", ""),
    "full roof": (
        "cold day at 5 minutes of a full roof (576 half cells, 6 fixtures), four wirings, once "
        "modules are loaded: numpy / compiled loops / its shadows alone, s",
        "0.5, at most 0.8",
    ),
}
# by a short key: what is measured, and what was wanted

_measured: dict[str, list[str]] = {}


def tell(row: str, *figures: float) -> None:
    """Keep figures for a row, by its key; those of several cases come one after another."""
    _measured.setdefault(row, []).extend(f"{figure:.2g}" if figure < 1 else f"{figure:.3g}" for figure in figures)


def lines() -> Iterator[str]:
    """The rows that were measured, as they stand in the table."""
    return (
        f"| {what} | {' / '.join(_measured[row])} | {wanted} |"
        for row, (what, wanted) in ROWS.items()
        if row in _measured
    )
