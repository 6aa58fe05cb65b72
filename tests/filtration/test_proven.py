"""What water tests prove of one filter: made since it runs so, under load, and where no other carries the water."""

from datetime import UTC, date, datetime, timedelta

import pytest
import time_machine

from enclosures.rules import water_test
from filtration.forms import StateForm
from filtration.proven import proving_tests
from refuge.people.models import Refuge
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from refuge.rules.facts import Fed, TestFacts
from refuge.rules.limits import LimitsFor
from tests.factories import (
    EnclosureFactory,
    FeedingFactory,
    FilterUnitFactory,
    RefugeFactory,
    WaterTestFactory,
)

TODAY = date(2026, 6, 15)
NONE_READ = {
    "temperature_c": 22.0, "ph": 7.5, "nitrate": None, "alkalinity": None, "oxygen": None, "chlorine": None,
    "unionized": None,
}  # fmt: skip


def read(days_ago: int, tan: float = 0.0, nitrite: float = 0.0) -> TestFacts:
    return TestFacts(on=TODAY - timedelta(days=days_ago), tan=tan, nitrite=nitrite, **NONE_READ)


def meal(days_ago: int, tan_g: float = 2.0) -> Fed:
    day = TODAY - timedelta(days=days_ago)
    return Fed(day, day + timedelta(days=1), 0.1, tan_g, 10)


def proved(tests, since_days, fed, volume_m3=1.0):
    return proving_tests(tests, TODAY - timedelta(days=since_days), fed, volume_m3, 0.25)


class TestProvingTests:
    tests = (read(0), read(1), read(2), read(3))

    def test_those_from_before_it_ran_count_for_nothing(self):
        assert proved(self.tests, 0, [meal(5)]) == 0
        assert proved(self.tests, 2, [meal(2)]) == 2

    def test_without_food_a_quiet_test_shows_nothing(self):
        assert proved(self.tests, 30, []) == 0
        assert proved(self.tests, 30, [meal(40)]) == 0
        assert proved(self.tests, 30, [meal(4)]) == 4

    def test_food_from_before_it_ran_was_not_its_own(self):
        assert proved(self.tests, 4, [meal(5)]) == 0

    def test_a_bite_that_would_not_show_anyway_is_no_load(self):
        # 0.2 g of ammonia nitrogen in 1 m3 is 0.2 mg/L, under the 0.25 that is called near zero.
        assert proved(self.tests, 30, [meal(4, 0.2)]) == 0
        assert proved(self.tests, 30, [meal(4, 0.3)]) == 4
        assert proved(self.tests, 30, [meal(4, 0.3)], volume_m3=2.0) == 0

    def test_ammonia_that_was_read_is_a_load_whoever_put_it_in(self):
        assert proved((read(0), read(1), read(2, tan=1.0)), 30, []) == 2

    def test_one_that_is_not_quiet_ends_the_row_fed_or_not(self):
        assert proved((read(0), read(1, nitrite=0.5), read(2)), 30, [meal(4)]) == 1


@pytest.mark.django_db
class TestOfAFilter:
    @pytest.fixture(autouse=True)
    def clock(self):
        with time_machine.travel(datetime(2026, 6, 15, 16, 0, tzinfo=UTC), tick=False):
            yield

    def water(self, old: str = "mature", code: str = "B1", **new):
        if not Refuge.objects.exists():
            RefugeFactory()
        tank = EnclosureFactory()
        FilterUnitFactory(
            code=code, name="Old", circuit=tank.circuit, state=old, state_since=date(2025, 1, 1)
        )
        unit = FilterUnitFactory(circuit=tank.circuit, **{"state": "cycling", "state_since": TODAY} | new)
        for days in range(6):
            WaterTestFactory(circuit=tank.circuit, at=datetime(2026, 6, 15 - days, 9, tzinfo=UTC), tan_mg_l=0.0, nitrite_n_mg_l=0.0)  # fmt: skip
            FeedingFactory(enclosure=tank, at=datetime(2026, 6, 15 - days, 8, tzinfo=UTC), offered_kg=0.02)
        return unit

    def facts(self, unit):
        return load_facts(None, moment_for()).filter[unit.pk]

    def test_one_that_was_started_a_moment_ago_has_proved_nothing(self):
        assert self.facts(self.water()).quiet_tests == 0

    def test_another_that_carries_the_water_is_named(self):
        assert self.facts(self.water()).carried_by == "B1 Old"

    def test_one_that_rests_or_is_cycling_itself_carries_nothing_for_it(self):
        assert self.facts(self.water("resting", state_since=date(2026, 6, 1))).carried_by == ""

    def test_the_water_is_tested_as_of_the_day_the_new_one_began_unless_another_carries_it(self):
        assert self.asked_while_cycling(self.water()) == []
        (asked,) = self.asked_while_cycling(self.water("resting", "B2"))
        assert asked.on == TODAY + timedelta(days=1)
        assert "not tested since" in asked.reason

    def asked_while_cycling(self, unit):
        water = load_facts(None, moment_for()).circuit[unit.circuit_id]
        asked = water_test(water, LimitsFor({}), TODAY)
        return [each for each in asked if each and "cycling" in each.reason]

    def test_one_by_itself_is_judged_by_the_tests_since(self):
        unit = self.water("resting", state_since=date(2026, 6, 11))
        assert self.facts(unit).quiet_tests == 4


def test_the_form_calls_nothing_mature_by_itself():
    fresh = StateForm(now="cycling")
    assert fresh.fields["new_state"].choices[0][0] == ""
    assert not fresh["new_state"].value()
    assert StateForm(now="cycling", initial={"new_state": "mature"})["new_state"].value() == "mature"
    assert [each for each, _ in StateForm(now="building").fields["new_state"].choices] == ["leak_tested"]
