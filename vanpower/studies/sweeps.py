"""Many rigs, controllers, places and days in one table, on one processor or many machines.

A sweep is a grid: every rig on every controller in every request. What can share its panels in their light is worked
out together, and that is what a worker is handed. Rows are written as they come, so that a sweep that was broken off
goes on where it stopped. Left out: sharing a single long request out among workers.
"""

from __future__ import annotations

import csv
import io
import os
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from concurrent.futures import Executor, Future, as_completed
from itertools import product
from pathlib import Path
from typing import TYPE_CHECKING, Any

from vanpower.files.atomic import defused, fused, written
from vanpower.model.losses import LOSSES
from vanpower.rig import Controller, Request, Rig
from vanpower.studies.comparison import outcome

if TYPE_CHECKING:
    import pandas as pd

Key = tuple[str, str, str]
Row = dict[str, str]
Cell = tuple[Key, Rig]
Task = tuple[Request, list[Cell]]
Progress = Callable[..., Iterable[Any]]

KEY = ("rig", "controller", "request")
COLUMNS = (*KEY, "Wh", *(f"lost: {name}" for name in LOSSES), "allowed", "held", "error")
# a row of the table, and of its file
OWN = "its own"
# what the controller is called where the rig keeps those it has
EDITED = "has a row with too many or too few cells; was it changed by hand? Give sweep a new file."
# what is said of a table that would lose something
CELLS_A_TASK = 100
# how many cells a worker is given at most, so that a broken-off sweep loses little; no source


def sweep(
    rigs: Mapping[str, Rig],
    requests: Mapping[str, Request],
    *,
    controllers: Mapping[str, Controller] | None = None,
    executor: Executor | None = None,
    path: str | Path | None = None,
    progress: Progress | None = None,
) -> pd.DataFrame:
    """Every rig on every controller in every request: a row each, in the order they were given.

    Parameters
    ----------
    rigs : mapping of str to Rig
        For example `rig.wirings()`.
    requests : mapping of str to Snapshot or Days
        Places and days by name. A weather file has to lie where every worker can read it.
    controllers : mapping of str to Controller, optional
        Put in place of the controllers each rig has, one after another.
    executor : concurrent.futures.Executor, optional
        Where the work is done: a `ProcessPoolExecutor`, or Dask's `Client(...).get_executor()` for several machines.
        In this process by default.
    path : str or Path, optional
        A CSV file in which rows are kept as they come. Rows it has from a sweep that was broken off are not worked
        out again, rows with an error are. It knows rigs and requests by name only: take a new file for changed ones.
    progress : callable, optional
        Wraps what is iterated over, called as `progress(iterable, total=..., desc=...)`.

    Returns
    -------
    DataFrame
        Wh (as if a snapshot lasted an hour), Wh lost by the names in `LOSSES`, whether the rig is allowed, what held
        its controller, and the error of a cell that could not be worked out; the others are there all the same.

    Raises
    ------
    ValueError
        Without rigs or requests, or where the file is not such a table.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> rig = example("bookmobile")
    >>> table = sweep({"as it is": rig}, {"grey": Snapshot(light=200, temp_cell=15)})
    >>> len(table)
    1
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
    return _table(ordered)


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
    said = {"allowed": "no" if found.refused else "yes", "held": found.held, "error": ""}
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


def _table(rows: Sequence[Row]) -> pd.DataFrame:
    """Rows as a table with numbers in it; NaN where a cell failed."""
    import pandas as pd

    table = pd.DataFrame(rows, columns=list(COLUMNS))
    for name in [name for name in COLUMNS if name == "Wh" or name.startswith("lost: ")]:
        table[name] = [float(text or "nan") for text in table[name]]
    return table
