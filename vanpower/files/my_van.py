"""One's own van: the file that form, pages and command line share, saved whole, with steps to take back.

The steps lie beside the file under a name that begins with a point. A file that somebody changed by hand becomes a step
before anything is written over it, so nothing typed is lost; comments of such a file live on in the step alone.
"""

from __future__ import annotations

import hashlib
import json
import os
from contextlib import suppress
from pathlib import Path
from typing import Any

from vanpower.files.atomic import SEAL_LENGTH, written
from vanpower.files.rig_files import read_rig, rig_to_toml
from vanpower.files.texts import bytes_of
from vanpower.rig import Rig

MY_VAN = "my-van"
# the word for it, where an example's name or a path may stand
WHERE = "VANPOWER_VAN"
# name in the environment of the path that is taken instead of my-van.toml in the working folder
MOST_STEPS = 100
# of the kit's own saves that can be taken back; what was written by hand stays besides

Step = dict[str, Any]
Steps = dict[str, Any]


def my_van_path() -> Path:
    """Where one's own van is described: `VANPOWER_VAN` of the environment, else my-van.toml in the working folder.

    Raises
    ------
    ValueError
        Where the environment names another kind of file.

    Examples
    --------
    >>> import os
    >>> os.environ["VANPOWER_VAN"] = "vans/mine.toml"
    >>> my_van_path().name
    'mine.toml'
    >>> del os.environ["VANPOWER_VAN"]
    """
    path = Path(os.environ.get(WHERE) or f"{MY_VAN}.toml").absolute()
    if path.suffix.lower() != ".toml":
        raise ValueError(f"{WHERE} is {path.name!r}; the file of your van ends in .toml.")
    return path


def read_my_van() -> Rig | None:
    """One's own van, or None where nothing is saved yet.

    Raises
    ------
    ValueError
        As of `read_rig`, where the file describes no possible rig.

    Examples
    --------
    >>> import os
    >>> os.environ["VANPOWER_VAN"] = "no-such-folder/van.toml"
    >>> read_my_van() is None
    True
    >>> del os.environ["VANPOWER_VAN"]
    """
    path = my_van_path()
    return read_rig(path) if os.path.lexists(path) else None


def my_van_stamp() -> str:
    """A word that changes when the file did; empty where there is none.

    Examples
    --------
    >>> import os
    >>> os.environ["VANPOWER_VAN"] = "no-such-folder/van.toml"
    >>> my_van_stamp()
    ''
    >>> del os.environ["VANPOWER_VAN"]
    """
    path = my_van_path()
    try:
        return _seal(bytes_of(path)) if os.path.lexists(path) else ""
    except ValueError as trouble:
        return str(trouble)


def save_my_van(rig: Rig, *, same_step: bool = False) -> None:
    """Write one's own van, whole or not at all; what was there before can be taken back.

    Parameters
    ----------
    rig : Rig
    same_step : bool
        Whether this goes on with the save before, such as the next letter of a number, so that one step takes both
        back; a file that was changed by hand since is a step of its own all the same.

    Raises
    ------
    ValueError
        Where it cannot be written, or where no rig file could be read back.

    Examples
    --------
    >>> import os
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import example
    >>> with TemporaryDirectory() as folder:
    ...     os.environ["VANPOWER_VAN"] = f"{folder}/van.toml"
    ...     save_my_van(example("bookmobile"))
    ...     save_my_van(example("bookmobile").changed(name="Mine"))
    ...     names = [read_my_van().name, undo_my_van().name]
    ...     del os.environ["VANPOWER_VAN"]
    >>> names
    ['Mine', 'Bookmobile, two small panels']
    """
    path = my_van_path()
    steps, here, text = _steps(path), _here(path), rig_to_toml(rig)
    if here == text:
        return
    by_hand = here is not None and _seal(_bytes(here)) != steps["wrote"]
    if by_hand or not same_step or not steps["before"]:
        steps["before"].append({"text": here, "by_hand": by_hand})
    steps["before"] += [step for step in steps["after"] if step["by_hand"]]
    _write(path, text, {**steps, "after": []})


def undo_my_van() -> Rig | None:
    """Bring back what was there before the last save, and give it; None where that was nothing yet.

    Raises
    ------
    ValueError
        Where there is nothing to take back, or what comes back describes no possible rig; it is brought back all the
        same, as it was written.

    Examples
    --------
    >>> import os
    >>> os.environ["VANPOWER_VAN"] = "no-such-folder/van.toml"
    >>> undo_my_van()
    Traceback (most recent call last):
    ValueError: There is no step before this one.
    >>> del os.environ["VANPOWER_VAN"]
    """
    return _moved("before", "after", "There is no step before this one.")


def redo_my_van() -> Rig | None:
    """Bring back what `undo_my_van` took away, and give it.

    Raises
    ------
    ValueError
        Where nothing was taken back since the last save.

    Examples
    --------
    >>> import os
    >>> os.environ["VANPOWER_VAN"] = "no-such-folder/van.toml"
    >>> redo_my_van()
    Traceback (most recent call last):
    ValueError: Nothing was taken back that could come again.
    >>> del os.environ["VANPOWER_VAN"]
    """
    return _moved("after", "before", "Nothing was taken back that could come again.")


def my_van_steps() -> tuple[int, int]:
    """How many steps can be taken back, and how many can come again.

    Examples
    --------
    >>> import os
    >>> os.environ["VANPOWER_VAN"] = "no-such-folder/van.toml"
    >>> my_van_steps()
    (0, 0)
    >>> del os.environ["VANPOWER_VAN"]
    """
    steps = _steps(my_van_path())
    return len(steps["before"]), len(steps["after"])


def _moved(source: str, target: str, nothing: str) -> Rig | None:
    """Bring back the nearest step on one side; what was there goes to the other."""
    path = my_van_path()
    steps, here = _steps(path), _here(path)
    while steps[source] and steps[source][-1]["text"] == here:
        steps[source].pop()
    if not steps[source]:
        raise ValueError(nothing)
    step = steps[source].pop()
    by_hand = here is not None and _seal(_bytes(here)) != steps["wrote"]
    steps[target].append({"text": here, "by_hand": by_hand})
    _write(path, step["text"], steps)
    return read_my_van()


def _write(path: Path, text: str | None, steps: Steps) -> None:
    """Write steps, then the file; a file that cannot be written leaves one step too many, which is passed over."""
    own = [step for step in steps["before"] if not step["by_hand"]]
    dropped = own[: max(0, len(own) - MOST_STEPS)]
    before = [step for step in steps["before"] if not any(step is other for other in dropped)]
    wrote = "" if text is None else _seal(_bytes(text))
    with written(_beside(path)) as file:
        file.write(json.dumps({**steps, "before": before, "wrote": wrote}).encode())
    if text is not None:
        with written(path) as file:
            file.write(_bytes(text))
    else:
        with suppress(FileNotFoundError):
            path.unlink()


def _beside(path: Path) -> Path:
    """Where the steps of a file lie."""
    return path.with_name(f".{path.name}.steps")


def _steps(path: Path) -> Steps:
    """The steps beside a file; none where there are none, or what lies there is none of the kit's making."""
    found: Steps = {"wrote": "", "before": [], "after": []}
    with suppress(OSError, ValueError, TypeError, KeyError):
        held = json.loads(_beside(path).read_bytes())
        sides = {side: [_step(step) for step in held[side]] for side in ("before", "after")}
        found = {"wrote": str(held["wrote"]), **sides}
    return found


def _step(held: Any) -> Step:
    """A step as it was kept, held to its form."""
    text = held["text"]
    if text is not None:
        _bytes(text)
    return {"text": text, "by_hand": bool(held["by_hand"])}


def _here(path: Path) -> str | None:
    """What the file holds, in whatever letters; None where there is none."""
    return bytes_of(path).decode("utf-8", "surrogateescape") if os.path.lexists(path) else None


def _bytes(text: str) -> bytes:
    """A kept text as the bytes it was."""
    try:
        return text.encode("utf-8", "surrogateescape")
    except AttributeError:
        raise TypeError("a step is text") from None


def _seal(held: bytes) -> str:
    return hashlib.sha256(held).hexdigest()[:SEAL_LENGTH]
