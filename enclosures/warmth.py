"""How warm a water is when nobody reads it: by its heater, or by the season. Plain Python, no Django.

A water that is kept warm has one usual temperature. One that follows the season swings between a warmest and a
coldest month along a cosine, as the mean temperatures of shallow ponds nearly do (common practice, no source).
What a thermometer showed goes before: it moves the curve, and that move fades after the last reading.
"""

from dataclasses import dataclass
from datetime import date

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.float64]
DAYS_A_YEAR = 365.25
DAYS_A_MONTH = DAYS_A_YEAR / 12
# Days after which a third is left of what the last reading was off. Outdoors a spell of weather passes; a heater
# that is set otherwise than the books say stays so. Assumption.
SPELL_DAYS, SETTING_DAYS = 8.0, 90.0


@dataclass(frozen=True, slots=True)
class Warmth:
    """usual_c: kept all year, or the mean of the warmest month where there is a coldest_c, that of the coldest.

    warmest_month: 1 to 12; south of the equator that is January or so.
    """

    usual_c: float
    coldest_c: float | None = None
    warmest_month: int = 7

    @property
    def follows_season(self) -> bool:
        return self.coldest_c is not None

    def usual_on(self, days: ArrayLike) -> Floats:
        """Usual temperature [C] on days since the first of January of any year; shape as `days`."""
        at = np.asarray(days, dtype=float)
        if self.coldest_c is None:
            return np.full(at.shape, self.usual_c)
        warmest = (self.warmest_month - 0.5) * DAYS_A_MONTH
        swing = 0.5 * (self.usual_c - self.coldest_c)
        return np.asarray(
            self.coldest_c + swing * (1 + np.cos(2 * np.pi * (at - warmest) / DAYS_A_YEAR)), dtype=float
        )


def day_of_year(day: date) -> int:
    """Days since the first of January, which is 0."""
    return day.timetuple().tm_yday - 1


def temperatures(warmth: Warmth, days: ArrayLike, read_days: ArrayLike, read_c: ArrayLike) -> Floats:
    """Water temperature [C] on `days`, given what was read on `read_days` (ascending; both may be empty).

    Days are counted from the first of January of one year, and may be negative or more than a year. Between two
    readings what they were off is taken evenly; before the first it is that of the first; after the last it fades.
    """
    at, known = np.asarray(days, dtype=float), np.asarray(read_days, dtype=float)
    usual = warmth.usual_on(at)
    if not known.size:
        return usual
    off = np.interp(at, known, np.asarray(read_c, dtype=float) - warmth.usual_on(known))
    fades_in = SPELL_DAYS if warmth.follows_season else SETTING_DAYS
    return np.asarray(usual + off * np.exp(-np.maximum(at - known[-1], 0.0) / fades_in), dtype=float)


def temperature_now(warmth: Warmth, today: date, read_on: date | None, read_c: float | None) -> float:
    """Today's temperature [C] from the last reading, if there is one."""
    now = day_of_year(today)
    if read_on is None or read_c is None:
        return float(warmth.usual_on(now))
    return float(temperatures(warmth, [now], [now - (today - read_on).days], [read_c])[0])
