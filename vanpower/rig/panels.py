"""A panel as its label describes it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import lru_cache

from vanpower.rig.checking import Checked, require, require_count, require_one_of, require_range

V_BYPASS = 0.5
# [V] forward drop of a Schottky bypass diode carrying a string's current; common practice, no source
V_CELL = 0.62
# [V] open-circuit volts of one silicon cell; median of the groups in tests/reference/cec_percentiles.csv
BETA_RANGE, GAMMA_RANGE = (-0.6, -0.2), (-0.9, -0.2)
# [%/K] silicon labels; from its 1st to its 99th percentile that file has -0.45 to -0.24 and -0.66 to -0.30
MOUNT_SLIPS = {
    "tilt": 'Tilted up with air all round is "open".',
    "bracket": 'On brackets is "gap".',
    "rail": 'On rails is "gap".',
    "stuck": 'Flat on the skin is "glued".',
    "flat": 'Flat on the skin is "glued"; on brackets it is "gap".',
    "flex": 'Flat on the skin is "glued".',
}


@dataclass(frozen=True, kw_only=True)
class Panel(Checked):
    """One panel as its label describes it, at 1000 W/m² and 25 °C.

    Parameters
    ----------
    v_oc, i_sc, v_mp, i_mp : float
        Open-circuit volts, short-circuit amps, volts and amps at best power. [V, A]
    cells_in_series : int
        Cells one after another between plus and minus; a half-cut panel of 120 half cells has 60.
    substrings : int
        Groups of cells that have a bypass diode each; without diodes, groups used for naming shade.
    branches : int
        1 for full cells; 2 for half-cut panels, whose two halves share each bypass diode.
    bypass_diodes : bool
        False for a panel without any.
    beta_voc_pct_per_k, gamma_pmp_pct_per_k, alpha_isc_pct_per_k : float, optional
        Temperature coefficients of volts, power and amps. [%/K] None takes a typical one, and answers say so.
    i_max_fuse : float, optional
        Largest series fuse the label allows. [A]
    p_label : float, optional
        Watts the label prints, only to hold volts times amps against. [W]
    v_bypass : float
        Drop of a conducting bypass diode at 10 A. [V]
    r_leak : float, optional
        Shunt that does not vanish with the light, as old and damaged panels have. [ohm]
    ideality : float, optional
        How fast volts fall with the light, for one cell; from a reading in dull light. None takes the one that suits
        the coefficient of volts, which is mostly too low.
    read_by : str, optional
        "watts" or "volts": what a reading in dull light gave, which tells how sure the two before are.
    tilt_deg, azimuth_deg : float
        How it lies: 0 is flat; the direction it faces counts clockwise from north.
    mount : str
        "open" (tilted up, air all round), "gap" (on brackets) or "glued" (flat on the skin): how hot it gets.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> round(Panel(name="100 W", **label).p_mp, 1)
    99.7
    """

    name: str
    v_oc: float
    i_sc: float
    v_mp: float
    i_mp: float
    cells_in_series: int
    substrings: int
    branches: int = 1
    bypass_diodes: bool = True
    beta_voc_pct_per_k: float | None = None
    gamma_pmp_pct_per_k: float | None = None
    alpha_isc_pct_per_k: float | None = None
    i_max_fuse: float | None = None
    p_label: float | None = None
    v_bypass: float = V_BYPASS
    r_leak: float | None = None
    ideality: float | None = None
    read_by: str | None = None
    tilt_deg: float = 0.0
    azimuth_deg: float = 180.0
    mount: str = "gap"

    def __post_init__(self) -> None:
        for field, low in (("v_oc", 1.0), ("v_mp", 0.5)):
            require_range(self, field, low, 200.0, above="Is the point missing? Are these millivolts?")
        for field, low, volts in (("i_sc", 0.05, "v_oc"), ("i_mp", 0.04, "v_mp")):
            require_range(self, field, low, 40.0, above=self._amps_slip(field, volts))
        volts = f"it must lie below v_oc, {self.v_oc:g} V"
        require(self.v_mp < self.v_oc, self, "v_mp", volts, "Are the two swapped?")
        amps = f"it must lie below i_sc, {self.i_sc:g} A"
        require(self.i_mp < self.i_sc, self, "i_mp", amps, "Are the two swapped?")
        self._check_cells()
        self._check_coefficients()
        self._check_mounting()

    def _check_cells(self) -> None:
        require_count(self, "cells_in_series", 1, 200)
        per_cell = self.v_oc / self.cells_in_series
        sense = f"{self.v_oc:g} V over that many is {per_cell:.2f} V a cell, and silicon gives 0.5 to 0.8 V"
        require(0.4 <= per_cell <= 0.85, self, "cells_in_series", sense, self._cells_slip(per_cell))
        require_count(self, "substrings", 1, 200)
        fits = self.cells_in_series % self.substrings == 0
        sense = f"the {self.cells_in_series} cells in series do not divide into that many equal groups"
        slip = f"{self._even_groups()} would; mostly 36 cells have 2 and 60 or 72 have 3."
        require(fits, self, "substrings", sense, slip)
        require_count(self, "branches", 1, 2)
        require_range(self, "v_bypass", 0.1, 1.2)
        require_range(self, "r_leak", 0.1, 1e6)
        require_range(self, "ideality", 0.5, 2.2, slip="One cell of silicon has 0.9 to 1.5.")

    def _amps_slip(self, amps: str, volts: str) -> str:
        """What too many amps may mean: volts, where they suit the cells and the volts beside them do not."""
        cells = self.cells_in_series
        read = isinstance(cells, int) and isinstance(self.i_sc, int | float) and 0 < cells <= 200
        if read and self.v_oc < 0.4 * cells <= self.i_sc <= 0.85 * cells:
            return f"Are {volts} and {amps} swapped? {volts} is {getattr(self, volts):g} V."
        return "Is the point missing? Are these milliamps?"

    def _cells_slip(self, per_cell: float) -> str:
        """What a count of cells that does not suit the volts may mean."""
        cells = self.cells_in_series
        if per_cell < 0.4 <= self.i_sc / cells <= 0.85:
            return f"Are v_oc and i_sc swapped? i_sc is {self.i_sc:g} A."
        if 0.2 <= per_cell < 0.4 and cells % 2 == 0:
            return f"Half-cut? {cells} half cells are {cells // 2} in series, with branches = 2."
        return f"About {max(1, round(self.v_oc / V_CELL))} in series would suit these volts."

    def _even_groups(self) -> str:
        """Small numbers of groups into which the cells divide."""
        *most, last = [str(n) for n in range(1, 7) if self.cells_in_series % n == 0]
        return f"{', '.join(most)} or {last}" if most else last

    def _check_coefficients(self) -> None:
        for field, (low, high) in (("beta_voc_pct_per_k", BETA_RANGE), ("gamma_pmp_pct_per_k", GAMMA_RANGE)):
            require_range(self, field, low, high, slip=self._coefficient_slip(field))
        per_panel = "Is it in A/K or mA/K? Here it is % of i_sc per kelvin."
        require_range(self, "alpha_isc_pct_per_k", -0.1, 0.3, slip=per_panel)

    def _coefficient_slip(self, field: str) -> str:
        """What an unlikely coefficient of volts or power may mean."""
        value = getattr(self, field)
        if not isinstance(value, int | float) or value == 0:
            return ""
        if value > 0:
            return "Is the minus sign missing?"
        whole, unit = (self.v_oc, "V/K") if field.startswith("beta") else (self.p_mp, "W/K")
        for factor, scale in ((1, ""), (1000, "m")):
            share = value / factor / whole * 100
            if BETA_RANGE[0] <= share <= BETA_RANGE[1]:
                return f"Is it {value:g} {scale}{unit}? That is {share:.2f} %/K of this panel."
        return "Here it is % per kelvin."

    def _check_mounting(self) -> None:
        require_range(self, "i_max_fuse", 1.0, 60.0, above="Are these milliamps?")
        require_range(self, "p_label", 0.1, 8000.0, above="Are these milliwatts?")
        require_range(self, "tilt_deg", 0.0, 90.0)
        require_range(self, "azimuth_deg", 0.0, 360.0, slip="North is 0, east 90, south 180, west 270.")
        require_one_of(self, "mount", ("open", "gap", "glued"), MOUNT_SLIPS)
        if self.read_by is not None:
            require_one_of(
                self, "read_by", ("watts", "volts"), {"both": 'With watts among what was read it is "watts".'}
            )

    @property
    def p_mp(self) -> float:
        """Label watts."""
        return self.v_mp * self.i_mp


@lru_cache(maxsize=256)
def nameless(panel: Panel) -> Panel:
    """The panel without its name, which says nothing of its power.

    Examples
    --------
    >>> from vanpower import example
    >>> one, other = example("bookmobile").panels
    >>> nameless(one) == nameless(other)
    True
    """
    return replace(panel, name="")
