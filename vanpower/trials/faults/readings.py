"""What was read before a fault is looked for: volts, amps or watts, battery, light, stage, and what came since."""

from __future__ import annotations

from vanpower.rig.fields import Description, listed, number, require, word

STAGES_SHOWN = ("off", "asleep", "bulk", "absorption", "float", "cold", "fault")
# what a controller shows: nothing at all, waiting, four stages by their usual names, and any error
LIGHT_WORDS = {
    "night": (0.2, 100.0), "dusk": (10.0, 80.0), "dark": (40.0, 50.0), "grey": (120.0, 50.0), "hazy": (400.0, 35.0),
    "sunny": (850.0, 25.0),
}  # fmt: skip
# light by eye [W/m²] and by how much it may be off [%]; no source
BY_EYE_PCT, BY_METER_PCT = 20.0, 5.0
# [%] how far light is off that somebody guessed in W/m², or that a light meter or a spare panel's short-circuit amps
# give: common practice, no source; of date, hour and a sky by word see `weather.light_words.SKIES`
STAGE_SLIPS = {
    "night": 'Waiting for sun is "asleep".',
    "sleep": 'Waiting for sun is "asleep".',
    "stand": 'Waiting for sun is "asleep".',
    "boost": 'The held, high volts before float are "absorption".',
    "full": 'A full battery is in "absorption" or "float".',
    "dark": 'A display that shows nothing is "off".',
    "error": 'Any error is "fault"; look its number up in the maker\'s manual.',
}
CHECKED = (
    "volts", "amps", "watts", "battery", "stage", "loaded", "restart", "shade", "light", "terminals", "open",
    "string-amps", "string-volts", "panel-volts", "dusk", "cold", "fuse", "plugs", "cable",
    "polarity", "diodes",
)  # fmt: skip
# what may be measured, as it is typed; the first five are fields of their own
FIRST_FIVE = 5


class FaultReadings(Description):
    """What was read when something seemed wrong; None where nobody read it.

    Examples
    --------
    >>> FaultReadings(v_array=18.0, i_array=0.0, v_battery=13.1, light=120.0).stage is None
    True
    """

    v_array: float | None = number(
        -1500.0, 1500.0, "volts of the panels at the controller", default=None, above="Are these millivolts?",
        more="Below zero with the wrong polarity.",
    )  # fmt: skip
    i_array: float | None = number(
        -100.0, 500.0, "amps from the panels", default=None, above="Are these milliamps?",
        more="Not those into the battery.",
    )  # fmt: skip
    p_array: float | None = number(
        0.0, 50_000.0, "power from the panels as the controller shows it", default=None, above="Are these milliwatts?"
    )
    v_battery: float | None = number(
        0.0, 70.0, "volts at the battery's own terminals", default=None, above="Are these millivolts?"
    )
    light: float | None = number(
        0.0, 1800.0, "irradiance on the panels", default=None, unit="W/m²", above="Are these lux?"
    )
    light_within_pct: float = number(
        1.0, 200.0, "error of that light", default=BY_EYE_PCT, unit="%",
        more="20 where it was guessed, 15 by clock under a clear sky, 5 by a meter.",
    )  # fmt: skip
    temp_cell: float | None = number(
        -60.0, 110.0, "temperature at the panels' back", default=None, above="Is this Fahrenheit?"
    )
    stage: str | None = word(
        STAGES_SHOWN, 'what the controller shows: "off", "asleep", "bulk", "absorption", "float", "cold" or "fault"',
        default=None, slips=STAGE_SLIPS,
    )  # fmt: skip
    measured: tuple[tuple[str, float], ...] = listed(
        'what was measured since, [["open", 41.2], ["shade", 0]]',
        sense=f"names are {', '.join(CHECKED[FIRST_FIVE:])}, each with a number; 1 is yes and 0 no", default=(),
    )  # fmt: skip

    def together(self) -> None:
        """Check that something was read, and that later measurements are known ones.

        Raises
        ------
        ValueError
            Where it is not so.
        """
        known = CHECKED[FIRST_FIVE:]
        sound = all(name in known and -1500 <= value <= 1500 for name, value in self.measured)
        require(sound, self, "measured", f"names are {', '.join(known)}, each with a number; 1 is yes and 0 no")
        names = [name for name, _ in self.measured]
        require(len(set(names)) == len(names), self, "measured", "each is given once")
        both = self.i_array is not None and self.p_array is not None and self.v_array is not None
        told = (self.v_array or 0.0) * (self.i_array or 0.0)
        near = not both or abs(told - (self.p_array or 0.0)) <= max(0.2 * max(told, self.p_array or 0.0), 5.0)
        slip = "Are the amps those into the battery?"
        require(near, self, "p_array", f"volts times amps are {told:.0f} W", slip, other="i_array")

    def of(self, name: str) -> float | None:
        """A number by the name it is measured by; None where it was not."""
        own = {"volts": self.v_array, "amps": self.i_array, "watts": self.p_array, "battery": self.v_battery}
        return own[name] if name in own else dict(self.measured).get(name)

    @property
    def known(self) -> frozenset[str]:
        """Names of all that was read."""
        named = {name for name in CHECKED if self.of(name) is not None}
        watts = {"watts"} if {"volts", "amps"} <= named else {"amps"} if {"volts", "watts"} <= named else set()
        exact = {"light"} if self.light is not None and self.light_within_pct <= BY_METER_PCT else set()
        return frozenset(named | watts | exact | ({"stage"} if self.stage else set()))

    @property
    def around(self) -> FaultReadings:
        """Of what was read what says in which conditions the rig stands: its light, its heat, its battery's volts.

        Examples
        --------
        >>> FaultReadings(v_array=18.0, light=120.0).around == FaultReadings(i_array=2.0, light=120.0).around
        True
        """
        return self.changed(v_array=None, i_array=None, p_array=None, stage=None, measured=())
