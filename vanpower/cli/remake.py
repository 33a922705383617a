"""`vanpower remake`: a chart from somebody else, drawn again from the recipe inside it."""

from __future__ import annotations

import argparse
from pathlib import Path

from vanpower.cli.options import ALL_YES, FORM, NO_OR_CLOSE, bar

REMAKE_MORE = """\
Reads the recipe in a chart of this kit (PNG or SVG), in a page (HTML) or in the pasted text block of an answer, works
everything out anew and says whether the numbers are the same to the last printed digit. A recipe is data: nothing in
it is run, and no file that it names is opened. A page is made again as a page, with all its states.

Most boards strip recipes from pictures that are uploaded. The text block carries the recipe too: save the post as a
text file, quoted and wrapped as it is, or pipe it in with "-".

exit code: 0 the same numbers, 1 other numbers, 2 bad input
"""
MOST_SHOWN = 12
# differences printed; the rest is counted


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower remake`."""
    about = "draw a chart again from the recipe inside it"
    remake = commands.add_parser("remake", help=about, description=REMAKE_MORE, formatter_class=FORM)
    remake.usage = "vanpower remake CHART.png [--out NEW.png]"
    remake.add_argument(
        "chart", metavar="CHART.png", help="a chart of this kit as PNG or SVG, a page, a text file, or - "
    )
    remake.add_argument(
        "--out", type=Path, metavar="NEW.png", help="draw it into this file (remade-ID.png in this folder)"
    )
    remake.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Work a recipe out anew, print the answer and what differs, and write the picture."""
    from dataclasses import replace

    from vanpower.rig import printable
    from vanpower.sharing.picture_reading import read_chart

    recipe = read_chart(asked.chart)
    # a file that is refused waits for no drawing
    from vanpower.sharing.page_files import PAGES, write_page
    from vanpower.sharing.saving import remake, write_chart

    made = remake(recipe, progress=bar("states"))
    path = asked.out or Path(f"remade-{recipe.id}.{'html' if made.page else 'png'}")
    now = replace(recipe, numbers=made.numbers, versions=type(recipe)(kind="", rigs={}).versions)
    if made.page and path.suffix.lower() in PAGES:
        write_page(path, now, made.page)
    else:
        write_chart(path, now, made.figure)
    whose = "".join(f"{rig.name}, " for rig in [*recipe.rigs.values()][:1])
    print("\n".join(map(printable, f"{whose}{made.words}\n\n{made.verdict}".split("\n"))))
    for line in made.differences[:MOST_SHOWN]:
        print(f"  {line}")
    if len(made.differences) > MOST_SHOWN:
        print(f"  and {len(made.differences) - MOST_SHOWN} more.")
    print(f"{'Page' if path.suffix.lower() in PAGES else 'Chart'} written to {path}")
    return NO_OR_CLOSE if made.differences else ALL_YES
