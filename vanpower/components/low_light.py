"""Panels in dull light: what one reading there says about a panel, and how far out its label alone may be.

A label is read in full sun and says little about dull light, where two things it does not show decide: how fast volts
fall with the light (the ideality) and how much leaks past the cells (a shunt that stays when the light goes). One
reading on a grey day gives them. Left out: dirt, the colour of dull light, and single cells worse than the rest.

`calibrate_panel` takes a panel's ideality and leak from one reading. Largest error of watts up to 200 W/m² / from
400 W/m² up / median of all, in %, for the worse of two readings, at 100 or at 200 W/m² and 25 °C:

| module | label alone at 100, 200 W/m² | volts and watts | watts alone | volts alone |
|---|---|---|---|---|
| HIT05667 | +5, +4 | 3.2 / 1.1 / 0.8 | 3.1 / 1.4 / 0.7 | 4.8 / 1.1 / 0.8 |
| mSi0166 | +20, +13 | 2.2 / 1.2 / 0.6 | 2.0 / 0.8 / 0.4 | 4.2 / 1.8 / 0.6 |
| mSi0247 | +20, +11 | 2.4 / 1.0 / 0.3 | 1.4 / 0.5 / 0.2 | 3.9 / 1.3 / 0.3 |
| mSi0251 | +19, +12 | 5.0 / 0.6 / 0.3 | 3.0 / 0.6 / 0.4 | 3.4 / 1.3 / 0.5 |
| mSi460A8 | +18, +11 | 4.3 / 0.8 / 0.6 | 4.3 / 0.7 / 0.5 | 4.3 / 1.1 / 0.6 |
| mono96_220 | +12, +6 | 1.7 / 1.7 / 0.8 | 3.4 / 2.0 / 0.7 | 3.9 / 1.8 / 1.0 |
| xSi12922 | +6, +4 | 1.2 / 1.1 / 0.5 | 1.9 / 1.8 / 0.7 | 1.7 / 1.2 / 0.5 |

What a person reads is not the label's curve, which all seven modules stay below, but the middle of theirs (`MIDDLE`,
three that are alike counted once), with their range beside it; made from the others alone it errs by 9.1 % at most on
any of them, a label by 20 %. The engine stays at the label. Behind it `model.losses.booked` takes each circuit at a
share of its labels' curve (`dull_middle`: the middle up to 400 W/m², fading to the label's word at 800), and the
first loss, `weaker than label`, holds what that takes; losses behind it shrink along, own draw and current limit have
their say afterwards (`controllers.weakened`). So sentences, tables, bars, months, lists and the battery's charge have
one number (`test_one_number_in_dull_light.py`); `Outcome.label_wh` and `Run.label_wh` say what labels alone promise.
Over the seven modules the share errs by 1.2, 1.0, 0.5, 1.4 and 1.0 % on the mean at 100, 200, 400, 600 and 800 W/m²
(label: 14, 8, 4.0, 2.2 and 1.0 %). The light is that of the best lit cell of the roof, so panels in another plane or
in shade, which get less, are taken for a little too strong; and volts stay the label's. Panels with a reading have no
such loss. What a reading promises goes by what was read (`read_by`): 9 % with watts and 14 % with volts alone hold 19
of 20 readings whose cells are misjudged by up to 3 K (rules from the other modules alone).

A leak alone is not enough: fitted at 100 W/m², it leaves 4 % at 200 and 4 % at 400, since the ideality that a label's
coefficient of volts asks for (0.93 to 0.98) is lower than the one volts show over the log of light (1.12 to 1.31).
Volts alone say little of the leak; it is taken to go with the ideality as in these modules, a rule read off the same
seven. With one leak for all, they erred by up to 6.5 %. gallery322 was published as watts alone and could not be
used.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from vanpower.components.panel_cells import cell_of
from vanpower.components.single_diode import fit_panel
from vanpower.engine.cells import FRONT_CONTACT, CellChains, chains, junction_current, max_power
from vanpower.engine.constants import LIGHT_REFERENCE, TEMP_REFERENCE
from vanpower.engine.roots import falling_root
from vanpower.rig import Panel
from vanpower.rig.fields import Description, number, require

Array = np.ndarray

IDEALITY_TYPICAL = 1.24
# [-] median slope of open-circuit volts over the log of light in tests/reference/lowlight_matrices.csv, taken where a
# reading gives watts but no volts; the six there run from 1.12 to 1.31
LEAK_TYPICAL = ((1.11, 0.004), (1.17, 0.0105))
# (ideality, leak as a share of i_mp at v_mp) taken where a reading gives volts but no watts, lines between: in those
# matrices the modules of low ideality leak little and those of high ideality more. Read off the same seven modules that
# it is held against, three of which are alike, so it may do worse elsewhere.
IDEALITIES = (0.8, 1.4)
# [-] searched for a reading; volts lower than the last explains are put down to a leak
LEAK_MOST = 0.9
# [share of i_mp at v_mp] searched
LEAKS = {"sound": (0.001, 0.011), "old": (0.013, 0.020), "leaky": (0.020, 0.25)}
# [share of i_mp that leaks at v_mp] calibrated from the matrices by readings at 100 and 200 W/m²: four better panels
# "sound", three old multi-crystalline ones "old"; "leaky" is beyond any measured there, its end has no source
LIKELY = ((1.10, 0.002), (1.22, 0.020))
# (ideality, leak) of the strongest and the weakest panel in dull light among them; what a label leaves open
MIDDLE = (1.15, 0.0085)
# (ideality, leak) in the middle of them, the three that are alike counted once
READ_WITHIN = {"watts": 0.09, "volts": 0.14}
# [share of watts] what a reading leaves open in dull light, by what was read: 19 of 20 readings of those modules held
# it, each judged by rules made from the others alone, with cells misjudged by up to 3 K, amps by 1 %, volts by 0.5 %
# and watts by 2 %; without any such error each kind came within 5 %
DULL_LIGHT, BRIGHT_ENOUGH = 250.0, 800.0
# [W/m²] a chart of less light shows what is left open; from the second on a label is taken at its word; no source
MIDDLE_FROM = 400.0
# [W/m²] down from here panels known by their label alone are taken at `MIDDLE`, up from `BRIGHT_ENOUGH` at the label,
# in between in between; so the mean of measured modules is reproduced within 1.5 % in every light
READING_LIGHT = (30.0, 500.0)
# [W/m²] a reading is asked for in between; no source
OUT_OF_REACH = 0.05
# share of the watts or volts read by which no panel with this label can miss them; measured panels stay within 3 %
IDEALITY_STEPS = 25
# panels tried at once between the ends of `IDEALITIES`
LIGHT_STEPS = np.array([5.0, 10.0, 20.0, 50.0, 100.0, 150.0, 200.0, 250.0, 400.0, 600.0, BRIGHT_ENOUGH])
# [W/m²] at which the band is worked out; lines in between
LEAST, TYPICAL, MOST = range(3)
# its sides


class LowLightReading(Description):
    """What a meter reads on one panel alone on a grey day, all within a minute.

    Examples
    --------
    >>> LowLightReading(i_sc=0.31, v_oc=18.4).temp_cell
    25.0
    """

    i_sc: float = number(
        0.01, 40.0, "short-circuit amps", above="Are these milliamps?",
        more="Against the label they tell how much light there is.",
    )  # fmt: skip
    v_oc: float | None = number(0.5, 200.0, "open-circuit volts", default=None, above="Are these millivolts?")
    p_mp: float | None = number(
        0.01, 1000.0, "most watts, as a controller shows them with this panel alone", default=None
    )
    temp_cell: float = number(
        -60.0, 110.0, "temperature of the cells; in dull light a few kelvin above the air", default=25.0,
        above="Is this Fahrenheit?",
    )  # fmt: skip

    def together(self) -> None:
        """Check that volts or watts are there besides the amps.

        Raises
        ------
        ValueError
            Where both are missing.
        """
        given = self.v_oc is not None or self.p_mp is not None
        require(given, self, "v_oc", "either volts or watts must be read too", "Best is both.")


def light_of(panel: Panel, reading: LowLightReading) -> float:
    """Light on the panel, told by its short-circuit amps against the label's. [W/m²]"""
    alpha = (fit_panel(panel).panel.alpha_isc_pct_per_k or 0.0) / 100
    warm = 1.0 + alpha * (reading.temp_cell - TEMP_REFERENCE)
    return LIGHT_REFERENCE * reading.i_sc / (panel.i_sc * warm)


def calibrate_panel(panel: Panel, reading: LowLightReading) -> Panel:
    """The panel with the diode ideality and the leakage that reproduce a reading taken in dull light.

    Parameters
    ----------
    panel : Panel
        As the label describes it; a leak or an ideality that it already has is ignored.
    reading : LowLightReading
        Taken at 30 to 500 W/m²; best at 100 to 200.

    Returns
    -------
    Panel
        With `ideality`, `r_leak` [ohm] and `read_by` filled in.

    Raises
    ------
    ValueError
        For a reading at other light, or one that this label cannot give, with the likely slip.

    Notes
    -----
    Volts and watts together give both. Watts alone: the ideality is the typical 1.24 and the leak takes the rest. Volts
    alone: the ideality, with the leak that goes with it among measured modules. Each kind of reading reproduced all
    seven measured modules within 5 % at 100 and 200 W/m² and 2 % from 400 up; volts alone rest on a rule made from the
    same seven. A meter's error and a misjudged cell temperature come on top: `READ_WITHIN` counts them.

    Examples
    --------
    >>> label = dict(v_oc=22.07, i_sc=2.741, v_mp=18.26, i_mp=2.532, cells_in_series=36, substrings=2)
    >>> found = calibrate_panel(Panel(name="old", **label), LowLightReading(i_sc=0.273, v_oc=19.36, p_mp=3.65))
    >>> f"{found.ideality:.2f}, {leak_word(found)}"
    '1.20, old'
    """
    label = replace(panel, r_leak=None, ideality=None, read_by=None)
    light = light_of(label, reading)
    if not READING_LIGHT[0] <= light <= READING_LIGHT[1]:
        raise ValueError(
            f"LowLightReading.i_sc is {reading.i_sc:g} A, {light:.0f} W/m² by the label's {panel.i_sc:g} A; a reading "
            f"at {READING_LIGHT[0]:g} to {READING_LIGHT[1]:g} W/m² makes sense. Best is a grey sky, a tenth to a fifth "
            "of the label's amps."
        )
    ideality, leak = _explained(label, reading, light)
    by = "volts" if reading.p_mp is None else "watts"
    found = replace(label, ideality=float(ideality), r_leak=_ohms(label, float(leak)), read_by=by)
    _check_met(found, reading, light)
    return found


def is_dull(light: Array) -> bool:
    """Whether most energy comes in dull light: the mean light of all moments, weighted by itself, is dull."""
    return 0.0 < float((light**2).sum()) <= DULL_LIGHT * float(light.sum())


def is_read(panel: Panel) -> bool:
    """Whether a panel's ideality or leak is known beyond its label."""
    return panel.ideality is not None or panel.r_leak is not None


def leak_of(panel: Panel) -> float:
    """Share of the best-power amps that leaks away at the label's best volts."""
    return 0.0 if panel.r_leak is None else panel.v_mp / panel.r_leak / panel.i_mp


def leak_word(panel: Panel) -> str:
    """What a leak is called: "sound", "old" or "leaky"; "not known" where the panel says nothing."""
    if panel.r_leak is None:
        return "not known"
    return next((word for word, (_, most) in LEAKS.items() if leak_of(panel) <= most), "leaky")


def with_leak(panel: Panel, word: str) -> Panel:
    """The panel with the leakage of a typical sound, old or leaky one, and with typical ideality.

    Parameters
    ----------
    panel : Panel
    word : str
        "sound", "old" or "leaky".

    Raises
    ------
    ValueError
        For another word.

    Examples
    --------
    >>> from vanpower import example
    >>> panel = example("bookmobile").panels[0]
    >>> with_leak(panel, "leaky").r_leak < with_leak(panel, "old").r_leak
    True
    """
    if word not in LEAKS:
        raise ValueError(f"leak {word!r} is not known; it is {', '.join(LEAKS)}.")
    low, high = LEAKS[word]
    return replace(panel, ideality=IDEALITY_TYPICAL, r_leak=_ohms(panel, float(np.sqrt(low * high))))


def best_watts(panel: Panel, light: Array | float, temp_cell: Array | float) -> Array:
    """Maximum power of one panel alone, by irradiance [W/m²] and cell temperature [°C], each (moment,). [W]

    Notes
    -----
    Leaves out what bypass diodes let through backwards. With the usual drop, 0.5 V at 10 A, that is 4e-6 % of the watts
    in full sun and 7e-5 % at 50 W/m², as ngspice finds too; with 0.4 V at most 0.0025 %, with 0.3 V 0.08 % at 50 W/m².

    Examples
    --------
    >>> from vanpower import example
    >>> best_watts(example("bookmobile").panels[0], [1000.0, 100.0], 25.0).round(1).tolist()
    [109.5, 10.4]
    """
    light, temp = np.broadcast_arrays(np.atleast_1d(np.asarray(light, float)), np.asarray(temp_cell, float))
    return _cells_of(panel) * max_power(chains(cell_of(panel), light[:, None], temp))


def open_volts(panel: Panel, light: Array | float, temp_cell: Array | float) -> Array:
    """Open-circuit volts of one panel alone, by irradiance and cell temperature, each (moment,). [V]"""
    light, temp = np.broadcast_arrays(np.atleast_1d(np.asarray(light, float)), np.asarray(temp_cell, float))
    return panel.cells_in_series * _open(chains(cell_of(panel), light[:, None], temp))


def dull_band(panels: Sequence[Panel], light: Array | float) -> tuple[Array, Array]:
    """Least and most power that panels may really give, as shares of the model's power, at each irradiance.

    Parameters
    ----------
    panels : sequence of Panel
    light : float or ndarray (moment,)
        Irradiance. [W/m²]

    Returns
    -------
    least, most : ndarray (moment,)
        Shares of the model's power.

    Notes
    -----
    A panel known by its label alone may be as weak or as strong in dull light as the extremes among the measured
    modules. There are seven, so of further ones (n - 1) / (n + 1) lie inside and about one in four outside. A panel
    calibrated by a reading stays within `READ_WITHIN`. From 800 W/m² up the band stays as it is there, within 3 % of
    the label's. Below 100 W/m² nothing was measured; the band follows the same two panels further down.

    Examples
    --------
    >>> from vanpower import example
    >>> least, most = dull_band(example("bookmobile").panels, [100.0, 900.0])
    >>> bool(least[0] < least[1] <= most[1])
    True
    """
    return _share(panels, light, LEAST), _share(panels, light, MOST)


def dull_middle(panels: Sequence[Panel], light: Array | float) -> Array:
    """Power that panels with such labels typically give, as a share of the model's power, at each irradiance.

    It is the middle of `dull_band`.

    Parameters
    ----------
    panels : sequence of Panel
    light : float or ndarray (moment,)
        Irradiance. [W/m²]

    Returns
    -------
    ndarray (moment,)
        Share of the model's power.

    Notes
    -----
    A label alone promises too much in dull light: all seven measured modules gave less, and still 1.2 % less at 800
    W/m² on the median, where the label is taken at its word. A panel calibrated by a reading is taken at its model.

    Examples
    --------
    >>> from vanpower import example
    >>> panels = example("bookmobile").panels
    >>> (least, most), middle = dull_band(panels, 100.0), dull_middle(panels, 100.0)
    >>> bool(least[0] < middle[0] < most[0])
    True
    """
    return _share(panels, light, TYPICAL)


def _share(panels: Sequence[Panel], light: Array | float, side: int) -> Array:
    """One side of the band of all panels, weighted by their watts (moment,)."""
    light = np.atleast_1d(np.asarray(light, float))
    weights: dict[Panel, float] = {}
    for panel in panels:
        kind = _in_dull_light(panel)
        weights[kind] = weights.get(kind, 0.0) + panel.p_mp
    at, steps, whole = np.log(np.maximum(light, LIGHT_STEPS[0])), np.log(LIGHT_STEPS), sum(weights.values())
    return np.asarray(sum(w * np.interp(at, steps, _band_of(kind)[side]) for kind, w in weights.items()) / whole)


@lru_cache(maxsize=256)
def _in_dull_light(panel: Panel) -> Panel:
    """The panel without what makes no difference here: its name, how it lies and what it is mounted on."""
    return replace(panel, name="", tilt_deg=0.0, azimuth_deg=180.0, turn_deg=0.0, mount="gap")


@lru_cache(maxsize=64)
def _band_of(panel: Panel) -> tuple[Array, Array, Array]:
    """Least, middle and most of one panel at `LIGHT_STEPS`, in shares of its model."""
    fading = np.clip(np.log(BRIGHT_ENOUGH / LIGHT_STEPS) / np.log(BRIGHT_ENOUGH / 200.0), 0.0, 1.0)
    if is_read(panel):
        within = READ_WITHIN[panel.read_by or "volts"] * fading
        return 1.0 - within, np.ones_like(within), 1.0 + within
    plain = best_watts(panel, LIGHT_STEPS, TEMP_REFERENCE)
    weak, middle, strong = (
        best_watts(replace(panel, ideality=n, r_leak=_ohms(panel, leak)), LIGHT_STEPS, TEMP_REFERENCE) / plain
        for n, leak in (LIKELY[1], MIDDLE, LIKELY[0])
    )
    taken = np.clip(np.log(BRIGHT_ENOUGH / LIGHT_STEPS) / np.log(BRIGHT_ENOUGH / MIDDLE_FROM), 0.0, 1.0)
    return np.minimum(weak, strong), 1.0 - taken * (1.0 - middle), np.maximum(np.maximum(weak, strong), 1.0)


def _explained(label: Panel, reading: LowLightReading, light: float) -> tuple[float, float]:
    """Ideality and leak that give a reading."""
    tried = np.linspace(*IDEALITIES, IDEALITY_STEPS)
    if reading.p_mp is None:
        return _by_volts(label, reading, light, tried)
    leaks = _leaks_for(label, reading, light, tried, "p_mp")
    if reading.v_oc is None:
        best = tried[leaks > 0].max(initial=tried[0])
        ideality = min(IDEALITY_TYPICAL, best)
    else:
        volts = _tried(label, reading, light, tried, leaks, _open) * label.cells_in_series
        ideality = float(np.interp(-reading.v_oc, -volts, tried))
    return ideality, float(np.interp(ideality, tried, leaks))


def _by_volts(label: Panel, reading: LowLightReading, light: float, tried: Array) -> tuple[float, float]:
    """Ideality that gives the volts read with a typical leak; beyond the likely idealities, the leak that does."""
    assert reading.v_oc is not None
    leaks = np.interp(tried, *np.transpose(LEAK_TYPICAL))
    volts = _tried(label, reading, light, tried, leaks, _open) * label.cells_in_series
    if reading.v_oc < volts[-1]:
        leak = _leaks_for(label, reading, light, np.array([IDEALITY_TYPICAL]), "v_oc")[0]
        return IDEALITY_TYPICAL, leak
    ideality = float(np.interp(-reading.v_oc, -volts, tried))
    return ideality, float(np.interp(ideality, tried, leaks))


def _leaks_for(label: Panel, reading: LowLightReading, light: float, tried: Array, what: str) -> Array:
    """For every ideality tried, the leak that gives the volts or watts read; 0 where none is needed (panel,)."""
    of, each = (max_power, _cells_of(label)) if what == "p_mp" else (_open, label.cells_in_series)
    wanted = getattr(reading, what) / each

    def excess(leaks: Array) -> Array:
        return _tried(label, reading, light, tried, leaks, of) - wanted

    return falling_root(excess, np.zeros_like(tried), np.full_like(tried, LEAK_MOST))


def _tried(
    label: Panel, reading: LowLightReading, light: float, tried: Array, leaks: Array, of: Callable[[CellChains], Array]
) -> Array:
    """Watts or volts of a cell for every ideality tried and its leak (panel,)."""
    cells = [
        cell_of(replace(label, ideality=float(n), r_leak=_ohms(label, float(leak))))
        for n, leak in zip(tried, leaks, strict=True)
    ]
    temp = np.array([reading.temp_cell])
    parts = [chains(cell, np.array([[light]]), temp) for cell in cells]
    return of(
        CellChains(*(np.concatenate([getattr(p, name) for p in parts]) for name in CellChains.__dataclass_fields__))
    )


def _ohms(panel: Panel, leak: float) -> float | None:
    """The shunt through which so large a share of i_mp flows at v_mp; None for no leak."""
    ohms = panel.v_mp / panel.i_mp / leak if leak > 0 else np.inf
    return float(ohms) if ohms < 1e6 else None


def _cells_of(panel: Panel) -> int:
    """How many cells make the panel's watts."""
    return panel.cells_in_series * panel.branches


def _top(cells: CellChains) -> Array:
    """Junction volts at which a cell without shunt has no amps left (row, 1)."""
    return cells.a * np.log1p(cells.i_light / cells.i_0)


def _open(cells: CellChains) -> Array:
    """Open-circuit volts of a cell (row,)."""
    return falling_root(lambda u: junction_current(cells, u, FRONT_CONTACT)[0], 0.0 * cells.a, _top(cells))[:, 0]


def _check_met(found: Panel, reading: LowLightReading, light: float) -> None:
    """Refuse a reading that no panel with this label gives."""
    for name, unit, of in (("v_oc", "V", open_volts), ("p_mp", "W", best_watts)):
        wanted, gives = getattr(reading, name), float(of(found, light, reading.temp_cell)[0])
        if wanted is None or abs(gives / wanted - 1) <= OUT_OF_REACH:
            continue
        told = f"LowLightReading.{name} is {wanted:g} {unit} at {light:.0f} W/m² (by {reading.i_sc:g} A)"
        if wanted > gives:
            slip = "Did the light change between the readings, or were several panels read at once?"
            raise ValueError(f"{told}; with this label at most {gives:.3g} {unit} makes sense. {slip}")
        slip = "Is part of the panel shaded, or was the controller holding back?"
        raise ValueError(f"{told}; even a leaky panel with this label gives {gives:.3g} {unit}. {slip}")
