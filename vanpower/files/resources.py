"""Where the kit's own examples and measured days lie."""

from __future__ import annotations

from pathlib import Path


def data_folder() -> Path:
    """The folder `data`: inside an installed package, beside it in the repository.

    Examples
    --------
    >>> sorted(path.name for path in data_folder().glob("*.toml"))
    ['batteries.toml', 'controllers.toml']
    """
    inside = Path(__file__).parent.parent / "data"
    return inside if inside.is_dir() else Path(__file__).parent.parents[1] / "data"
