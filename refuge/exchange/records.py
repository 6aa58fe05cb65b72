"""Records: what happened. New ones are written together, changed ones are amendments that keep what stood there."""

from collections.abc import Mapping
from typing import Any

from django import forms

from refuge.exchange.cells import text
from refuge.exchange.columns import Column, columns
from refuge.exchange.resource import CHANGED, NEW, UNCHANGED, FileResource, Row, TableResource
from refuge.plain_errors import PlainErrors
from refuge.rounds.recording import Recorder, recorder
from refuge.rounds.services import record_amend

RECORD_COLUMNS = columns(
    Column("uuid", words="What makes the record one of a kind. Leave empty for a new one"),
    Column("at", words="When it happened"),
)
RECORD_ENDS = columns(
    "note",
    Column("by", "by__name", "Who entered it"),
    Column("entered_at", words="When it was entered"),
    Column("voided_at", words="When it was struck out, if it was"),
)
AT_ONCE = 500


class RecordRow(PlainErrors, forms.Form):
    """Mixed into a record's own form: a row of a file must say when it happened."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["at"].required = True
        self.fields["at"].label = "When it happened"
        self.fields["at"].help_text = "On the refuge's clock. A day alone is its noon."
        self.fields["uuid"].label = "What makes the record one of a kind"
        self.fields["uuid"].help_text = "Leave it empty for a new one."
        self.order_fields(["uuid", "at"])


class RecordTable(TableResource):
    """Records that are written out: those that stand and those that were struck out."""

    def get_queryset(self) -> Any:
        return self._meta.model.everything.select_related("by", *self.related).order_by("pk")


class RecordResource(RecordTable, FileResource):
    """Found by its uuid, or without one by when it happened and what it is about."""

    recorder_key: str
    subject_columns: tuple[str, ...]  # what it is about: a file cannot change it
    twice_help = "If both happened, give them times that differ."

    @property
    def recorder(self) -> Recorder:
        return recorder(self.recorder_key)

    def start(self, **options: Any) -> None:
        super().start(**options)
        self.fresh: list[Any] = []

    def look_at(self, row: Row, cells: dict[str, Any]) -> None:
        row.has_uuid = bool(text(cells.get("uuid") or ""))
        self.judge(row, cells)

    def natural_key(self, at: Any, ids: Mapping[str, int | None]) -> tuple[Any, ...]:
        """What tells two records apart that carry no uuid."""
        return (at, *(ids[name] for name in self.subject_columns))

    def key_of(self, row: Row) -> Any:
        if row.instance is not None:
            return row.instance.pk
        if row.has_uuid:
            return row.cleaned["uuid"]
        return self.natural_key(
            row.cleaned["at"], {n: each and each.pk for n, each in self.links(row).items()}
        )

    def links(self, row: Row) -> dict[str, Any]:
        """What the row refers to, by column."""
        return {name: row.cleaned.get(name) for name in self.known}

    def find_existing(self) -> None:
        """Two queries for most files: one for uuids, one for the span of time of those without."""
        sound = [row for row in self.read if not row.errors]
        by_uuid = self._stored_by_uuid([row.cleaned["uuid"] for row in sound if row.has_uuid])
        by_nature = self._stored_by_nature([row.cleaned["at"] for row in sound if not row.has_uuid])
        for row in sound:
            row.instance = (
                by_uuid.get(row.cleaned["uuid"]) if row.has_uuid else by_nature.get(self.key_of(row))
            )

    def _stored_by_uuid(self, uuids: list[Any]) -> dict[Any, Any]:
        everything = self._meta.model.everything
        parts = (uuids[start : start + AT_ONCE] for start in range(0, len(uuids), AT_ONCE))
        return {each.uuid: each for part in parts for each in everything.filter(uuid__in=part)}

    def _stored_by_nature(self, moments: list[Any]) -> dict[Any, Any]:
        if not moments:
            return {}
        found = self._meta.model.objects.filter(at__range=(min(moments), max(moments)))
        return {
            self.natural_key(each.at, {n: getattr(each, f"{n}_id") for n in self.known}): each
            for each in found
        }

    def compare(self, row: Row) -> None:
        row.label = self.label_of(row)
        if row.instance is None:
            self.settle(row)
            return
        if row.instance.voided_at is not None:
            row.state, row.label = UNCHANGED, f"{row.label} (struck out here, stays so)"
            return
        for name in self.subject_columns:
            if name in row.given and row.cleaned[name] != getattr(row.instance, name):
                row.refuse(
                    name,
                    f"This record is about {getattr(row.instance, name) or 'something else'}. A file cannot move it.",
                )
        if row.errors:
            return
        wanted = {**self.recorder.columns(row.cleaned), "at": row.cleaned["at"], "note": row.cleaned["note"]}
        row.before = {name: getattr(row.instance, name) for name in wanted}
        self.note_changes(row, wanted)

    def settle(self, row: Row) -> None:
        """Complete a new record's row by what else is known; a hook."""

    def write(self, row: Row) -> None:
        if row.state == CHANGED:
            kept = {name: value for name, value in row.before.items() if name not in row.given}
            cleaned = {**row.cleaned, **kept}
            record_amend(record=row.instance, by=self.by, reason=self.reason, cleaned=cleaned)
        elif row.state == NEW:
            self.fresh.append(self.new_record(row))

    def new_record(self, row: Row) -> Any:
        """The unsaved record of a row."""
        subject = {name: row.cleaned[name] for name in self.subject_columns}
        values = {**subject, **self.recorder.columns(row.cleaned)}
        common = {name: row.cleaned[name] for name in ("uuid", "at", "note")}
        return self._meta.model(by=self.by, **common, **values)

    def write_together(self) -> None:
        self._meta.model.objects.bulk_create(self.fresh, batch_size=AT_ONCE)
        self.touched |= self.circuits(self.fresh)

    def circuits(self, fresh: list[Any]) -> set[int | None]:
        """The waters that new records change."""
        return {record.circuit_id for record in fresh}
