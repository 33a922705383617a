"""Holds a picture against another one loosely: the same chart drawn elsewhere is alike, another finding is not."""

from __future__ import annotations

import base64
import io

import numpy as np
import PIL.Image

GRAIN = 4
# [pixels] that are averaged, so that the edge of a line may lie a pixel further
FAR = 24
# of 255: an averaged grain that differs by more has other ink on it
OTHER_SHARE = 0.02
# of all grains; the chart drawn twice gives 0, the light changed by a twentieth 2.5 %
SIZE_SHARE = 0.05
# by which a side may be longer: another release of the drawing library trims the margins otherwise
BLANK = 2.0
# of 255: spread of the grey below which a picture has nothing on it


def unlike(stored: bytes, fresh: bytes) -> str:
    """Why two pictures are not the same chart; empty when they are."""
    old, new = grains(stored), grains(fresh)
    if new.std() < BLANK or old.std() < BLANK:
        return "a picture is blank"
    if max(abs(a - b) / b for a, b in zip(old.shape[:2], new.shape[:2], strict=True)) > SIZE_SHARE:
        return f"stored {old.shape[:2]}, drawn {new.shape[:2]} grains"
    rows, columns = (min(sides) for sides in zip(old.shape[:2], new.shape[:2], strict=True))
    other = np.abs(old[:rows, :columns] - new[:rows, :columns]).max(axis=2) > FAR
    return f"{100 * other.mean():.1f} % of the picture differs" if other.mean() > OTHER_SHARE else ""


def grains(picture: bytes) -> np.ndarray:
    """The picture in coarse grains (row, column, colour), 0 to 255."""
    pixels = np.asarray(PIL.Image.open(io.BytesIO(picture)).convert("RGB"), dtype=float)
    rows, columns = (side // GRAIN * GRAIN for side in pixels.shape[:2])
    blocks = pixels[:rows, :columns].reshape(rows // GRAIN, GRAIN, columns // GRAIN, GRAIN, 3)
    return blocks.mean(axis=(1, 3))


def decoded(text: str) -> bytes:
    """A picture out of a notebook."""
    return base64.b64decode(text)
