"""What hangs on one controller: wiring, cable, controller."""

from __future__ import annotations

from dataclasses import dataclass
from numbers import Integral

from vanpower.rig.checking import Checked, require, require_one_of, require_range, twice_used

V_START_MARGIN = 5.0
# [V] array above battery before a controller wakes; common practice, no source
V_HOLD_MARGIN = 1.0
# [V] array above battery that keeps it awake; common practice, no source
TRACKER_SLIPS = {
    "pwm": 'A plain switch, without a converter, is "direct".',
    "mppt": 'One that looks over the whole curve is "sweep", one that keeps the first hill "climb".',
}


@dataclass(frozen=True, kw_only=True)
class Wiring(Checked):
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
        require(nested, self, "strings", "it is a tuple of strings, each a tuple of panels", slip)
        require(bool(strings) and all(strings), self, "strings", "every string needs at least one panel")
        used = self.panels
        counted = all(isinstance(panel, Integral) and panel >= 0 for panel in used)
        require(counted, self, "strings", "panels count 0, 1, 2 in code", "P1 is 0.")
        twice = twice_used(used)
        require(not twice, self, "strings", f"a panel can be in one string only, and {twice} is used twice")

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
class Cable(Checked):
    """The run from roof to controller: one-way metres, copper area in mm², temperature in °C."""

    length_m: float = 0.0
    section_mm2: float = 6.0
    temp_conductor: float = 20.0

    def __post_init__(self) -> None:
        require_range(self, "length_m", 0.0, 100.0, unit="m, one way", above="Are these centimetres?")
        require_range(self, "section_mm2", 0.5, 70.0, slip="Is this an AWG number or a diameter?")
        require_range(self, "temp_conductor", -60.0, 120.0, above="Is this Fahrenheit?")


@dataclass(frozen=True, kw_only=True)
class Controller(Checked):
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
        require_range(self, "v_pv_max", 10.0, 1500.0, above="Are these millivolts?")
        require_range(self, "i_charge_max", 0.5, 500.0, above="Are these milliamps?")
        require_range(self, "i_pv_sc_max", 0.5, 500.0, above="Are these milliamps?")
        require_range(self, "v_start_margin", 0.0, 30.0, slip="It is counted above the battery's volts.")
        hold = f"it lies from 0 V to v_start_margin, {self.v_start_margin:g} V"
        require_range(self, "v_hold_margin", 0.0, 30.0, slip="It is counted above the battery's volts.")
        require(self.v_hold_margin <= self.v_start_margin, self, "v_hold_margin", hold, "Are the two swapped?")
        require_one_of(self, "tracker", ("sweep", "climb", "direct"), TRACKER_SLIPS)
        require_range(self, "p_own", 0.0, 50.0, above="Are these milliwatts?")
        require_range(self, "loss_fixed_pct", 0.0, 30.0, above="Is this the efficiency, not the loss?")
        require_range(self, "loss_ratio_pct", 0.0, 10.0)


@dataclass(frozen=True, kw_only=True)
class Circuit(Checked):
    """What hangs on one controller: panels in strings, the cable, the controller, perhaps blocking diodes."""

    wiring: Wiring
    controller: Controller
    cable: Cable = Cable()
    blocking_diodes: bool = False
