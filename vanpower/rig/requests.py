"""What is asked: a moment set by hand or a real day, and shade noted on the roof."""

from __future__ import annotations

from dataclasses import dataclass

from vanpower.rig.checking import Checked, require_count, require_range


@dataclass(frozen=True, kw_only=True)
class Shade(Checked):
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
        require_range(self, "lit", 0.0, 1.0, unit="(a share of the light)", above="Is this percent?")
        for field, first in (("panel", 0), ("substring", 0), ("cells", 1)):
            require_count(self, field, first, 200)


@dataclass(frozen=True, kw_only=True)
class Snapshot(Checked):
    """One moment set by hand: light [W/m²], cell temperature [°C] and shade."""

    light: float
    temp_cell: float
    shade: tuple[Shade, ...] = ()

    def __post_init__(self) -> None:
        require_range(self, "light", 0.0, 1800.0, unit="W/m²", above="Are these lux?")
        require_range(self, "temp_cell", -60.0, 110.0, above="Is this Fahrenheit?")


@dataclass(frozen=True, kw_only=True)
class Outlook(Checked):
    """A real day: which weather, which day of it, and shade that stays all day.

    Parameters
    ----------
    weather : str
        A name the kit knows ("sand-point"), or the path of a CSV file with columns time, ghi and temp_air.
    day : str
        "dull", "median" or "bright" (5, 50 and 95 of 100 days bring less light), month-day such as "12-21", "only"
        for a file of a single day, or "all" for every row of it.
    """

    weather: str = "sand-point"
    day: str = "dull"
    shade: tuple[Shade, ...] = ()


Request = Snapshot | Outlook
