"""The one door in and out: rigs as TOML files that one can edit and send to a friend, lists, and the examples."""

from __future__ import annotations

from vanpower.files.columns import TRIAL, WEATHER, Column, Form
from vanpower.files.controllers import read_controllers
from vanpower.files.examples import example_batteries, example_controllers, examples
from vanpower.files.messages import did_you_mean, nearest
from vanpower.files.reading import check_lines
from vanpower.files.resources import data_folder
from vanpower.files.rig_files import example, read_rig, rig_to_toml
from vanpower.files.rig_forms import MOST_TOLD
from vanpower.files.rig_tables import rig_of
from vanpower.files.tables import Table, read_table
from vanpower.files.times import Times, check_rising
from vanpower.files.units import Unit

__all__ = [
    "MOST_TOLD",
    "TRIAL",
    "WEATHER",
    "Column",
    "Form",
    "Table",
    "Times",
    "Unit",
    "check_lines",
    "check_rising",
    "data_folder",
    "did_you_mean",
    "example",
    "example_batteries",
    "example_controllers",
    "examples",
    "nearest",
    "read_controllers",
    "read_rig",
    "read_table",
    "rig_of",
    "rig_to_toml",
]
