"""Every kind of chart by its name: what it shows, and how it is plotted, moved under a slider and saved.

The one list that `.plot()`, `explore`, `save_chart` and recipes go by.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from matplotlib.figure import Figure

from vanpower.checks.glance import Checks
from vanpower.figures.as_read import AsRead, AsReadChart
from vanpower.figures.ceiling import CeilingChart, plot_ceiling
from vanpower.figures.comparison import ComparisonChart, comparison_figure, plot_comparison
from vanpower.figures.day import DayChart, plot_day
from vanpower.figures.diagram import plot_wiring
from vanpower.figures.ladder import LadderChart, plot_ladder
from vanpower.figures.months import MonthsChart, plot_months
from vanpower.figures.panel import plot_panel
from vanpower.figures.panels_drawing import InShade, ShadeChart
from vanpower.figures.power import PowerChart, plot_power
from vanpower.figures.roof import RoofChart, RoofPairChart, plot_roof, plot_roof_day, plot_shade_map, roof_figure
from vanpower.figures.roof_plan import OnRoof, RoofDayChart
from vanpower.figures.run import RunChart, plot_run, run_figure
from vanpower.figures.sheet import sheet
from vanpower.figures.trial import TrialChart, plot_trial
from vanpower.figures.trip import TripChart, plot_trip
from vanpower.figures.watching import WatchChart, plot_watch
from vanpower.files.messages import did_you_mean, nearest
from vanpower.model.iv_curve import IVCurve
from vanpower.rig import Parked, Rig, printable
from vanpower.simulation.run import Run
from vanpower.studies.comparison import Comparison
from vanpower.studies.roof import ShadeMap
from vanpower.studies.trips import Trip
from vanpower.trials.analysis import Trial
from vanpower.watching.telling import Watch

if TYPE_CHECKING:
    from matplotlib.axes import Axes

ENDS = ("p_top", "v_top")
# ends of the axes of power [W] and volts [V], which hold a chart still under a slider


@dataclass(frozen=True, kw_only=True)
class Kind:
    """A kind of chart.

    Parameters
    ----------
    shows : tuple of type
        The answers and descriptions that it can be drawn of.
    plot : callable, optional
        Draws it on one Axes.
    live : callable, optional
        Makes it for a slider: a chart that is told every answer by `update`.
    picture : callable, optional
        Draws the figure that is saved, where that holds more than `plot` draws.
    options : tuple of str
        What else it can be told.
    layouts : bool
        Whether `plot` has a layout for phones and one for pages; pictures that are saved take that of a page.

    Examples
    --------
    >>> KINDS["power"].options, KINDS["answer"].live is None
    (('p_top', 'v_top'), True)
    """

    shows: tuple[type, ...]
    plot: Callable[..., Axes] | None = None
    live: Callable[..., Any] | None = None
    picture: Callable[..., Figure] | None = None
    options: tuple[str, ...] = ()
    layouts: bool = True

    def figure(self, subject: Any, **options: Any) -> Figure:
        """The figure that is saved."""
        if self.picture is not None:
            return self.picture(subject, **options)
        assert self.plot is not None
        layout = {"phone": False} if self.layouts else {}
        figure = self.plot(subject, **layout, **options).get_figure(root=True)
        assert isinstance(figure, Figure)
        return figure


def _diagram(subject: Checks | Rig, **more: Any) -> Axes:
    """The wiring diagram of a rig, or of one that was checked."""
    return plot_wiring(subject.rig if isinstance(subject, Checks) else subject, **more)


def _roof(comparison: Comparison) -> Figure:
    """Roof, curves and day of a van that is parked."""
    assert isinstance(comparison.request, Parked)
    return roof_figure({name: outcome.rig for name, outcome in comparison.outcomes.items()}, comparison.request)


KINDS: Mapping[str, Kind] = {
    "answer": Kind(shows=(Comparison,), picture=comparison_figure),
    "comparison": Kind(shows=(Comparison,), plot=plot_comparison, live=ComparisonChart),
    "power": Kind(shows=(Comparison,), plot=plot_power, live=PowerChart, options=ENDS),
    "day": Kind(shows=(Comparison,), plot=plot_day, live=DayChart),
    "roof": Kind(shows=(Comparison,), plot=plot_roof, live=RoofChart, picture=_roof, layouts=False),
    "roof pair": Kind(shows=(Comparison,), live=RoofPairChart, options=ENDS),
    "roof day": Kind(shows=(Comparison,), plot=plot_roof_day),
    "ceiling": Kind(shows=(Checks, Rig), plot=plot_ceiling, live=CeilingChart),
    "diagram": Kind(shows=(Checks, Rig), plot=_diagram, layouts=False),
    "sheet": Kind(shows=(Rig,), picture=sheet),
    "run": Kind(shows=(Run,), picture=run_figure),
    "charge": Kind(shows=(Run,), plot=plot_run, live=RunChart, options=("wiring",)),
    "months": Kind(shows=(Run,), plot=plot_months, live=MonthsChart, options=("wiring",)),
    "ladder": Kind(shows=(Run,), plot=plot_ladder, live=LadderChart),
    "trip": Kind(shows=(Trip,), plot=plot_trip, live=TripChart),
    "trial": Kind(shows=(Trial,), plot=plot_trial, live=TrialChart),
    "watch": Kind(shows=(Watch,), plot=plot_watch, live=WatchChart),
    "as read": Kind(shows=(AsRead,), live=AsReadChart, options=ENDS),
    "shade by touch": Kind(shows=(InShade,), live=ShadeChart, options=ENDS),
    "roof by touch": Kind(shows=(OnRoof,), live=RoofDayChart, options=ENDS),
    "panel": Kind(shows=(IVCurve,), plot=plot_panel),
    "shade map": Kind(shows=(ShadeMap,), plot=plot_shade_map),
}
# by the names that recipes carry; of those that an answer can be plotted as, its usual one stands first


def kind_called(name: str, kinds: Mapping[str, Any] = KINDS) -> Any:
    """The kind of chart of a name.

    Raises
    ------
    ValueError
        For an unknown name, with the nearest known ones.

    Examples
    --------
    >>> kind_called("powr")
    Traceback (most recent call last):
        ...
    ValueError: chart 'powr' is not known; did you mean power? There are answer, comparison, power, ...
    """
    if name not in kinds:
        near = did_you_mean(nearest(name, kinds))
        raise ValueError(f"chart {printable(name)[:40]!r} is not known{near} There are {', '.join(kinds)}.")
    return kinds[name]


def plotted(subject: Any) -> dict[str, Kind]:
    """The kinds that an answer can be plotted as, the usual one first.

    Examples
    --------
    >>> from vanpower import check, example
    >>> list(plotted(check(example("bookmobile"))))
    ['ceiling', 'diagram']
    """
    return {name: kind for name, kind in KINDS.items() if kind.plot and isinstance(subject, kind.shows)}


def must_show(name: str, subject: Any) -> None:
    """Refuse what a kind of chart does not show.

    Raises
    ------
    ValueError
        With what it does show, and which charts there are of this.

    Examples
    --------
    >>> from vanpower import check, example
    >>> must_show("power", check(example("bookmobile")))
    Traceback (most recent call last):
        ...
    ValueError: chart 'power' shows a Comparison, and this is a Checks; a Checks has ceiling, diagram.
    """
    shows = kind_called(name).shows
    if not isinstance(subject, shows):
        what = type(subject).__name__
        others = [other for other, kind in KINDS.items() if isinstance(subject, kind.shows)]
        has = f"; a {what} has {', '.join(others)}" if others else ""
        can = " or ".join(one.__name__ for one in shows)
        raise ValueError(f"chart {name!r} shows a {can}, and this is a {what}{has}.")


def live_chart(name: str, **options: Any) -> Any:
    """A chart for a slider, by its name.

    Parameters
    ----------
    name : str
        Such as "power", "charge" or "ceiling".
    **options
        What else the chart is told, such as p_top of "power". [W]

    Raises
    ------
    ValueError
        For an unknown name, one that does not move under a slider, and what it cannot be told.

    Examples
    --------
    >>> live_chart("power", p_top=250, v_top=90).p_top
    250
    >>> live_chart("sheet")
    Traceback (most recent call last):
        ...
    ValueError: chart 'sheet' does not move under a slider; comparison, power, day, roof, roof pair, ... do.
    """
    kind = kind_called(name)
    if kind.live is None:
        moving = ", ".join(other for other, known in KINDS.items() if known.live)
        raise ValueError(f"chart {name!r} does not move under a slider; {moving} do.")
    _check_options(name, options)
    return kind.live(**options)


def _check_options(name: str, options: Iterable[str]) -> None:
    """Refuse what a chart cannot be told."""
    known = KINDS[name].options
    can = f"it can be told {' and '.join(known)}" if known else "it can be told nothing besides"
    for option in options:
        if option not in known:
            raise ValueError(f"chart {name!r} cannot be told {printable(option)[:40]!r}; {can}.")


class Shown:
    """Where charts are shown that are asked for no layout; a live page tells as it opens."""

    phone = True


def plot(
    result: Any, kind: str | None = None, *, ax: Axes | None = None, phone: bool | None = None, **axes: Any
) -> Axes:
    """The chart of an answer; what `.plot()` asks for.

    Parameters
    ----------
    result : Comparison, Run, Trial, Checks, IVCurve or ShadeMap
    kind : str, optional
        The name of a chart; the usual one where it is not given.
    ax : Axes, optional
        Where to draw.
    phone : bool, optional
        Laid out for a phone, or wide as for a page or a projector where the chart has both; None is a phone's layout,
        and on a live page that is wide a wide one.
    **axes
        What else the chart is told, such as the `wiring` of a run.

    Raises
    ------
    ValueError
        For an answer without charts, or a chart it does not have.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> found.plot("power", ax=Figure().subplots()).get_xlabel()
    'volts at the array; the names: watts into the battery'
    >>> found.plot("power", phone=False).figure.get_size_inches().round(1).tolist()
    [9.0, 4.1]
    """
    what, charts = type(result).__name__, plotted(result)
    if not charts:
        known = dict.fromkeys(one.__name__ for known in KINDS.values() if known.plot for one in known.shows)
        raise ValueError(f"a {what} has no chart; there are charts of {', '.join(known)}.")
    if kind is not None and kind not in charts:
        raise ValueError(f"a {what} has no chart {kind!r}; there are {', '.join(charts)}.")
    name = kind or next(iter(charts))
    _check_options(name, axes)
    drawn = charts[name].plot
    assert drawn is not None
    if phone is None:
        phone = Shown.phone or ax is not None
    layout = {"phone": phone} if charts[name].layouts else {}
    return drawn(result, ax=ax, **layout, **axes)
