"""A recipe as one line of plain letters that survives copying, wrapping, quoting and forum software.

The recipe's JSON is packed by zlib and written in letters, digits, + and /. Whatever else stands between its two
ends (line breaks, blanks, quote marks) is skipped; the short id notices whatever was lost.
"""

from __future__ import annotations

import base64
import binascii
import re
import zlib

from vanpower.sharing.recipe import LARGEST_RECIPE, ChartRecipe, recipe_from_json, recipe_to_json, short_id

LINE_FORM = "v1"
# changes with the way a recipe is packed
LARGEST_LINE = 200_000
# [letters] a day of minutes packs into 15 000
BEGINS = "vanpower-recipe"
FOUND = re.compile(rf"{BEGINS}(v\d{{1,3}})id([0-9a-f]{{8}})=([A-Za-z0-9+/]{{1,{LARGEST_LINE}}})=end")
# a line without its blanks
NOISE = re.compile(r"&gt;|[^A-Za-z0-9+/=-]")
# what wrapping, quoting and forum software put between the letters


def recipe_line(recipe: ChartRecipe) -> str:
    """The recipe as one line.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.sharing.recipe import chart_recipe
    >>> recipe = chart_recipe("power", {"as it is": example("bookmobile")}, Snapshot(light=700, temp_cell=30))
    >>> words = recipe_line(recipe).split()
    >>> words[:3], words[3] == recipe.id, words[-1]
    (['vanpower-recipe', 'v1', 'id'], True, 'end')
    """
    text = recipe_to_json(recipe)
    packed = base64.b64encode(zlib.compress(text.encode(), 9)).decode().rstrip("=")
    return f"{BEGINS} {LINE_FORM} id {short_id(text)} = {packed} = end"


def recipe_in(text: str, source: str) -> ChartRecipe:
    """The first recipe in a text from anywhere.

    Parameters
    ----------
    text : str
        A forum post, quoted and wrapped as may be, or the metadata of a picture.
    source : str
        What messages call the place it came from.

    Raises
    ------
    ValueError
        Where there is none, it is cut or changed, or it describes what cannot be.

    Examples
    --------
    >>> from textwrap import fill
    >>> from vanpower import Snapshot, example
    >>> from vanpower.sharing.recipe import chart_recipe
    >>> recipe = chart_recipe("power", {"as it is": example("bookmobile")}, Snapshot(light=700, temp_cell=30))
    >>> recipe_in(fill(recipe_line(recipe), 60, subsequent_indent="> "), "a quoted post") == recipe
    True
    """
    bare = NOISE.sub("", text[: 4 * LARGEST_LINE])
    found = FOUND.search(bare)
    if not found:
        raise ValueError(_nothing_found(bare, source))
    form, wanted, packed = found.groups()
    if form != LINE_FORM:
        raise ValueError(f"{source}: its recipe has the form {form}, this kit reads {LINE_FORM}; update vanpower.")
    held = _unpacked(packed, source)
    if short_id(held) != wanted:
        raise ValueError(f"{source}: its recipe does not match its id {wanted}; it was changed or copied in part.")
    return recipe_from_json(held, source)


def _nothing_found(bare: str, source: str) -> str:
    """What to say of a text without a whole line."""
    if BEGINS not in bare:
        return f"{source} holds no recipe; look for the line that begins {BEGINS} and copy it to its word end."
    return f"{source}: its recipe is cut off or too long; copy everything from {BEGINS} to the word end."


def _unpacked(packed: str, source: str) -> str:
    """The text in a line, never more than a recipe may take."""
    unpacker = zlib.decompressobj()
    try:
        data = base64.b64decode(packed + "=" * (-len(packed) % 4), validate=True)
        held = unpacker.decompress(data, LARGEST_RECIPE)
        if unpacker.unconsumed_tail:
            raise ValueError(f"{source}: its recipe unpacks to more than {LARGEST_RECIPE // 1000} kB; it is refused.")
        whole = unpacker.eof
        text = held.decode("ascii")
    except (binascii.Error, zlib.error, UnicodeDecodeError):
        whole = False
    if not whole:
        raise ValueError(f"{source}: its recipe is damaged; copy the line once more, or ask for the picture.")
    return text
