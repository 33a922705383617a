"""The loss ladder: from the label's watts in this light down to what loads and battery took, every watt-hour named."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from vanpower.studies.losses import LOSSES
from vanpower.studies.walks import GAINS, PANEL_LOSSES, REFUSALS, STEPS
from vanpower.verdicts import whole

if TYPE_CHECKING:
    import pandas as pd

WORTH_A_WORD = 0.02
# share of the label's energy from which a refusal is told; no source
SHOWN_WH = 0.05
# [Wh] below which a step is left out of a table


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
        return (said, steps[worst]) if steps[worst] > WORTH_A_WORD * max(steps["label"], 1e-9) else None

    def table(self) -> pd.DataFrame:
        """A line a step, a column a rig: watt-hours, losses negative."""
        import pandas as pd

        lines = {"label watts in this light": self._row("label", 1)}
        lines |= {f"+ {gain}": self._row(gain, 1) for gain in GAINS}
        lines |= {f"- {loss}": self._row(loss, -1) for loss in self.lossy}
        lines["= to loads and battery"] = self._row("used", 1)
        return pd.DataFrame.from_dict(lines, orient="index", columns=list(self.steps)).rename_axis("Wh")

    def _row(self, step: str, sign: int) -> list[float]:
        """One step of every rig, 0 without a sign."""
        return [round(sign * steps[step], 1) + 0.0 for steps in self.steps.values()]

    def text(self) -> str:
        """The table in plain lines, with the share of the label's watt-hours."""
        names = list(self.steps)
        width = max(5, *map(len, names), *(len(whole(steps["label"])) for steps in self.steps.values()))
        lines = [(f"{'Wh':25}" + "".join(f"  {name:>{width}}        " for name in names)).rstrip()]
        rows = [("label watts in this light", "label", ""), *((f"+ {gain}", gain, "+") for gain in GAINS)]
        rows += [(f"- {loss}", loss, "-") for loss in self.lossy] + [("= to loads and battery", "used", "")]
        for words, step, sign in rows:
            cells = [self._cell(name, step, sign, width) for name in names]
            lines.append(f"{words:25}" + "".join(cells))
        return "\n".join(lines)

    def _cell(self, name: str, step: str, sign: str, width: int) -> str:
        """One step of one rig and its share of the label's."""
        steps = self.steps[name]
        share = 100 * steps[step] / max(steps["label"], 1e-9)
        amount = f"{sign if steps[step] >= 0.5 else ''}{whole(steps[step])}"
        return f"  {amount:>{width}} {share:5.1f} %"


def explained(step: str) -> str:
    """What a step of the ladder means."""
    return {**GAINS, **PANEL_LOSSES, **LOSSES, **REFUSALS}[step]
