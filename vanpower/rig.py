"""What stands on the roof and under the bed, in the words of labels and tape measures.

Frozen descriptions: they are compared, hashed, replaced and written to files, and hold no physics. An
impossible description is refused here, with the field, the value, what would make sense and the likely slip.
Left out: where things lie on the roof, which the shade of fixtures will need.
"""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Integral, Real

V_BYPASS = 0.5
# [V] forward drop of a Schottky bypass diode carrying a string's current; common practice, no source
V_START_MARGIN = 5.0
# [V] array above battery before a controller wakes; common practice, no source
V_HOLD_MARGIN = 1.0
# [V] array above battery that keeps it awake; common practice, no source
V_CELL = 0.62
# [V] open-circuit volts of one silicon cell; median of the groups in tests/reference/cec_percentiles.csv
BETA_RANGE, GAMMA_RANGE = (-0.6, -0.2), (-0.9, -0.2)
# [%/K] silicon labels; from its 1st to its 99th percentile that file has -0.45 to -0.24 and -0.66 to -0.30
LONGEST_QUOTE = 60
# characters of a refused value that a message repeats

UNITS_BEFORE = {"v_": "V", "i_": "A", "p_": "W", "r_": "ohm", "temp_": "°C"}
UNITS_BEHIND = {
    "_pct_per_k": "%/K",
    "_pct": "%",
    "_mm2": "mm²",
    "_m": "m",
    "_ah": "Ah",
    "_deg": "degrees",
}


def unit_of(field: str) -> str:
    """The unit a field's name carries, by prefix or at its end; empty where it carries none.

    Examples
    --------
    >>> unit_of("v_oc"), unit_of("section_mm2"), unit_of("mount")
    ('V', 'mm²', '')
    """
    behind = [unit for end, unit in UNITS_BEHIND.items() if field.endswith(end)]
    before = [unit for start, unit in UNITS_BEFORE.items() if field.startswith(start)]
    return (behind + before + [""])[0]


MOUNT_SLIPS = {
    "tilt": 'Tilted up with air all round is "open".',
    "bracket": 'On brackets is "gap".',
    "rail": 'On rails is "gap".',
    "stuck": 'Flat on the skin is "glued".',
    "flat": 'Flat on the skin is "glued"; on brackets it is "gap".',
    "flex": 'Flat on the skin is "glued".',
}
TRACKER_SLIPS = {
    "pwm": 'A plain switch, without a converter, is "direct".',
    "mppt": 'One that looks over the whole curve is "sweep", one that keeps the first hill "climb".',
}
CHEMISTRY_SLIPS = {
    "li": 'Is "lithium iron phosphate" meant?',
    "lfp": 'Is "lithium iron phosphate" meant?',
    "agm": 'That is a "lead-acid" battery.',
    "gel": 'That is a "lead-acid" battery.',
    "lead": 'Is "lead-acid" meant?',
}
# part of what people write, and what it is called here


class _Checked:
    """Lets pydantic refuse unknown keys when a description is read from a file."""

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012


def _shown(field: str, value: object) -> str:
    """A value as a message repeats it: numbers with their unit, anything else in short."""
    if isinstance(value, float):
        return f"{value:.10g} {unit_of(field)}".strip()
    text = repr(value)
    text = text if len(text) <= LONGEST_QUOTE else f"{text[:LONGEST_QUOTE]}..."
    return f"{text} {unit_of(field)}".strip() if isinstance(value, int) else text


def _require(ok: bool, owner: object, field: str, sense: str, slip: str = "") -> None:
    """Raise the one kind of error descriptions make: field, value, what would make sense, likely slip."""
    if not ok:
        tail = f" {slip}" if slip else ""
        shown = _shown(field, getattr(owner, field))
        raise ValueError(f"{type(owner).__name__}.{field} is {shown}; {sense}.{tail}")


def _require_range(
    owner: object,
    field: str,
    low: float,
    high: float,
    *,
    unit: str | None = None,
    slip: str = "",
    above: str = "",
) -> None:
    """Refuse what is no number from low to high; None passes, since it means 'not on the label'.

    The likely slip is `slip`, or `above` where the value is too high.
    """
    value = getattr(owner, field)
    if value is None:
        return
    unit = unit_of(field) if unit is None else unit
    sense = f"a value from {low:g} to {high:g} {unit}".strip() + " makes sense"
    number = isinstance(value, Real) and not isinstance(value, bool)
    _require(number, owner, field, sense, "Write a plain number.")
    _require(low <= value <= high, owner, field, sense, above if above and value > high else slip)


def _require_count(owner: object, field: str, low: int, high: int) -> None:
    """Refuse what is no whole number from low to high; None passes."""
    value = getattr(owner, field)
    whole = value is None or (isinstance(value, Integral) and not isinstance(value, bool))
    _require(whole, owner, field, f"a whole number from {low} to {high} makes sense")
    _require_range(owner, field, low, high)


def _require_one_of(owner: object, field: str, known: tuple[str, ...], slips: dict[str, str]) -> None:
    """Refuse a word outside the known ones; `slips` says what its trade names are called here."""
    value = getattr(owner, field)
    words = ", ".join(f'"{word}"' for word in known[:-1]) + f' or "{known[-1]}"'
    plain = str(value).lower()
    slip = next((sentence for part, sentence in slips.items() if part in plain), "")
    _require(value in known, owner, field, f"it is {words}", slip)


def _twice(panels: tuple[int, ...]) -> str:
    """The panels named more than once, as P1, P2; empty where there are none."""
    return ", ".join(f"P{panel + 1}" for panel in sorted(set(panels)) if panels.count(panel) > 1)


@dataclass(frozen=True, kw_only=True)
class Panel(_Checked):
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
    v_bypass : float
        Drop of a conducting bypass diode at 10 A. [V]
    r_leak : float, optional
        Shunt of an old or damaged panel that does not vanish with the light. [ohm]
    tilt_deg, azimuth_deg : float
        How it lies: 0 is flat; the direction it faces counts clockwise from north.
    mount : str
        "open" (tilted up, air all round), "gap" (on brackets) or "glued" (flat on the skin): how hot it gets.
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
    v_bypass: float = V_BYPASS
    r_leak: float | None = None
    tilt_deg: float = 0.0
    azimuth_deg: float = 180.0
    mount: str = "gap"

    def __post_init__(self) -> None:
        for field, low in (("v_oc", 1.0), ("v_mp", 0.5)):
            _require_range(self, field, low, 200.0, above="Are these millivolts?")
        for field, low in (("i_sc", 0.05), ("i_mp", 0.04)):
            _require_range(self, field, low, 40.0, above="Are these milliamps?")
        volts = f"it must lie below v_oc, {self.v_oc:g} V"
        _require(self.v_mp < self.v_oc, self, "v_mp", volts, "Are the two swapped?")
        amps = f"it must lie below i_sc, {self.i_sc:g} A"
        _require(self.i_mp < self.i_sc, self, "i_mp", amps, "Are the two swapped?")
        self._check_cells()
        self._check_coefficients()
        self._check_mounting()

    def _check_cells(self) -> None:
        _require_count(self, "cells_in_series", 1, 200)
        per_cell = self.v_oc / self.cells_in_series
        sense = f"{self.v_oc:g} V over that many is {per_cell:.2f} V a cell, and silicon gives 0.5 to 0.8 V"
        _require(0.4 <= per_cell <= 0.85, self, "cells_in_series", sense, self._cells_slip(per_cell))
        _require_count(self, "substrings", 1, 200)
        fits = self.cells_in_series % self.substrings == 0
        sense = f"the {self.cells_in_series} cells in series do not divide into that many equal groups"
        slip = f"{self._even_groups()} would; mostly 36 cells have 2 and 60 or 72 have 3."
        _require(fits, self, "substrings", sense, slip)
        _require_count(self, "branches", 1, 2)
        _require_range(self, "v_bypass", 0.1, 1.2)
        _require_range(self, "r_leak", 0.1, 1e6)

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
            _require_range(self, field, low, high, slip=self._coefficient_slip(field))
        per_panel = "Is it in A/K or mA/K? Here it is % of i_sc per kelvin."
        _require_range(self, "alpha_isc_pct_per_k", -0.1, 0.3, slip=per_panel)

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
        _require_range(self, "i_max_fuse", 1.0, 60.0, above="Are these milliamps?")
        _require_range(self, "tilt_deg", 0.0, 90.0)
        _require_range(self, "azimuth_deg", 0.0, 360.0, slip="North is 0, east 90, south 180, west 270.")
        _require_one_of(self, "mount", ("open", "gap", "glued"), MOUNT_SLIPS)

    @property
    def p_mp(self) -> float:
        """Label watts."""
        return self.v_mp * self.i_mp


@dataclass(frozen=True, kw_only=True)
class Wiring(_Checked):
    """Which panels form a string, and which strings stand side by side; panels counted from 0.

    Examples
    --------
    >>> Wiring(strings=((0, 1), (2, 3))).name
    '2s2p'
    """

    strings: tuple[tuple[int, ...], ...]

    def __post_init__(self) -> None:
        strings = self.strings
        nested = isinstance(strings, tuple) and all(isinstance(string, tuple) for string in strings)
        slip = "Two panels in series are ((0, 1),), two side by side ((0,), (1,))."
        _require(nested, self, "strings", "it is a tuple of strings, each a tuple of panels", slip)
        _require(bool(strings) and all(strings), self, "strings", "every string needs at least one panel")
        used = self.panels
        counted = all(isinstance(panel, Integral) and panel >= 0 for panel in used)
        _require(counted, self, "strings", "panels count 0, 1, 2 in code", "P1 is 0.")
        twice = _twice(used)
        _require(not twice, self, "strings", f"a panel can be in one string only, and {twice} is used twice")

    @property
    def panels(self) -> tuple[int, ...]:
        """Every panel, string by string."""
        return tuple(panel for string in self.strings for panel in string)

    @property
    def name(self) -> str:
        """As the trade writes it; panels are named where the order is not the plain one."""
        lengths = {len(string) for string in self.strings}
        if len(lengths) > 1:
            return self.grouping
        series, parallel = lengths.pop(), len(self.strings)
        short = f"{series}s" if parallel == 1 else f"{parallel}p" if series == 1 else f"{series}s{parallel}p"
        short = "1s" if series == parallel == 1 else short
        return short if self.panels == tuple(sorted(self.panels)) else f"{short} ({self.grouping})"

    @property
    def grouping(self) -> str:
        """The strings panel by panel: P1+P2 | P3+P4."""
        return " | ".join("+".join(f"P{panel + 1}" for panel in string) for string in self.strings)


@dataclass(frozen=True, kw_only=True)
class Cable(_Checked):
    """The run from roof to controller: one-way metres, copper area in mm², temperature in °C."""

    length_m: float = 0.0
    section_mm2: float = 6.0
    temp_conductor: float = 20.0

    def __post_init__(self) -> None:
        _require_range(self, "length_m", 0.0, 100.0, unit="m, one way", above="Are these centimetres?")
        _require_range(self, "section_mm2", 0.5, 70.0, slip="Is this an AWG number or a diameter?")
        _require_range(self, "temp_conductor", -60.0, 120.0, above="Is this Fahrenheit?")


@dataclass(frozen=True, kw_only=True)
class Controller(_Checked):
    """A charge controller by its ratings.

    Parameters
    ----------
    v_pv_max : float
        Array volts above which it is damaged. [V]
    i_charge_max : float
        Most it pushes into the battery; surplus is left on the roof. [A]
    i_pv_sc_max : float, optional
        Largest short-circuit current allowed at its input. [A]
    v_start_margin, v_hold_margin : float
        Array above battery volts before it wakes, and to stay awake. [V]
    tracker : str
        "sweep" finds the highest hill; "climb" starts at open circuit and keeps the first hill it meets;
        "direct" is a plain switch that ties the panel to the battery.
    p_own : float
        Watts it uses itself while awake. [W]
    loss_fixed_pct, loss_ratio_pct : float
        Lost share of the power, and more of it per unit of step-down ratio above 1. [%]
    """

    name: str
    v_pv_max: float
    i_charge_max: float
    i_pv_sc_max: float | None = None
    v_start_margin: float = V_START_MARGIN
    v_hold_margin: float = V_HOLD_MARGIN
    tracker: str = "sweep"
    p_own: float = 1.0
    loss_fixed_pct: float = 2.0
    loss_ratio_pct: float = 0.5

    def __post_init__(self) -> None:
        _require_range(self, "v_pv_max", 10.0, 1500.0, above="Are these millivolts?")
        _require_range(self, "i_charge_max", 0.5, 500.0, above="Are these milliamps?")
        _require_range(self, "i_pv_sc_max", 0.5, 500.0, above="Are these milliamps?")
        _require_range(self, "v_start_margin", 0.0, 30.0, slip="It is counted above the battery's volts.")
        hold = f"it lies from 0 V to v_start_margin, {self.v_start_margin:g} V"
        _require_range(self, "v_hold_margin", 0.0, 30.0, slip="It is counted above the battery's volts.")
        _require(self.v_hold_margin <= self.v_start_margin, self, "v_hold_margin", hold, "Are the two swapped?")
        _require_one_of(self, "tracker", ("sweep", "climb", "direct"), TRACKER_SLIPS)
        _require_range(self, "p_own", 0.0, 50.0, above="Are these milliwatts?")
        _require_range(self, "loss_fixed_pct", 0.0, 30.0, above="Is this the efficiency, not the loss?")
        _require_range(self, "loss_ratio_pct", 0.0, 10.0)


@dataclass(frozen=True, kw_only=True)
class Battery(_Checked):
    """The house battery: nominal volts, volts now (fixed for the study), absorption volts, chemistry, Ah."""

    name: str
    v_nominal: float
    v_now: float
    v_absorption: float
    chemistry: str = "lithium iron phosphate"
    capacity_ah: float | None = None

    def __post_init__(self) -> None:
        measured = "Is it the measured value? That goes into v_now."
        _require(self.v_nominal in (12, 24, 36, 48), self, "v_nominal", "12, 24, 36 and 48 V are usual", measured)
        for field in ("v_now", "v_absorption"):
            slip = f"v_nominal is {self.v_nominal:g} V; which of the two is wrong?"
            _require_range(self, field, 0.8 * self.v_nominal, 1.3 * self.v_nominal, slip=slip)
        _require_one_of(self, "chemistry", ("lithium iron phosphate", "lead-acid"), CHEMISTRY_SLIPS)
        _require_range(self, "capacity_ah", 1.0, 10000.0, above="Are these watt-hours or milliamp-hours?")


@dataclass(frozen=True, kw_only=True)
class Climate(_Checked):
    """The coldest first light and the hottest cells of the year's plan, and where they come from. [°C]"""

    temp_coldest: float
    temp_cell_hottest: float = 70.0
    basis: str = "as entered"

    def __post_init__(self) -> None:
        _require_range(self, "temp_coldest", -60.0, 40.0, above="Is this Fahrenheit?")
        _require_range(
            self,
            "temp_cell_hottest",
            25.0,
            110.0,
            above="Is this Fahrenheit?",
            slip="Cells in full sun are 25 to 50 K warmer than the air.",
        )
        sense = f"it must lie above temp_coldest, {self.temp_coldest:g} °C"
        _require(
            self.temp_cell_hottest > self.temp_coldest,
            self,
            "temp_cell_hottest",
            sense,
            "Are the two swapped?",
        )


@dataclass(frozen=True, kw_only=True)
class Circuit(_Checked):
    """What hangs on one controller: panels in strings, the cable, the controller, perhaps blocking diodes."""

    wiring: Wiring
    controller: Controller
    cable: Cable = Cable()
    blocking_diodes: bool = False


@dataclass(frozen=True, kw_only=True)
class Rig(_Checked):
    """A van: panels, battery, the climate it meets, and one circuit for each controller."""

    name: str
    source: str
    panels: tuple[Panel, ...]
    battery: Battery
    climate: Climate
    circuits: tuple[Circuit, ...]

    def __post_init__(self) -> None:
        for field, what in (("panels", "one panel"), ("circuits", "one circuit with a controller")):
            value = getattr(self, field)
            filled = isinstance(value, tuple) and bool(value)
            _require(
                filled,
                self,
                field,
                f"a rig has a tuple of at least {what}",
                "One alone is (it,), with a comma.",
            )
        used = tuple(panel for circuit in self.circuits for panel in circuit.wiring.panels)
        twice = _twice(used)
        if twice:
            raise ValueError(f"Rig.circuits use {twice} twice; each panel belongs to one circuit.")
        if max(used) >= len(self.panels):
            has = "there is 1 panel" if len(self.panels) == 1 else f"there are {len(self.panels)} panels"
            raise ValueError(f"Rig.circuits name P{max(used) + 1}, and {has}; panels count from P1.")


@dataclass(frozen=True, kw_only=True)
class Shade(_Checked):
    """A note of shade taken on the roof: the lit share of some cells of one panel.

    Parameters
    ----------
    panel : int
        Which panel, counted from 0.
    substring : int, optional
        Which group under one bypass diode, counted from 0; None is the whole panel.
    cells : int, optional
        How many cells of each branch of the group; None is all of them.
    lit : float
        Share of the light that still arrives, 0 to 1.
    """

    panel: int
    lit: float
    substring: int | None = None
    cells: int | None = None

    def __post_init__(self) -> None:
        _require_range(self, "lit", 0.0, 1.0, unit="(a share of the light)", above="Is this percent?")
        for field, first in (("panel", 0), ("substring", 0), ("cells", 1)):
            _require_count(self, field, first, 200)


@dataclass(frozen=True, kw_only=True)
class Snapshot(_Checked):
    """One moment set by hand: light [W/m²], cell temperature [°C] and shade."""

    light: float
    temp_cell: float
    shade: tuple[Shade, ...] = ()

    def __post_init__(self) -> None:
        _require_range(self, "light", 0.0, 1800.0, unit="W/m²", above="Are these lux?")
        _require_range(self, "temp_cell", -60.0, 110.0, above="Is this Fahrenheit?")


@dataclass(frozen=True, kw_only=True)
class Outlook(_Checked):
    """A real day: which weather, which day of it, and shade that stays all day.

    Parameters
    ----------
    weather : str
        A name the kit knows ("sand-point"), or the path of a CSV file with columns time, ghi and temp_air.
    day : str
        "dull", "median" or "bright" (5, 50 and 95 of 100 days bring less light), month-day such as "12-21", or "only"
        for a file of a single day.
    """

    weather: str = "sand-point"
    day: str = "dull"
    shade: tuple[Shade, ...] = ()


Request = Snapshot | Outlook
