"""Doors to everything that is frozen in tests/reference/frozen: by name, what gives numbers, charts or printed words.

The tests of what is frozen know nothing of the package but these dictionaries, so that a package whose modules and
names have moved is held to the same answers once its doors are mended here.
"""

from __future__ import annotations

import contextlib
import io
import os
import re
import shlex
import shutil
import tempfile
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any
from unittest import mock

import numpy as np
from matplotlib.figure import Figure

from vanpower import (
    Days,
    LowLightReading,
    PanelReadings,
    Parked,
    Reading,
    Rig,
    Shade,
    Snapshot,
    Verdict,
    analyse_trial,
    calibrate_panel,
    check,
    check_used_panel,
    coldest_dawn,
    compare,
    compare_headings,
    compare_roofs,
    compare_with_model,
    example,
    examples,
    fixture_costs,
    how_sure,
    plan_trial,
    rank_wirings,
    read_controllers,
    read_log,
    shade_map,
    shortlist,
    simulate,
    stuck_tracker,
    sweep,
)
from vanpower.checks.fuses import reverse_current
from vanpower.checks.parts import parts
from vanpower.cli import COMMANDS, main
from vanpower.components.low_light import best_watts, dull_band, dull_middle
from vanpower.figures.diagram import plot_folded
from vanpower.figures.roof import RoofPairChart, plot_shade_map
from vanpower.files.resources import data_folder
from vanpower.files.stops import read_stops
from vanpower.sharing.page import PAGE
from vanpower.sharing.recipe import chart_recipe
from vanpower.sharing.registry import CHARTS
from vanpower.sharing.saving import draw, recipe_for
from vanpower.simulation.run import Run
from vanpower.studies.comparison import Comparison
from vanpower.studies.restarts import two_hills
from vanpower.studies.roof import compare_trackers, string_mates

Numbers = dict[str, float]
TOP = Path(__file__).parents[1]
LIGHTS = {
    "bright": Snapshot(light=950.0, temp_cell=55.0),
    "dull": Snapshot(light=60.0, temp_cell=8.0),
    "shaded": Snapshot(light=800.0, temp_cell=30.0, shade=(Shade(panel=0, substring=0, lit=0.2),)),
    "median day": Days(day="median"),
}
SHADED = LIGHTS["shaded"]
HALF = Snapshot(light=800.0, temp_cell=40.0, shade=(Shade(panel=0, branch=0, lit=0.2),))
# half of a half-cut panel
BRIGHT_DAY = Days(weather="sand-point", day="bright")
YEAR = Days(weather="greensboro", day="all")
NINE = Parked(latitude_deg=47, day="06-21", hour=9)
SUMMER_DAY = Parked(latitude_deg=47, day="06-21")
UNLIKE, ROOF, HALF_CUT, SWITCH, LEAKY, TWO, FOUR = (
    "seed-swap", "goat-cheese-van", "dentist-bus", "hay-cart", "cider-press", "bookmobile", "puppet-stage",
)  # fmt: skip
# examples by what they are there for: unlike panels, a roof, half-cut at 48 V, a plain switch, a leak, two and four
SPOT = ("v_array", "i_array", "v_oc", "p_best", "p_array", "p_converter", "p_own", "p_clipped", "p_battery")
# of a controller: where it sits and what it takes


# Numbers


def named(*words: object) -> str:
    """A name of several words."""
    return ", ".join(map(str, words))


def flat(values: Mapping[Any, Any], *first: object) -> Numbers:
    """Numbers in mappings of mappings, by all their names."""
    found: Numbers = {}
    for name, value in values.items():
        found |= flat(value, *first, name) if isinstance(value, Mapping) else {named(*first, name): float(value)}
    return found


def fields_of(one: object, *names: str) -> Numbers:
    """Some numbers of a thing, by their names; of many moments their sum."""
    return {name: float(np.sum(getattr(one, name))) for name in names}


def margins(rigs: Mapping[str, Rig], of: Callable[[Rig], Iterable[Verdict]]) -> Numbers:
    """The margin of every answer, by its place."""
    return {
        named(name, f"check {place}"): verdict.margin
        for name, rig in rigs.items()
        for place, verdict in enumerate(of(rig))
    }


def all_examples() -> dict[str, Rig]:
    """Every example as its file has it."""
    return {name: example(name) for name in examples()}


def brought(comparison: Comparison, *first: object) -> Numbers:
    """What each wiring delivers."""
    return {named(*first, name): outcome.energy_wh for name, outcome in comparison.outcomes.items()}


def in_full(comparison: Comparison, *first: object) -> Numbers:
    """What each wiring delivers and may deliver, where every controller sits, and every loss by its name."""
    found = brought(comparison, *first)
    for name, outcome in comparison.outcomes.items():
        low, high = outcome.band_wh
        more = {"least": low, "label": outcome.label_wh, "most": high, "ceiling": outcome.ceiling.margin}
        more |= {f"lost by {loss}": outcome.lost_wh(loss) for loss in outcome.lost}
        for number, operation in enumerate(outcome.operations):
            more |= {f"circuit {number}, {what}": value for what, value in fields_of(operation, *SPOT).items()}
        found |= flat({what: value for what, value in more.items() if value != 0.0}, *first, name)
    return found


def in_every_light() -> Numbers:
    """Every example in every wiring and every light."""
    return {
        name: watts
        for van, rig in all_examples().items()
        for light, request in LIGHTS.items()
        for name, watts in brought(compare(rig.wirings(shade=request.shade), request), van, light).items()
    }


def checks_as_wired() -> Numbers:
    """Every check of every example, as its file has it."""
    return margins(all_examples(), check)


def checks_otherwise() -> Numbers:
    """Every check of four examples in their other wirings and with the other rules."""
    others = {
        named(name, wiring): rig
        for name in (TWO, UNLIKE, HALF_CUT)
        for wiring, rig in list(example(name).wirings().items())[:2]
    }
    return margins(others | {named(name, "US"): us_rules(example(name)) for name in (TWO, UNLIKE)}, check)


def us_rules(rig: Rig) -> Rig:
    """The rig under the rules of the US."""
    return replace(rig, rule_book="US")


def losses() -> Numbers:
    """Comparisons in full: two panels, unlike ones, a plain switch, half of a half-cut panel in shade at 48 V."""
    asked = {TWO: SHADED, UNLIKE: LIGHTS["bright"], SWITCH: LIGHTS["dull"], HALF_CUT: HALF, LEAKY: LIGHTS["dull"]}
    return {
        name: value
        for name, request in asked.items()
        for name, value in in_full(compare(first_two(example(name)), request), name).items()
    }


def first_two(rig: Rig) -> dict[str, Rig]:
    """A rig in its first two wirings."""
    return dict(list(rig.wirings().items())[:2])


def through_days(run: Run, *first: object) -> Numbers:
    """What a run delivers, its ladder, and the charge at its end and at its lowest."""
    found: Numbers = {}
    for name, outcome in run.outcomes.items():
        low, high = run.band_wh(name)
        ends = {"used": run.used_wh(name), "least": low, "label": run.label_wh(name), "most": high}
        ends |= {"charge at end": outcome.rows.soc[-1], "lowest": outcome.rows.soc.min()}
        ends |= {step: wh for step, wh in run.ladder().steps[name].items() if wh != 0.0}
        found |= flat(ends | {"stored": outcome.stored_wh}, *first, name)
    return found


def year() -> Numbers:
    """A year of two wirings: the ladder, and month by month what came and was taken."""
    run = simulate(first_two(example(TWO)), YEAR)
    found = through_days(run)
    budget = run.budget(run.ranking[0])
    for month in budget.months:
        told = fields_of(month, "could_wh", "used_wh", "served_wh", "dull_wh", "bright_wh", "full", "flat")
        found |= flat(told | {"lasts": budget.autonomy(month)}, month.name)
    return found | {"margin": run.verdict.margin}


def days() -> Numbers:
    """Days with frost, with a plain switch and at 48 V."""
    asked = {LEAKY: "01-28", SWITCH: "dull", HALF_CUT: "bright"}
    return {
        name: value
        for name, day in asked.items()
        for name, value in through_days(simulate({name: example(name)}, Days(day=day))).items()
    }


def roof() -> Numbers:
    """A roof with fixtures: a summer's day, what each fixture costs, headings, places, strings, trackers."""
    rig = example(ROOF)
    assert rig.roof is not None
    rigs = first_two(rig)
    costs = fixture_costs(rigs, NINE)
    plans = {"as it is": rig.roof, "far trees": rig.roof.with_fixture("trees in the east", east_m=40.0)}
    return (
        in_full(compare(rigs, SUMMER_DAY), "day")
        | flat({"clear": costs.clear, "full": costs.full, "alone": costs.alone, "margin": costs.verdict.margin})
        | flat(compare_headings(rigs, NINE, (0, 90, 200)).energy, "heading")
        | flat(compare_roofs(rigs, plans, NINE).energy, "place")
        | flat(compare_trackers(rigs, NINE).energy, "tracker")
        | brought(string_mates(rig, NINE), "mates")
    )


def shade_over_panels() -> Numbers:
    """Watts under a shade that grows from the front and from the left, in some of its lights and reaches."""
    found: Numbers = {}
    for edge in ("front", "left"):
        for name, watts in shade_map(first_two(example(ROOF)), edge=edge).watts.items():
            chosen = watts[::3, ::4]
            found |= {named(edge, name, *place): float(value) for place, value in np.ndenumerate(chosen)}
    return found


def trial() -> Numbers:
    """The trial of the example log: its interval, what made the naive figure, what a model expects, the next plan."""
    log = read_log(data_folder() / "logs" / "apple-barn.csv")
    rig, found = example(TWO), analyse_trial(log)
    model = compare_with_model(found, rig.wired("2p"), rig.wired("2s"))
    told = fields_of(found, "gain", "low", "high", "naive", "disagreement", "unused_wh")
    told |= flat(found.factors, "factor") | {"margin": found.verdict.margin}
    told |= flat({"gain": model.gain, "low": model.low, "high": model.high, "off": model.off}, "model")
    for suspect in model.suspects:
        told |= flat({"gain": suspect.gain, "off": suspect.off}, suspect.name)
    for design in plan_trial(log, gain=0.03, orders=("ABA", "ABBA")).designs:
        told |= flat(fields_of(design, "minutes", "half_width", "chance"), "plan", design.order)
    return told


def dull_light() -> Numbers:
    """A panel calibrated by a reading on a dull day, and how far labels leave others open."""
    panel, light = example(TWO).panels[0], (40.0, 100.0, 400.0)
    readings = {
        "all": LowLightReading(i_sc=0.6, v_oc=20.0, p_mp=9.6, temp_cell=18.0),
        "watts": LowLightReading(i_sc=0.6, p_mp=9.6, temp_cell=18.0),
        "volts": LowLightReading(i_sc=0.6, v_oc=19.6, temp_cell=18.0),
    }
    found: Numbers = {}
    for name, one in {
        "label": panel,
        **{name: calibrate_panel(panel, reading) for name, reading in readings.items()},
    }.items():
        low, high = dull_band([one], light)
        each = {"watts": best_watts(one, light, 20.0), "least": low, "middle": dull_middle([one], light), "most": high}
        for what, values in each.items():
            found |= flat(dict(zip(light, values, strict=True)), name, what)
    return found


def swept() -> Numbers:
    """A table of rigs, lights and controllers."""
    asked = {name: LIGHTS[name] for name in ("bright", "dull")}
    table = (
        sweep(example(TWO).wirings(), asked, controllers={c.name: c for c in read_controllers()[:3]})
        .table()
        .to_pandas()
    )
    return {named(*table.iloc[row][:3], what): float(table.iloc[row][what])
            for row in range(len(table)) for what in ("Wh", "lost: cable", "lost: converter")}  # fmt: skip


def used_and_stuck() -> Numbers:
    """Used panels, trackers stuck on a lower hill, and where the hills of shaded panels lie."""
    rig, panel = example(TWO).wired("2s"), example(TWO).panels[0]
    sunny, dim = {"light": 900.0, "temp_cell": 40.0}, {"light_dull": 45.0, "temp_dull": 14.0}
    used = {
        "sound": PanelReadings(**sunny, i_sc=5.6, v_oc=21.3),
        "weak": PanelReadings(**sunny, i_sc=4.9, v_oc=20.1, i_sc_covered=(4.8, 0.4)),
        "leaky": PanelReadings(**sunny, **dim, v_oc_dull=12.0),
    }
    stuck, free = Reading(v_array=39.0, p_array=35.0), Reading(v_array=27.0, p_array=107.0)
    found = {f"used, {name}": check_used_panel(panel, readings).verdict.margin for name, readings in used.items()}
    found["restarted"] = stuck_tracker(stuck, free, rig=rig).margin
    found["by volts"] = stuck_tracker(stuck, rig=rig).margin
    for name in (TWO, FOUR, ROOF):
        for pair in two_hills(compare(example(name).wirings(), SHADED)):
            told = fields_of(pair, "v_best", "v_other", "p_best", "p_other")
            found |= flat(told, "hills", name, pair.wiring)
    return found


def bought() -> Numbers:
    """A list of controllers, the ranking of wirings, one more panel, and how sure the first wiring is."""
    rig, day = example(TWO), Days(weather="greensboro", day="dull")
    listed = shortlist(rig, read_controllers()[:5], day)
    found = {"list": listed.verdict.margin}
    for offer in (listed.now, listed.free, *listed.offers):
        told = {"Wh a day": offer.wh_day, "more": offer.extra_wh_day}
        priced = offer.price_per_wh_day
        found |= flat(told | ({} if priced is None else {"price": priced}), "list", offer.name)
    for name in (TWO, FOUR):
        for one in rank_wirings(example(name), LIGHTS["bright"]).ranked:
            found[named("ranked", name, one.name)] = one.energy
    for one in rank_wirings(rig.with_one_more_panel(), LIGHTS["bright"]).ranked:
        found[named("one more", one.name)] = one.energy
    sure = how_sure(rig.wirings(), LIGHTS["bright"], samples=8)
    found |= {named("lead", k): float(lead) for k, lead in enumerate(sure.leads)}
    return found | flat(sure.blame, "blame")


def parts_list() -> Numbers:
    """Every number of the list of parts of every circuit, and what flows back."""
    found: Numbers = {}
    for name, rig in all_examples().items():
        for number, circuit in enumerate(rig.circuits):
            for part in parts(rig, circuit):
                amounts = enumerate(re.findall(r"\d+(?:\.\d+)?", f"{part.wanted} {part.have}"))
                found |= {named(name, number, part.name, k): float(amount) for k, amount in amounts}
            found[named(name, number, "flows back")] = reverse_current(rig, circuit).margin
    return found


def cold_places() -> Numbers:
    """The coldest and the hottest of places by their weather."""
    return {
        named(weather, what): value
        for weather in ("sand-point", "greensboro", "miami")
        for what, value in fields_of(coldest_dawn(weather), "temp_coldest", "temp_cell_hottest").items()
    }


NUMBERS: dict[str, Callable[[], Numbers]] = {
    "check": checks_as_wired,
    "check otherwise": checks_otherwise,
    "light": in_every_light,
    "loss": losses,
    "year": year,
    "day": days,
    "roof": roof,
    "shade": shade_over_panels,
    "trial": trial,
    "dull": dull_light,
    "sweep": swept,
    "hill": used_and_stuck,
    "buy": bought,
    "parts": parts_list,
    "cold": cold_places,
}
# by what they are about


# Charts


def chart(kind: str, name: str) -> Figure:
    """One chart of one example, as it is drawn again from its recipe."""
    rig = example(name)
    if kind == "trial":
        return draw(recipe_for(kind, analyse_trial(read_log(data_folder() / "logs" / "apple-barn.csv")))).figure
    if kind in ("ceiling", "diagram", "sheet"):
        return draw(chart_recipe(kind, {"rig": rig})).figure
    if kind == "trip":
        return draw(chart_recipe(kind, {"as it is": rig}, *read_stops("three-coasts"))).figure
    requests = {"roof": (NINE,), "day": (BRIGHT_DAY,), "run": (BRIGHT_DAY,), "charge": (BRIGHT_DAY,),
                "ladder": (BRIGHT_DAY,), "months": (YEAR,), "answer": (SHADED, BRIGHT_DAY)}  # fmt: skip
    return draw(chart_recipe(kind, first_two(rig), *requests.get(kind, (SHADED,)))).figure


def shade_map_chart(name: str) -> Figure:
    """Which wiring wins under a growing shade."""
    ax = Figure(figsize=(6, 4.5)).subplots()
    plot_shade_map(shade_map(first_two(example(name))), ax=ax)
    return ax.figure


def folded_chart(name: str) -> Figure:
    """The wiring diagram as telephones show it."""
    return plot_folded(example(name)).figure


def roof_pair_chart(name: str) -> Figure:
    """A roof with its shadows beside the curves, as it moves under a slider."""
    pair = RoofPairChart(p_top=500, v_top=110)
    pair.update(compare(first_two(example(name)), NINE))
    return pair.figure


WITHOUT_RECIPE = {"shade map": shade_map_chart, "folded": folded_chart, "roof pair": roof_pair_chart}
# charts that no picture carries a recipe of
ONLY = {
    "trial": (TWO,), "trip": (TWO,), "roof": (ROOF,), "shade map": (ROOF,), "roof pair": (ROOF,),
    "months": (TWO, LEAKY, SWITCH),
}  # fmt: skip
# charts that not every example has, or take long
SPLIT, OF_ONE_CONTROLLER = "kiln-bus", ("power", "folded")
# an example with two controllers, and charts that show one
KINDS: dict[str, Callable[[str], Figure]] = {kind: partial(chart, kind) for kind in CHARTS if kind != PAGE}
KINDS |= WITHOUT_RECIPE
# the picture of a page is that of an answer
DRAWN: dict[str, Callable[[], Figure]] = {
    f"{kind} of {name}": partial(draws, name)
    for kind, draws in KINDS.items()
    for name in ONLY.get(kind, all_examples())
    if not (name == SPLIT and kind in OF_ONE_CONTROLLER)
}
# every kind of chart of every example


# Printed words

README = (TOP / "README.md").read_text(encoding="utf-8")
LINES = [line.partition("#")[0].strip() for line in README.splitlines() if line.startswith("    vanpower ")]
SHOWN = [*LINES, *re.findall(r"\| `(vanpower .*)` \|", README)]
# every command that README shows, in its order
SERVES = ("vanpower class", "vanpower lab")
# begin what serves pages until it is stopped
ASKED = ("check {}", "compare {} --light 80 --temp 8", "day {} --day 01-28")
MORE = [f"vanpower {words.format(name)}" for name in all_examples() for words in ASKED] + [
    "vanpower rig goat-cheese-van",
    "vanpower check puppet-stage --rules US",
    "vanpower day dentist-bus --day bright",
    "vanpower compare goat-cheese-van --day 06-21",
]
# what other rigs are told: unlike panels, a plain switch, frost, 48 V, two controllers
COMMAND_NAMES = [command.__name__.rpartition(".")[2].replace("classroom", "class") for command in COMMANDS]
HELPS = ["vanpower --help", *(f"vanpower {name} --help" for name in COMMAND_NAMES)]
PRINTED = {"help": HELPS, "readme": [line for line in SHOWN if not line.startswith(SERVES)], "more": MORE}
# by what they are; those of README need each other's files
MASKED = (
    (re.compile(r"(recipe |remade-)[0-9a-f]{8}"), r"\g<1>********"),
    (re.compile(r"vanpower-recipe .*? = end", re.DOTALL), "vanpower-recipe"),
)
# what hangs on the versions of Python and of the packages below


def said(commands: Iterable[str]) -> Iterator[tuple[str, str]]:
    """Each command as typed, and what it prints with the code it ends with; in a folder of its own."""
    home = Path.cwd()
    with tempfile.TemporaryDirectory() as folder, mock.patch.dict(os.environ, COLUMNS="100", LINES="40"):
        shutil.copytree(data_folder(), Path(folder) / "data")
        os.chdir(folder)
        try:
            for command in commands:
                yield command, _printed(shlex.split(command)[1:])
        finally:
            os.chdir(home)


def _printed(words: list[str]) -> str:
    """What one command prints."""
    out, err = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(err):
        try:
            code: object = main(words)
        except SystemExit as stop:
            code = stop.code
    text = out.getvalue() + (err.getvalue() if code not in (0, 1) else "")
    for pattern, instead in MASKED:
        text = pattern.sub(instead, text)
    return f"{text.rstrip()}\n(ends with {code})\n"
