"""Charts as SVG in two parts: each says what the other does not, and a rig's text stays text."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from vanpower import Snapshot, compare, example
from vanpower.figures import PowerChart
from vanpower.figures.fragments import moving_svg, still_svg


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
