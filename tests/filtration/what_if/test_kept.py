"""What is kept of a what-if's first forecast is used only while all that it follows from is the same."""

from datetime import timedelta

import numpy as np
import pytest
import time_machine

from enclosures.models import Circuit
from filtration.forecasting.starts import digest
from filtration.what_if.ahead import look, water_now
from filtration.what_if.changes import Warmer
from filtration.what_if.kept import forget
from husbandry.models import FeedingPlan
from tests import factories as make
from tests.filtration.a_water import NOW, a_water, moment

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def nothing_kept():
    forget()
    with time_machine.travel(NOW, tick=False):
        yield
    forget()


def read(circuit):
    return water_now(circuit.pk, moment)


def before(water) -> list[np.ndarray]:
    return [course.before.bands for course in look(water, []).courses]


def same(one, other) -> bool:
    return all(np.array_equal(a, b) for a, b in zip(one, other, strict=True))


@pytest.fixture
def circuit():
    """Its temperature was read just now, so that its past does not hang on what is usual."""
    circuit = a_water()
    make.WaterTestFactory(circuit=circuit, at=NOW, temperature_c=20.0, ph=7.4)
    return circuit


def test_the_usual_temperature_of_the_days_ahead(circuit):
    first = read(circuit)
    kept = before(first)
    Circuit.objects.filter(pk=circuit.pk).update(usual_temperature_c=30.0)
    now = read(circuit)
    assert digest(first.gathered) == digest(now.gathered)  # what its members follow from
    served = before(now)
    forget()
    assert same(served, before(now))
    assert not same(served, kept)


def test_a_plan_that_begins_after_the_forecast_but_before_a_young_filter_is_mature():
    circuit = a_water(filter_days=10, state="cycling")
    first = look(read(circuit), [Warmer(2.0)]).maturing
    later = NOW.date() + timedelta(days=20)
    FeedingPlan.objects.update(ends_on=later)
    plan = circuit.plan
    make.FeedingPlanFactory(
        enclosure=circuit.tank, food=plan.food, ration_kg=3 * plan.ration_kg, every_days=1, starts_on=later
    )
    now = read(circuit)
    served = look(now, [Warmer(2.0)]).maturing
    forget()
    assert served == look(now, [Warmer(2.0)]).maturing
    assert served[0] != first[0]
