"""What a page says of a van, output by output, and what of it stands there twice. Test utility."""

from __future__ import annotations

import html
import re
from collections import Counter
from typing import Any

from matplotlib.text import Text

from vanpower.figures.style import title_line

LEAST_WORDS = 5
# from which on words are a sentence that is read twice; a head such as "Touch, P4" is not
MOST_LETTERS = 92
# of what was found: at 23 px two lines on a phone have some 66, three 99; a van of several circuits names which
NAMES_CHECKS = re.compile(r"(No|Check|Not stated): ([A-Z][a-z ]+(, |\.$))+$")
# a list of checks is as long as it is
REASONS = 2
# which of the lines below lists a reason for every circuit
SENTENCE = re.compile(r"(?<=[.!?]) +")
AMOUNT = re.compile(r"(?<![\w.,+−-])(?:[+−-]?\d+(?:\.\d+)?) (?:k?Wh?|V|A|Ah|%|°C|of 100)(?![\w/])")
LARGE = re.compile(r"<p style='[^']*'>(.*?)</p>", re.DOTALL)


def outputs(live: Any) -> list[str]:
    """The lines of a page in words: what was found, what can hurt, the reasons, and the words of the chart it shows."""
    lines = [line.value for line in (live.verdict_line, live.caution_line, live.details)]
    left_out = getattr(live.chart, "repeated", [])
    texts = [text for text in live.picture.figure.findobj(Text) if text not in left_out]
    drawn = [text.get_text() for text in texts if text.get_visible()]
    return [*map(plain, lines), *map(plain, drawn)]


def plain(line: str) -> str:
    """HTML, or words of a chart, as words."""
    words = html.unescape(re.sub(r"<[^>]+>", " ", line)).replace("\N{NO-BREAK SPACE}", " ")
    return re.sub(r" ([.,;:])", r"\1", " ".join(words.split()))


def twice(live: Any) -> list[str]:
    """Sentences that stand on a page more than once."""
    said: Counter[str] = Counter()
    for place, words in enumerate(outputs(live)):
        sentences = [one.strip(" .").lower() for one in SENTENCE.split(words) if len(one.split()) >= LEAST_WORDS]
        # among the reasons two controllers may have the same one
        said.update(set(sentences) if place == REASONS else sentences)
    return [sentence for sentence, times in said.items() if times > 1]


def headline(live: Any) -> str:
    """What was found, as it stands in large letters."""
    found = LARGE.search(live.verdict_line.value)
    return plain(found[1]) if found else ""


def below(live: Any) -> str:
    """What stands below it, in the letters of other words."""
    return plain(live.verdict_line.value).removeprefix(headline(live)).strip()


def title(live: Any) -> str:
    """The title of the chart where a page shows it, which leaves out what the verdict says."""
    titles = [title_line(ax) for ax in live.picture.figure.axes]
    left_out = getattr(live.chart, "repeated", [])
    return " ".join(" ".join(one.get_text() for one in titles if one not in left_out).split())


def says_once(live: Any) -> None:
    """Nothing stands twice on a page: no sentence in two of its outputs, and no number in what was found.

    The chart's title names the wirings with their amounts, since a picture that is sent stands alone: of what was found
    it has no more than the best one's amount, or of a trial the gain with its end. What was found is short, and none
    of its numbers stands in the line below it.
    """
    found, above = headline(live), title(live)
    assert len(found) <= MOST_LETTERS or NAMES_CHECKS.match(found), found
    assert set(AMOUNT.findall(found)) & set(AMOUNT.findall(below(live))) == set(), found
    assert twice(live) == []
    assert amounts_twice(found) == []
    assert found not in above
    assert len(set(AMOUNT.findall(found)) & set(AMOUNT.findall(above))) <= (2 if "against" in above else 1)


def amounts_twice(words: str) -> list[str]:
    """Numbers with their unit that stand in words more than once."""
    return [amount for amount, times in Counter(AMOUNT.findall(words)).items() if times > 1]
