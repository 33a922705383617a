"""One panel's curve: amps and watts against volts."""

from __future__ import annotations

import textwrap

import numpy as np
from matplotlib.axes import Axes

from vanpower.components.low_light import dull_band, is_dull
from vanpower.figures.style import (
    BAND_SHADE,
    FONT,
    POINTS,
    ROLES,
    SIZE,
    TITLE_FONT,
    TITLE_WIDTH,
    WIRING_STYLES,
    new_axes,
    rung,
)
from vanpower.model.iv_curve import IVCurve

AMPS, WATTS = ROLES["other"], WIRING_STYLES[0][0]
# colours of the two curves and of their axes' words


def plot_panel(curve: IVCurve, *, ax: Axes | None = None) -> Axes:
    """Watts against volts by the label with every hill, amps beside them; in dull light what labels leave open.

    Parameters
    ----------
    curve : IVCurve
        As `panel_curve` gives it.
    ax : Axes, optional
        For the watts; the amps get an axis on its right.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import example, panel_curve
    >>> dull = panel_curve(example("bookmobile").panels[0], light=100, temp_cell=15)
    >>> ax = plot_panel(dull, ax=Figure().subplots())
    >>> ax.get_ylabel(), round(float(ax.lines[0].get_ydata().max()), 1)
    ('Power (W)', 10.9)
    """
    ax = new_axes(ax, SIZE)
    tops = curve.maxima
    volts = np.union1d(np.linspace(0.0, curve.v_oc, POINTS), tops.voltage)
    amps = np.maximum(curve.amps(volts), 0.0)
    light = curve.lit.conditions.brightest
    if is_dull(light):
        low, high = (float(end[0]) for end in dull_band([curve.panel], light))
        watts = volts * amps
        ax.fill_between(volts, low * watts, high * watts, color=WATTS, alpha=BAND_SHADE, lw=0, label="measured panels")
    ax.plot(volts, volts * amps, color=WATTS, lw=2.2, label="power (W), by label")
    ax.plot(tops.voltage, tops.power, color=WATTS, marker="o", mfc="white", mew=1.8, ms=9, ls="none", label="hilltop")
    beside = ax.twinx()
    beside.plot(volts, amps, color=AMPS, lw=1.8, ls="--", label="current (A)")
    ax.set_xlim(0, 1.03 * curve.v_oc or 1.0)
    for axis, top in ((ax, tops.power.max(initial=0.0)), (beside, curve.i_sc)):
        axis.set_ylim(0, 1.35 * rung(float(top)))
        axis.tick_params(labelsize=FONT)
    ax.set_xlabel("Panel voltage (V)", fontsize=FONT)
    ax.set_ylabel("Power (W)", fontsize=FONT)
    beside.set_ylabel("Current (A)", fontsize=FONT)
    ax.set_title(_said(curve), loc="left", fontsize=TITLE_FONT)
    handles = [*ax.get_legend_handles_labels()[0], *beside.get_legend_handles_labels()[0]]
    ax.legend(handles=handles, loc="upper left", ncols=2, fontsize=FONT, frameon=False)
    return ax


def _said(curve: IVCurve) -> str:
    """The finding in lines of a title."""
    return textwrap.fill(repr(curve).partition("; ")[0], TITLE_WIDTH)
