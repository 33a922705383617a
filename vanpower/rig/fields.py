"""What each field of a description means and which values make sense, said once, beside the field.

`number`, `whole`, `word`, `text`, `yes_or_no`, `listed` and `part` stand where a dataclass has its default:
`section_mm2: float = number(0.5, 70.0, "copper of one core", default=6.0)`. This one table refuses what is impossible
(field, value, what would make sense, likely slip), and writes the Parameters of docstrings, the comments of rig files,
the columns of a list of controllers and `schema`. The unit of a field is told by its name.
"""

from __future__ import annotations

import dataclasses
import inspect
from collections.abc import Callable, Iterator, Mapping
from dataclasses import MISSING, dataclass
from numbers import Integral, Real
from textwrap import wrap
from typing import Any, ClassVar, NoReturn, Self, TypeVar, cast, dataclass_transform
from unicodedata import category

LONGEST_QUOTE = 60
# characters of a refused value that a message repeats
LONGEST_NAME, LONGEST_NOTE = 200, 1000
# letters of a name, and of any other text of a description: more than a line of a page holds; no source
JOINERS = "\u200c\u200d"
# letters without a width that Persian, Hindi and joined emoji are written with; they steer nothing
PATHS = ("path", "weather")
# fields that may name a file, whose name may hold bytes that are no letters
WIDTH = 108
# letters of a line of a docstring behind its indents

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
WORDLESS = (float, int, bool, type(None))
# what holds no text
KEY = "field"
# under which the dataclass keeps what is known of a field

Told = str | Callable[[Any], str]
# a sentence, or what makes it out of the whole description
Bounds = Callable[[Any], tuple[float, float]]
D = TypeVar("D", bound="Description")


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


# What is known of a field


@dataclass(kw_only=True, eq=False, repr=False)
class Field:
    """What is known of one field.

    Parameters
    ----------
    name : str
        As code and files call it; the class that has it fills it in.
    meaning : str
        In a few words, as the comment of a file has it.
    more : str
        What else a docstring says.
    default : object
        `MISSING` where a value must be given; None where a label may be silent.
    unit : str
        Where its name does not tell it.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> table(Cable)["section_mm2"].comment
    'mm², copper section of one core'
    """

    name: str = ""
    meaning: str
    more: str = ""
    default: Any
    unit: str = ""

    @property
    def comment(self) -> str:
        """Unit and meaning, as a file has them behind a value."""
        return ", ".join(part for part in (self.unit or unit_of(self.name), self.meaning) if part)

    @property
    def is_part(self) -> bool:
        """Whether it holds descriptions, which a file writes as tables of their own."""
        return False

    @property
    def needed(self) -> bool:
        """Whether a value must be given."""
        return self.default is MISSING

    @property
    def reach(self) -> str:
        """Unit and bounds, as a docstring has them in brackets."""
        return self.unit or unit_of(self.name)

    @property
    def waits(self) -> bool:
        """Whether what makes sense hangs on other fields, which are looked at first."""
        return False

    def check(self, owner: Description, value: Any) -> None:
        """Refuse a value that makes no sense; here, any does."""

    def outline(self) -> dict[str, Any]:
        """What a form needs to ask for it: title, unit, least, most, words, default, meaning, needed."""
        ending = next((end for end in UNITS_BEHIND if self.name.endswith(end)), "")
        title = self.name.removesuffix(ending).replace("_", " ")
        return {
            "title": title[:1].upper() + title[1:],
            "unit": self.unit or unit_of(self.name),
            "least": None,
            "most": None,
            "words": (),
            "default": None if self.needed else self.default,
            "needed": self.needed,
            "meaning": self.meaning,
        }


@dataclass(kw_only=True, eq=False, repr=False)
class Number(Field):
    """A number from `least` to `most`; `within` narrows both by other fields, `only` to some numbers.

    The likely slip is `slip`, or `above` where the value is too high. `said` stands behind the numbers of a message,
    where that is more than the unit.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> Cable(length_m=450.0)
    Traceback (most recent call last):
    ValueError: Cable.length_m is 450 m; a value from 0 to 100 m, one way makes sense. Are these centimetres?
    """

    least: float
    most: float
    said: str = ""
    slip: Told = ""
    above: Told = ""
    within: Bounds | None = None
    only: tuple[float, ...] = ()

    @property
    def waits(self) -> bool:
        """Whether what makes sense hangs on other fields, which are looked at first."""
        return self.within is not None

    @property
    def reach(self) -> str:
        """Unit and bounds, as a docstring has them in brackets."""
        bounds = "" if self.only else f"{self.least:g} to {self.most:g}"
        return ", ".join(part for part in (super().reach, bounds) if part)

    def check(self, owner: Description, value: Any) -> None:
        """Refuse what is no number, too small or too large."""
        if value is None and self.default is None:
            return
        low, high = self.within(owner) if self.within else (self.least, self.most)
        is_number = value.__class__ is float or (isinstance(value, Real) and not isinstance(value, bool))
        if is_number and low <= value <= high and (not self.only or value in self.only):
            return
        slip = self.above if self.above and is_number and value > high else self.slip
        sense = self._sense(low, high)
        require(False, owner, self.name, sense, slip if is_number or self.only else "Write a plain number.")

    def _sense(self, low: float, high: float) -> str:
        """What would make sense."""
        if self.only:
            *most, last = (f"{value:g}" for value in self.only)
            return f"{', '.join(most)} and {last} {unit_of(self.name)} are usual"
        unit = self.said or self.unit or unit_of(self.name)
        return f"a value from {low:g} to {high:g} {unit}".strip() + " makes sense"

    def outline(self) -> dict[str, Any]:
        """What a form needs to ask for it."""
        return super().outline() | {"least": self.least, "most": self.most, "words": self.only}


@dataclass(kw_only=True, eq=False, repr=False)
class Whole(Number):
    """A whole number from `least` to `most`.

    Examples
    --------
    >>> from vanpower.rig import Shade
    >>> Shade(panel=0.5, lit=0.2)
    Traceback (most recent call last):
    ValueError: Shade.panel is 0.5; a whole number from 0 to 200 makes sense.
    """

    def check(self, owner: Description, value: Any) -> None:
        """Refuse what is no whole number, too small or too large."""
        if value is None and self.default is None:
            return
        is_whole = isinstance(value, Integral) and not isinstance(value, bool)
        require(is_whole, owner, self.name, f"a whole number from {self.least} to {self.most} makes sense")
        super().check(owner, value)


@dataclass(kw_only=True, eq=False, repr=False)
class Word(Field):
    """One of some words; `slips` says what trade names are called here, by a part of theirs.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> Cable(laying="in a pipe")
    Traceback (most recent call last):
    ValueError: Cable.laying is 'in a pipe'; it is "apart", "surface" or "conduit". In a pipe it is "conduit".
    """

    words: tuple[str, ...]
    slips: Mapping[str, str]

    def check(self, owner: Description, value: Any) -> None:
        """Refuse any other word."""
        if value in self.words or value == self.default:
            return
        plain = str(value).lower()
        slip = next((sentence for part, sentence in self.slips.items() if part in plain), "")
        words = ", ".join(f'"{word}"' for word in self.words[:-1]) + f' or "{self.words[-1]}"'
        require(False, owner, self.name, f"it is {words}", slip)

    def outline(self) -> dict[str, Any]:
        """What a form needs to ask for it."""
        return super().outline() | {"words": self.words}


@dataclass(kw_only=True, eq=False, repr=False)
class Text(Field):
    """A line of text.

    Examples
    --------
    >>> from vanpower.rig import Load
    >>> Load(name=12, p_load=5.0)
    Traceback (most recent call last):
    ValueError: Load.name is 12; it is text.
    """

    sense: str = "it is text"
    slip: Told = ""

    def check(self, owner: Description, value: Any) -> None:
        """Refuse what is no text."""
        require(isinstance(value, str), owner, self.name, self.sense, self.slip)


@dataclass(kw_only=True, eq=False, repr=False)
class YesOrNo(Field):
    """True or false.

    Examples
    --------
    >>> from vanpower.rig import Panel
    >>> table(Panel)["bypass_diodes"].default
    True
    """

    def check(self, owner: Description, value: Any) -> None:
        """Refuse anything else."""
        known = isinstance(value, bool) or (value is None and self.default is None)
        require(known, owner, self.name, "it is true or false")


@dataclass(kw_only=True, eq=False, repr=False)
class Listed(Field):
    """A list of plain values; `sense` says how it is written."""

    sense: str


@dataclass(kw_only=True, eq=False, repr=False)
class Part(Field):
    """A description inside, or a tuple of them."""

    @property
    def is_part(self) -> bool:
        """Whether it holds descriptions, which a file writes as tables of their own."""
        return True


# How a description says it


def number(
    least: float,
    most: float,
    meaning: str,
    *,
    default: Any = MISSING,
    unit: str = "",
    said: str = "",
    slip: Told = "",
    above: Told = "",
    within: Bounds | None = None,
    only: tuple[float, ...] = (),
    more: str = "",
) -> Any:
    """A number from `least` to `most`; see `Number`.

    Examples
    --------
    >>> class Tank(Description):
    ...     '''A tank of water.'''
    ...     depth_m: float = number(0.1, 2.0, "to the brim", above="Are these centimetres?")
    >>> Tank(depth_m=40.0)
    Traceback (most recent call last):
    ValueError: Tank.depth_m is 40 m; a value from 0.1 to 2 m makes sense. Are these centimetres?
    """
    known = Number(
        meaning=meaning,
        more=more,
        default=default,
        unit=unit,
        said=said,
        least=least,
        most=most,
        slip=slip,
        above=above,
        within=within,
        only=only,
    )
    return _field(known)


def whole(least: int, most: int, meaning: str, *, default: Any = MISSING, more: str = "") -> Any:
    """A whole number from `least` to `most`.

    Examples
    --------
    >>> class Shelf(Description):
    ...     '''A shelf.'''
    ...     boards: int = whole(1, 9, "one above another")
    >>> Shelf(boards=2.5)
    Traceback (most recent call last):
    ValueError: Shelf.boards is 2.5; a whole number from 1 to 9 makes sense.
    """
    return _field(Whole(meaning=meaning, more=more, default=default, least=least, most=most))


def word(
    words: tuple[str, ...],
    meaning: str,
    *,
    default: Any = MISSING,
    slips: Mapping[str, str] | None = None,
    more: str = "",
) -> Any:
    """One of some words; `slips` says what trade names are called here.

    Examples
    --------
    >>> class Lamp(Description):
    ...     '''A lamp.'''
    ...     colour: str = word(("warm", "cold"), "of its light", default="warm", slips={"yellow": 'It is "warm".'})
    >>> Lamp(colour="yellowish")
    Traceback (most recent call last):
    ValueError: Lamp.colour is 'yellowish'; it is "warm" or "cold". It is "warm".
    """
    return _field(Word(meaning=meaning, more=more, default=default, words=words, slips=slips or {}))


def text(meaning: str, *, default: Any = MISSING, sense: str = Text.sense, slip: Told = "", more: str = "") -> Any:
    """A line of text.

    Examples
    --------
    >>> class Note(Description):
    ...     '''A note.'''
    ...     by: str = text("who wrote it", default="nobody")
    >>> Note().by
    'nobody'
    """
    return _field(Text(meaning=meaning, more=more, default=default, sense=sense, slip=slip))


def yes_or_no(meaning: str, *, default: Any = MISSING, more: str = "") -> Any:
    """True or false; None too, where that is the default.

    Examples
    --------
    >>> class Door(Description):
    ...     '''A door.'''
    ...     is_open: bool = yes_or_no("right now", default=False)
    >>> Door(is_open="ajar")
    Traceback (most recent call last):
    ValueError: Door.is_open is 'ajar'; it is true or false.
    """
    return _field(YesOrNo(meaning=meaning, more=more, default=default))


def listed(meaning: str, *, sense: str, default: Any = MISSING, more: str = "") -> Any:
    """A tuple of plain values, which `together` looks at; `sense` says how a file writes it.

    Examples
    --------
    >>> class Row(Description):
    ...     '''A row.'''
    ...     watts: tuple[float, ...] = listed("hour by hour", sense="it is a list of numbers", default=())
    >>> Row().watts
    ()
    """
    return _field(Listed(meaning=meaning, more=more, default=default, sense=sense))


def part(meaning: str, *, default: Any = MISSING, more: str = "") -> Any:
    """A description inside, or a tuple of them.

    Examples
    --------
    >>> class Wall(Description):
    ...     '''A wall.'''
    ...     window: Description | None = part("if it has one", default=None)
    >>> Wall().window is None
    True
    """
    return _field(Part(meaning=meaning, more=more, default=default))


def _field(known: Field) -> Any:
    """The dataclass's own field, which carries what is known."""
    return dataclasses.field(default=known.default, metadata={KEY: known})


@dataclass_transform(
    kw_only_default=True,
    frozen_default=True,
    field_specifiers=(number, whole, word, text, yes_or_no, listed, part, dataclasses.field),
)
class Description:
    """What every description is: a frozen dataclass named by keyword, checked by the table of its fields.

    A name comes from a stranger as often as not, and is printed by every command. So a text with a line break, or with
    a letter that steers a screen or turns the way of reading, is refused where the description is made, in whatever
    field it stands. Then each field is held to what is known of it, and `together` looks at what fields say together.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> Cable(copper="class 5\\nYES  Cold ceiling")
    Traceback (most recent call last):
    ValueError: Cable.copper is 'class 5?YES  Cold ceiling'; its letter 8 is a line break. Write it in one line.
    """

    __dataclass_fields__: ClassVar[dict[str, dataclasses.Field[Any]]]
    _table: ClassVar[dict[str, Field]]
    _checks: ClassVar[tuple[Field, ...]]

    def __init_subclass__(cls) -> None:
        """Make a dataclass of it, and its table and the Parameters of its docstring out of its fields."""
        super().__init_subclass__()
        dataclass(frozen=True, kw_only=True)(cls)
        cls._table = {each.name: each.metadata[KEY] for each in dataclasses.fields(cls) if KEY in each.metadata}
        for name, field in cls._table.items():
            field.name = name
        cls._checks = tuple(sorted(cls._table.values(), key=lambda field: field.waits))
        # a class hands its docstring out through a descriptor where there is one, so that it is put together when read
        cls.__doc__ = cast(str, _Documented(inspect.cleandoc(cls.__doc__ or "")))

    def __post_init__(self) -> None:
        """Refuse what is impossible."""
        held = vars(self)
        for name, value in held.items():
            if value.__class__ not in WORDLESS:
                for line in _texts(value):
                    _require_line(self, name, line)
        for field in self._checks:
            field.check(self, held[field.name])
        self.together()

    def together(self) -> None:
        """Refuse what fields say together; most say nothing."""

    def changed(self, **changes: Any) -> Self:
        """The same with some fields changed; a function is given the description and says the new value.

        Raises
        ------
        ValueError
            For a field that it has not, and for a value that makes no sense.

        Examples
        --------
        >>> from vanpower.rig import Cable
        >>> Cable(length_m=4.0).changed(length_m=lambda cable: 2 * cable.length_m, section_mm2=10.0).length_m
        8.0
        >>> Cable().changed(section=10.0)
        Traceback (most recent call last):
        ValueError: Cable has no field section; did you mean section_mm2?
        """
        if not changes:
            return self
        known = self.__dataclass_fields__
        for name in changes:
            if name not in known:
                from difflib import get_close_matches

                near = get_close_matches(name, known, n=1)
                told = f"did you mean {near[0]}?" if near else f"there are {', '.join(known)}."
                raise ValueError(f"{type(self).__name__} has no field {name}; {told}")
        values = {name: value(self) if callable(value) else value for name, value in changes.items()}
        return dataclasses.replace(self, **values)


def table(kind: type[Description]) -> dict[str, Field]:
    """What is known of each field of a kind of description, by name.

    Examples
    --------
    >>> from vanpower.rig import Controller
    >>> [name for name, field in table(Controller).items() if field.needed]
    ['name', 'v_pv_max', 'i_charge_max']
    """
    return kind._table


def schema(kind: type[Description]) -> dict[str, dict[str, Any]]:
    """What a form needs to ask for a description, field by field, as plain values.

    Each has title, unit, least, most, words, default, needed and meaning. Where bounds hang on another field, as the
    volts of a battery on v_nominal, they are the widest; a part that is a description of its own has none.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> schema(Cable)["section_mm2"]["least"], schema(Cable)["laying"]["words"]
    (0.5, ('apart', 'surface', 'conduit'))
    """
    return {name: field.outline() for name, field in table(kind).items()}


def joined(what: str, where: str, held: tuple[D, ...], wanted: D | str, changes: Mapping[str, Any]) -> tuple[D, ...]:
    """Descriptions with names: with one more of them, or with the one of that name changed.

    Examples
    --------
    >>> from vanpower.rig import Load
    >>> lamp = Load(name="lamp", p_load=5.0)
    >>> joined("load", "in this van", (lamp,), "lamp", {"p_load": 8.0})[0].p_load
    8.0
    >>> joined("load", "in this van", (lamp,), "fridge", {})
    Traceback (most recent call last):
    ValueError: there is no load 'fridge' in this van; there are lamp.
    """
    names = [vars(one)["name"] for one in held]
    if not isinstance(wanted, str):
        return (*held, wanted.changed(**changes))
    if wanted not in names:
        raise ValueError(f"there is no {what} {wanted!r} {where}; there are {', '.join(names) or 'none'}.")
    return tuple(one.changed(**changes) if name == wanted else one for name, one in zip(names, held, strict=True))


# The docstring


class _Documented:
    """A docstring that takes its Parameters part from the class when it is read."""

    def __init__(self, doc: str) -> None:
        self.doc = doc

    def __get__(self, one: Description | None, cls: type[Description]) -> str:
        return _documented(self.doc, cls)


def _documented(doc: str, cls: type[Description]) -> str:
    """The docstring with a Parameters part out of the table, before its notes and examples."""
    if not cls._table:
        return doc
    at = min((doc.find(f"\n{head}\n--") for head in ("Notes", "Examples") if f"\n{head}\n--" in doc), default=len(doc))
    types = {each.name: str(each.type) for each in dataclasses.fields(cls)}
    lines = [line for field in cls._table.values() for line in _parameter(field, types[field.name])]
    return "\n".join([doc[:at].rstrip(), "", "Parameters", "----------", *lines, doc[at:]])


def _parameter(field: Field, kind: str) -> list[str]:
    """Name, type, meaning and unit of a field, as numpydoc has them."""
    plain = kind.removesuffix(" | None")
    usual = "" if field.needed else ", optional" if field.default is None else f", default {field.default!r}"
    usual = ", optional" if len(usual) > LONGEST_QUOTE else usual
    said = f"{field.meaning[:1].upper()}{field.meaning[1:]}."
    words = " ".join(part for part in (said, field.more, f"[{field.reach}]" if field.reach else "") if part)
    lines = [words] if len(words) <= WIDTH else wrap(words, WIDTH)
    return [f"{field.name} : {plain}{usual}", *(f"    {line}" for line in lines)]


# How a message says it


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


def _texts(value: object) -> Iterator[str]:
    """The text that a field holds, or the texts of its list."""
    if isinstance(value, str):
        yield value
    elif isinstance(value, Mapping):
        yield from _texts((*value.keys(), *value.values()))
    elif isinstance(value, (tuple, list)):
        for part in value:
            yield from _texts(part)


def _require_line(owner: Description, field: str, text: str) -> None:
    """Refuse a text that has no end, breaks its line, steers or hides."""
    where, most = f"{type(owner).__name__}.{field}", LONGEST_NAME if field == "name" else LONGEST_NOTE
    if len(text) > most:
        value, sense = f"{len(text)} letters long", f"up to {most} make sense"
        refused = Refused(kind=type(owner).__name__, field=field, value=value, sense=sense)
        _refuse(f"{where} has {len(text)} letters; {sense}.", refused)
    text = text.encode(errors="replace").decode() if field in PATHS else text
    if text != printable(text):
        at = next(k for k, letter in enumerate(text) if not _is_plain(letter))
        value, sense = shown(field, printable(text)), f"its letter {at + 1} is {_told(text[at])}"
        refused = Refused(kind=type(owner).__name__, field=field, value=value, sense=sense)
        _refuse(f"{where} is {value}; {sense}.", refused)


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


@dataclass(frozen=True, kw_only=True)
class Refused:
    """What a description refuses, in its parts, for whoever says it in other words, such as a form.

    Parameters
    ----------
    kind, field : str
        Whose field it is, and which.
    value : str
        As messages repeat it.
    sense, slip : str
        What would make sense, and the likely slip.
    other : str
        The field of the same description that it is held against; empty where there is none.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> try:
    ...     Cable(length_m=450.0)
    ... except ValueError as trouble:
    ...     print(refused_in(trouble).field, refused_in(trouble).value, refused_in(trouble).slip)
    length_m 450 m Are these centimetres?
    """

    kind: str
    field: str
    value: str
    sense: str
    slip: str = ""
    other: str = ""


def refused_in(trouble: ValueError) -> Refused | None:
    """What an error of a description says, in its parts; None of any other error.

    Examples
    --------
    >>> refused_in(ValueError("something else")) is None
    True
    """
    return vars(trouble).get("refused")


def _refuse(told: str, refused: Refused) -> NoReturn:
    """Raise the error with its parts beside it; it stays a ValueError by name, which a reader knows."""
    trouble = ValueError(told)
    vars(trouble)["refused"] = refused
    raise trouble


def require(ok: bool, owner: object, field: str, sense: str, slip: Told = "", *, other: str = "") -> None:
    """Raise the one kind of error descriptions make: field, value, what would make sense, likely slip.

    `other` names the field of the same description that the value is held against.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> require(False, Cable(), "section_mm2", "10 mm² or more make sense", "Is this a diameter?")
    Traceback (most recent call last):
    ValueError: Cable.section_mm2 is 6 mm²; 10 mm² or more make sense. Is this a diameter?
    """
    if not ok:
        told = slip if isinstance(slip, str) else slip(owner)
        tail = f" {told}" if told else ""
        value = shown(field, getattr(owner, field))
        kind = type(owner).__name__
        refused = Refused(kind=kind, field=field, value=value, sense=sense, slip=told, other=other)
        _refuse(f"{kind}.{field} is {value}; {sense}.{tail}", refused)


def twice_used(panels: tuple[int, ...]) -> str:
    """The panels named more than once, as P1, P2; empty where there are none.

    Examples
    --------
    >>> twice_used((0, 1, 1)), twice_used((0, 1))
    ('P2', '')
    """
    return ", ".join(f"P{panel + 1}" for panel in sorted(set(panels)) if panels.count(panel) > 1)
