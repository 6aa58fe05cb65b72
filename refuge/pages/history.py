"""What happened to a subject, newest first: each app registers what it knows, and a page merges it."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, replace
from datetime import datetime
from heapq import merge
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from refuge.records import Record
from refuge.rules.triggers import day_text

PAGE_SIZE = 25


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened. `record` is (model label, key) of the record behind it, if it can be amended.

    is_day: only the day is known, and `when` is its first instant.
    """

    when: datetime
    what: str
    icon: str = ""
    who: str = ""
    note: str = ""
    amended: str = ""
    struck_out: str = ""
    url: str = ""
    record: tuple[str, int] | None = None
    is_day: bool = False


@dataclass(frozen=True, slots=True)
class Asked:
    """Whose history is wanted, how much of it, and in which words.

    limit: newest so many entries, None for all. system: unit system of the reader.
    everything: records that were struck out as well, for whoever inspects.
    """

    kind: str
    subject_id: int
    zone: ZoneInfo
    limit: int | None = PAGE_SIZE
    system: str = "metric"
    everything: bool = False


Source = Callable[[Asked], Iterable[Entry]]
_sources: dict[str, list[Source]] = {}


def history_source(*kinds: str) -> Callable[[Source], Source]:
    """Register a function that gives a subject's entries, newest first, no more than asked for."""

    def add(source: Source) -> Source:
        for kind in kinds:
            _sources.setdefault(kind, []).append(source)
        return source

    return add


def history(asked: Asked) -> list[Entry]:
    """The newest entries of all sources, merged. A fixed number of queries for a kind of subject."""
    merged = merge(
        *(source(asked) for source in _sources.get(asked.kind, [])), key=lambda e: e.when, reverse=True
    )
    return list(merged)[: asked.limit]


@dataclass(frozen=True, slots=True)
class HistoryPage:
    """One page of a history, and the number of the next one if there is more."""

    entries: list[Entry]
    number: int
    next_number: int | None


def history_page(asked: Asked, number: int, size: int = PAGE_SIZE) -> HistoryPage:
    """A page of a history. Page n reads n pages of rows from each source: people rarely go back far."""
    number = max(number, 1)
    found = history(replace(asked, limit=number * size + 1))
    more = len(found) > number * size
    return HistoryPage(found[(number - 1) * size : number * size], number, number + 1 if more else None)


def standing(model: type[Record], asked: Asked) -> QuerySet[Any]:
    """The records to show: those that stand, or all of them when everything was asked for."""
    return (model.everything if asked.everything else model.objects).order_by("-at", "-pk")


def record_entries(
    rows: QuerySet[Any],
    asked: Asked,
    words: Callable[[Any], str],
    *,
    icon: str | Callable[[Any], str],
    note: Callable[[Any], str] = lambda record: record.note,
) -> list[Entry]:
    """Records as entries, with a mark on those that were amended: 2 queries (1 when there are none)."""
    records = list(rows.select_related("by")[: asked.limit])
    changes = _last_changes(rows.model, [record.pk for record in records]) if records else {}
    label = rows.model._meta.label_lower
    return [
        Entry(
            when=record.at,
            what=words(record),
            icon=icon(record) if callable(icon) else icon,
            who=str(record.by) if record.by else "",
            note=note(record),
            amended="" if record.voided_at else _change_words("Amended", changes.get(record.pk), asked.zone),
            struck_out=_change_words("Struck out", changes.get(record.pk), asked.zone)
            if record.voided_at
            else "",
            record=None if record.voided_at else (label, record.pk),
        )
        for record in records
    ]


def _last_changes(model: Any, pks: list[int]) -> dict[int, Any]:
    """The newest change of each record that was changed since it was entered."""
    rows = model.history.filter(id__in=pks, history_type="~").select_related("history_user")
    return {row.id: row for row in rows.order_by("history_date", "history_id")}


def _change_words(what: str, change: Any, zone: ZoneInfo) -> str:
    if change is None:
        return ""
    who = f" by {change.history_user}" if change.history_user else ""
    why = f": {change.history_change_reason}" if change.history_change_reason else ""
    return f"{what}{who} on {day_text(change.history_date.astimezone(zone).date())}{why}"
