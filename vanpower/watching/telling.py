"""What is said of a watched van: as it should be, or since when, what, how sure, what else, and what to measure next.

Never surer than the days: a sound answer names the smallest loss that these very days would have shown by now, found by
putting losses into them and running the filter again. Days at the end on which next to nothing came in say nothing
about a cause, and are told before all else.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import WORST_FIRST, Answer, Verdict
from vanpower.rig import Rig
from vanpower.watching.causes import DIRT, GROUP, LIMIT, LOSS, NAMES, PANEL, SOUND, Cause
from vanpower.watching.expectations import STEP, Expectation, expectation_of
from vanpower.watching.filtering import (
    BLANK,
    ENOUGH,
    FIRST_DAYS,
    FREE,
    HELD,
    HELD_EARLY,
    NOTHING_SHARE,
    UNTOLD,
    Alarm,
    Dates,
    Days,
    Filtered,
    alarms_of,
    days_of,
    run_filter,
    sure_of,
)
from vanpower.watching.hiding import Hidden, first_hidden, hidden_in, smallest_loss
from vanpower.watching.histories import History, read_history
from vanpower.watching.parking import WOODS
from vanpower.watching.state import Kept, kept_of, read_state, write_state
from vanpower.watching.stays import Stays, stays_of

if TYPE_CHECKING:
    from typing import TypeAlias

    import pandas as pd

    Source: TypeAlias = str | Path | bytes | pd.DataFrame | History
    Told: TypeAlias = str | Path | bytes | pd.DataFrame | Sequence[Sequence[object]] | None

Array = np.ndarray
What = Literal["causes", "days"]

KIND_WORDS = {FREE: "free", HELD: "held back", HELD_EARLY: "held back early", UNTOLD: "not told", BLANK: "not read"}
NEXT = {
    "dirt": "Wash the panels and compare the watts an hour before with those an hour after, under a steady sky",
    "group": "At noon, with the controller off by its own switch and the isolator open, measure each panel's "
    "open-circuit volts alone; one will read low by a group's share",
    "panel": "With the controller off and the isolator open, measure each panel's open-circuit volts alone: half "
    "means a group of cells, zero a plug, a fuse or a broken lead",
    "leak": "At dawn or under thick cloud measure each panel's open-circuit volts alone; the leaky one reads volts "
    "lower than the others",
    "limit": "Read the controller's charge current setting, and feel whether it is hot; note watts and panel volts at "
    "noon with the battery low",
    "shadow": "Look at the roof in those hours, or log watts on one clear day",
    "tied": "Note panel volts at noon with the battery low: the battery's own volts there mean a tracker that does "
    "not track; then restart the controller by its own switch",
    "loss": "On a clear noon with the battery low, hold the watts against the labels, then clamp each string's amps",
}  # fmt: skip
CAUTION = (
    "Never pull a plug under load: a DC arc holds. Controller off, isolator off, amps at zero, then unplug. Above 60 V "
    "DC do not touch. On the roof: dry, no wind, somebody holding the ladder."
)
MOST_WATTS, MOST_HOURS, TOO_LOW, FEW = 1.4, 14.0, 0.004, 10
# of the labels' watts, and hours of them a day, above which a history cannot be this rig's, however the panels stand;
# share of a sound clear day below which it is in other units, since kilo makes a thousandth, and a van that has lost
# nearly all of its watts more; and days at least by which that is told; no source
LEAST_TOLD = 0.5
# share of the watts: where only the loss of more would have been seen by now, nothing is called as it should be
SHADE_TURNS = ", which turns with the heading: in the days so far it lowers what counts as usual"
# what an answer rests on where the file has fixtures
SILENT_DAYS, SILENT = 3, 0.9
# days up to the last one on which next to nothing came in, from which that is said before all else, and the share of
# them that were so: a loose plug lets a day through now and then; no source


@dataclass(frozen=True, eq=False)
class Watched:
    """One history beside what its circuits should bring.

    Parameters
    ----------
    history : History
    stays : Stays
    expected : Expectation
    days : Days
    filtered : Filtered
    alarms : list of Alarm
    earlier : int
        Days before the first of these that a state knows of.
    before : (date, date), optional
        When an alarm that a state knows of was first sure, and since when it said that something is wrong.
    """

    history: History
    stays: Stays
    expected: Expectation
    days: Days
    filtered: Filtered
    alarms: list[Alarm]
    earlier: int = 0
    before: Dates | None = None

    @cached_property
    def hidden(self) -> list[Hidden]:
        """What these days would have shown by now, cause by cause; nothing where something is wrong already."""
        if float(self.filtered.fault[-1]) > ENOUGH:
            return []
        return hidden_in(self.days, self.stays, self.expected, self.filtered)

    @cached_property
    def least(self) -> float | None:
        """The smallest share of the watts whose loss would have been seen by now; None where none would."""
        return smallest_loss(self.days, self.stays, self.expected, self.filtered)

    @property
    def now(self) -> Alarm | None:
        """The alarm that still holds: the first since a fault was last less likely than not."""
        unlikely = np.flatnonzero(self.filtered.fault < ENOUGH)
        since = int(unlikely[-1]) if len(unlikely) else -1
        return next((alarm for alarm in self.alarms if alarm.day > since), None)

    @property
    def told(self) -> Dates | None:
        """On which day the alarm that still holds was first sure, and since when something is wrong."""
        if self.before and self.filtered.fault[self.history.dates >= self.before[0]].min(initial=1.0) >= ENOUGH:
            return self.before
        if (alarm := self.now) is None:
            return None
        return self.history.dates[alarm.day], self.history.dates[min(alarm.since, alarm.day)]

    @cached_property
    def silent(self) -> tuple[int, int]:
        """Days up to the last one on which nearly always nothing came in, and on how many of them nothing did."""
        days = self.days
        nothing = (days.share < NOTHING_SHARE) & ~(days.top >= NOTHING_SHARE) & ~days.held
        back = nothing[::-1]
        long = np.flatnonzero(back & (np.cumsum(back) >= SILENT * np.arange(1, len(back) + 1)))
        count = int(long[-1]) + 1 if len(long) and back[0] else 0
        return count, int(back[:count].sum())

    @property
    def shaded(self) -> float:
        """Probability that it stands where much of the light is taken, after the last day."""
        return float(self.filtered.states[len(self.history)].belief.sum(axis=(0, 2, 3))[-WOODS:].sum())

    @property
    def too_few(self) -> bool:
        """Whether there are too few days to tell anything."""
        return len(self.history) + self.earlier < FIRST_DAYS

    @property
    def cause(self) -> int:
        """The likeliest size of the likeliest kind of fault, after the last day."""
        faults = {k: cause.kinds for k, cause in enumerate(self.filtered.causes) if cause.is_fault}
        chance = self.filtered.believed[-1]
        of_kind = {kinds: sum(float(chance[k]) for k in faults if faults[k] == kinds) for kinds in faults.values()}
        return max(faults, key=lambda k: (of_kind[faults[k]], chance[k]))

    @property
    def shares(self) -> tuple[Array, Array]:
        """From and to which share of what the labels give the array brings, day by day, (day,) each."""
        middle, spread = self.filtered.gain, 1.96 * np.hypot(self.filtered.gain_width, STEP / np.sqrt(12.0))
        return np.exp(middle - spread), np.exp(middle + spread)

    def share(self) -> tuple[float, float]:
        """The same after the last day."""
        low, high = self.shares
        return float(low[-1]), float(high[-1])

    def by_kind(self) -> dict[str, float]:
        """Probability of each kind of cause after the last day, the likeliest first."""
        found: dict[str, float] = {}
        for cause, chance in zip(self.filtered.causes, self.filtered.believed[-1], strict=True):
            name = _called(cause)
            found[name] = found.get(name, 0.0) + float(chance)
        return dict(sorted(found.items(), key=lambda item: -item[1]))


@dataclass(frozen=True, eq=False, repr=False)
class Watch(Result):
    """Result of `watch`: whether an array still does what it should, circuit by circuit.

    Parameters
    ----------
    rig : Rig
    parts : dict of str to Watched
        By the name of the controller, or of the wiring.

    Examples
    --------
    >>> from vanpower import example
    >>> rows = "".join(f"2026-05-{day:02},{900 + day},{150 + day}\\n" for day in range(1, 11))
    >>> watch("date,wh,max power\\n" + rows, example("bookmobile")).verdict.word
    'NOT STATED'
    """

    rig: Rig
    parts: Mapping[str, Watched]

    @property
    def first(self) -> Watched:
        """The circuit that matters most: one that is at fault, else the likeliest to be."""
        return max(self.parts.values(), key=lambda part: (part.told is not None, float(part.filtered.fault[-1])))

    @property
    def verdict(self) -> Verdict:
        """Whether it is as it should be; of several circuits the worst first."""
        each = [verdict_of(name, part, len(self.parts) > 1) for name, part in self.parts.items()]
        each.sort(key=lambda one: WORST_FIRST.index(one.answer))
        if len(each) == 1:
            return each[0]
        first = each[0]
        cautions = dict.fromkeys(one.caution for one in each if one.caution)
        return Verdict(
            question=first.question, answer=first.answer, margin=first.margin, unit=first.unit,
            sentence=" ".join(one.sentence for one in each), basis=first.basis, caution=" ".join(cautions),
            stated=first.stated,
        )  # fmt: skip

    def table(self, what: What = "causes") -> Table:
        """Every cause with its probability and whether it would have been seen by now; or day by day.

        Parameters
        ----------
        what : {"causes", "days"}

        Raises
        ------
        ValueError
            For a table that is not there.
        """
        if what == "causes":
            return _causes_table(self.parts)
        if what == "days":
            return _days_table(self.parts)
        raise ValueError(f"a watch has no table {what!r}; there are causes, days.")


def watch(
    history: Source | Sequence[Source],
    rig: Rig,
    *,
    stays: Told = None,
    columns: Mapping[str, str] | None = None,
    dates: str = "",
    state: str | Path | None = None,
) -> Watch:
    """Whether an array still does what it should, from months of what its controller remembers, without a light meter.

    Parameters
    ----------
    history : path, text, bytes, DataFrame or History, or a list of them
        Daily histories or logs, joined by date; of several controllers one each, or with a column circuit.
    rig : Rig
    stays : path, text, DataFrame or list of (date, latitude, longitude), optional
        Where the van stood from which date on.
    columns : mapping, optional
        Quantity to the name of its column, where that is not recognised.
    dates : str
        "day first" or "month first" where dates are written with slashes.
    state : path, optional
        A small file that keeps what is believed, so that next month's history alone is enough; it is read where it is
        there, and written.

    Returns
    -------
    Watch

    Raises
    ------
    ValueError
        For a history that cannot be of this rig, with what to do.

    Notes
    -----
    A fault that was there before the first day is seen only where it takes more than some 15 %, the width of what is
    not known of label, meter and haze. A fault is told when its probability passes `SURE` of `filtering` on three days
    running, not in the first 30; it has to be higher where nobody told the places, for a log, for tilted panels whose
    heading nobody told, and for a loss without a name.

    Examples
    --------
    >>> from vanpower import example
    >>> days = "".join(f"2026-05-{day:02},{900 + day},{150 + day}\\n" for day in range(1, 11))
    >>> watch("date,wh,max power\\n" + days, example("bookmobile")).verdict.sentence[:35]
    'Too early to say: 10 days are here,'
    """
    sources = list(history) if isinstance(history, list | tuple) else [history]
    before = {} if state is None else read_state(Path(state), rig)
    parts, kept = {}, {}
    for name, circuits, one in _matched(sources, rig, columns, dates):
        part = parts[name] = _watched(one, rig, circuits, stays, before.get(name))
        kept[name] = kept_of(part.history, part.stays, part.filtered, part.told, before.get(name))
    if state is not None:
        write_state(Path(state), rig, before | kept)
    return Watch(rig, parts)


def _matched(
    sources: Sequence[Any], rig: Rig, columns: Mapping[str, str] | None, dates: str
) -> list[tuple[str, tuple[int, ...], History]]:
    """Histories beside the circuits they are of."""
    count = len(rig.circuits)
    if count > 1 and len(sources) == count and _overlap(each := [read_history(one, columns=columns, dates=dates)
                                                                 for one in sources]):  # fmt: skip
        return [(_named(rig, number), (number,), one[0]) for number, one in enumerate(each)]
    found = read_history(*sources, columns=columns, dates=dates)
    if len(found) == 1:
        name = rig.wiring_name if count == 1 else f"{rig.wiring_name} together"
        return [(name, tuple(range(count)), found[0])]
    if len(found) > count:
        has = "one controller" if count == 1 else f"{count} controllers"
        told = ", ".join(one.circuit or "without a name" for one in found[:6])
        raise ValueError(f"the history has days of {len(found)} controllers ({told}), and {rig.name} has {has}; watch "
                         "each with its own rig, or add the missing [[circuits]].")  # fmt: skip
    return [(_named(rig, number), (number,), one) for number, one in _by_name(found, rig)]


def _overlap(each: Sequence[Sequence[History]]) -> bool:
    """Whether sources are of the same days, one controller each."""
    if any(len(one) != 1 or one[0].circuit for one in each):
        return False
    shared = set(each[0][0].dates.tolist())
    for one in each[1:]:
        shared &= set(one[0].dates.tolist())
    return len(shared) > 0.5 * min(len(one[0]) for one in each)


def _by_name(found: Sequence[History], rig: Rig) -> list[tuple[int, History]]:
    """Circuits by their number or their controller's name, else in the order of the history."""
    names = [circuit.controller.name.lower() for circuit in rig.circuits]
    numbers = []
    for one in found:
        word = one.circuit.lower()
        digits = "".join(letter for letter in word if letter.isdigit())
        if word in names and names.count(word) == 1:
            numbers.append(names.index(word))
        elif digits and 1 <= int(digits[:3]) <= len(names):
            numbers.append(int(digits[:3]) - 1)
    if len(set(numbers)) != len(found):
        numbers = list(range(len(found)))
    return list(zip(numbers, found, strict=True))


def _named(rig: Rig, number: int) -> str:
    """A circuit by its number and wiring."""
    return f"controller {number + 1} ({rig.circuits[number].wiring.name})"


def _watched(history: History, rig: Rig, circuits: tuple[int, ...], told: Told, before: Kept | None) -> Watched:
    """One history through the filter; behind the days that were kept, where there are some."""
    expected = expectation_of(rig, circuits)
    if before is None:
        stays = stays_of(told, history)
    else:
        history, stays = _continued(history, told, before)
    days = days_of(history, stays, expected)
    _check_rig(history, days, rig, circuits)
    believed, earlier, alarm = None, 0, None
    if before is not None:
        late = slice(before.lead, None)
        days, history, stays = days.only(late), history.only(late), stays.only(late)
        believed, earlier = before.believed, before.days - len(before.history) + before.lead
        alarm = before.alarm
    filtered = run_filter(days, stays, expected, believed)
    alarms = alarms_of(filtered, stays, max(FIRST_DAYS - earlier, 0))
    return Watched(history, stays, expected, days, filtered, alarms, earlier, alarm)


def _continued(history: History, told: Told, before: Kept) -> tuple[History, Stays]:
    """The days kept and those that are new, which must not contradict them."""
    (joined,) = read_history(before.history, replace(history, circuit=before.history.circuit))
    new = joined.dates > before.history.dates[-1]
    if (joined.dates < before.history.dates[0]).any():
        joined = joined.only(joined.dates >= before.history.dates[0])
        new = joined.dates > before.history.dates[-1]
    if told is not None:
        return joined, stays_of(told, joined)
    places, moves, stands = before.told
    # days that were missing among those kept may have come in since; each takes its place from the day before it
    place = np.maximum(np.searchsorted(before.history.dates, joined.dates, side="right") - 1, 0)
    where = (before.latitude, before.longitude, before.heading, before.number)
    latitude, longitude, heading, number = (each[place] for each in where)
    heading = np.where(new, np.nan, heading)
    moved = np.concatenate([[False], number[1:] != number[:-1]])
    return joined, Stays(latitude, longitude, heading, moved, number, places, moves, stands=stands)


def _check_rig(history: History, days: Days, rig: Rig, circuits: tuple[int, ...]) -> None:
    """Refuse a history whose watts this rig cannot have given, or which is in other units."""
    p_label = sum(rig.panels[panel].p_mp for number in circuits for panel in rig.circuits[number].wiring.panels)
    for name, values, share, most, unit in (
        ("highest watts", history.p_high, days.top, MOST_WATTS * p_label, "W"),
        ("watt-hours", history.energy_wh, days.share, MOST_HOURS * p_label, "Wh"),
    ):
        good, shown = (each[np.isfinite(each)] for each in (values, share))
        if len(shown) < FEW:
            continue
        best = float(np.percentile(good, 95))
        if best > most:
            slip = f"in m{unit}, or is a panel missing in the rig's file" if best < 100 * most else f"m{unit}"
            raise ValueError(
                f"{history.name}: {name} of its best days are {best:.4g} {unit}, and the labels of {rig.name} make "
                f"{p_label:.0f} W in full sun. Is it another van's history, or are the numbers {slip}?"
            )
        seen = float(np.percentile(shown, 95))
        if 0 < seen < TOO_LOW:
            raise ValueError(
                f"{history.name}: {name} of its best days are {100 * seen:.2g} % of what {rig.name} gives under a "
                f"clear sky. Are they k{unit}? Write the unit behind the column's name, (k{unit})."
            )


# Sentences


def verdict_of(name: str, part: Watched, several: bool) -> Verdict:
    """What is said of one history; of several each begins with its name."""
    head = f"{name}: " if several else ""
    told = part.told
    basis = _basis(part)
    ask = "Is it still doing what it should?"
    if part.silent[0] >= SILENT_DAYS and (told is None or told[0] >= part.history.dates[-part.silent[0]]):
        sentence, spared = _silent_said(part)
        return Verdict(question=ask, answer="close" if spared else "no", margin=0.0, unit="%",
                       sentence=head + sentence, basis=basis, caution=CAUTION)  # fmt: skip
    if told is not None:
        return Verdict(question=ask, answer="no", margin=float(part.filtered.fault[-1]) * 100, unit="%",
                       sentence=head + _fault_said(part, *told), basis=basis, caution=CAUTION)  # fmt: skip
    if part.too_few or part.least is None:
        return Verdict(question=ask, answer="close", margin=0.0, unit="%", sentence=head + _too_early(part),
                       basis=basis, stated=False)  # fmt: skip
    suspected = float(part.filtered.fault[-1]) > ENOUGH
    if part.least > LEAST_TOLD and not suspected:
        return Verdict(question=ask, answer="close", margin=100 * part.least, unit="%",
                       sentence=head + _little_seen(part), basis=basis, stated=False)  # fmt: skip
    answer: Answer = "close" if suspected or part.shaded > ENOUGH else "yes"
    return Verdict(question=ask, answer=answer, margin=100 * part.least, unit="%",
                   sentence=head + (_suspected(part) if suspected else _sound_said(part)), basis=basis,
                   caution=CAUTION if suspected else "")  # fmt: skip


def _silent_said(part: Watched) -> tuple[str, bool]:
    """That next to nothing comes in any more, and what to look at; whether weather or a full battery may do so."""
    count, without = part.silent
    first = len(part.history) - count
    on = f"the last {count} days" if without == count else f"{without} of the last {count} days"
    days = part.days.only(slice(first, None))
    spared = [
        *(["snow on the glass", "a lock-out by frost"] if days.cold.any() else []),
        *(["a battery that was full, for no column says so"] if (days.kind == UNTOLD).any() else []),
    ]
    causes = ", ".join([*spared, "a controller that is off", "an isolator", "a fuse"])
    return (
        f"Next to nothing has come in on {on}, since {_date(part, first)}. That can be {causes} "
        "or a plug. Next: With the glass clear and the controller on, read its panel volts in daylight: without any, "
        "look from the isolator to the fuses and plugs; with volts and no amps, at its settings and messages."
    ), bool(spared)


def _sound_said(part: Watched) -> str:
    """As it should be, how exactly that is known, what would have been seen, and what could not."""
    low, high = part.share()
    found = "Yes, if it stands in shade" if part.shaded > ENOUGH else f"Yes, as far as {_count(part)} days show"
    said = f"{found}: {100 * low:.0f} to {100 * high:.0f} % of what its labels give.{_held(part)} {_least_said(part)}"
    if part.alarms:
        last = part.alarms[-1]
        what = NAMES[part.filtered.causes[last.cause].kind]
        said += f" The alarm of {_date(part, last.day)} ({what}) is over: the days since suit a sound array again."
    if part.shaded > ENOUGH:
        said += (
            f" That holds if it stands where trees or walls take a good part of the light ({_odds(part.shaded)}); in "
            "the open as much of the array is missing. One clear day in the open tells."
        )
    return f"{said}{_unseen_said(part)}"


def _little_seen(part: Watched) -> str:
    """That nothing speaks against it, and that little could have been seen."""
    return f"Nothing speaks of a fault, but these days could hide a large one. {_least_said(part)}{_unseen_said(part)}"


def _least_said(part: Watched) -> str:
    """The smallest loss that would have been seen by now."""
    since = _date(part, _since(part))
    assert part.least is not None
    return (
        f"A loss of {100 * part.least:.0f} % of the watts or more since {since} would most likely have been seen by "
        "now; a smaller one could hide."
    )


def _unseen_said(part: Watched) -> str:
    """Causes these days could not have shown."""
    # what is told by its size above, and a kind of which another size would have been seen
    told = {one.kind for one in part.hidden if one.day is not None} | ({LOSS} if part.least is not None else set())
    names = list(dict.fromkeys(NAMES[one.kind] for one in part.hidden if one.kind not in told))
    return f" Not to be seen from these days: {', '.join(names)}." if names else ""


def _too_early(part: Watched) -> str:
    """That nothing can be said yet, and what would help."""
    count = len(part.history)
    if part.too_few:
        here = "1 day is" if count == 1 else f"{count} days are"
        return (
            f"Too early to say: {here} here, and it takes {FIRST_DAYS}. Before that a fault is not told from weather, "
            "label and place: add older days or come back later."
        )
    full = np.isin(part.days.kind, (HELD, HELD_EARLY)).mean()
    untold = (part.days.kind == UNTOLD).mean() > 0.5
    why = (
        "no column says when the battery was full; add the minutes in bulk, absorption and float, or the battery's "
        "highest volts of each day"
        if untold
        else f"the battery held the array back on {100 * full:.0f} % of them; a night of heavy load before a clear "
        "morning makes a day that tells"
        if full > 0.5
        else "too few of them say how much there could have been"
    )
    return (
        f"These {count} days cannot tell. No loss with which the battery gets as full would have been seen by now, for "
        f"{why}."
    )


def _fault_said(part: Watched, first_sure: np.datetime64, since: np.datetime64) -> str:
    """Since when, what, how sure, what else it could be, and what to measure next."""
    cause = part.filtered.causes[part.cause]
    chances = part.by_kind()
    sure = float(part.filtered.fault[-1])
    named = " or ".join(NAMES[kind] for kind in cause.kinds)
    own = max((chance for name, chance in chances.items() if name == named), default=0.0)
    others = [f"{name} ({_odds(chance)})" for name, chance in chances.items()
              if chance > 0.02 and name not in (NAMES[SOUND], named)]  # fmt: skip
    also = f" It could also be: {', '.join(others[:3])}." if others else ""
    chance = "" if _odds(own) == _odds(sure) else f" ({_odds(own)})"
    return (
        f"No, not since about {_said(since)} ({_odds(sure)}). The cause is most likely {named}"
        f"{_size(cause.kind, cause.size)}{chance}{_fell(part, since)}. First sure on {_said(first_sure)}.{also} "
        f"Next: {NEXT[cause.kind]}."
    )


def _suspected(part: Watched) -> str:
    """Something may be wrong, not sure enough to say so."""
    cause = part.filtered.causes[part.cause]
    named = " or ".join(NAMES[kind] for kind in cause.kinds)
    chance, sure = float(part.filtered.fault[-1]), sure_of(cause, part.filtered.sure)
    waits = (
        f"above {100 * sure:.0f} of 100 on three days running"
        if chance <= sure
        else "once that has stood for three days, one cause stands out, and the place cannot be to blame"
    )
    return (
        f"Something may be wrong ({_odds(chance)}). Most likely {named}; it is told for sure {waits}. "
        f"Next: {NEXT[cause.kind]}."
    )


def _size(kind: str, size: float) -> str:
    """How far a cause goes, in words."""
    if kind in (DIRT, LOSS):
        return f", about {100 * size:.0f} % of the light"
    if kind == LIMIT:
        return f", near {size:.0f} A"
    if kind == GROUP:
        return "" if size == 1 else f", {size:.0f} of them"
    return f", {size:.0f} panels" if kind == PANEL and size > 1 else ""


def _fell(part: Watched, since: np.datetime64) -> str:
    """How highest watts and volts changed, as the history has it."""
    said, late = [], part.history.dates >= since
    for name, values, least in (("highest watts", part.days.top, 6), ("highest volts", part.history.v_high, 6)):
        before, after = (values[rows][np.isfinite(values[rows])] for rows in (~late, late))
        if len(before) < least or len(after) < least:
            continue
        share = 90 if name == "highest watts" else 50
        change = float(np.percentile(after, share) / max(float(np.percentile(before, share)), 1e-9)) - 1.0
        said.append(f"{name} {100 * change:+.0f} %".replace("-", "\N{MINUS SIGN}"))
    return f"; {', '.join(said)} against the days before" if said else ""


def _called(cause: Cause) -> str:
    """What a cause is called; one that takes so little that nobody need be told is as it should be."""
    return " or ".join(NAMES[kind] for kind in cause.kinds) if cause.is_fault else NAMES[SOUND]


def _odds(chance: float) -> str:
    """A probability in words that are no surer than it is."""
    if chance > 0.99:
        return "over 99 of 100"
    return "under 1 of 100" if chance < 0.01 else f"{100 * chance:.0f} of 100"


def _date(part: Watched, day: int) -> str:
    """The date of one of its days as a person says it."""
    return _said(part.history.dates[day])


def _said(day: np.datetime64) -> str:
    """A date as a person says it."""
    import datetime

    date: datetime.date = day.astype("datetime64[D]").astype(object)
    return f"{date.day} {date:%B %Y}"


def _since(part: Watched) -> int:
    """The day from which losses were put in."""
    return first_hidden(len(part.history))


def _count(part: Watched) -> int:
    """How many days it was watched."""
    return len(part.history) + part.earlier


def _held(part: Watched) -> str:
    """On how many days the battery held the array back; empty for none."""
    held = int(np.isin(part.days.kind, (HELD, HELD_EARLY)).sum())
    return f" A full battery held it back on {held} of them." if held else ""


def _basis(part: Watched) -> str:
    """What the answer rests on."""
    place = (
        "the places told" if part.stays.places else f"a latitude of {part.stays.latitude[-1]:.0f}°, which nobody told"
    )
    moves = "" if part.stays.moves else "; nobody told the moves, so that it may have moved on any day"
    air = "air good to some 6 K"
    roof = part.expected.rig.roof
    shade = f"; without the shade of what stands on the roof{SHADE_TURNS}" if roof is not None and roof.fixtures else ""
    return (
        f"labels and a clear sky at {place}, {air}{moves}{shade}; faults under 15 % from the first day on stay hidden"
    )


# Tables


def _causes_table(parts: Mapping[str, Watched]) -> Table:
    """Every cause: how likely, and after how many days these very days would have shown it."""
    rows = []
    for name, part in parts.items():
        chances = part.by_kind()
        hidden = {one.name: one for one in part.hidden}
        for cause in chances:
            seen = hidden.get(cause)
            rows.append((name, 100 * chances[cause], _seen_word(part, seen), cause))
    columns = (
        *((Column(name="circuit", left=True),) if len(parts) > 1 else (Column(name="circuit", left=True, aside=True),)),
        Column(name="probability", unit="%", digits=0, head="likely %"),
        Column(name="seen by now", left=True),
        Column(name="cause", left=True),
    )
    sound = [part for part in parts.values() if part.hidden]
    if not sound:
        return Table((columns[0], columns[1], columns[3]), [(row[0], row[1], row[3]) for row in rows])
    since = " or ".join(dict.fromkeys(_date(part, _since(part)) for part in sound))
    note = f"(seen by now: had it begun on {since}, these days would have told it after so many days)"
    return Table(columns, rows, note=note)


def _seen_word(part: Watched, seen: Hidden | None) -> str:
    """Whether a cause would have been seen by now; of a loss without a name how large it has to be."""
    if seen is None:
        return ""
    if seen.kind == LOSS and part.least is not None:
        return f"{100 * part.least:.0f} % or more"
    return "no" if seen.day is None else f"after {seen.day} days"


def _days_table(parts: Mapping[str, Watched]) -> Table:
    """Day by day."""
    rows = []
    for name, part in parts.items():
        believed = part.filtered.believed.argmax(axis=1)
        for day in range(len(part.history)):
            rows.append((
                name, str(part.history.dates[day]), float(part.history.energy_wh[day]),
                100 * float(part.days.share[day]), 100 * float(part.days.top[day]),
                float(part.history.v_high[day]), _kind_word(int(part.days.kind[day])),
                100 * float(part.filtered.fault[day]), _called(part.filtered.causes[believed[day]]),
            ))  # fmt: skip
    columns = (
        Column(name="circuit", left=True, aside=len(parts) == 1),
        Column(name="date", left=True),
        Column(name="energy", unit="Wh"),
        Column(name="of a clear day", unit="%", digits=0),
        Column(name="highest watts of a clear day", unit="%", digits=0, head="highest %"),
        Column(name="panels", unit="V", digits=1),
        Column(name="battery", left=True),
        Column(name="fault", unit="%", digits=0),
        Column(name="likeliest", left=True),
    )
    return Table(columns, rows, key=2)


def _kind_word(kind: int) -> str:
    """How a day was taken."""
    return KIND_WORDS.get(kind, "filled up")
