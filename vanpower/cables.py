"""The resistance of the copper between roof and controller.

Answers what a cable costs in volts and watts. Left out: what current it may carry, and plugs and fuses.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from vanpower.rig import Cable

RESISTANCE_TINNED = {
    0.5: 40.1, 0.75: 26.7, 1.0: 20.0, 1.5: 13.7, 2.5: 8.21, 4.0: 5.09, 6.0: 3.39,
    10.0: 1.95, 16.0: 1.24, 25.0: 0.795, 35.0: 0.565, 50.0: 0.393, 70.0: 0.277,
}  # fmt: skip
# [mohm/m at 20 °C] largest resistance by section [mm²], IEC 60228 class 5 tinned, which solar cable is made of
COPPER_PER_K = 0.00393
# [1/K] rise of copper's resistance from 20 °C; IEC 60228


def resistance(cable: Cable) -> float:
    """Resistance out and back. [ohm]

    Notes
    -----
    Between two standard sections the product of section and resistance is interpolated.

    Examples
    --------
    >>> round(resistance(Cable(length_m=7.0, section_mm2=4.0)), 4)
    0.0713
    """
    sections = np.array(list(RESISTANCE_TINNED))
    products = sections * np.array(list(RESISTANCE_TINNED.values()))
    per_metre = np.interp(cable.section_mm2, sections, products) / cable.section_mm2 / 1000.0
    warm = 1.0 + COPPER_PER_K * (cable.temp_conductor - 20.0)
    return float(2.0 * cable.length_m * per_metre * warm)


def cost(cable: Cable, current: float) -> tuple[float, float]:
    """Volts dropped and watts lost at a current. [V, W]"""
    ohms = resistance(cable)
    return ohms * current, ohms * current**2


def section_for(cable: Cable, r_most: float) -> float | None:
    """Smallest standard section of the same run with at most so much resistance, or None. [mm²]"""
    for section in RESISTANCE_TINNED:
        if resistance(replace(cable, section_mm2=section)) <= r_most:
            return section
    return None
