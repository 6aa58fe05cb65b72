"""What the rules may know of a water: its size, its source, its tests and changes. Four queries for any site."""

from collections import defaultdict
from collections.abc import Iterable
from datetime import datetime, timedelta
from typing import Any

from django.db.models import OuterRef, Subquery

from enclosures.geometry import water_surface_m2, water_volume_m3
from enclosures.models import Circuit, Enclosure, WaterChange, WaterTest
from enclosures.tested import RECENT_DAYS, Tested, as_known_now, tests_of
from enclosures.warmth import Warmth, temperature_now
from refuge.prepared import prepared
from refuge.rounds.loaders import Moment, Scopes, loader, of_waters
from refuge.rules.facts import NO_STOP, CircuitFacts, EnclosureFacts, Facts, Reading, Stop

ENCLOSURE_COLUMNS = (
    "pk",
    "code",
    "name",
    "circuit_id",
    "purpose",
    "is_outdoor",
    "position",
    "shape",
    "length_m",
    "width_m",
    "water_depth_m",
    "measured_volume_m3",
    "area__code",
    "area__name",
    "area__biosecurity_rank",
    "area__position",
)


@loader("enclosures")
def load(facts: Facts, scopes: Scopes, moment: Moment) -> None:
    volumes, stops = _load_enclosures(facts, scopes)
    circuits = _circuits(scopes)
    tests = tests_of({each["pk"]: each["last_test"] for each in circuits}, moment)
    changes = _changes(scopes, moment)
    for row in circuits:
        pk = row["pk"]
        volume = volumes.get(pk, 0.0) + row["extra_volume_m3"]
        facts.circuit[pk] = _circuit(
            row, volume, stops.get(pk, NO_STOP), tests.get(pk, []), changes.get(pk, []), moment
        )


@prepared
def _enclosures(scopes: Scopes) -> Any:
    """Those in use, in walking order."""
    return of_waters(Enclosure.objects.filter(in_use=True), scopes).values_list(*ENCLOSURE_COLUMNS)


def _load_enclosures(facts: Facts, scopes: Scopes) -> tuple[dict[int, float], dict[int, Stop]]:
    """Fill in the enclosures; give each circuit's volume and its first stop on the walk."""
    volumes: dict[int, float] = defaultdict(float)
    stops: dict[int, Stop] = {}
    for row in _enclosures(scopes=scopes):
        pk, code, name, circuit_id, purpose, is_outdoor, position, *size = row
        area_code, area_name, rank, area_position = size[5:]
        path = f"/enclosures/{pk}/"
        stop = Stop(area_code, area_name, rank, area_position, code, name, position, path)
        shape, length, width, *_ = size[:5]
        volume = _volume(*size[:5])
        facts.enclosure[pk] = EnclosureFacts(
            id=pk,
            label=f"{code} {name}",
            path=path,
            stop=stop,
            circuit_id=circuit_id,
            is_outdoor=is_outdoor,
            purpose=purpose,
            volume_m3=volume,
            surface_m2=water_surface_m2(shape, length, width or length),
        )
        volumes[circuit_id] += volume
        stops.setdefault(circuit_id, stop)  # rows come in walking order
    return volumes, stops


def _volume(shape: Any, length: float, width: float | None, depth: float, measured: float | None) -> float:
    return measured if measured is not None else water_volume_m3(shape, length, width, depth)


def _latest(model: Any, column: str, **where: Any) -> Subquery:
    rows = model.objects.filter(circuit=OuterRef("pk"), **where).order_by("-at")
    return Subquery(rows.values(column)[:1])


CIRCUIT_COLUMNS = (
    "pk",
    "code",
    "name",
    "extra_volume_m3",
    "usual_temperature_c",
    "coldest_temperature_c",
    "warmest_month",
    "is_quarantine",
    "last_test",
    "last_panel",
    "last_nitrate",
    "last_nitrate_at",
    "last_alkalinity",
    "last_alkalinity_at",
    "last_change",
    "water_source_id",
    "water_source__name",
    "water_source__disinfectant",
    "water_source__total_chlorine_mg_l",
    "water_source__nitrate_n_mg_l",
    "water_source__alkalinity_mg_l",
)


@prepared
def _circuit_rows(scopes: Scopes) -> Any:
    has_nitrate = {"nitrate_n_mg_l__isnull": False}
    has_alkalinity = {"alkalinity_mg_l__isnull": False}
    rows = (
        Circuit.objects.order_by("pk")
        if scopes is None
        else Circuit.objects.filter(pk__in=scopes).order_by("pk")
    )
    return rows.annotate(
        last_test=_latest(WaterTest, "pk"),
        last_panel=_latest(WaterTest, "at", **has_nitrate, **has_alkalinity),
        last_nitrate=_latest(WaterTest, "nitrate_n_mg_l", **has_nitrate),
        last_nitrate_at=_latest(WaterTest, "at", **has_nitrate),
        last_alkalinity=_latest(WaterTest, "alkalinity_mg_l", **has_alkalinity),
        last_alkalinity_at=_latest(WaterTest, "at", **has_alkalinity),
        last_change=_latest(WaterChange, "at", kind=WaterChange.Kind.CHANGE),
    ).values_list(*CIRCUIT_COLUMNS)


def _circuits(scopes: Scopes) -> list[dict[str, Any]]:
    return [dict(zip(CIRCUIT_COLUMNS, row, strict=True)) for row in _circuit_rows(scopes=scopes)]


@prepared
def _change_rows(scopes: Scopes, since: datetime, until: datetime) -> Any:
    rows = WaterChange.objects.filter(kind=WaterChange.Kind.CHANGE, at__gte=since, at__lte=until)
    return of_waters(rows, scopes).values_list("circuit_id", "at", "volume_m3")


def _changes(scopes: Scopes, moment: Moment) -> dict[int, list[tuple[datetime, float]]]:
    since = moment.now - timedelta(days=2 * RECENT_DAYS)
    changes: dict[int, list[tuple[datetime, float]]] = defaultdict(list)
    for circuit_id, at, volume in _change_rows(scopes=scopes, since=since, until=moment.now):
        changes[circuit_id].append((at, volume))
    return changes


def renewed_share(
    changes: Iterable[tuple[datetime, float]], since: datetime | None, volume_m3: float
) -> float:
    """Share of the water renewed by changes after a reading: 1 - product of (1 - v/V). 0 to 1.

    By the instant: a change made earlier on the day of the reading is in the reading already. At one instant the test
    comes first, as in the forecast (filtration.forecasting.order).
    """
    left = 1.0
    if since is not None and volume_m3 > 0:
        for at, changed in changes:
            if at >= since:
                left *= max(0.0, 1 - changed / volume_m3)
    return 1 - left


def _circuit(
    row: dict[str, Any],
    volume: float,
    stop: Stop,
    tests: list[Tested],
    changes: list[tuple[datetime, float]],
    moment: Moment,
) -> CircuitFacts:
    nitrate = _reading(row["last_nitrate"], row["last_nitrate_at"], moment)
    alkalinity = _reading(row["last_alkalinity"], row["last_alkalinity_at"], moment)
    warmth = Warmth(row["usual_temperature_c"], row["coldest_temperature_c"], row["warmest_month"])
    read = next(
        ((t.facts.on, t.facts.temperature_c) for t in tests if t.facts.temperature_c is not None), None
    )
    celsius = temperature_now(warmth, moment.today, *(read or (None, None)))
    return CircuitFacts(
        id=row["pk"],
        label=f"{row['code']} {row['name']}",
        path=f"/waters/{row['pk']}/",
        stop=stop,
        volume_m3=volume,
        is_quarantine=row["is_quarantine"],
        temperature_c=celsius,
        usual_temperature_c=warmth.usual_c,
        coldest_temperature_c=warmth.coldest_c,
        warmest_month=warmth.warmest_month,
        tests=as_known_now(tests, celsius, lambda since: renewed_share(changes, since, volume)),
        last_panel_on=moment.day(row["last_panel"]) if row["last_panel"] else None,
        nitrate=nitrate,
        alkalinity=alkalinity,
        last_change_on=moment.day(row["last_change"]) if row["last_change"] else None,
        changed_since_nitrate_share=renewed_share(changes, row["last_nitrate_at"], volume),
        changed_since_alkalinity_share=renewed_share(changes, row["last_alkalinity_at"], volume),
        source_id=row["water_source_id"],
        source_name=row["water_source__name"],
        source_disinfectant=row["water_source__disinfectant"],
        source_chlorine_mg_l=row["water_source__total_chlorine_mg_l"],
        source_nitrate=row["water_source__nitrate_n_mg_l"],
        source_alkalinity=row["water_source__alkalinity_mg_l"],
    )


def _reading(value: float | None, at: Any, moment: Moment) -> Reading | None:
    return None if value is None else Reading(value, moment.day(at))
