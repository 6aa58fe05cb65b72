import math
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from husbandry import bioload as b
from husbandry.food_values import food_value
from refuge.errors import OutOfRange

masses = st.floats(0, 20)
fractions = st.floats(0, 1)
temperatures = st.floats(0, 40)


def test_a_meal_by_hand():
    load = b.meal_load(1.0, 0.5, 0.2, 0.75, 0.002)
    assert load.tan_g == pytest.approx(1000 * 0.2 * 0.092 + 500 * 0.2 * 0.144)
    assert load.solids_g == pytest.approx(0.25 * 250 + 125)
    assert load.oxygen_g == pytest.approx(4.57 * load.tan_g + 1.3659 * 0.45 * load.solids_g)
    assert load.phosphorus_g == pytest.approx(3.0)


@given(masses, masses, fractions, fractions)
def test_left_food_is_never_better_than_eaten_food(eaten, left, protein, water):
    swapped = b.meal_load(eaten + left, 0, protein, water)
    rotting = b.meal_load(eaten, left, protein, water)
    assert rotting.tan_g >= swapped.tan_g * (1 - 1e-9)
    assert rotting.solids_g >= swapped.solids_g * (1 - 1e-9)


@given(masses, masses)
def test_two_meals_add_up_to_one(first, second):
    together = b.meal_load(first, 0, 0.18, 0.78) + b.meal_load(second, 0, 0.18, 0.78)
    at_once = b.meal_load(first + second, 0, 0.18, 0.78)
    assert together.tan_g == pytest.approx(at_once.tan_g)
    assert together.oxygen_g == pytest.approx(at_once.oxygen_g)


def test_nothing_added_changes_nothing():
    load = b.meal_load(1, 0, 0.2, 0.8)
    assert load + b.Load.zero() == load
    assert load.scaled(0) == b.Load.zero()
    assert load.scaled(2) == load + load


def test_a_plan_is_its_meals_over_the_week():
    assert b.planned_daily_load(1.4, 7, 0.2, 0.8) == b.meal_load(1.4, 0, 0.2, 0.8)
    assert b.planned_daily_load(1.4, 1, 0.2, 0.8).tan_g == pytest.approx(b.tan_from_food_g(0.2, 0.2))


@given(st.floats(0, 200), st.floats(0, 50), temperatures)
def test_release_only_rises_from_nothing_to_all(age, more, temperature_c):
    share = b.release_share(age, temperature_c)
    rounding = 1e-12  # two nearly equal numbers are taken from each other near age 0
    assert 0 <= share <= b.release_share(age + more, temperature_c) + rounding <= 1 + rounding
    assert b.release_share(0, temperature_c) == 0
    assert b.release_share(40 * b.mean_release_days(temperature_c), temperature_c) == pytest.approx(1)


@given(st.floats(0.1, 30), st.floats(0, 39))
def test_cold_delays_the_release(age, temperature_c):
    assert b.release_share(age, temperature_c) <= b.release_share(age, temperature_c + 1)
    assert b.mean_release_days(temperature_c) > b.mean_release_days(temperature_c + 1)


def test_the_busiest_day_of_a_rhythm():
    # Food that takes months comes evenly; a meal long gone before the next comes as by itself.
    assert b.busiest_day_share(0, 1) == pytest.approx(1, abs=0.01)
    assert 1 / 7 < b.busiest_day_share(0, 7) < b.busiest_day_share(24, 7) < 1
    alone = max(b.released_between(hour / 24, hour / 24 + 1, 25) for hour in range(24 * 60))
    assert b.busiest_day_share(25, 60) == pytest.approx(alone)


def test_mean_release_time_is_the_mean_of_the_curve():
    step = 0.01
    mean = sum(step * (1 - b.release_share(n * step, 18)) for n in range(20_000))
    assert mean == pytest.approx(b.mean_release_days(18), abs=step)


@given(st.lists(st.floats(0, 30), min_size=2, max_size=6), temperatures)
def test_pieces_of_time_add_up(ages, temperature_c):
    marks = [0.0, *sorted(ages)]
    pieces = sum(b.released_between(a, z, temperature_c) for a, z in pairwise(marks))
    assert pieces == pytest.approx(b.release_share(marks[-1], temperature_c))


def test_mean_daily_tan_counts_meals_in_the_window_without_a_temperature():
    meals = [(0, 7.0), (6.9, 7.0), (7.0, 100.0)]
    assert b.mean_daily_tan_g(meals, 7) == pytest.approx(2.0)
    assert b.mean_daily_tan_g([], 7) == 0


def test_mean_daily_tan_of_a_steady_plan_is_the_plan():
    meals = [(3.0 + 7 * n, 20.0) for n in range(40)]
    assert b.mean_daily_tan_g(meals, 7, 22) == pytest.approx(20 / 7, rel=1e-6)


def test_a_meal_of_this_moment_has_released_nothing_yet():
    assert b.mean_daily_tan_g([(0, 20.0)], 7, 22) == 0


@pytest.mark.parametrize("bad", [-0.1, math.nan, math.inf])
@pytest.mark.parametrize(
    ("call", "name"),
    [
        (lambda x: b.meal_load(x, 0, 0.2, 0.8), "eaten_kg"),
        (lambda x: b.meal_load(1, x, 0.2, 0.8), "left_kg"),
        (lambda x: b.meal_load(1, 0, x, 0.8), "protein_fraction"),
        (lambda x: b.meal_load(1, 0, 0.2, x), "water_fraction"),
        (lambda x: b.meal_load(1, 0, 0.2, 0.8, x), "phosphorus_fraction"),
        (lambda x: b.planned_daily_load(1, x, 0.2, 0.8), "meals_per_week"),
        (lambda x: b.release_share(x, 20), "age_days"),
        (lambda x: b.release_share(1, x), "temperature_c"),
        (lambda x: b.released_between(x, 5, 20), "age_from_days"),
        (lambda x: b.mean_daily_tan_g([(x, 1)], 7), "days_ago"),
        (lambda x: b.mean_daily_tan_g([(1, x)], 7), "tan_g"),
        (lambda x: b.mean_daily_tan_g([], x), "window_days"),
        (lambda x: b.Load.zero().scaled(x), "factor"),
    ],
)
def test_bad_numbers_are_refused_by_name(call, name, bad):
    with pytest.raises(OutOfRange) as caught:
        call(bad)
    assert caught.value.argument == name


def test_ages_out_of_order_and_percent_for_fraction_are_refused():
    with pytest.raises(OutOfRange, match="age_to_days"):
        b.released_between(3, 2, 20)
    with pytest.raises(OutOfRange, match="protein_fraction = 18"):
        b.meal_load(1, 0, 18, 0.8)


def test_unknown_food_is_refused():
    with pytest.raises(OutOfRange, match="Moon cheese"):
        food_value("Moon cheese")
