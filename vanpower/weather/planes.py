"""Irradiance on a panel's plane and the temperature of its cells."""

from __future__ import annotations

import numpy as np

from vanpower.rig import Panel
from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import sun_at

MOUNTS = {
    "open": "open_rack_glass_polymer",
    "gap": "close_mount_glass_glass",
    "glued": "insulated_back_glass_polymer",
}
# mounting models of King et al., SAND2004-3535, Table 1, by pvlib's names: cells 29, 49 and 58 K over the air at
# 1000 W/m² and 1 m/s. The sets are King's; that a panel on brackets over a van roof is his close mount on a roof, and
# one glued flat his insulated back, is remembered and measured by nobody here. Rules of thumb for vans (from memory)
# run lower when hot: 30 to 35 K open, 45 to 50 K glued.
ALBEDO = 0.25
# share of the light that the ground gives back; pvlib's default, common practice
FOLLOWS_MIN, GLASS_KG_M2 = 20.0, 11.1
PER_S = (0.0046, 0.00046, -0.00023, -1.6e-5)
# [min] how far back a panel's temperature is looked for, [kg/m²] what a glass panel weighs, and [1/s] how fast it
# forgets: a constant, then for each m/s of wind, each kg/m², and each of both together; Prilliman et al. 2020, Table II
ESTIMATED_PCT = ((30.0, (-12.0, 14.0)), (90.0, (-17.0, 26.0)))
# [degrees] up to which tilt, and [%] by which a day's light on such a plane erred, lowest and highest, where its parts
# were estimated from the total: Graz, seven days of 2017, planes of 10 to 90 degrees to east, south and west
SOUTH = 180.0
# [°] which a panel faces whose file does not say otherwise
AWAY = "a tilted panel faces south here, away from the noon sun: south of the equator north (0) faces it"
TURNED = "panels are turned by hand twice, before the morning and at solar noon, on every day"
# said of panels that follow the sun so
LOWEST = 3.0
# [degrees] sun below which the part around it is not turned onto a plane: there its share of the flat's light is all
# error; no source


def plane_light(day: WeatherSeries, panel: Panel, heading_deg: float = 0.0) -> np.ndarray:
    """Light on a panel's plane, shape (moment,). [W/m²]

    Parameters
    ----------
    heading_deg : float
        Where the van's nose points; the panel's azimuth is that with the nose to the north.

    Notes
    -----
    A flat panel takes the measured horizontal light as it is. Others: Hay and Davies (1980) by pvlib, with the sun
    taken in the middle of each step; ground reflection 0.25. Where only the total was measured, its parts are estimated
    after Erbs, Klein and Duffie (1982). Held against a measured plane of 30 degrees to the south at Graz, minute by
    minute: bias -2.6 to 1.3 % of the day on six of seven days, error (RMSE) 3 to 7 % on five and 15 % in a broken
    October; on a January day with rime or snow, whose sensors disagree among themselves, 27 % too much.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import Parked, example
    >>> from vanpower.weather.parked import parked_day
    >>> noon = parked_day(Parked(latitude_deg=47, day="12-21", hour=12.0))
    >>> flat = example("bookmobile").panels[0]
    >>> [round(float(plane_light(noon, replace(flat, tilt_deg=tilt))[0]), -1) for tilt in (0, 30, 60)]
    [290.0, 620.0, 800.0]
    """
    if panel.tilt_deg == 0:
        return day.table["ghi"].to_numpy(float)
    if day.position is None:
        raise ValueError(
            f"{panel.name} is tilted by {panel.tilt_deg:g} degrees, and {day.place} has no place to find the sun by; "
            "lay it flat (tilt_deg = 0), use a typical year, or name the place: '# latitude_deg: 47.05' and so on."
        )
    return _tilted(day, panel, heading_deg)


def south_of_equator(day: WeatherSeries) -> bool:
    """Whether the sun stands in the north at noon; not where nobody knows the place.

    Examples
    --------
    >>> from vanpower import MadeSky, Place
    >>> from vanpower.weather.days import find_day
    >>> sky = MadeSky(kind="clear", place=Place(latitude_deg=-41.0, longitude_deg=175.0))
    >>> south_of_equator(find_day(sky, "06-21"))
    True
    """
    return day.position is not None and day.position[0] < 0.0


def plane_notes(day: WeatherSeries, panels: tuple[Panel, ...]) -> tuple[str, ...]:
    """What light on tilted panels rests on beyond what was measured.

    Notes
    -----
    How far off: against the measured split of seven days at Graz, planes to the east, south and west. The ends are
    those of a January day with rime; the six others keep within -11 and +3 % at any tilt.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import MadeSky, example
    >>> from vanpower.weather.days import find_day
    >>> day = find_day(MadeSky(kind="half-sine"), "only")
    >>> flat = example("bookmobile").panels[0]
    >>> plane_notes(day, (flat,)), plane_notes(day, (replace(flat, tilt_deg=30),))
    ((), ('light from sun and sky estimated from the total (Erbs 1982), on measured days -12 to +14 % off a day',))
    """
    turned = (TURNED,) * any(panel.turn_deg for panel in panels) + (AWAY,) * any(
        panel.tilt_deg and panel.azimuth_deg == SOUTH for panel in panels if south_of_equator(day)
    )
    steepest = max((panel.tilt_deg for panel in panels), default=0.0)
    if steepest == 0 or _split(day):
        return turned
    low, high = next(span for tilt, span in ESTIMATED_PCT if steepest <= tilt)
    off = f"on measured days {low:+.0f} to {high:+.0f} % off a day"
    return (f"light from sun and sky estimated from the total (Erbs 1982), {off}", *turned)


def cell_temperature(day: WeatherSeries, panel: Panel, light: np.ndarray) -> np.ndarray:
    """Cell temperature by the mounting model of King et al., shape (moment,). [°C]

    Notes
    -----
    Cells are taken to follow the light at once. Slowed down as `lagged` has it, two panels in series deliver 1.1 % more
    on the broken day measured at Graz (1 July 2017), whose bursts of light then meet cooler cells, and 0.1 % more or
    less on two grey ones.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import Parked, example
    >>> from vanpower.weather.parked import parked_day
    >>> noon = parked_day(Parked(latitude_deg=47, day="06-21", hour=12.0, temp_air=15.0))
    >>> panels = [replace(example("bookmobile").panels[0], mount=mount) for mount in MOUNTS]
    >>> [round(float(cell_temperature(noon, panel, np.array([1000.0]))[0])) for panel in panels]
    [44, 64, 73]
    """
    from pvlib.temperature import TEMPERATURE_MODEL_PARAMETERS, sapm_cell

    model = TEMPERATURE_MODEL_PARAMETERS["sapm"][MOUNTS[panel.mount]]
    table = day.table
    return np.asarray(sapm_cell(light, table["temp_air"].to_numpy(float), table["wind_speed"].to_numpy(float), **model))


def lagged(day: WeatherSeries, temp_cell: np.ndarray) -> np.ndarray:
    """Cell temperature of a glass panel that takes its time to warm up, shape (moment,). [°C]

    Parameters
    ----------
    temp_cell : ndarray (moment,)
        As it would be if it followed the light at once. [°C]

    Notes
    -----
    Prilliman, Stein, Riley and Tamizhmani, IEEE Journal of Photovoltaics (2020), doi:10.1109/JPHOTOV.2020.2992351: a
    mean over the last 20 minutes of the same date, the nearer the heavier and the more so in wind, for 11.1 kg/m².
    In still air a step is followed to 63 % in 7 minutes. Rows of 20 minutes and more are means already and stay.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.weather.days import find_day
    >>> broken = find_day("graz", "07-01")
    >>> at_once = cell_temperature(broken, example("bookmobile").panels[0], broken.table["ghi"].to_numpy())
    >>> round(float(at_once.max())), round(float(lagged(broken, at_once).max()))
    (97, 86)
    """
    step_s = 3600 * day.step_h
    if step_s >= 60 * FOLLOWS_MIN:
        return temp_cell
    wind, date = day.table["wind_speed"].to_numpy(float), day.table.index.date
    rate = PER_S[0] + PER_S[1] * wind + GLASS_KG_M2 * (PER_S[2] + PER_S[3] * wind)
    weights, total = np.zeros(len(wind)), np.zeros(len(wind))
    for back in range(1, round(60 * FOLLOWS_MIN / step_s) + 1):
        weight = np.exp(-rate[back:] * back * step_s) * (date[back:] == date[:-back])
        weights[back:] += weight
        total[back:] += weight * temp_cell[:-back]
    return np.where(weights > 0, total / np.where(weights > 0, weights, 1.0), temp_cell)


def _facing(panel: Panel, heading_deg: float, azimuth: np.ndarray) -> np.ndarray | float:
    """Which way a panel faces; one turned by hand, to the east while the sun is there, and to the west after it.

    What is turned by hand stands beside the van, and faces its way however the nose points.
    """
    if not panel.turn_deg:
        return (panel.azimuth_deg + heading_deg) % 360.0
    facing = panel.azimuth_deg
    # seen from a panel that faces south the east lies on its left, from one that faces north on its right
    to_east = -panel.turn_deg if 90.0 < facing < 270.0 else panel.turn_deg
    return np.asarray((facing + np.where(azimuth < 180.0, to_east, -to_east)) % 360.0)


def _split(day: WeatherSeries) -> bool:
    """Whether direct and diffuse light were measured."""
    return {"dni", "dhi"} <= set(day.table.columns)


def _tilted(day: WeatherSeries, panel: Panel, heading_deg: float) -> np.ndarray:
    """Transposed light."""
    import pandas as pd
    from pvlib.irradiance import erbs, get_extra_radiation, get_total_irradiance

    assert day.position is not None
    times = day.table.index + pd.Timedelta(hours=day.step_h / 2)
    sun = sun_at(times, day.position, day.altitude_m)
    zenith, azimuth = (sun[name].to_numpy() for name in ("apparent_zenith", "azimuth"))
    number = times.day_of_year.to_numpy()
    extra = np.asarray(get_extra_radiation(number))
    ghi = day.table["ghi"].to_numpy(float)
    if _split(day):
        dni, dhi = (day.table[name].to_numpy(float) for name in ("dni", "dhi"))
    else:
        parts = erbs(ghi, sun["zenith"].to_numpy(), number)
        dni, dhi = (np.asarray(parts[name]) for name in ("dni", "dhi"))
    facing = _facing(panel, heading_deg, azimuth)
    # near the horizon nothing is known of where the light comes from: all of it counts as diffuse
    high = zenith < 90.0 - LOWEST
    dni, dhi = np.where(high, dni, 0.0), np.where(high, dhi, ghi)
    plane = get_total_irradiance(
        panel.tilt_deg, facing, zenith, azimuth, dni, ghi, dhi, dni_extra=extra,
        albedo=ALBEDO, model="haydavies",
    )  # fmt: skip
    return np.nan_to_num(np.asarray(plane["poa_global"]))
