"""A water followed through its tests, and its forecasts judged by them."""

import numpy as np
import pytest
from scipy import stats

from filtration.forecast import (
    USUAL_KITS,
    Buffer,
    Judged,
    Meal,
    Observation,
    WaterReading,
    advance,
    assimilate,
    draw,
    follow,
    read,
    score,
    settled,
    steady,
)
from filtration.forecast import layout as at
from filtration.forecast.following import levels_of_reading
from filtration.forecast.kits import BIASES, simulate
from filtration.forecast.priors import natural
from filtration.forecasting.scores import as_read
from refuge.errors import OutOfRange
from tests.forecasting import BARREL

DAY, WEEKS = 24, 6
MATURE = settled(BARREL, 3.0, 24)
FED = steady(
    WEEKS * 7 * DAY,
    24,
    [Meal(DAY * day + 9, 3, 12) for day in range(WEEKS * 7)]
    + [Buffer(7 * DAY * week + 60, 120) for week in range(WEEKS)],
)
READ = ("tan", "nitrite", "nitrate", "alkalinity", "ph")


def _tests_of_a_truth(seed):
    """Weekly readings of an invented true water, by kits that err."""
    truth = draw(BARREL, MATURE, members=2, seed=9000 + seed)
    randomness = np.random.default_rng(seed)
    tests = []
    for week in range(1, WEEKS + 1):
        truth, records = advance(truth, BARREL, FED.between((week - 1) * 7 * DAY, week * 7 * DAY), every=24)
        own = natural(truth.scores)[0]
        shown = []
        for quantity in READ:
            kit, value = USUAL_KITS[quantity], float(records[0, -1, at.QUANTITY[quantity]])
            reading = simulate(read(quantity, 0.0, kit), kit, value, own[BIASES[quantity]], randomness)
            shown.append(read(quantity, reading, kit))
        tests.append(WaterReading(week * 7 * DAY, tuple(shown)))
    return tests


def test_it_is_advancing_and_learning_in_turn():
    (first, *_) = _tests_of_a_truth(1)
    followed = follow(BARREL, FED.between(0, 8 * DAY), MATURE, [first], seed=2)
    by_hand, _ = advance(draw(BARREL, MATURE, seed=2), BARREL, FED.between(0, 7 * DAY))
    by_hand = assimilate(by_hand, BARREL, 24, first.observations).ensemble
    by_hand, _ = advance(by_hand, BARREL, FED.between(7 * DAY, 8 * DAY))
    assert np.array_equal(followed.ensemble.states, by_hand.states)
    assert len(followed.judged) == len(READ)


def test_readings_fall_into_their_bands_as_often_as_they_should():
    judged = [
        each
        for seed in range(60)
        for each in follow(BARREL, FED, MATURE, _tests_of_a_truth(seed), seed=seed).judged
    ]
    found = score(judged)
    assert set(found) == set(READ)
    for quantity in READ:
        assert found[quantity].count == 60 * WEEKS
        assert 0.80 <= found[quantity].within_90 <= 0.96
        assert 0.38 <= found[quantity].within_50 <= 0.62


def test_a_crash_of_the_filter_is_noticed():
    calm = _tests_of_a_truth(3)[:3]
    crash = WaterReading(25 * DAY, (read("tan", 8.0), read("nitrite", 4.0)))
    found = follow(BARREL, FED, MATURE, [*calm, crash], seed=3).disagreements
    assert (25 * DAY, "tan") in [(hour, each.quantity) for hour, each in found]


def test_levels_of_a_reading_are_those_of_member_and_kit_error_together():
    """Normal members and a normal error: normal with the sum of the variances."""
    members = stats.norm.ppf((np.arange(200) + 0.5) / 200) * 0.3 + 7.4
    levels = levels_of_reading(Observation("ph", 7.3, 7.5, 0.4), members)
    expected = stats.norm(7.4, 0.5).ppf([0.05, 0.25, 0.5, 0.75, 0.95])
    assert levels == pytest.approx(expected, abs=0.03)


def test_readings_of_a_known_water_fall_into_its_widened_band():
    """Log-normal water read off a colour card: simulated readings against the widened levels."""
    randomness, kit = np.random.default_rng(5), USUAL_KITS["tan"]
    water = stats.lognorm(0.5, scale=0.8)
    levels = as_read(read("tan", 0.0), water.ppf([0.05, 0.25, 0.5, 0.75, 0.95]))
    judged = []
    for value in water.rvs(3000, random_state=randomness):
        shown = simulate(read("tan", 0.0), kit, value, np.exp(0.1 * randomness.standard_normal()), randomness)
        observation = read("tan", shown)
        judged.append(Judged("tan", levels, observation.low, observation.high))
    found = score(judged)["tan"]
    assert found.within_90 == pytest.approx(0.9, abs=0.03)
    assert found.within_50 == pytest.approx(0.5, abs=0.06)


@pytest.mark.parametrize("hours", [(48, 24), (WEEKS * 7 * DAY + 1,), (-1,)])
def test_tests_out_of_order_are_refused(hours):
    with pytest.raises(OutOfRange, match="hour"):
        follow(BARREL, FED, MATURE, [WaterReading(hour, (read("tan", 0.25),)) for hour in hours])


def test_a_test_at_the_very_start_counts():
    followed = follow(BARREL, FED, MATURE, [WaterReading(0, (read("nitrate", 40.0),))], seed=4)
    assert len(followed.judged) == 1
