"""Which way the current takes through the panels of a rig: through a group's cells, or through the diode across it.

It is asked of the arrays at the volts at which the controllers sit, never guessed from the shade.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from vanpower.engine.ways import StringWay, ways

if TYPE_CHECKING:
    from vanpower.model.rig_in_light import RigModel

LEAST_SHARE = 0.01
# of a panel's amps; a diode that carries less is not said to conduct; no source
NO_AMPS = 0.005
# [A] less than this is no current that a clamp meter would show; no source


@dataclass(frozen=True, kw_only=True)
class PanelWay:
    """The current through one panel in one moment.

    Parameters
    ----------
    panel : int
        Which panel, counted from 0.
    i_panel : float
        Through the panel; below zero where other strings feed it. [A]
    v_groups, i_diodes : tuple of float
        Across each group of cells, and through the bypass diode across it. [V, A]

    Examples
    --------
    >>> PanelWay(panel=0, i_panel=4.1, v_groups=(-0.5, 9.1), i_diodes=(3.3, 0.0)).conducting
    (True, False)
    """

    panel: int
    i_panel: float
    v_groups: tuple[float, ...]
    i_diodes: tuple[float, ...]

    @property
    def conducting(self) -> tuple[bool, ...]:
        """Whether each bypass diode carries some of the panel's current."""
        least = max(LEAST_SHARE * self.i_panel, NO_AMPS)
        return tuple(amps > least for amps in self.i_diodes)


def panel_ways(model: RigModel) -> tuple[tuple[PanelWay, ...], ...]:
    """How the current passes every panel in the first moment, circuit by circuit, where the controllers sit.

    Parameters
    ----------
    model : RigModel
        A rig in its light.

    Returns
    -------
    tuple of tuple of PanelWay
        For each circuit its panels in the order of its wiring, string by string.

    Notes
    -----
    In dull light amps are those of the middle of measured panels; which diode conducts is told by the labels' curves.

    Examples
    --------
    >>> from vanpower import Shade, Snapshot, example
    >>> from vanpower.model.rig_in_light import RigModel
    >>> half = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
    >>> [series] = panel_ways(RigModel(example("bookmobile").wired("2s"), half))
    >>> [(way.panel, round(way.i_panel, 1), way.conducting) for way in series]
    [(0, 4.1, (True, False)), (1, 4.1, (False, False))]
    """
    return tuple(_circuit(model, number) for number in range(len(model.rig.circuits)))


def _circuit(model: RigModel, number: int) -> tuple[PanelWay, ...]:
    """The panels of one circuit."""
    label, sits = model.by_label[number], model.operations[number]
    found = ways(model.array(number).rows(np.array([0])), label.v_array[:1])
    share = float(sits.i_array[0] / label.i_array[0]) if label.i_array[0] > 0 else 1.0
    return tuple(
        way for string, each in zip(model.rig.circuits[number].wiring.strings, found, strict=True)
        for way in _panels(model, string, each, share)
    )  # fmt: skip


def _panels(model: RigModel, string: tuple[int, ...], way: StringWay, share: float) -> list[PanelWay]:
    """The panels of one string, each with its own groups of all the string's."""
    said, first = [], 0
    for panel in string:
        groups = slice(first, first + model.rig.panels[panel].substrings)
        volts, diodes = (tuple(float(each) for each in part[groups, 0]) for part in (way.volts, way.diodes))
        amps = tuple(share * each for each in diodes)
        said.append(PanelWay(panel=panel, i_panel=share * float(way.current[0]), v_groups=volts, i_diodes=amps))
        first = groups.stop
    return said
