"""Writes about the stay of animals: taken in, in quarantine, released, brumating, gone. Moves: husbandry.moves."""

from dataclasses import dataclass
from datetime import date, datetime, time, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.core.files import File
from django.db import IntegrityError, transaction
from django.utils import timezone

from enclosures.models import Circuit, Enclosure
from husbandry.models import (
    Animal,
    FeedingPlan,
    Food,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
    Species,
)
from husbandry.moves import WrongTime, check_here, check_time, lock_animal, lock_place, settle
from husbandry.quarantine_dates import check_dates, planned_end
from husbandry.services import HusbandryError, announce_animal
from refuge.events import announce
from refuge.people.models import User
from refuge.rules.triggers import day_text


@dataclass(frozen=True)
class Arrival:
    """What a manager knows of an animal on the day it comes. Masses kg, lengths m."""

    code: str
    species: Species
    mass_kg: float
    name: str = ""
    sex: str = Animal.Sex.UNKNOWN
    marks: str = ""
    transponder: str = ""
    origin: str = ""
    condition: str = ""
    carapace_m: float | None = None
    hatched_on: date | None = None
    photo: File | None = None


@dataclass(frozen=True)
class Rations:
    """The feeding plan an arrival starts with."""

    food: Food
    ration_kg: float
    every_days: int


def arrival_take_in(*, uuid: UUID | None = None, **values: Any) -> Animal:
    """Take in an animal, once: the same `uuid` twice is the same arrival, and gives the animal of the first time.

    For the other arguments, and what is refused, see `_take_in`.
    """
    uuid = uuid or uuid4()
    if earlier := taken_in(uuid):
        return earlier
    try:
        return _take_in(uuid=uuid, **values)
    except HusbandryError:  # a twin request may have been first, and then its code is not a stranger's
        if earlier := taken_in(uuid):
            return earlier
        raise


def taken_in(uuid: UUID) -> Animal | None:
    """The animal an earlier entry with this uuid took in: its weight on arrival carries it. 1 query."""
    first = Measurement.everything.filter(uuid=uuid).select_related("animal").first()
    return first.animal if first else None


@transaction.atomic
def _take_in(
    *,
    uuid: UUID,
    arrival: Arrival,
    enclosure: Enclosure,
    by: User,
    at: datetime,
    today: date,
    quarantine_days: int | None,
    since: date | None = None,
    rations: Rations | None = None,
    restart_agreed: bool = False,
    vet_override: bool = False,
) -> Animal:
    """The animal itself, its place, weight, quarantine with all checks, and feeding plan, or nothing.

    since: the day on which it came, if it lives here already: place and quarantine count from then, its weight and
    plan from now. `quarantine_days` None means no quarantine (an animal that comes back from treatment, say). Raises
    RestartNotAgreed, HusbandryError for a code already given, OutOfRange for a quarantine below 30 days
    without the veterinarian's word.
    """
    came_on = since or today
    came_at = timezone.make_aware(datetime.combine(since, time.min)) if since else at
    animal = _animal(arrival, came_on)
    lock_place(enclosure)
    settle(animal, enclosure, came_at, came_on, by, "Arrival", restart_agreed)
    Measurement.objects.create(
        uuid=uuid,
        animal=animal,
        at=at,
        by=by,
        mass_kg=arrival.mass_kg,
        carapace_m=arrival.carapace_m,
        note="When it was entered" if since else "On arrival",
    )
    if quarantine_days is not None:
        quarantine_start(animal=animal, on=came_on, days=quarantine_days, vet_override=vet_override, by=by)
    if rations is not None:
        FeedingPlan.objects.create(
            animal=animal,
            food=rations.food,
            ration_kg=rations.ration_kg,
            every_days=rations.every_days,
            starts_on=today,
        )
    announce([enclosure.circuit_id])
    return animal


def _animal(arrival: Arrival, arrived_on: date) -> Animal:
    try:
        with transaction.atomic():
            return Animal.objects.create(
                code=arrival.code,
                name=arrival.name,
                species=arrival.species,
                sex=arrival.sex,
                marks=arrival.marks,
                transponder=arrival.transponder,
                origin=arrival.origin,
                condition=arrival.condition,
                hatched_on=arrival.hatched_on,
                photo=arrival.photo or "",
                arrived_on=arrived_on,
            )
    except IntegrityError:
        raise HusbandryError(
            f"The code {arrival.code} or the transponder belongs to another animal. Choose another one."
        ) from None


@transaction.atomic
def quarantine_start(
    *, animal: Animal, on: date, days: int, by: User, vet_override: bool = False
) -> Quarantine:
    """Open a quarantine with its planned checks. OutOfRange below 30 days without the veterinarian's word."""
    checks = check_dates(on, days, vet_override=vet_override)
    quarantine = Quarantine(
        animal=animal, started_on=on, clock_from=on, days=days, ends_on=planned_end(on, days)
    )
    quarantine._history_user = by  # type: ignore[attr-defined]
    quarantine.save()
    QuarantineCheck.objects.bulk_create(
        [QuarantineCheck(quarantine=quarantine, kind=check.kind, due_on=check.on) for check in checks]
    )
    announce_animal(animal)
    return quarantine


@transaction.atomic
def quarantine_release(*, quarantine: Quarantine, by: User, on: date, outcome: str) -> Quarantine:
    """End a quarantine. Only a manager does, on the veterinarian's word, and says what it rests on.

    A repeat changes nothing. Raises HusbandryError for another role, an empty outcome or a date before the
    start.
    """
    row = Quarantine.objects.select_for_update().get(pk=quarantine.pk)
    if row.released_on is not None:
        return row
    if not by.is_manager:
        raise HusbandryError("Only a manager ends a quarantine.")
    if not outcome.strip():
        raise HusbandryError("Say what the release rests on: tests, examination, the veterinarian's word.")
    if on < row.started_on:
        raise HusbandryError("It cannot end before it began.")
    row.released_on, row.released_by, row.outcome = on, by, outcome.strip()
    row._history_user = by  # type: ignore[attr-defined]
    row.save(update_fields=["released_on", "released_by", "outcome"])
    announce_animal(row.animal)
    return row


@transaction.atomic
def quarantine_extend(*, quarantine: Quarantine, by: User, ends_on: date, reason: str) -> Quarantine:
    """Move the planned end later, with the reason. HusbandryError for an earlier date or another role."""
    row = Quarantine.objects.select_for_update().get(pk=quarantine.pk)
    if not by.is_manager:
        raise HusbandryError("Only a manager extends a quarantine.")
    if ends_on <= row.ends_on:
        raise HusbandryError(f"The planned end is {row.ends_on:%d %b %Y}. Choose a later day.")
    if not reason.strip():
        raise HusbandryError("Say why it goes on.")
    row.days += (ends_on - row.ends_on).days
    row.ends_on = ends_on
    row._change_reason = reason.strip()[:100]  # type: ignore[attr-defined]
    row._history_user = by  # type: ignore[attr-defined]
    row.save(update_fields=["days", "ends_on"])
    announce_animal(row.animal)
    return row


@transaction.atomic
def brumation_set(*, animal: Animal, since: date | None, by: User) -> Animal:
    """Begin an animal's brumation on a day, or end it with None. Sick animals stay awake: ask the veterinarian."""
    animal.brumating_since = since
    animal._history_user = by  # type: ignore[attr-defined]
    animal.save(update_fields=["brumating_since"])
    announce_animal(animal)
    return animal


@transaction.atomic
def animal_leave(*, animal: Animal, status: str, by: User, at: datetime, note: str = "") -> Animal:
    """Record that an animal was released, given away or died, now or at a time that is past: its place, plans and
    quarantine end with it. A repeat changes nothing. Raises HusbandryError when it was still here by what is
    recorded, or when something else became of it already."""
    if status == Animal.Status.HERE:
        raise HusbandryError("Choose what became of it.")
    lock_animal(animal)
    if animal.status == status:
        return animal
    check_here(animal)
    _check_leaving(animal, at)
    today = timezone.localdate(at)
    here = Placement.objects.filter(animal=animal, ends_at__isnull=True).first()
    if here is not None:  # first: the database keeps nobody in a place who has left
        here.ends_at = max(at, here.starts_at + timedelta(seconds=1))
        here.save(update_fields=["ends_at"])
    animal.status, animal.left_on = status, today
    if note.strip():
        animal.note = f"{animal.note}\n{note.strip()}".strip()
    animal.save(update_fields=["status", "left_on", "note"])
    animal.feeding_plans.filter(ends_on__isnull=True, starts_on__lt=today).update(ends_on=today)
    animal.feeding_plans.filter(ends_on__isnull=True).delete()
    Quarantine.objects.filter(animal=animal, released_on__isnull=True).update(
        released_on=today, released_by=by, outcome=animal.get_status_display()
    )
    announce([here.circuit_id if here else None])
    return animal


def _check_leaving(animal: Animal, at: datetime) -> None:
    check_time(animal, at)
    meal = animal.feedings.filter(at__gt=at).order_by("-at").first()
    if meal is not None:
        fed = timezone.localtime(meal.at)
        raise WrongTime(
            f"It was fed on {day_text(fed.date())} at {fed:%H:%M}.\nEnter a time after that, or amend that meal first."
        )
    begun = (
        Quarantine.objects.filter(animal=animal, released_on__isnull=True).values_list("started_on").first()
    )
    if begun and begun[0] > timezone.localdate(at):
        raise WrongTime(f"Its quarantine began on {day_text(begun[0])}.\nEnter a time after that.")


@transaction.atomic
def enclosure_replumb(
    *,
    enclosure: Enclosure,
    circuit: Circuit,
    by: User,
    at: datetime,
    today: date,
    restart_agreed: bool = False,
) -> Enclosure:
    """Join an enclosure to another water. Its animals' placements end and begin anew, so the past stays true.

    Joining the water it has changes nothing. Raises RestartNotAgreed.
    """
    lock_place(enclosure)
    old = enclosure.circuit_id
    if old == circuit.pk:
        return enclosure
    enclosure.circuit = circuit
    enclosure.save(update_fields=["circuit"])
    here = Placement.objects.filter(enclosure=enclosure, ends_at__isnull=True)
    # One that leaves meanwhile ends its placement first and is waited for here.
    list(Animal.objects.select_for_update(no_key=True).filter(pk__in=here.values("animal")).order_by("pk"))
    for placement in here.select_related("animal"):
        settle(placement.animal, enclosure, at, today, by, "Water re-plumbed", restart_agreed, placement)
    announce([old, circuit.pk])
    return enclosure


@transaction.atomic
def feeding_plan_set(*, replaces: FeedingPlan | None = None, today: date, **values: Any) -> FeedingPlan:
    """Begin a feeding plan; the one it replaces ends the same day."""
    if replaces is not None:
        feeding_plan_end(plan=replaces, today=today)
    plan = FeedingPlan.objects.create(**values)
    _announce_plan(plan)
    return plan


@transaction.atomic
def feeding_plan_end(*, plan: FeedingPlan, today: date) -> None:
    """End a plan today; one that has not begun is deleted, unless meals were recorded by it."""
    if plan.starts_on >= today and not plan.feedings.exists():
        _announce_plan(plan)
        plan.delete()
        return
    plan.ends_on = max(today, plan.starts_on)
    plan.save(update_fields=["ends_on"])
    _announce_plan(plan)


@transaction.atomic
def fast_set(*, plan: FeedingPlan, until: date | None) -> FeedingPlan:
    """No food until a day, or feeding again with None."""
    plan.fasting_until = until
    plan.save(update_fields=["fasting_until"])
    _announce_plan(plan)
    return plan


def _announce_plan(plan: FeedingPlan) -> None:
    if plan.enclosure is not None:
        announce([plan.enclosure.circuit_id])
    elif plan.animal is not None:
        announce_animal(plan.animal)
