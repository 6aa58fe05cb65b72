"""What the rules may know of the filters: what they can carry, what lies in the void, what was last done."""

import math
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import replace
from datetime import date, datetime
from typing import Any

from django.db.models import OuterRef, Subquery

from enclosures.geometry import water_surface_m2
from filtration import nitrification, survival
from filtration.clogging import Build, Layers, clogged_at_g_l
from filtration.designing.checks_of_run import TAN_LIMIT_MG_L
from filtration.forecasting.bearing import tell_what_is_awaited, tell_what_may_be_fed
from filtration.forecasting.told import forecasts_of, grown_alone
from filtration.harms.facts import harms_of, tell_water, with_harms
from filtration.hydraulics.bed import BedLayer
from filtration.lying import Work, with_what_lies, works_of
from filtration.models import FilterUnit, Maintenance, MediaLayer
from filtration.proven import carried_without, proving_tests
from filtration.shares import Runner, Spell, spells_of
from refuge.prepared import prepared
from refuge.rounds.loaders import Moment, Scopes, loader, of_waters
from refuge.rules.facts import (
    NO_STOP,
    RUNNING,
    CircuitFacts,
    Facts,
    FilterFacts,
    Reading,
    Stop,
)

FILTER_COLUMNS = (
    "pk",
    "code",
    "name",
    "circuit_id",
    "position",
    "shape",
    "length_m",
    "width_m",
    "void_height_m",
    "state",
    "state_since",
    "seeded",
    "commissioning_flow_m3_h",
    "area__code",
    "area__name",
    "area__biosecurity_rank",
    "area__position",
    "pump__pk",
    "pump__rated_flow_m3_h",
    "height_m",
    "inlet_bore_m",
    "return_bore_m",
    "pump__shutoff_head_m",
    "build__design__overflow_height_m",
    "pump__is_protected",
)
CARRIES_NOTHING = (0.0, 0.0, False)  # a filter that does not run adds nothing to its water, not even one day


@loader("filtration")
def load(facts: Facts, scopes: Scopes, moment: Moment) -> None:
    filters = list(_filters(scopes=scopes))
    layers = _layers(scopes)
    works = works_of(scopes, moment)
    spells = _spells(filters, layers, works)
    harms = harms_of(scopes, moment, facts.circuit)
    forecasts = forecasts_of(scopes, moment)
    seen = grown_alone([(row[0], row[3], row[9]) for row in filters], forecasts)
    capacities: dict[int, tuple[float, float, bool]] = {}
    for row in filters:
        circuit = facts.circuit.get(row[3])
        if circuit is None:
            continue
        unit = _filter(row, circuit, layers[row[0]], works[row[0]].last, moment)
        unit = with_what_lies(unit, facts, works[unit.id], spells[unit.id], moment.today)
        if circuit.id in harms:
            near_zero = moment.limits(circuit.id, unit.id)["water.near_zero_mg_l"]
            unit = with_harms(unit, harms[circuit.id], circuit, near_zero, moment)
        if unit.id in seen and unit.harm is None:
            unit = replace(unit, grown=seen[unit.id])
        facts.filter[unit.id] = unit
        capacities[unit.id] = filter_capacity(unit, moment) if unit.state in RUNNING else CARRIES_NOTHING
    for pk, units in _by_water(facts).items():
        _enrich_circuit(facts, pk, [capacities[unit.id] for unit in units])
        _tell_what_is_proved(facts, units, {unit.id: capacities[unit.id][0] for unit in units}, moment)
    for pk in harms:
        tell_water(facts, pk, moment.limits(pk))
    for pk, forecast in forecasts.items():
        if pk in facts.circuit:
            facts.circuit[pk] = replace(facts.circuit[pk], forecast=forecast)
    _tell_when_mature(facts, moment)
    tell_what_may_be_fed(facts, moment.today)
    tell_what_is_awaited(facts, moment.today)


@prepared
def _filters(scopes: Scopes) -> Any:
    results = _results()
    rows = of_waters(FilterUnit.objects.order_by("pk"), scopes)
    return rows.annotate(**results).values_list(*FILTER_COLUMNS, *results)


def _results() -> dict[str, Subquery]:
    """Results of each filter's last tests, in its own query's columns."""

    def last(kind: str, column: str, **where: Any) -> Subquery:
        rows = Maintenance.objects.filter(filter=OuterRef("pk"), kind=kind, **where).order_by("-at")
        return Subquery(rows.values(column)[:1])

    return {
        "flow": last("bucket_test", "flow_m3_h"),
        "protection_passed": last("protection_test", "passed"),
        "leak_passed_at": last("leak_test", "at", passed=True),
    }


@prepared
def _layer_rows(scopes: Scopes) -> Any:
    columns = ("medium", "depth_m", "specific_surface_m2_m3", "void_fraction", "is_bagged", "grain_size_m")
    rows = of_waters(MediaLayer.objects.order_by("filter", "position"), scopes, "filter__circuit")
    return rows.values_list("filter_id", "pk", *columns)


def _layers(scopes: Scopes) -> dict[int, Layers]:
    layers: dict[int, Layers] = defaultdict(Layers)
    for pk, key, *stone in _layer_rows(scopes=scopes):
        layers[pk].keys.append(key)
        layers[pk].stones.append(tuple(stone))  # type: ignore[arg-type]
    return layers


def _by_water(facts: Facts) -> dict[int, list[FilterFacts]]:
    waters: dict[int, list[FilterFacts]] = defaultdict(list)
    for unit in facts.filter.values():
        waters[unit.circuit_id].append(unit)
    return waters


def _tell_what_is_proved(
    facts: Facts, units: list[FilterFacts], carried: dict[int, float], moment: Moment
) -> None:
    """What the tests of a water say of each of its filters, and whether others carry the load without it."""
    growing: list[date] = []
    for unit in units:
        water, fed = facts.circuit[unit.circuit_id], facts.fed.get(unit.circuit_id, [])
        near_zero = moment.limits(water.id, unit.id)["water.near_zero_mg_l"]
        facts.filter[unit.id] = replace(
            unit,
            quiet_tests=proving_tests(water.tests, unit.state_since, fed, water.volume_m3, near_zero),
            carried_by=carried_without(unit, units, carried, water.tan_g_day),
        )
        if unit.state in RUNNING and unit.state != "mature" and not facts.filter[unit.id].carried_by:
            growing.append(unit.state_since)
    pk = units[0].circuit_id
    facts.circuit[pk] = replace(facts.circuit[pk], cycling_since=max(growing, default=None))


def _tell_when_mature(facts: Facts, moment: Moment) -> None:
    """A forecast knows its own water better than a curve for all filters: what it says of the young ones counts."""
    for pk, unit in facts.filter.items():
        forecast = facts.circuit[unit.circuit_id].forecast
        if unit.days_to_mature is None or forecast is None or not forecast.is_young:
            continue
        passed = (moment.today - forecast.made_on).days
        days = None if forecast.mature_in is None else max(forecast.mature_in - passed, 0.0)
        facts.filter[pk] = replace(unit, days_to_mature=days)


def _surface(row: tuple[Any, ...]) -> float:
    shape, length, width = row[5:8]
    return water_surface_m2(shape, length, width or length)


def _spells(
    filters: list[tuple[Any, ...]], layers: Mapping[int, Layers], works: Mapping[int, Work]
) -> dict[int, list[Spell]]:
    """Share of its circuit's water that each filter cleaned, and when: by media surface, evenly if none is known."""
    waters: dict[int, list[Runner]] = defaultdict(list)
    for row in filters:
        work = works[row[0]]
        area = layers[row[0]].area_m2(_surface(row))
        runner = Runner(row[0], area, row[9], row[10], work.changes, work.first_on)
        waters[row[3]].append(runner)
    return {pk: spells for units in waters.values() for pk, spells in spells_of(units).items()}


def _build(row: tuple[Any, ...], bed: tuple[BedLayer, ...]) -> Build:
    shape, length, width, void_height = row[5:9]
    height, inlet, back, head = row[19:23]
    return Build(shape, length, width, height, void_height, bed, row[18], head, inlet, back, row[12])


def _filter(
    row: tuple[Any, ...], circuit: CircuitFacts, layers: Layers, last: dict[str, datetime], moment: Moment
) -> FilterFacts:
    pk, code, name, _, position, *_ = row
    void_height, state, state_since, seeded, commissioning_flow, *area, pump, rated_flow = row[8:19]
    flow, protection_passed, leak_passed_at = row[-3:]
    cross_section = _surface(row)
    path = f"/filters/{pk}/"
    area_code, area_name, area_rank, area_position = area
    stop = Stop(area_code, area_name, area_rank, area_position, code, name, position, path)
    limits = moment.limits(circuit.id, pk)
    days_running = max((moment.today - state_since).days, 0)
    mature_in = None
    if state == "cycling":
        mature_in = max(
            nitrification.days_to_mature(nitrification.within_range(circuit.temperature_c), seeded)
            - days_running,
            0.0,
        )
    return FilterFacts(
        id=pk,
        label=f"{code} {name}",
        path=path,
        stop=stop if stop.area_code else NO_STOP,
        circuit_id=circuit.id,
        state=state,
        state_since=state_since,
        void_l=cross_section * void_height * 1000,
        cross_section_m2=cross_section,
        temperature_c=circuit.temperature_c,
        has_layers=bool(layers.keys),
        area_m2=layers.area_m2(cross_section),
        seeded=seeded,
        layers=len(layers.keys),
        caught_by=tuple(zip(layers.keys, layers.shares, strict=True)) if layers.keys else (),
        media_void_l=layers.void_l(cross_section),
        clogged_g_l=clogged_at_g_l(_build(row, layers.bed), limits["filtration.rinse_flow_share"]),
        last_drain_at=last.get("drain"),
        last_rinse_at=last.get("rinse"),
        last_pump_clean_on=_day(last.get("pump_clean")),
        last_bucket_at=last.get("bucket_test"),
        last_protection_on=_day(last.get("protection_test")),
        protection_passed=protection_passed,
        has_protection=bool(row[24] or protection_passed),
        lip_l=None if row[23] is None else cross_section * min(row[23], row[19]) * 1000,
        last_inspection_on=_day(last.get("inspection")),
        leak_passed_on=moment.day(leak_passed_at) if leak_passed_at else None,
        commissioning_flow_m3_h=commissioning_flow,
        flow=Reading(flow, last["bucket_test"].date())
        if flow is not None and "bucket_test" in last
        else None,
        has_pump=pump is not None,
        rated_flow_m3_h=rated_flow,
        days_to_mature=mature_in,
    )


def _day(at: datetime | None) -> date | None:
    return at.date() if at else None


def filter_capacity(unit: FilterFacts, moment: Moment) -> tuple[float, float, bool]:
    """(capacity today, capacity once mature, whether it is still growing) of one filter [g TAN/day].

    By its stones, and never more than its measured flow brings them.
    """
    temperature = nitrification.within_range(unit.temperature_c)
    mature = nitrification.capacity_tan_g_day(unit.area_m2, temperature)
    brought = brought_tan_g_day(unit)
    most = math.inf if brought is None else brought
    if unit.state not in RUNNING:
        return 0.0, min(mature, most), False
    ready = _by_its_days(unit, temperature, moment) if unit.grown is None else unit.grown
    return min(mature * ready, most), min(mature, most), unit.state != "mature"


def _by_its_days(unit: FilterFacts, temperature_c: float, moment: Moment) -> float:
    """Share of its mature capacity by its state, the days in it, and what happened to it."""
    ready = nitrification.carrying_share(
        unit.state,
        max((moment.today - unit.state_since).days, 0),
        temperature_c,
        seeded=unit.seeded,
        disturbed_share=moment.limits(unit.circuit_id, unit.id)["filtration.disturbed_share"],
    )
    return survival.carried_after_harm(ready, unit.state, unit.harm_left_today if unit.harm else None)


def brought_tan_g_day(unit: FilterFacts) -> float | None:
    """What the flow of the last bucket test brings past the stones [g TAN/day], at the TAN that their rate is for.

    None for a flow that was never measured: one thought to be as when new is no ground to say that it is too little.
    """
    return None if unit.flow is None else unit.flow.value * 24 * TAN_LIMIT_MG_L


def _enrich_circuit(facts: Facts, pk: int, carried: list[tuple[float, float, bool]]) -> None:
    facts.circuit[pk] = replace(
        facts.circuit[pk],
        filters=len(carried),
        capacity_tan_g_day=sum(now for now, _, _ in carried) or None,
        mature_capacity_tan_g_day=sum(mature for _, mature, _ in carried) or None,
        is_cycling=any(growing for _, _, growing in carried),
    )
