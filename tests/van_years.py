"""Van-years from seeds: what a controller would remember of each day, with a fault that begins on a known day.

The array comes from the kit's own model; skies are typical years in shuffled blocks of days, the battery is a plain
tank with stages of its own, and loads, places, woods, frost, snow, gain, cloud edges and the way a tracker shows its
volts are drawn by lot. Labels are invented.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from functools import lru_cache

import numpy as np
import pandas as pd

from vanpower.components.controllers import margins
from vanpower.files.resources import data_folder
from vanpower.files.rig_files import example
from vanpower.files.rig_tables import rig_of
from vanpower.model.conditions import even_light
from vanpower.model.rig_in_light import RigModel
from vanpower.rig import Circuit, Rig, Shade, Wiring
from vanpower.watching.histories import FIELDS, History
from vanpower.weather.days import find_day
from vanpower.weather.sun import clear_sky

LIGHT = np.concatenate([[0.0], np.geomspace(2.0, 1600.0, 39)])
HEAT = np.linspace(-35.0, 95.0, 14)
PER_HOUR, STEP_H = 4, 0.25
FAULTS = ("group", "panel", "limit", "shadow", "leak", "dirt")
PLACES = {"sand-point": (55.3, -160.5), "greensboro": (36.1, -80.0), "miami": (25.8, -80.3)}
SERIES, PARALLEL = "3s", "3p"
Loss = tuple[float, int]
# share of the light, and the first day
NO_LOSS: Loss = (0.0, 0)


def van(wiring: str) -> Rig:
    """Three panels of 110 W at 12 V, in series or in parallel."""
    return rig_of(
        f"""name = "Puppet van"
source = "invented labels"
panels = [
  {{ count = 3, name = "a", v_oc = 22.1, i_sc = 6.4, v_mp = 18.4, i_mp = 5.98, cells_in_series = 36, substrings = 2 }},
]
battery = {{ name = "200 Ah", v_nominal = 12, v_now = 13.3, v_absorption = 14.2, capacity_ah = 200 }}
climate = {{ temp_coldest = -15 }}

[[circuits]]
wiring = "{wiring}"
controller = {{ name = "100 V 30 A", v_pv_max = 100, i_charge_max = 30 }}
cable = {{ length_m = 5, section_mm2 = 6 }}
""",
        "van.toml",
    )


@dataclass(frozen=True)
class Year:
    """One van-year and what is true of it."""

    history: History
    stays: list[tuple[str, float, float]]
    rig: Rig
    place: str
    wiring: str
    fault: str
    first: int | None
    full: float
    step_rows: pd.DataFrame = field(repr=False, compare=False)


@lru_cache(maxsize=64)
def tables(rig: Rig, what: str, size: float) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Watts into the battery, working volts and open volts over light and heat."""
    circuit = rig.circuits[0]
    shade: tuple[Shade, ...] = ()
    if what == "group":
        shade = (Shade(panel=1, substring=1, lit=0.0),)
    elif what == "panel" and len(circuit.wiring.strings) > 1:
        circuit = replace(circuit, wiring=Wiring(strings=circuit.wiring.strings[:-1]))
    elif what == "panel":
        shade = (Shade(panel=circuit.wiring.panels[-1], lit=0.0),)
    elif what == "limit":
        circuit = replace(circuit, controller=replace(circuit.controller, i_charge_max=size))
    elif what == "shadow":
        shade = (Shade(panel=1, lit=size),)
    elif what == "leak":
        rig = rig.with_panels(only=(1,), r_leak=size)
    return _table(rig, circuit, shade)


def _table(rig: Rig, circuit: Circuit, shade: tuple[Shade, ...]) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    light, heat = np.meshgrid(np.maximum(LIGHT, 0.5), HEAT, indexing="ij")
    model = RigModel(rig, even_light(rig.panels, light.ravel(), heat.ravel(), shade))
    keen = replace(circuit.controller, v_start_margin=margins(circuit.controller)[1])
    now = model.operation(replace(circuit, controller=keen), 13.5, awake=True)
    each = [one.reshape(light.shape).copy() for one in (now.p_battery, now.v_array, now.v_oc)]
    for one in each:
        one[0] = 0.0
    return each[0], each[1], each[2]


def look(table: np.ndarray, light: np.ndarray, heat: np.ndarray) -> np.ndarray:
    """Straight lines between the points."""
    i = np.clip(np.searchsorted(LIGHT, light) - 1, 0, len(LIGHT) - 2)
    a = np.clip((light - LIGHT[i]) / (LIGHT[i + 1] - LIGHT[i]), 0.0, 1.0)
    at = np.clip((heat - HEAT[0]) / (HEAT[1] - HEAT[0]), 0.0, len(HEAT) - 1.001)
    j, b = at.astype(int), at % 1.0
    low = table[i, j] * (1 - b) + table[i, j + 1] * b
    high = table[i + 1, j] * (1 - b) + table[i + 1, j + 1] * b
    return low * (1 - a) + high * a


@lru_cache(maxsize=4)
def _weather(place: str) -> tuple[np.ndarray, ...]:
    """Light, clear light, air and hour by the sun of a typical year in quarter hours, each (day, quarter)."""
    year = find_day(place, "all")
    assert year.position is not None
    ghi, air = (year.table[name].to_numpy(float) for name in ("ghi", "temp_air"))
    index = year.table.index
    hourly = clear_sky(index + pd.Timedelta(hours=0.5), year.position, year.altitude_m)["ghi"].to_numpy()
    fine = index[0] + pd.to_timedelta((np.arange(365 * 96) + 0.5) / 4.0, unit="h")
    clear = clear_sky(pd.DatetimeIndex(fine), year.position, year.altitude_m)["ghi"].to_numpy()
    share = np.where(hourly > 20.0, np.clip(ghi / np.maximum(hourly, 1.0), 0.02, 1.2), np.nan)
    known = np.flatnonzero(np.isfinite(share))
    at = (np.arange(365 * 96) + 0.5) / 4.0 - 0.5
    share = np.interp(at, known, share[known])
    air = np.interp(at, np.arange(8760), air)
    zone = index[0].utcoffset().total_seconds() / 3600 if index.tz is not None else 0.0
    solar = ((np.arange(365 * 96) + 0.5) / 4.0 + year.position[1] / 15.0 - zone) % 24.0
    return tuple(one.reshape(365, 96) for one in (share, clear, air, solar))


def van_year(
    seed: int, fault: str = "", wiring: str = "", place: str = "", *, days: int = 365, rig: Rig | None = None,
    plain: bool = False, loss: Loss = NO_LOSS,
) -> Year:  # fmt: skip
    """A van-year: the same for the same seed.

    A plain one has no clouds with edges and no snow, loses a group in series alone, and its current limit is half of
    the label's amps. A loss takes a share of the light of all panels from a day on.
    """
    rng = np.random.default_rng([seed, 19])
    place = place or list(PLACES)[int(rng.integers(3))]
    wiring = wiring or (SERIES, PARALLEL)[int(rng.integers(2))]
    wiring = SERIES if plain and fault == "group" else wiring
    rig = van(wiring) if rig is None else rig
    share, clear, air, solar = (each.copy() for each in _weather(place))
    order = _shuffled(rng)
    share, air = share[order], air[order]
    first = int(rng.integers(90, 276)) if fault else None
    moves, park, latitudes = _stays(rng, place)
    share = share if plain else _edged(share, rng)
    light = clear * share * _parked(park, solar, share)
    light *= 1.0 if plain else _snow(air, rng)[:, None]
    light[loss[1] :] *= 1.0 - loss[0]
    gain = 1.0 + rng.normal(0.0, 0.04)
    heat = air + 38.0 * light / 1000.0
    half, most = 0.5 * rig.circuits[0].controller.i_charge_max, float(tables(rig, "", 0.0)[0].max()) / 13.5
    limit = half if plain else 0.4 * most
    p, v_work, v_oc = _array(rig, fault, first, light, heat, share, solar, rng, limit)
    p *= gain
    warm = air.mean(axis=1) + rng.uniform(2.0, 10.0)
    locked = warm < 0.0
    p_load = _loads(rng, float(np.median((p * STEP_H).sum(axis=1))))
    rows = _walked(p, v_work, v_oc, p_load, locked, float(rng.uniform(1200, 3200)), bool(rng.random() < 0.5))
    history = _history(rows, float(rng.normal(1.0, 0.01)))
    stays = [
        (str(START + np.timedelta64(int(day), "D")), float(lat), PLACES[place][1])
        for day, lat in zip(moves, latitudes, strict=True)
    ]
    full = float((np.nan_to_num(history.held_min) >= 20.0).mean())
    return Year(history.only(slice(0, days)), stays, rig, place, wiring, fault, first, full, rows)


START = np.datetime64("2025-01-01")


def _shuffled(rng: np.random.Generator) -> np.ndarray:
    """Days of a year in blocks, each moved by up to three weeks."""
    order, day = [], 0
    while day < 365:
        length = int(rng.integers(5, 13))
        shift = int(rng.integers(-21, 22))
        order += [(day + k + shift) % 365 for k in range(length)]
        day += length
    return np.array(order[:365])


def _stays(rng: np.random.Generator, place: str) -> tuple[list[int], np.ndarray, list[float]]:
    """Days of the moves, what the place takes on each day, and latitudes."""
    moves, park, latitudes, day = [], np.zeros(365, int), [], 0
    while day < 365:
        length = int(rng.integers(7, 22))
        draw = rng.random()
        park[day : day + length] = 1 if draw < 0.08 else 2 if draw < 0.13 else 3 if draw < 0.18 else 0
        moves.append(day)
        latitudes.append(PLACES[place][0] + rng.uniform(-1.0, 1.0))
        day += length
    return moves, park, latitudes


def _parked(park: np.ndarray, solar: np.ndarray, share: np.ndarray) -> np.ndarray:
    """What the place lets through: woods, mornings or evenings without the sun."""
    lets = np.ones(solar.shape)
    lets[park == 1] = 0.45
    beam = np.clip((share - 0.3) / 0.7, 0.0, 1.0)
    for kind, hidden in ((2, solar < 9.5), (3, solar > 14.5)):
        rows = park == kind
        lets[rows] = np.where(hidden[rows], 1.0 - 0.85 * beam[rows], 1.0)
    return lets


def _edged(share: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Quarter hours that waver where clouds come and go."""
    mixed = np.clip(4.0 * (share - 0.15) * (1.0 - share), 0.0, 1.0)
    return np.clip(share * (1.0 + 0.35 * mixed * rng.normal(size=share.shape)), 0.02, 1.25)


def _snow(air: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """What snow on the glass lets through each day."""
    lets = np.ones(365)
    for day in np.flatnonzero((air.mean(axis=1) < 0.5) & (rng.random(365) < 0.06)):
        lets[day : day + int(rng.integers(1, 4))] = rng.uniform(0.05, 0.5)
    return lets


def _array(
    rig: Rig, fault: str, first: int | None, light: np.ndarray, heat: np.ndarray, share: np.ndarray,
    solar: np.ndarray, rng: np.random.Generator, limit: float,
) -> list[np.ndarray]:  # fmt: skip
    """Watts and volts of the year, sound up to the fault's first day."""
    sound = [look(each, light, heat) for each in tables(rig, "", 0.0)]
    if first is None:
        return sound
    bad = [one.copy() for one in sound]
    late = slice(first, None)
    if fault == "dirt":
        rate, dirty = rng.uniform(0.001, 0.003), 0.0
        for day in range(first, 365):
            dirty = 0.3 * dirty if rng.random() < 0.012 else min(dirty + rate, 0.4)
            for k, each in enumerate(tables(rig, "", 0.0)):
                bad[k][day] = look(each, light[day] * (1 - dirty), heat[day])
        return bad
    if fault == "shadow":
        spread = np.interp(share, (0.0, 0.35, 0.6, 0.85, 1.0, 1.3), (0.98, 0.95, 0.7, 0.35, 0.15, 0.12))
        levels = np.array([0.1, 0.2, 0.35, 0.5, 0.7, 1.0])
        inside = (solar >= 10.0) & (solar < 12.0)
        near = np.abs(levels[:, None, None] - spread[late][None]).argmin(axis=0)
        for k in range(3):
            each = np.stack([look(tables(rig, "shadow", level)[k], light[late], heat[late]) for level in levels])
            bad[k][late] = np.where(inside[late], np.take_along_axis(each, near[None], 0)[0], sound[k][late])
        return bad
    size = {"limit": limit, "leak": 30.0}.get(fault, 0.0)
    for k, each in enumerate(tables(rig, fault, size)):
        bad[k][late] = look(each, light[late], heat[late])
    return bad


def _loads(rng: np.random.Generator, usual_wh: float) -> np.ndarray:
    """Watts drawn in each quarter hour: a base with evenings, that changes by stays and days."""
    mean = usual_wh / 24.0 * rng.uniform(0.25, 1.3)
    by_hour = np.where((np.arange(96) > 72) & (np.arange(96) < 92), 2.2, 0.8)
    by_day = np.repeat(rng.lognormal(0.0, 0.25, 60), 7)[:365] * rng.lognormal(0.0, 0.15, 365)
    return mean * by_day[:, None] * by_hour[None, :]


def _walked(
    p: np.ndarray, v_work: np.ndarray, v_oc: np.ndarray, p_load: np.ndarray, locked: np.ndarray, full_wh: float,
    open_shown: bool,
) -> pd.DataFrame:  # fmt: skip
    """The battery, quarter hour by quarter hour; stage 0 bulk, 1 absorption, 2 float, -1 asleep, -2 locked out."""
    charge, stage, since = 0.7 * full_wh, 0, 0.0
    used, stages, volts = np.zeros(p.size), np.full(p.size, -1), np.zeros(p.size)
    flat_p, flat_load = p.ravel(), p_load.ravel()
    work, open_volts = v_work.ravel(), v_oc.ravel()
    battery = np.zeros(p.size)
    for m in range(p.size):
        offered, load = flat_p[m], flat_load[m]
        if locked[m // 96]:
            taken = min(offered, load)
            charge = max(charge - (load - taken) * STEP_H, 0.0)
            used[m], volts[m], stages[m] = taken, open_volts[m], -2 if offered > 1.0 else -1
            battery[m], stage, since = 13.0, 0, 0.0
            continue
        if offered < 1.0:
            charge = max(charge - load * STEP_H, 0.0)
            stage, since = 0, 0.0
            battery[m] = 12.6 + 0.7 * charge / full_wh
            volts[m] = open_volts[m]
            continue
        if stage == 0:
            taken = offered
            if charge > 0.97 * full_wh:
                stage = 1
        if stage == 1:
            since += STEP_H
            taken = min(offered, load + 2.0 * (full_wh - charge) + 0.01 * full_wh)
            if charge > 0.995 * full_wh or since > 2.0:
                stage = 2
        if stage == 2:
            taken = min(offered, load)
        charge = min(max(charge + (0.97 if taken > load else 1.0) * (taken - load) * STEP_H, 0.0), full_wh)
        used[m], stages[m] = taken, stage
        battery[m] = (12.9 + 0.7 * charge / full_wh, 14.2, 13.5)[stage]
        volts[m] = work[m] + (open_volts[m] - work[m]) * np.sqrt(max(1.0 - taken / max(offered, 1e-9), 0.0))
        if open_shown and m % 8 == 0:
            volts[m] = open_volts[m]
    time = START + (np.arange(p.size) * 15).astype("timedelta64[m]")
    return pd.DataFrame({"time": time, "power": used, "v_array": volts, "v_battery": battery, "stage": stages})


def _history(rows: pd.DataFrame, meter: float) -> History:
    """What a controller remembers of each day."""
    day = rows["time"].dt.date
    stage = rows["stage"]
    minutes = {
        name: 15.0 * (stage == code).groupby(day).sum().to_numpy()
        for name, code in (("bulk_min", 0), ("absorption_min", 1), ("float_min", 2))
    }
    grouped = rows.groupby(day)
    values = {
        "energy_wh": np.round(meter * grouped["power"].sum().to_numpy() * STEP_H / 10.0) * 10.0,
        "p_high": np.round(meter * grouped["power"].max().to_numpy()),
        "v_high": np.round(grouped["v_array"].max().to_numpy(), 2),
        "v_battery_low": grouped["v_battery"].min().to_numpy(),
        "v_battery_high": grouped["v_battery"].max().to_numpy(),
        **minutes,
    }
    dates = START + np.arange(len(minutes["bulk_min"])).astype("timedelta64[D]")
    return History("simulated", dates, **{name: values[name] for name in FIELDS})


def written(history: History) -> pd.DataFrame:
    """A history as a file has it."""
    return pd.DataFrame({"date": history.dates} | {name: getattr(history, name) for name in FIELDS})


STAGE_WORDS = {0: "bulk", 1: "absorption", 2: "float", -1: "off", -2: "off"}


def log_of(year: Year) -> pd.DataFrame:
    """The quarter hours of a van-year with any watts, as a logger writes them."""
    rows = year.step_rows[year.step_rows["power"] > 0.5]
    return pd.DataFrame({
        "time": rows["time"], "PV power (W)": rows["power"].round(1), "PV volts": rows["v_array"].round(2),
        "battery V": rows["v_battery"].round(2), "stage": rows["stage"].map(STAGE_WORDS),
    })  # fmt: skip


def _examples() -> None:
    """Write the example of a van-year into data/logs."""
    year = van_year(7, "panel", place="greensboro", rig=example("bookmobile"), days=300)
    shown = written(year.history)
    names = {"energy_wh": "Wh", "p_high": "highest W", "v_high": "highest panel V", "v_battery_low": "lowest battery V",
             "v_battery_high": "highest battery V", "bulk_min": "bulk min", "absorption_min": "absorption min",
             "float_min": "float min"}  # fmt: skip
    shown.rename(columns=names).to_csv(data_folder() / "logs" / "lending-round.csv", index=False, float_format="%.2f")
    stays = pd.DataFrame([(day, round(north, 1), east) for day, north, east in year.stays],
                         columns=["from", "latitude", "longitude"])  # fmt: skip
    stays.to_csv(data_folder() / "logs" / "lending-round-stays.csv", index=False)


if __name__ == "__main__":
    _examples()
