"""What light is like outside, against pvlib's clear sky and sun and a published rule for clouds."""

from __future__ import annotations

import math

import pytest

from vanpower.weather.light_words import OUTSIDE, like_outside

NOONS = {"winter": "2001-12-21", "spring": "2001-03-21", "summer": "2001-06-21"}
BRIGHT = 1 - 0.75 * (7 / 8) ** 3.4
# light under 7 eighths of cloud over that of a clear sky: Kasten and Czeplak, Solar Energy 24 (1980) 177


@pytest.fixture(scope="module")
def clear() -> dict[str, float]:
    """Light of a clear noon at 50° north by pvlib: the sun by NREL's algorithm, the sky by Haurwitz. [W/m²]"""
    import pandas as pd
    import pvlib

    found = {}
    for season, day in NOONS.items():
        times = pd.date_range(f"{day} 11:00", f"{day} 13:00", freq="1min", tz="UTC")
        sun = pvlib.solarposition.get_solarposition(times, 50.0, 0.0)
        found[season] = float(pvlib.clearsky.haurwitz(sun["apparent_zenith"])["ghi"].max())
    return found


def test_kinds_of_light_are_those_of_a_published_sky(clear: dict[str, float]) -> None:
    light = {words: value for value, words in OUTSIDE}
    for season in NOONS:
        if season != "winter":
            assert light[f"a clear noon in {season}"] == pytest.approx(clear[season], rel=0.01)
            assert light[f"bright cloud, a noon in {season}"] == pytest.approx(BRIGHT * clear[season], rel=0.01)
        if season != "summer":
            assert light[f"an overcast noon in {season}"] == pytest.approx(0.25 * clear[season], rel=0.02)
    both = light["an overcast noon in summer, a clear one in winter"]
    assert both == pytest.approx((0.25 * clear["summer"] + clear["winter"]) / 2, rel=0.01)
    low = math.sin(math.radians(2.5))
    assert light["the sun just above the horizon"] == pytest.approx(1098 * low * math.exp(-0.059 / low), rel=0.05)


def test_words_go_with_the_sky_that_a_parked_van_is_given() -> None:
    # the roof page's sky is Ineichen's, with a turbidity of its own: within a tenth and a half of the words
    from vanpower import Parked
    from vanpower.weather.parked import parked_day

    light = {words: value for value, words in OUTSIDE}
    for clearness, day, words in [
        (1.0, "06-21", "a clear noon in summer"),
        (0.0, "03-21", "an overcast noon in spring"),
    ]:
        table = parked_day(Parked(latitude_deg=50, day=day, hour=12, clearness=clearness)).table
        assert light[words] == pytest.approx(float(table["ghi"].max()), rel=0.15)


KINDS = [(0.0, "like the sun just above"), (230, "like an overcast noon in summer"), (1400, "like full sun")]


@pytest.mark.parametrize(("light", "begins"), KINDS)
def test_any_light_has_words(light: float, begins: str) -> None:
    assert like_outside(light).startswith(begins)


def test_a_slider_of_light_says_what_it_is_like_and_others_say_nothing() -> None:
    from vanpower.widgets import slider
    from vanpower.widgets.controls import labelled

    row = labelled(slider("Light (W/m²)", 10, 1000, start=200, step=10))
    box, control, words = row.children
    sent: list[str] = []
    words.observe(lambda change: sent.append(change["new"]), names="value")
    for value in (210, 190, 160):
        control.value = value
    assert "an overcast noon in spring" in words.value
    # said when the words change, not at every move
    assert len(sent) <= 2
    assert box.description == "Light (W/m²)"
    assert len(labelled(slider("Cells (°C)", 0, 70, start=25)).children) == 2
