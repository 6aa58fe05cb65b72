"""How much may be fed: what decides it, and what is said of it."""

from datetime import timedelta

import numpy as np
import pytest
import time_machine
from django.urls import reverse

from filtration.forecast import Limit, Source
from filtration.forecasting import services
from filtration.forecasting.feeding import feeding_limits
from filtration.forecasting.lines import meal_lines
from filtration.forecasting.models import WaterForecast
from tests.factories import UserFactory, WaterTestFactory
from tests.filtration.a_water import NOW, a_water, days_ago, moment


def test_ammonia_counts_as_at_the_ph_of_its_source_and_never_as_in_acid_water():
    """Un-ionized at 25 °C: 2.21 % at pH 7.6, 12.5 % at pH 8.4 (tables after Emerson et al. 1975, recalled)."""
    bounds = [Limit("unionized", 0.05), Limit("nitrite", 1.0), Limit("nitrate", 50.0)]
    warmth = np.array([20.0, 25.0, 22.0])
    for ph, share in ((6.5, 0.0221), (8.4, 0.125)):
        found = {each.quantity: each.value for each in feeding_limits(bounds, warmth, Source(ph=ph))}
        assert found.keys() == {"unionized", "nitrite", "tan"}
        assert found["tan"] == pytest.approx(0.05 / share, rel=0.02)


def a_hard_water():
    """Alkalinity enough for weeks: 250 mg/L in four tests that agree."""
    circuit = a_water(tests=0)
    for n in range(4):
        WaterTestFactory(circuit=circuit, at=days_ago(1 + 7 * n, 10), ph=7.9, alkalinity_mg_l=250.0)
    return circuit


def clear_words(page: str) -> str:
    """What the lines say of clear water after meals."""
    lines = page[page.index('class="ahead-lines"') :].split("</ul>")[0].split("<li>")
    return " ".join(line for line in lines if "the meal of" in line)


@pytest.mark.django_db
class TestRation:
    def forecast(self, circuit, **reading) -> WaterForecast:
        if reading:
            WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=2), temperature_c=25.0, **reading)
        services.forecast_waters([circuit.pk], moment=moment())
        return WaterForecast.objects.get(circuit=circuit)

    def test_acid_water_full_of_ammonia_is_not_said_to_bear_more(self):
        row = self.forecast(a_water(), ph=6.1, alkalinity_mg_l=0.0, tan_mg_l=2.35)
        assert row.outlook["ration"]["factor"] == 0
        line = meal_lines(row, NOW.date(), NOW.tzinfo)[-1]
        assert line.state == "watch"
        assert line.words.startswith("No meal is sure to keep ammonia, nitrite and oxygen")

    def test_alkalinity_that_the_plan_uses_up_lets_nobody_feed_more(self):
        row = self.forecast(a_water(), ph=7.4, alkalinity_mg_l=81.0)
        ration = row.outlook["ration"]
        assert "alkalinity" in ration["used_up"]
        assert ration["factor"] <= 1
        line = meal_lines(row, NOW.date(), NOW.tzinfo)[-1]
        assert line.state == "watch"
        assert "alkalinity" in line.words
        assert "No more than the planned {food:0.2} a meal" in line.words

    def test_a_well_water_is_said_to_bear_more(self):
        row = self.forecast(a_hard_water())
        assert row.outlook["ration"]["factor"] > 1
        assert meal_lines(row, NOW.date(), NOW.tzinfo)[-1].state == "good"

    def test_a_reading_beyond_its_limit_lets_nobody_feed_more_than_the_plan(self):
        row = self.forecast(a_hard_water(), ph=7.9, nitrate_n_mg_l=90.0)
        assert row.outlook["ration"]["factor"] == 1


@pytest.mark.django_db
def test_a_bad_reading_after_the_forecast_takes_the_good_word_back(client):
    circuit = a_hard_water()
    services.forecast_waters([circuit.pk], moment=moment())
    url = reverse("water_forecast", args=[circuit.pk])
    with time_machine.travel(NOW, tick=False):
        client.force_login(UserFactory())
        before = client.get(url).content.decode()
        assert "a meal keep" in before
        WaterTestFactory(circuit=circuit, at=NOW, nitrite_n_mg_l=3.0)
        page = client.get(url).content.decode()
    assert "a meal keep" not in page
    assert "No meal until a test is good again." in page
    assert "tomorrow" in clear_words(before)  # the next planned meal, which is not to be given any more
    assert "tomorrow" not in clear_words(page)
