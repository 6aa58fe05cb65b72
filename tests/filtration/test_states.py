"""Steps of a filter from state to state: it runs only after it held water, and each step has its own day."""

from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
import time_machine

from filtration import start_rules
from filtration.models import FilterUnit, Maintenance
from filtration.services import (
    FilterError,
    filter_set_state,
    maintenance_amend,
    maintenance_record,
    maintenance_take_back,
)
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from refuge.rules.limits import LimitsFor
from tests.factories import FilterUnitFactory, RefugeFactory, UserFactory

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 6, 15, 16, 0, tzinfo=UTC)
LONG_AGO = date(2023, 1, 10)


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def staff():
    RefugeFactory()
    return UserFactory(staff=True)


def ago(**span) -> datetime:
    return NOW - timedelta(**span)


def a_filter(state: str, **values) -> FilterUnit:
    return FilterUnitFactory(state=state, state_since=values.pop("since", LONG_AGO), **values)


def leak_test(unit, by, passed: bool, at: datetime = NOW) -> Maintenance:
    return maintenance_record(unit=unit, kind="leak_test", by=by, at=at, uuid=uuid4(), passed=passed)


def step(unit, by, state: str, at: datetime = NOW) -> FilterUnit:
    filter_set_state(unit=unit, state=state, by=by, at=at, uuid=uuid4())
    return now(unit)


def now(unit) -> FilterUnit:
    return FilterUnit.objects.get(pk=unit.pk)


class TestLeakTests:
    @pytest.mark.parametrize("state", ["leak_tested", "resting"])
    def test_one_that_failed_sends_a_filter_that_stands_back_to_building(self, staff, state):
        unit = a_filter(state)
        leak_test(unit, staff, True, ago(days=30))
        leak_test(unit, staff, False, ago(days=2))
        assert (now(unit).state, now(unit).state_since) == ("building", ago(days=2).date())
        with pytest.raises(FilterError, match="can only become leak-tested"):
            step(unit, staff, "cycling")

    def test_one_that_failed_while_it_ran_keeps_it_from_running_again(self, staff):
        unit = a_filter("mature")
        leak_test(unit, staff, False, ago(days=2))
        assert now(unit).state == "mature"  # people stop it, a record does not
        step(unit, staff, "resting", ago(days=1))
        with pytest.raises(FilterError, match="did not pass its leak test of 13 Jun"):
            step(unit, staff, "cycling")

    def test_one_before_it_was_taken_apart_counts_no_more(self, staff):
        unit = a_filter("mature")
        leak_test(unit, staff, True, ago(days=700))
        step(unit, staff, "resting", ago(days=9))
        step(unit, staff, "building", ago(days=8))
        with pytest.raises(FilterError, match="No leak test was passed"):
            step(unit, staff, "leak_tested", ago(days=7))
        leak_test(unit, staff, True, ago(days=6))
        assert now(unit).state == "leak_tested"
        assert step(unit, staff, "cycling", ago(days=5)).state == "cycling"

    def test_a_filter_that_rests_runs_only_if_one_was_passed(self, staff):
        unit = a_filter("resting")
        with pytest.raises(FilterError, match="No leak test was passed"):
            step(unit, staff, "cycling")
        leak_test(unit, staff, True)
        assert step(unit, staff, "cycling").state == "cycling"

    def test_one_that_runs_may_cycle_anew_without_any_on_record(self, staff):
        assert step(a_filter("disturbed"), staff, "cycling").state == "cycling"

    def test_one_that_passed_and_failed_on_one_day_is_asked_for_again(self, staff):
        unit = a_filter("building")
        leak_test(unit, staff, True, ago(hours=5))
        leak_test(unit, staff, False, ago(hours=1))
        facts = load_facts(None, moment_for()).filter[unit.pk]
        assert list(start_rules.leak_test(facts, LimitsFor({}), facts.state_since))

    def test_a_failed_one_entered_late_does_not_undo_a_later_one(self, staff):
        unit = a_filter("building")
        leak_test(unit, staff, True, ago(days=1))
        leak_test(unit, staff, False, ago(days=3))
        assert now(unit).state == "leak_tested"

    def test_a_failed_one_that_is_taken_back_or_corrected_counts_no_more(self, staff):
        unit = a_filter("building")
        leak_test(unit, staff, True, ago(days=3))
        for right in (
            lambda record: maintenance_take_back(record=record, by=staff),
            lambda record: maintenance_amend(record=record, by=staff, reason="Misread", passed=True),
        ):
            failed = leak_test(unit, staff, False, ago(days=2))
            assert now(unit).state == "building"
            right(failed)
            assert now(unit).state == "leak_tested"


class TestTimeOfAStep:
    def test_one_entered_late_counts_from_its_own_day(self, staff):
        assert step(a_filter("cycling"), staff, "mature", ago(days=5)).state_since == ago(days=5).date()

    def test_a_leak_test_entered_late_too(self, staff):
        unit = a_filter("building")
        leak_test(unit, staff, True, ago(days=5))
        assert now(unit).state_since == ago(days=5).date()

    def test_the_day_is_that_of_the_refuge(self, staff):
        from refuge.people.models import Refuge

        Refuge.objects.update(time_zone="Australia/Sydney")
        assert step(a_filter("cycling"), staff, "mature").state_since == date(2026, 6, 16)

    def test_none_comes_before_the_one_that_is_recorded(self, staff):
        unit = a_filter("cycling")
        step(unit, staff, "mature", ago(hours=3))
        for at in (ago(hours=4), ago(days=2)):
            with pytest.raises(FilterError, match="“mature” since 15 Jun"):
                step(unit, staff, "disturbed", at)
        assert step(unit, staff, "disturbed", ago(hours=3)).state == "disturbed"

    def test_sent_twice_it_is_one(self, staff):
        unit, uuid = a_filter("cycling"), uuid4()
        first, second = (
            filter_set_state(unit=unit, state="mature", by=staff, at=NOW, uuid=uuid) for _ in range(2)
        )
        assert first == second
