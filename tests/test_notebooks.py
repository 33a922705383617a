"""Every notebook's cells in this process: they run, each slider goes to both ends, named results hold."""

from __future__ import annotations

import ast
import html
import io
import os
import re
import shlex
import subprocess
import sys
import tomllib
from pathlib import Path
from typing import Any

import pytest

nbformat = pytest.importorskip("nbformat", reason="notebooks need the extra 'notebooks'")
ipywidgets = pytest.importorskip("ipywidgets", reason="notebooks need the extra 'notebooks'")

import matplotlib.pyplot as plt  # noqa: E402
from browsing import FOLDER, NOTEBOOKS, PICTURE_ON_A_PHONE  # noqa: E402
from comparing import decoded, unlike  # noqa: E402
from IPython.core.formatters import format_display_data  # noqa: E402
from IPython.core.interactiveshell import InteractiveShell  # noqa: E402
from IPython.display import Image  # noqa: E402
from matplotlib.figure import Figure  # noqa: E402
from matplotlib.text import Text  # noqa: E402
from pandas import DataFrame  # noqa: E402
from publish_notebooks import COMPARED, NOT_COMPARED, WIDGET, says_words_alone  # noqa: E402

from vanpower import Snapshot, compare, example, widgets  # noqa: E402
from vanpower.figures.power import plot_power  # noqa: E402
from vanpower.figures.sheet import A4  # noqa: E402

SHORTEST = ("00-start", "09-answer-a-forum-question", "glossary", "teach/09-answer-a-forum-question")
# of each kind the page that takes least: what the short run runs; the others are run with the long tests
LESSONS = [path for path in NOTEBOOKS if path.parent == FOLDER and path.stem[:2].isdigit()]
TEACHERS = [path for path in NOTEBOOKS if path.parent.name == "teach"]
TAGS = ("setup", "explore", "parameters", "check", "recipe")
# of a lesson, whose instrument stands first; the start page explains its chart before it can be moved
TEACHERS_STEPS = (
    "Write down first",
    "Now move the slider",
    "The reveal",
    "Exercise 1",
    "Exercise 2",
    "What people get wrong",
)
LONGEST_CELL, LONGEST_HIDDEN = 16, 32
# lines of code that a reader is asked to look at in one piece, and of machinery that is rolled up; no source
NUMBER = re.compile(r"[-−]?\d+(?:[.,]\d+)?")
NAMES = re.compile(r"\b\d+s(?:\d+p)?\b|\b\d+p\b|\bP\d\b")
# wirings and panels by name, in which a digit is no number


LEAST_LETTER = 8.5
# [pixel] of a chart on a phone; no source
LETTERS: dict[bytes, float] = {}
# for every still chart drawn here the smallest letters it has on a phone [pixel]


class Page:
    """Stands for the page that shows pictures: takes what is displayed and counts updates."""

    def __init__(self) -> None:
        self.bundles: list[dict[str, str]] = []

    def display(self, thing: Any, **options: Any) -> Page | None:
        if not options.get("raw"):
            return None
        self.bundles.append(thing)
        return self

    def update(self, bundle: dict[str, str], **options: Any) -> None:
        self.bundles.append(bundle)


Words = tuple[str, str]
# what a cell says, plain and as a page shows it


class Ran:
    """A notebook after its run: what its names hold, its page, and what each cell drew and said."""

    def __init__(self, path: Path, page: Page) -> None:
        self.page, self.names = page, {"__name__": path.stem}
        self.pictures: dict[str, list[tuple[bytes, str]]] = {}
        self.said: dict[str, list[Words]] = {}
        for cell in cells(path, "code"):
            before = len(page.bundles)
            value = run_cell(cell.source, f"{path.stem}, cell {cell.id}", self.names)
            new = page.bundles[before:]
            self.said[cell.id] = words_among([*new, *bundle_of(value)])
            shown = [bundle for bundle in new if "image/png" in bundle]
            live = [(decoded(bundle["image/png"]), bundle["text/plain"]) for bundle in shown]
            self.pictures[cell.id] = drawn() + shown_value(value) + live


def run_cell(source: str, name: str, names: dict[str, Any]) -> Any:
    """Run a cell and give what its last line is worth, as a notebook does; a semicolon at its end hides it."""
    tree = ast.parse(source)
    last = tree.body[-1] if tree.body and isinstance(tree.body[-1], ast.Expr) else None
    if last is None or source.rstrip().endswith(";"):
        exec(compile(tree, name, "exec"), names)
        return None
    exec(compile(ast.Module(tree.body[:-1], []), name, "exec"), names)
    return eval(compile(ast.Expression(last.value), name, "eval"), names)


def shown_value(value: Any) -> list[tuple[bytes, str]]:
    """The picture that a cell's last value is, if it is one: a figure, or one read from a file."""
    if isinstance(value, Figure):
        return [(as_png(value), "")]
    return [(value.data, "")] if isinstance(value, Image) else []


def bundle_of(value: Any) -> list[dict[str, str]]:
    """What a notebook shows of a cell's last value that is no picture; controls are not stored."""
    if value is None or isinstance(value, Figure | Image):
        return []
    bundle = shown_as(value)
    return [] if WIDGET in bundle else [bundle]


def shown_as(value: Any) -> dict[str, str]:
    """A value in all forms that a notebook shows; the shell that this starts is ended, as other tests have none."""
    try:
        return format_display_data(value)[0]
    finally:
        InteractiveShell.clear_instance()


def words_among(bundles: list[Any]) -> list[Words]:
    """What a cell says, of all that it shows; what stands for a picture has no other words than plain ones."""
    said = [bundle for bundle in bundles if "text/html" in bundle or "image/png" not in bundle]
    return [
        (unversioned(each["text/plain"]), "" if "image/png" in each else unversioned(each.get("text/html", "")))
        for each in said
    ]


def unversioned(words: str) -> str:
    """Words without what a recipe holds: it names the versions of Python and packages, which differ by machine."""
    return re.sub(r"vanpower-recipe .* = end", "vanpower-recipe", words, flags=re.DOTALL)


def drawn() -> list[tuple[bytes, str]]:
    """Every figure that a cell has left, as a notebook shows it."""
    pictures = [(as_png(plt.figure(number)), "") for number in plt.get_fignums()]
    plt.close("all")
    return pictures


def as_png(figure: Figure) -> bytes:
    """The figure as a notebook stores it: drawn twice before, by which its layout settles."""
    png = io.BytesIO()
    for _ in range(2):
        figure.canvas.draw()
    figure.savefig(png, format="png", bbox_inches="tight", dpi=figure.dpi)
    if tuple(figure.get_size_inches()) != A4:
        # a page to print is read on paper
        said = [text for text in figure.findobj(Text) if text.get_visible() and text.get_text().strip()]
        shown = min(PICTURE_ON_A_PHONE / wide_of(png.getvalue()), 1.0)
        smallest = min((text.get_fontsize() for text in said), default=float("inf"))
        LETTERS[png.getvalue()] = smallest * figure.dpi / 72 * shown
    return png.getvalue()


def wide_of(png: bytes) -> int:
    """Width of a picture, which stands in its header (ISO/IEC 15948). [pixel]"""
    return int.from_bytes(png[16:20])


def cells(path: Path, kind: str) -> list[Any]:
    return [cell for cell in nbformat.read(path, as_version=4).cells if cell.cell_type == kind]


def has_sliders(path: Path) -> bool:
    """Whether a notebook has a cell with sliders."""
    return any("explore" in cell.metadata.get("tags", []) for cell in cells(path, "code"))


@pytest.fixture(scope="module")
def ran() -> dict[str, Ran]:
    """Every notebook after its run; run when first asked for."""
    return {}


@pytest.fixture
def once(ran: dict[str, Ran], monkeypatch: pytest.MonkeyPatch) -> Any:
    def once(path: Path) -> Ran:
        name = path.relative_to(FOLDER).as_posix()
        if name not in ran:
            page = Page()
            for part in (widgets.explorer, widgets.live_picture, widgets.page):
                monkeypatch.setattr(part, "display", page.display)
            monkeypatch.chdir(path.parent)
            ran[name] = Ran(path, page)
        return ran[name]

    return once


@pytest.fixture
def run(once: Any) -> Any:
    """What a notebook's names hold after its run, and its page."""
    return lambda path: (once(path).names, once(path).page)


def name_of(path: Path) -> str:
    """A notebook's name, such as teach/03-shade-by-hand."""
    return path.relative_to(FOLDER).with_suffix("").as_posix()


def every(paths: list[Path]) -> Any:
    """Once for every notebook, by its name."""
    return pytest.mark.parametrize("path", paths, ids=name_of)


def every_run(paths: list[Path]) -> Any:
    """Once for every notebook, which has to be run for it: all but the shortest take long."""
    marks = {path: () if name_of(path) in SHORTEST else pytest.mark.long for path in paths}
    return pytest.mark.parametrize("path", [pytest.param(path, marks=marks[path]) for path in paths], ids=name_of)


def opening(path: Path) -> str:
    """The words that begin a page: its title, and what stands first below the instrument of a lesson."""
    return "\n".join(cell.source for cell in cells(path, "markdown")[:2])


@every_run(LESSONS)
def test_the_answer_at_the_top_is_the_one_computed_at_the_bottom(path: Path, run: Any) -> None:
    names, _ = run(path)
    assert names["answer_line"] in " ".join(opening(path).split())


@every(LESSONS)
def test_every_number_of_the_answer_at_the_top_is_said_by_the_check(path: Path) -> None:
    answer = re.search(r"\*\*(.+?)\*\*", opening(path), re.DOTALL).group(1)
    check = next(cell for cell in cells(path, "code") if "check" in cell.metadata.get("tags", []))
    said = numbers(" ".join(words_of(output) for output in check.outputs))
    assert numbers(answer), "an answer without a number"
    assert [number for number in numbers(answer) if number not in said] == []


def test_every_word_of_the_glossary_has_a_number_and_the_page_works_it_out() -> None:
    path = FOLDER / "glossary.ipynb"
    entries = [line for cell in cells(path, "markdown") for line in cell.source.splitlines() if line.startswith("- ")]
    said = numbers(" ".join(words_of(output) for cell in cells(path, "code") for output in cell.outputs))
    assert [entry for entry in entries if not numbers(entry)] == []
    assert [(entry, number) for entry in entries for number in numbers(entry) if number not in said] == []


TERMS = (
    "absorption", "band", "bulk", "bypass diode", "charge current", "circulating current", "clipping", "cold ceiling",
    "converter", "float", "fuse", "half-cut", "hilltop", "hot floor", "in parallel", "in series", "isolator",
    "ladder", "leak", "mismatch", "open-circuit volts", "own draw", "plugs", "reverse current", "short-circuit amps",
    "start threshold", "string", "sun time", "tracker", "typical year", "window",
)  # fmt: skip
# words of the trade that verdicts, charts and answers use


def words_of_the_pages() -> str:
    """What the lessons write and what their cells say."""
    lines = [cell.source for path in LESSONS for cell in cells(path, "markdown")]
    said = [words_of(output) for path in LESSONS for cell in cells(path, "code") for output in cell.outputs]
    return " ".join(" ".join([*lines, *said]).lower().split())


def test_the_glossary_has_every_term_that_the_answers_use() -> None:
    said = words_of_the_pages()
    glossary = " ".join(cell.source for cell in cells(FOLDER / "glossary.ipynb", "markdown")).lower()
    assert [term for term in TERMS if term not in said] == [], "a term that no page uses any more"
    assert [term for term in TERMS if term not in glossary.replace("*", "")] == []


def heading_id(heading: str) -> str:
    """The anchor that JupyterLab and exported pages give a heading."""
    return re.sub(r"[*`]", "", heading).strip().replace(" ", "-")


def sections(path: Path) -> dict[str, tuple[str, int]]:
    """Words and number of pictures below every heading, by its anchor, down to the next one as high."""
    found: dict[str, tuple[str, int]] = {}
    open_ones: list[tuple[int, str]] = []

    def add(words: str, pictures: int = 0) -> None:
        for _, name in open_ones:
            found[name] = found[name][0] + "\n" + words, found[name][1] + pictures

    for cell in nbformat.read(path, as_version=4).cells:
        for line in cell.source.splitlines() if cell.cell_type == "markdown" else []:
            if heading := re.match(r"(#+) (.*)", line):
                open_ones = [one for one in open_ones if one[0] < len(heading[1])]
                open_ones.append((len(heading[1]), heading_id(heading[2])))
                found[open_ones[-1][1]] = "", 0
            add(line)
        for output in cell.get("outputs", []):
            add(words_of(output), "image/png" in output.get("data", {}))
    return found


LINK = re.compile(r"\]\(([^)\s]+)\)")


def target(page: Path, link: str) -> tuple[Path, str]:
    """File and anchor that a link in a page leads to."""
    file, _, anchor = link.partition("#")
    return (page.parent / file).resolve() if file else page, anchor


@every(NOTEBOOKS)
def test_every_link_leads_to_a_page_and_a_heading_that_are_there(path: Path) -> None:
    links = [link for cell in cells(path, "markdown") for link in LINK.findall(cell.source)]
    lost = []
    for link in [link for link in links if "://" not in link]:
        file, anchor = target(path, link)
        if not file.exists() or (anchor and anchor not in sections(file)):
            lost.append(link)
    assert lost == []


QUESTION = re.compile(r"^\*\*(\d+)\. .+?\*\* (.+?) See (.+?) \*Mind:\* (.+)$", re.MULTILINE)


def questions() -> list[tuple[str, str, str, str]]:
    """Number, answer, links and caution of every entry of the page of questions."""
    return QUESTION.findall("\n".join(cell.source for cell in cells(FOLDER / "questions.ipynb", "markdown")))


def test_thirty_questions_have_a_number_a_picture_and_a_caution() -> None:
    assert [int(number) for number, *_ in questions()] == list(range(1, 31))
    for number, answer, links, caution in questions():
        places = [sections(file)[anchor] for file, anchor in targets(links)]
        assert any(pictures for _, pictures in places), f"{number}: no picture"
        assert numbers(answer), f"{number}: no number"
        assert caution


def targets(links: str) -> list[tuple[Path, str]]:
    return [target(FOLDER / "questions.ipynb", link) for link in LINK.findall(links)]


@pytest.mark.parametrize("entry", questions(), ids=lambda entry: entry[0])
def test_numbers_of_an_answer_stand_where_it_leads(entry: tuple[str, str, str, str]) -> None:
    _, answer, links, _ = entry
    there = numbers(" ".join(sections(file)[anchor][0] for file, anchor in targets(links)))
    assert [number for number in numbers(answer) if number not in there] == []


def numbers(words: str) -> list[str]:
    return NUMBER.findall(NAMES.sub("", words).replace("−", "-"))


def words_of(output: Any) -> str:
    return output.get("text", "") or output.get("data", {}).get("text/plain", "")


def stale(path: Path, ran: Ran) -> list[str]:
    """What a stored notebook shows and its run does not, by cell."""
    found = []
    for cell in cells(path, "code"):
        stored = [output.data for output in cell.outputs if "image/png" in output.get("data", {})]
        said = words_among([output.data for output in cell.outputs if "data" in output])
        fresh = ran.pictures[cell.id]
        if len(stored) != len(fresh) or said != ran.said[cell.id]:
            words = [plain for plain, _ in said]
            found.append(f"cell {cell.id}: {len(stored)} pictures, drawn now {len(fresh)}; words {words}")
        for data, (picture, words) in zip(stored, fresh, strict=False):
            other = unlike(decoded(data["image/png"]), picture)
            other = other or ("other words" if words and data["text/plain"] != words else "")
            found += [f"cell {cell.id}: {other}"] if other else []
    return found


@every_run(NOTEBOOKS)
def test_stored_pictures_and_their_words_are_those_drawn_now(path: Path, once: Any) -> None:
    assert stale(path, once(path)) == [], "run tests/publish_notebooks.py"


@pytest.mark.parametrize("slip", ["picture", "words", "letters"])
def test_a_stored_output_of_yesterday_is_found(slip: str, once: Any, tmp_path: Path) -> None:
    path = FOLDER / "00-start.ipynb"
    notebook = nbformat.read(path, as_version=4)
    shown = [output for cell in notebook.cells for output in cell.get("outputs", []) if "data" in output]
    first, other = (output for output in shown if "image/png" in output.data)
    if slip == "picture":
        first.data["image/png"] = other.data["image/png"]
    else:
        said = next(output for output in shown if "text/html" in output.data)
        kind = {"words": "text/plain", "letters": "text/html"}[slip]
        said.data[kind] = said.data[kind].replace("40.1", "44.1")
    nbformat.write(notebook, tmp_path / path.name)
    assert stale(path, once(path)) == []
    assert len(stale(tmp_path / path.name, once(path))) == 1


@pytest.mark.parametrize("watts", [40.1, 44.1])
def test_a_value_that_a_cell_ends_on_is_compared_as_a_notebook_shows_it(watts: float, tmp_path: Path) -> None:
    cell = nbformat.v4.new_code_cell('import pandas\npandas.DataFrame({"W": [40.1]})')
    table = {
        "text/plain": f"      W\n0  {watts}",
        "text/html": shown_as(DataFrame({"W": [watts]}))["text/html"],
    }
    cell.outputs = [nbformat.v4.new_output("execute_result", table, execution_count=1)]
    path = tmp_path / "page.ipynb"
    nbformat.write(nbformat.v4.new_notebook(cells=[cell]), path)
    assert len(stale(path, Ran(path, Page()))) == (watts != 40.1)


@every_run(TEACHERS)
def test_teachers_pages_ask_before_they_reveal_and_their_answers_are_computed(path: Path, run: Any) -> None:
    texts = [cell.source for cell in cells(path, "markdown")]
    headings = re.findall(r"^## (.*)", "\n".join(texts), re.MULTILINE)
    assert [heading for heading in headings if heading in TEACHERS_STEPS] == list(TEACHERS_STEPS)
    # from there on a page waits for guesses
    tagged = [cell.source for cell in cells(path, "markdown") if "answers" in cell.metadata.get("tags", [])]
    assert [text.partition("\n")[0] for text in tagged] == ["## The reveal"]
    exercises = [text for text in texts if text.startswith("## Exercise")]
    answers = run(path)[0]["answers"]
    assert len(answers) == 2
    for answer, text in zip(answers, exercises, strict=True):
        assert answer in " ".join(text.split())
    wrong = "\n".join(texts).partition("## What people get wrong")[2]
    assert len(re.findall(r'^\*\*".*"\*\*', wrong, re.MULTILINE)) >= 2, "fewer than two misconceptions"


@pytest.mark.parametrize("lesson", LESSONS[1:], ids=lambda path: path.stem)
def test_every_lesson_has_its_teachers_page(lesson: Path) -> None:
    # behind the title and the instrument
    assert f"](../{lesson.name})" in cells(FOLDER / "teach" / lesson.name, "markdown")[1].source


def test_a_picture_of_other_light_is_a_stale_one() -> None:
    def chart(light: float) -> bytes:
        plot_power(compare(example("bookmobile").wirings(), Snapshot(light=light, temp_cell=15)))
        return drawn()[0][0]

    assert unlike(chart(200), chart(200)) == ""
    assert "of the picture differs" in unlike(chart(200), chart(220))
    plt.figure(figsize=(5.5, 3.8))
    assert unlike(drawn()[0][0], chart(200)) == "a picture is blank"


@every(NOTEBOOKS)
def test_stored_words_are_compared_by_the_test_run(path: Path) -> None:
    said = [cell for cell in cells(path, "code") if says_words_alone(cell)]
    assert [cell.id for cell in said if not {COMPARED, NOT_COMPARED} & set(cell.metadata.get("tags", []))] == []


@every(NOTEBOOKS)
def test_readers_without_a_kernel_see_pictures_and_verdicts(path: Path) -> None:
    exporter = pytest.importorskip("nbconvert").HTMLExporter()
    page, _ = exporter.from_filename(path)
    stored = [output for cell in cells(path, "code") for output in cell.outputs]
    pictures = re.findall(r"<img[^>]*data:image/png;base64,", page)
    drawn = [output["data"] for output in stored if "image/png" in output.get("data", {})]
    parts = [data["text/html"].count("<img") if "text/html" in data else 1 for data in drawn]
    assert len(pictures) == sum(parts) > 0
    assert "model not found" not in page
    assert "Traceback" not in page
    words = " ".join(html.unescape(re.sub(r"<[^>]+>", "", page)).split())
    verdicts = [" ".join(said.split()) for cell in cells(path, "code") for said in verdicts_of(cell)]
    assert [said for said in verdicts if said not in words] == []


def verdicts_of(cell: Any) -> list[str]:
    """Sentences with an answer, of those that a cell says in words; those that stand for a picture are not seen."""
    alone = [output for output in cell.outputs if "image/png" not in output.get("data", {})]
    said = [words_of(output) for output in alone if "text/html" in output.get("data", {})]
    return [words for words in said if re.search(r"\b(YES|NO|CHECK|NOT STATED)\.", words)]


def test_a_stored_sentence_of_yesterday_fails_the_test_run(tmp_path: Path) -> None:
    notebook = nbformat.read(FOLDER / "00-start.ipynb", as_version=4)
    path = tmp_path / "00-start.ipynb"
    nbformat.write(notebook, path)
    assert nbval(path).returncode == 0
    said = next(cell for cell in notebook.cells if COMPARED in cell.metadata.get("tags", []))
    for kind, words in said.outputs[0].data.items():
        said.outputs[0].data[kind] = words.replace("40.1 W", "44.1 W")
    nbformat.write(notebook, path)
    ran = nbval(path)
    assert ran.returncode == 1
    assert "44.1 W" in ran.stdout
    assert "1 failed" in ran.stdout


def nbval(path: Path) -> subprocess.CompletedProcess:
    """What the test run says of a notebook, by the same switches."""
    switches = tomllib.loads((FOLDER.parent / "pyproject.toml").read_text())["tool"]["pytest"]["ini_options"]["addopts"]
    asked = [word for word in shlex.split(switches) if word.startswith("--nbval")]
    command = [sys.executable, "-m", "pytest", "-c", os.devnull, "-p", "no:cacheprovider", "-q", *asked, str(path)]
    return subprocess.run(command, capture_output=True, text=True, cwd=path.parent)


@every(NOTEBOOKS)
def test_words_are_shown_so_that_none_breaks_on_a_phone(path: Path) -> None:
    streams = [output for cell in cells(path, "code") for output in cell.outputs if output.output_type == "stream"]
    assert [output.text for output in streams] == [], "use say or rows in place of print"


@every(NOTEBOOKS)
def test_tables_of_numbers_stay_whole_on_a_phone(path: Path) -> None:
    outputs = [output for cell in cells(path, "code") for output in cell.outputs if "data" in output]
    tables = [output.data["text/plain"] for output in outputs if "<pre" in output.data.get("text/html", "")]
    long = [
        line for table in tables for line in table.split("\n(")[0].splitlines() if len(line) > widgets.page.WHOLE_LINE
    ]
    # the last column of a line that breaks has words, and those before it are short
    assert [line for line in long if " " not in line[last_column(line) :].strip() and "  " in line] == []
    assert [line for line in long if last_column(line) > widgets.page.WHOLE_LINE - 16] == []


def last_column(line: str) -> int:
    """Where the last column of a line begins."""
    return max((gap.end() for gap in re.finditer(r"(?<=\S) {2,}", line)), default=0)


@every_run(NOTEBOOKS)
def test_words_of_still_charts_are_legible_on_a_phone(path: Path, once: Any) -> None:
    stills = [(cell, png) for cell, pictures in once(path).pictures.items() for png, _ in pictures if png in LETTERS]
    assert [(cell, LETTERS[png]) for cell, png in stills if LETTERS[png] < LEAST_LETTER] == []


@every(NOTEBOOKS)
def test_cells_of_code_are_short(path: Path) -> None:
    long = [cell.id for cell in cells(path, "code") if len(cell.source.splitlines()) > most_lines(cell)]
    assert long == []


def most_lines(cell: Any) -> int:
    """Lines that a cell may have."""
    return LONGEST_HIDDEN if rolled_up(cell) else LONGEST_CELL


def rolled_up(cell: Any) -> bool:
    """Whether the code of a cell is not shown until a reader asks for it."""
    return cell.metadata.get("jupyter", {}).get("source_hidden", False)


@every(NOTEBOOKS)
def test_what_a_page_begins_with_shows_no_code_in_a_notebook(path: Path) -> None:
    machinery = [cell for cell in cells(path, "code") if {"setup", "explore"} & set(cell.metadata.get("tags", []))]
    assert [cell.id for cell in machinery or cells(path, "code")[:1] if not rolled_up(cell)] == []


@every_run([path for path in NOTEBOOKS if has_sliders(path)])
def test_every_control_goes_to_both_ends_without_a_failure(path: Path, run: Any) -> None:
    live = run(path)[0]["live"]
    assert live.failure == ""
    for name, control in live.controls.items():
        start, answers = control.value, {shown_by(live)}
        for end in ends(control):
            shown, before = shown_by(live), control.value
            control.value = end
            assert live.failure == "", f"{name} at {end}"
            assert live.sentence
            assert shown_by(live) == shown or end != before, f"{name} stays at {end}, and something else is shown"
            answers.add(shown_by(live))
        control.value = start
        # a van of one's own that is not there leaves the example's picture; a list of things to move has no ends
        idle = control is live.chooser or (path.stem, name) in IDLE or all(end == start for end in ends(control))
        assert len(answers) > 1 or idle, f"{name} changes nothing"


IDLE = {("04-a-day-and-its-ladder", "warmer")}
# controls that change nothing where they stand at the start: no frost locks the battery on a bright day in May


def shown_by(live: Any) -> tuple[str, ...]:
    """What a page shows of an answer: chart and words."""
    drawn = live.picture.widget.still, live.picture.widget.moving
    words = live.verdict_line, live.caution_line, live.details
    return *(re.sub(CLIP_NAME, "", part) for part in drawn), *(line.value for line in words)


CLIP_NAME = r"(?<=[\"#])p[0-9a-f]{10}"
# names of clip paths, which are numbered anew in every drawing


def ends(control: Any) -> list[Any]:
    """The extreme values of a slider, or every value of a list."""
    if hasattr(control, "options"):
        return [value for _, value in control.options if value != control.value]
    return [control.min, control.max]


@every(LESSONS)
def test_lessons_are_built_alike(path: Path) -> None:
    texts, code = cells(path, "markdown"), cells(path, "code")
    assert re.match(r"# .*\?(\n|$)", texts[0].source), "the title is a question"
    assert "What this leaves out" in "".join(text.source for text in texts[-2:])
    tags = [tag for cell in code for tag in cell.metadata.get("tags", [])]
    assert sorted(tag for tag in tags if tag in TAGS) == sorted(TAGS)
    words = sum(len(cell.source.split()) for cell in cells(path, "markdown"))
    assert words >= sum(len(cell.source.split()) for cell in code)


@every(LESSONS[1:])
def test_the_first_screen_of_a_lesson_is_its_instrument(path: Path) -> None:
    title, setup, instrument, below, *_ = nbformat.read(path, as_version=4).cells
    assert re.fullmatch(rf"# {path.stem[:2]} .*\?", title.source), "number and question, and nothing else"
    assert (setup.metadata.tags, instrument.metadata.tags) == (["setup"], ["explore"])
    assert rolled_up(setup)
    assert rolled_up(instrument)
    assert "whose_van(" in instrument.source
    assert below.cell_type == "markdown"


@every(NOTEBOOKS)
def test_no_cell_is_longer_than_a_screen_of_a_telephone_shows(path: Path) -> None:
    # 16 lines of 20 pixels are half of 640; machinery that takes more has a name in the package, rolled up or not
    long = {cell.id: count for cell in cells(path, "code") if (count := len(cell.source.splitlines())) > 16}
    assert long == {}


@every(LESSONS[1:])
def test_a_lesson_takes_no_name_from_its_instrument(path: Path) -> None:
    _, setup, instrument, *rest = nbformat.read(path, as_version=4).cells
    taken = bound(setup.source) | bound(instrument.source)
    again = {cell.id: bound(cell.source) & taken for cell in rest if cell.cell_type == "code"}
    assert {cell: names for cell, names in again.items() if names} == {}, "the next van would be answered by another"


def bound(source: str) -> set[str]:
    """Names that a cell gives to something, outside functions and comprehensions."""
    found: set[str] = set()
    for line in ast.parse(source).body:
        if isinstance(line, ast.Import | ast.ImportFrom):
            found |= {alias.asname or alias.name.partition(".")[0] for alias in line.names}
        elif isinstance(line, ast.FunctionDef | ast.ClassDef):
            found.add(line.name)
        elif isinstance(line, ast.Assign | ast.For):
            targets = line.targets if isinstance(line, ast.Assign) else [line.target]
            found |= {name.id for target in targets for name in ast.walk(target) if isinstance(name, ast.Name)}
    return found


@every(LESSONS[1:])
def test_a_lesson_ends_with_what_it_leaves_out_and_the_checks_of_its_numbers(path: Path) -> None:
    *_, words, check, recipe = nbformat.read(path, as_version=4).cells
    assert words.source.startswith("## Checks of numbers\n")
    assert "check" in check.metadata.tags
    assert "recipe" in recipe.metadata.tags
    code = cells(path, "code")
    asserting = [cell.id for cell in code if "\nassert " in f"\n{cell.source}" or "\n    assert " in cell.source]
    assert asserting == [check.id]


@every(LESSONS[1:])
def test_your_van_is_the_readers_and_the_depth_has_its_heading(path: Path) -> None:
    words = "\n".join(cell.source for cell in cells(path, "markdown"))
    assert re.search(r"^## In depth$", words, re.MULTILINE)
    assert not re.search(r"^#+ Your van", words, re.MULTILINE)
    assert "For this van" not in words


@every(NOTEBOOKS)
def test_notebooks_are_stored_with_pictures_and_without_dead_widgets(path: Path) -> None:
    outputs = [output for cell in cells(path, "code") for output in cell.outputs]
    kinds = [kind for output in outputs for kind in output.get("data", {})]
    assert "image/png" in kinds
    assert not [kind for kind in kinds if "widget" in kind]
    assert f"{Path.home()}/" not in path.read_text(encoding="utf-8")


def notebook(number: str) -> Path:
    return next(path for path in LESSONS if path.stem.startswith(number))


def test_dull_light_page_finds_no_difference_and_the_two_reasons_for_series(run: Any) -> None:
    names, _ = run(notebook("01"))
    assert names["day"].share("2s") > 0.97
    assert names["late"].ranking[0] == names["dull_leak"].ranking[0] == "2s"
    assert names["late"].decides("2p", "2s") == "start"
    assert names["bright_leak"].ranking[0] == "2p"


def test_rating_page_says_no_before_ordering(run: Any) -> None:
    names, _ = run(notebook("02"))
    assert names["ceiling"].answer == "no"
    assert names["ceiling"].margin == pytest.approx(95 - 4 * 23.1 * (1 + 0.0029 * 42), abs=0.01)


def test_ordering_page_finds_the_current_that_flows_backwards_and_mends_it(run: Any) -> None:
    names, _ = run(notebook("07"))
    assert names["backwards"].answer == "no"
    assert names["backwards"].margin == pytest.approx(10 - 1.25 * (5.05 + 8.75))
    assert not [verdict for verdict in names["check"](names["mended"]) if verdict.answer == "no"]
    assert names["sure"].first == "3p"


def test_trial_page_takes_most_of_the_gain_away_and_names_the_cable(run: Any) -> None:
    names, _ = run(notebook("08"))
    assert names["trial"].naive > 5 * names["trial"].gain > 0
    assert names["expected"].fitting[0].name.startswith("cable")
    assert names["plans"][0.01].chosen.minutes > names["plans"][0.03].chosen.minutes


def test_shade_page_has_opposite_verdicts(run: Any) -> None:
    names, _ = run(notebook("03"))
    assert [names[shape].ranking[0] for shape in ("part", "whole", "both")] == ["2s", "2p", "2s"]
    assert names["veil"].share("2p") > 0.97


def test_day_page_names_a_full_battery_and_a_cold_one_as_the_largest_losses(run: Any) -> None:
    names, _ = run(notebook("04"))
    for run_of, loss in (("light", "battery full"), ("cold", "battery cold")):
        steps = names[run_of].ladder().steps["2s"]
        assert max((step for step in steps if step not in ("label", "used")), key=lambda step: steps[step]) == loss
    assert names["noon"]["stage"].eq("float").all()


def test_year_page_finds_the_battery_and_not_the_wiring_decisive(run: Any) -> None:
    names, _ = run(notebook("05"))
    assert names["spread"] < 0.01
    assert names["warm"].used_wh("inside") > 1.2 * names["warm"].used_wh("outside")
    assert {"April", "May"} <= set(names["warm"].budget("inside").carrying) - set(names["budget"].carrying)
