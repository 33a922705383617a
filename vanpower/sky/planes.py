"""Light on a panel's plane and the heat of its cells."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from vanpower.rig import Panel
from vanpower.sky.days import Day

if TYPE_CHECKING:
    pass


MOUNTS = {
    "open": "open_rack_glass_polymer",
    "gap": "close_mount_glass_glass",
    "glued": "insulated_back_glass_polymer",
}
# mounting models of King et al., SAND2004-3535, Table 1, by pvlib's names


def plane_light(day: Day, panel: Panel) -> np.ndarray:
    """Light on a panel's plane, shape (moment,). [W/m²]

    Notes
    -----
    A flat panel takes the measured horizontal light as it is. Others: isotropic sky by pvlib, with the sun taken in
    the middle of each step; ground reflection 0.25 (pvlib's default).
    """
    if panel.tilt_deg == 0:
        return day.table["ghi"].to_numpy(float)
    if day.position is None or not {"dni", "dhi"} <= set(day.table.columns):
        raise ValueError(
            f"{panel.name} is tilted by {panel.tilt_deg:g} degrees, and {day.place} has no dni, dhi and place to "
            "tilt the light with; lay it flat (tilt_deg = 0) or use a typical year."
        )
    return _tilted(day, panel)


def cell_temperature(day: Day, panel: Panel, light: np.ndarray) -> np.ndarray:
    """Cell temperature by the mounting model of King et al., shape (moment,). [°C]"""
    from pvlib.temperature import TEMPERATURE_MODEL_PARAMETERS, sapm_cell

    model = TEMPERATURE_MODEL_PARAMETERS["sapm"][MOUNTS[panel.mount]]
    table = day.table
    return np.asarray(sapm_cell(light, table["temp_air"].to_numpy(float), table["wind_speed"].to_numpy(float), **model))


def _tilted(day: Day, panel: Panel) -> np.ndarray:
    """Transposed light; isotropic sky."""
    import pandas as pd
    from pvlib.irradiance import get_total_irradiance
    from pvlib.solarposition import get_solarposition

    assert day.position is not None
    sun = get_solarposition(day.table.index + pd.Timedelta(hours=day.step_h / 2), *day.position)
    parts = [day.table[name].to_numpy(float) for name in ("dni", "ghi", "dhi")]
    angles = [sun[name].to_numpy() for name in ("apparent_zenith", "azimuth")]
    plane = get_total_irradiance(panel.tilt_deg, panel.azimuth_deg, *angles, *parts)
    return np.nan_to_num(np.asarray(plane["poa_global"]))
