"""The rows a forecast goes by. Ten queries for any number of waters, beside the facts."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from enclosures.geometry import water_surface_m2
from enclosures.models import Circuit, Enclosure, WaterChange, WaterSource, WaterTest
from enclosures.warmth import Warmth
from filtration.forecast import Source
from filtration.models import FilterHarm, FilterUnit, Maintenance, MediaLayer
from filtration.nitrification import media_area_m2, medium
from husbandry.models import Feeding, FeedingPlan

TEST_COLUMNS = (
    "temperature_c",
    "ph",
    "tan_mg_l",
    "nitrite_n_mg_l",
    "nitrate_n_mg_l",
    "alkalinity_mg_l",
    "oxygen_mg_l",
    "clarity",
)
LONGEST_HARM = timedelta(hours=FilterHarm.MOST_HOURS)
WORK_KINDS = (Maintenance.Kind.DRAIN, Maintenance.Kind.RINSE)


@dataclass(frozen=True, slots=True)
class Test:
    """One water test; mg/L, nitrogen as N."""

    __test__ = False  # a name that pytest would otherwise collect

    pk: int
    at: datetime
    temperature_c: float | None
    ph: float | None
    tan: float | None
    nitrite: float | None
    nitrate: float | None
    alkalinity: float | None
    oxygen: float | None
    clarity: int | None


@dataclass(frozen=True, slots=True)
class Fed:
    """One meal [g]."""

    at: datetime
    kg: float
    tan_g: float
    solids_g: float


@dataclass(frozen=True, slots=True)
class Renewed:
    """New water [m3] and where it came from."""

    at: datetime
    is_top_up: bool
    volume_m3: float
    source_id: int


@dataclass(frozen=True, slots=True)
class Worked:
    """A drain or rinse of one filter."""

    at: datetime
    kind: str
    filter_id: int
    let_out_m3: float | None = None  # water that went with the sediment, if it was measured


@dataclass(frozen=True, slots=True)
class Harmed:
    """Something that happened to one filter, from `at` on; see FilterHarm."""

    at: datetime
    kind: str
    filter_id: int
    hours: float | None
    volume_m3: float | None
    source_id: int | None

    @property
    def ended(self) -> datetime:
        return self.at + timedelta(hours=self.hours or 0.0)


@dataclass(frozen=True, slots=True)
class Unit:
    """One filter as a forecast needs it. changes: every recorded change of state, oldest first."""

    id: int
    state: str
    since: datetime
    seeded: bool
    area_m2: float
    rated_flow_m3_h: float | None
    changes: tuple[tuple[datetime, str], ...]


@dataclass
class Records:
    """Rows by water; sources and planned foods by their own keys."""

    tests: dict[int, list[Test]] = field(default_factory=lambda: defaultdict(list))
    fed: dict[int, list[Fed]] = field(default_factory=lambda: defaultdict(list))
    renewed: dict[int, list[Renewed]] = field(default_factory=lambda: defaultdict(list))
    worked: dict[int, list[Worked]] = field(default_factory=lambda: defaultdict(list))
    harmed: dict[int, list[Harmed]] = field(default_factory=lambda: defaultdict(list))
    units: dict[int, list[Unit]] = field(default_factory=lambda: defaultdict(list))
    surface_m2: dict[int, float] = field(default_factory=lambda: defaultdict(float))
    sources: dict[int, Source] = field(default_factory=dict)
    foods: dict[int, tuple[float, float]] = field(default_factory=dict)  # plan: (protein, water)
    source_of: dict[int, int] = field(default_factory=dict)
    warmth_of: dict[int, Warmth] = field(default_factory=dict)


def read_records(
    circuits: Iterable[int], plans: Iterable[int], *, since: datetime, until: datetime, zone: Any
) -> Records:
    """The rows of these waters between two instants; tests as far back as twice that, for how it began."""
    wanted, records = list(circuits), Records()
    for circuit_id, pk, at, *values in (
        WaterTest.objects.filter(circuit__in=wanted, at__gt=since - (until - since), at__lte=until)
        .order_by("at", "pk")
        .values_list("circuit_id", "pk", "at", *TEST_COLUMNS)
    ):
        records.tests[circuit_id].append(Test(pk, at, *values))
    _read_events(records, wanted, since, until)
    _read_units(records, wanted, until, zone)
    _read_places(records, wanted)
    foods = FeedingPlan.objects.filter(pk__in=list(plans))
    records.foods = {
        pk: (protein, water)
        for pk, protein, water in foods.values_list("pk", "food__protein_fraction", "food__water_fraction")
    }
    return records


def _read_events(records: Records, wanted: list[int], since: datetime, until: datetime) -> None:
    within = {"at__gt": since, "at__lte": until}
    meals = Feeding.objects.filter(circuit__in=wanted, refused=False, **within).order_by("at", "pk")
    for circuit_id, at, offered, left, tan, solids in meals.values_list(
        "circuit_id", "at", "offered_kg", "left_kg", "tan_g", "solids_g"
    ):
        records.fed[circuit_id].append(Fed(at, offered - left, tan, solids))
    renewals = WaterChange.objects.filter(circuit__in=wanted, **within).order_by("at", "pk")
    for circuit_id, at, kind, volume, source_id in renewals.values_list(
        "circuit_id", "at", "kind", "volume_m3", "source_id"
    ):
        records.renewed[circuit_id].append(Renewed(at, kind == WaterChange.Kind.TOP_UP, volume, source_id))
    began = {"at__gt": since - LONGEST_HARM, "at__lte": until}  # what ended within the window counts
    harms = FilterHarm.objects.filter(filter__circuit__in=wanted, **began).order_by("at", "pk")
    columns = ("at", "kind", "filter_id", "hours", "volume_m3", "source_id")
    for circuit_id, *row in harms.values_list("filter__circuit_id", *columns):
        records.harmed[circuit_id].append(Harmed(*row))


def _read_units(records: Records, wanted: list[int], until: datetime, zone: Any) -> None:
    """Filters with their layers, all their changes of state, and drains and rinses."""
    changes: dict[int, list[tuple[datetime, str]]] = defaultdict(list)
    work = Maintenance.objects.filter(
        filter__circuit__in=wanted, kind__in=[*WORK_KINDS, Maintenance.Kind.STATE], at__lte=until
    )
    for circuit_id, pk, at, kind, state, litres in work.order_by("at", "pk").values_list(
        "filter__circuit_id", "filter_id", "at", "kind", "new_state", "litres_drained"
    ):
        if kind == Maintenance.Kind.STATE:
            changes[pk].append((at, state))
        else:
            records.worked[circuit_id].append(Worked(at, kind, pk, litres and litres / 1000))
    layers: dict[int, list[tuple[str, float, float | None]]] = defaultdict(list)
    for pk, key, depth, measured in MediaLayer.objects.filter(filter__circuit__in=wanted).values_list(
        "filter_id", "medium", "depth_m", "specific_surface_m2_m3"
    ):
        layers[pk].append((key, depth, measured))
    columns = ("pk", "circuit_id", "shape", "length_m", "width_m", "state", "state_since", "seeded")
    for pk, circuit_id, shape, length, width, state, since, seeded, rated in (
        FilterUnit.objects.filter(circuit__in=wanted)
        .order_by("pk")
        .values_list(*columns, "pump__rated_flow_m3_h")
    ):
        section = water_surface_m2(shape, length, width or length)
        began = datetime(since.year, since.month, since.day, tzinfo=zone)
        area = media_area_m2(
            (section * depth, measured or medium(key).specific_surface_m2_m3)
            for key, depth, measured in layers[pk]
        )
        records.units[circuit_id].append(
            Unit(pk, state, began, seeded, area, rated, tuple(changes.get(pk, ())))
        )


def _read_places(records: Records, wanted: list[int]) -> None:
    rows = Enclosure.objects.filter(circuit__in=wanted, in_use=True)
    for circuit_id, shape, length, width in rows.values_list("circuit_id", "shape", "length_m", "width_m"):
        records.surface_m2[circuit_id] += water_surface_m2(shape, length, width or length)
    for circuit in Circuit.objects.filter(pk__in=wanted):
        records.source_of[circuit.pk] = circuit.water_source_id
        records.warmth_of[circuit.pk] = circuit.warmth
    for source in WaterSource.objects.all():
        records.sources[source.pk] = Source(
            nitrate=source.nitrate_n_mg_l,
            alkalinity=100.0 if source.alkalinity_mg_l is None else source.alkalinity_mg_l,
            ph=min(max(source.ph or 7.6, 5.0), 10.0),
            chlorine=source.total_chlorine_mg_l,
            is_chloramine=source.disinfectant == WaterSource.Disinfectant.CHLORAMINE,
        )
