"""Learning from a water test: a sequential Bayesian update of the ensemble.

Which, and why. Each reading is one number with an exact likelihood (kits.likelihood): an interval, seen through
the kit's error and bias. In the space of that number Bayes' rule is done without any assumption of shape: the
members are mapped, in their order, from the prior's quantiles to the posterior's. What moved is then spread to
the states and parameters by regression on the members. This is the two-step form of the ensemble filters
(Anderson 2003, Mon. Wea. Rev. 131:634), with the rank-histogram prior (Anderson 2010, MWR 138:4186; both
recalled, not re-read). Members are never weighted or copied, so the ensemble cannot collapse onto a few of them
as a particle filter of 128 would with 26 parameters; an interval that holds all members moves none of them, which
a filter with Gaussian errors gets wrong. Regression is done on logarithms and log-odds, so nothing turns negative.

Guards: chance correlations of 128 members are shrunk; a reading that few members could have given (effective
sample size below EFFECTIVE_SHARE) is taken in several smaller bites; what spread is lost is partly given back,
since 128 members overrate what they have learned (relaxation to prior spread, Whitaker & Hamill 2012, recalled); one that contradicts nearly all is reported
as a Disagreement, and the ensemble is widened first, since then the filter itself may have changed.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr, ndtri

from filtration.forecast import layout as at
from filtration.forecast.bands import column
from filtration.forecast.circuit import Circuit
from filtration.forecast.ensemble import Ensemble, seen
from filtration.forecast.inputs import forcing, steady
from filtration.forecast.kits import Observation, chance_of_less, likelihood, limits_scaled, predicted
from filtration.forecast.priors import PRIORS

Floats = NDArray[np.float64]
EFFECTIVE_SHARE = 0.3
MOST_BITES = 8
SURPRISE = 0.005
WIDENING = 0.7
RELAXATION = 0.15
LARGEST_MOVE = 4.0
LARGEST_SCORE = 4.5
# Beyond the outermost members, in standard deviations.
TAIL = np.array([0.05, 0.1, 0.2, 0.35, 0.5, 0.75, 1.0, 1.4, 1.9, 2.5, 3.5, 5.0, 8.0, 15.0, 40.0])
# Around both ends of what was read, in errors of the kit.
AROUND = np.array([0.5, 1.0, 1.5, 2.25, 3.0, 4.0, 5.0, 7.0, 9.0])
AROUND = np.concatenate([-AROUND[::-1], [0.0], AROUND])
LOGS = [
    at.GUT,
    at.EXCRETA,
    at.TAN,
    at.NITRITE,
    at.NITRATE,
    at.ALKALINITY,
    at.OXYGEN,
    at.CARBON_DIOXIDE,
    at.GUT_SOLIDS,
    at.SUSPENDED,
    at.EASY,
    at.INERT,
    at.MEDIA,
]
ODDS = [at.AMMONIA_OXIDIZERS, at.NITRITE_OXIDIZERS]
# What a reading that contradicts the model casts doubt on, besides every parameter. Ammonia and nitrite tell of the
# filter; the others of something in the water that no record told of. pH says nothing of alkalinity, which its own test
# measures: it is doubted as carbon dioxide, and that as what keeps it so (see widened).
_WORK = (at.TAN, at.NITRITE, at.AMMONIA_OXIDIZERS, at.NITRITE_OXIDIZERS)
DOUBTED = {
    "tan": _WORK,
    "nitrite": _WORK,
    "nitrate": (at.NITRATE,),
    "alkalinity": (at.ALKALINITY, at.CARBON_DIOXIDE),
    "ph": (at.CARBON_DIOXIDE,),
    "oxygen": (at.OXYGEN,),
    "suspended": (at.SUSPENDED,),
    "sediment": (at.EASY, at.INERT),
}
AIR_SPREAD = PRIORS[at.P_AIR_CARBON_DIOXIDE].spread
TINY = 1e-9


@dataclass(frozen=True)
class Disagreement:
    """Reading and model disagree: retest, or the filter has changed.

    low, high: what was read; expected_low, expected_high: where the model had 90 % of its members; chance: how
    often a reading at least this far off would come up if the model were right (0 to 1).
    """

    quantity: str
    low: float
    high: float
    expected_low: float
    expected_high: float
    chance: float


def advice(quantity: str) -> str:
    """What a reading may mean that contradicts the model. Ammonia and nitrite tell of the filter."""
    if quantity in {"tan", "nitrite"}:
        return "Retest, or the filter has changed."
    return "Retest, or something happened that no record tells of."


@dataclass(frozen=True, eq=False)
class Update:
    """The ensemble after a test; the readings that contradict it; effective sample share (0 to 1) of each."""

    ensemble: Ensemble
    disagreements: tuple[Disagreement, ...]
    effective_shares: tuple[float, ...]


def assimilate(
    ensemble: Ensemble, circuit: Circuit, temperature_c: float, observations: Sequence[Observation]
) -> Update:
    """Take in the readings of one test, one after the other. temperature_c: of the water, 0 to 40.

    All of them are held against the water as it was forecast, and it is widened once for all that contradict it, before
    any is taken in: widened between two readings, it would forget what the first of them has just said.
    """
    hour = forcing(circuit, steady(1, temperature_c))[0]
    compared = (_disagreement(ensemble, hour, each, _expected(ensemble, hour, each)) for each in observations)
    disagreements = tuple(found for found in compared if found)
    if disagreements:
        ensemble = widened(ensemble, *(found.quantity for found in disagreements))
    ensemble, shares = _take_in(ensemble, hour, observations)
    return Update(ensemble, disagreements, shares)


def _expected(ensemble: Ensemble, hour: Floats, observation: Observation) -> Floats:
    return predicted(observation, seen(ensemble, hour), ensemble.parameters)


def _disagreement(
    ensemble: Ensemble, hour: Floats, observation: Observation, expected: Floats
) -> Disagreement | None:
    less = chance_of_less(observation, expected)
    chance = 2 * min(less, 1 - less)
    if chance >= SURPRISE:
        return None
    values = seen(ensemble, hour)[:, column(observation.quantity)]
    low, high = (float(value) for value in np.quantile(values, (0.05, 0.95)))
    return Disagreement(observation.quantity, observation.low, observation.high, low, high, chance)


def _take_in(
    ensemble: Ensemble, hour: Floats, observations: Sequence[Observation]
) -> tuple[Ensemble, tuple[float, ...]]:
    """The readings in as many bites as each takes, a bite of one after a bite of the other; and their effective shares.

    By turns, since a long way that one takes pulls the others along by chance: their next bites put that right. (The
    rule is that of an ensemble smoother that takes in its data several times over, each time with a part of their
    weight: Emerick & Reynolds 2013, Comput. Geosci. 55:3, recalled.) Who needs one bite only comes in the last turn.
    """
    shares = tuple(
        effective_share(likelihood(each, _expected(ensemble, hour, each))) for each in observations
    )
    bites = [min(max(math.ceil(EFFECTIVE_SHARE / max(share, 1e-3)), 1), MOST_BITES) for share in shares]
    for left in range(max(bites, default=0), 0, -1):
        for observation, wanted in zip(observations, bites, strict=True):
            if left <= wanted:
                expected = _expected(ensemble, hour, observation)
                ensemble = _spread(ensemble, expected, moved(observation, expected, 1 / wanted))
    return ensemble, shares


def effective_share(weights: Floats) -> float:
    """Share of the members that carry the weight: (sum w)2 / (n sum w2), 1 when all count the same."""
    total = float(weights.sum())
    return total * total / (len(weights) * float(weights @ weights)) if total > 1e-150 else 0.0


def moved(observation: Observation, expected: Floats, power: float = 1.0) -> Floats:
    """Where each member's expected reading lies after Bayes' rule, shape (members,), order kept.

    Prior: equal chances between neighbouring members, and beyond the outermost a normal tail with a thin heavy
    one, so that no reading is impossible. `power` tempers the likelihood.
    """
    order = np.argsort(expected, kind="stable")
    knots, mass = _prior(expected[order], observation)
    middles = 0.5 * (knots[:-1] + knots[1:])
    at_knots, at_middles = (likelihood(observation, points) ** power for points in (knots, middles))
    posterior = mass * (at_knots[:-1] + 4 * at_middles + at_knots[1:]) / 6
    total = posterior.sum()
    if total < 1e-200:
        return expected
    reached = np.concatenate([[0.0], np.cumsum(posterior)]) / total
    ranks = np.arange(1, len(expected) + 1) / (len(expected) + 1)
    result = np.empty_like(expected)
    result[order] = np.interp(ranks, reached, knots)
    return result


def _prior(ordered: Floats, observation: Observation) -> tuple[Floats, Floats]:
    """Knots and the prior chance between each two of them: fine around the members and around what was read."""
    width = max(float(ordered.std()), 0.02 * observation.error)
    ends = np.array([end for end in limits_scaled(observation) if math.isfinite(end)])
    around = (ends[:, None] + observation.error * AROUND).ravel()
    farthest = np.abs(around - np.median(ordered)).max(initial=0.0)
    beyond = np.append(width * TAIL, 50 * width + farthest)
    knots = np.unique(np.concatenate([ordered[0] - beyond, ordered, around, ordered[-1] + beyond]))
    below, above = _chances(knots, ordered, width)
    # each side from its own end, so that a far tail is not lost against 1
    return knots, np.where(knots[1:] <= np.median(ordered), np.diff(below), -np.diff(above))


def _chances(knots: Floats, ordered: Floats, width: float) -> tuple[Floats, Floats]:
    """Prior chance of lying below, and above, each knot."""
    count = len(ordered)
    ranks = np.arange(1, count + 1) / (count + 1)
    inside = np.interp(knots, ordered, ranks)
    left = _tail((ordered[0] - knots) / width, count)
    right = _tail((knots - ordered[-1]) / width, count)
    below = np.where(knots < ordered[0], left, np.where(knots > ordered[-1], 1 - right, inside))
    above = np.where(knots > ordered[-1], right, np.where(knots < ordered[0], 1 - left, 1 - inside))
    return below, above


def _tail(reach: Floats, count: int) -> Floats:
    """Chance beyond a point `reach` standard deviations outside the outermost member; 1 / (count + 1) at 0."""
    edge = float(ndtri(count / (count + 1)))
    out = np.maximum(reach, 0.0)
    return np.asarray((0.98 * ndtr(-(edge + out)) / ndtr(-edge) + 0.02 * (1 + out) ** -3.0) / (count + 1))


def _spread(ensemble: Ensemble, before: Floats, after: Floats) -> Ensemble:
    """Carry a move of the expected reading over to states and parameters by regression."""
    step = after - before
    if not np.any(np.abs(step) > 1e-12):
        return ensemble
    position = _coordinates(ensemble)
    change = np.outer(step, _slopes(position, before))
    reached = position + np.clip(change, -LARGEST_MOVE, LARGEST_MOVE)
    return _from_coordinates(ensemble, _relaxed(position, reached))


def _relaxed(before: Floats, after: Floats) -> Floats:
    """`after` with part of the spread that the update took."""
    middle, left = after.mean(axis=0), np.maximum(after.std(axis=0), 1e-12)
    lost = np.maximum(before.std(axis=0) - left, 0.0)
    return np.asarray(middle + (after - middle) * (1 + RELAXATION * lost / left))


def _slopes(position: Floats, expected: Floats) -> Floats:
    """Regression of each coordinate on the expected reading, chance correlations shrunk away."""
    count = len(expected)
    away = expected - expected.mean()
    variance = max(float(away @ away) / count, 1e-18)
    offset = position - position.mean(axis=0)
    covariance = away @ offset / count
    squared = covariance**2 / (variance * np.maximum((offset**2).mean(axis=0), 1e-18))
    noise = (1 - np.minimum(squared, 1)) / (count - 1)
    return np.asarray(covariance / variance * np.maximum(1 - noise / np.maximum(squared, 1e-12), 0))


def _coordinates(ensemble: Ensemble) -> Floats:
    """Members as points without bounds: ln of amounts, log-odds of films, scores."""
    films = np.clip(ensemble.states[:, ODDS], TINY, 1 - TINY)
    amounts = np.log(ensemble.states[:, LOGS] + TINY)
    return np.concatenate([amounts, np.log(films / (1 - films)), ensemble.scores], axis=1)


def _from_coordinates(ensemble: Ensemble, position: Floats) -> Ensemble:
    """Back again. A thing that was not there stays so, and the volume is left alone: no test measures it."""
    states = ensemble.states.copy()
    amounts, films = position[:, : len(LOGS)], position[:, len(LOGS) : len(LOGS) + len(ODDS)]
    states[:, LOGS] = np.where(states[:, LOGS] > 0, np.exp(amounts), 0.0)
    states[:, ODDS] = np.where(states[:, ODDS] > 0, 1 / (1 + np.exp(-films)), 0.0)
    scores = np.clip(position[:, len(LOGS) + len(ODDS) :], -LARGEST_SCORE, LARGEST_SCORE)
    scores[:, at.P_VOLUME] = ensemble.scores[:, at.P_VOLUME]
    return Ensemble(states, scores, ensemble.seed, ensemble.draws)


def widened(ensemble: Ensemble, *quantities: str, by: float = WIDENING) -> Ensemble:
    """The ensemble with much of what it had learned forgotten: parameters, and what readings of `quantities` doubt.

    Carbon dioxide alone would be in balance with the air again within hours, and pH heal by itself. Whatever holds pH
    where nobody expected it (a closed room, roots and algae, an acid or a base) works on. So where pH is doubted the
    water is as rich in it as the air that it is in balance with is drawn to be: what pH then says of the one it says of
    the other too, and that fades over the days of its prior. Assumption; alkalinity keeps to its own test.
    """
    position = _coordinates(ensemble)
    noise = _unrelated(ensemble.randomness().standard_normal(position.shape), position)
    doubted = {state for quantity in quantities for state in DOUBTED[quantity]}
    loose = sorted((LOGS + ODDS).index(state) for state in doubted)
    position[:, loose] += by * noise[:, loose]
    first = len(LOGS) + len(ODDS)
    balance = first + at.P_AIR_CARBON_DIOXIDE
    before = position[:, balance].copy()
    position[:, first:] = math.sqrt(1 - by**2) * position[:, first:] + by * noise[:, first:]
    if "ph" in quantities:
        dissolved, moved_by = LOGS.index(at.CARBON_DIOXIDE), position[:, balance] - before
        position[:, dissolved] += AIR_SPREAD * moved_by - by * noise[:, dissolved]
    changed = _from_coordinates(ensemble, position)
    return ensemble.drawn(changed.states, changed.scores)


def _unrelated(noise: Floats, position: Floats) -> Floats:
    """Noise without a chance correlation, among its columns or with the coordinates; each of spread 1, (members, coordinates).

    A surprise is followed a long way, and along with it goes whatever happens to vary with it among the members. Where
    they are too few for that the noise stays as it is.
    """
    count, columns = noise.shape
    if count < 2 * columns + 2:
        return noise
    basis, _ = np.linalg.qr(np.column_stack([np.ones(count), position - position.mean(axis=0)]))
    free, _ = np.linalg.qr(noise - basis @ (basis.T @ noise))
    return np.asarray(free * math.sqrt(count))
