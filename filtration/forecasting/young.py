"""A young filter's weeks: when it carries its plan, and the largest meal on each day until then.

For what is planned and the warmth the water is heading for; the usual share of the water is taken as changed every
week (without, alkalinity would run out first), and more of it where a bad reading asks for it now.
"""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import numpy as np

from filtration.forecast import (
    Inputs,
    Limit,
    Meal,
    Scenario,
    Source,
    Span,
    WaterChange,
    days_to_mature,
    feeding_ladder,
    mean_load_g_day,
)
from filtration.forecast import layout as at
from filtration.forecast.start_up import KEPT_DAYS
from filtration.forecasting.bearing import planned_for
from filtration.forecasting.feeding import feeding_limits
from filtration.forecasting.gather import Gathered
from filtration.forecasting.helping import changes_of_steps, help_of
from filtration.forecasting.largest import WHOLE
from filtration.forecasting.meals import planned_meals, usual_time
from filtration.forecasting.packing import digits, packed_span
from filtration.forecasting.records import Fed

LOOKED_AT_DAYS = 70  # a cold new filter takes two months
WITHIN_DAYS = LOOKED_AT_DAYS - KEPT_DAYS
WHOLE_DAYS = 3  # in a row on which the whole plan may be fed: then it may be from then on
MOST_TIMES = 2.0  # meals are not tried beyond this many times their size


def maturing_of(gathered: Gathered, scenario: Scenario, bounds: Sequence[Limit]) -> dict[str, Any] | None:
    """Days until a young filter carries its plan; None for one that is not cycling or has no plan to carry.

    ladder: for each day the largest share of the planned meals that keeps what harms at once within its limits,
    until the whole plan may be fed, or to the end of what is looked at. days: fed so much, and never beyond the plan.
    planned_for: the plans it was made for, as `bearing.planned_for` counts them.
    """
    fed = _planned(gathered) if gathered.is_young else []
    if not fed:
        return None
    meals = [Meal(_hour(gathered, meal), meal.tan_g, meal.solids_g) for meal in fed]
    young = weeks_ahead(gathered, scenario, meals)
    ladder = ladder_of(young, bounds, gathered.known.source)
    days = days_on(young, ladder)
    return {
        "days": packed_span(days),
        "within": WITHIN_DAYS,
        "celsius": digits(float(scenario.inputs.temperature_c[-1])),
        "meal_kg": digits(sum(meal.kg for meal in fed) / len(fed)),
        "ladder": [digits(share) for share in ladder],
        "grown": digits(_grown(scenario)),
        "planned_for": [round(grams, 6) for grams in planned_for(gathered.known.plans)],
    }


def _grown(scenario: Scenario) -> float:
    """The middle share of a full film that the slower of both steps has now."""
    states = scenario.start.states
    return float(np.median(np.minimum(states[:, at.AMMONIA_OXIDIZERS], states[:, at.NITRITE_OXIDIZERS])))


def _planned(gathered: Gathered) -> list[Fed]:
    known = gathered.known
    fed = planned_meals(
        known.plans,
        now=known.moment.now,
        days=LOOKED_AT_DAYS,
        at=usual_time(gathered.meals, known.moment.zone),
        zone=known.moment.zone,
    )
    return [meal for meal in fed if meal.at < gathered.now + timedelta(days=LOOKED_AT_DAYS)]


def weeks_ahead(gathered: Gathered, scenario: Scenario, meals: Sequence[Meal]) -> Scenario:
    """The water with these meals, at the last warmth of its forecast, changed every week and as the steps ask.

    meals: of LOOKED_AT_DAYS. Whatever else happens in `scenario` happens here too.
    """
    known = gathered.known
    limits = known.moment.limits(gathered.circuit_id)
    changed = limits["water.change_share"] * scenario.circuit.volume_m3
    weekly = [WaterChange(day * 24, changed, known.source) for day in range(7, LOOKED_AT_DAYS, 7)]
    steps = changes_of_steps(help_of(gathered), known.source)
    others = [event for event in scenario.inputs.events if not isinstance(event, Meal)]
    celsius = np.full(LOOKED_AT_DAYS * 24, float(scenario.inputs.temperature_c[-1]))
    inputs = Inputs(celsius, (*meals, *weekly, *steps, *others))
    return Scenario(scenario.circuit, inputs, scenario.start)


def ladder_of(young: Scenario, bounds: Sequence[Limit], source: Source) -> list[float]:
    """Each day's largest share of the wanted meals; each is dear to compute, so no more than WHOLE_DAYS of the whole."""
    limits = feeding_limits(bounds, young.inputs.temperature_c, source)
    shares: list[float] = []
    for share in feeding_ladder(young.circuit, young.inputs, young.start, limits, most=MOST_TIMES):
        shares.append(share)
        if min(shares[-WHOLE_DAYS:]) >= WHOLE and len(shares) >= WHOLE_DAYS:
            break
    return shares


def days_on(young: Scenario, ladder: Sequence[float]) -> Span:
    """Days until the filter carries the meals of these weeks, of which each day no more is given than it bears."""
    meals = [event for event in young.inputs.events if isinstance(event, Meal)]
    shares = (ladder[min(meal.hour // 24, len(ladder) - 1)] for meal in meals)
    fed = young.with_meals([meal.scaled(min(share, 1.0)) for meal, share in zip(meals, shares, strict=True)])
    return days_to_mature(fed.circuit, fed.inputs, fed.start, load_g_day=mean_load_g_day(young.inputs))


def _hour(gathered: Gathered, meal: Fed) -> int:
    return max(gathered.known.hour(meal.at) - gathered.now_hour, 0)
