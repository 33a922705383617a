"""The settings card: values against published charging tables, and the same numbers as check, runs and page have."""

from __future__ import annotations

import re

import pytest
from foreign_rigs import FOREIGN, foreign
from outside import rows
from test_sheet import words

from vanpower import Load, Source, example
from vanpower.checks.battery import charge_current
from vanpower.checks.charging import charge_settings
from vanpower.checks.settings_card import settings_card
from vanpower.cli import main
from vanpower.components.batteries import filled_battery
from vanpower.figures.commission import settings_page
from vanpower.figures.sheet import SETTINGS_APART, TO_TICK, sheet
from vanpower.files.examples import examples
from vanpower.rig import AGM, FLOODED, GEL, Battery

VAN = example("bookmobile")


def published(quantity: str, condition: str = "") -> str:
    """A value of tests/reference/battery_charging.csv, which names its source."""
    return next(
        row["value"] for row in rows("battery_charging.csv")
        if row["quantity"] == quantity and condition in row["condition"]
    )  # fmt: skip


def first(text: str) -> float:
    return float(re.search(r"-?[\d.]+", text)[0])


def plain(said: str) -> str:
    """With plain spaces, where a page keeps a number and its unit together."""
    return " ".join(said.split())


def lead(chemistry: str, **more: float) -> Battery:
    return Battery(v_nominal=12, v_now=12.6, v_absorption=14.4, chemistry=chemistry, capacity_ah=100, **more)


def test_lithium_is_cut_in_frost_and_heat_as_a_handling_guide_says():
    card = settings_card(VAN)
    low, high = published("LFP charge temperature window").split(" to ")
    assert first(card["cold cut-off"].value) == float(low)
    assert first(card["heat cut-off"].value) == float(high)
    assert f"{float(published('LFP charge below 10 degC')) * 100:g} A below 10 °C" in card["charge amps"].why


def test_volts_stay_under_the_upper_cell_limit_of_an_open_data_set():
    # BPX open example, lithium iron phosphate: 3.65 V a cell
    most = 4 * float(published("LFP upper cell voltage"))
    assert first(settings_card(VAN)["absorption"].value) <= most
    assert first(settings_card(VAN)["high alarm"].value) <= most


@pytest.mark.parametrize("chemistry", [FLOODED, AGM, GEL])
def test_lead_is_compensated_and_floated_as_published(chemistry):
    card = settings_card(VAN.with_battery(lead(chemistry)))
    # BU-403: -3 mV/K a cell, six cells; a maker's page: 2.25 to 2.30 V a cell
    assert first(card["compensation"].value) == 6 * float(published("Lead-acid compensation"))
    low, high = map(float, published("Lead-acid float voltage").split(" to "))
    assert 6 * low <= first(card["float"].value) <= 6 * high


def test_loads_are_cut_at_rest_volts_less_what_the_load_pulls_down():
    # rest volts of half a charge are 12.2 V (the table's forum note); 0.25 ohm Ah x 6 / 100 Ah x 10 A = 0.15 V
    rig = VAN.with_battery(lead(AGM)).changed(loads=(Load(name="heater", p_load=122.0),))
    card = settings_card(rig)
    assert first(card["loads off"].value) == pytest.approx(12.2 - 0.15, abs=0.06)
    assert first(card["loads off"].value) < first(card["low alarm"].value) < first(card["loads on again"].value)


def test_only_flooded_cells_may_ever_be_equalised():
    told = {kind: settings_card(VAN.with_battery(lead(kind)))["equalisation"] for kind in (FLOODED, AGM, GEL)}
    assert told[FLOODED].value == "off but by its sheet"
    assert {told[kind].value for kind in (AGM, GEL)} == {"off"}
    assert settings_card(VAN)["equalisation"].value == "off"


def test_other_lithium_and_unnamed_lead_get_no_number_that_nobody_knows():
    other = Battery(v_nominal=12, v_now=12.6, v_absorption=12.6, chemistry="other lithium", capacity_ah=100)
    card = settings_card(VAN.with_battery(other))
    assert card["loads off"].value == card["heat cut-off"].value == "by its sheet"
    assert "its label says which it is" in settings_card(VAN.with_battery(lead("lead-acid")))["absorption"].why


def test_two_controllers_stay_together_within_what_the_battery_takes():
    rig = foreign("two circuits").with_battery(i_accept_max=25.0)
    amps = [float(each) for each in re.findall(r"[\d.]+", settings_card(rig)["charge amps"].value)]
    assert len(amps) == 2
    assert sum(amps) <= 25.0
    assert charge_current(rig).answer != "yes"


def test_amps_to_type_are_within_what_the_check_allows_beside_a_charger():
    # 100 Ah AGM takes 30 A: 15 A was to be typed beside a charger of 20 A, which the check says no to
    shore = Source(name="mains charger", kind="shore", i_charge_max=20.0)
    rig = foreign("plain switch").with_battery(lead(AGM)).with_controller(i_charge_max=15.0, tracker="sweep")
    rig = rig.with_battery(i_accept_max=30.0).with_source(shore)
    assert settings_card(rig)["charge amps"].value == "15 A; 10 A where mains charger may charge too"
    assert charge_current(rig.with_controller(i_charge_max=10.0)).answer != "no"


def test_a_second_charger_is_named():
    told = settings_card(VAN.with_battery(other_chargers="mains charger, 14.6 V"))
    assert told["other chargers"].value == "mains charger, 14.6 V"
    assert "set less" in told["charge amps"].why


# The same numbers elsewhere


@pytest.mark.parametrize("kind", FOREIGN)
def test_card_check_and_run_have_the_same_settings(kind):
    rig = foreign(kind)
    card, run = settings_card(rig), filled_battery(rig.battery)
    asked = charge_settings(rig).question
    assert f"do {card['absorption'].value}" in asked
    assert card["float"].value.partition(",")[0] in asked
    assert first(card["float"].value) == pytest.approx(run.v_float, abs=0.006)
    assert f"{run.i_tail:.1f} A if sooner" in card["absorption ends"].value
    assert first(card["compensation"].value) == pytest.approx(1000 * run.v_per_k)
    assert card.verdict == charge_settings(rig)


@pytest.mark.parametrize("name", examples())
def test_page_before_ordering_has_the_card_or_says_where_it_is(name):
    card, page = settings_card(example(name)), words(sheet(example(name), date="2031-05-01"))
    assert card.short in page or (name == "kiln-bus" and SETTINGS_APART in page)


def test_command_prints_the_card_with_the_verdict(capsys):
    assert main(["sheet", "bookmobile", "--settings"]) == 0
    said = " ".join(capsys.readouterr().out.split())
    assert "absorption 14.2 V" in said
    assert "Leave equalisation off" in said


def test_a_page_needs_its_file_and_a_card_prints_without_one(capsys):
    assert main(["sheet", "bookmobile"]) == 2
    assert "--out is missing" in capsys.readouterr().err
    assert main(["sheet", "bookmobile", "--settings"]) == 0
    assert "absorption" in capsys.readouterr().out


def test_settings_that_do_not_fit_beside_two_controllers_have_their_page(tmp_path, capsys):
    # what the page to print sends to is written, with the amps of both controllers of the file
    assert "--settings --out" in SETTINGS_APART
    page = tmp_path / "settings.pdf"
    assert main(["sheet", "kiln-bus", "--settings", "--out", str(page)]) == 0
    assert page.read_bytes()[:5] == b"%PDF-"
    rig = example("kiln-bus")
    said = [plain(text.get_text()) for text in settings_page(settings_card(rig), date="2031-05-01").texts]
    for one in settings_card(rig).settings:
        assert plain(f"{one.name}: {one.value}") in said
    assert sum(line.startswith("Controller ") for line in said) == 2
    assert said.count(TO_TICK) == len(settings_card(rig).settings)
