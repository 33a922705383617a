"""Charts for people who see some colours alike, and in black and white: by simulation, and by what else tells roles."""

from __future__ import annotations

from itertools import combinations, permutations

import pytest
from sight import SIGHTS, apart, contrast, in_grey, lab, linear

from vanpower import Days, example, simulate
from vanpower.figures.months import plot_months
from vanpower.figures.run import plot_run
from vanpower.figures.style import LOSS_STYLES, MIXED, PARALLEL, RED_WORDS, ROLES, SERIES, SOFT, WIRING_STYLES, looks

TOLD = 15.0
# [L*a*b*] distance, or difference of lightness alone, by which small areas are still told apart; no source
READABLE, SEEN = 4.5, 3.0
# contrast of words and of lines, WCAG 2.1, 1.4.3 and 1.4.11
BARS = LOSS_STYLES


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
    near = [pair for pair in combinations(WIRING_STYLES, 2) if apart(pair[0].colour, pair[1].colour, sight) < TOLD]
    # without short cones blue and green are 11 apart: there dash and marker tell them, as in grey
    assert near == ([(SERIES, MIXED)] if sight == "no short cone" else [])


def test_dash_and_marker_and_hatch_tell_wirings_too_since_grey_does_not() -> None:
    greys = [pair for pair in combinations(WIRING_STYLES, 2) if in_grey(pair[0].colour, pair[1].colour) < TOLD]
    assert greys, "all wirings differ in grey: nothing is asked of dashes"
    for one, other in combinations(WIRING_STYLES, 2):
        assert (one.dash, one.marker) != (other.dash, other.marker)
        assert one.marker != other.marker
        assert one.hatch != other.hatch


def test_lines_and_words_of_wirings_stand_out_on_white() -> None:
    for look in WIRING_STYLES:
        assert contrast(look.colour) >= SEEN
        assert contrast(look.words) >= READABLE


def test_orange_is_the_ceiling_and_nothing_else() -> None:
    used = {role: colour for role, colour in ROLES.items() if colour == ROLES["limit"]}
    assert set(used) == {"limit", "ceiling"}
    others = [colour for role, colour in ROLES.items() if role not in used] + [look.colour for look in WIRING_STYLES]
    assert min(apart(colour, ROLES["limit"]) for colour in others) > 2 * TOLD
    assert contrast(ROLES["limit"]) >= SEEN


def test_no_loss_has_the_colour_of_a_wiring() -> None:
    losses = {ROLES[role] for role, _ in LOSS_STYLES.values()}
    assert min(apart(loss, look.colour) for loss in losses for look in WIRING_STYLES if loss != ROLES["other"]) > 10


def test_a_kind_of_wiring_is_drawn_alike_whatever_stands_beside_it() -> None:
    # by hand: one string, as many strings as panels, and what is neither
    kinds = {"4s": SERIES, "2s2p": MIXED, "4p": PARALLEL}
    wirings = example("puppet-stage").wirings()
    for names in permutations(wirings):
        found = looks(names, wirings)
        assert {name: found[name] for name in kinds} == kinds
        assert looks(names) == found
    both = looks(["inside", "outside"], {"inside": wirings["4s"], "outside": wirings["4s"]})
    assert (both["inside"], both["outside"].colour) == (SERIES, "#7A2BD6")
    # two controllers: the first is wired in series or in parallel, and the second stays as it is
    split = looks(["2s", "2p"], example("kiln-bus").wirings())
    assert (split["2s"], split["2p"]) == (SERIES, PARALLEL)
    assert looks(["apart"], example("bookmobile").wirings(apart=True))["apart"] not in (SERIES, PARALLEL, MIXED)


def test_bars_with_the_same_hatch_differ_in_grey_and_in_every_sight() -> None:
    for (one, (role, hatch)), (other, (role_too, hatch_too)) in combinations(BARS.items(), 2):
        if hatch == hatch_too:
            colours = ROLES[role], ROLES[role_too]
            assert in_grey(*colours) >= TOLD, f"{one} and {other} in black and white"
            assert min(apart(*colours, sight) for sight in SIGHTS) >= TOLD, f"{one} and {other}"


@pytest.mark.parametrize("colour", ["black", RED_WORDS, ROLES["start"], SOFT])
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
