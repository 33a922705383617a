"""Field trials with a known gain, made from measured one-minute days: what a logger on a van would have written.

Knows nothing of how a trial is weighed, except in `simulated`, which has it weighed. The light is that of
data/graz_1min_days.csv, the noise around it is invented: watts are read up to half a minute after the light, cells warm
up slowly, a deviation is remembered for minutes, watts for the light drift over the hours, panels answer to light and
heat a little otherwise than assumed.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from scipy import stats

from vanpower.trials import Log, judge

DAYS = Path(__file__).parents[1] / "data" / "graz_1min_days.csv"
OVERCAST = ("2017-04-27", "2017-11-06")
PAUSE = 4
# [min] between two blocks, for swapping plugs with the glass covered
LIGHT_LEAST = 100.0
# [W/m²] nine tenths of a trial's minutes lie above this; on the two overcast days all lie above a third of it
EXPONENTS = (0.0157, 0.0816, 0.0782, 0.0815, 0.063, 0.0162)
# power of six measured modules goes with the light to the power 1 + this: reference/lowlight_modules.csv


@dataclass(frozen=True)
class Noise:
    """What disturbs a trial besides the sky: shares, minutes, share an hour, share an hour squared, K, %/K."""

    meter: float = 0.003
    wander: float = 0.005
    memory: float = 4.0
    drift: float = 0.02
    bend: float = 0.0
    late: float = 0.5
    temp: float = 0.5
    gamma: float = 0.03


@lru_cache(maxsize=1)
def days() -> dict[str, tuple[np.ndarray, np.ndarray]]:
    """Light on the tilted plane and cell temperature of every minute, by date. [W/m², °C]"""
    with DAYS.open(encoding="utf-8") as file:
        lines = list(csv.DictReader(line for line in file if not line.startswith("#")))
    found = {}
    for date in dict.fromkeys(line["time_utc"][:10] for line in lines):
        day = [line for line in lines if line["time_utc"].startswith(date)]
        light = np.array([float(line["gti_30s"]) for line in day])
        air = np.array([float(line["temp_air"]) for line in day])
        found[date] = light, air + 0.03 * _slowly(light, 6.0)
    return found


def _slowly(values: np.ndarray, memory: float) -> np.ndarray:
    """What follows the values with a memory of so many minutes."""
    slow = values.copy()
    for k in range(1, len(values)):
        slow[k] = slow[k - 1] + (values[k] - slow[k - 1]) * (1 - np.exp(-1 / memory))
    return slow


def start_of(rng: np.random.Generator, date: str, lasts: int) -> int:
    """A minute at which a trial of that length finds light enough."""
    light = days()[date][0]
    low = LIGHT_LEAST / 3 if date in OVERCAST else LIGHT_LEAST
    bright = np.convolve(light > low, np.ones(lasts), "valid") >= (1.0 if date in OVERCAST else 0.9) * lasts
    return int(rng.choice(np.nonzero(bright)[0]))


def trial_log(
    rng: np.random.Generator,
    gain: float,
    *,
    order: str = "ABBA",
    block: int = 20,
    step: int = 2,
    date: str = "",
    noise: Noise = Noise(),
) -> Log:
    """The log of a trial in which wiring B brings this share more than A."""
    lasts = len(order) * (block + PAUSE)
    date = date or str(rng.choice([day for day in days() if fits(day, lasts)]))
    light, temp = days()[date]
    first = start_of(rng, date, lasts + 1)
    minutes = np.concatenate([np.arange(0.0, block, step) + k * (block + PAUSE) for k in range(len(order))])
    wiring = np.repeat(list(order), len(np.arange(0, block, step)))
    read = np.interp(first + minutes, np.arange(1440.0), light)
    felt = np.interp(first + minutes + rng.uniform(0, noise.late, len(minutes)), np.arange(1440.0), light)
    hot = np.interp(first + minutes, np.arange(1440.0), temp)
    power = 0.25 * felt * (felt / 1000.0) ** rng.choice(EXPONENTS)
    power *= 1 + (-0.40 + noise.gamma * rng.standard_normal()) / 100 * (hot - 25)
    power *= (1 + gain * (wiring == "B")) * np.exp(_disturbed(rng, minutes, noise))
    kept = (read > 20) & (power > 2)
    none = np.full(len(minutes), np.nan)
    columns = {
        "light": read * np.exp(noise.meter * rng.standard_normal(len(minutes))),
        "temp": hot + noise.temp * rng.standard_normal(len(minutes)),
        "power": power,
        "v_battery": none, "i_battery": none, "v_array": none, "i_spare": none,
    }  # fmt: skip
    log = Log(name=date, minutes=minutes, wiring=wiring, stage=np.full(len(minutes), "bulk"), before="A", **columns)
    return log.rows(kept)


@lru_cache(maxsize=64)
def fits(date: str, lasts: int) -> bool:
    """Whether a day has light long enough."""
    light = days()[date][0]
    low = LIGHT_LEAST / 3 if date in OVERCAST else LIGHT_LEAST
    share = 1.0 if date in OVERCAST else 0.9
    return bool((np.convolve(light > low, np.ones(lasts + 1), "valid") >= share * (lasts + 1)).any())


def _disturbed(rng: np.random.Generator, minutes: np.ndarray, noise: Noise) -> np.ndarray:
    """Drift, wander and meter noise of every row, as a logarithm."""
    wander = rng.standard_normal(len(minutes))
    for k in range(1, len(minutes)):
        kept = np.exp((minutes[k - 1] - minutes[k]) / noise.memory)
        wander[k] = kept * wander[k - 1] + np.sqrt(1 - kept**2) * wander[k]
    hours = (minutes - minutes.mean()) / 60
    drift = noise.drift * rng.standard_normal() * hours + noise.bend * rng.standard_normal() * hours**2
    return drift + noise.wander * wander + noise.meter * rng.standard_normal(len(minutes))


def simulated(
    number: int, seed: int, gains=(0.0, 0.02, 0.05), orders=("ABA", "ABBA"), step=4, **more
) -> dict[str, np.ndarray]:
    """Truth, interval, naive interval and naive figure of so many trials, weighed by the package."""
    rng = np.random.default_rng(seed)
    found = []
    for _ in range(number):
        gain = float(rng.choice(gains))
        log = trial_log(rng, gain, order=str(rng.choice(orders)), step=step, **more)
        trial = judge(log, gamma_pmp_pct_per_k=-0.40)
        first, second = (log.power[log.block == k] for k in (0, 1))
        naive = stats.ttest_ind(second, first).confidence_interval()
        bounds = np.array([naive.low, naive.high]) / first.mean()
        found.append((gain, trial.low, trial.high, *bounds, trial.naive))
    return dict(zip(("gain", "low", "high", "naive_low", "naive_high", "naive"), np.array(found).T, strict=True))
