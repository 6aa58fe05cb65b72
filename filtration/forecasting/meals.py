"""The meals that feeding plans ask for in the days ahead. Local days; masses in kg, loads in g."""

from collections.abc import Iterable, Iterator
from datetime import date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from filtration.forecasting.records import Fed
from husbandry.bioload import meal_load
from husbandry.rules import next_meal
from refuge.rules.facts import PlanFacts

NOON = time(12)


def meal_days(plan: PlanFacts, today: date, days: int) -> Iterator[date]:
    """The days from today on, within `days`, on which the plan asks for a meal; one that is late counts today."""
    first = None if plan.all_brumating else next_meal(plan, today)
    if first is None:
        return
    day = max(first, today)
    last = today + timedelta(days=days)
    while day < last and (plan.ends_on is None or day < plan.ends_on):
        yield day
        day = _next(plan, day)


def _next(plan: PlanFacts, day: date) -> date:
    if plan.every_days:
        return day + timedelta(days=plan.every_days)
    day += timedelta(days=1)
    while not (plan.weekdays or 0) >> day.weekday() & 1:
        day += timedelta(days=1)
    return day


def usual_time(fed: Iterable[Fed], zone: ZoneInfo) -> time:
    """The middle of the local times at which meals were given lately; noon when none were."""
    times = sorted(meal.at.astimezone(zone).time() for meal in fed)
    return times[len(times) // 2] if times else NOON


def planned_meals(
    plans: Iterable[PlanFacts], *, now: datetime, days: int, at: time, zone: ZoneInfo
) -> list[Fed]:
    """Every planned meal after `now`, eaten whole, at the usual time of day; today's is soon if that has passed."""
    today = now.astimezone(zone).date()
    found = []
    for plan in plans:
        load = meal_load(plan.ration_kg, 0, plan.protein_fraction, plan.water_fraction)
        for day in meal_days(plan, today, days):
            when = max(datetime.combine(day, at, tzinfo=zone), now)
            found.append(Fed(when, plan.ration_kg, load.tan_g, load.solids_g))
    return sorted(found, key=lambda meal: meal.at)
