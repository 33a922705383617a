"""Parameters of one cell of a panel, and of its bypass diodes, from the label."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from vanpower.components.single_diode import fit_panel
from vanpower.engine.cells import Cell
from vanpower.engine.curves import Diode
from vanpower.rig import Panel

V_FOLD_SCHOTTKY = 0.0283
# [V] one e-fold of a Schottky diode's current: ideality 1.1 at 25 °C; common practice, no source
I_DROP = 10.0
# [A] current at which a diode's drop is stated; common practice, no source
BLOCKING = Diode(I_DROP / np.expm1(0.45 / V_FOLD_SCHOTTKY), V_FOLD_SCHOTTKY)
# a Schottky blocking diode, 0.45 V at 10 A; common practice, no source


@lru_cache(maxsize=256)
def cell_of(panel: Panel) -> Cell:
    """One cell of a panel, from its label: the label's curve shared out over series cells and branches.

    A leak is taken out of the label's own shunt as far as that goes, so that a small one leaves the label as it is.

    Examples
    --------
    >>> from vanpower import example
    >>> cell = cell_of(example("bookmobile").panels[0])
    >>> round(cell.i_light, 2), round(cell.r_series, 4)
    (6.25, 0.0055)
    """
    fit = fit_panel(panel)
    share = panel.branches / panel.cells_in_series
    alpha = (fit.panel.alpha_isc_pct_per_k or 0.0) / 100 * panel.i_sc
    r_leak = np.inf if panel.r_leak is None else panel.r_leak
    vanishing = max(1.0 / fit.r_shunt - 1.0 / r_leak, 0.0)
    return Cell(
        i_light=fit.i_light / panel.branches,
        i_0=fit.i_0 / panel.branches,
        a=fit.a / panel.cells_in_series,
        r_series=fit.r_series * share,
        r_shunt=share / vanishing if vanishing else np.inf,
        alpha=alpha / panel.branches,
        r_leak=r_leak * share,
        e_gap=fit.e_gap,
    )


def bypass_diode(panel: Panel) -> Diode | None:
    """The diode across each substring, from its drop at 10 A.

    Examples
    --------
    >>> from vanpower import example
    >>> diode = bypass_diode(example("bookmobile").panels[0])
    >>> round(float(diode.drop(10.0)), 2)
    0.5
    """
    if not panel.bypass_diodes:
        return None
    return Diode(I_DROP / np.expm1(panel.v_bypass / V_FOLD_SCHOTTKY), V_FOLD_SCHOTTKY)
