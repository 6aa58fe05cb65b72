"""Waters ready to be forecast: what they are, how they began, what has happened and what is planned.

Everything is computed anew from the records of the last weeks, so an amended or struck-out record counts at
once. Volumes in m3, loads in g TAN a day, concentrations in mg/L with nitrogen as N, hours from `began`.
"""

from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import datetime, timedelta

import numpy as np

from filtration.facts import settled as sediment_from
from filtration.forecast import (
    AreaChange,
    Beginning,
    Circuit,
    Damage,
    Drain,
    Ensemble,
    Inputs,
    Meal,
    Rinse,
    Scenario,
    Seeding,
    Source,
    TopUp,
    WaterChange,
)
from filtration.forecast import settled as settled_water
from filtration.forecast.inputs import Event
from filtration.forecasting.meals import planned_meals, usual_time
from filtration.forecasting.records import Fed, Records, Test, Unit, Worked, read_records
from filtration.forecasting.sightings import Sighting, sightings
from filtration.forecasting.states import (
    RUNNING,
    first_running,
    running_since,
    runs_at,
    state_at,
    timeline,
)
from filtration.nitrification import SEED_MOVED, SEED_NEW, start_up
from filtration.solids import Sediment
from refuge.errors import ClearmereError
from refuge.people.selectors import the_refuge
from refuge.rounds.loaders import Moment, load_facts
from refuge.rules.facts import CircuitFacts, Facts

WINDOW = timedelta(days=45)
BEFORE_WINDOW = timedelta(days=14)  # mean load from which a mature water is taken to begin
AHEAD_DAYS = 14
AHEAD_HOURS = AHEAD_DAYS * 24
# Oxygen enters through the surface as if so many metres of water a day took it in: still water, assumption.
SURFACE_M_DAY = 1.0
# A pump lifts about this share of its greatest flow. Common practice, no source.
FLOW_OF_RATED = 0.6
# Share of the sediment that one drain leaves behind, and of a layer's solids that a rinse leaves. Assumption.
LEFT_AFTER_DRAIN, LEFT_AFTER_RINSE = 0.1, 0.1


class NotForecast(ClearmereError):
    """A water that cannot be forecast; `lacks` says what is missing, in words."""

    def __init__(self, lacks: str) -> None:
        super().__init__(f"It cannot be forecast without {lacks}.")
        self.lacks = lacks


@dataclass(frozen=True, eq=False)
class Gathered:
    """One water. inputs: from `began` to two weeks after now, which is at `now_hour`; seed: its own, for the day."""

    facts: CircuitFacts
    began: datetime
    now_hour: int
    circuit: Circuit
    beginning: Beginning
    inputs: Inputs
    seen: tuple[Sighting, ...]
    seed: int
    meals: tuple[Fed, ...]
    meals_ahead: tuple[Fed, ...]
    source: Source
    is_young: bool

    @property
    def now(self) -> datetime:
        return self.began + timedelta(hours=self.now_hour)

    def hour(self, at: datetime) -> int:
        return hour_of(at, self.began)

    def circuit_at(self, hour: int) -> Circuit:
        """The circuit as it was just before an hour: what changes at that hour is an event of it."""
        factor = 1.0
        for event in self.inputs.events:
            if isinstance(event, AreaChange) and event.hour < hour:
                factor *= event.factor
        return replace(self.circuit, media_area_m2=self.circuit.media_area_m2 * factor)


def hour_of(at: datetime, began: datetime) -> int:
    """Whole hours from `began` to an instant."""
    return int((at - began).total_seconds() // 3600)


def gather(
    circuits: Iterable[int], moment: Moment, facts: Facts | None = None
) -> dict[int, Gathered | NotForecast]:
    """These waters ready to be forecast, or what each lacks. A fixed number of queries for any number of them."""
    wanted = frozenset(circuits)
    known = facts or load_facts(wanted, moment)
    plans = [plan for plan in known.plan.values() if plan.circuit_id in wanted]
    records = read_records(
        wanted, [plan.id for plan in plans], since=moment.now - WINDOW, until=moment.now, zone=moment.zone
    )
    refuge = the_refuge()
    elevation = refuge.elevation_m if refuge else 0.0
    return {
        pk: _gathered(pk, known, records, moment, elevation) for pk in sorted(wanted & known.circuit.keys())
    }


def gather_one(circuit_id: int, moment: Moment, facts: Facts | None = None) -> Gathered:
    """One water; raises NotForecast with what it lacks."""
    found = gather([circuit_id], moment, facts).get(circuit_id, NotForecast("being known"))
    if isinstance(found, NotForecast):
        raise found
    return found


def scenario_of(circuit_id: int, moment: Moment, *, facts: Facts | None = None) -> Scenario:
    """The water now, as its tests have narrowed it down, and what is planned for the next two weeks.

    Its hours count from now. Raises NotForecast. Change it with the methods of Scenario; the same water on the
    same day always begins with the same members.
    """
    from filtration.forecasting.run import assimilated

    gathered = gather_one(circuit_id, moment, facts)
    return scenario_from(gathered, assimilated(gathered).ensemble)


def scenario_from(gathered: Gathered, ensemble: Ensemble) -> Scenario:
    """The scenario of a water whose tests have been taken in."""
    now = gathered.now_hour
    return Scenario(gathered.circuit_at(now), gathered.inputs.between(now, now + AHEAD_HOURS), ensemble)


def _gathered(
    pk: int, facts: Facts, records: Records, moment: Moment, elevation_m: float
) -> Gathered | NotForecast:
    circuit, units = facts.circuit[pk], records.units[pk]
    lacks = _lacks(circuit, units, moment)
    if lacks:
        return NotForecast(lacks)
    start = first_running(units, moment.now - WINDOW, moment.now) or moment.now
    began = start.replace(minute=0, second=0, microsecond=0)
    water = _circuit(circuit, [u for u in units if runs_at(u, start)], units, records, facts, elevation_m)
    source = records.sources[records.source_of[pk]]
    meals = [meal for meal in records.fed[pk] if meal.at >= began]
    plans = [plan for plan in facts.plan.values() if plan.circuit_id == pk]
    ahead = planned_meals(
        plans,
        records.foods,
        now=moment.now,
        days=AHEAD_DAYS,
        at=usual_time(meals, moment.zone),
        zone=moment.zone,
    )
    now_hour = hour_of(moment.now, began)
    return Gathered(
        facts=circuit,
        began=began,
        now_hour=now_hour,
        circuit=water,
        beginning=_beginning(water, circuit, facts, records, start, moment),
        inputs=_inputs(pk, records, units, water, source, [*meals, *ahead], began, now_hour, circuit, moment),
        seen=tuple(s for s in sightings(records.tests[pk]) if s.at >= began),
        seed=pk * 1_000_003 + moment.today.toordinal(),
        meals=tuple(meals),
        meals_ahead=tuple(ahead),
        source=source,
        is_young=any(state_at(unit, moment.now) == "cycling" for unit in units),
    )


def _lacks(circuit: CircuitFacts, units: list[Unit], moment: Moment) -> str:
    """What keeps a water from being forecast; empty when nothing does."""
    if circuit.volume_m3 <= 0:
        return "the sizes of its enclosures"
    if not any(runs_at(unit, moment.now) and unit.area_m2 > 0 for unit in units):
        return "a running filter with its media layers"
    return "" if circuit.tests else "a water test"


def _circuit(
    circuit: CircuitFacts,
    running: list[Unit],
    units: list[Unit],
    records: Records,
    facts: Facts,
    elevation_m: float,
) -> Circuit:
    """The water as it was when the window began; its flow is the one that was measured last."""
    surface = records.surface_m2[circuit.id]
    return Circuit(
        volume_m3=circuit.volume_m3,
        media_area_m2=sum(unit.area_m2 for unit in running),
        flow_m3_h=sum(_flow(unit, circuit, facts) for unit in running or units),
        surface_exchange_per_day=min(SURFACE_M_DAY * surface / circuit.volume_m3, 24.0),
        elevation_m=elevation_m,
    )


def _flow(unit: Unit, circuit: CircuitFacts, facts: Facts) -> float:
    """Measured, else as when it was new, else a share of what its pump can do, else the water once an hour."""
    known = facts.filter[unit.id]
    if known.flow:
        return known.flow.value
    if known.commissioning_flow_m3_h:
        return known.commissioning_flow_m3_h
    return FLOW_OF_RATED * unit.rated_flow_m3_h if unit.rated_flow_m3_h else circuit.volume_m3


def _beginning(
    water: Circuit,
    circuit: CircuitFacts,
    facts: Facts,
    records: Records,
    start: datetime,
    moment: Moment,
) -> Beginning:
    """What is believed when the window begins: from the load before it, the last test before it, the filters."""
    before = [test for test in records.tests[circuit.id] if test.at < start]
    celsius = _bounded(_last(before, "temperature_c") or circuit.temperature_c)
    load = _load_before(facts, circuit, start, moment)
    source = records.sources[records.source_of[circuit.id]]
    nitrate, alkalinity = _last(before, "nitrate"), _last(before, "alkalinity")
    steady = settled_water(
        water,
        load,
        celsius,
        nitrate=20.0 if nitrate is None else nitrate,
        alkalinity=max(source.alkalinity if alkalinity is None else alkalinity, 5.0),
    )
    running = [unit for unit in records.units[circuit.id] if runs_at(unit, start)]
    first, second = _films(running, steady, start, celsius, moment, circuit.id)
    lying = _sediment(facts, circuit, running, start, celsius, moment)
    is_new = first < 0.05
    return replace(
        steady,
        ph=min(max(_last(before, "ph") or source.ph, 5.0), 9.5),
        tan=0.02 if is_new and not load else steady.tan,
        nitrite=0.01 if is_new else steady.nitrite,
        ammonia_oxidizers=first,
        nitrite_oxidizers=second,
        easy_sediment_g=lying.easy_g,
        inert_sediment_g=lying.inert_g,
        media_solids_g=sum(facts.filter[unit.id].carried_g for unit in running),
    )


def _last(tests: list[Test], name: str) -> float | None:
    return next((value for test in reversed(tests) if (value := getattr(test, name)) is not None), None)


def _bounded(temperature_c: float) -> float:
    return min(max(temperature_c, 0.0), 40.0)


def _load_before(facts: Facts, circuit: CircuitFacts, start: datetime, moment: Moment) -> float:
    """Mean ammonia nitrogen [g/day] of the meals in the fortnight before the window."""
    last = moment.day(start)
    first = last - BEFORE_WINDOW
    tan = 0.0
    for span in facts.fed.get(circuit.id, []):
        overlap = (min(span.to_on, last) - max(span.from_on, first)).days
        if overlap > 0:
            tan += span.tan_g * overlap / (span.to_on - span.from_on).days
    return tan / BEFORE_WINDOW.days


def _films(
    running: list[Unit], steady: Beginning, start: datetime, celsius: float, moment: Moment, circuit_id: int
) -> tuple[float, float]:
    """Bacteria of both steps as shares of full films, over all filters that ran, by area."""
    total = sum(unit.area_m2 for unit in running) or 1.0
    first = second = 0.0
    for unit in running:
        own = _film(
            unit, steady, start, celsius, moment.limits(circuit_id, unit.id)["filtration.disturbed_share"]
        )
        first += own[0] * unit.area_m2 / total
        second += own[1] * unit.area_m2 / total
    return min(first, 1.0), min(second, 1.0)


def _film(
    unit: Unit, steady: Beginning, start: datetime, celsius: float, disturbed: float
) -> tuple[float, float]:
    full = steady.ammonia_oxidizers, steady.nitrite_oxidizers
    state = state_at(unit, start)
    if state == "cycling":
        since = running_since(unit, start) or start
        grown = start_up(max((start - since).total_seconds(), 0.0) / 86400, celsius, unit.seeded)
        return grown.ammonia_oxidizers, grown.nitrite_oxidizers
    return (full[0] * disturbed, full[1] * disturbed) if state == "disturbed" else full


def _sediment(
    facts: Facts, circuit: CircuitFacts, running: list[Unit], start: datetime, celsius: float, moment: Moment
) -> Sediment:
    """What lay in the voids when the window began, from the meals between the last drain and then."""
    day = moment.day(start)
    earlier = [span for span in facts.fed.get(circuit.id, []) if span.to_on <= day]
    total = sum(unit.area_m2 for unit in running) or 1.0
    easy = inert = 0.0
    for unit in running:
        drained = facts.filter[unit.id].last_drain_on
        known = drained if drained is not None and drained <= day else None
        own = sediment_from(earlier, known, unit.area_m2 / total, celsius, day)
        easy, inert = easy + own.easy_g, inert + own.inert_g
    return Sediment(easy, inert)


def _inputs(
    pk: int,
    records: Records,
    units: list[Unit],
    water: Circuit,
    source: Source,
    meals: list[Fed],
    began: datetime,
    now_hour: int,
    circuit: CircuitFacts,
    moment: Moment,
) -> Inputs:
    hours = now_hour + AHEAD_HOURS
    lost = _evaporation_m3_day(records, pk, began, now_hour)
    events: list[Event] = [
        *(Meal(hour_of(m.at, began), m.tan_g, m.solids_g) for m in meals),
        *_renewals(records, pk, began),
        *_work(records.worked[pk], units, began, moment),
        *_filter_changes(units, began, moment),
        *(TopUp(hour, lost, source) for hour in range(now_hour + 24, hours, 24) if lost > 0),
    ]
    inside = tuple(event for event in events if 0 <= event.hour < hours)
    return Inputs(_temperatures(records.tests[pk], began, hours, circuit.temperature_c), inside, lost)


def _renewals(records: Records, pk: int, began: datetime) -> list[Event]:
    """Water changed and added. It is taken as treated: that is asked for at every change."""
    return [
        (TopUp if each.is_top_up else WaterChange)(
            hour_of(each.at, began), each.volume_m3, records.sources[each.source_id]
        )
        for each in records.renewed[pk]
        if each.at >= began
    ]


def _evaporation_m3_day(records: Records, pk: int, began: datetime, now_hour: int) -> float:
    """Water lost to the air: as much as was topped up."""
    added = sum(each.volume_m3 for each in records.renewed[pk] if each.is_top_up and each.at >= began)
    return added / max(now_hour / 24, 1.0)


def _work(worked: list[Worked], units: list[Unit], began: datetime, moment: Moment) -> list[Event]:
    """Drains and rinses; each touches its own filter's share of the whole."""
    events: list[Event] = []
    for each in worked:
        if began <= each.at:
            hour, share = hour_of(each.at, began), _share(each.filter_id, units, each.at)
            if each.kind == "drain":
                events.append(Drain(hour, 1 - (1 - LEFT_AFTER_DRAIN) * share))
            else:
                events.append(
                    Rinse(hour, Rinse(hour).bacteria_lost * share, 1 - (1 - LEFT_AFTER_RINSE) * share)
                )
    return events


def _share(filter_id: int, units: list[Unit], at: datetime) -> float:
    """A filter's part of the media area that ran at an instant."""
    total = sum(unit.area_m2 for unit in units if runs_at(unit, at) or unit.id == filter_id)
    return sum(unit.area_m2 for unit in units if unit.id == filter_id) / total if total else 0.0


def _filter_changes(units: list[Unit], began: datetime, moment: Moment) -> list[Event]:
    """Filters put into service, taken out of it, disturbed or begun anew, after the window began."""
    changes = [
        (when, unit.id, unit, state)
        for unit in units
        for when, state in timeline(unit)
        if hour_of(when, began) > 0 and when <= moment.now
    ]
    area = {unit.id: unit.area_m2 for unit in units if runs_at(unit, began + timedelta(minutes=59))}
    state_of = {unit.id: state_at(unit, began + timedelta(minutes=59)) for unit in units}
    events: list[Event] = []
    for when, pk, unit, state in sorted(changes, key=lambda change: change[:2]):
        events += _change(unit, state_of[pk], state, area, hour_of(when, began), moment)
        state_of[pk] = state
    return events


def _change(
    unit: Unit, before: str, after: str, area: dict[int, float], hour: int, moment: Moment
) -> list[Event]:
    total = sum(area.values())
    if after in RUNNING and before not in RUNNING and total > 0:
        area[unit.id] = unit.area_m2
        seed = (SEED_MOVED if unit.seeded else SEED_NEW) * unit.area_m2 / sum(area.values())
        return [AreaChange(hour, sum(area.values()) / total), Seeding(hour, seed)]
    if before in RUNNING and after not in RUNNING and total > unit.area_m2:
        area.pop(unit.id, None)
        return [AreaChange(hour, sum(area.values()) / total)]
    share = area.get(unit.id, 0.0) / total if total else 0.0
    if after == "disturbed" and before == "mature":
        left = 1 - share * (1 - moment.limits(None, unit.id)["filtration.disturbed_share"])
        return [Damage(hour, left, left)]
    if after == "cycling" and before in {"mature", "disturbed"}:
        left = 1 - share * (1 - SEED_MOVED)
        return [Damage(hour, left, left)]
    return []


def _temperatures(tests: list[Test], began: datetime, hours: int, usual_c: float) -> np.ndarray:
    """One temperature an hour: between readings evenly, after the last one as it was; as usual without any."""
    read = [(hour_of(t.at, began), _bounded(t.temperature_c)) for t in tests if t.temperature_c is not None]
    if not read:
        return np.full(hours, _bounded(usual_c))
    at, values = zip(*read, strict=True)
    return np.interp(np.arange(hours), at, values)
