"""Whether the engine's innermost loops run compiled: where numba is installed and work is heavy enough to load it for.

Loading takes half a second (16 seconds the first time ever, which compiles them) and takes almost half off the time of
heavily shaded arrays: it pays from some thousand moments on, and is left to whoever knows that so many are asked for.
Without it, and until then, numpy does all, to the same digits.
"""

from __future__ import annotations

from types import ModuleType

_loaded: list[ModuleType] = []
# `engine.kernels`, once it was worth its loading


def kernels() -> ModuleType | None:
    """`engine.kernels` where it is loaded.

    Examples
    --------
    >>> from vanpower.engine import compiled
    >>> was = compiled._loaded.copy()
    >>> compiled._loaded.clear()
    >>> print(kernels())  # before anything heavy runs
    None
    >>> compiled._loaded.extend(was)
    """
    return _loaded[0] if _loaded else None


def load() -> bool:
    """Load the compiled loops, for heavy work; whether they are there.

    Examples
    --------
    >>> load() is (kernels() is not None)  # as numba is installed or not
    True
    """
    if not _loaded:
        try:
            from vanpower.engine import kernels as loops
        except (ImportError, RuntimeError):
            # numba is not here, or finds no place to keep what it compiles
            return False
        _loaded.append(loops)
    return True
