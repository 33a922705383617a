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


def or_the_kits(path: Path) -> Path:
    """A path as typed; where nothing is there and it begins with `data`, the file of the kit that README means.

    Examples
    --------
    >>> or_the_kits(Path("data/logs/apple-barn.csv")).exists(), or_the_kits(Path("mine.csv")).name
    (True, 'mine.csv')
    """
    ours = path.parts[:1] == ("data",) and ".." not in path.parts and not path.exists()
    kits = data_folder().joinpath(*path.parts[1:]) if ours else path
    return kits if kits.is_file() else path
