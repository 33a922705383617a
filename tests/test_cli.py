"""The command line: answers and exit codes, and one plain message where what was typed makes no sense."""

from __future__ import annotations

import os
import re
import shlex
import shutil
import socket
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from vanpower import cli
from vanpower import shade as shade_notes
from vanpower.cli import main, notebooks, serving
from vanpower.cli.addresses import free_port
from vanpower.files.atomic import PNG_END, sealed
from vanpower.files.examples import examples
from vanpower.files.resources import data_folder, or_the_kits
from vanpower.files.rig_files import example, read_rig, rig_to_toml
from vanpower.rig import Battery, Cable, Circuit, Climate, Controller, Days, Load, Panel, Shade, Snapshot, table
from vanpower.sharing.picture_reading import read_chart
from vanpower.studies.ranking import forbidden

LOG = "time,ghi,temp_air\n" + "".join(f"2026-06-01 {hour}:00,{100 * hour - 500},20\n" for hour in range(10, 15))


def told(capsys, *words: str) -> str:
    """The one message after bad input; nothing is printed as an answer."""
    assert main(words) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("vanpower: ")
    assert "Traceback" not in err
    assert err.count("\n") == 1
    return err


def refused(capsys, *words: str) -> str:
    """What the reader of the words says when it stops by itself."""
    with pytest.raises(SystemExit) as stop:
        main(words)
    assert stop.value.code == 2
    return capsys.readouterr().err.splitlines()[-1]


# README


README = (Path(__file__).parents[1] / "README.md").read_text(encoding="utf-8")
LINES = [line for line in README.splitlines() if line.startswith("    vanpower ")]
SHOWN = [shlex.split(line, comments=True)[1:] for line in [*LINES, *re.findall(r"\| `(vanpower .*)` \|", README)]]
# every command that README shows, as typed
SLOW = {"class", "lab", "roof", "day", "year", "sheet", "shortlist"}
# words that serve pages or walk through days; these are only read, and other tests run them


def test_readme_shows_every_command():
    modules = {command.__name__.rsplit(".", 1)[1] for command in cli.COMMANDS}
    assert {words[0] for words in SHOWN} == modules - {"classroom", "notebooks"} | {"class", "lab"}


def test_commands_of_readme_run_as_shown_one_after_another(capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    shutil.copytree(data_folder(), tmp_path / "data")
    for words in SHOWN:
        asked = cli._parser().parse_args(words)
        for name in [word for word in words if word.startswith("data/") or word == getattr(asked, "rig", "")]:
            assert Path(name).exists() or name in examples(), name
        if words[0] not in SLOW and not {"--day", "--list"} & set(words):
            assert main(words) in (0, 1), words
    assert {path.name for path in tmp_path.iterdir()} >= {"asked.toml", "answer.png", "proof.png"}


def test_short_rig_of_readme_is_one_that_can_be_checked(capsys, tmp_path):
    (block,) = re.findall(r"```toml\n(.*?)```", README, re.DOTALL)
    (tmp_path / "van.toml").write_text(block, encoding="utf-8")
    assert main(["check", str(tmp_path / "van.toml")]) == 1
    out = capsys.readouterr().out
    # no coefficient on the label, so a steep one: 75 V - 2 x 22.1 V x (1 + 0.00375 x (25 + 15)) = 24.17 V
    assert out.startswith("My van: 2s\n\nOK          Cold ceiling        24.1 V left")
    assert "\nNO " not in out.split("the reasons")[0]


# rig


def test_rig_is_printed_with_every_field_of_its_tables_given_or_not(capsys):
    assert main(["rig", "bookmobile"]) == 0
    out = capsys.readouterr().out
    keys = {key.lstrip("# ") for key in re.findall(r"^(#? ?\w+) =", out, re.MULTILINE)}
    for kind in (Panel, Battery, Climate, Load, Controller, Cable, Circuit):
        assert {name for name, field in table(kind).items() if not field.is_part} <= keys


def test_rig_is_written_reads_back_as_the_same_and_never_over_a_file(capsys, tmp_path):
    path = tmp_path / "mine.toml"
    assert main(["rig", "puppet-stage", "--out", str(path)]) == 0
    assert read_rig(path) == example("puppet-stage")
    capsys.readouterr()
    assert "mine.toml is there already and stays as it is" in told(capsys, "rig", "bookmobile", "--out", str(path))
    assert "ends in .txt; write .toml" in told(capsys, "rig", "bookmobile", "--out", str(tmp_path / "mine.txt"))
    assert read_rig(path) == example("puppet-stage")
    assert list(tmp_path.iterdir()) == [path]


# check


def test_check_of_a_rig_that_is_fit_throughout_ends_with_zero(capsys, tmp_path):
    # in parallel stays under 30 V; a thick cable and a roof that keeps cool leave nothing to settle
    text = (data_folder() / "rigs" / "bookmobile.toml").read_text(encoding="utf-8")
    text = text.replace("section_mm2 = 4\n", "section_mm2 = 10\n").replace("hottest = 74", "hottest = 45")
    cool = tmp_path / "cool.toml"
    cool.write_text(text, encoding="utf-8")
    assert main(["check", str(cool)]) == 0
    out = capsys.readouterr().out
    assert out.startswith("Bookmobile, two small panels: 2p\n")
    words = [line.split()[0] for line in out.splitlines() if line and line[0] != " "][1:]
    assert words == ["OK"] * 19 + ["By"] + ["YES"] * 19 + ["Not"]


@pytest.mark.parametrize(("rig", "wiring", "worst"), [("bookmobile", "2p", "CHECK"), ("puppet-stage", "4s", "NO")])
def test_check_with_any_no_or_close_ends_with_one(capsys, rig, wiring, worst):
    assert main(["check", rig, "--wiring", wiring]) == 1
    assert f"\n{worst} " in capsys.readouterr().out


def test_check_without_a_wiring_takes_the_one_of_the_file(capsys, tmp_path):
    path = tmp_path / "van.toml"
    path.write_text(rig_to_toml(example("puppet-stage").wired("4p")), encoding="utf-8")
    assert main(["check", str(path)]) == 1
    assert capsys.readouterr().out.startswith("Puppet stage, four panels at 24 V: 4p\n")


def test_check_of_all_wirings_goes_through_every_one(capsys):
    assert main(["check", "puppet-stage", "--wiring", "all"]) == 1
    out = capsys.readouterr().out
    assert [line.rsplit(" ", 1)[1] for line in out.splitlines() if line.startswith("Puppet")] == ["4s", "2s2p", "4p"]


def test_check_begins_with_a_line_for_each_answer_and_what_is_left(capsys):
    main(["check", "puppet-stage", "--wiring", "4s"])
    glance = capsys.readouterr().out.split("\n\n")[1].splitlines()
    assert glance[0].split() == ["NO", "Cold", "ceiling", "23.7", "V", "short"]
    assert all(line[:10].rstrip() in ("OK", "CHECK", "NOT STATED", "NO") for line in glance)
    assert max(map(len, glance)) < 66


def test_check_takes_another_frost_and_another_rule_book(capsys):
    main(["check", "puppet-stage", "--coldest", "-30"])
    assert "at -30 °C" in capsys.readouterr().out
    main(["check", "puppet-stage", "--coldest", "sand-point", "--rules", "US"])
    out = capsys.readouterr().out
    assert "less 11 K for a 20-year low" in " ".join(out.split())
    assert "By US rules" in out


def test_check_list_ranks_the_allowed_and_tells_why_the_others_are_out(capsys):
    assert main(["check", "puppet-stage", "--list"]) == 0
    now, later = capsys.readouterr().out.split("With one more")
    assert "\n2s2p " in now
    assert "\n4s    out: cold ceiling" in now
    assert "\n5s  out" in later
    assert "a controller of its own" in later


def test_list_advises_two_more_panels_only_where_these_are_allowed(capsys, tmp_path):
    main(["check", "puppet-stage", "--list"])
    assert "rated for it, or add two and wire all 3s2p." in " ".join(capsys.readouterr().out.split())
    six = example("puppet-stage").with_one_more_panel().with_one_more_panel()
    assert forbidden(six.wired("3s2p")) is None
    # a ceiling that not one panel keeps below in frost
    low = tmp_path / "low.toml"
    low.write_text(rig_to_toml(example("puppet-stage").with_controller(v_pv_max=20.0)), encoding="utf-8")
    main(["check", str(low), "--list"])
    assert "give the new panel a controller of its own, rated for it.\n" in capsys.readouterr().out


def test_check_list_says_how_sure_it_is(capsys):
    main(["check", "bookmobile", "--list"])
    assert "How sure: is 2s ahead of 2p, at 800 W/m²" in capsys.readouterr().out


def test_check_list_ranks_and_weighs_over_days(capsys):
    main(["check", "bookmobile", "--list", "--day", "dull", "--weather", "greensboro"])
    out = capsys.readouterr().out
    assert out.count("Greensboro (typical year)") == 3
    assert re.search(r"^2p +\d+ Wh +100 %", out, re.MULTILINE)
    assert "stand for the draws" in out


def test_compare_says_how_sure_it_is_over_a_day_and_only_where_asked(capsys):
    words = ["compare", "seed-swap", "--day", "bright", "--wiring", "3p", "3s"]
    assert main(words) == 0
    plain = capsys.readouterr().out
    assert main([*words, "--sure"]) == 0
    sure = capsys.readouterr().out
    assert sure.startswith(plain.rstrip("\n"))
    assert "How sure: is 3p ahead of 3s, Sand Point (typical year)" in sure.removeprefix(plain.rstrip("\n"))


def test_sheet_is_written_and_says_so(capsys, tmp_path):
    for ending, magic in (("pdf", b"%PDF"), ("png", b"\x89PNG")):
        path = tmp_path / f"page.{ending}"
        assert main(["sheet", "bookmobile", "--out", str(path)]) == 0
        assert path.read_bytes().startswith(magic)
        assert f"Page written to {path}" in capsys.readouterr().out


def test_shortlist_tells_what_to_do_before_the_list(capsys, tmp_path):
    words = ("shortlist", "bookmobile", "--weather", "greensboro", "--day", "median")
    assert main(words) == 0
    out = capsys.readouterr().out
    assert out.index("Keep what you have") < out.index("\nwhat is there now ")
    assert "small 60 V 10 A    fails: input current" in out


def test_check_of_two_controllers_names_both_wirings(capsys):
    main(["check", "kiln-bus"])
    out = capsys.readouterr().out
    assert "2s + 2s" in out.splitlines()[0]
    assert out.count("Cold ceiling:") == 2
    assert "Cold ceiling, P1+P2 " in out


# compare


def test_compare_prints_table_and_verdict_and_ends_with_zero(capsys):
    assert main(["compare", "puppet-stage", "--light", "80", "--temp", "12"]) == 0
    out = capsys.readouterr().out
    assert "at 80 W/m² and cells at 12 °C" in out
    assert [line.split()[0] for line in out.splitlines() if line.endswith(" W") or " %  " in line][:3]
    assert "Does the wiring matter" in out


def test_compare_without_light_takes_800_watts_at_25_degrees(capsys):
    assert main(["compare", "bookmobile"]) == 0
    assert "at 800 W/m² and cells at 25 °C" in capsys.readouterr().out


def test_compare_of_named_wirings_leaves_the_others_out(capsys):
    assert main(["compare", "puppet-stage", "--wiring", "4p", "2s2p"]) == 0
    names = [line.split()[0] for line in capsys.readouterr().out.splitlines() if " %  " in line]
    assert sorted(names) == ["2s2p", "4p"]


def test_compare_apart_adds_a_controller_for_every_panel(capsys):
    assert main(["compare", "seed-swap", "--apart", "--wiring", "3s"]) == 0
    out = capsys.readouterr().out
    assert "\napart " in out
    assert "\n3s " in out
    assert "\n3p " not in out


def test_compare_of_several_days_answers_each(capsys):
    assert main(["compare", "bookmobile", "--day", "dull", "12-21", "--weather", "greensboro"]) == 0
    out = capsys.readouterr().out
    assert out.count("Greensboro (typical year)") == 4
    assert "21 Dec" in out


def test_day_may_be_a_file_of_ones_own(capsys, tmp_path):
    path = tmp_path / "tuesday.csv"
    path.write_text(LOG, encoding="utf-8")
    assert main(["compare", "bookmobile", "--day", str(path)]) == 0
    assert "Bookmobile, two small panels, tuesday, 1 Jun, 3500 Wh/m² on the flat" in capsys.readouterr().out


def test_weather_may_be_a_file_of_several_days(capsys, tmp_path):
    path = tmp_path / "week.csv"
    path.write_text(LOG + LOG.split("\n", 1)[1].replace("06-01", "06-02"), encoding="utf-8")
    assert main(["compare", "bookmobile", "--day", "06-02", "--weather", str(path)]) == 0
    assert "week, 2 Jun" in capsys.readouterr().out


# Shade notes


def requests(*words: str) -> list[Snapshot | Days]:
    """What the words ask for."""
    return cli.options.requests_of(cli._parser().parse_args(["compare", "bookmobile", *words]))


@pytest.mark.parametrize(
    ("note", "shade"),
    [
        ("P2=0.2", Shade(panel=1, lit=0.2)),
        ("P2.1=0.2", Shade(panel=1, substring=0, lit=0.2)),
        ("P1.2x3=0", Shade(panel=0, substring=1, cells=3, lit=0.0)),
        ("p12.3X10=.5", Shade(panel=11, substring=2, cells=10, lit=0.5)),
        ("P1/1=0.2", Shade(panel=0, branch=0, lit=0.2)),
        ("P1.2/1=0.2", Shade(panel=0, substring=1, branch=0, lit=0.2)),
        ("P1.2/2x3=0.2", Shade(panel=0, substring=1, branch=1, cells=3, lit=0.2)),
        ("P1x3=0.2", Shade(panel=0, cells=3, lit=0.2)),
        ("P1/2x3=0.2", Shade(panel=0, branch=1, cells=3, lit=0.2)),
    ],
)
def test_shade_note_counts_from_one_and_names_panel_group_and_cells(note, shade):
    assert requests("--shade", note) == [Snapshot(light=800.0, temp_cell=25.0, shade=(shade,))]


def test_shade_notes_go_with_days_too():
    first, second = requests("--day", "dull", "bright", "--shade", "P1=0.5", "P2=0.1")
    assert (first.day, second.day) == ("dull", "bright")
    assert [note.panel for note in first.shade] == [note.panel for note in second.shade] == [0, 1]


@pytest.mark.parametrize(
    ("note", "words"),
    [
        ("P2", "write P2=0.2, P2.1=0.2, P2/1=0.2 or P2.1x3=0.2"),
        ("P2/0=0.2", "count from 1 here"),
        ("P2/1=0.2", "P2/1: thin 110 W is not half-cut and has no halves. If it is half-cut, write branches = 2"),
        ("2=0.2", "write P2=0.2"),
        ("P2=0,2", "write P2=0.2"),
        ("P2=-0.2", "write P2=0.2"),
        ("P2=0.2.3", "'0.2.3' is not a number"),
        ("P0=0.2", "count from 1 here"),
        ("P2.0=0.2", "count from 1 here"),
        ("P2=20", "Is this percent?"),
        ("P3=0.2", "P3: there are 2 panels"),
        ("P2.3=0.2", "has groups 1 to 2"),
        ("P2.1x19=0.2", "has 1 to 18"),
        ("P2.1x0=0.2", "cells is 0"),
    ],
)
def test_shade_note_that_makes_no_sense_is_told_what_would(capsys, note, words):
    assert words in told(capsys, "compare", "bookmobile", "--shade", note)


@given(
    st.integers(0, 199),
    *(st.none() | st.integers(first, 198) for first in (0, 0, 1)),
)
def test_every_shade_that_the_library_can_say_the_command_line_can(panel, substring, branch, cells):
    shade = Shade(panel=panel, substring=substring, branch=branch, cells=cells, lit=0.25)
    assert shade_notes(f"{shade.place}=0.25") == (shade,)


def test_one_half_of_a_half_cut_panel_is_told_from_both(capsys):
    # the two halves lie side by side under each diode: with one of them dark in every panel, half of the amps are left
    # at the same volts; the converter and the cable lose less of them
    def watts(*notes: str) -> float:
        main(["compare", "dentist-bus", "--wiring", "3s", "--light", "800", *(["--shade", *notes] if notes else [])])
        return float(re.search(r"^3s +([\d.]+) ", capsys.readouterr().out, re.MULTILINE)[1])

    clear, half = watts(), [watts(*(f"P{panel}/{one}=0" for panel in (1, 2, 3))) for one in (1, 2)]
    assert half[0] == half[1] == pytest.approx(0.5 * clear, rel=0.02)
    assert watts("P1=0", "P2=0", "P3=0") == 0.0


def test_a_note_on_half_a_panel_comes_back_out_of_a_post(tmp_path, capsys):
    main(["answer", "dentist-bus", "--light", "800", "--shade", "P1.2/1x3=0.2", "--chart", str(tmp_path / "a.png")])
    post = capsys.readouterr().out
    assert "Shade: P1.2/1x3 gets 20 % of its light." in post
    (tmp_path / "post.txt").write_text(post, encoding="utf-8")
    for name in ("a.png", "post.txt"):
        (request,) = read_chart(tmp_path / name).requests
        assert [note.place for note in request.shade] == ["P1.2/1x3"]


def test_shade_changes_the_answer(capsys):
    for shade in ([], ["--shade", "P2.1=0.1"]):
        main(["compare", "bookmobile", "--wiring", "2p", *shade])
    clear, shaded = (block for block in capsys.readouterr().out.split("Bookmobile, two small panels")[1:])
    assert "with shade" in shaded
    assert "shade" not in clear.split("Rests on")[0].replace("Choose by fuses, plugs and", "")


# Bad input


@pytest.mark.parametrize(
    ("words", "answer"),
    [
        (["check", "bookmobil"], "bookmobile"),
        (["check", "none.toml"], "There is no file none.toml"),
        (["check", "bookmobile", "--wiring", "3s"], "3s needs 3 panels; there are 2"),
        (["check", "bookmobile", "--wiring", "rows"], "write 3s"),
        (["check", "bookmobile", "--coldest", "80"], "Is this Fahrenheit?"),
        (["check", "bookmobile", "--coldest=-5,5"], "write it with a point"),
        (["check", "bookmobile", "--coldest", "greensbro"], "did you mean 'greensboro'"),
        (["check", "bookmobile", "--list", "--wiring", "2s"], "leave out --wiring"),
        (["check", "bookmobile", "--day", "dull"], "add --list"),
        (["check", "bookmobile", "--list", "--weather", "miami"], "add --list --day dull"),
        (["compare", "bookmobile", "--sure", "--wiring", "2s"], "--sure weighs two allowed wirings, and here is 1"),
        (["sheet", "bookmobile", "--out", "gone/page.pdf"], "make it first"),
        (["sheet", "bookmobile", "--out", "page.doc"], "write .png or .svg or .pdf"),
        (["sheet", "bookmobile", "--out", "p.pdf", "--wiring", "all"], "a page shows one wiring"),
        (["shortlist", "bookmobile", "gone.csv"], "cannot be read as a list of controllers: there is no such file"),
        (["shortlist", "bookmobile", "--wiring", "all"], "--rewire tries every wiring"),
        (["compare", "bookmobile", "--wiring", "2s", "3p"], "3p needs 3 panels"),
        (["compare", "bookmobile", "--light", "99999"], "Are these lux?"),
        (["compare", "bookmobile", "--light", "-5"], "a value from 0 to 1800 W/m²"),
        (["compare", "bookmobile", "--light", "nan"], "a value from 0 to 1800 W/m²"),
        (["compare", "bookmobile", "--temp", "140"], "Is this Fahrenheit?"),
        (["compare", "bookmobile", "--day", "dull", "--light", "500"], "leave out --light and --temp"),
        (["compare", "bookmobile", "--weather", "greensboro"], "add --day dull"),
        (["compare", "bookmobile", "--day", "13-45"], "write dull, median, bright or month-day"),
        (["compare", "bookmobile", "--day", "dull", "--weather", "sandpoint"], "did you mean 'sand-point'"),
        (["compare", "bookmobile", "--day", "gone.csv"], "gone.csv cannot be read"),
    ],
    ids=" ".join,
)  # fmt: skip
def test_bad_input_ends_with_two_and_one_message(capsys, words, answer):
    assert answer in told(capsys, *words)


def test_wrong_rig_file_is_one_plain_error(capsys, tmp_path):
    path = tmp_path / "van.toml"
    path.write_text(rig_to_toml(example("bookmobile")).replace("v_oc = 22.3", "v_oc = 22.3 V"), encoding="utf-8")
    assert main(["check", str(path)]) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert "van.toml" in err
    assert "Traceback" not in err


def test_wrong_weather_file_is_one_plain_error(capsys, tmp_path):
    path = tmp_path / "log.csv"
    path.write_text(LOG.replace("500,20", "500,5,20,1"), encoding="utf-8")
    assert "log.csv" in told(capsys, "compare", "bookmobile", "--day", str(path))


@pytest.mark.parametrize(("text", "hint"), [("80,5", "write it with a point"), ("bright", "is not a number")])
def test_light_that_is_no_number_gets_a_word_on_commas(capsys, text, hint):
    last = refused(capsys, "compare", "bookmobile", "--light", text)
    assert hint in last
    assert ("point" in last) == ("," in text)


def test_unknown_command_names_the_known_ones(capsys):
    last = refused(capsys, "chekc", "bookmobile")
    assert "check" in last
    assert "compare" in last


def test_help_shows_commands_to_copy(capsys):
    with pytest.raises(SystemExit) as stop:
        main(["--help"])
    assert stop.value.code == 0
    assert "vanpower compare data/rigs/bookmobile.toml --light 80 --temp 12" in capsys.readouterr().out


def test_module_runs_as_a_program_and_hands_its_exit_code_on():
    run = subprocess.run([sys.executable, "-m", "vanpower", "check", "nowhere"], capture_output=True, text=True)
    assert run.returncode == 2
    assert run.stdout == ""
    assert run.stderr.startswith("vanpower: 'nowhere' is not an example rig.")


def test_interrupt_ends_quietly(capsys, monkeypatch):
    def interrupted(text: str) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli.check, "rig_from", interrupted)
    assert main(["check", "bookmobile"]) == 130
    assert capsys.readouterr() == ("", "")


def test_pairings_that_differ_by_shade_alone_are_both_compared(capsys):
    # P1 and P3 in the same shade share a string at no loss; each beside a lit panel, both strings suffer
    assert main(["compare", "puppet-stage", "--light", "800", "--shade", "P1=0.2", "P3=0.2"]) == 0
    out = capsys.readouterr().out
    shares = {line[:22].strip(): line for line in out.splitlines() if " %  " in line}
    assert "2s2p (P1+P3 | P2+P4)" in shares
    assert "2s2p" in shares
    assert out.index("\n2s2p (P1+P3 | P2+P4) ") < out.index("\n2s2p  ")


# Charts


@pytest.mark.parametrize("light", [["--light", "500"], ["--day", "dull", "bright"]], ids=["moment", "two days"])
def test_chart_is_written_beside_the_answer(capsys, tmp_path, light):
    path = tmp_path / "answer.png"
    assert main(["compare", "bookmobile", *light, "--chart", str(path)]) == 0
    assert path.read_bytes().startswith(b"\x89PNG")
    out = capsys.readouterr().out
    assert f"Chart written to {path}" in out
    assert "Does the wiring matter" in out
    assert [file.name for file in tmp_path.iterdir()] == ["answer.png"]


@pytest.mark.parametrize("name", ["gone/answer.png", "answer.xyz"])
def test_chart_that_cannot_be_written_is_one_plain_error(capsys, tmp_path, name):
    path = tmp_path / name
    told(capsys, "compare", "bookmobile", "--wiring", "2s", "--chart", str(path))
    assert list(tmp_path.iterdir()) == []


def test_folder_named_like_a_chart_is_one_plain_error(capsys, tmp_path):
    (tmp_path / "answer.png").mkdir()
    told(capsys, "compare", "bookmobile", "--wiring", "2s", "--chart", str(tmp_path / "answer.png"))


def test_sealed_chart_of_another_version_is_written_over_and_anything_else_is_not(capsys, tmp_path):
    path = tmp_path / "answer.png"
    older = b"\x89PNG Software vanpower 0.0.1"
    path.write_bytes(sealed(older + PNG_END))
    assert main(["compare", "bookmobile", "--wiring", "2s", "--chart", str(path)]) == 0
    capsys.readouterr()
    for held, why in ((b"\x89PNG of a van with power", "is no picture of this kit"), (older, "of an older version")):
        path.write_bytes(held)
        assert why in told(capsys, "compare", "bookmobile", "--wiring", "2s", "--chart", str(path))
        assert path.read_bytes() == held


# Notebooks


@pytest.fixture
def ran(monkeypatch, tmp_path):
    """The commands that would be run, and their environments; `missing` packages are not found."""
    state = SimpleNamespace(commands=[], environments=[], missing=set())

    def serve(command: list[str], env: dict[str, str], port: int, listening: Callable[[], None]) -> int:
        state.commands.append(command)
        state.environments.append(env)
        listening()
        return 0

    monkeypatch.setattr(serving, "serve", serve)
    monkeypatch.setattr(serving, "data_folders", lambda: [str(tmp_path)])
    for part in serving.DATA:
        (tmp_path / part).mkdir(parents=True)
    monkeypatch.setattr(notebooks, "find_spec", lambda name: None if name in state.missing else name)
    return state


def test_without_a_command_the_pages_open_on_this_machine_only(ran):
    assert main([]) == 0
    (command,) = ran.commands
    assert command[1:5] == ["-m", "vanpower.pages", "lab", str(notebooks.notebooks_folder())]
    assert "--ip=127.0.0.1" in command
    assert "--LabApp.default_url=/voila/render/00-start.ipynb" in command
    assert not any("token" in word or "password" in word for word in command)
    assert "--no-browser" not in command


def test_lab_opens_the_same_server_on_the_notebook_with_its_code(ran):
    assert main([]) == main(["lab"]) == 0
    pages, lab = [{word for word in command if not word.startswith("--port=")} for command in ran.commands]
    assert lab ^ pages == {f"--LabApp.default_url={way}00-start.ipynb" for way in ("/voila/render/", "/doc/tree/")}


def test_what_is_printed_is_one_address_with_a_new_token_and_how_to_stop(ran, capsys):
    # the server's own chatter stood around it, and one Ctrl+C asked a question
    tokens = []
    for words, where in (([], "/voila/render/"), (["lab"], "/doc/tree/")):
        assert main(words) == 0
        said = capsys.readouterr().out
        (found,) = re.findall(rf"^http://127\.0\.0\.1:(\d+){where}00-start\.ipynb\?token=(\S+)$", said, re.MULTILINE)
        assert f"--port={found[0]}" in ran.commands[-1]
        assert said.rstrip().endswith("End with Ctrl+C.")
        # the environment has it, which other users of the machine cannot read, and the words of the command have not
        assert ran.environments[-1]["JUPYTER_TOKEN"] == found[1]
        assert not any(found[1] in word for word in ran.commands[-1])
        tokens.append(found[1])
    assert len(set(tokens)) == 2
    assert min(map(len, tokens)) >= 32


def test_no_browser_is_handed_on(ran):
    assert main(["--no-browser"]) == main(["lab", "--no-browser"]) == 0
    assert all("--no-browser" in command for command in ran.commands)


def test_kernels_are_told_where_the_van_is_whatever_folder_their_page_lies_in(ran, monkeypatch, tmp_path):
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("VANPOWER_VAN", raising=False)
    assert main([]) == 0
    monkeypatch.setenv("VANPOWER_VAN", "vans/hers.toml")
    assert main([]) == 0
    told = [env["VANPOWER_VAN"] for env in ran.environments]
    assert told == [str(tmp_path / "my-van.toml"), str(tmp_path / "vans" / "hers.toml")]


@pytest.mark.parametrize("package", ["jupyterlab", "voila", "anywidget"])
def test_a_missing_package_is_told_with_how_to_get_it(package, ran, capsys):
    ran.missing = {package}
    said = told(capsys)
    assert package in said
    assert "pip install 'vanpower[notebooks]'" in said
    assert ran.commands == []


LATE = """import socket, sys, time
time.sleep(0.3)
with socket.create_server(("127.0.0.1", int(sys.argv[1]))) as server:
    server.accept()
    server.accept()
"""
# listens after a while: to the look, and to who is told


def test_an_address_is_told_once_somebody_answers_there():
    # it was printed before the server was started, and who was quick was refused
    told, port = [], free_port(8888)

    def listening() -> None:
        with socket.create_connection(("127.0.0.1", port)):
            told.append(port)

    assert serving.serve([sys.executable, "-c", LATE, str(port)], dict(os.environ), port, listening) == 0
    assert told == [port]


def test_a_server_that_ends_before_it_listens_gives_its_code_and_no_address(capsys):
    command = [sys.executable, "-c", "raise SystemExit(3)"]
    assert serving.serve(command, dict(os.environ), free_port(8888), lambda: print("here")) == 3
    assert "here" not in capsys.readouterr().out


@pytest.mark.parametrize("part", serving.DATA)
def test_what_jupyter_lacks_is_told_before_a_page_waits_for_it_forever(part, ran, capsys, tmp_path):
    (tmp_path / part).rmdir()
    said = told(capsys)
    assert all(
        word in said for word in (part, f"--force-reinstall {serving.DATA[part]}", "JUPYTER_PATH", str(tmp_path))
    )
    assert ran.commands == []


def test_notebooks_lie_beside_the_package_or_are_copied_once(monkeypatch, tmp_path):
    assert (notebooks.notebooks_folder() / notebooks.FIRST_NOTEBOOK).is_file()
    installed = tmp_path / "site" / "vanpower"
    (installed / "notebooks").mkdir(parents=True)
    (installed / "notebooks" / notebooks.FIRST_NOTEBOOK).write_text("{}")
    monkeypatch.setattr(notebooks, "__file__", str(installed / "cli" / "notebooks.py"))
    monkeypatch.chdir(tmp_path)
    copy = notebooks.notebooks_folder()
    (copy / notebooks.FIRST_NOTEBOOK).write_text("mine")
    assert notebooks.notebooks_folder() == copy == tmp_path / "vanpower-notebooks"
    assert (copy / notebooks.FIRST_NOTEBOOK).read_text() == "mine"


@pytest.mark.parametrize(("typed", "asked"), [("88", 88.0), ("sand-point", 69.0)])
def test_check_takes_the_hottest_cells_as_a_number_or_as_these_panels_get_in_a_years_weather(typed, asked, capsys):
    main(["check", "bookmobile", "--hottest", typed])
    assert f"Hot floor: do {asked:g} °C cells" in capsys.readouterr().out


@pytest.mark.parametrize(("typed", "says"), [("-.5", ""), ("-4F", "write °C and no unit: --coldest -20")])
def test_frost_is_taken_without_an_equals_sign_and_another_unit_is_told(typed, says, capsys):
    assert main(["check", "bookmobile", "--coldest", typed]) in ((2,) if says else (0, 1))
    assert says in capsys.readouterr().err


@pytest.mark.parametrize("path", sorted(set(re.findall(r"data/\S+\.csv", README))))
def test_files_that_readme_names_are_found_from_any_folder(path, tmp_path, monkeypatch):
    # three of its lines were refused in a scratch folder, with "there is no such file"
    monkeypatch.chdir(tmp_path)
    assert or_the_kits(Path(path)).is_file()
    (tmp_path / "data").mkdir()
    (tmp_path / "data/shortlist.csv").write_text("mine")
    assert or_the_kits(Path("data/shortlist.csv")) == Path("data/shortlist.csv")
