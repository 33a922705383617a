"""The house battery, what draws from it, and the coldest and hottest the van meets."""

from __future__ import annotations

from vanpower.rig.fields import Description, listed, number, require, text, whole, word, yes_or_no
from vanpower.rig.sources import CLOCK_SLIP, check_hours
from vanpower.rig.when import check_when

IRON_PHOSPHATE, OTHER_LITHIUM = LITHIUM = ("lithium iron phosphate", "other lithium")
FLOODED, AGM, GEL, SOME_LEAD = LEAD_ACID = ("flooded lead-acid", "AGM", "gel", "lead-acid")
BATTERY_KINDS = (*LITHIUM, *LEAD_ACID)
# kinds of house battery; "lead-acid" alone leaves open which of the three it is
V_LEAD_CELL, V_IRON_CELL = 2.0, 3.2
# [V] nominal volts of a cell: common practice, no source; lithium iron phosphate, from memory
BLOCK_NAMES = (0.98, 1.10)
# volts of all iron phosphate cells against the block's name: 15 and 16 of 3.2 V are both sold as 48 V; no source
MOST_CELLS = 32
# in series; titanate cells for 48 V are some 20, no source
V_WITHIN = (0.8, 1.3)
V_WITHIN_OTHER = (0.7, 1.45)
# share of the nominal volts that settings and meter lie in; of other lithium, where four cells of 4.2 V may be called
# 12 V; no source
CHEMISTRY_SLIPS = {
    "nmc": 'Is "other lithium" meant?',
    "nca": 'Is "other lithium" meant?',
    "cobalt": 'Is "other lithium" meant?',
    "titan": 'Is "other lithium" meant?',
    "polymer": 'Is "other lithium" meant?',
    "lto": 'Is "other lithium" meant?',
    "li": 'Is "lithium iron phosphate" meant, or "other lithium"?',
    "lfp": 'Is "lithium iron phosphate" meant?',
    "agm": 'Is "AGM" meant?',
    "mat": 'Is "AGM" meant?',
    "gel": 'Is "gel" meant?',
    "flood": 'Is "flooded lead-acid" meant?',
    "wet": 'Is "flooded lead-acid" meant?',
    "seal": 'A sealed one is "AGM" or "gel"; its label says which.',
    "vrla": 'A sealed one is "AGM" or "gel"; its label says which.',
    "lead": 'Is "flooded lead-acid", "AGM" or "gel" meant?',
}
# part of what people write, and what it is called here


VOLTS_USUAL = (12, 24, 36, 48)
# [V] nominal volts of house batteries: common practice, no source
V_POSSIBLE = (V_WITHIN_OTHER[0] * VOLTS_USUAL[0], V_WITHIN_OTHER[1] * VOLTS_USUAL[-1])
# [V] of any house battery, from the lowest of 12 V to the highest of 48 V
USUAL = "Where it is not given, the chemistry's usual value stands in."


def _volts_within(battery: Battery) -> tuple[float, float]:
    """From and to which volts settings and meter of a battery of that name and kind make sense."""
    low, high = V_WITHIN_OTHER if battery.chemistry == OTHER_LITHIUM else V_WITHIN
    return low * battery.v_nominal, high * battery.v_nominal


def _volts_slip(battery: Battery) -> str:
    """What volts that do not suit the battery's name may mean."""
    return f"v_nominal is {battery.v_nominal:g} V; which of the two is wrong?"


class Battery(Description):
    """House battery: its label, its charge settings, and what a simulation over days has to know of it.

    Settings left out take the usual value of the chemistry.

    Examples
    --------
    >>> Battery(name="12 V", v_nominal=12, v_now=13.3, v_absorption=14.2).chemistry
    'lithium iron phosphate'
    """

    name: str = text("what charts call it", default="house battery")
    v_nominal: float = number(
        VOLTS_USUAL[0], VOLTS_USUAL[-1], "nominal voltage: 12, 24, 36 or 48", only=VOLTS_USUAL,
        slip="Is it the measured value? That goes into v_now.",
    )  # fmt: skip
    v_now: float = number(
        *V_POSSIBLE, "voltage at its terminals, for this study", within=_volts_within, slip=_volts_slip,
        more="A study that does not run through time holds it fixed.",
    )  # fmt: skip
    v_absorption: float = number(
        *V_POSSIBLE, "voltage of full charge (absorption)", within=_volts_within, slip=_volts_slip
    )
    chemistry: str = word(
        BATTERY_KINDS, '"lithium iron phosphate", "other lithium", "flooded lead-acid", "AGM" or "gel"',
        default=IRON_PHOSPHATE, slips=CHEMISTRY_SLIPS,
        more='"lead-acid" where it is not known which of the three, so the strictest of them decides.',
    )  # fmt: skip
    cells: int | None = whole(
        1, MOST_CELLS, "cells in series; 15 or 16 of a 48 V lithium iron phosphate block", default=None,
        more="Where it is not given, as usual for the nominal volts.",
    )  # fmt: skip
    capacity_ah: float | None = number(
        1.0, 10000.0, "capacity on its label", default=None, above="Are these watt-hours or milliamp-hours?",
        more="A run through time needs it.",
    )  # fmt: skip
    v_float: float | None = number(
        *V_POSSIBLE,
        "voltage held once it is full (float)",
        default=None,
        within=_volts_within,
        slip=_volts_slip,
        more=USUAL,
    )
    soc_start_pct: float = number(
        0.0, 100.0, "state of charge when a run through time begins", default=70.0, above="Are these amp-hours?",
        more="By a counter of amp-hours: rest volts of lithium iron phosphate do not tell it.",
    )  # fmt: skip
    usable_pct: float | None = number(
        5.0, 100.0, "share of capacity_ah that loads may take", default=None,
        slip="Is it a share from 0 to 1? 80 % is 80.", more=USUAL,
    )  # fmt: skip
    r_internal: float | None = number(
        1e-5, 1.0, "resistance inside the battery", default=None, above="Are these milliohms?", more=USUAL
    )
    i_accept_max: float | None = number(
        0.1, 5000.0, "largest charge current that it accepts", default=None, above="Are these milliamps?",
        more=f"By its sheet, from all chargers together. {USUAL}",
    )  # fmt: skip
    i_tail: float | None = number(
        0.01,
        500.0,
        "charge current below which absorption ends",
        default=None,
        above="Are these milliamps?",
        more=USUAL,
    )
    absorption_h: float | None = number(
        0.0, 24.0, "time after which absorption ends", default=None, above="Are these minutes?", more=USUAL
    )
    coulombic_pct: float | None = number(
        50.0, 100.0, "share of the Ah put in that comes out again", default=None,
        slip="Is it a share from 0 to 1? 99 % is 99.", more=USUAL,
    )  # fmt: skip
    compensation_mv_per_k: float | None = number(
        -300.0, 0.0, "how charge settings fall with heat, whole battery", default=None,
        slip="It falls with heat, so it is negative or 0.", more=USUAL,
    )  # fmt: skip
    temp_lockout: float | None = number(
        -40.0, 30.0, "temperature below which the battery takes no charge", default=None, above="Is this Fahrenheit?"
    )
    temp_release: float | None = number(
        -40.0, 35.0, "temperature from which it takes charge again", default=None, above="Is this Fahrenheit?"
    )
    temp_heated: float | None = number(
        -40.0, 40.0, "temperature at or above which its place is kept", default=None, above="Is this Fahrenheit?",
        more="What heats it is not counted.",
    )  # fmt: skip
    temp_hottest: float | None = number(
        0.0, 80.0, "highest temperature of the battery where it lies", default=None, above="Is this Fahrenheit?"
    )
    temp_offset: float = number(-10.0, 40.0, "how much warmer than the air its place is", default=0.0, unit="K")
    lag_h: float = number(
        0.0, 72.0, "time by which the battery lags behind the air", default=6.0, above="Are these minutes?"
    )
    other_chargers: str = text("note: what else charges it", default="", more="Its settings must agree with these.")

    def together(self) -> None:
        """Check fields against each other: a possible number of cells, voltages and temperatures in the right order.

        Raises
        ------
        ValueError
            For a combination that cannot be, with the likely slip.
        """
        possible = self.cells_possible
        if self.cells is not None and possible:
            sense = f"a {self.v_nominal:g} V {self.chemistry} battery has {' or '.join(map(str, possible))} in series"
            require(self.cells in possible, self, "cells", sense, "Are those in parallel counted too?")
        under = f"it lies at or below v_absorption, {self.v_absorption:g} V"
        lower = self.v_float is None or self.v_float <= self.v_absorption
        require(lower, self, "v_float", under, "Are the two swapped?", other="v_absorption")
        alone = self.temp_release is None or self.temp_lockout is not None
        require(alone, self, "temp_release", "it needs temp_lockout beside it")
        if self.temp_lockout is not None and self.temp_release is not None:
            sense = f"it lies at or above temp_lockout, {self.temp_lockout:g} °C"
            warmer = self.temp_release >= self.temp_lockout
            require(warmer, self, "temp_release", sense, "Are the two swapped?", other="temp_lockout")

    @property
    def is_lithium(self) -> bool:
        """Whether the battery must not be charged below freezing unless its maker allows it."""
        return self.chemistry in LITHIUM

    @property
    def cells_possible(self) -> tuple[int, ...]:
        """Numbers of cells in series that a battery of this chemistry and voltage may have; empty if unknown."""
        if self.chemistry in LEAD_ACID:
            return (round(self.v_nominal / V_LEAD_CELL),)
        if self.chemistry == OTHER_LITHIUM:
            return ()
        low, high = (share * self.v_nominal / V_IRON_CELL for share in BLOCK_NAMES)
        return tuple(cells for cells in range(1, MOST_CELLS) if low <= cells <= high)


TEMP_RATED = 25.0
# [°C] air in which a fridge's daily energy is mostly measured, 32 °C in climate class T: IEC 62552 (2007), from memory
WHENEVER, DRIVING, PARKED = WHILES = ("always", "driving", "parked")
# while which a load runs
WHILE_SLIPS = {"drive": 'While the van drives is "driving".', "stand": 'While it stands is "parked".'}


class Load(Description):
    """A daily consumer on the house battery: constant watts between two hours, or 24 hourly means.

    A fridge with `temp_inside` takes `p_load` in air of `temp_rated`, and more or less as the air goes.

    Examples
    --------
    >>> Load(name="reading lamps", p_load=12.0, from_h=18.0, to_h=23.0).p_hourly is None
    True
    """

    name: str = text("what charts call it")
    p_load: float | None = number(0.0, 20000.0, "power while it runs", default=None, above="Are these milliwatts?")
    from_h: float = number(
        0.0, 24.0, "hour from which it runs, counted from midnight", default=0.0,
        slip=CLOCK_SLIP,
    )  # fmt: skip
    to_h: float = number(
        0.0, 24.0, "hour to which it runs; may lie past midnight", default=24.0,
        slip=CLOCK_SLIP,
    )  # fmt: skip
    p_hourly: tuple[float, ...] | None = listed(
        "power of each of 24 hours from midnight, instead of p_load",
        sense="it is a list of 24 numbers in square brackets",
        default=None, more="Each is the mean of its hour.",
    )  # fmt: skip
    days: str = text('weekdays on which it runs, "sat, sun" or "mon..fri"', default="", more="Empty is every day.")
    months: str = text("months in which it runs", default="", more='Such as "november..march"; empty is all year.')
    runs: str = word(
        WHILES, '"always", or only while "driving" or "parked"', default=WHENEVER, slips=WHILE_SLIPS,
        more="When the van drives, the stops of a trip say, or the hours of an alternator.",
    )  # fmt: skip
    mains: bool = yes_or_no("true for what runs on mains volts, through the inverter", default=False)
    temp_inside: float | None = number(
        -25.0, 20.0, "temperature inside a compressor fridge, which then follows the air", default=None,
        above="Is this Fahrenheit?",
    )  # fmt: skip
    temp_rated: float = number(
        15.0, 45.0, "air in which it takes its power, of a fridge", default=TEMP_RATED, above="Is this Fahrenheit?"
    )

    def together(self) -> None:
        """Check that either watts with two unlike hours are given, or 24 hourly values.

        Raises
        ------
        ValueError
            For both or neither, or where hours, days or temperatures make no sense.
        """
        if self.p_load is None and self.p_hourly is None:
            raise ValueError("Load.p_load is missing; write either p_load or 24 values p_hourly.")
        one = self.p_load is None or self.p_hourly is None
        require(one, self, "p_load", "write either p_load or 24 values p_hourly, not both")
        require(self.from_h != self.to_h, self, "to_h", "it differs from from_h", "All day is 0 to 24.")
        if self.p_hourly is not None:
            check_hours(self, self.p_hourly)
        check_when(self, self.days, self.months)
        if self.temp_inside is not None:
            colder = self.temp_inside < self.temp_rated
            sense = f"it lies below temp_rated, {self.temp_rated:g} °C"
            require(colder, self, "temp_inside", sense, "Are the two swapped?", other="temp_rated")

    @property
    def lives(self) -> bool:
        """Whether it changes with the date, the air, the driving or the inverter, and not by the clock alone.

        Examples
        --------
        >>> Load(name="lamp", p_load=5.0).lives, Load(name="oven", p_load=900.0, days="sun").lives
        (False, True)
        """
        by_date = self.days.strip() or self.months.strip()
        return bool(by_date) or self.runs != WHENEVER or self.mains or self.temp_inside is not None


class Climate(Description):
    """Coldest dawn and hottest cells of the year's plan, and where these temperatures come from. [°C]

    Examples
    --------
    >>> Climate(temp_coldest=-15.0).temp_cell_hottest
    70.0
    """

    temp_coldest: float = number(-60.0, 40.0, "coldest dawn of the year's plan", above="Is this Fahrenheit?")
    temp_cell_hottest: float = number(
        25.0, 110.0, "hottest cells of the year's plan", default=70.0, above="Is this Fahrenheit?",
        slip="Cells in full sun are 25 to 50 K warmer than the air.",
    )  # fmt: skip
    basis: str = text("where these temperatures come from", default="as entered")
    places: tuple[tuple[str, float], ...] = listed(
        'coldest dawn of each place, [["coast", -3], ["pass", -22]]',
        sense='it is a list such as [["coast", -3], ["pass", -22]]', default=(),
        more="The coldest of them counts.",
    )  # fmt: skip

    def together(self) -> None:
        """Check that the hottest is above the coldest, and that no place of the plan is colder than `temp_coldest`.

        Raises
        ------
        ValueError
            For temperatures that contradict each other.
        """
        sense = f"it must lie above temp_coldest, {self.temp_coldest:g} °C"
        warmer = self.temp_cell_hottest > self.temp_coldest
        require(warmer, self, "temp_cell_hottest", sense, "Are the two swapped?", other="temp_coldest")
        pairs = isinstance(self.places, tuple) and all(
            isinstance(place, tuple) and len(place) == 2 and isinstance(place[0], str) for place in self.places
        )
        require(pairs, self, "places", 'it is a list such as [["coast", -3], ["pass", -22]]')
        for name, temp in self.places:
            require(-60.0 <= temp <= 40.0, self, "places", f"{name} has {temp:g}, and -60 to 40 °C makes sense")
        coldest = min(self.places, key=lambda place: place[1], default=("", self.temp_coldest))
        sense = f"{coldest[0]} of the year's plan has {coldest[1]:g} °C, and the coldest counts"
        require(self.temp_coldest <= coldest[1], self, "temp_coldest", sense)
