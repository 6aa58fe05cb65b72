"""What the rules may know of the animals and what they eat. Ten queries for any site."""

from collections import defaultdict
from dataclasses import replace
from datetime import date, timedelta
from functools import cache
from typing import Any

from django.db.models import Case, Exists, F, Max, OuterRef, Q, Subquery, Sum, When
from django.db.models.functions import TruncDate, TruncMonth

from husbandry.bioload import Load, planned_daily_load
from husbandry.models import (
    Animal,
    Feeding,
    FeedingPlan,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
)
from refuge.rounds.loaders import Moment, Scopes, loader
from refuge.rules.facts import (
    AnimalFacts,
    CheckFacts,
    Facts,
    Fed,
    PlanFacts,
    QuarantineFacts,
    Reading,
    fed_since,
)

DAILY_DAYS = 60  # meals of the last weeks are kept by the day, those before by the month
JOINED_DAYS = 15
CHECK_TITLES = dict(QuarantineCheck.Kind.choices)


@loader("husbandry")
def load(facts: Facts, scopes: Scopes, moment: Moment) -> None:
    quarantines = _quarantines(scopes, moment)
    _load_animals(facts, scopes, moment, quarantines)
    _load_head_counts(facts, scopes, moment)
    planned = _load_plans(facts, scopes, moment)
    _load_fed(facts, scopes, moment)
    joined = _joined(scopes, moment)
    masses: dict[int, list[float]] = defaultdict(list)
    for animal in facts.animal.values():
        masses[animal.circuit_id].append(animal.mass_kg or 0.0)
    for pk in facts.circuit:
        _enrich_circuit(facts, pk, masses.get(pk, []), planned.get(pk, Load.zero()), joined.get(pk), moment)


def _open_placements(scopes: Scopes) -> Any:
    rows = Placement.objects.filter(ends_at__isnull=True, animal__status=Animal.Status.HERE)
    return rows if scopes is None else rows.filter(circuit__in=scopes)


def _latest(model: Any, column: str, **where: Any) -> Subquery:
    rows = model.objects.filter(animal=OuterRef("animal_id"), **where).order_by("-at")
    return Subquery(rows.values(column)[:1])


@cache
def _all_placed() -> Any:
    """The query of all animals and where they are, made once (see the circuits' in enclosures.facts)."""
    has_mass = {"mass_kg__isnull": False}
    return (
        _open_placements(None)
        .annotate(
            mass=_latest(Measurement, "mass_kg", **has_mass),
            weighed_at=_latest(Measurement, "at", **has_mass),
        )
        .values_list(
            "animal_id",
            "animal__code",
            "animal__name",
            "animal__arrived_on",
            "animal__hatched_on",
            "animal__brumating_since",
            "animal__species__adult_mass_kg",
            "enclosure_id",
            "circuit_id",
            "starts_at",
            "mass",
            "weighed_at",
        )
    )


def _load_animals(
    facts: Facts, scopes: Scopes, moment: Moment, quarantines: dict[int, QuarantineFacts]
) -> None:
    rows = _all_placed().all()
    looks = _looks(list(quarantines))
    for row in rows if scopes is None else rows.filter(circuit__in=scopes):
        (
            pk,
            code,
            name,
            arrived,
            hatched,
            brumating,
            adult_mass,
            enclosure_id,
            circuit_id,
            since,
            mass,
            weighed,
        ) = row
        enclosure = facts.enclosure.get(enclosure_id)
        if enclosure is None:
            continue
        facts.animal[pk] = AnimalFacts(
            id=pk,
            label=f"{code} {name}".strip(),
            path=f"/animals/{pk}/",
            stop=enclosure.stop,
            circuit_id=circuit_id,
            enclosure_id=enclosure_id,
            arrived_on=arrived,
            mass_kg=mass,
            last_weighed_on=moment.day(weighed) if weighed else None,
            age_days=(moment.today - hatched).days if hatched else None,
            adult_mass_kg=adult_mass,
            brumating_since=brumating,
            last_look_on=moment.day(looks[pk]) if pk in looks else None,
            quarantine=quarantines.get(pk),
        )
        _count(facts, enclosure_id, brumating is not None, moment.day(since))


def _count(facts: Facts, enclosure_id: int, is_brumating: bool, since: date) -> None:
    enclosure = facts.enclosure[enclosure_id]
    facts.enclosure[enclosure_id] = replace(
        enclosure,
        awake=enclosure.awake + (not is_brumating),
        brumating=enclosure.brumating + is_brumating,
        occupied_since=min(since, enclosure.occupied_since or since),
    )


def _looks(animal_ids: list[int]) -> dict[int, Any]:
    """Last look or examination of each animal in quarantine."""
    kinds = [HealthRecord.Kind.LOOK, HealthRecord.Kind.EXAM]
    rows = HealthRecord.objects.filter(animal__in=animal_ids, kind__in=kinds)
    return dict(rows.values_list("animal_id").annotate(last=Max("at")).order_by())


def _quarantines(scopes: Scopes, moment: Moment) -> dict[int, QuarantineFacts]:
    rows = Quarantine.objects.filter(released_on__isnull=True)
    if scopes is not None:
        rows = rows.filter(animal__in=_open_placements(scopes).values("animal_id"))
    found = list(
        rows.values_list("pk", "animal_id", "started_on", "clock_from", "days", "ends_on").order_by("pk")
    )
    checks = _open_checks([row[0] for row in found])
    return {
        animal_id: QuarantineFacts(
            id=pk, started_on=started, clock_from=clock, days=days, ends_on=ends, checks=tuple(checks[pk])
        )
        for pk, animal_id, started, clock, days, ends in found
    }


def _open_checks(quarantine_ids: list[int]) -> dict[int, list[CheckFacts]]:
    checks: dict[int, list[CheckFacts]] = defaultdict(list)
    unanswered = QuarantineCheck.objects.filter(quarantine__in=quarantine_ids, answered_by__isnull=True)
    for pk, quarantine_id, kind, due_on in unanswered.values_list("pk", "quarantine_id", "kind", "due_on"):
        checks[quarantine_id].append(CheckFacts(pk, kind, CHECK_TITLES[kind], due_on))
    return checks


def _load_head_counts(facts: Facts, scopes: Scopes, moment: Moment) -> None:
    # Looked for in the recent weeks only: what is older than that is overdue all the same.
    recent = moment.now - timedelta(days=DAILY_DAYS)
    rows = HeadCount.objects.filter(at__gte=recent, at__lte=moment.now)
    if scopes is not None:
        rows = rows.filter(enclosure__circuit__in=scopes)
    for enclosure_id, at in rows.values_list("enclosure_id").annotate(last=Max("at")).order_by():
        if enclosure_id in facts.enclosure:
            facts.enclosure[enclosure_id] = replace(
                facts.enclosure[enclosure_id], last_seen_on=moment.day(at)
            )


def _plans_in_force(facts: Facts, scopes: Scopes, moment: Moment) -> Any:
    here = Placement.objects.filter(animal=OuterRef("animal_id"), ends_at__isnull=True)
    rows = FeedingPlan.objects.filter(Q(ends_on__isnull=True) | Q(ends_on__gt=moment.today)).annotate(
        place=Subquery(here.values("enclosure_id")[:1]),
        last_fed=Subquery(Feeding.objects.filter(plan=OuterRef("pk")).order_by("-at").values("at")[:1]),
    )
    if scopes is None:
        return rows
    # By their numbers, not by joins: an OR over two joins would read every plan of the site.
    return rows.filter(Q(enclosure__in=list(facts.enclosure)) | Q(animal__in=list(facts.animal)))


def _load_plans(facts: Facts, scopes: Scopes, moment: Moment) -> dict[int, Load]:
    """Fill in the feeding plans; give the mean daily load that each circuit's plans ask for."""
    planned: dict[int, Load] = defaultdict(Load.zero)
    columns = (
        "pk",
        "animal_id",
        "enclosure_id",
        "place",
        "ration_kg",
        "every_days",
        "weekdays",
        "starts_on",
        "ends_on",
        "fasting_until",
        "last_fed",
        "food__name",
        "food__protein_fraction",
        "food__water_fraction",
    )
    for row in _plans_in_force(facts, scopes, moment).order_by("pk").values_list(*columns):
        plan = _plan(facts, row, moment)
        if plan is None:
            continue
        facts.plan[plan.id] = plan
        if not plan.all_brumating and (plan.fasting_until is None or plan.fasting_until <= moment.today):
            planned[plan.circuit_id] += _plan_load(
                plan.every_days, plan.weekdays, plan.ration_kg, *row[12:14]
            )
    return planned


def _plan_load(every: int | None, weekdays: int | None, ration: float, protein: float, water: float) -> Load:
    per_week = 7 / every if every else float((weekdays or 0).bit_count())
    return planned_daily_load(ration, per_week, protein, water)


def _plan(facts: Facts, row: tuple[Any, ...], moment: Moment) -> PlanFacts | None:
    (
        pk,
        animal_id,
        own_enclosure,
        place,
        ration,
        every,
        weekdays,
        starts,
        ends,
        fasting,
        last_fed,
        food,
        *_,
    ) = row
    enclosure = facts.enclosure.get(own_enclosure or place)
    animal = facts.animal.get(animal_id) if animal_id else None
    if (
        enclosure is None
        or (animal_id and animal is None)
        or (not animal_id and not enclosure.awake + enclosure.brumating)
    ):
        return None  # nobody there to feed
    return PlanFacts(
        id=pk,
        label=animal.label if animal else enclosure.label,
        path=animal.path if animal else enclosure.path,
        stop=enclosure.stop,
        circuit_id=enclosure.circuit_id,
        enclosure_id=enclosure.id,
        animal_id=animal_id,
        food=food,
        ration_kg=ration,
        every_days=every,
        weekdays=weekdays,
        starts_on=starts,
        ends_on=ends,
        fasting_until=fasting,
        all_brumating=animal.brumating_since is not None if animal else enclosure.awake == 0,
        last_fed_on=moment.day(last_fed) if last_fed else None,
    )


def _load_fed(facts: Facts, scopes: Scopes, moment: Moment) -> None:
    """Meals of each circuit, newest first: by local day for the recent weeks, by month before."""
    recent_from = moment.today - timedelta(days=DAILY_DAYS)
    cut = moment.now.astimezone(moment.zone).replace(hour=0, minute=0, second=0, microsecond=0) - timedelta(
        days=DAILY_DAYS
    )
    rows = Feeding.objects.filter(at__lte=moment.now)
    if scopes is not None:
        rows = rows.filter(circuit__in=scopes)
    span = Case(
        When(at__gte=cut, then=TruncDate("at", tzinfo=moment.zone)),
        default=TruncDate(TruncMonth("at", tzinfo=moment.zone)),
    )
    sums = {"kg": Sum(F("offered_kg") - F("left_kg")), "tan": Sum("tan_g"), "solids": Sum("solids_g")}
    summed = rows.annotate(is_recent=Q(at__gte=cut), span=span).values("circuit_id", "is_recent", "span")
    meals = summed.annotate(**sums).order_by("circuit_id", "-is_recent", "-span")
    for circuit_id, is_recent, start, kg, tan, solids in meals.values_list(
        "circuit_id", "is_recent", "span", *sums
    ):
        month_end = min((start + timedelta(days=32)).replace(day=1), recent_from)
        end = start + timedelta(days=1) if is_recent else month_end
        facts.fed.setdefault(circuit_id, []).append(Fed(start, end, kg, tan, solids))


def _joined(scopes: Scopes, moment: Moment) -> dict[int, date]:
    """Last day an animal came into each circuit from another water, in the recent days."""
    before = Placement.objects.filter(
        animal=OuterRef("animal_id"), circuit=OuterRef("circuit_id"), ends_at=OuterRef("starts_at")
    )
    rows = Placement.objects.filter(
        ~Exists(before), starts_at__gte=moment.now - timedelta(days=JOINED_DAYS), starts_at__lte=moment.now
    )
    if scopes is not None:
        rows = rows.filter(circuit__in=scopes)
    found = rows.values_list("circuit_id").annotate(last=Max("starts_at")).order_by()
    return {circuit_id: moment.day(at) for circuit_id, at in found}


def _enrich_circuit(
    facts: Facts, pk: int, masses: list[float], planned: Load, joined: date | None, moment: Moment
) -> None:
    circuit = facts.circuit[pk]
    limits = moment.limits(pk)
    window = limits["husbandry.load_window_days"]
    fed = facts.fed.get(pk, [])
    since = moment.today - timedelta(days=int(window))
    tan, solids = _mean_since(fed, since, window)
    last = fed[0] if fed and fed[0].to_on - fed[0].from_on == timedelta(days=1) else None
    facts.circuit[pk] = replace(
        circuit,
        animals=len(masses),
        mass_kg=sum(masses),
        recent_tan_g_day=tan,
        planned_tan_g_day=planned.tan_g,
        solids_g_day=max(solids, planned.solids_g),
        last_fed_on=last.from_on if last else None,
        last_fed_kg=last.kg if last else 0.0,
        last_fed_tan_g=last.tan_g if last else 0.0,
        last_joined_on=joined,
        fed_since_nitrate_tan_g=_tan_since(fed, circuit.nitrate),
        fed_since_alkalinity_tan_g=_tan_since(fed, circuit.alkalinity),
    )


def _tan_since(fed: list[Fed], reading: Reading | None) -> float:
    """Ammonia nitrogen [g] of the meals since a reading, those of its own day too."""
    return sum(span.tan_g * share for span, share in fed_since(fed, reading.on)) if reading else 0.0


def _mean_since(fed: list[Fed], since: date, window: float) -> tuple[float, float]:
    """Mean TAN and solids [g/day] of the meals after a day."""
    meals = [each for each in fed if each.from_on > since]
    return sum(each.tan_g for each in meals) / window, sum(each.solids_g for each in meals) / window
