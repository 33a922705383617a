"""The harvest that a weather file says was measured, beside what the model gives on the same rows."""

from __future__ import annotations

from typing import TYPE_CHECKING

from vanpower.results.numbers import ALIKE, SHOWN_WH, watt_hours
from vanpower.weather.days import day_of

if TYPE_CHECKING:
    from vanpower.simulation.run import Run

HARVEST = "p_harvest"
# column of an own file: watts that the controllers brought


def measured_harvest(run: Run) -> float | None:
    """What the weather file says was harvested on these days; None where it does not say. [Wh]

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> measured_harvest(simulate({"2p": example("bookmobile")}, Days(day="dull"))) is None
    True
    """
    day = day_of(run.request)
    if HARVEST not in day.table or len(day.table) != len(run.time):
        return None
    return float(day.table[HARVEST].sum() * day.step_h)


def harvest_said(run: Run, name: str) -> str:
    """A rig's watt-hours against those measured, in words; empty where none were.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> harvest_said(simulate({"2p": example("bookmobile")}, Days(day="dull")), "2p")
    ''
    """
    there = measured_harvest(run)
    if there is None:
        return ""
    ours = run.used_wh(name)
    said = f"Harvested as measured (p_harvest): {watt_hours(there)}; {name} as modelled: {watt_hours(ours)}"
    if there < SHOWN_WH:
        return f"{said}."
    gap = ours / there - 1.0
    if abs(gap) <= ALIKE:
        return f"{said}, alike within {100 * ALIKE:.0f} %."
    way = "more" if gap > 0 else "less"
    why = "Shade, dirt, other loads or another charge at the start than described may be why."
    return f"{said}, {100 * abs(gap):.0f} % {way}. {why}"
