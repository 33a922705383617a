"""A text to paste into a forum: verdict first, then assumptions, table, cautions, and the recipe as one line."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import groupby
from textwrap import fill

from vanpower import __version__
from vanpower.results.table import unmarked
from vanpower.results.verdict import Verdict
from vanpower.rig import OTHER_LITHIUM, Circuit, Panel, Request, Rig, printable
from vanpower.sharing.recipe import Asked, ChartRecipe
from vanpower.sharing.recipe_line import recipe_line

WIDTH = 76
# characters of a line: what a forum's code box shows without a bar to slide
LONGEST_PASTED = 6000
# letters of a recipe that one still pastes; boards take posts of 10 000 and more; no source
LIVE = "panels are live in daylight"
BEFORE_TOUCHING = (
    "Controller off, isolator off, glass covered, amps at zero, then unplug: a DC arc can burn on once it is struck."
)
NO_FROST = "{} is not charged below 0 °C unless its maker allows it; keep its cold cut-off on."
NOT_A_PERMIT = "A model is not a permit: local rules, makers' sheets and a competent person win."
# cautions that belong to every answer a stranger acts on


@dataclass(frozen=True, kw_only=True)
class Block:
    """One light of an answer: its title, the verdict, the table in plain lines, and what to do besides.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> answer = compare(example("bookmobile").wirings(), Snapshot(light=700, temp_cell=30))
    >>> block = Block(title=answer.title, verdict=answer.verdict, table=answer.text())
    >>> block.title, block.verdict.answer
    ('at 700 W/m² and cells at 30 °C', 'no')
    """

    title: str
    verdict: Verdict
    table: str
    more: str = ""


@dataclass(frozen=True, kw_only=True)
class Told:
    """What an answer says besides its tables: verdicts, what is assumed, and what can hurt, a text each.

    Examples
    --------
    >>> Told(verdicts=("2s delivers 43 W.",), assumed=("Rig: van.",), cautions=()).verdicts[0]
    '2s delivers 43 W.'
    """

    verdicts: tuple[str, ...]
    assumed: tuple[str, ...]
    cautions: tuple[str, ...]


def told(rig: Rig, requests: Sequence[Asked], blocks: Sequence[Block], failed: Sequence[str] = ()) -> Told:
    """What an answer says, for a board and for a page alike.

    Parameters
    ----------
    rig : Rig
        The first of those that were asked about.
    requests : sequence of Request or TrialRows
        What was asked.
    blocks : sequence of Block
        One for each light asked about.
    failed : sequence of str
        What must be put right before the answer is followed, a sentence each.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> rig, moment = example("bookmobile"), Snapshot(light=700, temp_cell=30)
    >>> answer = compare(rig.wirings(), moment)
    >>> block = Block(title=answer.title, verdict=answer.verdict, table=answer.text())
    >>> told(rig, [moment], [block]).assumed[0]
    'Rig: Bookmobile, two small panels.'
    """
    verdicts = [f"{_light(block, len(blocks))}{block.verdict.sentence}" for block in blocks]
    assumed = [*facts(rig), *_noted(requests), *_rests(blocks), *_besides(blocks)]
    said = [block.verdict.caution for block in blocks if block.verdict.caution]
    cautions = _cautions(rig, [*said, *failed])
    return Told(verdicts=_shown(verdicts), assumed=_shown(assumed), cautions=_shown(cautions))


def _shown(texts: Sequence[str]) -> tuple[str, ...]:
    """Texts as they may be shown anywhere."""
    return tuple(map(printable, texts))


def forum_block(
    recipe: ChartRecipe, blocks: Sequence[Block], *, failed: Sequence[str] = (), markdown: bool = False
) -> str:
    """The answer as text to paste.

    Parameters
    ----------
    recipe : ChartRecipe
        Of the chart that goes with it.
    blocks : sequence of Block
        One for each light asked about.
    failed : sequence of str
        What must be put right before the answer is followed, a sentence each.
    markdown : bool
        For boards that read Markdown; else plain text.

    Examples
    --------
    >>> from vanpower import Snapshot, compare, example
    >>> from vanpower.sharing.recipe import chart_recipe
    >>> from vanpower.sharing.recipe_line import recipe_in
    >>> rigs, moment = example("bookmobile").wirings(), Snapshot(light=700, temp_cell=30)
    >>> answer, recipe = compare(rigs, moment), chart_recipe("comparison", rigs, moment)
    >>> text = forum_block(recipe, [Block(title=answer.title, verdict=answer.verdict, table=answer.text())])
    >>> print(text.splitlines()[0])
    No difference within 3 %: 145 W in 2s, 143 W in 2p. Choose by fuses, plugs
    >>> recipe_in(text, "the post") == recipe
    True
    """
    rig = next(iter(recipe.rigs.values()))
    said = told(rig, recipe.requests, blocks, failed)
    tables = "\n\n".join(f"{_capital(block.title)}\n{block.table}" for block in blocks)
    write = _markdown if markdown else _plain
    text = write(said, tables, _recipe_lines(recipe))
    return "\n".join(map(printable, text.split("\n")))


def facts(rig: Rig) -> list[str]:
    """What an answer about a rig assumes, a line each."""
    panels = [_panel_words(len(list(equal)), panel) for panel, equal in groupby(rig.panels)]
    battery = rig.battery
    lines = [f"Rig: {rig.name}.", *panels]
    lines.append(f"Battery: {battery.v_nominal:g} V {battery.chemistry}, held at {battery.v_now:g} V.")
    lines += dict.fromkeys(_circuit_words(circuit) for circuit in rig.circuits)
    climate = rig.climate
    lines.append(f"Coldest dawn {climate.temp_coldest:g} °C, hottest cells {climate.temp_cell_hottest:g} °C.")
    return lines


def _noted(requests: Sequence[Asked]) -> list[str]:
    """The shade that was noted, in the words of the command line."""
    asked = [one for one in requests if isinstance(one, Request)]
    notes = dict.fromkeys(f"{note.place} gets {100 * note.lit:g} %" for one in asked for note in one.shade)
    return [f"Shade: {', '.join(notes)} of its light."] if notes else []


def _besides(blocks: Sequence[Block]) -> list[str]:
    """What to do besides, each thing once."""
    return list(dict.fromkeys(block.more for block in blocks if block.more))


def _panel_words(count: int, panel: Panel) -> str:
    """A label in a line."""
    beta = panel.beta_voc_pct_per_k
    heat = "volts per kelvin not on the label" if beta is None else f"{beta:g} %/K of volts"
    leak = "" if panel.r_leak is None else f", leaks like {panel.r_leak:g} ohm"
    beside = ", beside the van and turned by hand" if panel.turn_deg else ""
    return (
        f"{count} x {panel.name}: open {panel.v_oc:g} V, short {panel.i_sc:g} A, best {panel.v_mp:g} V x "
        f"{panel.i_mp:g} A, {heat}, {panel.cells_in_series} cells in {panel.substrings} groups"
        f"{'' if panel.bypass_diodes else ' without bypass diodes'}{leak}{beside}."
    )


def _circuit_words(circuit: Circuit) -> str:
    """A controller and its cable in a line."""
    controller, cable = circuit.controller, circuit.cable
    run = f"{cable.length_m:g} m one way of {cable.section_mm2:g} mm²" if cable.length_m else "no cable counted"
    return (
        f"Controller: {controller.name}, up to {controller.v_pv_max:g} V in and {controller.i_charge_max:g} A out, "
        f"tracker {controller.tracker}; {run}."
    )


def _rests(blocks: Sequence[Block]) -> list[str]:
    """What the verdicts rest on, each thing once; behind its light where that is not the same for all."""
    lights: dict[str, list[str]] = {}
    for block in blocks:
        lights.setdefault(block.verdict.basis, []).append(_capital(block.title))
    if len(lights) == 1:
        return [f"Rests on: {basis}." for basis in lights]
    return [f"{'; '.join(titles)}, rests on: {basis}." for basis, titles in lights.items()]


def _cautions(rig: Rig, said: list[str]) -> list[str]:
    """What can hurt whoever follows the answer, each thing once."""
    live = "" if any(LIVE in caution for caution in said) else f"{LIVE.capitalize()}. "
    frost = rig.battery.is_lithium and rig.climate.temp_coldest < 0
    lithium = "A lithium battery" if rig.battery.chemistry == OTHER_LITHIUM else "Lithium iron phosphate"
    return list(dict.fromkeys([*said, live + BEFORE_TOUCHING, *[NO_FROST.format(lithium)] * frost, NOT_A_PERMIT]))


def _recipe_lines(recipe: ChartRecipe) -> list[str]:
    """How to make the chart again."""
    line = recipe_line(recipe)
    made = f"Made with vanpower {recipe.versions.get('vanpower', __version__)}."
    if len(line) > LONGEST_PASTED:
        return [f"{made} The recipe {recipe.id} is too long to paste; send the picture that was saved along."]
    how = f"{made} To make the chart again, save this text as answer.txt and run: vanpower remake answer.txt"
    return [how, fill(line, WIDTH, break_on_hyphens=False)]


def _light(block: Block, count: int) -> str:
    """Which light a verdict is about, where there are several."""
    return f"{_capital(block.title)}: " if count > 1 else ""


def _capital(text: str) -> str:
    return text[:1].upper() + text[1:]


def _plain(said: Told, tables: str, recipe: list[str]) -> str:
    """The block as plain text, wrapped."""
    parts = [
        "\n".join(_wrapped(line) for line in said.verdicts),
        tables,
        "Assumed:\n" + "\n".join(_wrapped(line, "- ") for line in said.assumed),
        "Caution:\n" + "\n".join(_wrapped(line, "- ") for line in said.cautions),
        "\n".join([_wrapped(recipe[0]), *recipe[1:]]),
    ]
    return "\n\n".join(parts)


def _markdown(said: Told, tables: str, recipe: list[str]) -> str:
    """The block for boards that read Markdown; table and recipe stand in boxes that keep every letter."""
    parts = [
        "\n\n".join(f"**{unmarked(line)}**" for line in said.verdicts),
        _box(tables),
        "Assumed:\n\n" + "\n".join(f"- {unmarked(line)}" for line in said.assumed),
        "**Caution:**\n\n" + "\n".join(f"- {unmarked(line)}" for line in said.cautions),
        "\n\n".join([unmarked(recipe[0]), *map(_box, recipe[1:])]),
    ]
    return "\n\n".join(parts)


def _box(text: str) -> str:
    return "```text\n" + text.replace("`", "'") + "\n```"


def _wrapped(text: str, first: str = "") -> str:
    return fill(" ".join(text.split()), WIDTH, initial_indent=first, subsequent_indent=" " * len(first))
