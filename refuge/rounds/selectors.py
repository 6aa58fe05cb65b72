"""Reads of the round: what is due and where, what was done today. A fixed number of queries each.

Open tasks are read through their partial index, completions of today by when they were entered: years of
history behind them cost nothing. Days are those of the time zone in force, which a request sets to the
refuge's own.
"""

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime, time, timedelta
from functools import reduce
from operator import or_
from typing import Any
from urllib.parse import urlencode

from django.db.models import BooleanField, Count, ExpressionWrapper, Q, QuerySet
from django.urls import reverse
from django.utils import timezone

from refuge.people.models import Role, User
from refuge.rounds.models import Completion, Message, Task
from refuge.rounds.walk import STOP_COLUMNS, WALK, DoneRow, StopView, TaskRow, group
from refuge.rules.facts import Stop
from refuge.templatetags.look import due_words
from refuge.units import spoken

TASK_COLUMNS = (
    "pk",
    "rule",
    "title",
    "subject_label",
    "subject_path",
    "due_on",
    "is_unknown",
    "reasons",
    "scope",
    "assigned_to_id",
    "assigned_to__name",
)
DONE_COLUMNS = (
    "uuid",
    "task__title",
    "task__subject_label",
    "task__subject_path",
    "outcome",
    "summary",
    "reason",
    "by_id",
    "by__name",
    "entered_at",
    "record_kind",
    "record_id",
)
DONE_AT = tuple(f"task__{column}" for column in STOP_COLUMNS)
LATER_SHOWN = 20
LATEST_SHOWN = 12
STOPS_A_PART = 30
NOT_IN_AN_ID = re.compile(r"[^a-z0-9]+")

Subjects = Sequence[tuple[str, int]]


def roles_of(user: User) -> list[str]:
    """Roles whose work this person may do."""
    return [role for role in Role.values if user.may_act_as(role)]


def open_tasks(user: User) -> QuerySet[Task]:
    """Open tasks that this person may do."""
    return Task.objects.filter(status=Task.Status.OPEN, role__in=roles_of(user))


def day_start(day: date) -> datetime:
    """The first instant of a day in the time zone in force."""
    return timezone.make_aware(datetime.combine(day, time.min))


def task_rows(tasks: QuerySet[Task], today: date) -> list[TaskRow]:
    """Tasks as a list shows them: 1 query."""
    width = len(TASK_COLUMNS)
    return [
        TaskRow(*row[:width], stop=Stop(*row[width:]), today=today)
        for row in tasks.values_list(*TASK_COLUMNS, *STOP_COLUMNS)
    ]


def row_of(task: Task, today: date) -> TaskRow:
    """One task (with its person loaded) as a list shows it."""
    return TaskRow(
        id=task.pk,
        rule=task.rule,
        title=task.title,
        subject_label=task.subject_label,
        subject_path=task.subject_path,
        due_on=task.due_on,
        is_unknown=task.is_unknown,
        reasons=task.reasons,
        scope=task.scope,
        taken_by_id=task.assigned_to_id,
        taken_by=task.assigned_to.name if task.assigned_to else None,
        stop=Stop(*(getattr(task, column) for column in STOP_COLUMNS)),
        today=today,
    )


def reason_words(reasons: list[dict[str, Any]], today: date, system: str) -> list[str]:
    """Why a task is due, in the reader's units, the deciding reason first; one for a later day says which."""
    first = reasons[0]["on"] if reasons else ""
    return [
        spoken(each["text"], system) + ("" if each["on"] == first else f" ({_asked_for(each['on'], today)})")
        for each in reasons
    ]


def _asked_for(on: str, today: date) -> str:
    day = date.fromisoformat(on)
    return f"asks for it {due_words((today - day).days, day)[1]}"


def completions_of_day(user: User, day: date) -> QuerySet[Completion]:
    """What was entered since a day began, of the work this person may see, the newest first."""
    return Completion.objects.filter(
        entered_at__gte=day_start(day), undone_at__isnull=True, task__role__in=roles_of(user)
    ).order_by("-entered_at", "-pk")


def done_rows(completions: QuerySet[Completion]) -> list[DoneRow]:
    """Completions as a list shows them: 1 query."""
    width = len(DONE_COLUMNS)
    return [
        DoneRow(*row[:width], stop=Stop(*row[width:]))
        for row in completions.values_list(*DONE_COLUMNS, *DONE_AT)
    ]


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


@dataclass(frozen=True)
class Filters:
    """Which part of the round is shown: one area, one's own tasks, and how many days ahead of today."""

    area: str = ""
    mine: bool = False
    ahead: int = 0

    def address(self, **change: Any) -> str:
        """The address of the round with these filters; `change` replaces some, or adds to the address."""
        wanted = {**vars(self), **change}
        query = {name: int(value) if value is True else value for name, value in wanted.items() if value}
        return reverse("today") + (f"?{urlencode(query)}" if query else "")


@dataclass
class AreaCount:
    """One area of the walk, and how many tasks are open there."""

    code: str
    name: str
    rank: int
    tasks: int


@dataclass
class RoundPart:
    """Some stops of the walk, and where the next part goes on (empty at its end)."""

    stops: list[StopView]
    goes_on_after: str = ""


@dataclass
class Progress:
    """How far the round is, who did what of it today, and the latest entries."""

    done: int
    due: int
    set_aside: int
    people: list[tuple[str, int]]
    latest: list[DoneRow]

    @property
    def whole(self) -> int:
        return self.done + self.due

    @property
    def left_out(self) -> int:
        """Entries of today beyond the latest that are listed."""
        return self.done - len(self.latest)


def due_tasks(user: User, filters: Filters, today: date) -> QuerySet[Task]:
    """Open tasks due up to today; with `ahead`, those that fall due in the days after it."""
    tasks = open_tasks(user)
    if filters.mine:
        tasks = tasks.filter(assigned_to=user)
    if filters.ahead:
        return tasks.filter(due_on__gt=today, due_on__lte=today + timedelta(days=filters.ahead))
    return tasks.filter(due_on__lte=today)


def area_counts(user: User, filters: Filters, today: date) -> list[AreaCount]:
    """Areas with something due, in walking order: 1 query."""
    rows = (
        due_tasks(user, filters, today)
        .values_list("area_rank", "area_position", "area_code", "area_name")
        .annotate(tasks=Count("pk"))
        .order_by("area_rank", "area_position", "area_code")
    )
    return [AreaCount(code, name, rank, tasks) for rank, _, code, name, tasks in rows]


def round_part(user: User, filters: Filters, today: date, *, after: str = "") -> RoundPart:
    """The next stops of the walk, each with its open tasks and what was done there today: 3 queries."""
    tasks = due_tasks(user, filters, today)
    if filters.area:
        tasks = tasks.filter(area_code=filters.area)
    keys = tasks.filter(_beyond(_read_place(after))).values_list(*WALK).distinct().order_by(*WALK)
    found = list(keys[: STOPS_A_PART + 1])
    shown = found[:STOPS_A_PART]
    # What was done today is no part of the days ahead.
    done = Completion.objects.none() if filters.ahead else None
    stops = _stops(user, tasks.filter(stop_path__in=[key[-1] for key in shown]), today, done)
    return RoundPart(stops, json.dumps(shown[-1]) if len(found) > STOPS_A_PART else "")


def stop_at(user: User, filters: Filters, today: date, stop_path: str) -> StopView | None:
    """One stop as the walk shows it; None when nothing is due and nothing was done there: 2 queries."""
    tasks = due_tasks(user, filters, today).filter(stop_path=stop_path)
    done = completions_of_day(user, today).filter(task__stop_path=stop_path)
    found = _stops(user, tasks, today, done)
    return found[0] if found else None


def _stops(
    user: User, tasks: QuerySet[Task], today: date, done: QuerySet[Completion] | None = None
) -> list[StopView]:
    rows = task_rows(tasks, today)
    if done is None:
        paths = {row.stop.path for row in rows}
        done = completions_of_day(user, today).filter(task__stop_path__in=paths)
    return group(rows, done_rows(done))


def _read_place(after: str) -> list[Any]:
    """Where the last part ended, from the address; an unreadable one starts at the beginning."""
    try:
        place = json.loads(after or "[]")
    except ValueError:
        return []
    fits = isinstance(place, list) and [type(each) for each in place] == [int, int, str, int, str, str]
    return place if fits else []


def _beyond(place: list[Any]) -> Q:
    """Stops that come after a place of the walk: columns compared one after the other, as they are sorted."""
    ladder = Q()
    equal: dict[str, Any] = {}
    for column, value in zip(WALK, place, strict=False):
        ladder |= Q(**equal, **{f"{column}__gt": value})
        equal[column] = value
    return ladder


def progress(user: User, filters: Filters, today: date, *, due: int | None = None) -> Progress:
    """What was entered today in the part of the round that is shown, beside what is still due: 3 queries.

    due: how much is due, where the caller has counted it already (2 queries then).
    """
    done = completions_of_day(user, today)
    if filters.area:
        done = done.filter(task__area_code=filters.area)
    if filters.mine:
        done = done.filter(by=user)
    people: dict[str, int] = {}
    set_aside = 0
    for name, outcome, number in (
        done.order_by().values_list("by__name", "outcome").annotate(number=Count("pk"))
    ):
        people[name] = people.get(name, 0) + number
        set_aside += number if outcome != Completion.Outcome.DONE else 0
    return Progress(
        done=sum(people.values()),
        due=count_due(user, filters, today) if due is None else due,
        set_aside=set_aside,
        people=sorted(people.items(), key=lambda item: (-item[1], item[0])),
        latest=done_rows(done[:LATEST_SHOWN]),
    )


def count_due(user: User, filters: Filters, today: date) -> int:
    """How many tasks are due in the part of the round that is shown: 1 query."""
    tasks = due_tasks(user, filters, today)
    return (tasks.filter(area_code=filters.area) if filters.area else tasks).count()


def notices_of(person: User) -> QuerySet[Message]:
    """One person's messages in the app that their role may still read, unread ones first, then the newest."""
    is_read = ExpressionWrapper(Q(read_at__isnull=False), BooleanField())
    return _readable(person).annotate(is_read=is_read).order_by("is_read", "-created_at", "-pk")


def unread_count(person: User) -> int:
    """How many of them nobody has read: 1 query."""
    return _readable(person).filter(read_at__isnull=True).count()


def _readable(person: User) -> QuerySet[Message]:
    roles = roles_of(person)
    return Message.objects.filter(person_id=person.pk, channel=Message.Channel.APP, for_role__in=roles)
