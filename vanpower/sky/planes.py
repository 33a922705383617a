"""Light on a panel's plane and the heat of its cells."""

from __future__ import annotations

import numpy as np

from vanpower.rig import Panel
from vanpower.sky.sun import sun_at
from vanpower.sky.weather import Day

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
LOWEST = 3.0
# [degrees] sun below which the part around it is not turned onto a plane: there its share of the flat's light is all
# error; no source


def plane_light(day: Day, panel: Panel, heading_deg: float = 0.0) -> np.ndarray:
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
    >>> from vanpower import Parked, load_rig
    >>> from vanpower.sky import parked_day
    >>> noon = parked_day(Parked(latitude_deg=47, day="12-21", hour=12.0))
    >>> flat = load_rig("bookmobile").panels[0]
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


def plane_notes(day: Day, panels: tuple[Panel, ...]) -> tuple[str, ...]:
    """What light on tilted panels rests on beyond what was measured.

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import MadeSky, find_day, load_rig
    >>> day = find_day(MadeSky(kind="half-sine"), "only")
    >>> flat = load_rig("bookmobile").panels[0]
    >>> plane_notes(day, (flat,)), plane_notes(day, (replace(flat, tilt_deg=30),))
    ((), ('light from sun and sky estimated from the total (Erbs 1982)',))
    """
    tilted = any(panel.tilt_deg > 0 for panel in panels)
    return ("light from sun and sky estimated from the total (Erbs 1982)",) if tilted and not _split(day) else ()


def cell_temperature(day: Day, panel: Panel, light: np.ndarray) -> np.ndarray:
    """Cell temperature by the mounting model of King et al., shape (moment,). [°C]

    Examples
    --------
    >>> from dataclasses import replace
    >>> from vanpower import Parked, load_rig
    >>> from vanpower.sky import parked_day
    >>> noon = parked_day(Parked(latitude_deg=47, day="06-21", hour=12.0, temp_air=15.0))
    >>> panels = [replace(load_rig("bookmobile").panels[0], mount=mount) for mount in MOUNTS]
    >>> [round(float(cell_temperature(noon, panel, np.array([1000.0]))[0])) for panel in panels]
    [44, 64, 73]
    """
    from pvlib.temperature import TEMPERATURE_MODEL_PARAMETERS, sapm_cell

    model = TEMPERATURE_MODEL_PARAMETERS["sapm"][MOUNTS[panel.mount]]
    table = day.table
    return np.asarray(sapm_cell(light, table["temp_air"].to_numpy(float), table["wind_speed"].to_numpy(float), **model))


def _split(day: Day) -> bool:
    """Whether direct and diffuse light were measured."""
    return {"dni", "dhi"} <= set(day.table.columns)


def _tilted(day: Day, panel: Panel, heading_deg: float) -> np.ndarray:
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
    facing = (panel.azimuth_deg + heading_deg) % 360.0
    # near the horizon nothing is known of where the light comes from: all of it counts as diffuse
    high = zenith < 90.0 - LOWEST
    dni, dhi = np.where(high, dni, 0.0), np.where(high, dhi, ghi)
    plane = get_total_irradiance(
        panel.tilt_deg, facing, zenith, azimuth, dni, ghi, dhi, dni_extra=extra,
        albedo=ALBEDO, model="haydavies",
    )  # fmt: skip
    return np.nan_to_num(np.asarray(plane["poa_global"]))
