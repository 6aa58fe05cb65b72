"""What an arrival would change, before it is saved: the facts as they would be, and the dates it gives.

Pure. `with_arrival` foresees what husbandry.stays.arrival_take_in will write, so that the plan shown before
is the plan that comes after.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from husbandry.arrivals.newcomer import Diet, Newcomer
from husbandry.quarantine_dates import PlannedCheck, check_dates, planned_end, restarted
from husbandry.without_plan import mark_without_plan
from refuge.rules.facts import (
    RUNNING,
    AnimalFacts,
    CheckFacts,
    CircuitFacts,
    EnclosureFacts,
    Facts,
    FilterFacts,
    PlanFacts,
    QuarantineFacts,
)

NEW = -1  # stands for ids that are not given yet
CHECK_TITLES = {
    "intake_exam": "Examination on arrival",
    "faecal_sample_1": "First faecal sample",
    "faecal_sample_2": "Second faecal sample",
    "faecal_sample_3": "Third faecal sample",
    "monthly_weighing": "Monthly look-over and weighing",
    "release_exam": "Examination before release",
}


def with_arrival(facts: Facts, newcomer: Newcomer, enclosure_id: int, today: date) -> Facts:
    """The facts of the enclosure's circuit as they would be with the newcomer in it. Changes `facts`: pass a copy.

    Of solids only the greater of fed and planned is known: what the plans ask for is taken in the same
    proportion as their ammonia nitrogen.
    """
    enclosure = facts.enclosure[enclosure_id]
    circuit = facts.circuit[enclosure.circuit_id]
    set_back(facts, circuit.id, today)
    facts.animal[NEW] = _animal(newcomer, enclosure, today)
    if newcomer.diet is not None:
        facts.plan[NEW] = _plan(newcomer, newcomer.diet, enclosure, today)
    mark_without_plan(facts)
    facts.enclosure[enclosure_id] = replace(
        enclosure, awake=enclosure.awake + 1, occupied_since=enclosure.occupied_since or today
    )
    after = _circuit(circuit, newcomer, today)
    facts.circuit[circuit.id] = after
    _share_solids(facts, circuit, after)
    return facts


def set_back(facts: Facts, circuit_id: int, today: date) -> None:
    """Quarantines on the circuit that start anew, with their checks planned anew but for the first examination."""
    for animal in [each for each in facts.animal.values() if each.circuit_id == circuit_id]:
        old = animal.quarantine
        if old is None:
            continue
        clock, ends_on = restarted(old.clock_from, old.days, today)
        if ends_on <= old.ends_on:
            continue
        planned = check_dates(clock, old.days, vet_override=True)
        checks = _checks([check for check in planned if check.kind != "intake_exam"])
        facts.animal[animal.id] = replace(
            animal, quarantine=replace(old, clock_from=clock, ends_on=ends_on, checks=checks)
        )


def _checks(planned: Iterable[PlannedCheck]) -> tuple[CheckFacts, ...]:
    return tuple(CheckFacts(n, kind, CHECK_TITLES[kind], on) for n, (kind, on) in enumerate(planned, start=1))


def _animal(newcomer: Newcomer, enclosure: EnclosureFacts, today: date) -> AnimalFacts:
    return AnimalFacts(
        id=NEW,
        label=newcomer.label,
        path="",
        stop=enclosure.stop,
        circuit_id=enclosure.circuit_id,
        enclosure_id=enclosure.id,
        arrived_on=today,
        mass_kg=newcomer.mass_kg,
        last_weighed_on=today if newcomer.mass_kg is not None else None,
        age_days=newcomer.age_days,
        adult_mass_kg=newcomer.adult_mass_kg,
        quarantine=_quarantine(newcomer, today),
    )


def _quarantine(newcomer: Newcomer, today: date) -> QuarantineFacts | None:
    days = newcomer.quarantine_days
    if days is None:
        return None
    return QuarantineFacts(
        id=NEW,
        started_on=today,
        clock_from=today,
        days=days,
        ends_on=planned_end(today, days),
        checks=_checks(check_dates(today, days, vet_override=newcomer.vet_override)),
    )


def _plan(newcomer: Newcomer, diet: Diet, enclosure: EnclosureFacts, today: date) -> PlanFacts:
    return PlanFacts(
        id=NEW,
        label=newcomer.label,
        path="",
        stop=enclosure.stop,
        circuit_id=enclosure.circuit_id,
        enclosure_id=enclosure.id,
        animal_id=NEW,
        food=diet.food,
        ration_kg=diet.ration_kg,
        every_days=diet.every_days,
        weekdays=None,
        starts_on=today,
        ends_on=None,
        fasting_until=None,
        all_brumating=False,
        last_fed_on=None,
        protein_fraction=diet.protein_fraction,
        water_fraction=diet.water_fraction,
    )


def _circuit(circuit: CircuitFacts, newcomer: Newcomer, today: date) -> CircuitFacts:
    load = newcomer.diet.load if newcomer.diet else None
    planned_solids = _planned_solids(circuit) + (load.solids_g if load else 0.0)
    return replace(
        circuit,
        animals=circuit.animals + 1,
        mass_kg=circuit.mass_kg + (newcomer.mass_kg or 0.0),
        planned_tan_g_day=circuit.planned_tan_g_day + (load.tan_g if load else 0.0),
        solids_g_day=max(circuit.solids_g_day, planned_solids),
        last_joined_on=today,
    )


def _planned_solids(circuit: CircuitFacts) -> float:
    if circuit.planned_tan_g_day >= circuit.recent_tan_g_day:
        return circuit.solids_g_day
    return circuit.solids_g_day * circuit.planned_tan_g_day / circuit.recent_tan_g_day


def _share_solids(facts: Facts, before: CircuitFacts, after: CircuitFacts) -> None:
    """Each filter gets its share of the new load: as it does now, or by the room in its media if nothing flows yet."""
    filters = [each for each in facts.filter.values() if each.circuit_id == before.id]
    running = [each for each in filters if each.state in RUNNING]
    room = sum(each.media_void_l for each in running)
    for unit in running:
        share = (
            unit.solids_g_day / before.solids_g_day
            if before.solids_g_day
            else _room_share(unit, room, running)
        )
        facts.filter[unit.id] = replace(unit, solids_g_day=after.solids_g_day * share)


def _room_share(unit: FilterFacts, room: float, running: list[FilterFacts]) -> float:
    return unit.media_void_l / room if room else 1 / len(running)


@dataclass(frozen=True, slots=True)
class DatedStep:
    """One step of a quarantine with its day, or its days for what comes again."""

    title: str
    days: tuple[date, ...]


def quarantine_steps(newcomer: Newcomer, today: date) -> list[DatedStep]:
    """The dates a quarantine from today gives: day 1, the checks, the planned end. Empty without quarantine."""
    if newcomer.quarantine_days is None:
        return []
    checks = check_dates(today, newcomer.quarantine_days, vet_override=newcomer.vet_override)
    titles = dict.fromkeys(CHECK_TITLES[check.kind] for check in checks)
    steps = [
        DatedStep(title, tuple(check.on for check in checks if CHECK_TITLES[check.kind] == title))
        for title in titles
    ]
    end = DatedStep("Planned end", (planned_end(today, newcomer.quarantine_days),))
    return [DatedStep("Day 1", (today,)), *steps, end]
