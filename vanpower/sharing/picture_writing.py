"""Pictures written whole or not at all, each with the recipe that made it."""

from __future__ import annotations

import math
from collections.abc import Iterator
from contextlib import contextmanager
from io import BytesIO
from pathlib import Path

from matplotlib import rc_context
from matplotlib.figure import Figure

from vanpower.figures.style import MADE_BY, MADE_BY_AT_END
from vanpower.files.atomic import check_place, sealed, written
from vanpower.sharing.picture_reading import RECIPE_KEY

PICTURES = (".png", ".svg", ".pdf")
DOTS, MOST_DOTS = 150, 10e6
# dots per inch of a PNG, and dots in all: a row of four wirings takes one million, a hundred rows get fewer per inch


def write_picture(fig: Figure, path: Path, *, recipe: str = "", foot: str = "") -> None:
    """Write a figure whole or not at all, and never over a file that is not a chart of this kit.

    Parameters
    ----------
    fig : Figure
    path : Path
        Ends in .png, .svg or .pdf.
    recipe : str
        A line that goes into the metadata, from which the chart can be made again; a PDF carries none.
    foot : str
        A short line at the foot of the picture, there for as long as it is being written.

    Raises
    ------
    ValueError
        For an ending that is no picture, a folder that is not there, a file of somebody else's, or a disk that is
        full or locked.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower.figures.style import Chart
    >>> with TemporaryDirectory() as folder:
    ...     write_picture(Chart().figure, Path(folder) / "roof.png")
    ...     [file.name for file in Path(folder).iterdir()]
    ['roof.png']
    """
    check_picture(path)
    ending = path.suffix.lower()
    if recipe and ending == ".pdf":
        raise ValueError("a PDF carries no recipe; write .png or .svg.")
    with written(path) as file:
        file.write(sealed(_drawn(fig, ending, recipe, foot)))


def _drawn(fig: Figure, ending: str, recipe: str, foot: str) -> bytes:
    """The picture in memory, since the writer of PDF ends in errors of its own where a disk is full."""
    held = BytesIO()
    with _footed(fig, foot), rc_context({"svg.hashsalt": "vanpower"}):
        fig.savefig(held, format=ending[1:], dpi=_dots(fig), metadata=_metadata(ending, recipe))
    return held.getvalue()


def check_picture(path: Path) -> None:
    """Refuse an ending that is no picture, a folder that is not there, and a file that is not to be lost.

    Raises
    ------
    ValueError
        With what would make sense.

    Examples
    --------
    >>> check_picture(Path("roof.gif"))
    Traceback (most recent call last):
    ValueError: picture 'roof.gif' ends in .gif; write .png or .svg or .pdf.
    """
    check_place(path, "picture", PICTURES)


def _dots(fig: Figure) -> float:
    """Dots per inch: fewer on a picture so tall that it would take much memory."""
    wide, high = fig.get_size_inches()
    return min(DOTS, math.sqrt(MOST_DOTS / (wide * high)))


def _metadata(ending: str, recipe: str) -> dict[str, str | None]:
    """Who made a picture, and how to make it again, in the words of its format."""
    if ending == ".png":
        return {"Software": MADE_BY, **({RECIPE_KEY: recipe} if recipe else {})}
    return {"Creator": MADE_BY, **({"Date": None, "Description": recipe} if recipe else {})}


@contextmanager
def _footed(fig: Figure, foot: str) -> Iterator[None]:
    """The figure with a short line at its foot, below what stands there already."""
    before = fig.get_supxlabel()
    if foot:
        fig.supxlabel(
            "\n".join(part for part in (MADE_BY_AT_END.sub("", before), foot) if part),
            fontsize="small",
            color="#4D4D4D",
        )
    try:
        yield
    finally:
        if foot:
            fig.supxlabel(before)
