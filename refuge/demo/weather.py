"""Water temperatures of the story: the pond follows the year and the weather, indoor water its heater."""

import math
import random
from datetime import date, timedelta

from refuge.demo.daybook import Daybook

POND_MEAN_C, POND_SWING_C, COLDEST_DAY, POND_FLOOR_C = 15.0, 11.0, 28, 3.0
FEEDING_AGAIN_C = 13.5


def pond_mean_c(day: date) -> float:
    """The pond's usual temperature on this day of the year; a northern, inland climate."""
    phase = 2 * math.pi * (day.timetuple().tm_yday - COLDEST_DAY) / 365.25
    return POND_MEAN_C - POND_SWING_C * math.cos(phase)


def spring_after(day: date) -> date:
    """The first day from `day` on whose usual pond temperature lets animals eat again."""
    while pond_mean_c(day) < FEEDING_AGAIN_C:
        day += timedelta(days=1)
    return day


class Weather:
    """Temperatures by day and circuit, the same for the same seed."""

    def __init__(self, daybook: Daybook, seed: int) -> None:
        self._days = daybook.days()
        self._seed = seed

    def outdoors(self) -> dict[date, float]:
        spells = _spells(random.Random(f"{self._seed}:pond"), len(self._days), keep=0.86, push=0.9)
        return {
            day: max(POND_FLOOR_C, pond_mean_c(day) + spell)
            for day, spell in zip(self._days, spells, strict=True)
        }

    def indoors(self, circuit: str, set_point_c: float) -> dict[date, float]:
        """Near the heater's set point, a little warmer in summer."""
        spells = _spells(random.Random(f"{self._seed}:{circuit}"), len(self._days), keep=0.7, push=0.22)
        return {
            day: set_point_c + 0.05 * (pond_mean_c(day) - POND_MEAN_C) + spell
            for day, spell in zip(self._days, spells, strict=True)
        }


def _spells(rng: random.Random, count: int, *, keep: float, push: float) -> list[float]:
    """Weather that remembers yesterday: each value is a share of the last plus something new."""
    spells, now = [], 0.0
    for _ in range(count):
        now = keep * now + rng.gauss(0, push)
        spells.append(now)
    return spells
