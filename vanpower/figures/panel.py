"""One panel's curve: amps and watts against volts."""

from __future__ import annotations

import textwrap
from typing import Any

import numpy as np
from matplotlib.axes import Axes

from vanpower.components.low_light import dull_band, is_dull
from vanpower.figures.at_curves import named_at, settle
from vanpower.figures.style import (
    BAND_SHADE,
    FONT,
    INK,
    PAGE,
    PAGE_TITLE,
    POINTS,
    SIZE,
    SOFT,
    TITLE_FONT,
    TITLE_WIDTH,
    even_ticks,
    fitted_top,
    new_axes,
)
from vanpower.model.iv_curve import IVCurve
from vanpower.results.verdict import glued

AMPS, WATTS = SOFT, INK
# colours of the two curves and of their axes' words; one panel alone is wired in no way, and has no wiring's colour
WIDE_TITLE = 72
# letters of a title's line on a page
AT = {"amps": 0.3, "watts, by label": 0.45, "measured panels": 0.62}
# what they are called, and where, as shares of the open-circuit volts


def plot_panel(curve: IVCurve, *, ax: Axes | None = None, phone: bool = True) -> Axes:
    """Watts against volts by the label with every hill, amps beside them; in dull light what labels leave open.

    Parameters
    ----------
    curve : IVCurve
        As `panel_curve` gives it.
    ax : Axes, optional
        For the watts; the amps get an axis on its right.
    phone : bool
        Which layout: for a phone or for a page.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import example, panel_curve
    >>> dull = panel_curve(example("bookmobile").panels[0], light=100, temp_cell=15)
    >>> ax = plot_panel(dull, ax=Figure().subplots())
    >>> ax.get_ylabel(), round(float(ax.lines[0].get_ydata().max()), 1)
    ('Power (W)', 10.9)
    """
    ax = new_axes(ax, SIZE if phone else PAGE)
    tops = curve.maxima
    volts = np.union1d(np.linspace(0.0, curve.v_oc, POINTS), tops.voltage)
    amps = np.maximum(curve.amps(volts), 0.0)
    light = curve.lit.conditions.brightest
    if is_dull(light):
        low, high = (float(end[0]) for end in dull_band([curve.panel], light))
        watts = volts * amps
        ax.fill_between(volts, low * watts, high * watts, color=WATTS, alpha=BAND_SHADE, lw=0)
    ax.plot(volts, volts * amps, color=WATTS, lw=2.2)
    ax.plot(tops.voltage, tops.power, color=WATTS, marker="o", mfc="white", mew=1.8, ms=9, ls="none")
    beside = ax.twinx()
    beside.plot(volts, amps, color=AMPS, lw=1.8, ls="--")
    ax.set_xlim(0, 1.03 * curve.v_oc or 1.0)
    highest = float(tops.power.max(initial=0.0))
    if is_dull(light):
        highest *= max(float(dull_band([curve.panel], light)[1][0]), 1.0)
    for axis, top in ((ax, highest), (beside, curve.i_sc)):
        end = fitted_top(float(top))
        axis.set_ylim(0, end)
        # the highest figure would run into the finding
        axis.set_yticks([tick for tick in even_ticks(end) if tick < 0.97 * end])
        axis.tick_params(labelsize=FONT, labelcolor=SOFT)
    ax.set_xlabel("Panel voltage (V)", fontsize=FONT, color=SOFT)
    ax.set_ylabel("Power (W)", fontsize=FONT, color=WATTS)
    beside.set_ylabel("Current (A)", fontsize=FONT, color=AMPS)
    look = {"fontsize": TITLE_FONT} if phone else {"fontsize": PAGE_TITLE, "family": "serif", "weight": "bold"}
    ax.set_title(_said(curve, TITLE_WIDTH if phone else WIDE_TITLE), loc="left", color=INK, **look)
    _name(ax, beside, volts, amps, dull=is_dull(light) and dull_band([curve.panel], light))
    return ax


def _name(ax: Axes, beside: Axes, volts: np.ndarray, amps: np.ndarray, *, dull: Any) -> None:
    """Names at the curves, on the axes in front."""
    # both curves as these axes count
    up = beside.get_ylim()[1] / ax.get_ylim()[1]
    watts = up * volts * amps
    low, high = (float(end[0]) for end in dull) if dull else (1.0, 1.0)
    at = {"amps": amps, "watts, by label": watts} | ({"measured panels": (low + high) / 2 * watts} if dull else {})
    names = [named_at(beside, said, AMPS if said == "amps" else WATTS) for said in at]
    v_named = [AT[said] * volts[-1] for said in at]
    marks = np.array([(v, np.interp(v, volts, curve)) for v, curve in zip(v_named, at.values(), strict=True)])
    settle(beside, names, marks, np.concatenate([np.column_stack([volts, curve]) for curve in (amps, watts)]))


def _said(curve: IVCurve, letters: int) -> str:
    """The finding in lines of a title; numbers stay with their units."""
    whole = glued(repr(curve).partition("; ")[0])
    return textwrap.fill(whole, letters).replace("\N{NO-BREAK SPACE}", " ")
