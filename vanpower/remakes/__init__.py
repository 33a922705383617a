"""Charts drawn from their recipes: whatever is saved was drawn from what is saved with it, so it can be made again.

To make another chart one that can be made again, add a line to `CHARTS`.
"""

from __future__ import annotations

from vanpower.remakes.charts import CHARTS
from vanpower.remakes.drawn import Drawn, figure_of
from vanpower.remakes.saving import (
    Remade,
    draw,
    drawn_from,
    forum_answer,
    recipe_for,
    remake,
    save_answer,
    save_chart,
    save_with_words,
    write_chart,
)

__all__ = [
    "CHARTS",
    "Drawn",
    "Remade",
    "draw",
    "drawn_from",
    "figure_of",
    "forum_answer",
    "recipe_for",
    "remake",
    "save_answer",
    "save_chart",
    "save_with_words",
    "write_chart",
]
