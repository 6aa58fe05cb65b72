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
    Span,
    WaterChange,
    days_to_mature,
    feeding_ladder,
)
from filtration.forecast.start_up import KEPT_DAYS
from filtration.forecasting.feeding import feeding_limits
from filtration.forecasting.gather import Gathered
from filtration.forecasting.helping import changes_of_steps, help_of
from filtration.forecasting.largest import WHOLE
from filtration.forecasting.meals import planned_meals, usual_time
from filtration.forecasting.packing import digits, packed_span
from filtration.forecasting.records import Fed

LOOKED_AT_DAYS = 70  # a cold new filter takes two months
WITHIN_DAYS = LOOKED_AT_DAYS - KEPT_DAYS
MOST_TIMES = 2.0  # meals are not tried beyond this many times their size


def maturing_of(gathered: Gathered, scenario: Scenario, bounds: Sequence[Limit]) -> dict[str, Any] | None:
    """Days until a young filter carries its plan; None for one that is not cycling or has no plan to carry.

    ladder: for each day the largest share of the planned meals that keeps what harms at once within its limits,
    until the filter is mature and the whole plan may be fed, or to the end of what is looked at.
    """
    fed = _planned(gathered) if gathered.is_young else []
    if not fed:
        return None
    known = gathered.known
    meals = [Meal(_hour(gathered, meal), meal.tan_g, meal.solids_g) for meal in fed]
    young = weeks_ahead(gathered, scenario, meals)
    days = days_on(young)
    return {
        "days": packed_span(days),
        "within": WITHIN_DAYS,
        "celsius": digits(float(scenario.inputs.temperature_c[-1])),
        "meal_kg": digits(sum(meal.kg for meal in fed) / len(fed)),
        "ladder": _ladder(young, days, feeding_limits(bounds, young.inputs.temperature_c, known.source)),
    }


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


def days_on(young: Scenario) -> Span:
    """Days until the filter carries the meals of these weeks, given at least one."""
    return days_to_mature(young.circuit, young.inputs, young.start)


def _hour(gathered: Gathered, meal: Fed) -> int:
    return max(gathered.known.hour(meal.at) - gathered.now_hour, 0)


def _ladder(young: Scenario, days: Span, limits: Sequence[Limit]) -> list[float | None]:
    """Each day is dear to compute: no more of them than are told."""
    shares: list[float | None] = []
    for share in feeding_ladder(young.circuit, young.inputs, young.start, limits, most=MOST_TIMES):
        shares.append(digits(share))
        if share >= WHOLE and days.late is not None and len(shares) >= days.late:
            break
    return shares
