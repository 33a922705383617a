"""Which parts make which, in numbers alone: chains make substrings, these panels, these strings, and these an array.

Parts of each level lie in lists and are named by their place there; equal parts are there once. Nothing here depends
on light, so asking again with the same numbers gives the same object.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Hashable, Iterable, Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from itertools import chain, count
from typing import TypeVar

import numpy as np

Array = np.ndarray
Lists = tuple[tuple[int, ...], ...]
T = TypeVar("T", bound=Hashable)

TOLD = 1024
# topologies kept at each step; one of 24 panels takes some kB


@dataclass(frozen=True, eq=False)
class Groups:
    """Groups of parts of the level below, such as the panels of each string.

    Parameters
    ----------
    lists : tuple of tuple of int
        The members of each group; one that is there twice is named twice.
    counts : tuple of tuple of (int, int)
        The different members of each group, and how often each is there.
    member, group : ndarray of int (member,)
        The different members of all groups end to end, and the group of each.
    times : ndarray (member, 1)
        How often each is there.
    first : ndarray of int (group,)
        Where each group begins.

    Examples
    --------
    >>> strings = counted(((0, 0, 1), (1,)))  # two panels of a kind and one of another; that one alone
    >>> strings.member, strings.times.ravel(), strings.first
    (array([0, 1, 1]), array([2., 1., 1.]), array([0, 2]))
    """

    lists: Lists
    counts: tuple[tuple[tuple[int, int], ...], ...]
    member: Array
    group: Array
    times: Array
    first: Array


@lru_cache(maxsize=TOLD)
def counted(lists: Lists) -> Groups:
    """`Groups` from the members of each group; the same lists give the same object.

    Examples
    --------
    >>> counted(((0, 0, 1), (1,))) is counted(((0, 0, 1), (1,)))
    True
    """
    counts = tuple(tuple(Counter(one).items()) for one in lists)
    lengths = [len(one) for one in counts]
    pairs = np.array(list(chain.from_iterable(counts)), int).reshape(-1, 2)
    group, first = np.repeat(np.arange(len(lengths)), lengths), np.cumsum([0, *lengths])[:-1]
    return Groups(lists, counts, pairs[:, 0], group, pairs[:, 1:].astype(float), first)


@lru_cache(maxsize=TOLD)
def through(upper: Groups, lower: Groups) -> Groups:
    """Groups of groups told by the members of these, such as strings of panels as strings of substrings.

    Examples
    --------
    >>> through(counted(((0, 0), (1,))), counted(((0, 0), (0, 1)))).counts  # each panel has two substrings
    (((0, 4),), ((0, 1), (1, 1)))
    """
    return counted(tuple(tuple(chain.from_iterable(lower.lists[k] for k in one)) for one in upper.lists))


@lru_cache(maxsize=TOLD)
def apart(*levels: Groups) -> Groups:
    """All groups end to end, their members numbered as they come, so that no two groups share one.

    Examples
    --------
    >>> apart(counted(((0, 0, 1), (1,))), counted(((0,),))).lists
    ((0, 0, 1), (2,), (3,))
    """
    number = count()
    each = chain.from_iterable(groups.counts for groups in levels)
    return counted(tuple(tuple(k for _, times in one for k in [next(number)] * times) for one in each))


def unique(things: Iterable[T]) -> tuple[tuple[T, ...], tuple[int, ...]]:
    """Each different thing once, and which of them everything is.

    Examples
    --------
    >>> unique("abba")
    (('a', 'b'), (0, 1, 1, 0))
    """
    number: dict[T, int] = {}
    places = tuple(number.setdefault(thing, len(number)) for thing in things)
    return tuple(number), places


@dataclass(frozen=True, eq=False)
class Topology:
    """The four levels of an array, without parts that it does not use.

    Parameters
    ----------
    substrings, panels, strings, array : Groups
        Chains of each substring, substrings of each panel, panels of each string, and the strings of the array.

    Examples
    --------
    >>> one = wired(counted(((0,), (1,))), counted(((0, 0), (0, 1))), ((0,), (1,), (0,)))[0]
    >>> one.array.lists, one.parts.counts  # three panels in parallel, two of them equal
    (((0, 1, 0),), (((0, 2),), ((0, 1), (1, 1))))
    """

    substrings: Groups
    panels: Groups
    strings: Groups
    array: Groups

    @cached_property
    def parts(self) -> Groups:
        """Substrings of each string."""
        return through(self.strings, self.panels)

    @cached_property
    def branches(self) -> Groups:
        """Chains of each part: of each substring of the first string, then of the second."""
        return counted(tuple(self.substrings.lists[k] for k in self.parts.member))


@lru_cache(maxsize=TOLD)
def wired(substrings: Groups, panels: Groups, strings: Lists) -> tuple[Topology, Lists]:
    """The topology of panels in strings in parallel, and which chains, substrings and panels it uses.

    Parameters
    ----------
    substrings, panels : Groups
        Chains of each substring, and substrings of each panel, of all there are.
    strings : tuple of tuple of int
        The panels of each string.

    Examples
    --------
    >>> wired(counted(((0,), (1,))), counted(((0, 0), (1, 1))), ((1,),))[1]  # the second panel alone
    ((1,), (1,), (1,))
    """
    different, which = unique(strings)
    of_strings, used_panels = _renumbered(different)
    of_panels, used_substrings = _renumbered([panels.lists[k] for k in used_panels])
    of_substrings, used_chains = _renumbered([substrings.lists[k] for k in used_substrings])
    levels = (counted(lists) for lists in (of_substrings, of_panels, of_strings, (which,)))
    return Topology(*levels), (used_chains, used_substrings, used_panels)


def _renumbered(lists: Sequence[tuple[int, ...]]) -> tuple[Lists, tuple[int, ...]]:
    """Groups told by new numbers of the members they have, and the old numbers of these."""
    members, number = unique(chain.from_iterable(lists))
    new = iter(number)
    return tuple(tuple(next(new) for _ in one) for one in lists), members
