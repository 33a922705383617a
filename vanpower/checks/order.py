"""In what order a rig is put together, measured and taken apart, so that a meter can follow and nothing arcs.

Every step names its acts beside its words, so that a reader, or a test, can ask which state each act needs: no string
is joined to another before its polarity and volts were read, the glass is bare where volts are read and covered where
plugs and fuses are handled, and the controller has its battery before its settings and before its panels. Covered glass
takes the amps away and not the volts, which fall with the logarithm of the light.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from vanpower.checks.common import V_DO_NOT_TOUCH, V_EXTRA_LOW, rounded_up, string_voltage, strings_of, when_coldest
from vanpower.checks.fuses import string_fuse_sizes
from vanpower.checks.parts import array_fuse_size
from vanpower.rig import Circuit, Rig

Act = tuple[str, int, int | None]
# what is done, to which circuit, and to which of its strings
WITHIN_PCT = 5
# [%] volts of strings alike in steady light, typically; IEC 62446-1 6.4, secondary copy


@dataclass(frozen=True, kw_only=True)
class Step:
    """One step of work: what it says, and what is done in it, in that order.

    Examples
    --------
    >>> Step(words="Cover the glass.", acts=(("cover", 0, 0),)).acts[0]
    ('cover', 0, 0)
    """

    words: str
    acts: tuple[Act, ...]


def order_of_work(rig: Rig) -> tuple[Step, ...]:
    """Steps of assembly and measurement in safe order, and the last one to take it apart again.

    Notes
    -----
    The tests come in the order of IEC 62446-1 6.2 to 6.6: polarity, strings before they are joined, open-circuit volts,
    current, function (its table of contents and two summaries were read, secondary copies). Its 6.1 is the continuity
    of earthing and bonding, which local rules decide here, and its 6.7 the resistance of the insulation, which takes an
    instrument of its own: `unasked` names both. Cores measured with both ends free come from the trade. Battery before
    panels, and the rest: common practice, no source.

    Examples
    --------
    >>> from vanpower import example
    >>> steps = order_of_work(example("bookmobile"))
    >>> print(steps[4].words.partition(".")[0])
    Battery, its fuse out: cable to controller and fuse holder
    """
    return (
        _cover(rig),
        _panels(rig),
        _mount(rig),
        _continuity(rig),
        _battery(rig),
        _settings(rig),
        _strings(rig),
        _join(rig),
        _isolator(rig),
        _first_amps(rig),
        _apart(rig),
    )


def _cover(rig: Rig) -> Step:
    """Before anything."""
    return Step(
        words="Dry, no wind, somebody holds the ladder. Cover the glass; it stays covered but where a step says "
        "otherwise. Covered panels give hardly any amps, yet volts: keep bare ends capped.",
        acts=tuple(("cover", c, s) for c, s in _all(rig)),
    )


def _panels(rig: Rig) -> Step:
    """Each panel before it goes up."""
    done = (((act, c, s) for act in ("uncover", "panel volts", "cover")) for c, s in _all(rig))
    return Step(
        words="Each panel alone, before it goes up, uncovered: polarity, and volts about its label's. Cover it.",
        acts=tuple(act for acts in done for act in acts),
    )


def _mount(rig: Rig) -> Step:
    """Glue, holes, boxes."""
    return Step(
        words="Glue and screw the panels, an air gap below; glands, drip loops, strain relief. Fix controller, "
        "isolator (open) and empty fuse holders; screws to their sheets' torque; label them: solar, live in daylight.",
        acts=tuple(("mount", c, None) for c, _ in enumerate(rig.circuits)),
    )


def _continuity(rig: Rig) -> Step:
    """Cables before any source is on them."""
    return Step(
        words="Cables with both ends free, ohms: each core through, none from plus to minus or to the chassis.",
        acts=tuple(("continuity", c, None) for c, _ in enumerate(rig.circuits)),
    )


def _battery(rig: Rig) -> Step:
    """The battery side."""
    acts = ("battery cable on", "battery volts", "battery fuse in")
    each = "; one controller after the other" if len(rig.circuits) > 1 else ""
    return Step(
        words=f"Battery, its fuse out: cable to controller and fuse holder{each}. Meter from holder to minus: battery "
        "volts, the right way round. Then the fuse in: the controller wakes.",
        acts=tuple((act, c, None) for c, _ in enumerate(rig.circuits) for act in acts),
    )


def _settings(rig: Rig) -> Step:
    """What is set, now that the controller has supply."""
    lithium = ", cold cut-off on" if rig.battery.chemistry.startswith("lithium") else ""
    alike = ", alike on both" if len(rig.circuits) == 2 else ", alike on all" if len(rig.circuits) > 2 else ""
    return Step(
        words=f"Set what can be set: battery volts, chemistry, charge stages{lithium}{alike}. Do its volts and the "
        "meter's agree?",
        acts=tuple(("settings", c, None) for c, _ in enumerate(rig.circuits)),
    )


def _strings(rig: Rig) -> Step:
    """Each string before it is joined to anything."""
    done = ("plug string", "uncover", "string polarity", "string volts", "cover")
    several = any(len(circuit.wiring.strings) > 1 for circuit in rig.circuits)
    fuses = ", fuses out" if _any_fuse(rig) else ""
    series = any(len(string) > 1 for circuit in rig.circuits for string in circuit.wiring.strings)
    plug = "covered, plug its panels together; uncover it" if series else "uncover it"
    alike = f" Strings alike in steady light agree within {WITHIN_PCT} %." if several else ""
    return Step(
        words=f"Each string by itself, its ends free{fuses}: {plug}, read polarity and volts, {_expected(rig)}; write "
        f"down, cover.{alike} Wrong sign or volts: stop.{_high(rig)}",
        acts=tuple((act, c, s) for c, s in _all(rig) for act in done),
    )


def _join(rig: Rig) -> Step:
    """Strings together, cable to isolator, isolator to controller."""
    several = any(len(circuit.wiring.strings) > 1 for circuit in rig.circuits)
    branches = "branch plugs together, " if several else ""
    roof = any(_roof_fuse(rig, circuit) for circuit in rig.circuits)
    last = " and ".join(["string fuses"] * _any_fuse(rig) + ["the roof cable's fuse"] * roof)
    fuses = f"; {last} in last" if last else ""
    acts: list[Act] = []
    for c, circuit in enumerate(rig.circuits):
        acts += [("join", c, None)] * (len(circuit.wiring.strings) > 1)
        acts += [("roof cable on", c, None), ("controller cable on", c, None)]
        acts += [("string fuse in", c, s) for s in _fused(rig, circuit)]
        acts += [("roof fuse in", c, None)] * _roof_fuse(rig, circuit)
    return Step(
        words=f"Glass covered, isolator open: {branches}roof cable to isolator, isolator to controller{fuses}.",
        acts=tuple(acts),
    )


def _isolator(rig: Rig) -> Step:
    """The whole array, before the controller sees it."""
    each = "s, one after the other," if len(rig.circuits) > 1 else ","
    acts: list[Act] = []
    for c, circuit in enumerate(rig.circuits):
        which = [s for s, _ in enumerate(circuit.wiring.strings)]
        acts += [("uncover", c, s) for s in which]
        acts += [("isolator polarity", c, None), ("isolator volts", c, None)]
        acts += [("cover", c, s) for s in which]
    return Step(
        words=f"Uncover; at the isolator's roof side{each} still open: polarity, and volts as of one string. Cover.",
        acts=tuple(acts),
    )


def _first_amps(rig: Rig) -> Step:
    """Panels last."""
    acts: list[Act] = []
    for c, circuit in enumerate(rig.circuits):
        acts += [("isolator closed", c, None)]
        acts += [("uncover", c, s) for s, _ in enumerate(circuit.wiring.strings)]
        acts += [(act, c, None) for act in ("amps", "isolator opened", "no amps", "isolator closed again")]
    several = any(len(circuit.wiring.strings) > 1 for circuit in rig.circuits)
    clamp = ", with a clamp of each string" if several else ""
    return Step(
        words=f"Isolator closed, then glass uncovered. Read volts and amps{clamp}. Open the isolator once: amps fall "
        "to zero; close it. After ten minutes feel plugs, fuses and cable.",
        acts=tuple(acts),
    )


def _apart(rig: Rig) -> Step:
    """The way back."""
    acts: list[Act] = []
    for c, circuit in enumerate(rig.circuits):
        which = [s for s, _ in enumerate(circuit.wiring.strings)]
        acts += [("charging off", c, None), ("isolator opened", c, None)]
        acts += [("cover", c, s) for s in which]
        acts += [("no amps", c, None)]
        acts += [("roof fuse out", c, None)] * _roof_fuse(rig, circuit)
        acts += [("string fuse out", c, s) for s in _fused(rig, circuit)]
        acts += [("part", c, None)] * (len(which) > 1)
        acts += [("unplug string", c, s) for s in which]
        acts += [("roof cable off", c, None), ("battery fuse out", c, None), ("battery cable off", c, None)]
    fuses = "roof cable's fuse, " if any(_roof_fuse(rig, circuit) for circuit in rig.circuits) else ""
    fuses += "string fuses, " if _any_fuse(rig) else ""
    return Step(
        words="To take apart: charging off, isolator open, glass covered, amps read zero; then "
        f"{fuses}plugs, roof cable; battery fuse and its cable last.",
        acts=tuple(acts),
    )


def _all(rig: Rig) -> Iterator[tuple[int, int]]:
    """Every string of every circuit, counted from 0."""
    return ((c, s) for c, circuit in enumerate(rig.circuits) for s, _ in enumerate(circuit.wiring.strings))


def _fused(rig: Rig, circuit: Circuit) -> list[int]:
    """Strings with a fuse, or with one to be asked for."""
    return [s for s, size in enumerate(string_fuse_sizes(rig, circuit)) if size]


def _roof_fuse(rig: Rig, circuit: Circuit) -> bool:
    """Whether there is, or should be, a fuse in the roof cable at the controller."""
    return bool(circuit.i_fuse_array or array_fuse_size(rig, circuit))


def _any_fuse(rig: Rig) -> bool:
    """Whether any string has a fuse."""
    return any(_fused(rig, circuit) for circuit in rig.circuits)


def _volts(rig: Rig) -> list[tuple[float, float]]:
    """Label and cold volts of each kind of string, low to high. [V]"""
    strings = {string for circuit in rig.circuits for string in strings_of(rig, circuit)}
    return sorted({(sum(p.v_oc for p in s), string_voltage(s, rig.climate.temp_coldest)) for s in strings})


def _expected(rig: Rig) -> str:
    """What the meter shows of each kind of string."""
    told = [f"{label:.0f} V" for label, _ in _volts(rig)]
    highest = max(cold for _, cold in _volts(rig))
    return f"about {' or '.join(dict.fromkeys(told))} (at most {rounded_up(highest)} V {when_coldest(rig)})"


def _high(rig: Rig) -> str:
    """Who measures, and how, where the volts hurt."""
    highest = max(cold for _, cold in _volts(rig))
    if highest > V_EXTRA_LOW:
        return " Above 120 V a licensed person does this."
    return " Above 60 V: shrouded probes, ends capped but while read." if highest > V_DO_NOT_TOUCH else ""
