"""How a water begins: its sizes, and what is believed about it when the window opens.

Volumes in m3, loads in g TAN a day, concentrations in mg/L with nitrogen as N.
"""

from collections.abc import Sequence
from dataclasses import replace
from datetime import date, timedelta

import numpy as np

from filtration.forecast import Beginning, Circuit
from filtration.forecast import settled as settled_water
from filtration.forecasting.known import Known
from filtration.forecasting.records import Test, Unit, Worked
from filtration.forecasting.states import running_since, state_at
from filtration.lying import carried_g, sediment_of
from filtration.nitrification import start_up
from filtration.shares import Runner, Spell, ended, reached, spells_of
from filtration.solids import Sediment
from refuge.rules.facts import Facts, Fed

BEFORE_WINDOW = timedelta(days=14)  # mean load from which a mature water is taken to begin
# Oxygen enters through the surface as if so many metres of water a day took it in: still water, assumption.
SURFACE_M_DAY = 1.0
# A pump lifts about this share of its greatest flow. Common practice, no source.
FLOW_OF_RATED = 0.6
USUAL_NITRATE, NEW_NITRATE = 20.0, 2.0  # of a water that lives, and of one just filled; never read
NEW_TAN = 0.05  # where the tap brings none
READ = ("tan", "nitrite", "nitrate", "alkalinity", "ph")
YOUNG_SHARE = 0.05  # of a full film: below it the water is as clean as new


def circuit_of(known: Known, elevation_m: float) -> Circuit:
    """The water as it was when the window began; its flow is the one that was measured last."""
    running, volume = known.running_at_start, known.circuit.volume_m3
    surface = sum(
        each.surface_m2 for each in known.facts.enclosure.values() if each.circuit_id == known.circuit.id
    )
    return Circuit(
        volume_m3=volume,
        media_area_m2=sum(unit.area_m2 for unit in running),
        flow_m3_h=sum(_flow(unit, known) for unit in running or known.units),
        surface_exchange_per_day=min(SURFACE_M_DAY * surface / volume, 24.0),
        elevation_m=elevation_m,
    )


def _flow(unit: Unit, known: Known) -> float:
    """Measured, else as when it was new, else a share of what its pump can do, else the water once an hour."""
    facts = known.facts.filter[unit.id]
    if facts.flow:
        return facts.flow.value
    if facts.commissioning_flow_m3_h:
        return facts.commissioning_flow_m3_h
    return FLOW_OF_RATED * unit.rated_flow_m3_h if unit.rated_flow_m3_h else known.circuit.volume_m3


def beginning_of(known: Known, water: Circuit) -> Beginning:
    """What is believed at the start: from the load before it, the last test before it, and the filters."""
    before = [test for test in known.tests if test.at < known.start]
    read = {name: _last(before, name) for name in READ}
    celsius = float(known.temperatures(np.zeros(1))[0])
    load = load_before(known)
    steady = settled_water(
        water,
        load,
        celsius,
        nitrate=_nitrate_never_read(known) if read["nitrate"] is None else read["nitrate"],
        alkalinity=max(known.source.alkalinity if read["alkalinity"] is None else read["alkalinity"], 5.0),
    )
    first, second = _films(known, steady, celsius)
    lying = _sediment(known, celsius)
    is_new = first < YOUNG_SHARE
    return replace(
        steady,
        ph=min(max(known.source.ph if read["ph"] is None else read["ph"], 5.0), 9.5),
        tan=_new_tan(known, read["tan"]) if is_new and not load else steady.tan,
        nitrite=max(read["nitrite"] or 0.0, 0.01) if is_new else steady.nitrite,
        ammonia_oxidizers=first,
        nitrite_oxidizers=second,
        easy_sediment_g=lying.easy_g,
        inert_sediment_g=lying.inert_g,
        media_solids_g=_carried_g(known),
        unread=tuple(name for name in READ if read[name] is None),
    )


def _new_tan(known: Known, read: float | None) -> float:
    """Of a water that nobody fouls nor cleans: what was read last, else half of what a fresh fill brings."""
    return max(NEW_TAN, known.source.total_ammonia / 2) if read is None else max(read, 0.02)


def _nitrate_never_read(known: Known) -> float:
    return max(NEW_NITRATE, known.source.nitrate) if just_begins(known) else USUAL_NITRATE


def _last(tests: Sequence[Test], name: str) -> float | None:
    return next((value for test in reversed(tests) if (value := getattr(test, name)) is not None), None)


def has_meals_before(facts: Facts, circuit_id: int, day: date) -> bool:
    """Whether any meal of a water was recorded before a day."""
    return any(span.from_on < day for span in facts.fed.get(circuit_id, []))


def load_before(known: Known) -> float:
    """Mean ammonia nitrogen [g/day] of the meals in the fortnight before the window; if none was ever recorded before,
    as planned, but none on a filter that only begins."""
    if not has_meals_before(known.facts, known.circuit.id, known.moment.day(known.start)):
        return 0.0 if just_begins(known) else known.circuit.planned_tan_g_day
    last = known.moment.day(known.start)
    first = last - BEFORE_WINDOW
    tan = 0.0
    for span in known.facts.fed.get(known.circuit.id, []):
        overlap = (min(span.to_on, last) - max(span.from_on, first)).days
        if overlap > 0:
            tan += span.tan_g * overlap / (span.to_on - span.from_on).days
    return tan / BEFORE_WINDOW.days


def just_begins(known: Known) -> bool:
    """No meal was ever recorded before the window, and no filter had grown by then."""
    fed = has_meals_before(known.facts, known.circuit.id, known.moment.day(known.start))
    return not fed and all(state_at(unit, known.start) == "cycling" for unit in known.running_at_start)


def _films(known: Known, steady: Beginning, celsius: float) -> tuple[float, float]:
    """Bacteria of both steps as shares of full films, over all filters that ran, by area."""
    running = known.running_at_start
    total = sum(unit.area_m2 for unit in running) or 1.0
    films = [(unit.area_m2 / total, *_film(unit, known, steady, celsius)) for unit in running]
    return tuple(min(sum(each[0] * each[step] for each in films), 1.0) for step in (1, 2))  # type: ignore[return-value]


def _film(unit: Unit, known: Known, steady: Beginning, celsius: float) -> tuple[float, float]:
    full = steady.ammonia_oxidizers, steady.nitrite_oxidizers
    state = state_at(unit, known.start)
    if state == "cycling":
        since = running_since(unit, known.start) or known.start
        days = max((known.start - since) / timedelta(days=1), 0.0)
        grown = start_up(days, celsius, unit.seeded)
        return grown.ammonia_oxidizers, grown.nitrite_oxidizers
    if state == "disturbed":
        left = known.moment.limits(known.circuit.id, unit.id)["filtration.disturbed_share"]
        return full[0] * left, full[1] * left
    return full


def _carried_g(known: Known) -> float:
    """What the media held when the window began, from the meals before and the rinses of single layers [g]."""
    earlier, spells = _fed_before(known), _spells_before(known)
    return sum(
        carried_g(
            earlier,
            spells[unit.id],
            [(known.moment.day(each.at), each.layer_id) for each in _done_before(known, unit, "rinse")],
            known.facts.filter[unit.id].caught_by,
        )
        for unit in known.running_at_start
    )


def _sediment(known: Known, celsius: float) -> Sediment:
    """What lay in the voids when the window began, from the meals between the last drain and then."""
    earlier, spells, day = _fed_before(known), _spells_before(known), known.moment.day(known.start)
    easy = inert = 0.0
    for unit in known.running_at_start:
        done = _done_before(known, unit, "drain")
        since = known.moment.day(done[0].at) if done else None
        own = sediment_of(reached(earlier, spells[unit.id], since), celsius, day)
        easy, inert = easy + own.easy_g, inert + own.inert_g
    return Sediment(easy, inert)


def _fed_before(known: Known) -> list[Fed]:
    """The spans of meals that had ended when the window began."""
    day = known.moment.day(known.start)
    return [span for span in known.facts.fed.get(known.circuit.id, []) if span.to_on <= day]


def _spells_before(known: Known) -> dict[int, list[Spell]]:
    """Which part of the water each filter cleaned, and when, until the window began."""
    day = known.moment.day(known.start)
    runners = [_runner(known, unit) for unit in known.units]
    return {pk: ended(spells, day) for pk, spells in spells_of(runners).items()}


def _runner(known: Known, unit: Unit) -> Runner:
    changes = tuple((known.moment.day(when), state) for when, state in unit.changes)
    worked = [each.at for each in known.records.worked[known.circuit.id] if each.filter_id == unit.id]
    first = known.moment.day(min(worked)) if worked else None
    return Runner(unit.id, unit.area_m2, unit.state, unit.since.date(), changes, first)


def _done_before(known: Known, unit: Unit, kind: str) -> list[Worked]:
    """Work of a kind on a filter before the window began, newest first."""
    done = [
        each
        for each in known.records.worked[known.circuit.id]
        if (each.filter_id, each.kind) == (unit.id, kind) and each.at < known.began
    ]
    return sorted(done, key=lambda each: each.at, reverse=True)
