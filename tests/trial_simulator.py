"""Field trials with a known gain, made from measured one-minute days: what a logger on a van would have written.

Knows nothing of how a trial is weighed, except in `simulated`, which has it weighed. The light is that of
data/graz_1min_days.csv, the noise around it is invented: watts are read up to half a minute after the light, cells warm
up slowly, a deviation is remembered for minutes, watts for the light drift over the hours. Panels answer to light and
heat as eight measured modules did, while the person who weighs the trial types a usual coefficient of heat.
"""

from __future__ import annotations

import csv
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path

import numpy as np
from outside import rows
from scipy import stats

from vanpower.trials.analysis import analyse_trial
from vanpower.trials.logs import Log

DAYS = Path(__file__).parents[1] / "data" / "graz_1min_days.csv"
OVERCAST = ("2017-04-27", "2017-11-06")
PAUSE = 4
# [min] between two blocks, for swapping plugs with the glass covered
LIGHT_LEAST = 100.0
# [W/m²] nine tenths of a trial's minutes lie above this; on the two overcast days all lie above a third of it


@dataclass(frozen=True)
class Noise:
    """What disturbs a trial besides the sky: shares, minutes, share an hour, share an hour squared, K."""

    meter: float = 0.003
    wander: float = 0.005
    memory: float = 4.0
    drift: float = 0.02
    bend: float = 0.0
    late: float = 0.5
    temp: float = 0.5


@dataclass(frozen=True, eq=False)
class Module:
    """How a measured module answers: light [W/m²], watts for the light there at 25 °C, and watts with heat [%/K].

    All for a watt at 1000 W/m² and 25 °C.
    """

    light: np.ndarray
    efficiency: np.ndarray
    gamma: float

    def power(self, light: np.ndarray, temp: np.ndarray) -> np.ndarray:
        """Watts, on straight lines between logarithms: the dimmest goes on, past the brightest it is level."""
        at, better = np.log(self.light), np.log(self.efficiency)
        darker = np.minimum(np.log(light) - at[0], 0.0) * (better[1] - better[0]) / (at[1] - at[0])
        return light * np.exp(np.interp(np.log(light), at, better) + darker) * (1 + self.gamma / 100 * (temp - 25))


@lru_cache(maxsize=1)
def modules() -> dict[str, Module]:
    """The eight modules of reference/lowlight_matrices.csv by name."""
    measured = rows("lowlight_matrices.csv")
    found = {}
    for name in dict.fromkeys(row["id"] for row in measured):
        light, temp, power = np.array(
            [
                [float(row[key]) for key in ("irradiance", "temperature", "p_mp")]
                for row in measured
                if row["id"] == name
            ]
        ).T
        cool, bright = temp == 25, light == 1000
        slope, level = np.polyfit(temp[bright] - 25, power[bright], 1)
        found[name] = Module(light[cool], power[cool] / light[cool] / level, 100 * slope / level)
    return found


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
    """The log of a trial in which wiring B delivers this share more than A."""
    lasts = len(order) * (block + PAUSE)
    date = date or str(rng.choice([day for day in days() if fits(day, lasts)]))
    light, temp = days()[date]
    first = start_of(rng, date, lasts + 1)
    minutes = np.concatenate([np.arange(0.0, block, step) + k * (block + PAUSE) for k in range(len(order))])
    wiring = np.repeat(list(order), len(np.arange(0, block, step)))
    read = np.interp(first + minutes, np.arange(1440.0), light)
    felt = np.interp(first + minutes + rng.uniform(0, noise.late, len(minutes)), np.arange(1440.0), light)
    hot = np.interp(first + minutes, np.arange(1440.0), temp)
    power = 250.0 * modules()[str(rng.choice(list(modules())))].power(felt, hot)
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
        trial = analyse_trial(log, gamma_pmp_pct_per_k=-0.40)
        first, second = (log.power[log.block == k] for k in (0, 1))
        naive = stats.ttest_ind(second, first).confidence_interval()
        bounds = np.array([naive.low, naive.high]) / first.mean()
        found.append((gain, trial.low, trial.high, *bounds, trial.naive))
    return dict(zip(("gain", "low", "high", "naive_low", "naive_high", "naive"), np.array(found).T, strict=True))
