"""Reads the outside numbers in tests/reference, which other people published."""

from __future__ import annotations

import csv
from pathlib import Path

REFERENCE = Path(__file__).parent / "reference"


def rows(file: str) -> list[dict[str, str]]:
    """Every row of one CSV file of outside numbers."""
    with (REFERENCE / file).open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def worked_example(name: str) -> dict[str, float]:
    """Inputs and answers of one published example, by quantity."""
    return {row["quantity"]: float(row["value"]) for row in rows("worked_examples.csv") if row["example"] == name}
