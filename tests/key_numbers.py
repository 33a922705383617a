"""Numbers that must not depend on the versions of the packages below: prints them as JSON, or compares two such files.

python tests/key_numbers.py > here.json
python tests/key_numbers.py here.json there.json
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

import frozen

ALIKE = 1e-9
# share by which the same number may differ between versions
ABOUT = ("check", "light")
# of all frozen numbers, those that rest on nothing but the engine, the checks and a day's sun


def key_numbers() -> dict[str, float]:
    """Watts and watt-hours of every example in every wiring, and the margin of every check."""
    return {name: number for about in ABOUT for name, number in frozen.NUMBERS[about]().items()}


def unlike(one: dict[str, float], other: dict[str, float]) -> list[str]:
    """Names of the numbers that differ, or are in one alone."""
    both = one.keys() & other.keys()
    return sorted(one.keys() ^ other.keys()) + sorted(
        name for name in both if abs(one[name] - other[name]) > ALIKE * max(1.0, abs(one[name]))
    )


if __name__ == "__main__":
    if len(sys.argv) == 3:
        here, there = (json.loads(Path(name).read_text(encoding="utf-8")) for name in sys.argv[1:])
        different = unlike(here, there)
        print(f"{len(here)} numbers, {len(different)} of them differ by more than {ALIKE:g}: {different[:5]}")
        sys.exit(bool(different) or not here)
    json.dump(key_numbers(), sys.stdout, indent=1)
