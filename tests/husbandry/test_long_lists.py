"""Pages of many animals stay short: those that bring nothing are folded away, and a day's meals are one line."""

import re
from datetime import UTC, datetime, timedelta

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from refuge.pages.history import PAGE_SIZE
from tests import factories as make

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 6, 15, 16, 0, tzinfo=UTC)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def pond():
    make.RefugeFactory()
    return make.EnclosureFactory(code="P1", name="Pond")


@pytest.fixture
def page_of(client):
    client.force_login(make.UserFactory(staff=True))
    return lambda path: client.get(path).content.decode()


def words(html: str) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", html)).replace("&nbsp;", " ").replace("\xa0", " ")


def fed(pond, days_ago: int, many: int = 3, **more):
    animals = [each.animal for each in pond.placements.order_by("pk")] or [
        make.AnimalFactory(placed_in=pond, code=f"T{n}", name="") for n in range(many)
    ]
    for n, animal in enumerate(animals):
        at = NOW - timedelta(days=days_ago, minutes=n)
        make.FeedingFactory(enclosure=pond, animal=animal, at=at, offered_kg=0.2, **more)


def amends(meal) -> str:
    return reverse("record_amend", args=["husbandry.feeding", meal.pk])


def lines(page: str) -> list[str]:
    return re.findall(r"Fed [\d.]+ k?g in \d+ meals?", words(page.split('id="history"')[1]))


def test_meals_of_a_day_are_one_line_that_says_who_ate_what(pond, page_of):
    fed(pond, 0)
    fed(pond, 1)
    page = page_of(pond.get_absolute_url())
    assert lines(page) == ["Fed 600 g in 3 meals"] * 2
    assert re.search(r"T2: Fed 200 g [^;]+; T1: Fed 200 g [^;]+; T0: Fed 200 g", words(page))


def test_the_groups_own_meal_stands_by_itself_and_can_be_amended(pond, page_of):
    fed(pond, 0)
    meal = make.FeedingFactory(enclosure=pond, animal=None, at=NOW, offered_kg=1.1)
    page = page_of(pond.get_absolute_url())
    assert "Fed 1.10 kg" in words(page)
    assert amends(meal) in page
    assert lines(page) == ["Fed 600 g in 3 meals"]


def test_each_meal_stands_on_its_animals_page(pond, page_of):
    fed(pond, 0)
    animal = pond.placements.first().animal
    page = page_of(animal.get_absolute_url())
    assert amends(animal.feedings.get()) in page and lines(page) == []


def test_no_day_is_lost_between_two_parts_of_a_long_history(pond, page_of):
    for days_ago in range(PAGE_SIZE + 5):
        fed(pond, days_ago)
    url = pond.get_absolute_url()
    first, second = page_of(url), page_of(f"{url}history/?page=2")
    assert "Show what was before" in first
    days = re.findall(r"(\d+ \w+ 2026) Fed 600 g in 3 meals", words(first + second))
    assert days == [f"{day.day} {day:%b} 2026" for day in (NOW - timedelta(n) for n in range(PAGE_SIZE + 5))]


@pytest.mark.parametrize("days", [9])
def test_costs_the_same_however_many_days_and_meals(pond, page_of, days):
    fed(pond, 0, many=1)
    url = pond.get_absolute_url()
    page_of(url)
    with CaptureQueriesContext(connection) as few:
        page_of(url)
    for days_ago in range(1, days):
        fed(pond, days_ago)
    with CaptureQueriesContext(connection) as many:
        page_of(url)
    assert len(many) == len(few)


def test_animals_that_bring_nothing_are_folded_away_and_counted(pond, page_of):
    for n in range(5):
        make.AnimalFactory(placed_in=pond, code=f"H{n}")
    eater = make.AnimalFactory(placed_in=pond, code="BIG")
    make.FeedingPlanFactory(animal=eater)
    page = page_of(pond.circuit.get_absolute_url())
    shown, folded = page.split("animals fed with their group, or not at all")
    assert "BIG" in shown.split('id="animals"')[1] and "H3" not in shown.split('id="animals"')[1]
    assert "5" in words(shown)[-4:] and "H3" in folded
    assert "0.00" not in folded.split("</details>")[0]


def test_only_such_animals_are_shown_unfolded(pond, page_of):
    make.AnimalFactory(placed_in=pond, code="H1")
    page = page_of(pond.circuit.get_absolute_url())
    assert "1 animal fed with its group, or not at all" in words(page)
    assert 'class="how" open' in page
