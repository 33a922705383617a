"""Screens and files that cannot show every letter: what they lack is written in plainer ones.

A console of another language, or a text piped into a file on Windows, may know no minus sign or superscript.
"""

from __future__ import annotations

import codecs
import logging
import sys
import unicodedata
import warnings

PLAIN = {"\N{MINUS SIGN}": "-", "\N{EN DASH}": "-", "°": "deg "}
# letters that Unicode itself does not spell plainer
LACKING = "written plainly"
# name under which encoders know it


def plainly(trouble: UnicodeError) -> tuple[str, int]:
    """What stands for letters that an encoding lacks, and where to go on.

    Examples
    --------
    >>> "−3 W/m² für 20 °".encode("ascii", LACKING)
    b'-3 W/m2 fur 20 deg '
    """
    if not isinstance(trouble, UnicodeEncodeError):
        raise trouble
    lacking = trouble.object[trouble.start : trouble.end]
    return "".join(PLAIN.get(letter) or _spelt(letter) for letter in lacking), trouble.end


def _spelt(letter: str) -> str:
    """A letter without its accents and raised digits; a question mark where nothing is left."""
    return unicodedata.normalize("NFKD", letter).encode("ascii", "ignore").decode() or "?"


def write_plainly() -> None:
    """Let this process's answers be written in plainer letters where its screen lacks some."""
    for stream in (sys.stdout, sys.stderr):
        if hasattr(stream, "reconfigure"):
            stream.reconfigure(errors=LACKING)


def is_trouble(record: logging.LogRecord) -> bool:
    """Whether a note of matplotlib's own start is worth a line; where it keeps its cache is not."""
    return record.levelno >= logging.ERROR


def draw_quietly() -> None:
    """Draw without notes on a home that cannot be written, whose cache is then a temporary one, or on lacking letters.

    A letter of a name that the font of charts lacks, such as a little picture, is drawn as a box.
    """
    logging.getLogger("matplotlib").addFilter(is_trouble)
    warnings.filterwarnings("ignore", message="Glyph .* missing from font", category=UserWarning)


codecs.register_error(LACKING, plainly)
