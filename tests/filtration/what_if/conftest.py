"""A water to try things out on, and somebody who may."""

from datetime import timedelta

import pytest
from django.utils import timezone


@pytest.fixture(autouse=True)
def nothing_kept():
    from filtration.what_if.kept import forget  # here and below: a conftest is read before Django is set up

    forget()


@pytest.fixture
def tank():
    """A quarantine setup with a 55 kg animal that is fed 1.36 kg a week, and a second tank on its water."""
    from tests import factories as make

    make.RefugeFactory()
    enclosure = make.EnclosureFactory(code="Q1", purpose="quarantine", circuit__is_quarantine=True)
    make.EnclosureFactory(code="Q2", circuit=enclosure.circuit)
    make.FilterUnitFactory(circuit=enclosure.circuit, code="F1", name="Barrel")
    animal = make.AnimalFactory(code="T1", name="Fossil", placed_in=enclosure, mass_kg=55)
    food = make.FoodFactory(name="Whole carp")
    plan = make.FeedingPlanFactory(animal=animal, food=food)
    now = timezone.now()
    for days in range(2, 60, 7):
        make.FeedingFactory(
            enclosure=enclosure, animal=animal, plan=plan, food=food, at=now - timedelta(days=days)
        )
    for days in (1, 4, 20):
        make.WaterTestFactory(
            circuit=enclosure.circuit, at=now - timedelta(days=days), nitrate_n_mg_l=10, alkalinity_mg_l=150
        )
    return enclosure


@pytest.fixture
def path(tank):
    return f"/waters/{tank.circuit_id}/what-if/"


@pytest.fixture
def staff(client):
    from tests import factories as make

    client.force_login(make.UserFactory(role="staff"))
    return client
