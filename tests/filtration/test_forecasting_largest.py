"""The largest meal on each day until a young filter is mature: its steps, words, picture and page."""

import re
from datetime import date

import pytest
import time_machine
from django.urls import reverse

from filtration.forecasting import services
from filtration.forecasting.largest import BASE, largest_of, steps_of
from filtration.forecasting.models import WaterForecast
from tests.factories import UserFactory
from tests.filtration.a_water import NOW, a_water, moment

MONDAY = date(2027, 3, 8)


def told(shares):
    found = largest_of({"maturing": {"ladder": shares, "meal_kg": 0.4}}, MONDAY)
    assert found is not None
    return found


def test_days_with_as_good_as_the_same_share_are_one_step_of_the_least_of_them():
    steps = steps_of([0.0, 0.01, 0.3, 0.31, 0.29, 0.5, 0.9, 1.0, 1.05], 0.4, MONDAY)
    assert [(step.first.day, step.last.day, step.share) for step in steps] == [
        (8, 9, 0.0),
        (10, 12, 0.29),
        (13, 13, 0.5),
        (14, 14, 0.9),
        (15, 16, 1.0),
    ]
    assert [step.words for step in steps[:2]] == ["none", "{food:0.116}"]


@pytest.mark.parametrize(
    ("shares", "words"),
    [
        (
            [0.0, 0.0, 0.5, 1.1],
            "No meal until Wed 10 Mar, then at most {food:0.2}; the planned {food:0.4} from Thu 11 Mar.",
        ),
        (
            [0.25, 0.25, 1.0],
            "Until it is mature at most {food:0.1} a meal now; the planned {food:0.4} from Wed 10 Mar.",
        ),
        # The whole plan for a day is not the whole plan for good.
        (
            [0.25, 1.0, 0.5],
            "Until it is mature at most {food:0.1} a meal now; the planned {food:0.4} not within these weeks.",
        ),
        (
            [0.0, 0.0],
            "No meal is sure to keep the limits in the weeks looked at; the planned {food:0.4} not within these weeks.",
        ),
        ([1.2, 1.3], "The planned meals of {food:0.4} may be given whole."),
    ],
)
def test_the_words_say_when_and_how_much(shares, words):
    assert told(shares).words == words


def test_the_picture_stands_as_high_as_the_share_of_the_plan():
    half = told([0.0, 0.5])
    assert half.line.split()[1] == f"{BASE:.1f}"
    high = float(half.line.split()[-1])
    assert BASE - high == pytest.approx((BASE - half.plan_y) / 2, abs=0.1)


def test_a_mature_filter_has_none():
    assert largest_of({"maturing": None}, MONDAY) is None
    assert largest_of({}, MONDAY) is None


@pytest.mark.django_db
@pytest.mark.parametrize(("system", "units"), [("metric", "k?g"), ("us", "lb|oz")])
def test_the_page_of_a_young_filter_shows_it_in_each_readers_units(client, system, units):
    circuit = a_water(state="cycling", filter_days=12)
    circuit.plan.ration_kg = 1.0
    circuit.plan.save()
    services.forecast_waters([circuit.pk], moment=moment())
    maturing = WaterForecast.objects.get(circuit=circuit).outlook["maturing"]
    assert len(maturing["ladder"]) >= 7
    assert all(0 <= share <= 2 for share in maturing["ladder"])
    with time_machine.travel(NOW, tick=False):
        client.force_login(UserFactory(unit_system=system))
        page = client.get(reverse("water_forecast", args=[circuit.pk])).content.decode()
    assert "Largest meal until the filter is mature" in page
    table = page[page.index("Largest meal, and its share of the plan") :]
    assert re.search(rf"\d\xa0({units})</td>", table[: table.index("</table>")])
