"""Which charts an answer has, by the names that recipes know them by."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import TYPE_CHECKING, Any

from vanpower.checks import Checks
from vanpower.figures.ceiling import plot_ceiling
from vanpower.figures.comparison import plot_comparison
from vanpower.figures.day import plot_day
from vanpower.figures.ladder import plot_ladder
from vanpower.figures.months import plot_months
from vanpower.figures.power import plot_power
from vanpower.figures.roof import plot_roof
from vanpower.figures.run import plot_run
from vanpower.figures.trial import plot_trial
from vanpower.results.result import Shown
from vanpower.simulation import Run
from vanpower.studies import Comparison
from vanpower.trials import Trial

if TYPE_CHECKING:
    from matplotlib.axes import Axes


def _ceiling(found: Checks, **more: Any) -> Axes:
    """The cold ceiling of the rig that was checked."""
    return plot_ceiling(found.rig, **more)


KINDS: Mapping[type[Shown], Mapping[str, Callable[..., Axes]]] = {
    Comparison: {"comparison": plot_comparison, "power": plot_power, "day": plot_day, "roof": plot_roof},
    Run: {"charge": plot_run, "months": plot_months, "ladder": plot_ladder},
    Trial: {"trial": plot_trial},
    Checks: {"ceiling": _ceiling},
}
# the usual chart of an answer first


def plot(result: Shown, kind: str | None = None, *, ax: Axes | None = None, **axes: Any) -> Axes:
    """The chart of an answer; what `.plot()` asks for.

    Parameters
    ----------
    result : Comparison, Run, Trial or Checks
    kind : str, optional
        The name of a chart; the usual one where it is not given.
    ax : Axes, optional
        Where to draw.
    **axes
        What else the chart is told, such as the `wiring` of a run.

    Raises
    ------
    ValueError
        For an answer without charts, or a chart it does not have.

    Examples
    --------
    >>> from matplotlib.figure import Figure
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> found.plot("power", ax=Figure().subplots()).get_xlabel()
    'volts at the array; the names: watts into the battery'
    """
    what = type(result).__name__
    charts = KINDS.get(type(result))
    if charts is None:
        raise ValueError(f"a {what} has no chart; there are charts of {', '.join(one.__name__ for one in KINDS)}.")
    if kind is not None and kind not in charts:
        raise ValueError(f"a {what} has no chart {kind!r}; there are {', '.join(charts)}.")
    return charts[kind or next(iter(charts))](result, ax=ax, **axes)
