"""Shade as it is noted on the roof: "P2.1=0.2" for a fifth of the light on the first group of cells of panel 2."""

from __future__ import annotations

import re

from vanpower.rig.requests import Shade

SHADE_NOTE = re.compile(r"P(\d{1,3})(?:\.(\d{1,3}))?(?:/(\d{1,3}))?(?:x(\d{1,3}))?=([0-9.]+)", re.IGNORECASE)
# P2=0.2 a panel, P2.1=0.2 its first group of cells, P2/1=0.2 one half of a half-cut panel, P2.1x3=0.2 three cells
BEYOND_ANY_ROOF = 200
# panels


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
