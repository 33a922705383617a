"""A typical year, or measured years, of any place from a public service, as a file that is then read like any other.

Nothing is asked of a network but here, and only when somebody calls it. The service is PVGIS of the European
Commission, asked through pvlib; its light is worked out from satellite pictures and a weather model, hour by hour.
"""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import urlsplit

import numpy as np

from vanpower.rig import Place, printable

if TYPE_CHECKING:
    import pandas as pd

SERVICE = "https://re.jrc.ec.europa.eu/api/"
# where pvlib asks for PVGIS, Joint Research Centre of the European Commission
PATIENCE_S = 60
# [s] until the service counts as silent; no source
ATTRIBUTION = "PVGIS (c) European Union; name it beside what you show of it"
# "free to use, with no restrictions on what the results can be used for": PVGIS users manual, 1.1, Joint Research
# Centre; the name is the last line of the service's own files, tests/reference/pvgis_tilted_series.csv
HOURS, MONTHS = 8760, 12
# of a typical year
NAMES = {"temp_air": "T2m", "ghi": "G(h)", "dni": "Gb(n)", "dhi": "Gd(h)", "wind_speed": "WS10m"}
# our columns and those of the service's typical years
HOURLY = {
    "poa_direct": "Gb(i)", "poa_sky_diffuse": "Gd(i)", "poa_ground_diffuse": "Gr(i)", "temp_air": "T2m",
    "wind_speed": "WS10m",
}  # fmt: skip
# the same of its hourly series, on a plane that lies flat
WITHOUT = (
    "Without a network, take a typical year of the kit (sand-point, greensboro, miami), a climate band "
    "(vanpower weather LAT LON --band), or a file that you have."
)
LONGEST = 200
# letters of the service's answer that are repeated


def fetched_year(latitude: float, longitude: float) -> bytes:
    """The typical year of a place, as the text of a file in the service's own form.

    Raises
    ------
    ValueError
        Where there is no network, the service is silent, or it has no data of the place; with what to do.
    """
    from pvlib.iotools import get_pvgis_tmy

    _checked(latitude, longitude)
    with _telling():
        table, about = get_pvgis_tmy(latitude, longitude, outputformat="json", url=SERVICE, timeout=PATIENCE_S)
    if len(table) != HOURS or not set(NAMES) <= set(table.columns):
        raise ValueError(f"the service sent {len(table)} of {HOURS} hours of a year; try again later. {WITHOUT}")
    place = about["inputs"]["location"]
    months = {int(one["month"]): int(one["year"]) for one in about["months_selected"]}
    head = [*_place_lines(place), "month,year", *(f"{month},{months[month]}" for month in range(1, MONTHS + 1))]
    return _written(head, table, NAMES, "time(UTC)")


def fetched_series(latitude: float, longitude: float, first: int, last: int) -> bytes:
    """Hours of some years of a place as measured from satellites, as the text of a file in the service's own form.

    Raises
    ------
    ValueError
        As `fetched_year`; also for years that the service does not have.
    """
    from pvlib.iotools import get_pvgis_hourly

    _checked(latitude, longitude)
    with _telling():
        table, about = get_pvgis_hourly(
            latitude, longitude, start=first, end=last, components=True, surface_tilt=0, url=SERVICE, timeout=PATIENCE_S
        )
    if not len(table) or not set(HOURLY) <= set(table.columns):
        raise ValueError(f"the service sent {len(table)} hours; try again later. {WITHOUT}")
    inputs = about["inputs"]
    radiation = printable(str(inputs["meteo_data"]["radiation_db"]))[:LONGEST]
    head = [*_place_lines(inputs["location"]), f"Radiation database: {radiation}", "Slope: 0 deg. ", ""]
    return _written(head, table.assign(Int=0.0), {**HOURLY, "Int": "Int"}, "time")


def _checked(latitude: float, longitude: float) -> None:
    """Refuse a place that is none."""
    Place(latitude_deg=latitude, longitude_deg=longitude)


def _place_lines(place: dict[str, float]) -> list[str]:
    """The first lines of a file: where it is."""
    return [
        f"Latitude (decimal degrees): {float(place['latitude']):.3f}",
        f"Longitude (decimal degrees): {float(place['longitude']):.3f}",
        f"Elevation (m): {float(place.get('elevation') or 0.0):.1f}",
    ]


def _written(head: list[str], table: pd.DataFrame, names: dict[str, str], time: str) -> bytes:
    """A head, the rows, and who they are from."""
    columns = [table[ours].to_numpy(float) for ours in names]
    if not all(np.isfinite(column).all() for column in columns):
        raise ValueError(f"the service sent hours without a value; try again later. {WITHOUT}")
    stamps = table.index.strftime("%Y%m%d:%H%M")
    rows = (",".join([stamp, *(f"{value:g}" for value in row)]) for stamp, *row in zip(stamps, *columns, strict=True))
    lines = [*head, ",".join([time, *names.values()]), *rows, "", ATTRIBUTION]
    return ("\n".join(lines) + "\n").encode()


class _telling:
    """What goes wrong on the way to the service and back, in plain words."""

    def __enter__(self) -> None:
        return None

    def __exit__(self, kind: type[BaseException] | None, trouble: BaseException | None, _trace: object) -> None:
        import requests

        host = urlsplit(SERVICE).hostname
        if isinstance(trouble, requests.Timeout):
            raise ValueError(f"{host} did not answer within {PATIENCE_S} s; nothing was written. {WITHOUT}") from None
        if isinstance(trouble, requests.ConnectionError):
            raise ValueError(f"{host} cannot be reached; is there a network? Nothing was written. {WITHOUT}") from None
        if isinstance(trouble, requests.RequestException) and not isinstance(trouble, requests.JSONDecodeError):
            told = printable(str(trouble))[:LONGEST].rstrip(". ")
            raise ValueError(f"{host} refused: {told}. Nothing was written.") from None
        if isinstance(trouble, KeyError | ValueError | TypeError | AttributeError | IndexError):
            raise ValueError(f"{host} sent something else than weather; try again later. {WITHOUT}") from None
