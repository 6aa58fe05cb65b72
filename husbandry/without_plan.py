"""Whom no feeding plan feeds. Pure."""

from dataclasses import replace

from refuge.rules.facts import Facts


def mark_without_plan(facts: Facts) -> None:
    """Mark the animals that no plan in force feeds, neither their own nor that of their enclosure's group."""
    own = {plan.animal_id for plan in facts.plan.values()}
    groups = {plan.enclosure_id for plan in facts.plan.values() if plan.animal_id is None}
    for animal in list(facts.animal.values()):
        is_without = animal.id not in own and animal.enclosure_id not in groups
        facts.animal[animal.id] = replace(animal, without_plan=is_without)
