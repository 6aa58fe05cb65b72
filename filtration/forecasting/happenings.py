"""Everything that happens to a water from the beginning of its window to two weeks ahead, hour by hour."""

from datetime import timedelta

import numpy as np
from numpy.typing import NDArray

from filtration.forecast import AreaChange, Damage, Drain, Inputs, Meal, Rinse, Seeding, TopUp
from filtration.forecast.inputs import RINSE_LOSS, Event
from filtration.forecasting.harms import harms, is_told
from filtration.forecasting.known import Known
from filtration.forecasting.records import Fed, Unit
from filtration.forecasting.renewals import evaporation_m3_day, renewals
from filtration.forecasting.states import runs_at, share_of, state_at, timeline
from filtration.nitrification import SEED_MOVED, SEED_NEW
from refuge.rules.facts import RUNNING

AHEAD_DAYS = 14
AHEAD_HOURS = AHEAD_DAYS * 24
# Share of the sediment that one drain leaves behind, and of a layer's solids that a rinse leaves. Assumption.
LEFT_AFTER_DRAIN, LEFT_AFTER_RINSE = 0.1, 0.1
ONE_HOUR = timedelta(hours=1)


def inputs_of(known: Known, meals: list[Fed]) -> Inputs:
    """Meals given and planned, water, work and warmth. What is topped up is what had gone to the air."""
    hours = known.now_hour + AHEAD_HOURS
    lost = evaporation_m3_day(known)
    events: list[Event] = [
        *(Meal(known.hour_of_event(meal.at), meal.tan_g, meal.solids_g) for meal in meals),
        *renewals(known),
        *_work(known),
        *harms(known),
        *_filter_changes(known),
        *(TopUp(hour, lost, known.source) for hour in range(known.now_hour + 24, hours, 24) if lost > 0),
    ]
    inside = tuple(event for event in events if 0 <= event.hour < hours)
    return Inputs(_temperatures(known, hours), inside, lost)


def _work(known: Known) -> list[Event]:
    """Drains and rinses; each touches its own filter's share of the whole."""
    events: list[Event] = []
    for each in known.records.worked[known.circuit.id]:
        if each.at < known.began:
            continue
        hour, share = known.hour_of_event(each.at), share_of(each.filter_id, known.units, each.at)
        if each.kind == "drain":
            events.append(Drain(hour, 1 - (1 - LEFT_AFTER_DRAIN) * share))
        else:
            events.append(Rinse(hour, RINSE_LOSS * share, 1 - (1 - LEFT_AFTER_RINSE) * share))
    return events


def _filter_changes(known: Known) -> list[Event]:
    """Filters put into service, taken out of it, disturbed or begun anew, after the window began."""
    first = known.began + ONE_HOUR - timedelta(microseconds=1)
    area = {unit.id: unit.area_m2 for unit in known.units if runs_at(unit, first)}
    states = {unit.id: state_at(unit, first) for unit in known.units}
    changes = [
        (when, unit.id, unit, state)
        for unit in known.units
        for when, state in timeline(unit)
        if first < when <= known.moment.now
    ]
    events: list[Event] = []
    for when, pk, unit, state in sorted(changes, key=lambda change: change[:2]):
        left = known.moment.limits(known.circuit.id, pk)["filtration.disturbed_share"]
        harmed = is_told(known, pk, when)
        events += _change(unit, states[pk], state, area, known.hour_of_event(when), left, is_harmed=harmed)
        states[pk] = state
    return events


def _change(
    unit: Unit,
    before: str,
    after: str,
    area: dict[int, float],
    hour: int,
    disturbed: float,
    *,
    is_harmed: bool,
) -> list[Event]:
    """One change of state. `area` holds what runs, by filter, and is kept up to date. is_harmed: by what was told."""
    total = sum(area.values())
    if after in RUNNING and before not in RUNNING and total > 0:
        area[unit.id] = unit.area_m2
        seed = (SEED_MOVED if unit.seeded else SEED_NEW) * unit.area_m2 / sum(area.values())
        return [AreaChange(hour, sum(area.values()) / total), Seeding(hour, seed)]
    if before in RUNNING and after not in RUNNING and total > unit.area_m2:
        area.pop(unit.id, None)
        return [AreaChange(hour, sum(area.values()) / total)]
    share = area.get(unit.id, 0.0) / total if total else 0.0
    if is_harmed and after == "disturbed":
        return []  # what happened to it counts already
    kept = {("mature", "disturbed"): disturbed, ("mature", "cycling"): SEED_MOVED}.get((before, after))
    left = 1.0 if kept is None else 1 - share * (1 - kept)
    return [Damage(hour, left, left)] if left < 1 else []


def _temperatures(known: Known, hours: int) -> NDArray[np.float64]:
    """One temperature an hour: by the readings, and by heater or season between and after them."""
    return known.temperatures(np.arange(hours, dtype=float))
