"""A slow and very accurate solver for small arrays described cell by cell; for tests only.

It knows nothing of the package: its own description types, its own cell equation, its own solver. Every
point it returns is solved to rounding error: tables serve only to bracket a root, never as an answer. It leaves
out time, temperature inside a panel and anything that is not a static circuit.

A cell obeys I = IL - I0 (exp(Vd/a) - 1) - Vd/Rsh - share (Vd/Rsh) (1 - Vd/Vbr)^(-m) with Vd = V + I Rs
(Bishop, Solar Cells 25 (1988) 73-89; without the last term the usual single-diode equation).
"""

from __future__ import annotations

import math
from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

CELL_NOISE = 1e-15
# Rounding error of the current of a cell. [A]
I_NOISE = 1e-14
# Rounding error of a sum of currents. [A]
V_NOISE = 1e-12
# Rounding error of a sum of some hundred cell voltages. [V]
STRICT_STEPS, LATE_SLACK, MOST_STEPS = 8, 1000, 200
# After so many steps the rounding of the layers below may show: the residual allowed grows to 1e-11 A or 1e-9 V.
NODE_STRIDE = 5
# One in so many nodes of the cell's table is a node of the tables above it.
SCAN_POINTS = 1000
# Voltages looked at in search of peaks of strings in parallel; a peak is at least ten times as wide.
SECTIONS = 25
# Points across the bracket of a peak in each round of narrowing.
ROUNDS = 7
# Rounds of narrowing, each by a factor of 12: 3e-8 of the first bracket.
VALLEY = 1e-9
# Two maxima parted by a valley shallower than this share of their power are one.


@dataclass(frozen=True)
class Cell:
    """One cell; ``a`` is n kT/q [V], ``avalanche`` is (share, breakdown voltage below 0 [V], exponent)."""

    i_light: float
    i_0: float
    a: float
    r_series: float
    r_shunt: float
    avalanche: tuple[float, float, float] | None = None


@dataclass(frozen=True)
class Substring:
    """One branch of cells, or two in parallel, under a bypass diode (i_0 [A], a [V]) or under none."""

    branches: tuple[tuple[Cell, ...], ...]
    diode: tuple[float, float] | None = None


@dataclass(frozen=True)
class String:
    """Substrings in series, with a blocking diode (i_0 [A], a [V]) or without."""

    substrings: tuple[Substring, ...]
    blocking: tuple[float, float] | None = None


@dataclass(frozen=True)
class Array:
    """Strings in parallel and the resistance of the cable that leads away from them. [ohm]"""

    strings: tuple[String, ...]
    r_cable: float = 0.0


class Peak(NamedTuple):
    """A local maximum of power, at the far end of the cable."""

    v: float
    i: float
    p: float


@dataclass(frozen=True)
class Solution:
    """All local maxima by rising voltage, the highest of them, and the two ends of the curve."""

    peaks: tuple[Peak, ...]
    best: Peak
    v_oc: float
    i_sc: float


# Roots of falling functions

Falling = Callable[[np.ndarray], tuple[np.ndarray, np.ndarray]]


class Table:
    """Exact points of falling functions, shape (row, node) with x rising, used to bracket their inverse."""

    def __init__(self, x: np.ndarray, y: np.ndarray, slope: np.ndarray):
        self.x = np.atleast_2d(x)
        self.y = np.minimum.accumulate(np.atleast_2d(y), axis=1)
        self.steepness = 1 / np.atleast_2d(slope)
        self.rows = np.arange(self.x.shape[0])[:, None]
        self.minus_y = -self.y

    def bracket(self, target: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """Left end, right end and a first guess (cubic Hermite) between them, shape (row, point)."""
        if (target > self.y[:, 0].min()).any() or (target < self.y[:, -1].max()).any():
            raise ArithmeticError(f"{target.min()} to {target.max()} lies outside a table")
        found = [np.searchsorted(row, -target) for row in self.minus_y]
        right = np.minimum(np.maximum(np.stack(found), 1), self.x.shape[1] - 1)
        left = right - 1
        low, high = self.x[self.rows, left], self.x[self.rows, right]
        above, fall = self.y[self.rows, left], self.y[self.rows, left] - self.y[self.rows, right]
        t = (above - target) / (fall + (fall == 0))
        bend_low = -fall * self.steepness[self.rows, left]
        bend_high = -fall * self.steepness[self.rows, right]
        cubic = (1 - t) * (bend_low - (high - low)) - t * (bend_high - (high - low))
        guess = low + (high - low) * t + t * (1 - t) * cubic
        return low, high, np.minimum(np.maximum(guess, low), high)

    def bracket_one(self, target: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
        """The same for a table of one row, shape (point,)."""
        low, high, guess = self.bracket(target)
        return low[0], high[0], guess[0]


def solve_falling(
    function: Falling, target: np.ndarray, low: np.ndarray, high: np.ndarray, guess: np.ndarray, noise: float
) -> tuple[np.ndarray, np.ndarray]:
    """Where a falling function (value and slope) meets its targets (point,), and its slope there.

    Newton's method, kept in a bracket by halving. The unknown may have axes before the point. Points that have
    settled drop out of the following steps.
    """
    result, slopes = guess.copy(), np.empty_like(guess)
    active, x = np.arange(target.size), guess
    for step in range(MOST_STEPS):
        value, slope = function(x)
        error = value - target
        slack = noise if step < STRICT_STEPS else LATE_SLACK * noise
        exact = np.abs(error) <= slack + 1e-15 * np.abs(target)
        low, high = np.where(error > 0, x, low), np.where(error < 0, x, high)
        better = x - error / slope
        better = np.where((better >= low) & (better <= high), better, 0.5 * (low + high))
        better = np.where(exact, x, better)
        result[..., active], slopes[..., active] = better, slope
        settled = exact | (np.abs(better - x) <= 1e-14 * np.abs(x))
        busy = ~settled.reshape(-1, active.size).all(axis=0)
        if not busy.any():
            return result, slopes
        if not busy.all():
            active, target = active[busy], target[busy]
            better, low, high = better[..., busy], low[..., busy], high[..., busy]
        x = better
    raise ArithmeticError(f"no root after {MOST_STEPS} steps, residual up to {np.max(np.abs(error))}")


def diode_current(v: np.ndarray, i_0: float, a: float) -> tuple[np.ndarray, np.ndarray]:
    """Current through a diode at forward voltage ``v``, and its slope."""
    rise = np.exp(np.minimum(v / a, 200.0))
    return i_0 * (rise - 1), i_0 * rise / a


# From the cell to the array


class Chain:
    """Cells in series, equal ones counted together."""

    def __init__(self, cells: Sequence[Cell], i_limit: float):
        counts = Counter(cells)
        self.count = np.array(list(counts.values()), float)[:, None]
        columns = [(c.i_light, c.i_0, c.a, c.r_series, c.r_shunt, *_avalanche(c)) for c in counts]
        self.parameters = np.array(columns, float).T[:, :, None]
        v_diode = self._diode_nodes(i_limit)
        self.cell_table = Table(v_diode, *self.cell_current(v_diode))
        current = self.cell_table.y[:, ::NODE_STRIDE]
        inside = current[np.abs(current) < i_limit]
        nodes = np.unique(np.concatenate([inside, [-i_limit, 0.0, i_limit]]))
        self.table = Table(nodes, *self.voltage(nodes))
        self.nodes, self.v_low, self.v_high = nodes, self.table.y[0, -1], self.table.y[0, 0]

    def _diode_nodes(self, i_limit: float) -> np.ndarray:
        """Diode voltages, dense where any part of the cell equation bends, shape (level, node)."""
        i_light, i_0, a, _, r_shunt, _, v_breakdown, _ = self.parameters
        highest = a * np.log1p((i_limit + i_light) / i_0)
        forward = highest - a * np.arange(0.0, 40.0, 0.1)
        lowest = np.maximum(-i_limit * r_shunt, v_breakdown * (1 - 1e-9))
        ohmic = lowest * np.geomspace(1e-5, 1.0, 75)
        knee = np.where(np.isfinite(v_breakdown), v_breakdown, lowest) * (1 - np.geomspace(1e-9, 1.0, 350))
        return np.sort(np.concatenate([forward, ohmic, np.maximum(knee, lowest)], axis=1), axis=1)

    def cell_current(self, v_diode: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Current of one cell of each level at its diode voltage, and the slope."""
        i_light, i_0, a, _, r_shunt, share, v_breakdown, exponent = self.parameters
        rise = np.exp(v_diode / a)
        room = 1 - v_diode / v_breakdown
        surge = share * room**-exponent
        current = i_light - i_0 * (rise - 1) - v_diode / r_shunt * (1 + surge)
        extra = v_diode * exponent * surge / (room * v_breakdown)
        return current, -i_0 * rise / a - (1 + surge + extra) / r_shunt

    def voltage(self, current: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Voltage of the chain at a current, and the slope."""
        r_series = self.parameters[3]
        v_diode, slope = solve_falling(self.cell_current, current, *self.cell_table.bracket(current), CELL_NOISE)
        each = v_diode - current * r_series
        return np.sum(self.count * each, axis=0), np.sum(self.count * (1 / slope - r_series), axis=0)

    def current(self, voltage: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Current of the chain at a voltage, and the slope."""
        current, slope = solve_falling(self.voltage, voltage, *self.table.bracket_one(voltage), V_NOISE)
        return current, 1 / slope


def _avalanche(cell: Cell) -> tuple[float, float, float]:
    """Avalanche numbers that switch the term off where a cell has none."""
    return cell.avalanche or (0.0, -np.inf, 1.0)


class Bypassed:
    """One chain and its bypass diode, led by the current of the chain."""

    def __init__(self, chain: Chain, diode: tuple[float, float] | None, i_limit: float):
        self.chain, self.diode = chain, diode
        nodes = chain.nodes
        if diode:
            rush = np.geomspace(1e-3 * diode[0], 2 * i_limit, 60)
            v_nodes = -diode[1] * np.log1p(rush / diode[0])
            v_nodes = v_nodes[v_nodes > chain.v_low]
            nodes = np.unique(np.concatenate([nodes, chain.current(v_nodes)[0]]))
            nodes = nodes[chain.voltage(nodes)[0] > -diode[1] * np.log1p(3 * i_limit / diode[0])]
        back = -nodes[::-1]
        self.lead = Table(back, *self._falling(back))
        self.nodes = self.lead.y[0]

    def outflow(self, i_chain: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Current out of the substring when its chain carries ``i_chain``, and the slope."""
        if not self.diode:
            return i_chain, np.ones_like(i_chain)
        voltage, slope = self.chain.voltage(i_chain)
        through, rise = diode_current(-voltage, *self.diode)
        return i_chain + through, 1 - rise * slope

    def voltage(self, current: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Voltage of the substring at a current, and the slope."""
        if not self.diode:
            return self.chain.voltage(current)
        i_back, slope = solve_falling(self._falling, current, *self.lead.bracket_one(current), I_NOISE)
        voltage, slope_chain = self.chain.voltage(-i_back)
        return voltage, -slope_chain / slope

    def _falling(self, i_back: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Outflow against the current driven backwards through the chain, which makes it fall."""
        outflow, slope = self.outflow(-i_back)
        return outflow, -slope


class Paralleled:
    """Chains in parallel and their bypass diode, led by the voltage they share."""

    def __init__(self, chains: Sequence[Chain], diode: tuple[float, float] | None, i_limit: float):
        self.chains, self.diode = chains, diode
        lowest, highest = max(chain.v_low for chain in chains), min(chain.v_high for chain in chains)
        parts = [chain.table.y[0] for chain in chains] + [np.array([lowest, highest])]
        if diode:
            drop = diode[1] * np.log1p(np.geomspace(1e-3, 2 * i_limit / diode[0], 60))
            lowest = max(lowest, -drop[-1])
            parts.append(-drop)
        nodes = np.unique(np.concatenate(parts))
        nodes = nodes[(nodes >= lowest) & (nodes <= highest)]
        self.table = Table(nodes, *self.current(nodes))
        self.nodes = self.table.y[0]

    def current(self, voltage: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Current out of the substring at a voltage, and the slope."""
        parts = [chain.current(voltage) for chain in self.chains]
        if self.diode:
            through, rise = diode_current(-voltage, *self.diode)
            parts.append((through, -rise))
        return sum(part[0] for part in parts), sum(part[1] for part in parts)

    def voltage(self, current: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Voltage of the substring at a current, and the slope."""
        voltage, slope = solve_falling(self.current, current, *self.table.bracket_one(current), I_NOISE)
        return voltage, 1 / slope


def substring_curve(substring: Substring, i_limit: float) -> Bypassed | Paralleled:
    """The solver that fits one branch or several."""
    chains = [Chain(branch, 3 * i_limit) for branch in substring.branches]
    if len(chains) == 1:
        return Bypassed(chains[0], substring.diode, i_limit)
    return Paralleled(chains, substring.diode, i_limit)


class StringCurve:
    """Substrings in series and their blocking diode; equal substrings counted together."""

    def __init__(self, string: String, i_limit: float):
        counts = Counter(string.substrings)
        self.count = list(counts.values())
        self.parts = [substring_curve(substring, i_limit) for substring in counts]
        self.blocking = string.blocking
        nodes = np.concatenate([part.nodes for part in self.parts] + [[-i_limit, 0.0, i_limit]])
        if self.blocking:
            i_0 = self.blocking[0]
            nodes = np.concatenate([nodes, i_0 * np.expm1(np.linspace(-25, np.log(i_limit / i_0), 80))])
            nodes = nodes[nodes > i_0 * np.expm1(-25.5)]
        nodes = _thinned(nodes[np.abs(nodes) <= i_limit], i_limit)
        self.table = Table(nodes, *self.voltage(nodes))
        self.nodes, self.v_nodes = nodes, self.table.y[0]

    def voltage(self, current: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Voltage of the string at a current, and the slope."""
        parts = [part.voltage(current) for part in self.parts]
        voltage = sum(n * part[0] for n, part in zip(self.count, parts, strict=True))
        slope = sum(n * part[1] for n, part in zip(self.count, parts, strict=True))
        if self.blocking:
            i_0, a = self.blocking
            voltage, slope = voltage - a * np.log1p(current / i_0), slope - a / (current + i_0)
        return voltage, slope

    def current(self, voltage: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Current of the string at a voltage, and the slope; a blocked string leaks its diode's ``i_0``."""
        blocked = (voltage > self.v_nodes[0]) if self.blocking else np.zeros(voltage.shape, bool)
        inside = np.where(blocked, self.v_nodes[0], voltage)
        current, slope = solve_falling(self.voltage, inside, *self.table.bracket_one(inside), V_NOISE)
        if self.blocking:
            current = np.where(blocked, -self.blocking[0], current)
        return current, np.where(blocked, 0.0, 1 / slope)


def _thinned(nodes: np.ndarray, i_limit: float) -> np.ndarray:
    """Sorted nodes without near twins."""
    nodes = np.unique(nodes)
    gap = np.diff(nodes, prepend=-np.inf)
    return nodes[gap > np.minimum(1e-6 * i_limit, 1e-3 * np.abs(nodes))]


class ArrayCurve:
    """The whole array as a path: one rising parameter leads from short circuit to open circuit.

    The parameter is the voltage at the junction of several strings; of a single string, minus its current.
    """

    def __init__(self, array: Array):
        self.r_cable = array.r_cable
        i_limit = 1.2 * sum(_largest_current(string) for string in array.strings)
        counts = Counter(array.strings)
        self.count = list(counts.values())
        self.strings = [StringCurve(string, i_limit) for string in counts]
        self.single = sum(self.count) == 1

    def point(self, parameter: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
        """Voltage and current at the far end of the cable."""
        if self.single:
            junction, current = self.strings[0].voltage(-parameter)[0], -parameter
        else:
            parts = [string.current(parameter)[0] for string in self.strings]
            current = sum(n * part for n, part in zip(self.count, parts, strict=True))
            junction = parameter
        return junction - self.r_cable * current, current

    def scan(self) -> np.ndarray:
        """Parameters dense enough to show every peak, from short circuit or before to open circuit or after."""
        if self.single:
            string = self.strings[0]
            v = string.v_nodes - self.r_cable * string.nodes
            first, last = np.searchsorted(string.nodes, 0.0) - 1, np.searchsorted(-v, 0.0)
            return -string.nodes[max(first, 0) : last + 1][::-1]
        open_ends = [string.voltage(np.zeros(1))[0][0] for string in self.strings]
        can_carry = [string.v_nodes[0] for string in self.strings if not string.blocking]
        return np.linspace(0.0, min([1.02 * max(open_ends), *can_carry]), SCAN_POINTS)


def _largest_current(string: String) -> float:
    """A bound on what a string can deliver. [A]"""
    branches = [[max(cell.i_light for cell in branch) for branch in s.branches] for s in string.substrings]
    return max(sum(currents) for currents in branches)


# Peaks and ends


def solve(array: Array) -> Solution:
    """All local maxima of power and both ends of the curve, solved to rounding error; some cell must be lit."""
    curve = ArrayCurve(array)
    x = curve.scan()
    v, i = curve.point(x)
    at = [*local_maxima(v * i), _passing(v), _passing(-i)]
    at = np.clip(at, 1, x.size - 2)
    v, i = _narrow(curve, x[at - 1], x[at + 1])
    peaks = tuple(Peak(float(a), float(b), float(a * b)) for a, b in zip(v[:-2], i[:-2], strict=True))
    return Solution(peaks, max(peaks, key=lambda peak: peak.p), float(v[-1]), float(i[-2]))


def local_maxima(p: np.ndarray, valley: float = VALLEY) -> list[int]:
    """Where samples of power have a maximum above zero; two parted by less than a valley are one."""
    found: list[int] = []
    inner = (p[1:-1] >= p[:-2]) & (p[1:-1] > p[2:]) & (p[1:-1] > 0)
    for k in np.flatnonzero(inner) + 1:
        if found and p[found[-1] : k].min() > (1 - valley) * min(p[found[-1]], p[k]):
            found[-1] = max(found[-1], int(k), key=lambda j: p[j])
        else:
            found.append(int(k))
    return found


def _passing(rising: np.ndarray) -> int:
    """Index at which rising samples come nearest to zero."""
    return int(np.argmin(np.abs(rising)))


def _narrow(curve: ArrayCurve, low: np.ndarray, high: np.ndarray) -> tuple[np.ndarray, np.ndarray]:
    """Voltage and current at the peaks, at short circuit and at open circuit, one in each bracket."""
    row = np.arange(low.size)
    for _ in range(ROUNDS):
        x = np.linspace(low, high, SECTIONS, axis=1)
        v, i = (part.reshape(x.shape) for part in curve.point(x.ravel()))
        top = np.argmax(v * i, axis=1)
        top[-2:] = _passing(v[-2]), _passing(i[-1])
        low, high = x[row, np.maximum(top - 1, 0)], x[row, np.minimum(top + 1, SECTIONS - 1)]
    return v[row, top], i[row, top]


# Arrays to try an engine on

VOLTS_PER_KELVIN = 1.380649e-23 / 1.602176634e-19
# Boltzmann constant over elementary charge; both exact in the SI since 2019. [V/K]
KELVIN_STC = 298.15
# 25 °C. [K]
BYPASS = (1e-9, VOLTS_PER_KELVIN * KELVIN_STC)
# Bypass and blocking diode of case PS1 of reference/partial_shading.json: 1e-9 A, ideality 1, 25 °C.
AVALANCHE = (0.002, -15.0, 3.0)
# Set RB2 of reference/reverse_bias.json: a low breakdown voltage, so that the term shows.
KINDS = (
    "uniform",
    "two_level",
    "many_levels",
    "half_cut",
    "avalanche",
    "unlike_strings",
    "leaky",
    "blocking",
    "no_bypass",
)

PANELS = {
    36: (2, Cell(3.4, 6e-10, 1 / 38.9, 0.005, 6.6)),
    60: (3, Cell(9.45232, 3.2246e-10, 1.59128 / 60, 0.297814 / 60, 125.798 / 60)),
    72: (3, Cell(9.09062, 8.057439e-11, 1.765378 / 72, 0.377001 / 72, 322.341187 / 72)),
}
# Cells of a panel: substrings and one cell in full sun at 25 °C, from the cases PS7 and PS1 of
# reference/partial_shading.json and DS3 of reference/desoto.json.


def cell_in_light(cell: Cell, light: float, temp_cell: float = 25.0) -> Cell:
    """A cell given for 1000 W/m² and 25 °C, moved to other light [W/m²] and temperature [°C].

    Notes
    -----
    De Soto, Klein, Beckman, Solar Energy 80 (2006) 78-88, eq. 8-13, without the small change of the photocurrent
    with temperature. Below 0.1 W/m² the shunt resistance stays put, lest it become infinite.
    """
    kelvin = temp_cell + 273.15
    warmth = kelvin / KELVIN_STC
    gap_stc = 1.121 / VOLTS_PER_KELVIN
    gap = gap_stc * (1 - 0.0002677 * (kelvin - KELVIN_STC))
    return replace(
        cell,
        i_light=cell.i_light * light / 1000,
        i_0=cell.i_0 * warmth**3 * math.exp(gap_stc / KELVIN_STC - gap / kelvin),
        a=cell.a * warmth,
        r_shunt=cell.r_shunt * 1000 / max(light, 0.1),
    )


def half_cell(cell: Cell) -> Cell:
    """Half a cell: half the area, so half the currents and twice the resistances."""
    return replace(
        cell,
        i_light=cell.i_light / 2,
        i_0=cell.i_0 / 2,
        r_series=cell.r_series * 2,
        r_shunt=cell.r_shunt * 2,
    )


def passing_shade(shares: Sequence[float], sun: float = 900.0) -> list[Array]:
    """A 60-cell module in such light [W/m²] while its last substring has these shares of it, one after the other."""
    cell = PANELS[60][1]
    lit = Substring(((cell_in_light(cell, sun),) * 20,), BYPASS)
    shaded = [Substring(((cell_in_light(cell, sun * share),) * 20,), BYPASS) for share in shares]
    return [Array((String((lit, lit, last)),)) for last in shaded]


def _lights(rng: np.random.Generator, kind: str, n: int) -> list[float]:
    """Light on each cell of a branch. [W/m²]"""
    full = 1000.0
    if kind == "uniform":
        return [full] * n
    if kind in ("many_levels", "leaky"):
        levels = full * rng.uniform(0.12, 1.0, rng.integers(2, 15))
        return [float(level) for level in rng.choice(levels, n)]
    shaded = int(rng.choice([0, 1, 2, n // 2, n]))
    depth = float(rng.uniform(0.0, 0.9))
    return [full * depth] * shaded + [full] * (n - shaded)


def _branch(rng: np.random.Generator, kind: str, cell: Cell, n: int, sun: float, temp_cell: float) -> tuple[Cell, ...]:
    """Cells of one branch under a light pattern of its kind."""
    cells = [cell_in_light(cell, sun * light, temp_cell) for light in _lights(rng, kind, n)]
    if kind == "leaky":
        return tuple(replace(c, r_shunt=c.r_shunt * float(rng.choice([0.05, 0.3, 1.0]))) for c in cells)
    return tuple(cells)


def _panel(rng: np.random.Generator, kind: str, cells: int, sun: float, temp_cell: float) -> tuple[Substring, ...]:
    """Substrings of one panel."""
    n_substrings, cell = PANELS[cells]
    bypassed = kind != "no_bypass" and (kind != "avalanche" or rng.random() < 0.5)
    if kind == "avalanche":
        cell = replace(cell, avalanche=AVALANCHE)
    n_branches = 2 if kind == "half_cut" else 1
    cell = half_cell(cell) if kind == "half_cut" else cell
    n = cells // n_substrings
    return tuple(
        Substring(
            tuple(_branch(rng, kind, cell, n, sun, temp_cell) for _ in range(n_branches)),
            BYPASS if bypassed else None,
        )
        for _ in range(n_substrings)
    )


def _string(rng: np.random.Generator, kind: str, cells: int, n_panels: int, blocking: bool) -> String:
    """Panels of one type in series, each with its own sun and warmth."""
    panels = []
    for _ in range(n_panels):
        sun, temp_cell = (1.0, 25.0) if kind == "uniform" else (rng.uniform(0.3, 1.1), rng.uniform(0.0, 70.0))
        panels += _panel(rng, kind, cells, float(sun), float(temp_cell))
    return String(tuple(panels), BYPASS if blocking else None)


def random_array(rng: np.random.Generator, kind: str) -> Array:
    """A van-sized array of one of the ``KINDS``: one to three strings of one to three panels, often a cable."""
    if kind not in KINDS:
        raise ValueError(f"kind is {kind!r}; choose one of {', '.join(KINDS)}")
    parallel = kind in ("unlike_strings", "blocking")
    n_strings = int(rng.integers(2, 4)) if parallel else int(rng.integers(1, 3))
    cells = int(rng.choice(list(PANELS)))
    n_panels = int(rng.integers(1, 4))
    strings = []
    for _ in range(n_strings):
        if kind == "unlike_strings":
            cells, n_panels = int(rng.choice(list(PANELS))), int(rng.integers(1, 3))
        pattern = kind if not parallel else str(rng.choice(["uniform", "two_level", "many_levels"]))
        strings.append(_string(rng, pattern, cells, n_panels, kind == "blocking"))
    return Array(tuple(strings), float(rng.choice([0.0, rng.uniform(0.0, 0.3)])))
