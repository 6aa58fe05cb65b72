"""Writes about the waters: a test, a change. One transaction each; the same uuid twice is one record."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from enclosures.models import Area, Circuit, Enclosure, WaterChange, WaterSource, WaterTest
from refuge.errors import ClearmereError
from refuge.events import announce
from refuge.people.models import User
from refuge.records import amend, record_once


class WaterError(ClearmereError):
    """Something about a water that cannot be recorded. The message is for the person who tried."""


@transaction.atomic
def water_test_record(
    *, circuit: Circuit, by: User | None, at: datetime, uuid: UUID, note: str = "", **readings: float | None
) -> WaterTest:
    """Record a water test. Readings by their column (mg/L, nitrogen as N; °C); at least one of them.

    Raises WaterError for a test that read nothing, TypeError for a reading that does not exist.
    """
    unknown = set(readings) - set(WaterTest.READINGS)
    if unknown:
        raise TypeError(f"no such reading: {', '.join(sorted(unknown))}")
    if all(value is None for value in readings.values()):
        raise WaterError("Nothing was read. Enter at least one value.")
    test, is_new = record_once(WaterTest, uuid=uuid, circuit=circuit, by=by, at=at, note=note, **readings)
    if is_new:
        announce([circuit.pk])
    return test


@transaction.atomic
def water_change_record(
    *,
    circuit: Circuit,
    by: User | None,
    at: datetime,
    uuid: UUID,
    volume_m3: float,
    source: WaterSource,
    kind: str = WaterChange.Kind.CHANGE,
    conditioner: str = "",
    conditioner_g: float | None = None,
    note: str = "",
) -> WaterChange:
    """Record water replaced or topped up [m3].

    Raises WaterError when the source carries a disinfectant and no conditioner is named: untreated tap water
    harms animals and the filter's bacteria.
    """
    if source.disinfectant != WaterSource.Disinfectant.NONE and not conditioner.strip():
        raise WaterError(
            f"{source.name} carries {source.get_disinfectant_display().lower()}. Name the conditioner that was used."
        )
    change, is_new = record_once(
        WaterChange,
        uuid=uuid,
        circuit=circuit,
        by=by,
        at=at,
        note=note,
        volume_m3=volume_m3,
        source=source,
        kind=kind,
        conditioner=conditioner.strip(),
        conditioner_g=conditioner_g,
    )
    if is_new:
        announce([circuit.pk])
    return change


@transaction.atomic
def water_record_amend(
    *, record: WaterTest | WaterChange, by: User, reason: str, **changes: Any
) -> WaterTest | WaterChange:
    """Correct a water test or change, keeping the earlier version; the circuit is planned anew."""
    amended = amend(record=record, by=by, reason=reason, **changes)
    announce([record.circuit_id])
    return amended


@transaction.atomic
def area_save(*, area: Area) -> Area:
    """Save a new or changed area; the walk is planned anew for the waters in it."""
    area.save()
    announce(area.enclosures.values_list("circuit_id", flat=True).distinct())
    return area


@transaction.atomic
def water_source_save(*, source: WaterSource) -> WaterSource:
    """Save a new or changed source; the waters filled from it are planned anew."""
    source.save()
    announce(source.circuits.values_list("pk", flat=True))
    return source


@transaction.atomic
def circuit_save(*, circuit: Circuit, by: User) -> Circuit:
    """Save a new or changed water, keeping who changed it."""
    circuit._history_user = by  # type: ignore[attr-defined]
    circuit.save()
    announce([circuit.pk])
    return circuit


@transaction.atomic
def enclosure_save(*, enclosure: Enclosure, by: User) -> Enclosure:
    """Save a new enclosure, or changed sizes and settings of one, keeping who changed it.

    Raises WaterError for another water: animals' placements have to follow, which re-plumbing sees to; and for one
    that goes out of use while animals live in it.
    """
    before = Enclosure.objects.select_for_update(no_key=True).filter(pk=enclosure.pk).first()
    if before is not None and before.circuit_id != enclosure.circuit_id:
        raise WaterError("Its water changes by re-plumbing, so that the animals' records follow.")
    if before is not None and not enclosure.in_use and (problem := out_of_use_problem(before)):
        raise WaterError(problem)
    enclosure._history_user = by  # type: ignore[attr-defined]
    enclosure.save()
    announce([enclosure.circuit_id])
    return enclosure


def out_of_use_problem(enclosure: Enclosure) -> str:
    """What keeps an enclosure that is in use from going out of use, and what would do; '' if nothing does. 1 query.

    What is out of use is planned for no more, so animals in it would be forgotten.
    """
    # Placements are husbandry's: they are seen by their name on the enclosure only.
    if not enclosure.in_use or not enclosure.placements.filter(ends_at__isnull=True).exists():
        return ""
    return (
        "Animals live in it: out of use, they would be fed and looked at by no plan.\n"
        "Move them elsewhere first, or record on their own pages that they left."
    )
