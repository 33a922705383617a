"""All checks of a rig in order of danger; which of them forbid a rig, and what no check answers."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Sequence
from dataclasses import replace
from functools import lru_cache

from vanpower.checks.amps import clipping, input_current
from vanpower.checks.backfeed import feeds_back
from vanpower.checks.battery import charge_current, cold_charging
from vanpower.checks.beside_the_van import beside_the_van, is_portable
from vanpower.checks.charging import charge_settings
from vanpower.checks.circulating import circulating
from vanpower.checks.copper import battery_side, cable_current, cable_loss
from vanpower.checks.feeding import battery_feed
from vanpower.checks.fuses import can_be_fused, reverse_current, string_fuse
from vanpower.checks.glance import Checks, subject
from vanpower.checks.labels import labels, missing
from vanpower.checks.parts import with_parts
from vanpower.checks.plugs_and_isolator import extension, isolator, plugs, touch_volts
from vanpower.checks.switch import plain_switch
from vanpower.checks.volts import cold_ceiling, hot_floor, start_volts
from vanpower.results.verdict import Verdict
from vanpower.rig import Circuit, Rig

OfCircuit = Callable[[Rig, Circuit], Verdict]
OfRig = Callable[[Rig], Verdict]

DESTROYS: tuple[OfCircuit, ...] = (cold_ceiling, input_current, circulating)
BURNS: tuple[OfCircuit, ...] = (
    string_fuse,
    reverse_current,
    battery_feed,
    plugs,
    extension,
    cable_current,
    battery_side,
    isolator,
)
HURTS: tuple[OfCircuit, ...] = (touch_volts,)
AGES: tuple[OfRig, ...] = (cold_charging, charge_current, charge_settings)
WASTES: tuple[OfCircuit, ...] = (start_volts, hot_floor, plain_switch, cable_loss, clipping, beside_the_van)
DOUBTS: tuple[OfRig, ...] = (labels, missing)
FALLS_SHORT: tuple[OfCircuit, ...] = (start_volts, hot_floor, plain_switch, beside_the_van)
# what a mistake does, the worst first: the controller dies or a panel burns on any sunny day, the van burns, a person
# is hurt, the battery ages, watt-hours are lost, the other answers are in doubt; and what the watts of one light need
# not show
BONDING = (
    "Bonding of the panels' frames and the roof to the chassis, by your local rules; and whether a controller joins "
    "plus to plus and works in the minus (common positive, on its sheet): then no panel's minus touches the chassis, "
    "the battery's minus or another controller's."
)
# common practice, no source
INSULATION = "Insulation of the roof cables, which IEC 62446-1 6.7 tests with an instrument of its own."
# its table of contents was read
FEED_EACH_OTHER = 2
# strings up to which one can push no more into another than a panel gives; more of them mostly need fuses


def check(rig: Rig, *, only: Sequence[str] = ()) -> Checks:
    """All safety and fitness checks of a rig, the most dangerous mistakes first.

    Parameters
    ----------
    rig : Rig
    only : sequence of str
        Names of some checks, such as ("cold ceiling", "start"), in that order; all where it is empty.

    Returns
    -------
    Checks
        A sequence of `Verdict`, also found by name: ``check(rig)["cold ceiling"]``.

    Raises
    ------
    ValueError
        For a name that no check has.

    Examples
    --------
    >>> from vanpower import example
    >>> [verdict.answer for verdict in check(example("puppet-stage"))][:3]
    ['yes', 'yes', 'yes']
    >>> check(example("puppet-stage"))["cold ceiling"].unit
    'V'
    """
    made = []
    for circuit in rig.circuits:
        made += [ask(rig, circuit) for ask in (*DESTROYS, *BURNS, *HURTS) if _asked(ask, rig, circuit)]
    made += [ask_rig(rig) for ask_rig in AGES]
    for circuit in rig.circuits:
        made += [ask(rig, circuit) for ask in WASTES if _asked(ask, rig, circuit)]
    whole = Checks(rig, (*made, *(ask_rig(rig) for ask_rig in DOUBTS)))
    return whole.only(only) if only else whole


def refusal(rig: Rig) -> Verdict | None:
    """The verdict that forbids a rig, if one does: what would damage a controller or a panel, whatever it delivers.

    Strings that need a fuse where no legal one exists are forbidden as well: no part mends them.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("puppet-stage")
    >>> refusal(rig) is None
    True
    >>> print(refusal(rig.wired("4s")).question)
    Cold ceiling: does 4s stay under 80 V at -17 °C?
    """
    for circuit in rig.circuits:
        for ask in (*DESTROYS, *[clipping] * (circuit.controller.tracker == "direct")):
            if _asked(ask, rig, circuit) and (verdict := ask(rig, circuit)).answer == "no":
                return verdict
    unfused = (circuit for circuit in rig.circuits if not can_be_fused(rig, circuit))
    return next((string_fuse(rig, circuit) for circuit in unfused), None)


def harmed(refusals: Iterable[Verdict]) -> str:
    """What the wirings that were refused would damage, in words.

    Examples
    --------
    >>> from vanpower import example
    >>> harmed([cold_ceiling(rig, rig.circuits[0]) for rig in (example("puppet-stage").wired("4s"),)])
    'a controller'
    """
    panels = [verdict.question.startswith(("Circulating", "String fuse")) for verdict in refusals]
    return " or ".join(["a controller"] * (not all(panels)) + ["a panel"] * any(panels))


def shortfalls(rig: Rig) -> tuple[Verdict, ...]:
    """What a wiring falls short of for good, though watts of one light need not show it: every no, circuit by circuit.

    Examples
    --------
    >>> from vanpower import example
    >>> shortfalls(example("puppet-stage"))
    ()
    >>> [verdict.question.partition(":")[0] for verdict in shortfalls(example("puppet-stage").wired("4p"))]
    ['Start', 'Hot floor']
    """
    return _shortfalls(rig if rig.roof is None else replace(rig, roof=None))


@lru_cache(maxsize=1024)
def _shortfalls(rig: Rig) -> tuple[Verdict, ...]:
    """`shortfalls`, kept; what stands on the roof does not enter."""
    asked = [ask(rig, circuit) for circuit in rig.circuits for ask in FALLS_SHORT if _asked(ask, rig, circuit)]
    return tuple(verdict for verdict in asked if verdict.answer == "no")


def unmended(rig: Rig) -> tuple[Verdict, ...]:
    """What would still damage, burn or fall short once all on the lists is fitted; then nothing is to buy yet.

    Examples
    --------
    >>> from vanpower import example
    >>> unmended(example("seed-swap"))
    ()
    >>> [verdict.question.partition(":")[0] for verdict in unmended(example("puppet-stage").wired("4s"))]
    ['Cold ceiling']
    """
    bought = with_parts(rig)
    first = refusal(bought)
    worst = () if first is None else (first,)
    left = (*burning(bought), *shortfalls(bought))
    return (*worst, *(verdict for verdict in left if verdict.answer == "no" and verdict not in worst))


def mended_by_parts(rig: Rig) -> tuple[Verdict, ...]:
    """What a rig lacks that the right part mends, string fuses apart: every no, circuit by circuit.

    Examples
    --------
    >>> from vanpower import example
    >>> [verdict.question.partition(":")[0] for verdict in mended_by_parts(example("seed-swap"))]
    ['Reverse current']
    """
    asks = (*(ask for ask in BURNS if ask is not string_fuse), cable_loss)
    asked = [ask(rig, circuit) for circuit in rig.circuits for ask in asks if _asked(ask, rig, circuit)]
    return tuple(verdict for verdict in asked if verdict.answer == "no")


def failed(rig: Rig) -> tuple[Verdict, ...]:
    """What burns, lacks a fuse or falls short of its watts in a rig, for answers that were asked of watts alone.

    Examples
    --------
    >>> from vanpower import example
    >>> for verdict in failed(example("seed-swap")):
    ...     print(verdict.question)
    String fuse: is 3p guarded against its own strings?
    Reverse current: are the panels of 3p rated for what the other strings push back?
    >>> failed(example("puppet-stage"))
    ()
    """
    return tuple(verdict for _, verdict in _failed(rig if rig.roof is None else replace(rig, roof=None)))


def burning(rig: Rig) -> tuple[Verdict, ...]:
    """The same without what only falls short of watts.

    Examples
    --------
    >>> from vanpower import example
    >>> [verdict.question.partition(":")[0] for verdict in burning(example("seed-swap"))]
    ['String fuse', 'Reverse current']
    """
    return tuple(v for ask, v in _failed(rig if rig.roof is None else replace(rig, roof=None)) if ask in BURNS)


def before_joined(rig: Rig, name: str) -> str:
    """What must be put right before a rig is joined, as a sentence; empty where nothing burns.

    Examples
    --------
    >>> from vanpower import example
    >>> before_joined(example("seed-swap"), "3p")
    'Before 3p is joined, put right: string fuse, reverse current.'
    """
    return f"Before {name} is joined, put right: {', '.join(lacks)}." if (lacks := lacking(rig)) else ""


def lacking(rig: Rig) -> list[str]:
    """What burns until it is mended, by its subjects, in small letters."""
    return list(dict.fromkeys(subject(verdict, inside=True) for verdict in burning(rig)))


@lru_cache(maxsize=1024)
def _failed(rig: Rig) -> tuple[tuple[OfCircuit, Verdict], ...]:
    """`failed` with who asks, kept; what stands on the roof does not enter."""
    asks = (*BURNS, *FALLS_SHORT)
    asked = [(ask, ask(rig, circuit), circuit) for circuit in rig.circuits for ask in asks if _asked(ask, rig, circuit)]
    return tuple((ask, verdict) for ask, verdict, circuit in asked if _fails(ask, verdict, circuit))


def _fails(ask: OfCircuit, verdict: Verdict, circuit: Circuit) -> bool:
    """Whether a circuit should be mended first: a no, what burns by any rule, and an unknown fuse mostly needed."""
    fed = feeds_back(circuit.controller) and not circuit.i_fuse_array
    needed = not circuit.i_fuse_string and (len(circuit.wiring.strings) > FEED_EACH_OTHER or fed)
    unknown = ask is string_fuse and verdict.answer == "close" and needed
    # amps between a label's fuse and those it was tested with are close and want no part; string_fuse tells who does
    wants = ask not in (*FALLS_SHORT, reverse_current)
    return verdict.answer == "no" or unknown or (verdict.margin < 0 and wants)


def unasked(rig: Rig) -> tuple[str, ...]:
    """What `check` does not answer for a rig, a sentence each.

    Examples
    --------
    >>> from vanpower import example
    >>> rig = example("goat-cheese-van")
    >>> print(unasked(rig)[0])
    Input current: the file does not say which short-circuit amps the input stands (i_pv_sc_max).
    """
    said = []
    if any(circuit.controller.i_pv_sc_max is None for circuit in rig.circuits):
        said.append("Input current: the file does not say which short-circuit amps the input stands (i_pv_sc_max).")
    if any(circuit.cable.length_m == 0 for circuit in rig.circuits):
        said.append("Roof cable: the file does not say how long it is (length_m).")
    said += [BONDING, INSULATION]
    return (*said, "Glue, screws, glands, crimps, what else is on board, and your local rules.")


def _asked(ask: OfCircuit, rig: Rig, circuit: Circuit) -> bool:
    """Whether the file says enough for a check to be asked."""
    if ask is input_current:
        return circuit.controller.i_pv_sc_max is not None
    if ask is plain_switch:
        return circuit.controller.tracker == "direct"
    if ask is battery_feed:
        return feeds_back(circuit.controller) or circuit.i_fuse_array is not None
    if ask is circulating:
        return len(circuit.wiring.strings) > 1
    if ask is beside_the_van:
        return is_portable(rig, circuit)
    if ask is extension:
        return circuit.i_extension_max is not None
    return ask not in (cable_current, cable_loss) or circuit.cable.length_m > 0
