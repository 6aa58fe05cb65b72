"""Does the forecast know what it does not know? Hundreds of invented truths, tested with a kit that errs.

The truth of each run is drawn from the same priors; the readings from a colour card (nearest of 0, 0.25, 0.5, 1 ...)
and meters with random error and a constant bias. Honest 90 % bands hold the truth in about 90 % of the hours.
"""

import numpy as np
import pytest

from filtration.forecast import (
    USUAL_KITS,
    Source,
    WaterChange,
    advance,
    assimilate,
    draw,
    meal_of_food,
    read,
    settled,
    steady,
)
from filtration.forecast import layout as at
from filtration.forecast.bands import bands_of, column
from filtration.forecast.kits import BIASES, simulate
from filtration.forecast.priors import natural
from tests.forecasting import BARREL, FISH

RUNS, WEEKS, WEEK = 240, 4, 168
WATCHED = ("tan", "nitrite", "nitrate", "alkalinity", "ph", "unionized", "oxygen")
READ = ("tan", "nitrite", "nitrate", "alkalinity", "ph")
BELIEF = settled(BARREL, 3.0, 24)
MONTH = steady(
    WEEKS * WEEK,
    24,
    [meal_of_food(WEEK * week + 10, 1.36, *FISH) for week in range(WEEKS)]
    + [WaterChange(WEEK * week + 80, 0.3, Source(alkalinity=150)) for week in range(WEEKS)],
)


def _readings(truth, record, randomness):
    """What a keeper would read off the kits for the true water."""
    own = natural(truth.scores)[0]
    for quantity in READ:
        kit = USUAL_KITS[quantity]
        shown = simulate(
            read(quantity, 0.0, kit), kit, float(record[column(quantity)]), own[BIASES[quantity]], randomness
        )
        yield read(quantity, shown, kit)


def _one_run(seed):
    """Per week and quantity: the share of hours inside the 90 and 50 % bands, and the width of the 90 % band."""
    truth = draw(BARREL, BELIEF, members=2, seed=100_000 + seed)
    ensemble = draw(BARREL, BELIEF, seed=seed)
    randomness = np.random.default_rng([7, seed])
    found = np.zeros((WEEKS, len(WATCHED), 3))
    for week in range(WEEKS):
        part = MONTH.between(week * WEEK, (week + 1) * WEEK)
        truth, true = advance(truth, BARREL, part, every=12, steps=1)
        ensemble, records = advance(ensemble, BARREL, part, every=12, steps=1)
        bands = bands_of(records)
        for row, quantity in enumerate(WATCHED):
            band, value = bands[column(quantity), 1:], true[0, 1:, column(quantity)]
            found[week, row, 0] = ((band[:, 0] <= value) & (value <= band[:, 4])).mean()
            found[week, row, 1] = ((band[:, 1] <= value) & (value <= band[:, 3])).mean()
            found[week, row, 2] = np.log((band[:, 4] + 0.05) / (band[:, 0] + 0.05)).mean()
        ensemble = assimilate(ensemble, BARREL, 24, list(_readings(truth, true[0, -1], randomness))).ensemble
    spread = ensemble.scores.std(axis=0)
    return found, spread


@pytest.fixture(scope="module")
def runs():
    found, spreads = zip(*(_one_run(seed) for seed in range(RUNS)), strict=True)
    return np.array(found), np.array(spreads)


@pytest.mark.parametrize("quantity", WATCHED)
def test_90_percent_bands_hold_the_truth_85_to_95_percent_of_the_time(runs, quantity):
    inside = runs[0][:, :, WATCHED.index(quantity), 0].mean()
    assert 0.85 <= inside <= 0.95


@pytest.mark.parametrize("quantity", WATCHED)
def test_50_percent_bands_hold_it_about_half_of_the_time(runs, quantity):
    inside = runs[0][:, 1:, WATCHED.index(quantity), 1].mean()
    assert 0.42 <= inside <= 0.58


@pytest.mark.parametrize("quantity", ["tan", "nitrite", "nitrate", "alkalinity", "ph"])
def test_tests_narrow_the_forecast(runs, quantity):
    widths = runs[0][:, :, WATCHED.index(quantity), 2].mean(axis=0)
    assert widths[-1] < 0.85 * widths[0]


def test_the_ensemble_does_not_collapse(runs):
    """Whatever was learned, every parameter keeps a spread, and most of those no kit can see keep nearly all."""
    spreads = runs[1]
    assert spreads.min() > 0.2
    for unseen in (at.P_CAPTURE, at.P_DIGESTION, at.P_CHLORINE_HARM, at.P_AIRLESS_LOSS, at.P_HARM):
        assert spreads[:, unseen].mean() > 0.85
