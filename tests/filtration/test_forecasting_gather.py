"""From the records to a water that can be forecast."""

from datetime import timedelta

import numpy as np
import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from enclosures.models import WaterTest
from enclosures.warmth import Warmth
from filtration.forecast import AreaChange, Damage, Drain, Meal, TopUp, WaterChange
from filtration.forecasting.gather import NotForecast, gather, gather_one
from filtration.forecasting.sightings import kit_of, on_the_card, shared_step
from filtration.models import FilterUnit, Maintenance
from filtration.nitrification import MATURE_SHARE
from husbandry.bioload import meal_load
from husbandry.models import Feeding
from refuge.records import void
from tests.factories import FilterUnitFactory
from tests.filtration.a_water import NOW, a_water, days_ago, moment

pytestmark = pytest.mark.django_db


def of_kind(gathered, kind):
    return [event for event in gathered.inputs.events if isinstance(event, kind)]


class TestMeals:
    def test_each_counts_from_its_own_hour_with_the_load_it_was_recorded_with(self):
        circuit = a_water(meals=1)
        circuit.plan.ends_on = NOW.date()  # else it is taken to have been fed by it before
        circuit.plan.save()
        gathered = gather_one(circuit.pk, moment())
        given = [meal for meal in of_kind(gathered, Meal) if meal.hour <= gathered.now_hour]
        assert [gathered.began + timedelta(hours=meal.hour) for meal in given] == [days_ago(1)]
        assert given[0].eaten_tan_g == Feeding.objects.get().tan_g

    def test_one_that_was_struck_out_is_forgotten(self):
        circuit = a_water(meals=2)
        void(record=Feeding.objects.first(), by=None, reason="Wrong tank")
        assert len(gather_one(circuit.pk, moment()).meals) == 1

    def test_planned_ones_come_at_the_usual_time_for_two_weeks(self):
        circuit = a_water()
        ahead = gather_one(circuit.pk, moment()).meals_ahead
        assert [meal.at for meal in ahead] == [days_ago(-1 - 2 * n) for n in range(7)]
        load = meal_load(0.2, 0, circuit.plan.food.protein_fraction, circuit.plan.food.water_fraction)
        assert ahead[0].tan_g == pytest.approx(load.tan_g)

    def test_none_are_planned_in_a_fast(self):
        circuit = a_water()
        circuit.plan.fasting_until = (NOW + timedelta(days=5)).date()
        circuit.plan.save()
        first = gather_one(circuit.pk, moment()).meals_ahead[0]
        assert first.at.date() == circuit.plan.fasting_until


class TestWarmth:
    def test_a_pond_goes_on_cooling_towards_its_season(self):
        circuit = a_water()
        circuit.usual_temperature_c, circuit.coldest_temperature_c, circuit.warmest_month = 26.0, 6.0, 9
        circuit.save()
        gathered = gather_one(circuit.pk, moment())
        read = gathered.known.tests[-1].temperature_c
        season = Warmth(26.0, 6.0, 9).usual_on(NOW.timetuple().tm_yday + 13)
        end = gathered.inputs.temperature_c[-1]
        assert min(read, season) < end < max(read, season)
        assert abs(end - season) < 0.25 * abs(read - season)

    def test_a_heated_tank_stays_as_it_was_read(self):
        gathered = gather_one(a_water().pk, moment())
        assert gathered.inputs.temperature_c[-1] == pytest.approx(
            gathered.known.tests[-1].temperature_c, abs=0.5
        )


class TestWater:
    def test_its_sizes_come_from_tank_and_filter(self):
        gathered = gather_one(a_water().pk, moment())
        assert gathered.circuit.volume_m3 == pytest.approx(1.0)
        # pi / 4 x 0.57^2 x (0.25 x 55 + 0.35 x 282)
        assert gathered.circuit.media_area_m2 == pytest.approx(28.69, abs=0.05)
        assert gathered.circuit.flow_m3_h == pytest.approx(2.0)

    def test_changes_bring_what_the_source_holds(self):
        circuit = a_water()
        circuit.water_changes.create(at=days_ago(3), volume_m3=0.25, source=circuit.water_source)
        change = of_kind(gather_one(circuit.pk, moment()), WaterChange)[0]
        assert (change.volume_m3, change.source.alkalinity) == (0.25, 120.0)

    def test_warmth_runs_from_reading_to_reading_and_stays_at_the_last(self):
        circuit = a_water(tests=1)
        WaterTest.objects.create(circuit=circuit, at=days_ago(6, 10), temperature_c=20)
        celsius = gather_one(circuit.pk, moment()).inputs.temperature_c
        assert celsius[0] == 20
        assert celsius[-1] == 24
        assert 20 < np.median(celsius[(celsius > 20) & (celsius < 24)]) < 24


class TestWaterLetOut:
    """With the sediment goes water: what fills it up again is no evaporation."""

    def gathered(self, *, top_ups=(), changed_ago=None):
        circuit = a_water()
        Maintenance.objects.create(
            filter=FilterUnit.objects.get(), kind="drain", at=days_ago(20), litres_drained=60.0
        )
        for days, volume in top_ups:
            circuit.water_changes.create(
                at=days_ago(days), kind="top_up", volume_m3=volume, source=circuit.water_source
            )
        if changed_ago:
            circuit.water_changes.create(
                at=days_ago(changed_ago), volume_m3=0.25, source=circuit.water_source
            )
        return gather_one(circuit.pk, moment())

    def test_the_first_water_after_a_drain_replaces_what_went(self):
        found = self.gathered(top_ups=[(19, 0.1)])
        past = [each for each in of_kind(found, TopUp) if each.hour < found.now_hour]
        assert [each.volume_m3 for each in of_kind(found, WaterChange)] == [pytest.approx(0.06)]
        assert [each.volume_m3 for each in past] == [pytest.approx(0.04)]
        assert found.inputs.evaporation_m3_day == pytest.approx(0.04 / (found.now_hour / 24), rel=0.35)

    def test_small_top_ups_fill_it_up_one_after_the_other(self):
        found = self.gathered(top_ups=[(18, 0.04), (15, 0.04)])
        assert [each.volume_m3 for each in of_kind(found, WaterChange)] == pytest.approx([0.04, 0.02])

    def test_water_changed_with_the_drain_is_that_water(self):
        found = self.gathered(top_ups=[(18, 0.04)], changed_ago=20)
        assert [each.volume_m3 for each in of_kind(found, WaterChange)] == [0.25]

    def test_water_topped_up_before_it_was_lost_to_the_air(self):
        found = self.gathered(top_ups=[(25, 0.04)])
        assert of_kind(found, WaterChange) == []
        assert found.inputs.evaporation_m3_day > 0


class TestFilters:
    def test_a_young_one_opens_the_window_with_hardly_any_bacteria(self):
        gathered = gather_one(a_water(state="cycling", filter_days=12).pk, moment())
        assert gathered.began.date() == (NOW - timedelta(days=12)).date()
        assert gathered.is_young
        assert gathered.beginning.ammonia_oxidizers < 0.01

    def test_a_mature_one_begins_with_what_its_load_feeds(self):
        gathered = gather_one(a_water(meals=30).pk, moment())
        # 0.2 kg x 0.164 x 92 g/kg every second day on 28.7 m2 at 0.32 g/m2/day: 16 % of it, more than the 9 % of its
        # speed at which a film just keeps itself: 0.05 / (0.8 - 0.15 / 0.615).
        assert gathered.beginning.ammonia_oxidizers == MATURE_SHARE

    def test_a_second_one_adds_bare_stone_when_it_starts(self):
        circuit = a_water()
        unit = FilterUnitFactory(circuit=circuit, state="cycling", state_since=days_ago(5).date())
        Maintenance.objects.create(filter=unit, kind="state", new_state="cycling", at=days_ago(5, 15))
        gathered = gather_one(circuit.pk, moment())
        change = of_kind(gathered, AreaChange)[0]
        assert (change.factor, gathered.began + timedelta(hours=change.hour)) == (
            pytest.approx(2.0),
            days_ago(5, 15),
        )
        assert gathered.circuit_at(gathered.now_hour).media_area_m2 == pytest.approx(
            2 * gathered.circuit.media_area_m2
        )

    def test_one_that_was_disturbed_loses_bacteria_then(self):
        circuit = a_water(state="disturbed")
        unit = FilterUnit.objects.get()
        Maintenance.objects.create(filter=unit, kind="state", new_state="disturbed", at=days_ago(4, 8))
        damage = of_kind(gather_one(circuit.pk, moment()), Damage)[0]
        assert damage.ammonia_survival == 0.5

    def test_a_drain_takes_its_own_filters_sediment_only(self):
        circuit = a_water()
        twin = FilterUnitFactory(circuit=circuit, state_since=days_ago(300).date())
        Maintenance.objects.create(filter=twin, kind="drain", at=days_ago(2))
        assert of_kind(gather_one(circuit.pk, moment()), Drain)[0].left == pytest.approx(0.55)

    def test_two_that_are_drained_leave_as_little_as_one(self):
        """Arithmetic: a tenth of each is a tenth of the whole, however many days apart."""
        circuit = a_water()
        twin = FilterUnitFactory(circuit=circuit, state_since=days_ago(300).date())
        for unit, days in ((circuit.filters.first(), 2), (twin, 4)):
            Maintenance.objects.create(filter=unit, kind="drain", at=days_ago(days))
        drains = of_kind(gather_one(circuit.pk, moment()), Drain)
        assert np.prod([each.left for each in drains]) == pytest.approx(0.1)


class TestLacks:
    def test_without_a_filter(self):
        circuit = a_water()
        FilterUnit.objects.update(state="resting")
        found = gather([circuit.pk], moment())[circuit.pk]
        assert isinstance(found, NotForecast)
        assert "filter" in found.lacks

    def test_without_a_test(self):
        with pytest.raises(NotForecast, match="a water test"):
            gather_one(a_water(tests=0).pk, moment())


def test_any_number_of_waters_costs_the_same():
    circuits = [a_water().pk]

    def cost() -> int:
        with CaptureQueriesContext(connection) as seen:
            gather(circuits, moment())
        return len(seen)

    few = cost()
    circuits += [a_water().pk for _ in range(4)]
    assert cost() == few


class TestKits:
    """Nobody enters the kit: it is read off the readings."""

    def test_nothing_at_all_tells_no_card_from_a_finer_kit(self):
        assert kit_of("tan", [0.0] * 8 + [0.05]).digit == 0.05
        assert kit_of("tan", [0.0] * 8 + [0.25]).steps
        assert kit_of("tan", [0.0] * 8).steps  # the coarser belief

    def test_a_colour_is_not_told_from_none_better_than_to_half_a_digit(self):
        """On the kit's scale an error of ln stands for error x floor in mg/L at nothing."""
        for digit in (0.02, 0.05):
            kit = kit_of("nitrite", [digit, 3 * digit, 7 * digit])
            assert kit.error * kit.floor == pytest.approx(digit / 2)

    def test_readings_on_a_colour_card_reach_half_way_to_their_neighbours(self):
        assert kit_of("tan", [0.0, 0.25, 0.5, 0.25]).interval(0.5) == (0.375, 0.75)

    def test_a_card_in_milligrams_of_the_ion_is_known_by_its_nitrogen(self):
        # 10 and 20 mg/L of nitrate are 2.26 and 4.52 mg/L of nitrogen: 62.004 / 14.007 = 4.427.
        card = kit_of("nitrate", [2.26, 4.52, 2.26])
        low, high = card.interval(on_the_card(card, 2.26))
        assert low == pytest.approx((5 + 10) / 2 / 4.427, rel=0.01)
        assert high == pytest.approx((10 + 20) / 2 / 4.427, rel=0.01)

    @pytest.mark.parametrize(
        ("values", "shown", "low", "high"),
        [
            ([0.25, 0.5, 0.25, 1.0, 0.5, 5.0], 5.0, 3.5, np.inf),  # a card that ends at 5
            ([0.25 / 3.2845, 0.5 / 3.2845, 5 / 3.2845], 1.522, 3.5 / 3.2845, np.inf),  # the same of the ion
            (
                [0.25, 0.5, 0.25, 8.0, 0.3],
                8.0,
                6.0,
                np.inf,
            ),  # one guessed between colours: the last stays open
            ([0.25, 0.5, 0.25, 8.0, 0.3], 0.3, 0.275, 0.4),  # and is known to half the step of the card
        ],
    )
    def test_what_lies_off_the_usual_card_keeps_a_card_a_card(self, values, shown, low, high):
        kit = kit_of("nitrite", values)
        assert kit.interval(on_the_card(kit, shown)) == (pytest.approx(low, rel=1e-3), pytest.approx(high))

    def test_finer_readings_are_taken_to_the_digit_they_share(self):
        kit = kit_of("nitrite", [0.06, 0.12, 0.1, 0.34])
        assert kit.steps == ()
        assert kit.interval(0.12) == pytest.approx((0.11, 0.13))

    @pytest.mark.parametrize(
        ("values", "step"), [([5, 10, 35], 5.0), ([7.4, 7.7], 0.1), ([0.0], 0.0), ([0.25, 0.3], 0.05)]
    )
    def test_the_step_that_all_share(self, values, step):
        assert shared_step(values) == step
