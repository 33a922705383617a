"""Which rows of a trial count: bulk rows, in which the panels give all they can.

In absorption and float the battery decides how much is taken, at the charge current limit the controller does, and
asleep nobody does. Where the log names stages, its words count; else the data show them, as far as they can. Left out:
a full battery in a log without battery volts.
"""

from __future__ import annotations

from difflib import get_close_matches

import numpy as np

from vanpower.trials.logs import Log
from vanpower.trials.rounding import last_digit

Array = np.ndarray

BULK, ABSORPTION, FLOAT, CLIPPED, ASLEEP, UNREAD = "bulk", "absorption", "float", "clipped", "asleep", "not read"
STARTING = "starting"
STAGES = (BULK, ABSORPTION, FLOAT, CLIPPED, ASLEEP, STARTING, UNREAD)
WORDS = {
    BULK: "bulk main charging full mpp mppt tracking on hauptladung",
    ABSORPTION: "absorption absorb abs boost topping equalize equalise equalization nachladung",
    FLOAT: "float floating storage maintenance erhaltung erhaltungsladung",
    CLIPPED: "clipped clipping limited limit currentlimit",
    ASLEEP: "asleep sleep off night idle standby",
    STARTING: "starting start startup wakeup",
}
# words of the trade for each stage
P_ASLEEP, SHARE_ASLEEP = 2.0, 0.01
# [W, share of the log's high power] below this a controller sleeps; its own draw is 1 to 2 W; from memory
TOP, BELOW, PILE_ROWS, PILE = 0.99, 0.98, 6, 3.0
# amps from 99 % of the most count as at a ceiling when at least six rows lie there and three times as many as in the
# band below it: without a ceiling high values thin out; no source
LIGHT_MOVES = 1.08
# the light must change by 8 % within a block while the amps stand still; a lower ceiling goes unseen; no source
V_PLATEAU = 0.004
# share of the volts within which they count as held; 0.06 V of 14.4 V, a meter's last digits; no source
PLATEAU_ROWS = 5
# rows at least on a plateau; no source
V_CHARGED = 13.9 / 12.0
# battery volts for each nominal volt from which absorption is possible; usual set-points are 14.1 to 14.8 V of 12 V;
# common practice, no source
NOMINAL = (12.0, 24.0, 36.0, 48.0)
# [V]
HELD_BACK = 0.95
# power for the light below this share of the other rows' is held back; no source
LIGHT_VARIES = 1.1
# the light changes by a tenth; volts that stand still all the while are held; no source
START_MIN, START_ROWS = 4.0, 4
# [min] from its first row in which a block may still be starting, and other rows it must have to tell; no source
START_LOW, START_WIDTHS = 0.97, 4.0
# power for the light below this share of the block's others, and by so many of their widths; no source
WIDTH_OF_MEDIAN = 1.4826
# of a normal distribution, for one median distance from its middle
FLOATS = 0.8
# the same after absorption, below the plateau; no source


def stages(log: Log, *, i_charge_max: float | None = None, v_absorption: float | None = None) -> Array:
    """The charge stage of every row, from the log's own words or from the data (row,).

    Parameters
    ----------
    log : Log
    i_charge_max : float, optional
        The controller's current limit; rows at it are clipped. [A]
    v_absorption : float, optional
        The absorption voltage; rows at it are absorption. Where no row reaches it, the data show a lower one. [V]

    Examples
    --------
    >>> from vanpower import read_log
    >>> log = read_log('''minutes wiring watts stage
    ...     0  2p 100 bulk
    ...     5  2p 104 bulk
    ...     20 2s 111 bulk
    ...     25 2s  80 absorb
    ...     40 2p  30 float
    ...     45 2p   0 bulk''')
    >>> stages(log).tolist()
    ['bulk', 'bulk', 'bulk', 'absorption', 'float', 'not read']
    """
    found = _by_words(log) if log.has("stage") else _by_data(log, i_charge_max, v_absorption)
    unread = ~(log.power > 0) | (log.has("light") & ~(log.light > 0)) | (log.has("temp") & ~np.isfinite(log.temp))
    found = np.where(unread & (found == BULK), UNREAD, found)
    return np.where(_starting(log, found == BULK), STARTING, found)


def _starting(log: Log, bulk: Array) -> Array:
    """First rows of a block in which the tracker had not found its place again: far below the block's others."""
    found = np.zeros(len(log), bool)
    if not log.has("light"):
        return found
    given = np.log(np.where(bulk, _yield(log), 1.0))
    digit = last_digit(log.power)
    for number in np.unique(log.block):
        rows = np.flatnonzero((log.block == number) & bulk)
        early = log.minutes[rows] - log.minutes[log.block == number][0] < START_MIN
        others = given[rows[~early]]
        if len(others) < START_ROWS:
            continue
        middle = float(np.median(others))
        width = WIDTH_OF_MEDIAN * float(np.median(np.abs(others - middle)))
        coarse = digit / float(np.median(log.power[rows]))
        low = given[rows] < middle + min(np.log(START_LOW), -START_WIDTHS * width) - coarse
        found[rows[early & np.logical_and.accumulate(low)]] = True
    return found


def _by_words(log: Log) -> Array:
    """The log's own stages in our words."""
    known = {word: stage for stage, words in WORDS.items() for word in words.split()}
    plain = [word.lower().replace(" ", "").replace("-", "").replace("_", "") for word in log.stage]
    for row, word in enumerate(plain):
        if word and word not in known:
            near = get_close_matches(word, known, 1)
            hint = f"Is {near[0]} meant?" if near else f"It is one of {', '.join(STAGES[:-1])}, or empty."
            raise ValueError(f"{log.name}: stage {str(log.stage[row])[:40]!r} is not known. {hint}")
    return np.array([known[word] if word else UNREAD for word in plain])


def _by_data(log: Log, i_charge_max: float | None, v_absorption: float | None) -> Array:
    """Stages as volts, amps and watts show them."""
    found = np.full(len(log), BULK, dtype="U10")
    high = float(np.nanpercentile(log.power, 95)) if log.has("power") else 0.0
    asleep = log.power < max(P_ASLEEP, SHARE_ASLEEP * high)
    absorbing = _absorbing(log, asleep, v_absorption)
    found[_at_ceiling(log, ~asleep & ~absorbing, i_charge_max)] = CLIPPED
    found[absorbing] = ABSORPTION
    found[_floating(log, absorbing, asleep)] = FLOAT
    found[asleep] = ASLEEP
    return found


def charge_amps(log: Log) -> Array:
    """Amps into the battery as read, else by watts and volts, else the watts themselves (row,)."""
    if log.has("i_battery"):
        return log.i_battery
    return log.power / log.v_battery if log.has("v_battery") else log.power


def _at_ceiling(log: Log, awake: Array, i_charge_max: float | None) -> Array:
    """Rows in which amps stand at a ceiling, the controller's or one the data show."""
    amps = np.where(awake & np.isfinite(charge_amps(log)), charge_amps(log), 0.0)
    if i_charge_max is not None and (log.has("i_battery") or log.has("v_battery")):
        return amps >= TOP * i_charge_max
    most = float(np.sort(amps)[-min(3, len(amps))])
    top = amps >= TOP * most
    band = (amps >= BELOW * most) & ~top
    piled = most > 0 and top.sum() >= max(PILE_ROWS, PILE * band.sum())
    # coarse digits stand still, too
    much = LIGHT_MOVES + (2 * last_digit(amps) / most if piled else 0.0)
    still = piled and any(_moves(log.light[top & (log.block == number)], much) for number in np.unique(log.block[top]))
    return top if still else np.zeros(len(log), bool)


def _moves(light: Array, much: float) -> bool:
    """Whether the light changes much over some rows."""
    read = light[np.isfinite(light)]
    if len(read) < PILE_ROWS:
        return False
    low, high = np.percentile(read, (10, 90))
    return bool(high > much * low)


def _yield(log: Log) -> Array:
    """Watts for the light, or watts where no light was read (row,)."""
    return log.power / np.where(log.light > 0, log.light, np.nan) if log.has("light") else log.power


def _absorbing(log: Log, asleep: Array, v_absorption: float | None) -> Array:
    """Rows in which battery volts are held while the power falls below what the light would give."""
    volts = np.where(np.isfinite(log.v_battery) & ~asleep, log.v_battery, 0.0)
    at_set_point = volts >= (1 - V_PLATEAU) * (np.inf if v_absorption is None else v_absorption)
    if at_set_point.any():
        return at_set_point
    top = float(np.percentile(volts, 98))
    nominal = min(NOMINAL, key=lambda one: abs(top / one - 1.1))
    plateau = volts >= (1 - 2 * V_PLATEAU) * top
    if not log.has("v_battery") or plateau.sum() < PLATEAU_ROWS or top < V_CHARGED * nominal:
        return np.zeros(len(log), bool)
    if plateau.all():
        low, high = np.nanpercentile(log.light, (10, 90)) if log.has("light") else (1.0, 1.0)
        return np.full(len(log), bool(high > LIGHT_VARIES * low))
    given = _yield(log)
    others = given[~plateau & ~asleep & np.isfinite(given)]
    last = given[plateau & np.isfinite(given)][-PLATEAU_ROWS:]
    back = len(others) > 0 and len(last) > 0 and np.median(last) < HELD_BACK * np.median(others)
    return plateau if back else np.zeros(len(log), bool)


def _floating(log: Log, absorbing: Array, asleep: Array) -> Array:
    """Rows after absorption in which the battery takes far less than the light would give."""
    if not absorbing.any():
        return absorbing
    given = _yield(log)
    first = int(np.argmax(absorbing))
    bulk = given[:first][~asleep[:first]]
    usual = float(np.nanmedian(bulk)) if np.isfinite(bulk).any() else np.inf
    later = np.arange(len(log)) > first
    return later & ~absorbing & (given < FLOATS * usual)
