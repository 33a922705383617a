"""Did the new wiring help? Gain, interval and verdict from a log, beside the naive figure and its causes.

Only bulk rows count. Each is divided by the light, corrected for heat, and held against a drift that the return to the
first wiring makes visible. Left out: shade that comes and goes with the blocks, and changes on board during the trial.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np

from vanpower.results.numbers import ALIKE, between, gained, watt_hours
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.trials.logs import Log
from vanpower.trials.posterior import Posterior, design, haste, weighed
from vanpower.trials.refusing import refused
from vanpower.trials.rounding import last_digit, rounded
from vanpower.trials.sensor_plane import lies_apart, with_planes
from vanpower.trials.stages import ABSORPTION, BULK, FLOAT, STAGES, STARTING, UNREAD, stages

Array = np.ndarray
What = Literal["blocks", "naive"]
TABLES: tuple[What, ...] = ("blocks", "naive")
# of a trial

GAMMA = -0.40
# [%/K] power of silicon panels where no label is given; common practice, no source; labels say -0.30 to -0.54
GAMMA_UNSURE = 0.05
# [%/K] a label's coefficient against the panel's; half of what groups span in tests/reference/cec_percentiles.csv;
# eight measured modules lie 0.045 around GAMMA (tests/reference/lowlight_matrices.csv)
LIGHT_POWER, LIGHT_POWER_UNSURE = 0.012, 0.027
LIGHT_BEND, LIGHT_BEND_UNSURE = -0.024, 0.006
# [-] logarithm of watts for the light, over x, the logarithm of the light against 1000 W/m²: first times x and second
# times x², each give or take its second; means of eight measured modules between 100 and 1100 W/m², and the spread of a
# ninth (tests/reference/lowlight_matrices.csv)
HEAT_OF_LIGHT, HEAT_UNSURE = 35.0, 15.0
# [K at 1000 W/m²] cells above the air where no temperature was read: open 30 to 35, glued 45 to 50; from memory
AGREE = 0.01
# blocks of one wiring that lie closer are said to agree; no source
LEVEL = 0.95
# how often the interval should hold the truth
SAID_LEVEL = f"{100 * LEVEL:g} %"
# the same as it is said
CURVED_FROM = 5
# blocks from which a curved drift is fitted; fewer cannot tell a curve from a gain
DRIFT_UNSEEN = 0.03
# [share an hour] a drift that a log without a return cannot show, one width; cheap meters, dirt, a sensor that lies a
# little tipped; no source
MOST_OFF = 60.0
# [degrees] a sensor farther off measures something else; no source
ROWS_EACH = 3
# bulk rows each wiring needs; no source
GAP_MIN, GAP_STEPS = 10.0, 5.0
# [min, usual steps] rows of one block that lie farther apart are told: a clock that was set, or lost rows; no source
NIGHT_MIN = 360.0
# [min] without rows, after which another day has begun; no source
MOST_ROWS = 120
# rows that are weighed; more are averaged first, since neighbours say nearly the same; no source
MOST_BLOCKS = 40
# a day of blocks of a quarter of an hour; each keeps two rows at least when rows are averaged; no source
FULL = (ABSORPTION, FLOAT)
# stages in which the battery takes less than the panels could give
PLUGS = (
    "Before any plug is pulled or put in: controller off, isolator off, glass covered, amps read zero. "
    "A DC arc can burn on once it is struck."
)


@dataclass(frozen=True, eq=False, repr=False)
class Trial(Result):
    """Result of `analyse_trial`: the gain of the new wiring and how sure it is.

    Parameters
    ----------
    log : Log
        All rows inside blocks.
    stage : ndarray of str
        Charge stage of each (row,).
    used : Log
        The bulk rows that were weighed, neighbours averaged where there were many.
    corrected : ndarray
        Logarithm of watts for the light, at 25 °C, of each used row; less their mean.
    drift : ndarray
        The same as fitted without the gain.
    belief : Posterior, optional
        Posterior of the logarithm of the gain; None where nothing can be said.
    factors : dict of str to float
        Factors by name whose product is the naive figure, the ratio of the first block of each wiring.
    matters : float
        The least gain that would matter, a share.
    notes : tuple of str
        What the answer rests on.
    unused_wh : float
        What a full battery left in rows that do not count; NaN where it cannot be known. [Wh]
    refusal : str
        Why the rows cannot tell although light was read and the first wiring came back; empty where they can.

    Examples
    --------
    >>> from vanpower import read_log
    >>> from vanpower.files.resources import data_folder
    >>> log = read_log(data_folder() / "logs" / "apple-barn.csv")
    >>> trial = analyse_trial(log)
    >>> [round(100 * share, 1) for share in (trial.low, trial.gain, trial.high)], round(100 * trial.naive, 1)
    ([1.8, 2.5, 3.3], 15.4)
    """

    log: Log
    stage: Array
    used: Log
    corrected: Array
    drift: Array
    belief: Posterior | None
    factors: dict[str, float]
    matters: float
    notes: tuple[str, ...]
    unused_wh: float = float("nan")
    refusal: str = ""

    @cached_property
    def gain(self) -> float:
        """More power by the new wiring, as a share; NaN where nothing can be said."""
        return self._at(0.5)

    @cached_property
    def low(self) -> float:
        """Lower end of the 95 % interval, as a share."""
        return self._at((1 - LEVEL) / 2)

    @cached_property
    def high(self) -> float:
        """Upper end of the 95 % interval, as a share."""
        return self._at((1 + LEVEL) / 2)

    def _at(self, chance: float) -> float:
        return float("nan") if self.belief is None else float(np.expm1(self.belief.quantile(chance)))

    @property
    def naive(self) -> float:
        """What comparing the first block of each wiring would say, as a share."""
        return float(np.prod(list(self.factors.values()))) - 1.0

    @property
    def returned(self) -> bool:
        """Whether one wiring was measured before and after the other: without it, drift passes for a gain."""
        return int(self.used.block[-1]) >= 2 if len(self.used) else False

    @property
    def settled(self) -> bool:
        """Whether the log allows an answer at all."""
        return self.bounded and self.returned

    @property
    def bounded(self) -> bool:
        """Whether an interval can be given: where the sun or the battery may have moved the rows, none holds that."""
        return self.belief is not None and self.log.has("light") and not self.refusal

    @property
    def real(self) -> bool:
        """Whether zero lies outside the 95 % interval."""
        return self.settled and (self.low > 0 or self.high < 0)

    @property
    def answer(self) -> Answer:
        """Yes where a gain is real, no where it is a loss or too small to matter, close where one cannot tell."""
        if self.real:
            return "yes" if self.gain > 0 else "no"
        return "no" if self.settled and max(-self.low, self.high) <= self.matters else "close"

    @property
    def word(self) -> str:
        """The answer in a word or two: real, not shown, cannot tell."""
        return "real" if self.real else "not shown" if self.answer == "no" else "cannot tell"

    @property
    def disagreement(self) -> float:
        """Largest difference between blocks of the first wiring, as a share; NaN with one block."""
        means = [self.corrected[rows].mean() for rows in self.blocks if not self.used.is_after[rows][0]]
        return float(np.ptp(means)) if len(means) > 1 else float("nan")

    @property
    def unknown(self) -> tuple[str, ...]:
        """Factors of the naive figure that nothing in the log tells; they count as one and hide in the rest."""
        light, temp = self.log.has("light"), self.log.has("temp")
        return tuple(name for name, read in (("sun", light), ("heat", light or temp)) if not read)

    @property
    def leans(self) -> bool:
        """Whether the first wiring drifted by more than the gain, which then leans on a drift that runs straight."""
        return self.real and self.disagreement > abs(self.gain)

    @property
    def blocks(self) -> list[Array]:
        """Which used rows belong to each block that has any."""
        block = self.used.block
        return [np.nonzero(block == number)[0] for number in np.unique(block)] if len(block) else []

    def table(self, what: What = "blocks") -> Table:
        """One line a block: when, how many rows, how many of them count, raw watts, light, and its level.

        The level is its power at equal light and temperature, without drift; the mean of the first wiring is 100. [%]

        Parameters
        ----------
        what : {"blocks", "naive"}
            Or what made the figure that comparing the first two blocks gives.
        """
        if what not in TABLES:
            raise ValueError(f"a trial has no table {what!r}; there are {', '.join(TABLES)}.")
        if what == "naive":
            return self._naive_table()
        columns = (
            Column(name="block", digits=0, width=5),
            Column(name="wiring", width=max(6, *(len(f"{word}") for word in self.log.wiring))),
            Column(name="", parts=("from min", "to min"), digits=1, head="minutes", width=7, say=_minutes),
            Column(name="rows", width=4, digits=0),
            Column(name="bulk", width=4, gap=1, digits=0),
            Column(name="", unit="W", width=5, digits=1),
            Column(name="light", width=5, digits=0),
            Column(name="level", unit="%", width=7, digits=1),
        )
        middle = np.exp(self.corrected[~self.used.is_after].mean()) if len(self.used) else np.nan
        rows = [self._block(number, middle) for number in np.unique(self.log.block)]
        note = f"level %: watts in equal light and heat; 100 is the mean of {self.log.before}"
        return Table(columns, rows, note=note)

    def _block(self, number: int, middle: float) -> tuple[Any, ...]:
        """What stands in the table of one block."""
        rows = self.log.block == number
        minutes = self.log.minutes[rows]
        inside = (self.used.minutes >= minutes[0]) & (self.used.minutes <= minutes[-1])
        level = np.exp(self.corrected[inside].mean()) / middle if inside.any() else np.nan
        span = {"from min": minutes[0] - self.log.minutes[0], "to min": minutes[-1] - self.log.minutes[0]}
        counts = int(rows.sum()), int((self.stage[rows] == BULK).sum())
        means = _mean(self.log.power[rows]), _mean(self.log.light[rows])
        return int(number) + 1, str(self.log.wiring[rows][0]), span, *counts, *means, 100 * level

    def _naive_table(self) -> Table:
        """What made the naive figure."""
        named = {"wiring": f"the wiring ({self.log.after})", "rest": "low light, drift, chance"}
        columns = (
            Column(name="made by", width=26, left=True, say=lambda name: f"  {named.get(name, name)}"),
            Column(name="gain", unit="%", width=8, gap=1, say=_gained),
        )
        rows = [(name, None if name in self.unknown else 100 * (f - 1)) for name, f in self.factors.items()]
        above = f"Comparing the first two blocks says {gained(self.naive)}; made by"
        return Table(columns, rows, above=above, headed=False)

    def text(self, width: int | None = None) -> str:
        """Blocks, and what made the naive figure, in plain lines."""
        return "\n\n".join(self.table(what).text(width) for what in TABLES)

    @property
    def verdict(self) -> Verdict:
        """Whether it helped, by how much and how sure, and what to do next."""
        new, old = self.log.after, self.log.before
        return Verdict(
            question=f"Did {new} deliver more than {old}?",
            answer=self.answer,
            margin=round(100 * self._margin(), 2),
            unit="%",
            sentence=f"{self._finding()} {self._naive_words()} {self._next()}".strip(),
            basis="; ".join(self.notes),
            caution=PLUGS if self.answer == "close" or self.gain < self.matters else "",
        )

    def _margin(self) -> float:
        """What is left before the answer turns."""
        if self.belief is None:
            return float("nan")
        if self.real:
            return min(abs(self.low), abs(self.high)) * (1 if self.gain > 0 else -1)
        return self.matters - max(-self.low, self.high)

    def _finding(self) -> str:
        """The gain and how sure it is, in a sentence."""
        if self.belief is None:
            return f"Cannot tell: {self._lacking()}."
        span = f"{gained(self.gain)} ({SAID_LEVEL} from {gained(self.low)} to {gained(self.high)})"
        if not self.bounded:
            # an interval of rows that the sun may have moved would be believed
            return f"Cannot tell: {self._lacking()}; the rows as they are would say {gained(self.gain)}."
        if not self.settled:
            return (
                f"Cannot tell: {self._lacking()}. For equal light and heat {self.log.after} gave {gained(self.gain)} "
                f"against {self.log.before}; drift and chance may have made that of anything "
                f"{between(self.low, self.high)} ({SAID_LEVEL})."
            )
        if self.real:
            small = ", and small" if abs(self.gain) < self.matters else ""
            worse = "" if self.gain > 0 else ": it is worse"
            return f"{self.log.after} against {self.log.before}: {span}. That is real{small}{worse}."
        if self.answer == "no":
            return f"Not shown: {span}; a gain beyond {100 * self.matters:.0f} % is ruled out."
        return f"Cannot tell: {span} holds both nothing and more than {100 * self.matters:.0f} %."

    def _lacking(self) -> str:
        """What the log lacks."""
        counts = {word: int((self.used.wiring == word).sum()) for word in (self.log.before, self.log.after)}
        poor = [word for word, count in counts.items() if count < ROWS_EACH]
        if poor:
            have = "has" if len(poor) == 1 else "have"
            left = self._left_out() or "none was read"
            return f"{' and '.join(poor)} {have} fewer than {ROWS_EACH} bulk rows ({left})"
        if not self.returned:
            return f"its bulk rows go {self.used.order} and never back, so a drift passes for a gain"
        if not self.log.has("light"):
            return "no light was read, so sun and wiring cannot be told apart"
        return self.refusal or "there are too few bulk rows"

    def _left_out(self) -> str:
        """Rows that do not count, by stage."""
        counts = {stage: int((self.stage == stage).sum()) for stage in STAGES if stage != BULK}
        return ", ".join(f"{count} {stage}" for stage, count in counts.items() if count)

    def _naive_words(self) -> str:
        """The naive figure and what made it."""
        known = [name for name in ("sun", "heat", "full battery") if name not in self.unknown]
        parts = ", ".join([f"{name} {gained(self.factors[name] - 1)}" for name in known])
        unread = f"; {' and '.join(self.unknown)} not read" if self.unknown else ""
        said = f"Comparing the first two blocks would say {gained(self.naive)}: {parts}{unread}."
        if np.isfinite(self.disagreement):
            how = "agree within" if self.disagreement <= AGREE else "lie apart by"
            leans = ", more than the gain, which leans on a drift that runs straight" if self.leans else ""
            said += f" The blocks of {self.log.before} {how} {max(100 * self.disagreement, 0.1):.1f} %{leans}."
        return said + (f" Left out: {out} rows{self._unused_words()}." if (out := self._left_out()) else "")

    def _unused_words(self) -> str:
        """What a full battery left unused in the rows that do not count."""
        if not np.isin(self.stage, FULL).any():
            return ""
        if np.isnan(self.unused_wh):
            return "; what the full battery left unused in them cannot be known without light and bulk rows"
        return f"; the full battery left about {watt_hours(self.unused_wh)} unused in them"

    def _next(self) -> str:
        """What to do next."""
        if self.leans:
            return f"Repeat it before you rely on it, in steadier light and with {self.log.before} in the middle."
        if self.real:
            days = 1 + int((np.diff(self.used.minutes) > NIGHT_MIN).sum())
            stretch = "One stretch of one day" if days == 1 else f"Only {days} days"
            return f"{stretch}: repeat it on a dull day, with {self.log.before} in the middle."
        if self.answer == "no":
            return "Choose by cable, shade and volts, not by this."
        if self.belief is None or not self.returned:
            order = f"{self.log.before}, {self.log.after}, {self.log.before} again"
            light = "" if self.log.has("light") else " Log the light as well."
            return f"Do this next: {order}, 20 minutes each, battery well below full.{light}"
        if self.refusal:
            return "Do this next: lay the light sensor on the panels, log battery volts or charge stage, and repeat it."
        if not self.log.has("light"):
            return (
                "Do this next: log a light sensor, or the short-circuit amps of a spare panel lying beside the others."
            )
        wide = 0.5 * (self.high - self.low)
        blocks = int(self.used.block[-1]) + 1
        more = int(np.ceil(blocks * max((wide / self.matters) ** 2, 1.5))) - blocks
        return f"Do this next: about {more} more blocks like these, in steadier light if you can wait for it."


def analyse_trial(
    log: Log,
    *,
    gamma_pmp_pct_per_k: float | None = None,
    matters: float = ALIKE,
    i_charge_max: float | None = None,
    v_absorption: float | None = None,
    sensor_off_deg: float | None = None,
) -> Trial:
    """How much more the new wiring delivered in a field trial, and how sure that is.

    Parameters
    ----------
    log : Log
        From `read_log`.
    gamma_pmp_pct_per_k : float, optional
        Temperature coefficient of the panels' power, from the label. [%/K]
    matters : float
        The smallest gain that would matter, as a share.
    i_charge_max, v_absorption : float, optional
        The controller's current limit and absorption voltage; without them clipping and absorption have to show in the
        data. [A, V]
    sensor_off_deg : float, optional
        How far the light sensor may be tilted out of the panels' plane. Without it any angle is allowed for, from none
        to a sensor that lies flat beside tilted panels. [degrees]

    Returns
    -------
    Trial
        Gain and its 95 % interval, as shares, and the verdict.

    Raises
    ------
    ValueError
        For keywords out of range, or more blocks than a trial has.

    Notes
    -----
    A meter that reads a constant share too high does no harm, as long as it is the same one in every row.

    Examples
    --------
    >>> from vanpower import read_log
    >>> from vanpower.files.resources import data_folder
    >>> log = read_log(data_folder() / "logs" / "apple-barn.csv")
    >>> analyse_trial(log).verdict.answer
    'yes'
    """
    gamma = GAMMA if gamma_pmp_pct_per_k is None else gamma_pmp_pct_per_k
    if not -1.0 <= gamma <= 0.0:
        raise ValueError(
            f"gamma_pmp_pct_per_k is {gamma:g} %/K; a value from -1 to 0 makes sense. Is the sign missing?"
        )
    if sensor_off_deg is not None and not 0.0 <= sensor_off_deg <= MOST_OFF:
        raise ValueError(
            f"sensor_off_deg is {sensor_off_deg:g}; from 0 to {MOST_OFF:g} degrees off the panels' plane makes sense."
        )
    if not 0.001 <= matters <= 0.5:
        raise ValueError(f"matters is {matters:g}; a share from 0.001 to 0.5 makes sense. Is it percent? 3 % is 0.03.")
    check_blocks(log)
    stage = stages(log, i_charge_max=i_charge_max, v_absorption=v_absorption)
    used = averaged(log.rows(stage == BULK))
    light = used.light if log.has("light") else np.ones(len(used))
    values = for_light(used, light, gamma)
    enough = all((used.wiring == word).sum() >= ROWS_EACH for word in (log.before, log.after))
    level = values.mean() if len(values) else 0.0
    belief, drift, refusal = None, np.full(len(used), level), ""
    if enough and len(used) > 2 * ROWS_EACH:
        bent = _level(used, light, gamma)
        terms, unseen = _drifts(used, bent)
        digits = _digits(used, terms, bent, last_digit(log.power))
        unsure = np.column_stack([_unsure(used, light), unseen, digits])
        scales = None
        if log.has("light"):
            unsure, scales = with_planes(unsure, used.minutes, light, sensor_off_deg)
        belief = weighed(bent, terms, used.minutes, haste(used.minutes, light), unsure, scales=scales)
        if scales is not None and used.block[-1] >= 2:
            seen, apart = log.has("stage") or log.has("v_battery"), lies_apart(belief, scales)
            low, high = belief.quantile((1 - LEVEL) / 2), belief.quantile((1 + LEVEL) / 2)
            refusal = refused(used, bent, low, high, battery_seen=seen, sensor_apart=apart)
        drift = _drift(values, terms, belief)
    factors = _factors(log, stage, gamma, belief)
    notes = _notes(log, stage, gamma, gamma_pmp_pct_per_k is None, used if belief else None, sensor_off_deg)
    unused = _unused_wh(log, stage, gamma, used, belief)
    return Trial(log, stage, used, values - level, drift - level, belief, factors, matters, notes, unused, refusal)


def check_blocks(log: Log) -> None:
    """Refuse more blocks than a trial has, before each of them is looked at."""
    changes = int(log.block[-1]) if len(log) else 0
    if changes >= MOST_BLOCKS:
        raise ValueError(
            f"{log.name}: the wiring changes {changes} times; up to {MOST_BLOCKS} blocks make sense. Is the "
            "column that names the wiring the right one?"
        )


def averaged(log: Log) -> Log:
    """The log with neighbours of one block averaged where there are more rows than are weighed."""
    if len(log) <= MOST_ROWS:
        return log
    width = float(log.minutes[-1] - log.minutes[0]) / (MOST_ROWS - log.block[-1] - 1)
    key = np.stack([log.block, np.floor((log.minutes - log.minutes[0]) / width)])
    _, first, group = np.unique(key, axis=1, return_index=True, return_inverse=True)
    group = group.reshape(-1)
    count = np.bincount(group)
    means: dict[str, Any] = {
        name: np.bincount(group, np.nan_to_num(getattr(log, name))) / count
        for name in ("minutes", "power", "light", "temp", "v_battery", "i_battery", "v_array", "i_spare")
    }
    return replace(log, **means, wiring=log.wiring[first], stage=log.stage[first])


def for_light(log: Log, light: Array, gamma: float) -> Array:
    """Logarithm of power divided by light, corrected to 25 °C (row,)."""
    return np.log(log.power / light / heat_factor(log, gamma))


def heat_factor(log: Log, gamma: float) -> Array:
    """Power at the cells' temperature over that at 25 °C; estimated from the light without a thermometer (row,)."""
    if log.has("temp"):
        return 1.0 + gamma / 100.0 * (log.temp - 25.0)
    return 1.0 + gamma / 100.0 * HEAT_OF_LIGHT * np.nan_to_num(log.light) / 1000.0


def _level(log: Log, light: Array, gamma: float) -> Array:
    """Logarithm of watts as they would be in full light at 25 °C, as usual panels answer to either (row,)."""
    return for_light(log, light, gamma) - answer_to_light(light)


def answer_to_light(light: Array) -> Array:
    """Logarithm of a usual panel's watts for the light, against those in 1000 W/m² (row,)."""
    bright = np.log(light / 1000.0)
    return LIGHT_POWER * bright + LIGHT_BEND * bright**2


def unsure_of_light(light: Array) -> Array:
    """What one standard deviation of either figure of the answer to light adds to the rows (row, 2)."""
    bright = np.log(light / 1000.0)
    return np.column_stack([LIGHT_POWER_UNSURE * bright, LIGHT_BEND_UNSURE * bright**2])


def _unsure(log: Log, light: Array) -> Array:
    """What one standard deviation of each uncertain correction adds: for light, for temperature (row, cause)."""
    heat = GAMMA_UNSURE * log.temp if log.has("temp") else -GAMMA * HEAT_UNSURE * light / 1000.0
    return np.column_stack([unsure_of_light(light), heat / 100.0])


def _digits(used: Log, terms: Array, values: Array, step_w: float) -> Array:
    """What rounded watts may add to the rows (row, cause)."""
    fitted = terms @ np.linalg.lstsq(terms, values, rcond=None)[0]
    return rounded(step_w, used.power * np.exp(fitted - values), used.is_after)


def _drifts(used: Log, values: Array) -> tuple[Array, Array]:
    """The effect and the drift that is fitted (row, term); and the one that is not to be seen, as a doubt (row, cause).

    Notes
    -----
    Without a return a line through the rows would be drawn by their slopes inside the blocks and carried on across the
    pause, where it is worth nothing. There a slope is fitted that starts anew with each block, so that the blocks'
    means are what is compared; and a drift as steep as usual or as that slope, whichever is steeper, is a doubt.
    """
    hours = (used.minutes - used.minutes.mean()) / 60.0
    if used.block[-1] < 2:
        means = [hours[used.block == number].mean() for number in np.unique(used.block)]
        inside = hours - np.repeat(means, np.unique(used.block, return_counts=True)[1])
        terms = np.column_stack([design(used.minutes, used.is_after, 0), inside])
        slope = float(np.linalg.lstsq(terms, values, rcond=None)[0][2])
        return terms, hours[:, None] * max(DRIFT_UNSEEN, abs(slope))
    order = 2 if used.block[-1] + 1 >= CURVED_FROM else 1
    return design(used.minutes, used.is_after, order), np.empty((len(used), 0))


def _drift(values: Array, terms: Array, belief: Posterior) -> Array:
    """The drift through the rows without the gain (row,)."""
    rest = values - terms[:, 0] * belief.quantile(0.5)
    return terms[:, 1:] @ np.linalg.lstsq(terms[:, 1:], rest, rcond=None)[0]


def _minutes(span: Mapping[str, float]) -> str:
    """From when to when, in whole minutes."""
    return "-".join(f"{end:.0f}" for end in span.values())


def _gained(gain: float | None) -> str:
    """A gain in percent, where it was read."""
    return "not read" if gain is None else gained(gain / 100)


def _mean(values: Array) -> float:
    """The mean of what was read; NaN where nothing was."""
    read = values[np.isfinite(values)]
    return float(read.mean()) if len(read) else float("nan")


def _factors(log: Log, stage: Array, gamma: float, belief: Posterior | None) -> dict[str, float]:
    """What made the naive figure, the power of the first block of each wiring: factors by name."""
    first = {after: log.block == log.block[np.argmax(log.is_after == after)] for after in (False, True)}
    bulk = {after: rows & (stage == BULK) for after, rows in first.items()}
    full = not all(rows.any() for rows in bulk.values())
    bulk = first if full else bulk

    def ratio(values: Array, rows: dict[bool, Array]) -> float:
        new, old = _mean(values[rows[True]]), _mean(values[rows[False]])
        return new / old if old > 0 and new > 0 else 1.0

    naive = ratio(log.power, first)
    sun, heat = ratio(log.light, bulk), ratio(heat_factor(log, gamma), bulk)
    made = {
        "sun": sun,
        "heat": heat,
        "full battery": naive / (sun * heat) if full else naive / ratio(log.power, bulk),
        "wiring": 1.0 if belief is None else float(np.exp(belief.quantile(0.5))),
    }
    return made | {"rest": naive / float(np.prod(list(made.values())))}


def _unused_wh(log: Log, stage: Array, gamma: float, used: Log, belief: Posterior | None) -> float:
    """What the panels could have given in the light of the rows in which the battery was full, less what it took."""
    if belief is None or not log.has("light"):
        return float("nan")
    gain = belief.quantile(0.5)
    usual = float((_level(used, used.light, gamma) - gain * used.is_after).mean())
    full = np.isin(stage, FULL) & (log.light > 0) & np.isfinite(heat_factor(log, gamma))
    steps = np.diff(log.minutes, append=log.minutes[-1] + np.median(np.diff(log.minutes)))
    hours = np.minimum(steps, GAP_STEPS * np.median(steps))[full] / 60.0
    rows = log.rows(full)
    answer = np.exp(usual + gain * rows.is_after + answer_to_light(rows.light))
    could = rows.light * heat_factor(rows, gamma) * answer
    return float(hours @ np.maximum(could - np.nan_to_num(rows.power), 0.0))


def _notes(
    log: Log, stage: Array, gamma: float, guessed: bool, used: Log | None, sensor_off_deg: float | None
) -> tuple[str, ...]:
    """What the answer rests on."""
    source = "typical, no label given" if guessed else "as given"
    notes = [f"one meter for all rows, whose constant error cancels; power {gamma:g} %/K ({source})"]
    if log.has("light"):
        plane = "" if sensor_off_deg is None else f", within {sensor_off_deg:g}° of the panels' plane (as given)"
        notes.append(f"light from {log.light_from}{plane}")
    if log.has("light") and not log.has("temp"):
        notes.append("heat guessed from the light, since no temperature was read")
    if not log.has("stage"):
        seen = (
            "stages told by the data"
            if log.has("v_battery")
            else "no battery volts in the log, so a full battery shows only by watts that fall"
        )
        notes.append(seen)
    if used is not None:
        notes.append(_drift_note(used))
    notes += log.notes
    if log.unread:
        notes.append(f"columns not used: {', '.join(log.unread)}")
    if gap := _gap(log):
        notes.append(gap)
    if (stage == STARTING).any():
        notes.append("first readings of a block left out, since the tracker was still starting after the plugs")
    if (stage == UNREAD).any():
        notes.append("rows with gaps left out, nothing filled in")
    return tuple(notes)


def _drift_note(used: Log) -> str:
    """Which drift was reckoned with."""
    if used.block[-1] < 2:
        return f"no drift fitted, since none can be seen; {100 * DRIFT_UNSEEN:.0f} % an hour or more left open"
    return f"a {'curved' if used.block[-1] + 1 >= CURVED_FROM else 'straight'} drift over the trial"


def _gap(log: Log) -> str:
    """The longest stretch without rows inside a block, if it is far longer than the step between two rows."""
    steps = np.where(np.diff(log.block) == 0, np.diff(log.minutes), 0.0)
    longest = int(np.argmax(steps))
    if steps[longest] < max(GAP_MIN, GAP_STEPS * float(np.median(steps[steps > 0]))):
        return ""
    block = int(log.block[longest]) + 1
    return f"{steps[longest]:.0f} min without rows inside block {block}; if the clock was set there, mend the times"
