"""The settings card: what to type into controller and alarm, the battery maker's sheet first.

Numbers are those that the other answers use: charge settings as `charging` judges them, stages and charge as
`components.batteries` runs them. Volts at which loads are cut follow from rest volts, resistance and the largest load.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from vanpower.checks.battery import COOL_RATE, TEMP_COOL, TEMP_HOT, accept_limit, other_amps
from vanpower.checks.charging import (
    BY_ITS_SHEET,
    BY_SHEET_ALONE,
    NEVER_EQUALISE,
    SEALED,
    USUAL,
    charge_settings,
    named_others,
)
from vanpower.checks.common import no_frost_charge
from vanpower.components.batteries import (
    CHEMISTRIES,
    TEMP_SETTINGS,
    cells_in_series,
    daily_watts,
    held_float,
    rest_at,
    usable_share,
    usual_of,
    v_empty,
)
from vanpower.components.controllers import cold_marks
from vanpower.results.numbers import known
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Verdict
from vanpower.rig import FLOODED, IRON_PHOSPHATE, OTHER_LITHIUM, SOME_LEAD, Battery, Rig

C_LOAD = 0.2
# [1/h] largest load, against the capacity, where the file has none; no source
BACK = 0.5
# share of the way from flat to full at which loads come back; no source
ALARM_SHARE = 0.1
# share of the charge above flat at which the alarm sounds; no source
OVER_ALARM = 0.01
# share above absorption at which a high alarm sounds: the error of a charger; no source
STEP = 0.1
# [V] to which an alarm or a load output can be set


@dataclass(frozen=True, kw_only=True)
class Setting:
    """One thing to set: its name, its value in words, and why.

    Examples
    --------
    >>> Setting(name="float", value="13.5 V", why="as usual").value
    '13.5 V'
    """

    name: str
    value: str
    why: str


@dataclass(frozen=True, repr=False)
class SettingsCard(Result):
    """What to set on the controllers, the load output and the alarm of one rig.

    Parameters
    ----------
    rig : Rig
    settings : tuple of Setting

    Examples
    --------
    >>> from vanpower import example
    >>> [setting.value for setting in settings_card(example("bookmobile")).settings[:4]]
    ['14.2 V', '2 h, or 5.0 A if sooner', '13.5 V, or none', '0']
    """

    rig: Rig
    settings: tuple[Setting, ...]

    def table(self, what: None = None) -> Table:
        """One line a setting."""
        columns = (Column(name="set", left=True), Column(name="to", left=True), Column(name="why", left=True))
        return Table(columns, [(one.name, one.value, one.why) for one in self.settings])

    @property
    def short(self) -> str:
        """All settings in one paragraph, without reasons, as the page to print has them."""
        return f"{'; '.join(f'{one.name} {one.value}' for one in self.settings)}."

    @property
    def verdict(self) -> Verdict:
        """Whether the file's charge settings suit the battery."""
        return charge_settings(self.rig)

    def __getitem__(self, name: str) -> Setting:
        """A setting by its name."""
        return next(one for one in self.settings if one.name == name)


def settings_card(rig: Rig) -> SettingsCard:
    """What to type into controller, load output and alarm, for a rig's battery.

    Parameters
    ----------
    rig : Rig

    Returns
    -------
    SettingsCard

    Examples
    --------
    >>> from vanpower import example
    >>> card = settings_card(example("bookmobile"))
    >>> card["equalisation"].value, card["loads off"].value
    ('off', '12.9 V')
    """
    battery = rig.battery
    charge = (_absorption(battery), _ends(battery), _float(battery), _compensation(battery))
    rest = (*_temperatures(rig), _amps(rig), _equalise(battery), *_loads(rig), _high(battery))
    return SettingsCard(rig, (*charge, *rest, *_others(rig)))


def _absorption(battery: Battery) -> Setting:
    """Volts of full charge."""
    if battery.chemistry == OTHER_LITHIUM:
        why = BY_SHEET_ALONE
    elif battery.chemistry == SOME_LEAD:
        why = "as in the file; flooded, AGM and gel differ, and its label says which it is"
    else:
        low, high = (edge * cells_in_series(battery) for edge in USUAL[battery.chemistry].absorption)
        why = f"as in the file; usual are {low:.1f} to {high:.1f} V, and the battery's sheet wins"
    return Setting(name="absorption", value=f"{battery.v_absorption:g} V", why=why)


def _ends(battery: Battery) -> Setting:
    """How absorption ends."""
    usual, given = usual_of(battery), battery.i_tail is not None or battery.absorption_h is not None
    hours = usual["absorption_h"] if battery.absorption_h is None else battery.absorption_h
    tail = battery.i_tail if battery.i_tail is not None else usual.get("i_tail")
    value = f"{hours:g} h" + (f", or {tail:.1f} A if sooner" if tail else "")
    why = "as in the file" if given else "usual for its chemistry; no capacity in the file" if not tail else "usual"
    return Setting(name="absorption ends", value=value, why=f"{why}; the amps are those into the battery, loads off")


def _float(battery: Battery) -> Setting:
    """Volts held once full."""
    value = f"{held_float(battery):g} V" + ", or none" * battery.is_lithium
    told = "as in the file" if battery.v_float is not None else "usual for its chemistry"
    return Setting(name="float", value=value, why=f"{told}{'; many makers of lithium want none' * battery.is_lithium}")


def _compensation(battery: Battery) -> Setting:
    """What heat does to the volts."""
    if battery.is_lithium:
        return Setting(name="compensation", value="0", why="lithium takes none")
    given = battery.compensation_mv_per_k
    per_kelvin = cells_in_series(battery) * CHEMISTRIES[battery.chemistry].mv_per_k if given is None else given
    told = "usual" if given is None else "as in the file"
    why = f"{told}; counted from {TEMP_SETTINGS:g} °C, sensor on the battery, not at the controller"
    return Setting(name="compensation", value=f"{per_kelvin:g} mV/K", why=why)


def _temperatures(rig: Rig) -> tuple[Setting, ...]:
    """Cold and heat in which nothing is charged."""
    battery = rig.battery
    if not battery.is_lithium:
        why = "frozen or hot batteries only by their maker's sheet; a flat one freezes first"
        return (Setting(name="cold and heat", value="no cut needed", why=why),)
    cuts = [cold_marks(circuit.controller) for circuit in rig.circuits if circuit.controller.cold_cutoff]
    kind = CHEMISTRIES[battery.chemistry]
    own = battery.temp_lockout if battery.temp_lockout is not None else kind.temp_lockout or 0.0
    gap = (kind.temp_release or 0.0) - (kind.temp_lockout or 0.0)
    release = battery.temp_release if battery.temp_release is not None else own + gap
    cut, back = max([(own, release), *cuts])
    none = (
        ""
        if len(cuts) == len(rig.circuits)
        else " The file does not say that every controller has such a cut-off: ask."
    )
    cold = Setting(
        name="cold cut-off", value=f"{cut:g} °C, again from {back:g} °C",
        why=f"{no_frost_charge(battery)} Sensor on the cells; never defeat it.{none}",
    )  # fmt: skip
    if battery.chemistry == OTHER_LITHIUM:
        return (cold, Setting(name="heat cut-off", value="by its sheet", why=BY_SHEET_ALONE))
    why = "a cell handling guide; the battery's sheet wins"
    return (cold, Setting(name="heat cut-off", value=f"{TEMP_HOT:g} °C", why=why))


def _amps(rig: Rig) -> Setting:
    """Charge current of the controllers, all chargers together within the battery's limit."""
    battery, ratings = rig.battery, [circuit.controller.i_charge_max for circuit in rig.circuits]
    takes, whose = accept_limit(battery)
    if takes is None:
        why = "the file has no capacity and no limit; the battery's sheet says what all chargers together may give"
        return Setting(name="charge amps", value=" and ".join(f"{each:g} A" for each in ratings), why=why)
    names, more = other_amps(rig)
    each, beside = (_shared(max(takes - others, 0.0), ratings) for others in (0.0, more))
    why = f"the battery takes {takes:g} A from all chargers together ({whose})"
    if more and beside != each:
        each += f"; {beside} where {' and '.join(names)} may charge too"
        why += f", and {' and '.join(names)} may give {more:g} A of them"
    elif not names:
        why += "; with another charger running set less" * bool(named_others(rig))
    if battery.chemistry == IRON_PHOSPHATE and battery.capacity_ah:
        why += f"; at most {COOL_RATE * battery.capacity_ah:g} A below {TEMP_COOL:g} °C by a handling guide"
    return Setting(name="charge amps", value=each, why=why)


def _shared(takes: float, ratings: Sequence[float]) -> str:
    """What each controller may give where a battery takes so much of them all together."""
    share = min(1.0, takes / sum(ratings))
    return " and ".join(f"{_down(share * rating):g} A" for rating in ratings)


def _down(amps: float) -> float:
    """Amps, never rounded up."""
    return int(amps * 10 + 1e-9) / 10


def _equalise(battery: Battery) -> Setting:
    """Whether to equalise."""
    if battery.is_lithium:
        return Setting(name="equalisation", value="off", why=NEVER_EQUALISE)
    if battery.chemistry == FLOODED:
        return Setting(name="equalisation", value="off but by its sheet", why=BY_ITS_SHEET)
    return Setting(name="equalisation", value="off", why=SEALED)


def _loads(rig: Rig) -> tuple[Setting, ...]:
    """Volts at which loads are cut, come back, and at which the alarm sounds before."""
    battery = rig.battery
    if battery.chemistry == OTHER_LITHIUM or battery.capacity_ah is None:
        why = BY_SHEET_ALONE if battery.capacity_ah else "they follow from the capacity, which the file does not have"
        return (Setting(name="loads off", value="by its sheet", why=why),)
    amps = load_amps(rig)
    flat, left = v_empty(battery), 1.0 - usable_share(battery)
    drop = amps * _ohms(battery)
    off, back = _set(flat - drop), _set(rest_at(battery, left + BACK * (1.0 - left)))
    alarm = max(_set(rest_at(battery, left + ALARM_SHARE) - drop), off + STEP)
    percent = 100 * left
    flat_curve = "; a counter of amp-hours tells better than volts" * (battery.chemistry == IRON_PHOSPHATE)
    return (
        Setting(name="loads off", value=f"{off:.1f} V", why=f"{percent:.0f} % left, {flat:.1f} V at rest, less what "
                f"{_pulled(rig)} down{flat_curve}"),
        Setting(name="loads on again", value=f"{max(back, off + 2 * STEP):.1f} V", why="half way back to full at rest; "
                "volts while charging stand higher, so wait an hour of sun"),
        Setting(name="low alarm", value=f"{alarm:.1f} V", why=f"a beep under load means about "
                f"{100 * (left + ALARM_SHARE):.0f} % left: switch things off; at rest, that already less is left"),
    )  # fmt: skip


def _pulled(rig: Rig) -> str:
    """Which load pulls volts down, in words: the file's largest, or the one that stands in for it."""
    amps = f"{known(load_amps(rig))} A"
    return f"{amps} of load pull" if _largest_watts(rig) else f"{amps}, 0.2 x Ah since no load is in the file, pull"


def load_amps(rig: Rig) -> float:
    """Largest load of a day, or a fifth of the capacity an hour where the file has none. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> load_amps(example("bookmobile").changed(loads=()))  # 0.2 x 100 Ah
    20.0
    """
    watts = _largest_watts(rig)
    return watts / v_empty(rig.battery) if watts else C_LOAD * (rig.battery.capacity_ah or 0.0)


def _largest_watts(rig: Rig) -> float:
    """Largest load of a day. [W]"""
    return float(daily_watts(rig.loads).max()) if rig.loads else 0.0


def _ohms(battery: Battery) -> float:
    """Resistance inside. [ohm]"""
    return usual_of(battery)["r_internal"] if battery.r_internal is None else battery.r_internal


def _set(volts: float) -> float:
    """Volts as an alarm can be set."""
    return round(round(volts / STEP) * STEP, 1)


def _high(battery: Battery) -> Setting:
    """The alarm above."""
    volts = int((1 + OVER_ALARM) * battery.v_absorption * 10 + 0.999) / 10
    why = "a beep means that some charger goes past absorption: charging off by its setting, then find which"
    if not battery.is_lithium:
        why += "; in the cold compensation raises it on purpose"
    return Setting(name="high alarm", value=f"{volts:.1f} V", why=why)


def _others(rig: Rig) -> tuple[Setting, ...]:
    """What else charges the battery, and must not contradict this."""
    alike = "alternator, mains or second controller: same absorption, float, cold cut-off, or it undoes these"
    told = named_others(rig)
    several = len(rig.circuits) > 1
    value = told or ("the controllers alike" if several else "none in the file")
    return (Setting(name="other chargers", value=value, why=alike),)
