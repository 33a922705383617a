"""What was answered and shown: kept for the way back, and for a step that was worked out ahead."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass, field
from typing import Any

from vanpower.results.verdict import Verdict

MOST = 4
# answers kept: with 10 to 45 kB of picture each, and a year or a watched van of 1 MB; no source


@dataclass(frozen=True, eq=False, kw_only=True)
class Answered:
    """What was found for one setting of the controls, and the picture of it.

    Attributes
    ----------
    result : object
        The answer.
    late : callable, optional
        Gives its verdicts where these take long and are not worked out yet.
    verdicts, first : tuple of Verdict
        All of them, and those that stand first.
    sentence : str
        The latter in plain text.
    shown : mapping
        The picture, as `LivePicture.shown` gives it; empty before there is one.
    """

    result: Any = None
    late: Callable[[], Any] | None = None
    verdicts: tuple[Verdict, ...] = ()
    first: tuple[Verdict, ...] = ()
    sentence: str = ""
    shown: Mapping[str, Any] = field(default_factory=dict)


class Kept:
    """The last few answers, by the values of the controls that they were asked with.

    Examples
    --------
    >>> kept = Kept()
    >>> for light in range(8):
    ...     kept.keep({"light": light}, Answered(result=10 * light))
    >>> kept.of({"light": 7}).result, kept.of({"light": 3})
    (70, None)
    """

    def __init__(self) -> None:
        self._kept: list[tuple[dict[str, Any], Answered]] = []

    def of(self, values: Mapping[str, Any]) -> Answered | None:
        """The answer for these values, which is then the last to be given up."""
        for place, (asked, found) in enumerate(self._kept):
            if asked == values:
                self._kept.append(self._kept.pop(place))
                return found
        return None

    def keep(self, values: Mapping[str, Any], found: Answered) -> None:
        """Keep an answer in place of another for these values, or of the one that was asked for longest ago."""
        others = [one for one in self._kept if one[0] != values]
        self._kept = [*others[1 - MOST :], (dict(values), found)]

    def forget(self) -> None:
        """Keep none."""
        self._kept.clear()
