"""Makes data/sky_bank.csv: how much of the clear sky's light came through, from dawn to dusk, on days of three years.

    .venv/bin/python tests/benchmarks/sky_bank.py

The typical years of Sand Point, Greensboro and Miami come with pvlib (NREL's TMY2 and TMY3, public domain); every
sixth day of each is taken. The clear sky is that of Ineichen and Perez (2002).
"""

from __future__ import annotations

import numpy as np
import pandas as pd

from vanpower.files.resources import data_folder
from vanpower.weather.days import find_day
from vanpower.weather.sun import clear_sky
from vanpower.weather.typical_years import TYPICAL_YEARS

SLOTS, EVERY = 16, 6
# equal parts of the daylight; days
LEAST_CLEAR = 40.0
# [W/m²] clear sky below which a ratio says nothing


def bank_of(name: str) -> list[str]:
    """Rows of one typical year."""
    year = find_day(name, "all")
    assert year.position is not None
    ghi = year.table["ghi"]
    middle = ghi.index + pd.Timedelta(hours=0.5)
    clear = clear_sky(middle, year.position, year.altitude_m)["ghi"].to_numpy()
    rows = []
    for date in np.unique(ghi.index.date)[::EVERY]:
        of_day = (ghi.index.date == date) & (clear > LEAST_CLEAR)
        if of_day.sum() < 3:
            continue
        hours = middle[of_day].hour + middle[of_day].minute / 60
        share = np.clip(ghi.to_numpy()[of_day] / clear[of_day], 0.0, 1.3)
        # the hours of some light, stretched over the daylight
        first, last = hours[0] - 0.5, hours[-1] + 0.5
        at = first + (np.arange(SLOTS) + 0.5) / SLOTS * (last - first)
        values = ",".join(f"{value:.3f}" for value in np.interp(at, hours, share))
        rows.append(f"{name},{date:%m-%d},{values}")
    return rows


if __name__ == "__main__":
    head = ",".join(["place", "day", *(f"s{k}" for k in range(1, SLOTS + 1))])
    lines = ["# share of the clear sky's light in equal parts of the daylight, from hourly typical years", head]
    for place in TYPICAL_YEARS:
        lines += bank_of(place)
    (data_folder() / "sky_bank.csv").write_text("\n".join(lines) + "\n", encoding="utf-8")
