"""Irradiance on the flat in the form that shadows need: the direct beam with its direction, and the diffuse part."""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from vanpower.weather.planes import ALBEDO
from vanpower.weather.series import WeatherSeries
from vanpower.weather.sun import sun_at

if TYPE_CHECKING:
    import pandas as pd

STEEPEST = 5.0
# a pitch turned to a sun at the horizon takes no more than so many times the beam on the flat; no source


@dataclass(frozen=True, eq=False)
class Beams:
    """Beam and sky on the flat, and where the sun stands in the middle of each step, all (moment,).

    Parameters
    ----------
    elevation, azimuth : ndarray
        [degrees]
    beam, diffuse, total : ndarray
        On the flat. [W/m²]

    Examples
    --------
    >>> from vanpower.rig import Parked
    >>> from vanpower.weather.parked import parked_day
    >>> noon = beams_of(parked_day(Parked(latitude_deg=47, day="06-21", hour=12.0)))
    >>> round(float(noon.elevation[0]), 1), round(float(noon.beam[0] / noon.total[0]), 1)
    (66.4, 0.9)
    """

    elevation: np.ndarray
    azimuth: np.ndarray
    beam: np.ndarray
    diffuse: np.ndarray
    total: np.ndarray

    def on_pitch(self, up: np.ndarray, slope_deg: float) -> tuple[np.ndarray, np.ndarray]:
        """Beam and diffuse light on a roof that slopes, where the sun's direction has this part along its normal.

        Notes
        -----
        Sky and ground even, as in `plane_light`. A beam that comes from behind the roof in the middle of a step counts
        as light of the sky, so that nothing of the measured light is lost on the flat.
        """
        turn = np.divide(up, np.sin(np.radians(self.elevation)), out=np.zeros_like(up), where=self.elevation > 0)
        front = (up > 0) & (self.elevation > 0)
        beam = np.where(front, self.beam * np.clip(turn, 0.0, STEEPEST), 0.0)
        cosine = np.cos(np.radians(slope_deg))
        around = self.diffuse * (1 + cosine) / 2 + self.total * ALBEDO * (1 - cosine) / 2
        return beam, around + np.where(front, 0.0, self.beam)


def beams_of(day: WeatherSeries) -> Beams:
    """Beam and sky of a day with a place; a file without dni, dhi and place cannot say where shadows fall.

    Examples
    --------
    >>> from vanpower.rig import Parked
    >>> from vanpower.weather.parked import parked_day
    >>> skies = [parked_day(Parked(latitude_deg=47, day="12-21", hour=12.0, clearness=share)) for share in (1.0, 0.0)]
    >>> [round(float(beams_of(sky).beam[0]), -1) for sky in skies]
    [230.0, 0.0]
    """
    if day.position is None or "dhi" not in day.table.columns:
        raise ValueError(
            f"{day.place} has no dhi and place, which shadows on the roof need; use a typical year, or "
            "leave [roof] out."
        )
    return _beams(day)


@lru_cache(maxsize=64)
def _beams(day: WeatherSeries) -> Beams:
    """`beams_of`, kept."""
    sun = _sun(day) if day.sun is None else day.sun
    total, sky = (day.table[name].to_numpy(float) for name in ("ghi", "dhi"))
    beam = np.maximum(total - sky, 0.0)
    return Beams(sun["apparent_elevation"].to_numpy(), sun["azimuth"].to_numpy(), beam, total - beam, total)


def _sun(day: WeatherSeries) -> pd.DataFrame:
    """Where the sun stands in the middle of each step."""
    import pandas as pd

    assert day.position is not None
    middle = pd.Timedelta(hours=day.step_h / 2 if len(day.table) > 1 else 0.0)
    return sun_at(day.table.index + middle, day.position, day.altitude_m)
