"""What drawing a recipe gives, and what a recipe may tell its chart besides."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field

from matplotlib.figure import Figure

from vanpower.rig import Days, Rig, printable
from vanpower.sharing.recipe import ChartRecipe
from vanpower.sharing.states import Page

LARGEST_AXIS = 1e6
# [W or V] far beyond what a van's chart can show
Numbers = dict[str, str]


@dataclass(frozen=True, eq=False)
class Drawn:
    """A chart, the numbers it shows as printed, and the answer in words.

    Examples
    --------
    >>> chart = Drawn(Figure(), {"2s": "43.1 W", "2p": "42.9 W"}, "No difference.")
    >>> chart.numbers["2p"]
    '42.9 W'
    """

    figure: Figure
    numbers: Numbers
    words: str
    page: Page | None = field(default=None, kw_only=True)
    """What its reader moves, where it is a page to send."""


def check_options(recipe: ChartRecipe, known: Sequence[str] = ()) -> None:
    """Refuse what the chart is told besides by names it does not know."""
    for name in recipe.options:
        if name not in known:
            can = f"it knows {', '.join(known)}" if known else "it knows none"
            raise ValueError(f"chart {recipe.kind} has no option {printable(name)[:40]!r}; {can}.")


def axis_ends(recipe: ChartRecipe, known: Sequence[str] = ()) -> dict[str, float]:
    """What the chart is told besides, by names it knows, each an axis's end."""
    check_options(recipe, known)
    for name, value in recipe.options.items():
        if isinstance(value, bool) or not isinstance(value, int | float) or not 0 < value <= LARGEST_AXIS:
            raise ValueError(f"{name} of chart {recipe.kind} is a number above 0, up to {LARGEST_AXIS:g}.")
    return {name: float(value) for name, value in recipe.options.items() if isinstance(value, int | float)}


def rig_in(recipe: ChartRecipe) -> Rig:
    """The first rig of a recipe."""
    rig = next(iter(recipe.rigs.values()), None)
    if rig is None:
        raise ValueError(f"chart {recipe.kind} needs a rig, and the recipe has none.")
    return rig


def days_in(recipe: ChartRecipe) -> Days | None:
    """The days a recipe asks for, or None."""
    return next((request for request in recipe.requests if isinstance(request, Days)), None)
