"""Reads about the animals, each a fixed number of queries for any number of rows."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import Exists, OuterRef, Q, QuerySet, Subquery, Sum

from husbandry.bioload import planned_daily_load
from husbandry.models import Animal, Feeding, FeedingPlan, HealthRecord, Measurement, Placement, Quarantine
from refuge.pages.panels import Page
from refuge.rules.facts import AnimalFacts

SEARCHED = (
    "code",
    "name",
    "marks",
    "transponder",
    "species__name",
    "species__scientific_name",
)
WEIGHTS_DRAWN = 400


def animals(*, words: str = "", which: str = "here") -> QuerySet[Animal]:
    """Animals with species, newest weight and present place: 1 query. which: here, quarantine, gone or all."""
    weighed = Measurement.objects.filter(animal=OuterRef("pk"), mass_kg__isnull=False).order_by("-at")
    place = Placement.objects.filter(animal=OuterRef("pk"), ends_at__isnull=True)
    waiting = Quarantine.objects.filter(animal=OuterRef("pk"), released_on__isnull=True)
    rows = Animal.objects.select_related("species").annotate(
        mass_kg=Subquery(weighed.values("mass_kg")[:1]),
        place_code=Subquery(place.values("enclosure__code")[:1]),
        place_name=Subquery(place.values("enclosure__name")[:1]),
        in_quarantine=Exists(waiting),
    )
    if which in {"here", "quarantine"}:
        rows = rows.filter(status=Animal.Status.HERE)
    elif which == "gone":
        rows = rows.exclude(status=Animal.Status.HERE)
    if which == "quarantine":
        rows = rows.filter(in_quarantine=True)
    for word in words.split():
        rows = rows.filter(_holds(word))
    return rows.order_by("code")


def _holds(word: str) -> Q:
    found = Q()
    for column in SEARCHED:
        found |= Q(**{f"{column}__icontains": word})
    return found


def day_bounds(day: date, zone: ZoneInfo) -> tuple[datetime, datetime]:
    """The first instant of a local day, and of the one after it."""
    start = datetime.combine(day, time.min, tzinfo=zone)
    return start, datetime.combine(day + timedelta(days=1), time.min, tzinfo=zone)


def where_on(animal: Animal, day: date, zone: ZoneInfo) -> list[Placement]:
    """Where an animal was on a local day, and in whose water, in order; empty when it was nowhere: 1 query."""
    start, end = day_bounds(day, zone)
    rows = Placement.objects.filter(animal=animal, starts_at__lt=end)
    rows = rows.filter(Q(ends_at__isnull=True) | Q(ends_at__gt=start))
    return list(rows.select_related("enclosure", "circuit").order_by("starts_at"))


def shared_water_on(animal: Animal, day: date, zone: ZoneInfo) -> list[Animal]:
    """The other animals that were in the same water on a local day: 1 query beside `where_on`."""
    start, end = day_bounds(day, zone)
    circuits = {placement.circuit_id for placement in where_on(animal, day, zone)}
    there = Placement.objects.filter(circuit__in=circuits, starts_at__lt=end)
    there = there.filter(Q(ends_at__isnull=True) | Q(ends_at__gt=start))
    found = Animal.objects.filter(pk__in=there.values("animal_id")).exclude(pk=animal.pk)
    return list(found.order_by("code"))


def weights(animal_id: int) -> list[tuple[datetime, float | None, float | None]]:
    """(instant, kg, m) of an animal's measurements, oldest first: 1 query."""
    rows = Measurement.objects.filter(animal=animal_id).order_by("-at", "-pk")
    return list(reversed(rows.values_list("at", "mass_kg", "carapace_m")[:WEIGHTS_DRAWN]))


def quarantines(animal_id: int) -> QuerySet[Quarantine]:
    """An animal's quarantines with checks and restarts, the newest first: 3 queries."""
    rows = Quarantine.objects.filter(animal=animal_id).select_related("released_by")
    return rows.prefetch_related("checks__answered_by", "restarts__because_of")


def meals(animal_id: int, limit: int = 8) -> QuerySet[Feeding]:
    return Feeding.objects.filter(animal=animal_id).select_related("food", "by")[:limit]


def findings(animal_id: int, limit: int = 6) -> QuerySet[HealthRecord]:
    """Health records that say more than a daily look without findings."""
    rows = HealthRecord.objects.filter(animal=animal_id).exclude(kind="look", is_normal=True)
    return rows.select_related("by")[:limit]


def plans_of(*, enclosure_id: int | None, animal_ids: list[int], today: date) -> QuerySet[FeedingPlan]:
    """Feeding plans in force of an enclosure's group and of some animals: 1 query."""
    about = Q(animal__in=animal_ids)
    if enclosure_id is not None:
        about |= Q(enclosure=enclosure_id)
    rows = FeedingPlan.objects.filter(about).filter(Q(ends_on__isnull=True) | Q(ends_on__gt=today))
    return rows.select_related("food", "animal", "enclosure").order_by("animal__code", "starts_on", "pk")


@dataclass(frozen=True, slots=True)
class LoadRow:
    """What one animal, or one group fed together, puts into its water [g TAN a day]."""

    label: str
    url: str
    mass_kg: float | None
    recent_g_day: float
    planned_g_day: float
    is_waiting: bool = False
    is_brumating: bool = False


def load_rows(page: Page, circuit_id: int) -> list[LoadRow]:
    """Everybody in a water with what they were fed and are to be fed, the heaviest load first: 2 queries."""
    window = page.moment.limits(circuit_id)["husbandry.load_window_days"]
    recent = _recent(circuit_id, page, window)
    planned = _planned(page)
    rows = [
        _animal_row(facts, recent.get((facts.id, None), 0.0), planned.get(("animal", facts.id), 0.0))
        for facts in page.facts.animal.values()
    ]
    for place in page.facts.enclosure.values():
        fed, plan = recent.get((None, place.id), 0.0), planned.get(("enclosure", place.id), 0.0)
        if fed or plan:
            rows.append(LoadRow(f"{place.label}, fed together", place.path, None, fed, plan))
    return sorted(rows, key=lambda row: -max(row.recent_g_day, row.planned_g_day))


def _animal_row(facts: AnimalFacts, recent: float, planned: float) -> LoadRow:
    return LoadRow(
        facts.label,
        facts.path,
        facts.mass_kg,
        recent,
        planned,
        is_waiting=facts.quarantine is not None,
        is_brumating=facts.brumating_since is not None,
    )


def _recent(circuit_id: int, page: Page, window: float) -> dict[tuple[int | None, int | None], float]:
    since, _ = day_bounds(page.today - timedelta(days=int(window) - 1), page.moment.zone)
    rows = Feeding.objects.filter(circuit=circuit_id, at__gte=since, at__lte=page.moment.now).order_by()
    sums = rows.values_list("animal_id", "enclosure_id").annotate(tan=Sum("tan_g"))
    found: dict[tuple[int | None, int | None], float] = {}
    for animal_id, enclosure_id, tan in sums:
        key = (animal_id, None if animal_id else enclosure_id)
        found[key] = found.get(key, 0.0) + tan / window
    return found


def _planned(page: Page) -> dict[tuple[str, int], float]:
    standing = {
        pk
        for pk, plan in page.facts.plan.items()
        if not plan.all_brumating and (plan.fasting_until is None or plan.fasting_until <= page.today)
    }
    found: dict[tuple[str, int], float] = {}
    for plan in FeedingPlan.objects.filter(pk__in=standing).select_related("food"):
        food = plan.food
        load = planned_daily_load(
            plan.ration_kg, plan.meals_per_week, food.protein_fraction, food.water_fraction
        )
        key: Any = ("animal", plan.animal_id) if plan.animal_id else ("enclosure", plan.enclosure_id)
        found[key] = found.get(key, 0.0) + load.tan_g
    return found
