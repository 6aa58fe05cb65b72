"""Queries whose SQL is made once: for what is asked again after every record.

The ORM puts the SQL of a query together each time it is asked. For one water that takes a tenth to half a
millisecond, and running it a tenth of that; a replan asks two dozen. A function under `@prepared` builds its query as
usual, from the values it is given; it is called once for each shape of them (how many waters, which are None) with
places instead of values, and from then on only the values change.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, date, tzinfo
from functools import lru_cache, update_wrapper
from typing import Any
from zoneinfo import ZoneInfo

from django.core.exceptions import EmptyResultSet
from django.db import DEFAULT_DB_ALIAS, connections
from django.db.models import Expression, QuerySet
from django.db.models.sql import Query
from django.utils import timezone

ZONES = (UTC, ZoneInfo("Pacific/Kiritimati"))  # a query made in either must be the same
SHAPES = 64  # remembered of each query: one for each number of waters
MANY = (list, tuple, set, frozenset)
Shape = tuple[tuple[str, Any], ...]


class Given(Expression):
    """A place in a query for a value that is told when it is asked."""

    def __init__(self, name: str, number: int = 0) -> None:
        super().__init__()
        self.name, self.number = name, number

    def as_sql(self, compiler: Any, connection: Any) -> tuple[str, list[Any]]:
        return "%s", [self]


@dataclass(frozen=True)
class Sql:
    """What is remembered of a query for one shape of its values. None: it can find nothing.

    converters: of a column's place, what makes of the driver's value what its field holds.
    """

    query: Query
    text: str | None = None
    params: tuple[Any, ...] = ()
    columns: int = 0
    converters: dict[int, Any] = field(default_factory=dict)


class Prepared:
    """A query that is asked by calling it with its values by name: gives rows as tuples."""

    def __init__(self, make: Callable[..., QuerySet[Any, Any]]) -> None:
        update_wrapper(self, make)
        self._make = make
        self._sql = lru_cache(maxsize=SHAPES)(self._put_together)

    def __call__(self, **values: Any) -> Iterator[tuple[Any, ...]]:
        values = {name: list(each) if isinstance(each, MANY) else each for name, each in values.items()}
        sql = self._sql(tuple((name, _shape(each)) for name, each in values.items()))
        if sql.text is None:
            return iter(())
        connection = connections[DEFAULT_DB_ALIAS]
        with connection.cursor() as cursor:
            adapted = connection.ops.adapt_unknown_value
            cursor.execute(sql.text, [_told(each, values, adapted) for each in sql.params])
            found = cursor.fetchall()
        rows: Iterator[Any] = (row[: sql.columns] for row in found)
        if sql.converters:
            rows = sql.query.get_compiler(connection=connection).apply_converters(rows, sql.converters)
        return map(tuple, rows)

    def _put_together(self, shape: Shape) -> Sql:
        """The SQL for one shape of values."""
        rows = self._make(**{name: _place(name, each) for name, each in shape})
        sql, elsewhere = (_compiled(rows, zone) for zone in ZONES)
        if (sql.text, sql.params) != (elsewhere.text, elsewhere.params):
            raise ValueError(
                f"{self._make.__qualname__} asks for days or hours of the time zone in force, and that of its first "
                "caller would stay in its SQL: give tzinfo to its functions of time, and instants to its look-ups"
            )
        return sql


def _compiled(rows: QuerySet[Any, Any], zone: tzinfo) -> Sql:
    """A query as it is asked while this time zone is in force."""
    compiler = rows.query.get_compiler(using=DEFAULT_DB_ALIAS)
    try:
        with timezone.override(zone):
            text, params = compiler.as_sql()
    except EmptyResultSet:
        return Sql(rows.query)
    columns = [each for each, *_ in compiler.select[: compiler.col_count]]
    return Sql(rows.query, text, tuple(params), len(columns), compiler.get_converters(columns))


def prepared(make: Callable[..., QuerySet[Any, Any]]) -> Prepared:
    """Make a function that builds a query of values_list ask it, with its SQL made once. For the one database.

    It may look at its values only for whether they are None, and asks a foreign key by the key it points to
    (`circuit__pk__in`, not `circuit__in`): the ORM would want to see the values of the other. The time zone in force
    must not matter to it, for it may be another one the next time: ValueError when it does.
    """
    return Prepared(make)


@dataclass(frozen=True)
class _Many:
    length: int


class _One:
    """The shape of a single value."""


def _shape(value: Any) -> Any:
    """What the SQL depends on: how many there are of a list; of a number or a day nothing; anything else whole."""
    if isinstance(value, list):
        return _Many(len(value))
    return _One if isinstance(value, (int, float, date)) and not isinstance(value, bool) else value


def _place(name: str, shape: Any) -> Any:
    if isinstance(shape, _Many):
        return [Given(name, number) for number in range(shape.length)]
    return Given(name) if shape is _One else shape


def _told(param: Any, values: dict[str, Any], adapted: Callable[[Any], Any]) -> Any:
    """A parameter as the database driver takes it; adapted: by the database's own way with days and times."""
    if not isinstance(param, Given):
        return param
    value = values[param.name]
    return adapted(value[param.number] if isinstance(value, list) else value)
