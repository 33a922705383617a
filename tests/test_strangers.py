"""Names and notes of strangers: none breaks a line, steers a screen, turns the reading or runs in a spreadsheet."""

from __future__ import annotations

import csv
import html
import re
import sys
import zlib
from dataclasses import fields, is_dataclass, replace
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import matplotlib

matplotlib.use("Agg")

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from vanpower import Snapshot, compare, example, read_rig, rig_to_toml, widgets
from vanpower.checks.registry import check
from vanpower.cli import main
from vanpower.files.atomic import defused, fused
from vanpower.files.resources import data_folder
from vanpower.rig import (
    Days,
    Description,
    Inverter,
    Load,
    MadeSky,
    Parked,
    Place,
    Rig,
    Source,
    Stop,
    WeatherLog,
    WeatherRows,
    printable,
)
from vanpower.sharing.saving import forum_answer
from vanpower.sharing.trial_rows import TrialRows
from vanpower.studies.sweeps import sweep
from vanpower.trials.faults.readings import FaultReadings

FORGED = "OK          Cold ceiling            99.0 V left"
NASTY = {
    "line break": f"van\n{FORGED}", "carriage return": f"van\r{FORGED}", "next line": f"van\x85{FORGED}",
    "line separator": f"van\u2028{FORGED}", "paragraph separator": f"van\u2029{FORGED}",
    "vertical tab": f"van\v{FORGED}",
    "form feed": f"van\f{FORGED}", "file separator": f"van\x1c{FORGED}", 
    "escape": "van\x1b[2J\x1b[1A", "C1": "van\x9b2J",
    "bell": "van\a", "backspace": "van\b\b\bcar", "NUL": "van\0", "delete": "van\x7f", "tab": "van\t=1+1",
    "override": "van\u202e V 99", "mark": "\u200fvan", "isolate": "van\u2066x\u2069", "embedding": "\u202bvan",
    "zero width": "va\u200bn", "byte-order mark": "\ufeffvan", "soft hyphen": "va\u00adn", "tag": "van\U000e0041",
    "half a letter": "van\ud800", "no letter": "van\uffff",
}  # fmt: skip
# texts that would do something: Unicode's categories Cc, Cf, Cs, Cn, Zl and Zp (The Unicode Standard, 4.5), whose
# Cf holds the bidirectional controls of UAX #9, 2.1 to 2.6
HARMLESS = [
    '=HYPERLINK("http://x.y/","2s")', "+cmd|' /C calc'!A0", "@SUM(1+9)*9", "-2+3", "<script>alert(1)</script>",
    r"$\frac{1}{0}$ and $_7", "`x` *bold* | [a](http://b.c) #", "{name} %s {0} \\N{BULLET} \\n", "مون‌ون 👨‍👩‍👧 ü",
    "W" * 200, "", " ",
]  # fmt: skip
# texts that only stand there, and must come through; the first four are taken from what spreadsheets run
PATHS = {("WeatherLog", "path"), ("Days", "weather"), ("Stop", "weather")}
# fields that may be a file's name, in which half letters stand for bytes


def parts(value: object) -> list[Any]:
    """Every description in a value."""
    if isinstance(value, tuple):
        return [found for part in value for found in parts(part)]
    if not is_dataclass(value):
        return []
    return [value, *(found for each in fields(value) for found in parts(getattr(value, each.name)))]


def with_loads() -> Rig:
    """A rig with every kind of part."""
    rig = example("goat-cheese-van")
    places = (("coast", rig.climate.temp_coldest), ("pass", rig.climate.temp_coldest + 1))
    return replace(rig, loads=(Load(name="pump", p_load=5.0),), climate=replace(rig.climate, places=places))


ROWS = {"seconds": (0, 3600), "step_h": 1.0, "ghi": (5.0, 6.0), "temp_air": (1.0, 2.0), "wind_speed": (1.0, 1.0)}
TRIAL = {"minutes": (0.0, 2.0, 4.0, 6.0, 8.0, 10.0), "wiring": ("2p", "2p", "2p", "2s", "2s", "2s"),
         "power": (90.0, 91.0, 92.0, 95.0, 96.0, 96.0), "stage": ("bulk",) * 6}  # fmt: skip
KNOWN = {
    type(part): part
    for part in [
        *parts(with_loads()),
        *parts(Days()),
        Parked(latitude_deg=50, day="06-21"),
        Source(name="belt", kind="alternator", i_charge_max=30.0),
        Inverter(p_own=8.0, efficiency_pct=90.0),
        Stop(name="lake", weather="miami", from_day="07-04", to_day="07-06"),
        MadeSky(kind="half-sine"),
        Place(latitude_deg=1, longitude_deg=1),
        WeatherLog(path="a.csv", columns=(("ghi", "Sun"),)),
        WeatherRows(place="yard", start="2026-06-21T11:00", notes=("a", "b"), **ROWS),
        TrialRows(name="yard", before="2p", **TRIAL),
        FaultReadings(v_array=18.0, stage="bulk", measured=(("open", 41.2),)),
    ]
}


def textual(value: object) -> bool:
    """Whether a field holds a text somewhere."""
    return isinstance(value, str) or (isinstance(value, tuple) and any(map(textual, value)))


def spoilt(value: Any, text: str) -> Any:
    """The value with the text in the place of its first text."""
    if isinstance(value, str):
        return text
    at = next(k for k, part in enumerate(value) if textual(part))
    return (*value[:at], spoilt(value[at], text), *value[at + 1 :])


def spoil(kind: type, field: str, text: str) -> Any:
    """A description with the text in one of its fields."""
    return replace(KNOWN[kind], **{field: spoilt(getattr(KNOWN[kind], field), text)})


FIELDS = [(kind, each.name) for kind, one in KNOWN.items() for each in fields(one) if textual(getattr(one, each.name))]


def subclasses(kind: type) -> set[type]:
    """Every kind of it that a module of the kit holds; classes of examples come and go."""
    found = {one for direct in kind.__subclasses__() for one in (direct, *subclasses(direct))}
    return {one for one in found if getattr(sys.modules.get(one.__module__), one.__name__, None) is one}


def test_every_description_with_a_text_is_looked_at():
    """No kind of description is left out, so that one that comes later is tried as well."""
    texts = {kind for kind in subclasses(Description) if any("str" in str(each.type) for each in fields(kind))}
    assert {kind.__name__ for kind in texts} - {kind.__name__ for kind, _ in FIELDS} == set()


@pytest.mark.parametrize(("kind", "field"), FIELDS, ids=[f"{kind.__name__}.{field}" for kind, field in FIELDS])
@pytest.mark.parametrize("what", NASTY)
def test_text_that_does_something_is_refused_in_every_field(kind, field, what):
    if (kind.__name__, field) in PATHS and what == "half a letter":
        pytest.skip("a file may be called so")
    with pytest.raises(ValueError, match=rf"{kind.__name__}\.{field}") as error:
        spoil(kind, field, NASTY[what])
    assert str(error.value) == printable(str(error.value))


@settings(max_examples=300, deadline=None)
@given(
    st.sampled_from(FIELDS),
    st.text(st.characters(categories=["Cc", "Cf", "Zl", "Zp", "Cn", "Co", "L", "N"]), max_size=30),
)
def test_text_of_any_letters_is_a_plain_line_or_refused(place, text):
    kind, field = place
    if text != printable(text):
        with pytest.raises(ValueError, match=f"{kind.__name__}.{field}") as error:
            spoil(kind, field, text)
        assert str(error.value) == printable(str(error.value))
    elif field in ("name", "source", "basis", "other_chargers"):
        assert getattr(spoil(kind, field, text), field) == text


@pytest.mark.parametrize("most", [("name", 200), ("source", 1000)])
def test_text_without_end_is_refused(most):
    field, letters = most
    replace(with_loads(), **{field: "W" * letters})
    with pytest.raises(ValueError, match=f"has {letters + 1} letters; up to {letters} make sense"):
        replace(with_loads(), **{field: "W" * (letters + 1)})


# Files, by every command


def plain(said: str) -> bool:
    """Whether what was printed has no letter that steers, and no line that a stranger forged."""
    lines = said.split("\n")
    return all(line == printable(line) for line in lines) and not any(line.strip().startswith(FORGED) for line in lines)


TOML = rig_to_toml(with_loads())
COMMANDS = (
    "check|check {} --list|check {} --wiring all|compare|day|year|roof|sheet {} --out out.svg|answer|"
    "answer {} --markdown|shortlist|rig|rig {} --out out.toml"
)


@pytest.mark.parametrize("command", COMMANDS.split("|"))
@pytest.mark.parametrize("what", ["line break", "escape", "override", "line separator", "NUL", "C1"])
def test_rig_file_of_a_stranger_is_refused_by_every_command_in_one_line(command, what, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    escaped = NASTY[what].encode("unicode_escape").decode().replace("\\x", "\\u00")
    old = next(line for line in TOML.splitlines() if line.startswith("name"))
    Path("van.toml").write_text(TOML.replace(old, f'name = "{escaped}"', 1), encoding="utf-8")
    words = (command if "{}" in command else f"{command} {{}}").format("van.toml")
    assert main(words.split()) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert err.startswith("vanpower: van.toml, line 1: name is ")
    assert err.count("\n") == 1
    assert plain(err)
    assert [path.name for path in tmp_path.iterdir()] == ["van.toml"]


LIST = (data_folder() / "shortlist.csv").read_text(encoding="utf-8")
LOG = (data_folder() / "logs" / "apple-barn.csv").read_text(encoding="utf-8")
NOTED = LOG.replace("\n", ";9\n").replace(";9\n", ";NOTE\n", 1)
WEATHER = "time,ghi,temp_air,NOTE\n" + "".join(f"2026-06-01 {h:02}:00,{40 * h},20,ok\n" for h in range(6, 18))
DOORS = {
    "shortlist": ("list.csv", LIST, "small 60 V 10 A", "shortlist bookmobile list.csv --day dull"),
    "trial, wiring": ("log.csv", LOG, "2p", "trial log.csv --chart out.svg"),
    "trial, name of a column": ("log.csv", NOTED, "NOTE", "trial log.csv"),
    "weather, name of a column": ("log.csv", WEATHER.replace("ghi", "sun"), "NOTE", "compare bookmobile --day log.csv"),
    "weather, a value": ("log.csv", WEATHER.replace("40", "x"), "x", "compare bookmobile --day log.csv"),
    "weather, a time": ("log.csv", WEATHER, "2026-06-01 06", "compare bookmobile --day log.csv"),
}  # fmt: skip
# the file, what stands in it, the text that is a stranger's, and the words


@pytest.mark.parametrize("door", DOORS)
@pytest.mark.parametrize("what", [name for name in NASTY if name not in ("half a letter",)])
def test_table_of_a_stranger_prints_plain_lines(door, what, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    name, held, old, words = DOORS[door]
    assert old in held
    Path(name).write_text(held.replace(old, NASTY[what]), encoding="utf-8", newline="")
    assert main(words.split()) in (0, 1, 2)
    out, err = capsys.readouterr()
    assert plain(out)
    assert plain(err)


GIVEN = ["check {}", "compare bookmobile --day {}", "trial {}", "shortlist bookmobile {}", "remake {}",
         "compare bookmobile --chart {}.png", "day bookmobile --csv {}.csv"]  # fmt: skip


@pytest.mark.parametrize("what", [name for name in NASTY if name not in ("NUL", "half a letter")])
@pytest.mark.parametrize("words", GIVEN)
def test_name_of_a_file_is_refused_before_anything_is_read(what, words, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path(NASTY[what].replace("/", "")).write_text(TOML, encoding="utf-8")
    with pytest.raises(SystemExit) as stop:
        main([word.replace("{}", NASTY[what]) for word in words.split()])
    out, err = capsys.readouterr()
    assert (stop.value.code, out, err.count("\n"), plain(err)) == (2, "", 1, True)


def test_weather_whose_name_is_no_utf8_is_answered_and_drawn(tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    name = b"s\xfcd.csv".decode(errors="surrogateescape")
    Path(name).write_text(WEATHER, encoding="utf-8")
    assert main(["compare", "bookmobile", "--wiring", "2s", "--day", name, "--chart", "out.png"]) == 0
    out = capsys.readouterr().out
    assert "carries recipe" in out
    assert "s?d, 1 Jun" in out
    assert main(["remake", "out.png", "--out", "again.png"]) == 0


# What only stands there comes through, and does nothing


def named(text: str) -> Rig:
    """A rig with the text for every name and note."""
    rig = example("bookmobile")
    circuits = tuple(replace(one, controller=replace(one.controller, name=text)) for one in rig.circuits)
    return replace(
        rig,
        name=text,
        source=text,
        panels=tuple(replace(panel, name=text) for panel in rig.panels),
        battery=replace(rig.battery, name=text, other_chargers=text),
        climate=replace(rig.climate, basis=text),
        circuits=circuits,
        loads=(Load(name=text, p_load=20.0),),
    )


BY_TEXT = pytest.mark.parametrize("text", HARMLESS, ids=range(len(HARMLESS)))


@BY_TEXT
def test_text_that_only_stands_there_is_read_as_it_is(text, tmp_path):
    (tmp_path / "van.toml").write_text(rig_to_toml(named(text)), encoding="utf-8")
    assert read_rig(tmp_path / "van.toml") == named(text)


@BY_TEXT
def test_no_cell_of_a_table_is_run_by_a_spreadsheet(text, tmp_path, monkeypatch, capsys):
    monkeypatch.chdir(tmp_path)
    Path("van.toml").write_text(rig_to_toml(named(text)), encoding="utf-8")
    assert main(["day", "van.toml", "--csv", "out.csv"]) == 0
    held = Path("out.csv").read_text(encoding="utf-8")
    for sign in (",", ";", "\t"):
        for row in csv.reader(held.split("\n"), delimiter=sign):
            assert [cell for cell in row if risky(cell)] == []


def risky(cell: str) -> bool:
    """Whether a spreadsheet may run a cell: what OWASP, CSV injection, lists; numbers it only reads."""
    if re.fullmatch(r"\s*[-+]?[\d.]+(e[-+]?\d+)?\s*", cell, re.ASCII | re.IGNORECASE):
        return False
    return cell.lstrip(" ")[:1] in ("=", "+", "-", "@", "\t", "\r") and cell != ""


def test_table_of_a_sweep_is_not_run_and_goes_on_where_it_stopped(tmp_path):
    rigs = {text: example("bookmobile") for text in HARMLESS if text.strip()} | {"'=1": example("hay-cart")}
    path, moment = tmp_path / "sweep.csv", {"@noon": Snapshot(light=800, temp_cell=25)}
    whole = sweep(rigs, moment, path=path).table().to_pandas()
    first = path.read_text(encoding="utf-8")
    with path.open(encoding="utf-8", newline="") as file:
        assert [cell for row in csv.reader(file) for cell in row if risky(cell)] == []
    again = sweep(rigs, moment, path=path).table().to_pandas()
    assert list(again["rig"]) == list(whole["rig"]) == list(rigs)
    assert path.read_text(encoding="utf-8") == first


@given(st.text(max_size=12) | st.from_regex(r"'*\s?[=+@-]\w*", fullmatch=True) | st.floats().map(repr))
def test_defused_text_is_found_again(text):
    assert fused(defused(text)) == text
    assert not risky(defused(text)) or defused(text)[0] in "\t\r"


@BY_TEXT
def test_pictures_and_pages_show_the_letters(text, tmp_path, monkeypatch, capsys):
    """An SVG is whole XML without a script, whatever the names; a page and a chart are drawn."""
    monkeypatch.chdir(tmp_path)
    Path("van.toml").write_text(rig_to_toml(named(text)), encoding="utf-8")
    for words in ("sheet van.toml --out out.svg", "compare van.toml --wiring 2s 2p --chart out2.svg"):
        assert main(words.split()) == 0
        svg = Path(words.split()[-1]).read_text(encoding="utf-8")
        tree = ElementTree.fromstring(svg)
        assert [one.tag for one in tree.iter() if one.tag.endswith("script")] == []
    assert main(["sheet", "van.toml", "--out", "out.pdf"]) == 0
    assert b"/JavaScript" not in unpacked(Path("out.pdf").read_bytes())


def unpacked(pdf: bytes) -> bytes:
    """A PDF with its streams unpacked."""
    found = pdf
    for stream in re.findall(rb"stream\r?\n(.*?)endstream", pdf, re.DOTALL):
        try:
            found += zlib.decompress(stream)
        except zlib.error:
            continue
    return found


@BY_TEXT
def test_notebook_pages_show_the_letters(text, monkeypatch):
    shown: list[dict[str, str]] = []
    monkeypatch.setattr("vanpower.widgets.page.display", lambda data, raw: shown.append(data))
    rig = named(text)
    found = compare({"2p": rig}, Snapshot(light=500, temp_cell=25))
    widgets.say(rig.name, found.verdict, *check(rig)[:3])
    widgets.rows(f"{rig.name}  1\n{found.text()}")
    assert shown
    for data in shown:
        assert "<script" not in data["text/html"]
    if text.strip():
        assert html.escape(" ".join(text.split())) in " ".join(shown[0]["text/html"].split())


@BY_TEXT
@pytest.mark.parametrize("markdown", [False, True])
def test_forum_text_shows_the_letters(text, markdown):
    said = forum_answer(compare({"2p": named(text)}, Snapshot(light=500, temp_cell=25)), markdown=markdown)
    assert plain(said)
    outside = re.sub(r"```text.*?```", "", said, flags=re.DOTALL)
    assert not markdown or re.search(r"(?<!\\)<script|(?<!\\)\[a\]", outside) is None
