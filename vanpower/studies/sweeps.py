"""Many rigs, controllers, places and days in one table, on one processor or on many machines.

A sweep is a grid: every rig with every controller in every request. Cases that can share their panels in the light are
computed together; such a set is what a worker gets. Rows are written as they are finished, so that an interrupted sweep
goes on where it stopped. Left out: sharing a single long request among workers.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, as_completed
from dataclasses import dataclass
from itertools import product
from pathlib import Path
from typing import Any

from vanpower.checks.caveats import PARTS, short_word
from vanpower.checks.glance import subject
from vanpower.files.atomic import defused, fused, written
from vanpower.model.losses import LOSSES
from vanpower.results.numbers import ALIKE, known_in
from vanpower.results.result import Result
from vanpower.results.table import Column, Table
from vanpower.results.verdict import Verdict
from vanpower.rig import Controller, Request, Rig
from vanpower.studies.comparison import outcome

Key = tuple[str, str, str]
Row = dict[str, str]
Cell = tuple[Key, Rig]
Task = tuple[Request, list[Cell]]
Progress = Callable[..., Iterable[Any]]

KEY = ("rig", "controller", "request")
NUMBERS = ("Wh", *(f"lost: {name}" for name in LOSSES))
REST = ("allowed", "mind", "held", "error")
COLUMNS = (*KEY, *NUMBERS, *REST)
# a row of the table, and of its file
OWN = "its own"
# what the controller is called where the rig keeps those it has
FIT = ("", PARTS)
# what a rig has to be minded for that works for its battery
EDITED = "has a row with too many or too few cells; was it changed by hand? Give sweep a new file."
# what is said of a table that would lose something
CELLS_A_TASK = 100
# how many cells a worker is given at most, so that a broken-off sweep loses little; no source


@dataclass(frozen=True, eq=False, repr=False)
class Sweep(Result):
    """Result of `sweep`: a row for each case, with what was asked, what it delivered, and what failed.

    Parameters
    ----------
    rows : tuple of dict of str to str or float
        By the names in `COLUMNS`; NaN where a case failed.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> sweep({"as it is": example("bookmobile")}, {"grey": Snapshot(light=200, temp_cell=15)})
    Sweep: YES. 1 of 1 worked out. grey: as it is delivers most, 40.1 Wh.
    """

    rows: tuple[Mapping[str, Any], ...]

    def table(self, what: str | None = None, across: str | None = None) -> Table:
        """One line for each case; or watt-hours by two of "rig", "controller" and "request", the best of the third.

        What is not allowed or could not be computed is left out of the second form; the first has it.

        Parameters
        ----------
        what, across : str, optional
            What stands down the side, and across the top.

        Raises
        ------
        ValueError
            For other names than these three, or twice the same.
        """
        if what is None:
            words = [Column(name=name, left=True) for name in KEY]
            numbers = [Column(name=name) for name in NUMBERS]
            rest = [Column(name=name, left=True) for name in REST]
            return Table((*words, *numbers, *rest), [tuple(row[name] for name in COLUMNS) for row in self.rows], key=0)
        if what not in KEY or across not in KEY or what == across:
            raise ValueError(f"a sweep has tables of two of {', '.join(KEY)}; here are {what!r} and {across!r}.")
        down, along = (list(dict.fromkeys(row[key] for row in self.rows)) for key in (what, across))
        columns = (Column(name=what, left=True), *(Column(name=name) for name in along))
        best = {(row[what], row[across]): row["Wh"] for row in self._allowed}
        return Table(columns, [(one, *(best.get((one, other)) for other in along)) for one in down])

    @property
    def _allowed(self) -> list[Mapping[str, Any]]:
        """Rows that were worked out and may be connected: what works for its battery last, by what they deliver."""
        allowed = (row for row in self.rows if row["allowed"] == "yes")
        return sorted(allowed, key=lambda row: (row["mind"] in FIT, row["Wh"]))

    def best_of(self, request: str, unit: str = "Wh") -> str:
        """What delivers most in one request, how many deliver as much within 3 %, and what it has to be minded for.

        Examples
        --------
        >>> from vanpower import Snapshot, example
        >>> found = sweep(example("bookmobile").wirings(), {"grey": Snapshot(light=200, temp_cell=15)})
        >>> found.best_of("grey")
        '2p delivers most of 2 allowed, 40.1 Wh; 1 other alike within 3 %'
        """
        allowed = [row for row in self._allowed if row["request"] == request]
        if not allowed:
            return "nothing here is allowed"
        best = allowed[-1]
        fit, least = best["mind"] in FIT, (1.0 - ALIKE) * best["Wh"]
        alike = sum((row["mind"] in FIT) == fit and row["Wh"] >= least for row in allowed) - 1
        on = "" if best["controller"] == OWN else f" on {best['controller']}"
        of = f" of {len(allowed)} allowed" if len(allowed) > 1 else ""
        others = f"; {alike} other{'s' * (alike > 1)} alike within {100 * ALIKE:g} %" if alike else ""
        mind = f"; to mind: {best['mind']}" if best["mind"] else ""
        return f"{best['rig']}{on} delivers most{of}, {known_in(best['Wh'], unit)}{others}{mind}"

    @property
    def verdict(self) -> Verdict:
        """What delivers most in every request, and what could not be worked out."""
        done = [row for row in self.rows if not row["error"]]
        best = {row["request"] for row in self._allowed}
        names = dict.fromkeys(row["request"] for row in self.rows)
        said = [f"{name}: {self.best_of(name)}." for name in names]
        return Verdict(
            question="Which delivers most?",
            answer="yes" if len(done) == len(self.rows) and len(best) == len(names) else "close" if best else "no",
            margin=float(len(done)),
            unit="rows worked out",
            sentence=f"{len(done)} of {len(self.rows)} worked out. {' '.join(said)}",
            basis="watt-hours into a battery held at its volts, a moment as if it lasted an hour; what is not "
            "allowed is left out",
        )


def sweep(
    rigs: Mapping[str, Rig],
    requests: Mapping[str, Request],
    *,
    controllers: Mapping[str, Controller] | None = None,
    executor: Executor | None = None,
    path: str | Path | None = None,
    progress: Progress | None = None,
) -> Sweep:
    """A table of many cases: every rig, with every controller, in every request; a row each.

    Parameters
    ----------
    rigs : mapping of str to Rig
        By name, for example `rig.wirings()`.
    requests : mapping of str to Snapshot or Days
        Places and days by name. A weather file has to lie where every worker can read it.
    controllers : mapping of str to Controller, optional
        Put in place of the controllers each rig has, one after another.
    executor : concurrent.futures.Executor, optional
        Where the work is done: a `ProcessPoolExecutor`, or Dask's `Client(...).get_executor()` for several machines.
        In this process by default.
    path : str or Path, optional
        A CSV file to which rows are written as they are finished. If it holds rows of an interrupted sweep, these are
        not computed again; rows with an error are. It knows rigs and requests by name only: take a new file for
        changed ones.
    progress : callable, optional
        Wraps the cases, called as `progress(iterable, total=..., desc=...)`.

    Returns
    -------
    Sweep
        A row for each case: energy [Wh] (of a snapshot, as if it lasted an hour), losses [Wh] by the names in `LOSSES`,
        whether the rig is allowed, what forbids it ("cold ceiling") or what it lacks or falls short of ("parts", "no
        wake", "hot: no", "wastes"), what limited its controller, and the error where the case could not be computed.

    Raises
    ------
    ValueError
        Without rigs or requests, or where the file is not such a table.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> rig = example("bookmobile")
    >>> found = sweep(rig.wirings(), {f"{g} W/m²": Snapshot(light=g, temp_cell=15) for g in (100, 1000)})
    >>> print(found.table("rig", "request"))
    rig  100 W/m²  1000 W/m²
    2s       18.4        218
    2p       18.5        215
    """
    for name, given in (("rigs", rigs), ("requests", requests), ("controllers", controllers)):
        if given is not None and not given:
            raise ValueError(f"sweep needs at least one of its {name}.")
    file = None if path is None else Path(path)
    cells = dict(_grid(rigs, requests, controllers))
    kept = _rows_kept(file)
    rows = {key: row for key, row in kept.items() if key in cells and not row["error"]}
    tasks = _tasks({key: cell for key, cell in cells.items() if key not in rows}, requests)
    done: Iterable[Row] = _worked(tasks, executor)
    if progress is not None:
        done = progress(done, total=len(cells) - len(rows), desc="sweep")
    for row in done:
        rows[_key(row)] = row
        _append(file, [row])
    ordered = [rows[key] for key in cells]
    _write(file, ordered + [row for key, row in kept.items() if key not in cells])
    return Sweep(tuple(map(_told, ordered)))


def _grid(
    rigs: Mapping[str, Rig], requests: Mapping[str, Request], controllers: Mapping[str, Controller] | None
) -> Iterator[tuple[Key, Rig]]:
    """The cells in their order: rig by rig, controller by controller, request by request."""
    for name, rig in rigs.items():
        fitted = {OWN: rig} if controllers is None else {n: rig.with_controller(c) for n, c in controllers.items()}
        for (controller, whole), asked in product(fitted.items(), requests):
            yield (name, controller, asked), whole


def _tasks(cells: Mapping[Key, Rig], requests: Mapping[str, Request]) -> list[Task]:
    """Cells that share panels and request together, circuits that share a wiring one after another."""
    groups: dict[object, list[Cell]] = {}
    for key, rig in cells.items():
        groups.setdefault((key[2], rig.panels), []).append((key, rig))
    return [
        (requests[group[0][0][2]], group[first : first + CELLS_A_TASK])
        for group in groups.values()
        for first in range(0, len(group), CELLS_A_TASK)
    ]


def _worked(tasks: Sequence[Task], executor: Executor | None) -> Iterator[Row]:
    """Rows as they are done, in no order."""
    if executor is None:
        for request, cells in tasks:
            yield from (_row(key, rig, request) for key, rig in cells)
        return
    futures: dict[Future[list[Row]], Task] = {executor.submit(rows_of, task): task for task in tasks}
    try:
        for future in as_completed(futures):
            try:
                done = future.result()
            except Exception as error:
                # a worker that died takes its own cells with it, not the others
                done = [_failed(key, error) for key, _ in futures[future][1]]
            yield from done
    finally:
        for future in futures:
            future.cancel()


def rows_of(task: Task) -> list[Row]:
    """The rows of some cells that share a request; a cell that cannot be worked out says why."""
    request, cells = task
    return [_row(key, rig, request) for key, rig in cells]


def _row(key: Key, rig: Rig, request: Request) -> Row:
    try:
        found = outcome(rig, request)
    except Exception as error:
        return _failed(key, error)
    lost = {f"lost: {name}": repr(found.lost_wh(name)) for name in LOSSES}
    mind = subject(found.refused, inside=True) if found.refused else short_word(found.rig)
    said = {"allowed": "no" if found.refused else "yes", "mind": mind, "held": found.held, "error": ""}
    return dict(zip(KEY, key, strict=True)) | {"Wh": repr(found.energy_wh)} | lost | said


def _failed(key: Key, error: Exception) -> Row:
    """The row of a cell that could not be worked out."""
    what = " ".join(f"{error}".split())
    text = what if isinstance(error, ValueError) and what else f"{type(error).__name__}: {what}".rstrip(": ")
    return dict.fromkeys(COLUMNS, "") | dict(zip(KEY, key, strict=True)) | {"error": text}


def _key(row: Row) -> Key:
    rig, controller, request = (row[name] for name in KEY)
    return rig, controller, request


def _rows_kept(file: Path | None) -> dict[Key, Row]:
    """Rows a broken-off sweep left behind; its last line may be half written."""
    if file is None or not os.path.lexists(file):
        return {}
    text = _table_text(file)
    whole = text[: text.rfind("\n") + 1]
    try:
        lines = list(csv.reader(whole.splitlines(keepends=True), strict=True))
    except csv.Error:
        raise ValueError(f"{file.name} {EDITED}") from None
    if any(len(line) != len(COLUMNS) for line in lines):
        raise ValueError(f"{file.name} {EDITED}")
    if whole != text:
        _replaced(file, whole)
    rows = [dict(zip(COLUMNS, map(fused, line), strict=True)) for line in lines[1:]]
    return {_key(row): row for row in rows}


def _table_text(file: Path) -> str:
    """What a table of a sweep holds; another kind of file is refused by its first line."""
    if not file.is_file():
        raise ValueError(f"{file.name} is no ordinary file; give sweep a new one.")
    head = _text([], head=True).encode()
    with file.open("rb") as stream:
        begins = stream.read(len(head))
        if not head.startswith(begins):
            raise ValueError(f"{file.name} is not a table of a sweep by this version; give sweep a new file.")
        return (begins + stream.read()).decode(errors="replace")


def _append(file: Path | None, rows: Sequence[Row]) -> None:
    """Rows added to the file, and out of this process's hands before the next are worked out."""
    if file is None:
        return
    new = not file.exists() or file.stat().st_size == 0
    with file.open("a", encoding="utf-8", newline="") as stream:
        stream.write(_text(rows, head=new))


def _text(rows: Sequence[Row], *, head: bool) -> str:
    """Rows as a file holds them, with no text that a spreadsheet would run."""
    stream = io.StringIO()
    writer = csv.DictWriter(stream, COLUMNS, lineterminator="\n")
    if head:
        writer.writeheader()
    writer.writerows({name: defused(value) for name, value in row.items()} for row in rows)
    return stream.getvalue()


def _write(file: Path | None, rows: Sequence[Row]) -> None:
    """The finished table in its order, in place of the file that grew row by row."""
    if file is not None:
        _replaced(file, _text(rows, head=True))


def _replaced(file: Path, text: str) -> None:
    """The file with other text, never half of it."""
    with written(file) as stream:
        stream.write(text.encode())


def _told(row: Row) -> dict[str, Any]:
    """A row with numbers in it; NaN where a cell failed."""
    return row | {name: float(row[name] or "nan") for name in NUMBERS}
