"""The first sentence of an answer answers: it is short, names a wiring or says yes or no, and its numbers come once.

Asked of every example and of eight foreign vans, by night and in any light; of a year with its loads, with none, and
with more than the sun brings; and of what a roof costs.
"""

from __future__ import annotations

import re

import pytest
from foreign_rigs import FOREIGN
from said_once import AMOUNT, MOST_LETTERS

from vanpower import Days, Load, Parked, Rig, Snapshot, compare, example, fixture_costs, simulate
from vanpower.files.rig_files import examples
from vanpower.files.rig_tables import rig_of
from vanpower.studies.roof import FixtureCosts
from vanpower.widgets.any_van import ways
from vanpower.widgets.page import SENTENCE

VANS = {name: example(name) for name in examples()} | {kind: rig_of(text, kind) for kind, text in FOREIGN.items()}
ANSWERS = re.compile(
    r"No difference within 3 %: |(Best|Allowed), alike within 3 %: |No wiring here is allowed|Nothing arrives|Too dark"
)
LIBRARY = example("bookmobile")
HOUSES = {
    "its own loads": (LIBRARY, r"2p carries 408 Wh a day only from June to September\."),
    "no loads": (LIBRARY.changed(loads=()), r"No loads are described, so a full battery takes no more\."),
    "a clock": (LIBRARY.changed(loads=(Load(name="clock", p_load=1),)), r"2p carries 24\.0 Wh a day in every month\."),
    "a heater": (LIBRARY.with_load(Load(name="heater", p_load=300)), r"2p carries 7608 Wh a day in no month\."),
}


@pytest.mark.parametrize("light", [0.0, 0.5, 20.0, 60.0, 200.0, 900.0])
@pytest.mark.parametrize("name", VANS)
def test_a_comparison_begins_with_its_answer(name: str, light: float) -> None:
    found = compare(ways(VANS[name]), Snapshot(light=light, temp_cell=10.0))
    first, *rest = SENTENCE.split(found.verdict.sentence, maxsplit=1)
    assert len(first) <= MOST_LETTERS
    assert ANSWERS.match(first) or re.match(rf"{re.escape(found.ranking[0])} delivers (about )?[\d.]+ W[.,]", first)
    assert set(AMOUNT.findall(first)) & set(AMOUNT.findall(" ".join(rest).partition(" is out: ")[0])) == set()


@pytest.mark.parametrize("house", HOUSES)
def test_a_year_begins_with_the_months_that_it_carries(house: str) -> None:
    rig, first = HOUSES[house]
    assert re.match(first, simulate({"2p": rig}, Days(day="all")).verdict.sentence)


def costs(alone: dict[str, dict[str, float]], *, full: float = 1600.0, out: tuple[str, ...] = ()) -> FixtureCosts:
    """What things cost on a roof that delivers 2000 Wh without them."""
    wirings = next(iter(alone.values()), {"3p": 0.0, "3s": 0.0})
    left = {wiring: full - number for number, wiring in enumerate(wirings)}
    return FixtureCosts(dict.fromkeys(wirings, 2000.0), left, alone, "Wh", "today", span=" of the day", out=out)


@pytest.mark.parametrize(
    ("found", "first"),
    [
        (costs({"flue": {"3p": 288.0, "3s": 413.0}, "box": {"3p": 13.0, "3s": 16.0}}),
         "Most is lost to the flue: 288 Wh of the day in 3p, 413 Wh in 3s."),
        (costs({"flue": {"3p": 288.0, "3s": 143.0}, "lid": {"3p": 129.0, "3s": 275.0}}),
         "Most is lost in 3p to the flue, 288 Wh of the day; in 3s to the lid, 275 Wh."),
        (costs({"flue": {"3p": 288.0, "3s": 413.0}}, out=("3p",)),
         "Most is lost to the flue: 413 Wh of the day in 3s."),
        (costs({"flue": {"3p": 20.0, "3s": 20.0}}, full=1990.0),
         "Little is lost, most to the flue: 20.0 Wh of the day in 3p and 3s."),
        (costs({"flue": {"3p": 0.0, "3s": 0.01}}, full=2000.0),
         "Nothing that stands on the roof costs anything worth telling."),
        (costs({}, full=2000.0), "Nothing stands on the roof."),
    ],
)  # fmt: skip
def test_a_roof_begins_with_what_costs_most_in_each_wiring_that_is_allowed(found: FixtureCosts, first: str) -> None:
    assert SENTENCE.split(found.verdict.sentence, maxsplit=1)[0] == first


def test_costs_of_a_roof_are_told_of_the_day_only_where_a_day_was_asked_for() -> None:
    van: dict[str, Rig] = {"3s": example("goat-cheese-van")}
    day = Parked(latitude_deg=50, day="03-21", step_min=60)
    assert " Wh of the day in 3s." in fixture_costs(van, day).verdict.sentence
    assert " of the day" not in fixture_costs(van, day.changed(hour=9.5)).verdict.sentence
