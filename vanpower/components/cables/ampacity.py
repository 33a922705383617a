"""Current ratings of cables, by insulation, laying, surrounding air, bundling and terminals.

Rows of published tables are looked up: a section between two rows has the amps of the thinner one. The air corrects
them: by IEC rules with the law behind the printed factors, by US rules with the printed bands. Left out: sun on the
cable, engine heat, and by IEC rules the ratings of what it is screwed to.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from vanpower.components.cables.gauges import AREA_MM2, gauge_within
from vanpower.components.cables.resistance import TO_BUY
from vanpower.rig import PVC, SOLAR, XLPE, Cable

APART = {
    1.5: 30, 2.5: 41, 4.0: 55, 6.0: 70, 10.0: 98, 16.0: 132, 25.0: 176, 35.0: 218, 50.0: 276, 70.0: 347,
}  # fmt: skip
# [A] solar cable, one core in free air at 60 °C, conductor to 120 °C for 20 000 h; EN 50618 Table A.3, secondary copy
TOUCHING = {
    1.5: 23, 2.5: 32, 4.0: 44, 6.0: 57, 10.0: 77, 16.0: 104, 25.0: 136, 35.0: 168, 50.0: 218, 70.0: 278,
}  # fmt: skip
# [A] two solar cables touching on a surface at 60 °C: 6 mm² read in EN 50618 Table A.3, secondary copy; the others are
# `CLIPPED` for the same 60 K of rise with the resistance of copper at 120 instead of 90 °C, rounded down; where that
# is more (70 mm²), the row of Table A.3 as it is remembered
CLIPPED = {
    1.0: 19, 1.5: 25, 2.5: 34, 4.0: 46, 6.0: 59, 10.0: 81, 16.0: 109, 25.0: 143, 35.0: 176, 50.0: 228, 70.0: 293,
}  # fmt: skip
ENCLOSED = {
    1.0: 17, 1.5: 23, 2.5: 31, 4.0: 42, 6.0: 54, 10.0: 75, 16.0: 100, 25.0: 133, 35.0: 164, 50.0: 198, 70.0: 253,
}  # fmt: skip
# [A] single-core 90 °C cable at 30 °C, two for direct current, clipped touching and in conduit; BS 7671 Table 4E1A,
# reference methods C and B, secondary copy
PVC_CLIPPED = {
    1.0: 15.5, 1.5: 20, 2.5: 27, 4.0: 37, 6.0: 47, 10.0: 65, 16.0: 87, 25.0: 114, 35.0: 141, 50.0: 182, 70.0: 234,
}  # fmt: skip
PVC_ENCLOSED = {
    1.0: 13.5, 1.5: 17.5, 2.5: 24, 4.0: 32, 6.0: 41, 10.0: 57, 16.0: 76, 25.0: 101, 35.0: 125, 50.0: 151, 70.0: 192,
}  # fmt: skip
# [A] the same of 70 °C cable; BS 7671 Table 4D1A, reference methods C and B, secondary copy
US_FREE = {
    "14": (25, 30, 35), "12": (30, 35, 40), "10": (40, 50, 55), "8": (60, 70, 80), "6": (80, 95, 105),
    "4": (105, 125, 140), "3": (120, 145, 165), "2": (140, 170, 190), "1": (165, 195, 220), "1/0": (195, 230, 260),
    "2/0": (225, 265, 300), "3/0": (260, 310, 350), "4/0": (300, 360, 405),
}  # fmt: skip
US_ENCLOSED = {
    "14": (15, 20, 25), "12": (20, 25, 30), "10": (30, 35, 40), "8": (40, 50, 55), "6": (55, 65, 75),
    "4": (70, 85, 95), "3": (85, 100, 115), "2": (95, 115, 130), "1": (110, 130, 145), "1/0": (125, 150, 170),
    "2/0": (145, 175, 195), "3/0": (165, 200, 225), "4/0": (195, 230, 260),
}  # fmt: skip
US_COLUMNS = (60, 75, 90)
# [A] copper, 60, 75 and 90 °C columns at 30 °C, one core in free air and up to three in conduit or cable; US National
# Electrical Code 2017, Tables 310.15(B)(17) and (16)
US_SMALL = {"14": 15, "12": 20, "10": 30}
# [A] largest fuse of a thin conductor, whatever its insulation; US code 240.4(D), secondary copies
US_TERMINALS, TERMINALS_75_FROM = (60, 75), "1/0"
# [°C] column for terminals without a mark, from AWG 14 to 1 and from this gauge up; US code 110.14(C)(1), secondary
US_HEAT = {
    60: ((30, 1.00), (35, 0.91), (40, 0.82), (45, 0.71), (50, 0.58), (55, 0.41)),
    75: ((30, 1.00), (35, 0.94), (40, 0.88), (45, 0.82), (50, 0.75), (55, 0.67), (60, 0.58), (70, 0.33)),
    90: ((30, 1.00), (35, 0.96), (40, 0.91), (45, 0.87), (50, 0.82), (55, 0.76), (60, 0.71), (70, 0.58), (80, 0.41)),
}
# by column: (up to °C of air, factor); US National Electrical Code 2017, Table 690.31(A)
US_GROUPED = ((3, 1.00), (6, 0.80), (9, 0.70), (20, 0.50), (30, 0.45), (40, 0.40))
# (up to so many loaded conductors together, factor); US National Electrical Code 2017, Table 310.15(B)(3)(a), for
# Tables 310.15(B)(16) to (19)
BOUND = "our bound, stricter than IEC 60364-5-52 B.52.17"


@dataclass(frozen=True, kw_only=True)
class Table:
    """A published table of amps by section, for copper up to one temperature in air of another. [A, °C]"""

    name: str
    rows: Mapping[float, float]
    temp_most: float
    temp_row: float


_SOLAR_ROWS = "EN 50618, {} at 60 °C, copper to 120 °C for 20 000 h"
_FREE = Table(name=_SOLAR_ROWS.format("one core in free air"), rows=APART, temp_most=120.0, temp_row=60.0)
_PAIR = Table(name=_SOLAR_ROWS.format("two touching on a surface"), rows=TOUCHING, temp_most=120.0, temp_row=60.0)
_PIPED = {section: amps for section, amps in ENCLOSED.items() if section in APART}
_BS = "BS 7671 {} method {} at 30 °C"
_XLPE_C = Table(name=_BS.format("4E1A", "C, 90 °C cable clipped"), rows=CLIPPED, temp_most=90.0, temp_row=30.0)
_XLPE_B = Table(name=_BS.format("4E1A", "B, 90 °C cable in conduit"), rows=ENCLOSED, temp_most=90.0, temp_row=30.0)
_PVC_C = Table(name=_BS.format("4D1A", "C, 70 °C cable clipped"), rows=PVC_CLIPPED, temp_most=70.0, temp_row=30.0)
_PVC_B = Table(name=_BS.format("4D1A", "B, 70 °C cable in conduit"), rows=PVC_ENCLOSED, temp_most=70.0, temp_row=30.0)
IEC_TABLES = {
    (SOLAR, "apart"): _FREE,
    (SOLAR, "surface"): _PAIR,
    (SOLAR, "conduit"): replace(_XLPE_B, rows=_PIPED),
    (XLPE, "apart"): _XLPE_C,
    (XLPE, "surface"): _XLPE_C,
    (XLPE, "conduit"): _XLPE_B,
    (PVC, "apart"): _PVC_C,
    (PVC, "surface"): _PVC_C,
    (PVC, "conduit"): _PVC_B,
}
# by insulation and laying; EN 50618 has no row for conduit, so solar cable has those of 90 °C cable there; the columns
# for free air of the others begin at 25 mm², so clipped counts
US_COLUMN = {PVC: 60, XLPE: 90, SOLAR: 90}
# [°C] column of the US tables that is not above the insulation's own


@dataclass(frozen=True, kw_only=True)
class Ampacity:
    """Current rating of a cable as it is laid, and the table rows it comes from.

    Parameters
    ----------
    amps : float
        Corrected for air temperature and bundling; zero where the tables have no value. [A]
    uncorrected : float
        The table's value before these corrections. [A]
    ends : float
        What its terminals, and the rule for thin conductors, allow before these corrections; as `uncorrected` by IEC
        rules. [A]
    words : str
        Table, row and factors.

    Examples
    --------
    >>> found = ampacity(Cable(length_m=5.0, section_mm2=6.0))
    >>> found.amps, found.ends, found.guarded
    (57.0, 57, 57.0)
    """

    amps: float
    uncorrected: float
    ends: float
    words: str

    @property
    def guarded(self) -> float:
        """The largest fuse that still guards it. [A]"""
        return min(self.amps, self.ends)


def heat_factor(temp: float, temp_most: float, temp_row: float) -> float:
    """Factor for air hotter than a table is for, two digits as tables print it; zero where no room is left.

    Notes
    -----
    The rise goes with the square of the current: sqrt((most - air) / (most - air of the table)); US code 310.15(B)(2).

    Examples
    --------
    >>> heat_factor(60, 90, 30), heat_factor(61, 90, 30), heat_factor(20, 90, 30), heat_factor(90, 90, 30)
    (0.71, 0.7, 1.0, 0.0)
    """
    return min(round(math.sqrt(max(temp_most - temp, 0.0) / (temp_most - temp_row)), 2), 1.0)


def us_heat_factor(temp: float, column: int) -> float:
    """Factor of the US code for the air around a cable: between two rows the hotter counts, beyond the last it is zero.

    Examples
    --------
    >>> us_heat_factor(60, 90), us_heat_factor(61, 90), us_heat_factor(81, 90)
    (0.71, 0.58, 0.0)
    """
    return next((factor for upto, factor in US_HEAT[column] if temp <= upto), 0.0)


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


def row_of(section_mm2: float, table: Mapping[float, float]) -> tuple[float, float]:
    """Section and amps of the thickest row that is not thicker than the cable; zero amps below the first."""
    return next(((s, amps) for s, amps in reversed(list(table.items())) if s <= 1.001 * section_mm2), (0.0, 0.0))


def ampacity(cable: Cable, rule_book: str = "IEC") -> Ampacity:
    """Current rating of a cable as it is laid, by the rules of "IEC" or "US".

    What the cable leaves open is taken as on a roof; hand in `Cable.at_battery` for the run to the battery.

    Examples
    --------
    >>> ampacity(Cable(section_mm2=6.0)).amps, ampacity(Cable(section_mm2=6.0, laying="apart")).amps
    (57.0, 70.0)
    >>> ampacity(Cable(section_mm2=6.0).at_battery).amps  # PVC at 50 °C: 47 A x 0.71
    33.37
    """
    return _us(cable.on_roof) if rule_book == "US" else _iec(cable.on_roof)


def section_carrying(cable: Cable, amps: float, rule_book: str = "IEC") -> float | None:
    """Smallest standard section that a fuse of so many amps guards as this cable is laid, or None. [mm²]

    Examples
    --------
    >>> section_carrying(Cable(length_m=5.0, section_mm2=4.0), 5000.0) is None
    True
    >>> more = section_carrying(Cable(length_m=5.0, section_mm2=4.0), 50.0)
    >>> more > 4.0 and ampacity(Cable(length_m=5.0, section_mm2=more)).amps >= 50.0
    True
    """
    fits = (s for s in TO_BUY if ampacity(replace(cable, section_mm2=s), rule_book).guarded >= amps)
    return next(fits, None)


def table_of(cable: Cable) -> Table:
    """The table of IEC rules for a cable as it is laid.

    Examples
    --------
    >>> table_of(Cable()).temp_most, table_of(Cable().at_battery).temp_most
    (120.0, 70.0)
    """
    laid = cable.on_roof
    assert laid.insulation is not None
    return IEC_TABLES[laid.insulation, laid.laying]


def _iec(cable: Cable) -> Ampacity:
    """Amps by one table of sections, which IEC rules go by."""
    table, around = table_of(cable), _around(cable)
    section, row = row_of(cable.section_mm2, table.rows)
    bundle = bundle_factor(cable.bundled)
    why = f"{bundle:.2f} for {cable.bundled} circuits in a bundle ({BOUND})"
    thinner = "" if abs(cable.section_mm2 / max(section, 0.1) - 1) <= 0.001 else _thinner(cable)
    heat = heat_factor(around, table.temp_most, table.temp_row)
    told = _told(table.name, f"{section:g} mm²", row, thinner, cable, heat, (bundle, why))
    return Ampacity(amps=row * heat * bundle, uncorrected=row, ends=row, words=told)


def _us(cable: Cable) -> Ampacity:
    """Amps by the US tables: the column of the insulation corrected, the column of the terminals as it is."""
    assert cable.insulation is not None
    gauge, column = gauge_within(cable.section_mm2) or "", US_COLUMN[cable.insulation]
    table, number = (US_FREE, 17) if cable.laying == "apart" else (US_ENCLOSED, 16)
    name = f"US code 2017 Table 310.15(B)({number}), {column} °C column at 30 °C"
    if gauge not in table:
        return Ampacity(amps=0.0, uncorrected=0.0, ends=0.0, words=_told(name, "", 0.0, "", cable, 1.0, (1.0, "")))
    row = float(table[gauge][US_COLUMNS.index(column)])
    exact = cable.section_mm2 <= 1.005 * AREA_MM2[gauge]
    which = f"AWG {gauge}" + ("" if exact else f", the gauge within {cable.section_mm2:g} mm²")
    bundle = bundle_factor(cable.bundled, "US")
    why = f"{bundle:g} for {2 * cable.bundled} conductors together (310.15(B)(3)(a))"
    heat = us_heat_factor(_around(cable), column)
    ends, ends_words = _us_ends(cable, gauge, column)
    told = _told(name, which, row, "", cable, heat, (bundle, why))
    return Ampacity(amps=row * heat * bundle, uncorrected=row, ends=ends, words=f"{told}; {ends_words}")


def _us_ends(cable: Cable, gauge: str, column: int) -> tuple[float, str]:
    """What terminals and the rule for thin conductors allow, and the words for it."""
    thick = AREA_MM2[gauge] >= AREA_MM2[TERMINALS_75_FROM]
    marked = US_TERMINALS[thick] if cable.temp_terminals is None else cable.temp_terminals
    at = max(c for c in US_COLUMNS if c <= min(marked, column))
    ends = US_ENCLOSED[gauge][US_COLUMNS.index(at)]
    small = US_SMALL.get(gauge, ends)
    if small < ends:
        return float(small), f"a thin conductor's fuse {small} A (240.4(D))"
    return float(ends), f"terminals of {at} °C {ends} A (110.14(C))"


def _around(cable: Cable) -> float:
    """The air around a cable of which nothing is left open. [°C]"""
    assert cable.temp_around is not None
    return cable.temp_around


def _thinner(cable: Cable) -> str:
    """Said of a section between two rows."""
    return f" (no row for {cable.section_mm2:g} mm², the thinner one counts)"


def _told(name: str, which: str, row: float, thinner: str, cable: Cable, heat: float, bundle: tuple[float, str]) -> str:
    """What was looked up: table, row, and factors for air temperature and bundling."""
    if not row:
        return f"{name}: silent about {cable.section_mm2:g} mm²"
    if not heat:
        return f"{name}: no amps in air of {_around(cable):g} °C"
    factors = [f"{heat:g} for {_around(cable):g} °C"] * (heat != 1.0) + [bundle[1]] * (cable.bundled > 1)
    return f"{name}, {which}: {row:g} A{thinner}" + "".join(f" x {factor}" for factor in factors)
