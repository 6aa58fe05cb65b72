"""Writes about moves: from one place to another, in or out of a water, and what that restarts.

An animal that joins a water with open quarantines restarts their clocks: what shares water shares pathogens.
That costs months, so whoever calls must say that the restart was shown and agreed to. A move may be entered
after it happened: the restarts then count from the first day on which the animals shared water.
"""

from dataclasses import dataclass
from datetime import date, datetime

from django.db import transaction
from django.db.models import Min, Q
from django.utils import timezone

from enclosures.models import Circuit, Enclosure
from husbandry.models import Animal, Feeding, Placement, Quarantine, QuarantineCheck, QuarantineRestart
from husbandry.quarantine_dates import check_dates, restarted
from husbandry.services import HusbandryError
from refuge.events import announce
from refuge.people.models import User
from refuge.records import amend
from refuge.rules.triggers import day_text


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


class WrongTime(HusbandryError):
    """The animal cannot have been moved then."""


def restarts_for(
    circuit: Circuit | int, on: date, *, joining: Animal | None = None, since: datetime | None = None
) -> list[Restart]:
    """Quarantines that an animal joining a water on a day sets back: 1 query.

    since: the moment it joined, if that is past; animals that left the water after it have shared it too, and
    one that came later counts from its own day.
    """
    circuit_id = circuit.pk if isinstance(circuit, Circuit) else circuit
    there = Q(animal__placements__ends_at__isnull=True)
    if since is not None:
        there |= Q(animal__placements__ends_at__gt=since)
    rows = (
        Quarantine.objects.filter(there, animal__placements__circuit=circuit_id, released_on__isnull=True)
        .annotate(there_from=Min("animal__placements__starts_at"))
        .select_related("animal")
        .order_by("animal__code")
    )
    if joining is not None:
        rows = rows.exclude(animal=joining)
    found = [Restart(each, *restarted(each.clock_from, each.days, _met(each, on))) for each in rows]
    return [each for each in found if each.days_lost > 0]


def _met(quarantine: Quarantine, on: date) -> date:
    """The first day on which an animal that was or came there shared the water with one that joined on a day."""
    there_from: datetime = quarantine.there_from  # type: ignore[attr-defined]  # annotated
    return max(on, timezone.localdate(there_from))


def lock_animal(animal: Animal) -> None:
    """Read the animal anew and hold it: until the end of the transaction nobody else moves it or lets it go."""
    animal.refresh_from_db(from_queryset=Animal.objects.select_for_update(no_key=True))


def lock_place(enclosure: Enclosure) -> None:
    """Read the enclosure anew and hold it: it keeps its water and stays in use. Animals are locked before it."""
    enclosure.refresh_from_db(from_queryset=Enclosure.objects.select_for_update(no_key=True))


@transaction.atomic
def animal_move(
    *,
    animal: Animal,
    enclosure: Enclosure,
    by: User,
    at: datetime,
    reason: str = "",
    restart_agreed: bool = False,
) -> Placement:
    """Move an animal, now or at a time that is past. In another water, quarantines start anew: those there,
    and its own if it has one.

    Meals it had since then are counted where it was. Moving it where it is changes nothing. Raises
    RestartNotAgreed, WrongTime when it would be in two places at once or had not arrived yet, and HusbandryError
    when it is here no longer.
    """
    lock_animal(animal)
    lock_place(enclosure)
    check_here(animal)
    here = Placement.objects.filter(animal=animal, ends_at__isnull=True).first()
    if here is not None and here.enclosure_id == enclosure.pk and here.circuit_id == enclosure.circuit_id:
        return here
    check_time(animal, at)
    placement = settle(animal, enclosure, at, timezone.localdate(at), by, reason, restart_agreed, here)
    _move_meals(placement, by)
    announce([here.circuit_id if here else None, enclosure.circuit_id])
    return placement


def check_here(animal: Animal) -> None:
    """HusbandryError for an animal that has left."""
    if animal.left_on is not None:
        became = animal.get_status_display().lower()
        raise HusbandryError(
            f"It is here no longer: {became} on {day_text(animal.left_on)}.\n"
            "If it came back, take it in as an arrival, under another code."
        )


def check_time(animal: Animal, at: datetime) -> None:
    """Nothing lies between a move, or its leaving, and now: it follows the latest stay that is recorded."""
    if timezone.localdate(at) < animal.arrived_on:
        raise WrongTime(f"It arrived on {day_text(animal.arrived_on)}.\nEnter a time after that.")
    later = animal.placements.filter(Q(ends_at__gt=at) | Q(starts_at__gte=at)).select_related("enclosure")
    stay = later.order_by("-starts_at").first()
    if stay is None:
        return
    moment, words = (
        (stay.starts_at, "came to") if stay.ends_at is None else (stay.ends_at, "was until then in")
    )
    local = timezone.localtime(moment)
    raise WrongTime(
        f"On {day_text(local.date())} at {local:%H:%M} it {words} {stay.enclosure}.\n"
        "It cannot have been in two places at once: enter a time after that."
    )


def _move_meals(placement: Placement, by: User) -> None:
    """Meals of its own that were entered since a move that is entered late: they went into the other water."""
    meals = Feeding.objects.filter(animal=placement.animal, at__gte=placement.starts_at)
    for meal in meals.exclude(enclosure=placement.enclosure_id, circuit=placement.circuit_id):
        why = f"It was in {placement.enclosure} by then"
        amend(record=meal, by=by, reason=why, enclosure=placement.enclosure, circuit=placement.circuit)


def settle(
    animal: Animal,
    enclosure: Enclosure,
    at: datetime,
    on: date,
    by: User,
    reason: str,
    restart_agreed: bool,
    here: Placement | None = None,
) -> Placement:
    """Close the present placement, open the next, and restart what a change of water restarts.

    Animal and enclosure are locked already, or nobody else knows of them yet. on: the local day of `at`. Raises RestartNotAgreed, and HusbandryError for an enclosure that is out of use.
    """
    if not enclosure.in_use and (here is None or here.enclosure_id != enclosure.pk):
        raise HusbandryError(f"{enclosure} is out of use.\nPut it in use first, or choose another place.")
    if here is None or here.circuit_id != enclosure.circuit_id:
        restarts = restarts_for(enclosure.circuit_id, on, joining=animal, since=at)
        if restarts and not restart_agreed:
            raise RestartNotAgreed(restarts)
        for each in [*restarts, *_own_restart(animal, restarts)]:
            _restart(each, animal, by)
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


def _own_restart(animal: Animal, restarts: list[Restart]) -> list[Restart]:
    """A newcomer to a water where others sit out their time counts from the same day as they do."""
    own = Quarantine.objects.filter(animal=animal, released_on__isnull=True).first()
    if own is None or not restarts:
        return []
    met = max(each.clock_from for each in restarts)
    return [Restart(own, *restarted(own.clock_from, own.days, met))] if own.clock_from < met else []


def _restart(restart: Restart, because_of: Animal, by: User) -> None:
    quarantine = restart.quarantine
    QuarantineRestart.objects.get_or_create(
        quarantine=quarantine,
        on=restart.clock_from,
        because_of=because_of,
        defaults={"previous_clock_from": quarantine.clock_from, "previous_ends_on": quarantine.ends_on},
    )
    quarantine.clock_from, quarantine.ends_on = restart.clock_from, restart.ends_on
    quarantine._history_user = by  # type: ignore[attr-defined]
    quarantine.save(update_fields=["clock_from", "ends_on"])
    # Samples and looks planned ahead are planned anew; what was answered stays answered.
    quarantine.checks.filter(answered_by__isnull=True).delete()
    fresh = [
        QuarantineCheck(quarantine=quarantine, kind=check.kind, due_on=check.on)
        for check in check_dates(restart.clock_from, quarantine.days, vet_override=True)
        if check.kind != QuarantineCheck.Kind.INTAKE_EXAM
    ]
    QuarantineCheck.objects.bulk_create(fresh, ignore_conflicts=True)
