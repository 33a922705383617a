"""Measured series that nobody here made, watched as they are and with a third or a sixth taken off from a day on.

    .venv/bin/python tests/benchmarks/measured_series.py FOLDER

FOLDER holds two files of the Python package pvanalytics 0.2.2 (MIT), pvanalytics/data, quarter hours of alternating
current of fixed arrays at Golden, Colorado: serf_east_15min_ac_power.csv, whose place, tilt and azimuth stand in the
package's example of orientations, and system_50_ac_power_2_full_DST.parquet (pandas reads it with pyarrow), whose place
stands in its example of quality checks; tilt and azimuth suit the clear days of its first year best. The rating is
learned from the first 30 days. There is no battery, there are no volts and no current limit of a label, so that causes
of limits are left out.
"""

from __future__ import annotations

import sys
from dataclasses import replace
from pathlib import Path

import numpy as np
import pandas as pd

sys.path.insert(0, str(Path(__file__).parents[1]))
from van_years import PARALLEL, van

from vanpower.rig import Rig
from vanpower.watching.causes import LIMIT
from vanpower.watching.expectations import Expectation
from vanpower.watching.filtering import alarms_of, days_of, run_filter
from vanpower.watching.histories import FIELDS, History
from vanpower.watching.stays import Stays, stays_of

SERIES = {
    "serf_east_15min_ac_power.csv": ("ac_power", 39.742, -105.1727, 45.0, 158.0),
    "system_50_ac_power_2_full_DST.parquet": ("ac_power_2", 39.7406, -105.1775, 60.0, 180.0),
}
# column of watts, latitude, longitude, tilt and azimuth [degrees]
WAKES = 2.0 / 300.0
# of the high watts, from which a row counts as awake: what two watts are of 330 on a label
STEP_H, LEARNED = 0.25, 30
# of a row [h], and days from which the rating is learned
TAKEN = (2 / 3, 5 / 6)
# what is left of the watts


def daily(path: Path) -> History:
    """Watt-hours and highest row of each day, every day free."""
    rows = pd.read_csv(path) if path.suffix == ".csv" else pd.read_parquet(path)
    watts = rows[SERIES[path.name][0]].clip(lower=0.0)
    watts.index = pd.DatetimeIndex(rows.iloc[:, 0].astype(str).str[:19])
    watts = watts.dropna()[lambda some: ~some.index.duplicated()]
    by_day = watts.groupby(watts.index.date)
    whole = by_day.count() > 90
    energy, high = by_day.sum()[whole].to_numpy() * STEP_H, by_day.max()[whole].to_numpy()
    # never held back, as a grid takes everything
    awake = 60.0 * STEP_H * (watts > WAKES * watts.quantile(0.98)).groupby(watts.index.date).sum()[whole].to_numpy()
    none, blank = np.zeros(len(energy)), {name: np.full(len(energy), np.nan) for name in FIELDS}
    known = {"energy_wh": energy, "p_high": high, "bulk_min": awake, "absorption_min": none, "float_min": none}
    return History(path.name, np.array(by_day.sum().index[whole], dtype="datetime64[D]"), **(blank | known))


def fitted(history: History) -> tuple[Expectation, Stays, History]:
    """A rig that stands as the array does, where, and the series in watts of the rig: its best first days are clear."""
    _, latitude, longitude, tilt, azimuth = SERIES[history.name]
    rig: Rig = van(PARALLEL).with_panels(tilt_deg=tilt, azimuth_deg=azimuth)
    limit = replace(rig.circuits[0].controller, i_charge_max=500.0)
    expected = Expectation(rig.changed(circuits=(replace(rig.circuits[0], controller=limit),)), (0,))
    expected.causes = [cause for cause in expected.causes if cause.kind != LIMIT]
    stays = stays_of([(str(history.dates[0]), latitude, longitude)], history)
    unit = float(np.percentile(days_of(history, stays, expected).top[:LEARNED], 90))
    return expected, stays, replace(history, energy_wh=history.energy_wh / unit, p_high=history.p_high / unit)


def main() -> None:
    """Watch each series as it is, and with some of it taken off."""
    for name in SERIES:
        expected, stays, history = fitted(daily(Path(sys.argv[1]) / name))
        firsts = np.random.default_rng(19).integers(40, len(history) - 45, 6)
        for first, left in [(len(history), 1.0), *((int(day), share) for share in TAKEN for day in firsts)]:
            late = np.where(np.arange(len(history)) >= first, left, 1.0)
            changed = replace(history, energy_wh=history.energy_wh * late, p_high=history.p_high * late)
            filtered = run_filter(days_of(changed, stays, expected), stays, expected)
            said = [f"day {one.day - first:+d}: {filtered.causes[one.cause].kind}" if left < 1 else f"day {one.day}"
                    for one in alarms_of(filtered, stays)]  # fmt: skip
            what = f"{len(history)} days as they are" if left == 1 else f"{100 * (1 - left):.0f} % off from day {first}"
            print(f"{name}, {what}: {', '.join(said) or 'no alarm'}")


if __name__ == "__main__":
    main()
