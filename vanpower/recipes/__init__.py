"""Rigs as TOML files one can read, edit and send to a friend, and the examples that come with the kit."""

from __future__ import annotations

from vanpower.recipes.blocks import Block, facts, forum_block
from vanpower.recipes.candidates import COLUMNS, MOST_CANDIDATES, NEEDED, read_candidates
from vanpower.recipes.charts import ChartRecipe, chart_recipe, recipe_from_json, recipe_to_json
from vanpower.recipes.files import COMMENT_COLUMN, load_rig, read_rig, rig_to_toml
from vanpower.recipes.forms import (
    ADAPTERS,
    GUARDS,
    HEADERS,
    HOMES,
    LARGEST_FILE,
    MEANINGS,
    MOST_PANELS,
    MOST_TOLD,
    MOST_WEIGHED,
    NOT_KEYS,
    CircuitForm,
    FileForm,
    RoofForm,
)
from vanpower.recipes.lines import recipe_in, recipe_line
from vanpower.recipes.pictures import RECIPE_KEY, read_chart
from vanpower.recipes.readings import MOST_READINGS, TrialRows
from vanpower.recipes.shelves import data_folder, example_batteries, example_controllers, example_rigs, shelf_tables
from vanpower.recipes.tables import Problems, rig_of
from vanpower.recipes.texts import SYNTAX_SLIPS, bytes_of, key_lines, parsed, text_of
from vanpower.recipes.words import (
    AWG_STEP,
    AWG_ZERO_MM2,
    did_you_mean,
    meaning,
    nearest,
    plain,
    printable,
    quoted,
    sentence_of,
    short,
)

__all__ = [
    "ADAPTERS",
    "AWG_STEP",
    "AWG_ZERO_MM2",
    "COLUMNS",
    "COMMENT_COLUMN",
    "GUARDS",
    "HEADERS",
    "HOMES",
    "LARGEST_FILE",
    "MEANINGS",
    "MOST_CANDIDATES",
    "MOST_PANELS",
    "MOST_READINGS",
    "MOST_TOLD",
    "MOST_WEIGHED",
    "NEEDED",
    "NOT_KEYS",
    "RECIPE_KEY",
    "SYNTAX_SLIPS",
    "Block",
    "ChartRecipe",
    "CircuitForm",
    "FileForm",
    "Problems",
    "RoofForm",
    "TrialRows",
    "bytes_of",
    "chart_recipe",
    "data_folder",
    "did_you_mean",
    "example_batteries",
    "example_controllers",
    "example_rigs",
    "facts",
    "forum_block",
    "key_lines",
    "load_rig",
    "meaning",
    "nearest",
    "parsed",
    "plain",
    "printable",
    "quoted",
    "read_candidates",
    "read_chart",
    "read_rig",
    "recipe_from_json",
    "recipe_in",
    "recipe_line",
    "recipe_to_json",
    "rig_of",
    "rig_to_toml",
    "sentence_of",
    "shelf_tables",
    "short",
    "text_of",
]
