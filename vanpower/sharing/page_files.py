"""The file of a page to send: one self-contained HTML file, written whole or not at all, from which its recipe is read.

What can be shown without a script stands there as plain HTML: the state that was asked for. All states are packed
behind it. The page may ask for nothing, wherever it is opened, and its only script is the kit's own; texts of
strangers are letters everywhere.
"""

from __future__ import annotations

import base64
import gzip
import hashlib
import html
import json
from collections.abc import Iterable, Sequence
from functools import cache
from importlib.resources import files
from pathlib import Path

from vanpower.figures.style import MADE_BY
from vanpower.files.atomic import check_place, sealed, written
from vanpower.results.verdict import glued
from vanpower.rig import printable
from vanpower.sharing.recipe import ChartRecipe
from vanpower.sharing.recipe_line import recipe_line
from vanpower.sharing.states import Control, Page, State

PAGES = (".html",)
# how its name ends
FEW = 6
# wirings named at the head; a page tells them all in its table
NO_SCRIPT = "The page shows the one state that was asked for; to move it, open it in a browser that runs its script."
TOO_OLD = (
    "This browser cannot unpack the other states (it is older than 2023, or the file was changed): the page shows the "
    "one that was asked for."
)
MOVE = "Every state was worked out beforehand: move what you like, nothing is fetched."


def check_page(path: Path) -> None:
    """Refuse, before any work, another ending, a folder that is not there, and a file that is not to be lost.

    Raises
    ------
    ValueError
        With what would make sense.

    Examples
    --------
    >>> check_page(Path("answer.pdf"))
    Traceback (most recent call last):
    ValueError: page 'answer.pdf' ends in .pdf; write .html.
    """
    check_place(path, "page", PAGES)


def write_page(path: Path, recipe: ChartRecipe, page: Page) -> int:
    """Write a page whole or not at all, and never over a file that is not the kit's; gives its bytes.

    Examples
    --------
    >>> from tempfile import TemporaryDirectory
    >>> from vanpower import Snapshot, example, read_chart
    >>> from vanpower.sharing.page import page_of
    >>> from vanpower.sharing.recipe import chart_recipe
    >>> recipe = chart_recipe("page", example("bookmobile").wirings(), Snapshot(light=150, temp_cell=15), light=5)
    >>> with TemporaryDirectory() as folder:
    ...     size = write_page(Path(folder) / "answer.html", recipe, page_of(recipe).page)
    ...     read_chart(Path(folder) / "answer.html") == recipe
    True
    """
    check_page(path)
    held = sealed(page_html(recipe, page).encode())
    with written(path) as file:
        file.write(held)
    return len(held)


def page_html(recipe: ChartRecipe, page: Page) -> str:
    """The page as HTML, without its seal.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> from vanpower.sharing.page import page_of
    >>> from vanpower.sharing.recipe import chart_recipe
    >>> recipe = chart_recipe("page", example("bookmobile").wirings(), Snapshot(light=150, temp_cell=15), light=5)
    >>> "http://" in page_html(recipe, page_of(recipe).page).replace("http://www.w3.org/", "")
    False
    """
    state = page.states[page.start]
    script = _part("page.js")
    name = html.escape(printable(page.name))
    wirings = [*recipe.rigs][:FEW]
    more = f" and {len(recipe.rigs) - FEW} more" if len(recipe.rigs) > FEW else ""
    asked = html.escape(f"{', '.join(map(printable, wirings))}{more}")
    return f"""<!doctype html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="{_policy(script)}">
<meta name="generator" content="{MADE_BY}">
<meta name="recipe" content="{recipe_line(recipe)}">
<meta name="referrer" content="no-referrer">
<meta name="viewport" content="width=device-width,initial-scale=1">
<title>{name}: {asked}</title>
<link rel="icon" href="data:,">
<style>{_part("page.css")}</style>
</head>
<body>
<header><h1>{glued(name)}</h1><p>Wirings compared: {asked}</p></header>
<main>
<div class="instrument">
<p class="find" id="find">{_word(page, state.finding)}</p>
<svg id="hatches" aria-hidden="true" width="0" height="0"></svg>
<figure><div id="chart" role="img" aria-labelledby="find">{_chart(page, state)}</div></figure>
<div id="controls" hidden>
{"".join(_control(k, control) for k, control in enumerate(page.controls))}
<p class="foot" id="hint">{MOVE}</p>
</div>
<p id="old" class="old" data-old="{TOO_OLD}">{NO_SCRIPT}</p>
</div>
<div class="said">
<div role="status"><p class="title" id="title">{_word(page, state.title)}</p>
<p class="verdict" id="verdict">{_word(page, state.verdict)}</p></div>
{_table(page, state)}
<section class="cautions"><h2>Caution</h2><ul id="cautions">{_items(page, state.cautions)}</ul></section>
<section class="assumed"><h2>Assumed</h2><ul id="assumed">{_items(page, state.assumed)}</ul></section>
<details><summary>Work it out again</summary>
<p>Save this file as answer.html and run: vanpower remake answer.html. It works every state out anew and says whether
all numbers are the same. A recipe is data: nothing in it is run.</p>
<pre id="recipe" tabindex="0" aria-label="The recipe"></pre></details>
<p class="foot">Made with {MADE_BY}, recipe {recipe.id}.</p>
</div>
</main>
<script id="states" type="application/octet-stream">{_packed(page)}</script>
<script>{script}</script>
</body>
</html>
"""


@cache
def _part(name: str) -> str:
    """Style or script of every page."""
    return files(__package__).joinpath(name).read_text(encoding="utf-8").strip()


def _policy(script: str) -> str:
    """What the page may do: show itself and run the one script; it may ask for nothing and send nothing."""
    fingerprint = base64.b64encode(hashlib.sha256(script.encode()).digest()).decode()
    rules = ("default-src 'none'", f"script-src 'sha256-{fingerprint}'", "style-src 'unsafe-inline'", "img-src data:")
    return "; ".join([*rules, "base-uri 'none'", "form-action 'none'"])


def _chart(page: Page, state: State) -> str:
    """Both parts of a state's chart, one over the other."""
    still, _, _ = page.stills[state.still].rpartition("</svg>")
    return f'{still}<g id="moving">{page.movings[state.moving]}</g></svg>'


def _control(number: int, control: Control) -> str:
    """A slider with its name and value between two buttons: for a finger, keys, and a reader of screens."""
    name, value = html.escape(printable(control.name)), html.escape(printable(control.labels[control.start]))
    return f"""<div class="control {control.word}">
<div class="top"><label for="control{number}">{name}</label><output id="value{number}" for="control{number}">\
{value}</output></div>
<button type="button" id="less{number}" aria-label="{name}: a step back">\N{MINUS SIGN}</button>
<input type="range" id="control{number}" min="0" max="{len(control.labels) - 1}" value="{control.start}" step="1" \
aria-valuetext="{value}" autocomplete="off">
<button type="button" id="more{number}" aria-label="{name}: a step on">+</button>
</div>
"""


def _table(page: Page, state: State) -> str:
    """The wirings of a state, a line each."""
    heads = "".join(f'<th scope="col">{html.escape(head)}</th>' for head in page.heads)
    rows = "".join(f"<tr>{_cells(page, row)}</tr>" for row in state.rows)
    return f'<div class="wide"><table><thead><tr>{heads}</tr></thead><tbody id="rows">{rows}</tbody></table></div>'


def _cells(page: Page, row: Sequence[int]) -> str:
    first, *others = (_word(page, number) for number in row)
    return f'<th scope="row">{first}</th>' + "".join(f"<td>{cell}</td>" for cell in others)


def _items(page: Page, numbers: Iterable[int]) -> str:
    return "".join(f"<li>{_word(page, number)}</li>" for number in numbers)


def _word(page: Page, number: int) -> str:
    return html.escape(page.words[number])


def _packed(page: Page) -> str:
    """All states in letters that no browser takes for marks; the same page gives the same letters."""
    held = {
        "controls": [[printable(label) for label in control.labels] for control in page.controls],
        "stills": page.stills,
        "movings": page.movings,
        "hatches": page.hatches,
        "words": page.words,
        "states": [
            [s.still, s.moving, s.finding, s.title, s.verdict, s.rows, s.assumed, s.cautions] for s in page.states
        ],
    }
    text = json.dumps(held, separators=(",", ":"), ensure_ascii=False)
    return base64.b64encode(gzip.compress(text.encode(), 9, mtime=0)).decode()
