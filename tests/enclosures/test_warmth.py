"""How warm a water is between readings and after the last one."""

from datetime import date

import numpy as np
import pytest

from enclosures.warmth import DAYS_A_YEAR, SPELL_DAYS, Warmth, day_of_year, temperature_now, temperatures

POND = Warmth(26.0, 4.0, 7)
TANK = Warmth(24.0)


class TestUsual:
    def test_a_heated_tank_is_the_same_all_year(self):
        assert TANK.usual_on(np.arange(0, 366, 30)) == pytest.approx(24.0)

    def test_a_pond_swings_between_its_warmest_and_its_coldest_month(self):
        year = POND.usual_on(np.arange(366))
        assert (year.min(), year.max()) == pytest.approx((4.0, 26.0), abs=0.01)
        assert year.argmax() == pytest.approx(day_of_year(date(2026, 7, 16)), abs=2)
        assert year.argmin() == pytest.approx(day_of_year(date(2026, 1, 15)), abs=2)

    def test_spring_and_autumn_are_half_way(self):
        assert POND.usual_on(
            [day_of_year(date(2026, 4, 16)), day_of_year(date(2026, 10, 16))]
        ) == pytest.approx(15.0, abs=0.5)

    def test_the_south_has_its_summer_at_the_new_year(self):
        south = Warmth(26.0, 10.0, 1)
        assert south.usual_on(14) > 25.9 > 11 > south.usual_on(14 + DAYS_A_YEAR / 2)


class TestReadings:
    def test_a_reading_is_met_and_between_two_the_curve_runs_evenly(self):
        found = temperatures(TANK, [10, 15, 20], [10, 20], [22.0, 26.0])
        assert found == pytest.approx([22.0, 24.0, 26.0])

    def test_after_a_warm_spell_a_pond_goes_back_to_its_season(self):
        read = float(POND.usual_on(100)) + 5
        found = temperatures(POND, [100, 100 + SPELL_DAYS, 190], [100], [read])
        assert found[0] == pytest.approx(read)
        assert found[1] - POND.usual_on(100 + SPELL_DAYS) == pytest.approx(5 / np.e)
        assert found[2] == pytest.approx(float(POND.usual_on(190)), abs=0.01)

    def test_a_heater_set_otherwise_stays_so_for_weeks(self):
        assert temperatures(TANK, [24], [10], [27.0])[0] == pytest.approx(27.0, abs=0.5)

    def test_before_the_first_reading_it_was_off_as_much(self):
        assert temperatures(TANK, [0], [10], [25.0])[0] == pytest.approx(25.0)

    def test_autumn_cools_a_pond_that_nobody_reads(self):
        now = temperature_now(POND, date(2026, 11, 25), date(2026, 9, 20), 21.0)
        assert now == pytest.approx(float(POND.usual_on(day_of_year(date(2026, 11, 25)))), abs=0.1)
        assert now < 10

    def test_a_reading_of_last_year_counts_from_its_own_day(self):
        read = float(POND.usual_on(day_of_year(date(2025, 12, 30)))) + 2
        now = temperature_now(POND, date(2026, 1, 3), date(2025, 12, 30), read)
        assert now - POND.usual_on(2) == pytest.approx(2 * np.exp(-4 / SPELL_DAYS), abs=0.05)

    def test_without_a_reading_it_is_the_usual_one(self):
        assert temperature_now(TANK, date(2026, 3, 1), None, None) == 24.0
