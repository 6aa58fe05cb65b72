"""A filter's own water is part of its circuit's volume while it runs, and nothing else is ever taken off."""

from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from enclosures.models import Circuit
from filtration.by_plan import planned
from filtration.models import FilterUnit
from filtration.plans.services import design_build
from filtration.services import filter_save, filter_set_state, maintenance_record
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from tests.factories import (
    AreaFactory,
    CircuitFactory,
    EnclosureFactory,
    FilterDesignFactory,
    FilterUnitFactory,
)

pytestmark = pytest.mark.django_db


@pytest.fixture
def built(manager):
    """Leak-tested, in a water whose number holds 0.12 m3 of other filters."""
    circuit = EnclosureFactory(circuit__extra_volume_m3=0.12).circuit
    unit = design_build(
        design=FilterDesignFactory(), uuid=uuid4(), code="F77", name="New barrel", circuit=circuit,
        area=AreaFactory(), is_protected=True, by=manager,
    )  # fmt: skip
    maintenance_record(unit=unit, kind="leak_test", by=manager, at=timezone.now(), uuid=uuid4(), passed=True)
    return FilterUnit.objects.get(pk=unit.pk)


def step(unit, state, by, **values):
    filter_set_state(unit=unit, state=state, by=by, at=timezone.now(), uuid=uuid4(), **values)
    return FilterUnit.objects.get(pk=unit.pk)


def extra(circuit) -> float:
    return Circuit.objects.get(pk=circuit.pk).extra_volume_m3


def test_the_plan_knows_what_stands_in_it_less_the_stones(built):
    """By hand: a barrel 0.57 m wide filled to 0.69 m, of which river rock (0.42 void) fills 0.2 m and lava (0.5) 0.25 m."""
    design = built.build.design
    section = 3.14159265 / 4 * 0.57**2
    stones = 0.2 * (1 - 0.42) + 0.25 * (1 - 0.50)
    assert planned(built).water_m3 == pytest.approx(section * (design.overflow_height_m - stones), rel=1e-3)


def test_from_the_day_it_runs_the_doses_go_by_its_water_too(client, built, manager):
    url = reverse("record_new", args=["filter_state", built.pk])
    shown = client.get(url).context["form"]
    assert shown["new_state"].value() == "cycling"
    water = planned(built).water_m3
    before = load_facts(None, moment_for()).circuit[built.circuit_id].volume_m3
    client.post(url, {"new_state": "cycling", "water_m3": shown["water_m3"].value()})
    assert FilterUnit.objects.get().state == "cycling"
    assert extra(built.circuit) == pytest.approx(0.12 + water)
    after = load_facts(None, moment_for()).circuit[built.circuit_id].volume_m3
    assert after - before == pytest.approx(water)
    assert Circuit.history.filter(history_user=manager, id=built.circuit_id).exists()


def test_once_it_rests_its_water_is_taken_off_and_counted_again_when_it_runs(built, manager):
    unit = step(built, "cycling", manager, water_m3=0.117)
    for state, wanted in (("mature", 0.237), ("resting", 0.12), ("cycling", 0.237), ("disturbed", 0.237)):
        unit = step(unit, state, manager, water_m3=unit.water_m3)
        assert extra(unit.circuit) == pytest.approx(wanted), state


def test_left_empty_it_was_in_the_number_already_and_stays(built, manager):
    unit = step(built, "cycling", manager)
    assert extra(unit.circuit) == 0.12
    step(unit, "resting", manager)
    assert extra(unit.circuit) == 0.12


def test_a_filter_of_before_takes_nothing_off(manager):
    unit = FilterUnitFactory(circuit=CircuitFactory(extra_volume_m3=0.12))
    step(unit, "resting", manager)
    assert extra(unit.circuit) == 0.12


def test_a_number_that_was_lowered_since_never_falls_below_nothing(built, manager):
    unit = step(built, "cycling", manager, water_m3=0.117)
    Circuit.objects.update(extra_volume_m3=0.05)
    step(unit, "resting", manager)
    assert extra(unit.circuit) == 0.0


def test_it_is_asked_only_where_it_may_start_to_run(client, built, manager):
    url = reverse("record_new", args=["filter_state", built.pk])
    step(built, "cycling", manager, water_m3=0.117)
    assert "water_m3" not in client.get(url).context["form"].fields
    step(built, "resting", manager)
    assert client.get(url).context["form"]["water_m3"].value() == "117"


def test_an_edited_filter_takes_its_water_along(built, manager):
    unit = step(built, "cycling", manager, water_m3=0.117)
    other = CircuitFactory(extra_volume_m3=1.0)
    unit.water_m3 = 0.2
    filter_save(unit=unit, layers=list(unit.layers.all()), by=manager)
    assert extra(built.circuit) == pytest.approx(0.32)
    unit.circuit = other
    filter_save(unit=unit, layers=list(unit.layers.all()), by=manager)
    assert (extra(built.circuit), extra(other)) == (pytest.approx(0.12), pytest.approx(1.2))
    unit.water_m3 = None
    filter_save(unit=unit, layers=list(unit.layers.all()), by=manager)
    assert extra(other) == pytest.approx(1.0)
    assert not FilterUnit.objects.get().is_water_counted
