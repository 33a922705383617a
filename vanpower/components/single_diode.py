"""From the numbers on a panel's label to the five single-diode parameters that draw its whole curve.

The parameters hold at 1000 W/m² and 25 °C. Answers which diode, which two resistances and which light current
reproduce the label, and says what was given up where no diode does. Left out: how light and temperature change the
five, and shade; these are in `engine.cells`.

Notes
-----
De Soto, Klein, Beckman, Solar Energy 80 (2006) 78-88. Short circuit, open circuit and the best-power point
are linear in light current, diode current and shunt once `a` and the series resistance are given. That power
is at its best there fixes the series resistance for each `a`. What remains is one family of curves over `a`,
out of which the fall of voltage with temperature picks one. Inside, volts and amps are shares of v_oc and
i_sc.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import ArrayLike

from vanpower.engine.constants import BOLTZMANN_EV, E_GAP, E_GAP_SLOPE, T_REFERENCE
from vanpower.engine.roots import falling_root
from vanpower.rig import V_CELL, Panel

TEMP_STEP = 2.0
# [K] step over which the voltage slope is held against the label; De Soto 2006, section 3
IDEALITY = (0.5, 2.2)
# [-] range searched, for each cell in series; common practice, no source
V_CELL_MOST = 3.0
# [V] most a label can mean; three junctions stacked give 2.3 V in the CEC table of 2019, silicon 0.8 V
R_LEAST = 1e-4
# [v_oc/i_sc] least series resistance, and as its inverse least shunt conductance: 0.01 % of the label either
# way, below what a label shows; common practice, no source
EXACT = 1e-3
# [-] largest relative error of a fit called exact; rounding to three digits errs up to five times as much
MOST_POWER_LOST = 0.03
# [-] a label whose watts no diode reaches within this contradicts itself; labels promise
# about as much; common practice, no source
STEEPEST_BETA, STEEPEST_ALPHA = 0.02, 0.01
# [1/K] largest change of v_oc and i_sc a label can mean; twice what any in the CEC table of 2019 says
COEFFICIENTS = ("beta_voc_pct_per_k", "gamma_pmp_pct_per_k", "alpha_isc_pct_per_k")
# temperature coefficients of volts, power and amps, as a Panel names them
SAID = dict(zip(COEFFICIENTS, ("Voc with heat", "power with heat", "Isc with heat"), strict=True))
# what a sentence calls them
MODELLED = ("beta_voc_pct_per_k", "alpha_isc_pct_per_k")
# those a fitted curve rests on: its power follows from the other two
CHUNK = 4096
# panels worked on at a time, so that memory stays below 20 MB whatever the table's length


class Typical(NamedTuple):
    """Coefficients of one group of panels, median, and steep volts. [%/K] `p_below` tells equal cells apart. [W]"""

    group: str
    cells_in_series: int
    branches: int
    p_below: float
    beta_voc_pct_per_k: float
    gamma_pmp_pct_per_k: float
    alpha_isc_pct_per_k: float
    beta_voc_steep_pct_per_k: float


TYPICAL = (
    Typical("36 cells, <250 W", 36, 1, np.inf, -0.33, -0.466, 0.05373, -0.375),
    Typical("60 cells, <250 W", 60, 1, 250.0, -0.3469, -0.459, 0.0548, -0.4071),
    Typical("60 cells, all powers", 60, 1, np.inf, -0.3389, -0.4501, 0.051, -0.3974),
    Typical("72 cells, <250 W", 72, 1, 250.0, -0.36, -0.46, 0.05, -0.419),
    Typical("72 cells, all powers", 72, 1, np.inf, -0.334, -0.45, 0.051, -0.4078),
    Typical("120 (half-cut) all powers", 60, 2, np.inf, -0.326, -0.403, 0.06, -0.343),
    Typical("144 (half-cut) all powers", 72, 2, np.inf, -0.3305, -0.402, 0.058, -0.34),
)
# [%/K] p50, and last p05 of volts, of silicon modules in the CEC table of 2019-03-05:
# tests/reference/cec_percentiles.csv. It counts all half cells, a Panel those of one half.


@dataclass(frozen=True, eq=False)
class Fit:
    """Diode curves of many panels, every array (panel,).

    Parameters
    ----------
    i_light, i_0 : np.ndarray
        Light current and diode saturation current. [A]
    r_series, r_shunt : np.ndarray
        Series and shunt resistance. [ohm]
    a : np.ndarray
        Ideality times cells in series times kT/q, of the whole panel. [V]
    ideality : np.ndarray
        The same for one of the cells counted on the label; about half where both halves are counted.
    e_gap : np.ndarray
        Band gap with which De Soto's temperature equations give the label's beta_voc; 1.121 where the
        ideality alone could give it, larger or smaller where it could not. [eV]
    beta_fitted : np.ndarray
        Fall of v_oc with temperature that the five give with 1.121 eV. [V/K]
    misfit, misfit_power : np.ndarray
        Largest relative error over i_sc, v_oc, i_mp, v_mp and p_mp, solved for on the fitted curve; and that
        of p_mp alone.
    exact : np.ndarray
        True where `misfit` is at most 0.001 and both resistances are positive.
    refused : np.ndarray
        True where the label contradicts itself; the numbers are NaN there.
    notes : tuple of str
        A sentence for each panel: how its ideality was chosen, what was given up, or why it is refused.
    """

    i_light: np.ndarray
    i_0: np.ndarray
    r_series: np.ndarray
    r_shunt: np.ndarray
    a: np.ndarray
    ideality: np.ndarray
    e_gap: np.ndarray
    beta_fitted: np.ndarray
    misfit: np.ndarray
    misfit_power: np.ndarray
    exact: np.ndarray
    refused: np.ndarray
    notes: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class CellFit:
    """Single-diode parameters of one panel, and how well they reproduce its label.

    Attributes
    ----------
    panel : Panel
        With missing temperature coefficients filled in.
    i_light, i_0 : float
        Light current and diode saturation current. [A]
    r_series, r_shunt : float
        Series and shunt resistance of the whole panel. [ohm]
    a : float
        Ideality times cells in series times kT/q, of the whole panel. [V]
    ideality : float
        Diode ideality of one of the cells counted on the label.
    e_gap : float
        Band gap with which De Soto's temperature equations give the label's voltage coefficient. [eV]
    beta_fitted : float
        Change of v_oc with temperature that the five parameters give with 1.121 eV. [V/K]
    misfit, misfit_power : float
        Largest relative error over i_sc, v_oc, i_mp, v_mp and p_mp; and that of p_mp alone.
    exact : bool
        Whether `misfit` is at most 0.001 and both resistances are positive.
    notes : tuple of str
        What was assumed or given up, a sentence each.
    """

    panel: Panel
    i_light: float
    i_0: float
    r_series: float
    r_shunt: float
    a: float
    ideality: float
    e_gap: float
    beta_fitted: float
    misfit: float
    misfit_power: float
    exact: bool
    notes: tuple[str, ...]


class _Label(NamedTuple):
    """A label in shares of v_oc and i_sc: best-power point, coefficients [1/K], least, most and given `a` or NaN."""

    v: np.ndarray
    i: np.ndarray
    alpha: np.ndarray
    beta: np.ndarray
    a_low: np.ndarray
    a_high: np.ndarray
    a_given: np.ndarray


class _Curve(NamedTuple):
    """The five in shares of v_oc and i_sc; `g` is the shunt's conductance."""

    i_light: np.ndarray
    i_0: np.ndarray
    r: np.ndarray
    g: np.ndarray
    a: np.ndarray


@lru_cache(maxsize=256)
def fit_panel(panel: Panel) -> CellFit:
    """Single-diode parameters of one panel, fitted to its label.

    Temperature coefficients that are missing are taken as typical, and the notes say so.

    Parameters
    ----------
    panel : Panel

    Returns
    -------
    CellFit
        Light current and saturation current [A], resistances [ohm] and ideality at 1000 W/m² and 25 °C.

    Raises
    ------
    ValueError
        For a label that contradicts itself, so that no curve passes through it.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> fit = fit_panel(Panel(name="100 W", **label))
    >>> fit.exact, len(fit.notes)
    (True, 2)
    """
    whole, notes = filled(panel)
    alpha_isc = (whole.alpha_isc_pct_per_k or 0.0) / 100 * panel.i_sc
    beta_voc = (whole.beta_voc_pct_per_k or 0.0) / 100 * panel.v_oc
    label = (panel.v_oc, panel.i_sc, panel.v_mp, panel.i_mp, panel.cells_in_series, alpha_isc, beta_voc)
    fit = _fit_one(*label, panel.ideality)
    if fit.refused[0]:
        raise ValueError(f"Panel {panel.name}: {fit.notes[0]}")
    numbers: dict[str, Any] = {name: float(getattr(fit, name)[0]) for name in _NUMBERS}
    return CellFit(panel=whole, exact=bool(fit.exact[0]), notes=(*notes, *fit.notes), **numbers)


@lru_cache(maxsize=256)
def _fit_one(
    v_oc: float,
    i_sc: float,
    v_mp: float,
    i_mp: float,
    cells_in_series: int,
    alpha_isc: float,
    beta_voc: float,
    ideality: float | None,
) -> Fit:
    """`fit_labels` of one label, kept, so that tilting or renaming a panel does not fit it again."""
    return fit_labels(
        v_oc=v_oc,
        i_sc=i_sc,
        v_mp=v_mp,
        i_mp=i_mp,
        cells_in_series=cells_in_series,
        alpha_isc=alpha_isc,
        beta_voc=beta_voc,
        ideality=np.nan if ideality is None else ideality,
    )


def filled(panel: Panel, fields: Sequence[str] = COEFFICIENTS) -> tuple[Panel, tuple[str, ...]]:
    """The panel with typical temperature coefficients where its label gives none, and a note that says so.

    Parameters
    ----------
    fields : sequence of str
        The coefficients that an answer rests on.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> panel, notes = filled(Panel(name="100 W", beta_voc_pct_per_k=-0.3, **label))
    >>> panel.beta_voc_pct_per_k, panel.gamma_pmp_pct_per_k, len(notes)
    (-0.3, -0.466, 1)
    """
    typical = nearest_typical(panel)
    taken = {field: getattr(typical, field) for field in fields if getattr(panel, field) is None}
    return replace(panel, **taken), gaps([panel], fields)


def steep(panel: Panel) -> Panel:
    """The panel with a steep coefficient of volts where its label gives none: most volts in frost, least in heat.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> steep(Panel(name="100 W", **label)).beta_voc_pct_per_k
    -0.375
    """
    if panel.beta_voc_pct_per_k is not None:
        return panel
    return replace(panel, beta_voc_pct_per_k=nearest_typical(panel).beta_voc_steep_pct_per_k)


def steep_gaps(panels: Sequence[Panel]) -> tuple[str, ...]:
    """Which labels give no coefficient of volts, and the steep one that stands in for it at either end of the volts.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> steep_gaps([Panel(name="old", **label)])
    ('Voc with heat -0.375 %/K not on the label of old, steeper than 19 of 20 of 36 cells, <250 W (CEC table of 2019)',)
    """
    missing: dict[Typical, dict[str, None]] = {}
    for panel in panels:
        if panel.beta_voc_pct_per_k is None:
            missing.setdefault(nearest_typical(panel), {})[panel.name] = None
    return tuple(
        f"Voc with heat {typical.beta_voc_steep_pct_per_k:.3g} %/K not on the label{'s' if len(names) > 1 else ''} of "
        f"{', '.join(names)}, steeper than 19 of 20 of {typical.group} (CEC table of 2019)"
        for typical, names in missing.items()
    )


def gaps(panels: Sequence[Panel], fields: Sequence[str] = COEFFICIENTS) -> tuple[str, ...]:
    """Which coefficients labels do not give, what is taken instead and from where; panels alike are told together.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> gaps([Panel(name="old", **label), Panel(name="new", **label)], ("beta_voc_pct_per_k",))
    ('Voc with heat -0.33 %/K not on the labels of old, new, typical of 36 cells, <250 W (CEC table of 2019)',)
    """
    missing: dict[tuple[str, str], dict[str, None]] = {}
    for panel in panels:
        typical = nearest_typical(panel)
        empty = {field: getattr(typical, field) for field in fields if getattr(panel, field) is None}
        values = ", ".join(f"{SAID[field]} {value:.3g}" for field, value in empty.items())
        if empty:
            missing.setdefault((values, typical.group), {})[panel.name] = None
    return tuple(
        f"{values} %/K not on the label{'s' if len(names) > 1 else ''} of {', '.join(names)}, typical of {group} (CEC "
        "table of 2019)"
        for (values, group), names in missing.items()
    )


def nearest_typical(panel: Panel) -> Typical:
    """The group closest in cells among those cut alike; below 250 W the one of smaller panels, if any."""
    alike = [group for group in TYPICAL if group.branches == panel.branches and panel.p_mp < group.p_below]
    return min(alike, key=lambda group: (abs(group.cells_in_series - panel.cells_in_series), group.p_below))


_NUMBERS = tuple(name for name in CellFit.__annotations__ if name not in ("panel", "exact", "notes"))


def fit_labels(
    *,
    v_oc: ArrayLike,
    i_sc: ArrayLike,
    v_mp: ArrayLike,
    i_mp: ArrayLike,
    cells_in_series: ArrayLike,
    alpha_isc: ArrayLike,
    beta_voc: ArrayLike,
    ideality: ArrayLike = np.nan,
) -> Fit:
    """Diode curves from labels, many at a time.

    Parameters
    ----------
    v_oc, i_sc, v_mp, i_mp : array_like
        Open-circuit volts, short-circuit amps, volts and amps at best power, (panel,). [V, A]
    cells_in_series : array_like
        As the label counts them, (panel,).
    alpha_isc, beta_voc : array_like
        Change of i_sc and v_oc with temperature, (panel,). [A/K, V/K]
    ideality : array_like
        Of one cell, where it is known from elsewhere, such as a reading in dull light; NaN where beta_voc decides.

    Returns
    -------
    Fit
        A label that contradicts itself is NaN with `refused` set; its note says why.

    Notes
    -----
    Where the ideality that beta_voc asks for needs a negative resistance, the closest one that needs none is
    taken. Where all do, the curve keeps i_sc, v_oc and the watts, and the place of the maximum moves. Where
    the cells give under 0.41 V each, the count takes in strings in parallel, and the ideality is searched
    lower to match.
    Leaves out recombination in the depletion layer of thin films.

    Examples
    --------
    A 60-cell panel of 270 W; a shunt of 126 ohm leaks 0.3 A of its 9.4 A.

    >>> fit = fit_labels(v_oc=38.3, i_sc=9.43, v_mp=31.0, i_mp=8.71, cells_in_series=60, alpha_isc=0.005658,
    ...     beta_voc=-0.13788)
    >>> print(f"{fit.ideality[0]:.3f} {fit.r_series[0]:.3f} {fit.r_shunt[0]:.0f}")
    1.032 0.298 126
    """
    given = (v_oc, i_sc, v_mp, i_mp, cells_in_series, alpha_isc, beta_voc, ideality)
    table = np.array(np.broadcast_arrays(*(np.atleast_1d(np.asarray(x, float)) for x in given)))
    chunks = [_fit_chunk(table[:, k : k + CHUNK]) for k in range(0, table.shape[1], CHUNK)]
    joined = {name: np.concatenate([getattr(c, name) for c in chunks]) for name in (*_NUMBERS, "exact", "refused")}
    return Fit(**joined, notes=tuple(note for chunk in chunks for note in chunk.notes))


def _fit_chunk(table: np.ndarray) -> Fit:
    """Fits of one chunk, (quantity, panel): the sound labels solved, the others NaN."""
    reasons = [_contradiction(row) for row in table.T]
    sound = np.array([not reason for reason in reasons], bool)
    label = _in_shares(table[:, sound])
    curve, limit = _choose(label)
    lost = 1 - _best_point(curve)[2] / (label.v * label.i)
    for k, panel in enumerate(np.flatnonzero(sound)):
        if lost[k] > MOST_POWER_LOST:
            reasons[panel] = _too_square(table[:4, panel], lost[k])
    return _fit_of(table, sound, reasons, label, curve, limit)


def _contradiction(row: np.ndarray) -> str:
    """Why a label, in the order `fit_labels` takes it, cannot be true of any panel; empty when it can."""
    v_oc, i_sc, v_mp, i_mp, cells, alpha, beta = row[:7]
    if not np.all(np.isfinite(row[:7])):
        return "A value of the label is missing (not a number); each of the seven is needed."
    if v_oc <= 0 or i_sc <= 0 or cells < 1:
        return f"v_oc is {v_oc:g} V, i_sc {i_sc:g} A and cells_in_series {cells:g}; all must be positive."
    return (
        _misplaced("v_mp", v_mp, "v_oc", v_oc, "V")
        or _misplaced("i_mp", i_mp, "i_sc", i_sc, "A")
        or _miscounted(cells, v_oc)
        or _too_steep("alpha_isc", alpha, -STEEPEST_ALPHA * i_sc, STEEPEST_ALPHA * i_sc, "A/K")
        or _too_steep("beta_voc", beta, -STEEPEST_BETA * v_oc, 0.0, "V/K")
    )


def _misplaced(name: str, best: float, end: str, most: float, unit: str) -> str:
    """Why one value of the best-power point is impossible.

    A panel's curve bends one way only, so it lies below its tangent at the best-power point, and that line
    ends at 2 v_mp and 2 i_mp.
    """
    said = f"{name} is {best:g} {unit}"
    if best >= most:
        return f"{said}, and it must lie below {end}, {most:g} {unit}; are the two swapped?"
    if best <= most / 2:
        slip = "is it a reading in use instead of the label's value?"
        return f"{said}, and no panel is at its best at or below half of {end}, {most:g} {unit}; {slip}"
    return ""


def _miscounted(cells: float, v_oc: float) -> str:
    """Why a count of cells is too low; too high a count is read as strings in parallel."""
    if v_oc / cells <= V_CELL_MOST:
        return ""
    said = f"cells_in_series is {cells:g}, or {v_oc / cells:.3g} V a cell at v_oc {v_oc:g} V"
    return f"{said}; up to {V_CELL_MOST:g} V makes sense. Is it the count of panels or of substrings?"


def _too_steep(name: str, value: float, low: float, high: float, unit: str) -> str:
    """Why a temperature coefficient is impossible."""
    if low < value < high:
        return ""
    slip = f"Is it in m{unit} or %/K" + (", or is the minus missing?" if value > 0 else "?")
    return f"{name} is {value:g} {unit}; a value between {low:.3g} and {high:.3g} makes sense. {slip}"


def _too_square(row: np.ndarray, lost: float) -> str:
    """Why a label is refused whose watts no diode reaches."""
    v_oc, i_sc, v_mp, i_mp = row
    square = v_mp * i_mp / (v_oc * i_sc)
    return (
        f"v_mp times i_mp is {v_mp * i_mp:.4g} W, {square:.1%} of v_oc times i_sc, and the squarest diode "
        f"curve reaches {square * (1 - lost):.1%}; is v_oc or i_sc too low, or v_mp or i_mp too high?"
    )


def _in_shares(table: np.ndarray) -> _Label:
    """Label in shares of v_oc and i_sc, with the range of `a` its cells allow."""
    v_oc, i_sc, v_mp, i_mp, cells, alpha, beta, *given = table
    a_one = cells / _strings(cells, v_oc) * BOLTZMANN_EV * T_REFERENCE / v_oc
    low, high, a_given = (n * a_one for n in (*IDEALITY, given[0] if given else np.nan))
    return _Label(v_mp / v_oc, i_mp / i_sc, alpha / i_sc, beta / v_oc, low, high, a_given)


def _strings(cells: np.ndarray, v_oc: np.ndarray) -> np.ndarray:
    """Strings in parallel that a count of cells takes in, told by its low volts per cell; 1 for most."""
    return np.maximum(1, np.round(V_CELL * cells / v_oc))


def _choose(label: _Label) -> tuple[_Curve, np.ndarray]:
    """The curve for each label, and which of `_WHY` decided its ideality."""

    def room(a: np.ndarray) -> np.ndarray:
        return np.min(_rooms(label, _curve_through(label, a)), axis=0)

    a = falling_root(room, label.a_low, label.a_high)
    curve = _curve_through(label, a)
    limit = np.argmin(_rooms(label, curve), axis=0)
    limit = np.where(a == label.a_high, 3, limit)
    limit = np.where(a == label.a_low, np.where(np.min(_rooms(label, curve)[1:], axis=0) < 0, 5, 4), limit)
    return _nearest(label, curve, limit == 5), limit


_WHY = (
    "it gives beta_voc",
    "the shunt conductance would turn negative beyond it",
    "the series resistance would turn negative beyond it",
    "the search ends there",
    "the search ends there",
    "a negative resistance would be needed at every ideality searched",
)
# what decided the ideality, in the order `_choose` counts them


def _rooms(label: _Label, curve: _Curve) -> np.ndarray:
    """Distance to the label's beta [eV] or a given `a`, and to either resistance vanishing, (3, panel)."""
    left = np.where(np.isnan(label.a_given), _e_gap(label, curve) - E_GAP, label.a_given - curve.a)
    return np.array([left, curve.g - R_LEAST, curve.r - R_LEAST])


def _curve_through(label: _Label, a: np.ndarray) -> _Curve:
    """Curve through the three points of the label with its best power at the third, for a given `a`.

    The slope condition crosses zero once, falling, between a negative series resistance and the largest the
    voltages allow; the tests look for a second crossing on the labels of the CEC table and on made-up ones.
    """
    most = (1 - label.v) / label.i * (1 - 1e-12)
    r = falling_root(lambda r: _slope_excess(label, a, r), np.full_like(a, -0.3), most)
    matrix, i_diode, g = _three_points(label, a, r)
    i_diode, g = i_diode / matrix, g / matrix
    return _Curve(i_diode * -np.expm1(-1 / a) + g, i_diode * np.exp(-1 / a), r, g, a)


def _three_points(label: _Label, a: np.ndarray, r: np.ndarray) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Determinant, diode current at v_oc and shunt conductance, both times it, by Cramer's rule."""
    u = label.v + label.i * r
    e_sc, e_mp = -np.expm1((r - 1) / a), -np.expm1((u - 1) / a)
    u_sc, u_mp = 1 - r, 1 - u
    return e_sc * u_mp - u_sc * e_mp, u_mp - u_sc * label.i, e_sc * label.i - e_mp


def _slope_excess(label: _Label, a: np.ndarray, r: np.ndarray) -> np.ndarray:
    """How far dP/dV is from zero at the best-power point, times the determinant."""
    matrix, i_diode, g = _three_points(label, a, r)
    slope = i_diode / a * np.exp((label.v + label.i * r - 1) / a) + g
    return slope * (label.v - label.i * r) - label.i * matrix


def _e_gap(label: _Label, curve: _Curve) -> np.ndarray:
    """Band gap with which the curve follows beta over `TEMP_STEP`; De Soto 2006, eq. 8-12. [eV]"""
    hot = T_REFERENCE + TEMP_STEP
    v, a = 1 + label.beta * TEMP_STEP, curve.a * hot / T_REFERENCE
    i_diode = np.maximum(curve.i_light + label.alpha * TEMP_STEP - v * curve.g, 1e-300)
    log_growth = np.log(i_diode) - v / a - np.log(-np.expm1(-v / a)) - np.log(curve.i_0)
    return (log_growth - 3 * np.log(hot / T_REFERENCE)) / _gap_factor(hot)


def _gap_factor(temp: float) -> float:
    """What a band gap of 1 eV adds to the logarithm of the diode current from 25 °C to `temp` [K]. [1/eV]"""
    shrunk = 1 + E_GAP_SLOPE * (temp - T_REFERENCE)
    return (1 / T_REFERENCE - shrunk / temp) / BOLTZMANN_EV


def _beta_fitted(label: _Label, curve: _Curve) -> np.ndarray:
    """Share of v_oc lost per kelvin with silicon's band gap. [1/K]"""
    hot = T_REFERENCE + TEMP_STEP
    growth = (hot / T_REFERENCE) ** 3 * np.exp(E_GAP * _gap_factor(hot))
    i_light = curve.i_light + label.alpha * TEMP_STEP
    warm = _Curve(i_light, curve.i_0 * growth, curve.r, curve.g, curve.a * hot / T_REFERENCE)
    return (falling_root(lambda u: _current(warm, u), 0.5 + 0 * curve.a, 1.5 + 0 * curve.a) - 1) / TEMP_STEP


def _nearest(label: _Label, curve: _Curve, lost: np.ndarray) -> _Curve:
    """Curves with the lost ones replaced by the squarest diode searched that still gives the label's watts.

    The resistance that would be negative is held at its least and the other one grows until the watts are
    met; i_sc and v_oc are kept.
    """
    some = _Label(*(x[lost] for x in label))
    leaky = curve.g[lost] >= R_LEAST

    def lossy(size: np.ndarray) -> _Curve:
        return _curve_with(some.a_low, R_LEAST + np.where(leaky, 0, size), R_LEAST + np.where(leaky, size, 0))

    size = falling_root(lambda size: _best_point(lossy(size))[2] - some.v * some.i, 0 * some.v, 0.9 + 0 * some.v)
    for whole, part in zip(curve, lossy(size), strict=True):
        whole[lost] = part
    return curve


def _curve_with(a: np.ndarray, r: np.ndarray, g: np.ndarray) -> _Curve:
    """Curve through short and open circuit with given resistances."""
    i_diode = (1 - g * (1 - r)) / -np.expm1((r - 1) / a)
    return _Curve(i_diode * -np.expm1(-1 / a) + g, i_diode * np.exp(-1 / a), r, g, a)


def _current(curve: _Curve, u: np.ndarray) -> np.ndarray:
    """Current at a voltage `u` across the diode."""
    return curve.i_light - curve.i_0 * np.expm1(u / curve.a) - curve.g * u


def _best_point(curve: _Curve) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Voltage, current and power where dP/dV is zero, solved for on the curve itself."""

    def slope(u: np.ndarray) -> np.ndarray:
        i = _current(curve, u)
        fall = -curve.i_0 / curve.a * np.exp(u / curve.a) - curve.g
        return i + fall * (u - 2 * i * curve.r)

    u = falling_root(slope, curve.r, np.ones_like(curve.a))
    i = _current(curve, u)
    v = u - i * curve.r
    return v, i, v * i


def _misfits(label: _Label, curve: _Curve) -> np.ndarray:
    """Relative errors of i_sc, v_oc, v_mp, i_mp, p_mp as read off the curve, (5, panel)."""
    v_oc = falling_root(lambda u: _current(curve, u), 0 * curve.a, 1.5 + 0 * curve.a)
    u_sc = falling_root(lambda u: _current(curve, u) * curve.r - u, 0 * curve.a, 1.5 + 0 * curve.a)
    v, i, p = _best_point(curve)
    got = np.array([_current(curve, u_sc), v_oc, v / label.v, i / label.i, p / (label.v * label.i)])
    return np.abs(got - 1)


def _fit_of(
    table: np.ndarray, sound: np.ndarray, reasons: list[str], label: _Label, curve: _Curve, limit: np.ndarray
) -> Fit:
    """Fits of one chunk with every panel at its place, misfits and notes."""
    refused = np.array([bool(reason) for reason in reasons], bool)
    values = _in_units(table[:, sound], label, curve)
    full = {name: _spread(part, sound, refused) for name, part in values.items()}
    exact = (full["misfit"] <= EXACT) & (full["r_series"] > 0) & (full["r_shunt"] > 0)
    deciding = np.zeros(sound.size, int)
    deciding[sound] = limit
    notes = tuple(reasons[k] or _note(full, k, deciding[k], table[:, k]) for k in range(sound.size))
    return Fit(**full, exact=exact, refused=refused, notes=notes)


def _in_units(table: np.ndarray, label: _Label, curve: _Curve) -> dict[str, np.ndarray]:
    """Numbers of `Fit` for the sound labels: shares back to volts and amps."""
    v_oc, i_sc, cells = table[0], table[1], table[4]
    errors = _misfits(label, curve)
    return {
        "i_light": curve.i_light * i_sc,
        "i_0": curve.i_0 * i_sc,
        "r_series": curve.r * v_oc / i_sc,
        "r_shunt": v_oc / i_sc / curve.g,
        "a": curve.a * v_oc,
        "ideality": curve.a * v_oc / (cells * BOLTZMANN_EV * T_REFERENCE),
        "e_gap": _e_gap(label, curve),
        "beta_fitted": _beta_fitted(label, curve) * v_oc,
        "misfit": errors.max(axis=0),
        "misfit_power": errors[4],
    }


def _spread(part: np.ndarray, sound: np.ndarray, refused: np.ndarray) -> np.ndarray:
    """Values of the sound labels at their places among all, NaN elsewhere."""
    whole = np.full(sound.shape, np.nan)
    whole[sound] = part
    whole[refused] = np.nan
    return whole


def _note(full: dict[str, np.ndarray], k: int, limit: int, row: np.ndarray) -> str:
    """How the ideality of panel `k` was chosen and what was given up."""
    v_oc, cells, beta, given = row[0], row[4], row[6], not np.isnan(row[7])
    strings = _strings(cells, v_oc)
    counted = f" {cells:g} cells at {v_oc:g} V are read as {strings:g} strings in parallel." if strings > 1 else ""
    chosen = f"Ideality {full['ideality'][k]:.3f}"
    if given and limit == 0:
        return f"{chosen} was given.{counted}"
    if limit == 0:
        return f"{chosen}: {_WHY[0]}, {beta:.4g} V/K.{counted}"
    slope = f"v_oc changes by {full['beta_fitted'][k]:.4g} V/K, not {beta:.4g}"
    slope = f"with silicon's band gap {slope}; {full['e_gap'][k]:.3f} eV would give that"
    if limit < 5:
        asked = "given" if given else "beta_voc asks for"
        return f"{chosen} is the closest to the one {asked}: {_WHY[limit]}; {slope}.{counted}"
    missed = f"the label is missed by up to {full['misfit'][k]:.2%}, its watts by {full['misfit_power'][k]:.2%}"
    return f"{chosen} is the lowest searched: {_WHY[5]}; {missed}, and {slope}.{counted}"
