"""What meters would show under each cause: the rig's own model, drawn many times over all that nobody knows.

Light, heat of the cells, which panel and how bad come from `draws`, each meter is worked out when it is asked for. A
sound rig is one cause whose draws are told apart by what holds the controller, as `components.controllers` says it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, partial

import numpy as np

from vanpower.checks.fuses import string_fuse_sizes
from vanpower.checks.parts import array_fuse_size
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
from vanpower.trials.faults.draws import Draws, Points, drawn, first_points
from vanpower.trials.faults.meters import Meters, Shown
from vanpower.trials.faults.readings import STAGES_SHOWN, FaultReadings

Array = np.ndarray

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
SAME, SAME_DARK = (0.1, 0.5), 0.4
# share and volts by which a rig that sleeps may miss a sound one's and still show the same; share with no sun, where
# leaks too small for any label decide; no source
NONE = 1e-3
# [A] less is no current


@dataclass(frozen=True, eq=False)
class Expected:
    """The readings that each cause would give on one circuit of a rig.

    Parameters
    ----------
    rig : Rig
    number : int
        Which circuit, counted from 0.
    readings : FaultReadings
    points : Points, optional
        What is drawn; even ones where it is not given.
    """

    rig: Rig
    number: int
    readings: FaultReadings
    points: Points | None = None

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
        return drawn(self.readings, self.points or first_points(self.readings))

    @property
    def v_battery(self) -> float:
        """Battery volts as read, or as the file has them. [V]"""
        read = self.readings.v_battery
        return self.rig.battery.v_now if read is None else max(read, 0.1)

    def families(self) -> dict[str, Callable[[Expected], Shown]]:
        """Every cause that this circuit can have, and how it is worked out."""
        cools = self.rig.battery.is_lithium or self.circuit.controller.cold_cutoff is not False
        groups = self._groups_in_row > 1 and any(panel.bypass_diodes for panel in self.panels)
        found: dict[str, Callable[[Expected], Shown]] = {NOTHING: Expected._charging, FULL: Expected._full}
        found |= {cause: partial(Expected._idle, cause=cause) for cause in (DEAD, LINE, *[COLD] * cools)}
        found |= {OPEN: Expected._open, **({FUSE: Expected._fuse} if self._fused or self._roof_fused else {})}
        found |= {SHORT: Expected._short, PLUG: Expected._plug, TURNED: Expected._turned, LEAK: Expected._leak}
        found |= {LOST: Expected._lost, DIODE: Expected._diode} if groups else {}
        hills = {} if self.circuit.controller.tracker == "direct" else {HILL: Expected._hill}
        return found | {SHADE: Expected._shade} | hills

    def shown(self, family: str) -> Shown:
        """What one of them would show."""
        return self.families()[family](self)

    def all(self) -> list[Shown]:
        """Every cause that this circuit can have, with draws that belong to it."""
        every = (made(self) for made in self.families().values())
        return [one for one in every if len(one.share)]

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

    def _values(self, roof: FaultyArray, now: Operation) -> Meters:
        """What the meters show, where nothing but the roof is out of order."""
        return self._at(roof, now.v_array, now.i_array)

    def _at(self, roof: FaultyArray, v: Array, i: Array) -> Meters:
        """What the meters show with the controller at some volts and amps."""
        size = len(v)

        def string_amps() -> Array:
            meets = v + i * (roof.r_line[:, 0])
            amps = np.stack([current_at(curve, meets[:, None])[0][:, 0] for curve in roof.each_string])
            amps = np.where(np.abs(i) > NONE, amps, amps - amps.mean(axis=0)) if len(amps) == 1 else amps
            return np.zeros(size) if missing else amps.min(axis=0)

        def string_volts() -> Array:
            alone = np.stack([open_circuit_voltage(curve) for curve in roof.each_string])
            return np.zeros(size) if missing else alone.min(axis=0)

        missing = len(roof.strings) < len(self.strings)
        return Meters({
            "volts": v, "amps": i, "watts": v * i, "loaded": i, "restart": v,
            "open": lambda: open_circuit_voltage(roof.curves), "string-amps": string_amps, "string-volts": string_volts,
            "panel-volts": roof.worst_panel,
            "dusk": lambda: open_circuit_voltage(roof.faded(LIGHT_DUSK, TEMP_DUSK).curves),
            "light": roof.light.brightest,
            "terminals": np.full(size, self.v_battery), "battery": lambda: roof.of(self._battery()),
        })  # fmt: skip

    def _shown(self, cause: str, values: Meters, keep: Array | None = None) -> Shown:
        """What is shown, with the chances of what is seen and felt; `keep` are the draws that belong to it."""
        size = len(self.draws)
        values = Meters({name: np.full(size, chance) for name, chance in _seen(cause).items()}) | values
        causes = np.full(size, cause, object)
        asleep, sound = self._sound_causes, self._sound_volts
        same = np.isin(asleep, (NO_SUN, ASLEEP_STILL)) & (values["amps"] <= NONE)
        wanders = np.where(self.draws.light < LIGHT_LEAST, SAME_DARK, SAME[0])
        same &= np.abs(values["volts"] - sound) < wanders * np.abs(sound) + SAME[1]
        causes[same] = asleep[same]
        # whatever else is wrong: a controller above its ceiling takes nothing
        causes[values["volts"] > self.circuit.controller.v_pv_max] = OVER
        rows = np.flatnonzero(np.ones(size, bool) if keep is None else keep)
        stages = [STAGE_CHANCES[_stage(causes[k], values["amps"][k])] for k in rows]
        share = self.draws.weight[rows] / size
        return Shown(
            cause, causes[rows], values.of(rows), np.reshape(stages, (len(rows), len(STAGES_SHOWN))), rows, share
        )

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

    def _full(self) -> Shown:
        """A battery that takes a part of what is offered."""
        sound, now = self._as_it_should
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
        values = self._at(sound, v, i) | {"loaded": now.i_array, "battery": held}
        return self._shown(FULL, values, charges)

    def _idle(self, cause: str) -> Shown:
        """Panels in order at open circuit, and nothing taken."""
        sound = self._as_it_should[0]
        v = open_circuit_voltage(sound.curves)
        values = self._at(sound, v, np.zeros_like(v))
        if cause == LINE:
            # a meter at the controller's battery terminals sees what the controller holds up, mostly nothing
            held_up = np.where(self.draws.other < 0.75, 0.0, self.draws.size * self.v_battery)
            values |= {"terminals": held_up}
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

    def _by_kind(self, keys: Sequence[object], made: Callable[[int, Array], Meters]) -> Meters:
        """Values of all draws, each from the kind that it falls to."""
        return Meters.pieced(len(self.draws), [(rows, made(number, rows)) for number, rows in self._kinds(keys)])

    @cached_property
    def _fused(self) -> bool:
        """Whether each string has a fuse, or should have."""
        sizes = string_fuse_sizes(self.rig, self.circuit)
        return any(size or size is None for size in sizes) or self.circuit.i_fuse_string is not None

    @cached_property
    def _roof_fused(self) -> bool:
        """Whether all panels share a fuse, or should."""
        return bool(self.circuit.i_fuse_array or array_fuse_size(self.rig, self.circuit))

    @cached_property
    def _less_a_string(self) -> Meters:
        """One of several strings gone."""

        def made(number: int, rows: Array) -> Meters:
            left = tuple(string for k, string in enumerate(self.strings) if k != number)
            roof = FaultyArray(self.panels, self._even(rows), self.circuit, left, rows=rows)
            return self._values(roof, self._run(roof))

        return self._by_kind(self._string_keys(), made)

    def _open(self) -> Shown:
        """One string's line open at a plug; with one string, all of it."""
        return self._no_line(OPEN) if len(self.strings) == 1 else self._shown(OPEN, self._less_a_string)

    def _fuse(self) -> Shown:
        """The same by a fuse; where strings have none, by the one of the whole roof."""
        one_string = self._fused and len(self.strings) > 1
        return self._shown(FUSE, self._less_a_string) if one_string else self._no_line(FUSE)

    def _no_line(self, cause: str) -> Shown:
        """Nothing arrives at the controller; in half of all draws, and always with a fuse, it does at the isolator."""
        sound = self._as_it_should[0]
        nothing = np.zeros(len(self.draws))
        values = self._at(sound, nothing, nothing)
        roof_side = values["open"] * (1.0 if cause == FUSE else (self.draws.other < 0.5))
        arrives = values | {"dusk": partial(_where, roof_side > 0, values, "dusk")}
        return self._shown(cause, arrives | {"open": roof_side, "string-volts": roof_side, "string-amps": nothing})

    def _short(self) -> Shown:
        """Plus and minus touch: in half of all draws on the roof, in the others at the controller, behind the clamp."""
        roof = self._as_it_should[0]
        size, at_box = len(self.draws), self.draws.place < 0.5
        full = short_circuit_current(roof.curves)
        each = np.stack([short_circuit_current(curve) for curve in roof.each_string]).min(axis=0)
        volts = V_SHORT * self.draws.size
        amps = np.where(at_box, full, 0.0)
        sound = self._at(roof, volts, amps)
        values = sound | {"string-amps": each, "string-volts": np.zeros(size)}
        values |= {name: partial(_where, at_box, sound, name) for name in ("open", "dusk")}
        return self._shown(SHORT, values)

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

        def plugs() -> Array:
            through = np.where(in_cable, now.i_array, values["string-amps"])
            heat = through**2 * (roof.r_roof + roof.r_string)
            return np.where(heat > P_WARM, BROWNED, BROWNED_FALSELY)

        return self._shown(PLUG, values | {"plugs": plugs})

    def _turned(self) -> Shown:
        """One panel the wrong way round."""

        def made(number: int, rows: Array) -> Meters:
            even = self._even(rows)
            own = (1.0 + UNLIKE * _unlike(self.draws.size[rows]))[:, None, None, None]
            light = tuple(one * own if k == number else one for k, one in enumerate(even.light))
            roof = FaultyArray(
                self.panels, replace(even, light=light), self.circuit, self.strings, turned=number, rows=rows
            )
            return self._values(roof, self._run(roof))

        return self._shown(TURNED, self._by_kind(self._panel_keys(), made))

    def _leak(self) -> Shown:
        """One panel with a leak, small or large."""

        def made(number: int, rows: Array) -> Meters:
            panel = self.panels[number]
            ohms = 10.0 ** np.interp(self.draws.size[rows], [0, 1], LEAKS) * panel.v_mp / panel.i_mp
            roof = FaultyArray(
                self.panels, self._even(rows), self.circuit, self.strings, leaky=number, r_leak=ohms, rows=rows
            )
            return self._values(roof, self._run(roof))

        return self._shown(LEAK, self._by_kind(self._panel_keys(), made))

    def _fallen(self) -> Array:
        """The panel that each draw falls to (draw,); of equal ones in equal strings the first stands for all."""
        fallen = np.zeros(len(self.draws), int)
        for number, rows in self._kinds(self._panel_keys()):
            fallen[rows] = number
        return fallen

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

    def _lit(self, values: Meters) -> Meters:
        """The same with the light that lies on all that is not shaded."""
        return values | {"light": self.draws.light}

    def _diode(self) -> Shown:
        """A shaded group whose diode is open; of equal panels the first stands for all."""

        def made(number: int, rows: Array) -> Meters:
            lets = SHADE_DEEP * self.draws.depth[rows]
            dim = self._dimmed(lets, np.full(len(lets), number), rows, groups=True)
            panels = tuple(replace(p, bypass_diodes=False) if k == number else p for k, p in enumerate(self.panels))
            roof = FaultyArray(panels, dim, self.circuit, self.strings, rows=rows)
            return self._values(roof, self._run(roof))

        return self._shown(DIODE, self._lit(self._by_kind(self._panel_keys(), made)))

    @cached_property
    def _in_shade(self) -> tuple[FaultyArray, Operation]:
        """The roof with something shaded, and where the controller sits."""
        lets = np.interp(self.draws.depth, [0, 1], SHADE_LETS)
        roof = replace(self._sound(), light=self._dimmed(lets, self._fallen(), groups=False))
        return roof, self._run(roof)

    def _shade(self) -> Shown:
        """Shade, and a tracker that finds the best in it."""
        roof, now = self._in_shade
        keeps = (now.held_by != LOWER_HILL) | (now.i_array <= NONE)
        return self._shown(SHADE, self._lit(self._values(roof, now)), keeps)

    def _hill(self) -> Shown:
        """A tracker that stays on a lower hill in it."""
        roof, now = self._in_shade
        stuck = now if self.circuit.controller.tracker == "climb" else self._run(roof, "climb")
        best = self._run(roof, "sweep")
        values = self._lit(self._values(roof, stuck)) | {"restart": best.v_array}
        lower = (stuck.held_by == LOWER_HILL) & (stuck.i_array > NONE) & (best.p_array > HIGHER * stuck.p_array)
        return self._shown(HILL, values, lower)


def _unlike(size: Array) -> Array:
    """How far a panel differs from its like, from -0.5 to 0.5: in half of all draws not at all."""
    return np.where(size < 0.5, 0.0, 2.0 * size - 1.5)


def _where(rows: Array, values: Meters, name: str) -> Array:
    """A reading where it arrives, nothing elsewhere."""
    return np.where(rows, values[name], 0.0)


def _seen(cause: str) -> dict[str, float]:
    """Chances of a yes under a cause."""
    return {
        "shade": LOOKS.get(cause, SEEN_FALSELY), "plugs": BROWNED_FALSELY,
        "cable": TELLS if cause == SHORT else 1.0 - TELLS, "polarity": TELLS if cause == TURNED else 1.0 - TELLS,
        "diodes": TELLS if cause == DIODE else 1.0 - TELLS,
        "fuse": TELLS if cause == FUSE else 1.0 - TELLS, "cold": TELLS if cause == COLD else 1.0 - TELLS,
    }  # fmt: skip


def _stage(cause: str, amps: float) -> str:
    """Which row of `STAGE_CHANCES` speaks of it."""
    return cause if cause in STAGE_CHANCES else "charging" if amps > NONE else "dark"
