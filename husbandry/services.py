"""Writes about what happens to animals day by day: fed, counted, weighed, looked at."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.core.files.storage import Storage
from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from enclosures.models import Enclosure
from husbandry.bioload import meal_load
from husbandry.models import (
    Animal,
    Feeding,
    FeedingPlan,
    Food,
    HeadCount,
    HealthRecord,
    Measurement,
    Placement,
    QuarantineCheck,
    Species,
)
from refuge.errors import ClearmereError
from refuge.events import announce
from refuge.people.models import User
from refuge.records import amend, record_once

# From so much of its ration on, a meal of a plan's food is that plan's meal, and no treat beside it. Assumption.
MEETS_FROM = 0.5


class HusbandryError(ClearmereError):
    """Something about an animal that cannot be recorded. The message is for the person who tried."""


def placement_at(animal: Animal, at: datetime | None = None) -> Placement | None:
    """Where the animal was at an instant (now if none is given): enclosure and circuit, or None."""
    moment = at or timezone.now()
    rows = Placement.objects.filter(animal=animal, starts_at__lte=moment).order_by("-starts_at")
    placement = rows.select_related("enclosure", "circuit").first()
    return None if placement and placement.ends_at and placement.ends_at <= moment else placement


def plan_met(
    *,
    food: Food,
    offered_kg: float,
    at_most_kg: float | None = None,
    animal: Animal | None = None,
    enclosure: Enclosure | None = None,
) -> FeedingPlan | None:
    """The eater's own plan that a meal entered without one has met: the only one with this food, and a good part of
    its ration, or of what may be given of it for now. Else it would be asked for again, and given twice. 1 query."""
    plans = FeedingPlan.objects.filter(animal=animal, enclosure=enclosure, food=food)
    in_force = list(plans.filter(Q(ends_on__isnull=True) | Q(ends_on__gt=timezone.localdate()))[:2])
    if len(in_force) != 1:
        return None
    whole_kg = in_force[0].ration_kg
    wanted_kg = min(whole_kg, at_most_kg or whole_kg)
    return in_force[0] if offered_kg >= MEETS_FROM * wanted_kg else None


@transaction.atomic
def feeding_record(
    *,
    by: User | None,
    at: datetime,
    uuid: UUID,
    food: Food,
    offered_kg: float,
    enclosure: Enclosure | None = None,
    animal: Animal | None = None,
    plan: FeedingPlan | None = None,
    left_kg: float = 0.0,
    refused: bool = False,
    note: str = "",
) -> Feeding:
    """Record a meal of one animal, or of everybody in an enclosure [kg].

    What was left is taken as netted out again; a refused meal leaves no load. Raises HusbandryError when
    more was left than offered, or when the animal was nowhere at that time.
    """
    if left_kg > offered_kg:
        raise HusbandryError("More was left than was offered. Check both amounts.")
    enclosure, circuit_id = _table(enclosure, animal, at)
    eaten = 0.0 if refused else offered_kg - left_kg
    load = meal_load(eaten, 0.0, food.protein_fraction, food.water_fraction, food.phosphorus_fraction)
    feeding, is_new = record_once(
        Feeding,
        uuid=uuid,
        by=by,
        at=at,
        note=note,
        enclosure=enclosure,
        circuit_id=circuit_id,
        animal=animal,
        plan=plan,
        food=food,
        offered_kg=offered_kg,
        left_kg=offered_kg if refused else left_kg,
        refused=refused,
        tan_g=load.tan_g,
        solids_g=load.solids_g,
    )
    if is_new:
        announce([circuit_id])
    return feeding


def _table(enclosure: Enclosure | None, animal: Animal | None, at: datetime) -> tuple[Enclosure, int]:
    if animal is not None:
        placement = placement_at(animal, at)
        if placement is None:
            raise HusbandryError(
                f"{animal} was in no enclosure at that time. Check the time, or place it first."
            )
        return placement.enclosure, placement.circuit_id
    if enclosure is None:
        raise HusbandryError("Say which animal or which enclosure was fed.")
    # Re-plumbed since, the enclosure had another water then: those who ate there say which.
    there = Q(ends_at__isnull=True) | Q(ends_at__gt=at)
    eaters = Placement.objects.filter(there, enclosure=enclosure, starts_at__lte=at)
    then = eaters.values_list("circuit_id", flat=True).first()
    return enclosure, then or enclosure.circuit_id


@transaction.atomic
def feeding_amend(*, record: Feeding, by: User, reason: str, **changes: Any) -> Feeding:
    """Correct a meal; its load is computed anew. At another time it counts where the eater was then.

    Raises HusbandryError as `feeding_record` does.
    """
    offered = changes.get("offered_kg", record.offered_kg)
    refused = changes.get("refused", record.refused)
    left = offered if refused else changes.get("left_kg", record.left_kg)
    if left > offered:
        raise HusbandryError("More was left than was offered. Check both amounts.")
    food = changes.get("food", record.food)
    load = meal_load(
        offered - left, 0.0, food.protein_fraction, food.water_fraction, food.phosphorus_fraction
    )
    changes |= {"left_kg": left, "tan_g": load.tan_g, "solids_g": load.solids_g}
    if "at" in changes:
        changes["enclosure"], changes["circuit_id"] = _table(record.enclosure, record.animal, changes["at"])
    amended = amend(record=record, by=by, reason=reason, **changes)
    announce({record.circuit_id, amended.circuit_id})
    return amended


@transaction.atomic
def head_count_record(
    *, enclosure: Enclosure, by: User | None, at: datetime, uuid: UUID, seen: int | None, note: str = ""
) -> HeadCount:
    """Record how many animals of an enclosure were seen (None: all); how many lived there then is counted here.

    Raises HusbandryError when more were seen than lived there.
    """
    expected = living_in(enclosure.pk, at)
    seen = expected if seen is None else seen
    _check_seen(seen, expected)
    count, is_new = record_once(
        HeadCount, uuid=uuid, enclosure=enclosure, by=by, at=at, seen=seen, expected=expected, note=note
    )
    if is_new:
        announce([enclosure.circuit_id])
    return count


def living_in(enclosure_id: int, at: datetime) -> int:
    """How many animals lived in an enclosure at an instant: 1 query."""
    there = Q(ends_at__isnull=True) | Q(ends_at__gt=at)
    return Placement.objects.filter(there, enclosure=enclosure_id, starts_at__lte=at).count()


def _check_seen(seen: int, expected: int) -> None:
    if seen > expected:
        raise HusbandryError(
            f"{seen} seen, but {expected} lived here at that time. Check number and time, or move the animal first."
        )


@transaction.atomic
def measurement_record(
    *,
    animal: Animal,
    by: User | None,
    at: datetime,
    uuid: UUID,
    mass_kg: float | None = None,
    carapace_m: float | None = None,
    note: str = "",
) -> Measurement:
    """Record a weight [kg], a straight carapace length [m], or both. HusbandryError for neither."""
    if mass_kg is None and carapace_m is None:
        raise HusbandryError("Enter a weight or a length.")
    measurement, is_new = record_once(
        Measurement, uuid=uuid, animal=animal, by=by, at=at, mass_kg=mass_kg, carapace_m=carapace_m, note=note
    )
    if is_new:
        announce_animal(animal)
    return measurement


@transaction.atomic
def health_record(
    *,
    animal: Animal,
    by: User | None,
    at: datetime,
    uuid: UUID,
    kind: str,
    is_normal: bool = True,
    finding: str = "",
    note: str = "",
    check: QuarantineCheck | None = None,
) -> HealthRecord:
    """Record a look, examination, sample, treatment or observation; it may answer a planned check.

    Raises HusbandryError when something unusual is not described, or the check is another animal's.
    """
    if not is_normal and not finding.strip():
        raise HusbandryError("Describe what is unusual.")
    if check is not None and check.quarantine.animal_id != animal.pk:
        raise HusbandryError("This check belongs to another animal.")
    record, is_new = record_once(
        HealthRecord,
        uuid=uuid,
        animal=animal,
        by=by,
        at=at,
        kind=kind,
        is_normal=is_normal,
        finding=finding.strip(),
        note=note,
    )
    if is_new:
        if check is not None:
            QuarantineCheck.objects.filter(pk=check.pk, answered_by__isnull=True).update(answered_by=record)
        announce_animal(animal)
    return record


def announce_animal(animal: Animal) -> None:
    """Announce a change to the circuit an animal lives in."""
    announce(
        Placement.objects.filter(animal=animal, ends_at__isnull=True).values_list("circuit_id", flat=True)
    )


@transaction.atomic
def animal_record_amend(
    *, record: Measurement | HealthRecord | HeadCount, by: User, reason: str, **changes: Any
) -> Any:
    """Correct a weight, a health record or a head count, keeping the earlier version.

    A head count at another time is held against those who lived there then.
    """
    if isinstance(record, HeadCount) and "at" in changes:
        changes["expected"] = living_in(record.enclosure_id, changes["at"])
        _check_seen(changes.get("seen", record.seen), changes["expected"])
    amended = amend(record=record, by=by, reason=reason, **changes)
    if isinstance(record, HeadCount):
        announce([record.enclosure.circuit_id])
    else:
        announce_animal(record.animal)
    return amended


@transaction.atomic
def species_save(*, species: Species) -> Species:
    """Save a new or changed species; the waters its animals live in are planned anew."""
    species.save()
    here = Placement.objects.filter(animal__species=species, ends_at__isnull=True)
    announce(here.values_list("circuit_id", flat=True).distinct())
    return species


@transaction.atomic
def food_save(*, food: Food) -> Food:
    """Save a new or changed food. Meals recorded before keep the load they were reckoned with."""
    food.save()
    return food


@transaction.atomic
def animal_save(*, animal: Animal, by: User) -> Animal:
    """Save what is known of an animal, keeping who changed it. The file of a photo that gave way is deleted.

    The history keeps that photo's name only and no page shows it, so nothing is lost that could be looked at; and
    whoever takes a photo away wants it gone.
    """
    kept = _photo_kept(animal)
    # What its stay decides is not typed here: it may have left, or gone to sleep, while the form was open.
    animal.refresh_from_db(fields=["status", "left_on", "brumating_since"])
    if animal.photo and animal.photo._committed:  # type: ignore[attr-defined]
        animal.photo = kept  # nobody touched it here, so what somebody else chose meanwhile stands
    animal._history_user = by  # type: ignore[attr-defined]
    animal.save()
    if kept and kept != animal.photo.name:
        # After the commit, or a save that is rolled back would leave an animal without its photo. A disk that
        # refuses is written to the log: the animal is saved all the same.
        transaction.on_commit(lambda: _photo_delete(animal.photo.storage, kept), robust=True)
    announce_animal(animal)
    return animal


def _photo_kept(animal: Animal) -> str:
    """The name of the animal's photo as it is stored now; its row is locked until the end of the transaction."""
    rows = Animal.objects.select_for_update().filter(pk=animal.pk)
    return rows.values_list("photo", flat=True).first() or ""


def _photo_delete(storage: Storage, name: str) -> None:
    if not Animal.objects.filter(photo=name).exists():
        storage.delete(name)
