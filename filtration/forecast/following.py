"""Following a water through its history: forecast to each test, judge the forecast by it, learn from it."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtri

from filtration.forecast.assimilation import Disagreement, assimilate
from filtration.forecast.bands import LEVELS
from filtration.forecast.circuit import Beginning, Circuit
from filtration.forecast.ensemble import MEMBERS, Ensemble, advance, draw, seen
from filtration.forecast.inputs import Inputs, forcing, steady
from filtration.forecast.kits import Observation, predicted
from filtration.forecast.score import Judged
from refuge.errors import OutOfRange

Floats = NDArray[np.float64]
Levels = tuple[float, float, float, float, float]
# Errors that stand for the whole normal distribution: the middles of so many equal parts.
ERRORS = ndtri((np.arange(15) + 0.5) / 15)


@dataclass(frozen=True)
class WaterReading:
    """A water test `hour` hours after the start of the inputs."""

    hour: int
    observations: tuple[Observation, ...]


@dataclass(frozen=True, eq=False)
class Followed:
    """The members at the end; each reading that contradicted them, by hour; each reading beside its forecast."""

    ensemble: Ensemble
    disagreements: tuple[tuple[int, Disagreement], ...]
    judged: tuple[Judged, ...]


def follow(
    circuit: Circuit,
    inputs: Inputs,
    start: Beginning | Ensemble,
    tests: Sequence[WaterReading],
    *,
    members: int = MEMBERS,
    seed: int = 0,
) -> Followed:
    """Through all hours of `inputs`, learning from each test on the way (tests in the order of their hours).

    Each reading is judged by what was forecast since the test before. OutOfRange for tests out of order or
    outside the hours.
    """
    ensemble = start if isinstance(start, Ensemble) else draw(circuit, start, members=members, seed=seed)
    hour, disagreements, judged = 0, [], []
    for test in tests:
        if not hour <= test.hour <= inputs.hours:
            raise OutOfRange("hour", test.hour, f"from {hour} to {inputs.hours}, tests in order")
        ensemble, _ = advance(ensemble, circuit, inputs.between(hour, test.hour))
        hour = test.hour
        celsius = float(inputs.temperature_c[min(hour, inputs.hours - 1)])
        judged += judge(ensemble, circuit, celsius, test.observations)
        update = assimilate(ensemble, circuit, celsius, test.observations)
        ensemble = update.ensemble
        disagreements += [(hour, found) for found in update.disagreements]
    ensemble, _ = advance(ensemble, circuit, inputs.between(hour, inputs.hours))
    return Followed(ensemble, tuple(disagreements), tuple(judged))


def judge(
    ensemble: Ensemble, circuit: Circuit, temperature_c: float, observations: Sequence[Observation]
) -> list[Judged]:
    """Each reading beside the levels that were forecast for it, the kit's error and bias included."""
    row = forcing(circuit, steady(1, temperature_c))[0]
    values, own = seen(ensemble, row), ensemble.parameters
    return [
        Judged(
            each.quantity,
            levels_of_reading(each, predicted(each, values, own)),
            each.low,
            each.high,
        )
        for each in observations
    ]


def levels_of_reading(observation: Observation, expected: Floats) -> Levels:
    """5, 25, 50, 75 and 95 % of what the kit may show [unit of the quantity]; expected: on the kit's scale."""
    return _levels(observation, np.quantile(expected[:, None] + observation.error * ERRORS, LEVELS))


def _levels(observation: Observation, shown: Floats) -> Levels:
    """Five levels from the kit's scale back to the unit of the quantity."""
    if observation.quantity != "ph":
        shown = np.maximum(np.exp(shown) - observation.floor, 0.0)
    five, lower, middle, upper, ninety_five = (float(level) for level in shown)
    return five, lower, middle, upper, ninety_five
