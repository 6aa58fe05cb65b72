"""Everything that happens to a water from the beginning of its window to two weeks ahead, hour by hour."""

from datetime import datetime, timedelta

import numpy as np
from numpy.typing import NDArray

from filtration.forecast import AreaChange, Damage, Drain, Inputs, Meal, Rinse, Seeding, TopUp
from filtration.forecast.inputs import RINSE_LOSS, Event
from filtration.forecasting.harms import harms, is_told
from filtration.forecasting.known import AHEAD_DAYS as AHEAD_DAYS
from filtration.forecasting.known import AHEAD_HOURS as AHEAD_HOURS
from filtration.forecasting.known import Known
from filtration.forecasting.parts import FILM_DAYS, Parts
from filtration.forecasting.records import Fed, Unit, Worked
from filtration.forecasting.renewals import evaporation_m3_day, renewals
from filtration.forecasting.states import runs_at, shares_with, state_at, timeline
from filtration.nitrification import SEED_MOVED, SEED_NEW
from refuge.rules.facts import RUNNING

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
    """Drains and rinses; each touches what its own filter holds of the whole."""
    events: list[Event] = []
    voids, media, films = Parts(), Parts(), Parts(FILM_DAYS)
    for each in known.records.worked[known.circuit.id]:
        if each.at < known.began:
            continue
        hour, shares = known.hour_of_event(each.at), shares_with(each.filter_id, known.units, each.at)
        if each.kind == "drain":
            events.append(Drain(hour, voids.kept(shares, each.filter_id, LEFT_AFTER_DRAIN, each.at)))
        else:
            solids = media.kept(shares, each.filter_id, _left_after_rinse(known, each), each.at)
            bacteria = films.kept(shares, each.filter_id, 1 - RINSE_LOSS, each.at)
            events.append(Rinse(hour, 1 - bacteria, solids))
    return events


def _left_after_rinse(known: Known, rinse: Worked) -> float:
    """Share of a filter's solids that stays: what the other layers hold. Not said which: one of them, each as likely."""
    caught = dict(known.facts.filter[rinse.filter_id].caught_by)
    if not caught:
        return LEFT_AFTER_RINSE
    return 1 - caught.get(rinse.layer_id or 0, 1 / len(caught)) * (1 - LEFT_AFTER_RINSE)


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
    films = Parts(FILM_DAYS)
    for when, pk, unit, state in sorted(changes, key=lambda change: change[:2]):
        hour, left = known.hour_of_event(when), _left_by_word(known, pk, states[pk], state, when)
        total = sum(area.values())
        if left < 1 and total:
            kept = films.kept({each: own / total for each, own in area.items()}, pk, left, when)
            events.append(Damage(hour, kept, kept))
        events += _come_or_gone(unit, states[pk], state, area, hour)
        states[pk] = state
    return events


def _left_by_word(known: Known, filter_id: int, before: str, after: str, when: datetime) -> float:
    """What a filter has left of its bacteria by what it is called now, unless what happened to it counts already."""
    if (before, after) == ("mature", "cycling"):
        return SEED_MOVED
    if (before, after) != ("mature", "disturbed") or is_told(known, filter_id, when):
        return 1.0
    return known.moment.limits(known.circuit.id, filter_id)["filtration.disturbed_share"]


def _come_or_gone(unit: Unit, before: str, after: str, area: dict[int, float], hour: int) -> list[Event]:
    """A filter put into service or taken out of it. `area` holds what runs, by filter, and is kept up to date."""
    total = sum(area.values())
    if after in RUNNING and before not in RUNNING and total > 0:
        area[unit.id] = unit.area_m2
        seed = (SEED_MOVED if unit.seeded else SEED_NEW) * unit.area_m2 / sum(area.values())
        return [AreaChange(hour, sum(area.values()) / total), Seeding(hour, seed)]
    if before in RUNNING and after not in RUNNING and total > unit.area_m2:
        area.pop(unit.id, None)
        return [AreaChange(hour, sum(area.values()) / total)]
    return []


def _temperatures(known: Known, hours: int) -> NDArray[np.float64]:
    """One temperature an hour: by the readings, and by heater or season between and after them."""
    return known.temperatures(np.arange(hours, dtype=float))
