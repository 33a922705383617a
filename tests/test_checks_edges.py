"""What the checks say exactly on a limit and a hair beside it, and where they warn.

All numbers are round and worked out on paper: a panel of 20 V and 8 A gives 20 V at 25 °C and counts 1.25 x 8 A = 10 A.
"""

from __future__ import annotations

import math
import re
from dataclasses import replace

import pytest
from conftest import PANEL, tiny_rig
from scipy.optimize import brentq

from vanpower.checks.amps import clipping, input_current
from vanpower.checks.battery import charge_current, cold_charging
from vanpower.checks.charging import BY_ITS_SHEET, NEVER_EQUALISE, TOO_MANY_LEAD, TOO_MANY_LITHIUM, charge_settings
from vanpower.checks.common import DO_NOT_TOUCH, NO_ARCS, NO_FROST_CHARGE, NOT_WET, OVER_VOLTAGE
from vanpower.checks.copper import battery_fuses, battery_side, cable_current, cable_loss, section_carrying_counted
from vanpower.checks.fuses import reverse_current, string_fuse
from vanpower.checks.parts import parts
from vanpower.checks.plugs_and_isolator import extension, isolator, plugs, touch_volts
from vanpower.checks.volts import cold_ceiling
from vanpower.files.rig_files import example
from vanpower.results.verdict import Verdict
from vanpower.rig import Cable, Climate, Panel, Rig

TEN = replace(PANEL, v_oc=20.0, i_sc=8.0, v_mp=16.0, i_mp=7.5, beta_voc_pct_per_k=-0.25, i_max_fuse=15.0)


def van(
    count: int, *, series: int = 1, panel: Panel = TEN, coldest: float = 25.0, book: str = "IEC",
    controller: dict | None = None, battery: dict | None = None, **circuit: object,
) -> Rig:  # fmt: skip
    """So many panels in strings of some length, with something else in circuit, controller and battery."""
    rig = tiny_rig((panel,) * count, *(tuple(range(k, k + series)) for k in range(0, count, series)))
    first = replace(rig.circuits[0], **circuit)
    first = replace(first, controller=replace(first.controller, **(controller or {})))
    told = replace(rig.battery, **(battery or {}))
    return replace(rig, rule_book=book, battery=told, climate=Climate(temp_coldest=coldest), circuits=(first,))


def asked(question, rig: Rig) -> Verdict:
    """A check of the rig's only circuit."""
    return question(rig, rig.circuits[0])


# Amps


def rated(question, amps: float) -> Verdict:
    """Two strings of 10 A counted, against a rating."""
    return {
        "input": lambda: asked(input_current, van(2, controller={"i_pv_sc_max": amps})),
        "plugs": lambda: asked(plugs, van(2, i_plug_max=amps)),
        "extension": lambda: asked(extension, van(2, i_extension_max=amps)),
        "isolator": lambda: asked(isolator, van(2, v_isolator_max=20.0, i_isolator_max=amps)),
        "switch": lambda: asked(clipping, van(2, controller={"tracker": "direct", "i_charge_max": amps})),
    }[question]()


@pytest.mark.parametrize("question", ["input", "plugs", "extension", "isolator", "switch"])
def test_amps_that_just_meet_a_rating_are_allowed_and_a_hair_more_is_a_no_with_a_caution(question):
    met, over = rated(question, 20.0), rated(question, 19.9)
    assert (met.answer, met.margin, met.caution) == ("yes", 0.0, "")
    assert (over.answer, over.margin, over.unit) == ("no", pytest.approx(-0.1), "A")
    assert over.caution


def test_isolator_lacks_what_its_margin_is_told_in():
    # 20 V and 20 A are asked
    for volts, amps, margin, unit in ((100.0, 25.0, 80.0, "V"), (15.0, 25.0, -5.0, "V"), (15.0, 12.0, -5.0, "V")):
        found = asked(isolator, van(2, v_isolator_max=volts, i_isolator_max=amps))
        assert (found.margin, found.unit) == (pytest.approx(margin), unit)
    found = asked(isolator, van(2, v_isolator_max=100.0, i_isolator_max=12.0))
    assert (found.margin, found.unit, found.caution) == (pytest.approx(-8.0), "A", NO_ARCS)


@pytest.mark.parametrize("half", [{"v_isolator_max": 100.0}, {"i_isolator_max": 32.0}])
def test_isolator_with_half_a_rating_is_not_judged(half):
    found = asked(isolator, van(2, **half))
    assert (found.answer, found.margin) == ("close", 0.0)
    assert "Buy one for at least 20.0 V and 20.0 A" in found.sentence


def test_plugs_say_the_multiplication_and_whose_rating_it_is():
    assert "1.25 x 16.0 A = 20.0 A go through one plug, against 30 A, as many carry" in asked(plugs, van(2)).sentence
    known, unknown, over = (asked(plugs, van(2, i_plug_max=amps)) for amps in (25.0, None, 19.0))
    assert "no rating" not in known.sentence
    assert ["no source" in found.basis for found in (known, unknown)] == [False, True]
    assert ["Gather the strings" in found.sentence for found in (known, unknown, over)] == [False, False, True]
    assert [bool(found.caution) for found in (known, unknown, over)] == [False, True, True]


@pytest.mark.parametrize(("i_sc", "made"), [(20.0, True), (20.04, False)])
def test_no_plug_is_listed_for_more_than_fifty_amps(i_sc, made):
    # two strings of 1.25 x 20 A; common practice, no source
    rig = van(2, panel=replace(TEN, i_sc=i_sc, i_mp=18.0))
    wanted = next(part.wanted for part in parts(rig, rig.circuits[0]) if part.name.startswith("Branch plugs"))
    assert wanted.startswith("DC, at least 50.0 A" if made else "no plug carries 50.1 A: a box with rails")


def test_extension_says_arcs_only_where_it_is_overloaded():
    assert NO_ARCS in asked(extension, van(2, i_extension_max=19.0)).caution
    assert asked(extension, van(2, i_extension_max=21.0)).caution == ""


def test_clipping_says_what_the_controller_takes():
    # 4 x 120 W, 90 % arriving, on 13 V: 30 A take 390 W; 33.2 A would be wanted
    found = asked(clipping, van(4, battery={"v_now": 13.0}))
    assert "480 W of panels, 90 % arriving, and 30 A at 13 V take 390 W" in found.sentence
    assert found.margin == pytest.approx(30 - 0.9 * 480 / 13)


@pytest.mark.parametrize(("kept", "answer"), [(2.9, "yes"), (3.1, "close")])
def test_three_percent_of_a_clear_day_may_stay_on_the_roof_without_a_word(kept, answer):
    # a half-sine day of peak P above a limit m P keeps 1 - (1 - cos a) - m (pi / 2 - a) of it, a = asin m; 3 % by
    # common practice, no source
    lost = lambda m: 100 * (math.cos(math.asin(m)) - m * (math.pi / 2 - math.asin(m)))  # noqa: E731
    m = brentq(lambda each: lost(each) - kept, 0.1, 1.0)
    found = asked(clipping, van(4, battery={"v_now": 13.0}, controller={"i_charge_max": m * 0.9 * 480 / 13.0}))
    assert f"({kept:.1f} %)" in found.sentence
    assert found.answer == answer


# Strings that feed each other


@pytest.mark.parametrize(
    ("count", "label", "fuse", "answer", "margin"),
    [
        (1, 15.0, None, "yes", 15.0),
        (1, None, None, "yes", 0.0),
        (2, 10.0, None, "yes", 0.0),
        (2, 9.9, None, "close", -0.1),
        (3, 15.0, None, "close", -5.0),
        (3, 14.0, None, "no", -6.0),
        (3, 14.0, 14.0, "close", -6.0),
        (3, 14.0, 13.0, "yes", 1.0),
        (3, 15.0, 25.0, "close", -5.0),
        (3, None, None, "close", 0.0),
    ],
)
def test_reverse_current_goes_by_the_label_and_by_what_panels_are_tested_for(count, label, fuse, answer, margin):
    """Other strings push 10 A each; a label of 15 A is tested with 20.25 A, one of 14 A with 18.9 A (IEC 61730-2).

    A fuse of 13 A is sure to open from 18.85 A, one of 14 A from 20.3 A (IEC 60269-6).
    """
    found = asked(reverse_current, van(count, panel=replace(TEN, i_max_fuse=label), i_fuse_string=fuse))
    assert (found.answer, found.margin) == (answer, pytest.approx(margin))
    assert bool(found.caution) == ("stops it" in found.sentence) == (answer == "no")
    assert ("no largest series fuse" in found.sentence) == (count > 1 and label is None)
    assert ("One string" in found.sentence) == (count == 1)
    assert ("fuse opens" in found.sentence) == (fuse == 13.0)
    # 1.45 x 14 A = 20.3 A, and 1.45 x 25 A = 36.25 A: on 20 A neither is sure to open (IEC 60269-6)
    assert ("sure to open only from" in found.sentence) == (fuse in (14.0, 25.0))


def test_string_pushed_hardest_above_its_own_label_decides():
    # the two others push 10.4 A into the first string, which stands 20 A, and 14 A into the others, which stand 15 A
    weak, strong = replace(TEN, i_sc=5.2, i_mp=5.0), replace(TEN, i_sc=8.8, i_mp=8.0, i_max_fuse=20.0)
    rig = tiny_rig((strong, weak, weak), (0,), (1,), (2,))
    found = asked(string_fuse, rig)
    assert (found.answer, found.margin) == ("yes", pytest.approx(15.0 - 14.0))
    assert "14.0 A into the string of P2, which is rated for 15 A" in found.sentence


def test_string_fuse_warns_where_strings_feed_each_other_and_nowhere_else():
    needed, single = asked(string_fuse, van(3)), asked(string_fuse, van(1, i_fuse_string=5.0))
    assert (needed.answer, single.answer) == ("close", "no")
    assert "fed backwards can burn" in needed.caution
    assert single.caution == asked(string_fuse, van(2)).caution == ""
    assert "fed backwards can burn" in asked(string_fuse, van(2, panel=replace(TEN, i_max_fuse=7.0))).caution


@pytest.mark.parametrize(("book", "fuse", "answer"), [("US", 12.5, "yes"), ("US", 12.4, "no"), ("IEC", 12.0, "no")])
def test_fuse_of_unusual_size_may_meet_the_lower_end_by_us_rules_alone(book, fuse, answer):
    """1.5625 x 8 A = 12.5 A may be met; over 1.5 x 8 A = 12 A may not (IEC 62548: strictly above)."""
    assert asked(string_fuse, van(3, book=book, i_fuse_string=fuse)).answer == answer


@pytest.mark.parametrize(
    ("count", "label", "words"),
    [
        (1, None, "none needed"),
        (2, None, "cannot be told without the label's largest fuse"),
        (2, 15.0, "none needed"),
        (3, 15.0, "15 A each"),
        (3, 12.0, "needed, none legal"),
    ],
)
def test_string_fuse_says_in_its_basis_what_the_other_rule_book_wants(count, label, words):
    """By US rules from 12.5 A up, and needed where 1.25 times the others' 8 A each exceed the label."""
    assert asked(string_fuse, van(count, panel=replace(TEN, i_max_fuse=label))).basis.endswith(f"by US rules: {words}")


# Volts


def test_us_table_that_just_meets_the_ceiling_is_not_over_it():
    # 1.25 x 20 V at -40 °C; by the coefficient of this panel 20 x (1 + 0.002 x 65) = 22.6 V
    rig = van(1, panel=replace(TEN, beta_voc_pct_per_k=-0.2), coldest=-40.0, controller={"v_pv_max": 25.0})
    assert asked(cold_ceiling, rig).answer == "yes"


def test_ceiling_says_how_much_frost_is_safe():
    # 20 V and -0.05 V/K: 25 V at -75 °C, 26 V at -95 °C, which no place on Earth has
    for limit, words in ((25.0, "Safe down to -75.0 °C"), (26.0, "Safe in any frost")):
        assert words in asked(cold_ceiling, van(1, controller={"v_pv_max": limit})).sentence


def test_array_over_the_ceiling_and_above_sixty_volts_carries_both_cautions():
    found = asked(cold_ceiling, van(4, series=4, coldest=0.0, controller={"v_pv_max": 75.0}))
    assert found.caution == f"{OVER_VOLTAGE} {DO_NOT_TOUCH}"


@pytest.mark.parametrize(
    ("series", "answer", "margin", "words"),
    [
        (1, "yes", 10.0, "accepted even on a wet roof"),
        (2, "close", 20.0, "accepted in a dry cupboard"),
        (3, "close", 0.0, "accepted in a dry cupboard"),
        (4, "close", 40.0, "40.0 V below the ceiling"),
        (6, "close", 0.0, "too much anywhere: cover every bare part"),
        (7, "no", -20.0, "a licensed person fits this"),
    ],
)
def test_sixty_and_a_hundred_and_twenty_volts_belong_to_the_milder_side(series, answer, margin, words):
    found = asked(touch_volts, van(series, series=series))
    assert (found.answer, found.margin) == (answer, pytest.approx(margin))
    assert words in found.sentence
    assert found.caution == ("" if series == 1 else NOT_WET if series < 4 else DO_NOT_TOUCH)


def test_thirty_volts_on_the_dot_are_still_accepted_on_a_roof():
    assert asked(touch_volts, van(1, panel=replace(TEN, v_oc=30.0, v_mp=24.0))).answer == "yes"
    assert asked(touch_volts, van(1, panel=replace(TEN, v_oc=30.01, v_mp=24.0))).answer == "close"


# Copper


def test_cable_loss_says_how_many_points_are_left():
    # 5 m of 4 mm² at 7.5 A: 2 x 5 x 5.09 mohm x 7.5 A squared = 2.863 W of 120 W at 20 °C (IEC 60228)
    found = asked(cable_loss, van(1, cable=Cable(length_m=5.0, section_mm2=4.0, temp_conductor=20.0)))
    assert (found.margin, found.unit) == (pytest.approx(3.0 - 100 * 2.863125 / 120), "points")


def test_cable_current_leaves_what_row_and_heat_allow_and_warns_where_it_is_too_little():
    # 4 mm² clipped: 46 A x 0.87 at 45 °C = 40.02 A (BS 7671 4E1A method C)
    cable = Cable(length_m=5.0, section_mm2=4.0, insulation="XLPE 90", temp_around=45.0)
    fits, over = (asked(cable_current, van(count, cable=cable)) for count in (3, 5))
    assert (fits.answer, fits.margin, fits.caution) == ("yes", pytest.approx(40.02 - 30.0), "")
    assert (over.answer == "yes", over.margin) == (False, pytest.approx(40.02 - 50.0))
    assert "can burn" in over.caution


def test_us_row_carries_counted_amps_and_its_terminals_carry_a_quarter_more():
    """30 A in conduit: AWG 8 at 45 °C has 55 x 0.87 = 47.9 A over 30 A, and 40 A at 60 °C terminals over 37.5 A."""
    hot = Cable(laying="conduit", temp_around=45.0)
    assert section_carrying_counted(hot, 30.0, "US") == 10.0
    # 32 A want 40 A of the terminals and no more; 33 A want the next
    assert section_carrying_counted(replace(hot, temp_around=30.0), 32.0, "US") == 10.0
    assert section_carrying_counted(replace(hot, temp_around=30.0), 33.0, "US") == 16.0
    # terminals marked for 75 °C take 50 A
    assert section_carrying_counted(replace(hot, temp_around=30.0, temp_terminals=75.0), 40.0, "US") == 10.0


@pytest.mark.parametrize(("i_sc", "answer"), [(12.8, "yes"), (13.0, "no")])
def test_us_terminals_that_just_carry_continuous_amps_are_enough(i_sc, answer):
    # two strings of 12.8 A: 32 A counted, 40 A asked of the terminals of AWG 8 (60 °C column)
    cable = Cable(length_m=5.0, section_mm2=10.0, laying="conduit", temp_around=30.0)
    panel = replace(TEN, i_sc=i_sc, i_mp=12.0)
    assert asked(cable_current, van(2, panel=panel, book="US", cable=cable)).answer == answer


def test_battery_fuse_may_be_just_what_amps_and_cable_ask():
    assert battery_fuses(20.0, 25.0) == (25,)
    assert battery_fuses(20.0, 24.9) == battery_fuses(20.1, 25.0) == ()


@pytest.mark.parametrize(
    ("section", "length", "fuse", "answer", "margin", "unit"),
    [
        (10.0, 1.0, 40.0, "yes", 57.51 - 40.0, "A"),
        (10.0, 1.0, 63.0, "no", 57.51 - 63.0, "A"),
        (10.0, 1.0, 35.0, "no", 35.0 - 37.5, "A"),
        (2.5, 1.0, 35.0, "no", 24.14 - 37.5, "A"),
        (10.0, 4.0, 40.0, "close", 2.0 - 100 * 2 * 4 * 0.00195 * 30 / 12, "points"),
    ],
)
def test_margin_of_the_battery_side_is_what_its_sentence_is_about(section, length, fuse, answer, margin, unit):
    """30 A want 37.5 A of fuse; 81 x 0.71 A and 34 x 0.71 A at 60 °C (BS 7671 4E1A); 1.95 mohm/m (IEC 60228)."""
    cable = Cable(length_m=length, section_mm2=section, insulation="XLPE 90", temp_around=60.0, temp_conductor=20.0)
    found = asked(battery_side, van(1, battery_cable=cable, i_fuse_battery=fuse))
    assert (found.answer, found.margin, found.unit) == (answer, pytest.approx(margin), unit)
    volts, share = map(float, re.search(r"drop ([\d.]+) V \(([\d.]+) %\)", found.sentence).groups())
    assert share == pytest.approx(100 * volts / 12, abs=0.1)
    assert "90 °C cable clipped at 30 °C" in found.basis


# Battery


def test_only_lithium_iron_phosphate_is_told_to_go_slower_in_the_cool():
    lithium, lead = ({"capacity_ah": 50.0, "chemistry": kind} for kind in ("lithium iron phosphate", "AGM"))
    assert "Between 0 and 10 °C" in charge_current(van(1, coldest=0.0, battery=lithium)).sentence
    assert "Between" not in charge_current(van(1, coldest=0.0, battery=lead)).sentence
    assert "Between" not in charge_current(van(1, coldest=0.0, battery={"i_accept_max": 50.0})).sentence


def test_charge_current_says_whose_limit_it_is():
    assert "(its sheet)" in charge_current(van(1, battery={"capacity_ah": 100.0, "i_accept_max": 40.0})).sentence
    assert "(0.5 x Ah, typical)" in charge_current(van(1, battery={"capacity_ah": 100.0})).sentence


@pytest.mark.parametrize(
    ("coldest", "lockout", "answer"),
    [(0.0, None, "yes"), (-0.1, None, "no"), (-10.0, 0.0, "yes"), (-10.0, 2.0, "yes"), (-10.0, -20.0, "no")],
)
def test_only_a_battery_that_locks_itself_at_zero_or_above_is_safe_in_frost(coldest, lockout, answer):
    rig = van(1, coldest=coldest, controller={"cold_cutoff": False}, battery={"temp_lockout": lockout})
    found = cold_charging(rig)
    assert (found.answer, found.margin) == (answer, coldest)
    assert ("does not stop charging" in found.sentence) == (answer == "no")


def test_cutoff_that_is_not_known_is_not_called_missing():
    assert "is not known to stop charging" in cold_charging(van(1, coldest=-10.0)).sentence
    lead = cold_charging(van(1, coldest=-10.0, battery={"chemistry": "lead-acid"}))
    assert (lead.answer, lead.margin, lead.caution) == ("yes", 0.0, "")


@pytest.mark.parametrize(
    ("chemistry", "absorption", "held", "answer", "margin", "words"),
    [
        ("lithium iron phosphate", 14.6, 13.6, "yes", 0.0, "Absorption 14.6 V is within the usual 13.8 to 14.6 V."),
        ("lithium iron phosphate", 13.8, 13.2, "yes", 0.0, "Float 13.2 V is within the usual 13.2 to 13.6 V."),
        ("lithium iron phosphate", 14.0, 13.4, "yes", 0.2, "within"),
        ("lithium iron phosphate", 13.7, 13.4, "close", -0.1, "Absorption 13.7 V is below the usual"),
        ("lithium iron phosphate", 14.2, 13.7, "close", -0.1, "Float 13.7 V is above the usual"),
        ("lithium iron phosphate", 14.7, 13.4, "no", -0.1, "Absorption 14.7 V is above the usual"),
        ("flooded lead-acid", 14.82, 13.38, "yes", 0.0, "Absorption 14.82 V is within the usual 14.10 to 14.82 V."),
        ("flooded lead-acid", 14.92, 13.5, "close", -0.1, "Absorption 14.92 V is above the usual"),
        ("flooded lead-acid", 15.0, 13.5, "close", -0.18, "Absorption 15 V is above the usual"),
        ("flooded lead-acid", 15.1, 13.5, "no", -0.28, "Absorption 15.1 V is above the usual"),
        ("flooded lead-acid", 14.4, 13.28, "close", -0.1, "Float 13.28 V is below the usual 13.4 to 13.9 V."),
    ],
)
def test_charge_settings_may_meet_the_ends_of_what_is_usual(chemistry, absorption, held, answer, margin, words):
    """4 cells of 3.45 to 3.65 V and 3.30 to 3.40 V held; 6 of 2.35 to 2.47 V and 2.23 to 2.32 V, none over 2.50 V."""
    told = {"chemistry": chemistry, "v_absorption": absorption, "v_float": held}
    found = charge_settings(van(1, battery=told))
    assert (found.answer, found.margin) == (answer, pytest.approx(margin, abs=1e-9))
    assert words in found.sentence
    assert "float is as set" in found.basis
    lithium = chemistry == "lithium iron phosphate"
    harm = [TOO_MANY_LITHIUM if lithium else TOO_MANY_LEAD] * (answer == "no")
    vent = (
        "Flooded cells give off hydrogen while they charge: vent the battery's box to the outside, no flame, no spark."
    )
    assert found.caution == " ".join([*harm, *([NO_FROST_CHARGE, NEVER_EQUALISE] if lithium else [vent, BY_ITS_SHEET])])


@pytest.mark.parametrize(
    ("told", "said"),
    [("alternator, mains", " Set the other chargers alike (alternator, mains)."), ("", ""), ("none", ""), (" No ", ""),
     ("-", ""), ("nonesuch", " Set the other chargers alike (nonesuch).")],
)  # fmt: skip
@pytest.mark.parametrize("chemistry", ["lithium iron phosphate", "AGM", "other lithium"])
def test_other_chargers_are_to_be_set_alike_where_there_are_some(told, said, chemistry):
    """Equal set-points for every charger on board: common practice, no source."""
    bare, with_them = (
        charge_settings(van(1, battery={"chemistry": chemistry, "other_chargers": t})) for t in ("", told)
    )
    assert with_them.sentence == bare.sentence + said
    assert "other chargers" not in bare.sentence


def test_float_that_is_not_set_is_told_to_be_the_usual_one():
    found = charge_settings(van(1, battery={"v_absorption": 14.2}))
    assert "Float 13.5 V is within" in found.sentence
    assert "the chemistry's usual, since none is given" in found.basis


def test_amps_that_an_isolator_must_open_are_never_rounded_down():
    rig = example("bookmobile")  # 1.25 x 12.5 A are 15.625 A
    bare = replace(rig.circuits[0], v_isolator_max=None, i_isolator_max=None)
    asked = replace(rig, circuits=(bare,))
    assert isolator(asked, bare).sentence.endswith("and 15.7 A, both for DC.")
    assert [part.wanted for part in parts(asked, bare) if part.name.startswith("Isolator")] == [
        "DC, at least 24.8 V and 15.7 A, wired as its plus and minus say"
    ]
