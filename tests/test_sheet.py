"""The page to print and its wiring diagram: what stands on them, and that nothing runs off the paper."""

from __future__ import annotations

import re
from dataclasses import replace

import matplotlib.pyplot as plt
import pytest
from conftest import PANEL, tiny_rig
from foreign_rigs import FOREIGN, foreign

from vanpower.checks.charging import charge_settings
from vanpower.checks.order import order_of_work
from vanpower.checks.parts import (
    BATTERY_CABLE,
    BATTERY_FUSE,
    BREAKERS,
    ISOLATOR,
    PLUGS,
    ROOF_CABLE,
    STRING_FUSES,
    parts,
    with_parts,
)
from vanpower.checks.registry import check
from vanpower.figures.diagram import drawn, plot_folded, plot_wiring
from vanpower.figures.sheet import A4, CAUTIONS, TO_TICK, Column, _parts, sheet
from vanpower.files.examples import examples
from vanpower.files.rig_files import example
from vanpower.rig import Cable, Circuit, Rig, Wiring
from vanpower.rig.wirings import equal_strings
from vanpower.sharing.picture_writing import write_picture

LABEL = replace(PANEL, i_max_fuse=8.0, beta_voc_pct_per_k=-0.30)
FOUR = ("bookmobile", "kiln-bus", "seed-swap", "puppet-stage")


def words(figure) -> str:
    """Everything written on a figure, in one line."""
    texts = [text.get_text() for text in figure.texts + [t for ax in figure.axes for t in ax.texts]]
    return re.sub(r"\s+", " ", " ".join(texts))


def wired(series: int, parallel: int) -> Rig:
    """Equal panels in equal strings."""
    count = series * parallel
    return tiny_rig((LABEL,) * count, *(tuple(range(k * series, (k + 1) * series)) for k in range(parallel)))


@pytest.mark.parametrize("name", FOUR)
def test_nothing_runs_off_the_page_or_over_other_words(name):
    figure = sheet(example(name), date="2031-05-01")
    renderer = figure.canvas.get_renderer()
    assert tuple(figure.get_size_inches()) == A4
    boxes = [text.get_window_extent(renderer) for text in figure.texts if text.get_text().strip()]
    page = figure.bbox
    assert all(b.x0 >= 0 and b.y0 >= 0 and b.x1 <= page.x1 and b.y1 <= page.y1 for b in boxes)
    # letters of one line may hang into the next, so a box is taken a quarter lower
    trimmed = [(b.x0, b.y0 + 0.25 * b.height, b.x1, b.y1) for b in boxes]
    over = [
        (a, b)
        for k, a in enumerate(trimmed)
        for b in trimmed[:k]
        if min(a[2], b[2]) - max(a[0], b[0]) > 1 and min(a[3], b[3]) - max(a[1], b[1]) > 1
    ]
    assert over == []


@pytest.mark.parametrize(
    ("strings", "string_fuse", "in_cable"), [(((0,),), "", "10 A"), (((0,), (1,)), "10 A", "20 A")]
)
def test_fuse_against_the_battery_is_drawn_where_the_words_put_it(strings, string_fuse, in_cable):
    """At the controller's end: a fuse on the roof leaves the cable between to the battery."""
    rig = example("bookmobile")
    plain = replace(rig.circuits[0].controller, tracker="direct", i_charge_max=40.0)
    cable = Cable(length_m=5, section_mm2=2.5, insulation="PVC 70")
    circuit = replace(
        rig.circuits[0], wiring=Wiring(strings=strings), controller=plain, cable=cable, i_fuse_battery=None,
        battery_cable=Cable(length_m=1, section_mm2=16),
    )  # fmt: skip
    van = replace(rig, circuits=(circuit,))
    words = drawn(van, circuit)
    assert (words.fuses[0], words.cable_fuse) == (string_fuse, in_cable)
    listed = [part.wanted for part in parts(van, circuit) if part.name.startswith("Fuse in the roof cable")]
    assert listed[0].startswith(in_cable)
    for draw in (plot_wiring, plot_folded):
        assert in_cable in [text.get_text() for text in draw(van).texts]


@pytest.mark.parametrize("name", FOUR)
def test_page_says_every_verdict_part_step_and_caution_with_date_and_version(name):
    rig = example(name)
    said = words(sheet(rig, date="2031-05-01"))
    for verdict in check(rig):
        assert verdict.question.split(":")[0] in said
        assert verdict.answer == "yes" or re.sub(r"\s+", " ", verdict.sentence) in said
    for part in [part for circuit in rig.circuits for part in parts(rig, circuit) if part != BREAKERS]:
        assert f"{part.count} {part.name} {str(part).partition(': ')[2]} {part.why}" in said
    assert str(BREAKERS) in said
    # frost, gas and equalising are said by the charge settings, which know the battery
    steps = [step.words for step in order_of_work(rig)]
    assert all(text in said for text in (*steps, *CAUTIONS, charge_settings(rig).caution))
    assert "2031-05-01 with vanpower" in said
    assert rig.climate.basis.rstrip(".") in said


def test_page_with_a_no_begins_with_do_not_connect():
    page = sheet(example("puppet-stage").wired("4s"))
    bold = [text.get_text() for text in page.texts if text.get_weight() == "bold"]
    assert bold[1].startswith("Do not connect yet. To change: Cold ceiling")
    assert "Do not connect" not in words(sheet(example("bookmobile")))


VANS = {**{name: example(name) for name in examples()}, **{kind: foreign(kind) for kind in FOREIGN}}
BURN = ("Cold ceiling", "Input current", "Circulating", "String fuse", "Reverse current", "Battery feed", "Plugs",
        "Extension", "Cable current", "Battery side", "Isolator")  # fmt: skip
# names of the checks whose no damages or burns something
UNFIT = ("Start", "Hot floor", "Plain switch")
# what no cable, fuse or isolator mends either


def asked_for(part: str, circuit: Circuit) -> str:
    """What a list must ask for, from what would be fitted then and was put to the checks."""
    fuse, plug, least = circuit.i_fuse_string, circuit.i_plug_max or 0.0, "at least"
    return {
        ROOF_CABLE: f"{least} {circuit.cable.section_mm2:g} mm²", STRING_FUSES: f" x {fuse:g} A" if fuse else "",
        PLUGS: f"{plug:.1f} A", BATTERY_FUSE: f"{circuit.i_fuse_battery or 0.0:g} A, DC",
        ISOLATOR: f"DC, {least} {circuit.v_isolator_max or 0.0:.1f} V and {circuit.i_isolator_max or 0.0:.1f} A",
        BATTERY_CABLE: f"{least} {circuit.battery_cable.section_mm2 if circuit.battery_cable else 0.0:g} mm²",
    }.get(part, "")  # fmt: skip


@pytest.mark.parametrize("name", VANS)
def test_nothing_is_to_buy_that_a_check_refuses_once_it_is_fitted(name: str) -> None:
    # a list asked for cable and isolator of strings that stand above their controller's ceiling
    van = VANS[name]
    for rig in (van.wirings() if len(van.circuits) == 1 else {"": van}).values():
        bought = with_parts(rig)
        burns = [one for one in check(bought) if one.answer == "no" and one.question.startswith((*BURN, *UNFIT))]
        column = Column(0.0, 7.4, 11.0, 8.0)
        _parts(column, rig)
        said = re.sub(r"\s+", " ", " ".join(line.words for line in column.lines))
        if burns:
            assert said.startswith("To buy: nothing yet")
            assert all(one.question.partition(":")[0] in said for one in burns)
            assert not any(line.disc for line in column.lines)
            continue
        for circuit, fitted in zip(rig.circuits, bought.circuits, strict=True):
            for part in parts(rig, circuit):
                assert part.wanted in said
                # what is there and larger than it need be stays, and the list asks for the least
                assert part.holds or "ask the" in part.wanted or asked_for(part.name, fitted) in part.wanted


@pytest.mark.parametrize("name", ["kiln-bus", "seed-swap", "hay-cart", "twenty-four", "plain switch", "two circuits"])
def test_numbers_in_discs_tie_every_part_of_the_list_to_its_place_in_the_diagram(name: str) -> None:
    rig = VANS[name]
    page = sheet(rig, date="2031-05-01")
    page.canvas.draw()
    renderer = page.canvas.get_renderer()
    listed = [text.get_text() for text in page.texts if text.get_color() == "white"]
    discs = [text for text in page.axes[0].texts if text.get_color() == "white"]
    wanted = sum(part != BREAKERS for circuit in rig.circuits for part in parts(rig, circuit))
    assert listed == [f"{k}" for k in range(1, wanted + 1)]
    assert sorted(int(text.get_text()) for text in discs) == list(range(1, wanted + 1))
    # no disc lies over another or over words
    boxes = [text.get_bbox_patch().get_window_extent(renderer) for text in discs]
    others = [text.get_window_extent(renderer) for text in page.axes[0].texts if text not in discs and text.get_text()]
    for k, one in enumerate(boxes):
        assert not [(discs[k].get_text(), other) for other in [*boxes[:k], *others] if one.overlaps(other)]


def test_what_is_there_and_holds_has_no_box_to_tick() -> None:
    rig = example("bookmobile")
    column = Column(0.0, 7.4, 11.0, 8.0)
    _parts(column, rig)
    # plugs, isolator, battery cable and fuse of the file hold; its roof cable of 4 mm² loses more than a larger one
    assert [part.name for part in parts(rig, rig.circuits[0]) if not part.holds] == [ROOF_CABLE, BREAKERS.name]
    assert [line.words for line in column.lines].count(TO_TICK) == 1


@pytest.mark.parametrize("ending", ["pdf", "png"])
def test_page_is_one_page_on_paper(tmp_path, ending):
    path = tmp_path / f"page.{ending}"
    write_picture(sheet(example("kiln-bus"), date="2031-05-01"), path)
    held = path.read_bytes()
    if ending == "pdf":
        assert len(re.findall(rb"/Type /Page\b", held)) == 1
        box = re.search(rb"/MediaBox \[ ?0 0 ([\d.]+) ([\d.]+)", held)
        # A4 is 210 mm x 297 mm, 595 x 842 points
        assert (float(box[1]), float(box[2])) == (pytest.approx(595, abs=1), pytest.approx(842, abs=1))
    assert b"vanpower" in held


# The diagram


def drawn_alone_or_printed(rig: Rig, where: str):
    """The axes of a diagram, by itself, folded for a narrow page, or on the page to print."""
    if where == "printed":
        return sheet(rig, date="2031-05-01").axes[0]
    return plot_folded(rig) if where == "folded" and len(rig.circuits) == 1 else plot_wiring(rig)


def limited(series: int, parallel: int, limit: float | None) -> Rig:
    """Equal panels whose label names a largest fuse, or none."""
    return replace(wired(series, parallel), panels=(replace(LABEL, i_max_fuse=limit),) * (series * parallel))


def unlike() -> Rig:
    """Six strings of three lengths and two kinds of fuses."""
    strings = ((0,), (1,), (2, 3), (4, 5), (6, 7, 8), (9, 10, 11))
    panels = tuple(replace(LABEL, i_max_fuse=10.0 if k % 2 else 12.0) for k in range(12))
    return tiny_rig(panels, *strings)


CROWDED = {f"{s}s{p}p": limited(s, p, 8.0) for s, p in [(1, 1), (2, 1), (3, 1), (1, 2), (2, 2), (3, 2), (1, 3), (1, 4),
           (2, 4), (4, 4), (2, 5), (2, 6), (2, 12), (4, 6), (12, 2), (24, 1), (1, 24)]}  # fmt: skip
CROWDED |= {"fuse? 1s4p": limited(1, 4, None), "fuse? 2s12p": limited(2, 12, None), "unlike": unlike()}
CROWDED |= {name: example(name) for name in ("seed-swap", "kiln-bus")}


@pytest.mark.parametrize("where", ["alone", "folded", "printed"])
@pytest.mark.parametrize("name", CROWDED)
def test_no_words_of_a_diagram_lie_over_others_over_a_rail_or_outside(name, where):
    ax = drawn_alone_or_printed(CROWDED[name], where)
    ax.figure.canvas.draw()
    renderer = ax.figure.canvas.get_renderer()
    said = [text for text in ax.texts if text.get_text().strip()]
    boxes = {text: text.get_window_extent(renderer) for text in said}
    over = [(a.get_text(), b.get_text()) for k, a in enumerate(said) for b in said[:k] if overlap(boxes[a], boxes[b])]
    rails = [line.get_window_extent(renderer) for line in wires(ax) if len(set(line.get_ydata())) == 1]
    assert over == []
    assert [text.get_text() for text in said if any(overlap(boxes[text], rail, 2) for rail in rails)] == []
    assert all(ax.figure.bbox.x0 <= box.x0 and box.x1 <= ax.figure.bbox.x1 for box in boxes.values())
    assert min(text.get_fontsize() for text in said) >= 5
    plt.close("all")


def overlap(one, other, room: float = 0.0) -> bool:
    """Whether two boxes share more than half a dot in both directions; the other one is taken higher by some dots."""
    wide = min(one.x1, other.x1) - max(one.x0, other.x0)
    return wide > 0.5 and min(one.y1, other.y1 + room / 2) - max(one.y0, other.y0 - room / 2) > 0.5


def test_many_strings_alike_are_drawn_once_and_counted():
    rig = wired(2, 12)
    said = [text.get_text() for text in plot_wiring(rig).texts]
    assert "12 strings\nof 2,\none drawn" in said
    assert [word for word in said if re.fullmatch(r"P\d+", word)] == ["P2", "P1"]
    assert len(drawn(rig, rig.circuits[0]).panels) == 12
    assert not any("drawn" in text.get_text() for text in plot_wiring(wired(2, 4)).texts)
    plt.close("all")


def test_strings_of_another_length_or_fuse_are_drawn_by_themselves():
    rig = unlike()
    words = drawn(rig, rig.circuits[0])
    kinds = {(len(names), fuse) for names, fuse in zip(words.panels, words.fuses, strict=True)}
    said = [text.get_text() for text in plot_wiring(rig).texts]
    counted = sum(int(found[1]) for word in said if (found := re.match(r"(\d+) strings", word)))
    alone = len(kinds) - sum(word.endswith("one drawn") for word in said)
    assert len({length for length, _ in kinds}) == 3
    assert counted + alone == 6
    plt.close("all")


def test_long_string_shows_its_ends_and_counts_the_rest():
    said = [text.get_text() for text in plot_wiring(wired(24, 1)).texts]
    assert [word for word in said if re.fullmatch(r"P\d+", word)] == ["P24", "P1"]
    assert "22 more" in said
    plt.close("all")


@pytest.mark.parametrize(("series", "parallel"), [(s, p) for s in (1, 2, 3) for p in (1, 2)])
def test_diagram_has_every_panel_once_in_its_string(series, parallel):
    rig = wired(series, parallel)
    ax = plot_wiring(rig)
    names = [text.get_text() for text in ax.texts if re.fullmatch(r"P\d", text.get_text())]
    assert sorted(names) == [f"P{k + 1}" for k in range(series * parallel)]
    columns = {}
    for text in ax.texts:
        if text.get_text() in names:
            columns.setdefault(round(text.get_position()[0], 3), []).append((text.get_position()[1], text.get_text()))
    strings = [tuple(name for _, name in sorted(column, reverse=True)) for _, column in sorted(columns.items())]
    assert tuple(strings) == drawn(rig, rig.circuits[0]).panels
    plt.close(ax.figure)


def joined(ax, tolerance: float = 1e-6) -> list[set]:
    """Wires of a diagram as groups that touch: ends that lie on another wire belong to its group."""
    lines = [((x[0], y[0]), (x[-1], y[-1])) for x, y in ((wire.get_xdata(), wire.get_ydata()) for wire in wires(ax))]
    groups: list[set[int]] = []
    for k, line in enumerate(lines):
        touching = [g for g in groups if any(meet(line, lines[other], tolerance) for other in g)]
        groups = [g for g in groups if g not in touching] + [set().union({k}, *touching)]
    return [{point for k in group for point in lines[k]} for group in groups]


def wires(ax) -> list:
    """The lines that carry current between symbols."""
    return [line for line in ax.lines if line.get_marker() == "None" and line.get_zorder() == 2 and line.get_lw() > 1]


def meet(one, other, tolerance: float) -> bool:
    """Whether an end of either wire lies on the other."""
    return any(on(p, other, tolerance) for p in one) or any(on(p, one, tolerance) for p in other)


def on(point, wire, tolerance: float) -> bool:
    """Whether a point lies on a wire, which runs level or upright."""
    (x0, y0), (x1, y1) = wire
    inside_x = min(x0, x1) - tolerance <= point[0] <= max(x0, x1) + tolerance
    return inside_x and min(y0, y1) - tolerance <= point[1] <= max(y0, y1) + tolerance


@pytest.mark.parametrize(
    "rig", [wired(1, 1), wired(3, 1), wired(1, 2), wired(3, 2), example("kiln-bus")], ids=lambda r: r.name
)
def test_plus_and_minus_never_touch_and_every_panel_hangs_between_them(rig):
    ax = plot_wiring(rig)
    groups = joined(ax)
    # roof plus and minus of each circuit, a link between each two panels of a string, box to battery: plus and minus
    links = sum(len(string) - 1 for circuit in rig.circuits for string in circuit.wiring.strings)
    roof = 2 * len(rig.circuits)
    isolated = 2 * len(rig.circuits)
    # the minus of an upper circuit leaves a gap where it crosses the plus bar of several
    hops = len(rig.circuits) - 1
    assert len(groups) == roof + links + isolated + 2 + hops
    if len(rig.circuits) == 1:
        assert len(joined(plot_folded(rig))) == len(groups)
    plt.close("all")


def test_only_one_circuit_can_be_folded():
    with pytest.raises(ValueError, match="has 2 circuits, and one can be folded"):
        plot_folded(example("kiln-bus"))


def test_fuses_stand_in_the_strings_that_need_them_and_nowhere_else():
    # 2 x 6 A > 8 A: three strings need a fuse of 9 to 8 A, which does not exist; of a 10 A label: 10 A
    def fuses(rig: Rig, limit: float | None) -> tuple[str, ...]:
        rig = replace(rig, panels=tuple(replace(panel, i_max_fuse=limit) for panel in rig.panels))
        return drawn(rig, rig.circuits[0]).fuses

    assert fuses(wired(1, 3), 8.0) == ("none fits",) * 3
    assert fuses(wired(1, 3), 10.0) == ("10 A",) * 3
    assert fuses(wired(1, 3), None) == ("fuse?",) * 3
    assert fuses(wired(1, 2), 8.0) == ("", "")


def test_words_at_fuses_that_cannot_be_had_do_not_run_into_each_other():
    rig = replace(wired(1, 4), panels=(replace(LABEL, i_max_fuse=8.0),) * 4)
    ax = plot_wiring(rig)
    renderer = ax.figure.canvas.get_renderer()
    said = [text.get_window_extent(renderer) for text in ax.texts if text.get_text() == "none\nfits"]
    isolator = next(text for text in ax.texts if text.get_text().startswith("isolator")).get_window_extent(renderer)
    assert len(said) == 4
    assert all(left.x1 < right.x0 for left, right in zip([*said], [*said[1:], isolator], strict=True))
    plt.close(ax.figure)


def test_unlike_panels_get_a_fuse_where_their_own_label_asks_for_it():
    rig = example("seed-swap")
    assert drawn(rig, rig.circuits[0]).fuses == ("8 A", "8 A", "")


def test_split_controllers_share_one_battery_and_keep_their_own_ratings():
    rig = example("kiln-bus")
    said = [text.get_text() for text in plot_wiring(rig).texts]
    assert sum(text.startswith("battery\n12 V") for text in said) == 1
    assert sum(text.startswith("controller") for text in said) == 2
    assert sum(text.startswith("isolator") for text in said) == 2
    plt.close("all")


def test_ratings_of_the_file_stand_in_the_diagram():
    rig = wired(2, 2)
    own = {"v_isolator_max": 100.0, "i_isolator_max": 32.0, "i_fuse_battery": 40.0, "blocking_diodes": True}
    rig = replace(rig, circuits=(replace(rig.circuits[0], battery_cable=Cable(length_m=1.0, section_mm2=10.0), **own),))
    said = " ".join(text.get_text() for text in plot_wiring(rig).texts)
    assert "100 V, 32 A DC" in said
    assert "40 A" in said
    assert "1 m\n10 mm²" in said
    plt.close("all")


def test_every_equal_wiring_of_six_panels_is_drawn():
    for wiring in equal_strings(range(6), "AAAAAA"):
        rig = tiny_rig((LABEL,) * 6, (0, 1, 2), (3, 4, 5)).wired(wiring)
        assert plot_wiring(rig).texts
        plt.close("all")
