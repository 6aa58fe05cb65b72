"""Changes to a water: what each makes of the forecast and of the facts, by hand-made values."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import numpy as np
import pytest

from filtration.forecast import Inputs, Scenario, draw, meals_every, settled
from filtration.forecast import layout as at
from filtration.nitrification import capacity_tan_g_day
from filtration.what_if.changes import (
    AnotherAnimal,
    Ground,
    Joined,
    OtherRation,
    RinsedLayer,
    SplitOff,
    StoppedPump,
    Warmer,
    WithoutFilter,
    changed,
    made,
)
from filtration.what_if.facts import NEW, add_load
from husbandry.arrivals.newcomer import Diet, Newcomer
from husbandry.bioload import meal_load, planned_daily_load
from refuge.rules.facts import (
    NO_STOP,
    AnimalFacts,
    CircuitFacts,
    EnclosureFacts,
    Facts,
    FilterFacts,
    PlanFacts,
    QuarantineFacts,
    Reading,
)
from tests.forecasting import BARREL, FISH

TODAY = date(2026, 6, 15)
NOW = datetime(2026, 6, 15, 12, tzinfo=UTC)
PLAN = planned_daily_load(1.36, 1, *FISH)


def animal(pk, circuit, enclosure, quarantine=None):
    return AnimalFacts(
        pk, f"T{pk}", "", NO_STOP, circuit, enclosure, TODAY, mass_kg=50.0, quarantine=quarantine
    )


def plan(pk, circuit, enclosure, **more):
    values = {"ration_kg": 1.36, "every_days": 7, "weekdays": None, "last_fed_on": TODAY - timedelta(days=2)}
    return PlanFacts(
        pk, f"T{pk}", "", NO_STOP, circuit, enclosure, pk, "fish",
        starts_on=TODAY - timedelta(days=90), ends_on=None, fasting_until=None, all_brumating=False,
        protein_fraction=FISH[0], water_fraction=FISH[1],
        **(values | more),
    )  # fmt: skip


def barrel(pk, circuit, **more):
    return FilterFacts(
        pk,
        f"F{pk}",
        "",
        NO_STOP,
        circuit,
        "mature",
        TODAY - timedelta(days=400),
        51.0,
        0.255,
        24.0,
        True,
        BARREL.media_area_m2,
        **more,
    )


def water(pk, volume=1.2, **more):
    values = {
        "animals": 1, "mass_kg": 50.0, "planned_tan_g_day": PLAN.tan_g, "solids_g_day": PLAN.solids_g,
        "nitrate": Reading(20.0, TODAY), "alkalinity": Reading(100.0, TODAY),
    }  # fmt: skip
    return CircuitFacts(pk, f"W{pk}", "", NO_STOP, volume, True, 24.0, **(values | more))


@pytest.fixture
def facts():
    """Two waters of one tank, one animal, one plan and one barrel each."""
    found = Facts()
    for pk in (1, 2):
        found.circuit[pk] = water(pk)
        found.enclosure[pk] = EnclosureFacts(pk, f"E{pk}", "", NO_STOP, pk, False, "quarantine", awake=1)
        found.animal[pk] = animal(pk, pk, pk)
        found.plan[pk] = plan(pk, pk, pk)
        found.filter[pk] = barrel(pk, pk, solids_g_day=PLAN.solids_g, carried_g=300.0)
    return found


@pytest.fixture
def ground():
    return Ground(1, NOW, TODAY, {1: 0.5, 2: 0.5})


@pytest.fixture(scope="module")
def scenario():
    meals = meals_every(meal_load(1.36, 0, *FISH), 336, first=20, every_hours=168)
    beginning = settled(BARREL, PLAN.tan_g, 24.0)
    return Scenario(BARREL, Inputs(np.full(336, 24.0), meals), draw(BARREL, beginning, members=16, seed=3))


class TestOtherRation:
    def test_weekly_to_daily_keeps_the_food_of_a_week(self, facts, ground):
        before = facts.circuit[1]
        made([OtherRation(1, None, 1)], facts, ground)
        assert facts.plan[1].ration_kg == pytest.approx(1.36 / 7)
        assert facts.plan[1].every_days == 1
        assert facts.circuit[1].planned_tan_g_day == pytest.approx(before.planned_tan_g_day)
        assert facts.circuit[1].solids_g_day == pytest.approx(before.solids_g_day)

    def test_weekdays_become_days(self, facts, ground):
        facts.plan[1] = plan(1, 1, 1, every_days=None, weekdays=0b0001001)
        made([OtherRation(1, None, 7)], facts, ground)
        assert facts.plan[1].ration_kg == pytest.approx(2.72)
        assert facts.plan[1].weekdays is None

    def test_the_same_meal_daily_is_seven_times_the_load(self, facts, ground):
        made([OtherRation(1, 1.36, 1)], facts, ground)
        assert facts.circuit[1].planned_tan_g_day == pytest.approx(7 * PLAN.tan_g)
        assert facts.filter[1].solids_g_day == pytest.approx(7 * PLAN.solids_g)

    def test_a_fasting_animal_brings_no_more(self, facts, ground):
        facts.plan[1] = replace(facts.plan[1], fasting_until=TODAY + timedelta(days=9))
        made([OtherRation(1, 5.0, 1)], facts, ground)
        assert facts.circuit[1].planned_tan_g_day == pytest.approx(PLAN.tan_g)

    def test_the_other_water_stays(self, facts, ground):
        before = facts.circuit[2], facts.filter[2], facts.plan[2]
        made([OtherRation(1, 9.0, 1)], facts, ground)
        assert (facts.circuit[2], facts.filter[2], facts.plan[2]) == before


def test_another_animal_is_the_arrival_foreseen(facts, ground):
    diet = Diet("fish", 1.36, 7, *FISH)
    change = AnotherAnimal(Newcomer(mass_kg=55.0, diet=diet), 1)
    made([change], facts, ground)
    assert facts.circuit[1].animals == 2
    assert facts.circuit[1].planned_tan_g_day == pytest.approx(2 * PLAN.tan_g)
    plan = facts.plan[NEW]
    assert (plan.ration_kg, plan.protein_fraction, plan.water_fraction) == (1.36, *FISH)


class TestFilters:
    def test_capacity_is_what_the_filter_carries(self, facts, ground):
        made([Warmer(0.0)], facts, ground)
        assert facts.circuit[1].capacity_tan_g_day == pytest.approx(
            capacity_tan_g_day(BARREL.media_area_m2, 24.0)
        )

    def test_lost_it_carries_nothing(self, facts, ground):
        made([WithoutFilter(1, 1.0, 1.0)], facts, ground)
        assert facts.circuit[1].capacity_tan_g_day is None
        assert facts.filter[1].state == "resting"

    def test_one_of_two_lost_leaves_half_and_all_solids_to_the_other(self, facts, ground):
        facts.filter[2] = replace(facts.filter[2], circuit_id=1)
        made([WithoutFilter(1, 0.5, 0.5)], facts, ground)
        assert facts.circuit[1].capacity_tan_g_day == pytest.approx(
            capacity_tan_g_day(BARREL.media_area_m2, 24.0)
        )
        assert facts.filter[2].solids_g_day == pytest.approx(PLAN.solids_g)

    def test_lost_flow_and_surface_are_gone_from_the_forecast(self, scenario, ground):
        after = WithoutFilter(1, 0.5, 0.25).scenario(scenario, ground)
        assert after.circuit.flow_m3_h == pytest.approx(0.75 * BARREL.flow_m3_h)
        assert after.forecast().band("ammonia_capacity")[1, 2] == pytest.approx(
            scenario.forecast().band("ammonia_capacity")[1, 2] / 2, rel=0.05
        )

    def test_a_rinse_takes_solids_and_some_bacteria(self, facts, ground, scenario):
        made([RinsedLayer(1, 1.0)], facts, ground)
        assert facts.filter[1].carried_g == 0
        assert facts.filter[1].last_rinse_at == NOW
        after = RinsedLayer(1, 1.0).scenario(scenario, ground).forecast()
        ratio = after.band("ammonia_capacity")[1, 2] / scenario.forecast().band("ammonia_capacity")[1, 2]
        assert 0.7 < ratio < 0.9

    def test_warmer_water_carries_more_and_colder_less(self, facts, ground):
        warm, cold = (made([Warmer(by)], facts.copy(), ground).circuit[1] for by in (4.0, -8.0))
        assert (
            cold.capacity_tan_g_day < capacity_tan_g_day(BARREL.media_area_m2, 24.0) < warm.capacity_tan_g_day
        )
        assert cold.temperature_c == 16.0

    def test_a_pump_that_stands_a_day_costs_bacteria(self, scenario, ground):
        after = StoppedPump(24).scenario(scenario, ground).forecast()
        assert (
            after.band("ammonia_capacity")[30, 2] < 0.8 * scenario.forecast().band("ammonia_capacity")[30, 2]
        )


class TestJoined:
    def test_both_are_one(self, facts, ground, scenario):
        made([Joined(2, scenario)], facts, ground)
        one = facts.circuit[1]
        assert 2 not in facts.circuit
        assert (one.volume_m3, one.animals, one.mass_kg) == (2.4, 2, 100.0)
        assert one.planned_tan_g_day == pytest.approx(2 * PLAN.tan_g)
        assert one.capacity_tan_g_day == pytest.approx(2 * capacity_tan_g_day(BARREL.media_area_m2, 24.0))
        assert {each.circuit_id for each in (*facts.animal.values(), *facts.plan.values())} == {1}
        assert one.nitrate == Reading(20.0, TODAY)

    def test_quarantines_of_both_start_anew(self, facts, ground, scenario):
        began = TODAY - timedelta(days=200)
        for pk in (1, 2):
            quarantine = QuarantineFacts(pk, began, began, 365, began + timedelta(days=365))
            facts.animal[pk] = animal(pk, pk, pk, quarantine)
        made([Joined(2, scenario)], facts, ground)
        assert {each.quarantine.ends_on for each in facts.animal.values()} == {TODAY + timedelta(days=365)}

    def test_nothing_is_lost_in_the_forecast(self, scenario, ground):
        both = Joined(2, scenario).scenario(scenario, ground)
        assert both.start.states[:, at.TAN] == pytest.approx(2 * scenario.start.states[:, at.TAN])
        assert both.circuit.volume_m3 == pytest.approx(2 * BARREL.volume_m3)


class TestSplitOff:
    CHANGE = SplitOff(2, None, 0.4, 0.0, 0.5)

    @pytest.fixture
    def shared(self, facts):
        """Both tanks on the first water."""
        facts.circuit.pop(2)
        facts.filter.pop(2)
        facts.circuit[1] = water(1, 2.0, animals=2, mass_kg=100.0, planned_tan_g_day=2 * PLAN.tan_g)
        for table in (facts.enclosure, facts.animal, facts.plan):
            table[2] = replace(table[2], circuit_id=1)
        return facts

    def test_volume_animals_and_load_are_parted(self, shared, ground):
        made([self.CHANGE], shared, ground)
        stays, leaves = shared.circuit[1], shared.circuit[NEW]
        assert stays.volume_m3 + leaves.volume_m3 == pytest.approx(2.0)
        assert leaves.volume_m3 == pytest.approx(0.8)
        assert (stays.animals, leaves.animals) == (1, 1)
        assert stays.planned_tan_g_day == pytest.approx(PLAN.tan_g)
        assert stays.capacity_tan_g_day and leaves.capacity_tan_g_day is None
        assert shared.plan[2].circuit_id == shared.animal[2].circuit_id == NEW

    def test_the_two_parts_of_the_forecast_make_the_whole(self, scenario, ground):
        stays, leaves = self.CHANGE.scenario(scenario, ground), self.CHANGE.part(scenario)
        for state in (at.TAN, at.GUT, at.VOLUME):
            total = stays.start.states[:, state] + leaves.start.states[:, state]
            assert total == pytest.approx(scenario.start.states[:, state])
        assert leaves.circuit.media_area_m2 == 0


def test_changes_add_up_in_their_order(scenario, ground):
    after = changed([Warmer(2.0), StoppedPump(5)], scenario, ground)
    assert after.inputs.temperature_c[0] == 26.0
    assert len(after.inputs.events) == len(scenario.inputs.events) + 1
    assert scenario.inputs.temperature_c[0] == 24.0


def test_of_solids_the_greater_of_fed_and_planned_is_known(facts):
    facts.circuit[1] = water(1, recent_tan_g_day=4 * PLAN.tan_g, solids_g_day=4 * PLAN.solids_g)
    add_load(facts, 1, PLAN.tan_g, PLAN.solids_g)
    assert facts.circuit[1].solids_g_day == pytest.approx(4 * PLAN.solids_g)
    add_load(facts, 1, 6 * PLAN.tan_g, 6 * PLAN.solids_g)
    assert facts.circuit[1].solids_g_day == pytest.approx(8 * PLAN.solids_g)


class TestAnotherFood:
    """The load of a food is 0.092 of its protein (Timmons & Ebeling) and the dry matter it leaves."""

    LEAN = (0.02, 0.90)  # leaves: protein and water

    def test_the_load_follows_the_protein_and_the_weight_stays(self, facts, ground):
        change = OtherRation(1, food=self.LEAN, food_name="Leaves")
        made([change], facts, ground)
        plan = facts.plan[1]
        assert (plan.food, plan.ration_kg, plan.every_days) == ("Leaves", 1.36, 7)
        assert (plan.protein_fraction, plan.water_fraction) == self.LEAN
        assert facts.circuit[1].planned_tan_g_day == pytest.approx(PLAN.tan_g * self.LEAN[0] / FISH[0])
        assert facts.circuit[1].solids_g_day == pytest.approx(
            planned_daily_load(1.36, 1, *self.LEAN).solids_g
        )
        assert facts.circuit[2].planned_tan_g_day == PLAN.tan_g

    def test_with_a_ration_both_count(self, facts, ground):
        made([OtherRation(1, 2.72, food=self.LEAN, food_name="Leaves")], facts, ground)
        assert facts.circuit[1].planned_tan_g_day == pytest.approx(2 * PLAN.tan_g * self.LEAN[0] / FISH[0])

    def test_the_same_food_again_changes_nothing(self, facts, ground):
        made([OtherRation(1, food=FISH, food_name="fish")], facts, ground)
        assert facts.circuit[1].planned_tan_g_day == pytest.approx(PLAN.tan_g)

    def test_a_newcomer_brings_what_its_food_carries(self, facts, ground):
        newcomer = Newcomer(label="The newcomer", diet=Diet("Leaves", 1.0, 7, *self.LEAN))
        made([AnotherAnimal(newcomer, 1)], facts, ground)
        added = planned_daily_load(1.0, 1, *self.LEAN).tan_g
        assert facts.circuit[1].planned_tan_g_day == pytest.approx(PLAN.tan_g + added)
