"""What the rules know of meals: by the day and by the month of the refuge, whoever asks and wherever it runs."""

from datetime import UTC, date, datetime, timedelta
from zoneinfo import ZoneInfo

import pytest
import time_machine
from django.utils import timezone

from husbandry.food_facts import _fed_rows
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from tests import factories as make

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 11, 20, 12, 0, tzinfo=UTC)
ZONES = ["UTC", "America/New_York", "Australia/Sydney", "Pacific/Kiritimati"]


@pytest.fixture(autouse=True)
def clock():
    _fed_rows._sql.cache_clear()
    with time_machine.travel(NOW, tick=False):
        yield
    _fed_rows._sql.cache_clear()


def asked_in(zone: str, circuit_id: int):
    """As a process asks whose own clock is in a zone."""
    with timezone.override(zone):
        return [(each.from_on, each.to_on) for each in load_facts(None, moment_for()).fed[circuit_id]]


@pytest.mark.parametrize("first", ["UTC", "Asia/Tokyo", "America/Los_Angeles"])
@pytest.mark.parametrize("zone", ZONES)
def test_months_begin_with_the_refuge_whoever_asks_first(zone, first):
    make.RefugeFactory(time_zone=zone)
    tank = make.EnclosureFactory()
    local = ZoneInfo(zone)
    for at in (
        datetime(2026, 5, 1, 0, 30, tzinfo=local),
        datetime(2026, 5, 31, 23, 30, tzinfo=local),
        datetime(2026, 6, 1, 0, 30, tzinfo=local),
        datetime(2026, 11, 18, 23, 30, tzinfo=local),
    ):
        make.FeedingFactory(enclosure=tank, at=at)
    day = date(2026, 11, 18)
    months = [(date(2026, 6, 1), date(2026, 7, 1)), (date(2026, 5, 1), date(2026, 6, 1))]
    expected = [(day, day + timedelta(days=1)), *months]
    for asker in (first, *ZONES):
        assert asked_in(asker, tank.circuit_id) == expected
