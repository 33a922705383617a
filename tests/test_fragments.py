"""Charts as SVG in two parts: each says what the other does not, and a rig's text stays text."""

from __future__ import annotations

import io
import math
import re
import xml.etree.ElementTree as ET
from dataclasses import replace

from matplotlib.backends.backend_svg import RendererSVG
from matplotlib.collections import PolyCollection
from matplotlib.figure import Figure

from vanpower import Snapshot, compare, example
from vanpower.figures.fragments import Fragment, moving_svg, still_svg
from vanpower.figures.lighter import SEEN, lighter, seen
from vanpower.figures.power import PowerChart


def _chart(light: float, name: str = "2p") -> PowerChart:
    chart = PowerChart(p_top=250, v_top=90)
    chart.update(compare({name: example("bookmobile").wired("2p")}, Snapshot(light=light, temp_cell=25)))
    return chart


def test_both_parts_are_xml_and_only_the_moving_part_follows_the_light():
    dull, bright = _chart(100), _chart(800)
    stills = [still_svg(chart.figure, chart.moving) for chart in (dull, bright)]
    moves = [moving_svg(chart.figure, chart.moving) for chart in (dull, bright)]
    for text in (*stills, *(f'<svg xmlns:xlink="http://www.w3.org/1999/xlink">{move}</svg>' for move in moves)):
        ET.fromstring(text)
    assert moves[0] != moves[1]
    assert stills[0] == stills[1]


def test_the_moving_part_has_no_style_sheet_of_its_own():
    # CSS applies to a whole document wherever it stands (W3C, HTML5, working draft of 25 October 2012, 4.2.6), so that
    # a new one at every move has a browser look at every element again: 8 of 24 ms of a move on page 02, 1098 elements
    chart = _chart(400)
    still, moving = still_svg(chart.figure, chart.moving), moving_svg(chart.figure, chart.moving)
    assert [part.count("<style") for part in (still, moving)] == [1, 0]
    assert "clipPath" in moving


def test_words_are_as_large_in_a_fragment_as_in_a_whole_drawing_whose_font_is_asked_at_every_word():
    figure = Figure(dpi=72)
    for said in ("2s 169 W", "two\nlines"):
        words = figure.text(0.3, 0.4, said, fontsize=11, va="center_baseline")
        boxes = [
            words.get_window_extent(kind(400, 300, io.StringIO(), image_dpi=72)) for kind in (Fragment, RendererSVG)
        ]
        assert boxes[0].bounds == boxes[1].bounds


def test_cells_that_follow_one_another_in_one_colour_are_drawn_as_one_with_every_corner_that_they_had():
    figure = Figure(figsize=(4, 4))
    ax = figure.subplots()
    squares = [[(k, 0), (k + 1, 0), (k + 1, 1), (k, 1)] for k in range(6)]
    cells = ax.add_collection(PolyCollection(squares, facecolors=["r", "r", "r", "b", "b", "r"], edgecolors="w"))
    ax.set(xlim=(0, 6), ylim=(0, 1))
    one, apart = moving_svg(figure, [cells]), still_svg(figure).split('id="PolyCollection_1"')[1].split("</g>")[0]
    corners = [re.findall(r"[ML] (-?[\d.]+ -?[\d.]+)", part) for part in (one, apart)]
    assert sorted(corners[0]) == sorted(corners[1])
    assert [part.count("<path") for part in (one, apart)] == [3, 6]


def test_a_wiring_named_like_a_tag_is_shown_as_letters():
    chart = _chart(800, "<script>alert(1)</script>")
    both = still_svg(chart.figure, chart.moving) + moving_svg(chart.figure, chart.moving)
    assert "<script" not in both


def test_a_title_stays_where_a_whole_drawing_puts_it():
    chart = _chart(800)
    whole = still_svg(chart.figure)
    still_svg(chart.figure, chart.moving)
    place = re.compile(r'<text [^>]*y="([-.0-9]+)"[^>]*>2p \d+ W')
    assert place.findall(moving_svg(chart.figure, chart.moving)) == place.findall(whole) != []


def test_a_figure_keeps_its_dots_and_its_canvas():
    chart = _chart(800)
    before = chart.figure.dpi, chart.figure.canvas
    still_svg(chart.figure, chart.moving)
    assert (chart.figure.dpi, chart.figure.canvas) == before


def test_coordinates_are_said_to_a_tenth_and_words_keep_their_numbers():
    chart = _chart(800, "2.345 m of cable")
    both = still_svg(chart.figure, chart.moving) + moving_svg(chart.figure, chart.moving)
    assert ">2.345 m of cable" in both
    coordinates = re.sub(r'>[^<]+<|style="[^"]*"', "", both)
    assert re.findall(r"\d\.\d\d+", coordinates.partition("<defs>")[2]) == []


def test_words_keep_every_digit_while_coordinates_are_said_to_a_tenth():
    """A ceiling of 57.25 V stands in the drawing as it was typed: rounding it up would allow what is forbidden."""
    chart = PowerChart()
    rig = example("bookmobile").wired("2p")
    controller = replace(rig.circuits[0].controller, v_pv_max=57.25)
    rig = replace(rig, circuits=(replace(rig.circuits[0], controller=controller),))
    chart.update(compare({"2p": rig}, Snapshot(light=800, temp_cell=25)))
    for drawn in (
        still_svg(chart.figure, chart.moving) + moving_svg(chart.figure, chart.moving),
        still_svg(chart.figure),
    ):
        assert "ceiling 57.2 V" not in drawn
        assert "ceiling 57.25 V" in drawn
        assert not re.search(r' d="[^"]*\d\.\d\d', drawn)


def test_a_lighter_fragment_passes_within_a_tenth_of_a_point_of_what_it_leaves_out_and_keeps_its_ends():
    """Every point of a curve lies within the promised distance of the line that is left (plain geometry)."""
    points = [(10 * k, round(900 * math.sin(k / 20.0))) for k in range(200)]
    kept = seen(points)
    assert len(kept) < len(points) / 3
    assert (kept[0], kept[-1]) == (points[0], points[-1])
    for x, y in points:
        right = next(k for k, (at, _) in enumerate(kept) if at >= x)
        (x0, y0), (x1, y1) = kept[max(right - 1, 0)], kept[max(right, 1)]
        assert abs((x1 - x0) * (y - y0) - (y1 - y0) * (x - x0)) / math.hypot(x1 - x0, y1 - y0) <= SEEN + 1e-9


def test_lighter_svg_has_the_same_words_in_a_third_of_the_letters():
    chart = _chart(80)
    for whole in (still_svg(chart.figure, chart.moving), moving_svg(chart.figure, chart.moving)):
        less = lighter(whole)
        assert _words(less) == _words(whole) != []
        assert "dc:date" not in less
    assert len(less) < len(whole) / 3


def _words(svg: str) -> list[str]:
    """What is to be read in a picture or a part of one."""
    found = ET.fromstring(f'<svg xmlns:xlink="http://www.w3.org/1999/xlink">{svg}</svg>')
    return ["".join(part.itertext()) for part in found.iter() if part.tag.endswith("text")]
