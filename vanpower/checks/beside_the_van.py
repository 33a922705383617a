"""Panels that are turned by hand stand beside the van: whether what is left goes on when they are packed away."""

from __future__ import annotations

from vanpower.checks.common import NO_ARCS, named
from vanpower.checks.plugs_and_isolator import TURNING, WIND
from vanpower.results.verdict import Verdict
from vanpower.rig import Circuit, Rig

PACKED = f"To pack one away: {NO_ARCS}"


def beside_the_van(rig: Rig, circuit: Circuit) -> Verdict:
    """Does the roof of a circuit go on when its panels that are turned by hand are packed away?

    Notes
    -----
    A string is one path for its amps (Kirchhoff's current law): without one of its panels it is open. Strings in
    parallel go on without each other.

    Examples
    --------
    >>> from vanpower import example
    >>> van = example("bookmobile").with_panels(only=[1], tilt_deg=40.0, turn_deg=45.0)
    >>> beside_the_van(van, van.circuits[0]).answer
    'yes'
    >>> string = van.wired("2s")
    >>> print(beside_the_van(string, string.circuits[0]).sentence.partition(":")[0])
    P2 is turned by hand, in one string with P1
    """
    strings = [(_turned(rig, string), [panel for panel in string if not rig.panels[panel].turn_deg])
               for string in circuit.wiring.strings]  # fmt: skip
    mixed = [(turned, fixed) for turned, fixed in strings if turned and fixed]
    packed = [panel for turned, _ in strings for panel in turned]
    left = [panel for turned, fixed in strings if not turned for panel in fixed]
    if mixed:
        silent = [panel for _, fixed in mixed for panel in fixed]
        sentence = (
            f"{_said([p for turned, _ in mixed for p in turned])} turned by hand, in one string with {_names(silent)}: "
            f"packed away, that string is open and brings nothing of {_names(silent)} either. Set out, "
            "the panel in the least light sets the amps of the string. Give what is portable a string of its own, of "
            "as many volts, or a controller of its own."
        )  # fmt: skip
    elif left:
        sentence = f"{_said(packed)} turned by hand, in parallel with {_names(left)}: the roof charges without it."
    else:
        sentence = f"{_said(packed)} turned by hand, on a controller of its own: nothing else of the van hangs on it."
    return Verdict(
        question=f"Portable: does the rest of {named(rig, circuit)} go on when what is turned by hand is packed away?",
        answer="no" if mixed else "yes",
        margin=float(-sum(len(fixed) for _, fixed in mixed) if mixed else len(left)),
        unit="panels",
        sentence=sentence,
        basis="a string without one of its panels is open; strings in parallel are not",
        caution=f"{PACKED} {WIND}{TURNING}",
    )


def is_portable(rig: Rig, circuit: Circuit) -> bool:
    """Whether any panel of a circuit is turned by hand.

    Examples
    --------
    >>> from vanpower import example
    >>> is_portable(example("bookmobile"), example("bookmobile").circuits[0])
    False
    """
    return bool(_turned(rig, circuit.wiring.panels))


def _turned(rig: Rig, panels: tuple[int, ...]) -> list[int]:
    """Which of some panels are turned by hand."""
    return [panel for panel in panels if rig.panels[panel].turn_deg]


def _names(panels: list[int]) -> str:
    """P1 and P2."""
    *most, last = [f"P{panel + 1}" for panel in panels]
    return f"{', '.join(most)} and {last}" if most else last


def _said(panels: list[int]) -> str:
    """P1 is, P1 and P2 are."""
    return f"{_names(panels)} {'is' if len(panels) == 1 else 'are'}"
