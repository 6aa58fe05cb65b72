"""The demo refuge's past forecasts: made once, from what was recorded before each, and nowhere else."""

from datetime import timedelta

import pytest
import time_machine

from filtration.forecasting.models import WaterForecast
from filtration.forecasting.scores import scores
from refuge.demo import tasks
from refuge.demo.place import REFUGE_NAME
from refuge.people.models import Refuge
from tests.filtration.a_water import NOW, a_water

pytestmark = pytest.mark.django_db


@pytest.fixture
def asked(monkeypatch):
    """What was asked of the worker, done at once."""
    calls = []

    def at_once(days_ago):
        calls.append(days_ago)
        tasks.recall_forecasts(days_ago)

    monkeypatch.setattr(tasks.recall_forecasts, "delay", at_once)
    with time_machine.travel(NOW, tick=False):
        yield calls


def test_the_demo_has_forecasts_of_every_second_day_of_four_weeks_to_score(asked):
    a_water()
    Refuge.objects.update(name=REFUGE_NAME)
    tasks.recall_forecasts()
    days = list(WaterForecast.objects.order_by("day").values_list("day", flat=True))
    assert days == [NOW.date() - timedelta(days=n) for n in range(28, 0, -2)]
    assert scores(NOW).total.count > 0
    made = len(asked)
    tasks.recall_forecasts()  # another start of the worker
    assert len(asked) == made


def test_no_other_refuge_has(asked):
    a_water()
    tasks.recall_forecasts()
    assert not asked
    assert not WaterForecast.objects.exists()
