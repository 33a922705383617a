"""What hangs on one controller: wiring, cable, controller."""

from __future__ import annotations

import re
from dataclasses import replace
from functools import cached_property
from numbers import Integral

from vanpower.rig.fields import Description, listed, number, part, require, text, twice_used, whole, word, yes_or_no

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
FEEDS_MAINS = re.compile(r"(?i)micro[ _-]?inverter|grid[ _-]?tie")
MAINS_APART = (
    "What feeds the mains charges no battery, and no answer here is about it: leave its panels out, and ask its maker "
    "and a licensed person."
)
# names of inverters that feed the mains, and what to do with them
INSULATION_SLIPS = {
    "105": 'Boat cable of 105 °C: take "XLPE 90", the nearest below.',
    "180": 'Silicone of 180 °C: take "XLPE 90", the nearest below.',
    "epr": 'Rubber for 90 °C is rated like "XLPE 90".',
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
COPPER_SLIPS = {"fine": 'Fine strands are "class 5".', "solar": f'"{COPPERS[0]}"?'}
TRACKERS = ("sweep", "climb", "direct")
TRACKER_SLIPS = {
    "pwm": 'A plain switch, without a converter, is "direct".',
    "mppt": 'One that looks over the whole curve is "sweep", one that keeps the first hill "climb".',
}


class Wiring(Description):
    """Which panels are in series in each string, and which strings are in parallel; panels are counted from 0.

    Examples
    --------
    >>> Wiring(strings=((0, 1), (2, 3))).name
    '2s2p'
    """

    strings: tuple[tuple[int, ...], ...] = listed(
        "the panels of each string", sense="it is a tuple of strings, each a tuple of panels"
    )

    def together(self) -> None:
        """Check that it is a tuple of strings and that no panel is in two of them.

        Raises
        ------
        ValueError
            Where it is not so.
        """
        strings = self.strings
        nested = isinstance(strings, tuple) and all(isinstance(string, tuple) for string in strings)
        slip = "Two panels in series are ((0, 1),), two in parallel ((0,), (1,))."
        require(nested, self, "strings", "it is a tuple of strings, each a tuple of panels", slip)
        require(bool(strings) and all(strings), self, "strings", "every string needs at least one panel")
        used = self.panels
        counted = all(isinstance(panel, Integral) and panel >= 0 for panel in used)
        require(counted, self, "strings", "panels count 0, 1, 2 in code", "P1 is 0.")
        twice = twice_used(used)
        require(not twice, self, "strings", f"a panel can be in one string only, and {twice} is used twice")

    @cached_property
    def panels(self) -> tuple[int, ...]:
        """Numbers of all panels, string by string, counted from 0."""
        return tuple(panel for string in self.strings for panel in string)

    @property
    def name(self) -> str:
        """The wiring as the trade writes it, such as "2s2p"; panels are added where they are not in plain order."""
        lengths = {len(string) for string in self.strings}
        if len(lengths) > 1:
            return self.grouping
        series, parallel = lengths.pop(), len(self.strings)
        short = f"{series}s" if parallel == 1 else f"{parallel}p" if series == 1 else f"{series}s{parallel}p"
        short = "1s" if series == parallel == 1 else short
        return short if self.panels == tuple(sorted(self.panels)) else f"{short} ({self.grouping})"

    @property
    def grouping(self) -> str:
        """The wiring panel by panel, counted from 1, such as "P1+P2 | P3+P4"."""
        return " | ".join("+".join(f"P{panel + 1}" for panel in string) for string in self.strings)


class Cable(Description):
    """A run of copper cable: one-way length [m], section [mm²], and what decides its resistance and its current rating.

    Examples
    --------
    >>> Cable(length_m=5.0, section_mm2=6.0).on_roof.insulation
    'solar 120'
    """

    length_m: float = number(
        0.0, 100.0, "length of the run, one way", default=0.0, said="m, one way", above="Are these centimetres?"
    )
    section_mm2: float = number(
        0.5, 70.0, "copper section of one core", default=6.0, slip="Is this an AWG number or a diameter?"
    )
    temp_conductor: float | None = number(
        -60.0, 120.0, "temperature of the copper; worked out where it is left out", default=None,
        above="Is this Fahrenheit?",
        more="While it carries its current, which decides its resistance; the air and the current tell it.",
    )  # fmt: skip
    insulation: str | None = word(
        INSULATIONS, 'insulation: "PVC 70", "XLPE 90" or "solar 120"', default=None, slips=INSULATION_SLIPS,
        more="None is solar cable on the roof, and PVC beside the battery.",
    )  # fmt: skip
    copper: str = word(
        COPPERS, 'conductor after IEC 60228; "class 5 tinned" is solar cable', default=COPPERS[0], slips=COPPER_SLIPS,
    )  # fmt: skip
    laying: str = word(
        LAYINGS, 'how it is laid: "apart" in free air, "surface" or "conduit"', default="surface", slips=LAYING_SLIPS,
        more="Apart is each core by itself, surface plus and minus beside each other on a wall.",
    )  # fmt: skip
    bundled: int = whole(1, 20, "circuits in one bundle, this one counted", default=1)
    temp_around: float | None = number(
        -40.0, 120.0, "hottest air around the cable", default=None, above="Is this Fahrenheit?",
        more="It decides what current the cable may carry; None is 60 °C on the roof, 50 °C inside.",
    )  # fmt: skip
    temp_terminals: float | None = number(
        60.0, 120.0, "temperature its terminals are marked for, 60, 75 or 90; US rules", default=None,
        slip="Terminals are marked for 60, 75 or 90 °C.", more="None is 60 °C up to AWG 1 and 75 °C above.",
    )  # fmt: skip

    @property
    def on_roof(self) -> Cable:
        """The cable with fields left open filled in as usual on a roof."""
        return self._laid(SOLAR, TEMP_ON_ROOF)

    @property
    def at_battery(self) -> Cable:
        """The cable with fields left open filled in as usual between controller and battery, on the cautious side."""
        return self._laid(PVC, TEMP_AT_BATTERY)

    def _laid(self, insulation: str, temp_around: float) -> Cable:
        """The cable with insulation and air filled in."""
        around = temp_around if self.temp_around is None else self.temp_around
        return replace(self, insulation=self.insulation or insulation, temp_around=around)


class Controller(Description):
    """A charge controller by the ratings on its data sheet.

    Examples
    --------
    >>> Controller(name="80 V 20 A", v_pv_max=80.0, i_charge_max=20.0).v_start_margin
    5.0
    """

    name: str = text("what charts call it")
    v_pv_max: float = number(
        10.0,
        1500.0,
        "largest voltage from the panels; above it the controller can break",
        above="Are these millivolts?",
    )
    i_charge_max: float = number(
        0.5,
        500.0,
        "largest current that it puts into the battery",
        above="Are these milliamps?",
        more="More than that is left on the roof.",
    )
    i_pv_sc_max: float | None = number(
        0.5, 500.0, "largest short-circuit current that its input stands", default=None, above="Are these milliamps?"
    )
    v_start_margin: float = number(
        0.0,
        30.0,
        "voltage above the battery's at which it wakes",
        default=V_START_MARGIN,
        slip="It is counted above the battery's volts.",
    )
    v_hold_margin: float = number(
        0.0, 30.0, "voltage above the battery's down to which it stays awake", default=V_HOLD_MARGIN,
        slip="It is counted above the battery's volts.",
    )  # fmt: skip
    tracker: str = word(
        TRACKERS, '"sweep" sees the whole curve, "climb" keeps the first hill, "direct" is a plain switch',
        default="sweep", slips=TRACKER_SLIPS,
        more="One that climbs starts at open circuit; a plain switch ties the panel to the battery.",
    )  # fmt: skip
    p_own: float = number(
        0.0, 50.0, "own draw of the controller while awake", default=1.0, above="Are these milliwatts?"
    )
    loss_fixed_pct: float = number(
        0.0, 30.0, "share of the power lost in any case", default=2.0, above="Is this the efficiency, not the loss?"
    )
    loss_ratio_pct: float = number(
        0.0, 10.0, "further share lost for each unit of panel over battery volts above 1", default=0.5
    )
    cold_cutoff: bool | None = yes_or_no(
        "true if it stops charging in frost", default=None, more="None where its sheet does not say."
    )
    feeds_back: bool | None = yes_or_no(
        "true if battery current can flow back to the panels", default=None,
        more="None where its sheet is silent: a plain switch is then counted as if it could, a converter not.",
    )  # fmt: skip
    temp_cold_cutoff: float | None = number(
        -40.0, 30.0, "battery temperature below which it stops; 0 as usual", default=None, above="Is this Fahrenheit?"
    )
    temp_cold_release: float | None = number(
        -40.0, 35.0, "battery temperature from which it charges again; 3 K warmer as usual", default=None,
        above="Is this Fahrenheit?",
    )  # fmt: skip
    cold_feeds_loads: bool = yes_or_no("false if it shuts down in frost, loads and all", default=True)
    price: float | None = number(0.0, 1e6, "price in your own money", default=None, said="of your money")

    def together(self) -> None:
        """Check fields against each other: start and hold margins, and the temperatures of the cold cut-off.

        Raises
        ------
        ValueError
            For margins or temperatures in the wrong order.
        """
        feeds_mains = FEEDS_MAINS.search(self.name)
        require(not feeds_mains, self, "name", "it is a controller that charges a battery", MAINS_APART)
        hold = f"it lies from 0 V to v_start_margin, {self.v_start_margin:g} V"
        lower = self.v_hold_margin <= self.v_start_margin
        require(lower, self, "v_hold_margin", hold, "Are the two swapped?", other="v_start_margin")
        stops = self.temp_cold_cutoff is None or self.cold_cutoff is True
        require(stops, self, "temp_cold_cutoff", "it needs cold_cutoff = true beside it")
        if self.temp_cold_release is not None:
            told = self.temp_cold_cutoff is not None
            require(told, self, "temp_cold_release", "it needs temp_cold_cutoff beside it")
            sense = f"it lies at or above temp_cold_cutoff, {self.temp_cold_cutoff:g} °C"
            above = self.temp_cold_release >= (self.temp_cold_cutoff or 0.0)
            require(above, self, "temp_cold_release", sense, "Are the two swapped?", other="temp_cold_cutoff")


class Circuit(Description):
    """One charge controller with its panels in strings, its cables, fuses, plugs and isolator.

    Examples
    --------
    >>> box = Controller(name="80 V 20 A", v_pv_max=80.0, i_charge_max=20.0)
    >>> Circuit(wiring=Wiring(strings=((0,), (1,))), controller=box).wiring.name
    '2p'
    """

    wiring: Wiring = part('panels in strings as the trade writes it, "2s2p", or one by one, [[1, 2], [3, 4]]')
    controller: Controller = part("the charge controller")
    cable: Cable = part("the run from roof to controller", default=Cable())
    battery_cable: Cable | None = part("the run from controller to battery", default=None)
    blocking_diodes: bool = yes_or_no("true with a blocking diode in each string", default=False)
    i_plug_max: float | None = number(
        0.5, 1000.0, "current rating of the branch plugs, which gather the strings", default=None,
        above="Are these milliamps?",
    )  # fmt: skip
    i_extension_max: float | None = number(
        0.5, 1000.0, "current rating of an extension lead's plugs", default=None, above="Are these milliamps?"
    )
    i_fuse_string: float | None = number(
        0.5, 1000.0, "size of the fuse in each string that needs one", default=None, above="Are these milliamps?"
    )
    i_fuse_array: float | None = number(
        0.5, 1000.0, "size of the fuse in the roof cable, at the controller", default=None, above="Are these milliamps?"
    )
    i_fuse_battery: float | None = number(
        0.5, 1000.0, "size of the fuse in the battery cable, at the battery", default=None,
        above="Are these milliamps?",
    )  # fmt: skip
    v_isolator_max: float | None = number(
        10.0, 2000.0, "direct voltage that the isolator on the panels' side is rated for", default=None,
        slip="Is it the rating for direct current?",
    )  # fmt: skip
    i_isolator_max: float | None = number(
        0.5, 1000.0, "direct current that the isolator is rated for", default=None, above="Are these milliamps?"
    )
