"""A measured series that nobody here made, watched as it is and with a third taken off from a day on.

    .venv/bin/python tests/benchmarks/measured_series.py FOLDER

FOLDER holds serf_east_15min_ac_power.csv of the Python package pvanalytics 0.2.2 (MIT), pvanalytics/data: quarter hours
of a fixed array at Golden, Colorado. Its geometry and rating are not in the file: a tilt of 40 degrees to the south is
taken, as such arrays mostly stand there, and the rating from the first 30 days. There is no battery and no volts.
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
from vanpower.watching.expectations import Expectation
from vanpower.watching.filtering import alarms_of, days_of, run_filter
from vanpower.watching.histories import FIELDS, History
from vanpower.watching.stays import Stays

LATITUDE, LONGITUDE, TILT = 39.74, -105.18, 40.0
# [degrees]
STEP_H, LEARNED = 0.25, 30
# of a row [h], and days from which the rating is learned
TAKEN = (2 / 3, 5 / 6)
# what is left of the watts


def daily(path: Path) -> History:
    """Watt-hours and highest row of each day, every day free."""
    rows = pd.read_csv(path, index_col=0)
    local = pd.DatetimeIndex(rows.index.str[:19])
    watts = np.maximum(rows["ac_power"].to_numpy(float), 0.0)
    by_day = pd.Series(watts, index=local).groupby(local.date)
    whole = by_day.count() > 90
    dates = np.array(by_day.sum().index, dtype="datetime64[D]")[whole.to_numpy()]
    blank = {name: np.full(len(dates), np.nan) for name in FIELDS}
    energy, high = by_day.sum().to_numpy()[whole] * STEP_H, by_day.max().to_numpy()[whole]
    # awake all day and never held back, as a grid takes everything
    stages = {"bulk_min": np.full(len(dates), 900.0), "absorption_min": np.zeros(len(dates)),
              "float_min": np.zeros(len(dates))}  # fmt: skip
    return History(path.name, dates, **(blank | {"energy_wh": energy, "p_high": high} | stages))


def fitted(history: History) -> tuple[Expectation, Stays]:
    """A rig whose clear days of the first weeks are those of the series, and a van that stays."""
    count = len(history)
    where = (np.full(count, each) for each in (LATITUDE, LONGITUDE, 0.0))
    stays = Stays(*where, np.zeros(count, bool), np.zeros(count, int), True, True)
    rig: Rig = van(PARALLEL).with_panels(tilt_deg=TILT)
    limit = replace(rig.circuits[0].controller, i_charge_max=500.0)
    rig = rig.changed(circuits=(replace(rig.circuits[0], controller=limit),))
    return Expectation(rig, (0,)), stays


def scaled(history: History, expected: Expectation, stays: Stays) -> History:
    """The series in the watts of the rig: the best of the first 30 days are clear days."""
    days = days_of(history, stays, expected)
    unit = float(np.percentile(days.top[:LEARNED], 90))
    return replace(history, energy_wh=history.energy_wh / unit, p_high=history.p_high / unit)


def main() -> None:
    """Watch the series as it is, and with some of it taken off."""
    history = daily(Path(sys.argv[1]) / "serf_east_15min_ac_power.csv")
    expected, stays = fitted(history)
    history = scaled(history, expected, stays)
    rng = np.random.default_rng(19)
    firsts = rng.integers(40, len(history) - 45, 6)
    for first, left in [(len(history), 1.0), *((int(day), share) for share in TAKEN for day in firsts)]:
        late = np.where(np.arange(len(history)) >= first, left, 1.0)
        changed = replace(history, energy_wh=history.energy_wh * late, p_high=history.p_high * late)
        filtered = run_filter(days_of(changed, stays, expected), stays, expected)
        alarms = alarms_of(filtered, stays)
        said = [f"day {one.day - first:+d}: {filtered.causes[one.cause].kind}" if left < 1 else f"day {one.day}"
                for one in alarms]  # fmt: skip
        what = f"{len(history)} days as they are" if left == 1 else f"{100 * (1 - left):.0f} % off from day {first}"
        print(f"{what}: {', '.join(said) or 'no alarm'}")


if __name__ == "__main__":
    main()
