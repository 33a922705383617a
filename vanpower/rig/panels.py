"""A panel as its label describes it."""

from __future__ import annotations

from dataclasses import replace
from functools import lru_cache

from vanpower.rig.fields import Description, number, require, text, whole, word, yes_or_no

V_BYPASS = 0.5
# [V] forward drop of a Schottky bypass diode carrying a string's current; common practice, no source
V_CELL = 0.62
# [V] open-circuit volts of one silicon cell; median of the groups in tests/reference/cec_percentiles.csv
BETA_RANGE, GAMMA_RANGE = (-0.6, -0.2), (-0.9, -0.2)
# [%/K] silicon labels; from its 1st to its 99th percentile that file has -0.45 to -0.24 and -0.66 to -0.30
POINT_SLIP = "Is the point missing? Are these millivolts?"
MOUNT_SLIPS = {
    "tilt": 'Tilted up with air all round is "open".',
    "bracket": 'On brackets is "gap".',
    "rail": 'On rails is "gap".',
    "stuck": 'Flat on the skin is "glued".',
    "flat": 'Flat on the skin is "glued"; on brackets it is "gap".',
    "flex": 'Flat on the skin is "glued".',
}


class Panel(Description):
    """One panel: the ratings on its label, at 1000 W/m² and 25 °C, and how it is mounted.

    Examples
    --------
    >>> label = dict(v_oc=22.2, i_sc=6.0, v_mp=17.8, i_mp=5.6, cells_in_series=36, substrings=2)
    >>> round(Panel(name="100 W", **label).p_mp, 1)
    99.7
    """

    name: str = text("what charts call it")
    v_oc: float = number(1.0, 200.0, "open-circuit voltage", above=POINT_SLIP)
    i_sc: float = number(0.05, 40.0, "short-circuit current", above=lambda panel: _amps_slip(panel, "i_sc", "v_oc"))
    v_mp: float = number(0.5, 200.0, "voltage at best power", above=POINT_SLIP)
    i_mp: float = number(0.04, 40.0, "current at best power", above=lambda panel: _amps_slip(panel, "i_mp", "v_mp"))
    cells_in_series: int = whole(
        1, 200, "cells in series between plus and minus; of half-cut cells count one half",
        more="A half-cut panel of 120 half cells has 60.",
    )  # fmt: skip
    substrings: int = whole(
        1, 200, "groups of cells, each under its bypass diode", more="Without diodes, groups used for naming shade."
    )
    branches: int = whole(
        1, 2, "1 with full cells, 2 with half-cut ones", default=1, more="The two halves share each bypass diode."
    )
    bypass_diodes: bool = yes_or_no("false for a panel without bypass diodes", default=True)
    beta_voc_pct_per_k: float | None = number(
        *BETA_RANGE, "change of v_oc with heat", default=None,
        slip=lambda panel: _coefficient_slip(panel, "beta_voc_pct_per_k", panel.v_oc, "V/K"),
        more="None takes a typical one, and answers say so.",
    )  # fmt: skip
    gamma_pmp_pct_per_k: float | None = number(
        *GAMMA_RANGE, "change of power with heat", default=None,
        slip=lambda panel: _coefficient_slip(panel, "gamma_pmp_pct_per_k", panel.p_mp, "W/K"),
        more="None takes a typical one, and answers say so.",
    )  # fmt: skip
    alpha_isc_pct_per_k: float | None = number(
        -0.1, 0.3, "change of i_sc with heat", default=None,
        slip="Is it in A/K or mA/K? Here it is % of i_sc per kelvin.",
        more="None takes a typical one, and answers say so.",
    )  # fmt: skip
    i_max_fuse: float | None = number(
        1.0, 60.0, "largest series fuse that the label allows", default=None, above="Are these milliamps?"
    )
    p_label: float | None = number(
        0.1, 8000.0, "power as printed, only to be checked", default=None, above="Are these milliwatts?",
        more="Volts times amps are held against them.",
    )  # fmt: skip
    v_bypass: float = number(0.1, 1.2, "voltage across a bypass diode that conducts, some 10 A", default=V_BYPASS)
    r_leak: float | None = number(
        0.1,
        1e6,
        "resistance of the leak in an old or damaged panel",
        default=None,
        more="A shunt that does not vanish with the light.",
    )
    ideality: float | None = number(
        0.5, 2.2, "how volts fall with the light, from a dull reading: ideality of one cell", default=None,
        slip="One cell of silicon has 0.9 to 1.5.",
        more="None takes the one that suits the coefficient of volts, which is mostly too low.",
    )  # fmt: skip
    read_by: str | None = word(
        ("watts", "volts"), '"watts" or "volts": what the dull reading gave', default=None,
        slips={"both": 'With watts among what was read it is "watts".'},
        more="It tells how sure leak and ideality are.",
    )  # fmt: skip
    tilt_deg: float = number(0.0, 90.0, "how steep it stands, 0 is flat", default=0.0)
    azimuth_deg: float = number(
        0.0, 360.0, "which way it faces, 90 is east, 180 south", default=180.0,
        slip="North is 0, east 90, south 180, west 270.",
        more="Clockwise from north.",
    )  # fmt: skip
    turn_deg: float = number(
        0.0, 90.0, "turned by hand after the sun: so far to the east until noon, to the west after it", default=0.0,
        slip="Half the sun's way of a morning is 45.",
        more="0 is left as it stands; turned, it faces its own way beside the van.",
    )  # fmt: skip
    mount: str = word(
        ("open", "gap", "glued"), 'how it is mounted: "open" with air all round, "gap" on brackets, "glued"',
        default="gap", slips=MOUNT_SLIPS,
        more="How hot it gets: open is tilted up, glued lies flat on the skin.",
    )  # fmt: skip

    def together(self) -> None:
        """Check the label against itself: best point below open and short circuit, cells that suit voltage and groups.

        Raises
        ------
        ValueError
            For a label that cannot be, with the likely slip.
        """
        volts = f"it must lie below v_oc, {self.v_oc:g} V"
        require(self.v_mp < self.v_oc, self, "v_mp", volts, "Are the two swapped?", other="v_oc")
        amps = f"it must lie below i_sc, {self.i_sc:g} A"
        require(self.i_mp < self.i_sc, self, "i_mp", amps, "Are the two swapped?", other="i_sc")
        per_cell = self.v_oc / self.cells_in_series
        sense = f"{self.v_oc:g} V over that many is {per_cell:.2f} V a cell, and silicon gives 0.5 to 0.8 V"
        require(0.4 <= per_cell <= 0.85, self, "cells_in_series", sense, self._cells_slip(per_cell))
        tilted = self.turn_deg == 0 or self.tilt_deg > 0
        require(tilted, self, "turn_deg", "only a tilted panel is turned after the sun", "Write tilt_deg beside it.")
        fits = self.cells_in_series % self.substrings == 0
        sense = f"the {self.cells_in_series} cells in series do not divide into that many equal groups"
        slip = f"{self._even_groups()} would; mostly 36 cells have 2 and 60 or 72 have 3."
        require(fits, self, "substrings", sense, slip)

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

    @property
    def p_mp(self) -> float:
        """Power at the best point by the label, v_mp times i_mp. [W]"""
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


def _amps_slip(panel: Panel, amps: str, volts: str) -> str:
    """What too many amps may mean: volts, where they suit the cells and the volts beside them do not."""
    cells = panel.cells_in_series
    read = isinstance(cells, int) and isinstance(panel.i_sc, int | float) and 0 < cells <= 200
    if read and panel.v_oc < 0.4 * cells <= panel.i_sc <= 0.85 * cells:
        return f"Are {volts} and {amps} swapped? {volts} is {getattr(panel, volts):g} V."
    return "Is the point missing? Are these milliamps?"


def _coefficient_slip(panel: Panel, field: str, whole: float, unit: str) -> str:
    """What an unlikely coefficient of volts or power may mean, of a panel that has so many."""
    value = getattr(panel, field)
    if not isinstance(value, int | float) or value == 0:
        return ""
    if value > 0:
        return "Is the minus sign missing?"
    for factor, scale in ((1, ""), (1000, "m")):
        share = value / factor / whole * 100
        if BETA_RANGE[0] <= share <= BETA_RANGE[1]:
            return f"Is it {value:g} {scale}{unit}? That is {share:.2f} %/K of this panel."
    return "Here it is % per kelvin."
