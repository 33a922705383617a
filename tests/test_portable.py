"""A van with some panels on the roof and some beside it, turned by hand twice a day: check, year, trip and form."""

from __future__ import annotations

from dataclasses import replace

import pytest
from test_trips import BELT, COAST, NORTH, van

from vanpower import Days, Rig, Snapshot, check, compare, example, simulate, walk_trip
from vanpower.checks.caveats import short_word
from vanpower.checks.common import NO_ARCS
from vanpower.files.rig_files import read_rig, rig_to_toml
from vanpower.form.answers import answer_of
from vanpower.form.entries import Entries
from vanpower.weather.days import find_day
from vanpower.weather.planes import plane_light

OWN = {"tilt_deg": 50.0, "turn_deg": 45.0, "mount": "open"}


def mixed(wiring: str = "3p") -> Rig:
    """Two panels flat on the roof, the third beside the van."""
    three = van(temp_heated=15.0).with_one_more_panel().wired(wiring).with_controller(i_charge_max=40.0)
    return three.with_panels(only=[2], **OWN)


def apart() -> Rig:
    """The same with a controller of its own for the one beside the van."""
    whole = mixed()
    both, own = (replace(whole.circuits[0], wiring=replace(whole.circuits[0].wiring, strings=strings))
                 for strings in (((0,), (1,)), ((2,),)))  # fmt: skip
    return whole.changed(circuits=(both, own))


def brought(rig: Rig, request: Days) -> float:
    name = rig.wiring_name
    return simulate(
        {name: rig.changed(loads=()).with_battery(capacity_ah=2000.0, soc_start_pct=20.0)}, request
    ).used_wh(name)


@pytest.mark.parametrize(
    ("rig", "answer", "said"),
    [
        (mixed("3s"), "no", "P3 is turned by hand, in one string with P1 and P2: packed away, that string is open and"),
        (mixed("3p"), "yes", "P3 is turned by hand, in parallel with P1 and P2: the roof charges without it."),
        (apart(), "yes", "P3 is turned by hand, on a controller of its own"),
    ],
    ids=["one string", "in parallel", "two controllers"],
)  # fmt: skip
def test_check_says_whether_the_roof_goes_on_when_what_is_portable_is_packed_away(rig, answer, said):
    # Kirchhoff's current law: a string without one of its panels carries nothing
    (found,) = (verdict for verdict in check(rig) if verdict.question.startswith("Portable"))
    assert (found.answer, found.sentence[: len(said)]) == (answer, said)
    assert NO_ARCS.split(":")[1].strip() in found.caution
    assert "a gust lifts a tilted panel like a sail" in found.caution
    assert "Weigh a panel down" in found.caution


def test_a_roof_that_is_silent_without_its_portable_panel_is_told_wherever_its_watts_are():
    # the check said NO, and a comparison "allowed" and alike
    string, beside = mixed("3s"), mixed("3p")
    moment, day = Snapshot(light=800, temp_cell=40), Days(weather="miami", day="07-04")
    said = [
        compare({"3s": string}, moment).verdict.sentence,
        simulate({"3s": string}, day).verdict.sentence,
        walk_trip(string, (COAST,), changes=False).verdict.sentence,
    ]
    assert all("once what is portable is packed away" in sentence for sentence in said)
    assert ("portable" in short_word(string), "portable" in short_word(beside)) == (True, False)


def test_a_van_without_portable_panels_is_not_asked_about_them():
    assert not any(verdict.question.startswith("Portable") for verdict in check(example("bookmobile")))


def test_what_stands_beside_the_van_faces_its_own_way_however_the_nose_points():
    day, panels = find_day("greensboro", "06-10"), mixed().panels
    beside = [plane_light(day, panels[2], heading).sum() for heading in (0.0, 90.0, 200.0)]
    assert beside[0] == beside[1] == beside[2]
    fixed = replace(panels[2], turn_deg=0.0)
    assert plane_light(day, fixed, 180.0).sum() != plane_light(day, fixed, 0.0).sum()
    # and so do its watt-hours in a trip, where the roof is flat: turning the van changes nothing
    trips = [walk_trip(mixed(), (replace(COAST, heading_deg=heading),), changes=False) for heading in (0.0, 90.0)]
    sun = [sum(day.sun_wh for day in trip.days) for trip in trips]
    assert sun[0] == pytest.approx(sun[1], rel=1e-9)


def test_two_controllers_bring_what_each_brings_alone_and_one_string_brings_less():
    # plain arithmetic: the battery takes all, so the sum is that of roof and portable panel each by itself
    request, whole = Days(weather="greensboro", day="03-10..03-16"), apart()
    alone = [brought(whole.changed(circuits=(circuit,)), request) for circuit in whole.circuits]
    assert brought(whole, request) == pytest.approx(sum(alone), rel=2e-3)
    # unlike light costs little in parallel, where volts hardly fall with the light, and amps in one string
    side_by_side = brought(mixed("3p"), request)
    assert brought(mixed("3s"), request) < 0.97 * side_by_side
    assert 0.97 * sum(alone) < side_by_side < 1.001 * sum(alone)


def test_a_stop_tilts_the_roof_and_leaves_what_stands_beside_the_van():
    trip = walk_trip(mixed(), (replace(NORTH, tilt_deg=20.0, heading_deg=40.0),), changes=False)
    (run,) = (leg for _, leg in trip.legs)
    panels = run.outcomes["3p"].rig.panels
    assert [panel.tilt_deg for panel in panels] == [20.0, 20.0, 50.0]
    assert [panel.turn_deg for panel in panels] == [0.0, 0.0, 45.0]
    # the noon sun stands in the south, 140 degrees to the right of a nose that points to 40
    assert [panel.azimuth_deg for panel in panels] == [140.0, 140.0, 180.0]


def test_year_and_trip_say_what_wind_does_and_that_nobody_unpacks_while_driving():
    year = simulate({"3p": mixed()}, Days(weather="greensboro", day="all june"))
    assert "Weigh a panel down" in year.verdict.caution
    assert "turned by hand twice" in year.verdict.basis
    trip = walk_trip(mixed().with_source(BELT), (replace(COAST, drive_h=2.0),))
    assert "Weigh a panel down" in trip.verdict.caution
    assert "panels beside the van count as set out also in the 2 h that it drives" in trip.verdict.basis
    still = walk_trip(mixed(), (COAST,), changes=False)
    assert "that it drives" not in still.verdict.basis


def test_a_mixed_van_comes_back_from_file_and_form_which_says_what_cannot_go_together(tmp_path):
    for rig in (mixed("3s"), mixed(), apart()):
        path = tmp_path / "van.toml"
        path.write_text(rig_to_toml(rig), encoding="utf-8")
        assert read_rig(path) == rig
        assert rig_to_toml(Entries(rig).read().rig) == rig_to_toml(rig)
    shown = answer_of(mixed("3s"))
    assert "battery side and portable" in shown.finding
    assert "Portable" in shown.checks
    assert "portable" not in answer_of(example("bookmobile")).checks.lower()


def test_a_label_is_told_once_however_its_panels_stand():
    label = check(mixed())["labels"]
    assert label.basis.count("power falls") == check(van())["labels"].basis.count("power falls") == 1
    assert label.sentence == check(van())["labels"].sentence
