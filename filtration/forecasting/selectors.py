"""Reads of stored forecasts: a fixed number of queries for any number of waters."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime, timedelta

from django.db.models import Exists, OuterRef
from django.utils import timezone

from enclosures.models import Circuit, WaterChange, WaterTest
from enclosures.selectors import TestPoint, test_points
from filtration.forecasting.models import ForecastWanted, WaterForecast
from filtration.models import FilterHarm, Maintenance
from husbandry.models import Feeding

LOOK_BACK = timedelta(days=7)
TESTS_SHOWN = 12
ONE_DAY = timedelta(days=1)
# Days ahead for which forecasts are judged, each with what counts as about so many: they end after two weeks.
LEADS = {3: (2.0, 4.0), 7: (6.0, 8.0), 14: (12.0, 14.0)}
WAITED_FOR = timedelta(minutes=5)  # pages ask again so long while a forecast is being made


@dataclass(frozen=True, slots=True)
class Mark:
    """Something that happened, or is planned, as a picture shows it. kind: 'meal', 'change' or 'work'."""

    at: datetime
    kind: str
    words: str
    amount: float | None = None  # kg of food, m3 of water


@dataclass(frozen=True, slots=True)
class Recent:
    """What happened to a water in the last days, and its last tests."""

    tests: list[TestPoint]
    marks: list[Mark]


def latest_forecast(circuit_id: int, day: date) -> WaterForecast | None:
    """The newest forecast of a water up to a day: 1 query."""
    return WaterForecast.objects.filter(circuit=circuit_id, day__lte=day).order_by("-day").first()


def is_wanted(circuit_id: int, forecast: WaterForecast | None) -> bool:
    """Whether a newer forecast is on its way, or being made: 1 query. One that does not come in time is not
    waited for. A test that the forecast does not know counts as well, whoever entered it by whatever way."""
    recently = timezone.now() - WAITED_FOR
    wishes = ForecastWanted.objects.filter(pk=OuterRef("pk"), since__gte=recently)
    unknown = WaterTest.objects.filter(
        circuit=OuterRef("pk"), entered_at__gte=max(recently, forecast.made_at if forecast else recently)
    )
    return Circuit.objects.filter(Exists(wishes) | Exists(unknown), pk=circuit_id).exists()


def recent(circuit_id: int, now: datetime) -> Recent:
    """Tests, meals, water changes, work on filters and harm to them in the last week: 5 queries."""
    since = now - LOOK_BACK
    within = {"at__gt": since, "at__lte": now}
    marks = [
        Mark(at, "meal", "Meal", offered - left)
        for at, offered, left in Feeding.objects.filter(
            circuit=circuit_id, refused=False, **within
        ).values_list("at", "offered_kg", "left_kg")
    ]
    marks += [
        Mark(at, "change", WaterChange.Kind(kind).label, volume)
        for at, kind, volume in WaterChange.objects.filter(circuit=circuit_id, **within).values_list(
            "at", "kind", "volume_m3"
        )
    ]
    kinds = [Maintenance.Kind.DRAIN, Maintenance.Kind.RINSE]
    marks += [
        Mark(at, "work", Maintenance.Kind(kind).label)
        for at, kind in Maintenance.objects.filter(
            filter__circuit=circuit_id, kind__in=kinds, **within
        ).values_list("at", "kind")
    ]
    harms = FilterHarm.objects.filter(filter__circuit=circuit_id, **within).values_list("at", "kind")
    marks += [Mark(at, "work", FilterHarm.Kind(kind).label) for at, kind in harms]
    points = [point for point in test_points(circuit_id, TESTS_SHOWN) if point.at > since]
    return Recent(points, sorted(marks, key=lambda mark: mark.at))


def changes_since(since: datetime, until: datetime) -> dict[int, list[datetime]]:
    """When water was changed, not only topped up, by water: 1 query."""
    found: dict[int, list[datetime]] = {}
    rows = WaterChange.objects.filter(kind=WaterChange.Kind.CHANGE, at__gt=since, at__lte=until)
    for pk, at in rows.order_by("at").values_list("circuit_id", "at"):
        found.setdefault(pk, []).append(at)
    return found


def forecasts_before(
    tests: Iterable[tuple[int, datetime]],
) -> dict[tuple[int, datetime], dict[int, WaterForecast]]:
    """For each (water, instant of a test) the forecasts that did not know it, by how many days ahead: 1 query.

    0: the newest that begins before it. 3, 7 and 14: of those kept, the one nearest to so long before; none, if
    none is within LEADS.
    """
    wanted = list(tests)
    if not wanted:
        return {}
    first = min(at for _, at in wanted) - timedelta(days=14)
    rows = (
        WaterForecast.objects.filter(
            circuit__in={pk for pk, _ in wanted}, start_at__gte=first, sure_until__isnull=False
        )
        .order_by("circuit_id", "start_at")
        .only("circuit_id", "made_at", "start_at", "tested_at", "bands")
    )
    by_water: dict[int, list[WaterForecast]] = {}
    for row in rows:
        by_water.setdefault(row.circuit_id, []).append(row)
    return {(pk, at): found for pk, at in wanted if (found := _by_lead(by_water.get(pk, []), at))}


def _by_lead(rows: list[WaterForecast], at: datetime) -> dict[int, WaterForecast]:
    """Rows in the order of their beginnings."""
    earlier = [row for row in rows if row.start_at <= at and not row.knew(at)]
    if not earlier:
        return {}
    found = {0: earlier[-1]}
    for days, (least, most) in LEADS.items():
        about = [row for row in earlier if least <= (at - row.start_at) / ONE_DAY <= most]
        if about:
            found[days] = min(about, key=lambda row: abs((at - row.start_at) / ONE_DAY - days))
    return found
