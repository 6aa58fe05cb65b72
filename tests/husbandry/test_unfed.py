"""Whoever feeds is told of a bad reading, until a test is good."""

from dataclasses import replace
from datetime import timedelta

import pytest

from husbandry.rules import feeding
from refuge.rounds.loaders import load_facts
from refuge.rules.triggers import AGAINST
from tests import factories as make
from tests.filtration.a_water import NOW, a_water, moment

pytestmark = pytest.mark.django_db


def meals(circuit, now=NOW):
    """What the feeding rule says of the water's plan."""
    at = moment(now)
    plan = load_facts(None, at).plan[circuit.plan.pk]
    return list(feeding(plan, at.limits(circuit.pk), at.today))


def test_a_bad_reading_forbids_the_meal_that_is_planned():
    circuit = a_water()
    planned = meals(circuit)
    make.WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), nitrite_n_mg_l=1.5)
    warned, as_before = meals(circuit)
    assert warned.reason.startswith(
        "No food until a test is good: Nitrite was 1.5 mg/L N on 10 Mar 2027, above 1"
    )
    assert "Take out what was left." in warned.instruction
    assert warned.kind == AGAINST
    assert as_before.prefill == {
        "offered_kg": None,
        "at_most_kg": 0.0,
    }  # what is not to be given is not filled in
    same = {name: getattr(planned[0], name) for name in ("instruction", "prefill")}
    assert [replace(as_before, **same)] == planned
    assert as_before.instruction == ""  # nobody is told an amount right after being told to give none
    assert warned.on == as_before.on


def test_a_good_test_allows_it_again():
    circuit = a_water()
    make.WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=5), nitrite_n_mg_l=1.5)
    make.WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), nitrite_n_mg_l=0.1)
    assert len(meals(circuit)) == 1


def test_what_food_does_not_make_worse_forbids_none():
    circuit = a_water()
    make.WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), nitrate_n_mg_l=60.0)
    assert len(meals(circuit)) == 1
