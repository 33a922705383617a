"""Names of any length in charts: the drawing keeps its room, nothing is cut off, and two names stay two."""

from __future__ import annotations

import io
from collections.abc import Iterator
from dataclasses import replace

import matplotlib

matplotlib.use("Agg")

import matplotlib.pyplot as plt
import numpy as np
import PIL.Image
import pytest
from crowding import crowded
from hypothesis import Phase, given, settings
from hypothesis import example as tried
from hypothesis import strategies as st
from matplotlib.axes import Axes

from vanpower import Days, Parked, Shade, Snapshot, compare, example, shade_map, simulate
from vanpower.figures.comparison import plot_comparison
from vanpower.figures.day import plot_day
from vanpower.figures.ladder import plot_ladder
from vanpower.figures.names import NAME_WIDTH, cut, finding, legend_columns, short_names, width_of
from vanpower.figures.power import plot_power
from vanpower.figures.roof import plot_roof_day, plot_shade_map
from vanpower.studies.comparison import Comparison
from vanpower.studies.roof import ShadeMap

SHADE = (Shade(panel=0, lit=0.2), Shade(panel=1, lit=0.2))
LETTERS = st.characters(min_codepoint=32, max_codepoint=0x17E, exclude_categories=["Cc", "Cf"])
# letters of Europe, which the charts' font has
NAMES = st.lists(st.text(LETTERS, min_size=1, max_size=120), min_size=4, max_size=4, unique=True)
LONG = [
    "the roof as it was in the spring, before the box came, with the flue by the vent",
    "the roof as it was in the autumn, before the box came, with the flue by the vent",
    "W" * 120,
    "it costs $5 and not $_7",
]


@pytest.fixture(autouse=True)
def closed() -> Iterator[None]:
    yield
    plt.close("all")


@pytest.fixture(scope="module")
def moment() -> Comparison:
    """Four wirings of four panels, two of them not allowed, one with a name of twenty letters."""
    return compare(example("puppet-stage").wirings(shade=SHADE), Snapshot(light=800, temp_cell=30, shade=SHADE))


@pytest.fixture(scope="module")
def day() -> Comparison:
    return compare(example("puppet-stage").wirings(shade=SHADE), Days(day="dull", shade=SHADE))


def named(comparison: Comparison, names: list[str]) -> Comparison:
    """The same comparison under other names."""
    return replace(comparison, outcomes=dict(zip(names, comparison.outcomes.values(), strict=True)))


def saved_tight(ax: Axes) -> tuple[int, int]:
    """Width and height of the picture as a notebook stores it. [pixels]"""
    png = io.BytesIO()
    ax.figure.savefig(png, format="png", bbox_inches="tight", dpi=100)
    return PIL.Image.open(png).size


def keeps_its_room(ax: Axes) -> None:
    """The axes keep most of the figure, and a tight picture is hardly larger than the figure."""
    wide, high = saved_tight(ax)
    figure = ax.get_figure(root=True)
    assert figure is not None
    assert wide <= 1.12 * 100 * figure.get_figwidth()
    assert high <= 1.12 * 100 * figure.get_figheight()
    assert ax.get_position().width > 0.6
    assert ax.get_position().height > 0.28


@settings(max_examples=6, phases=[Phase.explicit, Phase.generate])
@given(names=NAMES)
@tried(names=LONG)
@tried(names=["4s", "2s2p", "2s2p (P1+P3 | P2+P4)", "4p"])
def test_charts_keep_their_room_whatever_the_names(moment: Comparison, day: Comparison, names: list[str]) -> None:
    for draw, comparison in ((plot_power, moment), (plot_comparison, moment), (plot_day, day)):
        keeps_its_room(draw(named(comparison, names)))
        plt.close("all")


def test_long_names_stand_above_their_bars_and_leave_the_axis_its_width(moment: Comparison) -> None:
    ax = plot_comparison(named(moment, LONG))
    assert {label.get_text() for label in ax.get_yticklabels()} == {""}
    headings = [text for text in ax.texts if text.get_weight() == "bold"]
    assert len(headings) == 4
    ax.figure.canvas.draw()
    boxes = [text.get_window_extent() for text in ax.texts]
    assert [(a, b) for k, a in enumerate(boxes) for b in boxes[k + 1 :] if a.overlaps(b)] == []
    assert max(box.x1 for box in boxes) <= ax.figure.bbox.x1


def test_short_names_stand_beside_their_bars(day: Comparison) -> None:
    ax = plot_comparison(named(day, ["4s", "2s2p", "apart", "4p"]))
    assert [label.get_text() for label in ax.get_yticklabels()] == ["4s", "2s2p", "apart", "4p"]


@given(names=NAMES)
@tried(names=LONG)
def test_two_names_stay_two_and_fit(names: list[str]) -> None:
    short = short_names(names)
    assert len(set(short.values())) == len({" ".join(name.split()) for name in names})
    assert all(width_of(words.replace(r"\$", "$")) <= NAME_WIDTH for words in short.values())


def test_the_wirings_of_the_kit_are_never_cut() -> None:
    for name in ("2s2p", "2s2p (P1+P3 | P2+P4)", "2s (P1+P2 | P3)", "apart"):
        assert cut(name) == name


def test_a_title_says_long_names_short(moment: Comparison) -> None:
    title = finding(named(moment, LONG))
    assert title.startswith("2: the roo…y the vent is ahead: 2: the roo…y the vent 245 W, 3: WW")
    assert "1: the roo…y the vent" in title


def test_a_dollar_in_a_name_is_no_formula(moment: Comparison) -> None:
    ax = plot_power(named(moment, LONG))
    ax.figure.canvas.draw()
    assert any(r"\$" in text.get_text() for text in ax.texts)


def test_a_legend_takes_fewer_columns_for_longer_words() -> None:
    assert legend_columns(["2s", "2p", "hilltop", "controller sits here"], 2, line=3.4) == 2
    assert legend_columns(["a name of letters"] * 4, 3, line=3.4) == 2
    assert legend_columns(["a name that is even longer than a title may well be"] * 4, 3, line=3.4) == 1


FOUR = [LONG, ["4s", "2s2p", "2s2p (P1+P3 | P2+P4)", "4p"], ["\u00dc" * 118, "i" * 120, "W" * 119, "W" * 120]]
# names as they may be, and as they mostly are


@pytest.mark.parametrize("names", FOUR, ids=["long", "usual", "wide"])
def test_a_ladder_keeps_long_names_apart(names: list[str]) -> None:
    both = list(example("bookmobile").wirings().values())
    far = [
        replace(rig, circuits=(replace(c, cable=replace(c.cable, length_m=20)),)) for rig in both for c in rig.circuits
    ]
    run = simulate(dict(zip(names, [*both, *far], strict=True)), Days(weather="sand-point", day="dull"))
    ax = plot_ladder(run)
    assert crowded(ax) == []
    legend = ax.get_legend()
    assert legend is not None
    assert len({text.get_text() for text in legend.get_texts()}) == 4
    assert any(ax.get_title(loc="left").startswith(text.get_text()) for text in legend.get_texts())


@pytest.mark.parametrize("names", FOUR, ids=["long", "usual", "wide"])
def test_a_day_on_the_roof_keeps_long_names_apart(names: list[str]) -> None:
    van = example("goat-cheese-van")
    parked = Parked(latitude_deg=50, day="03-21", step_min=60)
    rigs = list(van.wirings().values())
    ax = plot_roof_day(compare(dict(zip(names, [*rigs, *rigs], strict=True)), parked))
    assert crowded(ax) == []
    assert len({text.get_text() for text in ax.texts}) == 4


def parted(names: list[str]) -> ShadeMap:
    """A map on which each of four wirings wins in a corner."""
    found = shade_map(example("goat-cheese-van").wirings())
    watts = next(iter(found.watts.values()))
    row, column = (2 * np.arange(count) // count for count in watts.shape)
    corner = 2 * row[:, None] + column
    return replace(found, watts={name: watts * (1 + 0.2 * (corner == k)) for k, name in enumerate(names)})


@pytest.mark.parametrize("names", FOUR, ids=["long", "usual", "wide"])
def test_a_map_of_shade_keeps_long_names_apart(names: list[str]) -> None:
    ax = plot_shade_map(parted(names))
    assert crowded(ax) == []
    assert ax.get_position().width > 0.6
    legend = ax.get_legend()
    assert legend is not None
    assert len({text.get_text() for text in legend.get_texts()}) == 4
