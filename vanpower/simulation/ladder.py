"""The loss ladder: from the label's watt-hours in this light down to what loads and battery took, every loss named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from vanpower.model.losses import LOSSES
from vanpower.results.numbers import DIGITS, SHOWN_WH, known_in
from vanpower.results.result import Shown
from vanpower.results.table import Column, Table
from vanpower.simulation.time_stepping import GAINS, REFUSALS, STEPS

WORTH_A_WORD = 0.02
# share of the label's energy from which a refusal is told; no source
TENTHS_UNDER = 1000.0
# [Wh] of the label under which a ladder tells tenths, so that its small steps can be told apart; no source
CLOSES = 1
# digits behind the point of watt-hours [Wh] in a table, whose steps add up as they stand there; no source
LEFT, KIND = "dull light", "kind light"
# what is left where every other step has its name
LONGEST = 23
# letters of the name of another source in a line
ALL = "all told"
# what loads and battery took from the sun and from other sources


@dataclass(frozen=True, eq=False, repr=False)
class Ladder(Shown):
    """The loss ladder of several rigs: watt-hours by name.

    Parameters
    ----------
    steps : dict of str to dict of str to float
        For each rig: "label", the gains, every loss and "used"; label + gains - losses = used. [Wh]
    fed : dict of str to dict of str to float
        For each rig: what other sources than the sun gave to loads and battery, by their names. [Wh]

    Examples
    --------
    >>> nothing = dict.fromkeys((*GAINS, *STEPS), 0.0)
    >>> ladder = Ladder({"2p": nothing | {"label": 900.0, "cable": 20.0, "battery full": 280.0, "used": 600.0}})
    >>> ladder.lossy, ladder.slack("2p")
    (['cable', 'battery full'], 0.0)
    >>> ladder.refused("2p")
    ('the battery is full, or held at its volts', 280.0)
    """

    steps: Mapping[str, Mapping[str, float]]
    fed: Mapping[str, Mapping[str, float]] = field(default_factory=dict)

    def top(self, name: str) -> float:
        """Label and gains of one rig. [Wh]"""
        return self.steps[name]["label"] + sum(self.steps[name][gain] for gain in GAINS)

    def slack(self, name: str) -> float:
        """Energy that the named steps of one rig do not account for: label and gains less losses and use. [Wh]"""
        return self.top(name) - sum(self.steps[name][loss] for loss in STEPS) - self.steps[name]["used"]

    @property
    def lossy(self) -> list[str]:
        """Losses that show in at least one rig, from the roof down."""
        return [loss for loss in STEPS if any(steps[loss] > SHOWN_WH for steps in self.steps.values())]

    def refused(self, name: str) -> tuple[str, float] | None:
        """Largest loss by the battery's refusal or by clipping, in words and [Wh]; None where it is too small."""
        steps = self.steps[name]
        worst = max((*REFUSALS, "clipping"), key=lambda loss: steps[loss])
        said = {**LOSSES, **REFUSALS}[worst]
        return (said, steps[worst]) if steps[worst] > max(WORTH_A_WORD * steps["label"], SHOWN_WH) else None

    def printed(self, name: str, place: int) -> dict[str, float]:
        """The steps of one rig rounded so that those shown add up as they stand there; "dull light" is what is left.

        Parameters
        ----------
        place : int
            Behind which decimal; negative in front of the point.

        Notes
        -----
        Dull and kind light are what is left between the label's watts and all that is named, so they take the
        roundings.
        """
        steps = {step: round(wh, place) + 0.0 for step, wh in self.steps[name].items()}
        gains = sum(steps[gain] for gain in GAINS)
        taken = sum(steps[loss] for loss in self.lossy if loss != LEFT)
        left = round(steps["label"] + gains - taken - steps["used"], place) + 0.0
        kind = steps[KIND] + max(-left, 0.0)
        fed = {_key(source): round(wh, place) + 0.0 for source, wh in self.fed.get(name, {}).items()}
        all_told = round(steps["used"] + sum(fed.values()), place) + 0.0
        return steps | {LEFT: max(left, 0.0), KIND: round(kind, place) + 0.0} | fed | {ALL: all_told}

    def table(self, what: None = None) -> Table:
        """A line a step, two columns a rig: watt-hours to a tenth, losses negative, and their share of the label's."""
        places = {name: _place(steps["label"]) for name, steps in self.steps.items()}
        printed = {name: self.printed(name, place) for name, place in places.items()}
        closed = {name: self.printed(name, CLOSES) for name in self.steps}
        tops = (len(_amount(printed[name]["label"], place)) for name, place in places.items())
        width = max(5, *map(len, self.steps), *tops)
        told = self._rows(list(printed.values()))
        rows = self._rows([*printed.values(), *closed.values()])
        columns = [Column(name="Wh", width=25, left=True)]
        for name, steps in printed.items():
            amounts = (_amount(steps.get(row[1], 0.0), places[name], row[0][: row[0][0] in "+-"]) for row in rows)
            said = tuple(amount if row in told else None for row, amount in zip(rows, amounts, strict=True))
            columns.append(Column(name=name, width=width, said=said))
            columns.append(Column(name=f"{name}, share", unit="%", head="", gap=1, width=7, say="{:.1f} %".format))
        each = [
            (words, *(n for name in closed for n in (sign * closed[name].get(step, 0.0) + 0.0, self.share(name, step))))
            for words, step, sign in rows
        ]
        return Table(tuple(columns), each)

    def share(self, name: str, step: str) -> float:
        """A step's share of the label's watt-hours; none where there is no light. [%]"""
        steps = self.steps[name]
        fed = {_key(source): wh for source, wh in self.fed.get(name, {}).items()}
        known = dict(steps) | fed | {ALL: steps["used"] + sum(fed.values())}
        return 100 * known.get(step, 0.0) / steps["label"] if steps["label"] > 0 else 0.0

    def brief(self) -> str:
        """Where each rig's ladder begins and ends."""
        return "; ".join(
            f"{name}: {known_in(steps['label'], 'Wh')} of label watts, {known_in(steps['used'], 'Wh')} to loads and "
            "battery"
            for name, steps in self.steps.items()
        )

    def _rows(self, printed: list[dict[str, float]]) -> list[tuple[str, str, int]]:
        """Words, name and sign of every step that is shown, from the label down."""
        shown = [loss for loss in STEPS if loss in self.lossy or (loss == LEFT and any(p[LEFT] for p in printed))]
        rows = [("label watts in this light", "label", 1), *((f"+ {gain}", gain, 1) for gain in GAINS)]
        used = ("= to loads and battery", "used", 1)
        others = dict.fromkeys(source for fed in self.fed.values() for source in fed)
        told = [(f"+ {source[:LONGEST]}", _key(source), 1) for source in others]
        all_told = [("= from sun and others", ALL, 1)] * bool(told)
        return [*rows, *((f"- {loss}", loss, -1) for loss in shown), used, *told, *all_told]


def _key(source: str) -> str:
    """What a ladder calls the step of another source, so that no name is that of a loss."""
    return f"from {source}"


def _amount(amount: float, place: int, sign: str = "") -> str:
    """A step in its printed digits, with the sign it is told by; nothing has none."""
    return f"{sign}{amount:.{max(place, 0)}f}" if amount else "0"


def _place(label: float) -> int:
    """Behind which decimal a ladder is printed: tenths below `TENTHS_UNDER`, then no more digits than are known."""
    return 1 if label < TENTHS_UNDER else min(0, DIGITS - len(f"{label:.0f}"))
