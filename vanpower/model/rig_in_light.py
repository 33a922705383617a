"""The model of one rig in given conditions: its arrays, the operating points of its controllers, every lost watt.

Whatever needs the behaviour of a rig in some light asks here. A model computes what it is asked for. It keeps results
but not the light of a request, so that comparisons of many days fit in memory.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property, reduce

import numpy as np

from vanpower.components.controllers import Operation, weakened
from vanpower.model.arrays import PVArray
from vanpower.model.conditions import Conditions
from vanpower.model.light import (
    LitPanels,
    Progress,
    lit_panels,
    run_at_volts,
    run_circuit,
    shaded,
    title_of,
    uneven,
)
from vanpower.model.losses import LOSSES, booked, share_of_label
from vanpower.results.numbers import known_in
from vanpower.rig import Circuit, Request, Rig

Array = np.ndarray

RESULTS = ("by_label", "shares", "operations", "lost", "p_panels", "brightest", "step_h")
# what a model keeps once it is worked out


@dataclass(frozen=True, eq=False, repr=False)
class RigModel:
    """One rig in given conditions, with its battery at its present voltage.

    Parameters
    ----------
    rig : Rig
    asked : Conditions, Snapshot, Days or Parked
    lit : LitPanels, optional
        Its panels in that light, where they are at hand.
    progress : callable, optional
        Wraps what each circuit is worked through in, as `tqdm.auto.tqdm` does.

    Notes
    -----
    In dull light, panels known by their label alone are taken as the middle of measured ones; `by_label` and `array`
    take them as their labels say. Methods take a circuit by its number, counted from 0, or as a `Circuit`, such as the
    same one with another cable.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> noon = rig_model(example("bookmobile"), Snapshot(light=1000, temp_cell=25))
    >>> noon
    Bookmobile, two small panels, at 1000 W/m² and cells at 25 °C: 208 W into the battery
    >>> [round(float(watts[0]), 1) for watts in (noon.p_panels, noon.lost["cable"], noon.p_battery)]
    [219.0, 6.4, 207.5]
    """

    rig: Rig
    asked: Conditions | Request
    lit: LitPanels | None = None
    progress: Progress | None = None

    def __post_init__(self) -> None:
        if self.lit is None and isinstance(self.asked, Conditions):
            object.__setattr__(self, "lit", lit_panels(self.rig.panels, self.asked))

    def __repr__(self) -> str:
        asked = self.asked
        light = f"{len(asked)} moments" if isinstance(asked, Conditions) else title_of(asked)
        energy = float(self.p_battery.sum()) * self.step_h
        unit = "W" if len(self.p_battery) == 1 else "Wh"
        return f"{self.rig.name}, {light}: {known_in(energy, unit)} into the battery"

    @property
    def light(self) -> LitPanels:
        """Its panels in their light, before any wiring."""
        return lit_panels(self.rig.panels, self.asked, self.rig.roof) if self.lit is None else self.lit

    def complete(self) -> RigModel:
        """The model with its results worked out, so that it may be kept when its light is not."""
        beside = replace(self, lit=self.light)
        self.__dict__.update({name: getattr(beside, name) for name in RESULTS})
        return self

    def array(self, circuit: Circuit | int = 0) -> PVArray:
        """The array of one circuit, behind its cable, in the first `CHUNK` moments at most."""
        return self.light.array(0, self._circuit(circuit))

    def v_oc(self, circuit: Circuit | int = 0) -> Array:
        """Open-circuit volts of one circuit at its controller's terminals (moment,). [V]"""
        light, wired = self.light, self._circuit(circuit)
        return np.concatenate([light.source(k, wired).v_oc for k in range(len(light))])

    def operation(
        self,
        circuit: Circuit | int = 0,
        v_battery: float | None = None,
        *,
        awake: bool = False,
        by_label: bool = False,
    ) -> Operation:
        """Operating points of one circuit's controller (moment,).

        Parameters
        ----------
        circuit : int or Circuit
            By its number, counted from 0, or itself.
        v_battery : float, optional
            Battery voltage; the rig's own where it is not given. [V]
        awake : bool
            Whether the controller was charging before the first moment.
        by_label : bool
            Take panels as their labels alone say.

        Returns
        -------
        Operation

        Raises
        ------
        ValueError
            For a circuit that the rig does not have.
        """
        light, wired = self.light, self._circuit(circuit)
        volts = self.rig.battery.v_now if v_battery is None else v_battery
        found = run_circuit(light, wired, volts, awake=awake, progress=self.progress)
        return found if by_label else weakened(found, share_of_label(wired, light))

    def at_volts(self, circuit: Circuit | int, v_battery: Sequence[float]) -> list[tuple[Operation, Operation]]:
        """Operating points of one circuit's controller at several battery volts: of typical panels, and by label."""
        light, wired = self.light, self._circuit(circuit)
        share = share_of_label(wired, light)
        return [(weakened(found, share), found) for found in run_at_volts(light, wired, v_battery)]

    def shaded(self, circuit: Circuit | int = 0) -> bool:
        """Whether shade may fall on the panels of one circuit; conditions tell it by cells that differ."""
        wired = self._circuit(circuit)
        if isinstance(self.asked, Conditions):
            return any(uneven(self.asked.light[panel]) for panel in wired.wiring.panels)
        return shaded(self.rig, wired, self.asked)

    @cached_property
    def by_label(self) -> tuple[Operation, ...]:
        """Operating points of every circuit's controller, with panels as their labels alone say."""
        return tuple(self.operation(circuit, by_label=True) for circuit in self.rig.circuits)

    @cached_property
    def shares(self) -> tuple[Array, ...]:
        """What each circuit's panels give, as a share of their labels' curve (moment,)."""
        light = self.light
        return tuple(share_of_label(circuit, light) for circuit in self.rig.circuits)

    @cached_property
    def operations(self) -> tuple[Operation, ...]:
        """Operating points of every circuit's controller."""
        return tuple(weakened(*pair) for pair in zip(self.by_label, self.shares, strict=True))

    @cached_property
    def lost(self) -> Mapping[str, Array]:
        """Watts lost by the names in `LOSSES`, each (moment,); with `p_battery` they add up to `p_panels`."""
        light = self.light
        each = [
            booked(now, by_label, share, circuit, light, self.shaded(circuit))
            for now, by_label, share, circuit in zip(
                self.operations, self.by_label, self.shares, self.rig.circuits, strict=True
            )
        ]
        return {name: reduce(np.add, [part[name] for part in each]) for name in LOSSES}

    @cached_property
    def p_panels(self) -> Array:
        """Maximum power of each panel by itself, without shade, by label, summed (moment,). [W]"""
        used = [panel for circuit in self.rig.circuits for panel in circuit.wiring.panels]
        return self.light.p_clear[:, used].sum(axis=1)

    @property
    def p_array(self) -> Array:
        """Power that the trackers would take if the battery accepted all of it (moment,). [W]"""
        return np.sum([operation.p_array for operation in self.operations], axis=0)

    @property
    def p_battery(self) -> Array:
        """Into the battery, all circuits (moment,). [W]"""
        return np.sum([operation.p_battery for operation in self.operations], axis=0)

    @cached_property
    def brightest(self) -> Array:
        """Light on the best lit cell of all panels (moment,). [W/m²]"""
        return self.light.conditions.brightest

    @cached_property
    def step_h(self) -> float:
        """Hours that each moment stands for."""
        return self.light.conditions.step_h

    def _circuit(self, circuit: Circuit | int) -> Circuit:
        """A circuit by its number."""
        if isinstance(circuit, Circuit):
            return circuit
        if not 0 <= circuit < len(self.rig.circuits):
            raise ValueError(f"circuit {circuit}: {self.rig.name} has {len(self.rig.circuits)}, counted from 0.")
        return self.rig.circuits[circuit]


def rig_model(rig: Rig, asked: Conditions | Request) -> RigModel:
    """The model of one rig in given conditions: power, volts, amps and every loss, computed when asked for.

    Parameters
    ----------
    rig : Rig
    asked : Conditions, Snapshot, Days or Parked
        Conditions made by hand, a moment, or days.

    Returns
    -------
    RigModel

    Raises
    ------
    ValueError
        For a shade note of a panel, group or cell that is not there, or a day that cannot be found.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> dull = rig_model(example("bookmobile"), Snapshot(light=100, temp_cell=15))
    >>> [round(float(operation.p_battery[0]), 1) for operation in (*dull.operations, *dull.by_label)]
    [18.5, 20.7]
    >>> round(float(dull.operation(v_battery=14.4).v_array[0]), 1), round(float(dull.v_oc()[0]), 1)
    (18.3, 21.1)
    """
    return RigModel(rig, asked)
