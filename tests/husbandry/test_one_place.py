"""One animal, one place, and none once it has left: repeats, two at once, and what the database refuses."""

from collections.abc import Callable
from datetime import timedelta
from importlib import import_module
from threading import Barrier, Thread
from types import SimpleNamespace

import pytest
from django.apps import apps
from django.db import IntegrityError, connection, connections, transaction
from django.urls import reverse
from django.utils import timezone

from husbandry.models import Animal, Placement
from husbandry.moves import animal_move
from husbandry.services import HusbandryError, animal_save
from husbandry.stays import animal_leave, enclosure_replumb
from tests import factories as make


@pytest.fixture
def manager(db):
    make.RefugeFactory()
    return make.UserFactory(manager=True)


@pytest.fixture
def animal(manager):
    return make.AnimalFactory(placed_in=make.EnclosureFactory())


def leave(animal, by, status="released", **more):
    # As another request has it: read before the first was saved.
    return animal_leave(animal=animal, status=status, by=by, at=timezone.now(), **more)


def again(animal) -> Animal:
    return Animal.objects.get(pk=animal.pk)


def open_placements(animal):
    return Placement.objects.filter(animal=animal, ends_at__isnull=True)


class TestRepeats:
    def test_leaving_again_changes_nothing(self, animal, manager):
        other = again(animal)
        leave(animal, manager, note="To the river")
        leave(other, manager, note="To the river")
        assert again(animal).note == "To the river"
        assert Placement.objects.filter(animal=animal).count() == 1

    def test_what_became_of_it_is_not_overwritten(self, animal, manager):
        other = again(animal)
        leave(animal, manager)
        with pytest.raises(HusbandryError, match="here no longer: released on"):
            leave(other, manager, status="died")
        assert again(animal).status == "released"

    def test_one_that_left_is_moved_no_more(self, animal, manager):
        other = again(animal)
        leave(animal, manager)
        with pytest.raises(HusbandryError, match="here no longer"):
            animal_move(animal=other, enclosure=make.EnclosureFactory(), by=manager, at=timezone.now())
        assert not open_placements(animal).exists()

    def test_a_form_that_was_open_meanwhile_brings_nobody_back(self, animal, manager):
        other = again(animal)
        leave(animal, manager)
        other.marks = "Notch on the left"
        animal_save(animal=other, by=manager)
        assert (again(animal).status, again(animal).marks) == ("released", "Notch on the left")

    def test_the_page_of_leaving_sent_twice_is_saved_once(self, animal, manager, client):
        client.force_login(manager)
        url = reverse("animal_leave", args=[animal.pk])
        answers = [client.post(url, {"status": "died", "note": "Old age"}).status_code for _ in range(2)]
        assert answers == [302, 302]
        assert again(animal).note == "Old age"
        assert client.post(url, {"status": "released"}).status_code == 422

    def test_joining_the_water_it_has_changes_nothing(self, animal, manager):
        tank, water = open_placements(animal).get().enclosure, make.CircuitFactory()
        for _ in range(3):
            stale = type(tank).objects.get(pk=tank.pk)
            at = timezone.now()
            enclosure_replumb(enclosure=stale, circuit=water, by=manager, at=at, today=at.date())
        assert open_placements(animal).get().circuit == water
        assert Placement.objects.filter(animal=animal).count() == 2


class TestDatabase:
    def test_refuses_a_place_for_one_that_left(self, animal, manager):
        leave(animal, manager)
        with pytest.raises(IntegrityError), transaction.atomic():
            make.PlacementFactory(animal=animal, starts_at=timezone.now() + timedelta(hours=1))
        with pytest.raises(IntegrityError), transaction.atomic():
            Placement.objects.filter(animal=animal).update(ends_at=None)

    def test_refuses_that_one_in_a_place_has_left(self, animal):
        with pytest.raises(IntegrityError), transaction.atomic():
            Animal.objects.filter(pk=animal.pk).update(status="died", left_on=timezone.localdate())

    def test_lets_the_past_be_written(self, animal, manager):
        leave(animal, manager)
        past = timezone.now() - timedelta(days=500)
        make.PlacementFactory(animal=animal, starts_at=past, ends_at=past + timedelta(days=1))


def test_an_open_place_of_one_that_left_ended_that_day_when_the_guard_came(animal):
    """As the migration finds it where an earlier version ran."""
    guard = import_module("husbandry.migrations.0003_nobody_who_left_has_a_place")
    with connection.cursor() as cursor:
        editor = SimpleNamespace(connection=connection, execute=cursor.execute)
        guard.remove(apps, editor)
        Animal.objects.filter(pk=animal.pk).update(status="died", left_on=timezone.localdate())
        guard.end_places_of_the_gone(apps, editor)
        guard.add(apps, editor)
    assert Placement.objects.get(animal=animal).ends_at.date() == timezone.localdate()


def together(*works: Callable[[], object]) -> list[str]:
    """Each in a thread and a connection of its own, begun at once: what came of it, or the name of what it raised."""
    found, start = [""] * len(works), Barrier(len(works))

    def run(place: int, work: Callable[[], object]) -> None:
        start.wait()
        try:
            found[place] = str(work())
        except Exception as error:
            found[place] = type(error).__name__
        finally:
            connections.close_all()

    threads = [Thread(target=run, args=each) for each in enumerate(works)]
    for each in threads:
        each.start()
    for each in threads:
        each.join()
    return found


@pytest.mark.django_db(transaction=True)
@pytest.mark.skipif(connection.vendor == "sqlite", reason="SQLite lets one transaction write at a time")
class TestAtOnce:
    def test_moved_and_let_go(self, manager):
        tank, pond = make.EnclosureFactory(), make.EnclosureFactory()
        for _ in range(6):
            animal = make.AnimalFactory(placed_in=tank)
            one, other = again(animal), again(animal)
            together(
                lambda one=one: animal_move(animal=one, enclosure=pond, by=manager, at=timezone.now()),
                lambda other=other: leave(other, manager),
            )
            assert (again(animal).status == "here") == open_placements(animal).exists()

    def test_moved_twice_is_moved_once(self, manager):
        tank, pond = make.EnclosureFactory(), make.EnclosureFactory()
        for _ in range(6):
            animal = make.AnimalFactory(placed_in=tank)
            one, other = again(animal), again(animal)
            placed = together(
                *[
                    lambda each=each: (
                        animal_move(animal=each, enclosure=pond, by=manager, at=timezone.now()).pk
                    )
                    for each in (one, other)
                ]
            )
            assert placed == [str(open_placements(animal).get().pk)] * 2

    def test_replumbed_twice_is_replumbed_once(self, manager):
        tank, water = make.EnclosureFactory(), make.CircuitFactory()
        animal = make.AnimalFactory(placed_in=tank)
        at = timezone.now()

        def replumb():
            own = type(tank).objects.get(pk=tank.pk)
            enclosure_replumb(enclosure=own, circuit=water, by=manager, at=at, today=at.date())

        assert together(replumb, replumb, replumb) == ["None"] * 3
        assert Placement.objects.filter(animal=animal).count() == 2
