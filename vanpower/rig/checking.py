"""How descriptions refuse what is impossible: field, value, what would make sense, likely slip."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from numbers import Integral, Real
from unicodedata import category

LONGEST_QUOTE = 60
# characters of a refused value that a message repeats
LONGEST_NAME, LONGEST_NOTE = 200, 1000
# letters of a name, and of any other text of a description: more than a line of a page holds; no source
JOINERS = "\u200c\u200d"
# letters without a width that Persian, Hindi and joined emoji are written with; they steer nothing
PATHS = ("path", "weather")
# fields that may name a file, whose name may hold bytes that are no letters

UNITS_BEFORE = {"v_": "V", "i_": "A", "p_": "W", "r_": "ohm", "temp_": "°C"}
UNITS_BEHIND = {
    "_pct_per_k": "%/K",
    "_mv_per_k": "mV/K",
    "_pct": "%",
    "_mm2": "mm²",
    "_m": "m",
    "_ah": "Ah",
    "_deg": "degrees",
    "_h": "h",
}


def unit_of(field: str) -> str:
    """The unit a field's name carries, by prefix or at its end; empty where it carries none.

    Examples
    --------
    >>> unit_of("v_oc"), unit_of("section_mm2"), unit_of("mount")
    ('V', 'mm²', '')
    """
    behind = [unit for end, unit in UNITS_BEHIND.items() if field.endswith(end)]
    before = [unit for start, unit in UNITS_BEFORE.items() if field.startswith(start)]
    return (behind + before + [""])[0]


class Checked:
    """What every description is: no unknown keys where pydantic reads it from a file, and every text a plain line.

    A name comes from a stranger as often as not, and is printed by every command. So a text with a line break, or with
    a letter that steers a screen or turns the way of reading, is refused where the description is made, in whatever
    field it stands.

    Examples
    --------
    >>> from pydantic import TypeAdapter, ValidationError
    >>> from vanpower.rig import Cable
    >>> try:
    ...     TypeAdapter(Cable).validate_python({"metres": 5.0})
    ... except ValidationError as refused:
    ...     print(refused.errors()[0]["loc"])  # which key is none of a cable's
    ('metres',)
    >>> Cable(copper="class 5\\nYES  Cold ceiling")
    Traceback (most recent call last):
    ValueError: Cable.copper is 'class 5?YES  Cold ceiling'; its letter 8 is a line break. Write it in one line.
    """

    __pydantic_config__ = {"extra": "forbid"}  # noqa: RUF012

    def __init_subclass__(cls) -> None:
        """Let every description look at its texts before it looks at anything else."""
        super().__init_subclass__()
        own: Callable[[Checked], None] | None = cls.__dict__.get("__post_init__")

        def checked(self: Checked) -> None:
            _require_lines(self)
            if own is not None:
                own(self)

        cls.__post_init__ = checked  # type: ignore[attr-defined]


def printable(text: str) -> str:
    """One line of text without letters that steer a screen, turn the way of reading, or hide.

    Examples
    --------
    >>> printable("P1" + chr(27) + "[2J, 5 °C")
    'P1?[2J, 5 °C'
    """
    return text if text.isprintable() else "".join(letter if _is_plain(letter) else "?" for letter in text)


def _is_plain(letter: str) -> bool:
    """Whether a letter does nothing but stand there."""
    return letter.isprintable() or letter in JOINERS or category(letter) == "Zs"


def _require_lines(owner: Checked) -> None:
    """Refuse a description with a text that is more than a plain line."""
    for field, value in vars(owner).items():
        for text in _texts(value):
            _require_line(owner, field, text)


def _texts(value: object) -> Iterator[str]:
    """The text that a field holds, or the texts of its list."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        yield from _texts((*value.keys(), *value.values()))
    elif isinstance(value, (tuple, list)):
        for part in value:
            yield from _texts(part)


def _require_line(owner: Checked, field: str, text: str) -> None:
    """Refuse a text that has no end, breaks its line, steers or hides."""
    where, most = f"{type(owner).__name__}.{field}", LONGEST_NAME if field == "name" else LONGEST_NOTE
    if len(text) > most:
        raise ValueError(f"{where} has {len(text)} letters; up to {most} make sense.")
    text = text.encode(errors="replace").decode() if field in PATHS else text
    if text != printable(text):
        at = next(k for k, letter in enumerate(text) if not _is_plain(letter))
        raise ValueError(f"{where} is {shown(field, printable(text))}; its letter {at + 1} is {_told(text[at])}.")


def _told(letter: str) -> str:
    """What is wrong with a letter, and what to do."""
    if letter in "\n\r" or category(letter) in ("Zl", "Zp"):
        return "a line break. Write it in one line"
    return f"U+{ord(letter):04X}, which steers a screen or cannot be seen. Leave it out"


def shown(field: str, value: object) -> str:
    """A value as a message repeats it: numbers with their unit, anything else in short.

    Examples
    --------
    >>> shown("v_oc", 22.3), shown("mount", "roof")
    ('22.3 V', "'roof'")
    """
    if isinstance(value, float):
        return f"{value:.10g} {unit_of(field)}".strip()
    text = repr(value)
    text = text if len(text) <= LONGEST_QUOTE else f"{text[:LONGEST_QUOTE]}..."
    return f"{text} {unit_of(field)}".strip() if isinstance(value, int) else text


def require(ok: bool, owner: object, field: str, sense: str, slip: str = "") -> None:
    """Raise the one kind of error descriptions make: field, value, what would make sense, likely slip.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> require(False, Cable(), "section_mm2", "10 mm² or more make sense", "Is this a diameter?")
    Traceback (most recent call last):
    ValueError: Cable.section_mm2 is 6 mm²; 10 mm² or more make sense. Is this a diameter?
    """
    if not ok:
        tail = f" {slip}" if slip else ""
        value = shown(field, getattr(owner, field))
        raise ValueError(f"{type(owner).__name__}.{field} is {value}; {sense}.{tail}")


def require_range(
    owner: object,
    field: str,
    low: float,
    high: float,
    *,
    unit: str | None = None,
    slip: str = "",
    above: str = "",
) -> None:
    """Refuse what is no number from low to high; None passes, since it means 'not on the label'.

    The likely slip is `slip`, or `above` where the value is too high.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> require_range(Cable(length_m=4.5), "length_m", 0.0, 2.0, above="Are these centimetres?")
    Traceback (most recent call last):
    ValueError: Cable.length_m is 4.5 m; a value from 0 to 2 m makes sense. Are these centimetres?
    """
    value = getattr(owner, field)
    if value is None:
        return
    unit = unit_of(field) if unit is None else unit
    sense = f"a value from {low:g} to {high:g} {unit}".strip() + " makes sense"
    number = isinstance(value, Real) and not isinstance(value, bool)
    require(number, owner, field, sense, "Write a plain number.")
    require(low <= value <= high, owner, field, sense, above if above and value > high else slip)


def require_count(owner: object, field: str, low: int, high: int) -> None:
    """Refuse what is no whole number from low to high; None passes.

    Examples
    --------
    >>> from vanpower.rig import Shade
    >>> require_count(Shade(panel=5, lit=0.2), "panel", 0, 3)
    Traceback (most recent call last):
    ValueError: Shade.panel is 5; a value from 0 to 3 makes sense.
    """
    value = getattr(owner, field)
    whole = value is None or (isinstance(value, Integral) and not isinstance(value, bool))
    require(whole, owner, field, f"a whole number from {low} to {high} makes sense")
    require_range(owner, field, low, high)


def require_one_of(owner: object, field: str, known: tuple[str, ...], slips: dict[str, str]) -> None:
    """Refuse a word outside the known ones; `slips` says what its trade names are called here.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> require_one_of(Cable(laying="surface"), "laying", ("apart", "conduit"), {"surf": "Clipped in a pipe?"})
    Traceback (most recent call last):
    ValueError: Cable.laying is 'surface'; it is "apart" or "conduit". Clipped in a pipe?
    """
    value = getattr(owner, field)
    words = ", ".join(f'"{word}"' for word in known[:-1]) + f' or "{known[-1]}"'
    plain = str(value).lower()
    slip = next((sentence for part, sentence in slips.items() if part in plain), "")
    require(value in known, owner, field, f"it is {words}", slip)


def twice_used(panels: tuple[int, ...]) -> str:
    """The panels named more than once, as P1, P2; empty where there are none.

    Examples
    --------
    >>> twice_used((0, 1, 1)), twice_used((0, 1))
    ('P2', '')
    """
    return ", ".join(f"P{panel + 1}" for panel in sorted(set(panels)) if panels.count(panel) > 1)
