"""The rows of a field trial as plain numbers, so that its chart can carry them along; no path of a log is kept."""

from __future__ import annotations

from datetime import datetime

from vanpower.rig.fields import Description

MOST_READINGS = 1500
# rows of a log a chart may carry: half a day with a reading every half minute; no source
FEWEST_READINGS = 6
# rows below which a trial has nothing to weigh
LONGEST_WORD = 60
# letters of a wiring or a charge stage
MEASURED = ("power", "light", "temp", "v_battery", "i_battery", "v_array", "i_spare")
# columns of numbers
Column = tuple[float | None, ...]


class TrialRows(Description):
    """Rows of a field trial in the order of time.

    Parameters
    ----------
    name : str
        What titles call the log.
    before : str
        The wiring that was there first.
    minutes : tuple of float
    wiring, stage : tuple of str
        What was wired and how the charger stood, row by row; no stages where the log has none.
    power, light, temp, v_battery, i_battery, v_array, i_spare : tuple of float or None, optional
        What was read; None where nothing was, and for a column that the log lacks. [W, W/m², °C, V, A, V, A]
    start : str
        Clock time of the first row, 2026-05-31T10:05, or nothing.
    light_from : str

    Examples
    --------
    >>> trial = TrialRows(name="yard", before="2p", minutes=(0.0, 2.0, 4.0, 6.0, 8.0, 10.0),
    ...                   wiring=("2p", "2p", "2p", "2s", "2s", "2s"), power=(90.0, 91.0, None, 95.0, 96.0, 96.0))
    >>> trial.before, set(trial.wiring) - {trial.before}, len(trial.power)
    ('2p', {'2s'}, 6)
    """

    name: str
    before: str
    minutes: tuple[float, ...]
    wiring: tuple[str, ...]
    power: Column
    light: Column | None = None
    temp: Column | None = None
    v_battery: Column | None = None
    i_battery: Column | None = None
    v_array: Column | None = None
    i_spare: Column | None = None
    stage: tuple[str, ...] | None = None
    start: str = ""
    light_from: str = ""

    def together(self) -> None:
        """Refuse columns that cannot be."""
        rows = len(self.minutes)
        if not FEWEST_READINGS <= rows <= MOST_READINGS:
            raise ValueError(f"a log has {rows} rows; from {FEWEST_READINGS} to {MOST_READINGS} can go with a chart.")
        if any(a >= b for a, b in zip(self.minutes, self.minutes[1:], strict=False)):
            raise ValueError("minutes of a log must rise.")
        for name in ("wiring", "stage", *MEASURED):
            values = getattr(self, name)
            if values is not None and len(values) != rows:
                raise ValueError(f"a log has {rows} times and {len(values)} values of {name}.")
        if all(watts is None for watts in self.power):
            raise ValueError("a log has no watts in any row.")
        if any(len(word) > LONGEST_WORD for word in (self.before, self.light_from, *self.wiring, *(self.stage or ()))):
            raise ValueError(f"a wiring or a stage of a log has more than {LONGEST_WORD} letters.")
        if len(set(self.wiring)) != 2 or self.before not in self.wiring:
            raise ValueError("a log of a trial has two wirings, and the first of them is one of these.")
        if self.start:
            try:
                datetime.fromisoformat(self.start)
            except ValueError:
                raise ValueError(f"a log begins at {self.start[:40]!r}, which is not a time.") from None
