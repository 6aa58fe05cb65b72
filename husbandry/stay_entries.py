"""Quarantines and brumations in the history of an animal: who began, set back or ended them, and when.

The rows say what holds, their kept versions who made it so. Rows that came from a file have no versions: they
are told by their dates, without a name.
"""

from collections.abc import Iterator
from datetime import date, datetime, time
from itertools import pairwise
from typing import Any

from husbandry.models import Animal, Quarantine, QuarantineRestart
from refuge.pages.history import Asked, Entry, history_source
from refuge.rules.triggers import day_text


@history_source("animal")
def quarantines(asked: Asked) -> list[Entry]:
    """Begin, restarts, extensions and end of every quarantine: 3 queries."""
    rows = Quarantine.objects.filter(animal=asked.subject_id).select_related("released_by")
    versions = Quarantine.history.filter(animal=asked.subject_id).select_related("history_user")
    kept = list(versions.order_by("history_id"))
    entries = [
        entry
        for row in rows.prefetch_related("restarts__because_of")
        for entry in _told(row, [each for each in kept if each.id == row.pk], asked)
    ]
    return sorted(entries, key=lambda entry: entry.when, reverse=True)[: asked.limit]


def _told(row: Quarantine, versions: list[Any], asked: Asked) -> Iterator[Entry]:
    first = next((each for each in versions if each.history_type == "+"), None)
    yield _entry("Quarantine began", row.started_on, first, asked)
    for restart in row.restarts.all():
        yield _restarted(row, restart, versions, asked)
    yield from _extended(versions, asked)
    if row.released_on is not None:
        last = next((each for each in versions if each.released_on is not None), None)
        who = str(row.released_by or "")
        yield _entry("Quarantine ended", row.released_on, last, asked, note=row.outcome, who=who)


def _restarted(row: Quarantine, restart: QuarantineRestart, versions: list[Any], asked: Asked) -> Entry:
    version = next((each for each in versions if each.clock_from == restart.on), None)
    joined = "it" if restart.because_of_id == row.animal_id else str(restart.because_of)
    where = "a water with others in quarantine" if joined == "it" else "its water"
    note = f"Because {joined} joined {where}; the planned end was {day_text(restart.previous_ends_on)}"
    return _entry("Quarantine started anew", restart.on, version, asked, note=note)


def _extended(versions: list[Any], asked: Asked) -> Iterator[Entry]:
    for before, after in pairwise(versions):
        if after.ends_on > before.ends_on and after.clock_from == before.clock_from:
            words = f"Quarantine goes on until {day_text(after.ends_on)}"
            day = after.history_date.astimezone(asked.zone).date()
            yield _entry(words, day, after, asked, note=after.history_change_reason or "")


@history_source("animal")
def brumations(asked: Asked) -> list[Entry]:
    """When it began to brumate and when it was awake again: 2 queries."""
    versions = Animal.history.filter(id=asked.subject_id).select_related("history_user")
    kept = list(versions.order_by("history_id"))
    entries = [entry for pair in pairwise([None, *kept]) for entry in _brumation(*pair, asked)]
    now = Animal.objects.filter(pk=asked.subject_id).values_list("brumating_since", flat=True).first()
    if now is not None and not (kept and kept[-1].brumating_since == now):
        entries.append(_entry("Brumation began", now, None, asked))
    return sorted(entries, key=lambda entry: entry.when, reverse=True)[: asked.limit]


def _brumation(before: Any, after: Any, asked: Asked) -> Iterator[Entry]:
    was = before.brumating_since if before is not None else None
    since = after.brumating_since
    if since == was:
        return
    if since is not None:
        words = (
            "Brumation began" if was is None else f"Brumation began on {day_text(since)}, it was corrected"
        )
        yield _entry(words, since, after, asked)
    else:
        yield _entry("Brumation ended", after.history_date.astimezone(asked.zone).date(), after, asked)


def _entry(what: str, day: date, version: Any, asked: Asked, *, note: str = "", who: str = "") -> Entry:
    """An entry of a day; with its time if it was entered on that very day."""
    when, is_day = datetime.combine(day, time.min, tzinfo=asked.zone), True
    if version is not None:
        who = who or str(version.history_user or "")
        entered = version.history_date.astimezone(asked.zone)
        if entered.date() == day:
            when, is_day = entered, False
        else:
            note = f"{note}. Entered on {day_text(entered.date())}".removeprefix(". ")
    icon = "quarantine" if what.startswith("Quarantine") else "heat"
    return Entry(when, what, icon, who, note, is_day=is_day)
