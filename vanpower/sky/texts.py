"""The text of a person's own weather file; each way that it cannot be read is told in plain words."""

from __future__ import annotations

from pathlib import Path

LARGEST_WEATHER = 60_000_000
# [bytes] a year of minutes with six columns takes 30 million
OTHERS = {
    b"PK\x03\x04": "a spreadsheet or another archive; save the sheet as CSV",
    b"\xd0\xcf\x11\xe0": "an old spreadsheet; save the sheet as CSV",
    b"\x1f\x8b": "packed by gzip; unpack it first",
    b"%PDF": "a PDF; copy its table into a CSV file",
    b"\x89PNG": "a picture, not text saved as UTF-8",
    b"\xff\xfe": "saved as UTF-16; save it as UTF-8",
    b"\xfe\xff": "saved as UTF-16; save it as UTF-8",
}
# how other files begin, and what to do with them
LONGEST_SHOWN = 40
# characters of a line that a message repeats


def weather_text(path: Path) -> str:
    """What a weather file holds, as text.

    Raises
    ------
    ValueError
        Where there is no such file, it is another kind, empty, too large, or not saved as UTF-8.
    """
    held = _held(path)
    for beginning, kind in OTHERS.items():
        if held.startswith(beginning):
            raise ValueError(f"{path.name} is {kind}.")
    if not held.strip():
        raise ValueError(
            f"{path.name} is empty and cannot be read as weather; it needs the columns time, ghi, temp_air."
        )
    if b"\x00" in held:
        raise ValueError(f"{path.name} cannot be read as text; a weather file is a CSV saved as UTF-8.")
    try:
        return held.decode("utf-8-sig")
    except UnicodeDecodeError as trouble:
        line = held.count(b"\n", 0, trouble.start) + 1
        shown = held.splitlines()[line - 1].decode("latin-1").strip()[:LONGEST_SHOWN]
        raise ValueError(
            f"{path.name}, line {line}: {shown!r} is not UTF-8. Is it Latin-1? Save the file as UTF-8."
        ) from None


def _held(path: Path) -> bytes:
    """The bytes of a file of a sensible size."""
    try:
        if path.is_dir():
            problem = f"{path} is a folder; name the CSV file in it."
        elif not path.exists():
            problem = f"There is no file {path}; it cannot be read as weather."
        elif not path.is_file():
            problem = f"{path} is not an ordinary file."
        elif path.stat().st_size > LARGEST_WEATHER:
            problem = f"{path.name} is larger than {LARGEST_WEATHER // 1_000_000} MB; a year of minutes takes half."
        else:
            return path.read_bytes()
    except PermissionError:
        problem = f"{path} may not be read; its permissions keep you out."
    except (OSError, ValueError) as trouble:
        problem = f"{str(path)[:200]!r} cannot be read: {getattr(trouble, 'strerror', None) or trouble}."
    raise ValueError(problem)
