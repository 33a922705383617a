"""The house battery, and the coldest and hottest the van meets."""

from __future__ import annotations

from dataclasses import dataclass

from vanpower.rig.checking import Checked, require, require_one_of, require_range

CHEMISTRY_SLIPS = {
    "li": 'Is "lithium iron phosphate" meant?',
    "lfp": 'Is "lithium iron phosphate" meant?',
    "agm": 'That is a "lead-acid" battery.',
    "gel": 'That is a "lead-acid" battery.',
    "lead": 'Is "lead-acid" meant?',
}
# part of what people write, and what it is called here


@dataclass(frozen=True, kw_only=True)
class Battery(Checked):
    """The house battery: nominal volts, volts now (fixed for the study), absorption volts, chemistry, Ah.

    Parameters
    ----------
    i_accept_max : float, optional
        Most amps it accepts, by its sheet. [A]
    """

    name: str
    v_nominal: float
    v_now: float
    v_absorption: float
    chemistry: str = "lithium iron phosphate"
    capacity_ah: float | None = None
    i_accept_max: float | None = None

    def __post_init__(self) -> None:
        measured = "Is it the measured value? That goes into v_now."
        require(self.v_nominal in (12, 24, 36, 48), self, "v_nominal", "12, 24, 36 and 48 V are usual", measured)
        for field in ("v_now", "v_absorption"):
            slip = f"v_nominal is {self.v_nominal:g} V; which of the two is wrong?"
            require_range(self, field, 0.8 * self.v_nominal, 1.3 * self.v_nominal, slip=slip)
        require_one_of(self, "chemistry", ("lithium iron phosphate", "lead-acid"), CHEMISTRY_SLIPS)
        require_range(self, "capacity_ah", 1.0, 10000.0, above="Are these watt-hours or milliamp-hours?")
        require_range(self, "i_accept_max", 0.5, 5000.0, above="Are these milliamps?")


@dataclass(frozen=True, kw_only=True)
class Climate(Checked):
    """The coldest first light and the hottest cells of the year's plan, and where they come from. [°C]

    Parameters
    ----------
    places : tuple of (str, float)
        Places of the year's plan and the coldest first light of each; the coldest of them counts.
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
