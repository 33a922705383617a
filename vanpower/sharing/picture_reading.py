"""The recipe in a PNG or SVG picture, or in a text, read from files of strangers.

Chunk by chunk, with bounded sizes; the picture itself is never unpacked, and nothing in it is run or opened.
"""

from __future__ import annotations

import struct
import sys
import zlib
from collections.abc import Iterator
from pathlib import Path

from vanpower.sharing.recipe import ChartRecipe
from vanpower.sharing.recipe_line import BEGINS, LARGEST_LINE, recipe_in

PNG_BEGINS = b"\x89PNG\r\n\x1a\n"
RECIPE_KEY = "Recipe"
# keyword of the text chunk in a PNG
LARGEST_PICTURE = 30_000_000
# [bytes] a chart takes a tenth of one megabyte, a day of minutes with its recipe as well
MOST_CHUNKS = 20_000
# pieces of a PNG; ours have about twenty
TEXT_CHUNKS = (b"tEXt", b"zTXt", b"iTXt")
# PNG specification (ISO/IEC 15948), 11.3.4
OTHERS = {
    b"\xff\xd8\xff": "a JPEG, which carries no recipe",
    b"%PDF": "a PDF, which carries no recipe",
    b"GIF8": "a GIF, which carries no recipe",
    b"RIFF": "a WebP or another RIFF file, which carries no recipe",
    b"PK\x03\x04": "a ZIP archive; unpack it first",
    b"\x1f\x8b": "packed by gzip; unpack it first",
}
# how other files begin
STRIPPED = (
    "Saved elsewhere or by a forum? Most boards strip it from pictures. Ask for the text block of the answer, "
    "or for the file itself."
)


def read_chart(path: str | Path) -> ChartRecipe:
    """The recipe that a saved chart carries: what it takes to draw the same chart again.

    Parameters
    ----------
    path : str or Path
        A PNG or SVG picture, or a text file with a forum text in it; "-" reads standard input.

    Returns
    -------
    ChartRecipe
        For `remake`.

    Raises
    ------
    ValueError
        Where the file holds no recipe, is damaged, too large or of another kind.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import Snapshot, compare, example
    >>> from vanpower.sharing.saving import save_chart
    >>> comparison = compare(example("bookmobile").wirings(), Snapshot(light=700, temp_cell=30))
    >>> with TemporaryDirectory() as folder:
    ...     saved = save_chart(Path(folder) / "mine.png", "power", comparison)
    ...     read_chart(Path(folder) / "mine.png") == saved
    True
    """
    if str(path) == "-":
        return recipe_in(_piped(), "the pasted text")
    path = Path(path)
    return chart_in(_bytes_of(path), path.name)


def chart_in(held: bytes, name: str) -> ChartRecipe:
    """The recipe in the bytes of a file, which messages call by this name."""
    if held.startswith(PNG_BEGINS):
        return _in_png(held, name)
    if PNG_BEGINS.startswith(held[:8]):
        raise ValueError(f"{name} is cut off after {len(held)} bytes; fetch it once more.")
    for beginning, kind in OTHERS.items():
        if held.startswith(beginning):
            raise ValueError(f"{name} is {kind}; a recipe travels in PNG, SVG or the text block of an answer.")
    return _in_text(held, name)


def _piped() -> str:
    """What is piped in, bounded."""
    if sys.stdin is None:
        raise ValueError("Nothing is piped in; name a file, or pipe the post into vanpower remake - .")
    held = sys.stdin.buffer.read(4 * LARGEST_LINE)
    return held.decode("utf-8", errors="replace")


def _bytes_of(path: Path) -> bytes:
    """What a file holds; each way it cannot be read is told."""
    try:
        if path.is_dir():
            problem = f"{path} is a folder; name the picture in it."
        elif not path.exists():
            problem = f"There is no file {path}."
        elif not path.is_file():
            problem = f"{path} is not an ordinary file."
        elif path.stat().st_size > LARGEST_PICTURE:
            problem = f"{path.name} is larger than {LARGEST_PICTURE // 1_000_000} MB; a chart takes a tenth of one."
        else:
            with path.open("rb") as file:
                held = file.read(path.stat().st_size)
            if held:
                return held
            problem = f"{path.name} is empty; fetch it once more."
    except PermissionError:
        problem = f"{path} may not be read; its permissions keep you out."
    except (OSError, ValueError) as trouble:
        problem = f"{str(path)[:200]!r} cannot be read: {getattr(trouble, 'strerror', None) or trouble}."
    raise ValueError(problem)


def _in_text(held: bytes, name: str) -> ChartRecipe:
    """The recipe in an SVG or a text; neither is parsed, the line is searched for."""
    if b"\x00" in held[:4096]:
        raise ValueError(f"{name} is no picture of this kit and no text; a recipe travels in PNG, SVG or text.")
    at = held.find(BEGINS.encode())
    if at < 0 and b"<svg" in held[:4096]:
        if b"</svg>" not in held[-4096:]:
            raise ValueError(f"{name} is cut off after {len(held)} bytes; fetch it once more.")
        raise ValueError(f"{name} holds no recipe. {STRIPPED}")
    at = max(at, 0)
    return recipe_in(held[at : at + 4 * LARGEST_LINE].decode("utf-8", errors="replace"), name)


# PNG


def _in_png(held: bytes, name: str) -> ChartRecipe:
    """The recipe in a PNG."""
    found = None
    for kind, data in _chunks(held, name):
        # the first alone is unpacked, and the rest of the picture is only looked through
        found = _recipe_text(kind, data, name) if found is None else found
    if found is None:
        raise ValueError(f"{name} holds no recipe. {STRIPPED}")
    return recipe_in(found, name)


def _chunks(held: bytes, name: str) -> Iterator[tuple[bytes, bytes]]:
    """The text chunks of a whole PNG with correct check sums."""
    at = len(PNG_BEGINS)
    for _ in range(MOST_CHUNKS):
        if at + 12 > len(held):
            raise ValueError(f"{name} is cut off after {len(held)} bytes; fetch it once more.")
        length, kind = struct.unpack(">I4s", held[at : at + 8])
        end = at + 12 + length
        if end > len(held):
            raise ValueError(f"{name} is cut off or damaged at byte {at}; fetch it once more.")
        if not kind.isalpha():
            raise ValueError(f"{name} is damaged at byte {at}; fetch it once more.")
        if kind in TEXT_CHUNKS:
            data = held[at + 8 : end - 4]
            if zlib.crc32(kind + data) != struct.unpack(">I", held[end - 4 : end])[0]:
                raise ValueError(f"{name} is damaged at byte {at}: a check sum is wrong; fetch it once more.")
            yield kind, data
        if kind == b"IEND":
            return
        at = end
    raise ValueError(f"{name} has more than {MOST_CHUNKS} pieces; that is no chart.")


def _recipe_text(kind: bytes, data: bytes, name: str) -> str | None:
    """What a text chunk says under the key of recipes; None for another key."""
    keyword, _, rest = data.partition(b"\x00")
    if keyword != RECIPE_KEY.encode():
        return None
    if kind == b"zTXt":
        rest = _inflated(rest[1:], name)
    elif kind == b"iTXt":
        packed, (_, _, text) = rest[:1] == b"\x01", _parts(rest[2:])
        rest = _inflated(text, name) if packed else text
    if len(rest) > 2 * LARGEST_LINE:
        raise ValueError(f"{name}: its recipe takes {len(rest) // 1000} kB, more than a chart's; it is refused.")
    return rest.decode("latin-1")


def _parts(rest: bytes) -> tuple[bytes, bytes, bytes]:
    """Language, translated key and text of an iTXt chunk."""
    language, _, rest = rest.partition(b"\x00")
    translated, _, text = rest.partition(b"\x00")
    return language, translated, text


def _inflated(data: bytes, name: str) -> bytes:
    """A packed text, never more than a line may take."""
    unpacker = zlib.decompressobj()
    try:
        text = unpacker.decompress(data, 2 * LARGEST_LINE)
    except zlib.error:
        raise ValueError(f"{name}: its recipe is damaged; fetch the file once more.") from None
    if unpacker.unconsumed_tail:
        raise ValueError(f"{name}: its recipe unpacks to more than a chart's; it is refused.")
    return text
