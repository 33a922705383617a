"""The command line: open the notebooks, check a rig before ordering, compare its wirings.

Prints answers and returns an exit code; all thinking is done elsewhere.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from vanpower.rig import Outlook, Request, Rig, Shade, Snapshot

if TYPE_CHECKING:
    from vanpower.studies import Comparison

ALL_YES, NO_OR_CLOSE, BAD_INPUT, INTERRUPTED = 0, 1, 2, 130
# exit codes
SHADE_NOTE = re.compile(r"P(\d{1,3})(?:\.(\d{1,3})(?:x(\d{1,3}))?)?=([0-9.]+)", re.IGNORECASE)
# P2=0.2 a panel, P2.1=0.2 its first substring, P2.1x3=0.2 three cells of it
NAMED_DAYS = ("dull", "median", "bright")
FIRST_NOTEBOOK = "00-start.ipynb"

ABOUT = """\
Series, parallel or both? Solar wiring studies for camper vans.

Without a command, opens the notebooks in your browser.
"""
MORE = """\
try:
  vanpower check data/rigs/bookmobile.toml
  vanpower compare data/rigs/bookmobile.toml --light 80 --temp 12
  vanpower compare data/rigs/bookmobile.toml --day dull bright --chart answer.png
"""
CHECK_MORE = """\
Tells for each controller whether a frosty morning can push the array over its ceiling, whether the array wakes it,
whether a hot roof still reaches the battery, and what the cable costs. A model is not a permit: local rules, makers'
sheets and a competent person win.

exit code: 0 all yes, 1 any no or close, 2 bad input
"""
COMPARE_MORE = """\
shade notes:
  P2=0.2      panel 2 gets 20 % of the light
  P2.1=0.2    only its first group of cells under one bypass diode
  P2.1x3=0.2  only three cells of that group
"""


def main(words: Sequence[str] | None = None) -> int:
    """Run the command line and return its exit code."""
    parser = _parser()
    asked = parser.parse_args(words)
    try:
        return asked.run(asked)
    except ValueError as trouble:
        print(f"vanpower: {trouble}", file=sys.stderr)
        return BAD_INPUT
    except KeyboardInterrupt:
        return INTERRUPTED
    except BrokenPipeError:
        # whoever read the answer has seen enough; leave nothing to be flushed into the closed pipe
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return ALL_YES


def _parser() -> argparse.ArgumentParser:
    """The words of the command line."""
    form = argparse.RawDescriptionHelpFormatter
    parser = argparse.ArgumentParser("vanpower", description=ABOUT, epilog=MORE, formatter_class=form)
    parser.add_argument("--no-browser", action="store_true", help="only print the notebooks' address")
    parser.set_defaults(run=_open_notebooks)
    commands = parser.add_subparsers(title="commands", metavar="")
    about = "is this rig safe and fit, before ordering"
    check = commands.add_parser("check", help=about, description=CHECK_MORE, formatter_class=form)
    check.usage = "vanpower check RIG.toml [--wiring 3s]"
    check.add_argument("rig", metavar="RIG.toml", help="a rig file, or the name of an example such as bookmobile")
    check.add_argument("--wiring", help="check this wiring instead, such as 3s or 2s2p; 'all' for every one")
    check.set_defaults(run=_check)
    about = "what every wiring brings in the same light, and what decides"
    compare = commands.add_parser("compare", help=about, epilog=COMPARE_MORE, formatter_class=form)
    compare.usage, compare.description = "vanpower compare RIG.toml [options]", f"{about[0].upper()}{about[1:]}."
    _compare_words(compare)
    return parser


def _compare_words(compare: argparse.ArgumentParser) -> None:
    """The words of `vanpower compare`."""
    compare.add_argument("rig", metavar="RIG.toml", help="a rig file, or the name of an example")
    compare.add_argument("--light", type=_number, metavar="W/m²", help="one moment: the light on the panels (800)")
    compare.add_argument("--temp", type=_number, metavar="°C", help="one moment: how warm the cells are (25)")
    compare.add_argument("--day", nargs="+", metavar="DAY", help="whole days: dull, median, bright, month-day (12-21), "
                         "or a CSV file with the columns time, ghi, temp_air")  # fmt: skip
    compare.add_argument(
        "--weather", metavar="NAME", help="typical year or CSV file the days are taken from (sand-point)"
    )
    compare.add_argument("--shade", nargs="+", default=[], metavar="NOTE", help="cells that get less light, see below")
    compare.add_argument("--wiring", nargs="+", metavar="3s", help="only these wirings")
    compare.add_argument("--apart", action="store_true", help="also a controller of its own for every panel")
    compare.add_argument("--chart", type=Path, metavar="OUT.png", help="draw the answer into this file")
    compare.set_defaults(run=_compare)


def _number(text: str) -> float:
    """A number, with a word on decimal commas."""
    try:
        return float(text)
    except ValueError:
        hint = "; write it with a point" if "," in text else ""
        raise argparse.ArgumentTypeError(f"{text!r} is not a number{hint}") from None


def _check(asked: argparse.Namespace) -> int:
    """Print every verdict of a rig."""
    from vanpower.checks import check, unasked

    answers = []
    for name, rig in _wired(_rig(asked.rig), [asked.wiring] if asked.wiring else []).items():
        print(f"{rig.name}: {name}\n")
        for verdict in check(rig):
            print(f"{verdict}\n")
            answers.append(verdict.answer)
        print("Not checked here:\n" + "".join(f"      {said}\n" for said in unasked(rig)))
    return ALL_YES if set(answers) == {"yes"} else NO_OR_CLOSE


def _compare(asked: argparse.Namespace) -> int:
    """Print the table and the verdict for every light asked for, and draw them."""
    from vanpower.studies import compare
    from vanpower.wirings import alternatives

    rig = _rig(asked.rig)
    requests = _requests(asked)
    rigs = _wired(rig, asked.wiring or ["all"], requests[0].shade)
    if asked.apart:
        rigs |= {name: split for name, split in alternatives(rig, apart=True).items() if name == "apart"}
    comparisons = [compare(rigs, request) for request in requests]
    if asked.chart:
        _draw(comparisons, asked.chart)
    for comparison in comparisons:
        print(f"{rig.name}, {comparison.title}\n\n{comparison.text()}\n\n{comparison.verdict()}\n")
    return ALL_YES


def _rig(text: str) -> Rig:
    """The rig from a file, or an example by name."""
    from vanpower.recipes import load_rig, read_rig

    return read_rig(text) if Path(text).exists() or text.endswith(".toml") or os.sep in text else load_rig(text)


def _wired(rig: Rig, wirings: Sequence[str], shade: Sequence[Shade] = ()) -> dict[str, Rig]:
    """The rig as it stands, in the wirings named, or in all of them."""
    from vanpower.wirings import alternatives, rewired

    if not wirings:
        return {" and ".join(circuit.wiring.name for circuit in rig.circuits): rig}
    if "all" in wirings:
        return alternatives(rig, shade=shade)
    return {wiring: rewired(rig, wiring) for wiring in wirings}


def _requests(asked: argparse.Namespace) -> list[Request]:
    """What was asked: one moment, or days."""
    shade = tuple(_shade(note) for note in asked.shade)
    if asked.day and (asked.light is not None or asked.temp is not None):
        raise ValueError("--day brings its own light and heat; leave out --light and --temp.")
    if asked.weather and not asked.day:
        raise ValueError("--weather says where days are taken from; add --day dull, or leave it out.")
    if not asked.day:
        light = 800.0 if asked.light is None else asked.light
        return [Snapshot(light=light, temp_cell=25.0 if asked.temp is None else asked.temp, shade=shade)]
    return [_outlook(day, asked.weather, shade) for day in asked.day]


def _outlook(day: str, weather: str | None, shade: tuple[Shade, ...]) -> Outlook:
    """A day by name or date out of the weather, or a file of one day."""
    if day in NAMED_DAYS or re.fullmatch(r"\d\d-\d\d", day):
        return Outlook(weather=weather or "sand-point", day=day, shade=shade)
    if not day.lower().endswith(".csv") and not Path(day).exists():
        raise ValueError(f"day {day!r} is not one; write dull, median, bright, month-day such as 12-21, or a CSV file.")
    return Outlook(weather=day, day="only", shade=shade)


def _shade(note: str) -> Shade:
    """A shade note as typed, panels and substrings counted from 1."""
    found = SHADE_NOTE.fullmatch(note)
    if not found:
        raise ValueError(
            f"shade note {note!r} is none; write P2=0.2, P2.1=0.2 or P2.1x3=0.2, with 0.2 for 20 % of the light."
        )
    panel, substring, cells, lit = found.groups()
    if panel == "0" or substring == "0":
        raise ValueError(f"shade note {note!r} counts from 0; panels and their groups of cells count from 1 here.")
    return Shade(
        panel=int(panel) - 1,
        substring=None if substring is None else int(substring) - 1,
        cells=None if cells is None else int(cells),
        lit=_share(lit, note),
    )


def _share(text: str, note: str) -> float:
    """A share of the light."""
    try:
        return float(text)
    except ValueError:
        raise ValueError(f"shade note {note!r}: {text!r} is not a number.") from None


def _draw(comparisons: Sequence[Comparison], path: Path) -> None:
    """Draw all comparisons into one picture, written whole or not at all."""
    from vanpower.figures import comparison_figure, write_picture

    write_picture(comparison_figure(comparisons), path)
    print(f"Chart written to {path}\n")


def _open_notebooks(asked: argparse.Namespace) -> int:
    """Start JupyterLab on the notebooks, on this machine only and with its token."""
    if subprocess.run([sys.executable, "-c", "import jupyterlab"], capture_output=True, check=False).returncode:
        raise ValueError("JupyterLab is not installed; install with: pip install 'vanpower[notebooks]'")
    folder = notebooks_folder()
    command = [sys.executable, "-m", "jupyterlab", "--ip=127.0.0.1", f"--ServerApp.root_dir={folder}",
               f"--LabApp.default_url=/lab/tree/{FIRST_NOTEBOOK}"]  # fmt: skip
    command += ["--no-browser"] if asked.no_browser else []
    command += ["--allow-root"] if hasattr(os, "geteuid") and os.geteuid() == 0 else []
    return subprocess.run(command, check=False).returncode


def notebooks_folder() -> Path:
    """The notebooks: beside the package where it is worked on, else a copy here that one may edit."""
    beside = Path(__file__).resolve().parent.parent / "notebooks"
    if (beside / FIRST_NOTEBOOK).exists():
        return beside
    own = Path.cwd() / "vanpower-notebooks"
    if not own.exists():
        shutil.copytree(Path(__file__).resolve().parent / "notebooks", own)
    return own
