"""The tables that apps registered, in the order in which they can be read in."""

from collections.abc import Iterator
from typing import Any, Protocol

from refuge.exchange.columns import Column


class Table(Protocol):
    """Something that is written out: its key names the file or sheet."""

    key: str
    title: str
    words: str
    columns: list[Column]
    order: int

    def rows(self) -> Iterator[list[Any]]: ...


_tables: dict[str, type] = {}


def register(table: type) -> type:
    """Class decorator. Raises ValueError for a key used twice."""
    if table.key in _tables:  # type: ignore[attr-defined]
        raise ValueError(f"table {table.key!r} is registered twice")  # type: ignore[attr-defined]
    _tables[table.key] = table  # type: ignore[attr-defined]
    return table


def tables() -> list[Any]:
    """All tables, made anew: a resource keeps the state of one import."""
    return [table() for table in sorted(_tables.values(), key=lambda each: (each.order, each.key))]


def importable() -> list[Any]:
    """Those that can be read in."""
    return [table for table in tables() if table.row_form is not None]


def table(key: str) -> Any:
    """The table of this key. KeyError if there is none."""
    return _tables[key]()
