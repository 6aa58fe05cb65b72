"""Two forecasts of one water in numbers: as it is, and as it would be. Plain Python; telling.py says them in words.

Chances are shares (0 to 1) of the members of the ensemble; days count from 0, today. Concentrations in mg/L,
nitrogen as N.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from filtration.forecast import LEVELS, Forecast
from filtration.forecasting.limits import Bound, bound_of

MIDDLE = LEVELS.index(0.5)
# Below NO_RISK nothing is said to threaten; above AT_RISK something is. Assumption: a hundred and some members
# cannot tell less apart.
NO_RISK, AT_RISK = 0.02, 0.05
CARE = 0.1  # from here on a day is worth care; the page of the forecast says the same day
GRAVE = 0.5  # from here on something is likely, and calls for something else
# What is told as a difference: expected days beyond the limit, the chance of the worst day, or the middle
# forecast at its worst, as a share of the limit. Assumption.
TELLING_DAYS, TELLING_CHANCE, TELLING_SHARE = 0.5, 0.1, 0.15
# What was eaten before is gone by then: from this day on (the second week), what is fed from now on shows alone.
FRESH_FROM_DAY = 7
# Swings that are told as evener or rougher: less than this share of the other.
EVENER = 0.6


@dataclass(frozen=True, eq=False)
class Side:
    """One of the two: bands (records, levels) and the chance of passing the limit on each day."""

    bands: NDArray[np.float32]
    chances: NDArray[np.float64]
    is_least: bool

    @cached_property
    def days_beyond(self) -> float:
        """Days beyond the limit that are to be expected: the chances of all days added up."""
        return float(self.chances.sum())

    @cached_property
    def worst_chance(self) -> float:
        return float(self.chances.max())

    @cached_property
    def worst_day(self) -> int:
        return int(self.chances.argmax())

    @property
    def is_calm(self) -> bool:
        return self.worst_chance <= NO_RISK

    @property
    def is_likely(self) -> bool:
        """Whether it is likely beyond its limit on any day."""
        return self.worst_chance >= GRAVE

    @cached_property
    def first_day(self) -> int:
        """The first day that is worth care; the worst one if none is."""
        return self._first(CARE)

    @cached_property
    def likely_from(self) -> int:
        """The first day on which it is likely beyond its limit; the worst one if it never is."""
        return self._first(GRAVE)

    def _first(self, chance: float) -> int:
        worth = np.flatnonzero(self.chances >= chance)
        return int(worth[0]) if worth.size else self.worst_day

    @cached_property
    def extreme(self) -> float:
        """The middle forecast at its worst: the highest value, or the lowest of what must not fall."""
        middle = self.bands[:, MIDDLE]
        return float(middle.min() if self.is_least else middle.max())

    @cached_property
    def swing(self) -> tuple[float, float]:
        """Lowest and highest of the middle forecast in the second week."""
        first = FRESH_FROM_DAY * len(self.bands) // len(self.chances)
        middle = self.bands[first:, MIDDLE]
        return float(middle.min()), float(middle.max())


@dataclass(frozen=True, eq=False)
class Course:
    """One quantity before and after. limit: in the unit of `bound`."""

    bound: Bound
    limit: float
    before: Side
    after: Side

    @cached_property
    def telling(self) -> tuple[str, float]:
        """What differs enough to be told, and by how much, above zero for the worse; ('', 0) for nothing.

        'days' beyond the limit, else the 'chance' of the worst day, else the middle forecast's 'value' at its worst.
        """
        days = (self.after.days_beyond - self.before.days_beyond) / TELLING_DAYS
        chance = (self.after.worst_chance - self.before.worst_chance) / TELLING_CHANCE
        value = (self.after.extreme - self.before.extreme) / abs(self.limit) / TELLING_SHARE
        told = {"days": days, "chance": chance, "value": -value if self.bound.is_least else value}
        return next(((kind, by) for kind, by in told.items() if abs(by) >= 1), ("", 0.0))

    @cached_property
    def verdict(self) -> str:
        """'worse', 'better' or 'same'."""
        kind, by = self.telling
        return ("worse" if by > 0 else "better") if kind else "same"

    @cached_property
    def is_calm(self) -> bool:
        """Nothing to fear on either side."""
        return self.after.is_calm and self.before.is_calm

    @cached_property
    def evenness(self) -> str:
        """'evener', 'rougher' or '': how the changed water swings between meals, against the other."""
        old, new = (high - low for low, high in (self.before.swing, self.after.swing))
        if max(old, new) < TELLING_SHARE * abs(self.limit):
            return ""
        return "evener" if new < EVENER * old else ("rougher" if old < EVENER * new else "")

    @cached_property
    def is_no_higher_later(self) -> bool:
        """For what must not rise: whether the middle forecast of the second week peaks no higher than before."""
        return not self.bound.is_least and self.after.swing[1] <= self.before.swing[1]

    @property
    def passes(self) -> str:
        return "falls below" if self.bound.is_least else "passes"


def courses(before: Forecast, after: Forecast) -> list[Course]:
    """Every quantity that has a limit, in the order of the limits. Both forecasts must have the same limits."""
    return [
        Course(
            bound_of(limit.quantity, is_least=limit.is_least),
            limit.value,
            _side(before, row),
            _side(after, row),
        )
        for row, limit in enumerate(before.limits)
    ]


def _side(forecast: Forecast, row: int) -> Side:
    limit = forecast.limits[row]
    return Side(forecast.band(limit.quantity), forecast.chances[row], limit.is_least)
