"""How a new filter starts, and what a heavy meal does, against published courses and facts of the trade."""

import numpy as np
import pytest

from filtration.forecast import (
    Buffer,
    Meal,
    Source,
    WaterChange,
    advance,
    days_to_mature,
    draw,
    hours_to_clear,
    meal_of_food,
    meals_every,
    new_filter,
    settled,
    steady,
)
from filtration.forecast import layout as at
from filtration.nitrification import days_to_mature as closed_form_days
from husbandry.bioload import planned_daily_load
from tests.forecasting import BARREL, FISH

DAY = 24
DAYS = 70
DAILY_LOAD = planned_daily_load(1.36, 1, *FISH)
SOFT_TAP = Source(alkalinity=100)


def _plan(celsius, days=DAYS):
    """A seventh of 1.36 kg of fish a day, a third of the water and some bicarbonate each week."""
    weekly = range(80, days * DAY, 7 * DAY)
    return steady(
        days * DAY,
        celsius,
        [
            *meals_every(DAILY_LOAD, days * DAY, first=10, every_hours=DAY),
            *(WaterChange(hour, 0.4, SOFT_TAP) for hour in weekly),
            *(Buffer(hour, 80) for hour in weekly),
        ],
    )


@pytest.fixture(scope="module")
def young():
    """Days of each member's ammonia and nitrite peak, and the records."""
    _, records = advance(draw(BARREL, new_filter(22), seed=1), BARREL, _plan(22), every=6)
    first_month = records[:, : 45 * 4]
    peaks = (first_month[:, :, column].argmax(axis=1) / 4 for column in (at.Q_TAN, at.Q_NITRITE))
    return *peaks, records


def test_ammonia_rises_for_about_two_weeks_then_nitrite(young):
    # Trout in the Classroom, nitrogen cycle: ammonia rises for about two weeks, then nitrite for about two.
    ammonia_peak, nitrite_peak, _ = young
    assert 9 < np.median(ammonia_peak) < 19
    assert np.median(ammonia_peak) + 3 < np.median(nitrite_peak) < 32
    assert (nitrite_peak > ammonia_peak).mean() > 0.9


def test_ammonia_falls_before_nitrite_does(young):
    # Same source: the nitrate stage follows.
    _, _, records = young
    middle = np.median(records, axis=0)
    done = []
    for column in (at.Q_TAN, at.Q_NITRITE):
        peak = int(middle[:, column].argmax())
        done.append(peak + int(np.argmax(middle[peak:, column] < 1.0)))
    assert 0 < done[0] < done[1] < len(middle) - 1
    assert middle[-1, at.Q_NITRATE] > middle[0, at.Q_NITRATE] + 10


@pytest.mark.parametrize("celsius", [22, 25])
def test_a_new_filter_takes_two_to_six_weeks(celsius):
    # FAO 589 glossary: one to six weeks. Common practice, no source: a couple of weeks or more.
    took = days_to_mature(BARREL, _plan(celsius), new_filter(celsius), seed=2)
    assert 14 <= took.middle <= 42
    assert took.early >= 7
    assert took.early < took.middle


def test_start_up_in_the_time_of_a_measured_one():
    # Carroza et al. 2012, Lat. Am. J. Aquat. Res. 40:772: 42 days in fresh water, three media.
    took = days_to_mature(BARREL, _plan(24), new_filter(24), seed=3)
    assert took.middle <= 42


def test_cold_water_and_seeding():
    # Lekang & Kleppe 2000, Aquacult. Eng. 21:181: cold starts took months. Seeding shortens: common practice.
    cold, warm = (
        days_to_mature(BARREL, _plan(celsius), new_filter(celsius), seed=4).middle for celsius in (14, 24)
    )
    seeded = days_to_mature(BARREL, _plan(24), new_filter(24, seeded=True), seed=4).middle
    assert cold is None or cold > 1.5 * warm
    assert seeded < 0.7 * warm


def test_with_plenty_of_ammonia_films_grow_as_the_closed_form_says():
    """Growth at 1 mg N/L and 6 mg O2/L in filtration.nitrification; here nothing is limiting, so it is quicker."""
    took = days_to_mature(BARREL, _plan(22), new_filter(22), seed=5)
    assert 0.4 * closed_form_days(22) < took.middle < 1.3 * closed_form_days(22)


def test_heavy_meal_clouds_day_one_and_clears_by_day_two():
    """Common practice, no source: 1.36 kg of fish to a 55 kg animal, mature barrel filter on a 1,100 L tank."""
    inputs = steady(10 * DAY, 24, [meal_of_food(2 * DAY, 1.36, *FISH)])
    _, records = advance(draw(BARREL, settled(BARREL, 3, 24), seed=6), BARREL, inputs, every=1)
    cloudy = records[:, 2 * DAY : 3 * DAY, at.Q_SUSPENDED].max(axis=1) > 5
    assert cloudy.mean() > 0.9
    clear = hours_to_clear(records, 1, 2 * DAY)
    assert 1 <= clear.middle <= 24
    assert clear.late <= 48


def test_mature_barrel_carries_a_heavy_weekly_meal_but_not_a_daily_one():
    """Common practice, no source. Carried: ammonia back near nothing before the next meal."""
    month = 28 * DAY
    start = draw(BARREL, settled(BARREL, DAILY_LOAD.tan_g, 24, alkalinity=200), seed=7)
    changes = [WaterChange(hour, 0.4, SOFT_TAP) for hour in range(80, month, 7 * DAY)]
    buffers = [Buffer(hour, 100) for hour in range(80, month, 7 * DAY)]
    left = []
    for every in (7 * DAY, DAY):
        meals = [meal_of_food(hour, 1.36, *FISH) for hour in range(12, month, every)]
        _, records = advance(start, BARREL, steady(month, 24, [*meals, *changes, *buffers]), every=12)
        left.append(np.median(records[:, -1, at.Q_TAN]))
    assert left[0] < 1.0
    assert left[1] > 10


def test_all_the_food_comes_out_again():
    """First-order release in two steps: after t days a share 1 - (1 + kt) exp(-kt) is out, k = 2 / 2.5 at 25 C."""
    bare = new_filter(25)
    start = draw(BARREL, bare, members=2, seed=8)
    start.scores[:] = 0
    start.states[:, [at.AMMONIA_OXIDIZERS, at.NITRITE_OXIDIZERS]] = 0
    before = start.states[0, at.TAN]
    from tests.forecasting import course_of

    course = course_of(BARREL, steady(5 * DAY, 25, [Meal(0, 20, 0)]), start)
    for day in (1, 3, 5):
        kt = 0.8 * day
        expected = 20 * (1 - (1 + kt) * np.exp(-kt))
        assert course[day * DAY, 0, at.TAN] - before == pytest.approx(expected, rel=2e-3)
