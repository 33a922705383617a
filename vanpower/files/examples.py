"""Examples and generic parts that come with the kit."""

from __future__ import annotations

from functools import cache
from typing import Any, TypeVar

from vanpower.files.resources import data_folder
from vanpower.files.typed import read
from vanpower.rig import Battery, Controller

T = TypeVar("T")


def examples() -> tuple[str, ...]:
    """Names of the example rigs that come with the kit, for `example`.

    Examples
    --------
    >>> "bookmobile" in examples()
    True
    """
    return tuple(sorted(path.stem for path in (data_folder() / "rigs").glob("*.toml")))


def example_controllers() -> dict[str, Controller]:
    """Invented controllers by generic rating, which a rig file takes over with `use`.

    Examples
    --------
    >>> example_controllers()["generic-80v-20a"].v_pv_max
    80.0
    """
    return _shelf("controllers", Controller)


def example_batteries() -> dict[str, Battery]:
    """Invented batteries by generic rating, which a rig file takes over with `use`.

    Examples
    --------
    >>> example_batteries()["lithium-12v-100ah"].v_absorption
    14.2
    """
    return _shelf("batteries", Battery)


@cache
def shelf_tables(shelf: str) -> dict[str, dict[str, Any]]:
    """The tables of a file of generic parts, by name."""
    import tomllib

    document = tomllib.loads((data_folder() / f"{shelf}.toml").read_text(encoding="utf-8"))
    return {name: table for name, table in document.items() if isinstance(table, dict)}


def _shelf(shelf: str, kind: type[T]) -> dict[str, T]:
    """The generic parts of one kind, by name."""
    made = {name: read(kind, {"name": name, **table})[0] for name, table in shelf_tables(shelf).items()}
    return {name: one for name, one in made.items() if one is not None}
