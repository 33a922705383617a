"""How far "would most likely have been seen by now" is kept, for README. Judges nothing.

    .venv/bin/python tests/benchmarks/kept_claims_table.py [--first 100] [--count 24]

Simulated van-years of either make, see `tests/kept_claims.py`; places of a year are not left out of the sky bank.
"""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[1]))
from kept_claims import Claim, Make, claims, of_kit, of_other, untold

MAKES: dict[str, Make] = {"places told": of_kit, "not told": untold, "of other make": of_other}


def row(name: str, found: list[Claim | None]) -> str:
    """A line of the table."""
    made = [one for one in found if one is not None]
    kept, larger = sum(one.kept for one in made), [told for one in made for told in one.larger]
    half = sum(one.least <= 0.5 for one in made)
    return f"| {name} | {len(found)} | {len(made)} | {half} | {kept} | {sum(larger)} of {len(larger)} |"


def main() -> None:
    """Print the table."""
    words = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    words.add_argument("--first", type=int, default=100)
    words.add_argument("--count", type=int, default=24)
    asked = words.parse_args()
    print("| histories | looked at | claim a loss | of half or less | told at that loss | larger ones told |")
    print("|---|---|---|---|---|---|")
    for name, make in MAKES.items():
        print(row(name, list(claims(make, range(asked.first, asked.first + asked.count)))), flush=True)


if __name__ == "__main__":
    main()
