"""What the rules may know of the animals and what they eat. Six queries for any site."""

from collections import defaultdict
from dataclasses import replace
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Exists, Max, OuterRef, Q, Subquery

from husbandry.bioload import Load
from husbandry.food_facts import load_fed, load_plans
from husbandry.models import (
    Animal,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
)
from husbandry.without_plan import mark_without_plan
from refuge.prepared import prepared
from refuge.rounds.loaders import Moment, Scopes, loader, of_waters
from refuge.rules.facts import (
    AnimalFacts,
    CheckFacts,
    Facts,
    Fed,
    QuarantineFacts,
    Reading,
    fed_since,
)

JOINED_DAYS = 15
CHECK_TITLES = dict(QuarantineCheck.Kind.choices)


@loader("husbandry")
def load(facts: Facts, scopes: Scopes, moment: Moment) -> None:
    joined = _load_animals(facts, scopes, moment)
    planned = load_plans(facts, scopes, moment)
    mark_without_plan(facts)
    load_fed(facts, scopes, moment)
    masses: dict[int, list[float]] = defaultdict(list)
    for animal in facts.animal.values():
        masses[animal.circuit_id].append(animal.mass_kg or 0.0)
    for pk in facts.circuit:
        _enrich_circuit(facts, pk, masses.get(pk, []), planned.get(pk, Load.zero()), joined.get(pk), moment)


def _latest(model: Any, column: str, **where: Any) -> Subquery:
    rows = model.objects.filter(animal=OuterRef("animal_id"), **where).order_by("-at")
    return Subquery(rows.values(column)[:1])


@prepared
def _placed(scopes: Scopes) -> Any:
    """Animals and where they are."""
    has_mass = {"mass_kg__isnull": False}
    counts = HeadCount.objects.filter(enclosure=OuterRef("enclosure_id")).order_by("-at", "-pk")
    # Moved within its water, it is no newcomer there.
    before = Placement.objects.filter(
        animal=OuterRef("animal_id"), circuit=OuterRef("circuit_id"), ends_at=OuterRef("starts_at")
    )
    rows = Placement.objects.filter(ends_at__isnull=True, animal__status=Animal.Status.HERE)
    return (
        of_waters(rows, scopes)
        .annotate(
            mass=_latest(Measurement, "mass_kg", **has_mass),
            weighed_at=_latest(Measurement, "at", **has_mass),
            counted_at=Subquery(counts.values("at")[:1]),
            counted=Subquery(counts.values("seen")[:1]),
            count_expected=Subquery(counts.values("expected")[:1]),
            was_here_before=Exists(before),
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
            "counted_at",
            "counted",
            "count_expected",
            "was_here_before",
        )
    )


def _load_animals(facts: Facts, scopes: Scopes, moment: Moment) -> dict[int, date]:
    """Fill in the animals, and what their enclosures show of them; give each water's last day of a newcomer."""
    rows = list(_placed(scopes=scopes))
    quarantines = _quarantines(None if scopes is None else [row[0] for row in rows])
    looks = _looks(list(quarantines))
    joined: dict[int, date] = {}
    short: dict[int, datetime] = {}  # enclosures whose last count did not find everybody, and when it was
    recently = moment.now - timedelta(days=JOINED_DAYS)
    for row in rows:
        animal, circuit_id, since = _animal(row, facts, moment, quarantines, looks)
        if animal is None:
            continue
        facts.animal[animal.id] = animal
        counted_at, *counted, was_here_before = row[12:]
        seen_on = moment.day(counted_at) if counted_at else None
        _count(facts, animal, moment.day(since), seen_on, tuple(counted) if counted_at else None)
        if counted_at and counted[0] < counted[1]:
            short[animal.enclosure_id] = counted_at
        if not was_here_before and recently <= since <= moment.now:
            joined[circuit_id] = max(moment.day(since), joined.get(circuit_id, date.min))
    _leave_out_the_gone(facts, short)
    return joined


@prepared
def _lived_rows(enclosures: list[int], since: datetime) -> Any:
    rows = Placement.objects.filter(Q(ends_at__isnull=True) | Q(ends_at__gt=since))
    rows = rows.filter(enclosure__pk__in=enclosures).order_by("pk")
    return rows.values_list("enclosure_id", "animal_id", "animal__status", "starts_at", "ends_at")


def _leave_out_the_gone(facts: Facts, short: dict[int, datetime]) -> None:
    """Whoever left the refuge after a count that missed some, or had left before as is known now, is missed no more.

    One that moved house since is: it may have been among those that were seen.
    """
    if not short:
        return
    expected: dict[int, set[int]] = defaultdict(set)
    for pk, animal_id, status, starts_at, ends_at in _lived_rows(
        enclosures=list(short), since=min(short.values())
    ):
        was_there = starts_at <= short[pk] and (ends_at is None or ends_at > short[pk])
        if was_there and (ends_at is None or status == Animal.Status.HERE):
            expected[pk].add(animal_id)
    for pk in short:
        enclosure = facts.enclosure[pk]
        seen, then = enclosure.last_counted or (0, 0)
        facts.enclosure[pk] = replace(enclosure, last_counted=(seen, min(then, len(expected[pk]))))


def _animal(
    row: tuple[Any, ...],
    facts: Facts,
    moment: Moment,
    quarantines: dict[int, QuarantineFacts],
    looks: dict[int, Any],
) -> tuple[AnimalFacts | None, int, datetime]:
    """The animal of a row, or None where its enclosure is out of use; its water, and since when."""
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
        *_,
    ) = row
    enclosure = facts.enclosure.get(enclosure_id)
    if enclosure is None:
        return None, circuit_id, since
    animal = AnimalFacts(
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
    return animal, circuit_id, since


def _count(
    facts: Facts, animal: AnimalFacts, since: date, seen_on: date | None, counted: tuple[int, int] | None
) -> None:
    enclosure = facts.enclosure[animal.enclosure_id]
    is_brumating = animal.brumating_since is not None
    facts.enclosure[enclosure.id] = replace(
        enclosure,
        awake=enclosure.awake + (not is_brumating),
        brumating=enclosure.brumating + is_brumating,
        occupied_since=min(since, enclosure.occupied_since or since),
        last_seen_on=seen_on,
        last_counted=counted,
    )


@prepared
def _look_rows(animals: list[int]) -> Any:
    kinds = [HealthRecord.Kind.LOOK, HealthRecord.Kind.EXAM]
    rows = HealthRecord.objects.filter(animal__pk__in=animals, kind__in=kinds)
    return rows.values_list("animal_id").annotate(last=Max("at")).order_by()


def _looks(animal_ids: list[int]) -> dict[int, Any]:
    """Last look or examination of each animal in quarantine."""
    return dict(_look_rows(animals=animal_ids)) if animal_ids else {}  # type: ignore[arg-type]


@prepared
def _quarantine_rows(animals: list[int] | None) -> Any:
    rows = Quarantine.objects.filter(released_on__isnull=True).order_by("pk")
    own = rows if animals is None else rows.filter(animal__pk__in=animals)
    return own.values_list("pk", "animal_id", "started_on", "clock_from", "days", "ends_on")


def _quarantines(animal_ids: list[int] | None) -> dict[int, QuarantineFacts]:
    """The open quarantines of these animals, or of all."""
    found = list(_quarantine_rows(animals=animal_ids))
    checks = _open_checks([row[0] for row in found])
    return {
        animal_id: QuarantineFacts(
            id=pk, started_on=started, clock_from=clock, days=days, ends_on=ends, checks=tuple(checks[pk])
        )
        for pk, animal_id, started, clock, days, ends in found
    }


@prepared
def _check_rows(quarantines: list[int]) -> Any:
    unanswered = QuarantineCheck.objects.filter(quarantine__pk__in=quarantines, answered_by__isnull=True)
    return unanswered.values_list("pk", "quarantine_id", "kind", "due_on")


def _open_checks(quarantine_ids: list[int]) -> dict[int, list[CheckFacts]]:
    checks: dict[int, list[CheckFacts]] = defaultdict(list)
    if not quarantine_ids:
        return checks
    for pk, quarantine_id, kind, due_on in _check_rows(quarantines=quarantine_ids):
        checks[quarantine_id].append(CheckFacts(pk, kind, CHECK_TITLES[kind], due_on))
    return checks


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
