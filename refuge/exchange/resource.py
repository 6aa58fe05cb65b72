"""One table of an app: written to a file, and, where it has a form for rows, read from one.

The library walks over the rows, keeps each in its transaction and collects what happened. Here a row is judged by
a form, an existing object is found by its key, and what is new or changed is written by the app.
"""

from collections import OrderedDict
from collections.abc import Iterator
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.core.exceptions import NON_FIELD_ERRORS, ValidationError
from django.db import IntegrityError, transaction
from import_export.resources import ModelResource

from refuge.errors import ClearmereError
from refuge.events import announce
from refuge.exchange.cells import cell_value, shown
from refuge.exchange.columns import Column
from refuge.exchange.fields import OneOf
from refuge.plain_values import YesNoField, help_text
from refuge.rounds.recording import differs

NEW, CHANGED, UNCHANGED, WRONG = "new", "changed", "unchanged", "wrong"
REFUSED = "The database does not take this row: something in it belongs to another one already."


@dataclass
class Row:
    """One row of a file: what it says, what it is about, and what it would do."""

    number: int
    given: frozenset[str]
    cleaned: dict[str, Any] = field(default_factory=dict)
    errors: dict[str, list[str]] = field(default_factory=dict)
    instance: Any = None
    has_uuid: bool = False  # the file says which record it is
    before: dict[str, Any] = field(default_factory=dict)  # what the instance held
    state: str = NEW
    label: str = ""
    changes: list[tuple[str, str, str]] = field(default_factory=list)  # column, before, after

    def refuse(self, column: str, words: str) -> None:
        self.errors.setdefault(column, []).append(words)
        self.state = WRONG


class TableResource(ModelResource):
    """A table that is written out. A subclass names key, title, words, order, columns and Meta.model."""

    key: str
    title: str
    words = ""
    order = 100
    columns: list[Column]
    related: tuple[str, ...] = ()
    row_form: type[forms.Form] | None = None

    class Meta:
        fields: tuple[str, ...] = ()
        use_transactions = True
        skip_diff = True
        chunk_size = 500

    def __init__(self, **options: Any) -> None:
        super().__init__(**options)
        self.fields = OrderedDict((each.column_name, each) for each in self.columns)

    def get_queryset(self) -> Any:
        rows = self._meta.model._default_manager.all()
        return rows.select_related(*self.related).order_by("pk")

    def rows(self) -> Iterator[list[Any]]:
        """Every row, read in parts: the memory holds no more than one of them."""
        for instance in self.iter_queryset(self.get_queryset()):
            yield self.export_resource(instance)


class FileResource(TableResource):
    """A table that can also be read in. Things and records differ in how they are found and written."""

    row_form: type[forms.Form]
    label_columns: tuple[str, ...]

    def start(self, *, by: Any, reason: str, numbers: list[int]) -> None:
        """Who brings the file, why, and which rows of it these are."""
        self.by, self.reason, self.numbers = by, reason, numbers
        self.read: list[Row] = []
        self.touched: set[int | None] = set()
        prototype = self.row_form()
        self.known = {n: f.load() for n, f in prototype.fields.items() if isinstance(f, OneOf)}

    def import_columns(self) -> dict[str, forms.Field]:
        """The columns that are read, with the fields that judge them."""
        return self.row_form().fields

    def explained(self) -> list[tuple[str, forms.Field, str]]:
        """Each column that is read: its name, field and meaning."""
        return [(name, each, help_text(each) or name) for name, each in self.import_columns().items()]

    # Judging

    def form(self, data: dict[str, Any] | None, instance: Any = None) -> forms.BaseForm:
        """The form of one row, with fields that look up in memory what they name."""
        form = self.row_form(data)
        return self.fitted(form)

    def fitted(self, form: forms.BaseForm) -> forms.BaseForm:
        for name, each in form.fields.items():
            if isinstance(each, OneOf):
                each.known = self.known[name]
            elif isinstance(each, forms.BooleanField):
                form.fields[name] = YesNoField(label=each.label, required=False)
        return form

    def judge(self, row: Row, cells: dict[str, Any], instance: Any = None) -> None:
        """Fill in what a row says, or what is wrong with it, column by column."""
        form = self.form({}, instance)
        data = dict(getattr(form, "plain_defaults", {}))
        for name, cell in cells.items():
            try:
                data[name] = cell_value(form.fields[name], cell)
            except ValidationError as error:
                row.refuse(name, " ".join(error.messages))
                data[name] = ""
        form.data = self.completed(form, data, instance)
        for name, found in form.errors.items():
            if name not in row.errors:
                row.refuse(self.column_of(name, row), " ".join(str(each) for each in found))
        row.cleaned = form.cleaned_data

    def completed(self, form: forms.BaseForm, data: dict[str, Any], instance: Any) -> dict[str, Any]:
        """The data with what the file leaves out."""
        return data

    def column_of(self, name: str, row: Row) -> str:
        """Under which column an error is shown; '' for the row as a whole."""
        return "" if name == NON_FIELD_ERRORS else name

    # What the library calls

    def before_import(self, dataset: Any, **kwargs: Any) -> None:
        """Judge all rows first, then find at once what is there already."""
        for number, cells in zip(self.numbers, dataset.dict, strict=True):
            row = Row(number, frozenset(cells))
            self.look_at(row, dict(cells))
            self.read.append(row)
        self.find_existing()
        self.refuse_twice()
        for row in self.read:
            if row.state != WRONG:
                self.compare(row)

    def look_at(self, row: Row, cells: dict[str, Any]) -> None:
        self.judge(row, cells)

    def get_or_init_instance(self, instance_loader: Any, row: Any) -> tuple[Any, bool]:
        return self.current, False

    def import_row(self, row: Any, instance_loader: Any, **kwargs: Any) -> Any:
        self.current = self.read[kwargs["row_number"] - 1]
        return super().import_row(row, instance_loader, **kwargs)

    def import_instance(self, instance: Any, row: Any, **kwargs: Any) -> None:
        if self.current.errors:
            raise ValidationError(
                {column or NON_FIELD_ERRORS: e for column, e in self.current.errors.items()}
            )

    def skip_row(self, instance: Any, original: Any, row: Any, import_validation_errors: Any = None) -> bool:
        return self.current.state == UNCHANGED and not import_validation_errors

    def save_instance(self, instance: Any, is_create: bool, row: Any, **kwargs: Any) -> None:
        try:
            with transaction.atomic():
                self.write(self.current)
        except ClearmereError as refusal:
            self.current.refuse("", str(refusal))
        except IntegrityError:
            self.current.refuse("", REFUSED)
        self.import_instance(instance, row)

    def after_import(self, dataset: Any, result: Any, **kwargs: Any) -> None:
        if not any(row.errors for row in self.read):
            self.write_together()
            announce(self.touched)

    # What a kind of table states

    def find_existing(self) -> None:
        """Set each row's instance, where there is one."""
        raise NotImplementedError

    def key_of(self, row: Row) -> Any:
        """What no two rows of a file may have in common."""
        raise NotImplementedError

    def compare(self, row: Row) -> None:
        """Set the row's state, label and changes."""
        raise NotImplementedError

    def write(self, row: Row) -> None:
        """Write a new or changed row, or put it aside for write_together()."""
        raise NotImplementedError

    def write_together(self) -> None:
        """Write at once what was put aside."""

    def refuse_twice(self) -> None:
        first: dict[Any, int] = {}
        for row in self.read:
            if row.state == WRONG:
                continue
            earlier = first.setdefault(self.key_of(row), row.number)
            if earlier != row.number:
                row.refuse("", f"This is the same as row {earlier}. {self.twice_help}")

    twice_help = "Leave one of them."

    def note_changes(self, row: Row, wanted: dict[str, Any]) -> None:
        """Compare what the file says, in the columns that it has, with what is stored."""
        row.changes = [
            (name, shown(row.before[name]), shown(value))
            for name, value in wanted.items()
            if name in row.given and differs(_plain(row.before[name]), _plain(value))
        ]
        row.state = CHANGED if row.changes else UNCHANGED

    def label_of(self, row: Row) -> str:
        return ", ".join(
            shown(row.cleaned[n]) for n in self.label_columns if row.cleaned.get(n) not in (None, "")
        )


def _plain(value: Any) -> Any:
    """Nothing written and an empty text are the same."""
    return "" if value is None else value
