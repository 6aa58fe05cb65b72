"""What a water test tells: not a number but a range, seen through a kit that is a little off.

A colour card shows the nearest of a few colours, a meter rounds to its last digit. What was read is kept as the
interval that would have been read the same. The kit's error acts on ln(value + floor), where the floor stands
for what the kit cannot see at all, so that near zero the error is absolute and far above it relative; pH is plain.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray
from scipy.special import ndtr

from filtration.forecast import layout as at
from filtration.forecast.bands import column
from refuge.errors import OutOfRange, checked, positive

Floats = NDArray[np.float64]
UNBOUNDED = math.inf


@dataclass(frozen=True)
class Kit:
    """How one quantity is read.

    error: standard deviation of one reading, on the log scale (0.2: 20 %), for pH in units. floor: mg/L below
    which it sees nothing. steps: the colours of a card; empty for a meter, which rounds to `digit`.
    """

    error: float
    floor: float = 0.0
    steps: tuple[float, ...] = ()
    digit: float = 0.0

    def interval(self, value: float) -> tuple[float, float]:
        """All that would have been read as `value`: half-way to the neighbours, or half a digit each side."""
        if not self.steps:
            return value - self.digit / 2, value + self.digit / 2
        above = next((step for step in self.steps if step > value), UNBOUNDED)
        below = max((step for step in self.steps if step < value), default=-UNBOUNDED)
        return (below + value) / 2, (value + above) / 2


def colour_card(first: float, colours: int, error: float = 0.2) -> Kit:
    """A card whose colours double from `first`, with one for none at all: 0, 0.25, 0.5, 1, 2 and so on."""
    start = positive("first", first)
    steps = (0.0, *(start * 2**power for power in range(colours - 1)))
    return Kit(error, start / 5, steps)


# Usual for hobby kits and hand meters: assumption. Ammonia and nitrite as N, nitrate as N.
USUAL_KITS: dict[str, Kit] = {
    "tan": colour_card(0.25, 7),
    "nitrite": colour_card(0.25, 7),
    "nitrate": colour_card(2.5, 7),
    "alkalinity": Kit(0.08, 5.0, digit=20.0),
    "ph": Kit(0.1, digit=0.1),
    "oxygen": Kit(0.05, 0.2, digit=0.1),
    "suspended": Kit(0.4, 0.5),
    "sediment": Kit(0.15, 5.0),
}
BIASES: dict[str, int] = {
    "tan": at.P_TAN_BIAS,
    "nitrite": at.P_NITRITE_BIAS,
    "nitrate": at.P_NITRATE_BIAS,
    "alkalinity": at.P_ALKALINITY_BIAS,
    "ph": at.P_PH_BIAS,
}


@dataclass(frozen=True)
class Observation:
    """One reading: `low` to `high` is the interval that reads the same [unit of the quantity]."""

    quantity: str
    low: float
    high: float
    error: float
    floor: float = 0.0

    def __post_init__(self) -> None:
        column(self.quantity)
        positive("error", self.error)
        if not self.low < self.high:
            raise OutOfRange("high", self.high, f"above {self.low:g}")


@lru_cache(maxsize=4096)  # kits have few colours and digits, and a water's tests are read for every forecast
def read(quantity: str, value: float, kit: Kit | None = None) -> Observation:
    """The observation of `value` read with a kit, by default the usual one for the quantity."""
    checked("value", value, 0)
    used = kit or USUAL_KITS[quantity]
    low, high = used.interval(value)
    if high - low < 1e-6:
        low, high = value - 5e-7, value + 5e-7
    return Observation(quantity, low, high, used.error, used.floor)


def scaled(observation: Observation, values: Floats) -> Floats:
    """The scale on which a kit's error is normal: ln(value + floor), plain for pH."""
    if observation.quantity == "ph":
        return np.asarray(values, dtype=float)
    return np.log(np.maximum(values, 0.0) + observation.floor + 1e-12)


def limits_scaled(observation: Observation) -> tuple[float, float]:
    """Both ends of the interval on that scale; an end at or below nothing reaches down without bound."""
    if observation.quantity == "ph":
        return observation.low, observation.high
    low = observation.low + observation.floor
    high = observation.high + observation.floor
    is_none = observation.low < 0 and observation.floor > 0
    return (-UNBOUNDED if is_none or low <= 0 else math.log(low)), math.log(max(high, 1e-12))


def predicted(observation: Observation, seen: NDArray[np.float32], parameters: Floats) -> Floats:
    """What each member says the kit should show, error aside, on the kit's scale; shape (members,).

    seen: (members, quantities). parameters: (members, parameters), natural values.
    """
    values = seen[:, column(observation.quantity)].astype(float)
    bias = BIASES.get(observation.quantity)
    if bias is None:
        return scaled(observation, values)
    if observation.quantity == "ph":
        return values + parameters[:, bias]
    return scaled(observation, values * parameters[:, bias])


def likelihood(observation: Observation, at_values: Floats) -> Floats:
    """Chance (0 to 1) of reading the interval when the kit should show `at_values` (kit's scale)."""
    low, high = limits_scaled(observation)
    upper = ndtr((high - at_values) / observation.error)
    return np.asarray(upper - ndtr((low - at_values) / observation.error))


def chance_of_less(observation: Observation, at_values: Floats) -> float:
    """Predictive chance of a reading no higher than the middle of this one; near 0 or 1 is a surprise."""
    low, high = limits_scaled(observation)
    below = ndtr((low - at_values) / observation.error)
    return float(np.mean(0.5 * (below + ndtr((high - at_values) / observation.error))))


def simulate(
    observation: Observation, kit: Kit, value: float, bias: float, randomness: np.random.Generator
) -> float:
    """What a kit would show for a true `value`, for trials of the forecast; `bias` as in the parameters."""
    noise = observation.error * randomness.standard_normal()
    if observation.quantity == "ph":
        shown = value + bias + noise
    else:
        shown = (value * bias + observation.floor) * math.exp(noise) - observation.floor
    return nearest(kit.steps, shown) if kit.steps else rounded(shown, kit.digit)


def nearest(steps: Sequence[float], value: float) -> float:
    return min(steps, key=lambda step: abs(step - value))


def rounded(value: float, digit: float) -> float:
    return max(round(value / digit) * digit if digit else value, 0.0)
