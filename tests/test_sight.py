"""Charts for people who see some colours alike, and in black and white: by simulation, and by what else tells roles."""

from __future__ import annotations

from itertools import combinations

import pytest
from sight import SIGHTS, apart, contrast, in_grey, lab, linear

from vanpower import Days, example, simulate
from vanpower.figures import LOSS_STYLES, plot_months, plot_run
from vanpower.figures.style import RED_WORDS, ROLES, WIRING_STYLES

TOLD = 15.0
# [L*a*b*] distance, or difference of lightness alone, by which small areas are still told apart; no source
READABLE = 4.5
# contrast of words, WCAG 2.1, 1.4.3
BARS = {"into the battery": ("battery", ""), **LOSS_STYLES}


@pytest.mark.parametrize("sight", SIGHTS)
def test_every_sight_leaves_white_and_black_as_they_are(sight: str) -> None:
    assert SIGHTS[sight] @ linear("white") == pytest.approx([1, 1, 1], abs=1e-5)
    assert lab("white", sight) == pytest.approx([100, 0, 0], abs=0.02)
    assert lab("black", sight) == pytest.approx([0, 0, 0], abs=0.02)


def test_red_and_green_are_near_for_those_who_lack_a_cone_and_far_for_others() -> None:
    # a red and a green of much the same lightness, which a chart must not rely on
    for sight in ("no long cone", "no middle cone"):
        assert apart("#C04000", "#608000", sight) < 0.45 * apart("#C04000", "#608000")


def test_lightness_is_that_of_the_standard() -> None:
    assert lab("#FF0000")[0] == pytest.approx(53.24, abs=0.02)  # remembered from tables of sRGB
    assert lab("#777777")[0] == pytest.approx(50.03, abs=0.05)


@pytest.mark.parametrize("sight", SIGHTS)
def test_wirings_are_told_apart_by_colour_in_every_sight(sight: str) -> None:
    colours = [colour for colour, _, _ in WIRING_STYLES]
    assert [pair for pair in combinations(colours, 2) if apart(*pair, sight) < TOLD] == []


def test_dash_and_marker_tell_wirings_too_since_grey_does_not() -> None:
    greys = [pair for pair in combinations(WIRING_STYLES, 2) if in_grey(pair[0][0], pair[1][0]) < TOLD]
    assert greys, "all wirings differ in grey: nothing is asked of dashes"
    assert [pair for pair in greys if pair[0][1] == pair[1][1] or pair[0][2] == pair[1][2]] == []


def test_bars_with_the_same_hatch_differ_in_grey_and_in_every_sight() -> None:
    for (one, (role, hatch)), (other, (role_too, hatch_too)) in combinations(BARS.items(), 2):
        if hatch == hatch_too:
            colours = ROLES[role], ROLES[role_too]
            assert in_grey(*colours) >= TOLD, f"{one} and {other} in black and white"
            assert min(apart(*colours, sight) for sight in SIGHTS) >= TOLD, f"{one} and {other}"


@pytest.mark.parametrize("colour", ["black", RED_WORDS, ROLES["start"]])
def test_coloured_words_can_be_read(colour: str) -> None:
    assert contrast(colour) >= READABLE
    assert contrast(colour, ROLES["window"]) >= READABLE


def test_lines_over_bars_of_the_same_grey_have_a_white_edge() -> None:
    assert in_grey(ROLES["limit"], ROLES["battery"]) < TOLD
    rig = example("bookmobile")
    run = plot_run(simulate({"2p": rig}, Days(day="dull")))
    months = plot_months(simulate({"2p": rig}, Days(day="all")).between("12-01", "12-31"))
    loads = next(patch for patch in run.patches if patch.get_label() == "loads fed")
    dashed = next(line for line in months.lines if line.get_label() == "loads")
    charge = run.figure.axes[1].lines[0]
    assert all(line.get_path_effects() for line in (loads, dashed, charge))
