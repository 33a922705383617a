"""The one door in and out: rigs as TOML files that one can edit and send to a friend, lists, and the examples."""

from __future__ import annotations

from vanpower.files.controllers import read_controllers
from vanpower.files.examples import example_batteries, example_controllers, examples
from vanpower.files.messages import did_you_mean, nearest
from vanpower.files.resources import data_folder
from vanpower.files.rig_files import example, read_rig, rig_to_toml
from vanpower.files.rig_forms import MOST_TOLD
from vanpower.files.rig_tables import rig_of

__all__ = [
    "MOST_TOLD",
    "data_folder",
    "did_you_mean",
    "example",
    "example_batteries",
    "example_controllers",
    "examples",
    "nearest",
    "read_controllers",
    "read_rig",
    "rig_of",
    "rig_to_toml",
]
