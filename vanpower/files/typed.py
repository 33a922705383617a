"""Plain data out of TOML or JSON to descriptions, held strictly to the types their fields are annotated with.

Nothing is guessed: a text that looks like a number is none, 5.0 is no whole number, and a key that no field bears is
told. A whole number does for a float, a list for a tuple, and a date for the text it was written as. Which values make
sense the descriptions say themselves.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import MISSING, dataclass, fields
from datetime import date, time
from inspect import isclass
from types import UnionType
from typing import Any, TypeVar, Union, get_args, get_origin, get_type_hints

from vanpower.rig.fields import table

T = TypeVar("T")
Place = tuple[str | int, ...]
MISSING_KEY, UNKNOWN_KEY, REFUSED = "missing", "unknown", "refused"
# what can be wrong besides a value of the wrong type, which is told by the name of the type
_KNOWN: dict[type[Any], dict[str, Any]] = {}
# types of fields that were looked up before


@dataclass(frozen=True, kw_only=True)
class Misfit:
    """What does not fit: where in the table, the type that is wanted or what else is wrong, and what stands there.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> read(Cable, {"length_m": "5 m"})[1][0].wanted
    'float'
    """

    at: Place
    wanted: str
    value: object = None
    said: str = ""


def read(kind: type[T], data: object) -> tuple[T | None, list[Misfit]]:
    """The dataclass that plain data describes, or None and everything that does not fit.

    Examples
    --------
    >>> from vanpower.rig import Cable
    >>> read(Cable, {"length_m": 5})[0] == Cable(length_m=5.0)
    True
    >>> [(misfit.at, misfit.wanted) for misfit in read(Cable, {"length_m": "5 m", "metres": 5})[1]]
    [(('length_m',), 'float'), (('metres',), 'unknown')]
    """
    found: list[Misfit] = []
    made: T | None = _made(kind, data, (), found)
    return (None if found else made), found


def read_keys(
    kind: type[Any], data: Mapping[str, Any], by_name: Mapping[str, Any]
) -> tuple[dict[str, Any], list[Misfit]]:
    """The values of a table whose parts are read one by one elsewhere, and everything that does not fit.

    Parts that are descriptions are held to their shape alone, a table or a list of them; `by_name` gives the types of
    keys that are read in a way of their own.

    Examples
    --------
    >>> from vanpower.rig import Circuit
    >>> read_keys(Circuit, {"wiring": "2p", "controller": {}, "i_plug_max": 30}, {"wiring": object})[0]
    {'wiring': '2p', 'controller': {}, 'i_plug_max': 30.0}
    """
    found: list[Misfit] = []
    parts = {name: _shape(hint) for name, hint in _hints(kind).items() if table(kind)[name].is_part}
    return _values(kind, data, {**_hints(kind), **parts, **by_name}, (), found), found


def learn(*kinds: type[Any]) -> None:
    """Look up the types of fields beforehand, those of descriptions inside too, so that reading runs no code at all.

    Examples
    --------
    >>> from vanpower.rig import Rig, Shade, Snapshot
    >>> learn(Snapshot)
    >>> _hints(Shade)["panel"]
    <class 'int'>
    """
    for kind in kinds:
        if kind not in _KNOWN:
            learn(*(inner for hint in _hints(kind).values() for inner in _inside(hint)))


def _inside(hint: Any) -> list[type[Any]]:
    """The dataclasses that a type speaks of."""
    if isclass(hint) and hasattr(hint, "__dataclass_fields__"):
        return [hint]
    return [inner for part in get_args(hint) for inner in _inside(part)]


def _hints(kind: type[Any]) -> dict[str, Any]:
    """The type of each field of a dataclass."""
    if kind not in _KNOWN:
        hints = get_type_hints(kind)
        _KNOWN[kind] = {each.name: hints[each.name] for each in fields(kind)}
    return _KNOWN[kind]


def _shape(hint: Any) -> Any:
    """The type of a part before anybody looks inside: list or dict, or None besides."""
    inner = [each for each in get_args(hint) if each is not type(None)] if _is_union(hint) else [hint]
    shape = list if get_origin(inner[0]) is tuple else dict
    return shape | None if _is_union(hint) else shape


def _is_union(hint: Any) -> bool:
    """Whether a type leaves a choice."""
    return get_origin(hint) in (Union, UnionType)


def _made(kind: type[Any], data: object, at: Place, found: list[Misfit]) -> Any:
    """A dataclass out of a table."""
    if not isinstance(data, dict):
        found.append(Misfit(at=at, wanted="dict", value=data))
        return None
    before = len(found)
    values = _values(kind, data, _hints(kind), at, found)
    if len(found) > before:
        return None
    try:
        return kind(**values)
    except ValueError as trouble:
        found.append(Misfit(at=at, wanted=REFUSED, value=data, said=str(trouble)))
        return None


def _values(
    kind: type[Any], data: Mapping[str, Any], hints: Mapping[str, Any], at: Place, found: list[Misfit]
) -> dict[str, Any]:
    """What a table gives for each field, in the order of the fields; then keys that no field bears."""
    needed = {each.name for each in fields(kind) if each.default is MISSING and each.default_factory is MISSING}
    values = {}
    for name, hint in hints.items():
        if name in data:
            values[name] = _fit(hint, data[name], (*at, name), found)
        elif name in needed:
            found.append(Misfit(at=(*at, name), wanted=MISSING_KEY, value=data))
    found += [Misfit(at=(*at, key), wanted=UNKNOWN_KEY, value=data[key]) for key in data if key not in hints]
    return values


def _fit(hint: Any, value: Any, at: Place, found: list[Misfit]) -> Any:
    """A value as its type has it."""
    if _is_union(hint):
        return _chosen(get_args(hint), value, at, found)
    if get_origin(hint) is tuple:
        return _row(get_args(hint), value, at, found)
    if get_origin(hint) in (list, dict):
        return _held(get_origin(hint), get_args(hint), value, at, found)
    if isclass(hint) and hasattr(hint, "__dataclass_fields__"):
        return _made(hint, value, at, found)
    return _plain(hint, value, at, found)


def _plain(hint: Any, value: Any, at: Place, found: list[Misfit]) -> Any:
    """A number, a text, a yes or no, a list or a table; anything at all where the type leaves it open."""
    if hint in (Any, object) or type(value) is hint:
        return value
    if hint is float and type(value) is int:
        return _float(value)
    if hint is str and isinstance(value, (date, time)):
        return str(value)
    found.append(Misfit(at=at, wanted=hint.__name__, value=value))
    return None


def _float(value: int) -> float:
    """A whole number as a float, without end where none is so large."""
    try:
        return float(value)
    except OverflowError:
        return float("inf") if value > 0 else -float("inf")


def _chosen(hints: tuple[Any, ...], value: Any, at: Place, found: list[Misfit]) -> Any:
    """A value as the first of some types that takes it."""
    if value is None and type(None) in hints:
        return None
    several = [hint for hint in hints if hint is not type(None)]
    exact = [hint for hint in several if type(value) is hint]
    if exact or len(several) == 1:
        return _fit((exact or several)[0], value, at, found)
    for hint in several:
        trouble: list[Misfit] = []
        fitted = _fit(hint, value, at, trouble)
        if not trouble:
            return fitted
    found.append(Misfit(at=(*at, several[0].__name__), wanted=several[0].__name__, value=value))
    return None


def _row(hints: tuple[Any, ...], value: Any, at: Place, found: list[Misfit]) -> Any:
    """A tuple out of a list: of one type and any length, or of a type for each place."""
    if not isinstance(value, list):
        found.append(Misfit(at=at, wanted="tuple", value=value))
        return None
    if hints[-1] is Ellipsis:
        return tuple(_fit(hints[0], one, (*at, k), found) for k, one in enumerate(value))
    if len(value) > len(hints):
        found.append(Misfit(at=at, wanted="tuple", value=value))
        return None
    fitted = tuple(_fit(hint, one, (*at, k), found) for k, (hint, one) in enumerate(zip(hints, value, strict=False)))
    found += [Misfit(at=(*at, k), wanted=MISSING_KEY, value=value) for k in range(len(value), len(hints))]
    return fitted


def _held(kind: Any, hints: tuple[Any, ...], value: Any, at: Place, found: list[Misfit]) -> Any:
    """A list or a table, and what it holds."""
    if not isinstance(value, kind):
        found.append(Misfit(at=at, wanted=kind.__name__, value=value))
        return None
    if isinstance(value, dict):
        return {key: _fit(hints[1], one, (*at, key), found) for key, one in value.items()}
    return [_fit(hints[0], one, (*at, k), found) for k, one in enumerate(value)]
