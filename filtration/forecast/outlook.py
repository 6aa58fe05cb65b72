"""What follows from a forecast: the next test, when a meal has cleared, the days of a drain, a rinse, a change."""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from filtration.forecast import layout as at
from filtration.forecast.bands import LEVELS, Forecast, Limit, Singles, column
from filtration.forecast.ensemble import HOURS_A_DAY, Ensemble
from filtration.solids import DEFAULT_MODEL
from refuge.errors import checked, positive

Floats = NDArray[np.float64]
# Chances between these two are neither "all well" nor "certainly not". Assumption.
SURE_NOT, SURE = 0.05, 0.95
# Fine solids below which the bottom of a tank can be seen well [mg/L]. Common practice, no source.
CLEAR_MG_L = 5.0
LONGEST_DAYS = 3652.5


@dataclass(frozen=True)
class NextTest:
    """The first day (0 is today) on which the forecast is no longer sure enough, and why, with its numbers.

    kind: 'may pass', 'will pass', 'too vague' or 'longest interval'. chance: of passing the limit on that day.
    width: of the 90 % band at the end of that day. limit: the one in doubt.
    """

    day: int
    kind: str
    quantity: str
    chance: float
    width: float
    reason: str
    limit: Limit | None = None


def days_until_unsure(forecast: Forecast, *, longest_days: int, sure_not: float = SURE_NOT) -> NextTest:
    """When the next water test falls due.

    The first day on which, for any of the forecast's limits, the chance of passing it is above `sure_not`, or
    the 90 % band is wider than the limit allows (Limit.allowed_width). At the latest `longest_days`, or the
    last day that was forecast. A limit passed almost surely counts as well: then the test shows how far. Of several
    in doubt on that day it is the one most likely to be passed.
    """
    last = min(int(checked("longest_days", longest_days, 0)), forecast.chances.shape[1])
    for day in range(last):
        doubts = (_doubt(forecast, row, limit, day, sure_not) for row, limit in enumerate(forecast.limits))
        worst = max(
            filter(None, doubts), key=lambda each: (each.kind != "too vague", each.chance), default=None
        )
        if worst:
            return worst
    return NextTest(last, "longest interval", "", 0.0, 0.0, f"Nothing in doubt for {last} days")


def _doubt(forecast: Forecast, row: int, limit: Limit, day: int, sure_not: float) -> NextTest | None:
    chance = float(forecast.chances[row, day])
    width = band_width(forecast, limit, day)
    side = "below" if limit.is_least else "above"
    if chance > sure_not:
        kind = "will pass" if chance >= SURE else "may pass"
        words = f"chance of {limit.quantity} {side} {limit.value:g} on day {day + 1}: {chance:.0%}"
        return NextTest(day, kind, limit.quantity, chance, width, words, limit)
    if width > limit.allowed_width:
        words = (
            f"{limit.quantity} on day {day + 1} is known within {width:.3g} only, "
            f"more than {limit.allowed_width:g}"
        )
        return NextTest(day, "too vague", limit.quantity, chance, width, words, limit)
    return None


def band_width(forecast: Forecast, limit: Limit, day: int) -> float:
    """Width of the 90 % band at the end of a day (0 is the first)."""
    band = forecast.band(limit.quantity)
    record = min((day + 1) * HOURS_A_DAY // forecast.every, len(band) - 1)
    return float(band[record, -1] - band[record, 0])


@dataclass(frozen=True)
class Span:
    """When something happens, as quantiles over the members; None: not within what was looked at.

    share: of the members in which it happens at all.
    """

    early: float | None
    middle: float | None
    late: float | None
    share: float


def span(times: Floats) -> Span:
    """The 5, 50 and 95 % quantiles of times that may be infinite, shape (members,)."""
    ordered = np.sort(times)
    picked = (float(ordered[math.ceil(level * len(ordered)) - 1]) for level in (LEVELS[0], 0.5, LEVELS[-1]))
    early, middle, late = (time if math.isfinite(time) else None for time in picked)
    return Span(early, middle, late, float(np.isfinite(times).mean()))


def hours_to_clear(records: Singles, every: int, fed_at_hour: int, clear_mg_l: float = CLEAR_MG_L) -> Span:
    """Hours from a meal until the fine solids are below `clear_mg_l` and stay so for the rest of the records.

    records: (members, records, quantities), one every `every` hours. 0 for a member that never clouds.
    """
    after = records[:, fed_at_hour // every :, at.Q_SUSPENDED]
    cloudy = after > positive("clear_mg_l", clear_mg_l)
    last = np.where(cloudy.any(axis=1), cloudy.shape[1] - cloudy[:, ::-1].argmax(axis=1), 0)
    return span(np.where(last < cloudy.shape[1], last * float(every), np.inf))


def days_until_passing(records: Singles, every: int, limit: Limit) -> Span:
    """Days until each member first passes a limit, such as nitrate for the next water change."""
    passed = limit.passed(records[:, :, column(limit.quantity)])
    first = passed.argmax(axis=1) * every / HOURS_A_DAY
    return span(np.where(passed.any(axis=1), first, np.inf))


def days_until_drain(
    ensemble: Ensemble,
    limit_litres: float,
    solids_g_day: float,
    temperature_c: float,
    correction: float = 1.0,
    loose: tuple[float, float] = (0.0, 0.0),
) -> Span:
    """Days until the sediment in the void reaches `limit_litres`, at a steady load of solids.

    solids_g_day: dry solids that the animals make, before capture. correction: observed over modelled sediment
    at earlier drains. loose: shares (0 to 1) of the digestible and of the other sediment that are not packed yet. Same sums as filtration.solids.project_days_until, with each member's capture and
    digestion; infinite beyond ten years.
    """
    own = ensemble.parameters
    limit = positive("limit_litres", limit_litres) / positive("correction", correction)
    packing, packed, more = (
        DEFAULT_MODEL.packing_per_day,
        DEFAULT_MODEL.packed_l_per_g,
        DEFAULT_MODEL.loose_l_per_g,
    )
    settling = own[:, at.P_CAPTURE] * checked("solids_g_day", solids_g_day, 0)
    decay = own[:, at.P_DIGESTION] * DEFAULT_MODEL.decay_per_day(temperature_c)
    steady = settling * (1 - DEFAULT_MODEL.inert_share) / decay
    easy, inert = ensemble.states[:, at.EASY], ensemble.states[:, at.INERT]

    fluffy = settling * (1 - DEFAULT_MODEL.inert_share) / (decay + packing)
    staying = settling * DEFAULT_MODEL.inert_share / packing

    def litres(days: Floats) -> Floats:
        left, loose_left = np.exp(-decay * days), np.exp(-packing * days)
        dry = steady + (easy - steady) * left + inert + settling * DEFAULT_MODEL.inert_share * days
        not_packed = fluffy + (easy * loose[0] - fluffy) * left * loose_left
        not_packed += staying + (inert * loose[1] - staying) * loose_left
        return dry * packed + not_packed * more

    return span(_first_reaching(litres, limit, ensemble.members))


def _first_reaching(course: Callable[[Floats], Floats], limit: float, members: int) -> Floats:
    """Bisection for all members at once; the course crosses the limit upwards once only."""
    low, high = np.zeros(members), np.full(members, LONGEST_DAYS)
    never, now = course(high) < limit, course(low) >= limit
    for _ in range(40):
        middle = 0.5 * (low + high)
        reached = course(middle) >= limit
        low, high = np.where(reached, low, middle), np.where(reached, middle, high)
    return np.where(now, 0.0, np.where(never, np.inf, high))


def days_until_rinse(ensemble: Ensemble, limit_g: float, solids_g_day: float) -> Span:
    """Days until the solids caught in the media reach `limit_g` (dry), at a steady load of solids [g/day]."""
    own = ensemble.parameters
    caught = (1 - own[:, at.P_CAPTURE]) * checked("solids_g_day", solids_g_day, 0)
    room = positive("limit_g", limit_g) - ensemble.states[:, at.MEDIA]
    with np.errstate(divide="ignore"):
        days = np.where(room <= 0, 0.0, room / np.maximum(caught, 1e-12))
    return span(np.where(days > LONGEST_DAYS, np.inf, days))
