"""Facts that were changed, made to fit together again: loads, solids, capacities. SI; g/day.

Every function changes the tables of the `Facts` it is given: pass a copy. Facts themselves are frozen.
"""

from collections.abc import Mapping
from dataclasses import replace
from datetime import date

from filtration import survival
from filtration.nitrification import capacity_tan_g_day, carrying_share, within_range
from husbandry.arrivals.effects import NEW
from husbandry.bioload import Load, planned_daily_load
from refuge.rules.facts import RUNNING, CircuitFacts, Facts, FilterFacts, PlanFacts, Reading


def meals_a_week(every_days: int | None, weekdays: int | None) -> float:
    """Meals a week of a plan by days or by weekdays (bits, Monday being 1)."""
    return 7 / every_days if every_days else float((weekdays or 0).bit_count())


def is_fed(plan: PlanFacts, today: date) -> bool:
    """Whether a plan asks for food now: not in brumation, not fasting."""
    return not plan.all_brumating and (plan.fasting_until is None or plan.fasting_until <= today)


def plan_load(plan: PlanFacts, today: date) -> Load:
    """Mean load [g/day] of one plan."""
    if not is_fed(plan, today):
        return Load.zero()
    meals = meals_a_week(plan.every_days, plan.weekdays)
    return planned_daily_load(plan.ration_kg, meals, plan.protein_fraction, plan.water_fraction)


def add_load(facts: Facts, circuit_id: int, tan_g_day: float, solids_g_day: float) -> None:
    """More (or, below zero, less) planned load on a water.

    Of solids only the greater of fed and planned is known: either is taken in the proportion of its ammonia
    nitrogen.
    """
    circuit = facts.circuit[circuit_id]
    top = circuit.tan_g_day
    each = circuit.solids_g_day / top if top > 0 else 0.0
    planned = max(circuit.planned_tan_g_day * each + solids_g_day, 0.0)
    facts.circuit[circuit_id] = replace(
        circuit,
        planned_tan_g_day=max(circuit.planned_tan_g_day + tan_g_day, 0.0),
        solids_g_day=max(circuit.recent_tan_g_day * each, planned),
    )


def fit_filters(facts: Facts, circuit_id: int, disturbed_share: Mapping[int, float], today: date) -> None:
    """What the filters of a water carry, and what solids reach each: by the surface of those that run."""
    circuit = facts.circuit[circuit_id]
    units = [each for each in facts.filter.values() if each.circuit_id == circuit_id]
    running = [unit for unit in units if unit.state in RUNNING]
    total = sum(unit.area_m2 for unit in running)
    for unit in running:
        share = unit.area_m2 / total if total else 1 / len(running)
        facts.filter[unit.id] = replace(unit, solids_g_day=circuit.solids_g_day * share)
    mature = {unit.id: capacity_tan_g_day(unit.area_m2, within_range(unit.temperature_c)) for unit in running}
    ready = {unit.id: _ready(unit, disturbed_share[unit.id], today) for unit in running}
    facts.circuit[circuit_id] = replace(
        circuit,
        filters=len(units),
        capacity_tan_g_day=sum(mature[pk] * ready[pk] for pk in mature) or None,
        mature_capacity_tan_g_day=sum(mature.values()) or None,
        is_cycling=any(unit.state != "mature" for unit in running),
    )


def _ready(unit: FilterFacts, disturbed_share: float, today: date) -> float:
    ready = carrying_share(
        unit.state,
        max((today - unit.state_since).days, 0),
        within_range(unit.temperature_c),
        seeded=unit.seeded,
        disturbed_share=disturbed_share,
    )
    return survival.carried_after_harm(ready, unit.state, unit.harm_left_today if unit.harm else None)


def move(facts: Facts, circuit_id: int, *, enclosures: set[int], filters: set[int]) -> None:
    """These enclosures, with who lives and is fed in them, and these filters on another water."""
    for pk in enclosures:
        facts.enclosure[pk] = replace(facts.enclosure[pk], circuit_id=circuit_id)
    for pk in filters:
        facts.filter[pk] = replace(facts.filter[pk], circuit_id=circuit_id)
    for pk, animal in list(facts.animal.items()):
        if animal.enclosure_id in enclosures:
            facts.animal[pk] = replace(animal, circuit_id=circuit_id)
    for pk, plan in list(facts.plan.items()):
        if plan.enclosure_id in enclosures:
            facts.plan[pk] = replace(plan, circuit_id=circuit_id)


def mixed(one: CircuitFacts, two: CircuitFacts, today: date) -> CircuitFacts:
    """Two waters as one: amounts add up, what is dissolved is weighed by volume, tests are those of the first."""
    volume = one.volume_m3 + two.volume_m3
    weight = one.volume_m3 / volume if volume else 0.5
    return replace(
        one,
        volume_m3=volume,
        is_quarantine=one.is_quarantine or two.is_quarantine,
        temperature_c=weight * one.temperature_c + (1 - weight) * two.temperature_c,
        animals=one.animals + two.animals,
        mass_kg=one.mass_kg + two.mass_kg,
        nitrate=_reading(one.nitrate, two.nitrate, weight),
        alkalinity=_reading(one.alkalinity, two.alkalinity, weight),
        fed_since_nitrate_tan_g=one.fed_since_nitrate_tan_g + two.fed_since_nitrate_tan_g,
        fed_since_alkalinity_tan_g=one.fed_since_alkalinity_tan_g + two.fed_since_alkalinity_tan_g,
        recent_tan_g_day=one.recent_tan_g_day + two.recent_tan_g_day,
        planned_tan_g_day=one.planned_tan_g_day + two.planned_tan_g_day,
        solids_g_day=one.solids_g_day + two.solids_g_day,
        last_joined_on=today,
    )


def _reading(one: Reading | None, two: Reading | None, weight: float) -> Reading | None:
    if one is None or two is None:
        return one or two
    return Reading(weight * one.value + (1 - weight) * two.value, min(one.on, two.on))


def parted(whole: CircuitFacts, volume_share: float, load_share: float) -> CircuitFacts:
    """A part of a water: its volume, and its share of the load. Who lives in it is counted apart."""
    return replace(
        whole,
        volume_m3=whole.volume_m3 * volume_share,
        fed_since_nitrate_tan_g=whole.fed_since_nitrate_tan_g * load_share,
        fed_since_alkalinity_tan_g=whole.fed_since_alkalinity_tan_g * load_share,
        recent_tan_g_day=whole.recent_tan_g_day * load_share,
        planned_tan_g_day=whole.planned_tan_g_day * load_share,
        solids_g_day=whole.solids_g_day * load_share,
    )


def count_animals(facts: Facts, circuit_id: int) -> None:
    """How many animals are on a water, and what they weigh together."""
    here = [each for each in facts.animal.values() if each.circuit_id == circuit_id]
    facts.circuit[circuit_id] = replace(
        facts.circuit[circuit_id], animals=len(here), mass_kg=sum(each.mass_kg or 0.0 for each in here)
    )


__all__ = [
    "NEW",
    "add_load",
    "count_animals",
    "fit_filters",
    "is_fed",
    "meals_a_week",
    "mixed",
    "move",
    "parted",
    "plan_load",
]
