"""Reads the outside numbers in tests/reference, which other people published."""

from __future__ import annotations

import csv
import json
from pathlib import Path
from typing import Any

REFERENCE = Path(__file__).parent / "reference"


def rows(file: str) -> list[dict[str, str]]:
    """Every row of one CSV file of outside numbers."""
    with (REFERENCE / file).open(encoding="utf-8") as lines:
        return list(csv.DictReader(line for line in lines if not line.startswith("#")))


def worked_example(name: str) -> dict[str, float]:
    """Inputs and answers of one published example, by quantity."""
    return {row["quantity"]: float(row["value"]) for row in rows("worked_examples.csv") if row["example"] == name}


def facts(file: str) -> dict[str, Any]:
    """One JSON file of outside numbers."""
    found: dict[str, Any] = json.loads((REFERENCE / file).read_text(encoding="utf-8"))
    return found


def case(name: str, file: str, key: str = "cases") -> dict[str, Any]:
    """One published case by its id."""
    found: dict[str, Any] = next(one for one in facts(file)[key] if one["id"] == name)
    return found
