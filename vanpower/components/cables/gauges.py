"""American wire gauges (AWG) beside square millimetres."""

from __future__ import annotations

AREA_MM2 = {
    "18": 0.823, "16": 1.31, "14": 2.08, "12": 3.31, "10": 5.261, "8": 8.367, "6": 13.30, "4": 21.15,
    "3": 26.67, "2": 33.62, "1": 42.41, "1/0": 53.49, "2/0": 67.43, "3/0": 85.01, "4/0": 107.2,
}  # fmt: skip
# [mm²] copper by gauge, thin to thick; US National Electrical Code 2017, chapter 9, Table 8
ROUNDED = 1.005
# [-] a section written with two digits may be so much larger than the gauge it stands for


def gauge_for(section_mm2: float) -> str | None:
    """Thinnest gauge with at least this much copper, or None.

    Examples
    --------
    >>> gauge_for(6.0), gauge_for(5.26)
    ('8', '10')
    """
    return next((gauge for gauge, area in AREA_MM2.items() if ROUNDED * area >= section_mm2), None)


def gauge_within(section_mm2: float) -> str | None:
    """Thickest gauge with at most this much copper, or None.

    Examples
    --------
    >>> gauge_within(6.0), gauge_within(5.26)
    ('10', '10')
    """
    return next((gauge for gauge, area in reversed(AREA_MM2.items()) if area <= ROUNDED * section_mm2), None)


def both(section_mm2: float) -> str:
    """A standard section with the gauge to buy instead.

    Examples
    --------
    >>> both(6.0)
    '6 mm² (AWG 8)'
    """
    gauge = gauge_for(section_mm2)
    return f"{section_mm2:g} mm²" + (f" (AWG {gauge})" if gauge else "")
