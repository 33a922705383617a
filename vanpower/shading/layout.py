"""Where every cell of a panel lies, and which substring and branch it belongs to."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np

from vanpower.rig import Panel, Placement

Array = np.ndarray

BORDER_M = 0.015
# [m] frame and edge without cells, all round; common practice, no source
MOST_OBLONG = 2.0
# a cell longer than so many times its width is not taken for one; no source
AHEAD = {"back": (0.0, 1.0), "front": (0.0, -1.0), "left": (1.0, 0.0), "right": (-1.0, 0.0)}
# where the panel lies, seen from its junction end


@dataclass(frozen=True, eq=False)
class Cells:
    """Rectangles of a panel's cells, gaps between them shared out.

    Parameters
    ----------
    left, right, back, front : ndarray (substring, branch, cell)
        Edges of every cell, from the roof's left and back edge. [m]
    columns, rows : int
        Cells across and along the panel.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> cells = cells_of(rig.panels[0], rig.roof.spots[0])
    >>> cells.shape, cells.edges[0].round(3).tolist()  # left, right, back, front of the first cell
    ((2, 1, 18), [0.115, 0.275, 0.115, 0.276])
    """

    left: Array
    right: Array
    back: Array
    front: Array
    columns: int
    rows: int

    @property
    def edges(self) -> Array:
        """Left, right, back and front of all cells, shape (cell, 4). [m]"""
        return np.stack([side.reshape(-1) for side in (self.left, self.right, self.back, self.front)], axis=1)

    @property
    def shape(self) -> tuple[int, ...]:
        """Substrings, branches, cells."""
        return self.left.shape


@lru_cache(maxsize=256)
def cells_of(panel: Panel, spot: Placement) -> Cells:
    """Every cell of a panel in its place.

    Notes
    -----
    A chain runs up one column and down the next. Full cells: one chain from the junction end. Half-cut cells: two
    chains, the half at the junction end is branch 0. Substrings are equal pieces of a chain, from the left as seen
    from the junction end; with two columns a substring each is a strip along the panel.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> cells = cells_of(rig.panels[0], rig.roof.spots[0])
    >>> cells.columns, cells.rows
    (4, 9)
    >>> cells.left[:, 0, 0].round(3).tolist()  # where the first cell of either group begins, in metres
    [0.115, 0.435]
    """
    columns = columns_of(panel, spot)
    rows = panel.cells_in_series // columns
    number = np.arange(panel.cells_in_series)
    column, up = number // rows, number % rows
    row = np.where(column % 2 == 0, up, rows - 1 - up)
    branch = np.arange(panel.branches)[:, None]
    along, across = row + rows * branch, np.broadcast_to(column, (panel.branches, len(column)))
    shape = (panel.branches, panel.substrings, panel.cells_in_series // panel.substrings)
    along, across = (a.reshape(shape).swapaxes(0, 1) for a in (along, across))
    return _placed(spot, across, along, columns, rows * panel.branches)


def columns_of(panel: Panel, spot: Placement) -> int:
    """Columns of cells beside each other, as told or such that cells, or pairs of half cells, are nearest to square.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> columns_of(rig.panels[0], rig.roof.spots[0])  # 0.67 m wide, 1.48 m long, 36 cells
    4
    """
    cells = panel.cells_in_series
    if spot.cells_across is not None:
        if cells % spot.cells_across:
            fits = ", ".join(str(n) for n in range(1, 13) if cells % n == 0)
            raise ValueError(
                f"Placement.cells_across is {spot.cells_across}; the {cells} cells in series of {panel.name} do not "
                f"share out into so many columns. {fits} would."
            )
        return spot.cells_across
    short, long = sorted((spot.wide_m, spot.long_m))
    # a half-cut cell is half a square one, so the rows of both halves count once
    oblong = {n: abs(np.log(short / n / (long / (cells // n)))) for n in range(1, cells + 1) if cells % n == 0}
    strips = [n for n in oblong if n % panel.substrings == 0 and oblong[n] <= np.log(MOST_OBLONG)]
    return min(strips or oblong, key=lambda n: oblong[n])


def _placed(spot: Placement, across: Array, along: Array, columns: int, rows: int) -> Cells:
    """Rectangles from column and row numbers, counted from the junction end's left corner."""
    ahead = np.array(AHEAD[spot.junction])
    right = np.array([ahead[1], -ahead[0]])
    middle = np.array([spot.left_m + spot.wide_m / 2, spot.back_m + spot.long_m / 2])
    size = np.array([spot.wide_m, spot.long_m]) - 2 * BORDER_M
    steps = (np.abs(right @ size) / columns, np.abs(ahead @ size) / rows)
    place = middle + ((across + 0.5 - columns / 2) * steps[0])[..., None] * right
    place = place + ((along + 0.5 - rows / 2) * steps[1])[..., None] * ahead
    half = (np.abs(right) * steps[0] + np.abs(ahead) * steps[1]) / 2
    low, high = place - half, place + half
    return Cells(low[..., 0], high[..., 0], low[..., 1], high[..., 1], columns, rows)
