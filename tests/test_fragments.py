"""Charts as SVG in two parts: each says what the other does not, and a rig's text stays text."""

from __future__ import annotations

import re
import xml.etree.ElementTree as ET

from vanpower import Snapshot, compare, example
from vanpower.figures import PowerChart
from vanpower.figures.fragments import moving_svg, still_svg

TITLE = re.compile(r'y="([-\d.]+)"[^>]*>2p 167 W')
# how far down the finding stands


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


def test_a_title_among_what_moves_stays_where_the_whole_picture_has_it():
    chart = _chart(800)
    (whole,) = TITLE.findall(still_svg(chart.figure))
    chart.figure.set_layout_engine("none")
    still_svg(chart.figure, chart.moving)
    (after,) = TITLE.findall(moving_svg(chart.figure, chart.moving))
    assert after == whole
