"""Simulation of rigs over a day, a winter or a year: what the battery takes and refuses, and whether loads are met."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial
from itertools import groupby
from typing import Any, Literal

import numpy as np

from vanpower.checks.caveats import caveats, dull_told, dull_words, short_of, short_word, to_mend
from vanpower.checks.coldest import planned_for
from vanpower.checks.glance import reason
from vanpower.checks.plugs_and_isolator import touch_cautions, wind_caution
from vanpower.checks.registry import harmed, refusal
from vanpower.components.batteries import STAGES, BatteryModel
from vanpower.components.low_light import dull_band, is_dull
from vanpower.model.cache import SizedCache
from vanpower.model.light import Progress, title_of
from vanpower.model.losses import LOSSES
from vanpower.model.rig_in_light import RigModel
from vanpower.results.numbers import (
    ALIKE,
    NEXT_TO_NOTHING,
    SHOWN_WH,
    TOO_LITTLE,
    known,
    known_in,
    more_than,
    watt_hours,
)
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Answer, Verdict
from vanpower.rig import ALTERNATOR, Battery, Circuit, Days, Panel, Rig, nameless
from vanpower.simulation.budget import Budget, autonomy_days, budget_of, months_said, weekly, whole_months
from vanpower.simulation.circuit_tables import CircuitTable, Sun, asked_of, cool_watts, source_of, sun_over
from vanpower.simulation.days_abreast import LEAST_DAYS, Stretch, walk_abreast, walk_plainly
from vanpower.simulation.frost import COLD_STEPS, TEMP_BATTERY, frost_caution, frost_said
from vanpower.simulation.ladder import Ladder
from vanpower.simulation.needs import Clock, Going, asked_for, feeds_of
from vanpower.simulation.time_stepping import Stepper, TimeSeries, stage_names
from vanpower.weather.days import day_of, stamp
from vanpower.weather.sun_paths import uncovered

Array = np.ndarray
What = Literal["wirings", "months", "days", "moments", "ladder"]

CHUNK_ROWS, CHUNK_EVEN = 4800, 9600
# moments worked on at a time, in whole days: with shade or unlike panels, and without, which needs no tables; more are
# no faster
SUNS = SizedCache(48 * 2**20)
# [B] of suns and circuits over days, kept for other loads and another battery; three years of hours of one circuit
COLUMNS = """\
(left: on the roof, since the battery took no more; cut: asked for by the loads and not served; lowest, at end: charge
of the battery)"""
# what stands in the table
NOT_DRIVEN = "a day says nothing of driving. Say from when to when it runs, or ask for a trip."
# of an alternator's charger that gave nothing for that
OTHERS = "(others: given by other sources than the sun)\n"
# what stands in it besides, where there are some
V_PLAUSIBLE = (0.8, 1.3)
# of the nominal volts: what a meter may show at a battery; the same bounds as of `Battery.v_now`
WHOLE = 0.99
# share of a day's hours that a file must hold for its days to be called whole; no source


@dataclass(frozen=True, eq=False)
class RigRun:
    """The simulated days of one rig.

    Parameters
    ----------
    rig : Rig
    rows : TimeSeries
        What happened, moment by moment.
    by_day : dict of str to ndarray (day,)
        Watt-hours by the names of the ladder. [Wh]
    store : BatteryModel
        The battery, with usual values for what was not given.
    brightest : ndarray (moment,)
        Irradiance on the best lit of its cells. [W/m²]
    p_by_label : ndarray (moment,)
        From the controllers if all were taken and the panels did as their labels' curve says. [W]
    p_each : ndarray (source, moment)
        Taken by loads and battery from each source besides the sun. [W]
    measured : bool
        Whether the battery's temperature was measured.

    Examples
    --------
    >>> from vanpower import example
    >>> outcome = simulate({"2p": example("bookmobile")}, Days(day="dull")).outcomes["2p"]
    >>> round(float(outcome.by_day["used"][0])), round(outcome.stored_wh)
    (49, -359)
    """

    rig: Rig
    rows: TimeSeries
    by_day: Mapping[str, Array]
    store: BatteryModel
    brightest: Array
    p_by_label: Array
    p_each: Array
    measured: bool = False

    @property
    def dull(self) -> bool:
        """Whether most of the energy comes in light so dull that labels leave much open."""
        return is_dull(self.brightest)

    def band(self) -> tuple[Array, Array]:
        """Least and most power taken, as far as the panels' labels leave it open, each (moment,). [W]

        Notes
        -----
        What a full or cold battery refuses stays refused, however much more the panels might give.
        """
        low, high = dull_band(self._panels, self.brightest)
        return np.clip(self._offered(low), 0.0, self.rows.p_used), self._more(high)

    def by_label(self) -> Array:
        """Power taken if the panels do in dull light as their labels' curve says (moment,). [W]"""
        return self._more(np.ones_like(self.brightest))

    def _more(self, share: Array) -> Array:
        """Watts taken where panels give so much of their labels' curve, no less than was reckoned (moment,)."""
        used = self.rows.p_used
        refused = used < self.rows.p_offered * (1.0 - 1e-9)
        return np.where(refused, used, np.maximum(self._offered(share), used))

    @property
    def _panels(self) -> list[Panel]:
        """The panels that are wired."""
        return [self.rig.panels[panel] for circuit in self.rig.circuits for panel in circuit.wiring.panels]

    def _offered(self, share: Array) -> Array:
        """Watts offered if the panels gave so much of their labels' curve (moment,)."""
        p_own = sum(circuit.controller.p_own for circuit in self.rig.circuits)
        offered = self.p_by_label
        return offered + (share - 1.0) * np.where(offered > 0, offered + p_own, 0.0)

    @property
    def stored_wh(self) -> float:
        """Change of the battery's stored energy from start to end. [Wh]"""
        return self.store.energy_wh(float(self.rows.soc[-1])) - self.store.energy_wh(self.store.soc_start)

    def only(self, of_row: Array, days: Array) -> RigRun:
        """Some of the moments, and the days they make up; the charge at their start is what was left before."""
        first = int(np.argmax(of_row))
        start = float(self.rows.soc[first - 1]) if first else self.store.soc_start
        by_day = {name: watt_hours[days] for name, watt_hours in self.by_day.items()}
        return replace(
            self, rows=self.rows.only(of_row), by_day=by_day, store=replace(self.store, soc_start=start),
            brightest=self.brightest[of_row], p_by_label=self.p_by_label[of_row], p_each=self.p_each[:, of_row],
        )  # fmt: skip


@dataclass(frozen=True, eq=False, repr=False)
class Run(Result):
    """Result of `simulate`: several rigs over the same days.

    Parameters
    ----------
    outcomes : dict of str to RigRun
        What happened to each rig, in the order they were given.
    request : Days
    title : str
        The days in a few words.
    time : ndarray (moment,)
        Local time at which each moment begins, datetime64.
    dates : ndarray (day,)
        datetime64.
    step_h : float
        Length of each moment. [h]
    interrupted : bool
        Whether it was stopped before the last day; what is here is whole days.

    Examples
    --------
    >>> from vanpower import example
    >>> run = simulate(example("bookmobile").wirings(), Days(day="dull"))
    >>> {name: round(run.used_wh(name)) for name in run.outcomes}
    {'2s': 49, '2p': 49}
    """

    outcomes: Mapping[str, RigRun]
    request: Days
    title: str
    time: Array
    dates: Array
    step_h: float
    interrupted: bool = False

    @property
    def ranking(self) -> list[str]:
        """Names by what they deliver; what would damage a controller or a panel comes last."""
        return sorted(self.outcomes, key=lambda name: (not self.allowed(name), -self.used_wh(name)))

    def used_wh(self, name: str) -> float:
        """Energy that loads and battery took from the sun. [Wh]"""
        return float(self.outcomes[name].by_day["used"].sum())

    def band_wh(self, name: str) -> tuple[float, float]:
        """Least and most energy that a rig may really deliver, as far as its panels' labels leave it open. [Wh]"""
        low, high = self.outcomes[name].band()
        return float(low.sum() * self.step_h), float(high.sum() * self.step_h)

    def label_wh(self, name: str) -> float:
        """Energy that loads and battery would take if the panels did as their labels' curve says. [Wh]"""
        return float(self.outcomes[name].by_label().sum() * self.step_h)

    def fed_wh(self, name: str) -> dict[str, float]:
        """Energy that loads and battery took from each source besides the sun, by its name. [Wh]

        Examples
        --------
        >>> from vanpower import Source, example
        >>> belt = Source(name="belt", kind="alternator", i_charge_max=20.0, from_h=8.0, to_h=9.0)
        >>> run = simulate({"2p": example("bookmobile").with_source(belt)}, Days(day="dull"))
        >>> {name: round(wh) for name, wh in run.fed_wh("2p").items()}  # 20 A for an hour
        {'belt': 265}
        """
        outcome = self.outcomes[name]
        each = outcome.p_each.sum(axis=1) * self.step_h
        found: dict[str, float] = {}
        for source, wh in zip(outcome.rig.sources, each.tolist(), strict=True):
            found[source.name] = found.get(source.name, 0.0) + wh
        return found

    def share(self, name: str) -> float:
        """What a rig delivers, as a share of the best one that is allowed."""
        best = self.used_wh(self.ranking[0])
        return self.used_wh(name) / best if best > 0 else 1.0

    def between(self, first: str, last: str) -> Run:
        """Only the days from month-day to month-day, such as ("12-15", "12-21").

        Raises
        ------
        ValueError
            Where no such days are in the run.
        """
        dates = np.datetime_as_string(self.dates, unit="D")
        chosen = np.array([first <= date[5:] <= last for date in dates])
        if not chosen.any():
            raise ValueError(
                f"no day from {first!r} to {last!r} is in this run; write month-day, {dates[0][5:]} to {dates[-1][5:]}."
            )
        of_row = chosen[np.searchsorted(self.dates, self.time.astype("datetime64[D]"))]
        outcomes = {name: outcome.only(of_row, chosen) for name, outcome in self.outcomes.items()}
        title = f"{self.title.split(',')[0]}, {first} to {last}"
        return replace(self, outcomes=outcomes, title=title, time=self.time[of_row], dates=self.dates[chosen])

    def ladder(self) -> Ladder:
        """The loss ladder of every rig: from the label's watt-hours down to loads and battery."""
        steps = {name: {k: float(v.sum()) for k, v in j.by_day.items()} for name, j in self.outcomes.items()}
        return Ladder(steps, {name: fed for name in steps if (fed := self.fed_wh(name))})

    def budget(self, name: str) -> Budget:
        """One rig's energy month by month: what the sun offered, what was taken, what loads asked for and got."""
        if name not in self._budgets:
            self._budgets[name] = budget_of(self.dates, self._daily(name), self.outcomes[name].store.usable_wh)
        return self._budgets[name]

    @cached_property
    def _budgets(self) -> dict[str, Budget]:
        """Those that were asked for; verdict, chart and table ask for the same."""
        return {}

    def weeks(self, name: str) -> Budget:
        """The same week by week, counted from 1 January."""
        return weekly(self.dates, self._daily(name), self.outcomes[name].store.usable_wh)

    def _daily(self, name: str) -> dict[str, Array]:
        """One rig's watt-hours day by day, and whether its battery was full and its loads cut (day,)."""
        outcome = self.outcomes[name]
        rows = outcome.rows
        day = np.searchsorted(self.dates, self.time.astype("datetime64[D]"))
        watts = {"could": rows.p_offered, "fed": rows.p_fed, "load": rows.p_load, "served": rows.p_served}
        daily = {what: np.bincount(day, w, minlength=len(self.dates)) * self.step_h for what, w in watts.items()}
        daily |= {"used": outcome.by_day["used"]}
        return daily | {what: _any(day, rows, what, len(self.dates)) for what in ("full", "flat")}

    def table(self, what: What = "wirings", wiring: str | None = None) -> Table:
        """One line for each rig, best first; or one rig's months, days or moments; or the ladder of all.

        Parameters
        ----------
        what : {"wirings", "months", "days", "moments", "ladder"}
        wiring : str, optional
            Whose months, days or moments; of the best where it is not given.

        Raises
        ------
        ValueError
            For a table or a rig that is not there.

        Examples
        --------
        >>> from vanpower import example
        >>> days = simulate({"2p": example("bookmobile")}, Days(day="dull")).table("days")
        >>> days.to_pandas()["used Wh"].round(1).tolist()
        [49.3]
        """
        name = self.ranking[0] if wiring is None else wiring
        tables: dict[str, Callable[[], Table]] = {
            "wirings": self._wirings,
            "months": lambda: self.budget(name).table(),
            "days": lambda: self._days(name),
            "moments": lambda: self._moments(name),
            "ladder": lambda: self.ladder().table(),
        }
        if what not in tables:
            raise ValueError(f"a run has no table {what!r}; there are {', '.join(tables)}.")
        if name not in self.outcomes:
            raise ValueError(f"a run of {', '.join(self.outcomes)} has no wiring {name!r}.")
        return tables[what]()

    def _moments(self, name: str) -> Table:
        """Every moment of one rig."""
        rows = self.outcomes[name].rows
        tenths = {"offered": rows.p_offered, "used": rows.p_used, "load": rows.p_load, "served": rows.p_served}
        tenths |= self._others(name)
        columns = (
            Column(name="time", left=True),
            *(Column(name=what, unit="W", digits=1) for what in tenths),
            Column(name="charge", unit="%", digits=1),
            Column(name="battery", unit="V", digits=2),
            Column(name="battery", unit="°C", digits=1),
            Column(name="stage", left=True),
        )
        measured = (*tenths.values(), 100 * rows.soc, rows.v_battery, rows.temp_battery)
        values = (self.time, *(one.tolist() for one in measured), stage_names(rows.stage))
        return Table(columns, list(zip(*values, strict=True)))

    def _days(self, name: str) -> Table:
        """Every day of one rig: watt-hours, charge at its end, and every step of the ladder."""
        outcome = self.outcomes[name]
        rows = outcome.rows
        day = np.searchsorted(self.dates, self.time.astype("datetime64[D]"))
        watts = {"sun": rows.p_offered, "load": rows.p_load, "served": rows.p_served} | self._others(name)
        sums = {what: np.bincount(day, w, minlength=len(self.dates)) * self.step_h for what, w in watts.items()}
        last = np.searchsorted(day, np.arange(len(self.dates)), side="right") - 1
        columns = (
            Column(name="date", left=True),
            *(Column(name=what, unit="Wh", digits=1) for what in sums),
            Column(name="charge", unit="%", digits=1),
            *(Column(name=step, unit="Wh", digits=1) for step in outcome.by_day),
        )
        daily = (*sums.values(), 100 * rows.soc[last], *outcome.by_day.values())
        return Table(columns, list(zip(self.dates, *(one.tolist() for one in daily), strict=True)))

    def _others(self, name: str) -> dict[str, Array]:
        """Watts from other sources, where a rig has some."""
        outcome = self.outcomes[name]
        return {"others": outcome.rows.p_fed} if outcome.rig.sources else {}

    def _wirings(self) -> Table:
        """One line a rig, best first."""
        columns = (
            Column(name="wiring", left=True),
            Column(name="used", unit="Wh", width=7),
            Column(name="share", unit="%", head="share", width=5, say=_percent),
            *(Column(name="others", unit="Wh", width=7),) * self._has_others,
            Column(name="left", unit="Wh", width=8),
            Column(name="load", unit="Wh", aside=True),
            Column(name="cut", unit="Wh", width=6),
            Column(name="lowest", unit="%", head="lowest", width=6, say=_percent),
            Column(name="at end", unit="%", head="at end", width=6, say=_percent),
            Column(name="allowed", head="", width=0, left=True, say=_unless_allowed),
        )
        note = OTHERS * self._has_others + COLUMNS
        return Table(columns, [self._line(name) for name in self.ranking], note=note)

    @property
    def _has_others(self) -> bool:
        """Whether any rig here has another source than the sun."""
        return any(outcome.rig.sources for outcome in self.outcomes.values())

    def _line(self, name: str) -> tuple[Any, ...]:
        """What one rig did."""
        outcome = self.outcomes[name]
        rows = outcome.rows
        load, served = (float(w.sum()) * self.step_h for w in (rows.p_load, rows.p_served))
        left = max(float((rows.p_offered - rows.p_used).sum()) * self.step_h, 0.0)
        share = 100 * self.share(name) if self._comparable else None
        charges = (100 * float(rows.soc.min()), 100 * float(rows.soc[-1]))
        allowed = (short_word(outcome.rig) or "yes") if self.allowed(name) else "no"
        others = [sum(self.fed_wh(name).values())] * self._has_others
        return name, self.used_wh(name), share, *others, left, load, max(load - served, 0.0), *charges, allowed

    @property
    def _comparable(self) -> bool:
        """Whether there is a best to be a share of: one that is allowed and delivers something."""
        return self.allowed(self.ranking[0]) and self.used_wh(self.ranking[0]) > SHOWN_WH

    @property
    def verdict(self) -> Verdict:
        """Which rig delivers most, and whether it carries the loads."""
        best, *others = [name for name in self.ranking if self.allowed(name)] or [""]
        if not best:
            out = refusal(self.outcomes[self.ranking[0]].rig)
            assert out is not None
            return Verdict(
                question=f"Does it carry the loads, {self.title}?", answer="no", margin=out.margin, unit=out.unit,
                sentence=f"No wiring here is allowed. {reason(out)}", basis=out.basis,
                caution=" ".join(filter(None, (out.caution, *touch_cautions(self._rigs)))),
            )  # fmt: skip
        outcome = self.outcomes[best]
        barred = [name for name in self.ranking if not self.allowed(name)]
        short = {name: short_of(self.outcomes[name].rig) for name in (best, *others)}
        unfit = [f"{name} does not work for this van: {what}." for name, what in short.items() if what]
        first, *more = self._found(best, others)
        said = [first, *unfit, *more, self._refuses(best)]
        if barred:
            out_for = [out for name in barred if (out := refusal(self.outcomes[name].rig))]
            said.append(f"Not allowed, since it would damage {harmed(out_for)}: {', '.join(barred)}.")
        if self.interrupted:
            said.append(f"Stopped after {len(self.dates)} days; what is here is whole.")
        load = float(outcome.rows.p_load.sum()) * self.step_h
        cut = load - float(outcome.rows.p_served.sum()) * self.step_h
        offered = float((outcome.rows.p_offered + outcome.rows.p_fed).sum()) * self.step_h
        return Verdict(
            question=f"Does it carry the loads, {self.title}?",
            answer=self._answer(load, cut, offered),
            margin=(offered - load) / len(self.dates),
            unit="Wh a day",
            sentence=" ".join(filter(None, said)),
            basis="; ".join(
                [
                    f"charge at the start {100 * outcome.store.soc_start:.0f} %{_entered(outcome)}",
                    *self._frost(best),
                    *self._gaps,
                    *outcome.store.notes,
                    *self.caveats(best),
                ]
            ),
            caution=self._caution(),
        )

    def caveats(self, name: str) -> list[str]:
        """What the run rests on besides battery and loads, in the words of a comparison; the dull band of one rig."""
        panels = [panel for outcome in self.outcomes.values() for panel in outcome.rig.panels]
        told = self.dull and self.used_wh(name) >= TOO_LITTLE
        band = [dull_words(name, self.outcomes[name].rig, self.band_wh(name), "Wh")] if told else []
        return [*caveats(panels, self.request), *band]

    @property
    def dull(self) -> bool:
        """Whether most of the energy comes in dull light."""
        return any(outcome.dull for outcome in self.outcomes.values())

    def _frost(self, name: str) -> list[str]:
        """How warm the battery is taken to be, and what stops its charge, where frost does."""
        outcome, steps = self.outcomes[name], self.ladder().steps[name]
        lost = sum(steps[step] for step in COLD_STEPS)
        return frost_said(outcome.rig, outcome.store, lost, measured=outcome.measured)

    @property
    def _gaps(self) -> list[str]:
        """What is said of a file that does not hold whole days; nothing is filled in."""
        hours = len(self.time) * self.step_h / len(self.dates)
        if hours > 24 * WHOLE:
            return []
        return [f"the weather holds {hours:.1f} of 24 hours a day, and what is drawn in the others is not counted"]

    def _answer(self, load: float, cut: float, offered: float) -> Answer:
        """Whether the loads were carried, by the sun of these days and not by the charge they began with."""
        if load <= 0 or (1e-6 * load < cut < ALIKE * load and offered > SHOWN_WH):
            return "close"
        return "no" if cut >= ALIKE * load or offered <= SHOWN_WH else "yes" if offered >= load else "close"

    def _found(self, best: str, others: list[str]) -> list[str]:
        """What the best delivers, who feeds besides, and whether it carries the loads, over months before all."""
        brings, fed, carries = self._brings(best, others), self._fed_said(best), self._carries(best)
        if len(whole_months(self.budget(best)).months) > 1:
            return [carries, brings, fed]
        return [brings, fed, carries]

    def _brings(self, best: str, others: list[str]) -> str:
        """What the best delivers, and how far it is ahead."""
        per = "" if len(self.dates) == 1 else f" in {len(self.dates)} days"
        if self.used_wh(best) <= SHOWN_WH:
            return self._brings_nothing(best)
        brings = f"{best} delivers {self._amount(best)}{per} to battery and loads"
        if not others:
            return f"{brings}."
        alike = [name for name in others if self.share(name) >= 1 - ALIKE]
        if alike:
            return f"{brings}; {', '.join(alike)} alike within {100 * ALIKE:.0f} %."
        used, other = self.used_wh(best), self.used_wh(others[0])
        why = f": {self._taken(others[0])}" if other < NEXT_TO_NOTHING * used else ""
        return f"{brings}, {more_than(used, other, others[0])}{why}."

    def _amount(self, name: str) -> str:
        """What a rig delivers; in dull light the middle of measured panels, their range, and what labels alone say."""
        brings = watt_hours(self.used_wh(name))
        if not self.dull:
            return brings
        return dull_told(watt_hours(self.label_wh(name)), brings, self.band_wh(name))

    def _brings_nothing(self, best: str) -> str:
        """That even the best delivers nothing, and what takes most of it."""
        why = self._taken(best)
        return f"Nothing arrives from {best}" + (f": {why}." if why else ".")

    def _taken(self, name: str) -> str:
        """What takes most of what a rig's panels could give; empty where there is nothing to take."""
        taken = {loss: wh for loss, wh in self.ladder().steps[name].items() if loss in LOSSES}
        why = max(taken, key=lambda loss: taken[loss])
        return LOSSES[why] if taken[why] > SHOWN_WH else ""

    def _carries(self, name: str) -> str:
        """Whether the loads are carried, and when not."""
        outcome = self.outcomes[name]
        load = float(outcome.rows.p_load.sum()) * self.step_h / len(self.dates)
        if load <= 0:
            said = "The loads draw 0 W" if outcome.rig.loads else "No loads are described"
            return f"{said}, so a full battery takes no more."
        without = autonomy_days(outcome.store.usable_wh, load)
        alone = f"A full battery lasts {without:.1f} days without sun."
        budget = whole_months(self.budget(name))
        if len(budget.months) > 1:
            return f"{months_said(budget, name)} {alone}"
        cut = load - float(outcome.rows.p_served.sum()) * self.step_h / len(self.dates)
        offered = float((outcome.rows.p_offered + outcome.rows.p_fed).sum()) * self.step_h / len(self.dates)
        if cut >= 0.5:
            way = f"{known(cut)} of {known_in(load, 'Wh')} a day are cut"
        elif offered >= load:
            way = f"It carries the load of {known_in(load, 'Wh')} a day"
        else:
            fed = "Sun, other sources" if float(outcome.rows.p_fed.sum()) > 0 else "Sun"
            by = f"{fed} and battery together feed" if offered > SHOWN_WH else "The battery alone feeds"
            way = f"{by} the load of {known_in(load, 'Wh')} a day"
        end = f"the charge goes from {100 * outcome.store.soc_start:.0f} to {100 * outcome.rows.soc[-1]:.0f} %."
        return f"{way}; {end} {alone}"

    def _fed_said(self, name: str) -> str:
        """Who else fed loads and battery, and by how much; empty where there is nobody."""
        fed = self.fed_wh(name)
        told = [f"{source} {watt_hours(wh)}" for source, wh in fed.items()]
        if not told:
            return ""
        share = 100 * sum(fed.values()) / max(sum(fed.values()) + self.used_wh(name), SHOWN_WH)
        said = f"Besides the sun: {', '.join(told)}, {share:.0f} % of all that loads and battery took."
        sources = self.outcomes[name].rig.sources
        idle = [one.name for one in sources if one.kind == ALTERNATOR and one.from_h is None and not fed[one.name]]
        return f"{said} {', '.join(idle)} has no hours: {NOT_DRIVEN}" if idle else said

    def _refuses(self, name: str) -> str:
        """The largest of what the battery refuses, where it is worth a word."""
        told = self.ladder().refused(name)
        return f"It leaves {watt_hours(told[1])} on the roof: {told[0]}." if told else ""

    def _caution(self) -> str:
        """Frost and a battery that may not be charged in it, and volts that are not to be touched."""
        frozen = [one.rig for one in self.outcomes.values() if (one.rows.stage == STAGES.index("cold")).any()]
        cold = dict.fromkeys(frost_caution(rig) for rig in frozen)
        wind = dict.fromkeys(map(wind_caution, self._rigs.values()))
        return " ".join(filter(None, (*cold, *touch_cautions(self._rigs), *wind)))

    def to_mend(self) -> list[str]:
        """What burns, lacks a fuse or falls short in those rigs that are allowed."""
        return [said for name in self.ranking if self.allowed(name) for said in to_mend(name, self._rigs[name])]

    @property
    def _rigs(self) -> dict[str, Rig]:
        return {name: outcome.rig for name, outcome in self.outcomes.items()}

    def allowed(self, name: str) -> bool:
        """Whether nothing forbids the rig."""
        return refusal(self.outcomes[name].rig) is None


def _entered(outcome: RigRun) -> str:
    """Where the charge at the start comes from, and whether what was entered reads like the volts of a meter."""
    battery, typed = outcome.rig.battery, outcome.rig.battery.soc_start_pct
    like_volts = V_PLAUSIBLE[0] <= typed / battery.v_nominal <= V_PLAUSIBLE[1] and typed % 1 > 0
    slip = "; are these volts?" if like_volts else "; is it a share? 70 % is 70" if 0 < typed <= 1 else ""
    usual = typed == Battery.soc_start_pct
    if 100 * outcome.store.soc_start > typed + 1e-9:
        given = "is taken where the file does not say (soc_start_pct)" if usual else "was entered"
        return f", the least that its usable share leaves ({typed:g} % {given}{slip})"
    # rest volts of lithium iron phosphate hardly change
    flat = battery.chemistry == "lithium iron phosphate"
    given = ", which is taken where the file does not say (soc_start_pct)" if usual else " as entered" * flat
    untold = ", since rest volts do not tell it" if flat and not usual else "; rest volts do not tell it" * flat
    return f"{given}{untold}{f' ({typed:g} %{slip})' * like_volts}"


def _percent(share: float | None) -> str:
    """A share in whole percent; a dash where there is none."""
    return "-" if share is None else f"{round(share)} %"


def _unless_allowed(word: str) -> str:
    """What is to be said of a rig that lacks something, or is not allowed."""
    return {"yes": "", "no": "NOT ALLOWED"}.get(word, word)


def whole_day(request: Days) -> Days:
    """What is asked, where its weather holds all daylight; a log of some hours is no day with battery and loads.

    Raises
    ------
    ValueError
        With what is missing.

    Examples
    --------
    >>> whole_day(Days(day="dull")).day
    'dull'
    """
    day = day_of(request)
    if lacking := uncovered(day):
        raise ValueError(
            f"{day.place}: {lacking}. A day with battery and loads needs all of it; compare takes these hours as they "
            "are."
        )
    return request


def simulate(rigs: Mapping[str, Rig], request: Days | None = None, *, progress: Progress | None = None) -> Run:
    """What rigs deliver over days, a winter or a year, with the battery's charge, the loads and the charge stages.

    Parameters
    ----------
    rigs : mapping of str to Rig
        By name, for example `rig.wirings()`; each needs a battery with its capacity.
    request : Days, optional
        A day, several, or every row of a file with day "all"; a typical year of Sand Point where it is not given.
    progress : callable, optional
        Wraps the list of day groups, as `tqdm.auto.tqdm` does.

    Returns
    -------
    Run
        Energy by rig, month and day [Wh], the battery's state of charge, every loss by name, and the verdict.

    Raises
    ------
    ValueError
        Without rigs, for a battery without capacity, or for a log that holds only some hours of daylight.

    Notes
    -----
    Interrupted by hand (KeyboardInterrupt), it returns the days finished so far, with `interrupted` set.

    Examples
    --------
    >>> from vanpower import Days, example
    >>> rig = example("bookmobile")
    >>> simulate({"as it is": rig}, Days(day="dull")).verdict.answer
    'close'
    >>> simulate({"as it is": rig}).verdict.answer
    'no'
    """
    asked = Days(day="all") if request is None else request
    asked = whole_day(asked) if isinstance(asked, Days) else asked
    return walked([Leg({name: planned_for(rig, asked) for name, rig in rigs.items()}, asked)], progress)[0]


@dataclass(frozen=True, eq=False)
class Leg:
    """Some days that rigs go through: rigs by name, what is asked, and what a trip's stop says of driving and shore."""

    rigs: Mapping[str, Rig]
    request: Days
    going: Going | None = None


def walked(legs: Sequence[Leg], progress: Progress | None = None) -> list[Run]:
    """Step rigs through the days of every leg in order, each battery going on as the leg before left it.

    Notes
    -----
    Legs whose moments are equally long are stepped through as one, so that a battery's days settle once for all.
    """
    works, before = [_Work(leg) for leg in legs], dict[str, Stepper]()
    runs: list[Run] = []
    for alike, group in groupby(works, key=lambda work: work.kind):
        chain = list(group)
        walks = _walks(chain, before)
        for work in chain:
            work.over_all(walks, progress)
        # a few days are stepped through at once, of many first the tables of all; days that go on need a whole last one
        whole = sum(work.done for work in chain) % max(round(24 / alike[0]), 1) == 0
        abreast = sum(len(work.dates) for work in chain) >= LEAST_DAYS and (whole or chain[-1] is works[-1])
        (walk_abreast if abreast else walk_plainly)(
            [(walk, [made for work in chain for made in work.tables[name]]) for name, walk in walks.items()]
        )
        runs += [work.run(walks) for work in chain]
        before = walks
    return runs


def _walks(chain: Sequence[_Work], before: Mapping[str, Stepper]) -> dict[str, Stepper]:
    """Every rig at its start, or as the days before left it, with room for some legs, which are told their place."""
    rows = days = 0
    for work in chain:
        work.row, work.date = rows, days
        rows, days = rows + len(work.time), days + len(work.dates)
    first = chain[0]
    walks = {
        name: Stepper(rig, rows, days, first.step_h, first.temp_first, measured=first.measured)
        for name, rig in first.rigs.items()
    }
    for name, left in before.items():
        walks[name].go_on(left)
    return walks


def _alike(rig: Rig) -> bool:
    """Whether nothing on the roof throws shade, and the panels of each circuit are alike."""
    wired = [{nameless(rig.panels[panel]) for panel in circuit.wiring.panels} for circuit in rig.circuits]
    return all(len(kinds) == 1 for kinds in wired) and not (rig.roof and rig.roof.fixtures)


def _groups(of_row: Array, most: int) -> Iterator[slice]:
    """Rows in groups of whole days, of about so many."""
    ends = np.append(np.nonzero(np.diff(of_row))[0] + 1, len(of_row))
    start = 0
    for end, following in zip(ends, [*ends[1:], None], strict=True):
        if following is None or following - start > most:
            yield slice(start, int(end))
            start = int(end)


class _Work:
    """The moments of a leg, and what all its groups of days share: light and air of the file, and panels at 25 °C."""

    def __init__(self, leg: Leg) -> None:
        self.rigs, self.request, self.going = leg.rigs, leg.request, leg.going
        if not leg.rigs:
            raise ValueError("a run needs at least one rig; give it rig.wirings().")
        if not isinstance(leg.request, Days):
            raise ValueError(f"a run goes through days, and this is a {type(leg.request).__name__}; give it Days.")
        day = day_of(leg.request)
        self.step_h, self.measured = day.step_h, TEMP_BATTERY in day.table
        self.time, self.air = day.table.index.tz_localize(None).to_numpy(), day.table["temp_air"].to_numpy(float)
        self.dates, self.of_row = np.unique(self.time.astype("datetime64[D]"), return_inverse=True)
        # a battery whose own temperature was measured lags behind nothing
        self.temp = day.table[TEMP_BATTERY].to_numpy(float) if self.measured else self.air
        tops = dict.fromkeys((rig.panels, rig.roof) for rig in leg.rigs.values())
        self.key = (leg.request, stamp(leg.request.weather))
        self.asked = {(panels, roof): asked_of(panels, leg.request, roof) for panels, roof in tops}
        self.cool = {panels: cool_watts(panels) for panels, _ in tops}
        self.tables: dict[str, list[Stretch]] = {name: [] for name in leg.rigs}
        # its first row and day among the legs that are stepped through with it, and the rows whose tables are made
        self.row = self.date = self.done = 0

    @property
    def kind(self) -> tuple[float, bool]:
        """What legs share that are stepped through as one."""
        return self.step_h, self.measured

    @property
    def temp_first(self) -> float:
        """Where the battery lies on the first day. [°C]"""
        one_day = max(round(24 / self.step_h), 1)
        return float(self.temp[0] if self.measured else self.air[:one_day].mean())

    def over_all(self, walks: Mapping[str, Stepper], progress: Progress | None) -> None:
        """Make the tables of all groups of days; of those before it was interrupted by hand, if there are any."""
        even = not self.request.shade and all(_alike(rig) for rig in self.rigs.values())
        groups = list(_groups(self.of_row, CHUNK_EVEN if even else CHUNK_ROWS))
        try:
            for rows in groups if progress is None else progress(groups):
                self._over(rows, walks)
                self.done = rows.stop
        except KeyboardInterrupt:
            if self.done == 0:
                raise

    def _over(self, rows: slice, walks: Mapping[str, Stepper]) -> None:
        """Tables of all rigs over one group of days; panels that rigs share are worked out once."""
        place, clock = slice(self.row + rows.start, self.row + rows.stop), self._clock(rows)
        for name, rig in self.rigs.items():
            sun, sources = self._given(rig, walks[name].store.v_range, rows)
            p_load, feeds = asked_for(rig.loads, rig.inverter, clock, rig.sources), feeds_of(rig, clock)
            day = self.date + self.of_row[rows]
            self.tables[name].append(Stretch(place, sun, sources, p_load, self.temp[rows], day, feeds))

    def _clock(self, rows: slice) -> Clock:
        """Some of the moments as loads and sources see them."""
        first = self.time[0].astype("datetime64[D]")
        clock = Clock.of(self.time[rows], self.air[rows], self.step_h, first=first)
        return clock if self.going is None else self.going.told(clock, first)

    def _given(self, rig: Rig, volts: tuple[float, float], rows: slice) -> tuple[Sun, list[CircuitTable]]:
        """A rig's sun and what its circuits can give: neither depends on charge or loads, so both are kept."""
        top = (rig.panels, rig.roof)
        key = (top, self.key, rows.start, rows.stop)
        sun = SUNS.get(key, lambda: sun_over(rig.panels, *self.asked[top], self.cool[rig.panels], rows))

        def made(circuit: Circuit) -> CircuitTable:
            return source_of(RigModel(rig, self.request, sun.light), sun.lit, circuit, volts)

        return sun, [SUNS.get((*key, circuit, volts), partial(made, circuit)) for circuit in rig.circuits]

    def run(self, walks: Mapping[str, Stepper]) -> Run:
        """The leg, once it was stepped through; whole days of it where it was interrupted."""
        whole = int(self.of_row[self.done - 1]) + 1
        outcomes = {name: self._outcome(name, walk, whole) for name, walk in walks.items()}
        title, interrupted = title_of(self.request), self.done < len(self.time)
        return Run(outcomes, self.request, title, self.time[: self.done], self.dates[:whole], self.step_h, interrupted)

    def _outcome(self, name: str, walk: Stepper, whole: int) -> RigRun:
        """What happened to one rig on the leg."""
        rig, rows = self.rigs[name], slice(self.row, self.row + self.done)
        by_day = {step: each[self.date : self.date + whole] for step, each in walk.by_day.items()}
        start = float(walk.rows.soc[self.row - 1]) if self.row else walk.store.soc_start
        return RigRun(
            rig, walk.rows.only(rows), by_day, replace(walk.store, soc_start=start),
            self.asked[rig.panels, rig.roof][0].brightest[: self.done], walk.p_by_label[rows], walk.p_each[:, rows],
            self.measured,
        )  # fmt: skip


def _any(day: Array, rows: TimeSeries, what: str, days: int) -> Array:
    """Whether it was so at any moment of each day, shape (day,)."""
    return np.bincount(day, getattr(rows, what), minlength=days) > 0
