"""Writes about where animals are: taken in, moved, in quarantine, released, brumating, gone.

An animal that joins a water with open quarantines restarts their clocks: what shares water shares pathogens.
That costs months, so whoever calls must say that the restart was shown and agreed to.
"""

from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Any
from uuid import UUID, uuid4

from django.core.files import File
from django.db import IntegrityError, transaction

from enclosures.models import Circuit, Enclosure
from husbandry.models import (
    Animal,
    FeedingPlan,
    Food,
    Measurement,
    Placement,
    Quarantine,
    QuarantineCheck,
    QuarantineRestart,
    Species,
)
from husbandry.quarantine_dates import check_dates, planned_end, restarted
from husbandry.services import HusbandryError, announce_animal
from refuge.events import announce
from refuge.people.models import User


class RestartNotAgreed(HusbandryError):
    """The move would set back somebody's quarantine and nobody agreed to that. `restarts` says whose."""

    def __init__(self, restarts: list["Restart"]) -> None:
        names = ", ".join(str(each.quarantine.animal) for each in restarts)
        super().__init__(
            f"This would start the quarantine anew for {names}. Agree to it, or choose other water."
        )
        self.restarts = restarts


@dataclass(frozen=True)
class Restart:
    """What joining a water would do to one quarantine in it."""

    quarantine: Quarantine
    clock_from: date
    ends_on: date

    @property
    def days_lost(self) -> int:
        return (self.ends_on - self.quarantine.ends_on).days


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


def restarts_for(circuit: Circuit | int, on: date, *, joining: Animal | None = None) -> list[Restart]:
    """Quarantines in a water that an animal joining on a day would set back: 1 query."""
    circuit_id = circuit.pk if isinstance(circuit, Circuit) else circuit
    rows = (
        Quarantine.objects.filter(
            released_on__isnull=True,
            animal__placements__circuit=circuit_id,
            animal__placements__ends_at__isnull=True,
        )
        .select_related("animal")
        .order_by("animal__code")
    )
    if joining is not None:
        rows = rows.exclude(animal=joining)
    found = [Restart(each, *restarted(each.clock_from, each.days, on)) for each in rows]
    return [each for each in found if each.days_lost > 0]


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
    rations: Rations | None = None,
    restart_agreed: bool = False,
    vet_override: bool = False,
) -> Animal:
    """The animal itself, its place, weight, quarantine with all checks, and feeding plan, or nothing.

    `quarantine_days` None means no quarantine (an animal that comes back from treatment, say). Raises
    RestartNotAgreed, HusbandryError for a code already given, OutOfRange for a quarantine below 30 days
    without the veterinarian's word.
    """
    animal = _animal(arrival, today)
    _settle(animal, enclosure, at, today, by, "Arrival", restart_agreed)
    Measurement.objects.create(
        uuid=uuid,
        animal=animal,
        at=at,
        by=by,
        mass_kg=arrival.mass_kg,
        carapace_m=arrival.carapace_m,
        note="On arrival",
    )
    if quarantine_days is not None:
        quarantine_start(animal=animal, on=today, days=quarantine_days, vet_override=vet_override)
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


def _animal(arrival: Arrival, today: date) -> Animal:
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
                arrived_on=today,
            )
    except IntegrityError:
        raise HusbandryError(
            f"The code {arrival.code} or the transponder belongs to another animal. Choose another one."
        ) from None


@transaction.atomic
def quarantine_start(*, animal: Animal, on: date, days: int, vet_override: bool = False) -> Quarantine:
    """Open a quarantine with its planned checks. OutOfRange below 30 days without the veterinarian's word."""
    checks = check_dates(on, days, vet_override=vet_override)
    quarantine = Quarantine.objects.create(
        animal=animal, started_on=on, clock_from=on, days=days, ends_on=planned_end(on, days)
    )
    QuarantineCheck.objects.bulk_create(
        [QuarantineCheck(quarantine=quarantine, kind=check.kind, due_on=check.on) for check in checks]
    )
    announce_animal(animal)
    return quarantine


@transaction.atomic
def animal_move(
    *,
    animal: Animal,
    enclosure: Enclosure,
    by: User,
    at: datetime,
    today: date,
    reason: str = "",
    restart_agreed: bool = False,
) -> Placement:
    """Move an animal. In another water, quarantines start anew: those there, and its own if it has one.

    Moving it where it is changes nothing. Raises RestartNotAgreed, and HusbandryError for a time before its
    present placement began.
    """
    here = Placement.objects.select_for_update().filter(animal=animal, ends_at__isnull=True).first()
    if here is not None and here.enclosure_id == enclosure.pk and here.circuit_id == enclosure.circuit_id:
        return here
    if here is not None and at <= here.starts_at:
        raise HusbandryError("It came to its present place after that. Check the time.")
    placement = _settle(animal, enclosure, at, today, by, reason, restart_agreed, here)
    announce([here.circuit_id if here else None, enclosure.circuit_id])
    return placement


def _settle(
    animal: Animal,
    enclosure: Enclosure,
    at: datetime,
    today: date,
    by: User,
    reason: str,
    restart_agreed: bool,
    here: Placement | None = None,
) -> Placement:
    """Close the present placement, open the next, and restart what a change of water restarts."""
    if here is None or here.circuit_id != enclosure.circuit_id:
        restarts = restarts_for(enclosure.circuit_id, today, joining=animal)
        if restarts and not restart_agreed:
            raise RestartNotAgreed(restarts)
        for each in restarts:
            _restart(each, today, animal)
        own = Quarantine.objects.filter(animal=animal, released_on__isnull=True).first()
        # A newcomer to a water where others sit out their time counts from today as well.
        if own is not None and restarts and own.clock_from < today:
            _restart(Restart(own, *restarted(own.clock_from, own.days, today)), today, animal)
    if here is not None:
        here.ends_at = at
        here.save(update_fields=["ends_at"])
    return Placement.objects.create(
        animal=animal,
        enclosure=enclosure,
        circuit_id=enclosure.circuit_id,
        starts_at=at,
        by=by,
        reason=reason[:200],
    )


def _restart(restart: Restart, on: date, because_of: Animal) -> None:
    quarantine = restart.quarantine
    QuarantineRestart.objects.get_or_create(
        quarantine=quarantine,
        on=on,
        because_of=because_of,
        defaults={"previous_clock_from": quarantine.clock_from, "previous_ends_on": quarantine.ends_on},
    )
    quarantine.clock_from, quarantine.ends_on = restart.clock_from, restart.ends_on
    quarantine.save(update_fields=["clock_from", "ends_on"])
    # Samples and looks planned ahead are planned anew; what was answered stays answered.
    quarantine.checks.filter(answered_by__isnull=True).delete()
    fresh = [
        QuarantineCheck(quarantine=quarantine, kind=check.kind, due_on=check.on)
        for check in check_dates(restart.clock_from, quarantine.days, vet_override=True)
        if check.kind != QuarantineCheck.Kind.INTAKE_EXAM
    ]
    QuarantineCheck.objects.bulk_create(fresh, ignore_conflicts=True)


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
def brumation_set(*, animal: Animal, since: date | None) -> Animal:
    """Begin an animal's brumation on a day, or end it with None. Sick animals stay awake: ask the veterinarian."""
    animal.brumating_since = since
    animal.save(update_fields=["brumating_since"])
    announce_animal(animal)
    return animal


@transaction.atomic
def animal_leave(
    *, animal: Animal, status: str, by: User, at: datetime, today: date, note: str = ""
) -> Animal:
    """Record that an animal was released, given away or died: its place, plans and quarantine end with it."""
    if status == Animal.Status.HERE:
        raise HusbandryError("Choose what became of it.")
    here = Placement.objects.filter(animal=animal, ends_at__isnull=True).first()
    animal.status, animal.left_on = status, today
    if note.strip():
        animal.note = f"{animal.note}\n{note.strip()}".strip()
    animal.save()
    if here is not None:
        here.ends_at = max(at, here.starts_at + timedelta(seconds=1))
        here.save(update_fields=["ends_at"])
    animal.feeding_plans.filter(ends_on__isnull=True, starts_on__lt=today).update(ends_on=today)
    animal.feeding_plans.filter(ends_on__isnull=True).delete()
    Quarantine.objects.filter(animal=animal, released_on__isnull=True).update(
        released_on=today, released_by=by, outcome=animal.get_status_display()
    )
    announce([here.circuit_id if here else None])
    return animal


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
    """Join an enclosure to another water. Its animals' placements end and begin anew, so the past stays true."""
    old = enclosure.circuit_id
    enclosure.circuit = circuit
    enclosure.save(update_fields=["circuit"])
    here = Placement.objects.filter(enclosure=enclosure, ends_at__isnull=True).select_related("animal")
    for placement in here:
        _settle(placement.animal, enclosure, at, today, by, "Water re-plumbed", restart_agreed, placement)
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
