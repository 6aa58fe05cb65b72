"""Writes about tasks: finish one, take that back, set a limit."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import transaction
from django.utils import timezone

from refuge import records
from refuge.errors import ClearmereError
from refuge.events import announce
from refuge.people.models import User
from refuge.people.selectors import site_today
from refuge.rounds.models import Completion, Limit, Task
from refuge.rounds.planner import plan_site
from refuge.rounds.recording import recorder
from refuge.rules.limits import LimitSpec, limits
from refuge.rules.registry import rules

UNDO_SECONDS = 10
# A phone shows the undo for ten seconds; the answer may take a while over a poor signal.
UNDO_GRACE_SECONDS = 50


class TaskError(ClearmereError):
    """Something about a task that cannot be done. The message is for the person who tried."""


class AlreadyClosed(TaskError):
    """Somebody else finished it first; `completion` says who and when, if anybody did."""

    def __init__(self, message: str, completion: Completion | None) -> None:
        super().__init__(message)
        self.completion = completion


class NotAllowed(TaskError):
    """This person's role may not do that."""


@dataclass(frozen=True)
class Finished:
    """A completion, and whether this call made it (a repeat did not)."""

    completion: Completion
    is_new: bool


@transaction.atomic
def task_complete(*, task_id: int, by: User, cleaned: dict[str, Any]) -> Finished:
    """Finish a task by making its record. `cleaned` comes from the recorder's form (uuid, at, note, …).

    The same uuid twice is one completion and one record. Raises AlreadyClosed when somebody else was first,
    NotAllowed when the role does not suffice.
    """
    repeat = _repeat(cleaned["uuid"])
    if repeat:
        return repeat
    task = _open_task(task_id, by)
    saved = recorder(rules[task.rule].recorder).save(task.subject_id, by=by, cleaned=cleaned)
    completion = Completion.objects.create(
        uuid=cleaned["uuid"],
        task=task,
        outcome=Completion.Outcome.DONE,
        by=by,
        at=cleaned["at"],
        record_kind=saved.record._meta.label_lower,
        record_id=saved.record.pk,
        summary=saved.summary[:300],
    )
    _close(task, Task.Status.DONE)
    return Finished(completion, True)


@transaction.atomic
def task_set_aside(*, task_id: int, by: User, outcome: str, reason: str, uuid: UUID) -> Finished:
    """Close a task that could not be done, or was not needed, with the reason.

    It is asked again: the next day after "could not", after the rule's rest after "not needed".
    """
    repeat = _repeat(uuid)
    if repeat:
        return repeat
    if not reason.strip():
        raise TaskError("Say why, in a few words: whoever comes next needs to know.")
    task = _open_task(task_id, by)
    rest = rules[task.rule].rest_days if outcome == Completion.Outcome.NOT_NEEDED else 1
    completion = Completion.objects.create(
        uuid=uuid,
        task=task,
        outcome=outcome,
        by=by,
        reason=reason.strip(),
        rest_until=site_today() + timedelta(days=rest),
    )
    _close(task, outcome)
    return Finished(completion, True)


@transaction.atomic
def completion_undo(*, uuid: UUID, by: User) -> Completion:
    """Take one's own completion back within the time the undo is offered; later it is amended instead.

    A repeat changes nothing. Raises TaskError when it is too late or somebody else's.
    """
    completion = Completion.objects.select_for_update().select_related("task").get(uuid=uuid)
    if completion.undone_at is not None:
        return completion
    if completion.by_id != by.pk:
        raise NotAllowed("Only the person who entered it can take it back. It can still be amended.")
    if timezone.now() > completion.entered_at + timedelta(seconds=UNDO_SECONDS + UNDO_GRACE_SECONDS):
        raise TaskError("It is too late to take this back. Open the record and amend it instead.")
    if completion.record_id is not None:
        model: Any = apps.get_model(completion.record_kind)
        records.void(record=model.everything.get(pk=completion.record_id), by=by, reason="Taken back at once")
    completion.undone_at = timezone.now()
    completion.save(update_fields=["undone_at"])
    _reopen(completion.task)
    return completion


@transaction.atomic
def task_assign(*, task_id: int, to: User | None) -> Task:
    """Say who will do a task; None for nobody in particular."""
    task = Task.objects.select_for_update().get(pk=task_id)
    task.assigned_to = to
    task.save(update_fields=["assigned_to"])
    return task


@transaction.atomic
def limit_set(
    *, key: str, scope_kind: str, scope_id: int, value: float | None, reason: str, from_on: date, by: User
) -> Limit:
    """Set a limit, or with value None go back to the wider value; the whole plan follows.

    Raises OutOfRange for a value outside the limit's own bounds, TaskError for an unknown limit, a scope the
    limit does not have or an empty reason.
    """
    if not by.is_manager:
        raise NotAllowed("Only a manager sets limits.")
    if key not in limits:
        raise TaskError(f"There is no limit called “{key}”.")
    spec: LimitSpec = limits[key]
    if scope_kind not in spec.scopes:
        raise TaskError(f"“{spec.title}” cannot be set for one {scope_kind}.")
    if not reason.strip():
        raise TaskError("Say why: the reason stays beside the value.")
    if value is not None:
        spec.check(value)
    limit = Limit.objects.create(
        key=key,
        scope_kind=scope_kind,
        scope_id=scope_id,
        value=value,
        reason=reason.strip(),
        from_on=from_on,
        by=by,
    )
    transaction.on_commit(plan_site)
    return limit


def _repeat(uuid: UUID) -> Finished | None:
    earlier = Completion.objects.filter(uuid=uuid).select_related("task", "by").first()
    return Finished(earlier, False) if earlier else None


def _open_task(task_id: int, by: User) -> Task:
    try:
        task = Task.objects.select_for_update().get(pk=task_id)
    except Task.DoesNotExist:
        raise TaskError("This task is not on the list any more.") from None
    if task.status != Task.Status.OPEN:
        done = task.completions.filter(undone_at__isnull=True).select_related("by").first()
        who = f"{done.by} was first" if done else "it is no longer wanted"
        raise AlreadyClosed(f"Nothing was recorded: {who}.", done)
    if not by.may_act_as(task.role):
        raise NotAllowed(f"This is work for {task.get_role_display().lower()}.")
    return task


def _close(task: Task, status: str) -> None:
    task.status = status
    task.closed_at = timezone.now()
    task.save(update_fields=["status", "closed_at"])
    announce([task.scope])


def _reopen(task: Task) -> None:
    # The plan may have opened the next one meanwhile; one open task per rule and subject is the law.
    Task.objects.filter(
        rule=task.rule,
        subject_kind=task.subject_kind,
        subject_id=task.subject_id,
        status=Task.Status.OPEN,
    ).exclude(pk=task.pk).delete()
    task.status = Task.Status.OPEN
    task.closed_at = None
    task.save(update_fields=["status", "closed_at"])
    announce([task.scope])
