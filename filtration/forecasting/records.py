"""The rows a forecast goes by. Six queries for any number of waters, beside the facts."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Any

from django.db.models import Q

from enclosures.models import WaterChange, WaterSource, WaterTest
from filtration.forecast import Source
from filtration.harms.standing import as_it_stands, flowed_at
from filtration.models import FilterHarm, Maintenance
from husbandry.models import Feeding
from refuge.prepared import prepared
from refuge.rounds.loaders import of_waters
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
    "chlorine_mg_l",
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
    chlorine: float | None = None


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
    layer_id: int | None = None  # that was rinsed, if it was said


@dataclass(frozen=True, slots=True)
class Harmed:
    """Something that happened to one filter, from `at` on; see FilterHarm. is_open: it stands still to this hour."""

    at: datetime
    kind: str
    filter_id: int
    hours: float | None
    volume_m3: float | None
    source_id: int | None
    is_open: bool = False

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
    records, within = Records(), {"circuits": list(circuits), "until": until}
    for circuit_id, *test in _tests(since=since - (until - since), **within):
        records.tests[circuit_id].append(Test(*test))
    for circuit_id, at, offered, left, tan, solids in _meals(since=since, **within):
        records.fed[circuit_id].append(Fed(at, offered - left, tan, solids))
    for circuit_id, at, kind, volume, source_id in _renewals(since=since, **within):
        records.renewed[circuit_id].append(Renewed(at, kind == WaterChange.Kind.TOP_UP, volume, source_id))
    began = since - LONGEST_HARM  # what ended within the window counts
    for circuit_id, *row in _harms(since=began, **within):
        records.harmed[circuit_id].append(_harmed(until, *row))
    changes: dict[int, list[tuple[datetime, str]]] = defaultdict(list)  # of state, by filter
    for circuit_id, pk, at, kind, state, litres, layer in _work(**within):
        if kind == Maintenance.Kind.STATE:
            changes[pk].append((at, state))
        else:
            records.worked[circuit_id].append(Worked(at, kind, pk, litres and litres / 1000, layer))
    for unit in sorted(facts.filter.values(), key=lambda each: each.id):
        records.units[unit.circuit_id].append(_unit(unit, changes[unit.id], zone))
    records.sources = {pk: _source(*row) for pk, *row in _sources()}
    return records


@prepared
def _tests(circuits: list[int], since: datetime, until: datetime) -> Any:
    rows = of_waters(WaterTest.objects.filter(at__gt=since, at__lte=until), circuits)
    return rows.order_by("at", "pk").values_list("circuit_id", "pk", "at", *TEST_COLUMNS)


@prepared
def _meals(circuits: list[int], since: datetime, until: datetime) -> Any:
    rows = of_waters(Feeding.objects.filter(refused=False, at__gt=since, at__lte=until), circuits)
    columns = ("circuit_id", "at", "offered_kg", "left_kg", "tan_g", "solids_g")
    return rows.order_by("at", "pk").values_list(*columns)


@prepared
def _renewals(circuits: list[int], since: datetime, until: datetime) -> Any:
    rows = of_waters(WaterChange.objects.filter(at__gt=since, at__lte=until), circuits)
    return rows.order_by("at", "pk").values_list("circuit_id", "at", "kind", "volume_m3", "source_id")


@prepared
def _harms(circuits: list[int], since: datetime, until: datetime) -> Any:
    harms = FilterHarm.objects.filter(Q(at__gt=since) | Q(runs_again=False), at__lte=until)
    rows = of_waters(harms.annotate(flowed_at=flowed_at(until)), circuits, "filter__circuit")
    columns = ("at", "kind", "filter_id", "hours", "volume_m3", "source_id", "runs_again", "flowed_at")
    return rows.order_by("at", "pk").values_list("filter__circuit_id", *columns)


def _harmed(
    now: datetime, at: datetime, kind: str, filter_id: int, hours: float | None, *rest: Any
) -> Harmed:
    volume_m3, source_id, runs_again, flowed = rest
    harm = as_it_stands(FilterHarm(at=at, hours=hours, runs_again=runs_again), flowed, now)
    return Harmed(at, kind, filter_id, harm.hours, volume_m3, source_id, is_open=not harm.runs_again)


@prepared
def _work(circuits: list[int], until: datetime) -> Any:
    """Drains, rinses and changes of state."""
    kinds = [*WORK_KINDS, Maintenance.Kind.STATE]
    rows = of_waters(Maintenance.objects.filter(kind__in=kinds, at__lte=until), circuits, "filter__circuit")
    columns = ("filter__circuit_id", "filter_id", "at", "kind", "new_state", "litres_drained", "layer_id")
    return rows.order_by("at", "pk").values_list(*columns)


@prepared
def _sources() -> Any:
    columns = ("pk", "nitrate_n_mg_l", "alkalinity_mg_l", "ph", "total_chlorine_mg_l", "disinfectant")
    return WaterSource.objects.values_list(*columns)


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
