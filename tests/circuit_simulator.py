"""Array curves from ngspice, a general circuit simulator, cell by cell; for tests only.

The simulator solves Kirchhoff's laws on the netlist and shares nothing with the package. A test that uses it
carries the mark ``needs_ngspice``.
"""

from __future__ import annotations

import math
import os
import shutil
import subprocess
import tempfile
from collections.abc import Sequence
from pathlib import Path

import numpy as np
import pytest
from dense_reference import Array, Cell, Peak, String, Substring, local_maxima

V_THERMAL = 1.38064852e-23 / 1.6021766208e-19 * 300.15
# kT/q inside ngspice at its 27 °C, from the constants it is built with (const.h). [V]
TIMEOUT_S = 300
# Far above the second or so that the largest netlist takes. [s]
OPTIONS = "gmin=1e-18 abstol=1e-13 vntol=1e-9 reltol=1e-8 itl1=100 itl2=20 temp=27 tnom=27"
# ngspice's own gmin of 1e-12 S and reltol of 1e-3 move a peak by up to 1e-3.
COARSE_POINTS = 400
FINE_POINTS = 80
CLOSEST = 1e-4
# Floor of 1 - Vd/Vbr while the simulator searches, where the avalanche term would grow without bound.


def have_ngspice() -> bool:
    """Whether the simulator can be called."""
    return shutil.which("ngspice") is not None


needs_ngspice = pytest.mark.skipif(
    not have_ngspice() and not os.environ.get("VANPOWER_REQUIRE_TOOLS"),
    reason="ngspice is not installed; with VANPOWER_REQUIRE_TOOLS set this is a failure",
)
# Mark of a test that calls the simulator.


class Netlist:
    """Lines of a netlist; nodes are counted up, diode models kept once each."""

    def __init__(self) -> None:
        self.lines: list[str] = []
        self.models: dict[tuple[float, float], str] = {}
        self.nodes = 0

    def node(self) -> str:
        """A fresh node."""
        self.nodes += 1
        return f"n{self.nodes}"

    def add(self, kind: str, plus: str, minus: str, value: str) -> None:
        """One element from ``plus`` to ``minus``."""
        self.lines.append(f"{kind}{len(self.lines)} {plus} {minus} {value}")

    def diode(self, anode: str, cathode: str, i_0: float, a: float) -> None:
        """A diode whose current is i_0 (exp(v/a) - 1)."""
        name = self.models.setdefault((i_0, a), f"diode{len(self.models)}")
        self.add("d", anode, cathode, name)

    def text(self, control: Sequence[str]) -> str:
        """The whole input file."""
        models = [f".model {name} d (is={i_0!r} n={a / V_THERMAL!r})" for (i_0, a), name in self.models.items()]
        head = ["* array", *self.lines, *models, f".options {OPTIONS}"]
        return "\n".join([*head, ".control", *control, ".endc", ".end", ""])


def add_cell(netlist: Netlist, cell: Cell, plus: str, minus: str) -> None:
    """A cell: light current, diode, shunt, avalanche source, series resistance."""
    inner = netlist.node()
    netlist.add("i", minus, inner, repr(float(cell.i_light)))
    netlist.diode(inner, minus, float(cell.i_0), float(cell.a))
    netlist.add("r", inner, minus, repr(float(cell.r_shunt)))
    if cell.avalanche:
        share, v_breakdown, exponent = cell.avalanche
        room = f"max(1-v({inner},{minus})/({v_breakdown!r}),{CLOSEST})"
        leak = f"{share / cell.r_shunt!r}*v({inner},{minus})"
        netlist.add("b", inner, minus, f"i={leak}*exp(-{exponent!r}*ln({room}))")
    netlist.add("r", inner, plus, repr(float(cell.r_series)))


def add_substring(netlist: Netlist, substring: Substring, plus: str, minus: str) -> None:
    """Branches in parallel under their bypass diode."""
    for branch in substring.branches:
        low = minus
        for k, cell in enumerate(branch):
            high = plus if k == len(branch) - 1 else netlist.node()
            add_cell(netlist, cell, high, low)
            low = high
    if substring.diode:
        netlist.diode(minus, plus, *substring.diode)


def add_string(netlist: Netlist, string: String, plus: str) -> None:
    """Substrings in series from ground up, then the blocking diode."""
    low = "0"
    for k, substring in enumerate(string.substrings):
        last = k == len(string.substrings) - 1 and not string.blocking
        high = plus if last else netlist.node()
        add_substring(netlist, substring, high, low)
        low = high
    if string.blocking:
        netlist.diode(low, plus, *string.blocking)


def array_netlist(array: Array) -> Netlist:
    """The array, its cable and a voltage source ``vload`` as the load."""
    netlist = Netlist()
    for string in array.strings:
        add_string(netlist, string, "junction")
    if array.r_cable:
        netlist.add("r", "junction", "end", repr(float(array.r_cable)))
    netlist.lines.append(f"vload {'end' if array.r_cable else 'junction'} 0 0")
    return netlist


def run_sweeps(array: Array, sweeps: Sequence[tuple[float, float, int]]) -> list[tuple[np.ndarray, np.ndarray]]:
    """Voltage and current for each sweep (lowest voltage, highest voltage, steps), all in one run.

    The simulator sweeps downwards, from open circuit where it starts easily; what comes back rises in voltage.

    Raises
    ------
    RuntimeError
        When ngspice is missing, takes too long or does not converge; with the last lines it wrote.
    """
    control = ["set filetype=binary"]
    for k, (first, last, steps) in enumerate(sweeps):
        step = (last - first) / steps
        control += [f"dc vload {last!r} {first - 0.01 * step!r} {-step!r}", f"write sweep{k}.raw i(vload)"]
    with tempfile.TemporaryDirectory() as folder:
        Path(folder, "array.cir").write_text(array_netlist(array).text(control))
        said = _call_ngspice(folder)
        files = [Path(folder, f"sweep{k}.raw") for k in range(len(sweeps))]
        if not all(file.exists() for file in files):
            raise RuntimeError(f"ngspice gave no answer; its last lines:\n{_tail(said)}")
        curves = [_read_raw(file) for file in files]
    for (v, _), (_, _, steps) in zip(curves, sweeps, strict=True):
        if v.size != steps + 1:
            raise RuntimeError(f"ngspice stopped after {v.size} of {steps + 1} points:\n{_tail(said)}")
    return curves


def metered(array: Array, voltage: float) -> list[tuple[float, list[float]]]:
    """Amps of each string and of each of its bypass diodes with a meter in series, at volts at the terminals. [A]"""
    netlist, meters = Netlist(), []
    for string in array.strings:
        add_metered_string(netlist, string, meters)
    end = "end" if array.r_cable else "junction"
    if array.r_cable:
        netlist.add("r", "junction", "end", repr(float(array.r_cable)))
    netlist.lines.append(f"vload {end} 0 0")
    first = voltage_bound(array)
    step = (first - voltage) / FINE_POINTS
    steps = [f"dc vload {first!r} {voltage - 0.01 * step!r} {-step!r}"]
    with tempfile.TemporaryDirectory() as folder:
        control = [*steps, f"wrdata amps.txt {' '.join(f'i({meter})' for meter in meters)}"]
        Path(folder, "array.cir").write_text(netlist.text(control))
        said = _call_ngspice(folder)
        if not Path(folder, "amps.txt").exists():
            raise RuntimeError(f"ngspice gave no answer; its last lines:\n{_tail(said)}")
        last = np.loadtxt(Path(folder, "amps.txt"))[-1]
    if not math.isclose(last[0], voltage, abs_tol=1e-6 * first):
        raise RuntimeError(f"ngspice stopped at {last[0]} V:\n{_tail(said)}")
    amps = iter(last[1::2])
    return [(float(next(amps)), [float(next(amps)) for _ in string.substrings]) for string in array.strings]


def add_metered_string(netlist: Netlist, string: String, meters: list[str]) -> None:
    """As `add_string`, with a source of no volts in series with the string and with each bypass diode."""
    top = netlist.node()
    meters.append(f"vm{len(meters)}")
    netlist.lines.append(f"{meters[-1]} {top} junction 0")
    low = "0"
    for k, part in enumerate(string.substrings):
        high = top if k == len(string.substrings) - 1 and not string.blocking else netlist.node()
        add_substring(netlist, Substring(part.branches), high, low)
        anode = netlist.node()
        meters.append(f"vm{len(meters)}")
        netlist.lines.append(f"{meters[-1]} {low} {anode} 0")
        if part.diode:
            netlist.diode(anode, high, *part.diode)
        low = high
    if string.blocking:
        netlist.diode(low, top, *string.blocking)


def _call_ngspice(folder: str) -> str:
    """Run the input file of a folder; what ngspice said."""
    if not have_ngspice():
        raise RuntimeError("ngspice is not installed; on Debian and Ubuntu: apt-get install ngspice")
    command = ["ngspice", "-b", "array.cir"]
    try:
        run = subprocess.run(command, cwd=folder, capture_output=True, text=True, timeout=TIMEOUT_S)
    except subprocess.TimeoutExpired as late:
        said = late.stdout or b""
        raise RuntimeError(f"ngspice took over {TIMEOUT_S} s; its last lines:\n{_tail(said.decode())}") from late
    return run.stdout + run.stderr


def _tail(said: str) -> str:
    """The last lines of a report."""
    return "\n".join(said.strip().splitlines()[-15:])


def _read_raw(file: Path) -> tuple[np.ndarray, np.ndarray]:
    """Voltage, rising, and current out of the array, from a binary raw file of two columns."""
    _, body = file.read_bytes().split(b"Binary:\n", 1)
    v, i = np.frombuffer(body).reshape(-1, 2).T
    return v[::-1].copy(), i[::-1].copy()


def voltage_bound(array: Array) -> float:
    """A voltage no lower than open circuit: every cell at its own, without leaks. [V]"""

    def open_cell(cell: Cell) -> float:
        return cell.a * math.log1p(cell.i_light / cell.i_0)

    def open_substring(substring: Substring) -> float:
        return max(sum(map(open_cell, branch)) for branch in substring.branches)

    return max(sum(map(open_substring, string.substrings)) for string in array.strings)


def sweep(array: Array, steps: int = COARSE_POINTS) -> tuple[np.ndarray, np.ndarray]:
    """Voltage and current from short circuit to open circuit or a little beyond."""
    return run_sweeps(array, [(0.0, voltage_bound(array), steps)])[0]


def peaks_of_sweep(array: Array, v: np.ndarray, i: np.ndarray) -> tuple[Peak, ...]:
    """Local maxima of power in a coarse sweep, each swept again finely and topped by a parabola."""
    at = local_maxima(v * i, valley=1e-6)
    windows = [(float(v[k - 1]), float(v[k + 1]), FINE_POINTS) for k in at]
    return tuple(_top(*curve) for curve in run_sweeps(array, windows))


def _top(v: np.ndarray, i: np.ndarray) -> Peak:
    """Vertex of the parabola through the largest sample of power and its neighbours."""
    p = v * i
    k = int(np.clip(np.argmax(p), 1, v.size - 2))
    left, mid, right = p[k - 1 : k + 2]
    bend = left - 2 * mid + right
    shift = 0.5 * (left - right) / bend if bend < 0 else 0.0
    v_top = float(v[k] + shift * (v[k + 1] - v[k]))
    p_top = float(mid - 0.25 * (left - right) * shift)
    return Peak(v_top, p_top / v_top, p_top)
