"""The whole van, and the same van with something changed."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from vanpower.rig.circuits import Cable, Circuit, Controller, Wiring
from vanpower.rig.fields import Description, joined, part, require, text, twice_used, word
from vanpower.rig.house import Battery, Climate, Load
from vanpower.rig.panels import Panel, nameless
from vanpower.rig.requests import Shade
from vanpower.rig.roof import Fixture, Roof, check_roof, lack_of_lying
from vanpower.rig.sources import Inverter, Source
from vanpower.rig.wirings import equal_strings, parse_wiring

RULE_BOOKS = ("IEC", "US")
RULE_SLIPS = {"nec": 'The National Electrical Code is "US".', "bs": 'British rules follow "IEC".'}


class Rig(Description):
    """A van's installation: panels, battery, climate, a circuit for each controller, loads, roof, other sources.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> len(rig.panels), rig.circuits[0].wiring.name
    (2, '2p')
    """

    name: str = text("what charts call it")
    source: str = text("where the numbers come from")
    panels: tuple[Panel, ...] = part("the panels on the roof")
    battery: Battery = part("the house battery")
    climate: Climate = part("the coldest and hottest it meets")
    circuits: tuple[Circuit, ...] = part("what hangs on each controller")
    loads: tuple[Load, ...] = part("what draws from the battery every day", default=())
    rule_book: str = word(RULE_BOOKS, '"IEC" or "US": whose wiring rules decide', default="IEC", slips=RULE_SLIPS)
    roof: Roof | None = part("the roof from above", default=None)
    sources: tuple[Source, ...] = part("what charges the battery besides the sun", default=())
    inverter: Inverter | None = part("what makes mains volts for some of the loads", default=None)

    def together(self) -> None:
        """Check that circuits use panels that exist, each at most once, and that the roof suits the panels.

        Raises
        ------
        ValueError
            Where it is not so.
        """
        for field, what in (("panels", "one panel"), ("circuits", "one circuit with a controller")):
            value = getattr(self, field)
            filled = isinstance(value, tuple) and bool(value)
            require(filled, self, field, f"a rig has a tuple of at least {what}", "One alone is (it,), with a comma.")
        listed = isinstance(self.loads, tuple) and all(isinstance(load, Load) for load in self.loads)
        require(listed, self, "loads", "it is a tuple of loads", "One alone is (it,), with a comma.")
        known = isinstance(self.sources, tuple) and all(isinstance(one, Source) for one in self.sources)
        require(known, self, "sources", "it is a tuple of sources", "One alone is (it,), with a comma.")
        self._check_mains()
        used = tuple(panel for circuit in self.circuits for panel in circuit.wiring.panels)
        twice = twice_used(used)
        if twice:
            raise ValueError(f"Rig.circuits use {twice} twice; each panel belongs to one circuit.")
        if max(used) >= len(self.panels):
            has = "there is 1 panel" if len(self.panels) == 1 else f"there are {len(self.panels)} panels"
            raise ValueError(f"Rig.circuits name P{max(used) + 1}, and {has}; panels count from P1.")
        if self.roof is not None:
            check_roof(self.roof, self.panels)

    def _check_mains(self) -> None:
        """Refuse loads on mains volts without an inverter, or with one that is too small."""
        for load in self.loads:
            if load.mains and self.inverter is None:
                raise ValueError(f"Rig.loads: {load.name} runs on mains volts; add an inverter ([inverter]).")
            most = max(load.p_hourly or (load.p_load or 0.0,))
            if load.mains and self.inverter and self.inverter.p_out_max and most > self.inverter.p_out_max:
                gives = f"{self.inverter.name} gives {self.inverter.p_out_max:g} W"
                raise ValueError(f"Rig.loads: {load.name} takes {most:g} W, and {gives}.")

    @property
    def wiring_name(self) -> str:
        """How the panels are wired, controller by controller, as answers name it.

        Examples
        --------
        >>> from vanpower import example
        >>> example("bookmobile").wiring_name, example("kiln-bus").wiring_name
        ('2p', '2s + 2s')
        """
        return " + ".join(circuit.wiring.name for circuit in self.circuits)

    @property
    def circuits_told(self) -> str:
        """Which controller has which panels, by the numbers that commands count them with.

        Examples
        --------
        >>> from vanpower import example
        >>> example("kiln-bus").circuits_told
        'controller 1 is generic-80v-20a with P1+P2, 2 is generic-60v-10a with P3+P4'
        """
        each = (f"{k} is {one.controller.name} with {one.wiring.grouping}" for k, one in enumerate(self.circuits, 1))
        return f"controller {', '.join(each)}"

    def circuit_first(self, circuit: int) -> Rig:
        """The rig with one of its circuits told before the others, such as the one whose wiring is in question.

        Examples
        --------
        >>> from vanpower import example
        >>> [one.controller.v_pv_max for one in example("kiln-bus").circuit_first(1).circuits]
        [60.0, 80.0]
        """
        first = self._circuit(circuit)
        others = tuple(one for one in self.circuits if one is not first)
        return self.changed(circuits=(first, *others))

    def need_roof(self) -> Roof:
        """The roof of the rig.

        Raises
        ------
        ValueError
            For a rig without a roof, which cannot say where shade falls, and for one of which no panel lies flat.

        Examples
        --------
        >>> from vanpower import example
        >>> [fixture.name for fixture in example("goat-cheese-van").need_roof().fixtures]
        ['vent', 'vent lid', 'roof box', 'flue', 'aerial', 'trees in the east']
        """
        if lack := lack_of_lying(self.panels):
            raise ValueError(f"{self.name}: this needs {lack}.")
        if self.roof is None:
            raise ValueError(f"{self.name} has no roof; add [roof], [[roof.spots]] and [[roof.fixtures]] to its file.")
        return self.roof

    def with_panels(self, *panels: Panel, only: Sequence[int] = (), **changes: Any) -> Rig:
        """The rig with other panels, or with fields of its own panels changed.

        Parameters
        ----------
        *panels : Panel
            The new panels, all of them; without any, those there are keep their place and are changed.
        only : sequence of int, optional
            Which panels to change, counted from 0; all where it is not given.
        **changes
            Fields of `Panel` and their new values.

        Examples
        --------
        >>> from vanpower import example
        >>> rig = example("bookmobile")
        >>> [panel.r_leak for panel in rig.with_panels(only=[0], r_leak=30.0).panels]
        [30.0, None]
        >>> rig.with_panels(rig.panels[1], rig.panels[1]).panels[0] is rig.panels[1]
        True
        """
        strange = next((number for number in only if not 0 <= number < len(self.panels)), None)
        if strange is not None:
            raise ValueError(f"there is no panel {strange}; panels count from 0 to {len(self.panels) - 1} here.")
        several = panels or self.panels
        chosen = only or range(len(several))
        made = tuple(one.changed(**changes) if k in chosen else one for k, one in enumerate(several))
        return self.changed(panels=made)

    def with_one_more_panel(self, *, circuit: int = 0) -> Rig:
        """The rig with the last panel of a circuit added once more, and that circuit's panels all in parallel.

        Choose a wiring for it with `wired` or `wirings`.

        Examples
        --------
        >>> from vanpower import example
        >>> example("bookmobile").with_one_more_panel().circuits[0].wiring.strings
        ((0,), (1,), (2,))
        """
        own = (*sorted(self._circuit(circuit).wiring.panels), len(self.panels))
        panels = (*self.panels, self.panels[own[-2]])
        side_by_side = Wiring(strings=tuple((panel,) for panel in own))
        circuits = _with_one(self.circuits, circuit, self.circuits[circuit].changed(wiring=side_by_side))
        return self.changed(name=f"{self.name}, one more {panels[-1].name}", panels=panels, circuits=circuits)

    def with_battery(self, battery: Battery | None = None, **changes: Any) -> Rig:
        """The rig with another battery, or with fields of its own battery changed.

        Examples
        --------
        >>> from vanpower import example
        >>> example("bookmobile").with_battery(v_now=14.2).battery.v_now
        14.2
        """
        return self.changed(battery=(battery or self.battery).changed(**changes))

    def with_climate(self, climate: Climate | None = None, **changes: Any) -> Rig:
        """The rig with another climate, or with fields of its own climate changed.

        Examples
        --------
        >>> from vanpower import example
        >>> example("bookmobile").with_climate(temp_coldest=-25.0).climate.temp_coldest
        -25.0
        """
        return self.changed(climate=(climate or self.climate).changed(**changes))

    def with_load(self, load: Load | str, **changes: Any) -> Rig:
        """The rig with one more load, or with fields of the load of that name changed.

        Examples
        --------
        >>> from vanpower import example
        >>> lit = example("bookmobile").with_load(Load(name="lamp", p_load=5.0))
        >>> lit.with_load("lamp", p_load=8.0).loads[-1].p_load
        8.0
        """
        return self.changed(loads=joined("load", "in this van", self.loads, load, changes))

    def with_source(self, source: Source | str, **changes: Any) -> Rig:
        """The rig with one more source besides the sun, or with fields of the source of that name changed.

        Examples
        --------
        >>> from vanpower import Source, example
        >>> rig = example("bookmobile").with_source(Source(name="belt", kind="alternator", i_charge_max=20.0))
        >>> rig.with_source("belt", i_charge_max=30.0).sources[0].i_charge_max
        30.0
        """
        return self.changed(sources=joined("source", "in this van", self.sources, source, changes))

    def with_circuit(self, *, circuit: int | None = None, **changes: Any) -> Rig:
        """The rig with fields of its circuits changed, in all or in the one that `circuit` names, counted from 0.

        Examples
        --------
        >>> from vanpower import example
        >>> example("bookmobile").with_circuit(i_fuse_array=15.0).circuits[0].i_fuse_array
        15.0
        """
        if circuit is not None:
            return self.changed(circuits=_with_one(self.circuits, circuit, self._circuit(circuit).changed(**changes)))
        return self.changed(circuits=tuple(one.changed(**changes) for one in self.circuits))

    def with_cable(self, cable: Cable | None = None, *, circuit: int | None = None, **changes: Any) -> Rig:
        """The rig with another cable from roof to controller, or with fields of it changed, in all circuits or in one.

        Examples
        --------
        >>> from vanpower import example
        >>> example("bookmobile").with_cable(section_mm2=10.0).circuits[0].cable.section_mm2
        10.0
        """
        return self.with_circuit(circuit=circuit, cable=lambda one: (cable or one.cable).changed(**changes))

    def with_controller(
        self, controller: Controller | None = None, *, circuit: int | None = None, **changes: Any
    ) -> Rig:
        """The rig with another controller, or with fields of it changed, in all circuits or in one.

        Examples
        --------
        >>> from vanpower import example
        >>> example("bookmobile").with_controller(tracker="climb").circuits[0].controller.tracker
        'climb'
        """
        return self.with_circuit(
            circuit=circuit, controller=lambda one: (controller or one.controller).changed(**changes)
        )

    def with_fixture(self, fixture: Fixture | str, **changes: Any) -> Rig:
        """The rig with one more fixture on its roof, or with fields of the fixture of that name changed.

        Examples
        --------
        >>> from vanpower import example
        >>> example("goat-cheese-van").with_fixture("flue", back_m=0.0).roof.fixtures[3].back_m
        0.0
        """
        return self.changed(roof=self.need_roof().with_fixture(fixture, **changes))

    def with_placement(self, panel: int, *, across: bool | None = None, **changes: Any) -> Rig:
        """The rig with one panel in another place on its roof.

        Parameters
        ----------
        panel : int
            Which panel, counted from 0.
        across : bool, optional
            Whether its long side lies across the van; turned by a quarter about its back left corner if it does not.
        **changes
            Fields of `Placement` and their new values.

        Examples
        --------
        >>> from vanpower import example
        >>> example("goat-cheese-van").with_placement(1, across=False).roof.spots[1].along
        True
        """
        return self.changed(roof=self.need_roof().with_placement(panel, across=across, **changes))

    def wired(self, wiring: str | Wiring, *, circuit: int = 0) -> Rig:
        """The rig with one circuit in another wiring.

        Parameters
        ----------
        wiring : str or Wiring
            As the trade writes it, "2s2p"; panel by panel, "P1+P3 | P2+P4"; or a `Wiring`.
        circuit : int
            Which circuit, counted from 0.

        Raises
        ------
        ValueError
            Where the text is no wiring of the circuit's panels.

        Examples
        --------
        >>> from vanpower import example
        >>> example("puppet-stage").wired("4s").circuits[0].wiring.strings
        ((0, 1, 2, 3),)
        """
        there = self._circuit(circuit).wiring
        new = parse_wiring(wiring, sorted(there.panels)) if isinstance(wiring, str) else wiring
        return self.with_circuit(circuit=circuit, wiring=new)

    def wirings(self, *, apart: bool = False, shade: Sequence[Shade] = (), circuit: int = 0) -> dict[str, Rig]:
        """The same rig in every equal-string wiring of one circuit, by name; other circuits stay as they are.

        Parameters
        ----------
        apart : bool
            Also give every panel of the circuit a controller of its own, like the one there.
        shade : sequence of Shade
            Shade notes of the request: equal panels in unlike shade are not interchangeable.
        circuit : int
            Which circuit, counted from 0.

        Returns
        -------
        dict of str to Rig
            For `compare`, `simulate` and others; longest strings first.

        Examples
        --------
        >>> from vanpower import example
        >>> list(example("puppet-stage").wirings())
        ['4s', '2s2p', '4p']
        """
        # kept with the rig, since a slider asks for the same at every move
        kept: dict[object, dict[str, Rig]] = vars(self).setdefault("_wirings", {})
        asked = apart, tuple(shade), circuit
        if asked not in kept:
            kept[asked] = self._wired_alike(apart, shade, circuit)
        return dict(kept[asked])

    def _wired_alike(self, apart: bool, shade: Sequence[Shade], circuit: int) -> dict[str, Rig]:
        """`wirings`, made."""
        there = self._circuit(circuit)
        panels = sorted(there.wiring.panels)
        ways = equal_strings(panels, _alike(self.panels, shade))
        rigs = {way.name: self.wired(way, circuit=circuit) for way in ways}
        if apart and len(panels) > 1:
            own = [there.changed(wiring=Wiring(strings=((panel,),))) for panel in panels]
            rigs["apart"] = self.changed(circuits=_with_one(self.circuits, circuit, *own))
        return rigs

    def _circuit(self, number: int) -> Circuit:
        """One circuit, counted from 0."""
        if not 0 <= number < len(self.circuits):
            raise ValueError(f"there is no circuit {number}; circuits count from 0 to {len(self.circuits) - 1} here.")
        return self.circuits[number]


def possible(make: Callable[[], Rig]) -> Rig | None:
    """A rig to be tried, or None where its sizes are none that a description takes.

    Examples
    --------
    >>> from functools import partial
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> possible(partial(rig.with_panels, only=[0], i_sc=60.0)) is None  # no panel has 60 A
    True
    """
    try:
        return make()
    except ValueError:
        return None


def _with_one(circuits: tuple[Circuit, ...], number: int, *instead: Circuit) -> tuple[Circuit, ...]:
    """The circuits with others in the place of one."""
    return (*circuits[:number], *instead, *circuits[number + 1 :])


def _alike(panels: Sequence[Panel], shade: Sequence[Shade]) -> list[object]:
    """What makes panels alike, one key a panel: everything but the name, and the shade on it."""
    notes = [sorted(repr(note.changed(panel=0)) for note in shade if note.panel == p) for p in range(len(panels))]
    return [(nameless(panel), on_it) for panel, on_it in zip(panels, notes, strict=True)]
