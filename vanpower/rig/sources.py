"""What charges the house battery besides the sun, and the inverter that makes mains volts of it."""

from __future__ import annotations

from vanpower.rig.fields import Description, listed, number, require, text, whole, word, yes_or_no
from vanpower.rig.when import check_when

ALTERNATOR, SHORE, GENERATOR, WIND = SOURCE_KINDS = ("alternator", "shore", "generator", "wind")
# what charges a house battery besides the sun
SOURCE_SLIPS = {
    "dc": 'A charger from the starter battery is "alternator".',
    "b2b": 'A charger from the starter battery is "alternator".',
    "engine": 'A charger that runs while driving is "alternator".',
    "mains": 'A charger on the mains is "shore".',
    "hook": 'A charger on the mains is "shore".',
    "grid": 'A charger on the mains is "shore".',
    "turbine": 'A small turbine is "wind".',
}
# part of what people write, and what it is called here
CLOCK_SLIP = "Hours count from midnight, half past seven is 7.5."


class Source(Description):
    """Another charger of the house battery: from the alternator, from shore, a generator, or wind.

    An alternator without hours runs while the van drives, as the stops of a trip say; any other without hours, all day.

    Examples
    --------
    >>> Source(name="charger under the seat", kind="alternator", i_charge_max=30.0).from_h is None
    True
    """

    name: str = text("what charts call it")
    kind: str = word(
        SOURCE_KINDS, '"alternator", "shore", "generator" or "wind"', slips=SOURCE_SLIPS,
        more="An alternator charges while the van drives.",
    )  # fmt: skip
    i_charge_max: float | None = number(
        0.1, 1000.0, "largest current its charger gives the battery", default=None, above="Are these milliamps?"
    )
    p_charge_max: float | None = number(
        1.0, 20000.0, "most power its charger gives the battery", default=None, above="Are these milliwatts?",
        more="Where both are given, the smaller counts.",
    )  # fmt: skip
    p_hourly: tuple[float, ...] | None = listed(
        "power that is there in each of 24 hours from midnight, such as wind's",
        sense="it is a list of 24 numbers in square brackets", default=None, more="Each is the mean of its hour.",
    )  # fmt: skip
    from_h: float | None = number(
        0.0, 24.0, "hour from which it runs, counted from midnight", default=None, slip=CLOCK_SLIP
    )
    to_h: float | None = number(
        0.0, 24.0, "hour to which it runs; may lie past midnight", default=None, slip=CLOCK_SLIP
    )
    days: str = text('weekdays on which it runs, "sat, sun" or "mon..fri"', default="", more="Empty is every day.")
    months: str = text("months in which it runs", default="", more='Such as "november..march"; empty is all year.')
    every_days: int = whole(1, 366, "it runs on the last of every so many days", default=1)

    def together(self) -> None:
        """Check that it can charge at all, and that its hours and days are some.

        Raises
        ------
        ValueError
            For what cannot be, with the likely slip.
        """
        if self.i_charge_max is None and self.p_charge_max is None and self.p_hourly is None:
            raise ValueError("Source.i_charge_max is missing; write i_charge_max, p_charge_max or 24 values p_hourly.")
        require((self.from_h is None) == (self.to_h is None), self, "to_h", "from_h and to_h go together")
        apart = self.from_h is None or self.from_h != self.to_h
        require(apart, self, "to_h", "it differs from from_h", "All day is 0 to 24.")
        check_when(self, self.days, self.months)
        if self.p_hourly is not None:
            check_hours(self, self.p_hourly)


class Inverter(Description):
    """What makes mains volts of the house battery: its own draw, and the share of the power that comes out.

    Examples
    --------
    >>> Inverter(name="1000 W", p_own=8.0, efficiency_pct=90.0).always_on
    True
    """

    name: str = text("what charts call it", default="inverter")
    p_own: float = number(0.0, 500.0, "power it takes itself while it is on", above="Are these milliwatts?")
    efficiency_pct: float = number(
        40.0, 100.0, "share of the power that comes out, on top of its own draw",
        slip="Is it a share from 0 to 1? 90 % is 90.",
    )  # fmt: skip
    p_out_max: float | None = number(
        10.0, 20000.0, "most power it gives for long", default=None, above="Are these milliwatts?"
    )
    always_on: bool = yes_or_no("false where it is switched off between uses", default=True)


def check_hours(owner: Description, hours: object) -> None:
    """Refuse what is no list of 24 watts.

    Raises
    ------
    ValueError
        With what would make sense.

    Examples
    --------
    >>> check_hours(Source(name="mast", kind="wind", p_charge_max=60.0), (0.0,) * 24)
    """
    whole_day = isinstance(hours, tuple) and len(hours) == 24
    require(whole_day, owner, "p_hourly", "it is a list of 24 watts, from midnight")
    assert isinstance(hours, tuple)
    sound = all(isinstance(watts, (int, float)) and 0 <= watts <= 20000 for watts in hours)
    require(sound, owner, "p_hourly", "every hour takes 0 to 20000 W")
