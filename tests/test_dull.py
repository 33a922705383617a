"""Panels in dull light held against measured matrices of modules, before and after one reading."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from pathlib import Path

import numpy as np
import pytest
from circuit_simulator import needs_ngspice, peaks_of_sweep, sweep
from conftest import PANEL, tiny_rig
from dense_reference import Array, Cell, String, Substring
from outside import facts, rows

from vanpower.components import low_light
from vanpower.components.low_light import (
    LowLightReading,
    best_watts,
    calibrate_panel,
    dull_band,
    leak_of,
    leak_word,
    open_volts,
    with_leak,
)
from vanpower.components.panel_cells import bypass_diode, cell_of
from vanpower.engine.array import best_power
from vanpower.engine.cells import chains
from vanpower.files.rig_files import example
from vanpower.model.arrays import join, roof_of
from vanpower.model.conditions import conditions_of
from vanpower.rig import Cable, Panel, Snapshot
from vanpower.studies.comparison import compare

MODULES = {module["id"]: module for module in facts("lowlight_modules.json")["modules"]}
MATRICES = rows("lowlight_matrices.csv")
KNOWN = sorted({row["id"] for row in MATRICES if row["i_sc"]})
# the eighth, gallery322, was published as watts alone: without volts and amps there is no label to fit
CELLS = {"mono96_220": 96}
# where the file of modules does not count them: the 96 of its name
EXAMPLES = sorted(path.stem for path in (Path(__file__).parents[1] / "data" / "rigs").glob("*.toml"))
KINDS = ("volts and watts", "watts", "volts")


@cache
def matrix(name: str) -> dict[str, np.ndarray]:
    """Measured points of a module, by column."""
    points = [row for row in MATRICES if row["id"] == name]
    return {column: np.array([float(row[column]) for row in points]) for column in points[0] if column != "id"}


def point(name: str, light: float, temp: float) -> dict[str, float]:
    """One measured point."""
    table = matrix(name)
    here = (table["irradiance"] == light) & (table["temperature"] == temp)
    return {column: float(values[here][0]) for column, values in table.items()}


@cache
def label(name: str) -> Panel:
    """A module as its label would say: the point at 1000 W/m² and 25 °C, and the coefficients of volts and amps."""
    full, warm = point(name, 1000, 25), point(name, 1000, 50)
    slopes = {of: (warm[of] / full[of] - 1) * 100 / 25 for of in ("v_oc", "i_sc")}
    published = MODULES[name].get("temp_coeffs_pct_per_K", {})
    return Panel(
        name=name, **{of: full[of] for of in ("v_oc", "i_sc", "v_mp", "i_mp")}, substrings=1,
        cells_in_series=MODULES[name].get("cells_in_series") or CELLS[name],
        beta_voc_pct_per_k=published.get("beta_oc", slopes["v_oc"]),
        alpha_isc_pct_per_k=published.get("alpha_sc", slopes["i_sc"]),
    )  # fmt: skip


@cache
def read(name: str, light: float, kind: str) -> Panel:
    """The module calibrated by one measured point in dull light; the light is told by its amps."""
    seen = point(name, light, 25)
    volts, watts = "volts" in kind, "watts" in kind
    reading = LowLightReading(
        i_sc=seen["i_sc"], v_oc=seen["v_oc"] if volts else None, p_mp=seen["p_mp"] if watts else None
    )
    return calibrate_panel(label(name), reading)


def errors(panel: Panel, name: str) -> tuple[np.ndarray, np.ndarray]:
    """Light of every measured point, and the relative error of the watts there."""
    table = matrix(name)
    return table["irradiance"], best_watts(panel, table["irradiance"], table["temperature"]) / table["p_mp"] - 1


def test_all_matrices_with_amps_and_volts_are_used():
    assert len(KNOWN) == 7
    assert set(MODULES) - set(KNOWN) == {"gallery322"}


# The goal: 5 % in dull light, 3 % from 400 W/m² up, median 1.5 %; measurement itself is good to 2.8 %


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("light", [100.0, 200.0])
@pytest.mark.parametrize("name", KNOWN)
def test_label_and_one_reading_meet_the_measured_watts(name, light, kind):
    # Marion et al., NREL/TP-5200-61610 (2014) and a Sandia matrix, see lowlight_modules.json
    at, error = errors(read(name, light, kind), name)
    assert np.abs(error[at <= 200]).max() < 0.05, "the nearest, mSi0251 read at 200 W/m², comes to 4.99 %"
    assert np.abs(error[at >= 400]).max() < 0.03
    assert np.median(np.abs(error)) < 0.015


@pytest.mark.parametrize("name", KNOWN)
def test_label_alone_promises_too_much_and_its_band_holds_what_was_measured(name):
    at, error = errors(label(name), name)
    dim = at <= low_light.DULL_LIGHT
    low, high = dull_band([label(name)], at)
    share = 1 / (1 + error)
    assert (share[dim] >= low[dim]).all()
    assert (share[dim] <= high[dim]).all()
    assert error[at == 100].min() > 0.03
    assert low[dim].min() < 0.82


@pytest.mark.parametrize(("kind", "by"), [("watts", "watts"), ("volts and watts", "watts"), ("volts", "volts")])
def test_band_after_a_reading_is_told_by_what_was_read_and_closes_towards_full_sun(kind, by):
    panel = read("mSi0166", 100.0, kind)
    assert panel.read_by == by
    low, high = dull_band([panel], [100.0, 200.0, 400.0, 1000.0])
    within = low_light.READ_WITHIN[by]
    assert (low[0], high[0]) == pytest.approx((1 - within, 1 + within))
    assert list(high) == sorted(high, reverse=True)
    assert (low[-1], high[-1]) == (1.0, 1.0)
    by_hand = replace(panel, read_by=None)
    assert dull_band([by_hand], 100.0)[1][0] == pytest.approx(1 + max(low_light.READ_WITHIN.values()))


DRAWS, MISREAD = 4, {"temp": 3.0, "i_sc": 0.01, "v_oc": 0.005, "p_mp": 0.02}
# readings of each module at each light, and how far they err at most: cells [K], the others as shares


def misread(name: str, light: float, kind: str, rng: np.random.Generator) -> Panel | None:
    """The module by a reading with the errors of a meter and of judging its heat; None where it is refused."""
    seen, err = point(name, light, 25), {what: most * rng.uniform(-1, 1) for what, most in MISREAD.items()}
    given = {of: seen[of] * (1 + err[of]) for of in ("i_sc", "v_oc", "p_mp")}
    given = {of: value for of, value in given.items() if of == "i_sc" or {"v_oc": "volts", "p_mp": "watts"}[of] in kind}
    try:
        return calibrate_panel(label(name), LowLightReading(temp_cell=25 + err["temp"], **given))
    except ValueError:
        return None


def leak_rule(names: list[str]) -> tuple[tuple[float, float], ...]:
    """(ideality, leak) of these modules, medians of the lower half and of the upper, as `LEAK_TYPICAL` is of all."""
    panels = [read(name, light, KINDS[0]) for name in names for light in (100.0, 200.0)]
    pairs = np.array(sorted((panel.ideality, leak_of(panel)) for panel in panels))
    half = len(pairs) // 2
    return tuple(tuple(np.median(some, axis=0)) for some in (pairs[:half], pairs[half:]))


@pytest.mark.parametrize("kind", KINDS)
def test_promise_of_a_reading_holds_for_modules_that_had_no_part_in_its_rule(kind, monkeypatch):
    rng = np.random.default_rng(5)
    worst = []
    for name in KNOWN:
        slopes = [m["ideality_from_Voc_vs_lnG"] for key, m in MODULES.items() if "cells_in_series" in m and key != name]
        rule = leak_rule([one for one in KNOWN if one != name])
        monkeypatch.setattr(low_light, "IDEALITY_TYPICAL", float(np.median(slopes)))
        monkeypatch.setattr(low_light, "LEAK_TYPICAL", rule)
        for light in (100.0, 200.0):
            for panel in (misread(name, light, kind, rng) for _ in range(DRAWS)):
                if panel is not None:
                    at, error = errors(panel, name)
                    worst.append(np.abs(error[at <= low_light.DULL_LIGHT]).max())
    assert np.quantile(worst, 0.95) < low_light.READ_WITHIN["watts" if "watts" in kind else "volts"]
    assert np.quantile(worst, 0.95) > 0.05, "the promise was 5 %, whatever was read"


@pytest.mark.parametrize("name", KNOWN)
def test_middle_of_the_other_modules_is_nearer_than_the_label_which_promises_too_much(name):
    alike = {"mSi0166", "mSi0247", "mSi0251"}
    others = [one for one in KNOWN if one != name and not (one in alike and name in alike)]
    found = [read(one, 100.0, KINDS[0]) for one in others if one not in alike - {"mSi0166"}]
    ideality, leak = np.median([(panel.ideality, leak_of(panel)) for panel in found], axis=0)
    assert (ideality, leak) == pytest.approx(low_light.MIDDLE, rel=0.35, abs=0.05)
    plain = label(name)
    middle = replace(plain, ideality=float(ideality), r_leak=plain.v_mp / plain.i_mp / float(leak))
    at, error = errors(middle, name)
    assert np.abs(error[at <= low_light.DULL_LIGHT]).max() < 0.10, "labels alone err by up to 20 %, this by up to 9.1 %"
    assert errors(plain, name)[1][at <= low_light.DULL_LIGHT].max() > 0.05


@pytest.mark.parametrize("light", [50.0, 100.0, 200.0, 250.0])
@pytest.mark.parametrize("name", EXAMPLES)
def test_headline_in_dull_light_stands_inside_its_band(name, light):
    rig = example(name)
    found = compare({"it": rig}, Snapshot(light=light, temp_cell=15.0))
    outcome = found.outcomes["it"]
    low, high = outcome.band_wh
    if outcome.energy_wh < 1.0 or outcome.refused is not None:
        assert outcome.energy_wh <= outcome.label_wh
        return
    assert low + 0.15 * (high - low) < outcome.energy_wh < high - 0.15 * (high - low)
    sunny = compare({"it": rig}, Snapshot(light=1000.0, temp_cell=15.0))
    assert "measured panels" not in sunny.verdict.sentence


def test_label_itself_is_kept_by_a_reading():
    for name in KNOWN:
        panel = read(name, 100.0, "volts and watts")
        assert float(best_watts(panel, 1000.0, 25.0)[0]) == pytest.approx(label(name).p_mp, rel=0.003)
        assert float(open_volts(panel, 1000.0, 25.0)[0]) == pytest.approx(label(name).v_oc, rel=0.001)


def test_bands_of_leaks_are_those_the_measured_modules_have():
    found = {name: leak_of(read(name, light, KINDS[0])) for name in KNOWN for light in (100.0,)}
    old = {name for name, leak in found.items() if leak >= low_light.LEAKS["old"][0]}
    assert old == {"mSi0166", "mSi0247", "mSi0251"}
    low, high = low_light.LEAKS["sound"]
    assert all(low <= leak <= high for name, leak in found.items() if name not in old)
    assert all(leak <= low_light.LEAKS["old"][1] for leak in found.values())


def test_typical_ideality_is_the_median_slope_of_measured_volts_over_the_log_of_light():
    slopes = [module["ideality_from_Voc_vs_lnG"] for module in MODULES.values() if "cells_in_series" in module]
    assert np.median(slopes) == pytest.approx(low_light.IDEALITY_TYPICAL, abs=0.01)


# Whatever is read


@pytest.mark.parametrize("leak", [0.004, 0.03, 0.15])
@pytest.mark.parametrize("temp", [0.0, 35.0])
def test_reading_made_by_a_known_panel_gives_that_panel_back(leak, temp):
    truth = replace(PANEL, ideality=1.17, r_leak=PANEL.v_mp / PANEL.i_mp / leak)
    light = 120.0
    alpha = 0.0005373
    i_sc = PANEL.i_sc * light / 1000 * (1 + alpha * (temp - 25))
    volts, watts = float(open_volts(truth, light, temp)[0]), float(best_watts(truth, light, temp)[0])
    found = calibrate_panel(PANEL, LowLightReading(i_sc=i_sc, v_oc=volts, p_mp=watts, temp_cell=temp))
    assert found.ideality == pytest.approx(1.17, abs=0.01)
    assert leak_of(found) == pytest.approx(leak, rel=0.06)


def test_leaky_panel_is_found_by_volts_alone_where_light_is_very_dull():
    leaky = replace(PANEL, r_leak=30.0)
    i_sc = PANEL.i_sc * 0.06
    found = calibrate_panel(PANEL, LowLightReading(i_sc=i_sc, v_oc=float(open_volts(leaky, 60.0, 25.0)[0])))
    assert leak_word(found) == "leaky"
    assert found.r_leak == pytest.approx(30.0, rel=0.1)


def test_volts_of_a_leaky_panel_end_at_its_amps_times_the_leak():
    # with the cells nearly off, all light amps flow through the leak: 0.03 x 6 A x 30 ohm
    leaky = replace(PANEL, r_leak=30.0)
    assert float(open_volts(leaky, 30.0, 25.0)[0]) == pytest.approx(0.03 * 6.0 * 30.0, rel=0.03)


@pytest.mark.parametrize("light", [40.0, 150.0, 900.0])
@pytest.mark.parametrize("panel", [PANEL, with_leak(PANEL, "old"), replace(PANEL, r_leak=30.0, branches=2)])
def test_watts_of_one_panel_are_those_of_the_array_of_one(panel, light):
    rig = tiny_rig((panel,), (0,))
    one = replace(rig.circuits[0], cable=replace(rig.circuits[0].cable, length_m=0.1, section_mm2=70.0))
    roof = roof_of((panel,), conditions_of((panel,), Snapshot(light=light, temp_cell=10.0)))
    assert float(best_watts(panel, light, 10.0)[0]) == pytest.approx(float(best_power(join(roof, one))[1][0]), rel=3e-5)


@pytest.mark.parametrize(
    ("reading", "words"),
    [
        ({"i_sc": 4.0, "v_oc": 20.0}, ["667 W/m²", "30 to 500", "grey sky"]),
        ({"i_sc": 0.05, "v_oc": 17.0}, ["8 W/m²"]),
        ({"i_sc": 0.6, "p_mp": 15.0}, ["p_mp is 15 W at 100 W/m² (by 0.6 A)", "at most", "several panels"]),
        ({"i_sc": 0.6, "v_oc": 21.9}, ["v_oc is 21.9 V", "at most"]),
        ({"i_sc": 0.6}, ["volts or watts must be read"]),
        ({"i_sc": 600.0, "v_oc": 20.0}, ["milliamps"]),
    ],
)
def test_reading_that_cannot_be_is_refused_with_what_would_make_sense(reading, words):
    with pytest.raises(ValueError, match="LowLightReading") as trouble:
        calibrate_panel(PANEL, LowLightReading(**reading))
    assert [word for word in words if word not in str(trouble.value)] == []


def test_unknown_word_for_a_leak_is_told_the_known_ones():
    with pytest.raises(ValueError, match="sound, old, leaky"):
        with_leak(PANEL, "broken")


def test_worse_words_give_less_in_dull_light_and_lose_at_most_their_leak_in_full_sun():
    panels = [with_leak(PANEL, word) for word in low_light.LEAKS]
    dim, full = ([float(best_watts(panel, light, 25.0)[0]) for panel in panels] for light in (100.0, 1000.0))
    assert dim == sorted(dim, reverse=True)
    lost = [1 - watts / PANEL.p_mp for watts in full]
    assert all(-1e-3 < share <= leak_of(panel) for share, panel in zip(lost, panels, strict=True))


def test_measured_panels_of_36_cells_lose_the_volts_that_the_teachers_page_says() -> None:
    page = (Path(__file__).parents[1] / "notebooks" / "teach" / "01-series-in-dull-light.ipynb").read_text(
        encoding="utf-8"
    )
    names = [name for name in KNOWN if MODULES[name].get("cells_in_series") == 36]
    lost = [point(name, 1000, 25)["v_oc"] - point(name, 100, 25)["v_oc"] for name in names]
    assert len(names) == 5
    assert f"Five measured panels of 36 cells lost {min(lost):.1f} to {max(lost):.1f} V" in page


def uniform(panel: Panel, light: float, diode: tuple[float, float] | None) -> Array:
    """An evenly lit panel cell by cell, as the simulator takes it."""
    known = chains(cell_of(panel), np.array([[light]]), np.array([25.0]))
    cell = Cell(*(float(part[0, 0]) for part in (known.i_light, known.i_0, known.a, known.r_series, known.r_shunt)))
    group = Substring(((cell,) * (panel.cells_in_series // panel.substrings),), diode)
    return Array((String((group,) * panel.substrings),))


@needs_ngspice
@pytest.mark.parametrize(
    ("drop", "light", "percent"), [(0.5, 1000.0, 3.6e-6), (0.5, 50.0, 7.2e-5), (0.4, 50.0, 0.0025), (0.3, 50.0, 0.084)]
)
def test_what_bypass_diodes_let_through_backwards_is_as_little_as_the_docstring_says(drop, light, percent):
    panel = replace(PANEL, v_bypass=drop)
    diode = bypass_diode(panel)
    arrays = [uniform(panel, light, pair) for pair in ((float(diode.i_0), diode.v_fold), None)]
    peaks = [max(peak.p for peak in peaks_of_sweep(array, *sweep(array))) for array in arrays]
    assert 100 * (1 - peaks[0] / peaks[1]) == pytest.approx(percent, rel=0.25)
    alone = replace(tiny_rig((panel,), (0,)).circuits[0], cable=Cable(length_m=0.0))
    roof = roof_of((panel,), conditions_of((panel,), Snapshot(light=light, temp_cell=25)))
    with_diodes = best_power(join(roof, alone))[1][0]
    ours = 100 * (1 - with_diodes / best_watts(panel, light, 25.0)[0])
    assert ours == pytest.approx(percent, rel=0.25, abs=1e-5)  # a working point is met within some 1e-7
