"""A column of a table, as it stands in a file: its name, where its value comes from, and what it means."""

import re
from collections.abc import Callable
from typing import Any

from import_export.fields import Field
from import_export.widgets import Widget

# Units as the ends of column names say them; the longer end first.
UNITS = {
    "_mg_l": "mg/L",
    "_m3_h": "m³/h",
    "_g_day": "g/day",
    "_m2_m3": "m² per m³",
    "_fraction": "share, 0 to 1",
    "_seconds": "s",
    "_m3": "m³",
    "_m2": "m²",
    "_kg": "kg",
    "_g": "g",
    "_c": "°C",
    "_l": "L",
    "_m": "m",
    "_w": "W",
    "_days": "days",
}
MOMENT = re.compile(r"(^|_)at$")
DAY = re.compile(r"(_on|_from|_since|_until)$")


def unit_by_name(name: str) -> str:
    """The unit that a column's name says, '' for none."""
    return next((unit for end, unit in UNITS.items() if name.endswith(end)), "")


class AsItIs(Widget):
    """Leaves values to whoever writes the file: a number stays a number."""

    def render(self, value: Any, obj: Any = None, **kwargs: Any) -> Any:
        return value


class Column(Field):
    """A column. `source` is a path like "circuit__code", or a function of the row's object."""

    def __init__(self, name: str, source: str | Callable[[Any], Any] | None = None, words: str = "") -> None:
        self.getter = source if callable(source) else None
        path = source if isinstance(source, str) else name
        super().__init__(attribute=path, column_name=name, widget=AsItIs())
        self.words = words

    def get_value(self, instance: Any) -> Any:
        return self.getter(instance) if self.getter else super().get_value(instance)

    def explained(self) -> str:
        """What it means, with the unit."""
        return f"{self.words or self._by_name()}{self._unit()}"

    def _by_name(self) -> str:
        return self.column_name.replace("_", " ")

    def _unit(self) -> str:
        if MOMENT.search(self.column_name):
            return " (date and time with its offset from UTC)"
        if DAY.search(self.column_name):
            return " (date)"
        unit = unit_by_name(self.column_name)
        return f" [{unit}]" if unit and "[" not in self.words else ""


def columns(*names: str | Column) -> list[Column]:
    """Columns by name; "area=area__code" takes the value from elsewhere, a Column stands for itself."""
    return [each if isinstance(each, Column) else _column(each) for each in names]


def _column(text: str) -> Column:
    name, _, source = text.partition("=")
    return Column(name, source or None)
