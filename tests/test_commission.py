"""The commissioning card: readings against measured panels, the order of the standard, and cards a year apart."""

from __future__ import annotations

import csv
import re
from dataclasses import replace

import numpy as np
import pytest
from foreign_rigs import FOREIGN, foreign
from outside import facts, rows

from vanpower import Panel, Snapshot, example, panel_curve, rig_model
from vanpower.checks.order import order_of_work
from vanpower.checks.settings_card import settings_card
from vanpower.cli import main
from vanpower.figures.commission import commission_page, judged_page, settings_page
from vanpower.figures.sheet import A4
from vanpower.rig import Rig
from vanpower.trials.cards import read_card, write_card
from vanpower.trials.commissioning import ORDER_FROM, Filled, commission, compare_cards, judge_card
from vanpower.trials.used_panel import PanelReadings, check_used_panel

VAN = example("bookmobile")
FOUR = example("puppet-stage")


# Expected readings against measured ones


def measured() -> list[tuple[Panel, dict[str, float]]]:
    """Six modules of NREL/TP-5200-61610 (2014), labels from their own rows at 1000 W/m² and 25 °C, from 400 W/m² up."""
    found = []
    for module in facts("lowlight_modules.json")["modules"]:
        own = [
            {key: float(value) for key, value in row.items() if key != "id" and value}
            for row in rows("lowlight_matrices.csv") if row["id"] == module["id"]
        ]  # fmt: skip
        label = [row for row in own if row["irradiance"] == 1000 and row["temperature"] == 25 and "v_oc" in row]
        heat = module.get("temp_coeffs_pct_per_K", {})
        if not label or "beta_oc" not in heat:
            continue
        cells = module["cells_in_series"]
        panel = Panel(
            name=module["id"], cells_in_series=cells, substrings=2, beta_voc_pct_per_k=heat["beta_oc"],
            alpha_isc_pct_per_k=heat["alpha_sc"], **{k: label[0][k] for k in ("v_oc", "i_sc", "v_mp", "i_mp")},
        )  # fmt: skip
        found += [(panel, row) for row in own if row["irradiance"] >= 400 and "v_oc" in row]
    return found


def test_expected_volts_and_amps_are_those_of_measured_panels_once_the_light_is_known():
    there = measured()
    assert len({panel.name for panel, _ in there}) >= 5
    volts, amps = [], []
    for panel, row in there:
        curve = panel_curve(panel, row["irradiance"], row["temperature"])
        volts.append(curve.v_oc / row["v_oc"] - 1)
        amps.append(curve.i_sc / row["i_sc"] - 1)
    assert np.abs(volts).max() <= 0.015
    assert np.abs(amps).max() <= 0.03


def test_tolerance_holds_what_measured_panels_read_where_light_is_metered():
    for panel, row in measured()[::5]:
        rig = VAN.with_panels(panel, panel)
        card = commission(rig, row["irradiance"], row["temperature"], light_within_pct=5)
        assert card.panels[0].meets(v=row["v_oc"], i=row["i_sc"]) == (True, True)


def test_tolerances_are_the_root_of_the_sum_of_squares():
    # JCGM 100:2008, 5.1.2; light alone moves amps by its own share: 20 % of them, beside 3 % of label, 1 % and 0.05 A
    one = commission(VAN, 620, 41).panels[0]
    assert one.i_within == pytest.approx(np.sqrt(0.2**2 + 0.03**2 + (0.01 + 0.05 / one.i) ** 2) * one.i, rel=0.01)
    metered = commission(VAN, 620, 41, light_within_pct=5).panels[0]
    assert metered.i_within < 0.35 * one.i_within


# The same numbers elsewhere


@pytest.mark.parametrize("kind", FOREIGN)
def test_card_curve_and_model_have_the_same_numbers(kind):
    rig = foreign(kind)
    card = commission(rig, 640, 38)
    for k, one in enumerate(card.panels):
        curve = panel_curve(rig.panels[k], 640, 38)
        assert (one.v, one.i) == pytest.approx((curve.v_oc, curve.i_sc))
    model = rig_model(rig, Snapshot(light=640, temp_cell=38))
    for number, one in enumerate(card.circuits):
        now = model.operations[number]
        assert (one.v, one.i) == pytest.approx((float(now.v_array[0]), float(now.i_array[0])))
    strings = [string for circuit in rig.circuits for string in circuit.wiring.strings]
    for one, string in zip(card.strings, strings, strict=True):
        assert one.v == pytest.approx(sum(card.panels[p].v for p in string))
        assert one.i is None


# Order of work


def test_steps_come_in_the_order_of_the_standard_and_keep_the_safe_order_of_work():
    # IEC 62446-1:2016, contents: 6.1 bonding, 6.2 polarity, 6.4 open volts, 6.5 current, 6.6 function, 6.7 insulation
    steps = commission(FOUR, 700, 40).steps
    said = " ".join(steps)
    clauses = [float(each) for each in re.findall(r"6\.\d", said)]
    assert clauses == sorted(clauses)
    assert {6.1, 6.2, 6.4, 6.5, 6.6, 6.7} <= set(clauses)
    # the same list in the order that summaries of the standard have it: continuity, polarity, volts, amps, function,
    # then insulation (two read, neither of them the standard itself; the card says so)
    listed = ["bonding", "polarity", "open volts", "amps", "function", "insulation", "not read", "common practice"]
    assert [ORDER_FROM.index(word) for word in listed] == sorted(ORDER_FROM.index(word) for word in listed)
    page = " ".join(text.get_text() for text in commission_page(commission(FOUR, 700, 40)).texts)
    assert ORDER_FROM in " ".join(page.split())
    plain = [step.words for step in order_of_work(FOUR)]
    assert all(any(step.startswith(words[:40]) for step in steps) for words in plain)


def test_insulation_is_tested_at_the_volts_of_the_standard_with_nothing_live():
    # 250 V up to 120 V of 1.25 times the label's sum, 500 V above: a poster on IEC 62446 (secondary copy)
    low, high = (
        commission(rig, 700, 40).insulation for rig in (VAN, foreign("twenty-four").with_controller(v_pv_max=200))
    )
    assert "at 250 V" in low
    assert ("at 500 V" in high) == (1.25 * 4 * 22.3 > 120)
    assert "competent person" in low
    assert "glass covered, amps read zero" in low


def test_a_rig_that_a_check_forbids_gets_no_order_of_work():
    card = commission(FOUR.wired("4s"), 700, 40)
    assert card.steps == ()
    assert card.verdict.answer == "no"
    assert "Do not join" in card.verdict.sentence


def test_only_a_panel_alone_is_short_circuited():
    card = commission(FOUR, 700, 40)
    assert all(one.i is None for one in card.strings)
    assert "never a string" in card.verdict.caution
    assert "never a string" in card.steps[1]


# Filled cards


def filled(rig: Rig, light: float, temp: float, *, seen: float = 1.0, **changes: tuple[float, float]) -> list[Filled]:
    """A card with all panels as they are, the light misjudged by a share, some panels with less volts or amps."""
    lines = []
    for one in commission(rig, light, temp).panels:
        v, i = changes.get(one.at, (1.0, 1.0))
        lines.append(Filled(at=one.at, light=light * seen, temp_cell=temp, v=v * one.v, i=i * one.i))
    return lines


def test_nine_percent_less_amps_and_volts_as_new_is_dirt_or_glass_and_no_diode():
    old, new = filled(FOUR, 800, 45), filled(FOUR, 650, 30, seen=1.15, P2=(1.0, 0.91))
    found = compare_cards(FOUR, old, new)
    assert [one.word for one in found.changes] == ["as new", "dirt or glass", "as new", "as new"]
    assert found.changes[1].i == pytest.approx(-0.09, abs=0.004)
    assert found.changes[1].why.startswith("P2 has lost 9 % of its amps, volts as new: dirt or glass; not a diode.")
    assert found.verdict.answer == "no"


def test_a_group_that_is_gone_is_told_from_heat_that_was_misjudged():
    share = 1 - 1 / FOUR.panels[2].substrings
    gone = compare_cards(FOUR, filled(FOUR, 800, 45), filled(FOUR, 800, 45, P3=(share, 1.0)))
    assert gone.changes[2].word == "a group lost"
    hot = [line if line.v is None else Filled(**{**vars(line), "temp_cell": 60.0}) for line in filled(FOUR, 800, 45)]
    assert {one.word for one in compare_cards(FOUR, filled(FOUR, 800, 45), hot).changes} == {"as new"}


def test_light_misjudged_by_a_fifth_falls_out():
    found = compare_cards(FOUR, filled(FOUR, 800, 45, seen=0.8), filled(FOUR, 800, 45, seen=1.2))
    assert {one.word for one in found.changes} == {"as new"}
    assert found.verdict.answer == "yes"


def test_a_new_panel_is_judged_by_its_label_as_a_used_one_is():
    # the same reading, asked of both
    low = filled(VAN, 800, 40, P2=(0.5, 1.0))
    found = judge_card(VAN, low)
    used = check_used_panel(VAN.panels[1], PanelReadings(light=800, temp_cell=40, i_sc=low[1].i, v_oc=low[1].v))
    assert (found.changes[1].word, used.word) == ("a group lost", "dead diode")
    assert judge_card(VAN, filled(VAN, 800, 40)).verdict.answer == "yes"


def test_a_string_outside_its_tolerance_is_told():
    card = commission(FOUR, 700, 40)
    line = Filled(at=card.strings[0].at, light=700, temp_cell=40, v=0.5 * card.strings[0].v)
    found = judge_card(FOUR, [*filled(FOUR, 700, 40), line])
    assert found.verdict.answer == "no"
    assert "expected" in found.outside[0]
    with pytest.raises(ValueError, match="another wiring"):
        judge_card(FOUR.wired("4p"), [Filled(at="string 9 (P1)", light=700, temp_cell=40, v=20.0)])


def test_one_reading_alone_says_nothing_of_the_year():
    found = compare_cards(VAN, filled(VAN, 800, 40)[:1], [])
    assert {one.word for one in found.changes} == {"not read"}
    assert found.verdict.answer == "close"


# Files, pages, command


def test_card_is_written_filled_in_read_and_never_written_over(tmp_path):
    card, path = commission(FOUR, 700, 40), tmp_path / "card.csv"
    write_card(card, path)
    with pytest.raises(ValueError, match="not filled in yet"):
        read_card(path)
    lines = list(csv.reader(path.read_text().splitlines()[2:]))
    for line, one in zip(lines, card.expected, strict=True):
        line[3], line[4] = f"{one.v:.2f}", "" if one.i is None else f"{one.i:.2f}"
    path.write_text("\n".join([*path.read_text().splitlines()[:2], *map(",".join, lines)]) + "\n")
    assert judge_card(FOUR, read_card(path)).verdict.answer == "yes"
    with pytest.raises(ValueError, match="was changed since"):
        write_card(card, path)


@pytest.mark.parametrize("phone", [False, True], ids=["paper", "phone"])
@pytest.mark.parametrize("kind", ["one panel", "twenty-four", "two circuits", "48 V"])
@pytest.mark.parametrize("card", ["commissioning", "settings", "compared"])
def test_page_keeps_its_words_on_the_paper_and_apart(card, kind, phone):
    rig, dated = foreign(kind), {"date": "2031-05-01", "phone": phone}
    expected = commission(rig, 640, 38)
    old = [Filled(at=one.at, light=640, temp_cell=38, v=one.v, i=one.i) for one in expected.panels]
    new = [replace(one, v=0.6 * one.v, i=0.8 * one.i) for one in old]
    page = {
        "commissioning": lambda: commission_page(expected, **dated),
        "settings": lambda: settings_page(settings_card(rig), **dated),
        "compared": lambda: judged_page(compare_cards(rig, old, [*new[:1], *old[1:]]), **dated),
    }[card]()
    renderer = page.canvas.get_renderer()
    assert phone or tuple(page.get_size_inches()) == A4
    boxes = [text.get_window_extent(renderer) for text in page.texts if text.get_text().strip()]
    # white all around: what is printed to the edge is cut
    white = 0.1 * page.dpi
    assert all(b.x0 >= white and b.y0 >= white for b in boxes)
    assert all(b.x0 >= 0 and b.y0 >= 0 and b.x1 <= page.bbox.x1 and b.y1 <= page.bbox.y1 for b in boxes)
    trimmed = [(b.x0, b.y0 + 0.25 * b.height, b.x1, b.y1) for b in boxes]
    over = [
        (a, b) for k, a in enumerate(trimmed) for b in trimmed[:k]
        if min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1
    ]  # fmt: skip
    assert over == []


def test_command_prints_the_card_and_writes_what_its_ending_says(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    asked = "sheet bookmobile --commission --light 620 --temp 41"
    assert main(asked.split()) == 1
    said = capsys.readouterr().out
    assert "20.8 ± 0.6 V" in said
    assert "Insulation last" in said
    for name in ("card.csv", "card.pdf"):
        assert main([*asked.split(), "--out", name]) == 0
        assert (tmp_path / name).stat().st_size > 200


def test_two_cards_are_compared_by_the_command(capsys, tmp_path):
    for name, amps in (("old.csv", (3.9, 3.9, 3.9, 3.9)), ("new.csv", (3.9, 3.5, 3.9, 3.9))):
        body = "".join(f"P{k + 1},700,40,21.6,{each}\n" for k, each in enumerate(amps))
        (tmp_path / name).write_text(f"at,light,temp_cell,volts,amps\n{body}")
    assert main(["sheet", "puppet-stage", "--compare", str(tmp_path / "old.csv"), str(tmp_path / "new.csv")]) == 1
    assert "P2 has lost 10 % of its amps" in " ".join(capsys.readouterr().out.split())


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ("--commission", "needs --light and --temp"),
        ("--commission --light 80 --temp 12", "Wait for sun"),
        ("--commission --light 8000 --temp 12", "--light"),
        ("--commission --light 700 --temp 400", "--temp"),
        ("--commission --light 700 --temp 40 --light-within 0", "--light-within is 0 %"),
        ("--commission --clock 47 junebug 13", "--clock date"),
        ("--commission --clock 47 06-21 13 --sky brocken", "did you mean broken?"),
        ("--commission --light 700 --temp 40 --sky overcast", "add --clock"),
        ("--filled gone.csv", "gone.csv"),
    ],
)
def test_a_slip_gets_one_plain_sentence(capsys, words, said):
    assert main(["sheet", "bookmobile", *words.split()]) == 2
    assert said in capsys.readouterr().err
