"""Ready-made changes: links that fill the form with what keepers ask most often."""

from dataclasses import dataclass
from urllib.parse import urlencode

from filtration.what_if.ahead import Water
from filtration.what_if.facts import is_fed, meals_a_week, plan_load
from refuge.rules.facts import PlanFacts

NIGHT_HOURS = 12
SEVERAL = 1.5  # meals a week from which a plan counts as fed often


@dataclass(frozen=True, slots=True)
class Ready:
    """One link: its icon, its words, and the fields it fills."""

    icon: str
    words: str
    typed: dict[str, str]

    @property
    def query(self) -> str:
        return urlencode(self.typed)


def ready_made(water: Water) -> list[Ready]:
    """What may be tried with one tap; only what this water offers. No query."""
    plans = [each for each in water.facts.plan.values() if each.circuit_id == water.circuit_id]
    today = water.moment.today
    fed = [each for each in plans if is_fed(each, today)]
    most = max(fed, key=lambda each: plan_load(each, today).tan_g, default=None)
    found = [
        *([_other_rhythm(most, only=len(plans) == 1)] if most else []),
        Ready("pump", "Pumps off overnight", {"stop_hours": str(NIGHT_HOURS)}),
        _one_more(water, most),
    ]
    return [each for each in found if each is not None]


def _other_rhythm(plan: PlanFacts, *, only: bool) -> Ready:
    """Daily instead of weekly, or the other way round, with the same food a week."""
    is_often = meals_a_week(plan.every_days, plan.weekdays) >= SEVERAL
    words, days = ("once a week", "7") if is_often else ("every day", "1")
    who = "Feed" if only else f"Feed {plan.label}"
    return Ready("fish", f"{who} {words}", {"plan": str(plan.id), "plan_every_days": days})


def _one_more(water: Water, plan: PlanFacts | None) -> Ready | None:
    """An animal like those that are there: as heavy as their mean, on the food that is fed most; None if either is unknown."""
    here = [each for each in water.facts.animal.values() if each.circuit_id == water.circuit_id]
    masses = [each.mass_kg for each in here if each.mass_kg]
    food = next((pk for pk, each in water.foods.items() if plan and each.name == plan.food), None)
    if not masses or food is None or plan is None:
        return None
    typed = {"mass_kg": f"{sum(masses) / len(masses):.3g} kg", "food": food}
    return Ready("arrival", "One animal more", typed | {"enclosure": str(plan.enclosure_id)})
