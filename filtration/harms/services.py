"""Writes about what happened to filters."""

from datetime import datetime
from typing import Any
from uuid import UUID

from django.db import transaction

from filtration.harms.models import FilterHarm
from filtration.models import FilterUnit
from refuge.events import announce
from refuge.people.models import User
from refuge.records import TAKEN_BACK, amend, record_once, void


@transaction.atomic
def harm_record(
    *, unit: FilterUnit, kind: str, by: User | None, at: datetime, uuid: UUID, **told: Any
) -> FilterHarm:
    """Record what happened to a filter (columns of FilterHarm, SI). The same uuid again makes no second record."""
    record, is_new = record_once(FilterHarm, uuid=uuid, filter=unit, kind=kind, by=by, at=at, **told)
    if is_new:
        announce([unit.circuit_id])
    return record


@transaction.atomic
def harm_amend(*, record: FilterHarm, by: User, reason: str, **changes: Any) -> FilterHarm:
    """Correct what was said; the forecast and the tasks follow."""
    amended = amend(record=record, by=by, reason=reason, **changes)
    announce([record.filter.circuit_id])
    return amended


@transaction.atomic
def harm_take_back(*, record: FilterHarm, by: User, reason: str = TAKEN_BACK) -> None:
    """Strike out what did not happen, or not to this filter. Repeated, it changes nothing."""
    void(record=record, by=by, reason=reason)
    announce([record.filter.circuit_id])
