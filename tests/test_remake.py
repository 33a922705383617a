"""Charts made again: the same numbers, the same picture, and a plain warning where something is not the same."""

from __future__ import annotations

import errno
import io
import re
import sys
from dataclasses import replace
from functools import cache

import matplotlib.pyplot as plt
import pytest
from matplotlib.figure import Figure
from matplotlib.text import Text

from vanpower import __version__
from vanpower.cli import main
from vanpower.figures.style import MADE_BY
from vanpower.files.resources import data_folder
from vanpower.files.rig_files import example
from vanpower.rig import Days, Load, Parked, Shade, Snapshot, Stop
from vanpower.sharing.picture_reading import read_chart
from vanpower.sharing.recipe import chart_recipe
from vanpower.sharing.recipe_line import recipe_in
from vanpower.sharing.registry import CHARTS
from vanpower.sharing.saving import draw, drawn_from, forum_answer, recipe_for, remake, save_chart, write_chart
from vanpower.simulation.run import simulate
from vanpower.studies.comparison import compare
from vanpower.studies.trips import walk_trip
from vanpower.trials.analysis import analyse_trial
from vanpower.trials.logs import read_log

MOMENT = Snapshot(light=700, temp_cell=30, shade=(Shade(panel=0, substring=0, lit=0.2),))
LOG = "time,ghi,temp_air\n" + "".join(f"2026-06-01 {hour}:00,{100 * hour - 500},20\n" for hour in range(10, 15))


TRIAL = """minutes wiring watts light temp
0 2p 100 500 24
5 2p 104 520 25
10 2p 107 530 -
20 2s 111 540 25
25 2s 114 560 26
30 2s 117 570 26
40 2p 116 580 27
45 2p 120 600 27
50 2p 122 610 28
"""


@cache
def run():
    """A short day of hours, with battery and loads."""
    rig = example("bookmobile")
    rig = replace(rig, battery=replace(rig.battery, capacity_ah=90.0), loads=(Load(name="fridge", p_load=30.0),))
    return simulate(rig.wirings(), Days(weather="greensboro", day="dull"))


def subject(kind: str):
    """Something each chart can show."""
    rig = example("bookmobile")
    if kind in ("ceiling", "diagram", "sheet"):
        return rig
    if kind in ("run", "charge", "months", "ladder"):
        return run()
    if kind == "roof":
        return compare(example("goat-cheese-van").wirings(), Parked(latitude_deg=50.0, day="03-21", step_min=60.0))
    if kind == "page":
        return [compare(rig.wirings(), Days(day=day)) for day in ("dull", "bright")]
    if kind == "trial":
        return analyse_trial(read_log(TRIAL))
    if kind == "trip":
        return walk_trip(rig, (Stop(name="woods", weather="greensboro", from_day="12-01", to_day="12-03"),))
    return compare(rig.wirings(), Days(day="dull") if kind == "day" else MOMENT)


@pytest.mark.parametrize("ending", [".png", ".svg"])
@pytest.mark.parametrize("kind", CHARTS)
def test_every_chart_of_the_kit_is_made_again_to_the_last_digit_and_byte(tmp_path, kind, ending):
    first, second = tmp_path / f"a{ending}", tmp_path / f"b{ending}"
    saved = save_chart(first, kind, subject(kind))
    made = remake(read_chart(first))
    assert made.recipe == saved
    assert made.differences == ()
    assert made.numbers == saved.numbers != {}
    write_chart(second, made.recipe, made.figure)
    assert first.read_bytes() == second.read_bytes()


def test_numbers_of_the_recipe_are_those_of_the_study():
    day = subject("day")
    recipe, _ = drawn_from(recipe_for("day", day))
    table = day.table().to_pandas()
    for name in day.outcomes:
        assert recipe.numbers[name] == f"{table.loc[name, 'Wh']:.1f} Wh"
        assert recipe.numbers[f"{name}, cable"] == f"{table.loc[name, 'lost: cable']:.1f}"


def test_numbers_of_the_ceiling_are_those_of_the_label():
    rig = example("puppet-stage")
    panel = rig.panels[0]
    cold = 2 * panel.v_oc * (1 + panel.beta_voc_pct_per_k / 100 * (rig.climate.temp_coldest - 25))
    numbers = draw(chart_recipe("ceiling", {"rig": rig})).numbers
    assert float(numbers["circuit 1, cold volts"].split()[0]) == pytest.approx(cold, abs=0.1)
    assert float(numbers["circuit 1, left"].split()[0]) == pytest.approx(80 - cold, abs=0.006)


def test_foot_of_the_picture_names_kit_version_and_recipe(tmp_path):
    saved = save_chart(tmp_path / "a.svg", "power", subject("power"))
    assert f"{MADE_BY}, recipe {saved.id}: vanpower remake draws it again" in (tmp_path / "a.svg").read_text()


def test_options_of_a_chart_are_kept(tmp_path):
    save_chart(tmp_path / "a.png", "power", subject("power"), p_top=900, v_top=95)
    figure = remake(read_chart(tmp_path / "a.png")).figure
    assert figure.axes[0].get_xlim()[1] >= 95
    assert figure.axes[0].get_ylim()[1] > 900


@pytest.mark.parametrize(
    ("kind", "options", "words"),
    [
        ("pover", {}, "'pover' is not known; did you mean power?"),
        ("\x1b[2J", {}, r"There are answer, power"),
        ("power", {"ax": "x"}, "has no option 'ax'; it knows p_top, v_top"),
        ("power", {"p_top": "900"}, "p_top of chart power is a number above 0"),
        ("power", {"p_top": -1}, "number above 0"),
        ("power", {"p_top": 1e9}, "up to 1e\\+06"),
        ("day", {"p_top": 1}, "it knows none"),
        ("answer", {"exec": "x"}, "it knows none"),
        ("ceiling", {"exec": True}, "it knows none"),
    ],
)
def test_chart_or_option_that_is_not_known_is_told(kind, options, words):
    recipe = chart_recipe(kind, example("bookmobile").wirings(), MOMENT, **options)
    with pytest.raises(ValueError, match=words) as error:
        draw(recipe)
    assert str(error.value).isprintable()


def test_chart_of_a_light_without_one_is_told():
    with pytest.raises(ValueError, match="needs a light or a day"):
        draw(chart_recipe("power", {"rig": example("bookmobile")}))


def test_comparisons_of_unlike_rigs_share_no_picture():
    with pytest.raises(ValueError, match="save one each"):
        recipe_for("answer", [subject("power"), compare(example("puppet-stage").wirings(), MOMENT)])


def test_names_with_dollar_signs_are_letters_and_no_formula():
    rigs = {r"$\frac{1}{$ van": replace(example("bookmobile"), name="$x_$")}
    figure = draw(chart_recipe("answer", rigs, MOMENT)).figure
    assert r"$\frac{1}{$ van" in [text.get_text() for text in figure.findobj(Text)]
    figure.canvas.draw()


def test_name_that_steers_a_terminal_makes_no_recipe():
    with pytest.raises(ValueError, match=r"a rig is called '\?\[2J', with a letter that breaks its line or steers"):
        chart_recipe("answer", {"\x1b[2J": example("bookmobile")}, MOMENT)


def test_text_of_an_answer_carries_the_recipe_of_the_chart_that_goes_with_it(tmp_path):
    saved = save_chart(tmp_path / "a.png", "power", subject("power"), p_top=300)
    assert recipe_in(forum_answer(subject("power"), kind="power", p_top=300), "post") == saved


def test_charts_leave_no_figure_behind_for_a_notebook_to_show(tmp_path):
    plt.close("all")
    for kind in CHARTS:
        draw(recipe_for(kind, subject(kind)))
    assert plt.get_fignums() == []


@pytest.mark.parametrize("spoilt", [{"power": -400.0}, {"light": 0.0}, {"temp": -300.0}, {"v_array": 9e9}])
def test_trial_of_a_stranger_with_values_that_cannot_be_is_refused_in_a_line(spoilt):
    recipe = recipe_for("trial", subject("trial"))
    rows = replace(recipe.requests[0], **{name: (value,) * 9 for name, value in spoilt.items()})
    with pytest.raises(ValueError, match=f"{next(iter(spoilt))} is .* makes sense"):
        draw(replace(recipe, requests=(rows,)))


@pytest.mark.parametrize("watts", [-20.0, 0.0, 1e-9])
def test_trial_of_a_sleeping_rig_is_drawn_and_cannot_tell(watts):
    recipe = recipe_for("trial", subject("trial"))
    chart = draw(replace(recipe, requests=(replace(recipe.requests[0], power=(watts,) * 9),)))
    assert chart.numbers["answer"] == "close"


@pytest.mark.parametrize("kind", ["power", "run", "ceiling", "sheet", "trial"])
def test_chart_of_another_kind_of_recipe_is_refused_in_a_line(kind):
    rows = recipe_for("trial", subject("trial"))
    other = replace(rows, kind=kind) if kind != "trial" else recipe_for("trial", example("bookmobile"))
    with pytest.raises(ValueError, match=f"^(chart {kind} needs|power of chart|matters|chart {kind} has no option)"):
        draw(replace(other, options={}))


def test_part_of_a_run_or_one_that_was_stopped_has_no_recipe():
    with pytest.raises(ValueError, match="stopped by hand"):
        recipe_for("run", replace(run(), interrupted=True))
    with pytest.raises(ValueError, match="a part of a run"):
        recipe_for("run", replace(run(), time=run().time[:5]))


def test_wiring_of_a_chart_is_kept_and_an_unknown_one_told(tmp_path):
    save_chart(tmp_path / "a.png", "charge", run(), wiring="2p")
    assert remake(read_chart(tmp_path / "a.png")).figure.axes[0].get_title(loc="left").startswith("2p: ")
    with pytest.raises(ValueError, match="has no wiring '9s'; there are 2s, 2p"):
        draw(recipe_for("months", run(), wiring="9s"))


# What is not the same


def test_numbers_that_differ_are_told_with_both_values():
    recipe, _ = drawn_from(recipe_for("power", subject("power")))
    edited = replace(recipe, numbers=recipe.numbers | {"2s": "999.9 W"})
    made = remake(edited)
    assert made.differences == (f"2s: 999.9 W then, {recipe.numbers['2s']} now",)
    assert "WARNING: 1 of" in made.verdict
    assert "The recipe was edited" in made.verdict


def test_other_versions_are_named_whether_numbers_differ_or_not():
    recipe, _ = drawn_from(recipe_for("power", subject("power")))
    older = replace(recipe, versions=recipe.versions | {"vanpower": "0.0.9", "numpy": "1.0"})
    assert f"vanpower 0.0.9 then, {__version__} now" in remake(older).verdict
    assert "same to the last printed digit" in remake(older).verdict
    changed = replace(older, numbers=recipe.numbers | {"2p": "1.0 W"})
    assert "The versions above may be why" in remake(changed).verdict


# The command line


def test_answer_prints_the_block_and_saves_the_chart_that_says_the_same(capsys, tmp_path):
    picture = tmp_path / "answer of Grete.png"
    assert main(["answer", "bookmobile", "--light", "150", "--temp", "12", "--chart", str(picture)]) == 0
    out, err = capsys.readouterr()
    assert out.startswith("No difference within 3 %: ")
    assert f"Chart written to {picture}; it carries recipe {read_chart(picture).id}" in err
    (tmp_path / "post.txt").write_text(out, encoding="utf-8")
    assert read_chart(tmp_path / "post.txt") == read_chart(picture)


def test_remake_prints_the_answer_and_says_that_numbers_are_the_same(capsys, tmp_path):
    chart, new = tmp_path / "a.png", tmp_path / "b.svg"
    main(["compare", "bookmobile", "--light", "150", "--chart", str(chart)])
    compared = capsys.readouterr().out.split("\n\n", 1)[1].strip()
    assert main(["remake", str(chart), "--out", str(new)]) == 0
    out = capsys.readouterr().out
    assert out.startswith(compared)
    assert re.search(r"All \d+ numbers are the same to the last printed digit", out)
    assert read_chart(new).id == read_chart(chart).id


def test_remake_of_other_numbers_ends_with_one_and_lists_them(capsys, tmp_path):
    recipe, chart = drawn_from(recipe_for("power", subject("power")))
    edited = replace(recipe, numbers={name: "0.0 W" for name in recipe.numbers} | {f"row {k}": "1" for k in range(20)})
    write_chart(tmp_path / "a.png", edited, chart.figure)
    assert main(["remake", str(tmp_path / "a.png"), "--out", str(tmp_path / "b.png")]) == 1
    out = capsys.readouterr().out
    assert f"  2s: 0.0 W then, {recipe.numbers['2s']} now" in out
    assert re.search(r"and \d+ more", out)


def test_remake_without_a_name_writes_one_in_this_folder(capsys, tmp_path, monkeypatch):
    saved = save_chart(tmp_path / "a.png", "power", subject("power"))
    (tmp_path / "here").mkdir()
    monkeypatch.chdir(tmp_path / "here")
    assert main(["remake", "../a.png"]) == 0
    assert [path.name for path in (tmp_path / "here").iterdir()] == [f"remade-{saved.id}.png"]


def test_remake_reads_a_post_that_is_piped_in(capsys, tmp_path, monkeypatch):
    main(["answer", "hay-cart", "--markdown"])
    post = capsys.readouterr().out.replace("\n", "\n> ")
    monkeypatch.setattr(sys, "stdin", io.TextIOWrapper(io.BytesIO(post.encode())))
    assert main(["remake", "-", "--out", str(tmp_path / "a.png")]) == 0
    assert "Hay cart" in capsys.readouterr().out


def test_chart_of_a_file_is_made_again_without_the_file(capsys, tmp_path):
    log, chart = tmp_path / "tuesday.csv", tmp_path / "a.png"
    log.write_text(LOG, encoding="utf-8")
    main(["compare", "bookmobile", "--day", str(log), "--chart", str(chart)])
    log.unlink()
    assert main(["remake", str(chart), "--out", str(tmp_path / "b.png")]) == 0
    assert "tuesday, 1 Jun, 3500 Wh/m² on the flat" in capsys.readouterr().out


@pytest.mark.parametrize(
    "words",
    ["day bookmobile --day dull --load 20 --chart", "trial LOG --chart", "sheet bookmobile --out"],
)
def test_chart_of_every_command_is_made_again(capsys, tmp_path, words):
    chart = tmp_path / "a.png"
    log = str(data_folder() / "logs" / "apple-barn.csv")
    assert main([*words.replace("LOG", log).split(), str(chart)]) == 0
    assert "it carries recipe" in capsys.readouterr().out
    assert main(["remake", str(chart), "--out", str(tmp_path / "b.svg")]) == 0
    assert "numbers are the same to the last printed digit" in capsys.readouterr().out


def test_chart_too_large_for_a_recipe_is_saved_without_and_says_so(capsys, tmp_path):
    log, chart = tmp_path / "seconds.csv", tmp_path / "a.png"
    rows = [f"2026-06-01 12:{k // 60:02}:{k % 60:02},500,20" for k in range(1600)]
    log.write_text("\n".join(["time,ghi,temp_air", *rows]), encoding="utf-8")
    assert main(["compare", "bookmobile", "--wiring", "2s", "--day", str(log), "--chart", str(chart)]) == 0
    assert "it carries no recipe: a day has 1600 rows" in capsys.readouterr().out
    assert main(["remake", str(chart)]) == 2


def test_pdf_is_saved_without_a_recipe_and_says_so(capsys, tmp_path):
    chart = tmp_path / "a.pdf"
    assert main(["compare", "bookmobile", "--chart", str(chart)]) == 0
    assert "carries no recipe: it is a PDF" in capsys.readouterr().out
    assert main(["remake", str(chart)]) == 2
    assert "is a PDF, which carries no recipe" in capsys.readouterr().err


def test_file_of_somebody_else_is_not_written_over(capsys, tmp_path):
    save_chart(tmp_path / "a.png", "power", subject("power"))
    (tmp_path / "holiday.png").write_bytes(b"\x89PNG a beach")
    assert main(["remake", str(tmp_path / "a.png"), "--out", str(tmp_path / "holiday.png")]) == 2
    assert (tmp_path / "holiday.png").read_bytes() == b"\x89PNG a beach"
    assert "is no picture of this kit; choose another name" in capsys.readouterr().err


@pytest.mark.parametrize("code", [errno.ENOSPC, errno.EACCES, errno.EROFS])
def test_disk_that_takes_nothing_is_said_plainly_and_keeps_the_old_picture(capsys, tmp_path, monkeypatch, code):
    chart = tmp_path / "a.png"
    save_chart(chart, "power", subject("power"))
    before = chart.read_bytes()

    def full(*words, **more):
        raise OSError(code, "No space left on device")

    monkeypatch.setattr(Figure, "savefig", full)
    assert main(["remake", str(chart), "--out", str(chart)]) == 2
    assert "a.png could not be written: No space left on device." in capsys.readouterr().err
    assert chart.read_bytes() == before
    assert [path.name for path in tmp_path.iterdir()] == ["a.png"]


@pytest.mark.parametrize("hour", [None, 9.5])
def test_roof_with_its_shadows_can_be_made_again(tmp_path, hour):
    rig = example("goat-cheese-van")
    parked = Parked(latitude_deg=50.0, day="03-21", hour=hour, step_min=60.0)
    comparison = compare(rig.wirings(), parked)
    path = tmp_path / "roof.png"
    saved = save_chart(path, "roof", comparison)
    again = remake(read_chart(path))
    assert again.differences == ()
    assert again.numbers["3s"] == f"{comparison.outcomes['3s'].energy_wh:.1f} {comparison.unit}"
    assert saved.requests == (parked,)


def test_parked_van_goes_with_no_other_chart():
    rig = example("goat-cheese-van")
    parked = Parked(latitude_deg=50.0, day="03-21", hour=9.5)
    with pytest.raises(ValueError, match="a parked van goes with chart roof"):
        remake(chart_recipe("day", {"3s": rig}, parked))
    with pytest.raises(ValueError, match="a light or a day with the others"):
        remake(chart_recipe("roof", {"3s": rig}, Snapshot(light=500.0, temp_cell=20.0)))
