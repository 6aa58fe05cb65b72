"""The rows a forecast goes by. Six queries for any number of waters, beside the facts."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from functools import cache
from typing import Any

from enclosures.models import WaterChange, WaterSource, WaterTest
from filtration.forecast import Source
from filtration.models import FilterHarm, Maintenance
from husbandry.models import Feeding
from refuge.rules.facts import Facts, FilterFacts

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
    """Rows by water; sources by their own keys."""

    tests: dict[int, list[Test]] = field(default_factory=lambda: defaultdict(list))
    fed: dict[int, list[Fed]] = field(default_factory=lambda: defaultdict(list))
    renewed: dict[int, list[Renewed]] = field(default_factory=lambda: defaultdict(list))
    worked: dict[int, list[Worked]] = field(default_factory=lambda: defaultdict(list))
    harmed: dict[int, list[Harmed]] = field(default_factory=lambda: defaultdict(list))
    units: dict[int, list[Unit]] = field(default_factory=lambda: defaultdict(list))
    sources: dict[int, Source] = field(default_factory=dict)


def read_records(
    circuits: Iterable[int], facts: Facts, *, since: datetime, until: datetime, zone: Any
) -> Records:
    """The rows of these waters between two instants; tests as far back as twice that, for how it began."""
    wanted, records = list(circuits), Records()
    within = {"circuit__in": wanted, "at__gt": since, "at__lte": until}
    for circuit_id, *test in _tests().filter(**within | {"at__gt": since - (until - since)}):
        records.tests[circuit_id].append(Test(*test))
    for circuit_id, at, offered, left, tan, solids in _meals().filter(**within):
        records.fed[circuit_id].append(Fed(at, offered - left, tan, solids))
    for circuit_id, at, kind, volume, source_id in _renewals().filter(**within):
        records.renewed[circuit_id].append(Renewed(at, kind == WaterChange.Kind.TOP_UP, volume, source_id))
    began = since - LONGEST_HARM  # what ended within the window counts
    for circuit_id, *row in _harms().filter(filter__circuit__in=wanted, at__gt=began, at__lte=until):
        records.harmed[circuit_id].append(Harmed(*row))
    changes = _read_work(records, wanted, until)
    for unit in sorted(facts.filter.values(), key=lambda each: each.id):
        records.units[unit.circuit_id].append(_unit(unit, changes.get(unit.id, []), zone))
    records.sources = {pk: _source(*row) for pk, *row in _sources().all()}
    return records


# The queries, made once: to make one takes longer than to run it for one water.


@cache
def _tests() -> Any:
    return WaterTest.objects.order_by("at", "pk").values_list("circuit_id", "pk", "at", *TEST_COLUMNS)


@cache
def _meals() -> Any:
    meals = Feeding.objects.filter(refused=False).order_by("at", "pk")
    return meals.values_list("circuit_id", "at", "offered_kg", "left_kg", "tan_g", "solids_g")


@cache
def _renewals() -> Any:
    changes = WaterChange.objects.order_by("at", "pk")
    return changes.values_list("circuit_id", "at", "kind", "volume_m3", "source_id")


@cache
def _harms() -> Any:
    columns = ("at", "kind", "filter_id", "hours", "volume_m3", "source_id")
    return FilterHarm.objects.order_by("at", "pk").values_list("filter__circuit_id", *columns)


@cache
def _work() -> Any:
    work = Maintenance.objects.filter(kind__in=[*WORK_KINDS, Maintenance.Kind.STATE]).order_by("at", "pk")
    return work.values_list("filter__circuit_id", "filter_id", "at", "kind", "new_state", "litres_drained")


@cache
def _sources() -> Any:
    return WaterSource.objects.values_list(
        "pk", "nitrate_n_mg_l", "alkalinity_mg_l", "ph", "total_chlorine_mg_l", "disinfectant"
    )


def _read_work(records: Records, wanted: list[int], until: datetime) -> dict[int, list[tuple[datetime, str]]]:
    """Drains and rinses; gives every change of state of each filter, oldest first."""
    changes: dict[int, list[tuple[datetime, str]]] = defaultdict(list)
    for circuit_id, pk, at, kind, state, litres in _work().filter(filter__circuit__in=wanted, at__lte=until):
        if kind == Maintenance.Kind.STATE:
            changes[pk].append((at, state))
        else:
            records.worked[circuit_id].append(Worked(at, kind, pk, litres and litres / 1000))
    return changes


def _unit(unit: FilterFacts, changes: list[tuple[datetime, str]], zone: Any) -> Unit:
    since = datetime.combine(unit.state_since, datetime.min.time(), tzinfo=zone)
    return Unit(unit.id, unit.state, since, unit.seeded, unit.area_m2, unit.rated_flow_m3_h, tuple(changes))


def _source(
    nitrate: float, alkalinity: float | None, ph: float | None, chlorine: float, disinfectant: str
) -> Source:
    return Source(
        nitrate=nitrate,
        alkalinity=100.0 if alkalinity is None else alkalinity,
        ph=min(max(ph or 7.6, 5.0), 10.0),
        chlorine=chlorine,
        is_chloramine=disinfectant == WaterSource.Disinfectant.CHLORAMINE,
    )
