"""When a water is tested and changed. Each case names only the facts that matter to it."""

from dataclasses import replace
from datetime import date, timedelta

import pytest

from enclosures.changes import change_share, nitrate_now
from enclosures.rules import interval_by_load, quiet_in_a_row, water_change, water_change_now, water_test
from refuge.rules.facts import NO_STOP, CircuitFacts, ForecastFacts, Reading, TestFacts
from refuge.rules.limits import LimitsFor
from refuge.rules.triggers import Due, Unknown

TODAY = date(2026, 6, 15)


def read(days_ago: int = 0, **values) -> TestFacts:
    good = {"temperature_c": 24, "ph": 7.2, "tan": 0.0, "nitrite": 0.0, "unionized": 0.0}
    empty = dict.fromkeys(("nitrate", "alkalinity", "oxygen", "chlorine"))
    return TestFacts(on=TODAY - timedelta(days=days_ago), **{**good, **empty, **values})


WATER = CircuitFacts(
    id=1,
    label="W1",
    path="/waters/1/",
    stop=NO_STOP,
    volume_m3=1.0,
    is_quarantine=False,
    temperature_c=24,
    animals=2,
    tests=(read(),),
    capacity_tan_g_day=10.0,
    recent_tan_g_day=2.0,
)


def due(rule, facts, limits=None):
    found = [each for each in rule(facts, limits or LimitsFor({}), TODAY) if isinstance(each, Due)]
    return min(found, key=lambda each: each.on) if found else None


class TestChangeOfASickWater:
    """Alkalinity used up asks for half of the water and bicarbonate: that would set free what acid keeps harmless."""

    def sour(self, tan):
        acid = {"ph": 5.8, "unionized": 0.001, "unionized_ph": 5.8, "unionized_temperature_c": 25}
        return replace(
            WATER,
            tests=(read(tan=tan, alkalinity=10.0, **acid),),
            alkalinity=Reading(10.0, TODAY),
            nitrate=Reading(20.0, TODAY),
            source_alkalinity=120.0,
            last_change_on=TODAY - timedelta(days=10),
        )

    def test_in_sour_water_the_partial_change_is_as_small_as_help_says(self):
        found = due(water_change, self.sour(tan=1.5))
        assert found.on == TODAY
        assert "This water is sour" in found.instruction
        assert "bicarbonate, dissolved" not in found.instruction
        assert found.prefill["volume_m3"] == pytest.approx(0.1)

    def test_beside_a_change_that_cannot_wait_no_other_is_asked_for(self):
        sick = self.sour(tan=8.0)
        assert due(water_change_now, sick).prefill["volume_m3"] == pytest.approx(0.1)
        assert due(water_change, sick) is None


class TestANewWater:
    """Its first filter began to run today: it was filled today, and nobody has tested it yet."""

    NEW = replace(WATER, tests=(), is_cycling=True, cycling_since=TODAY)

    def test_it_asks_for_no_change_and_lacks_nothing_that_its_own_test_asks_for(self):
        found = list(filter(None, water_change(self.NEW, LimitsFor({}), TODAY)))
        assert [type(each) for each in found] == [Due]
        assert found[0].on == TODAY + timedelta(days=60)
        assert found[0].reason.startswith("Water change not recorded since 15 Jun 2026")

    def test_a_month_later_it_says_that_it_lacks_nitrate_and_alkalinity(self):
        month = replace(self.NEW, cycling_since=TODAY - timedelta(days=30))
        lacks = {
            each.lacks for each in water_change(month, LimitsFor({}), TODAY) if isinstance(each, Unknown)
        }
        assert lacks == {"nitrate", "alkalinity"}

    def test_a_water_that_was_tested_before_its_filter_began_is_not_new(self):
        old = replace(self.NEW, tests=(read(5),))
        assert due(water_change, old).reason == "Water change never recorded"


class TestWaterChangeNow:
    BAD = replace(
        WATER, tests=(read(nitrite=1.2),), last_change_on=TODAY - timedelta(days=9), source_name="Well"
    )

    def test_nitrite_beyond_its_limit_asks_for_it_today_with_the_litres_that_mend_it(self):
        found = due(water_change_now, self.BAD)
        assert found.on == TODAY
        assert found.reason.startswith("Nitrite was 1.2 mg/L N on")
        assert found.prefill["volume_m3"] == pytest.approx((1.2 - 0.8) / 1.2, abs=1e-3)
        assert "Change {volume:0.333} now" in found.instruction

    def test_after_a_change_the_next_waits_a_day(self):
        found = due(water_change_now, replace(self.BAD, last_change_on=TODAY))
        assert found.on == TODAY + timedelta(days=1)

    def test_a_grave_reading_taken_after_the_change_does_not_wait(self):
        grave = replace(self.BAD, tests=(read(nitrite=5.0),), last_change_on=TODAY)
        assert due(water_change_now, grave).on == TODAY
        before = replace(grave, tests=(read(nitrite=9.0, renewed_since=0.4),))
        found = due(water_change_now, before)
        assert found.on == TODAY + timedelta(days=1)
        assert " tomorrow (" in found.instruction

    def test_a_good_test_ends_it(self):
        good = replace(self.BAD, tests=(read(nitrite=0.3), read(1, nitrite=1.2)))
        assert due(water_change_now, good) is None

    def test_nitrate_has_time_and_pH_is_not_washed_out(self):
        assert due(water_change_now, replace(WATER, tests=(read(nitrate=60.0, ph=6.2),))) is None

    def test_where_nobody_lives_nothing_is_urgent(self):
        assert due(water_change_now, replace(self.BAD, animals=0)) is None


class TestTestedAgain:
    BAD = replace(WATER, tests=(read(nitrite=1.2),))

    def test_the_day_after_a_bad_reading(self):
        found = due(water_test, self.BAD)
        assert found.on == TODAY + timedelta(days=1)

    def test_the_same_day_once_water_was_changed(self):
        changed = replace(WATER, tests=(read(nitrite=1.2, renewed_since=0.4),))
        found = due(water_test, changed)
        assert found.on == TODAY
        assert "40% of the water changed since: test an hour after" in found.reason

    def test_the_day_after_a_reading_that_the_forecast_contradicts(self):
        forecast = ForecastFacts(
            TODAY,
            tested_on=TODAY,
            sure_until=TODAY + timedelta(days=9),
            doubt="may_pass",
            quantity="nitrate",
            contradicted=("ph",),
        )
        found = due(water_test, replace(WATER, forecast=forecast))
        assert found.on == TODAY + timedelta(days=1)
        assert "forecast disagree on pH: read it again" in found.reason
        assert found.kind == "event", "a reading is beyond its limit only where it is"
        # A later test that the forecast does not know yet is no surprise.
        older = replace(forecast, tested_on=TODAY - timedelta(days=1))
        found = due(water_test, replace(WATER, forecast=older))
        assert "disagree" not in found.reason

    def test_total_ammonia_alone_is_bad_beyond_its_own_limit(self):
        facts = replace(WATER, tests=(read(tan=8.0, ph=None, unionized=None),), last_change_on=None)
        assert "Total ammonia was 8 mg/L N" in due(water_test, facts).reason
        assert due(water_change_now, facts).on == TODAY


class TestWaterTest:
    @pytest.mark.parametrize(("load", "days"), [(0.0, 14), (0.25, 14), (0.625, 8.5), (1.0, 3), (4.0, 3)])
    def test_interval_falls_with_load(self, load, days):
        assert interval_by_load(load, 14, 3, 0.25) == pytest.approx(days)

    def test_never_tested_is_due_today(self):
        assert due(water_test, replace(WATER, tests=())).on == TODAY

    def test_daily_where_animals_are_fed_without_a_running_filter(self):
        bare = replace(WATER, capacity_tan_g_day=0.0)
        found = due(water_test, bare)
        assert found.on == TODAY + timedelta(days=1)
        assert "while no filter runs" in found.reason
        unfed = replace(bare, recent_tan_g_day=0.0)
        assert due(water_test, unfed).on > TODAY + timedelta(days=1)

    def test_daily_while_cycling_until_near_zero(self):
        facts = replace(WATER, is_cycling=True, tests=(read(tan=1.0),))
        assert due(water_test, facts).on == TODAY + timedelta(days=1)

    def test_every_second_day_while_cycling_and_quiet(self):
        facts = replace(WATER, is_cycling=True, tests=(read(),))
        assert due(water_test, facts).on == TODAY + timedelta(days=2)

    def test_enough_quiet_tests_end_the_cycling_interval(self):
        facts = replace(WATER, is_cycling=True, tests=tuple(read(n) for n in range(3)))
        assert due(water_test, facts).on == TODAY + timedelta(days=14)

    def test_the_day_after_a_heavy_meal(self):
        facts = replace(WATER, last_fed_on=TODAY, last_fed_kg=1.36, last_fed_tan_g=20.5)
        assert due(water_test, facts).on == TODAY + timedelta(days=1)
        assert "{food:1.36}, 2.0 days of work" in due(water_test, facts).reason

    def test_a_light_meal_changes_nothing(self):
        facts = replace(WATER, last_fed_on=TODAY, last_fed_kg=0.1, last_fed_tan_g=1.5)
        assert due(water_test, facts).on == TODAY + timedelta(days=14)

    def test_within_a_day_of_a_bad_reading(self):
        facts = replace(WATER, tests=(read(unionized=0.08),))
        assert due(water_test, facts).on == TODAY + timedelta(days=1)

    def test_one_good_test_after_a_bad_one_is_not_enough(self):
        facts = replace(WATER, tests=(read(), read(1, nitrite=3.0)))
        assert due(water_test, facts).on == TODAY + timedelta(days=1)

    def test_two_good_tests_in_a_row_are(self):
        facts = replace(WATER, tests=(read(), read(1), read(2, nitrite=3.0)))
        assert due(water_test, facts).on == TODAY + timedelta(days=14)

    @pytest.mark.parametrize(("tested", "expected"), [(0, 1), (1, 2), (2, 3), (3, 17)])
    def test_three_days_running_after_a_newcomer(self, tested, expected):
        joined = TODAY - timedelta(days=tested)
        facts = replace(WATER, last_joined_on=joined, tests=(read(),))
        assert due(water_test, facts).on == joined + timedelta(days=expected)

    def test_quiet_tests_are_counted_from_the_newest(self):
        assert quiet_in_a_row((read(), read(1), read(2, tan=0.5), read(3)), 0.25) == 2


class TestWaterChange:
    def test_nitrate_never_read_is_not_all_well(self):
        found = list(water_change(WATER, LimitsFor({}), TODAY))
        assert {each.lacks for each in found if isinstance(each, Unknown)} == {"nitrate", "alkalinity"}

    def test_nitrate_is_projected_from_the_meals_since(self):
        # by hand: 30 mg/L read ten days ago, 20 g fed since into 1 m3 is 20 mg/L: 50 today
        facts = replace(WATER, fed_since_nitrate_tan_g=20.0)
        assert nitrate_now(facts, Reading(30, TODAY - timedelta(days=10))) == pytest.approx(50)

    def test_a_load_that_came_today_does_not_count_for_the_days_before(self):
        long_ago = Reading(30, TODAY - timedelta(days=20))
        facts = replace(WATER, nitrate=long_ago, alkalinity=Reading(500, TODAY), last_change_on=TODAY)
        assert due(water_change, facts).on == TODAY + timedelta(days=5)  # (40 - 30) / 2, nothing fed before

    def test_falls_due_when_the_projection_meets_the_limit(self):
        facts = replace(
            WATER, nitrate=Reading(30, TODAY), alkalinity=Reading(500, TODAY), last_change_on=TODAY
        )
        assert due(water_change, facts).on == TODAY + timedelta(days=5)  # (40 - 30) / 2

    def test_falls_due_when_alkalinity_is_used_up(self):
        facts = replace(
            WATER, nitrate=Reading(0, TODAY), alkalinity=Reading(120, TODAY), last_change_on=TODAY
        )
        assert due(water_change, facts).on == TODAY + timedelta(days=2)  # (120 - 80) / (2 x 7.146) = 2.8

    def test_changes_enough_to_bring_alkalinity_back(self):
        spent = replace(WATER, alkalinity=Reading(60, TODAY), source_alkalinity=180.0, last_change_on=None)
        assert change_share(spent, LimitsFor({})) == pytest.approx(1 / 3)  # (100 - 60) / (180 - 60)
        instruction = due(water_change, spent).instruction
        assert "(33% of" in instruction
        assert "bicarbonate" not in instruction

    def test_says_what_a_soft_source_cannot_bring(self):
        spent = replace(WATER, alkalinity=Reading(40, TODAY), source_alkalinity=60.0)
        # by hand: half of 1000 L changed gives 50; 100 - 50 = 50 mg/L lacking is 50 g CaCO3, 83.9 g NaHCO3
        assert "about 50 mg/L only. 84 g of sodium bicarbonate" in due(water_change, spent).instruction

    def test_a_change_that_was_not_enough_is_not_asked_for_again_the_same_day(self):
        spent = replace(WATER, alkalinity=Reading(40, TODAY), source_alkalinity=60.0, last_change_on=TODAY)
        again = due(water_change, spent)
        assert again.on == TODAY + timedelta(days=1)
        assert "changed on" in again.reason

    def test_says_how_many_litres_and_what_the_source_needs(self):
        facts = replace(
            WATER,
            nitrate=Reading(60, TODAY),
            source_name="Town water",
            source_disinfectant="chloramine",
            source_chlorine_mg_l=2.0,
        )
        found = due(water_change, facts)
        assert found.prefill == {"volume_m3": 0.5, "conditioner_g": 7.0}  # half at most; 500 L x 2 mg/L x 7
        assert "Change {volume:0.5} (50% of {volume:1})." in found.instruction
        assert "standing does not remove it" in found.instruction
