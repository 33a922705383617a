"""Van-years of another make, which share no formula with the kit: panels, sky and battery of their own.

Panels follow a power law with a logarithm in dull light (Evans 1981 for heat), the sky is a chain of kinds of day with
noise on top over the clear sky of Haurwitz (1945), the battery needs so many watt-hours a day, drawn by lot, and tapers
off as lead-acid or lithium does. Rigs: one large panel, two in series at 24 V, four as 2s2p, three tilted in parallel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from vanpower.files.rig_tables import rig_of
from vanpower.rig import Rig
from vanpower.watching.histories import FIELDS, History

STEPS = 144
# of ten minutes
RIGS = {
    "one": ('{ count = 1, name = "a", v_oc = 40.8, i_sc = 13.6, v_mp = 34.0, i_mp = 12.8, cells_in_series = 60, '
            "substrings = 3 }", '"1s"', 12, 75, 35),
    "two": ('{ count = 2, name = "b", v_oc = 22.6, i_sc = 10.0, v_mp = 18.9, i_mp = 9.3, cells_in_series = 36, '
            "substrings = 2 }", '"2s"', 24, 100, 20),
    "four": ('{ count = 4, name = "c", v_oc = 21.8, i_sc = 7.9, v_mp = 18.1, i_mp = 7.4, cells_in_series = 36, '
             "substrings = 2 }", '"2s2p"', 12, 100, 45),
    "tilted": ('{ count = 3, name = "d", v_oc = 22.0, i_sc = 6.3, v_mp = 18.2, i_mp = 5.9, cells_in_series = 36, '
               "substrings = 2, tilt_deg = 25 }", '"3p"', 12, 60, 30),
}  # fmt: skip
# panels, wiring, battery volts, ceiling and charge amps
KINDS = ("panel", "group", "half")
# a string or panel gone, one group bypassed, half of the watts gone from one day on


@dataclass(frozen=True)
class OtherYear:
    """One van-year of the other make."""

    history: History
    stays: list[tuple[str, float, float]] | None
    rig: Rig
    name: str
    fault: str
    first: int | None


def other_rig(name: str, chemistry: str) -> Rig:
    """One of the rigs."""
    panels, wiring, volts, ceiling, amps = RIGS[name]
    return rig_of(
        f"""name = "Other {name}"
source = "invented"
panels = [{panels}]
battery = {{ name = "house", chemistry = "{chemistry}", v_nominal = {volts}, v_now = {1.08 * volts:.1f},
  v_absorption = {1.2 * volts:.1f}, capacity_ah = 150 }}
climate = {{ temp_coldest = -12 }}

[[circuits]]
wiring = {wiring}
controller = {{ name = "box", v_pv_max = {ceiling}, i_charge_max = {amps} }}
""".replace(",\n  v_abs", ", v_abs"),
        "van.toml",
    )


def other_year(
    seed: int, fault: str = "", *, days: int = 300, told: bool = True, loss: tuple[float, int] = (0.0, 0)
) -> OtherYear:
    """A van-year of the other make: the same for the same seed. A loss takes a share of the watts from a day on."""
    rng = np.random.default_rng([seed, 77])
    name = list(RIGS)[int(rng.integers(4))]
    chemistry = ("lithium iron phosphate", "AGM")[int(rng.integers(2))]
    rig = other_rig(name, chemistry)
    latitude = float(rng.uniform(38.0, 58.0))
    start = int(rng.integers(0, 365))
    first = int(rng.integers(60, days - 70)) if fault else None
    numbers = (start + np.arange(days)) % 365 + 1
    clear = _haurwitz(latitude, numbers)
    share = _sky(days, rng)
    moves, park = _places(days, rng)
    air = _weather_air(latitude, numbers, rng)
    light = clear * share * park[:, None] * _tilt(rig.panels[0].tilt_deg, latitude, numbers, share, rng, moves)
    p, v_mp, v_oc = _panels(rig, light, air, rng)
    p[loss[1] :] *= 1.0 - loss[0]
    if first is not None:
        watts, volts = _taken(rig, fault)
        late = np.arange(days) >= first
        p = np.where(late[:, None], p * watts, p)
        v_mp, v_oc = (np.where(late[:, None], v * volts, v) for v in (v_mp, v_oc))
    history = _remembered(rig, p, v_mp, v_oc, chemistry, rng)
    history = _lacking(history, rng)
    dates = np.datetime64("2025-01-01") + start
    stays = [(str(dates + int(day)), latitude + float(rng.uniform(-0.7, 0.7)), 8.0) for day in moves] if told else None
    shifted = History(history.name, dates + (history.dates - history.dates[0]).astype(int),
                      **{field: getattr(history, field) for field in FIELDS})  # fmt: skip
    kept = (shifted.dates - dates).astype(int)
    day = None if first is None else int(np.searchsorted(kept, first))
    return OtherYear(shifted, stays, rig, name, fault, day)


def _haurwitz(latitude: float, numbers: np.ndarray) -> np.ndarray:
    """Clear light on the flat (day, step) by Haurwitz (1945)."""
    hour = (np.arange(STEPS) + 0.5) / 6.0
    tilt = np.radians(23.45) * np.sin(2 * np.pi * (284 + numbers) / 365)
    at = np.radians(latitude)
    up = np.sin(at) * np.sin(tilt)[:, None] + np.cos(at) * np.cos(tilt)[:, None] * np.cos(np.radians(15 * (hour - 12)))
    up = np.maximum(up, 1e-3)
    return np.where(up > 0.02, 1098.0 * up * np.exp(-0.057 / up), 0.0)


def _sky(days: int, rng: np.random.Generator) -> np.ndarray:
    """Shares of the clear light: kinds of day that stay for some days, and clouds that come and go."""
    middle, spread = (0.97, 0.72, 0.42, 0.18), (0.03, 0.12, 0.13, 0.07)
    waver = (0.01, 0.30, 0.35, 0.12)
    share, kind = np.empty((days, STEPS)), 0
    for day in range(days):
        if rng.random() < 0.45:
            kind = int(rng.choice(4, p=(0.3, 0.28, 0.24, 0.18)))
        level = np.clip(middle[kind] + spread[kind] * rng.normal(), 0.05, 1.0)
        noise = np.convolve(rng.normal(size=STEPS + 4), np.ones(5) / np.sqrt(5.0), "valid")
        share[day] = np.clip(level * (1.0 + waver[kind] * noise), 0.03, 1.25)
    return share


def _places(days: int, rng: np.random.Generator) -> tuple[list[int], np.ndarray]:
    """Days of the moves, and what each place lets through."""
    moves, park, day = [], np.ones(days), 0
    while day < days:
        moves.append(day)
        length = int(rng.integers(4, 26))
        park[day : day + length] = rng.choice((1.0, 0.92, 0.75, 0.4), p=(0.7, 0.15, 0.09, 0.06))
        day += length
    return moves, park


def _weather_air(latitude: float, numbers: np.ndarray, rng: np.random.Generator) -> np.ndarray:
    """Air of each day, colder or warmer than usual by some kelvin. [°C]"""
    usual = 27.0 - 0.45 * (latitude - 20.0) - 10.0 * np.cos(2 * np.pi * (numbers - 20) / 365)
    drift = np.convolve(rng.normal(size=len(numbers) + 6), np.ones(7) / np.sqrt(7.0), "valid")
    return usual + 3.5 * drift


def _tilt(
    tilt: float, latitude: float, numbers: np.ndarray, share: np.ndarray, rng: np.random.Generator, moves: list[int]
) -> np.ndarray:
    """What a tilted plane gets for the light on the flat, facing another way after each move, (day, step).

    The sky alone gives what Orgill and Hollands (1977) have for so much of the light outside the air, from memory, and
    is even. A clear sky lets three quarters through.
    """
    if tilt == 0:
        return np.ones((len(numbers), 1))
    facing = np.zeros(len(numbers))
    for first in moves:
        facing[first:] = rng.uniform(0.0, 2 * np.pi)
    at, slope, hours = np.radians(latitude), np.radians(tilt), np.radians(15 * (np.arange(STEPS) + 0.5) / 6.0 - 180.0)
    down = np.radians(23.45) * np.sin(2 * np.pi * (284 + numbers) / 365)[:, None]
    south = np.cos(down) * np.cos(hours) * np.sin(at) - np.sin(down) * np.cos(at)
    west, up = np.cos(down) * np.sin(hours), np.cos(down) * np.cos(hours) * np.cos(at) + np.sin(down) * np.sin(at)
    # the plane leans towards where it faces, from the south over the west
    across = south * np.cos(facing)[:, None] + west * np.sin(facing)[:, None]
    met = np.maximum(up * np.cos(slope) + across * np.sin(slope), 0.0) / np.maximum(up, 0.05)
    through = 0.75 * share
    scattered = np.interp(through, (0.0, 0.35, 0.75, 1.0), (1.0, 0.913, 0.177, 0.177))
    return (1.0 - scattered) * np.minimum(met, 4.0) + scattered * 0.5 * (1.0 + np.cos(slope))


def _panels(
    rig: Rig, light: np.ndarray, air: np.ndarray, rng: np.random.Generator
) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """Watts, best-power volts and open-circuit volts."""
    panel, strings = rig.panels[0], rig.circuits[0].wiring.strings
    heat = air[:, None] + 0.034 * light
    sun = np.maximum(light, 1.0) / 1000.0
    p = panel.p_mp * len(rig.panels) * sun * (1 - 0.0040 * (heat - 25)) * (1 + 0.04 * np.log10(sun)) * 0.95
    p *= 1.0 + float(rng.normal(0.0, 0.03))
    in_series = len(strings[0])
    warm = 1 - 0.0031 * (heat - 25)
    v_oc = panel.v_oc * in_series * warm * (1 + 0.055 * np.log(sun) / np.log(10.0))
    v_mp = panel.v_mp * in_series * (1 - 0.0039 * (heat - 25)) * (1 + 0.03 * np.log10(sun))
    most = rig.circuits[0].controller.i_charge_max * 1.08 * rig.battery.v_nominal
    return np.where(light > 4, np.minimum(p, most), 0.0), np.where(light > 4, v_mp, 0.0), np.where(light > 4, v_oc, 0.0)


def _taken(rig: Rig, fault: str) -> tuple[float, float]:
    """What is left of watts and volts; by counting panels and groups."""
    strings, panel = rig.circuits[0].wiring.strings, rig.panels[0]
    if fault == "half":
        return 0.5, 1.0
    if fault == "panel":
        return (1 - 1 / len(strings), 1.0) if len(strings) > 1 else (1 - 1 / max(len(strings[0]), 2),) * 2
    groups = len(strings[0]) * panel.substrings
    if len(strings) == 1:
        return 1 - 1 / groups, 1 - 1 / groups
    return (1 - 1 / len(strings), 1.0) if len(strings[0]) == 1 else (1 - 0.8 / groups / len(strings) * 2, 0.99)


def _remembered(
    rig: Rig, p: np.ndarray, v_mp: np.ndarray, v_oc: np.ndarray, chemistry: str, rng: np.random.Generator
) -> History:
    """What the controller remembers, of a battery that needs so much each day."""
    days, hours = len(p), 1.0 / 6.0
    usual = float(np.median((p * hours).sum(axis=1)))
    need = usual * rng.uniform(0.25, 1.3) * rng.lognormal(0.0, 0.2, days)
    p_load = need[:, None] / 24.0 * np.ones((1, STEPS))
    lead = chemistry == "AGM"
    filled = np.cumsum(np.maximum(p - p_load, 0.0), axis=1) * hours
    in_bulk = filled < 0.62 * need[:, None]
    awake = p > 2.0
    end = np.where((~in_bulk & awake).any(axis=1), (~in_bulk & awake).argmax(axis=1), STEPS)
    since = np.maximum(np.arange(STEPS)[None, :] - end[:, None], 0) * hours
    absorbs = np.arange(STEPS)[None, :] >= end[:, None]
    lasts = 4.0 if lead else 0.7
    taper = np.exp(-since / (1.6 if lead else 0.3))
    used = np.where(absorbs, np.minimum(p, p_load + taper * p.max(axis=1, keepdims=True) * (0.6 if lead else 0.8)), p)
    floats = absorbs & (since > lasts)
    used = np.where(floats, np.minimum(p, p_load * (1.15 if lead else 1.0)), used)
    shown = np.where(used < 0.98 * p, v_oc - (v_oc - v_mp) * used / np.maximum(p, 1.0), v_mp)
    if rng.random() < 0.5:
        shown = np.where(np.arange(STEPS)[None, :] % 12 == 0, v_oc, shown)
    minutes = {"bulk_min": awake & ~absorbs, "absorption_min": awake & absorbs & ~floats, "float_min": awake & floats}
    full = absorbs.any(axis=1)
    volts = rig.battery.v_nominal
    values = {
        "energy_wh": np.round((used * hours).sum(axis=1), -1), "p_high": np.round(used.max(axis=1)),
        "v_high": np.round(shown.max(axis=1), 1), "v_battery_low": np.full(days, 1.04 * volts),
        "v_battery_high": np.where(full, 1.2 * volts, 1.12 * volts),
        **{name: 10.0 * rows.sum(axis=1) for name, rows in minutes.items()},
    }  # fmt: skip
    return History("other", np.datetime64("2025-01-01") + np.arange(days), **values)


def _lacking(history: History, rng: np.random.Generator) -> History:
    """Some days missing; in a third of histories the minutes by stage as well, in another third the volts."""
    kept = rng.random(len(history)) > 0.06
    kept[0] = True
    some = history.only(kept)
    draw = rng.random()
    gone = ("bulk_min", "absorption_min", "float_min") if draw < 0.3 else ("v_high",) if draw < 0.5 else ()
    return History(some.name, some.dates, **{name: np.full(len(some), np.nan) if name in gone else getattr(some, name)
                                             for name in FIELDS})  # fmt: skip
