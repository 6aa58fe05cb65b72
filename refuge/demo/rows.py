"""Turns the place, the people and the cast into rows of the database, in an order that keys allow."""

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime, time
from typing import Any, TypeVar

from django.contrib.auth.hashers import make_password
from django.db.models import Model

from enclosures.models import Area, Circuit, Enclosure, WaterSource
from filtration.models import FilterUnit, MediaLayer, Pump
from husbandry.food_values import FOODS
from husbandry.models import Animal, Food, Species
from refuge.demo.accounts import PASSWORD, PEOPLE
from refuge.demo.cast import Character
from refuge.demo.daybook import Daybook
from refuge.demo.happenings import AnimalTold
from refuge.demo.kinds import KINDS
from refuge.demo.place import ELEVATION_M, REFUGE_NAME, TIME_ZONE
from refuge.demo.plans import FilterPlan, Place
from refuge.demo.weather import POND_MEAN_C, POND_SWING_C
from refuge.people.models import Refuge, User
from refuge.rounds.models import Limit

BATCH = 500
Row = TypeVar("Row", bound=Model)


@dataclass(slots=True)
class Keys:
    """Primary keys by the codes of the story."""

    people: dict[str, int] = field(default_factory=dict)
    sources: dict[str, int] = field(default_factory=dict)
    circuits: dict[str, int] = field(default_factory=dict)
    enclosures: dict[str, int] = field(default_factory=dict)
    filters: dict[str, int] = field(default_factory=dict)
    layers: dict[tuple[str, int], int] = field(default_factory=dict)
    foods: dict[str, int] = field(default_factory=dict)
    animals: dict[str, int] = field(default_factory=dict)


def added(model: type[Row], rows: Iterable[Row]) -> list[Row]:
    """Store rows in batches; they come back with their keys."""
    return model._default_manager.bulk_create(list(rows), batch_size=BATCH)


def _keyed(model: type[Any], rows: Mapping[Any, Any]) -> dict[Any, int]:
    stored = added(model, rows.values())
    return {code: row.pk for code, row in zip(rows, stored, strict=True)}


def add_refuge() -> None:
    Refuge.objects.create(
        pk=Refuge.SINGLETON,
        name=REFUGE_NAME,
        time_zone=TIME_ZONE,
        elevation_m=ELEVATION_M,
        price_per_kwh=0.24,
        is_demo=True,
    )


def add_people(keys: Keys, book: Daybook, last_seen: Mapping[str, datetime]) -> None:
    """Everybody has the demo's known password, hashed once."""
    password = make_password(PASSWORD)
    rows = {}
    for person in PEOPLE:
        joined = book.day(person.since) if person.since is not None else book.first
        rows[person.username] = User(
            username=person.username,
            name=person.name,
            email=f"{person.username}@example.org",
            role=person.role,
            unit_system=person.unit_system,
            password=password,
            is_active=person.until is None,
            wants_digest=person.until is None,
            last_seen_at=last_seen.get(person.username),
            date_joined=datetime.combine(joined, time(15), tzinfo=UTC),
        )
    keys.people = _keyed(User, rows)


def add_place(keys: Keys, place: Place, book: Daybook) -> None:
    areas = _keyed(
        Area,
        {
            each.code: Area(code=each.code, name=each.name, biosecurity_rank=each.rank, position=number)
            for number, each in enumerate(place.areas)
        },
    )
    keys.sources = _keyed(
        WaterSource,
        {
            each.key: WaterSource(
                name=each.name,
                disinfectant=each.disinfectant,
                total_chlorine_mg_l=each.total_chlorine_mg_l,
                nitrate_n_mg_l=each.nitrate_n_mg_l,
                alkalinity_mg_l=each.alkalinity_mg_l,
                ph=each.ph,
                note=each.note,
            )
            for each in place.sources
        },
    )
    _add_circuits(keys, place)
    _add_enclosures(keys, place, areas)
    _add_filters(keys, place, areas, book)


def _add_circuits(keys: Keys, place: Place) -> None:
    keys.circuits = _keyed(
        Circuit,
        {
            each.code: Circuit(
                code=each.code,
                name=each.name,
                water_source_id=keys.sources[each.source],
                extra_volume_m3=each.extra_m3,
                usual_temperature_c=POND_MEAN_C + POND_SWING_C if each.is_outdoor else each.temperature_c,
                coldest_temperature_c=POND_MEAN_C - POND_SWING_C if each.is_outdoor else None,
                is_quarantine=each.is_quarantine,
                note=each.note,
            )
            for each in place.circuits
        },
    )


def _add_enclosures(keys: Keys, place: Place, areas: dict[str, int]) -> None:
    keys.enclosures = _keyed(
        Enclosure,
        {
            each.code: Enclosure(
                code=each.code,
                name=each.name,
                area_id=areas[each.area],
                circuit_id=keys.circuits[each.circuit],
                purpose=each.purpose,
                position=number,
                shape=each.shape,
                length_m=each.length_m,
                width_m=each.width_m,
                water_depth_m=each.depth_m,
                is_outdoor=each.is_outdoor,
                note=each.note,
            )
            for number, each in enumerate(place.enclosures)
        },
    )


def _add_filters(keys: Keys, place: Place, areas: dict[str, int], book: Daybook) -> None:
    area_of = {each.code: areas[each.area] for each in place.circuits}
    rows = {
        plan.code: _filter(plan, keys.circuits[plan.circuit], area_of[plan.circuit], number, book)
        for number, plan in enumerate(place.filters)
    }
    keys.filters = _keyed(FilterUnit, rows)
    layers = {
        (plan.code, number): MediaLayer(
            filter_id=keys.filters[plan.code],
            position=number + 1,
            medium=layer.medium,
            depth_m=layer.depth_m,
            is_bagged=layer.is_bagged,
        )
        for plan in place.filters
        for number, layer in enumerate(plan.layers)
    }
    keys.layers = _keyed(MediaLayer, layers)
    added(Pump, [_pump(plan, keys.filters[plan.code]) for plan in place.filters])


def _filter(plan: FilterPlan, circuit: int, area: int, number: int, book: Daybook) -> FilterUnit:
    return FilterUnit(
        code=plan.code,
        name=plan.name,
        circuit_id=circuit,
        area_id=area,
        position=50 + number,  # after the enclosures of its area
        shape=plan.shape,
        length_m=plan.length_m,
        width_m=plan.width_m,
        height_m=plan.height_m,
        void_height_m=plan.void_height_m,
        inlet_bore_m=0.032 if plan.rated_flow_m3_h < 10 else 0.09,
        return_bore_m=0.05 if plan.rated_flow_m3_h < 10 else 0.15,
        state=plan.state,
        state_since=book.day(plan.state_since),
        seeded=plan.seeded,
        commissioning_flow_m3_h=plan.flow_m3_h if plan.state != "building" else None,
        note=plan.note,
    )


def _pump(plan: FilterPlan, filter_id: int) -> Pump:
    is_large = plan.rated_flow_m3_h > 10
    return Pump(
        filter_id=filter_id,
        name=plan.pump,
        rated_flow_m3_h=plan.rated_flow_m3_h,
        shutoff_head_m=7.5 if is_large else 2.6,
        power_w=370 if is_large else 55,
        is_protected=plan.is_protected,
    )


def add_foods(keys: Keys) -> None:
    keys.foods = _keyed(
        Food,
        {
            each.name: Food(
                name=each.name,
                water_fraction=each.water_fraction,
                protein_fraction=each.protein_fraction,
                fat_fraction=each.fat_fraction or 0.0,
                phosphorus_fraction=0.002 if each.phosphorus_fraction is None else each.phosphorus_fraction,
                source=f"{each.source} ({each.how_known})",
            )
            for each in FOODS
        },
    )


def add_animals(keys: Keys, cast: dict[str, Character], told: dict[str, AnimalTold]) -> None:
    species = _keyed(
        Species,
        {
            kind.key: Species(
                name=kind.name,
                scientific_name=kind.scientific_name,
                temperature_low_c=kind.low_c,
                temperature_high_c=kind.high_c,
                adult_mass_kg=kind.adult_kg,
                note="Temperatures and weight: common practice, no source. Ask a veterinarian.",
            )
            for kind in KINDS.values()
        },
    )
    rows = {code: _animal(code, cast[code], told[code], species) for code in told}
    keys.animals = _keyed(Animal, rows)


def _animal(code: str, each: Character, told: AnimalTold, species: dict[str, int]) -> Animal:
    return Animal(
        code=code,
        name=each.name,
        species_id=species[each.kind],
        sex=each.sex,
        marks=each.marks,
        # 999 is the code that ISO 11784 keeps for test transponders; hatchlings are too small for one.
        transponder="" if each.hatched else f"9990000{int(code[2:]):08d}",
        hatched_on=each.hatched,
        origin=each.origin,
        condition=each.condition,
        arrived_on=each.arrived,
        status=told.status,
        left_on=told.left_on,
        brumating_since=told.brumating_since,
        note=each.note,
    )


def add_limits(keys: Keys, book: Daybook) -> None:
    """What the manager has set otherwise than the program's defaults."""
    at = datetime.combine(book.day(-430), time(16), tzinfo=UTC)
    Limit.objects.create(
        key="husbandry.weigh_brumation_days",
        scope_kind=Limit.Scope.CIRCUIT,
        scope_id=keys.circuits["W05"],
        value=120,
        reason="They rest on the bottom of the pond; once a winter is as often as we lift them.",
        from_on=book.day(-430),
        by_id=keys.people["manager"],
        entered_at=at,
    )
