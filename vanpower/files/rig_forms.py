"""The tables a rig file may have; what their keys mean, the descriptions say themselves."""

from __future__ import annotations

from vanpower.rig import (
    Battery,
    Cable,
    Circuit,
    Climate,
    Controller,
    Fixture,
    Inverter,
    Load,
    Panel,
    Placement,
    Rig,
    Roof,
    Source,
)
from vanpower.rig.fields import Description, Field, Listed, Text, Whole, table

LARGEST_FILE = 1_000_000
# [bytes] a rig of 24 unlike panels takes 20 000; more is another kind of file
MOST_PANELS = 24
# more than a van roof holds; common practice, no source
MOST_FIXTURES = 40
# more than a van roof holds; common practice, no source
MOST_STOPS = 100
# of a trip; no source
MOST_TOLD = 3
# problems told at once; the rest is counted
MOST_WEIGHED = 100
# problems of one table put into words; a file with more is another kind of file
NOT_KEYS = {
    "awg": "section_mm2 takes the copper area; 12 AWG is 3.31 mm², 10 AWG 5.26, 8 AWG 8.37, 6 AWG 13.3.",
}
# keys people write that have no near one here; AWG areas: ASTM B258
ROOF_SIZES = {
    **dict.fromkeys(("lengthm", "length"), "long_m takes the roof's length along the van"),
    **dict.fromkeys(("widthm", "width"), "wide_m takes the roof's width across the van"),
    **dict.fromkeys(("heightm", "height"), "above_ground_m takes the height of the roof's skin above the ground"),
}
# what people call the sizes of a roof, where the same word elsewhere is a cable's or a panel's


HOMES: dict[str, type[Description]] = {
    "at the top of the file, above the first table": Rig,
    "in [[panels]]": Panel,
    "in [battery]": Battery,
    "in [climate]": Climate,
    "in [[loads]]": Load,
    "in [[sources]]": Source,
    "in [inverter]": Inverter,
    "in [[circuits]]": Circuit,
    "in [circuits.controller]": Controller,
    "in [circuits.cable] or [circuits.battery_cable]": Cable,
    "in [roof]": Roof,
    "in [[roof.spots]]": Placement,
    "in [[roof.fixtures]]": Fixture,
}
# where each kind of key lives
USE = Text(name="use", meaning="a part that comes with the kit, to begin with", default="")
ALONE: dict[type[Description], dict[str, Field]] = {
    Panel: {"count": Whole(name="count", meaning="how many equal ones", default=1, least=1, most=MOST_PANELS)},
    Battery: {"use": USE},
    Controller: {"use": USE},
    Circuit: {
        "panels": Listed(
            name="panels",
            meaning="which panels are its own, where circuits share the roof",
            default=(),
            sense="it is a list of whole numbers such as [1, 2]",
        )
    },
}
# keys that stand in files alone


HEADERS = {
    "panels": "[[panels]]",
    "circuits": "[[circuits]]",
    "loads": "[[loads]]",
    "sources": "[[sources]]",
    "inverter": "[inverter]",
    "battery": "[battery]",
    "climate": "[climate]",
    "controller": "[circuits.controller]",
    "cable": "[circuits.cable]",
    "battery_cable": "[circuits.battery_cable]",
    "roof": "[roof]",
    "spots": "[[roof.spots]]",
    "fixtures": "[[roof.fixtures]]",
}
# how a file writes the tables


def known_keys(kind: type[Description]) -> dict[str, Field]:
    """What is known of each key that a table of this kind takes in a file.

    Examples
    --------
    >>> list(known_keys(Load))[:5]
    ['name', 'p_load', 'from_h', 'to_h', 'p_hourly']
    """
    return table(kind) | ALONE.get(kind, {})
