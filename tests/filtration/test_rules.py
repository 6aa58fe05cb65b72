"""When a filter is drained, rinsed and tested."""

from dataclasses import replace
from datetime import UTC, date, datetime, time, timedelta
from itertools import pairwise

import pytest

from filtration.lying import Drain, correction_from, sediment_of
from filtration.rules import bucket_test, drain, protection_test, rinse
from filtration.shares import Spell, reached
from filtration.start_rules import leak_test, start, state_review
from refuge.rules.facts import NO_STOP, Fed, FilterFacts, Reading
from refuge.rules.limits import LimitsFor
from refuge.rules.triggers import Due, Unknown

TODAY = date(2026, 6, 15)
LONG_AGO = TODAY - timedelta(days=300)


def at(day, hour=12):
    return datetime.combine(day, time(hour), tzinfo=UTC)


BARREL = FilterFacts(
    id=1,
    label="F1",
    path="/filters/1/",
    stop=NO_STOP,
    circuit_id=1,
    state="mature",
    state_since=LONG_AGO,
    void_l=50,
    cross_section_m2=0.25,
    temperature_c=24,
    has_layers=True,
    media_void_l=70,
    commissioning_flow_m3_h=2.0,
    has_pump=True,
    last_drain_at=at(TODAY),
    last_rinse_at=at(TODAY),
    last_bucket_at=at(TODAY),
    last_protection_on=TODAY,
    protection_passed=True,
)


def found(rule, facts, **overrides):
    return list(rule(facts, LimitsFor(overrides), TODAY))


def due(rule, facts):
    dues = [each for each in found(rule, facts) if isinstance(each, Due)]
    return min(dues, key=lambda each: each.on) if dues else None


class TestDrain:
    def test_due_when_the_share_of_the_void_is_reached(self):
        assert due(drain, replace(BARREL, sediment_l=15.0)).on == TODAY

    def test_longest_interval_holds_without_any_load(self):
        assert due(drain, BARREL).on == TODAY + timedelta(days=1095)

    def test_more_load_makes_it_earlier(self):
        days = [due(drain, replace(BARREL, solids_g_day=g)).on for g in (5, 10, 20)]
        assert days == sorted(days, reverse=True)
        assert len(set(days)) == 3

    def test_a_filter_that_collects_more_than_modelled_is_drained_earlier(self):
        plain = due(drain, replace(BARREL, solids_g_day=10))
        worse = due(drain, replace(BARREL, solids_g_day=10, correction=2.0))
        assert worse.on < plain.on

    def test_what_was_seen_corrects_the_next_forecast(self):
        assert correction_from([Drain(10, 20)]) == pytest.approx(2**0.5)
        assert correction_from([]) == 1.0
        assert correction_from([Drain(None, 20), Drain(10, None)]) == 1.0

    @pytest.mark.parametrize("rate", [0.5, 2.0, 3.5])
    @pytest.mark.parametrize("is_kept", [True, False])
    def test_the_factor_settles_on_the_true_rate_and_stays_there(self, rate, is_kept):
        """Also over drains recorded before the factor was kept with them."""
        drains, factors = [], [1.0]
        for number in range(30):
            modelled = 10 + number % 3
            factor = factors[-1]
            drains.insert(0, Drain(modelled * factor, modelled * rate, factor if is_kept else None))
            factors.append(correction_from(drains))
        assert factors[1] == pytest.approx(rate**0.5)
        assert all(abs(rate - b) <= abs(rate - a) for a, b in pairwise(factors))
        assert factors[-1] == pytest.approx(rate, rel=0.001)
        assert factors[-20:] == pytest.approx([rate] * 20, rel=0.01)


def settled(fed, drained_on, share, temperature_c, today):
    """Where a filter had one share of its water all the time."""
    return sediment_of(reached(fed, [Spell(None, None, share)], drained_on), temperature_c, today)


class TestSettled:
    def test_only_meals_since_the_drain_count(self):
        fed = [
            Fed(TODAY - timedelta(days=1), TODAY, 1, 20, 100),
            Fed(TODAY - timedelta(days=9), TODAY - timedelta(days=8), 1, 20, 100),
        ]
        all_of_it = settled(fed, None, 1.0, 20, TODAY)
        since = settled(fed, TODAY - timedelta(days=5), 1.0, 20, TODAY)
        assert since.inert_g == pytest.approx(all_of_it.inert_g / 2)

    def test_a_month_cut_by_a_drain_counts_in_part(self):
        month = [Fed(date(2026, 5, 1), date(2026, 5, 31), 30, 600, 3000)]
        whole = settled(month, None, 1.0, 20, TODAY)
        half = settled(month, date(2026, 5, 16), 1.0, 20, TODAY)
        assert half.inert_g == pytest.approx(whole.inert_g / 2)


class TestRinse:
    def test_due_when_the_flow_has_fallen(self):
        facts = replace(BARREL, last_rinse_at=at(LONG_AGO), flow=Reading(1.0, TODAY))
        assert due(rinse, facts).on == TODAY
        assert "50% of the {flow:2} when new" in due(rinse, facts).reason

    def test_a_flow_measured_before_the_last_rinse_says_nothing(self):
        before = TODAY - timedelta(days=2)
        facts = replace(BARREL, last_bucket_at=at(before), flow=Reading(1.0, before))
        assert due(rinse, facts).on > TODAY

    @pytest.mark.parametrize(("tested", "rinsed", "is_due"), [(8, 16, False), (16, 8, True)])
    def test_on_one_day_a_flow_measured_before_the_rinse_says_nothing(self, tested, rinsed, is_due):
        facts = replace(
            BARREL,
            last_bucket_at=at(TODAY, tested),
            last_rinse_at=at(TODAY, rinsed),
            flow=Reading(1.0, TODAY),
        )
        assert (due(rinse, facts).on == TODAY) is is_due

    def test_unknown_where_a_flow_was_measured_but_none_is_known_of_it_new(self):
        lacks = [
            each.lacks
            for each in found(rinse, replace(BARREL, commissioning_flow_m3_h=None, flow=Reading(1.0, TODAY)))
            if isinstance(each, Unknown)
        ]
        assert lacks == ["the flow when it was new"]


class TestTests:
    def test_bucket_test_follows_a_drain(self):
        facts = replace(BARREL, last_bucket_at=at(TODAY - timedelta(days=3)))
        assert due(bucket_test, facts).on == TODAY + timedelta(days=1)

    @pytest.mark.parametrize("work", ["last_drain_at", "last_rinse_at"])
    def test_bucket_test_follows_work_later_on_the_day_of_the_last_test(self, work):
        morning = replace(BARREL, last_bucket_at=at(TODAY, 8), last_drain_at=None, last_rinse_at=None)
        assert due(bucket_test, morning).on == TODAY + timedelta(days=30)
        assert due(bucket_test, replace(morning, **{work: at(TODAY, 15)})).on == TODAY + timedelta(days=1)
        assert due(bucket_test, replace(morning, **{work: at(TODAY, 7)})).on == TODAY + timedelta(days=30)

    def test_protection_that_did_not_trip_stays_due(self):
        facts = replace(BARREL, protection_passed=False, last_protection_on=TODAY - timedelta(days=1))
        assert due(protection_test, facts).on < TODAY

    def test_a_new_build_is_leak_tested_before_it_runs(self):
        assert due(leak_test, replace(BARREL, state="building")) is not None
        assert due(leak_test, replace(BARREL, state="building", leak_passed_on=TODAY)) is None

    def test_one_that_passed_and_failed_on_one_day_is_tested_again(self):
        failed = replace(BARREL, state="building", state_since=TODAY, leak_passed_on=TODAY)
        assert due(leak_test, failed) is not None

    @pytest.mark.parametrize("rule", [drain, rinse, bucket_test, protection_test, start])
    def test_a_filter_that_does_not_run_needs_no_upkeep(self, rule):
        assert found(rule, replace(BARREL, state="resting")) == []


class TestNew:
    """From the leak test to the first day it runs."""

    new = replace(
        BARREL, state="leak_tested", state_since=TODAY, last_protection_on=None, protection_passed=None,
        last_bucket_at=None, last_drain_at=None, last_rinse_at=None, commissioning_flow_m3_h=None,
    )  # fmt: skip

    def test_the_leak_test_says_how_with_this_filters_litres(self):
        facts = replace(self.new, state="building", lip_l=178.6)
        assert "{bucket:0.1786}" in due(leak_test, facts).instruction
        assert "24\u00a0h" in due(leak_test, facts).instruction
        assert "with" not in due(leak_test, replace(facts, lip_l=None)).instruction.split(".")[1]

    def test_the_device_is_tested_before_the_pump_is_plugged_in(self):
        asked = due(protection_test, self.new)
        assert asked.on == TODAY
        assert "no protection of its socket is entered" in asked.reason
        assert "no protection" not in due(protection_test, replace(self.new, has_protection=True)).reason
        assert due(start, self.new) is None

    def test_once_it_tripped_the_filter_is_filled_and_started(self):
        tested = replace(self.new, last_protection_on=TODAY, protection_passed=True)
        assert due(start, tested).on == TODAY
        assert due(start, tested).prefill == {"new_state": "cycling"}
        assert due(protection_test, tested).on > TODAY

    def test_one_that_did_not_trip_is_not_started(self):
        failed = replace(self.new, last_protection_on=TODAY, protection_passed=False)
        assert due(start, failed) is None
        assert "did not trip" in due(protection_test, failed).reason

    def test_without_a_pump_nothing_waits_for_a_device(self):
        assert due(start, replace(self.new, has_pump=False)).on == TODAY

    @pytest.mark.parametrize("state", ["building", "cycling", "mature", "resting"])
    def test_only_one_that_was_leak_tested_is_started(self, state):
        assert due(start, replace(self.new, state=state, last_protection_on=TODAY, protection_passed=True)) is None  # fmt: skip

    def test_its_flow_and_its_device_are_tested_on_the_first_day_it_runs(self):
        runs = replace(self.new, state="cycling")
        assert due(bucket_test, runs).on == TODAY
        assert due(protection_test, runs).on == TODAY

    def test_a_rinse_is_not_called_unknown_before_its_flow_was_measured(self):
        assert not [each for each in found(rinse, replace(self.new, state="cycling")) if isinstance(each, Unknown)]  # fmt: skip

    def test_a_first_flow_far_from_the_plan_is_measured_again(self):
        off = replace(self.new, state="cycling", lip_l=100, flow=Reading(2.4, TODAY), last_bucket_at=at(TODAY))  # fmt: skip
        asked = due(bucket_test, off)
        assert asked.on == TODAY + timedelta(days=1)
        assert "{flow:2.4} on 15 Jun 2026 is not what its plan says" in asked.reason
        assert not [each for each in found(rinse, off) if isinstance(each, Unknown)]
        taken = replace(off, commissioning_flow_m3_h=2.4)
        assert due(bucket_test, taken).on == TODAY + timedelta(days=30)


class TestStateReview:
    def test_a_run_of_quiet_tests_asks_for_a_decision(self):
        facts = replace(BARREL, state="cycling", quiet_tests=3, days_to_mature=10)
        assert due(state_review, facts).prefill == {"new_state": "mature"}

    def test_until_then_it_is_asked_when_the_model_expects_it(self):
        facts = replace(BARREL, state="cycling", quiet_tests=0, days_to_mature=20.5)
        assert due(state_review, facts).on == TODAY + timedelta(days=20)

    @pytest.mark.parametrize("state", ["cycling", "disturbed"])
    def test_where_others_carry_the_water_quiet_tests_decide_nothing(self, state):
        facts = replace(BARREL, state=state, state_since=TODAY - timedelta(days=1), quiet_tests=6, carried_by="F1 Old", days_to_mature=30.5)  # fmt: skip
        asked = due(state_review, facts)
        assert asked.on > TODAY
        assert asked.prefill == {}
        assert "F1 Old can carry the whole load without it" in asked.reason

    def test_beside_others_the_days_it_takes_ask_for_a_decision(self):
        facts = replace(BARREL, state="cycling", quiet_tests=0, carried_by="F1 Old", days_to_mature=0.4)
        assert due(state_review, facts).on == TODAY
        assert due(state_review, facts).prefill == {}
