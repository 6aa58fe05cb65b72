"""Something happened to a filter: entered once, said in its history, taken in by rules and forecast."""

import math
from dataclasses import replace
from datetime import timedelta
from uuid import uuid4

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from enclosures.rules import water_test
from filtration.forecast import Damage, PumpStop, WaterChange
from filtration.forecast import layout as at
from filtration.forecast.inputs import forcing
from filtration.forecasting.gather import gather, gather_one
from filtration.forecasting.known import opened
from filtration.forecasting.services import forecast_waters
from filtration.harms.advice import steps
from filtration.harms.facts import feeding_words
from filtration.harms.rules import harm as harm_rule
from filtration.harms.services import harm_amend, harm_record, harm_take_back
from filtration.models import FilterHarm, Maintenance
from filtration.survival import AIRLESS_LOSS, left_after, stood_still
from husbandry.rules import feeding
from refuge.rounds.loaders import load_facts
from refuge.rounds.models import Task
from refuge.rounds.planner import plan_site
from refuge.rounds.recording import recorder
from refuge.rules.facts import HarmFacts
from refuge.rules.limits import LimitsFor
from tests import factories as make
from tests.filtration.a_water import NOW, a_water, days_ago, moment
from tests.filtration.test_rules import BARREL, TODAY

pytestmark = pytest.mark.django_db


def harmed(circuit, kind="no_flow", at=None, unit=None, **told):
    unit = unit or circuit.filters.first()
    return harm_record(
        unit=unit, kind=kind, by=None, at=at or NOW - timedelta(hours=12), uuid=uuid4(), **told
    )


def of_kind(gathered, kind):
    return [event for event in gathered.inputs.events if isinstance(event, kind)]


class TestRecording:
    def test_the_same_entry_twice_is_one_and_it_can_be_corrected_and_taken_back(self):
        circuit, person, key = a_water(), make.UserFactory(), uuid4()
        unit = circuit.filters.get()
        told = {"unit": unit, "kind": "no_flow", "by": person, "at": NOW, "uuid": key, "hours": 9.0}
        record = harm_record(**told)
        assert harm_record(**told) == record
        amended = harm_amend(record=record, by=person, reason="The clock of the pump says six", hours=6.0)
        assert [each.hours for each in amended.history.order_by("history_id")] == [9.0, 6.0]
        harm_take_back(record=record, by=person)
        harm_take_back(record=record, by=person)
        assert not FilterHarm.objects.exists()
        assert FilterHarm.everything.get().voided_at is not None

    @pytest.mark.parametrize(
        "wrong",
        [
            {"kind": "no_flow"},
            {"kind": "dry"},
            {"kind": "chlorine", "volume_m3": 0.1},
            {"kind": "medicine"},
            {"kind": "frost", "hours": -1.0},
            {"kind": "boredom", "hours": 1.0},
            {"kind": "frost", "hours": 1.0, "runs_again": False},
        ],
    )
    def test_the_database_refuses_what_tells_nothing(self, wrong):
        unit = make.FilterUnitFactory()
        with pytest.raises(IntegrityError), transaction.atomic():
            FilterHarm.objects.create(filter=unit, **wrong)


class TestFacts:
    def test_what_is_left_grows_back_from_day_to_day(self):
        circuit = a_water()
        harmed(circuit, hours=24.0, at=NOW - timedelta(hours=24))
        unit = next(iter(load_facts(frozenset([circuit.pk]), moment()).filter.values()))
        assert unit.harm.left == pytest.approx(stood_still(24).middle)
        assert unit.harm_left_today == pytest.approx(unit.harm.left, abs=0.01)
        later = moment(NOW + timedelta(days=5))
        assert next(iter(load_facts(None, later).filter.values())).harm_left_today > unit.harm_left_today

    def test_the_water_carries_less_and_the_rules_hear_of_it(self):
        circuit = a_water()
        before = load_facts(None, moment()).circuit[circuit.pk]
        harmed(circuit, hours=24.0, at=NOW - timedelta(hours=24))
        after = load_facts(None, moment()).circuit[circuit.pk]
        assert after.capacity_tan_g_day == pytest.approx(
            before.capacity_tan_g_day * stood_still(24).middle, rel=0.02
        )
        assert after.harm.words == "Stood without flow: 24 hours"
        assert before.harm is None

    def test_a_short_stop_is_no_ground_for_anything(self):
        circuit = a_water()
        harmed(circuit, hours=1.0)
        assert load_facts(None, moment()).circuit[circuit.pk].harm is None

    def test_chlorine_reaches_every_filter_of_the_water(self):
        circuit = a_water()
        make.FilterUnitFactory(circuit=circuit)
        tap = make.WaterSourceFactory(chloramine=True)
        harmed(circuit, "chlorine", volume_m3=0.5, source=tap)
        facts = load_facts(None, moment())
        mixed = 2.0 * 0.5 / facts.circuit[circuit.pk].volume_m3
        lefts = {unit.harm.left for unit in facts.filter.values()}
        assert lefts == {left_after("chlorine", chlorine_mg_l=mixed).middle}

    def test_one_that_is_called_mature_again_has_it_behind(self):
        circuit = a_water()
        harmed(circuit, hours=24.0, at=days_ago(10))
        circuit.filters.update(state_since=(NOW - timedelta(days=2)).date())
        assert load_facts(None, moment()).circuit[circuit.pk].harm is None

    def test_what_has_grown_back_is_over_but_a_disturbed_filter_waits_for_a_word(self):
        circuit = a_water()
        harmed(circuit, hours=24.0, at=days_ago(20))
        assert load_facts(None, moment()).circuit[circuit.pk].harm is None
        circuit.filters.update(state="disturbed", state_since=days_ago(18).date())
        unit = next(iter(load_facts(None, moment()).filter.values()))
        assert unit.harm_left_today > 0.95

    def test_costs_the_same_for_any_number(self):
        circuit = a_water()
        counts = []
        for _ in range(2):
            with CaptureQueriesContext(connection) as seen:
                load_facts(None, moment())
                gather([circuit.pk], moment())
            counts.append(len(seen))
            for n in range(5):
                harmed(circuit, hours=3.0, at=days_ago(n + 1))
        assert counts[0] == counts[1]


class TestRules:
    HARMED = replace(
        BARREL, harm=HarmFacts(TODAY, "Stood without flow: 24 hours", 0.32), harm_left_today=0.32
    )

    def due(self, facts, **limits):
        return list(harm_rule(facts, LimitsFor(limits), TODAY))

    def test_a_mature_filter_does_not_stay_so_without_a_word(self):
        found = self.due(self.HARMED)[0]
        assert found.on == TODAY
        assert found.prefill == {"new_state": "disturbed"}
        assert "32%" in found.reason.replace("\u00a0", "")

    @pytest.mark.parametrize(
        "change",
        [
            {"harm": None},
            {"harm": HarmFacts(TODAY, "Stood without flow: 2 hours", 0.95)},
            {"state": "disturbed"},
            {"quiet_since_harm": 3},
        ],
    )
    def test_nothing_is_asked_where_there_is_nothing_to_say(self, change):
        assert self.due(replace(self.HARMED, **change)) == []

    def test_the_water_is_tested_the_day_after_and_until_it_is_quiet(self):
        circuit = a_water()
        harmed(circuit, hours=24.0, at=NOW - timedelta(hours=30))
        water = load_facts(None, moment()).circuit[circuit.pk]
        limits = moment().limits(circuit.pk)
        reasons = [each for each in water_test(water, limits, NOW.date()) if each and "Stood" in each.reason]
        assert reasons[0].on == (NOW - timedelta(hours=6)).date() + timedelta(days=1)
        for n in range(3):
            make.WaterTestFactory(
                circuit=circuit, at=NOW + timedelta(days=1 + n), tan_mg_l=0.0, nitrite_n_mg_l=0.0
            )
        quiet = load_facts(None, moment(NOW + timedelta(days=4))).circuit[circuit.pk]
        late = [each for each in water_test(quiet, limits, NOW.date()) if each and "Stood" in each.reason]
        assert late == []

    def test_whoever_feeds_is_told_until_the_tests_are_quiet(self):
        circuit = a_water()
        harmed(circuit, hours=24.0, at=NOW - timedelta(hours=30))
        plan = load_facts(None, moment()).plan[circuit.plan.pk]
        assert "no food until ammonia and nitrite are read near zero" in plan.unfed
        due = next(iter(feeding(plan, moment().limits(circuit.pk), NOW.date())))
        assert due.kind == "against"
        assert due.instruction.startswith("Its filter was harmed (Stood without flow: 24 hours")
        for days, words, share in ((1, "about a quarter", 0.25), (2, "about a quarter", 0.25), (3, "", 1.0)):
            at = NOW + timedelta(days=days)
            make.WaterTestFactory(circuit=circuit, at=at, tan_mg_l=0.0, nitrite_n_mg_l=0.0)
            plan = load_facts(None, moment(at + timedelta(hours=1))).plan[circuit.plan.pk]
            assert words in plan.warning and bool(words) == bool(plan.warning)
            assert (plan.unfed, plan.share) == ("", share)

    def test_of_a_harmed_filter_the_share_that_is_asked_for_is_what_one_tap_records(self):
        circuit = a_water()
        harmed(circuit, hours=24.0, at=NOW - timedelta(hours=30))
        later = NOW + timedelta(days=1)
        make.WaterTestFactory(circuit=circuit, at=later, tan_mg_l=0.0, nitrite_n_mg_l=0.0)
        plan = load_facts(None, moment(later)).plan[circuit.plan.pk]
        (due,) = feeding(plan, moment(later).limits(circuit.pk), later.date())
        assert due.prefill == {"offered_kg": 0.05, "at_most_kg": 0.05}  # a quarter of 0.2
        tapped = recorder("feeding").one_tap(circuit.plan.pk, due.prefill)
        assert tapped["offered_kg"] == 0.05
        assert "until the tests stay near zero: {food:0.05}" in due.instruction
        assert "{food:0.2}" in due.reason

    def test_the_task_is_planned_and_goes_with_the_step_to_disturbed(self):
        unit = make.FilterUnitFactory()
        make.RefugeFactory()
        FilterHarm.objects.create(
            filter=unit, kind="no_flow", hours=24, at=timezone.now() - timedelta(hours=25)
        )
        plan_site()
        task = Task.objects.get(rule="filtration.harm", status="open")
        assert task.prefill == {"new_state": "disturbed"}
        unit.state = "disturbed"
        unit.save()
        plan_site()
        assert not Task.objects.filter(rule="filtration.harm", status="open").exists()


class TestForecast:
    def test_a_pump_stop_of_the_only_filter_stops_the_flow_and_spreads_with_the_members(self):
        circuit = a_water()
        harmed(circuit, hours=9.0, at=days_ago(3, 8))
        gathered = gather_one(circuit.pk, moment())
        assert of_kind(gathered, PumpStop) == [PumpStop(gathered.known.hour(days_ago(3, 8)), 9)]
        assert of_kind(gathered, Damage) == []

    def test_of_two_filters_one_stands_and_only_its_share_is_lost(self):
        circuit = a_water()
        make.FilterUnitFactory(circuit=circuit)
        harmed(circuit, hours=24.0, at=days_ago(3, 8))
        gathered = gather_one(circuit.pk, moment())
        (stop,) = of_kind(gathered, PumpStop)
        assert (stop.hours, stop.share) == (24, pytest.approx(0.5))
        assert of_kind(gathered, Damage)[0].nitrite_survival == pytest.approx(
            1 - (1 - stood_still(24).middle) / 2
        )

    def test_while_one_of_two_stands_the_other_goes_on(self):
        circuit = a_water()
        make.FilterUnitFactory(circuit=circuit)
        harmed(circuit, hours=6.0, at=days_ago(3, 8))
        gathered = gather_one(circuit.pk, moment())
        table, first = forcing(gathered.circuit, gathered.inputs), gathered.known.hour(days_ago(3, 8))
        for column in (at.F_FLOW, at.F_FILM):
            before, during, after = (table[hour, column] for hour in (first - 1, first + 2, first + 6))
            assert during == pytest.approx(before / 2, rel=0.01)
            assert after == pytest.approx(before, rel=0.01)
        assert table[first + 5, at.F_AIRLESS] == 0

    @pytest.mark.parametrize("filters", [1, 2, 3])
    def test_all_that_stand_at_once_lose_as_one_would(self, filters):
        """Arithmetic: n filters that keep a share each keep that share of the whole, and nothing flows meanwhile."""
        circuit = a_water()
        units = [
            circuit.filters.get(),
            *(make.FilterUnitFactory(circuit=circuit) for _ in range(filters - 1)),
        ]
        for unit in units:
            harmed(circuit, "dry", hours=24.0, at=days_ago(3, 8), unit=unit)
        gathered = gather_one(circuit.pk, moment())
        table, first = forcing(gathered.circuit, gathered.inputs), gathered.known.hour(days_ago(3, 8))
        assert (table[first : first + 24, at.F_FLOW] == 0).all()
        assert table[first - 1, at.F_FLOW] == table[first + 24, at.F_FLOW] > 0
        airless = table[:, at.F_AIRLESS].sum() / 24
        kept = math.exp(-AIRLESS_LOSS * airless) * math.prod(
            each.ammonia_survival for each in of_kind(gathered, Damage)
        )
        assert kept == pytest.approx(left_after("dry", hours=24).middle, rel=1e-6)

    def test_of_three_the_flow_of_two_that_stand_is_missing(self):
        circuit = a_water()
        others = [make.FilterUnitFactory(circuit=circuit) for _ in range(2)]
        harmed(circuit, hours=6.0, at=days_ago(3, 8))
        harmed(circuit, hours=6.0, at=days_ago(3, 11), unit=others[0])
        gathered = gather_one(circuit.pk, moment())
        table, first = forcing(gathered.circuit, gathered.inputs), gathered.known.hour(days_ago(3, 8))
        flow = table[first - 1 : first + 10, at.F_FLOW] / table[first - 1, at.F_FLOW]
        assert flow == pytest.approx([1, *[2 / 3] * 3, *[1 / 3] * 3, *[2 / 3] * 3, 1])

    def test_filters_harmed_one_after_the_other_add_up_and_one_harmed_twice_multiplies(self):
        circuit = a_water()
        twin = make.FilterUnitFactory(circuit=circuit)
        for unit in (circuit.filters.first(), twin):
            harmed(circuit, "frost", at=days_ago(3, 8), unit=unit)
        harmed(circuit, "heat", at=days_ago(3, 8), unit=twin)
        kept = [each.ammonia_survival for each in of_kind(gather_one(circuit.pk, moment()), Damage)]
        frost, heat = left_after("frost").middle, left_after("heat").middle
        assert math.prod(kept) == pytest.approx((frost + frost * heat) / 2)

    def test_drying_costs_what_it_costs_beyond_the_stop(self):
        circuit = a_water()
        harmed(circuit, "dry", hours=48.0, at=days_ago(4, 8))
        gathered = gather_one(circuit.pk, moment())
        kept = of_kind(gathered, Damage)[0].ammonia_survival
        assert kept * stood_still(48).middle == pytest.approx(left_after("dry", hours=48).middle)

    def test_a_stop_that_began_before_the_window_counts_from_there(self):
        circuit = a_water()
        gathered = gather_one(circuit.pk, moment())
        harmed(circuit, hours=10.0, at=gathered.began - timedelta(hours=4))
        assert of_kind(gather_one(circuit.pk, moment()), PumpStop) == [PumpStop(0, 6)]

    def test_so_does_one_that_began_before_anything_is_read_of(self):
        circuit = a_water(meals=40)  # fed before the window, so it opens where all windows do
        first = opened(circuit.pk, NOW)
        harmed(circuit, hours=10.0, at=first - timedelta(hours=4))
        gathered = gather_one(circuit.pk, moment())
        assert gathered.began == first
        assert of_kind(gathered, PumpStop) == [PumpStop(0, 6)]

    def test_untreated_water_is_water_with_chlorine(self):
        circuit = a_water()
        tap = make.WaterSourceFactory(chloramine=True)
        harmed(circuit, "chlorine", volume_m3=0.2, source=tap, at=days_ago(3))
        change = of_kind(gather_one(circuit.pk, moment()), WaterChange)[0]
        assert (change.volume_m3, change.is_neutralised, change.source.chlorine) == (0.2, False, 2.0)

    def test_a_change_that_was_recorded_as_well_is_not_counted_twice(self):
        circuit = a_water()
        tap = make.WaterSourceFactory(chloramine=True)
        circuit.water_changes.create(kind="change", volume_m3=0.3, source=tap, at=days_ago(3, 10))
        harmed(circuit, "chlorine", volume_m3=0.1, source=tap, at=days_ago(3, 9))
        changes = of_kind(gather_one(circuit.pk, moment()), WaterChange)
        assert {(round(each.volume_m3, 6), each.is_neutralised) for each in changes} == {
            (0.2, True),
            (0.1, False),
        }

    @pytest.mark.parametrize(("told", "losses"), [(None, 1), (NOW - timedelta(hours=70), 0)])
    def test_chlorine_that_was_read_harms_the_films_once(self, told, losses):
        """By the highest of the readings of a day, and not beside the record of the same water."""
        circuit = a_water()
        for hours, chlorine in ((60, 0.5), (58, 1.0), (57, 0.08)):
            make.WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=hours), chlorine_mg_l=chlorine)
        if told:
            tap = make.WaterSourceFactory(chloramine=True)
            harmed(circuit, "chlorine", volume_m3=0.2, source=tap, at=told)
        found = of_kind(gather_one(circuit.pk, moment()), Damage)
        assert [each.nitrite_survival for each in found] == [pytest.approx(math.exp(-1.0))] * losses

    def test_the_step_to_disturbed_that_follows_is_not_a_second_loss(self):
        circuit = a_water()
        unit = circuit.filters.get()
        harmed(circuit, hours=24.0, at=days_ago(4, 8))
        unit.state, unit.state_since = "disturbed", days_ago(2).date()
        unit.save()
        Maintenance.objects.create(filter=unit, kind="state", new_state="disturbed", at=days_ago(2, 12))
        assert of_kind(gather_one(circuit.pk, moment()), Damage) == []

    def test_what_the_window_does_not_hold_leaves_the_step_to_disturbed_its_loss(self):
        circuit = a_water()
        unit, began = circuit.filters.get(), gather_one(circuit.pk, moment()).began
        harmed(circuit, hours=6.0, at=began - timedelta(days=2))
        when = began + timedelta(days=2)
        unit.state, unit.state_since = "disturbed", when.date()
        unit.save()
        Maintenance.objects.create(filter=unit, kind="state", new_state="disturbed", at=when)
        gathered = gather_one(circuit.pk, moment())
        assert of_kind(gathered, PumpStop) == []
        assert of_kind(gathered, Damage)[0].ammonia_survival == 0.5

    def test_ammonia_is_expected_higher_and_what_was_struck_out_counts_no_more(self):
        from filtration.forecasting.models import WaterForecast
        from filtration.forecasting.packing import unpacked

        circuit = a_water()
        person, middles = make.UserFactory(), []

        def forecast():
            forecast_waters([circuit.pk], moment=moment())
            bands = unpacked(bytes(WaterForecast.objects.get(circuit=circuit).bands))
            middles.append(bands.values[0, :, 2].max())

        forecast()
        record = harmed(circuit, hours=36.0, at=NOW - timedelta(hours=37))
        forecast()
        harm_take_back(record=record, by=person)
        forecast()
        assert middles[1] > 1.5 * middles[0]
        assert middles[2] == pytest.approx(middles[0])


class TestStandsStill:
    """What still stood when somebody said so counts as standing until a flow is measured, or the record corrected."""

    @pytest.fixture(autouse=True)
    def clock(self, time_machine):
        time_machine.move_to(NOW, tick=False)  # it is entered now

    def stands(self, circuit, hours=6.0):
        return harmed(circuit, hours=hours, at=NOW - timedelta(hours=hours), runs_again=False)

    def flow(self, circuit, at):
        Maintenance.objects.create(filter=circuit.filters.first(), kind="bucket_test", at=at, flow_m3_h=1.9)

    def unit(self, circuit, at):
        return load_facts(frozenset([circuit.pk]), moment(at)).filter[circuit.filters.first().pk]

    def test_it_is_forecast_without_flow_to_the_end(self):
        circuit = a_water()
        self.stands(circuit)
        gathered = gather_one(circuit.pk, moment())
        table = forcing(gathered.circuit, gathered.inputs)
        assert (table[gathered.now_hour - 6 :, at.F_FLOW] == 0).all()
        assert table[gathered.now_hour - 7, at.F_FLOW] > 0

    def test_so_one_of_two_is_missing_to_the_end_and_what_lives_in_it_does_not_count(self):
        circuit = a_water()
        make.FilterUnitFactory(circuit=circuit)
        self.stands(circuit)
        gathered = gather_one(circuit.pk, moment())
        (stop,) = of_kind(gathered, PumpStop)
        assert (stop.hour + stop.hours, stop.share) == (gathered.inputs.hours, pytest.approx(0.5))
        assert of_kind(gathered, Damage) == []

    def test_a_flow_measured_later_ends_it_then(self):
        circuit = a_water()
        self.stands(circuit)
        self.flow(circuit, NOW - timedelta(hours=7))  # before it stopped
        self.flow(circuit, NOW + timedelta(hours=4))
        self.flow(circuit, NOW + timedelta(hours=9))
        (stop,) = of_kind(gather_one(circuit.pk, moment(NOW + timedelta(days=1))), PumpStop)
        assert stop.hours == 10
        unit = self.unit(circuit, NOW + timedelta(days=1))
        assert unit.stands is None
        assert unit.harm.left == pytest.approx(stood_still(10).middle)

    def test_the_longer_it_stands_the_less_is_left_and_it_is_never_too_old(self):
        circuit = a_water()
        self.stands(circuit)
        day, month = (self.unit(circuit, NOW + timedelta(days=days)) for days in (1, 70))
        assert day.harm.left == pytest.approx(stood_still(30).middle)
        assert month.harm.left < day.harm.left
        assert day.stands.over == "not over yet"

    def test_its_task_asks_for_a_bucket_test_till_it_runs(self):
        circuit = a_water()
        record = self.stands(circuit)
        plan_site()
        (task,) = Task.objects.filter(rule="filtration.stands", status="open")
        assert "6 hours so far" in str(task.reasons)
        harm_amend(record=record, by=make.UserFactory(), reason="It runs", runs_again=True)
        plan_site()
        assert not Task.objects.filter(rule="filtration.stands", status="open").exists()


class TestAdvice:
    @pytest.mark.parametrize("kind", FilterHarm.Kind.values)
    def test_every_kind_ends_with_air_food_and_a_test(self, kind):
        left = left_after(kind, hours=9, chlorine_mg_l=0.2)
        found = steps(kind, left, quiet_tests=3, hours=9, volume_m3=0.1)
        assert [icon for icon, _ in found[-3:]] == ["pump", "fish", "vial"]
        assert len(found) > 3

    def test_a_bed_that_stood_long_is_flushed_first(self):
        assert steps("no_flow", stood_still(9), quiet_tests=3, hours=9)[0][1].startswith("Flush the bed")
        assert not steps("no_flow", stood_still(1), quiet_tests=3, hours=1)[0][1].startswith("Flush")

    @pytest.mark.parametrize(("hours", "much"), [(9, "about half"), (24, "about a quarter")])
    def test_the_page_and_whoever_feeds_are_told_the_same_amount(self, hours, much):
        left = stood_still(hours)
        assert any(much in words for _, words in steps("no_flow", left, quiet_tests=3, hours=hours))
        happened = HarmFacts(NOW.date(), "Stood without flow", left.middle)
        assert much in feeding_words(happened, is_quiet=True)

    def test_it_is_over_after_as_many_tests_as_the_limit_asks_for(self):
        assert "only 5 near-zero tests in a row" in steps("no_flow", stood_still(9), quiet_tests=5)[-1][1]
