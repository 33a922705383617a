"""What current a cable may carry, by the rows of published tables.

A row is looked up, never stretched: a section between two rows has the amps of the thinner one, a temperature between
two rows the factor of the hotter one, and beyond the last row the table is silent. Left out: engine heat, sun on the
cable, and the ratings of what it is screwed to.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

from vanpower.cables.copper import SECTIONS
from vanpower.cables.gauges import AREA_MM2, gauge_within
from vanpower.rig import Cable

APART = {
    1.5: 30, 2.5: 41, 4.0: 55, 6.0: 70, 10.0: 98, 16.0: 132, 25.0: 176, 35.0: 218, 50.0: 276, 70.0: 347,
}  # fmt: skip
# [A] solar cable, one core in free air at 60 °C, conductor to 120 °C for 20 000 h; EN 50618 Table A.3, secondary copy
TOUCHING = {
    1.5: 24, 2.5: 33, 4.0: 44, 6.0: 57, 10.0: 79, 16.0: 107, 25.0: 142, 35.0: 176, 50.0: 221, 70.0: 278,
}  # fmt: skip
# [A] two touching on a surface; same table, from memory but for 6 mm² (secondary copy)
COPPER_120 = ", copper to 120 °C for 20 000 h"
# what both rest on
TOUCHING_SURE = (6.0,)
# [mm²] rows of it that were read
CLIPPED = {
    1.0: 19, 1.5: 25, 2.5: 34, 4.0: 46, 6.0: 59, 10.0: 81, 16.0: 109, 25.0: 143, 35.0: 176, 50.0: 228, 70.0: 293,
}  # fmt: skip
ENCLOSED = {
    1.0: 17, 1.5: 23, 2.5: 31, 4.0: 42, 6.0: 54, 10.0: 75, 16.0: 100, 25.0: 133, 35.0: 164, 50.0: 198, 70.0: 253,
}  # fmt: skip
# [A] single-core 90 °C cable at 30 °C, two for direct current, clipped touching and in conduit; BS 7671 Table 4E1A,
# reference methods C and B, secondary copy
US_FREE = {
    "14": 35, "12": 40, "10": 55, "8": 80, "6": 105, "4": 140, "3": 165, "2": 190, "1": 220,
    "1/0": 260, "2/0": 300, "3/0": 350, "4/0": 405,
}  # fmt: skip
US_ENCLOSED = {
    "14": 25, "12": 30, "10": 40, "8": 55, "6": 75, "4": 95, "3": 115, "2": 130, "1": 145,
    "1/0": 170, "2/0": 195, "3/0": 225, "4/0": 260,
}  # fmt: skip
# [A] copper, 90 °C column at 30 °C, one core in free air and up to three in conduit or cable; US National Electrical
# Code 2017, Tables 310.15(B)(17) and (16)
HOT_120 = ((60, 1.00), (70, 0.91), (80, 0.82), (90, 0.71), (100, 0.58), (110, 0.41))
# (up to °C of air, factor) for 120 °C conductors, the square-root law; secondary copy. The table of EN 50618 is
# remembered as 0.92, 0.84, 0.75, which is more
HOT_90 = (
    (30, 1.00), (35, 0.96), (40, 0.91), (45, 0.87), (50, 0.82), (55, 0.76), (60, 0.71), (70, 0.58), (80, 0.41),
)  # fmt: skip
# (up to °C of air, factor) for 90 °C conductors; US National Electrical Code 2017, Table 690.31(A)
US_GROUPED = ((3, 1.00), (6, 0.80), (9, 0.70), (20, 0.50), (30, 0.45), (40, 0.40))
# (up to so many loaded conductors together, factor); US National Electrical Code 2017, Table 310.15(B)(3)(a), for
# Tables 310.15(B)(16) to (19)


@dataclass(frozen=True, kw_only=True)
class Ampacity:
    """What current a cable may carry, and which rows say so.

    Parameters
    ----------
    amps : float
        By rows that were read; zero where the tables are silent. [A]
    remembered : float
        By the most generous row, which may be remembered only. [A]
    uncorrected : float
        The row of `amps` before heat and bundle, which the US rules ask for too. [A]
    words : str
        Table, row and factors.

    Examples
    --------
    >>> found = ampacity(Cable(length_m=5.0, section_mm2=6.0))
    >>> found.amps <= found.remembered
    True
    """

    amps: float
    remembered: float
    uncorrected: float
    words: str


def heat_factor(temp: float, factors: tuple[tuple[int, float], ...]) -> float:
    """Factor for the air around a cable; between two rows the hotter one counts, beyond the last it is zero.

    Examples
    --------
    >>> heat_factor(60, HOT_90), heat_factor(61, HOT_90), heat_factor(81, HOT_90)
    (0.71, 0.58, 0.0)
    """
    return next((factor for upto, factor in factors if temp <= upto), 0.0)


def bundle_factor(circuits: int, rule_book: str = "IEC") -> float:
    """Factor for circuits in one bundle, plus and minus of each, by the rules of "IEC" or "US".

    Notes
    -----
    US: the table of the code, two conductors a circuit. IEC: all heat of a bundle must leave by a surface no smaller
    than that of one circuit, and heat goes with the square of the current, so one over the root of the number; computed
    here. IEC 60364-5-52 Table B.52.17, of which only secondary copies could be read, allows more (0.80 for two).

    Examples
    --------
    >>> bundle_factor(2, "US"), round(bundle_factor(2), 3)
    (0.8, 0.707)
    """
    if rule_book == "US":
        return next(factor for upto, factor in US_GROUPED if 2 * circuits <= upto)
    return 1.0 / math.sqrt(circuits)


def row_of(section_mm2: float, table: dict[float, int]) -> tuple[float, int]:
    """Section and amps of the thickest row that is not thicker than the cable; zero amps below the first."""
    return next(((s, amps) for s, amps in reversed(table.items()) if s <= 1.001 * section_mm2), (0.0, 0))


def ampacity(cable: Cable, rule_book: str = "IEC") -> Ampacity:
    """What current a cable may carry as it is laid, by the rules of "IEC" or "US".

    Examples
    --------
    >>> ampacity(Cable(section_mm2=6.0)).amps, ampacity(Cable(section_mm2=6.0, laying="apart")).amps
    (57.0, 70.0)
    """
    if rule_book == "US":
        return _us(cable)
    if cable.laying == "apart":
        return _by_row(cable, APART, HOT_120, f"EN 50618, one core in free air at 60 °C{COPPER_120}")
    if cable.laying == "conduit":
        return _by_row(cable, ENCLOSED, HOT_90, "BS 7671 4E1A method B, 90 °C cable in conduit at 30 °C")
    clipped = _by_row(cable, CLIPPED, HOT_90, "BS 7671 4E1A method C, 90 °C cable clipped at 30 °C")
    solar = _by_row(cable, TOUCHING, HOT_120, f"EN 50618, two touching on a surface at 60 °C{COPPER_120}")
    if row_of(cable.section_mm2, TOUCHING)[0] in TOUCHING_SURE:
        return solar
    words = f"{clipped.words}; {solar.words} would allow {solar.amps:.0f} A, from memory"
    return replace(clipped, remembered=max(clipped.amps, solar.amps), words=words)


def section_carrying(cable: Cable, amps: float, rule_book: str = "IEC") -> float | None:
    """Smallest standard section that may carry so many amps as this cable is laid, or None. [mm²]

    Examples
    --------
    >>> section_carrying(Cable(length_m=5.0, section_mm2=4.0), 5000.0) is None
    True
    >>> more = section_carrying(Cable(length_m=5.0, section_mm2=4.0), 50.0)
    >>> more > 4.0 and ampacity(Cable(length_m=5.0, section_mm2=more)).amps >= 50.0
    True
    """
    for section in SECTIONS:
        if ampacity(replace(cable, section_mm2=section), rule_book).amps >= amps:
            return section
    return None


def _by_row(cable: Cable, table: dict[float, int], hot: tuple[tuple[int, float], ...], name: str) -> Ampacity:
    """Amps by one table of sections, which IEC rules go by."""
    section, row = row_of(cable.section_mm2, table)
    bundle = bundle_factor(cable.bundled)
    why = f"{bundle:.2f} for {cable.bundled} circuits in a bundle (our bound, stricter than IEC 60364-5-52 B.52.17)"
    return _corrected(cable, row, f"{section:g} mm²" if row else "", hot, (bundle, why), name)


def _us(cable: Cable) -> Ampacity:
    """Amps by the US tables, 90 °C column."""
    gauge = gauge_within(cable.section_mm2) or ""
    table, number = (US_FREE, 17) if cable.laying == "apart" else (US_ENCLOSED, 16)
    row, name = table.get(gauge, 0), f"US code 2017 Table 310.15(B)({number}), 90 °C column at 30 °C"
    exact = row and cable.section_mm2 <= 1.005 * AREA_MM2[gauge]
    words = f"AWG {gauge}" + ("" if exact else f", the gauge within {cable.section_mm2:g} mm²") if row else ""
    bundle = bundle_factor(cable.bundled, "US")
    why = f"{bundle:g} for {2 * cable.bundled} conductors together (310.15(B)(3)(a))"
    return _corrected(cable, row, words, HOT_90, (bundle, why), name)


def _corrected(
    cable: Cable, row: int, row_words: str, hot: tuple[tuple[int, float], ...], bundle: tuple[float, str], name: str
) -> Ampacity:
    """A row with its factors for heat and bundle, and what was looked up."""
    heat = heat_factor(cable.temp_around, hot)
    if not row:
        words = f"{name}: silent about {cable.section_mm2:g} mm²"
        return Ampacity(amps=0.0, remembered=0.0, uncorrected=0.0, words=words)
    if not heat:
        words = f"{name}: silent above {hot[-1][0]} °C of air"
        return Ampacity(amps=0.0, remembered=0.0, uncorrected=float(row), words=words)
    between = "AWG" not in row_words and abs(cable.section_mm2 / float(row_words.split()[0]) - 1) > 0.001
    thinner = f" (no row for {cable.section_mm2:g} mm², the thinner one counts)" * between
    factors = [f"{heat:g} for {cable.temp_around:g} °C"] * (heat != 1.0)
    factors += [bundle[1]] * (cable.bundled > 1)
    times = "".join(f" x {factor}" for factor in factors)
    amps = row * heat * bundle[0]
    words = f"{name}, {row_words}: {row} A{thinner}{times}"
    return Ampacity(amps=amps, remembered=amps, uncorrected=float(row), words=words)
