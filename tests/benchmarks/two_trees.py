"""This tree against another, such as a commit before a large change: `python two_trees.py OTHER [ROUNDS]`.

Each tree works in a process of its own and both take turns, so that a machine which slows down slows both; a row is the
median of the rounds' ratios of processor time. Asked is only what has kept its name: tests of both trees make the rigs.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
from collections.abc import Callable, Iterator
from itertools import count
from pathlib import Path
from statistics import median, quantiles

HERE = Path(__file__).resolve().parents[2]
ROUNDS = 15
READY = "ready"
VANPOWER, RIG = [sys.executable, "-m", "vanpower"], "data/rigs/bookmobile.toml"
PROCESSES = {
    "`vanpower check`, a process": [*VANPOWER, "check", RIG],
    "`vanpower compare --light 80`, a process": [*VANPOWER, "compare", RIG, "--light", "80", "--temp", "12"],
    "`import vanpower`": [sys.executable, "-c", "import vanpower"],
    "the same with its engine": [sys.executable, "-c", "import vanpower; vanpower.compare"],
}


def spent() -> float:
    """Processor time so far of this process and those it started. [s]"""
    both = [resource.getrusage(who) for who in (resource.RUSAGE_SELF, resource.RUSAGE_CHILDREN)]
    return sum(used.ru_utime + used.ru_stime for used in both)


def tasks() -> dict[str, Callable[[], object]]:
    """What is timed, by the row it becomes; run inside the process of one tree."""
    import heavy_shade
    import matplotlib as mpl
    import test_roof_day
    from conftest import PANEL, tiny_rig

    from vanpower import Shade, Snapshot, compare
    from vanpower.figures.power import PowerChart
    from vanpower.rig import Parked

    mpl.use("agg")
    both = {"2s": tiny_rig((PANEL,) * 2, (0, 1)), "2p": tiny_rig((PANEL,) * 2, (0,), (1,))}
    light, day, chart = count(1), heavy_shade.light_of(heavy_shade.CHUNK), PowerChart(p_top=250, v_top=90)

    def moment(*shade: Shade) -> object:
        return compare(both, Snapshot(light=300.0 + next(light) / 10, temp_cell=30, shade=shade))

    def shaded() -> object:
        return moment(Shade(panel=0, substring=0, lit=0.2))

    def cold_roof() -> None:
        test_roof_day.forget()
        compare(test_roof_day.full_roof(), Parked(latitude_deg=50.0, day="06-21", heading_deg=30.0, step_min=20.0))

    return {
        "a moment of two panels, both wirings: light moved, 20 times": lambda: [moment() for _ in range(20)],
        "the same in shade, 20 times": lambda: [shaded() for _ in range(20)],
        "a slider's answer, with its chart, 10 times": lambda: [chart.update(shaded()) for _ in range(10)],
        "daylight in heavy shade, 288 moments": lambda: heavy_shade.best_watts(day),
        "cold roof day of 576 half cells, 20 minutes a step": cold_roof,
    }


def work() -> None:
    """Do each task once, then what the lines of standard input name, and tell its processor time."""
    every = tasks()
    for task in every.values():
        task()
    print(READY, *every, sep="\n", flush=True)
    for line in sys.stdin:
        before = spent()
        every[line.strip()]()
        print(spent() - before, flush=True)


class Tree:
    """A tree's process that waits for the name of a task."""

    def __init__(self, root: Path) -> None:
        paths = [root, root / "tests", root / "tests" / "benchmarks"]
        self.root, self.environment = root, os.environ | {"PYTHONPATH": os.pathsep.join(map(str, paths))}
        # compiled once, as where it is installed
        self.environment["PYTHONDONTWRITEBYTECODE"] = ""
        self.worker = subprocess.Popen(
            [sys.executable, "-P", Path(__file__).resolve(), "--work"], cwd=root, env=self.environment, text=True,
            stdin=subprocess.PIPE, stdout=subprocess.PIPE,
        )  # fmt: skip

    def took(self, row: str) -> float:
        """Processor time of a row's task, or of its process. [s]"""
        if row in PROCESSES:
            before = spent()
            subprocess.run(PROCESSES[row], cwd=self.root, env=self.environment, capture_output=True)
            return spent() - before
        assert self.worker.stdin is not None
        assert self.worker.stdout is not None
        print(row, file=self.worker.stdin, flush=True)
        return float(self.worker.stdout.readline())

    def names(self) -> list[str]:
        """Wait until it is ready; the rows it knows."""
        assert self.worker.stdout is not None
        assert self.worker.stdout.readline().strip() == READY
        return [self.worker.stdout.readline().strip() for _ in range(5)]

    def end(self) -> None:
        """End its process, and close the pipes to it."""
        self.worker.terminate()
        self.worker.communicate()


def rows(other: Path, rounds: int) -> Iterator[str]:
    """Lines of the table: what, milliseconds here, and here over there, with the middle half of the rounds."""
    trees = Tree(HERE), Tree(other)
    names, _ = (tree.names() for tree in trees)
    for row in [*names, *PROCESSES]:
        pairs = [tuple(tree.took(row) for tree in (trees if k % 2 else trees[::-1])) for k in range(rounds)]
        here_there = [pair if k % 2 else pair[::-1] for k, pair in enumerate(pairs)]
        low, middle, high = quantiles([here / there for here, there in here_there], n=4)
        yield f"| {row} | {1000 * median(h for h, _ in here_there):.0f} | {middle:.2f} | {low:.2f} to {high:.2f} |"
    for tree in trees:
        tree.end()


if __name__ == "__main__":
    if sys.argv[1:] == ["--work"]:
        work()
    else:
        for line in rows(Path(sys.argv[1]).resolve(), int(sys.argv[2]) if sys.argv[2:] else ROUNDS):
            print(line, flush=True)
