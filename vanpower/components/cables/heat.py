"""How hot the copper of a cable gets, and what it then costs in volts and watts.

Air and current decide: the rise over the air goes with the square of the current, and at the amps of its table the
copper has all that its insulation stands. Where a cable names its copper's temperature, that counts.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

from vanpower.components.cables.ampacity import bundle_factor, row_of, table_of
from vanpower.components.cables.resistance import TO_BUY, resistance
from vanpower.rig import Cable


def temp_copper(cable: Cable, current: float) -> float:
    """Copper temperature of a cable that carries a current for hours in its hottest air, up to its insulation's. [°C]

    Notes
    -----
    air + (most - air of the table) x (current / amps of the table)², by IEC 60287's balance of heat with the copper's
    own rise of resistance left out: on the hot side below the amps of the table.

    Examples
    --------
    >>> temp_copper(Cable(section_mm2=6.0), 0.0), temp_copper(Cable(section_mm2=6.0), 57.0)
    (60.0, 120.0)
    >>> temp_copper(Cable(temp_conductor=35.0), 57.0)
    35.0
    """
    if cable.temp_conductor is not None:
        return cable.temp_conductor
    table, around = table_of(cable), cable.on_roof.temp_around
    assert around is not None
    rise = (table.temp_most - table.temp_row) * (current / _carried(cable, table.rows)) ** 2
    return min(around + rise, max(table.temp_most, around))


def warmed(cable: Cable, current: float) -> Cable:
    """The cable with the copper temperature that a current gives it.

    Examples
    --------
    >>> warmed(Cable(section_mm2=6.0), 0.0).temp_conductor
    60.0
    """
    return replace(cable, temp_conductor=temp_copper(cable, current))


def cost(cable: Cable, current: float) -> tuple[float, float]:
    """Voltage drop and power loss of a cable at a current, with the copper as hot as that makes it. [V, W]

    Examples
    --------
    >>> volts, watts = cost(Cable(length_m=7.0, section_mm2=4.0, temp_conductor=20.0), 27.0)
    >>> round(volts, 2), round(watts)
    (1.92, 52)
    """
    ohms = resistance(warmed(cable, current))
    return ohms * current, ohms * current**2


def section_for(cable: Cable, current: float, v_most: float) -> float | None:
    """Smallest standard section of the same run that drops at most so many volts at a current, or None. [mm²]

    Examples
    --------
    >>> run = Cable(length_m=7.0, section_mm2=4.0, temp_conductor=20.0)
    >>> section_for(run, 27.0, 0.81), section_for(run, 27.0, 1e-9)
    (10.0, None)
    """
    return next((s for s in TO_BUY if cost(replace(cable, section_mm2=s), current)[0] <= v_most), None)


def _carried(cable: Cable, rows: Mapping[float, float]) -> float:
    """Amps of the cable's row and bundle; thinner than the first row in proportion to the section. [A]"""
    row = row_of(cable.section_mm2, rows)[1]
    if not row:
        first, amps = next(iter(rows.items()))
        row = amps * cable.section_mm2 / first
    return row * bundle_factor(cable.bundled)
