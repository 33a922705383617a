"""What a rig's labels say that a trial needs: how its power goes with heat, and the limits that hide a gain."""

from __future__ import annotations

from vanpower.components.single_diode import filled
from vanpower.rig import Rig


def told_of(rig: Rig) -> dict[str, float]:
    """What `analyse_trial` is told of a rig.

    Parameters
    ----------
    rig : Rig

    Returns
    -------
    dict of str to float
        `gamma_pmp_pct_per_k` of its first panel [%/K]; of a rig with one controller also `i_charge_max` [A] and the
        battery's `v_absorption` [V].

    Examples
    --------
    >>> from vanpower import example
    >>> told_of(example("bookmobile"))
    {'gamma_pmp_pct_per_k': -0.4, 'i_charge_max': 20.0, 'v_absorption': 14.2}
    """
    gamma = filled(rig.panels[0], ("gamma_pmp_pct_per_k",))[0].gamma_pmp_pct_per_k
    assert gamma is not None
    if len(rig.circuits) > 1:
        return {"gamma_pmp_pct_per_k": gamma}
    amps, volts = rig.circuits[0].controller.i_charge_max, rig.battery.v_absorption
    return {"gamma_pmp_pct_per_k": gamma, "i_charge_max": amps, "v_absorption": volts}
