"""What may be behind a reading that seems wrong, how often, and what is then to be done.

How often is a guess of workshop talk, no source: no cause on the list is taken to be more than twice as frequent as
another, so that readings decide and not the guess.
"""

from __future__ import annotations

from dataclasses import dataclass

from vanpower.checks.common import NO_ARCS, OVER_VOLTAGE

NOTHING, NO_SUN, ASLEEP_STILL, FULL, LOW_FLOOR, LIMIT, OVER = (
    "nothing wrong", "no sun", "asleep", "battery full", "hot floor", "current limit", "over the ceiling",
)  # fmt: skip
COLD, SHADE, HILL, DIODE, LOST, LEAK, TURNED = (
    "cold lock-out", "shade", "wrong hill", "dead diode", "lost group", "leaky panel", "reversed panel",
)  # fmt: skip
OPEN, SHORT, FUSE, PLUG, LINE, DEAD, OTHER = (
    "open line", "shorted line", "blown fuse", "bad plug", "battery line", "controller dead", "something else",
)  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Cause:
    """One thing that may be behind it.

    Parameters
    ----------
    odds : float
        How often, against the others. Those that the model of a sound rig tells apart share one number.
    says, then : str
        What it is, after "most likely", and what to do about it.
    harmless : bool
        Whether nothing is broken.
    urgent : bool
        Whether charging is switched off before anything else is tried.

    Examples
    --------
    >>> CAUSES["battery full"].harmless
    True
    """

    odds: float
    says: str
    then: str
    harmless: bool = False
    urgent: bool = False


ON_ROOF = "On the roof only dry, without wind, the ladder held."
APART = f"{NO_ARCS} Amps read zero on a clamp around every string too."
# before anything is taken apart: a shorted line and a reversed panel carry amps that no controller shows
ROOF_APART = f"{ON_ROOF} {APART}"
BY_SHEET = "Anything opened or replaced only by its maker's manual or a competent person."
CAUSES: dict[str, Cause] = {
    NOTHING: Cause(
        odds=2.0, harmless=True, says="nothing is wrong: this is what the light gives",
        then="Nothing to mend. Read again when there is more sun, battery not full.",
    ),
    NO_SUN: Cause(
        odds=0.0, harmless=True, says="there is too little light for the controller's own draw",
        then="Wait for light, and read again.",
    ),
    ASLEEP_STILL: Cause(
        odds=0.0, harmless=True,
        says="the controller is still asleep: the panels' volts have not reached the battery's plus its start margin",
        then="Wait for more light. If it stays so in sun, check answers what wiring would wake earlier.",
    ),
    FULL: Cause(
        odds=1.5, harmless=True, says="the battery is full, so the controller takes only what it needs",
        then="Nothing to mend. With a large load on, the amps should rise.",
    ),
    LOW_FLOOR: Cause(
        odds=0.0, harmless=True,
        says="the panels' best volts lie below what this battery needs, mostly since they are hot",
        then="Not broken. More panels in series, or air under the panels; check says which wirings keep clear of it.",
    ),
    LIMIT: Cause(
        odds=0.0, harmless=True, says="the controller is at its charge current limit and leaves the rest on the roof",
        then="Nothing to mend.",
    ),
    OVER: Cause(
        odds=0.0, urgent=True, says="open-circuit volts are above what the controller's input survives",
        then=f"{OVER_VOLTAGE} Isolator off, glass covered; {NO_ARCS}",
    ),
    COLD: Cause(
        odds=1.0, harmless=True, says="the battery is too cold, and the charge is held back on purpose",
        then="Leave the cold cut-off as it is. Warm the battery's place, or wait.",
    ),
    SHADE: Cause(
        odds=1.5, harmless=True, says="something shades part of the glass, or part of it is dirty",
        then=f"{ON_ROOF} Look along the sun's way over the glass: aerial, strap, leaf, dirt, a hand.",
    ),
    HILL: Cause(
        odds=1.0, harmless=True, says="with a part shaded, the tracker sits on a lower hill of power",
        then="Restart the controller by its own switch, never by a plug, and read again; vanpower hill judges the two.",
    ),
    DIODE: Cause(
        odds=1.0, says="a shaded group has a bypass diode that does not conduct",
        then=f"Keep shade off it: shaded cells can burn. {ROOF_APART} Then test each panel alone "
        "(vanpower used, one group covered).",
    ),
    LOST: Cause(
        odds=1.0, says="a group of cells is lost: its bypass diode melted shut, or its line is broken",
        then=f"A hot box on its back means switch off first. {ROOF_APART} Then find the panel by its volts "
        "alone (vanpower used).",
    ),
    LEAK: Cause(
        odds=1.0, says="a panel leaks past its cells",
        then=f"{ROOF_APART} Then find it by its volts alone in dull light (vanpower used).",
    ),
    TURNED: Cause(
        odds=1.0, urgent=True, says="one panel is connected the wrong way round",
        then=f"Do not run it so: diodes and plugs can burn. {ROOF_APART} Then each panel's polarity, and turn that "
        "plug.",
    ),
    OPEN: Cause(
        odds=1.0, says="a line from the panels is open: a plug not home, a broken cable, an isolator off",
        then=f"Isolator on? If not that: {ROOF_APART} Then plugs and cable, ohms with both ends free.",
    ),
    SHORT: Cause(
        odds=1.0, urgent=True,
        says="plus and minus of the panels touch somewhere: a pinched cable, water, a dead input",
        then=f"Its amps flow at no volts, where no controller shows them: unplug nothing yet. {ROOF_APART} Only "
        "then the plugs, and ohms of the cable with both ends free.",
    ),
    FUSE: Cause(
        odds=1.0, says="a fuse in the panels' line is blown",
        then=f"{APART} Out and in only with no amps. Find out why before the next one: polarity, crossed cables, a "
        "damaged panel. The same size, DC-rated.",
    ),
    PLUG: Cause(
        odds=1.0, urgent=True, says="a plug or joint has ohms that it should not have",
        then=f"It can get hot enough to burn: charging off now, do not touch it. {ROOF_APART} Replace both halves, one "
        "make, with the right tool.",
    ),
    LINE: Cause(
        odds=1.0,
        says="the line from controller to battery is open: its fuse, a lug, or a battery that has shut itself off",
        then="Charging off, panels' isolator off first, since a controller without battery can be harmed; loads off. "
        "Then look at the battery's own switch, its fuse and lugs. Nothing metal across the terminals, no fuse "
        "bridged.",
    ),
    DEAD: Cause(
        odds=1.0, says="the controller does not work, or is switched off",
        then=f"Its switch, its setting, its error code first. {BY_SHEET}",
    ),
    OTHER: Cause(
        odds=0.5, says="it is something that is not on this list",
        then=f"Switch charging off, isolator off, and let somebody look who does this for a living. {BY_SHEET}",
    ),
}  # fmt: skip
STAGE_CHANCES = {
    "charging": (0.02, 0.02, 0.88, 0.04, 0.02, 0.01, 0.01),
    "dark": (0.25, 0.65, 0.04, 0.01, 0.03, 0.01, 0.01),
    FULL: (0.01, 0.02, 0.07, 0.43, 0.45, 0.01, 0.01),
    COLD: (0.03, 0.20, 0.10, 0.02, 0.02, 0.50, 0.13),
    DEAD: (0.75, 0.04, 0.03, 0.01, 0.01, 0.01, 0.15),
    LINE: (0.55, 0.10, 0.08, 0.04, 0.03, 0.01, 0.19),
    OVER: (0.30, 0.03, 0.02, 0.01, 0.01, 0.01, 0.62),
    OTHER: (1 / 7,) * 7,
}
# chances that a controller shows off, asleep, bulk, absorption, float, cold, fault: makes differ; no source
LOOKS = {SHADE: 0.93, HILL: 0.93, DIODE: 0.93, OTHER: 0.3}
# chance that somebody who looks sees shade or dirt on the glass; others 0.06; no source
SEEN_FALSELY = 0.06
BROWNED, BROWNED_FALSELY, P_WARM = 0.85, 0.06, 3.0
# chance that a bad plug looks it, where it turns more than so many watts into heat [W], and that a sound one does; no
# source
TELLS = 0.97
# chance that a fuse, or a thermometer at the battery, tells what it is asked; no source
