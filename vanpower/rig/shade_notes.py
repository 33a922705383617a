"""Shade as it is noted on the roof: "P2.1=0.2" for a fifth of the light on the first group of cells of panel 2.

And as it is drawn with a finger: how much of each group of cells a shadow covers.
"""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass

from vanpower.rig.panels import Panel
from vanpower.rig.requests import Shade

SHADE_NOTE = re.compile(r"P(\d{1,3})(?:\.(\d{1,3}))?(?:/(\d{1,3}))?(?:x(\d{1,3}))?=([0-9.]+)", re.IGNORECASE)
# P2=0.2 a panel, P2.1=0.2 its first group of cells, P2/1=0.2 one half of a half-cut panel, P2.1x3=0.2 three cells
BEYOND_ANY_ROOF = 200
# panels
SHARE_DIGITS = 3
# of a covered share, far finer than a finger is


def shade(*notes: str) -> tuple[Shade, ...]:
    """Shade notes from short texts such as "P2.1=0.2"; panels, groups of cells and halves are counted from 1.

    Parameters
    ----------
    *notes : str
        "P2=0.2" a panel, "P2.1=0.2" its first group of cells under one bypass diode, "P2/1=0.2" one half of a half-cut
        panel, "P2.1x3=0.2" three cells of the group; the number is the share of the light that still arrives.

    Returns
    -------
    tuple of Shade
        For `Snapshot`, `Days` or `Parked`.

    Raises
    ------
    ValueError
        For a text that is no note, with how one is written.

    Examples
    --------
    >>> [note.place for note in shade("P1.2=0.2", "P3=0.5", "P1/1=0.2")]
    ['P1.2', 'P3', 'P1/1']
    """
    return tuple(_one(note) for note in notes)


def _one(note: str) -> Shade:
    """A shade note as typed; panels, groups and halves counted from 1."""
    found = SHADE_NOTE.fullmatch(note)
    if not found:
        raise ValueError(
            f"shade note {note!r} is none; write P2=0.2, P2.1=0.2, P2/1=0.2 or P2.1x3=0.2, with 0.2 for 20 % of the "
            "light."
        )
    *counted, cells, lit = found.groups()
    if any(number is not None and int(number) == 0 for number in counted):
        raise ValueError(f"shade note {note!r} counts from 0; panels, groups of cells and halves count from 1 here.")
    panel, substring, half = (None if number is None else int(number) - 1 for number in counted)
    if panel is None or panel >= BEYOND_ANY_ROOF:
        raise ValueError(f"shade note {note!r}: P{counted[0]} is beyond any roof; name a panel of the rig, such as P2.")
    share = _share(lit, note)
    try:
        return Shade(
            panel=panel, substring=substring, branch=half, cells=None if cells is None else int(cells), lit=share
        )
    except ValueError as trouble:
        raise ValueError(f"shade note {note!r}: {str(trouble).removeprefix('Shade.')}") from None


def _share(text: str, note: str) -> float:
    """A share of the light."""
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"shade note {note!r}: {text!r} is not a number.") from None


@dataclass(frozen=True)
class Shares:
    """How much of each group of cells a shadow covers that comes from the group's long side.

    Parameters
    ----------
    covered : tuple of tuple of float
        For each panel a share from 0 to 1 of each of its groups; a panel or group without one is not covered.

    Examples
    --------
    >>> half = Shares(((0.5,),))  # of two rows of nine cells the first one
    >>> label = dict(v_oc=22.3, i_sc=6.25, v_mp=18.5, i_mp=5.95, cells_in_series=36, substrings=2)
    >>> [note.place for note in half.notes([Panel(name="110 W", **label)], lit=0.2)]
    ['P1.1x9']
    """

    covered: tuple[tuple[float, ...], ...] = ()

    @classmethod
    def on(cls, spots: Iterable[tuple[int, int | None]], panels: Sequence[Panel]) -> Shares:
        """Whole groups of cells in shade, by their panel and number, or all groups of a panel where that is None.

        Examples
        --------
        >>> label = dict(v_oc=22.3, i_sc=6.25, v_mp=18.5, i_mp=5.95, cells_in_series=36, substrings=2)
        >>> Shares.on([(1, 0)], [Panel(name="110 W", **label)] * 2).covered
        ((), (1.0, 0.0))
        """
        shares = cls()
        for panel, group in spots:
            before = shares.of(panel, panels[panel])
            own = [1.0 if group in (None, number) else share for number, share in enumerate(before)]
            shares = shares.changed(panel, own)
        return shares

    def of(self, panel: int, label: Panel) -> tuple[float, ...]:
        """The shares of one panel, a number for each of its groups."""
        own = self.covered[panel] if panel < len(self.covered) else ()
        return (*own, *[0.0] * label.substrings)[: label.substrings]

    def changed(self, panel: int, shares: Sequence[float]) -> Shares:
        """The same with other shares of one panel."""
        rows = [*self.covered, *[()] * (panel + 1 - len(self.covered))]
        rows[panel] = tuple(round(share, SHARE_DIGITS) for share in shares)
        return Shares(tuple(rows))

    def notes(self, panels: Sequence[Panel], lit: float) -> tuple[Shade, ...]:
        """Shade notes for as much light in the shade as `lit` says; cells under the shadow's edge get their share."""
        return tuple(note for number, label in enumerate(panels) for note in self._notes(number, label, lit))

    def _notes(self, number: int, label: Panel, lit: float) -> Iterator[Shade]:
        """The notes of one panel: rows wholly covered, and the row that the edge lies over."""
        cells = label.cells_in_series // label.substrings
        rows = rows_of(label)
        for group, share in enumerate(self.of(number, label)):
            whole, part = divmod(min(max(share, 0.0), 1.0) * rows, 1.0)
            under = cells // rows * int(whole)
            if part > 0.0:
                # a note counts cells from the first on and multiplies, so the rows before it get the rest of theirs
                edge = 1.0 - part * (1.0 - lit)
                yield Shade(panel=number, substring=group, cells=under + cells // rows, lit=edge)
                lit_before = lit / edge if edge > 0.0 else 0.0
            else:
                lit_before = lit
            if under:
                yield Shade(panel=number, substring=group, cells=None if under == cells else under, lit=lit_before)


def rows_of(label: Panel) -> int:
    """Rows in which the cells of one group lie beside each other: there and back, or one where their number is odd.

    Examples
    --------
    >>> from vanpower import example
    >>> rows_of(example("bookmobile").panels[0])
    2
    """
    return 1 if label.cells_in_series // label.substrings % 2 else 2
