"""How the time grows with moments, panels, levels and wirings, as a chart: `python growth.py` draws growth.png."""

from __future__ import annotations

import time
from collections.abc import Sequence
from pathlib import Path

import numpy as np
from heavy_shade import ARRAYS, best_watts, light_of, wired

from vanpower.rig import Circuit

Points = dict[str, tuple[list[int], list[float]]]

ROUNDS = 3
# of which the quickest counts
MOMENTS = 288
# in all charts but that of the moments


def measured(quick: bool = False) -> dict[str, Points]:
    """Milliseconds by what they grow with; each a line of its own."""
    few = 8 if quick else MOMENTS
    rounds = 1 if quick else ROUNDS
    moments = [4, 16] if quick else [1, 4, 16, 64, 288, 1152]
    panels, levels = ([1, 2], [1, 2]) if quick else ([1, 2, 3, 4, 6, 8], [1, 2, 4, 8, 14, 18])
    all_circuits = [
        *ARRAYS,
        wired((0, 2)),
        wired((1, 2)),
        wired((0, 1), (2,)),
        wired((0, 2), (1,)),
        wired((1, 2), (0,)),
    ]
    circuits = all_circuits[:2] if quick else all_circuits
    light = light_of(few)
    series = {n: [wired(tuple(range(n)))] for n in panels}
    parallel = {n: [wired(*((p,) for p in range(n)))] for n in panels}
    return {
        "moments": {"14 levels, five arrays": _line(moments, lambda n: (light_of(n), ARRAYS), rounds)},
        "panels": {
            "in series": _line(panels, lambda n: (light_of(few, panels=n), series[n]), rounds),
            "in parallel": _line(panels, lambda n: (light_of(few, panels=n), parallel[n]), rounds),
        },
        "levels a substring": {"five arrays": _line(levels, lambda n: (light_of(few, n), ARRAYS), rounds)},
        "wirings": {"14 levels": _line(range(1, len(circuits) + 1), lambda n: (light, circuits[:n]), rounds)},
    }


def _line(numbers: Sequence[int], case, rounds: int) -> tuple[list[int], list[float]]:
    return list(numbers), [1000 * min(_seconds(*case(n)) for _ in range(rounds)) for n in numbers]


def _seconds(light: np.ndarray, circuits: Sequence[Circuit]) -> float:
    start = time.process_time()
    best_watts(light, circuits)
    return time.process_time() - start


def draw(lines: dict[str, Points], path: Path) -> None:
    """The chart of four growths."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(9, 6.5), layout="constrained")
    FigureCanvasAgg(figure)
    for ax, (what, points) in zip(figure.subplots(2, 2).flat, lines.items(), strict=True):
        for (name, (numbers, spent)), (colour, marker, dash) in zip(
            points.items(), (("#0072B2", "o", "-"), ("#D55E00", "s", "--")), strict=False
        ):
            ax.plot(numbers, spent, color=colour, marker=marker, linestyle=dash, label=name)
        ax.set_xlabel(what.capitalize())
        ax.set_ylabel("Time (ms)")
        ax.set_title(_finding(what, points), fontsize=10, loc="left")
        ax.legend(frameon=False, fontsize=9)
        if what == "moments":
            ax.set(xscale="log", yscale="log")
        else:
            ax.set_ylim(bottom=0)
            ax.set_xticks(next(iter(points.values()))[0])
    figure.suptitle(
        "How the engine's time grows, heavy shade: 14 levels, 3 panels, 288 moments unless said", fontsize=11
    )
    figure.savefig(path, dpi=110)


def _finding(what: str, points: Points) -> str:
    """What a chart shows, in a line."""
    numbers, spent = next(iter(points.values()))
    more, longer = (
        numbers[-1] / numbers[-2 if what == "moments" else 0],
        spent[-1] / spent[-2 if what == "moments" else 0],
    )
    return f"{more:.3g} times the {what} take {longer:.2g} times as long"


if __name__ == "__main__":
    draw(measured(), Path(__file__).with_name("growth.png"))
