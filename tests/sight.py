"""How colours look to people who see some of them alike, and in grey: what tests of charts ask.

The matrices are those of Machado, Oliveira and Fernandes (2009, IEEE Transactions on Visualization and Computer
Graphics 15, 1291) for sight that lacks one kind of cone, on linear light: severity 1.0 of the tables of Machado's
thesis (2010, hdl.handle.net/10183/26950) as the library colour-science prints them, in its file
`colour/blindness/datasets/machado2010.py` at commit 065e7d6. All 27 numbers were held against that file, and none
differed. Lightness and distance are CIE 1976 L*a*b* under D65, from sRGB by IEC 61966-2-1.
"""

from __future__ import annotations

import numpy as np
from matplotlib.colors import to_rgb

SIGHTS = {
    "all cones": np.eye(3),
    "no long cone": np.array(
        [[0.152286, 1.052583, -0.204868], [0.114503, 0.786281, 0.099216], [-0.003882, -0.048116, 1.051998]]
    ),
    "no middle cone": np.array(
        [[0.367322, 0.860646, -0.227968], [0.280085, 0.672501, 0.047413], [-0.011820, 0.042940, 0.968881]]
    ),
    "no short cone": np.array(
        [[1.255528, -0.076749, -0.178779], [-0.078411, 0.930809, 0.147602], [0.004733, 0.691367, 0.303900]]
    ),
}
TO_XYZ = np.array([[0.4124, 0.3576, 0.1805], [0.2126, 0.7152, 0.0722], [0.0193, 0.1192, 0.9505]])
WHITE = TO_XYZ.sum(axis=1)


def linear(colour: str) -> np.ndarray:
    """Red, green and blue light of a colour, 0 to 1 (3,)."""
    coded = np.array(to_rgb(colour))
    return np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)


def lab(colour: str, sight: str = "all cones") -> np.ndarray:
    """Lightness from 0 to 100 and the two hues of a colour as somebody sees it (3,)."""
    seen = np.clip(SIGHTS[sight] @ linear(colour), 0.0, 1.0)
    ratio = TO_XYZ @ seen / WHITE
    x, y, z = np.where(ratio > 216 / 24389, np.cbrt(ratio), (24389 / 27 * ratio + 16) / 116)
    return np.array([116 * y - 16, 500 * (x - y), 200 * (y - z)])


def apart(one: str, other: str, sight: str = "all cones") -> float:
    """Distance of two colours as somebody sees them; about 2 can just be told side by side."""
    return float(np.linalg.norm(lab(one, sight) - lab(other, sight)))


def in_grey(one: str, other: str) -> float:
    """Difference of two colours' lightness, all that is left in black and white."""
    return float(abs(lab(one)[0] - lab(other)[0]))


def contrast(colour: str, ground: str = "white") -> float:
    """Light of the brighter one to that of the darker one, with 5 % of stray light added (WCAG 2.1)."""
    dark, bright = sorted(float(TO_XYZ[1] @ linear(c)) for c in (colour, ground))
    return (bright + 0.05) / (dark + 0.05)
