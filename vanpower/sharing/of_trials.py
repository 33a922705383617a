"""The chart of a field trial, judged anew from the rows that its recipe carries."""

from __future__ import annotations

from dataclasses import replace
from datetime import datetime
from typing import Any

import numpy as np

from vanpower.figures.kinds import KINDS
from vanpower.files.columns import TRIAL
from vanpower.rig import printable
from vanpower.sharing.drawn import Drawn, Numbers, check_options
from vanpower.sharing.recipe import ChartRecipe
from vanpower.sharing.trial_rows import MEASURED, TrialRows
from vanpower.trials.analysis import Trial, analyse_trial
from vanpower.trials.logs import Log

TOLD = ("gamma_pmp_pct_per_k", "matters", "i_charge_max", "v_absorption", "sensor_off_deg")
# keywords of `analyse_trial` that a recipe may hold
LEAST_LIGHT = 1e-3
# [W/m²] rows with less say nothing, and a share of nothing is no number


def rows_in(log: Log) -> TrialRows:
    """A log as rows that a recipe can carry.

    Raises
    ------
    ValueError
        For a log that is too long.
    """
    columns = {name: _column(getattr(log, name)) for name in MEASURED if name == "power" or log.has(name)}
    return TrialRows(
        name=log.name,
        before=log.before,
        minutes=tuple(map(float, log.minutes)),
        wiring=tuple(map(str, log.wiring)),
        stage=tuple(map(str, log.stage)) if log.has("stage") else None,
        start=log.start.isoformat() if log.start else "",
        light_from=log.light_from,
        **columns,  # type: ignore[arg-type]
    )


def log_in(rows: TrialRows) -> Log:
    """The log that a recipe carries, its values held to what a log can mean."""
    count = len(rows.minutes)
    columns: dict[str, Any] = {}
    for name in MEASURED:
        values = getattr(rows, name)
        column = np.full(count, np.nan) if values is None else np.array(values, dtype=float)
        known = TRIAL.column(name)
        known = replace(known, least=LEAST_LIGHT) if name == "light" else known
        bad = column[(column < known.least) | (column > known.most)]
        if bad.size:
            raise ValueError(f"{name} is {bad[0]:g}; {known.sense} makes sense.")
        columns[name] = column
    return Log(
        name=rows.name,
        minutes=np.array(rows.minutes),
        wiring=np.array(rows.wiring),
        stage=np.array(rows.stage) if rows.stage else np.full(count, "", dtype="U1"),
        before=rows.before,
        start=datetime.fromisoformat(rows.start) if rows.start else None,
        light_from=rows.light_from,
        **columns,
    )


def of_trial(recipe: ChartRecipe) -> Drawn:
    """Watts block by block, and what the wiring has to do with them."""
    check_options(recipe, TOLD)
    for name, value in recipe.options.items():
        if value is not None and (isinstance(value, bool) or not isinstance(value, int | float)):
            raise ValueError(f"{name} of chart {recipe.kind} is a number.")
    rows = next((request for request in recipe.requests if isinstance(request, TrialRows)), None)
    if rows is None or len(recipe.requests) > 1:
        raise ValueError(f"chart {recipe.kind} needs the rows of one log.")
    log = log_in(rows)
    trial = analyse_trial(log, **{name: value for name, value in recipe.options.items() if value is not None})  # type: ignore[arg-type]
    said = f"{printable(log.name)}: {log.order}, A is {log.before} and B is {log.after}"
    return Drawn(KINDS[recipe.kind].figure(trial), _numbers(trial), f"{said}\n\n{trial.text()}\n\n{trial.verdict}")


def _numbers(trial: Trial) -> Numbers:
    """What a trial prints."""
    shares = {"gain": trial.gain, "low": trial.low, "high": trial.high, "naive": trial.naive}
    numbers = {name: f"{100 * share:+.1f} %" for name, share in shares.items()}
    numbers |= {f"factor of {name}": f"{factor:.4f}" for name, factor in trial.factors.items()}
    return numbers | {"answer": trial.answer, "rows": f"{len(trial.log)}, {len(trial.used)} of them weighed"}


def _column(values: np.ndarray) -> tuple[float | None, ...]:
    """Numbers, None where nothing was read."""
    return tuple(float(value) if np.isfinite(value) else None for value in values)
