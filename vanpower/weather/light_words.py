"""What light on a level panel is like outside, in words that a person knows who has no meter.

Each is worked out for 50 degrees north: how high the sun stands at noon, a clear sky by that, and what clouds leave of
it. Left out: haze, the season between, and other latitudes; nearer the equator every noon is brighter.
"""

from __future__ import annotations

import math

OUTSIDE = (
    (12.0, "the sun just above the horizon"),
    (64.0, "an overcast noon in winter"),
    (161.0, "an overcast noon in spring"),
    (242.0, "an overcast noon in summer, a clear one in winter"),
    (337.0, "bright cloud, a noon in spring"),
    (482.0, "bright cloud, a noon in summer"),
    (644.0, "a clear noon in spring"),
    (920.0, "a clear noon in summer"),
    (1000.0, "full sun, as labels are measured"),
)
# [W/m²] on the flat. Clear: 1098 sin h exp(-0.059 / sin h), Haurwitz 1945, the sun h = 2.5 degrees high, and 16.6, 40.0
# and 63.4 as at noon at 50 degrees north; overcast 1/4 of it, bright cloud (7 eighths) 1 - 0.75 (7/8)^3.4 of it, Kasten
# and Czeplak 1980; 1000 W/m²: IEC 60904-3; the fourth is midway between 230 and 254
SKIES = {"clear": (0, 15.0), "broken": (4, 50.0), "bright-cloud": (7, 45.0), "overcast": (8, 60.0)}
# eighths of the sky in cloud, and by how much the light of a moment may then be off [%]: clear as a clear sky's model
# and a clock give it, bright cloud what an eighth more or less makes of it, broken in or out of the sun, overcast down
# to rain clouds; common practice, no source
WHERE = "level, 50° N"


def cloud_lets(eighths: float) -> float:
    """Share of a clear sky's light that so many eighths of cloud let through; Kasten and Czeplak 1980.

    Examples
    --------
    >>> [round(cloud_lets(eighths), 2) for eighths in (0, 4, 7, 8)]
    [1.0, 0.93, 0.52, 0.25]
    """
    return 1.0 - 0.75 * (eighths / 8.0) ** 3.4


def like_outside(light: float) -> str:
    """What so much light is like; the nearest of the kinds that are known, by the ratio. [W/m²]

    Examples
    --------
    >>> like_outside(150), like_outside(1000)
    ('like an overcast noon in spring (level, 50° N)', 'like full sun, as labels are measured')
    """
    there, words = min(OUTSIDE, key=lambda kind: abs(math.log(max(light, 1.0) / kind[0])))
    return f"like {words}" + (f" ({WHERE})" if there < OUTSIDE[-1][0] else "")
