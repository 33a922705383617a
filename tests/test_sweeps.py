"""Many cells in one table: the numbers of a comparison, whoever works them out, and nothing lost half way."""

from __future__ import annotations

import multiprocessing
import os
from concurrent.futures import Executor, Future, ProcessPoolExecutor
from contextlib import contextmanager
from dataclasses import replace

import pandas as pd
import pytest
from conftest import PANEL, tiny_rig

from vanpower import Controller, Days, Shade, Snapshot, compare, example, sweep
from vanpower.checks.caveats import short_word
from vanpower.cli import main
from vanpower.model import light
from vanpower.model.cache import KEPT
from vanpower.model.losses import LOSSES
from vanpower.studies import sweeps

RIGS = {"3s": tiny_rig((PANEL,) * 3, (0, 1, 2)), "3p": tiny_rig((PANEL,) * 3, (0,), (1,), (2,))}
REQUESTS = {
    "dull": Snapshot(light=90.0, temp_cell=12.0),
    "shaded": Snapshot(light=800.0, temp_cell=40.0, shade=(Shade(panel=1, substring=0, lit=0.2),)),
    "day": Days(weather="greensboro", day="median"),
}
CONTROLLERS = {
    "small": Controller(name="small", v_pv_max=60.0, i_charge_max=10.0),
    "large": Controller(name="large", v_pv_max=150.0, i_charge_max=40.0, tracker="climb"),
}
GRID = [(rig, fitted, asked) for rig in RIGS for fitted in CONTROLLERS for asked in REQUESTS]
ABSENT = Days(weather="no-such-file.csv")


@contextmanager
def two_processes():
    with ProcessPoolExecutor(2, mp_context=multiprocessing.get_context("spawn")) as pool:
        yield pool


@contextmanager
def cluster_of_two():
    if "VANPOWER_REQUIRE_TOOLS" not in os.environ:
        pytest.importorskip("distributed", reason="needs distributed; install vanpower[cluster]")
    from distributed import Client, LocalCluster

    with (
        LocalCluster(n_workers=2, threads_per_worker=1, dashboard_address=None) as cluster,
        Client(cluster) as client,
    ):
        yield client.get_executor()


class Backwards(Executor):
    """Works out what was handed in last first, once there is a task for every request."""

    def __init__(self):
        self.work = []

    def submit(self, work, *arguments):
        future = Future()
        self.work.append((future, work, arguments))
        if len(self.work) == len(REQUESTS):
            for waiting, some_work, some in reversed(self.work):
                try:
                    waiting.set_result(some_work(*some))
                except MemoryError as error:
                    waiting.set_exception(error)
        return future


@pytest.fixture(scope="module")
def table() -> pd.DataFrame:
    return sweep(RIGS, REQUESTS, controllers=CONTROLLERS).table().to_pandas()


def keys(table: pd.DataFrame) -> list[tuple[str, ...]]:
    return list(table[["rig", "controller", "request"]].itertuples(index=False, name=None))


def test_every_cell_has_the_numbers_of_a_comparison(table):
    assert keys(table) == GRID
    for row in table.to_dict("records"):
        rig = RIGS[row["rig"]]
        fitted = replace(rig, circuits=(replace(rig.circuits[0], controller=CONTROLLERS[row["controller"]]),))
        found = compare({"it": fitted}, REQUESTS[row["request"]]).outcomes["it"]
        assert row["Wh"] == pytest.approx(found.energy_wh, rel=1e-9)
        assert [row[f"lost: {name}"] for name in LOSSES] == pytest.approx([found.lost_wh(name) for name in LOSSES])
        assert (row["held"], row["allowed"] == "no", row["error"]) == (found.held, found.refused is not None, "")


def test_three_in_series_are_not_allowed_on_a_small_controller(table):
    allowed = dict(zip(keys(table), table["allowed"], strict=True))
    assert allowed["3s", "small", "dull"] == "no"
    assert allowed["3p", "small", "dull"] == allowed["3s", "large", "dull"] == "yes"


def test_what_does_not_work_for_its_battery_is_not_the_best_of_a_sweep(tmp_path, capsys):
    # 4p of 23.1 V never wakes on 24 V, which takes 31.8 V
    rig = example("puppet-stage").with_controller(i_pv_sc_max=60).wired("4p")
    rigs = {"4p": rig, "2s2p": rig.wired("2s2p")}
    found = sweep(rigs, {"bright": Snapshot(light=800.0, temp_cell=40.0)})
    by_name = {row["rig"]: row for row in found.rows}
    assert {name: row["mind"] for name, row in by_name.items()} == {n: short_word(one) for n, one in rigs.items()}
    assert "2s2p delivers most" in found.verdict.sentence
    alone = sweep({"4p": rig}, {"bright": Snapshot(light=800.0, temp_cell=40.0)}).verdict.sentence
    assert "to mind: parts, no wake" in alone
    main(["sweep", "hay-cart", "--light", "800", "--out", str(tmp_path / "it.csv")])
    assert "delivers most, " in (said := capsys.readouterr().out)
    assert "to mind: parts" in said


def test_rows_of_a_sweep_that_are_out_say_why_and_equals_are_counted():
    # "no", and the reason in no column; and one of five controllers that deliver the same was "the best of 5"
    rigs = example("puppet-stage").wirings()
    boxes = {f"{amps} A": Controller(name=f"{amps} A", v_pv_max=80.0, i_charge_max=amps) for amps in (20, 30, 40)}
    found = sweep(rigs, {"dull": Snapshot(light=80.0, temp_cell=10.0)}, controllers=boxes)
    out = {row["rig"]: row["mind"] for row in found.rows if row["allowed"] == "no"}
    assert out["4s"] == "cold ceiling"
    watts = [row["Wh"] for row in found.rows if row["rig"] == "2s2p"]
    assert max(watts) - min(watts) < 0.03 * max(watts)
    assert "; 2 others alike within 3 %" in found.best_of("dull")


@pytest.mark.parametrize("workers", [two_processes, cluster_of_two])
def test_other_processes_give_the_same_table(workers, table, tmp_path):
    with workers() as executor:
        found = (
            sweep(RIGS, REQUESTS, controllers=CONTROLLERS, executor=executor, path=tmp_path / "sweep.csv")
            .table()
            .to_pandas()
        )
    pd.testing.assert_frame_equal(found, table, rtol=1e-12)


def test_rows_keep_their_order_whoever_is_done_first(table, tmp_path):
    found = (
        sweep(RIGS, REQUESTS, controllers=CONTROLLERS, executor=Backwards(), path=tmp_path / "sweep.csv")
        .table()
        .to_pandas()
    )
    assert keys(found) == GRID
    pd.testing.assert_frame_equal(found, table)
    pd.testing.assert_frame_equal(pd.read_csv(tmp_path / "sweep.csv", keep_default_na=False), table, rtol=1e-12)


def test_a_cell_that_fails_is_named_and_the_rest_are_kept():
    found = sweep(RIGS, {"dull": REQUESTS["dull"], "absent": ABSENT}).table().to_pandas()
    errors = dict(zip(keys(found), found["error"], strict=True))
    assert "no-such-file.csv" in errors["3s", "its own", "absent"]
    assert errors["3p", "its own", "dull"] == ""
    assert found["Wh"].isna().tolist() == [False, True, False, True]


def test_a_worker_that_dies_takes_only_its_own_cells_with_it(monkeypatch):
    work = sweeps.rows_of

    def deadly(task):
        if task[0] == REQUESTS["shaded"]:
            raise MemoryError("no more room")
        return work(task)

    monkeypatch.setattr(sweeps, "rows_of", deadly)
    found = sweep(RIGS, REQUESTS, executor=Backwards()).table().to_pandas()
    assert found["error"].tolist() == ["", "MemoryError: no more room", ""] * 2


def test_a_sweep_that_was_broken_off_goes_on_where_it_stopped(table, tmp_path, monkeypatch):
    file = tmp_path / "sweep.csv"
    sweep(RIGS, REQUESTS, controllers=CONTROLLERS, path=file)
    whole = file.read_text(encoding="utf-8")
    lines = whole.splitlines(keepends=True)
    file.write_text("".join(lines[:6]) + lines[6][:40], encoding="utf-8")
    asked, work = [], sweeps.outcome
    monkeypatch.setattr(sweeps, "outcome", lambda rig, request: asked.append(rig) or work(rig, request))
    again = sweep(RIGS, REQUESTS, controllers=CONTROLLERS, path=file).table().to_pandas()
    assert len(asked) == len(GRID) - 5
    pd.testing.assert_frame_equal(again, table, rtol=1e-12)
    assert file.read_text(encoding="utf-8").count("\n") == len(GRID) + 1


def test_what_was_done_before_an_error_is_in_the_file(tmp_path, monkeypatch):
    file, work = tmp_path / "sweep.csv", sweeps.outcome

    def broken_off(rig, request):
        if request == REQUESTS["day"]:
            raise KeyboardInterrupt
        return work(rig, request)

    monkeypatch.setattr(sweeps, "outcome", broken_off)
    with pytest.raises(KeyboardInterrupt):
        sweep(RIGS, REQUESTS, path=file)
    assert len(pd.read_csv(file)) == 4


def test_a_cell_that_failed_is_tried_again(tmp_path):
    file = tmp_path / "sweep.csv"
    sweep(RIGS, {"here": ABSENT}, path=file)
    found = sweep(RIGS, {"here": REQUESTS["dull"]}, path=file).table().to_pandas()
    assert found["error"].tolist() == ["", ""]


def test_rows_of_another_sweep_stay_in_the_file(tmp_path):
    file = tmp_path / "sweep.csv"
    sweep({"3s": RIGS["3s"]}, {"dull": REQUESTS["dull"]}, path=file)
    sweep({"3p": RIGS["3p"]}, {"dull": REQUESTS["dull"]}, path=file)
    assert pd.read_csv(file)["rig"].tolist() == ["3p", "3s"]


def test_a_file_that_is_no_sweep_is_refused_and_left_alone(tmp_path):
    file = tmp_path / "notes.csv"
    file.write_text("my,notes\n1,2\n", encoding="utf-8")
    with pytest.raises(ValueError, match=r"notes\.csv is not a table of a sweep"):
        sweep(RIGS, REQUESTS, path=file)
    assert file.read_text(encoding="utf-8") == "my,notes\n1,2\n"


@pytest.mark.parametrize(("rigs", "requests", "missing"), [({}, REQUESTS, "rigs"), (RIGS, {}, "requests")])
def test_sweep_of_nothing_is_refused(rigs, requests, missing):
    with pytest.raises(ValueError, match=f"at least one of its {missing}"):
        sweep(rigs, requests)


def test_progress_is_shown_cell_by_cell():
    seen = []

    def progress(iterable, *, total, desc):
        for number, row in enumerate(iterable, 1):
            seen.append(f"{desc} {number} of {total}")
            yield row

    sweep(RIGS, {"dull": REQUESTS["dull"]}, progress=progress)
    assert seen == ["sweep 1 of 2", "sweep 2 of 2"]


def test_panels_are_worked_out_once_and_joined_once_a_wiring(monkeypatch):
    counted = {"roof_of": 0, "join": 0}
    for name in counted:
        monkeypatch.setattr(light, name, counting(counted, name, getattr(light, name)))
    light._worked_out.cache_clear()
    KEPT.clear()
    sweep(RIGS, {"dull": REQUESTS["dull"]}, controllers=CONTROLLERS)
    # what evenly lit panels give, alone or together, needs no table
    assert counted == {"roof_of": 0, "join": 0}
    shaded = replace(REQUESTS["dull"], shade=(Shade(panel=0, substring=0, lit=0.5),))
    sweep(RIGS, {"shaded": shaded}, controllers=CONTROLLERS)
    assert counted == {"roof_of": 1, "join": len(RIGS)}


def counting(counted, name, work):
    def count(*arguments, **named):
        counted[name] += 1
        return work(*arguments, **named)

    return count
