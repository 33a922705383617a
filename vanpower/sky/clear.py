"""Light on the flat under a cloudless sky, for days on which nobody brought a sensor."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import datetime

import numpy as np


def clear_sky(times: Sequence[datetime], latitude: float, longitude: float) -> np.ndarray:
    """Light on the flat at UTC times under a cloudless sky (time,). [W/m²]

    Notes
    -----
    Haurwitz, J. Meteorology 2 (1945) 154-166, through pvlib: sun height alone, no haze, no water. It may be off by
    several percent, evenly over an hour or two, which is what comparing wirings can bear.
    """
    import pandas as pd
    import pvlib

    index = pd.DatetimeIndex(times, tz="UTC")
    sun = pvlib.solarposition.get_solarposition(index, latitude, longitude)
    return pvlib.clearsky.haurwitz(sun["apparent_zenith"])["ghi"].to_numpy(float)
