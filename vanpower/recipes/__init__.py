"""Rigs as TOML files one can read, edit and send to a friend, and the examples that come with the kit."""

from __future__ import annotations

from vanpower.recipes.blocks import Block, forum_block
from vanpower.recipes.candidates import read_candidates
from vanpower.recipes.charts import ChartRecipe, chart_recipe, recipe_from_json, recipe_to_json
from vanpower.recipes.files import load_rig, read_rig, rig_to_toml
from vanpower.recipes.forms import GUARDS, MOST_TOLD
from vanpower.recipes.lines import recipe_in, recipe_line
from vanpower.recipes.pictures import RECIPE_KEY, read_chart
from vanpower.recipes.readings import TrialRows
from vanpower.recipes.shelves import data_folder, example_batteries, example_controllers, example_rigs
from vanpower.recipes.tables import rig_of
from vanpower.recipes.words import did_you_mean, nearest
from vanpower.rig import printable

__all__ = [
    "GUARDS",
    "MOST_TOLD",
    "RECIPE_KEY",
    "Block",
    "ChartRecipe",
    "TrialRows",
    "chart_recipe",
    "data_folder",
    "did_you_mean",
    "example_batteries",
    "example_controllers",
    "example_rigs",
    "forum_block",
    "load_rig",
    "nearest",
    "printable",
    "read_candidates",
    "read_chart",
    "read_rig",
    "recipe_from_json",
    "recipe_in",
    "recipe_line",
    "recipe_to_json",
    "rig_of",
    "rig_to_toml",
]
