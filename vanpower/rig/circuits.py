"""What hangs on one controller: wiring, cable, controller."""

from __future__ import annotations

from dataclasses import dataclass, replace
from numbers import Integral

from vanpower.rig.checking import Checked, require, require_count, require_one_of, require_range, twice_used

V_START_MARGIN = 5.0
# [V] array above battery before a controller wakes; common practice, no source: an open charger's firmware takes 4 V
V_HOLD_MARGIN = 1.0
# [V] array above battery that keeps it awake; common practice, no source
PVC, XLPE, SOLAR = INSULATIONS = ("PVC 70", "XLPE 90", "solar 120")
# insulation by the copper that it stands, in °C: BS 7671 Tables 4D1A and 4E1A, EN 50618
TEMP_ON_ROOF, TEMP_AT_BATTERY = 60.0, 50.0
# [°C] hottest air around a cable where the file names none: what the ratings of solar cable are given for (EN 50618);
# what US boat rules take for engine spaces (33 CFR 183.425), for want of one for the inside of a van in the sun
COPPERS = ("class 5 tinned", "class 5 plain", "class 2 tinned", "class 2 plain")
# IEC 60228: class 5 is fine strands, class 2 few thick ones
LAYINGS = ("apart", "surface", "conduit")
INSULATION_SLIPS = {
    "105": 'Boat cable of 105 °C: take "XLPE 90", the nearest below.',
    "180": 'Silicone of 180 °C: take "XLPE 90", the nearest below.',
    "epr": 'Rubber that stands 90 °C is rated like "XLPE 90".',
    "h1z2": 'Cable after EN 50618 is "solar 120".',
    "h07": 'Plain H07 wire is "PVC 70".',
    "thhn": 'A US cable of 90 °C is "XLPE 90".',
}
LAYING_SLIPS = {
    "air": 'Each core by itself in free air is "apart".',
    "pipe": 'In a pipe it is "conduit".',
    "trunk": 'In trunking it is "conduit".',
    "clip": 'Clipped to a wall it is "surface".',
}
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
    """A run of cable: one-way metres, copper area in mm², temperature in °C.

    Parameters
    ----------
    temp_conductor : float, optional
        Copper while it carries its current, which decides its resistance; None where checks shall work it out from
        the air and the current. [°C]
    insulation : str, optional
        "PVC 70", "XLPE 90" or "solar 120"; None is solar cable on the roof, and PVC beside the battery.
    copper : str
        Kind of conductor after IEC 60228; solar cable is "class 5 tinned".
    laying : str
        "apart" (each core by itself in free air), "surface" (plus and minus side by side on a wall) or "conduit".
    bundled : int
        Circuits that lie in one bundle, this one counted.
    temp_around : float, optional
        Hottest air around it, which decides what current it may carry; None is 60 on the roof, 50 inside. [°C]
    temp_terminals : float, optional
        What its terminals are marked for, by US rules; None is 60 up to AWG 1 and 75 above. [°C]

    Examples
    --------
    >>> Cable(length_m=5.0, section_mm2=6.0).on_roof.insulation
    'solar 120'
    """

    length_m: float = 0.0
    section_mm2: float = 6.0
    temp_conductor: float | None = None
    insulation: str | None = None
    copper: str = COPPERS[0]
    laying: str = "surface"
    bundled: int = 1
    temp_around: float | None = None
    temp_terminals: float | None = None

    def __post_init__(self) -> None:
        require_range(self, "length_m", 0.0, 100.0, unit="m, one way", above="Are these centimetres?")
        require_range(self, "section_mm2", 0.5, 70.0, slip="Is this an AWG number or a diameter?")
        require_range(self, "temp_conductor", -60.0, 120.0, above="Is this Fahrenheit?")
        require_one_of(self, "copper", COPPERS, {"fine": 'Fine strands are "class 5".', "solar": f'"{COPPERS[0]}"?'})
        require_one_of(self, "laying", LAYINGS, LAYING_SLIPS)
        require_count(self, "bundled", 1, 20)
        require_range(self, "temp_around", -40.0, 120.0, above="Is this Fahrenheit?")
        require_range(self, "temp_terminals", 60.0, 120.0, slip="Terminals are marked for 60, 75 or 90 °C.")
        if self.insulation is not None:
            require_one_of(self, "insulation", INSULATIONS, INSULATION_SLIPS)

    @property
    def on_roof(self) -> Cable:
        """The cable with what the file leaves open as it is on a roof."""
        return self._laid(SOLAR, TEMP_ON_ROOF)

    @property
    def at_battery(self) -> Cable:
        """The cable with what the file leaves open as it is between controller and battery, on the careful side."""
        return self._laid(PVC, TEMP_AT_BATTERY)

    def _laid(self, insulation: str, temp_around: float) -> Cable:
        """The cable with insulation and air filled in."""
        around = temp_around if self.temp_around is None else self.temp_around
        return replace(self, insulation=self.insulation or insulation, temp_around=around)


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
    cold_cutoff : bool, optional
        Whether it stops charging while the battery is too cold; None where its sheet does not say.
    feeds_back : bool, optional
        Whether battery current can flow through it back to the panels; None where its sheet does not say: then a plain
        switch is taken to while it is closed, and a converter to block.
    temp_cold_cutoff, temp_cold_release : float, optional
        Battery heat below which it stops, and from which it charges again; as usual where they are not given. [°C]
    cold_feeds_loads : bool
        Whether it still feeds loads from the panels while it has stopped, or shuts down altogether.
    price : float, optional
        In your own money.

    Examples
    --------
    >>> Controller(name="80 V 20 A", v_pv_max=80.0, i_charge_max=20.0).v_start_margin
    5.0
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
    cold_cutoff: bool | None = None
    feeds_back: bool | None = None
    temp_cold_cutoff: float | None = None
    temp_cold_release: float | None = None
    cold_feeds_loads: bool = True
    price: float | None = None

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
        for field in ("cold_cutoff", "feeds_back"):
            require(getattr(self, field) in (None, True, False), self, field, "it is true or false")
        self._require_cold()
        require_range(self, "price", 0.0, 1e6, unit="of your money")

    def _require_cold(self) -> None:
        """When it stops charging in the cold, and what it does then."""
        require_range(self, "temp_cold_cutoff", -40.0, 30.0, above="Is this Fahrenheit?")
        require_range(self, "temp_cold_release", -40.0, 35.0, above="Is this Fahrenheit?")
        stops = self.temp_cold_cutoff is None or self.cold_cutoff is True
        require(stops, self, "temp_cold_cutoff", "it needs cold_cutoff = true beside it")
        if self.temp_cold_release is not None:
            told = self.temp_cold_cutoff is not None
            require(told, self, "temp_cold_release", "it needs temp_cold_cutoff beside it")
            sense = f"it lies at or above temp_cold_cutoff, {self.temp_cold_cutoff:g} °C"
            above = self.temp_cold_release >= (self.temp_cold_cutoff or 0.0)
            require(above, self, "temp_cold_release", sense, "Are the two swapped?")
        require(isinstance(self.cold_feeds_loads, bool), self, "cold_feeds_loads", "it is true or false")


@dataclass(frozen=True, kw_only=True)
class Circuit(Checked):
    """What hangs on one controller: panels in strings, the cable, the controller, and what guards them.

    Parameters
    ----------
    battery_cable : Cable, optional
        The run from controller to battery.
    blocking_diodes : bool
        A diode in each string.
    i_plug_max, i_extension_max : float, optional
        Rating of the branch plugs that gather the strings, and of the plugs of an extension lead. [A]
    i_fuse_string, i_fuse_array, i_fuse_battery : float, optional
        Fuse fitted in each string that needs one, in the roof cable at the controller, and in the battery cable at the
        battery. [A]
    v_isolator_max, i_isolator_max : float, optional
        Direct-current rating of the isolator on the panels' side. [V, A]

    Examples
    --------
    >>> box = Controller(name="80 V 20 A", v_pv_max=80.0, i_charge_max=20.0)
    >>> Circuit(wiring=Wiring(strings=((0,), (1,))), controller=box).wiring.name
    '2p'
    """

    wiring: Wiring
    controller: Controller
    cable: Cable = Cable()
    battery_cable: Cable | None = None
    blocking_diodes: bool = False
    i_plug_max: float | None = None
    i_extension_max: float | None = None
    i_fuse_string: float | None = None
    i_fuse_array: float | None = None
    i_fuse_battery: float | None = None
    v_isolator_max: float | None = None
    i_isolator_max: float | None = None

    def __post_init__(self) -> None:
        for field in ("i_plug_max", "i_extension_max", "i_isolator_max"):
            require_range(self, field, 0.5, 1000.0, above="Are these milliamps?")
        for field in ("i_fuse_string", "i_fuse_array", "i_fuse_battery"):
            require_range(self, field, 0.5, 1000.0, above="Are these milliamps?")
        require_range(self, "v_isolator_max", 10.0, 2000.0, slip="Is it the rating for direct current?")
