"""The ways to join panels: their names as the trade writes them, and every one worth comparing.

Equal strings only, since strings of unlike length pull each other off their best point. Left out: which of them a
controller allows; that is for `checks`.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping, Sequence

from vanpower.rig.circuits import Wiring

Panels = tuple[int, ...]

MOST_WIRINGS = 150
# more ways than anybody reads; six panels of six kinds have 27, eight of eight kinds 142; no source
SHORT = re.compile(r"(?:(\d+)s)?(?:(\d+)p)?")
# 3s, 3p, 2s2p
STRING = r"P?\d{1,3}(?:\+P?\d{1,3})*"
GROUPED = re.compile(rf"({STRING}(?:\|{STRING})*)|\d+S(?:\d+P)?\(({STRING}(?:\|{STRING})*)\)")
# P1+P3|P2+P4, also behind its short name, as answers print it
LISTED = re.compile(r"\[\[(\d{1,3}(?:,\d{1,3})*(?:\],\[\d{1,3}(?:,\d{1,3})*)*)\]\]")
# [[1,3],[2,4]], as rig files have it


def parse_wiring(text: str, panels: Sequence[int]) -> Wiring:
    """The `Wiring` that a text such as "2s2p" or "P1+P3 | P2+P4" describes.

    Parameters
    ----------
    text : str
        As the trade writes it, filled with the panels in order; or panel by panel, counted from 1.
    panels : sequence of int
        Panels to use, counted from 0.

    Raises
    ------
    ValueError
        Where the text describes no wiring or needs another number of panels.

    Examples
    --------
    >>> parse_wiring("2s2p", range(4)).strings
    ((0, 1), (2, 3))
    >>> [parse_wiring(text, range(4)).name for text in ("P1+P3 | P2+P4", "[[1, 3], [2, 4]]", "1+2 | 3+4")]
    ['2s2p (P1+P3 | P2+P4)', '2s2p (P1+P3 | P2+P4)', '2s2p']
    """
    if named := _named_strings(text):
        return _of_strings(text, named, panels)
    found = SHORT.fullmatch(text.strip().lower().replace(" ", ""))
    if not found or not any(found.groups()):
        raise ValueError(
            f"wiring {text!r} is not one; write 3s (one string of three), 3p or 2s2p, or name the panels of each "
            "string: P1+P2 | P3+P4."
        )
    series, parallel = (int(number or 1) for number in found.groups())
    used = series * parallel
    if used != len(panels):
        need = f"{text.strip()} needs {used} panel{'s' * (used != 1)}"
        fewer = (
            f" To leave one out, the rig's file says panels = {[panel + 1 for panel in panels[:used]]} beside wiring."
        )
        left = fewer if used == len(panels) - 1 else ""
        raise ValueError(f"wiring {need}; there {'is' if len(panels) == 1 else 'are'} {len(panels)}.{left}")
    return Wiring(strings=tuple(tuple(panels[k * series : (k + 1) * series]) for k in range(parallel)))


def _named_strings(text: str) -> list[list[int]] | None:
    """Panels of each string, counted from 1, out of "P1+P2 | P3", "2s2p (P1+P3 | P2+P4)" or "[[1, 2], [3]]"."""
    plain = re.sub(r"\s", "", text.upper())
    if found := LISTED.fullmatch(plain):
        return [[int(number) for number in string.split(",")] for string in re.split(r"\],\[", found[1])]
    found = GROUPED.fullmatch(plain)
    named = found[1] or found[2] if found else ""
    if not named or not ("+" in named or "|" in named or "P" in named):
        return None
    return [[int(number.lstrip("P")) for number in string.split("+")] for string in named.split("|")]


def _of_strings(text: str, strings: Sequence[Sequence[int]], panels: Sequence[int]) -> Wiring:
    """Strings of panels counted from 1, which take every panel of the circuit once."""
    used = [number - 1 for string in strings for number in string]
    strange = next((number for number in used if number not in panels), None)
    if strange is not None:
        there = ", ".join(f"P{panel + 1}" for panel in panels)
        raise ValueError(f"wiring {text!r} names P{strange + 1}; here are {there}, counted from 1.")
    twice = next((number for number in used if used.count(number) > 1), None)
    if twice is not None:
        raise ValueError(f"wiring {text!r} has P{twice + 1} twice; a panel can be in one string only.")
    missing = [f"P{panel + 1}" for panel in panels if panel not in used]
    if missing:
        raise ValueError(f"wiring {text!r} leaves out {' and '.join(missing)}; name every panel once.")
    return Wiring(strings=tuple(tuple(number - 1 for number in string) for string in strings))


def equal_strings(panels: Sequence[int], alike: Sequence[object]) -> tuple[Wiring, ...]:
    """All wirings of some panels in strings of equal length, longest strings first.

    Parameters
    ----------
    panels : sequence of int
        Panels to use, counted from 0.
    alike : sequence
        A key for each panel. Panels with equal keys are interchangeable: of wirings that differ only by exchanging
        them one is listed.

    Returns
    -------
    tuple of Wiring

    Raises
    ------
    ValueError
        For so many unlike panels that there are too many wirings to list.

    Examples
    --------
    >>> [w.name for w in equal_strings(range(4), "AAAA")]
    ['4s', '2s2p', '4p']
    >>> [w.grouping for w in equal_strings(range(4), "AABB")][1:3]
    ['P1+P2 | P3+P4', 'P1+P3 | P2+P4']
    """
    lengths = [n for n in range(len(panels), 0, -1) if len(panels) % n == 0]
    kinds = {p: repr(alike[p]) for p in panels}
    found: dict[tuple, Wiring] = {}
    for length in lengths:
        for strings in _groupings(tuple(panels), length, kinds):
            key = (length, tuple(sorted(tuple(sorted(kinds[p] for p in string)) for string in strings)))
            found.setdefault(key, Wiring(strings=strings))
            if len(found) > MOST_WIRINGS:
                ways = f"{len(panels)} unlike panels can be joined in over {MOST_WIRINGS} ways"
                raise ValueError(f"{ways}; name the wirings to compare, such as 3s2p.")
    return tuple(found.values())


def _groupings(panels: Panels, length: int, kinds: Mapping[int, str]) -> Iterator[tuple[Panels, ...]]:
    """Every way to share panels out into strings of one length, most of those left out that only swap equal panels."""
    if not panels:
        yield ()
        return
    for others in _choices(panels[1:], length - 1, kinds):
        string = (panels[0], *others)
        left = tuple(p for p in panels if p not in string)
        for more in _groupings(left, length, kinds):
            yield (string, *more)


def _choices(panels: Panels, number: int, kinds: Mapping[int, str]) -> Iterator[Panels]:
    """Ways to choose so many panels; of equal ones the first is tried."""
    if number == 0:
        yield ()
        return
    tried = set()
    for place, panel in enumerate(panels):
        if kinds[panel] not in tried:
            tried.add(kinds[panel])
            for more in _choices(panels[place + 1 :], number - 1, kinds):
                yield (panel, *more)
