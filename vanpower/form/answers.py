"""What a rig is worth, as the form shows it: the finding, its wirings ranked, its checks, its power chart.

The sentences are those of `vanpower check` and `vanpower compare --wiring all`, word for word; here they are put into a
table. Every text of a rig is a stranger's: it is escaped where it goes into the page.
"""

from __future__ import annotations

import html
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from itertools import groupby
from typing import Any

from vanpower.checks.glance import Checks, few, in_hand, subject
from vanpower.checks.registry import check, unasked
from vanpower.figures.comparison import ComparisonChart
from vanpower.figures.fragments import moving_svg, still_svg
from vanpower.figures.power import PowerChart
from vanpower.figures.style import Look, looks_of
from vanpower.results.verdict import SIGNS, Verdict, glued
from vanpower.rig import Rig, Snapshot
from vanpower.studies.comparison import Comparison, compare

MOMENT = Snapshot(light=800.0, temp_cell=25.0)
# what `vanpower compare` takes where nothing is said of the light: a bright mild noon; no source
LINE_WIDE = 4
# of a wiring's line in the list; its dashes are counted in it
WORDS = ("none", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
SIGN_DRAWN = {
    "no": '<path d="M12 1L23 12 12 23 1 12Z" fill="currentColor"/><path d="M8 8L16 16M16 8L8 16" stroke="#fff" '
    'stroke-width="2.6"/>',
    "check": '<path d="M12 2L22 12 12 22 2 12Z" fill="#fff" stroke="currentColor" stroke-width="2.4"/>'
    '<path d="M12 2L12 22 2 12Z" fill="currentColor"/>',
    "not stated": '<path d="M12 2L22 12 12 22 2 12Z" fill="#fff" stroke="currentColor" stroke-width="2.2" '
    'stroke-dasharray="3 2.4"/>',
    "ok": '<path d="M4 12.5L10 18.5 20.5 6.5" fill="none" stroke="currentColor" stroke-width="3.2"/>',
}
# the more ink in the sign, the more urgent, so that grey tells them too
TYPED_IN = {
    "Isolator": "circuit.{}.v_isolator_max",
    "Battery side": "circuit.{}.battery_cable.length_m",
    "Plugs": "circuit.{}.i_plug_max",
    "String fuse": "circuit.{}.i_fuse_string",
    "Input current": "circuit.{}.controller.i_pv_sc_max",
    "Cold charging": "circuit.0.controller.cold_cutoff",
    "Reverse current": "panel.0.i_max_fuse",
    "Circulating current": "panel.0.i_max_fuse",
    "Charge current": "battery.capacity_ah",
}
# the box in which a value goes that nobody stated, by the check that wants it


@dataclass(frozen=True, kw_only=True)
class Answer:
    """What the page shows for one rig.

    Parameters
    ----------
    finding, doubt : str
        The headline, and the sentence that says what the wiring is worth in one light; plain text.
    name : str
        What the wiring is called, of each controller.
    ways, checks, chart, dock : str
        HTML: the wirings as a table, the checks as a table, the chart as SVG, and the signs in a line.

    Examples
    --------
    >>> from vanpower import example
    >>> answer_of(example("puppet-stage")).finding
    'Wired 2s2p, no check says no; one wants a look, four are not stated.'
    """

    finding: str
    doubt: str
    name: str
    ways: str
    checks: str
    chart: str
    dock: str


@dataclass
class Pictures:
    """Charts that are drawn once and then told the next answer, which is quicker.

    Parameters
    ----------
    power : PowerChart
        In the layout for a phone or for a page.
    split : ComparisonChart
        For rigs of several controllers.
    stills : dict
        The part that stands still, as it was drawn last.
    """

    power: PowerChart = field(default_factory=PowerChart)
    split: ComparisonChart = field(default_factory=ComparisonChart)
    stills: dict[tuple[Any, ...], str] = field(default_factory=dict)

    def drawn(self, comparison: Comparison) -> str:
        """The power of every wiring as SVG; bars where the rig has several controllers."""
        on_one = all(len(outcome.rig.circuits) == 1 for outcome in comparison.outcomes.values())
        chart: PowerChart | ComparisonChart = self.power if on_one else self.split
        chart.update(comparison)
        if chart.figure.get_layout_engine() is not None:
            # laid out once with all that moves, which keeps its room from then on
            chart.figure.draw_without_rendering()
            chart.figure.set_layout_engine("none")
        key = (type(chart).__name__, chart.frame)
        if key not in self.stills:
            self.stills = {key: still_svg(chart.figure, chart.moving)}
        still = self.stills[key]
        label = html.escape(comparison.verdict.sentence, quote=True)
        opened = still.replace("<svg", f'<svg role="img" aria-label="{label}"', 1)
        return f"{opened.rpartition('</svg>')[0]}<g>{moving_svg(chart.figure, chart.moving)}</g></svg>"


def answer_of(rig: Rig, pictures: Pictures | None = None) -> Answer:
    """Everything the page shows for a rig.

    Parameters
    ----------
    rig : Rig
    pictures : Pictures, optional
        Charts that were drawn before; new ones where there are none.

    Examples
    --------
    >>> from vanpower import example
    >>> answer = answer_of(example("bookmobile"))
    >>> answer.finding
    'Wired 2p, no check says no; two want a look.'
    >>> answer.chart.startswith("<svg")
    True
    """
    own = check(rig)
    comparison, told = _compared(rig)
    others = {name: own if o.rig == rig else check(o.rig) for name, o in comparison.outcomes.items()}
    name = own_name(rig, comparison)
    named = " + ".join([name, *(circuit.wiring.name for circuit in rig.circuits[1:])])
    return Answer(
        finding=glued(finding(named, own, {other: found for other, found in others.items() if other != name})),
        doubt=glued(f"{comparison.verdict.question} {comparison.verdict.sentence}{told}"),
        name=named,
        ways=ways_table(comparison, others, name),
        checks=checks_table(own),
        chart=(pictures or Pictures()).drawn(comparison),
        dock=_dock({name: own} | {other: found for other, found in others.items() if other != name}),
    )


def _compared(rig: Rig) -> tuple[Comparison, str]:
    """Every wiring of the first circuit in one light, or the rig alone where there are too many, and why."""
    try:
        return compare(rig.wirings(), MOMENT), ""
    except ValueError as trouble:
        return compare({rig.circuits[0].wiring.name: rig}, MOMENT), f" {trouble}"


def own_name(rig: Rig, comparison: Comparison) -> str:
    """What the comparison calls the wiring that a rig has; its own name where it is none of them.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> own_name(rig, compare(rig.wirings(), MOMENT))
    '2p'
    """
    here = rig.circuits[0].wiring
    return next((name for name, o in comparison.outcomes.items() if o.rig.circuits[0].wiring == here), here.name)


def finding(name: str, own: Checks, others: Mapping[str, Checks]) -> str:
    """The headline: what stands against the wiring there is, and the wiring against which least stands.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("seed-swap")
    >>> print(finding("3p", check(rig), {"3s": check(rig.wired("3s"))}))
    Wired 3p, one check says no: reverse current. Wired 3s, none does.
    """
    count = _count(own, "no")
    if not count:
        return f"Wired {name}, no check says no{_rest(own)}."
    subjects = list(dict.fromkeys(subject(verdict) for verdict in own if verdict.sign == "no"))
    listed = " and ".join(part for part in (", ".join(map(_small, subjects[:-1])), _small(subjects[-1])) if part)
    said = f"Wired {name}, {_worded(count)} check{'s say' if count > 1 else ' says'} no: {listed}."
    best = min(others, key=lambda other: _count(others[other], "no"), default="")
    fewer = _count(others[best], "no") if best else count
    if fewer >= count:
        return said
    return f"{said} Wired {best}, {'none does' if not fewer else 'one does' if fewer == 1 else _worded(fewer) + ' do'}."


def _rest(own: Checks) -> str:
    """What else is not a plain yes."""
    close, open_ = _count(own, "check"), _count(own, "not stated")
    parts = [f"{_worded(close)} want{'s' * (close == 1)} a look"] if close else []
    parts += [f"{_worded(open_)} {'is' if open_ == 1 else 'are'} not stated"] if open_ else []
    return f"; {', '.join(parts)}" if parts else ""


def _count(checks: Sequence[Verdict], sign: str) -> int:
    return sum(verdict.sign == sign for verdict in checks)


def _worded(count: int) -> str:
    return WORDS[count] if count < len(WORDS) else str(count)


def _small(words: str) -> str:
    return words[:1].lower() + words[1:]


def ways_table(comparison: Comparison, checks: Mapping[str, Checks], chosen: str) -> str:
    """Every wiring, ranked, as a table with a button to choose each.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("bookmobile")
    >>> rows = ways_table(compare(rig.wirings(), MOMENT), {}, "2p")
    >>> "169 W" in rows, 'value="2p" checked' in rows
    (True, True)
    """
    table = comparison.table()
    allowed = [column.name for column in table.columns].index("allowed")
    looked = looks_of(comparison.outcomes)
    rows = []
    for name, energy, share, *_ in table.rows:
        words = [table.columns[k].words(value) for k, value in ((1, energy), (2, share))]
        said = next(row[allowed] for row in table.rows if row[0] == name)
        tick = " checked" if name == chosen else ""
        label = html.escape(name)
        radio = f'<input type="radio" name="way" data-wire="{html.escape(name, quote=True)}" value="{label}"{tick}>'
        rows.append(
            f"<tr{' class=on' if tick else ''}><th scope=row><label>{radio} {_line(looked[name])} {label}</label></th>"
            f"<td>{words[0].strip()} {comparison.unit}</td><td>{words[1].strip()}</td>"
            f"<td>{html.escape(str(said))}</td><td>{_signs(checks.get(name, ()))}</td></tr>"
        )
    head = "<tr><th scope=col>Wiring</th><th scope=col>delivers</th><th scope=col>of the best</th>"
    head += "<th scope=col>allowed</th><th scope=col>checks</th></tr>"
    circuits = next(iter(comparison.outcomes.values())).rig.circuits
    which = f" of {circuits[0].controller.name}, the others as they are" if len(circuits) > 1 else ""
    title = f"<caption>Every wiring{html.escape(which)}, {_safe(comparison.title)}</caption>"
    return f"<table class=ways>{title}<thead>{head}</thead><tbody>{''.join(rows)}</tbody></table>"


def _line(look: Look) -> str:
    """The line by which the chart knows a wiring."""
    dashes = look.dash[1] if isinstance(look.dash, tuple) else ()
    dash = f' stroke-dasharray="{" ".join(f"{LINE_WIDE * part:g}" for part in dashes)}"' if dashes else ""
    drawn = f'<path d="M1 6H35" stroke="{look.colour}" stroke-width="{LINE_WIDE}"{dash}/>'
    return f'<svg class=line viewBox="0 0 36 12" aria-hidden="true">{drawn}</svg>'


def _signs(checks: Sequence[Verdict]) -> str:
    """How many of a wiring's checks are not a yes, the worst first."""
    counts = {sign: _count(checks, sign) for sign in SIGNS[:-1]}
    some = [f"{tag(sign, str(count))}" for sign, count in counts.items() if count]
    return " ".join(some) or (tag("ok") if checks else "")


def tag(sign: str, before: str = "") -> str:
    """A sign with its word and colour.

    Examples
    --------
    >>> 'class="tag no"' in tag("no"), "2 NO" in tag("no", "2")
    (True, True)
    """
    drawn = f'<svg viewBox="0 0 24 24" aria-hidden="true">{SIGN_DRAWN[sign]}</svg>'
    return f'<span class="tag {sign.replace(" ", "-")}">{drawn}{f"{before} {sign.upper()}".strip()}</span>'


def checks_table(checks: Checks) -> str:
    r"""All checks as a table, the worst first; those that are a yes together at its end.

    Examples
    --------
    >>> from vanpower import example
    >>> rows = checks_table(check(example("bookmobile")))
    >>> rows.index("Hot floor") < rows.index("Cold ceiling"), "0.8\N{NO-BREAK SPACE}V short" in rows
    (True, True)
    """
    by_sign = {sign: [verdict for verdict in checks if verdict.sign == sign] for sign in SIGNS}
    rows = [_row(verdict, checks.rig) for sign in SIGNS[:-1] for verdict in by_sign[sign]]
    head = "<tr><td></td><th scope=col>What</th><th scope=col>In hand</th><th scope=col>Found, and what to do</th></tr>"
    open_table = f"<table class=checks><thead>{head}</thead><tbody>{{}}</tbody></table>"
    told = open_table.format("".join(rows)) if rows else ""
    fine = by_sign["ok"]
    more = f"{len(fine)} {'more are' if rows else 'of ' + str(len(checks)) + ' are'} a yes"
    listed = f"<p>{' · '.join(_in_short(verdict) for verdict in fine)}</p>"
    yes = f"<details data-fold=ok><summary>{tag('ok')} {more}</summary>{{}}</details>".format(
        open_table.format("".join(_row(verdict, checks.rig) for verdict in fine))
    )
    left = "".join(f"<li>{_safe(said)}</li>" for said in unasked(checks.rig))
    bases = "".join(f"<li><b>{_safe(subject(v))}</b> {_safe(v.basis)}.</li>" for v in checks)
    rest = f"<details data-fold=unasked><summary>Not checked here</summary><ul>{left}</ul></details>"
    rest += f"<details data-fold=basis><summary>What each rests on</summary><ul>{bases}</ul></details>"
    rules = f"<p class=cap>By {html.escape(checks.rig.rule_book)} rules. A model is not a permit: local rules, makers' "
    rules += "sheets and a competent person win.</p>"
    return f"{told}{yes if fine else ''}{listed if fine else ''}{rules}{rest}"


def _row(verdict: Verdict, rig: Rig) -> str:
    """One check."""
    caution = f" <b class=caution>{_safe(verdict.caution)}</b>" if verdict.caution else ""
    box = _box_of(verdict, rig) if verdict.sign == "not stated" else ""
    typed = f' <button type=button class=btn data-goto="{box}">Type it</button>' if box else ""
    about = f"<th scope=row>{_safe(subject(verdict))}</th>"
    return (
        f"<tr><td>{tag(verdict.sign)}</td>{about}<td>{_safe(in_hand(verdict))}</td>"
        f"<td>{_safe(verdict.sentence)}{caution}{typed}</td></tr>"
    )


def _in_short(verdict: Verdict) -> str:
    """One check that is a yes, in a few words."""
    return f"<b>{_safe(subject(verdict))}</b> {_safe(in_hand(verdict))}".strip()


def _box_of(verdict: Verdict, rig: Rig) -> str:
    """The box that a value goes into which nobody stated; empty where there is none."""
    about, _, panels = subject(verdict).partition(", ")
    if about == "Missing":
        return _silent_label(rig)
    named = [k for k, circuit in enumerate(rig.circuits) if few(circuit.wiring.grouping) == panels]
    return TYPED_IN.get(about, "").format(named[0] if named else 0)


def _silent_label(rig: Rig) -> str:
    """The box of the first coefficient that a label does not give; empty where all do."""
    for k, (panel, _) in enumerate(groupby(rig.panels)):
        for name in ("beta_voc_pct_per_k", "gamma_pmp_pct_per_k", "alpha_isc_pct_per_k"):
            if getattr(panel, name) is None:
                return f"panel.{k}.{name}"
    return ""


def _dock(checks: Mapping[str, Checks]) -> str:
    """The signs of the first few wirings in a line."""
    first = list(checks.items())[:2]
    return " ".join(f"<span><b>{html.escape(name)}</b> {_worst(found)}</span>" for name, found in first)


def _worst(checks: Checks) -> str:
    """The worst sign of a wiring and how often it is there."""
    sign = next(sign for sign in SIGNS if _count(checks, sign) or sign == "ok")
    return tag(sign, str(_count(checks, sign)))


def _safe(text: str) -> str:
    """A text for the page, a number kept with its unit."""
    return re.sub(r"\s*\n\s*", " ", html.escape(glued(text)))
