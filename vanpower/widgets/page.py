"""Words and tables in a page: they break and shrink as a narrow screen needs, and copy as plain text."""

from __future__ import annotations

import html
import re
import textwrap
from collections.abc import Sequence
from dataclasses import replace
from functools import reduce

from IPython.display import display

from vanpower.checks.glance import of_panels, subject
from vanpower.results.verdict import SIGNS, WORST_FIRST, Verdict

PRINTED = 76
# characters of a printed line, as wide as a notebook shows without breaking it
LEAST_LETTER, NOTE_LETTER, LETTER_WIDE = 8.5, 12, 0.605
# [pixel] least size of a table's letters, size of those of the note below it; [em] width of a letter of equal widths
WHOLE_LINE, WIDEST_LINE = 56, 100
# characters of a line that a telephone held upright shows in the least letters, and that a desk shows
HANGS, FARTHEST = 4, 24
# characters by which the rest of a broken line is set in, and the farthest column that it is set under instead
BOX = "display:inline-block; vertical-align:top; box-sizing:border-box; width:100%"
# a line that may break; an end of line after it keeps it a line where styles are dropped, or text is copied
EQUAL_WIDTHS = "font-family:var(--jp-code-font-family, monospace)"
# letters of a table; a page for a class would take those of its words
BREAKS = "word-break:normal; overflow-wrap:anywhere"
# between words, and within one that is too long
PARAGRAPH = "margin:0.2em 0; line-height:1.35"
FOUND = "var(--vp-found, clamp(19px, 2.6cqw, max(28px, 1.3em)))"
# size of what was found: as a page has it, and in a notebook larger where that is wider
FINDING = f"margin:0.2em 0 0.1em; text-wrap:balance; font:bold {FOUND}/1.2 var(--vp-serif, Georgia, serif)"
LINE = f"{PARAGRAPH}; max-width:62em"
# what stands below it, as wide as is read well
MOST_OPEN = 8
# verdicts whose reasons all stand open; no source
STATUS = "role='status'"
# of what is read out when it changes
SENTENCE = re.compile(r"(?<=[.!?]) (?=[A-Z0-9])")
# where a sentence ends and another begins
NEXT = re.compile(r" (?=(?:Next|To be surer): )")
# where what was found ends, and what to do next begins, with the safe way to it


def say(*parts: Verdict | str) -> None:
    """Show verdicts and words as one paragraph that breaks between words, on paper, in a browser and on a phone.

    Examples
    --------
    >>> say("No difference.")  # doctest: +ELLIPSIS
    {'text/html': ..., 'text/plain': 'No difference.'}
    """
    text = glued(" ".join(part if isinstance(part, str) else plain(part) for part in parts))
    words = " ".join(html.escape(part) if isinstance(part, str) else part.in_html() for part in parts)
    shown = f"<p style='{PARAGRAPH}; max-width:44em'>{glued(words)}</p>"
    lines = textwrap.fill(text, PRINTED, break_on_hyphens=False).replace("\N{NO-BREAK SPACE}", " ")
    display({"text/html": shown, "text/plain": lines}, raw=True)


def rows(text: str) -> None:
    """Show a table or a file. Where the page is narrow its letters shrink, and from a least size on a long line breaks
    within its last column. What stands in brackets below a table breaks between words.

    Examples
    --------
    >>> rows("2s  43 W")  # doctest: +ELLIPSIS
    {'text/html': ..., 'text/plain': '2s  43 W'}
    """
    table, bracket, below = text.partition("\n(")
    if not below.rstrip().endswith(")"):
        table, bracket, below = text, "", ""
    lines = table.split("\n")
    wide = min(max(map(len, lines)), WIDEST_LINE)
    size = f"max({LEAST_LETTER}px, min(1em, {100 / (LETTER_WIDE * max(wide, 1)):.2f}cqw))"
    set_lines = "\n".join(map(_line, lines))
    shown = (
        f"<div style='container-type:inline-size'><pre style='margin:0; {EQUAL_WIDTHS}; white-space:pre-wrap; "
        f"{BREAKS}; font-size:{size}'>{set_lines}</pre></div>"
    )
    if below:
        note = html.escape(bracket.strip() + " ".join(below.split()))
        shown += f"<p style='{PARAGRAPH}; max-width:44em; font-size:{NOTE_LETTER}px'>{note}</p>"
    display({"text/html": shown, "text/plain": text}, raw=True)


def _line(line: str) -> str:
    """A line in HTML; a long one is a box of its own, whose rest stands under its last column or a little set in."""
    if len(line) <= WHOLE_LINE:
        return html.escape(line)
    columns = [gap.end() for gap in re.finditer(r"(?<=\S) {2,}", line)]
    hang = columns[-1] if columns and columns[-1] <= FARTHEST else HANGS
    style = f"{BOX}; padding-left:{hang}ch; text-indent:-{hang}ch"
    return f"<span style='{style}'>{html.escape(line)}</span>"


def plain(verdict: Verdict) -> str:
    """A verdict in a line of plain text."""
    parts = (verdict.question, f"{verdict.word}.", verdict.sentence, verdict.caution)
    return " ".join(part for part in parts if part)


def glued(words: str) -> str:
    """With every number kept on one line with its unit."""
    return re.sub(r"(?<=\d) (?=[°%]|k?Wh?\b|[VAm]\b)", "\N{NO-BREAK SPACE}", words)


def head(verdict: Verdict) -> str:
    """What a verdict is about and its answer, in a few words of HTML.

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.checks.amps import clipping
    >>> rig = example("kiln-bus")  # two controllers, told apart by their panels
    >>> head(clipping(rig, rig.circuits[0]))
    'Clipping, P1+P2 <b>CHECK</b>'
    """
    return f"{html.escape(subject(verdict).rstrip('?'))} <b>{verdict.word}</b>"


def paragraph(words: str) -> str:
    """A paragraph that is read out when it changes."""
    return f"<p {STATUS} style='{LINE}'>{glued(words)}</p>"


def finding(verdicts: Sequence[Verdict]) -> str:
    """What was found, in large letters, and the rest of it in a line below, in HTML that is read out when it changes.

    Of several verdicts the worst is found, behind its answer; the answers of the others end the line below. Cautions
    have their own place, and so has what to do next.
    """
    worst = _worst(verdicts)
    first, *rest = SENTENCE.split(NEXT.split(worst.sentence)[0], maxsplit=1)
    if len(verdicts) > 1:
        first = f"{_answered(worst, verdicts)}: {first[0].lower()}{first[1:]}"
        others = " &middot; ".join(head(verdict) for verdict in verdicts if verdict is not worst)
        return in_large(glued(html.escape(first)), _below(f"{html.escape(' '.join(rest))} {others}."))
    return in_large(glued(html.escape(first)), "".join(_below(html.escape(words)) for words in rest))


def _answered(worst: Verdict, verdicts: Sequence[Verdict]) -> str:
    """How a finding of several verdicts begins: the answer to the first, or else what is answered so."""
    if worst is not verdicts[0]:
        return f"{subject(worst)} {worst.word}"
    which = of_panels(worst)
    return f"{worst.word.capitalize()}, {which}" if which else worst.word.capitalize()


def beside(verdicts: Sequence[Verdict], first: Sequence[Verdict]) -> list[Verdict]:
    """Verdicts without the one whose reason is told with what was found."""
    worst = _worst(first) if len(first) > 1 else None
    return [verdict for verdict in verdicts if verdict is not worst]


def _worst(verdicts: Sequence[Verdict]) -> Verdict:
    """The verdict that counts most."""
    return min(verdicts, key=lambda verdict: WORST_FIRST.index(verdict.answer))


def reasons(verdicts: Sequence[Verdict]) -> str:
    """Several verdicts with their reasons in HTML, what is no yes first; where many are a yes these are folded away."""
    told = {sign: [_uncautioned(v) for v in verdicts if v.sign == sign] for sign in SIGNS}
    yes = "".join(told.pop("ok"))
    open_ones = "".join(line for lines in told.values() for line in lines)
    if len(verdicts) <= MOST_OPEN:
        return open_ones + yes
    return f"{open_ones}<details><summary>What is a yes, and why</summary>{yes}</details>"


def _uncautioned(verdict: Verdict) -> str:
    """A verdict without its caution, which has a place of its own."""
    return paragraph(replace(verdict, caution="").in_html())


def cautions(verdicts: Sequence[Verdict]) -> str:
    """What to do next, where a single verdict says so, and what can hurt here, in bold and each once; in HTML.

    What can hurt stands within what to do next where that names it at its step.
    """
    then = html.escape(" ".join(NEXT.split(verdicts[0].sentence)[1:])) if len(verdicts) == 1 else ""
    said: dict[str, None] = {}
    for caution in (verdict.caution for verdict in verdicts):
        told = [html.escape(one) for one in SENTENCE.split(caution) if one]
        then = reduce(lambda words, one: words.replace(one, f"<b>{one}</b>", 1), told, then)
        said |= {" ".join(one for one in told if one not in then): None}
    return "".join([_below(then), *(_below(f"<b>{one}</b>") for one in said if one)])


def _below(words: str) -> str:
    """A line below what was found; none without words."""
    return f"<p style='{LINE}'>{glued(words)}</p>" if words else ""


def in_room_of(before: str, now: str) -> str:
    """A finding that takes no less room than another one, so that what stands below it stays where it is.

    Examples
    --------
    >>> in_room_of("<p>two</p>", "<p>two</p>")
    '<p>two</p>'
    >>> in_room_of("<p>two lines</p>", "<p>one</p>").count("<p>")
    2
    """
    if not before or before == now:
        return now
    hidden = f"<div aria-hidden='true' style='grid-area:1/1; visibility:hidden'>{before.replace(STATUS, '')}</div>"
    return f"<div style='display:grid'><div style='grid-area:1/1'>{now}</div>{hidden}</div>"


def in_large(found: str, below: str = "") -> str:
    """A line of HTML in the letters of what was found, and what stands below it."""
    box = "container-type:inline-size"
    return f"<div {STATUS} style='{box}'><p style='{FINDING}'>{found}</p>{below}</div>"
