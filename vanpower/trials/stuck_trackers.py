"""Is the tracker on a lower maximum? Shaded strings have several local maxima of power ("hills"), and some trackers
stay on the first.

Two readings tell, before and after a restart; a log tells by its jumps; the model says what a noted shade should give.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vanpower.components.controllers import BY_SWITCH, RESTART
from vanpower.components.single_diode import filled
from vanpower.engine.array import hilltops
from vanpower.engine.constants import LIGHT_REFERENCE, TEMP_REFERENCE
from vanpower.model.light import array_of
from vanpower.results.numbers import known, known_in, more_than
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import Rig, Shade, Snapshot
from vanpower.rig.fields import Description, number
from vanpower.trials.logs import Log

ANOTHER = 0.6
# share of one group's volts by which a move is to another hill; hills lie a group or more apart, and heat and
# light move one by less than a tenth of that; no source
HIGHER = 0.05
# share of the power by which a hill counts as higher: meters and light within a minute are 2 to 3 %; no source
FITS = 0.15
# share by which watts may lie under the model's in this light and still be those of the whole string: light meters in
# the hand err by 5 to 10 %, labels by 3 %; common practice, no source
P_NONE = 0.5
# [W] under which a reading is none, and no share of it is told; no source
OVER_OPEN, OVER_LABEL = 1.3, 1.8
# [-] times the label's open-circuit volts and watts beyond which no reading can be of these panels: cells at -60 °C,
# and 1.6 suns at a cloud's edge (Yordanov et al. 2013) in frost
MOST_GAP = 15.0
# [min] rows farther apart are not compared; no source


class Reading(Description):
    """Panel-side volts and watts read off a controller, and the light if it is known. [V, W, W/m²]

    Examples
    --------
    >>> Reading(v_array=39_000, p_array=35)
    Traceback (most recent call last):
    ValueError: Reading.v_array is 39000 V; a value from 1 to 1500 V makes sense. Are these millivolts?
    """

    v_array: float = number(1.0, 1500.0, "voltage on the panels' side", above="Are these millivolts?")
    p_array: float = number(0.0, 50_000.0, "power from the panels", above="Are these milliwatts?")
    light: float | None = number(
        5.0, 1800.0, "irradiance on the panels, if known", default=None, unit="W/m²", above="Are these lux?"
    )


@dataclass(frozen=True)
class Jump:
    """A move between local maxima: time [min], volts before and after [V], and change of power as a share.

    Examples
    --------
    >>> up = Jump(minute=2.0, v_before=39.0, v_after=27.0, gain=1.94)
    >>> up.v_after - up.v_before, f"{100 * up.gain:+.0f} %"
    (-12.0, '+194 %')
    """

    minute: float
    v_before: float
    v_after: float
    gain: float


def group_volts(rig: Rig, circuit: int = 0) -> float:
    """Volts of one group under a bypass diode at best power, the smallest of a circuit. [V]"""
    panels = [rig.panels[panel] for panel in rig.circuits[circuit].wiring.panels]
    return min(panel.v_mp / panel.substrings for panel in panels)


def string_volts(rig: Rig, temp_cell: float, circuit: int = 0) -> float:
    """Best-power volts of the longest string without shade, by the label's voltage coefficient. [V]"""
    strings = rig.circuits[circuit].wiring.strings
    panels = [[filled(rig.panels[panel], ("beta_voc_pct_per_k",))[0] for panel in string] for string in strings]
    warm = temp_cell - TEMP_REFERENCE
    return max(sum(p.v_mp + p.v_oc * (p.beta_voc_pct_per_k or 0.0) / 100 * warm for p in string) for string in panels)


def stuck_tracker(
    now: Reading,
    restarted: Reading | None = None,
    *,
    rig: Rig,
    circuit: int = 0,
    temp_cell: float = 40.0,
    shade: tuple[Shade, ...] = (),
) -> Verdict:
    """Whether the tracker sits on a lower local maximum of power, from one reading or from two around a restart.

    Parameters
    ----------
    now, restarted : Reading
        Before and after a restart of the controller; without the second, the model judges by light and shade notes.
    rig : Rig
    circuit : int
        Which circuit, counted from 0.
    temp_cell : float
        Cell temperature. [°C]
    shade : tuple of Shade
        Notes of the shade during the reading.

    Returns
    -------
    Verdict
        "yes" where it was stuck.

    Raises
    ------
    ValueError
        For readings that this rig cannot give.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile").wired("2s")
    >>> stuck_tracker(Reading(v_array=39.0, p_array=35.0), Reading(v_array=27.0, p_array=107.0), rig=rig).answer
    'yes'
    """
    # a temperature that no cell has is refused, whether or not the model is asked
    Snapshot(light=LIGHT_REFERENCE, temp_cell=temp_cell)
    for reading in filter(None, (now, restarted)):
        _check_possible(reading, rig, circuit)
    v_group, v_full = group_volts(rig, circuit), string_volts(rig, temp_cell, circuit)
    if restarted is not None:
        return _by_restart(now, restarted, v_group, v_full)
    if groups_in_row(rig, circuit) == 1:
        return _verdict("no", 0.0, "One group of cells under one diode has one hill.", "the label")
    if now.light is None or not shade:
        p_whole = None if now.light is None else _without_shade(rig, now.light, temp_cell, circuit)
        return _by_volts(now, v_group, v_full, p_whole)
    top = hilltops(array_of(rig, Snapshot(light=now.light, temp_cell=temp_cell, shade=shade), circuit))
    volts, watts = (values[0][np.isfinite(values[0])] for values in (top.voltage, top.power))
    here, best = int(np.argmin(np.abs(volts - now.v_array))), int(np.argmax(watts))
    seen = ", ".join(f"{known_in(p, 'W')} at {v:.0f} V" for v, p in sorted(zip(volts, watts, strict=True)))
    apart = float(watts[best] / watts[here] - 1.0)
    wrong = here != best and apart > HIGHER
    said = f"With this shade the model has hills of {seen}; the reading, {now.v_array:.0f} V, is at the "
    said += f"lower one; the higher one gives {100 * apart:.0f} % more." if wrong else "higher one, or one as high."
    return _verdict(
        "close" if wrong else "no",
        apart if wrong else 0.0,
        f"{said} {RESTART if wrong else ''}".strip(),
        "the noted shade and light",
    )


def _check_possible(reading: Reading, rig: Rig, circuit: int) -> None:
    """Refuse volts and watts that the panels of a circuit cannot have."""
    wiring, panels = rig.circuits[circuit].wiring, rig.panels
    v_open = max(sum(panels[panel].v_oc for panel in string) for string in wiring.strings)
    p_label = sum(panels[panel].p_mp for panel in wiring.panels)
    if reading.v_array > OVER_OPEN * v_open:
        raise ValueError(
            f"panel volts are {reading.v_array:g} V, and {wiring.name} has {v_open:g} V with nothing drawn by its "
            "labels. Is it another wiring?"
        )
    if reading.p_array > OVER_LABEL * p_label:
        raise ValueError(
            f"panel watts are {reading.p_array:g} W, and the labels of {wiring.name} add up to {p_label:.0f} W. Is it "
            "another circuit?"
        )


def groups_in_row(rig: Rig, circuit: int = 0) -> int:
    """Groups with a bypass diode in the longest string: as many hills as it can have."""
    panels = rig.panels
    strings = rig.circuits[circuit].wiring.strings
    return max(sum(panels[p].substrings if panels[p].bypass_diodes else 1 for p in string) for string in strings)


def _without_shade(rig: Rig, light: float, temp_cell: float, circuit: int) -> float:
    """Watts of the circuit's array in this light, were nothing shaded. [W]"""
    top = hilltops(array_of(rig, Snapshot(light=light, temp_cell=temp_cell), circuit))
    return float(np.nanmax(top.power))


def _by_restart(now: Reading, again: Reading, v_group: float, v_full: float) -> Verdict:
    """What a restart says."""
    light = again.light / now.light if now.light and again.light else 1.0
    gain = again.p_array / light / max(now.p_array, P_NONE) - 1.0
    moved = abs(again.v_array - now.v_array) >= ANOTHER * v_group
    before, after = known_in(now.p_array, "W"), known_in(again.p_array, "W")
    span = f"{now.v_array:.1f} V and {before} before, {again.v_array:.1f} V and {after} after"
    answer: Answer
    if max(now.p_array, again.p_array) < P_NONE:
        answer, said = "close", f"Cannot tell: {span}, so nothing is taken; repeat in sun, with the battery not full."
    elif moved and gain > HIGHER:
        answer = "yes"
        more = more_than(again.p_array / light, now.p_array, "before the restart", "W")
        gained = f", for the light {more}" * (now.p_array >= P_NONE)
        said = (
            f"It was: {span}{gained}. This tracker keeps a hill once it is on it. Restart it when a shade has come or "
            "gone; one that sweeps by itself would not need it."
        )
    elif moved and gain < -HIGHER:
        answer, said = "close", f"It is now: {span}. The restart took it to the lower hill; restart once more."
    elif moved:
        answer, said = "no", f"Two hills as high as each other: {span}. It does not matter which."
    elif abs(gain) > HIGHER:
        answer, said = "close", f"Same hill, but {span}: the light moved. Repeat in steady light."
    else:
        low = v_full - again.v_array >= ANOTHER * v_group
        rest = (
            f" It runs {v_full - again.v_array:.0f} V below the full string, so some groups are shaded or dead."
            if low
            else ""
        )
        answer, said = "no", f"It comes back to the same hill: {span}.{rest}"
    return _verdict(
        answer, float(gain), said, "light " + ("as read" if now.light and again.light else "that held still")
    )


def _by_volts(now: Reading, v_group: float, v_full: float, p_whole: float | None) -> Verdict:
    """What the volts alone say, or volts and the watts for the light; a no needs watts for the light."""
    short = (v_full - now.v_array) / v_group
    if short >= ANOTHER:
        groups = "a group" if round(short) == 1 else f"{short:.0f} groups"
        said = f"{now.v_array:.1f} V lies about {groups} below a string without shade, {v_full:.1f} V. {RESTART}"
        return _verdict("close", short, said, "volts alone; they cannot tell a shade from a wrong hill", "groups")
    there = f"{now.v_array:.1f} V is not below where a string without shade works, about {v_full:.1f} V"
    if p_whole is None:
        said = f"Cannot tell: {there}, and with shade the best hill may lie lower. {RESTART}"
        return _verdict("close", short, said, "volts alone; watts with the light they came in would say more", "groups")
    watts = f"{known(now.p_array)} W of the {known(p_whole)} W that this light gives without shade"
    if now.p_array < (1 - FITS) * p_whole:
        said = f"Cannot tell: {there}, but these are {watts}, so something shades it and another hill may be higher."
        return _verdict("close", now.p_array / p_whole - 1, f"{said} {RESTART}", "the light that was read")
    return _verdict("no", now.p_array / p_whole - 1, f"{there}, with {watts}: nothing is missing.", "light as read")


def _verdict(answer: Answer, margin: float, said: str, basis: str, unit: str = "%") -> Verdict:
    """The verdict, with its caution."""
    return Verdict(
        question="Is the tracker on the wrong hill?", answer=answer,
        margin=round(100 * margin if unit == "%" else margin, 1), unit=unit, sentence=said, basis=basis,
        caution="" if answer == "no" else BY_SWITCH,
    )  # fmt: skip


def jumps(log: Log, v_group: float) -> tuple[Jump, ...]:
    """Moves from one hill to another in a log with panel-side volts, and what each changed for the light.

    Examples
    --------
    >>> from vanpower import read_log
    >>> log = read_log('''minutes watts light panelvolts
    ...     0  35 500 39
    ...     1  36 510 39
    ...     2 108 520 27
    ...     3 109 520 27
    ...     4 107 510 27
    ...     5 106 500 27''', pilot=True)
    >>> (jump,) = jumps(log, v_group=9.25)
    >>> jump.minute, jump.v_before, jump.v_after, round(jump.gain, 2)
    (2.0, 39.0, 27.0, 1.94)
    """
    if not log.has("v_array"):
        raise ValueError(f'{log.name} has no panel-side volts; name their column: v_array="its name".')
    light = log.light if log.has("light") else np.ones(len(log))
    found = []
    for k in range(len(log) - 1):
        near = log.minutes[k + 1] - log.minutes[k] <= MOST_GAP and log.wiring[k + 1] == log.wiring[k]
        volts = float(log.v_array[k]), float(log.v_array[k + 1])
        if near and log.power[k] > 0 and abs(volts[1] - volts[0]) >= ANOTHER * v_group:
            gain = float(log.power[k + 1] / light[k + 1] / (log.power[k] / light[k]) - 1.0)
            found.append(Jump(float(log.minutes[k + 1]), *volts, gain))
    return tuple(found)


def jumps_table(found: tuple[Jump, ...]) -> Table:
    """One line a jump.

    Examples
    --------
    >>> print(jumps_table((Jump(minute=2.0, v_before=39.0, v_after=27.0, gain=1.94),)))
    minute  from V  to V  power %
       2.0    39.0  27.0    194.0
    """
    columns = (
        Column(name="minute", digits=1),
        Column(name="from", unit="V", digits=1),
        Column(name="to", unit="V", digits=1),
        Column(name="power", unit="%", digits=1),
    )
    return Table(columns, [(jump.minute, jump.v_before, jump.v_after, 100 * jump.gain) for jump in found])


def stuck_tracker_in(log: Log, rig: Rig, circuit: int = 0) -> Verdict:
    """Whether a log shows a tracker that sat on a lower local maximum of power until something made it move.

    Parameters
    ----------
    log : Log
        With a column of panel-side volts; `read_log(..., pilot=True)` reads one.
    rig : Rig
    circuit : int
        Which circuit, counted from 0.

    Returns
    -------
    Verdict
        "yes" where it was stuck.

    Raises
    ------
    ValueError
        For a log without panel-side volts.

    Examples
    --------
    >>> from vanpower import example, read_log
    >>> log = read_log('''minutes watts light panelvolts
    ...     0  35 500 39
    ...     1  36 510 39
    ...     2 108 520 27
    ...     3 109 520 27
    ...     4 107 510 27
    ...     5 106 500 27''', pilot=True)
    >>> stuck_tracker_in(log, example("bookmobile").wired("2s")).answer
    'yes'
    """
    found = jumps(log, group_volts(rig, circuit))
    up = [jump for jump in found if jump.gain > HIGHER]
    basis = "watts for the light" if log.has("light") else "watts alone, since no light was read"
    if up:
        best = max(up, key=lambda jump: jump.gain)
        said = (
            f"At {best.minute:.0f} min it jumps from {best.v_before:.0f} to {best.v_after:.0f} V and gives "
            f"{100 * best.gain:.0f} % more for the light: until then it sat on a lower hill, or a shade left just "
            f"then. {RESTART}"
        )
        return _verdict("yes" if log.has("light") else "close", best.gain, said, basis)
    if found:
        said = f"{len(found)} moves to another hill, none of them to a higher one: it follows the shade."
        return _verdict("no", max(jump.gain for jump in found), said, basis)
    return _verdict(
        "close",
        0.0,
        f"Cannot tell: volts never jump by a group, so it stays on one hill, the best or not. {RESTART}",
        basis,
    )
