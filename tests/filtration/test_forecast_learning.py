"""Kits and the update: what a reading can tell, and what the ensemble makes of it."""

import math
from dataclasses import replace

import numpy as np
import pytest
from scipy import stats

from filtration.forecast import (
    USUAL_KITS,
    Kit,
    Meal,
    Observation,
    Source,
    WaterChange,
    advance,
    assimilate,
    colour_card,
    draw,
    read,
    settled,
    steady,
)
from filtration.forecast import layout as at
from filtration.forecast.assimilation import advice, effective_share, moved, widened
from filtration.forecast.ensemble import seen
from filtration.forecast.inputs import forcing
from filtration.forecast.kits import likelihood, limits_scaled, predicted, scaled, simulate
from filtration.forecast.priors import PRIORS, drifted, natural
from refuge.errors import OutOfRange
from tests.forecasting import BARREL

MATURE = settled(BARREL, 3.0, 24)
HOUR = forcing(BARREL, steady(1, 24))[0]
CARD = colour_card(0.25, 6)


def _tan(ensemble):
    return seen(ensemble, HOUR)[:, at.Q_TAN]


def test_a_card_reads_the_nearest_colour():
    assert CARD.steps == (0, 0.25, 0.5, 1, 2, 4)
    assert CARD.interval(0.5) == (0.375, 0.75)
    assert CARD.interval(0.0) == (-math.inf, 0.125)
    assert CARD.interval(4.0) == (3.0, math.inf)


def test_a_meter_rounds_to_its_digit():
    assert Kit(0.1, digit=0.2).interval(7.4) == pytest.approx((7.3, 7.5))


def test_the_chances_of_all_colours_add_up():
    """Whatever the water holds, some colour is read."""
    for value in (0.0, 0.1, 0.7, 3.0, 20.0):
        total = 0.0
        for step in CARD.steps:
            observation = read("tan", step, CARD)
            total += float(likelihood(observation, scaled(observation, np.array([value])))[0])
        assert total == pytest.approx(1)


def test_simulated_readings_come_as_often_as_the_likelihood_says():
    randomness = np.random.default_rng(1)
    shown = [simulate(read("tan", 0.0, CARD), CARD, 0.6, 1.0, randomness) for _ in range(4000)]
    for step in CARD.steps:
        observation = read("tan", step, CARD)
        chance = float(likelihood(observation, scaled(observation, np.array([0.6])))[0])
        assert np.mean([value == step for value in shown]) == pytest.approx(chance, abs=0.025)


def test_a_colour_card_cannot_tell_a_quarter_from_a_half():
    """Water half-way between both colours reads as either about as often, and neither rules out the other."""
    water = np.array([0.25, 0.36, 0.5])
    quarter, half = (
        likelihood(observation, scaled(observation, water))
        for observation in (read("tan", 0.25), read("tan", 0.5))
    )
    assert 0.6 < quarter[1] / half[1] < 1.7
    assert half[0] > 0.02
    assert quarter[2] > 0.02


def test_the_bias_of_a_kit_counts():
    ensemble = draw(BARREL, MATURE, seed=1)
    own = natural(ensemble.scores)
    observation = read("ph", 7.4)
    values = seen(ensemble, HOUR)
    expected = values[:, at.Q_PH] + own[:, at.P_PH_BIAS]
    assert predicted(observation, values, own) == pytest.approx(expected)


def _normal(mean, spread, count=128):
    return mean + spread * stats.norm.ppf(np.arange(1, count + 1) / (count + 1))


def test_the_move_is_the_kalman_update_for_a_sharp_normal_reading():
    """Prior N(0, 1), reading 1.0 with error 0.5: posterior mean 0.8, variance 0.2 (conjugate normal, by hand)."""
    observation = Observation("ph", 1.0 - 5e-4, 1.0 + 5e-4, 0.5)
    after = moved(observation, _normal(0, 1))
    assert after.mean() == pytest.approx(0.8, abs=0.01)
    assert after.var() == pytest.approx(0.2, rel=0.08)  # 128 quantiles hold 95 % of a normal's variance


def test_the_move_is_the_truncated_normal_for_an_interval():
    """Prior N(0, 1), an interval from 0.5 up read without much error: scipy.stats.truncnorm."""
    observation = Observation("ph", 0.5, 50.0, 0.01)
    after = moved(observation, _normal(0, 1))
    expected = stats.truncnorm(0.5, np.inf)
    assert after.mean() == pytest.approx(expected.mean(), abs=0.02)
    assert after.std() == pytest.approx(expected.std(), rel=0.05)


def test_an_interval_that_holds_all_members_moves_none():
    before = _normal(7.4, 0.02)
    after = moved(Observation("ph", 6.0, 9.0, 0.05), before)
    assert after == pytest.approx(before, abs=1e-3)


@pytest.mark.parametrize("far", [3.0, 8.0, 30.0, 1000.0])
def test_a_reading_far_outside_is_reached_and_order_is_kept(far):
    after = moved(Observation("ph", far - 0.05, far + 0.05, 0.1), _normal(0, 1))
    assert np.isfinite(after).all()
    assert (np.diff(after) >= 0).all()
    assert after.mean() == pytest.approx(far, abs=max(0.3, 0.05 * far))


def test_taking_a_reading_in_bites_is_the_same_rule():
    observation = Observation("ph", 0.99, 1.01, 0.5)
    whole = moved(observation, _normal(0, 1))
    half = moved(observation, moved(observation, _normal(0, 1), 0.5), 0.5)
    assert half.mean() == pytest.approx(whole.mean(), abs=0.02)
    assert half.std() == pytest.approx(whole.std(), rel=0.05)


def test_effective_share():
    assert effective_share(np.ones(10)) == pytest.approx(1)
    assert effective_share(np.array([1.0] + [0.0] * 9)) == pytest.approx(0.1)
    assert effective_share(np.zeros(4)) == 0


def test_a_reading_draws_the_ensemble_to_it_and_narrows_it():
    before = draw(BARREL, replace(MATURE, tan=1.0, concentration_spread=1.0), seed=2)
    update = assimilate(before, BARREL, 24, [read("tan", 2.0)])
    now, then = _tan(update.ensemble), _tan(before)
    assert abs(np.median(now) - 2) < abs(np.median(then) - 2)
    assert np.log(now).std() < 0.6 * np.log(then).std()
    assert update.disagreements == ()
    assert 0 < update.effective_shares[0] <= 1


def test_a_zero_that_was_expected_changes_next_to_nothing():
    clean = draw(BARREL, replace(MATURE, tan=0.02), seed=3)
    update = assimilate(clean, BARREL, 24, [read("tan", 0.0)])
    change = np.abs(np.log(_tan(update.ensemble)) - np.log(_tan(clean)))
    assert np.median(change) < 0.02
    assert change.max() < 0.15  # of the member with most ammonia, which a zero does speak against


def test_a_test_that_contradicts_everything_is_reported_and_still_followed():
    quiet = draw(BARREL, replace(MATURE, tan=0.1, concentration_spread=0.2), seed=4)
    update = assimilate(quiet, BARREL, 24, [read("tan", 8.0)])
    (found,) = update.disagreements
    assert found.quantity == "tan"
    assert found.expected_high < 0.3 < 6 <= found.low
    assert found.chance < 0.005
    assert "Retest, or the filter has changed" in advice(found.quantity)
    assert np.median(_tan(update.ensemble)) > 3
    assert update.ensemble.scores.std(axis=0).min() > 0.3


CARDS = {"card": USUAL_KITS["nitrate"], "meter": Kit(0.12, 1.0, digit=1.0)}


@pytest.mark.parametrize("kit", CARDS.values(), ids=CARDS)
def test_four_times_the_nitrate_after_four_good_readings_is_reported_and_followed(kit):
    """A slow quantity: nothing in the model raises it fourfold in a week, so something happened that no record told."""
    ensemble = draw(BARREL, replace(MATURE, nitrate=10.0), seed=9)
    week = steady(7 * 24, 24, [Meal(10, 3, 12), WaterChange(80, 0.4, Source(nitrate=2))])
    for shown in (10.0, 10.0, 10.0, 10.0):
        ensemble, _ = advance(ensemble, BARREL, week)
        ensemble = assimilate(ensemble, BARREL, 24, [read("nitrate", shown, kit)]).ensemble
    ensemble, _ = advance(ensemble, BARREL, week)
    update = assimilate(ensemble, BARREL, 24, [read("nitrate", 40.0, kit)])
    then, now = (np.median(seen(each, HOUR)[:, at.Q_NITRATE]) for each in (ensemble, update.ensemble))
    assert then < 14
    assert 27 < now < 45  # by far most of the way, within the kit's error
    (found,) = update.disagreements
    assert found.quantity == "nitrate"
    assert "something happened that no record tells of" in advice(found.quantity)
    bias = natural(update.ensemble.scores)[:, at.P_NITRATE_BIAS]
    assert 0.85 < np.median(bias) < 1.2  # the water has changed, not the bottle
    assert np.log(_tan(update.ensemble)).std() < 1.2 * np.log(_tan(ensemble)).std()  # nor the filter


def test_twice_the_nitrate_moves_it_by_bayes_alone():
    """Spreads of ln: 0.2 of the water, 0.2 and 0.12 of the kit and its bias, so 0.04 / (0.04 + 0.04 + 0.0144) of the way."""
    known = draw(BARREL, replace(MATURE, nitrate=10.0, concentration_spread=0.2), seed=9)
    update = assimilate(known, BARREL, 24, [read("nitrate", 20.0, Kit(0.2, digit=0.1))])
    then, now = (np.log(np.median(seen(each, HOUR)[:, at.Q_NITRATE])) for each in (known, update.ensemble))
    assert update.disagreements == ()
    assert (now - then) / np.log(2) == pytest.approx(0.42, abs=0.1)


def test_readings_that_agree_raise_no_alarm():
    """Over a year of invented tests false alarms are as rare as their threshold says: 1 in 200 readings."""
    alarms = total = 0
    for seed in range(60):
        truth = draw(BARREL, MATURE, members=2, seed=500 + seed)
        record, own = seen(truth, HOUR)[0], natural(truth.scores)[0]
        randomness = np.random.default_rng(seed)
        shown = []
        for quantity, bias in (("tan", at.P_TAN_BIAS), ("nitrate", at.P_NITRATE_BIAS), ("ph", at.P_PH_BIAS)):
            kit = USUAL_KITS[quantity]
            value = float(record[at.QUANTITY[quantity]])
            shown.append(read(quantity, simulate(read(quantity, 0.0), kit, value, own[bias], randomness)))
        alarms += len(assimilate(draw(BARREL, MATURE, seed=seed), BARREL, 24, shown).disagreements)
        total += len(shown)
    assert alarms <= 0.03 * total


def test_between_tests_it_widens_again():
    known = assimilate(
        draw(BARREL, MATURE, seed=5),
        BARREL,
        24,
        [read("tan", 0.25), read("nitrite", 0.0), read("nitrate", 20.0)],
    ).ensemble
    fed = steady(21 * 24, 24, [Meal(24 * day, 3, 12) for day in range(21)])
    later, records = advance(known, BARREL, fed, every=24)
    low, high = np.quantile(records[:, :, at.Q_NITRATE], (0.05, 0.95), axis=0)
    width = high - low
    assert width[0] < width[7] < width[14] < width[-1]
    assert later.scores.std(axis=0)[at.P_RELEASE] >= 0.9 * known.scores.std(axis=0)[at.P_RELEASE]


def test_what_was_learned_fades_to_the_prior():
    """Mean-reverting: after t days a share exp(-t / days) of what was learned is left, and the spread is 1 again."""
    randomness = np.random.default_rng(6)
    sharp = np.full((4000, len(PRIORS)), 2.0)
    later = drifted(sharp, 60, randomness.standard_normal(sharp.shape))
    for row, prior in enumerate(PRIORS):
        kept = math.exp(-60 / prior.days)
        assert later[:, row].mean() == pytest.approx(2 * kept, abs=0.06)
        assert later[:, row].std() == pytest.approx(math.sqrt(1 - kept**2), abs=0.05)


def test_widening_keeps_signs_and_adds_spread():
    known = assimilate(draw(BARREL, MATURE, seed=7), BARREL, 24, [read("tan", 0.5)] * 3).ensemble
    loose = widened(known, "tan")
    assert np.log(_tan(loose)).std() > np.log(_tan(known)).std()
    assert (loose.states >= 0).all()
    assert loose.states[:, at.VOLUME] == pytest.approx(known.states[:, at.VOLUME])


@pytest.mark.parametrize(
    ("surprises", "quantity"),
    [({"tan": 3.0, "nitrite": 3.0}, "tan"), ({"alkalinity": 20.0, "ph": 6.0}, "alkalinity")],
)
def test_two_surprises_in_one_test_leave_each_other_what_they_said(surprises, quantity):
    """A second reading that is surprising too is no reason to forget the first: its band stays about as narrow."""
    kit = {"tan": Kit(0.12, 0.1, digit=0.1), "nitrite": Kit(0.12, 0.1, digit=0.1)}
    quiet = draw(BARREL, replace(MATURE, tan=0.05, nitrite=0.02, alkalinity=150, ph=7.8), seed=4)
    readings = [read(name, value, kit.get(name)) for name, value in surprises.items()]
    alone, both = (assimilate(quiet, BARREL, 24, each) for each in (readings[:1], readings))
    assert {found.quantity for found in both.disagreements} == set(surprises)
    column = at.QUANTITY[quantity]
    (low_alone, high_alone), (low, high) = (
        np.quantile(seen(each.ensemble, HOUR)[:, column], (0.05, 0.95)) for each in (alone, both)
    )
    assert low < surprises[quantity] < high
    assert math.log(high / low) < 1.6 * math.log(high_alone / low_alone)


def test_the_same_seed_gives_the_same_update():
    one, two = (
        assimilate(draw(BARREL, MATURE, seed=8), BARREL, 24, [read("tan", 8.0)]).ensemble for _ in range(2)
    )
    assert np.array_equal(one.states, two.states)
    assert np.array_equal(one.scores, two.scores)


def test_priors_have_their_medians_and_spreads():
    scores = np.zeros((3, len(PRIORS)))
    scores[1], scores[2] = 1.0, -1.0
    values = natural(scores)
    for row, prior in enumerate(PRIORS):
        assert values[0, row] == pytest.approx(prior.median)
        if prior.scale == "log":
            assert values[1, row] / prior.median == pytest.approx(math.exp(prior.spread))
        elif prior.scale == "share":
            assert 0 < values[2, row] < prior.median < values[1, row] < 1
        assert prior.source


@pytest.mark.parametrize(
    "make",
    [
        lambda: Observation("tan", 1.0, 0.5, 0.2),
        lambda: Observation("tan", 0.0, 0.5, 0.0),
        lambda: Observation("colour", 0.0, 0.5, 0.1),
        lambda: read("tan", -1.0),
        lambda: read("tan", float("nan")),
        lambda: colour_card(0.0, 5),
    ],
)
def test_impossible_readings_are_refused(make):
    with pytest.raises(OutOfRange):
        make()


def test_no_lower_end_for_none_at_all():
    low, high = limits_scaled(read("tan", 0.0))
    assert low == -math.inf
    assert high == pytest.approx(math.log(0.125 + 0.05))


@pytest.mark.parametrize(("shown", "back"), [(6.6, 0.45), (9.5, 0.65)])
def test_a_surprising_ph_stays_with_the_water_and_leaves_measured_alkalinity_alone(shown, back):
    """Alkalinity was read two days ago (140 within 8 %): pH moves it by less than a third, and does not heal by itself.

    Carbon dioxide alone would be in balance with usual air, and pH within 0.1 of what it was before, within a day.
    back: of the way back to before, the most that the meter is expected to have gone after two days.
    """
    known = draw(BARREL, replace(MATURE, alkalinity=140.0, ph=7.8), seed=4)
    fed = steady(48, 24, [Meal(10, 3, 12)])
    known = assimilate(known, BARREL, 24, [read("alkalinity", 140.0), read("ph", 7.8)]).ensemble
    known, _ = advance(known, BARREL, fed)
    update = assimilate(known, BARREL, 24, [read("ph", shown)])
    later, _ = advance(update.ensemble, BARREL, fed)
    (found,) = update.disagreements
    assert found.quantity == "ph"
    then, now = (np.median(seen(each, HOUR)[:, at.Q_ALKALINITY]) for each in (known, update.ensemble))
    assert 2 / 3 < now / then < 4 / 3
    before, after = (
        np.median(seen(each, HOUR)[:, at.Q_PH] + each.parameters[:, at.P_PH_BIAS]) for each in (known, later)
    )
    assert (shown - after) / (shown - before) < back
