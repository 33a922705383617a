"""One table says of every field what it means and takes: classes, docstrings, files and forms follow it."""

from __future__ import annotations

import inspect
import json
from dataclasses import fields
from math import inf, nan, nextafter

import pytest
from test_strangers import subclasses

from vanpower import example, examples, rig_to_toml
from vanpower.components.low_light import LowLightReading
from vanpower.files.rig_forms import HOMES, known_keys
from vanpower.files.typed import read
from vanpower.rig import (
    Battery,
    Cable,
    Circuit,
    Climate,
    Controller,
    Days,
    Fixture,
    Inverter,
    Load,
    MadeSky,
    Panel,
    Parked,
    Place,
    Placement,
    Rig,
    Roof,
    Shade,
    Snapshot,
    Source,
    Stop,
    WeatherLog,
    Wiring,
    schema,
    table,
)
from vanpower.rig.fields import Description, Field, Listed, Number, Part, Text, Whole, Word, YesOrNo, unit_of
from vanpower.trials.faults.readings import FaultReadings
from vanpower.trials.stuck_trackers import Reading
from vanpower.trials.used_panel import PanelReadings

VAN = example("goat-cheese-van")
ONES: tuple[Description, ...] = (
    VAN,
    VAN.panels[0],
    VAN.battery,
    VAN.climate,
    VAN.circuits[0],
    VAN.circuits[0].cable,
    VAN.circuits[0].controller,
    VAN.need_roof(),
    VAN.need_roof().spots[0],
    VAN.need_roof().fixtures[0],
    VAN.need_roof().fixtures[-1],
    Load(name="lamp", p_load=5.0),
    Source(name="belt", kind="alternator", i_charge_max=30.0),
    Inverter(p_own=8.0, efficiency_pct=90.0),
    Stop(name="lake", weather="miami", from_day="07-04", to_day="07-06", tilt_deg=20.0),
    Shade(panel=0, lit=0.5),
    Snapshot(light=800.0, temp_cell=25.0),
    Place(latitude_deg=60.0, longitude_deg=5.0),
    MadeSky(kind="half-sine"),
    WeatherLog(path="log.csv"),
    Days(),
    Parked(latitude_deg=47.0, day="06-21"),
    PanelReadings(light=900.0, temp_cell=40.0),
    Reading(v_array=30.0, p_array=50.0),
    FaultReadings(v_array=30.0, i_array=5.0),
    LowLightReading(i_sc=0.3, v_oc=18.0),
)
# one of every kind that knows its fields
IN_FILES = (
    Rig, Panel, Battery, Climate, Load, Source, Inverter, Circuit, Controller, Cable, Roof, Placement, Fixture,
)  # fmt: skip


def outside(field: Field) -> list[object]:
    """Values that no description takes in this field."""
    none = [] if field.default is None else [None]
    if isinstance(field, Number):
        ends = [nextafter(field.least, -inf), nextafter(field.most, inf)]
        if isinstance(field, Whole):
            ends = [field.least - 1, field.most + 1, field.least + 0.5]
        return [*ends, -1e12, 1e12, nan, inf, -inf, "12", True, (1.0,), *none]
    if isinstance(field, (Word, YesOrNo)):
        return ["nothing of the kind", 7, 2.5, (1,), *none]
    return [7, 2.5, (1,), None] if isinstance(field, Text) else []


BAD = [
    pytest.param(one, field, value, id=f"{type(one).__name__}.{name} = {value!r}")
    for one in ONES
    for name, field in table(type(one)).items()
    for value in outside(field)
]


def test_there_is_one_of_every_kind_that_knows_its_fields():
    assert {kind for kind in subclasses(Description) if table(kind)} - {type(one) for one in ONES} == {Wiring}
    assert len(BAD) > 361


@pytest.mark.parametrize(("one", "field", "value"), BAD)
def test_a_value_outside_the_table_is_refused_with_the_name_of_the_field(one, field, value):
    with pytest.raises(ValueError, match=rf"^{type(one).__name__}\.{field.name} is ") as refused:
        one.changed(**{field.name: value})
    said = str(refused.value)
    if isinstance(field, Word):
        assert all(f'"{word}"' in said for word in field.words)
    if type(field) is Number and not field.within and not field.only:
        assert f"a value from {field.least:g} to {field.most:g}" in said


@pytest.mark.parametrize("kind", [type(one) for one in ONES], ids=lambda kind: kind.__name__)
def test_every_field_is_in_the_table_and_in_the_docstring(kind):
    assert list(table(kind)) == [each.name for each in fields(kind)]
    doc = inspect.getdoc(kind)
    parameters = doc.partition("Parameters\n----------\n")[2]
    for name, field in table(kind).items():
        assert f"\n{name} : " in f"\n{parameters}"
        assert field.meaning[1:] in " ".join(parameters.split())
    assert doc.index("Parameters\n---") < doc.index("Examples\n---")
    assert max(map(len, doc.splitlines())) <= 120


def test_docstring_says_unit_and_bounds():
    doc = inspect.getdoc(Cable)
    assert "section_mm2 : float, default 6.0\n    Copper section of one core. [mm², 0.5 to 70]" in doc


@pytest.mark.parametrize("kind", IN_FILES, ids=lambda kind: kind.__name__)
def test_schema_is_plain_data_and_says_what_the_class_takes(kind):
    told = schema(kind)
    plain = {name: one for name, one in told.items() if not isinstance(table(kind)[name], Part)}
    assert json.loads(json.dumps(plain)).keys() == plain.keys()
    for name, one in told.items():
        assert one.keys() == {"title", "unit", "least", "most", "words", "default", "needed", "meaning"}
        assert one["needed"] == table(kind)[name].needed
    # by hand: section_mm2 is 0.5 to 70 mm², usually 6
    assert schema(Cable)["section_mm2"] == {
        "title": "Section",
        "unit": "mm²",
        "least": 0.5,
        "most": 70.0,
        "words": (),
        "default": 6.0,
        "needed": False,
        "meaning": "copper section of one core",
    }


def test_schema_bounds_are_taken_and_beyond_them_refused():
    for name, one in schema(Cable).items():
        if one["least"] is not None:
            for end in (one["least"], one["most"]):
                assert getattr(Cable().changed(**{name: end}), name) == end


FRAGMENTS = (
    "of",
    "at",
    "in",
    "into",
    "from",
    "by",
    "on",
    "and",
    "above",
    "below",
    "between",
    "across",
    "along",
    "inside",
)
FRAGMENTS += ("to", "as", "per", "the", "held", "lost", "used", "while", "it", "its", "who", "0", "1", "12")


@pytest.mark.parametrize(
    "kind", sorted(subclasses(Description), key=lambda kind: kind.__name__), ids=lambda kind: kind.__name__
)
def test_meaning_of_a_number_names_what_it_is_the_number_of(kind):
    # a comment such as "V, at best power" or "%, lost in any case" leaves that to the name of the field
    numbers = [
        field for field in table(kind).values() if isinstance(field, Number) and (field.unit or unit_of(field.name))
    ]
    assert [field.comment for field in numbers if field.meaning.split()[0].strip(",;:") in FRAGMENTS] == []


def test_what_is_said_behind_a_value_has_the_fields_own_unit():
    # a difference of temperatures is in kelvin, whatever its name begins with: the battery's place is 5 K warmer
    assert table(Battery)["temp_offset"].comment == "K, how much warmer than the air its place is"
    assert "temp_offset = 0.0                  # K," in rig_to_toml(VAN)


def test_every_key_of_a_file_has_a_home_that_knows_its_meaning():
    assert set(HOMES.values()) == set(IN_FILES)
    for kind in IN_FILES:
        assert all(field.meaning for field in known_keys(kind).values())


@pytest.mark.parametrize("name", examples())
def test_comment_behind_a_value_is_the_fields_own(name):
    comments = {field.comment for kind in IN_FILES for field in known_keys(kind).values()}
    lines = [line for line in rig_to_toml(example(name)).splitlines() if "=" in line and " # " in line]
    assert lines
    assert {line.rpartition(" # ")[2] for line in lines} <= comments


# Plain data


@pytest.mark.parametrize(
    ("data", "wanted"),
    [
        ({"length_m": "5"}, "float"),
        ({"length_m": True}, "float"),
        ({"bundled": 2.0}, "int"),
        ({"bundled": True}, "int"),
        ({"copper": 5}, "str"),
        ({"length_m": None}, "float"),
        ({"metres": 5}, "unknown"),
        ({"length_m": 500}, "refused"),
        ([], "dict"),
    ],
)
def test_nothing_is_guessed_when_data_is_read(data, wanted):
    made, misfits = read(Cable, data)
    assert made is None
    assert [misfit.wanted for misfit in misfits] == [wanted]


def test_whole_numbers_do_for_numbers_and_lists_for_tuples():
    cable, none = read(Cable, {"length_m": 5, "bundled": 2, "temp_around": None})
    assert none == []
    assert cable == Cable(length_m=5.0, bundled=2)
    assert type(cable.length_m) is float
    climate, none = read(Climate, {"temp_coldest": -9, "places": [["coast", -3]]})
    assert climate.places == (("coast", -3.0),)


def test_everything_that_does_not_fit_is_told_at_once():
    _, misfits = read(Controller, {"name": 5, "tracker": 7, "cold_cutoff": 1, "volts": 3})
    assert [(misfit.at, misfit.wanted) for misfit in misfits] == [
        (("name",), "str"),
        (("v_pv_max",), "missing"),
        (("i_charge_max",), "missing"),
        (("tracker",), "str"),
        (("cold_cutoff",), "bool"),
        (("volts",), "unknown"),
    ]


def test_a_list_says_how_it_is_written():
    assert isinstance(table(Climate)["places"], Listed)
    assert "coast" in table(Climate)["places"].sense


# Changes


def test_changed_leaves_the_rest_and_is_checked():
    cable = Cable(length_m=4.0, section_mm2=10.0)
    assert cable.changed(length_m=lambda one: one.length_m + 1) == Cable(length_m=5.0, section_mm2=10.0)
    assert cable.changed() is cable
    with pytest.raises(ValueError, match=r"Cable.length_m is 400 m; .* Are these centimetres\?"):
        cable.changed(length_m=400.0)
    with pytest.raises(ValueError, match=r"Cable has no field awg; there are length_m, section_mm2"):
        cable.changed(awg=10)


def test_rig_with_something_changed_is_the_rig_built_by_hand():
    bus = example("dentist-bus")
    first, *others = bus.circuits
    thick = first.changed(cable=first.cable.changed(section_mm2=25.0))
    assert bus.with_cable(section_mm2=25.0, circuit=0) == bus.changed(circuits=(thick, *others))
    every = tuple(one.changed(controller=one.controller.changed(tracker="climb")) for one in bus.circuits)
    assert bus.with_controller(tracker="climb").circuits == every
    new = Controller(name="other", v_pv_max=150.0, i_charge_max=40.0)
    assert [one.controller for one in bus.with_controller(new).circuits] == [new] * len(bus.circuits)
    assert bus.with_battery(v_now=lambda battery: battery.v_nominal).battery.v_now == bus.battery.v_nominal
    assert bus.with_climate(temp_coldest=-31.0).climate.temp_coldest == -31.0
    assert [p.r_leak for p in bus.with_panels(only=[1], r_leak=30.0).panels[:3]] == [None, 30.0, None]
    assert bus.with_panels(*bus.panels[::-1]).panels == bus.panels[::-1]


def test_circuit_panel_load_and_fixture_that_are_not_there_are_refused():
    with pytest.raises(ValueError, match="there is no circuit 7; circuits count from 0 to 0 here"):
        VAN.with_cable(section_mm2=10.0, circuit=7)
    with pytest.raises(ValueError, match="there is no panel 3; panels count from 0 to 2 here"):
        VAN.with_panels(only=[3], r_leak=30.0)
    with pytest.raises(ValueError, match=r"there is no fixture 'chimney' on this roof; there are vent, vent lid"):
        VAN.with_fixture("chimney", back_m=1.0)
    with pytest.raises(ValueError, match=r"there is no load 'sauna' in this van"):
        VAN.with_load("sauna", p_load=3.0)
    with pytest.raises(ValueError, match=r"has no roof; add \[roof\]"):
        example("goat-cheese-van").changed(roof=None).with_placement(0, across=True)
    with pytest.raises(ValueError, match=r"Cable has no field section; did you mean section_mm2"):
        VAN.with_cable(section=10.0)


def test_fixture_and_load_join_or_change():
    pipe = Fixture(name="pipe", kind="cylinder", wide_m=0.05, left_m=1.7, back_m=4.0, high_m=0.3)
    more = VAN.with_fixture(pipe)
    assert more.need_roof().fixtures[-1] == pipe
    assert more.with_fixture("pipe", high_m=0.5).need_roof().fixtures[-1].high_m == 0.5
    lit = VAN.with_load(Load(name="lamp", p_load=5.0))
    assert lit.with_load("lamp", p_load=8.0).loads[-1].p_load == 8.0


def test_panel_lies_across_or_along_as_asked_and_stays_where_it_already_does():
    plan = VAN.need_roof()
    across = plan.with_placement(0, across=True).spots[0]
    along = plan.with_placement(0, across=False).spots[0]
    there = plan.spots[0]
    assert (along.wide_m, along.long_m) == (there.wide_m, there.long_m)
    assert (across.wide_m, across.long_m) == (there.long_m, there.wide_m)
    assert across.junction == "left"
    with pytest.raises(ValueError, match=r"P1 .* and P2 .* overlap"):
        VAN.with_placement(0, across=True)


def test_wirings_of_another_circuit_leave_the_first():
    two = VAN.wirings(apart=True)["apart"].with_one_more_panel(circuit=1)
    assert two.circuits[1].wiring.strings == ((1,), (3,))
    ways = two.wirings(circuit=1)
    assert [way.circuits[1].wiring.name for way in ways.values()] == ["2s", "2p"]
    assert {way.circuits[0] for way in ways.values()} == {two.circuits[0]}
    assert two.wired("2s", circuit=1).circuits[1].wiring.strings == ((1, 3),)
