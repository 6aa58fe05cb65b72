"""A refuge that begins to keep records has fed its animals before: what nobody wrote down is no fast."""

from dataclasses import replace
from datetime import timedelta
from math import inf

import pytest

from filtration.forecast import Disagreement
from filtration.forecasting import gather, services
from filtration.forecasting.gather import gather_one
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.outcome import _is_none
from filtration.forecasting.starts import from_start
from tests.factories import FeedingFactory, WaterTestFactory
from tests.filtration.a_water import NOW, a_water, days_ago, moment

pytestmark = pytest.mark.django_db


def old_water(**kind):
    """A water fed and tested for years, of which two tests are written down: of three weeks ago and of now."""
    circuit = a_water(meals=0, tests=0, **kind)
    WaterTestFactory(circuit=circuit, at=days_ago(21), ph=7.6, tan_mg_l=0.1, nitrite_n_mg_l=0.05)
    return circuit


def test_it_was_fed_by_its_plan_until_now():
    gathered = gather_one(old_water().pk, moment())
    assert gathered.meals == ()
    assert len(gathered.unrecorded) == 10  # every second day of three weeks, the last two days ago
    assert all(gathered.began <= meal.at < NOW for meal in gathered.unrecorded)
    assert {meal.kg for meal in gathered.unrecorded} == {0.2}


def test_from_its_first_recorded_meal_on_the_records_count():
    circuit = old_water()
    FeedingFactory(enclosure=circuit.tank, plan=circuit.plan, at=days_ago(6), offered_kg=0.2)
    gathered = gather_one(circuit.pk, moment())
    assert len(gathered.meals) == 1
    assert gathered.unrecorded[-1].at.date() == (NOW - timedelta(days=8)).date()


def test_meals_recorded_before_the_window_leave_nothing_to_guess():
    circuit = old_water()
    FeedingFactory(enclosure=circuit.tank, plan=circuit.plan, at=days_ago(90), offered_kg=0.2)
    assert gather_one(circuit.pk, moment()).unrecorded == ()


@pytest.mark.parametrize("kind", [{"state": "cycling", "filter_days": 25}])
def test_a_filter_that_only_begins_was_fed_what_is_written_down(kind):
    assert gather_one(old_water(**kind).pk, moment()).unrecorded == ()


def test_nobody_was_fed_before_it_came():
    circuit = old_water()
    circuit.animal.placements.update(starts_at=days_ago(9))
    circuit.animal.arrived_on = days_ago(9).date()
    circuit.animal.save()
    first = gather_one(circuit.pk, moment()).unrecorded[0].at
    assert first.date() >= days_ago(9).date()


def test_a_little_ammonia_three_weeks_later_surprises_nobody(monkeypatch):
    circuit = old_water()
    WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), ph=7.6, tan_mg_l=0.3, nitrite_n_mg_l=0.05)
    services.forecast_waters([circuit.pk], moment=moment())
    outlook = WaterForecast.objects.get(circuit=circuit).outlook
    assert outlook["disagreements"] == []
    assert outlook["basis"]["unrecorded"] == 10
    monkeypatch.setattr(gather, "unrecorded_meals", lambda known, at: [])  # as if it had fasted
    assert from_start(gather_one(circuit.pk, moment())).disagreements


def test_what_counts_as_none_is_not_to_be_read_again():
    none = Disagreement("tan", 0.125, 0.175, 0.001, 0.016, 0.01)
    assert _is_none(none, 0.25)
    assert not _is_none(replace(none, high=0.5), 0.25)
    assert not _is_none(replace(none, high=inf), 0.25)
    assert not _is_none(replace(none, expected_high=0.9), 0.25)  # that much less than expected is news
    assert not _is_none(replace(none, quantity="nitrate"), 0.25)


def test_more_than_counts_as_none_is_still_told_where_none_was_expected():
    circuit = a_water()
    WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), tan_mg_l=8.0, ph=8.0)
    services.forecast_waters([circuit.pk], moment=moment())
    told = WaterForecast.objects.get(circuit=circuit).outlook["disagreements"]
    assert "tan" in {each["quantity"] for each in told}
