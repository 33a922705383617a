"""Our numbers against published ones, from labels and cells to arrays; where each comes from stands in reference/."""

import numpy as np
import pytest
from outside import case, rows

from vanpower.components.controllers import operate
from vanpower.engine.array import PVArray, best_power, hilltops, panel_tables
from vanpower.engine.cells import NO_AVALANCHE, Avalanche, Cell, CellChains
from vanpower.engine.chain_tables import tabulate
from vanpower.engine.curves import Diode, open_circuit_voltage, short_circuit_current, voltage_at
from vanpower.engine.maxima import best, maxima
from vanpower.model.arrays import join, roof_of_cells
from vanpower.model.conditions import Conditions
from vanpower.rig import Circuit, Controller, Wiring

CONTROLLER = Controller(name="any", v_pv_max=1500.0, i_charge_max=500.0)
ONE = Circuit(wiring=Wiring(strings=((0,),)), controller=CONTROLLER)
LOOKS = 9
# closer looks until nothing moves any more; each divides the error by some hundred


def corners(array: PVArray) -> tuple[np.ndarray, np.ndarray, np.ndarray, np.ndarray]:
    """Short-circuit amps, open-circuit volts, best volts and watts of every moment, seen as closely as can be."""
    zero = np.zeros(len(array.curves.current))
    short, wide, top = array, array, array
    for _ in range(LOOKS):
        short = short.refined_at(zero)
        wide = wide.refined_at(open_circuit_voltage(wide.curves))
        top = top.refined_at(best(maxima(top.curves))[0])
    v, _, p = best(maxima(top.curves))
    return short_circuit_current(short.curves), open_circuit_voltage(wide.curves), v, p


def lone_module(cell: Cell, cells: int, light, temp_cell) -> PVArray:
    """A module of equal cells without bypass diodes or breakdown, at several moments."""
    light, temp = np.broadcast_arrays(np.asarray(light, float), np.asarray(temp_cell, float))
    fields = np.repeat(light[:, None], cells, 1)[:, None, None, :]
    roof = roof_of_cells([cell], [None], Conditions((fields,), temp[:, None]), NO_AVALANCHE)
    return join(roof, ONE)


def desoto_cell(params: dict, cells: int) -> Cell:
    """One cell of a module given by its five parameters."""
    return Cell(
        i_light=params["I_L_ref"],
        i_0=params["I_o_ref"],
        a=params["a_ref"] / cells,
        r_series=params["R_s"] / cells,
        r_shunt=params["R_sh_ref"] / cells,
        alpha=params["alpha_sc"],
    )


def test_single_diode_corners_to_ten_digits():
    """64 curves solved with 40 digits (pvlib's precise_iv_curves); volts of the flat maximum to 1e-6."""
    points = rows("precise_sdm_points.csv")
    assert len(points) == 64
    for row in points:
        ns, n, kelvin = int(row["cells_in_series"]), float(row["n"]), float(row["T_K"])
        a = n * 1.380649e-23 * kelvin / 1.602176634e-19
        il, i_0 = float(row["photocurrent"]), float(row["saturation_current"])
        rs, rsh = float(row["resistance_series"]) / ns, float(row["resistance_shunt"]) / ns
        one = [np.array([[value]]) for value in (il, rsh, ns, i_0, a, rs)]
        chain, _ = tabulate([CellChains(*one)], 1.05 * il, None, NO_AVALANCHE)
        i_sc, v_oc, v_mp, p_mp = (x[0] for x in corners(join(panel_tables(chain, [((0,),)], [None]), ONE)))
        assert i_sc == pytest.approx(float(row["i_sc"]), rel=1e-10)
        assert v_oc == pytest.approx(float(row["v_oc"]), rel=1e-10)
        assert p_mp == pytest.approx(float(row["p_mp"]), rel=1e-10)
        assert v_mp == pytest.approx(float(row["v_mp"]), rel=1e-6)


def test_desoto_translation_of_a_220_w_module():
    """DS1: pvlib gallery, plot_singlediode; De Soto et al. 2006. 1e-4 as published."""
    ds1 = case("DS1", "desoto.json")
    table = np.array(ds1["published"])
    module = lone_module(desoto_cell(ds1["params"], 96), 96, table[:, 0], table[:, 1])
    i_sc, v_oc, v_mp, p_mp = corners(module)
    for ours, column in ((i_sc, 2), (v_oc, 3), (p_mp, 6)):
        np.testing.assert_allclose(ours, table[:, column], rtol=1e-4)
    np.testing.assert_allclose(v_mp, table[:, 5], rtol=1e-3)


def test_desoto_translation_of_an_18_cell_module():
    """DS2: pvlib tests, calcparams_desoto and singlediode. 1e-4."""
    ds2 = case("DS2", "desoto.json")
    module = lone_module(desoto_cell(ds2["params"], 18), 18, [800, 400], 25.0)
    i_sc, v_oc, _, p_mp = corners(module)
    for k, light in enumerate(("800_25", "400_25")):
        published = ds2["published"][light]
        assert i_sc[k] == pytest.approx(published["i_sc"], rel=1e-4)
        assert v_oc[k] == pytest.approx(published["v_oc"], rel=1e-4)
        assert p_mp[k] == pytest.approx(published["p_mp"], rel=1e-4)


def test_predictions_of_a_label_fit():
    """DS3: the published data-sheet fit of a 270 W module, moved to other light and heat. 1e-4."""
    ds3 = case("DS3", "desoto.json")
    params = ds3["published_fit"] | {"alpha_sc": ds3["datasheet"]["alpha_sc"]}
    asked = [tuple(map(float, name.split("_"))) for name in ds3["predictions"]]
    module = lone_module(desoto_cell(params, 60), 60, *zip(*asked, strict=True))
    _, v_oc, _, p_mp = corners(module)
    published = np.array(list(ds3["predictions"].values()))
    np.testing.assert_allclose(v_oc, published[:, 0], rtol=1e-4)
    np.testing.assert_allclose(p_mp, published[:, 2], rtol=1e-4)


def shaded_module(lights: list[float]) -> PVArray:
    """The 72-cell module of PS1 with one light for each of its three substrings, as published."""
    cell = desoto_cell(case("PS1", "partial_shading.json")["inputs"]["module"], 72)
    fields = np.repeat(np.array(lights)[:, None], 24, 1)[None, :, None, :]
    diode = Diode(1e-9, 8.617333262e-5 * 298.15)
    return join(roof_of_cells([cell], [diode], Conditions((fields,), np.full((1, 1), 25.0)), NO_AVALANCHE), ONE)


def test_three_lights_on_three_substrings():
    """PS1: peaks of a partly shaded module; 0.1 % of power and 0.05 V."""
    published = case("PS1", "partial_shading.json")
    found = hilltops(shaded_module(published["inputs"]["irradiance"]))
    ours = sorted(zip(found.voltage[0], found.power[0], strict=True))
    theirs = published["recomputed"]["peaks_V_I_P"]
    assert len(ours) == len(theirs) == 3
    for (volts, watts), (v, _, p) in zip(ours, theirs, strict=True):
        assert volts == pytest.approx(v, abs=0.05)
        assert watts == pytest.approx(p, rel=1e-3)


@pytest.mark.parametrize(("tracker", "hill"), [("sweep", 1), ("climb", 2)])
def test_tracker_sits_on_its_hill_of_the_published_three(tracker, hill):
    """PS1: 131.6 W at 25.1 V is the best, 105.7 W at 39.8 V the first from open circuit; 0.1 % of power and 0.05 V."""
    published = case("PS1", "partial_shading.json")
    array = shaded_module(published["inputs"]["irradiance"])
    found = operate(array, CONTROLLER.changed(tracker=tracker, v_start_margin=0.0, v_hold_margin=0.0), 8.0)
    v, _, p = published["recomputed"]["peaks_V_I_P"][hill]
    assert found.v_array[0] == pytest.approx(v, abs=0.05)
    assert found.p_array[0] == pytest.approx(p, rel=1e-3)


def test_clamp_of_a_dark_substring():
    """PS2: the same module unshaded, and a substring at 200 W/m² forced to the bright current; 2 mV."""
    published = case("PS2", "partial_shading.json")["recomputed"]
    volts, watts = best_power(shaded_module([1000, 1000, 1000]))
    assert watts[0] == pytest.approx(published["Pmp"], rel=1e-4)
    assert volts[0] == pytest.approx(published["Vmp"], abs=0.05)
    dark, bright = shaded_module([1000, 1000, 200]), np.array([[9.08]])
    for _ in range(2):
        dark = dark.refined_at(voltage_at(dark.curves, bright)[0][:, 0])
    clamp = voltage_at(dark.substrings[1], bright)[0][0, 0]
    assert clamp == pytest.approx(published["clamp_V_at_9.08A"], abs=2e-3)


@pytest.mark.parametrize("row", case("PS4", "partial_shading.json")["grid"]["rows"])
def test_shade_rising_over_a_module_cell_by_cell(row):
    """PS4: cells of a 72-cell module in reverse, avalanche included; share of the unshaded power to 0.15 %."""
    diffuse, shaded, _, published = row
    full, part = (best_power(rising_shade(diffuse, share))[1][0] for share in (0.0, shaded))
    assert part / full == pytest.approx(published, rel=1.5e-3)


def rising_shade(diffuse: float, shaded: float) -> PVArray:
    """Two columns of 12 cells in each of three substrings; whole rows lose the beam, the next row part of it."""
    given = case("RB2", "reverse_bias.json", "parameter_sets")
    own = given["cell"]
    thermal = 8.617333262e-5 * 298.15
    cell = Cell(own["I_L_ref"], own["I_o_ref"], own["n"] * thermal, own["R_s"], own["R_sh_ref"], own["alpha_sc"])
    lit = np.full(12, 1000.0)
    dark = int(shaded * 12)
    lit[:dark] = 1000.0 * diffuse
    if dark < 12:
        lit[dark] = 1000.0 * (diffuse + (1 - (shaded * 12 - dark)) * (1 - diffuse))
    fields = np.broadcast_to(np.tile(lit, 2), (1, 3, 1, 24))
    sharp = Diode(8.0 / np.expm1(given["bypass_clamp_V"] / -1e-3), 1e-3)
    avalanche = Avalanche(given["a"], given["Vbr_V"], given["m"])
    return join(roof_of_cells([cell], [sharp], Conditions((fields,), np.full((1, 1), 25.0)), avalanche), ONE)
