"""`vanpower fault`: why it charges so little, out of a few readings, and what to measure next."""

from __future__ import annotations

import argparse
import difflib

from vanpower.cli.options import (
    ALL_YES,
    FORM,
    NO_OR_CLOSE,
    RIG_HELP,
    as_typed,
    meant_first,
    number,
    rig_from,
    sky_there,
)
from vanpower.rig import LONGEST_QUOTE

WORDS = {
    "FaultReadings.v_array": "--volts", "FaultReadings.i_array": "--amps", "FaultReadings.p_array": "--watts",
    "FaultReadings.v_battery": "--battery", "FaultReadings.light_within_pct": "--light-within",
    "FaultReadings.light": "--light", "FaultReadings.temp_cell": "--temp", "FaultReadings.stage": "--stage",
    "FaultReadings.measured": "--then", }  # fmt: skip
# fields of readings, and what is typed for them
MORE = """\
Type what you read: panel volts and amps (or watts) at the controller, battery volts, how light it is, what the
controller shows. Two or three are enough. Causes come ranked by the rig's own model, with the one measurement that
tells the first two apart; type its result behind --then and ask again.

light: a number of W/m², a word (night, dusk, dark, grey, hazy, sunny), or --clock LATITUDE DATE SUN-HOUR under a clear
sky, or one by word: --sky broken, bright-cloud or overcast. Guesses count as 20 % off; a meter's or a spare panel's
with --light-within 5.

--then: loaded (amps with a large load on), restart (volts after it), shade, plugs, cable, fuse, polarity, diodes, cold
(yes or no), light, open, dusk, terminals, string-amps, string-volts, panel-volts

Nothing here asks you to unplug under load. If something is hot, smells or crackles, stop reading: charging off,
isolator off, away from it.

try:
  vanpower fault bookmobile --volts 18 --amps 0 --battery 13.1 --light grey
  vanpower fault bookmobile --volts 21.4 --amps 0.3 --battery 14.4 --light 800 --stage absorption
  vanpower fault bookmobile --volts 18.2 --amps 4.9 --light sunny --then shade=no open=21.6

exit code: 0 nothing broken, 1 something is, or it cannot be told, 2 bad input
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower fault`."""
    about = "why does it charge so little: ranked causes and the next measurement"
    fault = commands.add_parser("fault", help=about, description=MORE, formatter_class=FORM)
    fault.usage = "vanpower fault RIG.toml --volts 18 --amps 0 [--battery 13.1] [--light grey] [options]"
    fault.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    fault.add_argument("--volts", type=number, metavar="V", help="panels' volts at the controller")
    fault.add_argument("--amps", type=number, metavar="A", help="amps from the panels, not into the battery")
    fault.add_argument("--watts", type=number, metavar="W", help="the panels' watts, as the controller shows them")
    fault.add_argument("--battery", type=number, metavar="V", help="volts at the battery's terminals")
    fault.add_argument("--light", metavar="W/m²", help="light on the panels, a number or a word")
    fault.add_argument("--light-within", type=number, metavar="%", help="by how much that may be off (20)")
    fault.add_argument("--clock", nargs=3, metavar=("LATITUDE", "DATE", "HOUR"),
                       help="instead: the light of a clear sky there, such as 47 06-21 13")  # fmt: skip
    fault.add_argument("--sky", metavar="WORD", help="with --clock: clear, broken, bright-cloud or overcast (clear)")
    fault.add_argument("--temp", type=number, metavar="°C", help="heat at the panels' back")
    fault.add_argument("--stage", metavar="WORD", help="what the controller shows: off, asleep, bulk, absorption, "
                       "float, cold or fault")  # fmt: skip
    fault.add_argument("--then", nargs="+", default=[], metavar="NAME=VALUE", help="what was measured since")
    fault.add_argument("--circuit", type=int, metavar="N", help="which controller was measured, from 1")
    fault.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print the causes and the next measurement."""
    from vanpower.trials.faults.finding import find_fault
    from vanpower.trials.faults.readings import FaultReadings

    rig = meant_first(rig_from(asked.rig), asked.circuit)
    if asked.light is not None and asked.clock is not None:
        raise ValueError("--light and --clock both say how light it is; give one of the two.")
    if asked.sky is not None and asked.clock is None:
        raise ValueError("--sky says how the sky over --clock looks; add --clock LATITUDE DATE HOUR.")
    measured = tuple(_measured(pair) for pair in asked.then)
    with as_typed(WORDS):
        light, within = _light(asked.light)
        if asked.clock:
            light, _, within = sky_there(asked.clock, rig, rig.circuits[0].wiring.panels, asked.sky)
        within = within if asked.light_within is None else asked.light_within
        readings = FaultReadings(
            v_array=asked.volts, i_array=asked.amps, p_array=asked.watts, v_battery=asked.battery, light=light,
            light_within_pct=within, temp_cell=asked.temp, stage=asked.stage, measured=measured,
        )  # fmt: skip
        if not readings.known - {"light", "battery"}:
            raise ValueError("no reading was given; add --volts and --amps, or what the controller shows (--stage).")
        found = find_fault(rig, readings)
    print(f"{rig.name}: {rig.circuits[0].wiring.name}\n\n{found.text(100)}\n\n{found.verdict}")
    return ALL_YES if found.verdict.answer == "yes" else NO_OR_CLOSE


def _light(text: str | None) -> tuple[float | None, float]:
    """Light as typed, and by how much it may be off in percent."""
    from vanpower.trials.faults.readings import BY_EYE_PCT, LIGHT_WORDS

    if text is None:
        return None, BY_EYE_PCT
    if text.lower() in LIGHT_WORDS:
        return LIGHT_WORDS[text.lower()]
    try:
        return float(text), BY_EYE_PCT
    except ValueError:
        near = difflib.get_close_matches(text.lower(), LIGHT_WORDS, 1)
        guess = f"did you mean {near[0]}?" if near else f"write a number of W/m², or {', '.join(LIGHT_WORDS)}."
        raise ValueError(f"--light is {text[:LONGEST_QUOTE]!r}; {guess}") from None


def _measured(pair: str) -> tuple[str, float]:
    """A measurement as typed."""
    name, equals, value = pair.partition("=")
    words = {"yes": 1.0, "no": 0.0}
    if not equals:
        raise ValueError(f"--then {pair[:LONGEST_QUOTE]!r}: write NAME=VALUE, such as open=21.6 or shade=no.")
    try:
        return name.strip(), words[value.lower()] if value.lower() in words else float(value)
    except ValueError:
        raise ValueError(f"--then {name[:LONGEST_QUOTE]} is {value[:LONGEST_QUOTE]!r}; a number, yes or no.") from None
