"""The stops of a trip read from a file."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

from vanpower.files.messages import did_you_mean, nearest
from vanpower.files.resources import data_folder
from vanpower.files.rig_tables import stops_in
from vanpower.files.texts import bytes_of, text_of
from vanpower.rig import Stop, dates_of


def trips() -> tuple[str, ...]:
    """Names of the example trips that come with the kit, for `read_stops`.

    Examples
    --------
    >>> trips()
    ('three-coasts',)
    """
    return tuple(sorted(path.stem for path in (data_folder() / "trips").glob("*.toml")))


def read_stops(path: str | Path) -> tuple[Stop, ...]:
    """The stops of a trip from a TOML file with a table `[[stops]]` for each, or those of an example by its name.

    Parameters
    ----------
    path : str or Path
        A weather in it that is a file is looked for beside it as well.

    Raises
    ------
    ValueError
        Where there is no such file or it describes no possible trip: up to three problems, one a line.

    Examples
    --------
    >>> [(stop.name, stop.weather) for stop in read_stops("three-coasts")][0]
    ('keys in the south', 'miami')
    """
    if str(path) in trips():
        path = data_folder() / "trips" / f"{path}.toml"
    path = Path(path)
    if not path.exists() and not path.suffix:
        near = nearest(str(path), trips())
        raise ValueError(
            f"{str(path)!r} is not an example trip{did_you_mean(near)} A trip is a .toml file of [[stops]]."
        )
    stops = stops_in(text_of(bytes_of(path), path.name), path.name)
    dates_of(stops)
    return tuple(_beside(stop, path.parent) for stop in stops)


def _beside(stop: Stop, folder: Path) -> Stop:
    """The stop with its weather file found beside the trip's."""
    beside = folder / stop.weather
    return replace(stop, weather=str(beside)) if not Path(stop.weather).exists() and beside.is_file() else stop
