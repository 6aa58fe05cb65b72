"""Reads of the round: the tasks, entries and notices that a person may see, in a fixed number of queries each.

`due_lists` makes of them what the page of one thing shows, `round_parts` what the walk shows.

Open tasks are read through their partial index, completions of today by when they were entered: years of
history behind them cost nothing. Days are those of the time zone in force, which a request sets to the
refuge's own.
"""

from datetime import date, datetime, time
from typing import Any

from django.db.models import BooleanField, ExpressionWrapper, Q, QuerySet
from django.utils import timezone

from refuge.people.models import Role, User
from refuge.rounds.models import Completion, Message, Task
from refuge.rounds.walk import STOP_COLUMNS, DoneRow, TaskRow
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
    "prefill",
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
        prefill=task.prefill,
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
