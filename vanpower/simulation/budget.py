"""Energy month by month: what comes in, what is drawn, how full the battery gets, and how long a full one lasts."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from vanpower.results.numbers import known, known_in
from vanpower.results.result import Shown
from vanpower.results.table import Column, Table
from vanpower.rig import MONTHS

Array = np.ndarray

DULL_SHARE, BRIGHT_SHARE = 10.0, 90.0
# percentiles of a month's days that are told as its spread
COLUMNS = """\
(Wh a day, of which the loads ask for {loads}. sun: what the wiring could deliver; dull-bright: a tenth of the days lie
below, a tenth above; cut: what the loads did not get; full, cut on: percent of the days on which the battery got full,
on which loads were cut; lasts: days a full battery lasts in the dull ones; carries: whether it carries the loads)"""
# what stands in the table, for the loads there
OTHERS = "(others: given by other sources than the sun)\n"
# what stands in it besides, where there are some
NEARLY_ALL = 0.999
# share of a month's load that must be served for it to be carried; rounding, no source
WEEKS = 52
# of a year
MOST_OF_A_MONTH = 24
# days from which a run speaks of a month; no source


@dataclass(frozen=True, kw_only=True)
class Month:
    """One month of a simulation, as means of its days.

    Parameters
    ----------
    could_wh, used_wh, load_wh, served_wh : float
        What the sun offered, what was taken of it, what the loads asked for and what they got, for each day. [Wh]
    dull_wh, bright_wh : float
        What the sun offered on the days that a tenth of the month's days stay below, and a tenth above. [Wh]
    full, flat : float
        Share of the days on which the battery got full, and on which loads were cut.
    fed_wh : float
        What other sources than the sun gave, for each day. [Wh]

    Examples
    --------
    >>> december = Month(name="December", days=31, could_wh=210, used_wh=210, load_wh=640, served_wh=230,
    ...                  dull_wh=40, bright_wh=500, full=0, flat=0.8)
    >>> december.carries
    False
    """

    name: str
    days: int
    could_wh: float
    used_wh: float
    load_wh: float
    served_wh: float
    dull_wh: float
    bright_wh: float
    full: float
    flat: float
    fed_wh: float = 0.0

    @property
    def carries(self) -> bool:
        """Whether sun and other sources bring what the loads ask for, and none of it was cut."""
        return self.could_wh + self.fed_wh >= self.load_wh and self.served_wh >= NEARLY_ALL * self.load_wh


@dataclass(frozen=True, kw_only=True, repr=False)
class Budget(Shown):
    """Energy month by month of one simulation, and how long a full battery lasts.

    Parameters
    ----------
    months : tuple of Month
        In the order of time.
    usable_wh : float
        What loads may take of a full battery. [Wh]

    Examples
    --------
    >>> june = Month(name="June", days=30, could_wh=900, used_wh=640, load_wh=640, served_wh=640,
    ...              dull_wh=320, bright_wh=1300, full=0.9, flat=0)
    >>> budget = Budget(months=(june,), usable_wh=960)
    >>> budget.carrying, budget.autonomy(june)
    (['June'], 3.0)
    """

    months: tuple[Month, ...]
    usable_wh: float

    @property
    def carrying(self) -> list[str]:
        """Names of the months that carry the load."""
        return [month.name for month in self.months if month.carries]

    def autonomy(self, month: Month) -> float:
        """Days a full battery lasts on the month's dull days. [d]"""
        return autonomy_days(self.usable_wh, month.load_wh, month.dull_wh)

    def table(self, what: None = None) -> Table:
        """A line a month, everything a day."""
        columns = (
            Column(name="month", head="Wh", width=3, left=True, say=lambda name: name[:3]),
            Column(name="days", digits=0, aside=True),
            # a digit more than its head has room for
            Column(name="sun", unit="Wh", head="sun", gap=1, width=4, say=lambda wh: f"{known(wh):>5}"),
            Column(name="", parts=("dull day Wh", "bright day Wh"), head="dull-bright", gap=1, width=11, say=_spread),
            Column(name="used", unit="Wh", head="used", gap=1, width=4),
            *self._others(),
            Column(name="load", unit="Wh", aside=True),
            Column(name="served", unit="Wh", aside=True),
            Column(name="cut", unit="Wh", head="cut", gap=1, width=4),
            Column(name="full", unit="%", head="full", gap=1, width=4, digits=0),
            Column(name="cut on", unit="%", head="cut on", gap=1, width=6, digits=0),
            Column(name="lasts", unit="d", head="lasts", gap=1, width=5, say=_days),
            Column(name="carries", gap=1, left=True),
        )
        loads = sorted({month.load_wh for month in self.months})
        said = dict.fromkeys(map(known, loads[:1] + loads[1:][-1:]))
        note = OTHERS * bool(self._others()) + COLUMNS.format(loads=" to ".join(said))
        return Table(columns, [self._line(month) for month in self.months], note=note)

    def _others(self) -> tuple[Column, ...]:
        """The column of what other sources gave, where there is one."""
        fed = any(month.fed_wh > 0 for month in self.months)
        return (Column(name="others", unit="Wh", head="others", gap=1, width=6),) * fed

    def _line(self, month: Month) -> tuple[Any, ...]:
        """What stands in the table of one month."""
        spread = {"dull day Wh": month.dull_wh, "bright day Wh": month.bright_wh}
        return (
            month.name, month.days, month.could_wh, spread, month.used_wh, *[month.fed_wh] * len(self._others()),
            month.load_wh, month.served_wh, month.load_wh - month.served_wh, 100 * month.full, 100 * month.flat,
            self.autonomy(month), month.carries if month.load_wh else None,
        )  # fmt: skip

    def brief(self) -> str:
        """Which months carry the load."""
        return months_said(self)


def autonomy_days(usable_wh: float, load_wh: float, brings_wh: float = 0.0) -> float:
    """Days until a full battery is flat, at a daily use and a daily supply. [d]

    Examples
    --------
    >>> round(autonomy_days(2048, 640), 1), round(autonomy_days(2048, 640, 216), 1)
    (3.2, 4.8)
    """
    short = load_wh - brings_wh
    return usable_wh / short if short > 0 else np.inf


def rough_day_wh(p_label: float, light_kwh_m2: float, factor: float) -> float:
    """Energy of a day by the rule of thumb: label watts x kWh/m² x a factor for all losses. [Wh]

    Parameters
    ----------
    p_label : float
        [W]
    light_kwh_m2 : float
        Light of the day on the panel's plane. [kWh/m²]
    factor : float
        Share that arrives.

    Examples
    --------
    >>> round(rough_day_wh(600, 5.2, 0.72)), round(rough_day_wh(600, 0.50, 0.72))
    (2246, 216)
    """
    return p_label * light_kwh_m2 * factor


def budget_of(dates: Array, daily: Mapping[str, Array], usable_wh: float) -> Budget:
    """The monthly budget of daily sums.

    Parameters
    ----------
    dates : ndarray (day,)
        datetime64.
    daily : mapping of str to ndarray (day,)
        "could", "used", "fed", "load", "served" [Wh]; "full", "flat", whether it happened on the day.
    usable_wh : float
        What loads may take of a full battery. [Wh]
    """
    month = dates.astype("datetime64[M]")
    names = {each: MONTHS[int(each.astype(int)) % 12] for each in np.unique(month)}
    return _budget_by(month, names, daily, usable_wh)


def weekly(dates: Array, daily: Mapping[str, Array], usable_wh: float) -> Budget:
    """The same week by week, counted from 1 January; the last of the 52 has the days that are over.

    Examples
    --------
    >>> dates = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    >>> flat = {what: np.ones(365) for what in ("could", "used", "load", "served", "full", "flat")}
    >>> weeks = weekly(dates, flat, 100.0).months
    >>> len(weeks), weeks[0].name, weeks[-1].days
    (52, 'week 1', 8)
    """
    day = (dates - dates.astype("datetime64[Y]")).astype(int)
    week = np.minimum(day // 7, WEEKS - 1)
    return _budget_by(week, {each: f"week {each + 1}" for each in np.unique(week)}, daily, usable_wh)


def weeks_said(weeks: Budget) -> str:
    """Which weeks of a year carry the loads: in a sentence, and month by month as a strip of marks.

    Examples
    --------
    >>> dates = np.arange("2001-01-01", "2002-01-01", dtype="datetime64[D]")
    >>> light = {"could": np.where(np.arange(365) < 182, 9.0, 1.0), "load": np.full(365, 5.0), "flat": np.zeros(365)}
    >>> daily = light | {"used": light["could"], "served": light["load"], "full": np.zeros(365)}
    >>> print(weeks_said(weekly(dates, daily, 100.0)).replace("  ", chr(10)).splitlines()[:7][-1])
    Jun #####
    >>> weeks_said(weekly(dates, daily, 100.0)).splitlines()[0]
    '26 of 52 weeks carry the loads: 1 to 26.'
    """
    if not any(week.load_wh for week in weeks.months):
        return "The loads ask for nothing, so no week can fall short."
    carried = [week.carries for week in weeks.months]
    spans: list[list[int]] = []
    for number, carries in enumerate(carried, 1):
        if carries and spans and spans[-1][-1] == number - 1:
            spans[-1].append(number)
        elif carries:
            spans.append([number])
    told = ", ".join(f"{span[0]} to {span[-1]}" if len(span) > 1 else f"{span[0]}" for span in spans)
    said = f"{sum(carried)} of {len(carried)} weeks carry the loads" + (f": {told}." if told else ".")
    marks = ["#" if carries else "-" for carries in carried]
    # the weeks of a quarter are shared out 4, 4 and 5
    ends = [0, *(int(end) for end in np.cumsum([4, 4, 5] * 4))]
    strip = "  ".join(
        f"{name[:3]} {''.join(marks[begin:end])}" for name, begin, end in zip(MONTHS, ends, ends[1:], strict=False)
    )
    return f"{said}\n{strip}\n(a mark a week from 1 January; # carries, - falls short)"


def _budget_by(period: Array, names: Mapping[Any, str], daily: Mapping[str, Array], usable_wh: float) -> Budget:
    """The budget of daily sums by periods that have names."""
    found = []
    for each, name in names.items():
        here = period == each
        mean = {what: float(values[here].mean()) for what, values in daily.items()}
        dull, bright = np.percentile(daily["could"][here], [DULL_SHARE, BRIGHT_SHARE])
        found.append(
            Month(
                name=name,
                days=int(here.sum()),
                could_wh=mean["could"],
                used_wh=mean["used"],
                load_wh=mean["load"],
                served_wh=mean["served"],
                dull_wh=float(dull),
                bright_wh=float(bright),
                full=mean["full"],
                flat=mean["flat"],
                fed_wh=mean.get("fed", 0.0),
            )
        )
    return Budget(months=tuple(found), usable_wh=usable_wh)


def whole_months(budget: Budget) -> Budget:
    """The budget without months of which only some days were simulated; a day says nothing of its month.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> run = simulate({"2p": example("bookmobile")}, Days(weather="graz", day="all"))  # seven days of six months
    >>> len(run.budget("2p").months), whole_months(run.budget("2p")).months
    (6, ())
    """
    return replace(budget, months=tuple(month for month in budget.months if month.days >= MOST_OF_A_MONTH))


def months_said(budget: Budget, name: str = "It") -> str:
    """Which months carry the load, in a sentence about a wiring; the fewer are named, those that do or that do not."""
    loads = list(dict.fromkeys(known_in(month.load_wh, "Wh") for month in budget.months))
    carries = f"{name} carries {f'{loads[0]} a day' if len(loads) == 1 else 'the loads'}"
    names = [month.name for month in budget.months]
    carrying = budget.carrying
    missing = [month for month in names if month not in carrying]
    if not missing or not carrying:
        return f"{carries} in {'no' if missing else 'every'} month."
    if len(carrying) <= len(missing):
        return f"{carries} only {_spans(names, carrying)}."
    return f"{carries}, but not {_spans(names, missing)}."


def _spans(names: list[str], chosen: list[str]) -> str:
    """Months as spans, in the order of the calendar, joined over New Year where the run is a whole one."""
    flags = [name in chosen for name in names]
    spans: list[list[str]] = []
    for k, name in enumerate(names):
        if flags[k] and k and flags[k - 1]:
            spans[-1].append(name)
        elif flags[k]:
            spans.append([name])
    if len(names) == 12 and len(spans) > 1 and flags[0] and flags[-1]:
        spans[-1] += spans.pop(0)
    said = [f"in {span[0]}" if len(span) == 1 else f"from {span[0]} to {span[-1]}" for span in spans]
    return " and ".join(said)


def _spread(ends: Mapping[str, float]) -> str:
    """The dull and the bright day in one cell."""
    return "-".join(map(known, ends.values()))


def _days(days: float) -> str:
    """Days until flat, in short."""
    return "-" if not np.isfinite(days) else f"{days:.1f}" if days < 100 else "99+"
