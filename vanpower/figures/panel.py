"""One panel's curve: amps and watts against volts."""

from __future__ import annotations

import textwrap

import numpy as np
from matplotlib.axes import Axes

from vanpower.components.low_light import dull_band, is_dull
from vanpower.figures.style import (
    BAND_SHADE,
    FONT,
    PAGE,
    POINTS,
    SERIES,
    SIZE,
    SOFT,
    TITLE_FONT,
    TITLE_WIDTH,
    even_ticks,
    fitted_top,
    new_axes,
)
from vanpower.model.iv_curve import IVCurve

AMPS, WATTS = SOFT, SERIES.colour
# colours of the two curves and of their axes' words


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
        ax.fill_between(volts, low * watts, high * watts, color=WATTS, alpha=BAND_SHADE, lw=0, label="measured panels")
    ax.plot(volts, volts * amps, color=WATTS, lw=2.2, label="power (W), by label")
    ax.plot(tops.voltage, tops.power, color=WATTS, marker="o", mfc="white", mew=1.8, ms=9, ls="none", label="hilltop")
    beside = ax.twinx()
    beside.plot(volts, amps, color=AMPS, lw=1.8, ls="--", label="current (A)")
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
    ax.set_title(_said(curve), loc="left", fontsize=TITLE_FONT)
    handles = [*ax.get_legend_handles_labels()[0], *beside.get_legend_handles_labels()[0]]
    ax.legend(
        handles=handles, loc="upper left", bbox_to_anchor=(-0.1, -0.15), ncols=2 if phone else 4, fontsize=FONT,
        frameon=False,
    )  # fmt: skip
    return ax


def _said(curve: IVCurve) -> str:
    """The finding in lines of a title."""
    return textwrap.fill(repr(curve).partition("; ")[0], TITLE_WIDTH)
