"""Field trials with a known gain, of other make than those of `trial_simulator`: from a sun and clouds of its own.

Knows nothing of how a trial is weighed, and shares no constant with it. The sun goes over a place on a day, both drawn;
its beam and the sky's light fall on the panels' plane and on the sensor's, each with its own tilt; clouds come and go;
the sensor and the cells are slow; the panels answer to light and heat by a fit for crystalline silicon; deviations are
remembered; watts are read late and in whole steps; the battery may fill up.

Sources: sun's declination by Spencer (1971), beam in clear air by Meinel and Meinel (1976), air mass by Kasten and
Young (1989), answer to light and heat by Huld et al. (2011) as in `pvlib.pvarray.huld`; the noise is invented.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from pvlib.irradiance import get_extra_radiation
from pvlib.pvarray import huld
from scipy.signal import lfilter

from vanpower.trials.analysis import analyse_trial
from vanpower.trials.logs import Log

SECONDS = 10.0
# step of the made world


@dataclass(frozen=True)
class World:
    """What a trial goes through; angles in degrees, times in minutes, shares as such.

    Parameters
    ----------
    sky : str
        "clear", "haze", "broken", "overcast", or "any" of them.
    sun : tuple of float
        Between which heights the sun stands at the start.
    tipped : float
        How far the light sensor is tipped off the level, to a side drawn at random.
    panels : float
        Tilt of the panels, to a side drawn at random; the sensor lies flat but for `tipped`.
    """

    sky: str = "any"
    noon: bool = False
    sun: tuple[float, float] = (20.0, 65.0)
    tipped: float = 0.5
    panels: float = 0.0
    meter: float = 0.003
    wander: float = 0.004
    memory: float = 4.0
    drift: float = 0.01
    watts: float = 300.0
    step_w: float = 0.1
    fills: bool = False
    volts: bool = True
    restart: bool = False
    order: str = "ABA"
    block: float = 20.0
    pause: float = 5.0
    every: float = 2.0


SKIES = ("clear", "haze", "broken", "overcast")


def made(rng: np.random.Generator, gain: float, world: World) -> Log:
    """The log of one trial."""
    lasts = len(world.order) * (world.block + world.pause)
    clock = np.arange(-40.0, lasts, SECONDS / 60)
    sun = _sun(rng, clock - lasts / 2 * world.noon, world.sun, 6.0 if world.noon else 90.0)
    beam, sky = _light(rng, clock, sun[2], world.sky)
    level = np.array([0.0, 0.0, 1.0])
    panels = _plane(rng, world.panels)
    sensor = _tipped(rng, level, world.tipped)
    on_panels, on_sensor = (beam * np.maximum(plane @ sun, 0) + sky * (1 + plane[2]) / 2 for plane in (panels, sensor))
    cosine = 1 - rng.uniform(0, 0.03) * (1 - np.maximum(sensor @ sun, 0.05)) ** 2
    seen = _slow(on_sensor * cosine, rng.uniform(1, 20) / 60) * rng.uniform(0.9, 1.1)
    air, hot = rng.uniform(2, 32), rng.uniform(22, 42)
    wind = 1 + 0.15 * _remembered(rng, clock, 3.0)
    cells = air + _slow(hot * on_panels / 1000 * wind, rng.uniform(4, 10))
    answer = _answer(rng, on_panels, cells)
    rows, wiring = _rows(world)
    late = rows + rng.uniform(0, 0.5, len(rows))
    power = world.watts * np.interp(late, clock, answer) * (1 + gain * (wiring == "B"))
    power *= np.exp(_noise(rng, rows, world))
    if world.fills:
        power = _filling(rng, rows, power)
    if world.restart:
        first = np.concatenate([[True], wiring[1:] != wiring[:-1]])
        power = np.where(first, power * rng.uniform(0.2, 0.9, len(power)), power)
    none = np.full(len(rows), np.nan)
    temp = np.interp(rows, clock, _slow(cells, rng.uniform(0.5, 3))) + rng.uniform(-2, 1)
    light = np.interp(rows, clock, seen) * np.exp(0.002 * rng.standard_normal(len(rows)))
    log = Log(
        name="two", minutes=rows, wiring=wiring, before="A", stage=np.full(len(rows), "bulk" if world.volts else ""),
        power=np.round(power / world.step_w) * world.step_w, light=np.round(light),
        temp=np.round(temp + 0.3 * rng.standard_normal(len(rows)), 1),
        v_battery=none, i_battery=none, v_array=none, i_spare=none,
    )  # fmt: skip
    return log.rows((log.power > 0) & (log.light > 5))


def _sun(rng: np.random.Generator, clock: np.ndarray, heights: tuple[float, float], hours_deg: float) -> np.ndarray:
    """The way to the sun, east, north and up, at every minute of a place and a day on which it stands so high."""
    while True:
        latitude, day = np.radians(rng.uniform(30, 62)), 2 * np.pi * rng.uniform()
        declination = 0.006918 - 0.399912 * np.cos(day) + 0.070257 * np.sin(day) - 0.006758 * np.cos(2 * day)
        hour = np.radians(rng.uniform(-hours_deg, hours_deg) + clock / 4)
        up = np.sin(latitude) * np.sin(declination) + np.cos(latitude) * np.cos(declination) * np.cos(hour)
        begins = np.degrees(np.arcsin(up[np.argmin(np.abs(clock))]))
        if heights[0] <= begins <= heights[1] and up.min() > np.sin(np.radians(8)):
            break
    east = -np.cos(declination) * np.sin(hour)
    north = np.cos(latitude) * np.sin(declination) - np.sin(latitude) * np.cos(declination) * np.cos(hour)
    return np.array([east, north, up])


def _light(rng: np.random.Generator, clock: np.ndarray, up: np.ndarray, sky: str) -> tuple[np.ndarray, np.ndarray]:
    """Beam across the sun's way and light of the sky on the flat. [W/m²]"""
    sky = str(rng.choice(SKIES)) if sky == "any" else sky
    up = np.maximum(up, 0.05)
    mass = 1 / (up + 0.50572 * (np.degrees(np.arcsin(up)) + 6.07995) ** -1.6364)
    beam = float(get_extra_radiation(int(rng.integers(1, 366)))) * 0.7 ** (mass**0.678)
    around = rng.uniform(0.10, 0.20) * beam * up + 15.0
    through = np.ones(len(clock))
    if sky == "haze":
        through = np.exp(-0.25 * np.exp(0.4 * _remembered(rng, clock, rng.uniform(10, 40))))
    if sky == "broken":
        wave = _remembered(rng, clock, rng.uniform(2, 12)) + 0.3 * _remembered(rng, clock, 0.7)
        through = 0.05 + 0.95 / (1 + np.exp(-6 * (wave - rng.uniform(-0.6, 0.6))))
    if sky == "overcast":
        through = np.full(len(clock), 0.003)
        around = (beam * up + around) * 0.3 * np.exp(0.25 * _remembered(rng, clock, rng.uniform(8, 30)))
    lost = (1 - through) * beam * up
    return beam * through, around + (0.0 if sky == "overcast" else rng.uniform(0.2, 0.4)) * lost


def _plane(rng: np.random.Generator, tilt: float) -> np.ndarray:
    """Upward normal of a plane tilted so far to a side drawn at random."""
    return _tipped(rng, np.array([0.0, 0.0, 1.0]), tilt)


def _tipped(rng: np.random.Generator, up: np.ndarray, tilt: float) -> np.ndarray:
    """A level normal tipped so far."""
    side, far = rng.uniform(0, 2 * np.pi), np.radians(tilt)
    return np.cos(far) * up + np.sin(far) * np.array([np.sin(side), np.cos(side), 0.0])


def _slow(values: np.ndarray, minutes: float) -> np.ndarray:
    """What follows the values with a memory of so many minutes."""
    kept = np.exp(-SECONDS / 60 / minutes)
    return lfilter([1 - kept], [1, -kept], values, zi=[kept * values[0]])[0]


def _remembered(rng: np.random.Generator, times: np.ndarray, memory: float) -> np.ndarray:
    """A wander of width one, remembered for so many minutes, at times as far apart as they like."""
    found = rng.standard_normal(len(times))
    for k in range(1, len(times)):
        kept = np.exp((times[k - 1] - times[k]) / memory)
        found[k] = kept * found[k - 1] + np.sqrt(1 - kept**2) * found[k]
    return found


def _answer(rng: np.random.Generator, light: np.ndarray, temp: np.ndarray) -> np.ndarray:
    """Watts of a watt of panels: the fit for crystalline silicon, its figures for light and heat a little off."""
    usual = np.array([-0.017237, -0.040465, -0.004702, 0.000149, 0.000170, 0.000005])
    figures = usual * np.concatenate([np.full(2, rng.uniform(0.6, 1.4)), [rng.uniform(0.75, 1.05)], np.ones(3)])
    return np.asarray(huld(np.maximum(light, 1.0), temp, 1.0, k=tuple(figures)))


def _rows(world: World) -> tuple[np.ndarray, np.ndarray]:
    """Minutes and wiring of the readings."""
    inside = np.arange(0.0, world.block, world.every)
    minutes = np.concatenate([inside + k * (world.block + world.pause) for k in range(len(world.order))])
    return minutes, np.repeat(list(world.order), len(inside))


def _noise(rng: np.random.Generator, minutes: np.ndarray, world: World) -> np.ndarray:
    """Drift, remembered deviations and the meter's own, as a logarithm."""
    drift = world.drift * rng.standard_normal() * (minutes - minutes.mean()) / 60
    wander = world.wander * _remembered(rng, minutes, world.memory)
    return drift + wander + world.meter * rng.standard_normal(len(minutes))


def _filling(rng: np.random.Generator, minutes: np.ndarray, power: np.ndarray) -> np.ndarray:
    """Watts that a battery takes which is held at its volts from some minute on, and then takes less and less."""
    full = rng.uniform(0.15, 0.85) * minutes[-1]
    takes = np.interp(full, minutes, power) * np.exp(-np.maximum(minutes - full, 0) / rng.uniform(20, 90))
    return np.where(minutes > full, np.minimum(power, takes), power)


def weighed_trials(number: int, seed: int, world: World, gains: tuple[float, ...] = (0.0, 0.02, 0.05), **told) -> dict:
    """Truth, interval and word of so many trials, weighed by the package."""
    rng, found = np.random.default_rng(seed), []
    for _ in range(number):
        gain = float(rng.choice(gains))
        order = str(rng.choice(["ABA", "ABBA"])) if world.order == "ABA" else world.order
        trial = analyse_trial(made(rng, gain, replace(world, order=order)), **told)
        found.append((gain, trial.gain, trial.low, trial.high, trial.settled, trial.real))
    return dict(zip(("truth", "gain", "low", "high", "settled", "real"), np.array(found).T, strict=True))


CASES = {
    "level sensor, clear": World(sky="clear"),
    "level sensor, any sky": World(),
    "tipped 5 degrees": World(tipped=5.0),
    "tipped 5 degrees, clear": World(tipped=5.0, sky="clear"),
    "tipped 5 degrees, sun at 12 to 20": World(tipped=5.0, sun=(12.0, 20.0), sky="clear"),
    "tipped 10 degrees": World(tipped=10.0),
    "tipped 10 degrees, clear": World(tipped=10.0, sky="clear"),
    "panels at 30 degrees, sensor flat": World(panels=30.0),
    "panels at 30 degrees, clear": World(panels=30.0, sky="clear"),
    "remembered 15 min": World(memory=15.0, wander=0.005),
    "remembered 15 min, clear": World(memory=15.0, wander=0.005, sky="clear"),
    "remembered 30 min, clear": World(memory=30.0, wander=0.005, sky="clear"),
    "whole watts of a 20 W panel": World(watts=20.0, step_w=1.0),
    "whole watts of a 20 W panel, clear": World(watts=20.0, step_w=1.0, sky="clear"),
    "whole watts of a 20 W panel, noon": World(watts=20.0, step_w=1.0, sky="clear", noon=True),
    "battery fills, no volts": World(fills=True, volts=False),
    "battery fills, no volts, clear": World(fills=True, volts=False, sky="clear"),
    "no volts, battery does not fill": World(volts=False, sky="clear"),
    "tracker starts anew": World(restart=True),
}  # fmt: skip
# by what is wrong in them
