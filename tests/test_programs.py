"""Ten programs a teacher writes: each imports from `vanpower` alone, in one line, and says what it should."""

from __future__ import annotations

import ast

import matplotlib.pyplot as plt
import pandas as pd
import pytest

from vanpower.files.resources import data_folder
from vanpower.results.result import Shown

PROGRAMS = {
    "one panel in dull light": """
from vanpower import Panel, panel_curve
panel = Panel(name="110 W", v_oc=22.3, i_sc=6.25, v_mp=18.5, i_mp=5.92, cells_in_series=36, substrings=2)
answer = panel_curve(panel, light=100, temp_cell=15)
answer.plot()
""",
    "wirings": """
from vanpower import Snapshot, compare, example
answer = compare(example("puppet-stage").wirings(), Snapshot(light=800, temp_cell=30))
""",
    "another cable": """
from vanpower import Snapshot, compare, example
rig = example("bookmobile")
answer = compare({"4 mm²": rig, "10 mm²": rig.with_cable(section_mm2=10)}, Snapshot(light=1000, temp_cell=40))
""",
    "shade on half of a half-cut panel": """
from vanpower import Snapshot, compare, example, shade
half_cut = example("dentist-bus").panels[0]
rig = example("bookmobile").with_panels(half_cut, half_cut)
half = Snapshot(light=800, temp_cell=40, shade=shade("P1/1=0.2"))
answer = compare(rig.wirings(shade=half.shade), half)
""",
    "the coldest dawn": """
from vanpower import check, example
answer = check(example("puppet-stage").wired("4s").with_climate(temp_coldest=-25))["cold ceiling"]
""",
    "a day": """
from vanpower import Days, example, simulate
answer = simulate(example("bookmobile").wirings(), Days(weather="sand-point", day="bright june"))
answer.plot("months")
""",
    "a roof": """
from vanpower import Parked, example, fixture_costs
answer = fixture_costs(example("goat-cheese-van").wirings(), Parked(latitude_deg=47, day="06-21", hour=9))
""",
    "a log that is a DataFrame": """
from vanpower import analyse_trial, read_log
answer = analyse_trial(read_log(frame, columns={"power": "PV W", "wiring": "plug"}))
""",
    "a plan": """
from vanpower import plan_trial, read_log
answer = plan_trial(read_log(pilot, pilot=True), gain=0.03)
""",
    "a sweep": """
from vanpower import Snapshot, example, sweep
rigs = {f"{s} mm²": example("bookmobile").with_cable(section_mm2=s) for s in (2.5, 4.0, 6.0, 10.0)}
answer = sweep(rigs, {f"{g} W/m²": Snapshot(light=g, temp_cell=25) for g in (100, 400, 1000)})
answer.table("rig", "request")
""",
}


def given() -> dict[str, object]:
    """What a teacher has at hand: the path of a log, and the same rows as a frame with names of its own."""
    pilot = data_folder() / "logs" / "apple-barn.csv"
    frame = pd.read_csv(pilot, comment="#", sep=";", decimal=",")
    frame["Zeit"] = pd.to_datetime(frame["Zeit"], dayfirst=True)
    return {"pilot": pilot, "frame": frame.rename(columns={"Leistung (W)": "PV W", "Schaltung": "plug"})}


@pytest.mark.parametrize("name", PROGRAMS)
def test_program_imports_from_vanpower_alone_and_shows_its_answer(name):
    program = PROGRAMS[name].strip()
    imports = [node for node in ast.walk(ast.parse(program)) if isinstance(node, ast.Import | ast.ImportFrom)]
    assert [node.module for node in imports if isinstance(node, ast.ImportFrom)] == ["vanpower"]
    names = given() if "frame" in program or "pilot" in program else {}
    exec(compile(program, name, "exec"), names)
    answer = names["answer"]
    plt.close("all")
    assert 0 < len(repr(answer)) <= 120
    assert "\n" not in repr(answer)
    if isinstance(answer, Shown):
        assert "<table" in answer._repr_html_()


def test_ten_programs_are_short():
    lines = sum(len(program.strip().splitlines()) for program in PROGRAMS.values())
    assert len(PROGRAMS) == 10
    assert lines <= 41
    # such programs took 76 lines when they imported from ten modules
