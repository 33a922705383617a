"""What meters would show under each cause: the rig's own model, drawn many times over all that nobody knows.

Light, heat of the cells, which panel and how bad are drawn evenly (Halton's sequence), the same for every cause. A
sound rig is one cause whose draws are told apart by what holds the controller, as `components.controllers` says it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from scipy.special import ndtri

from vanpower.checks import array_fuse_size, string_fuse_sizes
from vanpower.components.batteries import held_float
from vanpower.components.controllers import (
    ASLEEP,
    CEILING,
    CLIPPED,
    DARK,
    LOWER_HILL,
    OWN_DRAW,
    V_DARK,
    WINDOW,
    Operation,
    operate,
    weakened,
)
from vanpower.components.low_light import dull_middle
from vanpower.engine.array import PVArray, backed_off
from vanpower.engine.curves import (
    current_at,
    open_circuit_voltage,
    short_circuit_current,
)
from vanpower.model.conditions import Conditions, even_light
from vanpower.model.faulty_arrays import FaultyArray, Strings
from vanpower.rig import Circuit, Panel, Rig, nameless
from vanpower.trials.faults.causes import (
    ASLEEP_STILL,
    BROWNED,
    BROWNED_FALSELY,
    COLD,
    DEAD,
    DIODE,
    FULL,
    FUSE,
    HILL,
    LEAK,
    LIMIT,
    LINE,
    LOOKS,
    LOST,
    LOW_FLOOR,
    NO_SUN,
    NOTHING,
    OPEN,
    OVER,
    P_WARM,
    PLUG,
    SEEN_FALSELY,
    SHADE,
    SHORT,
    STAGE_CHANCES,
    TELLS,
    TURNED,
)
from vanpower.trials.faults.readings import BY_METER_PCT, FaultReadings

Array = np.ndarray

DRAWS, DRAWS_BLIND = 360, 600
# of light, heat, place and size for each cause; more where nobody said how light it is
PRIMES = (2, 3, 5, 7, 11, 13, 17)
LIGHT_ANY = (1.0, 1100.0)
# [W/m²] where nobody said how light it is
WIDE_TAIL, WIDE_PCT = 0.1, 60.0
# share of people whose guess of the light is off by so much more [%]; no source
LIGHT_DIM, DIM_PCT = 20.0, 80.0
# [W/m², %] light so dim that no eye tells it better; no source
AIR, PER_LIGHT, HEAT_OFF, HEAT_READ = 17.0, 0.033, 12.0, 3.0
# [°C, K per W/m², K, K] cells of a van whose heat nobody read: air, what the sun adds, how far that is off; and how far
# a thermometer at the back is off; no source
LIGHT_LEAST = 10.0
# [W/m²] less is no sun, whatever the controller does; no source
LOSES = 0.03
# share of the best watts that a floor must take before it is called the reason; no source
SHADE_LETS, SHADE_DEEP = (0.0, 0.7), 0.5
# share of the light that arrives in a shade worth the name, and at most in one in which a dead diode shows; no source
ONE_GROUP, ONE_PANEL = 0.45, 0.85
# shares of all shades that lie on one group, and on one panel or less; the rest on a part of each panel; no source
OHMS = (-1.3, 0.7)
# powers of ten of a bad joint's resistance, against volts over amps of the string or roof; no source
LEAKS = (-0.7, 1.3)
# powers of ten of a leak's ohms, against volts over amps of its panel; no source
UNLIKE = 0.06
# [share of the light] by which a panel may differ from its like, from the least to the most: label and dirt; no source
HIGHER = 1.05
# times the watts that another hill must give to be called higher, as in `stuck_trackers`
START_OFF = 1.0
# [V] by which a controller's start margin may differ from the file's; no source
TAKES = (0.005, 0.9)
# share of the watts on offer that a full battery takes; no source
BATTERY_LEAST = 0.9
# share of its nominal volts from which a battery that is not full may read anything up to its absorption; no source
LIGHT_DUSK, TEMP_DUSK = 50.0, 15.0
# [W/m², °C] dull light in which a leak is looked for; no source
V_SHORT = 0.2
# [V] at most across a line that is shorted somewhere; no source
NONE = 1e-3
# [A] less is no current


@dataclass(frozen=True, eq=False)
class Draws:
    """What nobody knows, drawn evenly, all (draw,): light [W/m²], heat of the cells [°C], and four shares 0 to 1."""

    light: Array
    temp_cell: Array
    size: Array
    depth: Array
    place: Array
    other: Array

    def __len__(self) -> int:
        return len(self.light)


@dataclass(frozen=True, eq=False)
class Shown:
    """What meters would show under one cause, each (draw,), by the names that measurements go by.

    Parameters
    ----------
    family : str
        The cause that it was drawn for.
    causes : ndarray of str (draw,)
        What it comes to: with so little light that a sound rig would sleep as well, and would show the same, that.
    values : dict of str to ndarray (draw,)
        Volts and amps; of what is answered with yes or no, the chance of a yes.
    stages : ndarray (draw, stage)
        Chances of what the controller shows.
    share : ndarray (draw,)
        How often each draw comes up, within the cause.
    """

    family: str
    causes: Array
    values: dict[str, Array]
    stages: Array
    share: Array


def drawn(readings: FaultReadings) -> Draws:
    """Light, heat and the rest as far as the readings leave them open.

    Examples
    --------
    >>> known = drawn(FaultReadings(v_array=18.0, light=500.0, temp_cell=30.0))
    >>> float(np.median(known.light).round(-1)), float(np.median(known.temp_cell).round())
    (500.0, 30.0)
    """
    u = _halton(DRAWS_BLIND if readings.light is None else DRAWS)
    if readings.light is None:
        light = np.exp(np.interp(u[0], [0, 1], np.log(LIGHT_ANY)))
    else:
        off = np.where(u[5] < WIDE_TAIL, max(WIDE_PCT, readings.light_within_pct), readings.light_within_pct)
        exact = readings.light_within_pct <= BY_METER_PCT
        off = np.maximum(off, DIM_PCT) if readings.light < LIGHT_DIM else off
        spread = readings.light_within_pct if exact else off
        light = np.clip(readings.light * np.exp(ndtri(u[0]) * spread / 100.0), 0.02, 1500.0)
    usual = AIR + PER_LIGHT * light
    middle, spread = (usual, HEAT_OFF) if readings.temp_cell is None else (readings.temp_cell, HEAT_READ)
    return Draws(light, np.clip(middle + spread * ndtri(u[1]), -55.0, 105.0), u[2], u[3], u[4], u[6])


def _halton(count: int) -> Array:
    """Even points of several shares, open at both ends (share, draw)."""
    found = np.zeros((len(PRIMES), count))
    for row, base in zip(found, PRIMES, strict=True):
        left, part = np.arange(1, count + 1), 1.0 / base
        while left.any():
            left, digit = np.divmod(left, base)
            row += digit * part
            part /= base
    return found


@dataclass(frozen=True, eq=False)
class Expected:
    """The readings that each cause would give on one circuit of a rig.

    Parameters
    ----------
    rig : Rig
    number : int
        Which circuit, counted from 0.
    readings : FaultReadings
    """

    rig: Rig
    number: int
    readings: FaultReadings

    @cached_property
    def circuit(self) -> Circuit:
        """The circuit in question."""
        return self.rig.circuits[self.number]

    @cached_property
    def panels(self) -> tuple[Panel, ...]:
        """Its panels, string by string."""
        return tuple(self.rig.panels[panel] for panel in self.circuit.wiring.panels)

    @cached_property
    def strings(self) -> Strings:
        """Its strings, panels counted within the circuit."""
        numbers = iter(range(len(self.panels)))
        return tuple(tuple(next(numbers) for _ in string) for string in self.circuit.wiring.strings)

    @cached_property
    def draws(self) -> Draws:
        """What nobody knows."""
        return drawn(self.readings)

    @property
    def v_battery(self) -> float:
        """Battery volts as read, or as the file has them. [V]"""
        read = self.readings.v_battery
        return self.rig.battery.v_now if read is None else max(read, 0.1)

    def each(self) -> Iterator[Shown]:
        """Every cause that this circuit can have, worked out one after the other."""
        sound = self._as_it_should[0]
        yield self._charging()
        yield self._full(sound)
        yield from (self._idle(sound, cause) for cause in (DEAD, LINE))
        if self.rig.battery.is_lithium or self.circuit.controller.cold_cutoff:
            yield self._idle(sound, COLD)
        yield from self._open()
        yield self._short()
        yield self._plug()
        yield self._turned()
        yield self._leak()
        if self._groups_in_row > 1 and any(panel.bypass_diodes for panel in self.panels):
            yield self._lost()
            yield self._diode()
        yield from self._shaded()

    def all(self) -> list[Shown]:
        """Every cause that this circuit can have, with draws that belong to it."""
        return [one for one in self.each() if len(one.share)]

    def _even(self, rows: Array | slice = slice(None)) -> Conditions:
        """Even light of some draws."""
        return even_light(self.panels, self.draws.light[rows], self.draws.temp_cell[rows])

    def _sound(self) -> FaultyArray:
        """The circuit as the file has it."""
        return FaultyArray(self.panels, self._even(), self.circuit, self.strings)

    @cached_property
    def _groups_in_row(self) -> int:
        """Groups with a diode in the longest string."""
        return max(sum(self.panels[p].substrings for p in string) for string in self.strings)

    def _run(self, roof: FaultyArray, tracker: str | None = None) -> Operation:
        """Where the controller sits."""
        controller = self.circuit.controller
        early = max(controller.v_start_margin - START_OFF, controller.v_hold_margin)
        controller = replace(controller, v_start_margin=early, tracker=tracker or controller.tracker)
        label = operate(PVArray.of_curve(roof.curves), controller, self.v_battery)
        return self._asleep(weakened(label, dull_middle(self.panels, roof.light.brightest)), roof)

    def _asleep(self, now: Operation, roof: FaultyArray) -> Operation:
        """The same, asleep where volts are below a start margin that nobody knows exactly."""
        if self.circuit.controller.tracker == "direct":
            return now
        off = START_OFF * (2.0 * roof.of(self.draws.other) - 1.0)
        sleeps = (now.v_oc < self.v_battery + self.circuit.controller.v_start_margin + off) & (now.held_by != CEILING)
        held = np.where(sleeps & (now.v_oc > V_DARK), ASLEEP, now.held_by)
        v, idle = np.where(sleeps, now.v_oc, now.v_array), np.where(sleeps, 0.0, 1.0)
        return replace(now, v_array=v, i_array=idle * now.i_array, p_array=idle * now.p_array,
                       p_battery=idle * now.p_battery, held_by=held)  # fmt: skip

    def _values(self, roof: FaultyArray, now: Operation, tracker: str | None = None) -> dict[str, Array]:
        """What the meters show, where nothing but the roof is out of order."""
        v, i = now.v_array, now.i_array
        again = now if tracker is None else self._run(roof)
        return self._at(roof, v, i) | {"loaded": i, "restart": again.v_array}

    def _at(self, roof: FaultyArray, v: Array, i: Array) -> dict[str, Array]:
        """What the meters show with the controller at some volts and amps."""
        size = len(v)
        meets = v + i * (roof.r_line[:, 0])
        amps = np.stack([current_at(curve, meets[:, None])[0][:, 0] for curve in roof.each_string])
        amps = np.where(np.abs(i) > NONE, amps, amps - amps.mean(axis=0)) if len(amps) == 1 else amps
        alone = np.stack([open_circuit_voltage(curve) for curve in roof.each_string])
        missing = len(roof.strings) < len(self.strings)
        return {
            "volts": v, "amps": i, "watts": v * i, "loaded": i, "restart": v,
            "open": open_circuit_voltage(roof.curves),
            "string-amps": np.zeros(size) if missing else amps.min(axis=0),
            "string-volts": np.zeros(size) if missing else alone.min(axis=0),
            "panel-volts": roof.worst_panel(),
            "dusk": open_circuit_voltage(roof.faded(LIGHT_DUSK, TEMP_DUSK).curves),
            "light": roof.light.brightest,
            "terminals": np.full(size, self.v_battery), "battery": roof.of(self._battery()),
        }  # fmt: skip

    def _shown(self, cause: str, values: dict[str, Array], rows: Array | None = None) -> Shown:
        """What is shown, with the chances of what is seen and felt; `rows` are the draws that belong to it."""
        size = len(values["volts"])
        values = {name: np.full(size, chance) for name, chance in _seen(cause).items()} | values
        causes = np.full(size, cause, object)
        asleep, sound = self._sound_causes, self._sound_volts
        same = np.isin(asleep, (NO_SUN, ASLEEP_STILL)) & (values["amps"] <= NONE)
        same &= np.abs(values["volts"] - sound) < 0.1 * np.abs(sound) + 0.5
        causes[same] = asleep[same]
        stages = np.array([STAGE_CHANCES[_stage(c, i)] for c, i in zip(causes, values["amps"], strict=True)])
        keep = np.ones(size, bool) if rows is None else rows
        share = np.full(int(keep.sum()), 1.0 / max(int(keep.sum()), 1))
        return Shown(cause, causes[keep], {name: each[keep] for name, each in values.items()}, stages[keep], share)

    @cached_property
    def _as_it_should(self) -> tuple[FaultyArray, Operation]:
        """The sound rig and where its controller sits."""
        sound = self._sound()
        return sound, self._run(sound)

    @property
    def _sound_volts(self) -> Array:
        """Volts of the sound rig (draw,). [V]"""
        return self._as_it_should[1].v_array

    @cached_property
    def _sound_causes(self) -> Array:
        """What holds a sound rig in each draw (draw,)."""
        now = self._as_it_should[1]
        causes = np.full(len(now.held_by), NOTHING, object)
        floor = (now.held_by == WINDOW) & (now.p_array < (1 - LOSES) * now.p_best)
        for name, rows in (
            (LOW_FLOOR, floor), (LIMIT, now.held_by == CLIPPED), (ASLEEP_STILL, now.held_by == ASLEEP),
            (NO_SUN, np.isin(now.held_by, (DARK, OWN_DRAW)) | (self.draws.light < LIGHT_LEAST)),
            (OVER, now.held_by == CEILING),
        ):  # fmt: skip
            causes[rows] = name
        return causes

    def _charging(self) -> Shown:
        """A sound rig, its draws told apart by what holds the controller."""
        return replace(self._shown(NOTHING, self._values(*self._as_it_should)), causes=self._sound_causes)

    def _battery(self) -> Array:
        """Volts of a battery that is not held at a setting (draw,). [V]"""
        battery = self.rig.battery
        return np.interp(self.draws.other, [0, 1], [BATTERY_LEAST * battery.v_nominal, battery.v_absorption])

    def _full(self, sound: FaultyArray) -> Shown:
        """A battery that takes a part of what is offered."""
        now = self._run(sound)
        takes = np.exp(np.interp(self.draws.depth, [0, 1], np.log(TAKES)))
        given = dull_middle(self.panels, self.draws.light)
        charges = (now.i_array > NONE) & (now.p_battery > 0)
        v, i = now.v_array.copy(), now.i_array * takes
        if self.circuit.controller.tracker == "direct":
            v = now.v_oc - takes * (now.v_oc - v)
        elif charges.any():
            wants = takes * (now.v_array * now.i_array / given)
            curves = sound.curves.rows(charges)
            v[charges], label = backed_off(curves, v[charges], now.v_oc[charges], wants[charges])
            i[charges] = label * given[charges]
        held = np.where(self.draws.other < 0.5, self.rig.battery.v_absorption, held_float(self.rig.battery))
        values = self._at(sound, v, i) | {"loaded": now.i_array, "restart": v, "battery": held}
        return self._shown(FULL, values, charges)

    def _idle(self, sound: FaultyArray, cause: str) -> Shown:
        """Panels in order at open circuit, and nothing taken."""
        v = open_circuit_voltage(sound.curves)
        values = self._at(sound, v, np.zeros_like(v))
        if cause == LINE:
            # a meter at the controller's battery terminals sees what the controller holds up, mostly nothing
            values["terminals"] = np.where(self.draws.other < 0.75, 0.0, self.draws.size * self.v_battery)
        return self._shown(cause, values)

    def _kinds(self, keys: Sequence[object]) -> Iterable[tuple[int, Array]]:
        """One of each kind of panel or string, and the draws that fall to it."""
        first = {key: number for number, key in reversed(list(enumerate(keys)))}
        falls = np.minimum((self.draws.place * len(keys)).astype(int), len(keys) - 1)
        for key, number in sorted(first.items(), key=lambda pair: pair[1]):
            rows = np.isin(falls, [k for k, other in enumerate(keys) if other == key])
            if rows.any():
                yield number, rows

    def _string_keys(self) -> list[object]:
        """What makes strings alike."""
        return [tuple(nameless(self.panels[p]) for p in string) for string in self.strings]

    def _panel_keys(self) -> list[object]:
        """What makes panels alike, each in its string."""
        return [(nameless(self.panels[p]), tuple(nameless(self.panels[q]) for q in string))
                for string in self.strings for p in string]  # fmt: skip

    def _by_kind(self, keys: Sequence[object], made: Callable[[int, Array], dict[str, Array]]) -> dict[str, Array]:
        """Values of all draws, each from the kind that it falls to."""
        found: dict[str, Array] = {}
        for number, rows in self._kinds(keys):
            for name, values in made(number, rows).items():
                found.setdefault(name, np.zeros(len(self.draws)))[rows] = values
        return found

    def _open(self) -> list[Shown]:
        """One string's line open, by a plug or by its fuse; with one string, all of it."""
        fuses = string_fuse_sizes(self.rig, self.circuit)
        fused = any(size or size is None for size in fuses) or self.circuit.i_fuse_string is not None
        roof_fuse = bool(self.circuit.i_fuse_array or array_fuse_size(self.rig, self.circuit))
        if len(self.strings) == 1:
            return [self._no_line(OPEN), *[self._no_line(FUSE)] * (fused or roof_fuse)]

        def made(number: int, rows: Array) -> dict[str, Array]:
            left = tuple(string for k, string in enumerate(self.strings) if k != number)
            roof = FaultyArray(self.panels, self._even(rows), self.circuit, left, rows=rows)
            return self._values(roof, self._run(roof))

        values = self._by_kind(self._string_keys(), made)
        found = [self._shown(OPEN, values), *[self._shown(FUSE, values)] * fused]
        return [*found, *[self._no_line(FUSE)] * (roof_fuse and not fused)]

    def _no_line(self, cause: str) -> Shown:
        """Nothing arrives at the controller; in half of all draws, and always with a fuse, it does at the isolator."""
        sound = self._sound()
        nothing = np.zeros(len(self.draws))
        values = self._at(sound, nothing, nothing)
        roof_side = values["open"] * (1.0 if cause == FUSE else (self.draws.other < 0.5))
        values |= {"open": roof_side, "string-volts": roof_side, "dusk": values["dusk"] * (roof_side > 0)}
        return self._shown(cause, values | {"string-amps": nothing})

    def _short(self) -> Shown:
        """Plus and minus touch: in half of all draws on the roof, in the others at the controller, behind the clamp."""
        roof = self._as_it_should[0]
        size, at_box = len(self.draws), self.draws.place < 0.5
        full = short_circuit_current(roof.curves)
        each = np.stack([short_circuit_current(curve) for curve in roof.each_string]).min(axis=0)
        volts = V_SHORT * self.draws.size
        values = self._at(roof, volts, np.zeros(size))
        values |= {
            "amps": np.where(at_box, full, 0.0),
            "string-amps": each,
            "dusk": np.where(at_box, values["dusk"], 0.0),
        }
        values |= {"watts": volts * values["amps"], "loaded": values["amps"], "string-volts": np.zeros(size)}
        return self._shown(SHORT, values | {"open": np.where(at_box, values["open"], 0.0)})

    def _plug(self) -> Shown:
        """A joint of some ohms, in the roof cable or in one of several strings."""
        v = max(sum(self.panels[p].v_mp for p in string) for string in self.strings)
        amps = [max(self.panels[p].i_mp for p in string) for string in self.strings]
        ohms = 10.0 ** np.interp(self.draws.size, [0, 1], OHMS)
        in_cable = (self.draws.place < 0.5) | (len(self.strings) == 1)
        roof = replace(
            self._sound(), r_roof=np.where(in_cable, ohms * v / sum(amps), 0.0),
            r_string=np.where(in_cable, 0.0, ohms * v / amps[0]),
        )  # fmt: skip
        now = self._run(roof)
        values = self._values(roof, now)
        through = np.where(in_cable, now.i_array, values["string-amps"])
        heat = through**2 * (roof.r_roof + roof.r_string)
        return self._shown(PLUG, values | {"plugs": np.where(heat > P_WARM, BROWNED, BROWNED_FALSELY)})

    def _turned(self) -> Shown:
        """One panel the wrong way round."""

        def made(number: int, rows: Array) -> dict[str, Array]:
            even = self._even(rows)
            own = (1.0 + UNLIKE * (self.draws.size[rows] - 0.5))[:, None, None, None]
            light = tuple(one * own if k == number else one for k, one in enumerate(even.light))
            roof = FaultyArray(
                self.panels, replace(even, light=light), self.circuit, self.strings, turned=number, rows=rows
            )
            return self._values(roof, self._run(roof))

        return self._shown(TURNED, self._by_kind(self._panel_keys(), made))

    def _leak(self) -> Shown:
        """One panel with a leak, small or large."""

        def made(number: int, rows: Array) -> dict[str, Array]:
            panel = self.panels[number]
            ohms = 10.0 ** np.interp(self.draws.size[rows], [0, 1], LEAKS) * panel.v_mp / panel.i_mp
            roof = FaultyArray(
                self.panels, self._even(rows), self.circuit, self.strings, leaky=number, r_leak=ohms, rows=rows
            )
            return self._values(roof, self._run(roof))

        return self._shown(LEAK, self._by_kind(self._panel_keys(), made))

    def _fallen(self) -> Array:
        """The panel that each draw falls to (draw,)."""
        return np.minimum((self.draws.place * len(self.panels)).astype(int), len(self.panels) - 1)

    def _dimmed(self, lets: Array, which: Array, rows: Array | slice = slice(None), *, groups: bool) -> Conditions:
        """Light of some draws with a group, a panel or a part of every panel dimmed."""
        even = self._even(rows)
        light = [one.copy() for one in even.light]
        for row, (panel, size, let) in enumerate(zip(which, self.draws.size[rows], lets, strict=True)):
            if groups or size < ONE_GROUP:
                light[panel][row, int(size * 97) % self.panels[panel].substrings] *= let
            elif size < ONE_PANEL:
                light[panel][row] *= let
            else:
                for each in light:
                    each[row, 0] *= let
        return replace(even, light=tuple(light))

    def _lost(self) -> Shown:
        """A group that gives nothing and is bypassed."""
        dim = self._dimmed(np.zeros(len(self.draws)), self._fallen(), groups=True)
        roof = replace(self._sound(), light=dim)
        return self._shown(LOST, self._lit(self._values(roof, self._run(roof))))

    def _lit(self, values: dict[str, Array]) -> dict[str, Array]:
        """The same with the light that lies on all that is not shaded."""
        return values | {"light": self.draws.light}

    def _diode(self) -> Shown:
        """A shaded group whose diode is open; of equal panels the first stands for all."""

        def made(number: int, rows: Array) -> dict[str, Array]:
            lets = SHADE_DEEP * self.draws.depth[rows]
            dim = self._dimmed(lets, np.full(len(lets), number), rows, groups=True)
            panels = tuple(replace(p, bypass_diodes=False) if k == number else p for k, p in enumerate(self.panels))
            roof = FaultyArray(panels, dim, self.circuit, self.strings, rows=rows)
            return self._values(roof, self._run(roof))

        return self._shown(DIODE, self._lit(self._by_kind(self._panel_keys(), made)))

    def _shaded(self) -> list[Shown]:
        """Shade, and a tracker that stays on a lower hill in it."""
        lets = np.interp(self.draws.depth, [0, 1], SHADE_LETS)
        roof = replace(self._sound(), light=self._dimmed(lets, self._fallen(), groups=False))
        tracker = self.circuit.controller.tracker
        now = self._run(roof)
        keeps = (now.held_by != LOWER_HILL) | (now.i_array <= NONE)
        found = [self._shown(SHADE, self._lit(self._values(roof, now)), keeps)]
        if tracker == "direct":
            return found
        stuck = now if tracker == "climb" else self._run(roof, "climb")
        best = self._run(roof, "sweep")
        values = self._lit(self._values(roof, stuck)) | {"restart": best.v_array}
        lower = (stuck.held_by == LOWER_HILL) & (stuck.i_array > NONE) & (best.p_array > HIGHER * stuck.p_array)
        return [*found, self._shown(HILL, values, lower)]


def _seen(cause: str) -> dict[str, float]:
    """Chances of a yes under a cause."""
    return {
        "shade": LOOKS.get(cause, SEEN_FALSELY), "plugs": BROWNED_FALSELY,
        "cable": TELLS if cause == SHORT else 1.0 - TELLS,
        "fuse": TELLS if cause == FUSE else 1.0 - TELLS, "cold": TELLS if cause == COLD else 1.0 - TELLS,
    }  # fmt: skip


def _stage(cause: str, amps: float) -> str:
    """Which row of `STAGE_CHANCES` speaks of it."""
    return cause if cause in STAGE_CHANCES else "charging" if amps > NONE else "dark"
