"""What every record has in common: it happened, somebody entered it, and it is amended, never overwritten."""

import uuid
from typing import Any, TypeVar
from uuid import UUID

from django.conf import settings
from django.db import IntegrityError, models, transaction
from django.db.models import Q
from django.utils import timezone
from simple_history.models import HistoricalRecords

from refuge.errors import ClearmereError

TAKEN_BACK = "Taken back at once"


class Amended(ClearmereError):
    """An amendment that cannot be made: the record was voided, or no reason was given."""


class StandingManager(models.Manager):
    """Records that stand: those undone or struck out are left out."""

    def get_queryset(self) -> models.QuerySet:
        return super().get_queryset().filter(voided_at__isnull=True)


class Record(models.Model):
    """Something that happened. `uuid` is made where it was typed, so the same entry twice is one record."""

    uuid = models.UUIDField(default=uuid.uuid4, unique=True, editable=False)
    at = models.DateTimeField("when it happened", default=timezone.now)
    entered_at = models.DateTimeField("when it was entered", default=timezone.now, editable=False)
    by = models.ForeignKey(
        settings.AUTH_USER_MODEL, models.PROTECT, null=True, blank=True, related_name="+", verbose_name="by"
    )
    note = models.TextField(blank=True)
    voided_at = models.DateTimeField(null=True, blank=True, editable=False)

    history = HistoricalRecords(inherit=True)
    everything = models.Manager()
    objects = StandingManager()

    class Meta:
        abstract = True
        ordering = ["-at", "-pk"]
        base_manager_name = "everything"
        default_manager_name = "objects"


RecordT = TypeVar("RecordT", bound=Record)


def _keep_first_version(record: Record) -> None:
    """Records loaded in bulk have no first version yet; without it an amendment would lose what stood there."""
    if not record.history.exists():
        stored = type(record).everything.get(pk=record.pk)
        stored._history_date = stored.entered_at
        stored._history_user = stored.by
        type(record).history.bulk_history_create([stored], default_date=stored.entered_at)


def first_version(record: RecordT) -> Any:
    """A record as it was entered, whatever was corrected since."""
    first = record.history.order_by("history_date", "history_id").first()
    return record if first is None else first.instance


def stored_value(record: Record, name: str) -> Any:
    """The value of a column; of a foreign key the number it points to, whether that still exists or not."""
    column: Any = record._meta.get_field(name)
    return getattr(record, column.attname)


@transaction.atomic
def amend(*, record: RecordT, by: Any, reason: str, **changes: Any) -> RecordT:
    """Correct a record. The earlier version, who changed it, when and why are kept.

    Raises Amended when the record no longer stands or the reason is empty.
    """
    stored = type(record).everything.select_for_update().get(pk=record.pk)
    if stored.voided_at is not None:
        raise Amended("This record was undone. Enter it anew instead of amending it.")
    if not reason.strip():
        raise Amended("Say why: the reason stays beside the earlier version.")
    _keep_first_version(stored)
    for name, value in changes.items():
        setattr(stored, name, value)
    stored._history_user = by
    stored.full_clean(validate_unique=False, validate_constraints=False)
    stored._change_reason = reason.strip()[:100]
    stored.save()
    return stored


@transaction.atomic
def void(*, record: Record, by: Any, reason: str) -> None:
    """Strike a record out (an undo, or an entry made by mistake). It stays readable in its history."""
    stored = type(record).everything.select_for_update().get(pk=record.pk)
    if stored.voided_at is None:
        _keep_first_version(stored)
        stored.voided_at = timezone.now()
        stored._history_user = by
        stored._change_reason = reason[:100]
        stored.save()


def record_once(model: type[RecordT], *, uuid: UUID, **values: Any) -> tuple[RecordT, bool]:
    """Make a record, or find the one that the same entry made before. Must run inside a transaction.

    The unique constraint on `uuid` decides, so two phones or two clicks at once make one record as well.
    """
    earlier = model.everything.filter(uuid=uuid).first()
    if earlier is not None:
        return earlier, False
    try:
        with transaction.atomic():
            return model.everything.create(uuid=uuid, **values), True
    except IntegrityError:
        earlier = model.everything.filter(uuid=uuid).first()
        if earlier is None:  # another constraint was broken, not this one
            raise
        return earlier, False


def record_constraints(prefix: str) -> list[models.CheckConstraint]:
    """Constraints that every record table carries."""
    return [
        models.CheckConstraint(
            condition=Q(voided_at__isnull=True) | Q(voided_at__gte=models.F("entered_at")),
            name=f"{prefix}_voided_after_entry",
        )
    ]
