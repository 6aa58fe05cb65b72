"""What an eater may be given for now, where that is less than its plan: for whoever records a meal, and for pages."""

from collections.abc import Iterable
from dataclasses import dataclass

from husbandry.models import FeedingPlan, Placement
from refuge.rounds.loaders import load_facts
from refuge.rounds.planner import moment_for
from refuge.rules.facts import Facts, PlanFacts
from refuge.rules.triggers import food_text

MORE = 1.05  # times what may be given: less than this more is no more
AND_THEN = "Take out what is left, and test ammonia and nitrite tomorrow."


@dataclass(frozen=True, slots=True)
class Held:
    """Why a meal is held back for now, and the most [kg] of it: 0 for no food, None where the eater has no plan of its own.

    `words` and `warning` may hold marks of amounts.
    """

    why: str = ""
    at_most_kg: float | None = None

    @property
    def words(self) -> str:
        """For the field that asks how much: what to keep to."""
        if self.at_most_kg is None:
            return f"{self.why}. This comes on top of the planned meals."
        why = f"{self.why}." if self.why else ""
        if not self.at_most_kg:
            return why or "No food for now."
        return f"At most {food_text(self.at_most_kg)} for now. {why}".rstrip()

    def warning(self, eaten_kg: float) -> str:
        """What is said once more was given; empty where it was not."""
        if self.at_most_kg is None or eaten_kg <= self.at_most_kg * MORE:
            return ""
        wanted = f"at most {food_text(self.at_most_kg)}" if self.at_most_kg else "no food"
        return f"Recorded as you typed it. For now it was to be {wanted}. {AND_THEN}"


def held_of(plans: Iterable[PlanFacts], own: Iterable[PlanFacts] = ()) -> Held | None:
    """Of the eater's own plans the most that one of them may give; else what holds the other meals of its water."""
    mine = [plan for plan in own if not plan.all_brumating]
    if mine:
        most = max(mine, key=lambda plan: plan.given_kg)
        why, share = most.restraint
        return Held(why, most.given_kg) if share < 1 else None
    whole = [plan.restraint for plan in plans if not plan.all_brumating]
    why, share = min(whole, key=lambda each: each[1], default=("", 1.0))
    if share >= 1:
        return None
    return Held(why, None if share else 0.0)


def tell_held(plans: Iterable[FeedingPlan], facts: Facts) -> list[FeedingPlan]:
    """The plans of a page, each with `held`: what holds its meals back for now, or None. No query."""
    found = list(plans)
    for plan in found:
        own = facts.plan.get(plan.pk)
        plan.held = held_of((), [own]) if own else None
    return found


def held_meal(
    circuit_id: int | None,
    *,
    enclosure_id: int | None = None,
    animal_id: int | None = None,
    plan_id: int | None = None,
) -> Held | None:
    """The same for a plan, an animal or an enclosure's group, as its water is now: the queries of one water's facts."""
    if circuit_id is None:
        return None
    facts = load_facts(frozenset([circuit_id]), moment_for())
    return held_of(facts.plan.values(), _own(facts, enclosure_id, animal_id, plan_id))


def _own(
    facts: Facts, enclosure_id: int | None, animal_id: int | None, plan_id: int | None
) -> list[PlanFacts]:
    if plan_id is not None:
        return [plan for pk, plan in facts.plan.items() if pk == plan_id]
    if animal_id is not None:
        return [plan for plan in facts.plan.values() if plan.animal_id == animal_id]
    return [
        plan for plan in facts.plan.values() if plan.animal_id is None and plan.enclosure_id == enclosure_id
    ]


def water_of(animal_id: int) -> int | None:
    """The circuit in which an animal lives now."""
    here = Placement.objects.filter(animal=animal_id, ends_at__isnull=True)
    return here.values_list("circuit_id", flat=True).first()
