"""Light for logs without a light sensor: a spare panel's short-circuit amps, or a clear-sky curve."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import numpy as np

from vanpower.trials.logs import Log
from vanpower.weather.sun import clear_sky

ALPHA = 0.05
# [%/K] short-circuit amps with temperature; median of the silicon groups in tests/reference/cec_percentiles.csv
LIGHT_LEAST = 20.0
# [W/m²] below this a computed curve says nothing about the panels; no source


def spare_light(log: Log, i_sc: float, *, alpha_isc_pct_per_k: float = ALPHA) -> Log:
    """The log with light from a spare panel's short-circuit amps; `i_sc` is its label. [A]

    Notes
    -----
    The panel must lie in the plane of the others, clean and unshaded, with a meter whose range lies above its amps.

    Examples
    --------
    >>> from vanpower import read_log
    >>> log = read_log('''minutes wiring watts i_spare
    ...     0  2p 100 2.5
    ...     5  2p 104 2.6
    ...     20 2s 111 2.7
    ...     25 2s 114 2.8
    ...     40 2p 116 2.9
    ...     45 2p 120 3.0''')
    >>> spare_light(log, i_sc=5.0).light.round().tolist()
    [500.0, 520.0, 540.0, 560.0, 580.0, 600.0]
    """
    if not log.has("i_spare"):
        raise ValueError(f'{log.name} has no column of a spare panel\'s amps; name it: i_spare="its name".')
    if not 0.05 <= i_sc <= 40.0:
        raise ValueError(f"i_sc of the spare panel is {i_sc:g} A; from 0.05 to 40 A makes sense. Are these milliamps?")
    warm = np.where(np.isfinite(log.temp), log.temp - 25.0, 0.0)
    light = 1000.0 * log.i_spare / (i_sc * (1.0 + alpha_isc_pct_per_k / 100.0 * warm))
    return replace(log, light=light, light_from="the short-circuit amps of a spare panel")


def clear_light(log: Log, latitude: float, longitude: float, utc_h: float) -> Log:
    """The log with light from a clear-sky curve on the flat; only for cloudless hours and flat panels.

    Parameters
    ----------
    utc_h : float
        Hours by which the log's clock is ahead of UTC.

    Examples
    --------
    >>> from vanpower import read_log
    >>> log = read_log('''time; wiring; watts
    ...     2026-06-21 10:00; 2p; 100
    ...     2026-06-21 10:05; 2p; 104
    ...     2026-06-21 10:20; 2s; 111
    ...     2026-06-21 10:25; 2s; 114
    ...     2026-06-21 10:40; 2p; 116
    ...     2026-06-21 10:45; 2p; 120''')
    >>> round(float(clear_light(log, latitude=47.0, longitude=15.0, utc_h=2.0).light[0]), -1)
    680.0
    """
    if log.start is None or log.start.year <= 2000:
        raise ValueError(f"{log.name} has no dates, and a clear-sky curve needs them; write times as 2026-05-31 10:05.")
    for name, value, most in (("latitude", latitude, 90.0), ("longitude", longitude, 180.0), ("utc_h", utc_h, 14.0)):
        if not -most <= value <= most:
            raise ValueError(f"{name} is {value:g}; from {-most:g} to {most:g} makes sense.")
    import pandas as pd

    times = [log.start + timedelta(minutes=float(m) - utc_h * 60.0) for m in log.minutes]
    light = clear_sky(pd.DatetimeIndex(times, tz="UTC"), (latitude, longitude))["ghi"].to_numpy()
    if (light < LIGHT_LEAST).any():
        raise ValueError(
            f"{log.name}: the sun is down or very low at {latitude:g}, {longitude:g} in some rows. Is the clock really "
            f"{utc_h:g} h ahead of UTC?"
        )
    return replace(log, light=light, light_from="a clear-sky curve (cloudless hours and flat panels only)")


__all__ = ["clear_light", "spare_light"]
