"""The loss ladder: from the label's watts in this light down to what loads and battery took, every watt-hour named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from vanpower.model.losses import LOSSES
from vanpower.results.numbers import DIGITS
from vanpower.simulation.time_stepping import GAINS, PANEL_LOSSES, REFUSALS, STEPS

if TYPE_CHECKING:
    import pandas as pd

WORTH_A_WORD = 0.02
# share of the label's energy from which a refusal is told; no source
SHOWN_WH = 0.05
# [Wh] below which a step is left out of a table
TENTHS_UNDER = 1000.0
# [Wh] of the label under which a ladder tells tenths, so that its small steps can be told apart; no source
LEFT, KIND = "dull light", "kind light"
# what is left where every other step has its name


@dataclass(frozen=True, eq=False)
class Ladder:
    """Watt-hours by name, rig by rig.

    Parameters
    ----------
    steps : dict of str to dict of str to float
        For each rig: "label", the gains, every loss and "used"; label + gains - losses = used. [Wh]

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

    def top(self, name: str) -> float:
        """Label and gains of one rig. [Wh]"""
        return self.steps[name]["label"] + sum(self.steps[name][gain] for gain in GAINS)

    def slack(self, name: str) -> float:
        """What the named steps of one rig fail to account for. [Wh]"""
        return self.top(name) - sum(self.steps[name][loss] for loss in STEPS) - self.steps[name]["used"]

    @property
    def lossy(self) -> list[str]:
        """Losses that show in at least one rig, from the roof down."""
        return [loss for loss in STEPS if any(steps[loss] > SHOWN_WH for steps in self.steps.values())]

    def refused(self, name: str) -> tuple[str, float] | None:
        """The largest of what the battery refuses or the current limit clips, if it is worth a word."""
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
        return steps | {LEFT: max(left, 0.0), KIND: round(kind, place) + 0.0}

    def table(self) -> pd.DataFrame:
        """A line a step, a column a rig: watt-hours to a tenth, losses negative."""
        import pandas as pd

        each = [self.printed(name, 1) for name in self.steps]
        rows = [(words, [sign * steps[step] + 0.0 for steps in each]) for words, step, sign in self._rows(each)]
        return pd.DataFrame.from_dict(dict(rows), orient="index", columns=list(self.steps)).rename_axis("Wh")

    def text(self) -> str:
        """The table in plain lines, with the share of the label's watt-hours."""
        places = [_place(steps["label"]) for steps in self.steps.values()]
        each = {name: self.printed(name, place) for name, place in zip(self.steps, places, strict=True)}
        cells = [_Column(self.steps[name], each[name], place) for name, place in zip(each, places, strict=True)]
        width = max(5, *(len(name) for name in each), *(len(column.amount("label", 1)) for column in cells))
        lines = [(f"{'Wh':25}" + "".join(f"  {name:>{width}}        " for name in each)).rstrip()]
        for words, step, sign in self._rows(list(each.values())):
            said = [f"  {column.amount(step, sign):>{width}} {column.share(step):5.1f} %" for column in cells]
            lines.append(f"{words:25}" + "".join(said))
        return "\n".join(lines)

    def _rows(self, printed: list[dict[str, float]]) -> list[tuple[str, str, int]]:
        """Words, name and sign of every step that is shown, from the label down."""
        shown = [loss for loss in STEPS if loss in self.lossy or (loss == LEFT and any(p[LEFT] for p in printed))]
        rows = [("label watts in this light", "label", 1), *((f"+ {gain}", gain, 1) for gain in GAINS)]
        return [*rows, *((f"- {loss}", loss, -1) for loss in shown), ("= to loads and battery", "used", 1)]


@dataclass(frozen=True)
class _Column:
    """One rig's steps, exact and as printed."""

    exact: Mapping[str, float]
    steps: Mapping[str, float]
    place: int

    def amount(self, step: str, sign: int) -> str:
        """A step in its printed digits; gains and losses carry their sign, nothing has none."""
        amount = self.steps[step]
        mark = "" if step in ("label", "used") else "+" if sign > 0 else "-"
        return f"{mark}{amount:.{max(self.place, 0)}f}" if amount else "0"

    def share(self, step: str) -> float:
        """The share of the label's watt-hours; none where there is no light. [%]"""
        return 100 * self.exact[step] / self.exact["label"] if self.exact["label"] > 0 else 0.0


def _place(label: float) -> int:
    """Behind which decimal a ladder is printed: tenths below `TENTHS_UNDER`, then no more digits than are known."""
    return 1 if label < TENTHS_UNDER else min(0, DIGITS - len(f"{label:.0f}"))


def explained(step: str) -> str:
    """What a step of the ladder means."""
    return {**GAINS, **PANEL_LOSSES, **LOSSES, **REFUSALS}[step]
