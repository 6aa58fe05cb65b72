"""Moves, entered when they happen or later, and what the history of an animal says of its stay."""

from datetime import UTC, datetime, time, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from husbandry import stays
from husbandry.models import Animal, Quarantine
from husbandry.moves import RestartNotAgreed, WrongTime, animal_move
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
    return make.UserFactory(manager=True, name="Mar Quintela")


@pytest.fixture
def animal(manager):
    """It came to its place ten days ago."""
    arrived = NOW.date() - timedelta(days=10)
    return make.AnimalFactory(
        code="T1", name="Bramble", arrived_on=arrived, placed_in=make.EnclosureFactory()
    )


def ago(**span) -> datetime:
    return NOW - timedelta(**span)


def waiting_in(enclosure, *, since: datetime, until: datetime | None = None, clock_days: int = 100):
    """An animal in quarantine that was in an enclosure for a while."""
    other = make.AnimalFactory(arrived_on=NOW.date() - timedelta(days=200))
    make.PlacementFactory(animal=other, enclosure=enclosure, starts_at=since, ends_at=until)
    make.QuarantineFactory(animal=other, started_on=NOW.date() - timedelta(days=clock_days))
    return other


def clock_from(animal):
    return animal.quarantines.get().clock_from


class TestEnteredLater:
    @pytest.mark.parametrize("span", [{"hours": 3}, {"days": 4}])
    def test_the_stays_meet_at_the_time_that_was_entered(self, animal, manager, span):
        old, new = animal.placements.get(), make.EnclosureFactory()
        animal_move(animal=animal, enclosure=new, by=manager, at=ago(**span), reason="Flood")
        old.refresh_from_db()
        now = animal.placements.get(ends_at=None)
        assert old.ends_at == now.starts_at == ago(**span)
        assert (now.enclosure, now.circuit, now.by, now.reason) == (new, new.circuit, manager, "Flood")

    def test_entered_twice_it_is_one_move(self, animal, manager):
        new = make.EnclosureFactory()
        first = animal_move(animal=animal, enclosure=new, by=manager, at=ago(days=2))
        assert animal_move(animal=animal, enclosure=new, by=manager, at=ago(days=2)) == first
        assert animal.placements.count() == 2

    def test_its_meals_since_then_count_in_the_water_it_was_in(self, animal, manager):
        old, new = animal.placements.get().enclosure, make.EnclosureFactory()
        meals = [
            make.FeedingFactory(enclosure=old, animal=animal, at=ago(days=days), by=manager)
            for days in (5, 1)
        ]
        animal_move(animal=animal, enclosure=new, by=manager, at=ago(days=2))
        for meal, place in zip(meals, (old, new), strict=True):
            meal.refresh_from_db()
            assert (meal.enclosure, meal.circuit) == (place, place.circuit)
        assert "by then" in meals[1].history.first().history_change_reason

    @pytest.mark.parametrize("span", [{"days": 10, "hours": 16}, {"days": 9}])
    def test_a_time_that_would_put_it_in_two_places_is_refused(self, animal, manager, span):
        second = make.EnclosureFactory(name="Second tank")
        animal_move(animal=animal, enclosure=second, by=manager, at=ago(days=8))
        with pytest.raises(
            WrongTime, match=r"On 7 Jun 2026 at 16:00 it came to .*Second tank.\n.*two places"
        ):
            animal_move(animal=animal, enclosure=make.EnclosureFactory(), by=manager, at=ago(**span))
        assert animal.placements.count() == 2

    def test_an_animal_that_is_nowhere_follows_its_last_stay(self, animal, manager):
        animal.placements.update(ends_at=ago(days=3))
        with pytest.raises(WrongTime, match="On 12 Jun 2026 at 16:00 it was until then in"):
            animal_move(animal=animal, enclosure=make.EnclosureFactory(), by=manager, at=ago(days=4))
        animal_move(animal=animal, enclosure=make.EnclosureFactory(), by=manager, at=ago(days=2))

    def test_before_it_arrived_is_refused(self, manager):
        animal = make.AnimalFactory(arrived_on=NOW.date() - timedelta(days=5))
        with pytest.raises(WrongTime, match="It arrived on 10 Jun 2026"):
            animal_move(animal=animal, enclosure=make.EnclosureFactory(), by=manager, at=ago(days=6))


class TestRestarts:
    def test_count_from_the_day_of_the_move(self, animal, manager):
        tank = make.EnclosureFactory()
        other = waiting_in(tank, since=ago(days=50))
        with pytest.raises(RestartNotAgreed):
            animal_move(animal=animal, enclosure=tank, by=manager, at=ago(days=4))
        animal_move(animal=animal, enclosure=tank, by=manager, at=ago(days=4), restart_agreed=True)
        assert clock_from(other) == NOW.date() - timedelta(days=4)

    def test_reach_one_that_left_the_water_after_the_move(self, animal, manager):
        tank = make.EnclosureFactory()
        left = waiting_in(tank, since=ago(days=50), until=ago(days=2))
        gone_before = waiting_in(tank, since=ago(days=50), until=ago(days=5))
        animal_move(animal=animal, enclosure=tank, by=manager, at=ago(days=4), restart_agreed=True)
        assert clock_from(left) == NOW.date() - timedelta(days=4)
        assert clock_from(gone_before) == NOW.date() - timedelta(days=100)

    def test_count_from_its_own_day_for_one_that_came_after_the_move(self, animal, manager):
        tank = make.EnclosureFactory()
        later = waiting_in(tank, since=ago(days=1))
        make.QuarantineFactory(animal=animal, started_on=animal.arrived_on)
        animal_move(animal=animal, enclosure=tank, by=manager, at=ago(days=4), restart_agreed=True)
        assert clock_from(later) == clock_from(animal) == NOW.date() - timedelta(days=1)


class TestPage:
    def test_the_time_is_entered_and_an_error_stands_beside_it(self, client, animal, manager):
        client.force_login(manager)
        new, url = make.EnclosureFactory(), reverse("animal_move", args=[animal.pk])
        typed = {"enclosure": new.pk, "reason": "Too small"}
        early = client.post(url, typed | {"at": "2026-06-01T10:00"})
        html = early.content.decode()
        assert early.status_code == 422
        assert "It arrived on 5 Jun 2026" in html.partition('id="id_at_error"')[2].partition("</div>")[0]
        assert 'value="2026-06-01T10:00"' in html and "Too small" in html
        assert client.post(url, typed | {"at": "2026-06-20T10:00"}).status_code == 422
        assert client.post(url, typed | {"at": "2026-06-12T10:00"}).status_code == 302
        assert animal.placements.get(ends_at=None).starts_at == datetime(2026, 6, 12, 10, tzinfo=UTC)

    def test_left_empty_it_is_now(self, client, animal, manager):
        client.force_login(manager)
        tank = make.EnclosureFactory()
        answer = client.post(reverse("enclosure_move_in", args=[tank.pk]), {"animal": animal.pk, "at": ""})
        assert answer.status_code == 302
        assert animal.placements.get(ends_at=None).starts_at == NOW


def told(client, animal) -> str:
    html = client.get(animal.get_absolute_url()).content.decode()
    return html.partition('id="history"')[2]


class TestHistory:
    @pytest.fixture
    def reader(self, client, manager):
        client.force_login(manager)
        return client

    def test_quarantine_with_who_and_when(self, reader, animal, manager):
        tank = animal.placements.get().enclosure
        with time_machine.travel(ago(days=9), tick=False):
            stays.quarantine_start(animal=animal, on=ago(days=9).date(), days=60, by=manager)
        newcomer = make.AnimalFactory(code="T9", name="Sedge", placed_in=make.EnclosureFactory())
        other = make.UserFactory(staff=True, name="Ines Tarouca")
        with time_machine.travel(ago(days=2), tick=False):
            animal_move(animal=newcomer, enclosure=tank, by=other, at=ago(days=3), restart_agreed=True)
        row = animal.quarantines.get()
        longer = row.ends_on + timedelta(days=30)
        with time_machine.travel(ago(days=1), tick=False):
            stays.quarantine_extend(quarantine=row, by=manager, ends_on=longer, reason="Worms")
        stays.quarantine_release(quarantine=row, by=manager, on=NOW.date(), outcome="Three clear samples")
        words = told(reader, animal)
        places = [
            words.index(each)
            for each in (
                "Quarantine ended",
                "Three clear samples",
                "Quarantine goes on until 10 Sep 2026",
                "Worms",
                "Quarantine started anew",
                "T9 Sedge joined its water; the planned end was 5 Aug 2026. Entered on 13 Jun 2026",
                "Quarantine began",
            )
        ]
        assert places == sorted(places)
        anew = words[words.index("Quarantine started anew") :].partition("</li>")[0]
        assert "Ines Tarouca" in anew

    def test_brumation_with_who_and_when(self, reader, animal, manager):
        with time_machine.travel(ago(days=3), tick=False):
            stays.brumation_set(animal=animal, since=ago(days=5).date(), by=manager)
        stays.brumation_set(animal=animal, since=None, by=make.UserFactory(name="Ines Tarouca"))
        words = told(reader, animal)
        ended = words[words.index("Brumation ended") :].partition("</li>")[0]
        began = words[words.index("Brumation began") :].partition("</li>")[0]
        assert "Ines Tarouca" in ended
        assert "Mar Quintela" in began and "Entered on 12 Jun 2026" in began
        assert words.index("Brumation ended") < words.index("Brumation began")

    def test_rows_without_versions_are_told_by_their_dates(self, reader, manager):
        since = NOW.date() - timedelta(days=30)
        animal = Animal.objects.bulk_create(
            [Animal(code="T5", species=make.SpeciesFactory(), arrived_on=since, brumating_since=since)]
        )[0]
        Quarantine.objects.bulk_create(
            [
                Quarantine(
                    animal=animal,
                    started_on=since,
                    clock_from=since,
                    days=20,
                    ends_on=since + timedelta(days=20),
                    released_on=since + timedelta(days=21),
                    released_by=manager,
                    outcome="Clear",
                )
            ]
        )
        words = told(reader, animal)
        assert "Brumation began" in words and "Quarantine began" in words and "Quarantine ended" in words
        ended = words[words.index("Quarantine ended") :].partition("</li>")[0]
        assert "Mar Quintela" in ended
        assert "<span>00:00</span>" not in words

    def test_costs_the_same_for_many_restarts(self, reader, animal, manager):
        make.QuarantineFactory(animal=animal, started_on=animal.arrived_on)
        tank = animal.placements.get().enclosure

        def queries() -> int:
            with CaptureQueriesContext(
                connection,
            ) as asked:
                reader.get(animal.get_absolute_url())
            return len(asked)

        def join(days: int) -> None:
            newcomer = make.AnimalFactory(placed_in=make.EnclosureFactory())
            animal_move(animal=newcomer, enclosure=tank, by=manager, at=ago(days=days), restart_agreed=True)

        join(8)
        few = queries()
        for days in (6, 4, 2):
            join(days)
        assert Animal.objects.get(pk=animal.pk).quarantines.get().restarts.count() == 4
        assert queries() == few


def test_midnight_is_the_refuges(animal, manager):
    """A move late in the evening belongs to the refuge's own day."""
    tank = make.EnclosureFactory()
    other = waiting_in(tank, since=ago(days=50))
    at = datetime.combine(NOW.date() - timedelta(days=2), time(22, 30), tzinfo=UTC)
    with timezone.override("Pacific/Auckland"):
        animal_move(animal=animal, enclosure=tank, by=manager, at=at, restart_agreed=True)
    assert clock_from(other) == NOW.date() - timedelta(days=1)
