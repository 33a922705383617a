"""The house battery, what draws from it, and the coldest and hottest the van meets."""

from __future__ import annotations

from dataclasses import dataclass

from vanpower.rig.checking import Checked, require, require_count, require_one_of, require_range

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


@dataclass(frozen=True, kw_only=True)
class Battery(Checked):
    """The house battery by its label, its charge settings, and what a run through time needs to know of it.

    Parameters
    ----------
    v_nominal : float
        12, 24, 36 or 48. [V]
    v_now : float
        At its terminals, held fixed where a study does not walk through time. [V]
    v_absorption, v_float : float
        Charge settings; without a float setting the chemistry's usual one is taken. [V]
    chemistry : str
        "lithium iron phosphate", "other lithium", "flooded lead-acid", "AGM" or "gel"; "lead-acid" where it is not
        known which of the three, so the strictest of them decides.
    cells : int, optional
        In series; where it is not given, as usual for the nominal volts.
    capacity_ah : float, optional
        As on its label; a run through time needs it. [Ah]
    soc_start_pct, usable_pct : float
        Charge at the start of a run, by a counter of amp-hours: rest volts of lithium iron phosphate do not tell it;
        share of the capacity down to which loads are served. [%]
    r_internal, i_accept_max, i_tail, absorption_h, coulombic_pct, compensation_mv_per_k : float, optional
        Internal resistance [ohm]; most amps its sheet lets in from all chargers together [A]; amps at which absorption
        ends [A], or the hours after which it ends [h]; share of the charge put in that can be taken out [%]; what the
        settings change with its heat, for the whole battery [mV/K]. Where one is not given, the chemistry's usual value
        stands in.
    temp_lockout, temp_release : float, optional
        Below the first it takes no charge until it is warmer than the second. [°C]
    temp_heated : float, optional
        A heated place is never colder; what heats it is not counted. [°C]
    temp_hottest : float, optional
        Hottest that it gets where it lies. [°C]
    temp_offset, lag_h : float
        Kelvins by which its place is warmer than the air, and the hours by which it follows. [K, h]
    other_chargers : str
        A note on what else charges it; its settings must agree with these.

    Examples
    --------
    >>> Battery(name="12 V", v_nominal=12, v_now=13.3, v_absorption=14.2).chemistry
    'lithium iron phosphate'
    """

    name: str = "house battery"
    v_nominal: float
    v_now: float
    v_absorption: float
    chemistry: str = IRON_PHOSPHATE
    cells: int | None = None
    capacity_ah: float | None = None
    v_float: float | None = None
    soc_start_pct: float = 70.0
    usable_pct: float | None = None
    r_internal: float | None = None
    i_accept_max: float | None = None
    i_tail: float | None = None
    absorption_h: float | None = None
    coulombic_pct: float | None = None
    compensation_mv_per_k: float | None = None
    temp_lockout: float | None = None
    temp_release: float | None = None
    temp_heated: float | None = None
    temp_hottest: float | None = None
    temp_offset: float = 0.0
    lag_h: float = 6.0
    other_chargers: str = ""

    def __post_init__(self) -> None:
        measured = "Is it the measured value? That goes into v_now."
        require(self.v_nominal in (12, 24, 36, 48), self, "v_nominal", "12, 24, 36 and 48 V are usual", measured)
        require_one_of(self, "chemistry", BATTERY_KINDS, CHEMISTRY_SLIPS)
        low, high = V_WITHIN_OTHER if self.chemistry == OTHER_LITHIUM else V_WITHIN
        for field in ("v_now", "v_absorption", "v_float"):
            slip = f"v_nominal is {self.v_nominal:g} V; which of the two is wrong?"
            require_range(self, field, low * self.v_nominal, high * self.v_nominal, slip=slip)
        self._require_cells()
        require_range(self, "capacity_ah", 1.0, 10000.0, above="Are these watt-hours or milliamp-hours?")
        under = f"it lies at or below v_absorption, {self.v_absorption:g} V"
        lower = self.v_float is None or self.v_float <= self.v_absorption
        require(lower, self, "v_float", under, "Are the two swapped?")
        self._require_charge()
        self._require_heat()

    @property
    def is_lithium(self) -> bool:
        """Whether frost forbids to charge it unless its maker allows it."""
        return self.chemistry in LITHIUM

    @property
    def cells_possible(self) -> tuple[int, ...]:
        """How many cells in series a block of its kind and name may have; empty where only its maker knows."""
        if self.chemistry in LEAD_ACID:
            return (round(self.v_nominal / V_LEAD_CELL),)
        if self.chemistry == OTHER_LITHIUM:
            return ()
        low, high = (share * self.v_nominal / V_IRON_CELL for share in BLOCK_NAMES)
        return tuple(cells for cells in range(1, MOST_CELLS) if low <= cells <= high)

    def _require_cells(self) -> None:
        """As many cells as a block of that name can have."""
        require_count(self, "cells", 1, MOST_CELLS)
        possible = self.cells_possible
        if self.cells is not None and possible:
            sense = f"a {self.v_nominal:g} V {self.chemistry} battery has {' or '.join(map(str, possible))} in series"
            require(self.cells in possible, self, "cells", sense, "Are those in parallel counted too?")

    def _require_charge(self) -> None:
        """What it holds, takes and gives back."""
        require_range(self, "soc_start_pct", 0.0, 100.0, above="Are these amp-hours?")
        require_range(self, "usable_pct", 5.0, 100.0, slip="Is it a share from 0 to 1? 80 % is 80.")
        require_range(self, "r_internal", 1e-5, 1.0, above="Are these milliohms?")
        require_range(self, "i_accept_max", 0.1, 5000.0, above="Are these milliamps?")
        require_range(self, "i_tail", 0.01, 500.0, above="Are these milliamps?")
        require_range(self, "absorption_h", 0.0, 24.0, above="Are these minutes?")
        require_range(self, "coulombic_pct", 50.0, 100.0, slip="Is it a share from 0 to 1? 99 % is 99.")
        require_range(self, "compensation_mv_per_k", -300.0, 0.0, slip="It falls with heat, so it is negative or 0.")

    def _require_heat(self) -> None:
        """When it takes no charge, and how it follows the air."""
        require_range(self, "temp_lockout", -40.0, 30.0, above="Is this Fahrenheit?")
        require_range(self, "temp_release", -40.0, 35.0, above="Is this Fahrenheit?")
        alone = self.temp_release is None or self.temp_lockout is not None
        require(alone, self, "temp_release", "it needs temp_lockout beside it")
        if self.temp_lockout is not None and self.temp_release is not None:
            sense = f"it lies at or above temp_lockout, {self.temp_lockout:g} °C"
            require(self.temp_release >= self.temp_lockout, self, "temp_release", sense, "Are the two swapped?")
        require_range(self, "temp_heated", -40.0, 40.0, above="Is this Fahrenheit?")
        require_range(self, "temp_hottest", 0.0, 80.0, above="Is this Fahrenheit?")
        require_range(self, "temp_offset", -10.0, 40.0, unit="K")
        require_range(self, "lag_h", 0.0, 72.0, above="Are these minutes?")


@dataclass(frozen=True, kw_only=True)
class Load(Checked):
    """What draws from the house battery every day: some watts between two hours, or 24 watts hour by hour.

    Parameters
    ----------
    p_load : float, optional
        While it runs, between `from_h` and `to_h`, which may run over midnight. [W]
    p_hourly : tuple of 24 float, optional
        Mean watts of every hour of the day from midnight, instead. [W]

    Examples
    --------
    >>> Load(name="reading lamps", p_load=12.0, from_h=18.0, to_h=23.0).p_hourly is None
    True
    """

    name: str
    p_load: float | None = None
    from_h: float = 0.0
    to_h: float = 24.0
    p_hourly: tuple[float, ...] | None = None

    def __post_init__(self) -> None:
        require_range(self, "p_load", 0.0, 20000.0, above="Are these milliwatts?")
        if self.p_load is None and self.p_hourly is None:
            raise ValueError("Load.p_load is missing; write either p_load or 24 values p_hourly.")
        one = self.p_load is None or self.p_hourly is None
        require(one, self, "p_load", "write either p_load or 24 values p_hourly, not both")
        require_range(self, "from_h", 0.0, 24.0, slip="Hours count from midnight, half past seven is 7.5.")
        require_range(self, "to_h", 0.0, 24.0, slip="Hours count from midnight, half past seven is 7.5.")
        require(self.from_h != self.to_h, self, "to_h", "it differs from from_h", "All day is 0 to 24.")
        if self.p_hourly is not None:
            listed = isinstance(self.p_hourly, tuple) and len(self.p_hourly) == 24
            require(listed, self, "p_hourly", "it is a list of 24 watts, from midnight")
            sound = all(isinstance(watts, (int, float)) and 0 <= watts <= 20000 for watts in self.p_hourly)
            require(sound, self, "p_hourly", "every hour takes 0 to 20000 W")


@dataclass(frozen=True, kw_only=True)
class Climate(Checked):
    """The coldest first light and the hottest cells of the year's plan, and where they come from. [°C]

    Parameters
    ----------
    places : tuple of (str, float)
        Places of the year's plan and the coldest first light of each; the coldest of them counts.

    Examples
    --------
    >>> Climate(temp_coldest=-15.0).temp_cell_hottest
    70.0
    """

    temp_coldest: float
    temp_cell_hottest: float = 70.0
    basis: str = "as entered"
    places: tuple[tuple[str, float], ...] = ()

    def __post_init__(self) -> None:
        require_range(self, "temp_coldest", -60.0, 40.0, above="Is this Fahrenheit?")
        require_range(
            self,
            "temp_cell_hottest",
            25.0,
            110.0,
            above="Is this Fahrenheit?",
            slip="Cells in full sun are 25 to 50 K warmer than the air.",
        )
        sense = f"it must lie above temp_coldest, {self.temp_coldest:g} °C"
        require(
            self.temp_cell_hottest > self.temp_coldest,
            self,
            "temp_cell_hottest",
            sense,
            "Are the two swapped?",
        )
        self._check_places()

    def _check_places(self) -> None:
        """Refuse a plan whose coldest place is colder than the temperature that counts."""
        pairs = isinstance(self.places, tuple) and all(
            isinstance(place, tuple) and len(place) == 2 and isinstance(place[0], str) for place in self.places
        )
        require(pairs, self, "places", 'it is a list such as [["coast", -3], ["pass", -22]]')
        for name, temp in self.places:
            require(-60.0 <= temp <= 40.0, self, "places", f"{name} has {temp:g}, and -60 to 40 °C makes sense")
        coldest = min(self.places, key=lambda place: place[1], default=("", self.temp_coldest))
        sense = f"{coldest[0]} of the year's plan has {coldest[1]:g} °C, and the coldest counts"
        require(self.temp_coldest <= coldest[1], self, "temp_coldest", sense)
