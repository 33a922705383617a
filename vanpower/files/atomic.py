"""Files written whole or not at all, and never over a file that is somebody else's or was changed by hand.

Every file of the kit bears a seal: a fingerprint of what else is in it. A file whose seal does not fit was changed
since it was written, and stays. A name that is a link is followed to the file it stands for; nothing else is.
"""

from __future__ import annotations

import hashlib
import os
import re
import secrets
import struct
import zlib
from collections.abc import Collection, Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from stat import S_IMODE
from typing import BinaryIO

BLOCK = 1 << 20
# [bytes] read at once
MARKED = 1 << 16
# [bytes] at either end of a file in which the kit's name stands if the kit wrote it, save for a recipe before it
MARK = re.compile(rb"vanpower \d+\.\d+")
# what stands in every file of the kit
PNG_END = b"\x00\x00\x00\x00IEND\xaeB`\x82"
# PNG specification (ISO/IEC 15948), 11.2.5
SEAL_LENGTH = 16
# hexadecimal digits: chance never makes two alike, and nobody gains by making them
LONGEST_ABOUT = 4000
# [bytes] of the line that a table begins with
SEALED_TABLE = re.compile(rb"(# vanpower [^\n]*); seal ([0-9a-f]{16})\n")
SEALED_END = re.compile(
    rb"(?:\x00\x00\x00\x15tEXtSeal\x00([0-9a-f]{16}).{4}%s"
    rb"|<!-- vanpower seal ([0-9a-f]{16}) -->\n|%%vanpower seal ([0-9a-f]{16})\n)\Z" % re.escape(PNG_END),
    re.DOTALL,
)
# the seal of a table behind its first line; of a PNG in a text chunk before its end; of an SVG, a page or
# a PDF in a comment
FORMULA = re.compile(r"'*\s*[=+\-@\N{FULLWIDTH EQUALS SIGN}\N{FULLWIDTH PLUS SIGN}\N{FULLWIDTH COMMERCIAL AT}]")
# how a text begins that a spreadsheet may run
NUMBER = re.compile(r"\s*[-+]?(\d+\.?\d*|\.\d+)(e[-+]?\d+)?\s*", re.ASCII | re.IGNORECASE)
# what it only reads; "-inf" and "-1_000" are names and sums to it


def check_place(path: Path, what: str, endings: Collection[str], *, again: bool = True) -> None:
    """Refuse, before any work, another ending, a folder that is not there, and files that are not to be lost.

    Parameters
    ----------
    path : Path
        Where something is to be written.
    what : str
        What messages call it.
    endings : collection of str
        Such as ".png", in small letters.
    again : bool
        Whether a file that the kit wrote, and nobody changed since, may be written over.

    Raises
    ------
    ValueError
        With what would make sense.

    Examples
    --------
    >>> check_place(Path("days.txt"), "table", (".csv",))
    Traceback (most recent call last):
    ValueError: table 'days.txt' ends in .txt; write .csv.
    """
    if path.suffix.lower() not in endings:
        raise ValueError(f"{what} {path.name!r} ends in {path.suffix or 'nothing'}; write {' or '.join(endings)}.")
    try:
        if not path.parent.is_dir():
            raise ValueError(f"folder {str(path.parent)!r} is not there; make it first.")
        problem = _why_not(path, what, again)
    except OSError as trouble:
        raise ValueError(f"{path.name} could not be written: {trouble.strerror}.") from None
    if problem:
        raise ValueError(f"{path.name} {problem}; choose another name.")


def _why_not(path: Path, what: str, again: bool) -> str:
    """Why what lies under a name is not to be written over; empty where it may be, or nothing lies there."""
    if not os.path.lexists(path):
        return ""
    if not path.exists():
        return "is a link that leads nowhere"
    if not again:
        return "is there already and stays as it is"
    if path.is_dir():
        return f"is there already and is no {what} of this kit"
    if not path.is_file():
        return "is no ordinary file"
    if not os.access(path, os.W_OK):
        return "is there already and protected from being written"
    with path.open("rb") as file:
        if is_sealed(file):
            return ""
        ours = _is_marked(file)
    changed = "was changed since this kit wrote it, or is of an older version, and stays as it is"
    return changed if ours else f"is there already and is no {what} of this kit"


def _is_marked(file: BinaryIO) -> bool:
    """Whether the kit's name stands at either end of a file."""
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    head = file.read(MARKED)
    file.seek(max(0, size - MARKED))
    return bool(MARK.search(head) or MARK.search(file.read(MARKED)))


def sealed(held: bytes) -> bytes:
    """What a file of the kit holds, with its seal: a table that begins with # vanpower, a PNG, an SVG, a page or a PDF.

    Examples
    --------
    >>> sealed(b"# vanpower 1.0: days\\nWh\\n")
    b'# vanpower 1.0: days; seal 698aa58556bbc352\\nWh\\n'
    """
    if held.startswith(b"# vanpower"):
        about, _, rest = held.partition(b"\n")
        return b"%s; seal %s\n%s" % (about, _seal(held), rest)
    if held.endswith(PNG_END):
        body = held.removesuffix(PNG_END)
        chunk = b"tEXtSeal\x00" + _seal(body)
        return body + struct.pack(">I", len(chunk) - 4) + chunk + struct.pack(">I", zlib.crc32(chunk)) + PNG_END
    form = b"%%vanpower seal %s\n" if held.startswith(b"%PDF") else b"<!-- vanpower seal %s -->\n"
    return held + form % _seal(held)


def _seal(held: bytes) -> bytes:
    return hashlib.sha256(held).hexdigest()[:SEAL_LENGTH].encode()


def is_sealed(file: BinaryIO) -> bool:
    """Whether a file is as the kit wrote it.

    Examples
    --------
    >>> from io import BytesIO
    >>> held = sealed(b"# vanpower 1.0: days\\nWh\\n12\\n")
    >>> is_sealed(BytesIO(held)), is_sealed(BytesIO(held.replace(b"12", b"13")))
    (True, False)
    """
    size = file.seek(0, os.SEEK_END)
    file.seek(0)
    if table := SEALED_TABLE.fullmatch(file.readline(LONGEST_ABOUT)):
        return _digest(file, size, table[1] + b"\n") == table[2]
    tail_at = max(0, size - LONGEST_ABOUT)
    file.seek(tail_at)
    end = SEALED_END.search(file.read(LONGEST_ABOUT))
    file.seek(0)
    return end is not None and _digest(file, tail_at + end.start()) == next(filter(None, end.groups()))


def _digest(file: BinaryIO, count: int, before: bytes = b"") -> bytes:
    """The seal of the next so many bytes of a file, behind others, block by block."""
    found = hashlib.sha256(before)
    while block := file.read(min(BLOCK, count)):
        found.update(block)
        count -= len(block)
    return found.hexdigest()[:SEAL_LENGTH].encode()


@contextmanager
def written(path: Path) -> Iterator[BinaryIO]:
    """A file to write into that takes the path's name when all went well, and is gone when not.

    It grows beside the file it will replace, under a name that nobody can guess and that nothing had before; so what
    lies there under any name stays, and two who write at once do not mix. A link stays a link, and the file behind it
    is replaced; permissions of a file that was there are kept.

    Raises
    ------
    ValueError
        Where the disk is full or locked.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> with TemporaryDirectory() as folder:
    ...     with written(Path(folder) / "days.csv") as file:
    ...         _ = file.write(b"Wh")
    ...     [path.name for path in Path(folder).iterdir()]
    ['days.csv']
    """
    made: Path | None = None
    try:
        target = path.resolve()
        half_done = target.with_name(f".{secrets.token_hex(8)}.part")
        with half_done.open("xb") as file:
            made = half_done
            yield file
        if target.exists():
            half_done.chmod(S_IMODE(target.stat().st_mode))
        half_done.replace(target)
    except OSError as trouble:
        raise ValueError(f"{path.name} could not be written: {trouble.strerror}.") from None
    finally:
        if made is not None:
            with suppress(OSError):
                made.unlink(missing_ok=True)


def defused(text: str) -> str:
    """A text for a cell of a table, which no spreadsheet takes for a formula; numbers stay as they are.

    Examples
    --------
    >>> defused("=1+1"), defused("-3.5"), defused("2s2p")
    ("'=1+1", '-3.5', '2s2p')
    """
    return f"'{text}" if FORMULA.match(text) and not NUMBER.fullmatch(text) else text


def fused(text: str) -> str:
    """The text that was in a cell before it was defused.

    Examples
    --------
    >>> fused(defused("=1+1")), fused(defused("-3.5")), fused("'2s'")
    ('=1+1', '-3.5', "'2s'")
    """
    return text[1:] if text.startswith("'") and FORMULA.match(text) else text
