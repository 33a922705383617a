"""Files written whole or not at all, and never over a file that is somebody else's."""

from __future__ import annotations

import re
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path

LARGEST = 200_000_000
# [bytes] more than a table of a year of minutes takes, for many wirings; no source


def check_place(path: Path, what: str, endings: Collection[str], ours: re.Pattern[bytes]) -> None:
    """Refuse, before any work, another ending, a folder that is not there, and other people's files.

    Parameters
    ----------
    path : Path
        Where something is to be written.
    what : str
        What messages call it.
    endings : collection of str
        Such as ".png", in small letters.
    ours : pattern
        Stands in every file of this kind that the kit wrote; such a one is written over.

    Raises
    ------
    ValueError
        With what would make sense.

    Examples
    --------
    >>> check_place(Path("days.txt"), "table", (".csv",), re.compile(b"vanpower"))
    Traceback (most recent call last):
    ValueError: table 'days.txt' ends in .txt; write .csv.
    """
    if path.suffix.lower() not in endings:
        raise ValueError(f"{what} {path.name!r} ends in {path.suffix or 'nothing'}; write {' or '.join(endings)}.")
    try:
        if not path.parent.is_dir():
            raise ValueError(f"folder {str(path.parent)!r} is not there; make it first.")
        if path.is_dir() or (path.exists() and not _is_ours(path, ours)):
            raise ValueError(f"{path.name} is there already and is no {what} of this kit; choose another name.")
    except OSError as trouble:
        raise ValueError(f"{path.name} could not be written: {trouble.strerror}.") from None


def _is_ours(path: Path, ours: re.Pattern[bytes]) -> bool:
    """Whether the kit wrote a file; what is larger than anything of the kit is not read."""
    with path.open("rb") as file:
        held = file.read(LARGEST + 1)
    return len(held) <= LARGEST and bool(ours.search(held))


@contextmanager
def written(path: Path) -> Iterator[Path]:
    """A file beside the path to write into: it takes the path's name when all went well, and is gone when not.

    Raises
    ------
    ValueError
        Where the disk is full or locked.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     with written(Path(folder) / "days.csv") as half_done:
    ...         _ = half_done.write_text("Wh")
    ...     [path.name for path in Path(folder).iterdir()]
    ['days.csv']
    """
    half_done = path.with_name(f".{path.name}.part{path.suffix}")
    try:
        yield half_done
        half_done.replace(path)
    except OSError as trouble:
        raise ValueError(f"{path.name} could not be written: {trouble.strerror}.") from None
    finally:
        with suppress(OSError):
            half_done.unlink(missing_ok=True)
