"""What may be fed today while a filter grows: by the water's stored forecast, and by the plans as they are now.

A stored forecast says shares of the meals that were planned when it was made. Until it is made anew, which takes some
minutes, plans may differ: then as much ammonia may come as that share of the old ones would bring, and no more.
Every function changes the tables of the `Facts` it is given. Plain Python.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import date

from filtration.forecasting.largest import AS_PLANNED, CYCLING, MealToday, meal_of_day
from husbandry.bioload import meal_load
from refuge.rules.facts import RUNNING, CircuitFacts, Facts, ForecastFacts, PlanFacts, TestFacts

SAME = 0.005  # plans whose loads differ by less are the same
AWAITED = MealToday(
    0.0,
    f"Wait some minutes: {CYCLING}, and its forecast of this plan is being made",
    "Then this task says how much the water bears.",
)
UNTESTED = MealToday(
    0.0,
    f"Test the water first: {CYCLING}, and nobody has read it",
    "After the first test its forecast says how much the water bears.",
)


def planned_for(plans: Iterable[PlanFacts]) -> tuple[float, float]:
    """The ammonia nitrogen [g] that plans bring: a day, and in one meal of each together. Who is in brumation eats none."""
    a_day = at_once = 0.0
    for plan in plans:
        if plan.all_brumating:
            continue
        meal = meal_load(plan.ration_kg, 0, plan.protein_fraction, plan.water_fraction).tan_g
        a_day += meal / plan.every_days if plan.every_days else meal * (plan.weekdays or 0).bit_count() / 7
        at_once += meal
    return a_day, at_once


def borne_of(forecast: ForecastFacts, plans: Iterable[PlanFacts]) -> list[float]:
    """The shares of these plans that a water bears, day by day from the forecast's on, by one made for other plans.

    Neither more a day than the forecast bears, nor more at once. As the forecast says for a load that is the same.
    """
    old, new = forecast.planned_for, planned_for(plans)
    if old is None or 0 in new:
        return list(forecast.meal_shares)
    times = min(one / two for one, two in zip(old, new, strict=True))
    return [share * (1.0 if abs(times - 1) < SAME else times) for share in forecast.meal_shares]


def tell_what_may_be_fed(facts: Facts, today: date) -> None:
    """While a filter grows, no meal of its water is larger than its forecast says. What it said before is forgotten."""
    young, plans = young_waters(facts), _by_water(facts.plan.values())
    meals = {pk: _meal_in(facts.circuit[pk], plans[pk], today) for pk in young if pk in facts.circuit}
    for pk, plan in facts.plan.items():
        facts.plan[pk] = _held(plan, meals.get(plan.circuit_id, AS_PLANNED))


def _by_water(plans: Iterable[PlanFacts]) -> dict[int, list[PlanFacts]]:
    waters: dict[int, list[PlanFacts]] = defaultdict(list)
    for plan in plans:
        waters[plan.circuit_id].append(plan)
    return waters


def _meal_in(water: CircuitFacts, plans: Iterable[PlanFacts], today: date) -> MealToday:
    forecast = water.forecast
    if forecast is None or not forecast.meal_shares:
        return AS_PLANNED
    return meal_of_day(borne_of(forecast, plans), forecast.made_on, today)


def _held(plan: PlanFacts, meal: MealToday) -> PlanFacts:
    if (plan.young_share, plan.young, plan.young_more) == (meal.share, meal.words, meal.more):
        return plan
    return replace(plan, young=meal.words, young_share=meal.share, young_more=meal.more)


def young_waters(facts: Facts) -> set[int]:
    """The waters with a filter that is cycling: their forecasts count the largest meals for such a one."""
    return {unit.circuit_id for unit in facts.filter.values() if unit.state == "cycling"}


def _grown_waters(facts: Facts) -> set[int]:
    """The waters in which a filter runs that is not cycling."""
    running = (unit for unit in facts.filter.values() if unit.state in RUNNING)
    return {unit.circuit_id for unit in running if unit.state != "cycling"}


def tell_what_is_awaited(facts: Facts, today: date) -> None:
    """A forecast without a meal, or from before its filter was cycling, is made anew once there is a plan: so long no
    meal is offered. Where none is made at all, nobody waits for it longer than the day after the last test; but a water
    never tested is tested first."""
    young, grown = young_waters(facts), _grown_waters(facts)
    for pk, plan in facts.plan.items():
        water = facts.circuit.get(plan.circuit_id)
        if water is None or water.id not in young or not _is_fed(plan, today):
            continue
        if water.forecast is None:
            meal = AS_PLANNED if water.id in grown else _before_any(water.tests, today)
            facts.plan[pk] = _held(plan, meal)
        elif not water.forecast.failure and not water.forecast.meal_shares:
            facts.plan[pk] = _held(plan, AWAITED)


def _before_any(tests: Sequence[TestFacts], today: date) -> MealToday:
    """A meal in a young water of which there is no forecast."""
    if not tests:
        return UNTESTED
    return AWAITED if (today - tests[0].on).days <= 1 else AS_PLANNED


def _is_fed(plan: PlanFacts, today: date) -> bool:
    begins = max(plan.starts_on, plan.fasting_until or plan.starts_on)
    return not plan.all_brumating and begins <= today
