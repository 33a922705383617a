"""A picture carries what made it: recipes, charts saved with them and drawn again, and text for a forum."""

from __future__ import annotations

from vanpower.sharing.drawn import Drawn, figure_of
from vanpower.sharing.forum import Block, forum_block
from vanpower.sharing.picture_files import check_picture, write_picture
from vanpower.sharing.pictures import RECIPE_KEY, read_chart
from vanpower.sharing.recipe import ChartRecipe, chart_recipe, recipe_from_json, recipe_to_json
from vanpower.sharing.recipe_line import recipe_in, recipe_line
from vanpower.sharing.registry import CHARTS
from vanpower.sharing.saving import (
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
from vanpower.sharing.trial_rows import TrialRows

__all__ = [
    "CHARTS",
    "RECIPE_KEY",
    "Block",
    "ChartRecipe",
    "Drawn",
    "Remade",
    "TrialRows",
    "chart_recipe",
    "check_picture",
    "draw",
    "drawn_from",
    "figure_of",
    "forum_answer",
    "forum_block",
    "read_chart",
    "recipe_for",
    "recipe_from_json",
    "recipe_in",
    "recipe_line",
    "recipe_to_json",
    "remake",
    "save_answer",
    "save_chart",
    "save_with_words",
    "write_chart",
    "write_picture",
]
