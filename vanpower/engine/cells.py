"""Light and temperature to the curve of a chain of cells, from deep reverse to back-feed.

Each cell follows the single-diode law, moved to other light and temperature after De Soto, with Bishop's avalanche
term in reverse. Equal cells of a chain are merged into levels. Left out: the spectrum and the second diode.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from types import ModuleType

import numpy as np

from vanpower.engine.compiled import kernels
from vanpower.engine.constants import BOLTZMANN_EV, E_GAP, E_GAP_SLOPE, KELVIN, LIGHT_REFERENCE, T_REFERENCE
from vanpower.engine.curves import BLOCK, MOST_FOLDS
from vanpower.engine.quadratics import Quadratic

Array = np.ndarray

LIGHT_FLOOR = 0.1
# [W/m²] the shunt of a dark cell is taken at this light, since the De Soto shunt grows without end; no source

FORWARD_POINTS, KNEE_POINTS = 12, 6
# points of a chain's table: from back-feed to the knee, and at the knee of a further level
FEW = 2
# cells of a level; more of them bend the curve so much that their knee gets twice the points
REVERSE_SHARES = np.linspace(0.0, 1.0, 7)[1:] ** 2
# where they lie below the knee: closer next to it
BREAKDOWN_SHARES = np.linspace(0.0, 1.0, 17)[1:]
# and all the way to breakdown, where no diode steps in or one only across a long chain
NEAR_BREAKDOWN = 0.15
# share of the breakdown volts left over, below which the avalanche carries the chain's amps
TAIL_SHARES = np.array([0.4, 0.65, 0.8, 0.9, 1.0])
# where they lie from 0 V to the end while the bypass diode takes over: denser where it carries most
REVERSE_STEPS, REVERSE_MET = 6, 1e-7
# Newton steps at most to the junction volts of a cell in reverse, as a share of the breakdown volts; a step below the
# second number is the last, since each squares what is left
LEAST_USED = 1e-12
# share of the breakdown volts that a cell in reverse has at least, so that its logarithm exists; 0.02 nV, no source
DEEPEST = -690.0
# below this omega is held, far under any current that counts, so that its logarithm exists
END_STEPS, V_END_MET = 60, 0.05
# Newton steps at most to the end of a chain's table, and how close to it the one before the last must come [V]
DEEPEST_END, START_END, BELOW_END = 0.999999, 0.97, 0.1
# shares of the breakdown volts: that end lies above the first and is sought from the second on; and volts under the
# lowest junction it can have by what the other levels hold at most [V]; only where a search begins, no source
DIMMEST = 1e-6
# [A] light current from which a dark cell's knee is placed; far under any that counts
SMALL = -18.0
# below this the soft-plus estimate of omega is e^z itself
FAR = 30.0
# from here on omega is found by its series
BEST_STEPS, BEST_MET = 12, 1e-6
# steps at most to the best point of equal cells (leaky ones of every kind take 6), and the share of the volts by which
# the last may move: the power is then right to its square
V_LEAKY, I_COUNTS = 10.0, 1e-3
# light current times shunt [V] below which a cell is leaky: the avalanche term then bends its curve by 1e-6 of its amps
# also forward; sound ones have 30 and more, and dark ones count as if they were lit by the second number [A]; no source
USUAL = 3.0
# exponent of the avalanche term that is worked out as a cube, and by compiled loops
JUNCTION_STEPS = 2
# Newton steps to the junction volts between two points of a chain's table
KNEE_FOLDS = 9.5
# how many e-folds of (light current - current) the points resolve; beyond that the curve is straight
KNEE_REACHED = 0.9
# share of the way from the weakest level's light current to a further level's at which its knee begins to count


@dataclass(frozen=True)
class Avalanche:
    """Bishop's avalanche term in reverse bias: share of the shunt current, breakdown volts, exponent. [-, V, -]

    Notes
    -----
    Bishop, Solar Cells 25 (1988) 73-89. Front-contact cells break down at -17 to -25 V; -18 V reproduced measured
    curves of a shaded 72-cell panel. Back-contact cells: about -5.5 V.

    Examples
    --------
    >>> Avalanche().factor(np.array([0.0, -17.0]))[0].round(1)  # the second one volt before it breaks down
    array([ 1. , 12.7])
    """

    share: float = 0.002
    v_breakdown: float = -18.0
    exponent: float = USUAL

    def factor(self, v: Array) -> tuple[Array, Array]:
        """Factor on the shunt conductance at junction volts v, and its derivative with respect to v. [-, 1/V]"""
        rest = np.maximum(1.0 - v / self.v_breakdown, 1e-9)
        extra = self.surge(rest)
        return 1.0 + extra, extra * (self.exponent / self.v_breakdown) / rest

    @cached_property
    def forward(self) -> float:
        """Factor on the shunt conductance in forward bias, where the term hardly changes."""
        return float(self.factor(np.array(0.5))[0])

    @property
    def told(self) -> tuple[float, float, float]:
        """Factor forward, share and breakdown volts, as the compiled loops take it; theirs is the usual exponent."""
        return self.forward, self.share, self.v_breakdown

    def surge(self, rest: Array) -> Array:
        """The avalanche's part of `factor`, where `rest` is the share of the breakdown volts that is left."""
        if self.exponent == USUAL:
            # four times as fast as by a general power
            return self.share / (rest * rest * rest)
        return self.share * rest ** (-self.exponent)


NO_AVALANCHE = Avalanche(share=0.0, v_breakdown=-1e9)
FRONT_CONTACT = Avalanche()


@dataclass(frozen=True)
class Cell:
    """Single-diode parameters of one cell at 1000 W/m² and 25 °C, and how they change with temperature.

    Parameters
    ----------
    i_light, i_0 : float
        Light and saturation current. [A]
    a : float
        Ideality times thermal voltage. [V]
    r_series, r_shunt : float
        Series resistance, and shunt that grows as the light falls. [ohm]
    alpha : float
        Temperature coefficient of the light current. [A/K]
    r_leak : float
        Shunt that does not change with the light, as of an old or damaged cell. [ohm]
    e_gap : float
        Band gap that sets how fast volts fall with temperature. [eV]

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> one.r_leak, one.e_gap
    (inf, 1.121)
    """

    i_light: float
    i_0: float
    a: float
    r_series: float
    r_shunt: float
    alpha: float = 0.0
    r_leak: float = np.inf
    e_gap: float = E_GAP


@dataclass(frozen=True, eq=False)
class CellChains:
    """Chains of cells in series, the cells of each chain grouped by equal light ("levels"), the weakest light first.

    Parameters
    ----------
    i_light, r_shunt : ndarray (row, level)
        Light current and shunt of one cell of the level. [A, ohm]
    count : ndarray (row, level)
        Number of cells in the level; 0 pads short rows.
    i_0, a, r_series : ndarray (row, 1)
        Of one cell. [A, V, ohm]

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.array([[200.0] + 17 * [1000.0]]), np.array([25.0]))  # one of 18 cells is shaded
    >>> chain.levels, chain.resistance
    (array([2]), array([[0.09]]))
    """

    i_light: Array
    r_shunt: Array
    count: Array
    i_0: Array
    a: Array
    r_series: Array

    def rows(self, index: Array | slice) -> CellChains:
        """The chosen rows."""
        own = (self.i_light, self.r_shunt, self.count, self.i_0, self.a, self.r_series)
        return CellChains(*(values[index] for values in own))

    @property
    def levels(self) -> Array:
        """Number of levels that each row really has, shape (row,)."""
        return np.count_nonzero(self.count, axis=1)

    @cached_property
    def resistance(self) -> Array:
        """Of all cells in series, shape (row, 1). [ohm]"""
        return self.count.sum(axis=1, keepdims=True) * self.r_series

    @property
    def told(self) -> tuple[Array, ...]:
        """The same as the compiled loops take it, with each chain's resistance in place of a cell's."""
        own = (self.i_light, self.r_shunt, self.count, self.i_0, self.a, self.resistance)
        return tuple(map(np.ascontiguousarray, own))

    def trimmed(self, levels: int) -> CellChains:
        """The chains without levels behind a number that no row exceeds."""
        return self._levels(slice(0, levels))

    def others(self) -> CellChains:
        """All levels but the weakest."""
        return self._levels(slice(1, None))

    def apart(self) -> CellChains:
        """Every level as a row of its own, all weakest ones first, shape (level x row, 1)."""
        levels = self.count.shape[1]
        own = (getattr(self, name).T.reshape(-1, 1) for name in ("i_light", "r_shunt", "count"))
        shared = (repeated(getattr(self, name), levels) for name in ("i_0", "a", "r_series"))
        return CellChains(*own, *shared)

    def level(self, number: int) -> CellChains:
        """One level alone, still of shape (row, 1)."""
        return self._levels(slice(number, number + 1))

    def _levels(self, some: slice) -> CellChains:
        """Some of the levels."""
        i_light, r_shunt, count = (levels[:, some] for levels in (self.i_light, self.r_shunt, self.count))
        return CellChains(i_light, r_shunt, count, self.i_0, self.a, self.r_series)


def chains(cell: Cell, light: Array, temp_cell: Array) -> CellChains:
    """Chains of equal cells in given light and temperature, after De Soto.

    Parameters
    ----------
    cell : Cell
    light : ndarray (row, cell)
        Irradiance on each cell. [W/m²]
    temp_cell : ndarray (row,)
        Cell temperature. [°C]

    Returns
    -------
    CellChains

    Notes
    -----
    De Soto, Klein, Beckman, Solar Energy 80 (2006) 78-88, eq. 8-13; the leak that does not change with the light is an
    addition.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.array([[200.0] + 17 * [1000.0]]), np.array([25.0]))  # one of 18 cells is shaded
    >>> chain.i_light, chain.count  # weakest level first
    (array([[1.2, 6. ]]), array([[ 1., 17.]]))
    """
    level, count = unique_levels(light)
    hot, cold = temp_cell[:, None] + KELVIN, T_REFERENCE
    gap = cell.e_gap * (1.0 + E_GAP_SLOPE * (hot - cold))
    i_0 = cell.i_0 * (hot / cold) ** 3 * np.exp(cell.e_gap / (BOLTZMANN_EV * cold) - gap / (BOLTZMANN_EV * hot))
    i_light = level / LIGHT_REFERENCE * (cell.i_light + cell.alpha * (hot - cold))
    conductance = np.maximum(level, LIGHT_FLOOR) / LIGHT_REFERENCE / cell.r_shunt + 1.0 / cell.r_leak
    r_series = np.full(hot.shape, cell.r_series)
    return CellChains(i_light, 1.0 / conductance, count, i_0, cell.a * hot / cold, r_series)


def stacked(parts: Sequence[CellChains]) -> CellChains:
    """Rows of several sets of chains one below the other; short rows are padded with levels of zero cells.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.array([[200.0] + 17 * [1000.0]]), np.array([25.0]))  # one of 18 cells is shaded
    >>> even = chains(one, np.full((1, 18), 500.0), np.array([25.0]))
    >>> stacked([chain, even]).count
    array([[ 1., 17.],
           [18.,  0.]])
    """
    most = max(part.count.shape[1] for part in parts)
    level = {name: [_widened(getattr(part, name), most) for part in parts] for name in ("i_light", "r_shunt")}
    level["count"] = [_widened(part.count, most, filled=0.0) for part in parts]
    row = {name: [getattr(part, name) for part in parts] for name in ("i_0", "a", "r_series")}
    return CellChains(**{name: np.concatenate(values) for name, values in (level | row).items()})


def repeated(rows: Array, times: int) -> Array:
    """The same rows so many times, one set below the other.

    Examples
    --------
    >>> repeated(np.array([[1], [2]]), 2).ravel()
    array([1, 2, 1, 2])
    """
    return np.concatenate([rows] * times)


def _widened(levels: Array, most: int, filled: float | None = None) -> Array:
    """Levels (row, level) made so many wide, the last one repeated or a number filled in."""
    if levels.shape[1] == most:
        return levels
    more = (len(levels), most - levels.shape[1])
    last = np.broadcast_to(levels[:, -1:], more) if filled is None else np.full(more, filled)
    return np.concatenate([levels, last], axis=1)


def unique_levels(light: Array) -> tuple[Array, Array]:
    """Distinct light levels of each row, weakest first, and how many cells have each; shape (row, level).

    Examples
    --------
    >>> unique_levels(np.array([[800.0, 200.0, 800.0]]))
    (array([[200., 800.]]), array([[1., 2.]]))
    """
    ordered = np.sort(light, axis=-1)
    rank = np.zeros(light.shape, int)
    np.cumsum(ordered[:, 1:] > ordered[:, :-1], axis=1, out=rank[:, 1:])
    most = int(rank.max()) + 1
    place = rank + np.arange(0, len(light) * most, most)[:, None]
    count = np.bincount(place.ravel(), minlength=len(light) * most).astype(float)
    level = np.repeat(ordered[:, -1:], most, axis=1)
    np.put(level, place, ordered)
    return level, count.reshape(level.shape)


def wright_omega(z: Array) -> Array:
    """Solution w of w + ln w = z, relative error below 3e-9 from `DEEPEST` on.

    Notes
    -----
    Far out, which is where cells are that their chain does not strain, w = z (1 - x) with x z = ln z + ln(1 - x): one
    logarithm, a series, and one Newton step from x = ln z / (z + 1). Elsewhere a start from the soft-plus estimate,
    then one step of the scheme of Fritsch, Shafer and Crowley (CACM 16, 1973).

    Examples
    --------
    >>> abs(float(wright_omega(np.array([1.0]))[0]) - 1) < 3e-9
    True
    """
    if compiled := kernels():
        return compiled.omega(z.ravel()).reshape(z.shape)
    close = z < FAR
    number = np.count_nonzero(close)
    if 2 * number > z.size:
        return _omega_close(z)
    w = _omega_far(z if number == 0 else np.maximum(z, FAR))
    if number:
        w[close] = _omega_close(z[close])
    return w


def _omega_far(z: Array) -> Array:
    """Wright omega from `FAR` on."""
    x = np.log(z)
    rest = z + 1.0
    x /= rest
    # -x - ln(1 - x), and the Newton step by it; its divisor z + 1/(1 - x) is z + 1 + x + twice that, but for x^3/3
    series = x * (1 / 6)
    for coefficient in (1 / 5, 1 / 4, 1 / 3):
        series += coefficient
        series *= x
    series += 0.5
    series *= x
    series *= x
    rest += x
    rest += series
    rest += series
    series /= rest
    x -= series
    np.subtract(1.0, x, out=x)
    x *= z
    return x


def _omega_close(z: Array) -> Array:
    """Wright omega below `FAR`."""
    z = np.maximum(z, DEEPEST)
    tail = np.exp(-np.abs(z))
    soft = np.maximum(z, 0.0) + np.where(z < SMALL, tail, np.log(1.0 + tail))
    w = soft * (1.0 - np.log(1.0 + soft) / (2.0 + soft))
    rest = z - w - np.log(w)
    one = 1.0 + w
    t = one * (one + rest * (2.0 / 3.0))
    return w * (1.0 + rest / one * (t - 0.5 * rest) / (t - rest))


def junction_voltage(cells: CellChains, current: Array, avalanche: Avalanche) -> tuple[Array, Array]:
    """Junction volts of one level at given amps (row, point), and their slope dV/dI, in closed form.

    Notes
    -----
    With x = (IL + I0 - I) Rsh and w = omega(x/a + ln(I0 Rsh/a)), V = x - a w.
    In forward direction the avalanche term only adds its share to the shunt, the one it has at 0.5 V; a leaky cell gets
    one Newton step more to its share at the volts found. In reverse it is solved for.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.array([[200.0] + 17 * [1000.0]]), np.array([25.0]))  # one of 18 cells is shaded
    >>> volts, slope = junction_voltage(chain.level(1), np.array([[5.0, 6.5]]), FRONT_CONTACT)
    >>> volts.round(3)  # lit cells at 5 A, and driven into reverse by 6.5 A
    array([[ 0.597, -4.974]])
    """
    if loops := loops_for(avalanche):
        own = _flat(current, cells.i_light, cells.r_shunt, cells.i_0, cells.a)
        return loops.junctions(*own, avalanche.told)
    r_shunt = cells.r_shunt / avalanche.forward
    offset = np.log(cells.i_0 * r_shunt / cells.a)
    v = (cells.i_light + cells.i_0) - current
    v *= r_shunt / cells.a
    v += offset
    w = wright_omega(v)
    v -= w
    v -= offset
    v *= cells.a
    w += 1.0
    slope = np.divide(-r_shunt, w, out=w)
    if avalanche.share > 0:
        if (leaky := np.maximum(cells.i_light, I_COUNTS) * cells.r_shunt < V_LEAKY).any():
            lit = np.where(leaky, np.maximum(v, 0.0), 0.0)
            v += lit / cells.r_shunt * (avalanche.factor(lit)[0] - avalanche.forward) * slope
        _reverse_biased(cells, current, avalanche, v, slope)
    return v, slope


def junction_current(cells: CellChains, v: Array, avalanche: Avalanche) -> tuple[Array, Array]:
    """Amps of a level at given junction volts (row, point), and dI/dV; explicit, avalanche included. [A, A/V]

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.array([[200.0] + 17 * [1000.0]]), np.array([25.0]))  # one of 18 cells is shaded
    >>> junction_current(chain.level(1), np.array([[0.0, 0.6]]), FRONT_CONTACT)[0].round(3)
    array([[6.   , 4.887]])
    """
    factor, steeper = avalanche.factor(v)
    growth = np.exp(np.minimum(v / cells.a, MOST_FOLDS))
    ohmic = v / cells.r_shunt
    current = cells.i_light - cells.i_0 * (growth - 1.0) - ohmic * factor
    return current, -cells.i_0 * growth / cells.a - factor / cells.r_shunt - ohmic * steeper


def chain_voltage(cells: CellChains, u: Array, avalanche: Avalanche) -> tuple[Array, Array, Array]:
    """Amps, volts and dV/dI of whole chains where the weakest level's junction has u volts (row, point).

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.array([[200.0] + 17 * [1000.0]]), np.array([25.0]))  # one of 18 cells is shaded
    >>> amps, volts, slope = chain_voltage(chain, np.array([[0.55, -8.0]]), FRONT_CONTACT)
    >>> amps.round(2), volts.round(2)  # the shaded cell at 0.55 V and at -8 V
    (array([[1.04, 1.36]]), array([[11.34,  2.73]]))
    """
    if loops := loops_for(avalanche):
        current, voltage, slope, _, _ = loops.expanded(cells.told, np.ascontiguousarray(u), avalanche.told)
        return current, voltage, slope
    weakest = cells.level(0)
    current, di_du = junction_current(weakest, u, avalanche)
    voltage, slope = weakest.count * u, weakest.count / di_du
    for v, dv_di in _further(cells, current, avalanche):
        voltage += v
        slope += dv_di
    voltage -= current * cells.resistance
    slope -= cells.resistance
    return current, voltage, slope


def loops_for(avalanche: Avalanche) -> ModuleType | None:
    """The compiled loops where they are loaded; they know the usual exponent alone."""
    return kernels() if avalanche.exponent == USUAL else None


def _flat(*arrays: Array) -> Iterator[Array]:
    """Arrays laid out as the compiled loops want them."""
    return map(np.ascontiguousarray, arrays)


def _further(cells: CellChains, current: Array, avalanche: Avalanche) -> Iterator[tuple[Array, ...]]:
    """Volts and slopes of all levels but the weakest: their sum at once where there are few numbers, else each."""
    further = cells.count.shape[1] - 1
    if further > 1 and (further * current.size <= BLOCK):
        yield _at_once(cells, current, avalanche, bent=False)[:2]
    else:
        for level in map(cells.level, range(1, further + 1)):
            v, dv_di = junction_voltage(level, current, avalanche)
            v *= level.count
            dv_di *= level.count
            yield v, dv_di


def chain_quadratic(cells: CellChains, u: Array, avalanche: Avalanche) -> tuple[Quadratic, Array]:
    """Second-order expansion of each chain where its weakest level's junction has u volts (row,), and dV/du.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.array([[200.0] + 17 * [1000.0]]), np.array([25.0]))  # one of 18 cells is shaded
    >>> touch, rate = chain_quadratic(chain, np.array([0.55]), FRONT_CONTACT)
    >>> touch.current.round(2), touch.voltage.round(2)  # as `chain_voltage` has them
    (array([1.04]), array([11.34]))
    """
    u = u[:, None]
    if loops := loops_for(avalanche):
        *touch, rate = loops.expanded(cells.told, u, avalanche.told)[:, :, 0]
        return Quadratic(*touch), rate
    weakest = cells.level(0)
    current, di_du = junction_current(weakest, u, avalanche)
    slope = 1.0 / di_du
    bend = -_curvature(weakest, u, avalanche) * (slope * slope * slope)
    voltage, slope, bend = weakest.count * u, weakest.count * slope, weakest.count * bend
    if cells.count.shape[1] > 1:
        further = _at_once(cells, current, avalanche, bent=True)
        voltage, slope, bend = (whole + part for whole, part in zip((voltage, slope, bend), further, strict=True))
    slope = slope - cells.resistance
    touch = Quadratic(*(a[:, 0] for a in (current, voltage - current * cells.resistance, slope, bend)))
    return touch, (slope * di_du)[:, 0]


def _at_once(cells: CellChains, current: Array, avalanche: Avalanche, *, bent: bool) -> tuple[Array, ...]:
    """Volts, slope and, where wanted, bend of all levels but the weakest, added up."""
    others, number = cells.others().apart(), cells.count.shape[1] - 1
    v, dv_di = junction_voltage(others, repeated(current, number), avalanche)
    parts = [v, dv_di]
    if bent:
        # with slope = -Rsh/(1+w), the bend -Rsh²/a w/(1+w)³ in terms of the slope alone
        parts.append(-(dv_di * dv_di) / others.a * np.maximum(1.0 + dv_di * avalanche.forward / others.r_shunt, 0.0))
    return tuple(np.sum((others.count * part).reshape(number, *current.shape), axis=0) for part in parts)


def _curvature(cells: CellChains, v: Array, avalanche: Avalanche) -> Array:
    """d²I/dV² of one level at given junction volts."""
    steeper = avalanche.factor(v)[1]
    rest = np.maximum(1.0 - v / avalanche.v_breakdown, 1e-9)
    # the second derivative of the factor, by the law of powers from its first
    more = steeper * (avalanche.exponent + 1.0) / (avalanche.v_breakdown * rest)
    growth = np.exp(np.minimum(v / cells.a, MOST_FOLDS))
    return -cells.i_0 * growth / cells.a**2 - (2.0 * steeper + v * more) / cells.r_shunt


def max_power(cells: CellChains, avalanche: Avalanche = FRONT_CONTACT) -> Array:
    """Maximum power of chains whose cells all have the same light (row,), without any table. [W]

    Notes
    -----
    Without resistance and shunt the best junction volts u of a cell solve (1 + u/a) exp(u/a) = 1 + IL/I0, which Wright
    omega gives, and with a shunt alone they are IL Rsh/2. From the lower of the two each step goes to the maximum of
    the second-order expansion.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.full((1, 36), 1000.0), np.array([25.0]))
    >>> max_power(chain).round(2)
    array([109.54])
    """
    folds = np.log1p(cells.i_light / cells.i_0)
    u = np.minimum(cells.a * (wright_omega(1.0 + folds) - 1.0), 0.5 * cells.i_light * cells.r_shunt)[:, 0]
    u_open = (cells.a * folds)[:, 0]
    for _ in range(BEST_STEPS):
        here, rate = chain_quadratic(cells, u, avalanche)
        moved = here.at_current(here.hilltop()).voltage - here.voltage
        if (np.abs(moved) <= BEST_MET * here.voltage).all():
            break
        u = np.minimum(np.maximum(u + moved / rate, 0.0), u_open)
    return here.current * here.voltage


def chain_points(cells: CellChains, i_top: float, v_end: float | None, avalanche: Avalanche = FRONT_CONTACT) -> Array:
    """Junction volts of the weakest level at which a chain is tabulated, falling, shape (row, point). [V]

    Parameters
    ----------
    i_top : float
        The table begins at this reverse current. [A]
    v_end : float, optional
        The table ends at this voltage, or at i_top amps where it is None. [V]

    Notes
    -----
    The weakest level's junction voltage is the parameter of the curve: everything is explicit in it, and it moves
    evenly across the knee. Points are spaced by e-folds of what is left of the light current, also at the knees of
    the further levels that the chain's current reaches.

    Examples
    --------
    >>> one = Cell(i_light=6.0, i_0=1e-10, a=0.026, r_series=0.005, r_shunt=10.0)
    >>> chain = chains(one, np.array([[200.0] + 17 * [1000.0]]), np.array([25.0]))  # one of 18 cells is shaded
    >>> points = chain_points(chain, 6.3, -0.5)
    >>> points.shape, float(chain_voltage(chain, points, FRONT_CONTACT)[1][0, -1].round(1))  # the last at the end
    ((1, 24), -0.5)
    """
    weakest = cells.level(0)
    u_top = weakest.a * np.log1p((weakest.i_light + i_top) / weakest.i_0)
    least = np.maximum(weakest.i_light, DIMMEST) * np.exp(-KNEE_FOLDS)
    u_low = weakest.a * np.log1p(least / weakest.i_0)
    forward = _line(u_top, u_low, _even(FORWARD_POINTS))
    if v_end is None:
        u_zero = u_end = junction_voltage(weakest, np.full_like(u_top, i_top), avalanche)[0]
        tail = _reverse(u_low, np.minimum(u_end, u_low), BREAKDOWN_SHARES, avalanche)
        # and where its cells turn round: from there a chain may fall by far more volts than it gave
        tail = np.append(tail, np.zeros_like(u_low), axis=1)
    else:
        u_end, u_zero = _end_of_chain(cells, v_end, u_low, avalanche)
        tail = _line(u_zero, u_end, TAIL_SHARES)
    breaks_down = v_end is not None and bool((1.0 - u_zero / avalanche.v_breakdown < NEAR_BREAKDOWN).any())
    shares = BREAKDOWN_SHARES if breaks_down else REVERSE_SHARES
    # open circuit, where the steps of the forward part are long in volts
    u_open = junction_voltage(weakest, np.zeros_like(u_top), avalanche)[0]
    between = [
        u_open,
        _reverse(u_low, np.minimum(u_zero, u_low), shares, avalanche),
        tail,
        *_knees(cells, u_end, avalanche),
    ]
    return np.sort(np.concatenate([forward, *between], axis=1), axis=1)[:, ::-1]


def _reverse_biased(cells: CellChains, current: Array, avalanche: Avalanche, v: Array, slope: Array) -> None:
    """Overwrite volts and slope where the cell is driven into reverse."""
    limit = cells.i_light + cells.i_0
    # amps rise along a row, so its last point tells
    reached = np.nonzero((current[:, -1:] > limit).any(axis=1))[0]
    if not reached.size:
        return
    if reached.size < len(v):
        some_v, some_slope = v[reached], slope[reached]
        _reverse_biased(cells.rows(reached), current[reached], avalanche, some_v, some_slope)
        v[reached], slope[reached] = some_v, some_slope
        return
    deep = current > limit
    r_shunt = np.broadcast_to(cells.r_shunt, deep.shape)[deep]
    scale = -avalanche.v_breakdown
    rest = _volts_left((current - limit)[deep] * r_shunt / scale, avalanche)
    surge = avalanche.surge(rest)
    conductance = (1.0 + surge + (1.0 - rest) * avalanche.exponent * surge / rest) / r_shunt
    v[deep], slope[deep] = -(1.0 - rest) * scale, -1.0 / conductance


def _volts_left(excess: Array, avalanche: Avalanche) -> Array:
    """What is left of the breakdown volts of a cell in reverse, as a share of them: Newton on the logarithm of amps.

    Parameters
    ----------
    excess : ndarray
        What it carries beyond its light, as a share of what its shunt alone would carry at breakdown.
    """
    target = np.log(excess)
    # start from the lesser of the ohmic and the avalanche estimate
    ohmic = 1.0 - np.minimum(excess, 1.0 - 1e-9)
    breaking = (avalanche.share / excess) ** (1.0 / avalanche.exponent)
    rest = np.minimum(np.where(breaking < 1.0, np.maximum(ohmic, breaking), ohmic), 1.0 - LEAST_USED)
    for _ in range(REVERSE_STEPS):
        surge, used = avalanche.surge(rest), 1.0 - rest
        factor = 1.0 + surge
        fall = 1.0 / used + avalanche.exponent * surge / (factor * rest)
        step = (np.log(used * factor) - target) / fall
        rest = np.minimum(np.maximum(rest + step, 0.3 * rest), 1.0 - LEAST_USED)
        if np.abs(step).max() < REVERSE_MET:
            break
    return rest


def _end_of_chain(cells: CellChains, v_end: float, u_start: Array, avalanche: Avalanche) -> tuple[Array, Array]:
    """Junction volts of the weakest level where the chain has v_end volts, and about where it has none (Newton)."""
    low = np.maximum(DEEPEST_END * avalanche.v_breakdown, _lowest_junction(cells, v_end, avalanche))
    high = np.maximum(u_start, low + V_END_MET)
    u = np.clip(low, START_END * avalanche.v_breakdown, high)
    if loops := loops_for(avalanche):
        du_dv = loops.ends_of_chains(cells.told, v_end, u, low, high, avalanche.told)
        return u, u - v_end * du_dv
    du_dv = np.zeros_like(u)
    rows = np.arange(len(u))
    for _ in range(END_STEPS):
        some = cells if rows.size == len(u) else cells.rows(rows)
        _, voltage, slope = chain_voltage(some, u[rows], avalanche)
        above = voltage > v_end
        high[rows], low[rows] = np.where(above, u[rows], high[rows]), np.where(above, low[rows], u[rows])
        du_dv[rows] = 1.0 / (slope * junction_current(some.level(0), u[rows], avalanche)[1])
        newton = u[rows] - (voltage - v_end) * du_dv[rows]
        inside = (newton > low[rows]) & (newton < high[rows])
        u[rows] = np.where(inside, newton, 0.5 * (low[rows] + high[rows]))
        rows = rows[(np.abs(voltage - v_end) > V_END_MET)[:, 0]]
        if not rows.size:
            break
    return u, u - v_end * du_dv


def _lowest_junction(cells: CellChains, v_end: float, avalanche: Avalanche) -> Array:
    """Junction volts below which the weakest level surely pulls the chain under v_end."""
    others = cells.others()
    each = np.maximum(junction_voltage(others, cells.i_light[:, :1], avalanche)[0], 0.0)
    lifted = np.sum(others.count * each, axis=1, keepdims=True)
    return (v_end - lifted) / cells.count[:, :1] - BELOW_END


@lru_cache(maxsize=16)
def _knee_shares(points: int) -> Array:
    """What a level's diode takes at so many points around its knee, as shares, e-folds apart; at the last nothing."""
    shares = np.append(np.exp(-KNEE_FOLDS * _even(points))[:-1], 0.0)
    shares.flags.writeable = False
    return shares


@lru_cache(maxsize=16)
def _even(points: int) -> Array:
    """So many even shares, from 0 to 1."""
    shares = np.linspace(0.0, 1.0, points)
    shares.flags.writeable = False
    return shares


def _line(start: Array, end: Array, shares: Array) -> Array:
    """Points from start to end, shape (row, point)."""
    return start + (end - start) * shares


def _reverse(start: Array, end: Array, shares: Array, avalanche: Avalanche) -> Array:
    """Points from start to end, whose distance to breakdown shrinks by the given shares of its logarithm."""
    first, last = (1.0 - u / avalanche.v_breakdown for u in (start, end))
    return (1.0 - first * (last / first) ** shares) * avalanche.v_breakdown


def _knees(cells: CellChains, u_end: Array, avalanche: Avalanche) -> list[Array]:
    """Points around the knee of each further level that the chain's current reaches before its end.

    They are spaced by e-folds of what the level's diode takes. What its shunt takes comes on top, so that they stay
    where a leaky cell bends, which is far below its light current.
    """
    weakest, others = cells.level(0), cells.others()
    i_end = junction_current(weakest, u_end, avalanche)[0]
    beyond = others.i_light - weakest.i_light
    reached = (_amps_left(others, (1.0 - KNEE_REACHED) * beyond) < i_end) & (others.count > 0)
    points = []
    for number in np.flatnonzero(reached.any(axis=0)).tolist():
        level, here = cells.level(number + 1), reached[:, number : number + 1]
        most = level.count[here].max()
        shares = _knee_shares(KNEE_POINTS if most <= FEW else 2 * KNEE_POINTS)
        current = _amps_left(level, beyond[:, number : number + 1] * shares)
        u = junction_voltage(weakest, np.minimum(current, i_end), avalanche)[0]
        points.append(np.where(here, np.maximum(u, u_end), u_end))
    return points


def _amps_left(cells: CellChains, through: Array) -> Array:
    """Amps that a level gives where its diode takes so many, and its shunt what it takes at these volts. [A]"""
    return cells.i_light - through - cells.a * np.log1p(through / cells.i_0) / cells.r_shunt
