"""What is due about one thing, for its page: of some subjects, of a water, or at an address on a label."""

import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date
from functools import reduce
from operator import or_
from typing import Any

from django.db.models import Q
from django.utils import timezone

from refuge.people.models import User
from refuge.rounds.selectors import completions_of_day, done_rows, open_tasks, task_rows
from refuge.rounds.walk import DoneRow, TaskRow

LATER_SHOWN = 20
NOT_IN_AN_ID = re.compile(r"[^a-z0-9]+")

Subjects = Sequence[tuple[str, int]]


@dataclass
class DueList:
    """What is due about some subjects, for the page of one of them. `token` lets the list renew itself."""

    token: str
    today: date
    now: list[TaskRow] = field(default_factory=list)
    later: list[TaskRow] = field(default_factory=list)
    done: list[DoneRow] = field(default_factory=list)
    left_out: int = 0  # tasks further ahead that are not shown

    @property
    def anchor(self) -> str:
        """The id of the list on its page."""
        return list_anchor(self.token)

    @property
    def is_empty(self) -> bool:
        return not (self.now or self.later or self.done)


def list_anchor(token: str) -> str:
    """The id on its page of the list that a token names."""
    return "due-" + NOT_IN_AN_ID.sub("-", token).strip("-")


def tasks_for_subjects(user: User, subjects: Subjects, *, today: date | None = None) -> DueList:
    """Open tasks of some subjects, as ("enclosure", 3) or ("animal", 8), and what was done today: 2 queries."""
    token = "subjects:" + ",".join(f"{kind}-{pk}" for kind, pk in subjects)
    return _due_list(user, token, _of_subjects(subjects), today)


def tasks_for_scope(user: User, circuit_id: int, *, today: date | None = None) -> DueList:
    """Open tasks of everything in one circuit, and what was done there today: 2 queries."""
    return _due_list(user, f"scope:{circuit_id}", Q(scope=circuit_id), today)


def tasks_at_path(user: User, path: str, *, today: date | None = None) -> DueList:
    """Open tasks at a stop or about a subject, by the address on its label, and what was done today: 2 queries."""
    return _due_list(user, f"path:{path}", Q(stop_path=path) | Q(subject_path=path), today)


def due_list_of(user: User, token: str, *, today: date | None = None) -> DueList:
    """The same list again, from its token. ValueError for a token that no list has."""
    kind, _, rest = token.partition(":")
    if kind == "scope":
        return tasks_for_scope(user, int(rest), today=today)
    if kind == "path":
        return tasks_at_path(user, rest, today=today)
    if kind == "subjects":
        pairs = (part.rpartition("-") for part in rest.split(",") if part)
        return tasks_for_subjects(user, [(name, int(pk)) for name, _, pk in pairs], today=today)
    raise ValueError(f"no list is called {token!r}")


def _of_subjects(subjects: Subjects) -> Q:
    by_kind: dict[str, list[int]] = {}
    for kind, pk in subjects:
        by_kind.setdefault(kind, []).append(pk)
    parts = [Q(subject_kind=kind, subject_id__in=pks) for kind, pks in by_kind.items()]
    return reduce(or_, parts, Q(pk__in=[]))


def _due_list(user: User, token: str, which: Q, today: date | None) -> DueList:
    today = today or timezone.localdate()
    rows = sorted(task_rows(open_tasks(user).filter(which), today), key=lambda row: row.urgency)
    later = [row for row in rows if row.due_on > today]
    return DueList(
        token=token,
        today=today,
        now=[row for row in rows if row.due_on <= today],
        later=later[:LATER_SHOWN],
        done=done_rows(completions_of_day(user, today).filter(_on_task(which))),
        left_out=max(len(later) - LATER_SHOWN, 0),
    )


def _on_task(which: Q) -> Q:
    """The same condition, asked of a completion's task."""
    parts: Iterable[Any] = (
        _on_task(part) if isinstance(part, Q) else (f"task__{part[0]}", part[1]) for part in which.children
    )
    return Q(*parts, _connector=which.connector, _negated=which.negated)
