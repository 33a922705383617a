"""Charts saved with their recipes and drawn again: whatever is saved was drawn from what is saved with it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import matplotlib.pyplot as plt
from matplotlib.figure import Figure

from vanpower.checks.glance import Checks
from vanpower.figures.comparison import comparison_figure
from vanpower.figures.kinds import KINDS, kind_called, must_show
from vanpower.figures.style import MADE_BY, lettered
from vanpower.rig import Rig, printable
from vanpower.sharing.drawn import Drawn
from vanpower.sharing.forum import forum_block
from vanpower.sharing.of_comparisons import block_of, numbers_of
from vanpower.sharing.of_runs import drawn_run, whole
from vanpower.sharing.of_trials import rows_in
from vanpower.sharing.of_trips import CHANGES, drawn_trip
from vanpower.sharing.page import PAGE, Progress, page_of
from vanpower.sharing.page_files import check_page, write_page
from vanpower.sharing.picture_writing import write_picture
from vanpower.sharing.recipe import Asked, ChartRecipe, Option, chart_recipe
from vanpower.sharing.recipe_line import recipe_line
from vanpower.sharing.registry import CHARTS
from vanpower.sharing.states import Page, counts_for, usual_words, with_kin
from vanpower.simulation.run import Run
from vanpower.studies.comparison import Comparison
from vanpower.studies.trips import Trip
from vanpower.trials.analysis import Trial

Subject = Comparison | Sequence[Comparison] | Rig | Checks | Run | Trial | Trip


@dataclass(frozen=True, eq=False)
class Remade(Drawn):
    """Result of `remake`: the chart drawn again, and which of its numbers differ.

    Parameters
    ----------
    recipe : ChartRecipe
        As it was read from the picture.
    differences : tuple of str
        Numbers that differ from those printed then, a sentence each.

    Examples
    --------
    >>> from vanpower import example
    >>> recipe, _ = drawn_from(recipe_for("ceiling", example("bookmobile")))
    >>> edited = replace(recipe, numbers={**recipe.numbers, "circuit 1, left": "99.00 V"})
    >>> remake(edited).differences
    ('circuit 1, left: 99.00 V then, 55.21 V now',)
    """

    recipe: ChartRecipe
    differences: tuple[str, ...]

    @property
    def verdict(self) -> str:
        """Whether this is the chart it was, in a sentence or a few."""
        made = printable(self.recipe.versions.get("vanpower", "of unknown version"))[:40]
        then = f"Made by vanpower {made}, made again by {MADE_BY}"
        others = ", ".join(other_versions(self.recipe))
        then += f" ({others})." if others else ", on the same versions."
        if not self.recipe.numbers:
            return f"{then} The recipe holds no numbers to compare with."
        if not self.differences:
            return f"{then} All {len(self.numbers)} numbers are the same to the last printed digit."
        edited = "The recipe was edited, or another machine rounds otherwise."
        why = "The versions above may be why." if others else edited
        return f"{then} WARNING: {len(self.differences)} of {len(self.numbers)} numbers differ. {why}"


def save_chart(path: str | Path, kind: str, subject: Subject, *requests: Asked, **options: Option) -> ChartRecipe:
    """Draw a chart and save it as a picture that carries its own recipe, so that others can draw it again.

    Parameters
    ----------
    path : str or Path
        Ends in .png or .svg.
    kind : str
        A name in `vanpower.sharing.registry.CHARTS`, such as "power", "answer", "sheet" or "trial".
    subject : Comparison, sequence of Comparison, Rig, Checks, Run, Trial or Trip
        What the chart shows; several comparisons are of the same rigs.
    *requests
        With a rig: the conditions that its chart is drawn for, such as the days of "sheet".
    **options
        Further settings of the chart: p_top [W] and v_top [V], the ends of the axes of "power"; wiring, the rig that
        "charge" and "months" show; and for "trial" the keywords that `analyse_trial` was given.

    Returns
    -------
    ChartRecipe
        The recipe in the picture, with the numbers that the chart shows.

    Raises
    ------
    ValueError
        For comparisons of unlike rigs, an unknown kind, or a path that ends otherwise.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import example, read_chart
    >>> with TemporaryDirectory() as folder:
    ...     recipe = save_chart(Path(folder) / "cold.png", "ceiling", example("bookmobile"))
    ...     read_chart(Path(folder) / "cold.png") == recipe
    True
    >>> recipe.numbers
    {'circuit 1, cold volts': '24.8 V', 'circuit 1, left': '55.21 V'}
    """
    recipe, chart = _drawn(recipe_for(kind, subject, *requests, **options), subject)
    write_chart(path, recipe, chart.figure)
    return recipe


def save_with_words(
    path: str | Path,
    kind: str,
    subject: Subject,
    *requests: Asked,
    plainly: Callable[[], Figure],
    **options: Option,
) -> str:
    """Save a chart, and say where it is and what it carries; `plainly` draws it where it cannot carry its recipe.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> with TemporaryDirectory() as folder:
    ...     path = Path(folder) / "cold.pdf"
    ...     said = save_with_words(path, "ceiling", rig, plainly=Figure)
    >>> said.removeprefix(f"written to {path}; ")
    'it carries no recipe: it is a PDF; PNG and SVG carry one.'
    """
    path = Path(path)
    try:
        if path.suffix.lower() == ".pdf":
            raise ValueError("it is a PDF; PNG and SVG carry one.")
        recipe = recipe_for(kind, subject, *requests, **options)
    except ValueError as trouble:
        figure = plainly()
        plt.close(figure)
        write_picture(figure, path)
        return f"written to {path}; it carries no recipe: {trouble}"
    recipe, chart = _drawn(recipe, subject)
    write_chart(path, recipe, chart.figure)
    return f"written to {path}; it carries recipe {recipe.id}"


def save_answer(path: str | Path, comparisons: Sequence[Comparison]) -> str:
    """Save the picture of an answer, and say where it is and what it carries.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import Snapshot, compare, example, read_chart
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> with TemporaryDirectory() as folder:
    ...     said = save_answer(Path(folder) / "answer.png", [found])
    ...     read_chart(Path(folder) / "answer.png").numbers["2p"]
    '167.3 W'
    """
    return save_with_words(path, "answer", comparisons, plainly=lambda: comparison_figure(comparisons))


def save_page(
    path: str | Path,
    subject: Comparison | Sequence[Comparison],
    *moves: str,
    progress: Progress | None = None,
) -> ChartRecipe:
    """Save an answer as a page to send, in which a reader with nothing but a browser moves light or shade.

    Parameters
    ----------
    path : str or Path
        Ends in .html.
    subject : Comparison or sequence of Comparison
        Of one moment, or of days of the same rigs; of a single kind of day the page holds the other kinds as well.
    *moves : str
        What the reader moves, one or two of "light", "day", "shade" (what is left on the cells that were noted) and
        "volts" (the battery's). Light or day, and shade where it was noted, if nothing is said.
    progress : callable, optional
        Wraps the list of states, as `tqdm.auto.tqdm` does.

    Returns
    -------
    ChartRecipe
        The recipe in the page, with the numbers of all its states.

    Raises
    ------
    ValueError
        For what cannot be moved, or a path that ends otherwise.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import Snapshot, compare, example, read_chart
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=150, temp_cell=15))
    >>> with TemporaryDirectory() as folder:
    ...     recipe = save_page(Path(folder) / "answer.html", found, "volts")
    ...     read_chart(Path(folder) / "answer.html") == recipe
    True
    >>> recipe.options
    {'volts': 22}
    """
    recipe, _, _ = _saved_page(Path(path), subject, moves, progress)
    return recipe


def save_page_with_words(
    path: Path, comparisons: Sequence[Comparison], *moves: str, progress: Progress | None = None
) -> str:
    """Save a page, and say where it is, how large, and what it carries.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=150, temp_cell=15))
    >>> with TemporaryDirectory() as folder:
    ...     said = save_page_with_words(Path(folder) / "answer.html", [found], "volts")
    >>> said.partition(": ")[2][:24]
    '22 states to move volts,'
    """
    recipe, page, size = _saved_page(path, comparisons, moves, progress)
    moved = " and ".join(control.word for control in page.controls)
    told = f"{len(page.states)} states to move {moved}, {size / 1000:.0f} kB"
    return f"written to {path}: {told}; it carries recipe {recipe.id}"


def _saved_page(
    path: Path, subject: Comparison | Sequence[Comparison], moves: Sequence[str], progress: Progress | None
) -> tuple[ChartRecipe, Page, int]:
    """A page that was saved: its recipe, what it holds, and its bytes."""
    check_page(path)
    comparisons = [subject] if isinstance(subject, Comparison) else list(subject)
    asked = recipe_for(PAGE, comparisons)
    requests = with_kin([comparison.request for comparison in comparisons])
    counts = counts_for(moves or usual_words(requests), asked.rigs, requests)
    recipe = chart_recipe(PAGE, asked.rigs, *(requests if "day" in counts else requests[:1]), **counts)
    chart = draw(recipe, progress=progress)
    assert chart.page is not None
    recipe = replace(recipe, numbers=chart.numbers)
    return recipe, chart.page, write_page(path, recipe, chart.page)


def forum_answer(
    subject: Comparison | Sequence[Comparison], *, kind: str = "answer", markdown: bool = False, **options: Option
) -> str:
    """A text to paste into a forum: verdict, table, assumptions, cautions and the recipe as one line.

    Parameters
    ----------
    subject : Comparison or sequence of Comparison
        Several are of the same rigs.
    kind : str
        The chart that goes with it, a name in `vanpower.sharing.registry.CHARTS`; all but "answer" show the first
        comparison.
    markdown : bool
        For forums that read Markdown; else plain text.
    **options
        Further settings of the chart, as in `save_chart`.

    Returns
    -------
    str

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> forum_answer(found).splitlines()[0]
    'No difference within 3 %: 169 W in 2s, 167 W in 2p. Choose by fuses, plugs'
    """
    comparisons = [subject] if isinstance(subject, Comparison) else list(subject)
    shown = comparisons if kind == "answer" else comparisons[:1]
    recipe = replace(recipe_for(kind, shown, **options), numbers=numbers_of(shown))
    return forum_block(recipe, list(map(block_of, comparisons)), failed=_failed(comparisons), markdown=markdown)


def _failed(comparisons: Sequence[Comparison]) -> list[str]:
    """What burns or falls short in those rigs of an answer that deliver something and are allowed."""
    return list(dict.fromkeys(said for comparison in comparisons for said in comparison.to_mend()))


def recipe_for(kind: str, subject: Subject, *requests: Asked, **options: Option) -> ChartRecipe:
    """The recipe of a chart of this subject, still without its numbers.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> found = compare(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25))
    >>> recipe = recipe_for("power", found, p_top=300)
    >>> list(recipe.rigs), recipe.options, recipe.numbers
    (['2s', '2p'], {'p_top': 300}, {})
    """
    if isinstance(subject, Run | Trial | Checks | Trip):
        must_show(kind, subject)
    if isinstance(subject, Rig | Checks):
        rig = subject.rig if isinstance(subject, Checks) else subject
        return chart_recipe(kind, {"rig": rig}, *requests, **options)
    if isinstance(subject, Run):
        outcomes = whole(subject).outcomes
        return chart_recipe(kind, {name: outcome.rig for name, outcome in outcomes.items()}, subject.request, **options)
    if isinstance(subject, Trip):
        looked = {CHANGES: True} if subject.changes is not None else {}
        return chart_recipe(kind, {subject.rig.wiring_name: subject.rig}, *subject.stops, **looked, **options)
    if isinstance(subject, Trial):
        return chart_recipe(kind, {}, rows_in(subject.log), **{"matters": subject.matters, **options})
    comparisons = [subject] if isinstance(subject, Comparison) else list(subject)
    rigs = {name: outcome.rig for name, outcome in comparisons[0].outcomes.items()}
    if any({name: o.rig for name, o in other.outcomes.items()} != rigs for other in comparisons):
        raise ValueError("comparisons of unlike rigs cannot share a picture; save one each.")
    return chart_recipe(kind, rigs, *(comparison.request for comparison in comparisons), **options)


def drawn_from(recipe: ChartRecipe) -> tuple[ChartRecipe, Drawn]:
    """The chart of a recipe, and the recipe with the numbers it shows.

    Examples
    --------
    >>> from vanpower import example
    >>> recipe, chart = drawn_from(recipe_for("ceiling", example("bookmobile")))
    >>> recipe.numbers == chart.numbers, recipe.numbers["circuit 1, cold volts"]
    (True, '24.8 V')
    """
    chart = draw(recipe)
    return replace(recipe, numbers=chart.numbers), chart


def write_chart(path: str | Path, recipe: ChartRecipe, figure: Figure) -> None:
    """Write a picture with its recipe inside and at its foot.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import example, read_chart
    >>> recipe, chart = drawn_from(recipe_for("ceiling", example("bookmobile")))
    >>> with TemporaryDirectory() as folder:
    ...     write_chart(Path(folder) / "cold.svg", recipe, chart.figure)
    ...     read_chart(Path(folder) / "cold.svg").id == recipe.id
    True
    """
    foot = f"{MADE_BY}, recipe {recipe.id}: vanpower remake draws it again"
    write_picture(figure, Path(path), recipe=recipe_line(recipe), foot=foot)


def remake(recipe: ChartRecipe, *, progress: Progress | None = None) -> Remade:
    """The chart of a recipe drawn again, and which of its numbers differ now.

    Parameters
    ----------
    recipe : ChartRecipe
        From `read_chart`.
    progress : callable, optional
        Wraps the list of a page's states, as `tqdm.auto.tqdm` does.

    Returns
    -------
    Remade
        Its `verdict` tells whether all numbers are the same; its figure is the chart.

    Raises
    ------
    ValueError
        For a kind of chart that this version does not know.

    Examples
    --------
    >>> from vanpower import example
    >>> recipe, _ = drawn_from(recipe_for("ceiling", example("bookmobile")))
    >>> remake(recipe).verdict.partition(". ")[2]
    'All 2 numbers are the same to the last printed digit.'
    """
    chart = draw(recipe, progress=progress)
    differences = tuple(_differences(recipe.numbers, chart.numbers))
    return Remade(chart.figure, chart.numbers, chart.words, recipe, differences, page=chart.page)


def draw(recipe: ChartRecipe, *, progress: Progress | None = None) -> Drawn:
    """The chart of a recipe.

    Examples
    --------
    >>> from vanpower import example
    >>> draw(recipe_for("ceiling", example("bookmobile"))).numbers
    {'circuit 1, cold volts': '24.8 V', 'circuit 1, left': '55.21 V'}
    """
    if recipe.kind in KINDS and recipe.kind not in CHARTS:
        raise ValueError(f"chart {recipe.kind!r} carries no recipe; those that do are {', '.join(CHARTS)}.")
    make = kind_called(recipe.kind, CHARTS)
    return _finished(page_of(recipe, progress) if recipe.kind == PAGE else make(recipe))


def _drawn(recipe: ChartRecipe, subject: Subject) -> tuple[ChartRecipe, Drawn]:
    """`drawn_from`, but a run or a trip, which may have taken a minute, is not walked again."""
    if not isinstance(subject, Run | Trip):
        return drawn_from(recipe)
    chart = _finished(drawn_run(recipe, subject) if isinstance(subject, Run) else drawn_trip(recipe, subject))
    return replace(recipe, numbers=chart.numbers), chart


def _finished(chart: Drawn) -> Drawn:
    """A chart that pyplot does not show by itself, and whose texts are taken as they stand."""
    plt.close(chart.figure)
    lettered(chart.figure)
    return chart


def other_versions(recipe: ChartRecipe) -> list[str]:
    """Packages whose version is not the one of the recipe, with both."""
    now = ChartRecipe(kind="", rigs={}).versions
    pairs = [(name, recipe.versions.get(name, "unknown"), version) for name, version in now.items()]
    return [f"{name} {printable(then)[:20]} then, {version} now" for name, then, version in pairs if then != version]


def _differences(then: Mapping[str, str], now: Mapping[str, str]) -> list[str]:
    """Numbers that are not the same, a sentence each."""
    names = dict.fromkeys([*then, *now]) if then else {}
    pairs = [(name, then.get(name, "not there"), now.get(name, "not there")) for name in names]
    return [printable(f"{name}: {old} then, {new} now") for name, old, new in pairs if old != new]
