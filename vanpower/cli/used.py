"""`vanpower used`: is a used panel sound, out of a few readings with a multimeter."""

from __future__ import annotations

import argparse

from vanpower.cli.options import ALL_YES, FORM, NO_OR_CLOSE, RIG_HELP, as_typed, number, panel_number, rig_from

WORDS = {
    "PanelReadings.light_dull": "--dull-light", "PanelReadings.temp_dull": "--dull-temp",
    "PanelReadings.v_oc_dull": "--dull-voc", "PanelReadings.i_sc_covered": "--covered", "PanelReadings.i_sc": "--isc",
    "PanelReadings.v_oc": "--voc", "PanelReadings.temp_cell": "--temp", "PanelReadings.light": "--light",
    "light_dull": "--dull-light",
}  # fmt: skip
# fields of readings, the longer names first, and the words that are typed for them
MORE = """\
Readings, each but the light may be left out: short-circuit amps and open-circuit volts in the sun; the amps again with
the first group of cells covered by cardboard, then the second alone; and the volts in dull light, where a leak shows.
Light is that on the panel's plane. A sound panel of the same kind beside it serves as light meter: 1000 times its
short-circuit amps over its label's. The label is one panel of a rig file.

Short-circuit one panel alone, never a string, on a meter range above its amps, with the leads on before the glass is
uncovered; the answer says more.

try:
  vanpower used bookmobile --light 900 --temp 40 --isc 5.6 --voc 21.3
  vanpower used bookmobile --light 900 --temp 40 --voc 21.3 --dull-light 40 --dull-temp 15 --dull-voc 12

  vanpower used bookmobile --light 900 --temp 40 --isc 5.6 --voc 21.3 --dull-light 40 --dull-temp 15 --dull-voc 20.1 \
    --buy --price 30 --new 0.5

exit code: 0 sound by every test, 1 not sound, in doubt or not all measured, 2 bad input
"""


def add(commands: argparse._SubParsersAction) -> None:
    """The words of `vanpower used`."""
    about = "is a used panel sound, out of a few readings with a multimeter"
    used = commands.add_parser("used", help=about, description=MORE, formatter_class=FORM)
    used.usage = "vanpower used RIG.toml --light 900 --temp 40 [--panel P1] [readings]"
    used.add_argument("rig", metavar="RIG.toml", help=RIG_HELP)
    used.add_argument("--panel", default="P1", metavar="P1", help="which panel of the rig has its label (P1)")
    used.add_argument("--light", type=number, required=True, metavar="W/m²", help="light on the panel in the sun")
    used.add_argument("--temp", type=number, required=True, metavar="°C", help="heat at the panel's back then")
    used.add_argument("--isc", type=number, metavar="A", help="short-circuit amps then")
    used.add_argument("--voc", type=number, metavar="V", help="open-circuit volts then")
    used.add_argument("--covered", type=number, nargs="+", default=[], metavar="A", help="short-circuit amps with the "
                      "first group covered, then the second alone, and so on")  # fmt: skip
    used.add_argument("--dull-light", type=number, metavar="W/m²", help="light in dull weather, best 30 to 60")
    used.add_argument("--dull-temp", type=number, metavar="°C", help="heat at the panel's back in dull weather")
    used.add_argument("--dull-voc", type=number, metavar="V", help="open-circuit volts in dull weather")
    used.add_argument("--buy", action="store_true", help="also say whether to buy it")
    used.add_argument("--price", type=number, metavar="MONEY", help="what is asked for it, with --buy")
    used.add_argument("--new", type=number, metavar="MONEY", help="what a watt costs new, with --buy")
    used.set_defaults(run=run)


def run(asked: argparse.Namespace) -> int:
    """Print every test and whether the panel is sound."""
    from vanpower.trials.used_panel import PanelReadings, check_used_panel, worth_buying

    rig = rig_from(asked.rig)
    panel = rig.panels[panel_number(asked.panel, rig, "--panel")]
    if asked.isc is None and asked.voc is None and asked.dull_voc is None:
        raise ValueError("no reading was given; add --isc and --voc in the sun, and --dull-light with --dull-voc.")
    for word, value in (("--price", asked.price), ("--new", asked.new)):
        if value is not None and not (asked.buy and 0 < value <= 1e6):
            raise ValueError(f"{word} is {value:g}; more than 0 makes sense, beside --buy.")
    if asked.covered and asked.isc is None:
        raise ValueError("--covered is held against the amps with nothing covered; add --isc.")
    with as_typed(WORDS):
        readings = PanelReadings(
            light=asked.light, temp_cell=asked.temp, i_sc=asked.isc, v_oc=asked.voc,
            i_sc_covered=tuple(asked.covered), light_dull=asked.dull_light, temp_dull=asked.dull_temp,
            v_oc_dull=asked.dull_voc,
        )  # fmt: skip
        test = check_used_panel(panel, readings)
    verdict = test.verdict
    print(f"{rig.name}, {asked.panel.upper()}: {panel.name}\n\n{test.text()}\n\n{verdict}")
    if asked.buy:
        verdict = worth_buying(panel, readings, price=asked.price, new_per_watt=asked.new)
        print(f"\n{verdict}")
    return ALL_YES if verdict.answer == "yes" else NO_OR_CLOSE
