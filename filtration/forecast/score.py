"""How good past forecasts were, told by the measurements that came later.

Coverage: an honest 90 % band holds nine readings in ten. A reading is an interval of values that read the same, so
what counts is the part of its forecast chance that lies inside the band (the probability integral transform of
discrete data, not randomised; Czado, Gneiting & Held 2009, Biometrics 65:1254, recalled, not re-read).
"""

import math
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass

from refuge.errors import OutOfRange

CHANCES = (0.05, 0.25, 0.50, 0.75, 0.95)


@dataclass(frozen=True)
class Judged:
    """One reading beside the levels forecast for it: 5, 25, 50, 75 and 95 %, the kit's error included.

    low, high: the values that read the same; they may be infinite (no colour at all; the last colour of a card).
    """

    quantity: str
    levels: tuple[float, float, float, float, float]
    low: float
    high: float

    def __post_init__(self) -> None:
        if list(self.levels) != sorted(self.levels):
            raise OutOfRange("levels", self.levels, "five values in rising order")
        if self.low > self.high:
            raise OutOfRange("high", self.high, f"at least {self.low:g}")

    @property
    def middle(self) -> float:
        """The value that stands for the reading: the middle, or the one end there is."""
        low = self.low if math.isfinite(self.low) else min(self.high, 0.0)
        return 0.5 * (low + self.high) if math.isfinite(self.high) else low


@dataclass(frozen=True)
class Score:
    """count of readings; share of them inside the 50 and 90 % bands."""

    count: int
    within_50: float
    within_90: float


def score(judged: Iterable[Judged]) -> dict[str, Score]:
    """The score of each quantity that was measured."""
    groups: dict[str, list[Judged]] = defaultdict(list)
    for each in judged:
        groups[each.quantity].append(each)
    return {quantity: _score(group) for quantity, group in groups.items()}


def _score(group: list[Judged]) -> Score:
    count = len(group)
    return Score(
        count,
        sum(_inside(each, 1, 3) for each in group) / count,
        sum(_inside(each, 0, 4) for each in group) / count,
    )


def _inside(each: Judged, lower: int, upper: int) -> float:
    """Share (0 to 1) of the reading's forecast chance that lies inside a band."""
    below, above = chance_below(each.levels, each.low), chance_below(each.levels, each.high)
    if above - below < 1e-9:
        return float(each.levels[lower] <= each.middle <= each.levels[upper])
    return max(0.0, min(CHANCES[upper], above) - max(CHANCES[lower], below)) / (above - below)


def chance_below(levels: tuple[float, ...], value: float) -> float:
    """Forecast chance (0 to 1) of less than `value`: straight between the levels, on at the same slope outside."""
    if value <= levels[0]:
        return max(0.0, CHANCES[0] - _slope(levels, 0) * (levels[0] - value))
    if value >= levels[-1]:
        return min(1.0, CHANCES[-1] + _slope(levels, 3) * (value - levels[-1]))
    left = max(index for index in range(4) if levels[index] <= value)
    return CHANCES[left] + _slope(levels, left) * (value - levels[left])


def _slope(levels: tuple[float, ...], left: int) -> float:
    return (CHANCES[left + 1] - CHANCES[left]) / max(levels[left + 1] - levels[left], 1e-12)
