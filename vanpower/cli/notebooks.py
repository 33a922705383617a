"""`vanpower` alone: open the notebooks in a browser."""

from __future__ import annotations

import argparse
import os
import shutil
import subprocess
import sys
from pathlib import Path

FIRST_NOTEBOOK = "00-start.ipynb"


def open_notebooks(asked: argparse.Namespace) -> int:
    """Start JupyterLab on the notebooks, on this machine only and with its token."""
    if subprocess.run([sys.executable, "-c", "import jupyterlab"], capture_output=True, check=False).returncode:
        raise ValueError("JupyterLab is not installed; install with: pip install 'vanpower[notebooks]'")
    command = lab_command(notebooks_folder())
    command += ["--no-browser"] if asked.no_browser else []
    print("The notebooks open in your browser; the address below does as well. Ctrl-C twice ends them.", flush=True)
    return subprocess.run(command, check=False).returncode


def lab_command(folder: Path) -> list[str]:
    """JupyterLab on a folder of notebooks, for this machine only."""
    command = [sys.executable, "-m", "jupyterlab", "--ip=127.0.0.1", f"--ServerApp.root_dir={folder}",
               f"--LabApp.default_url=/doc/tree/{FIRST_NOTEBOOK}", "--log-level=WARN"]  # fmt: skip
    return command + (["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else [])


def notebooks_folder() -> Path:
    """The notebooks: beside the package where it is worked on, else a copy here that one may edit."""
    beside = Path(__file__).resolve().parents[2] / "notebooks"
    if (beside / FIRST_NOTEBOOK).exists():
        return beside
    own = Path.cwd() / "vanpower-notebooks"
    if not own.exists():
        shutil.copytree(Path(__file__).resolve().parents[1] / "notebooks", own)
    return own
