"""What pages ask of any van: its wirings, its shadows, and what a chart of one controller shows of several.

A van may have one panel or many, unlike ones, several controllers. Pages name no count of their own.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from pathlib import Path

from vanpower.figures.panels_drawing import InShade
from vanpower.figures.roof_plan import OnRoof, known_day, roof_day
from vanpower.files.my_van import my_van_path
from vanpower.results.verdict import Verdict
from vanpower.rig import (
    Cable,
    Inverter,
    Load,
    Parked,
    Request,
    Rig,
    Shade,
    Shares,
    Snapshot,
    Source,
    Stop,
    Wiring,
)
from vanpower.rig.roof import lack_of_lying
from vanpower.studies.comparison import Comparison, compare
from vanpower.studies.trips import Trip, scaled_load, walk_trip
from vanpower.trials.logs import Log, read_log
from vanpower.trials.used_panel import PanelReadings, panel_as_read

Spot = tuple[int, int | None]
# a panel, counted from 0, and one of its groups of cells or None for all of it
OWN_LOG = "my-log.csv"
# a log of one's own van, beside its file
SECTIONS_MM2 = (1.5, 2.5, 4.0, 6.0, 10.0, 16.0)
# as IEC 60228 has them
FUSES_A = (8.0, 10.0, 12.0, 15.0, 20.0, 25.0, 30.0)
# as shops have them for panels; common practice, no source
KETTLE = Load(name="kettle", p_load=900.0, from_h=7.0, to_h=7.2, mains=True)
LEFT_ON = Inverter(p_own=8.0, efficiency_pct=90.0)
BELT = Source(name="alternator", kind="alternator", i_charge_max=30.0)
# what people ask of a trip: tea in the morning by an inverter that stays on, a charger that the alternator feeds


def ways(van: Rig, shade: Sequence[Shade] = ()) -> dict[str, Rig]:
    """The van in every wiring of its first controller's panels, by name; as it stands where these are too many.

    Examples
    --------
    >>> from vanpower import example
    >>> list(ways(example("puppet-stage")))
    ['4s', '2s2p', '4p']
    """
    try:
        return van.wirings(shade=shade)
    except ValueError:  # so many unlike panels have more wirings than anybody reads
        return {van.wiring_name: van}


def by_name(van: Rig) -> dict[str, str]:
    """The wirings of a van as a list offers them.

    Examples
    --------
    >>> from vanpower import example
    >>> by_name(example("bookmobile"))
    {'2s': '2s', '2p': '2p'}
    """
    return {name: name for name in ways(van)}


def wirings_of(van: Rig) -> dict[str, Wiring]:
    """What a list of wirings stands for: the one there is first, then every other of the first controller's panels.

    Examples
    --------
    >>> from vanpower import example
    >>> list(wirings_of(example("bookmobile")))
    ['2p', '2s']
    """
    own = van.circuits[0].wiring
    return {own.name: own} | {name: one.circuits[0].wiring for name, one in ways(van).items()}


def sections_of(van: Rig) -> dict[str, float]:
    """Copper sections of a roof cable as a list offers them, the one there is among them. [mm²]

    Examples
    --------
    >>> from vanpower import example
    >>> list(sections_of(example("bookmobile")))[:3]
    ['1.5 mm²', '2.5 mm²', '4 mm²']
    """
    return {f"{one:g} mm²": one for one in sorted({van.circuits[0].cable.section_mm2, *SECTIONS_MM2})}


def fuses_of(van: Rig) -> dict[str, float | None]:
    """Fuses of a string as a list offers them, first what the van's file has. [A]

    Examples
    --------
    >>> from vanpower import example
    >>> list(fuses_of(example("bookmobile")))[:2]
    ['as the file has it', '8 A']
    """
    return {"as the file has it": van.circuits[0].i_fuse_string} | {f"{one:g} A": one for one in FUSES_A}


def without(van: Rig, fixture: str | None) -> Rig:
    """The van with one thing less on its roof; as it is for None.

    Examples
    --------
    >>> from vanpower import example
    >>> [one.name for one in without(example("goat-cheese-van"), "flue").roof.fixtures]
    ['vent', 'vent lid', 'roof box', 'aerial', 'trees in the east']
    """
    plan = van.need_roof()
    return van.changed(roof=plan.changed(fixtures=tuple(one for one in plan.fixtures if one.name != fixture)))


def compared(van: Rig, request: Request) -> Comparison | tuple[Comparison, Verdict]:
    """Every wiring of a van in the same light.

    Of several controllers the verdict counts all, and the comparison to draw is that of the first one alone, since
    volts of two arrays have no common curve.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> noon = Snapshot(light=800, temp_cell=25)
    >>> first, verdict = compared(example("kiln-bus"), noon)
    >>> [len(outcome.rig.circuits) for outcome in first.outcomes.values()]
    [1, 1]
    >>> verdict.sentence == compare(example("kiln-bus").wirings(), noon).verdict.sentence
    True
    """
    return drawn(ways(van, request.shade), request)


def drawn(rigs: Mapping[str, Rig], request: Request) -> Comparison | tuple[Comparison, Verdict]:
    """Named rigs in the same light: what is drawn of them, and the verdict where that counts more.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> drawn(example("bookmobile").wirings(), Snapshot(light=800, temp_cell=25)).ranking
    ['2s', '2p']
    """
    whole = compare(rigs, request)
    if all(len(rig.circuits) == 1 for rig in rigs.values()):
        return whole
    first = {name: rig.changed(circuits=rig.circuits[:1]) for name, rig in rigs.items()}
    return compare(first, request), whole.verdict


def as_offered(van: Rig, readings: PanelReadings) -> Comparison:
    """A van's first panel alone on its first controller, in the dull light of some readings: by its label, and as read.

    Examples
    --------
    >>> from vanpower import PanelReadings, example
    >>> read = PanelReadings(light=900, temp_cell=40, i_sc=5.6, v_oc=21.2, light_dull=40, temp_dull=15, v_oc_dull=12)
    >>> as_offered(example("bookmobile"), read).ranking
    ['sound', 'this one']
    """
    panel, circuit = van.panels[0], van.circuits[0].changed(wiring=Wiring(strings=((0,),)), cable=Cable(length_m=0.0))
    sound = van.changed(panels=(panel,), circuits=(circuit,), roof=None)
    this = van.changed(panels=(panel_as_read(panel, readings),), circuits=(circuit,), roof=None)
    assert readings.light_dull is not None
    assert readings.temp_dull is not None
    request = Snapshot(light=readings.light_dull, temp_cell=readings.temp_dull)
    return compare({"sound": sound, "this one": this}, request)


def in_shade(
    van: Rig, shape: Shares, *, lit: float, light: float, temp_cell: float, wiring: str = ""
) -> tuple[InShade, Verdict]:
    """Every wiring of a van with a shadow drawn on its panels, to be shown with the current of one of them.

    Examples
    --------
    >>> from vanpower import example
    >>> van = example("bookmobile")
    >>> part = Shares.on([(0, 0)], van.panels)
    >>> found, verdict = in_shade(van, part, lit=0.2, light=700, temp_cell=30, wiring="2p")
    >>> found.shown.rig.wiring_name, verdict.answer
    ('2p', 'yes')
    """
    found = compared(van, Snapshot(light=light, temp_cell=temp_cell, shade=shape.notes(van.panels, lit)))
    comparison, verdict = found if isinstance(found, tuple) else (found, found.verdict)
    return InShade(comparison, wiring, shape), verdict


def parked(rigs: Mapping[str, Rig], moment: Parked, *, dragging: bool = False) -> OnRoof:
    """Named rigs at one hour of a parked day, and over that day; while something is dragged only if that is known.

    Examples
    --------
    >>> from vanpower import example
    >>> nine = Parked(latitude_deg=47, day="06-23", hour=9)
    >>> found = parked({"3s": example("goat-cheese-van")}, nine, dragging=True)
    >>> round(found.moment.outcomes["3s"].energy_wh), found.day is None
    (255, True)
    """
    found = drawn(rigs, moment)
    comparison, verdict = found if isinstance(found, tuple) else (found, None)
    return OnRoof(comparison, known_day(rigs, moment) if dragging else roof_day(rigs, moment), verdict)


def shadows(van: Rig) -> dict[str, tuple[Spot, ...]]:
    """Shapes that a shadow can have on the panels of a van's first controller, by what they cover.

    Examples
    --------
    >>> from vanpower import example
    >>> list(shadows(example("goat-cheese-van")))
    ['part of P1', 'all of P1', 'part of P1 and P2', 'part of every panel', 'every panel']
    >>> shadows(example("hay-cart"))
    {'part of P1': ((0, 0),), 'all of P1': ((0, None),)}
    """
    panels = sorted(van.circuits[0].wiring.panels)
    first, several = f"P{panels[0] + 1}", "both panels" if len(panels) == 2 else "every panel"
    shapes: dict[str, Sequence[Spot]] = {f"part of {first}": [(panels[0], 0)], f"all of {first}": [(panels[0], None)]}
    if len(panels) > 2:
        shapes[f"part of {first} and P{panels[1] + 1}"] = [(panel, 0) for panel in panels[:2]]
    if len(panels) > 1:
        shapes |= {f"part of {several}": [(panel, 0) for panel in panels], several: [(p, None) for p in panels]}
    return {words: tuple(spots) for words, spots in shapes.items()}


def shade_on(spots: Sequence[Spot], lit: float) -> tuple[Shade, ...]:
    """Shade notes for a shadow's spots, of which a share of the light is left.

    Examples
    --------
    >>> shade_on(((0, 0), (1, None)), 0.2)[1].panel
    1
    """
    return tuple(Shade(panel=panel, substring=group, lit=lit) for panel, group in spots)


def way_of(found: Comparison) -> str:
    """How the best wiring joins its first controller's panels, in words; or that it makes no difference.

    Examples
    --------
    >>> from vanpower import Snapshot, example
    >>> shade = shade_on(shadows(example("bookmobile"))["part of both panels"], 0.2)
    >>> way_of(compare(example("bookmobile").wirings(shade=shade), Snapshot(light=700, temp_cell=30, shade=shade)))
    'in series'
    """
    if found.verdict.answer == "no" or len(found.outcomes) == 1:
        return "no difference"
    strings = found.outcomes[found.ranking[0]].rig.circuits[0].wiring.strings
    if len(strings) == 1:
        return "in series"
    return "in parallel" if all(len(string) == 1 for string in strings) else "a mix of both"


def on_trip(
    van: Rig,
    stops: Sequence[Stop],
    *,
    weeks: int,
    drive_h: float,
    loads_pct: float,
    kettle_min: float,
    shade_pct: float,
) -> Trip:
    """A van's trip under other habits.

    Parameters
    ----------
    van : Rig
    stops : sequence of Stop
    weeks : int
        How many it begins later.
    drive_h : float
        Hours driven on each day at a stop, with a charger of 30 A that the alternator feeds.
    loads_pct : float
        Loads, of those in the van's file. [%]
    kettle_min : float
        Minutes a day that a kettle of 900 W boils.
    shade_pct : float
        Share of the daylight that each stop is in shade at least. [%]

    Examples
    --------
    >>> from vanpower import example
    >>> from vanpower.files.stops import read_stops
    >>> habits = {"weeks": 28, "drive_h": 0.0, "loads_pct": 100, "kettle_min": 0, "shade_pct": 0}
    >>> len(on_trip(example("bookmobile"), read_stops("three-coasts"), **habits).short)
    0
    """
    loads = tuple(scaled_load(load, loads_pct / 100) for load in van.loads)
    boils = (KETTLE.changed(to_h=KETTLE.from_h + kettle_min / 60),) if kettle_min else ()
    tried = van.changed(loads=(*loads, *boils), inverter=van.inverter or (LEFT_ON if boils else None))
    later = [
        replace(one.later(7 * weeks), drive_daily_h=drive_h, shade_pct=max(one.shade_pct, float(shade_pct)))
        for one in stops
    ]
    return walk_trip(tried.with_source(BELT) if drive_h else tried, later, changes=False)


def needs_capacity(van: Rig) -> str:
    """What a walk through time lacks; empty where it lacks nothing.

    Examples
    --------
    >>> from vanpower import example
    >>> needs_capacity(example("bookmobile")), needs_capacity(example("bookmobile").with_battery(capacity_ah=None))
    ('', 'the amp-hours of the battery')
    """
    return "the amp-hours of the battery" if van.battery.capacity_ah is None else ""


def needs_roof(van: Rig) -> str:
    """What a shadow on the roof lacks; empty where it lacks nothing.

    Examples
    --------
    >>> from vanpower import example
    >>> needs_roof(example("goat-cheese-van")), needs_roof(example("bookmobile"))
    ('', 'the roof with its panels and what stands on it')
    """
    placed = van.roof is not None and van.roof.spots and van.roof.fixtures
    return "" if placed else lack_of_lying(van.panels) or "the roof with its panels and what stands on it"


def own_log_path() -> Path:
    """Where the log of one's own van would be.

    Examples
    --------
    >>> own_log_path().name
    'my-log.csv'
    """
    return my_van_path().with_name(OWN_LOG)


def own_log() -> Log:
    """The log of one's own van.

    Raises
    ------
    ValueError
        As of `read_log`.

    Examples
    --------
    >>> own_log_path().exists()
    False
    """
    return read_log(own_log_path())


def needs_log(van: Rig) -> str:
    """What a trial lacks; empty where there is a log of one's own van that can be read.

    Examples
    --------
    >>> from vanpower import example
    >>> needs_log(example("bookmobile"))
    'a log of your van, saved as my-log.csv beside my-van.toml'
    """
    if not own_log_path().exists():
        return f"a log of your van, saved as {OWN_LOG} beside {my_van_path().name}"
    try:
        own_log()
    except ValueError as trouble:
        return f"a log that can be read, and says: {str(trouble).rstrip('.')}"
    return ""
