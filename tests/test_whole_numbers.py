"""A number written without its point is the same number, in every field and every study."""

from __future__ import annotations

from dataclasses import fields, is_dataclass, replace
from typing import Any

import pytest

from vanpower import Days, Parked, compare, example, simulate
from vanpower.checks.registry import check
from vanpower.files.examples import examples
from vanpower.rig import Fixture, Roof


def whole(value: Any) -> Any:
    """The value with every float that is a whole number as an int, wherever it stands inside."""
    if isinstance(value, float) and value.is_integer():
        return int(value)
    if isinstance(value, tuple):
        return tuple(map(whole, value))
    if is_dataclass(value) and not isinstance(value, type):
        return replace(value, **{each.name: whole(getattr(value, each.name)) for each in fields(value)})
    return value


@pytest.mark.parametrize("name", examples())
def test_rig_of_whole_numbers_checks_alike(name):
    rig = example(name)
    assert list(map(str, check(whole(rig)))) == list(map(str, check(rig)))


@pytest.mark.parametrize("name", ["bookmobile", "puppet-stage"])
def test_day_of_whole_numbers_is_alike(name):
    rig, day = example(name), Days(day="dull")
    assert simulate({"a": whole(rig)}, whole(day)).text() == simulate({"a": rig}, day).text()


def test_shadows_that_overlap_of_whole_numbers_are_alike():
    """Two boxes, one behind the other, so that their shadows lie over each other; both take all the light."""
    boxes = tuple(
        Fixture(name=name, kind="box", wide_m=1.0, long_m=1.0, left_m=2.0, back_m=back, high_m=high, lets_through=0.0)
        for name, back, high in (("low", 0.0, 1.0), ("high", 1.5, 2.0))
    )
    rig = example("goat-cheese-van")
    plan = replace(rig.roof, fixtures=boxes, wide_m=4.0, long_m=6.0)
    assert isinstance(plan, Roof)
    rig, parked = replace(rig, roof=plan), Parked(latitude_deg=50.0, day="03-21", hour=8.0)
    found, other = compare({"a": rig}, parked), compare({"a": whole(rig)}, whole(parked))
    assert other.text() == found.text()
    assert found.outcomes["a"].energy_wh > 0
