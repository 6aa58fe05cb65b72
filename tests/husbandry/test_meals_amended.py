"""A meal whose time is corrected counts where its eater was at that time, as one entered anew would."""

from datetime import UTC, datetime, timedelta

import pytest
import time_machine

from husbandry.moves import animal_move
from husbandry.services import HusbandryError, feeding_amend
from husbandry.stays import enclosure_replumb
from refuge.events import records_changed
from tests import factories as make

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 6, 15, 16, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def manager():
    make.RefugeFactory()
    return make.UserFactory(manager=True)


@pytest.fixture
def old():
    return make.EnclosureFactory()


@pytest.fixture
def animal(old, manager):
    return make.AnimalFactory(placed_in=old, arrived_on=NOW.date() - timedelta(days=10))


def ago(**span) -> datetime:
    return NOW - timedelta(**span)


def at_another_time(meal, by, at):
    return feeding_amend(record=meal, by=by, reason="Read the clock wrong", at=at)


def test_past_a_move_it_counts_in_the_new_water(animal, old, manager, django_capture_on_commit_callbacks):
    meal = make.FeedingFactory(enclosure=old, animal=animal, at=ago(days=3))
    new = make.EnclosureFactory()
    animal_move(animal=animal, enclosure=new, by=manager, at=ago(days=2))
    heard: list[int] = []

    def hear(scopes, **kwargs):
        heard.extend(scopes)

    records_changed.connect(hear)
    with django_capture_on_commit_callbacks(execute=True):
        amended = at_another_time(meal, manager, ago(days=1))
    records_changed.disconnect(hear)
    assert (amended.enclosure, amended.circuit) == (new, new.circuit)
    assert sorted(heard) == sorted([old.circuit_id, new.circuit_id])
    back = at_another_time(amended, manager, ago(days=3))
    assert (back.enclosure, back.circuit) == (old, old.circuit)


def test_to_a_time_at_which_it_was_nowhere_it_is_refused(animal, old, manager):
    meal = make.FeedingFactory(enclosure=old, animal=animal, at=ago(days=3))
    with pytest.raises(HusbandryError, match="in no enclosure at that time"):
        at_another_time(meal, manager, ago(days=20))


def test_another_correction_leaves_it_where_it_was(animal, old, manager):
    meal = make.FeedingFactory(enclosure=old, animal=animal, at=ago(days=3), offered_kg=1)
    animal_move(animal=animal, enclosure=make.EnclosureFactory(), by=manager, at=ago(days=2))
    amended = feeding_amend(record=meal, by=manager, reason="Weighed again", offered_kg=2)
    assert (amended.enclosure, amended.offered_kg) == (old, 2)


def test_a_meal_of_the_group_counts_in_the_water_the_enclosure_had(animal, old, manager):
    first, second = old.circuit, make.CircuitFactory()
    meal = make.FeedingFactory(enclosure=old, at=ago(days=3))
    at = ago(days=2)
    enclosure_replumb(enclosure=old, circuit=second, by=manager, at=at, today=at.date())
    assert at_another_time(meal, manager, ago(days=4)).circuit == first
    assert at_another_time(meal, manager, ago(days=1)).circuit == second
