"""How a server of pages is run: what it needs on the disk, and when its address may be told."""

from __future__ import annotations

import sys
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from vanpower.cli.addresses import HERE

LOOK_S = 0.05
# [s] between two looks whether a server listens
DATA = {
    "voila/templates/lab": "voila",
    "nbconvert/templates/lab": "nbconvert",
    "voila/labextensions/@voila-dashboards/widgets-manager8": "voila",
    "labextensions/@jupyter-widgets/jupyterlab-manager": "jupyterlab_widgets",
    "labextensions/anywidget": "anywidget",
}
# what a page loads out of Jupyter's data folders, and the package that brings it


def need_data(folders: Sequence[str]) -> None:
    """Refuse to serve pages that would never load.

    Parameters
    ----------
    folders : sequence of str
        Where Jupyter looks for its data.

    Raises
    ------
    ValueError
        Where none of them has what a page needs; with the likely slip and the cure.

    Examples
    --------
    >>> need_data(["/nowhere"])  # doctest: +ELLIPSIS
    Traceback (most recent call last):
    ValueError: Jupyter's data folders have no voila/templates/lab, which the package voila brings; ...
    """
    for part, package in DATA.items():
        if not any((Path(folder) / part).is_dir() for folder in folders):
            raise ValueError(
                f"Jupyter's data folders have no {part}, which the package {package} brings; without it a page never "
                f"loads. Looked in: {', '.join(folders)}. Is {package} installed for another Python, or does "
                f"JUPYTER_PATH name a folder that has moved? Install it for this one: {sys.executable} -m pip install "
                f"--force-reinstall {package}; or set JUPYTER_PATH to the folder share/jupyter that has it."
            )


def data_folders() -> list[str]:
    """Where Jupyter looks for its data."""
    from jupyter_core.paths import jupyter_path

    return list(jupyter_path())


def serve(command: Sequence[str], env: Mapping[str, str], port: int, listening: Callable[[], None]) -> int:
    """Run a server until it ends, and say when it listens: who is told its address earlier is refused.

    Parameters
    ----------
    command : sequence of str
    env : mapping
        Its environment.
    port : int
        Where it will listen.
    listening : callable
        Called once it does; never where it ends before.

    Returns
    -------
    int
        The code with which it ended.

    Examples
    --------
    >>> serve([sys.executable, "-c", "raise SystemExit(3)"], {}, 9, lambda: print("listens"))
    3
    """
    import subprocess

    with subprocess.Popen(command, env=env) as server:
        try:
            while server.poll() is None:
                if listens(port):
                    listening()
                    return server.wait()
                time.sleep(LOOK_S)
            return server.wait()
        except BaseException:
            # Ctrl+C among them, which the server has heard as well
            server.kill()
            raise


def listens(port: int) -> bool:
    """Whether somebody on this machine answers at a port."""
    import socket

    with socket.socket() as trial:
        return trial.connect_ex((HERE, port)) == 0
