"""From a request to the irradiance on every cell and the temperature of every panel."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np

from vanpower.rig import Panel, Request, Roof, Shade, Snapshot
from vanpower.shading.roofs import roof_shade
from vanpower.weather.beams import beams_of
from vanpower.weather.days import day_of
from vanpower.weather.planes import cell_temperature, plane_light
from vanpower.weather.series import WeatherSeries

Array = np.ndarray

LIGHT_DIGITS = 1
# decimals to which light in the roof's shadows is rounded, so that equal cells are found [W/m²]


@dataclass(frozen=True, eq=False)
class Conditions:
    """Irradiance on every cell and temperature of every panel, for a list of moments.

    Parameters
    ----------
    light : tuple of ndarray (moment, substring, branch, cell)
        One array for each panel. [W/m²]
    temp_cell : ndarray (moment, panel)
        Cell temperature. [°C]
    step_h : float
        Length of each moment. [h]
    time : ndarray (moment,), optional
        Local time of each moment, datetime64; None for a snapshot.

    Examples
    --------
    >>> two = Conditions((np.full((2, 2, 1, 18), 500.0),), np.full((2, 1), 25.0))
    >>> len(two), two.brightest, len(two.moments(slice(0, 1)))
    (2, array([500., 500.]), 1)
    """

    light: tuple[Array, ...]
    temp_cell: Array
    step_h: float = 1.0
    time: Array | None = None

    def __len__(self) -> int:
        return len(self.temp_cell)

    @cached_property
    def brightest(self) -> Array:
        """Irradiance on the best lit cell of all panels (moment,). [W/m²]"""
        each = [light[:, 0, 0, 0] if evenly_lit(light) else light.max(axis=(1, 2, 3)) for light in self.light]
        return np.max(each, axis=0)

    def check_fit(self, panels: Sequence[Panel]) -> None:
        """Check that there is light for each of these panels and each of their cells.

        Raises
        ------
        ValueError
            For another number of panels or cells.
        """
        shapes, wanted = [light.shape[1:] for light in self.light], [cell_shape(panel) for panel in panels]
        if shapes != wanted or self.temp_cell.shape[1:] != (len(panels),):
            raise ValueError(
                f"Conditions.light has {shapes} substrings, branches and cells for its panels; {wanted} make sense for "
                "these. Were they made for other panels? Use even_light(rig.panels, ...)."
            )

    def moments(self, index: slice | Array) -> Conditions:
        """The conditions at some of the moments, by an index, slice or mask."""
        time = None if self.time is None else self.time[index]
        light = tuple(
            _on_all(each[:, 0, 0, 0][index], each.shape[1:]) if evenly_lit(each) else each[index] for each in self.light
        )
        return replace(self, light=light, temp_cell=self.temp_cell[index], time=time)


def evenly_lit(light: Array) -> bool:
    """Whether one number a moment stands for all cells of a panel (moment, substring, branch, cell), as nothing shades.

    Examples
    --------
    >>> evenly_lit(np.broadcast_to(np.array([[[[500.0]]]]), (1, 2, 1, 18))), evenly_lit(np.full((1, 2, 1, 18), 500.0))
    (True, False)
    """
    return not any(light.strides[1:])


def _on_all(plane: Array, cells: tuple[int, ...]) -> Array:
    """Light (moment,) on all of a panel's cells, without a number for each."""
    return np.broadcast_to(plane[:, None, None, None], (len(plane), *cells))


def cell_shape(panel: Panel) -> tuple[int, int, int]:
    """Substrings, branches in each, and cells in each of these."""
    return panel.substrings, panel.branches, panel.cells_in_series // panel.substrings


def lit_cells(panel: Panel, number: int, shade: Sequence[Shade]) -> Array:
    """Share of the light on every cell of the panel with this number, shape (substring, branch, cell).

    Examples
    --------
    >>> from vanpower import example
    >>> panel = example("bookmobile").panels[0]
    >>> lit_cells(panel, 0, [Shade(panel=0, substring=1, lit=0.2)]).mean(axis=(1, 2))
    array([1. , 0.2])
    """
    lit = np.ones(cell_shape(panel))
    for note in shade:
        if note.panel == number:
            group, half = (
                slice(None) if which is None else slice(which, which + 1) for which in (note.substring, note.branch)
            )
            lit[group, half, : note.cells] *= note.lit
    return lit


def even_light(
    panels: Sequence[Panel], light: Array | float, temp_cell: Array | float, shade: Sequence[Shade] = ()
) -> Conditions:
    """The same irradiance and temperature on all panels, apart from shade notes.

    Parameters
    ----------
    panels : sequence of Panel
        All panels of the rig.
    light, temp_cell : float or ndarray (moment,)
        Irradiance and cell temperature: a number, or one for each moment. [W/m², °C]
    shade : sequence of Shade
        Notes; they dim whole cells.

    Returns
    -------
    Conditions

    Raises
    ------
    ValueError
        For a shade note of a panel, group or cell that is not there.

    Examples
    --------
    >>> from vanpower import example
    >>> dawn = even_light(example("bookmobile").panels, np.array([5.0, 50.0, 200.0]), temp_cell=4.0)
    >>> dawn.brightest.tolist(), dawn.temp_cell.shape  # moment, panel
    ([5.0, 50.0, 200.0], (3, 2))
    """
    for note in shade:
        _check_note(note, panels)
    level, heat = np.broadcast_arrays(np.atleast_1d(np.asarray(light, float)), np.asarray(temp_cell, float))
    lit = [lit_cells(panel, number, shade) for number, panel in enumerate(panels)]
    return Conditions(
        tuple(level[:, None, None, None] * share for share in lit), np.repeat(heat[:, None], len(panels), axis=1)
    )


def conditions_of(panels: tuple[Panel, ...], request: Request, roof: Roof | None = None) -> Conditions:
    """Irradiance on every cell and temperature of every panel, for a request.

    Parameters
    ----------
    panels : tuple of Panel
        All panels of the rig.
    request : Snapshot, Days or Parked
        One moment set by hand, real days or a synthetic sky. Shade notes dim whole cells, direct and diffuse light
        alike.
    roof : Roof, optional
        The fixtures that throw shadows under a sky; a snapshot has no sun and ignores it.

    Returns
    -------
    Conditions

    Raises
    ------
    ValueError
        For a shade note of a panel, group or cell that is not there, or a day that cannot be found.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> conditions_of(example("bookmobile").panels, Snapshot(light=700, temp_cell=30)).temp_cell.shape  # moment, panel
    (1, 2)
    """
    if isinstance(request, Snapshot):
        return even_light(panels, request.light, request.temp_cell, request.shade)
    for note in request.shade:
        _check_note(note, panels)
    lit = [lit_cells(panel, number, request.shade) for number, panel in enumerate(panels)]
    day = day_of(request)
    planes = [plane_light(day, panel, request.heading_deg) for panel in panels]
    heat = [cell_temperature(day, panel, plane) for panel, plane in zip(panels, planes, strict=True)]
    light = tuple(
        _on_all(plane, share.shape) if (share == 1.0).all() else plane[:, None, None, None] * share
        for plane, share in zip(planes, lit, strict=True)
    )
    if roof is not None:
        light = _on_roof(roof, panels, day, request.heading_deg, light, lit)
    return Conditions(light, np.stack(heat, axis=1), day.step_h, day.table.index.tz_localize(None).to_numpy())


def _on_roof(
    roof: Roof,
    panels: tuple[Panel, ...],
    day: WeatherSeries,
    heading_deg: float,
    light: tuple[Array, ...],
    lit: list[Array],
) -> tuple[Array, ...]:
    """Light on every cell with the roof's shadows; panels without a place on the roof keep theirs."""
    beams = beams_of(day)
    shaded = roof_shade(roof, panels, beams.elevation, beams.azimuth, heading_deg=heading_deg)
    beam, diffuse = (part[:, None, None, None] for part in beams.on_pitch(shaded.suns[:, 2], roof.slope_deg))
    return tuple(
        plain if share is None else np.round((beam * share + diffuse * view) * note, LIGHT_DIGITS)
        for plain, share, view, note in zip(light, shaded.lit, shaded.view, lit, strict=True)
    )


def _check_note(note: Shade, panels: Sequence[Panel]) -> None:
    """Refuse a shade note for a panel, substring or cell that is not there."""
    if note.panel >= len(panels):
        number = len(panels)
        there = "there is one panel, P1" if number == 1 else f"there are {number} panels, P1 to P{number}"
        raise ValueError(f"shade note {note.place}: {there}.")
    panel = panels[note.panel]
    if note.substring is not None and note.substring >= panel.substrings:
        groups = f"has groups 1 to {panel.substrings} under a bypass diode"
        raise ValueError(f"shade note {note.place}: {panel.name} {groups}.")
    if note.branch is not None and panel.branches == 1:
        slip = "If it is half-cut, write branches = 2 beside its cells_in_series; else leave the half out"
        raise ValueError(f"shade note {note.place}: {panel.name} is not half-cut and has no halves. {slip}.")
    if note.branch is not None and note.branch >= panel.branches:
        raise ValueError(f"shade note {note.place}: {panel.name} has halves 1 to {panel.branches}.")
    cells = panel.cells_in_series // panel.substrings
    if note.cells is not None and not 1 <= note.cells <= cells:
        where = "in each half" if panel.branches > 1 else "in a row"
        raise ValueError(f"shade note {note.place}: a group of {panel.name} has 1 to {cells} cells {where}.")
