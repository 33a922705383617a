"""The whole van."""

from __future__ import annotations

from dataclasses import dataclass

from vanpower.rig.checking import Checked, require, require_one_of, twice_used
from vanpower.rig.circuits import Circuit
from vanpower.rig.house import Battery, Climate, Load
from vanpower.rig.panels import Panel
from vanpower.rig.roof import Roof, check_roof

RULE_BOOKS = ("IEC", "US")
RULE_SLIPS = {"nec": 'The National Electrical Code is "US".', "bs": 'British rules follow "IEC".'}


@dataclass(frozen=True, kw_only=True)
class Rig(Checked):
    """A van: panels, battery, climate, a circuit for each controller, loads, whose wiring rules, perhaps its roof.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> len(rig.panels), rig.circuits[0].wiring.name
    (2, '2p')
    """

    name: str
    source: str
    panels: tuple[Panel, ...]
    battery: Battery
    climate: Climate
    circuits: tuple[Circuit, ...]
    loads: tuple[Load, ...] = ()
    rule_book: str = "IEC"
    roof: Roof | None = None

    def __post_init__(self) -> None:
        for field, what in (("panels", "one panel"), ("circuits", "one circuit with a controller")):
            value = getattr(self, field)
            filled = isinstance(value, tuple) and bool(value)
            require(
                filled,
                self,
                field,
                f"a rig has a tuple of at least {what}",
                "One alone is (it,), with a comma.",
            )
        listed = isinstance(self.loads, tuple) and all(isinstance(load, Load) for load in self.loads)
        require(listed, self, "loads", "it is a tuple of loads", "One alone is (it,), with a comma.")
        require_one_of(self, "rule_book", RULE_BOOKS, RULE_SLIPS)
        used = tuple(panel for circuit in self.circuits for panel in circuit.wiring.panels)
        twice = twice_used(used)
        if twice:
            raise ValueError(f"Rig.circuits use {twice} twice; each panel belongs to one circuit.")
        if max(used) >= len(self.panels):
            has = "there is 1 panel" if len(self.panels) == 1 else f"there are {len(self.panels)} panels"
            raise ValueError(f"Rig.circuits name P{max(used) + 1}, and {has}; panels count from P1.")
        if self.roof is not None:
            check_roof(self.roof, self.panels)
