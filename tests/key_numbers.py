"""Numbers that must not depend on the versions of the packages below: prints them as JSON, or compares two such files.

python tests/key_numbers.py > here.json
python tests/key_numbers.py here.json there.json
"""

from __future__ import annotations

import json
import sys
from pathlib import Path

from vanpower import Days, Shade, Snapshot, check, compare, examples

ALIKE = 1e-9
# share by which the same number may differ between versions
LIGHTS = {
    "bright": Snapshot(light=950.0, temp_cell=55.0),
    "dull": Snapshot(light=60.0, temp_cell=8.0),
    "shaded": Snapshot(light=800.0, temp_cell=30.0, shade=(Shade(panel=0, substring=0, lit=0.2),)),
    "median day": Days(day="median"),
}


def key_numbers() -> dict[str, float]:
    """Watts and watt-hours of every example in every wiring, and the margin of every check."""
    numbers = {}
    for example in examples():
        rig = example(example)
        for place, verdict in enumerate(check(rig)):
            numbers[f"{example}, check {place}"] = verdict.margin
        for light, request in LIGHTS.items():
            for name, outcome in compare(rig.wirings(shade=request.shade), request).outcomes.items():
                numbers[f"{example}, {light}, {name}"] = outcome.energy_wh
    return numbers


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
