"""Before the trial: how many swaps it takes to see a gain, on a day like this one.

The noise comes from pilot rows of the van as it is, or from a measured day with a careful amateur's meters. Trials are
then drawn with it and weighed as a real one would be. Left out: a battery that fills up before the last block.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from vanpower.results.numbers import ALIKE
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Verdict
from vanpower.trials.analysis import (
    CURVED_FROM,
    GAMMA,
    GAMMA_UNSURE,
    HEAT_OF_LIGHT,
    LEVEL,
    MOST_ROWS,
    SAID_LEVEL,
    answer_to_light,
    averaged,
    check_blocks,
    for_light,
    unsure_of_light,
)
from vanpower.trials.logs import Log
from vanpower.trials.posterior import covariances, design, haste, weighed
from vanpower.trials.sensor_plane import with_planes
from vanpower.trials.stages import BULK, stages

Array = np.ndarray
Course = Callable[[np.random.Generator, Array], tuple[Array, Array]]
# light of the rows as read, and how much more of it was there when the watts were read, as a logarithm

ORDERS = ("ABA", "ABBA", "ABBAAB", "ABBAABBA", "ABBAABBAABBA")
# blocks in their order, from the shortest; each sees the first wiring before and after the other
BLOCK_MIN, PAUSE_MIN, STEP_MIN = 20.0, 5.0, 2.0
# [min] length of a block, time for a swap, and between two readings; no source
DRAWS, MOST_DRAWS, UNSURE = 100, 500, 0.02
# trials drawn of an order at a time and at most, and how sure its chance shall be: for one so unlikely that it will not
# be advised, the first hundred do; no source
ENOUGH = 0.80
# chance to see the gain from which a plan is called good; common practice in the planning of experiments
CAREFUL, CAREFUL_SPREAD, LATE_MIN = (4.0, 0.53, 0.0), 0.0069, 0.5
# memory [min], remembered share, haste; noise of a row as a share: light and watts to 0.3 %, temperature to half a
# kelvin, wander of 0.5 %; watts are read up to so long after the light [min]; no source
PILOT_ROWS, PILOT_MIN = 12, 20.0
# bulk rows and minutes a pilot needs; no source
LIGHT_LEAST, BRIGHT = 100.0, 0.9
# [W/m²] a trial on a measured day is drawn where nine tenths of its minutes have more than this; no source


@dataclass(frozen=True)
class TrialDesign:
    """One way to run a trial: order of blocks, length [min], half the interval, chance to show the gain [shares].

    Examples
    --------
    >>> TrialDesign("ABBAAB", minutes=145.0, half_width=0.02, chance=0.84).swaps
    3
    """

    order: str
    minutes: float
    half_width: float
    chance: float

    @property
    def swaps(self) -> int:
        """How often plugs are changed."""
        return sum(one != two for one, two in zip(self.order, self.order[1:], strict=False))


@dataclass(frozen=True, repr=False)
class Plan(Result):
    """Result of `plan_trial`: ways to run a trial, the shortest first.

    Parameters
    ----------
    designs : tuple of TrialDesign
    gain : float
        The gain to be shown, as a share.
    block_min : float
    basis : str
        Where the noise comes from.

    Examples
    --------
    >>> designs = TrialDesign("ABA", 70.0, 0.028, 0.55), TrialDesign("ABBA", 95.0, 0.021, 0.84)
    >>> found = Plan(designs, gain=0.03, block_min=20.0, basis="a pilot of an hour")
    >>> found.chosen.order, found.verdict.answer
    ('ABBA', 'yes')
    """

    designs: tuple[TrialDesign, ...]
    gain: float
    block_min: float
    basis: str

    @property
    def chosen(self) -> TrialDesign | None:
        """The shortest that sees the gain four times in five; None where none does."""
        return next((one for one in self.designs if one.chance >= ENOUGH), None)

    def table(self, what: None = None) -> Table:
        """One line a design."""
        columns = (
            Column(name="order", left=True),
            Column(name="swaps", digits=0),
            Column(name="minutes", digits=0),
            Column(name=f"{SAID_LEVEL} within ±", unit="%", digits=1),
            Column(name="chance to see it", unit="%", digits=0),
        )
        rows = [("-".join(d.order), d.swaps, d.minutes, 100 * d.half_width, 100 * d.chance) for d in self.designs]
        return Table(columns, rows)

    @property
    def verdict(self) -> Verdict:
        """What to do, or that it cannot be seen today."""
        best = self.chosen
        seen = f"a gain of {100 * self.gain:g} %"
        if best is not None:
            said = (
                f"Run {'-'.join(best.order)}, {self.block_min:g} minutes each, {best.minutes:.0f} minutes in all with "
                f"{best.swaps} swaps: {seen} shows with a chance of {100 * best.chance:.0f} %, and the interval is "
                f"about ±{100 * best.half_width:.1f} %."
            )
        else:
            last = self.designs[-1]
            said = (
                f"Not on such a day: even {last.minutes / 60:.0f} hours with {last.swaps} swaps show {seen} with a "
                f"chance of only {100 * last.chance:.0f} %. Wait for steadier light, or read light and watts closer "
                "together."
            )
        return Verdict(
            question=f"Can {seen} be seen?",
            answer="yes" if best else "no",
            margin=round(100 * ((best or self.designs[-1]).chance - ENOUGH), 1),
            unit="points",
            sentence=said,
            basis=f"{self.basis}; battery well below full to the end; one meter for all rows",
            caution="Every swap: controller off, isolator off, glass covered, amps read zero, then the plugs.",
        )


def plan_trial(
    pilot: Log | None = None,
    *,
    days: str | Path | None = None,
    day: str = "",
    gain: float = ALIKE,
    block_min: float = BLOCK_MIN,
    pause_min: float = PAUSE_MIN,
    orders: Sequence[str] = ORDERS,
    seed: int = 1,
) -> Plan:
    """How many changes of wiring, and how much time, a field trial needs to show a gain of some size.

    Parameters
    ----------
    pilot : Log, optional
        Rows of the van as it is, half an hour or more with light: `read_log(..., pilot=True)`.
    days, day : path, str
        Without a pilot: a CSV of one-minute days with the columns time_utc and gti_30s, and the date of one of them.
    gain : float
        The gain to be shown, as a share, 0.002 to 0.5.
    block_min, pause_min : float
        Length of a block with one wiring, and of the pause for changing it. [minutes]
    orders : sequence of str
        Orders of blocks to try, such as "ABBA": A is the first wiring, B the new one.
    seed : int
        The same seed draws the same trials.

    Returns
    -------
    Plan
        The orders tried with their length and their chance to show the gain; the last one suffices if any does.

    Raises
    ------
    ValueError
        For values out of range, a pilot without light, or neither a pilot nor days.

    Examples
    --------
    >>> from vanpower import read_log
    >>> from vanpower.files.resources import data_folder
    >>> log = read_log(data_folder() / "logs" / "apple-barn.csv")
    >>> plan_trial(log, gain=0.03).verdict.answer
    'yes'
    """
    if not 0.002 <= gain <= 0.5:
        raise ValueError(f"gain is {gain:g}; a share from 0.002 to 0.5 makes sense. Is it percent? 3 % is 0.03.")
    if not 4 <= block_min <= 240 or not 0 <= pause_min <= 120:
        raise ValueError(
            f"block_min is {block_min:g} and pause_min {pause_min:g}; blocks of 4 to 240 minutes make sense."
        )
    rng = np.random.default_rng(seed)
    if pilot is not None:
        course, noise, basis = _pilot(pilot)
    elif days is not None:
        course, noise, basis = _measured(Path(days), day)
    else:
        raise ValueError("plan needs pilot rows, or the file of measured days and a date.")
    found: list[TrialDesign] = []
    for order in orders:
        minutes, after = _rows(order, block_min, pause_min)
        half, chance = _drawn(rng, course, noise, minutes, after, order, gain)
        found.append(TrialDesign(order, len(order) * block_min + (len(order) - 1) * pause_min, half, chance))
        if chance >= ENOUGH:
            break
    return Plan(tuple(found), gain, block_min, basis)


Noise = tuple[Array, Array, Array]
# weight (mixture,), mixture (mixture, 3), spread (mixture,)


def _pilot(pilot: Log) -> tuple[Course, Noise, str]:
    """The light's course and the noise of pilot rows; the course is walked to and fro where a trial is longer."""
    check_blocks(pilot)
    used = averaged(pilot.rows(stages(pilot) == BULK))
    if not pilot.has("light"):
        raise ValueError(f"{pilot.name}: a pilot needs the light in each row; without it the sun passes for noise.")
    lasts = float(used.minutes[-1] - used.minutes[0]) if len(used) else 0.0
    if len(used) < PILOT_ROWS or lasts < PILOT_MIN:
        raise ValueError(
            f"{pilot.name}: {len(used)} bulk rows over {lasts:.0f} min; a pilot needs {PILOT_ROWS} over "
            f"{PILOT_MIN:.0f} min."
        )
    values = for_light(used, used.light, GAMMA) - answer_to_light(used.light)
    known = used.is_after.any() and not used.is_after.all()
    terms = design(used.minutes, used.is_after, 1)[:, 0 if known else 1 :]
    belief = weighed(values, terms, used.minutes, haste(used.minutes, used.light), np.zeros((len(used), 1)))
    start, light = used.minutes - used.minutes[0], np.log(used.light)

    def course(rng: np.random.Generator, minutes: Array) -> tuple[Array, Array]:
        walked = (minutes + rng.uniform(0, 2 * lasts)) % (2 * lasts)
        return np.exp(np.interp(np.minimum(walked, 2 * lasts - walked), start, light)), np.zeros(len(minutes))

    return course, (belief.weight, belief.noise, belief.spread), f"noise of {len(used)} pilot rows over {lasts:.0f} min"


def _measured(path: Path, day: str) -> tuple[Course, Noise, str]:
    """The light's course on a measured one-minute day, with a careful amateur's meters."""
    import pandas as pd

    table = pd.read_csv(path, comment="#")
    dates = sorted(set(table["time_utc"].str[:10]))
    if day not in dates:
        raise ValueError(f"day {day!r} is not in {path.name}; it has {', '.join(dates)}.")
    light = table.loc[table["time_utc"].str.startswith(day), "gti_30s"].to_numpy(float)

    def course(rng: np.random.Generator, minutes: Array) -> tuple[Array, Array]:
        long = int(minutes[-1]) + 2
        share = np.convolve(light > min(LIGHT_LEAST, 0.3 * light.max()), np.ones(long), "valid") / long
        fit = np.nonzero(share >= min(BRIGHT, float(share.max())))[0]
        first = minutes + rng.choice(fit)
        read, felt = (
            np.maximum(np.interp(first + late, np.arange(len(light)), light), 5.0)
            for late in (0.0, rng.uniform(0.0, LATE_MIN, len(minutes)))
        )
        return read, np.log(felt / read)

    noise = np.ones(1), np.array([CAREFUL]), np.array([CAREFUL_SPREAD])
    basis = f"light of {day} as measured minute by minute, meters read to half a percent and within half a minute"
    return course, noise, basis


def _rows(order: str, block_min: float, pause_min: float) -> tuple[Array, Array]:
    """Minutes and wiring of the rows of a trial."""
    step = max(STEP_MIN, len(order) * block_min / MOST_ROWS)
    inside = np.arange(0.0, block_min, step)
    minutes = np.concatenate([inside + k * (block_min + pause_min) for k in range(len(order))])
    return minutes, np.repeat([letter == "B" for letter in order], len(inside))


def _drawn(
    rng: np.random.Generator, course: Course, noise: Noise, minutes: Array, after: Array, order: str, gain: float
) -> tuple[float, float]:
    """Half the usual interval, and the chance that it leaves zero out, over trials drawn with this noise.

    Notes
    -----
    A gain only shifts estimate and interval, so trials are drawn without one. Noise with its sign turned is as likely
    as the noise that was drawn, so every trial counts twice. An interval stays with its own error: restless light
    widens both.
    """
    blocks = len(order.replace("AA", "A").replace("BB", "B"))
    terms = design(minutes, after, 2 if blocks >= CURVED_FROM else 1)
    drawn: list[tuple[float, float, float]] = []
    while True:
        drawn += [_trial(rng, course, noise, minutes, terms) for _ in range(DRAWS)]
        error, below, above = np.array(drawn).T
        chance = 0.5 * (_seen(np.log1p(gain) + error, below, above) + _seen(np.log1p(gain) - error, above, below))
        unsure = np.sqrt(chance * (1 - chance) / len(drawn))
        if len(drawn) >= MOST_DRAWS or unsure <= UNSURE or chance < ENOUGH - 3 * unsure:
            return float(np.median(0.5 * (below + above))), float(chance)


def _trial(
    rng: np.random.Generator, course: Course, noise: Noise, minutes: Array, terms: Array
) -> tuple[float, float, float]:
    """The error of one drawn trial's estimate, and how far its interval reaches below and above the estimate."""
    weight, grid, spread = noise
    light, late = course(rng, minutes)
    moving = haste(minutes, light)
    one = rng.choice(len(weight), p=weight)
    root = np.linalg.cholesky(covariances(minutes, moving, grid[[one]])[0])
    temp = HEAT_OF_LIGHT * light / 1000.0
    unsure = np.column_stack([unsure_of_light(light), GAMMA_UNSURE / 100 * temp])
    values = (
        spread[one] * (root @ rng.standard_normal(len(minutes))) + unsure @ rng.standard_normal(unsure.shape[1]) + late
    )
    causes, scales = with_planes(unsure, minutes, light)
    belief = weighed(values, terms, minutes, moving, causes, scales=scales)
    low, middle, high = (belief.quantile(chance) for chance in ((1 - LEVEL) / 2, 0.5, (1 + LEVEL) / 2))
    return middle, middle - low, high - middle


def _seen(found: Array, below: Array, above: Array) -> float:
    """The share of estimates whose interval leaves zero out."""
    return float(np.mean((found > below) | (found < -above)))
