"""A young filter: when it will be mature on a feeding plan, and how much may be fed until then.

Mature: both steps could take up 1.5 times the plan's mean daily nitrogen at the design concentration of 1.5 mg/L.
That is twice the plan with plenty of ammonia, so the water settles where the film works at half its full speed:
about 0.5 mg/L of ammonia and of nitrite (half saturation), or less.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view
from numpy.typing import NDArray

from filtration.forecast import layout as at
from filtration.forecast.bands import Limit, Singles, daily_chances
from filtration.forecast.circuit import Beginning, Circuit
from filtration.forecast.ensemble import HOURS_A_DAY, MEMBERS, Ensemble, advance, draw, records_by_day
from filtration.forecast.inputs import Inputs, Meal
from filtration.forecast.outlook import Span, span
from refuge.errors import checked, positive

Floats = NDArray[np.float64]
CAPACITY_OVER_LOAD = 1.5
KEPT_DAYS = 7
CERTAINTY = 0.9
EVERY = 6
FORTNIGHT = 14 * HOURS_A_DAY
# A meal is found to within this share.
PRECISION = 0.02
# Of a ladder, whose steps are told in tenths; a share smaller than the least is no meal.
STEP_PRECISION, LEAST_SHARE = 0.05, 0.02


def days_to_mature(
    circuit: Circuit,
    inputs: Inputs,
    start: Beginning | Ensemble,
    *,
    load_g_day: float | None = None,
    members: int = MEMBERS,
    seed: int = 0,
) -> Span:
    """Days until the filter carries the plan in `inputs`, and keeps that up for KEPT_DAYS: a good day after a meal does
    not count, nor does a bad one long after.

    load_g_day: of the plan, where `inputs` hold less food on the way to it; else that of its meals, per day. Span.share says in how many members it gets there: a
    filter that is too small never does. Nothing is found later than KEPT_DAYS before the end of `inputs`.
    """
    ensemble = _ensemble(circuit, start, members, seed)
    load = load_g_day if load_g_day is not None else mean_load_g_day(inputs)
    _, records = advance(ensemble, circuit, inputs, every=EVERY)
    return span(_first_kept(records, CAPACITY_OVER_LOAD * positive("load", load)))


def mean_load_g_day(inputs: Inputs) -> float:
    """Ammonia nitrogen of all meals, a day."""
    return sum(meal.eaten_tan_g for meal in _meals(inputs)) / (inputs.hours / HOURS_A_DAY)


def _first_kept(records: Singles, wanted_g_day: float) -> Floats:
    """Day from which each member's slower step keeps the capacity for KEPT_DAYS; infinite if it never does."""
    slower = np.minimum(records[:, :, at.Q_AMMONIA_CAPACITY], records[:, :, at.Q_NITRITE_CAPACITY])
    is_kept = (
        sliding_window_view(slower, KEPT_DAYS * HOURS_A_DAY // EVERY, axis=1).min(axis=2) >= wanted_g_day
    )
    return np.where(is_kept.any(axis=1), is_kept.argmax(axis=1) * EVERY / HOURS_A_DAY, np.inf)


def _meals(inputs: Inputs) -> list[Meal]:
    return [event for event in inputs.events if isinstance(event, Meal)]


def _ensemble(circuit: Circuit, start: Beginning | Ensemble, members: int, seed: int) -> Ensemble:
    return start if isinstance(start, Ensemble) else draw(circuit, start, members=members, seed=seed)


def largest_meals(
    circuit: Circuit,
    inputs: Inputs,
    start: Beginning | Ensemble,
    meals: Sequence[Meal],
    limits: Sequence[Limit],
    *,
    certainty: float = CERTAINTY,
    most: float = 4.0,
    members: int = MEMBERS,
    seed: int = 0,
) -> float:
    """The largest factor (0 to `most`) by which `meals` may be scaled, everything else in `inputs` as it is.

    On every day of `inputs` the chance of passing each limit stays at or below 1 - certainty. Found by halving,
    to within 2 %; 0 when a limit is passed even without these meals. More food is taken to be worse.
    """
    ensemble = _ensemble(circuit, start, members, seed)
    is_safe = _safety(circuit, inputs, ensemble, meals, limits, certainty)
    low, high = 0.0, positive("most", most)
    return high if is_safe(high) else _halved(is_safe, low, high, PRECISION)


def _safety(
    circuit: Circuit,
    inputs: Inputs,
    ensemble: Ensemble,
    meals: Sequence[Meal],
    limits: Sequence[Limit],
    certainty: float,
) -> Callable[[float], bool]:
    """Whether meals of so many times their size keep every limit on every day of `inputs`."""
    checked("certainty", certainty, 0.5, 0.999)

    def is_safe(factor: float) -> bool:
        fed = inputs.plus(*(meal.scaled(factor) for meal in meals))
        days = records_by_day(ensemble, circuit, fed, EVERY)
        return all(np.all(daily_chances(day, limits, EVERY) <= 1 - certainty) for day in days)

    return is_safe


def _halved(is_safe: Callable[[float], bool], low: float, high: float, precision: float) -> float:
    """The largest safe factor between one that is safe, or 0, and one that is not."""
    while high - low > precision * max(high, precision):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if is_safe(middle) else (low, middle)
    return low


def _largest_near(is_safe: Callable[[float], bool], last: float, most: float) -> float:
    """The same, to within STEP_PRECISION, tried first around the one of the day before: most days are alike."""
    tried = [last, min(last * (1 + STEP_PRECISION), most)] if last > 0 else [LEAST_SHARE]
    low, high = 0.0, most
    for factor in dict.fromkeys(tried):
        if not is_safe(factor):
            high = factor
            break
        low = factor
    if low == 0 and high <= LEAST_SHARE:
        return 0.0
    if high == most and (low == most or is_safe(most)):
        return most
    return _halved(is_safe, low, high, STEP_PRECISION)


def feeding_ladder(
    circuit: Circuit,
    inputs: Inputs,
    start: Beginning | Ensemble,
    limits: Sequence[Limit],
    *,
    certainty: float = CERTAINTY,
    most: float = 1.0,
    members: int = MEMBERS,
    seed: int = 0,
) -> Iterator[float]:
    """The largest share (0 to `most`) of the wanted meals on each day from the first on, while a filter matures.

    `inputs` holds the wanted meals. Each day's share is the largest that keeps every limit through the two weeks
    from that day when all their meals are so large, given what was fed before: on each day that day's share, but
    never more than was wanted. The water that this leaves is where the next day begins. Ends with the last day
    that has two weeks of `inputs` ahead of it; each day is computed when it is asked for. To within 5 %; what is
    less than 2 % of the wanted meals is 0.
    """
    ensemble, share = _ensemble(circuit, start, members, seed), 0.0
    for first in range(0, inputs.hours - FORTNIGHT + 1, HOURS_A_DAY):
        ahead = inputs.between(first, first + FORTNIGHT)
        meals = _meals(ahead)
        quiet = replace(ahead, events=tuple(event for event in ahead.events if not isinstance(event, Meal)))
        is_safe = _safety(circuit, quiet, ensemble, meals, limits, certainty)
        share = _largest_near(is_safe, share, positive("most", most))
        yield share
        eaten = quiet.plus(*(meal.scaled(min(share, 1.0)) for meal in meals))
        ensemble, _ = advance(ensemble, circuit, eaten.between(0, HOURS_A_DAY))
