"""The animals' pages: search, constant queries, who may do what, restarts that must be agreed to."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from husbandry.models import Animal, FeedingPlan, Food
from husbandry.selectors import animals, shared_water_on, where_on
from tests.factories import (
    AnimalFactory,
    EnclosureFactory,
    FeedingFactory,
    FeedingPlanFactory,
    FoodFactory,
    MeasurementFactory,
    PlacementFactory,
    QuarantineFactory,
    RefugeFactory,
    UserFactory,
)

pytestmark = pytest.mark.django_db


def queries(client, url: str) -> int:
    client.get(url)
    with CaptureQueriesContext(connection) as seen:
        assert client.get(url).status_code == 200
    return len(seen)


def full_animal(enclosure):
    animal = AnimalFactory(placed_in=enclosure, mass_kg=5.0)
    QuarantineFactory(animal=animal)
    FeedingPlanFactory(animal=animal)
    FeedingFactory(enclosure=enclosure, animal=animal)
    return animal


def test_the_list_costs_the_same_for_any_number_of_animals(client, manager):
    enclosure = EnclosureFactory()
    full_animal(enclosure)
    few = queries(client, reverse("animal_list"))
    for _ in range(7):
        full_animal(enclosure)
    assert queries(client, reverse("animal_list")) == few


def test_an_animals_page_costs_the_same_however_long_its_history(client, manager):
    animal = full_animal(EnclosureFactory())
    few = queries(client, animal.get_absolute_url())
    for _ in range(9):
        FeedingFactory(enclosure=animal.placements.get().enclosure, animal=animal)
        MeasurementFactory(animal=animal)
    assert queries(client, animal.get_absolute_url()) == few


@pytest.mark.parametrize("words", ["T-77", "notch", "900123", "musk", "old"])
def test_animals_are_found_by_all_that_is_known_of_them(words):
    found = AnimalFactory(
        code="T-77", name="Old Moss", marks="notch in scute 3", transponder="900123000000001",
        species__name="Musk turtle",
    )  # fmt: skip
    AnimalFactory(species__name="Slider")
    assert list(animals(words=words)) == [found]


def test_where_an_animal_was_and_with_whom_on_a_past_day():
    first, second = EnclosureFactory(), EnclosureFactory()
    animal = AnimalFactory(arrived_on=date(2026, 1, 1))
    change = datetime(2026, 2, 1, 12, tzinfo=UTC)
    PlacementFactory(animal=animal, enclosure=first, ends_at=change)
    PlacementFactory(animal=animal, enclosure=second, starts_at=change)
    companion = AnimalFactory(placed_in=first, arrived_on=date(2026, 1, 1))
    zone = ZoneInfo("UTC")
    assert [each.enclosure for each in where_on(animal, date(2026, 1, 15), zone)] == [first]
    assert [each.enclosure for each in where_on(animal, date(2026, 2, 1), zone)] == [first, second]
    assert where_on(animal, date(2025, 12, 31), zone) == []
    assert shared_water_on(animal, date(2026, 1, 15), zone) == [companion]
    assert shared_water_on(animal, date(2026, 3, 1), zone) == []


def test_a_move_that_restarts_a_quarantine_asks_first(client, manager):
    waiting = full_animal(EnclosureFactory())
    newcomer = AnimalFactory(placed_in=EnclosureFactory())
    url = reverse("animal_move", args=[newcomer.pk])
    target = waiting.placements.get().enclosure
    answer = client.post(url, {"enclosure": target.pk})
    assert answer.status_code == 422
    assert str(waiting) in answer.content.decode()
    assert newcomer.placements.get(ends_at=None).enclosure != target
    assert client.post(url, {"enclosure": target.pk, "restart_agreed": "on"}).status_code == 302
    assert newcomer.placements.get(ends_at=None).enclosure == target
    assert waiting.quarantines.get().clock_from == timezone.localdate()


def test_a_volunteer_reads_but_does_not_move(client):
    RefugeFactory()
    client.force_login(UserFactory())
    animal = full_animal(EnclosureFactory())
    page = client.get(animal.get_absolute_url())
    assert page.status_code == 200
    assert reverse("animal_move", args=[animal.pk]) not in page.content.decode()
    assert client.get(reverse("animal_move", args=[animal.pk])).status_code == 403
    assert client.get(reverse("animal_leave", args=[animal.pk])).status_code == 403


def test_a_feeding_plan_sent_twice_is_one_plan(client, manager):
    animal, food = AnimalFactory(placed_in=EnclosureFactory()), FoodFactory()
    data = {"food": food.pk, "ration_kg": "1.2", "weekdays": ["1", "8"]}
    for _ in range(2):
        assert client.post(reverse("animal_plan_new", args=[animal.pk]), data).status_code == 302
    assert FeedingPlan.objects.get().weekdays == 9


def test_a_changed_plan_takes_the_place_of_the_old(client, manager):
    animal = full_animal(EnclosureFactory())
    old = animal.feeding_plans.get()
    data = {"food": old.food_id, "ration_kg": "2 lb", "every_days": "3"}
    assert client.post(reverse("plan_edit", args=[old.pk]), data).status_code == 302
    old.refresh_from_db()
    assert old.ends_on == timezone.localdate()
    assert animal.feeding_plans.get(ends_on=None).ration_kg == pytest.approx(0.9072, abs=1e-4)


def test_what_was_struck_out_stays_in_the_record(client, manager):
    from refuge.records import void

    animal = full_animal(EnclosureFactory())
    wrong = MeasurementFactory(animal=animal, mass_kg=77.0, at=timezone.now() - timedelta(hours=1))
    void(record=wrong, by=manager, reason="another animal")
    assert "77.00" not in client.get(reverse("animal_detail", args=[animal.pk])).content.decode()
    record = client.get(reverse("animal_record", args=[animal.pk])).content.decode()
    assert "77.00" in record
    assert "another animal" in record


def test_an_animal_that_left_is_found_among_the_gone(client, manager):
    animal = full_animal(EnclosureFactory())
    url = reverse("animal_leave", args=[animal.pk])
    assert client.post(url, {"status": "transferred", "note": "to a zoo"}).status_code == 302
    assert client.get(url).url == animal.get_absolute_url()
    assert list(animals(which="gone")) == [animal]
    assert Animal.objects.get().status == "transferred"


class TestLeftDaysAgo:
    """That an animal left may be entered days later."""

    @pytest.fixture
    def animal(self):
        return AnimalFactory(
            placed_in=EnclosureFactory(), arrived_on=timezone.localdate() - timedelta(days=40)
        )

    def leave(self, client, animal, days_ago):
        at = timezone.localtime(timezone.now() - timedelta(days=days_ago))
        data = {"status": "released", "at": f"{at:%Y-%m-%dT%H:%M}"}
        return client.post(reverse("animal_leave", args=[animal.pk]), data)

    def test_its_place_ends_on_that_day(self, client, manager, animal):
        assert self.leave(client, animal, 3).status_code == 302
        animal.refresh_from_db()
        assert animal.left_on == timezone.localdate(timezone.now() - timedelta(days=3))
        assert animal.placements.get().ends_at < timezone.now() - timedelta(days=2.9)

    def test_one_that_was_fed_since_had_not_left(self, client, manager, animal):
        FeedingFactory(
            animal=animal, enclosure=animal.placements.get().enclosure, at=timezone.now() - timedelta(days=1)
        )
        answer = self.leave(client, animal, 3)
        assert answer.status_code == 422
        assert "It was fed on" in answer.content.decode()
        animal.refresh_from_db()
        assert animal.status == "here"

    def test_nor_can_it_leave_before_it_came(self, client, manager, animal):
        answer = self.leave(client, animal, 60)
        assert "It arrived on" in answer.content.decode()


def test_food_is_typed_in_percent(client, manager):
    data = {"name": "Smelt", "water_fraction": "78.8", "protein_fraction": "17.6", "source": "table"}
    assert client.post(reverse("food_new"), data).status_code == 302
    assert Food.objects.get().protein_fraction == pytest.approx(0.176)
    wrong = client.post(reverse("food_new"), data | {"name": "Other", "protein_fraction": "40"})
    assert wrong.status_code == 422
    assert "more than the whole" in wrong.content.decode()


def test_a_photo_is_for_people_who_are_signed_in(client):
    RefugeFactory()
    animal = AnimalFactory()
    assert client.get(reverse("animal_photo", args=[animal.pk])).status_code == 302
    client.force_login(UserFactory())
    assert client.get(reverse("animal_photo", args=[animal.pk])).status_code == 404
