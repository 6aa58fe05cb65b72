"""Meals that nobody wrote down: before its first recorded one, a water whose filters had grown was fed as it is planned.

A refuge that begins to keep records enters some tests of weeks ago, and meals only from now on. Its animals did not
fast in between: bacteria that had starved would make every later reading a surprise.
"""

from collections.abc import Iterator
from datetime import date, datetime, time, timedelta

from filtration.forecasting.beginning import has_meals_before, just_begins
from filtration.forecasting.known import Known
from filtration.forecasting.records import Fed
from husbandry.bioload import meal_load
from refuge.rules.facts import PlanFacts


def unrecorded_meals(known: Known, at: time) -> list[Fed]:
    """Planned meals, eaten whole, from the beginning of the window to the first recorded meal, or to today without any.

    at: the usual time of day. None where a meal was recorded before the window, or where a filter only begins.
    """
    moment = known.moment
    if just_begins(known) or has_meals_before(known.facts, known.circuit.id, moment.day(known.start)):
        return []
    recorded = (meal.at for meal in known.records.fed[known.circuit.id] if meal.at >= known.began)
    until = moment.day(min(recorded, default=moment.now))
    found = []
    for plan in known.plans:
        load = meal_load(plan.ration_kg, 0, plan.protein_fraction, plan.water_fraction)
        for day in _days(plan, _there_from(plan, known), until):
            when = datetime.combine(day, at, tzinfo=moment.zone)
            found.append(Fed(when, plan.ration_kg, load.tan_g, load.solids_g))
    return sorted((meal for meal in found if meal.at >= known.began), key=lambda meal: meal.at)


def _there_from(plan: PlanFacts, known: Known) -> date:
    """The day from which its eaters were in the water, as far back as the window goes."""
    first = known.moment.day(known.began)
    if plan.animal_id in known.facts.animal:
        return max(first, known.facts.animal[plan.animal_id].arrived_on)
    since = known.facts.enclosure[plan.enclosure_id].occupied_since
    return max(first, since or known.moment.today)


def _days(plan: PlanFacts, first: date, until: date) -> Iterator[date]:
    """The days before `until` on which it asks for a meal, counted back from there. None in a fast or in brumation."""
    if plan.all_brumating or (plan.fasting_until and plan.fasting_until > until):
        return
    day = until - timedelta(days=plan.every_days or 1)
    while day >= first:
        if plan.every_days or (plan.weekdays or 0) >> day.weekday() & 1:
            yield day
        day -= timedelta(days=plan.every_days or 1)
