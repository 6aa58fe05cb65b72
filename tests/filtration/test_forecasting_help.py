"""The two weeks ahead with the steps against a bad reading: a fast, new water, then what the water bears."""

from datetime import timedelta

import numpy as np
import pytest
import time_machine
from django.urls import reverse

from filtration.forecast import Limit
from filtration.forecasting import services
from filtration.forecasting.gather import gather_one, scenario_of
from filtration.forecasting.helping import helped_by_steps
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.packing import Bands, unpacked
from filtration.views.forecasts import _fast, freed_words
from tests.factories import FeedingFactory, UserFactory, WaterTestFactory
from tests.filtration.a_water import NOW, a_water, moment

pytestmark = pytest.mark.django_db


@pytest.fixture
def row():
    """A young filter, a plan that is much for it, and a reading of too much ammonia two hours ago."""
    circuit = a_water(state="cycling", filter_days=12)
    circuit.plan.ration_kg = 1.0
    circuit.plan.save()
    WaterTestFactory(
        circuit=circuit,
        at=NOW - timedelta(hours=2),
        ph=8.2,
        temperature_c=24.0,
        tan_mg_l=2.0,
        nitrite_n_mg_l=0.5,
    )
    services.forecast_waters([circuit.pk], moment=moment())
    return WaterForecast.objects.get(circuit=circuit)


def test_the_steps_lower_what_was_too_high(row):
    without, helped = (unpacked(bytes(each)).of("unionized")[:, 2] for each in (row.bands, row.helped_bands))
    assert helped[0] == without[0]
    assert helped[8:].max() < without[8:].max()  # from the third day on
    assert helped.mean() < 0.8 * without.mean()


def test_the_fast_is_followed_by_what_the_water_bears(row):
    assert 1 <= row.outlook["fasting_days"] <= 14
    assert 0 <= row.outlook["fed_share"] < 1


def test_no_bad_reading_needs_no_steps():
    circuit = a_water()
    services.forecast_waters([circuit.pk], moment=moment())
    row = WaterForecast.objects.get(circuit=circuit)
    assert not row.helped_bands
    assert "fasting_days" not in row.outlook


def test_a_meal_of_this_hour_and_none_planned_is_no_failure():
    circuit = a_water()
    circuit.plan.ends_on = NOW.date()
    circuit.plan.save()
    FeedingFactory(enclosure=circuit.tank, plan=circuit.plan, at=NOW, offered_kg=0.2)
    services.forecast_waters([circuit.pk], moment=moment())
    row = WaterForecast.objects.get(circuit=circuit)
    assert (row.failure, row.outlook["ration"]) == ("", None)


@pytest.mark.parametrize(
    ("share", "words"),
    [
        (1.0, "is likely to be good in about 3 days."),
        (0.4, "After that it bears about {food:0.08} a meal, 40% of the plan."),
        (0.0, "Even after that no meal is sure to keep ammonia, nitrite and oxygen within their limits."),
    ],
)
def test_what_the_water_bears_after_the_fast_is_said(share, words):
    outlook = {"fasting_days": 3, "fed_share": share, "ration": {"meal_kg": 0.2}}
    assert _fast(WaterForecast(outlook=outlook)).endswith(words)


def test_after_the_fast_nitrite_counts_although_its_reading_was_good(row):
    """Ammonia's last reading is beyond its limit, nitrite's is not: both decide on the meals after."""
    gathered = gather_one(row.circuit_id, moment())
    scenario = scenario_of(row.circuit_id, moment())
    shares = []
    for nitrite_limit in (0.001, 1000.0):  # one that no meal keeps, and one that every meal keeps
        bounds = [Limit("unionized", 1000.0), Limit("nitrite", nitrite_limit)]
        shares.append(helped_by_steps(gathered, scenario, bounds).fed_share)
    assert shares == [0.0, 1.0]


class TestSourWater:
    """Much ammonia that acid keeps harmless: the program's own forecast says what a large change would set free."""

    @pytest.fixture
    def circuit(self):
        circuit = a_water(tests=0)
        circuit.water_source.alkalinity_mg_l = 160.0
        circuit.water_source.save()
        WaterTestFactory(
            circuit=circuit,
            at=NOW - timedelta(hours=2),
            ph=6.0,
            temperature_c=25.0,
            tan_mg_l=8.0,
            nitrite_n_mg_l=0.1,
            alkalinity_mg_l=10.0,
        )
        return circuit

    def test_the_steps_change_little_at_a_time_and_the_page_warns(self, circuit, client):
        with time_machine.travel(NOW, tick=False):
            services.forecast_waters([circuit.pk], moment=moment())
            client.force_login(UserFactory())
            page = client.get(reverse("water_help", args=[circuit.pk])).content.decode()
        assert "This water is sour" in page
        assert (
            "now (10\u00a0% of the water), and as much again on each of the next 6 days, each after a test."
            in page
        )
        assert "<b>Ammonia, un-ionized</b>" in page  # drawn though its reading is good
        assert "Large animals are handled by two people" in page

    def test_what_the_steps_may_set_free_is_said(self, circuit):
        services.forecast_waters([circuit.pk], moment=moment())
        row = WaterForecast.objects.get(circuit=circuit)
        without, helped = (unpacked(bytes(each)) for each in (row.bands, row.helped_bands))
        most = helped.of("unionized")[:, -1].max()
        assert freed_words(without, helped, limit=most * 2) == ""
        assert freed_words(helped, helped, limit=0.0) == ""
        nothing = Bands(np.zeros_like(without.values))
        assert f"up to {most:.2g} mg/L" in freed_words(nothing, helped, limit=most / 2)
