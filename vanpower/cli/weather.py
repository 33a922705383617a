"""`vanpower weather`: the weather of one's own place, fetched when asked, or a climate band without a network."""

from __future__ import annotations

import argparse
from pathlib import Path

from vanpower.cli.options import ALL_YES, FORM, as_typed, number
from vanpower.files.atomic import check_place, written

MORE = """\
The file is then a weather like any other: vanpower year RIG.toml --weather glen.csv, or a stop of a trip.
A file that is there already is kept, and nothing is asked of the network.

exit code: 0 done, 2 bad input, no network, or no data of the place
"""
FIELDS = {"Place.latitude_deg": "LAT", "Place.longitude_deg": "LON"}
# what errors call the words typed


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower weather`."""
    about = "the weather of your own place, from a public service, into a file"
    command: argparse.ArgumentParser = commands.add_parser("weather", help=about, epilog=MORE, formatter_class=FORM)
    command.usage = "vanpower weather LAT LON --out glen.csv [--years 2019 2020]"
    command.description = f"{about[0].upper()}{about[1:]}."
    command.add_argument("latitude", type=number, metavar="LAT", help="degrees, north is positive")
    command.add_argument("longitude", type=number, metavar="LON", help="degrees, east is positive")
    command.add_argument("--out", type=Path, metavar="OUT.csv", help="write the year into this file")
    command.add_argument("--years", type=int, nargs=2, metavar=("FIRST", "LAST"), help="these years hour by hour, "
                         "as satellites saw them, instead of a typical one")  # fmt: skip
    command.add_argument("--band", action="store_true", help="no file and no network: clear, median and dull days "
                         "of that latitude, month by month")  # fmt: skip
    command.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Fetch a year, say what is in it; or print the band."""
    if asked.band:
        return _band(asked)
    if asked.out is None:
        raise ValueError("--out is missing; say into which file, such as --out glen.csv, or ask for a --band.")
    if asked.out.exists():
        print(f"{asked.out} is there already and was kept; nothing was asked of the network.")
    else:
        check_place(asked.out, "weather file", (".csv",), again=False)
        _fetch(asked)
    print(_about(asked.out))
    return ALL_YES


def _fetch(asked: argparse.Namespace) -> None:
    """Ask the service and write what it sends, whole or not at all."""
    from vanpower.weather.fetched import ATTRIBUTION, fetched_series, fetched_year

    with as_typed(FIELDS):
        if asked.years:
            held = fetched_series(asked.latitude, asked.longitude, *asked.years)
        else:
            held = fetched_year(asked.latitude, asked.longitude)
    with written(asked.out) as file:
        file.write(held)
    print(f"Weather written to {asked.out}. Source: {ATTRIBUTION}.")


def _about(path: Path) -> str:
    """What a file of weather holds: its light, month by month, and its coldest dawn."""
    from vanpower.checks.coldest import coldest_dawn
    from vanpower.rig import MONTHS
    from vanpower.weather.days import find_day

    day = find_day(str(path), "all")
    daily = day.table["ghi"].groupby(day.table.index.date).sum() * day.step_h / 1000.0
    by_month = daily.groupby([date.month for date in daily.index]).mean()
    months = ", ".join(f"{MONTHS[month - 1][:3]} {light:.1f}" for month, light in by_month.items())
    said = f"{day.title}\nkWh/m² a day on the flat: {months}"
    if day.lacks:
        return f"{said}\nIt holds {day.lacks}, so its coldest dawn may be missing."
    climate = coldest_dawn(str(path))
    return f"{said}\nColdest dawn to plan for: temp_coldest = {climate.temp_coldest:g} ({climate.basis})"


def _band(asked: argparse.Namespace) -> int:
    """Print clear, median and dull days of a latitude."""
    from vanpower.rig import Place
    from vanpower.weather.climate_band import climate_band

    with as_typed(FIELDS):
        Place(latitude_deg=asked.latitude, longitude_deg=asked.longitude)
    print(climate_band(asked.latitude).text())
    return ALL_YES
