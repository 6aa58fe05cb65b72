"""What a drain is held against, and what the litres let out stand for."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest

from filtration.drains import observed_sediment_l
from filtration.listeners import expect_drains_anew
from filtration.lying import Drain, correction_from
from filtration.services import (
    filter_set_state,
    maintenance_amend,
    maintenance_record,
    maintenance_take_back,
)
from filtration.solids import let_out_ratio, litres_from_depth
from refuge.records import void
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from tests.factories import EnclosureFactory, FeedingFactory, FilterUnitFactory, RefugeFactory, UserFactory


class TestLetOut:
    def test_the_usual_ratio_until_a_filter_has_shown_its_own(self):
        assert let_out_ratio([]) == pytest.approx(3)
        # Two drains at 2 litres to one count as much as the assumption: sqrt(2 * 3).
        assert let_out_ratio([(20, 10), (30, 15)]) == pytest.approx(6**0.5)
        assert let_out_ratio([(40, 10)] * 100) == pytest.approx(4, rel=0.01)

    def test_no_less_water_than_sediment(self):
        assert let_out_ratio([(5, 10)] * 50) >= 1

    def test_a_drain_by_litres_teaches_less_than_one_by_depth(self):
        by_depth, by_litres = (correction_from([Drain(10, 20, 1.0, let_out)]) for let_out in (False, True))
        assert by_depth == pytest.approx(2**0.5)
        assert by_litres == pytest.approx(2**0.25)


@pytest.fixture
def unit(db):
    RefugeFactory()
    tank = EnclosureFactory()
    for days in range(1, 200, 3):
        FeedingFactory(enclosure=tank, at=NOW - timedelta(days=days))
    return FilterUnitFactory(circuit=tank.circuit, state_since=(NOW - timedelta(days=300)).date())


NOW = datetime.now(UTC).replace(microsecond=0)


def drained(unit, days_ago, **seen):
    seen = seen or {"sediment_depth_m": 0.04}
    return maintenance_record(
        unit=unit, kind="drain", by=None, at=NOW - timedelta(days=days_ago), uuid=uuid4(), **seen
    )


class TestObserved:
    def test_a_depth_counts_by_itself(self, unit):
        seen = {"sediment_depth_m": 0.05, "litres_drained": 40.0}
        assert observed_sediment_l(unit, seen) == pytest.approx(
            litres_from_depth(0.05, unit.cross_section_m2)
        )

    def test_litres_alone_are_mostly_water(self, unit):
        assert observed_sediment_l(unit, {"litres_drained": 45.0}) == pytest.approx(15)

    def test_this_filters_own_ratio_is_learnt(self, unit):
        for days in (90, 60, 30):
            drained(unit, days, sediment_depth_m=0.04, litres_drained=51.04)  # 10.2 L of sediment: five times
        # (3^2 * 5^3)^(1/5)
        assert observed_sediment_l(unit, {"litres_drained": 45.0}) == pytest.approx(
            45 / (9 * 125) ** 0.2, rel=0.01
        )

    def test_more_than_the_void_can_stand_for_says_nothing(self, unit):
        assert observed_sediment_l(unit, {"litres_drained": 500.0}) is None


class TestExpected:
    def test_entered_late_or_in_time_it_is_the_same(self, unit):
        one = drained(unit, 120)
        two = drained(unit, 50)
        late = drained(unit, 90)
        two.refresh_from_db()
        stored = two.predicted_sediment_l, two.predicted_factor
        for each in (one, two, late):
            type(each).everything.filter(pk=each.pk).update(voided_at=datetime.now(UTC))
        again = [drained(unit, days) for days in (120, 90, 50)]
        assert late.predicted_sediment_l == pytest.approx(again[1].predicted_sediment_l)
        assert stored == pytest.approx((again[2].predicted_sediment_l, again[2].predicted_factor))

    def test_a_corrected_time_is_expected_anew(self, unit):
        record, by = drained(unit, 0), UserFactory()
        first = record.predicted_sediment_l
        moved = maintenance_amend(record=record, by=by, reason="Last month", at=NOW - timedelta(days=40))
        assert moved.predicted_sediment_l < first
        same = maintenance_amend(record=moved, by=by, reason="A word", note="Thick")
        assert same.predicted_sediment_l == pytest.approx(moved.predicted_sediment_l)

    def test_a_drain_taken_back_leaves_the_next_one_with_all_that_lay_there(self, unit):
        alone = drained(unit, 10).predicted_sediment_l
        second = drained(unit, 5)
        first = unit.maintenance.get(predicted_sediment_l=alone)
        assert second.predicted_sediment_l < alone / 3
        maintenance_take_back(record=first, by=UserFactory())
        second.refresh_from_db()
        assert second.predicted_sediment_l > alone * 0.9
        assert second.history.count() <= 1

    def test_a_filter_that_stopped_is_entered_late_what_came_to_the_other_is_more(self, unit):
        other = FilterUnitFactory(circuit=unit.circuit, state_since=unit.state_since)
        first, second = drained(unit, 20), drained(unit, 5)
        halves = [each.predicted_sediment_l / each.predicted_factor for each in (first, second)]
        stopped = {"state": "resting", "by": None, "at": NOW - timedelta(days=100), "uuid": uuid4()}
        filter_set_state(unit=other, **stopped)
        for drain in (first, second):
            drain.refresh_from_db()
        # All of the water's came to it for 80 of the days before the first drain, and all the time before the second.
        assert first.predicted_sediment_l / first.predicted_factor > 1.2 * halves[0]
        assert second.predicted_sediment_l / second.predicted_factor == pytest.approx(2 * halves[1])
        stored = [(each.predicted_sediment_l, each.predicted_factor) for each in (first, second)]
        for each in (first, second):
            type(each).everything.filter(pk=each.pk).update(voided_at=datetime.now(UTC))
        in_time = [drained(unit, days) for days in (20, 5)]
        for was, now in zip(stored, in_time, strict=True):
            assert was == pytest.approx((now.predicted_sediment_l, now.predicted_factor))

    def test_a_rinse_entered_late_says_that_it_ran_by_then(self, unit):
        """Its record says that it runs since a week; that it was rinsed 60 days ago, that it ran then."""
        unit.state_since = (NOW - timedelta(days=7)).date()
        unit.save()
        drain = drained(unit, 5)
        before = drain.predicted_sediment_l
        rinsed = {"kind": "rinse", "by": None, "at": NOW - timedelta(days=60), "uuid": uuid4()}
        record = maintenance_record(unit=unit, **rinsed)
        drain.refresh_from_db()
        assert drain.predicted_sediment_l > 3 * before
        maintenance_take_back(record=record, by=UserFactory())
        drain.refresh_from_db()
        assert drain.predicted_sediment_l == pytest.approx(before)


class TestMealsEnteredLate:
    def numbers(self, drain):
        drain.refresh_from_db()
        return drain.predicted_sediment_l, drain.predicted_factor

    def test_a_drain_is_held_against_all_that_was_fed_before_it_whenever_that_was_entered(self, unit):
        tank = unit.circuit.enclosures.get()
        drained(unit, 60)
        late = drained(unit, 20)
        first = self.numbers(late)[0]
        meal = FeedingFactory(enclosure=tank, at=NOW - timedelta(days=25), offered_kg=3.0)
        with_meal = self.numbers(late)
        assert with_meal[0] > 1.2 * first
        late.voided_at = datetime.now(UTC)
        late.save()
        assert with_meal == pytest.approx(self.numbers(drained(unit, 20)))  # as if entered in time
        void(record=meal, by=None, reason="Other tank")
        assert self.numbers(unit.maintenance.filter(voided_at=None).latest("at"))[0] == pytest.approx(first)

    def test_a_meal_of_now_costs_nothing(self, unit, django_assert_num_queries):
        meal = FeedingFactory.build(enclosure=unit.circuit.enclosures.get(), circuit=unit.circuit, at=NOW)
        with django_assert_num_queries(0):
            expect_drains_anew(meal, created=True)


class TestOneThatRanBeforeTheRecords:
    """A filter that had run for years when the first meal was recorded holds more than the records can say."""

    @pytest.fixture
    def old(self, db):
        RefugeFactory()
        tank = EnclosureFactory()
        for days in range(1, 30, 3):
            FeedingFactory(enclosure=tank, at=NOW - timedelta(days=days))
        return FilterUnitFactory(circuit=tank.circuit, state_since=(NOW - timedelta(days=900)).date())

    def correction(self, unit):
        return load_facts(frozenset([unit.circuit_id]), moment_for()).filter[unit.pk].correction

    def test_its_first_drain_teaches_nothing_of_what_settles_its_second_does(self, old):
        drained(old, 20, sediment_depth_m=0.1)
        assert self.correction(old) == 1.0
        drained(old, 2, sediment_depth_m=0.1)
        assert self.correction(old) > 1.0

    def test_a_new_ones_first_drain_teaches(self, unit):
        unit.state_since = (NOW - timedelta(days=200)).date()
        unit.save()
        drained(unit, 20, sediment_depth_m=0.1)
        assert self.correction(unit) != 1.0

    def test_until_its_first_drain_the_page_says_that_more_may_lie_in_it(self, old, client):
        client.force_login(UserFactory())
        words = "what lay in it before them is not known"
        assert words in client.get(old.get_absolute_url()).content.decode()
        drained(old, 2)
        assert words not in client.get(old.get_absolute_url()).content.decode()
