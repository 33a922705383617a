"""`vanpower trial`: was it the wiring or the sun, out of a log."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from vanpower.cli.options import ALL_YES, FORM, RIG_HELP, as_typed, number, rig_from

if TYPE_CHECKING:
    from vanpower.rig import Rig
    from vanpower.trials.analysis import Trial
    from vanpower.trials.logs import Log

MORE = """\
columns are recognised by common names; name others once:
  vanpower trial van.csv --columns power="Panel output" light="Sensor 2" wiring=Remark
no file? vanpower trial - reads rows as you type them: a line of names, a line a reading, parted by blanks, Ctrl+D:
  minutes wiring watts light
  0 2p 100 500
no column says which wiring was in use? Give the times:
  vanpower trial van.csv --blocks "2p 9:00-9:20, 2s 9:30-9:50, 2p 10:00-10:20"
light comes from a sensor, from the short-circuit amps of a spare panel (--spare-isc, its label amps), or on a cloudless
day from a computed curve (--clear-sky LATITUDE LONGITUDE HOURS, the clock's hours ahead of UTC).
"""
TYPED, MOST_TYPED = "-", 200_000
# the log that is typed, and the letters it may have: some thousands of rows; no source
LEAST_MATTERS, MOST_MATTERS = 0.1, 50.0
# [%] the least gain that can matter, as `analyse_trial` takes it


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower trial`."""
    about = "was it the wiring or the sun: the gain in a log and how sure it is"
    trial = commands.add_parser("trial", help=about, epilog=MORE, formatter_class=FORM)
    trial.usage, trial.description = "vanpower trial LOG.csv [options]", f"{about[0].upper()}{about[1:]}."
    trial.add_argument(
        "log",
        metavar="LOG.csv",
        help="rows of time, wiring, watts, and if you can light and temperature; - for rows typed here",
    )
    trial.add_argument(
        "--columns", nargs="+", default=[], metavar="FIELD=NAME", help="what columns are called in this log"
    )
    trial.add_argument("--blocks", metavar="TIMES", help="wiring and times of each block, see below")
    trial.add_argument("--dates", default="", choices=("day-first", "month-first"), help="how dates with slashes begin")
    trial.add_argument(
        "--before", default="", metavar="WIRING", help="the wiring that was there first (that of the first row)"
    )
    trial.add_argument("--spare-isc", type=number, metavar="A", help="label short-circuit amps of the spare panel")
    trial.add_argument(
        "--clear-sky", type=number, nargs=3, metavar=("LAT", "LON", "HOURS"), help="light computed, see below"
    )
    trial.add_argument(
        "--gamma", type=number, metavar="%/K", help="power of the panels with heat, off the label (-0.40)"
    )
    trial.add_argument("--matters", type=number, default=3.0, metavar="%", help="the least gain that would matter (3)")
    trial.add_argument(
        "--sensor-off",
        type=number,
        metavar="DEG",
        help="how far the light sensor may lie off the panels' plane (unknown); 1 beside them on the same board",
    )
    trial.add_argument("--rig", metavar="RIG.toml", help=f"{RIG_HELP}; says what the model expects")
    trial.add_argument(
        "--wirings", nargs=2, metavar=("OLD", "NEW"), help="the rig's two wirings, where the log has other words"
    )
    trial.add_argument("--chart", type=Path, metavar="OUT.png", help="draw the answer into this file")
    trial.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the blocks, the verdict and what the model says, and draw them."""
    from vanpower.trials.analysis import analyse_trial
    from vanpower.trials.of_rigs import told_of

    log = _log(asked)
    rig = rig_from(asked.rig) if asked.rig else None
    of_rig = {} if rig is None else told_of(rig)
    gamma = of_rig.pop("gamma_pmp_pct_per_k", None) if asked.gamma is None else asked.gamma
    if not LEAST_MATTERS <= asked.matters <= MOST_MATTERS:
        slip = " Is it a share? 0.03 is 3 %." if asked.matters < LEAST_MATTERS else ""
        sense = f"from {LEAST_MATTERS:g} to {MOST_MATTERS:g} % makes sense"
        raise ValueError(f"--matters is {asked.matters:g} %; {sense}.{slip}")
    told = {**of_rig, "gamma_pmp_pct_per_k": gamma, "matters": asked.matters / 100, "sensor_off_deg": asked.sensor_off}
    with as_typed({"gamma_pmp_pct_per_k": "--gamma", "sensor_off_deg": "--sensor-off"}):
        trial = analyse_trial(log, **told)
    more = "" if rig is None else _expected(trial, rig, asked.wirings)
    if asked.chart:
        _draw(trial, asked.chart, told)
    print(f"{log.name}: {log.order}, A is {log.before} and B is {log.after}\n\n{trial.text()}\n\n{trial.verdict}{more}")
    return ALL_YES


def _log(asked: argparse.Namespace) -> Log:
    """The log with its light."""
    from vanpower.trials.light_sources import clear_light, spare_light
    from vanpower.trials.logs import read_log

    if Path(asked.log).suffix.lower() == ".toml":
        raise ValueError(f"{asked.log} is a rig file; name a log, and the rig behind --rig.")
    columns = {}
    for pair in asked.columns:
        field, equals, name = pair.partition("=")
        if not equals or not name:
            raise ValueError(f'--columns {pair!r} names no column; write power="Panel output".')
        columns[field] = name
    dates = asked.dates.replace("-", " ")
    if asked.blocks is not None and not asked.blocks.strip():
        raise ValueError('--blocks is empty; write wiring, from, to: "2p 9:00-9:20, 2s 9:30-9:50", or leave it out.')
    told = {"columns": columns, "blocks": asked.blocks or "", "dates": dates, "before": asked.before}
    log = read_log(_typed().encode(errors="replace") if asked.log == TYPED else asked.log, **told)
    if asked.spare_isc is not None:
        log = spare_light(log, asked.spare_isc)
    return clear_light(log, *asked.clear_sky) if asked.clear_sky else log


def _typed() -> str:
    """Rows out of standard input, with a word on how to end them where a person types."""
    if sys.stdin is None or sys.stdin.closed:
        raise ValueError("trial - reads rows that are typed, and nothing can be typed here; name a log.")
    if sys.stdin.isatty():
        print("A line of names, such as: minutes wiring watts light. Then a line a reading; end with Ctrl+D.",
              file=sys.stderr)  # fmt: skip
    rows = sys.stdin.read(MOST_TYPED + 1)
    if len(rows) > MOST_TYPED:
        raise ValueError(f"more than {MOST_TYPED} letters were typed; save them as a file and name that.")
    if not rows.strip():
        raise ValueError("no row was typed; write a line of names, such as minutes wiring watts light, then rows.")
    return rows


def _expected(trial: Trial, rig: Rig, wirings: list[str] | None) -> str:
    """What the model says to it."""
    from vanpower.trials.model_comparison import compare_with_model

    if trial.belief is None or not trial.log.has("light"):
        return "\n\nThe model was not asked: without light and a gain there is nothing to hold against it."
    old, new = wirings or (trial.log.before, trial.log.after)
    try:
        before, after = rig.wired(old), rig.wired(new)
    except ValueError as trouble:
        names = f" The log calls them {old} and {new}; say what they are of this rig: --wirings OLD NEW."
        raise ValueError(f"{trouble}{'' if wirings else names}") from None
    expected = compare_with_model(trial, before, after)
    return f"\n\n{expected.text()}\n\n{expected.verdict}"


def _draw(trial: Trial, path: Path, told: Mapping[str, float | None]) -> None:
    """Draw the trial into a picture, written whole or not at all."""
    from vanpower.figures.kinds import KINDS
    from vanpower.sharing.saving import save_with_words

    said = save_with_words(path, "trial", trial, plainly=lambda: KINDS["trial"].figure(trial), **told)
    print(f"Chart {said}\n")
