"""The resistance of copper, by section, kind of conductor and temperature."""

from __future__ import annotations

from functools import lru_cache

import numpy as np

from vanpower.rig import COPPERS, Cable

SECTIONS = (0.5, 0.75, 1.0, 1.5, 2.5, 4.0, 6.0, 10.0, 16.0, 25.0, 35.0, 50.0, 70.0)
# [mm²] the standard series
LEAST_SECTION = 1.5
# [mm²] thinnest cable to buy: the rows of solar cable begin there (EN 50618), and so, from memory, do caravans
# (BS 7671 721); small craft may go down to 1.0 (ISO 10133 7.7)
TO_BUY = tuple(section for section in SECTIONS if section >= LEAST_SECTION)
# [mm²] what may be recommended
RESISTANCE = {
    "class 5 tinned": (40.1, 26.7, 20.0, 13.7, 8.21, 5.09, 3.39, 1.95, 1.24, 0.795, 0.565, 0.393, 0.277),
    "class 5 plain": (39.0, 26.0, 19.5, 13.3, 7.98, 4.95, 3.30, 1.91, 1.21, 0.780, 0.554, 0.386, 0.272),
    "class 2 tinned": (36.7, 24.8, 18.2, 12.2, 7.56, 4.70, 3.11, 1.84, 1.16, 0.734, 0.529, 0.391, 0.270),
    "class 2 plain": (36.0, 24.5, 18.1, 12.1, 7.41, 4.61, 3.08, 1.83, 1.15, 0.727, 0.524, 0.387, 0.268),
}
# [mohm/m at 20 °C] largest resistance by kind of conductor, section by section; IEC 60228
RESISTANCE_TINNED = dict(zip(SECTIONS, RESISTANCE[COPPERS[0]], strict=True))
# the same of what solar cable is made of, by section
COPPER_PER_K = 0.00393
# [1/K] rise of copper's resistance from 20 °C; IEC 60228
TEMP_MILD_COPPER = 20.0
# [°C] copper of a cable whose temperature is not named, for power at any moment: most of a year's are mild; no source


@lru_cache(maxsize=256)
def resistance(cable: Cable) -> float:
    """Resistance out and back, at the copper's temperature where it is named and at 20 °C where it is not. [ohm]

    Notes
    -----
    Between two standard sections the product of section and resistance is interpolated.

    Examples
    --------
    >>> round(resistance(Cable(length_m=7.0, section_mm2=4.0)), 4)
    0.0713
    """
    products = np.array(SECTIONS) * np.array(RESISTANCE[cable.copper])
    per_metre = np.interp(cable.section_mm2, SECTIONS, products) / cable.section_mm2 / 1000.0
    temp = TEMP_MILD_COPPER if cable.temp_conductor is None else cable.temp_conductor
    warm = 1.0 + COPPER_PER_K * (temp - 20.0)
    return float(2.0 * cable.length_m * per_metre * warm)
