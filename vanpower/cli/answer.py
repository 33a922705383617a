"""`vanpower answer`: a text to paste into a forum, and the chart that goes with it."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from vanpower.cli.compare import QUESTION_MORE, comparisons_of, question_words, save
from vanpower.cli.options import ALL_YES, FORM, bar

ANSWER_MORE = """\
Prints the verdict first, then the table, what is assumed, what can hurt, and the recipe as one line, from which
anybody makes the chart again (vanpower remake). Boards strip recipes from pictures; the text keeps it.

"""
MOVES = ("light", "day", "shade", "volts")
# what a page may let its reader move


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower answer`."""
    about = "a text to paste into a forum, with its chart and recipe"
    answer = commands.add_parser("answer", help=about, epilog=ANSWER_MORE + QUESTION_MORE, formatter_class=FORM)
    answer.usage, answer.description = "vanpower answer RIG.toml [options]", f"{about[0].upper()}{about[1:]}."
    question_words(answer)
    answer.add_argument("--markdown", action="store_true", help="for boards that read Markdown")
    answer.add_argument("--page", type=Path, metavar="OUT.html", help="a page to send as a file: its reader needs a "
                        "browser alone, and moves light, day or shade over worked-out states")  # fmt: skip
    answer.add_argument("--move", nargs="+", choices=MOVES, metavar="WHAT", help="what the page's reader moves, one "
                        "or two of light, day, shade, volts (light or day, and shade if noted)")  # fmt: skip
    answer.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the block, and draw the chart that it speaks of."""
    from vanpower.sharing.saving import forum_answer

    if asked.move and not asked.page:
        raise ValueError("--move says what the reader of a page moves; add --page answer.html, or leave it out.")
    if asked.page:
        from vanpower.sharing.page_files import check_page

        check_page(asked.page)
    comparisons = comparisons_of(asked)
    text = forum_answer(comparisons, markdown=asked.markdown)
    if asked.chart:
        print(save(comparisons, asked.chart), file=sys.stderr)
    if asked.page:
        from vanpower.sharing.saving import save_page_with_words

        said = save_page_with_words(asked.page, comparisons, *asked.move or (), progress=bar("states"))
        print(f"Page {said}", file=sys.stderr)
    print(text)
    return ALL_YES
