"""What meters show under one cause: each worked out when somebody asks for it, since most are never asked."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from functools import partial

import numpy as np

Array = np.ndarray


class Meters(Mapping[str, Array]):
    """Readings by the names that measurements go by, (draw,), each worked out once, when it is asked for.

    Parameters
    ----------
    made : mapping of str to ndarray or callable

    Examples
    --------
    >>> meters = Meters({"volts": np.array([18.0, 17.0]), "amps": np.array([5.0, 4.0])})
    >>> meters = meters | {"watts": lambda: meters["volts"] * meters["amps"]}
    >>> [float(watts) for watts in meters.of(np.array([False, True]))["watts"]]
    [68.0]
    """

    def __init__(self, made: Mapping[str, Array | Callable[[], Array]]):
        self._made = dict(made)

    def __getitem__(self, name: str) -> Array:
        found = self._made[name]
        if not isinstance(found, np.ndarray):
            found = self._made[name] = np.asarray(found())
        return found

    def __iter__(self) -> Iterator[str]:
        return iter(self._made)

    def __len__(self) -> int:
        return len(self._made)

    def __or__(self, other: Mapping[str, Array | Callable[[], Array]]) -> Meters:
        """The same, with some replaced."""
        return Meters(self._made | (other._made if isinstance(other, Meters) else dict(other)))

    def of(self, rows: Array) -> Meters:
        """Those of some draws."""
        return Meters({name: self._rows(name, rows) for name in self})

    def _rows(self, name: str, rows: Array) -> Callable[[], Array]:
        """One of them, of some draws."""
        return lambda: self[name][rows]

    @classmethod
    def pieced(cls, size: int, parts: list[tuple[Array, Meters]]) -> Meters:
        """Of all draws, each from the part whose rows it falls to."""

        def whole(name: str) -> Array:
            found = np.zeros(size)
            for rows, meters in parts:
                found[rows] = meters[name]
            return found

        return cls({name: partial(whole, name) for name in parts[0][1]})


@dataclass(frozen=True, eq=False)
class Shown:
    """What meters would show under one cause, each (draw,).

    Parameters
    ----------
    family : str
        The cause that it was drawn for.
    causes : ndarray of str (draw,)
        What it comes to: with so little light that a sound rig would sleep as well, and would show the same, that.
    values : Meters
        Volts and amps; of what is answered with yes or no, the chance of a yes.
    stages : ndarray (draw, stage)
        Chances of what the controller shows.
    rows : ndarray of int (draw,)
        Which of all draws these are.
    share : ndarray (draw,)
        How much of all draws each stands for; the sum is the part of them in which the cause can be.
    """

    family: str
    causes: Array
    values: Meters
    stages: Array
    rows: Array
    share: Array

    @property
    def kept(self) -> float:
        """The part of all draws in which the cause can be."""
        return float(self.share.sum())
