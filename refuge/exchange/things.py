"""Things that have a code or a name: places, foods, animals. The form of a row is a form of the model."""

from typing import Any

from django import forms

from refuge.exchange.cells import text
from refuge.exchange.fields import OneOf
from refuge.exchange.resource import FileResource, Row
from refuge.plain_values import form_value


class ThingResource(FileResource):
    """Found by `key_column`, in any case of its letters.

    A column that a file leaves out stays as it is; of something new it takes the model's default, as an empty
    cell does.
    """

    row_form: type[forms.ModelForm]
    key_column = "code"

    def start(self, **options: Any) -> None:
        super().start(**options)
        rows = self._meta.model._default_manager.all()
        self.stored = {str(getattr(each, self.key_column)).casefold(): each for each in rows}

    def look_at(self, row: Row, cells: dict[str, Any]) -> None:
        """The thing comes first: its form judges the row as a change of it."""
        row.instance = self.stored.get(text(cells.get(self.key_column) or "").casefold())
        if row.instance is not None:
            cells[self.key_column] = getattr(row.instance, self.key_column)
            row.before = {name: getattr(row.instance, name) for name in self.own_columns()}
        self.judge(row, cells, row.instance)

    def own_columns(self) -> list[str]:
        """Columns that are fields of the model."""
        own = {each.name for each in self._meta.model._meta.fields}
        return [name for name in self.row_form.base_fields if name in own]

    def form(self, data: dict[str, Any] | None, instance: Any = None) -> forms.BaseForm:
        return self.fitted(self.row_form(data, instance=instance or self._meta.model()))

    def completed(self, form: Any, data: dict[str, Any], instance: Any) -> dict[str, Any]:
        for name, each in form.fields.items():
            left_out = name not in data or (instance is None and data[name] == "")
            if left_out and form.initial.get(name) is not None:
                data[name] = self._as_written(each, form.initial[name])
        return data

    def _as_written(self, field: forms.Field, initial: Any) -> Any:
        """What the form starts with, as a cell would say it."""
        if isinstance(field, OneOf):
            return next((each for each in field.known.values() if each.pk == initial), "")
        return form_value(field, initial)

    def find_existing(self) -> None:
        """Each was found when it was looked at."""

    def key_of(self, row: Row) -> Any:
        return str(row.cleaned[self.key_column]).casefold()

    def compare(self, row: Row) -> None:
        row.label = self.label_of(row)
        if row.instance is not None:
            self.note_changes(row, {name: row.cleaned[name] for name in row.before if name in row.cleaned})

    def write(self, row: Row) -> None:
        thing = row.instance or self._meta.model()
        for name in self.own_columns():
            setattr(thing, name, row.cleaned[name])
        thing._history_user, thing._change_reason = self.by, self.reason
        self.save_thing(thing, row)

    def save_thing(self, thing: Any, row: Row) -> None:
        """Save it; a hook for what follows from that."""
        thing.save()
