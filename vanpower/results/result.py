"""What every answer can show: one line for a log, its verdict and table in a notebook, its chart on request."""

from __future__ import annotations

import importlib
from abc import ABC, abstractmethod
from typing import TYPE_CHECKING, Any

from vanpower.results.table import Table
from vanpower.results.verdict import Verdict, shortened

if TYPE_CHECKING:
    from matplotlib.axes import Axes

FIGURES = "figures.kinds"
# the one room above that is asked, by name and not before a chart is wanted


class Plotted:
    """Something that `figures` has a chart of.

    Examples
    --------
    >>> from vanpower import example, panel_curve
    >>> isinstance(panel_curve(example("bookmobile").panels[0], light=1000), Plotted)
    True
    """

    def plot(self, kind: str | None = None, ax: Axes | None = None, **axes: Any) -> Axes:
        """Its chart.

        Parameters
        ----------
        kind : str, optional
            The chart's name, such as "power"; the usual one where it is not given.
        ax : Axes, optional
            Where to draw.
        **axes
            Further settings of the chart, such as p_top [W] and v_top [V] of "power", or the wiring of "charge".
        """
        package = __name__.partition(".")[0]
        drawn: Axes = importlib.import_module(f"{package}.{FIGURES}").plot(self, kind, ax=ax, **axes)
        return drawn


class Shown(Plotted, ABC):
    """An answer that has a table and can be plotted.

    Examples
    --------
    >>> from vanpower import Days, example, simulate
    >>> simulate({"2p": example("bookmobile")}, Days(day="dull")).ladder()
    Ladder: 2p: 66.4 Wh of label watts, 49.3 Wh to loads and battery
    """

    @abstractmethod
    def table(self, what: Any = None) -> Table:
        """Its numbers as a `Table`; `what` chooses among several."""

    @abstractmethod
    def brief(self) -> str:
        """Its finding in a line."""

    def text(self, width: int | None = None) -> str:
        """Its table as text, broken at `width` letters where one is given."""
        return self.table().text(width)

    def __repr__(self) -> str:
        return shortened(f"{type(self).__name__}: {self.brief()}")

    def _repr_html_(self) -> str:
        from html import escape

        return f"<p>{escape(self.brief())}</p>{self.table()._repr_html_()}"


class Result(Shown):
    """An answer that also has a verdict.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))  # doctest: +ELLIPSIS
    Comparison: NO. No difference within 3 %: 169 W in 2s, 167 W in 2p. Choose by fuses, plugs and cable.
    """

    @property
    @abstractmethod
    def verdict(self) -> Verdict:
        """The answer in a sentence, with its margin."""

    def brief(self) -> str:
        """The verdict's answer and sentence."""
        verdict = self.verdict
        return f"{verdict.word}. {verdict.sentence}"

    def _repr_html_(self) -> str:
        return f"{self.verdict._repr_html_()}{self.table()._repr_html_()}"
