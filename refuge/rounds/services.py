"""Writes about tasks: finish one, take that back, say who does it; enter and correct a record; set a limit."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from uuid import UUID

from django.apps import apps
from django.db import transaction
from django.utils import timezone

from refuge.errors import ClearmereError
from refuge.events import announce
from refuge.people.models import Role, User
from refuge.people.selectors import site_today
from refuge.rounds.models import Completion, Limit, Message, Task
from refuge.rounds.planner import plan_site
from refuge.rounds.recording import Recorder, Saved, recorder, recorder_of
from refuge.rules.limits import LimitSpec, limits
from refuge.rules.registry import rules

UNDO_SECONDS = 10
# A phone shows the undo for ten seconds; the answer may take a while over a poor signal.
UNDO_GRACE_SECONDS = 50
NOT_YOURS = "Only whoever entered it, or staff, can correct this record."


class TaskError(ClearmereError):
    """Something about a task that cannot be done. The message is for the person who tried."""


class AlreadyClosed(TaskError):
    """Somebody else finished it first; `completion` says who and when, if anybody did."""

    def __init__(self, message: str, completion: Completion | None) -> None:
        super().__init__(message)
        self.completion = completion


class AlreadyEntered(TaskError):
    """The same uuid made another record before."""


class NotAllowed(TaskError):
    """This person's role may not do that."""


class TooLate(TaskError):
    """It can no longer be taken back, but it can be amended."""


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
    task = _locked_task(task_id)
    repeat = _repeat(cleaned["uuid"], task_id)
    if repeat:
        return repeat
    _check_open(task, by)
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
    task = _locked_task(task_id)
    repeat = _repeat(uuid, task_id)
    if repeat:
        return repeat
    if not reason.strip():
        raise TaskError("Say why, in a few words: whoever comes next needs to know.")
    _check_open(task, by)
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
        raise TooLate("It is too late to take this back. Amend the record instead.")
    _take_back_record(completion, by)
    completion.undone_at = timezone.now()
    completion.save(update_fields=["undone_at"])
    reopen(completion.task)
    return completion


def _take_back_record(completion: Completion, by: User) -> None:
    if completion.record_id is None:
        return
    kind = recorder(rules[completion.task.rule].recorder)
    if not kind.can_take_back:
        raise TaskError(
            f"“{kind.title}” cannot be taken back: it set other things going. Enter what is right."
        )
    model: Any = apps.get_model(completion.record_kind)
    kind.take_back(model.everything.get(pk=completion.record_id), by=by)


@transaction.atomic
def record_new(*, kind: Recorder, subject_id: int, by: User, cleaned: dict[str, Any]) -> Saved:
    """Make a record that no task asked for. The same uuid twice is one record.

    Raises NotAllowed when the role does not suffice, AlreadyEntered when the uuid was sent with something else
    before, and whatever the app's own service refuses.
    """
    if not by.may_act_as(kind.role):
        raise NotAllowed(f"“{kind.title}” is entered by {Role(kind.role).label.lower()}.")
    # One person's entries are made one after the other, so that the same one sent twice at once finds the first.
    User.objects.select_for_update(no_key=True).get(pk=by.pk)
    model: Any = apps.get_model(kind.record_model)
    earlier = model.everything.filter(uuid=cleaned["uuid"]).first()
    if earlier is None:
        return kind.save(subject_id, by=by, cleaned=cleaned)
    if not kind.made(earlier, subject_id, cleaned):
        raise AlreadyEntered(_entered_before(earlier))
    return Saved(earlier, kind.words(earlier), is_new=False)


def _entered_before(record: Any) -> str:
    own = recorder_of(record)
    what = f" (“{own.words(record)}”, {own.about(getattr(record, own.subject_field)).label})" if own else ""
    return (
        f"This form was sent before, with something else{what}. Nothing was recorded now. To enter another, "
        "open the form anew; to correct what was entered, amend it."
    )


def may_amend(*, record: Any, by: User) -> bool:
    """Whether a person may correct a record: their own, or as staff anybody's that their role may enter."""
    kind = recorder_of(record)
    if kind is None or not kind.can_amend or record.voided_at is not None:
        return False
    return by.may_act_as(kind.role) and (record.by_id == by.pk or by.may_act_as(Role.STAFF))


@transaction.atomic
def record_amend(*, record: Any, by: User, reason: str, cleaned: dict[str, Any]) -> Any:
    """Correct a record and what the round says was done. The same values again change nothing.

    The earlier version, who, when and why are kept. Raises NotAllowed when this person may not correct it.
    """
    kind = recorder_of(record)
    if kind is None or not may_amend(record=record, by=by):
        raise NotAllowed(NOT_YOURS)
    amended = kind.amend(record, by=by, reason=reason, cleaned=cleaned)
    if amended is not record:
        # A completion and its record carry the same uuid, so the record's index finds it.
        summary = f"{kind.words(amended)[:280]} (amended)"
        Completion.objects.filter(uuid=amended.uuid).update(summary=summary, at=amended.at)
    return amended


@transaction.atomic
def task_assign(*, task_id: int, to: User | None, by: User) -> Task:
    """Say who will do a task; None for nobody in particular. Repeated, it changes nothing.

    Staff take a free task, or hand back their own; managers assign to anybody whose role may do it.
    Raises NotAllowed otherwise, TaskError when somebody took it first, AlreadyClosed when it is done.
    """
    task = _locked_task(task_id)
    _check_open(task, by)
    if task.assigned_to_id == (to.pk if to else None):
        return task
    if not by.is_manager:
        _check_own_assignment(task, to, by)
    if to is not None and not (to.is_active and to.may_act_as(task.role)):
        raise NotAllowed(f"{to} may not do this: it is work for {task.get_role_display().lower()}.")
    task.assigned_to = to
    task.save(update_fields=["assigned_to"])
    return task


def _check_own_assignment(task: Task, to: User | None, by: User) -> None:
    if not by.may_act_as(Role.STAFF):
        raise NotAllowed("Staff say who takes a task. Just do it: it is recorded under your name.")
    if task.assigned_to_id not in (None, by.pk):
        raise TaskError(f"{task.assigned_to} has taken this already. Ask them, or a manager.")
    if to is not None and to.pk != by.pk:
        raise NotAllowed("Only a manager gives a task to somebody else.")


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
    transaction.on_commit(
        plan_site, robust=True
    )  # the limit stands whether or not the plan can follow at once
    return limit


def notices_mark_read(*, person: User, pks: list[int] | None = None) -> None:
    """Mark a person's messages as read: some of them, or all. Repeated, it changes nothing."""
    unread = Message.objects.filter(person=person, channel=Message.Channel.APP, read_at__isnull=True)
    (unread if pks is None else unread.filter(pk__in=pks)).update(read_at=timezone.now())


def _repeat(uuid: UUID, task_id: int) -> Finished | None:
    earlier = Completion.objects.filter(uuid=uuid).select_related("task", "by").first()
    if earlier is None:
        return None
    if earlier.task_id != task_id:
        raise TaskError(
            "This entry was sent for another task already. Open the task anew and enter it there."
        )
    return Finished(earlier, False)


def _locked_task(task_id: int) -> Task:
    """The task, locked before anything is asked of it: the same entry sent twice at once finds the first one."""
    try:
        return Task.objects.select_for_update().get(pk=task_id)
    except Task.DoesNotExist:
        raise TaskError("This task is not on the list any more.") from None


def _check_open(task: Task, by: User) -> None:
    if task.status != Task.Status.OPEN:
        done = task.completions.filter(undone_at__isnull=True).select_related("by").first()
        raise AlreadyClosed(_who_was_first(done), done)
    if not by.may_act_as(task.role):
        raise NotAllowed(f"This is work for {task.get_role_display().lower()}.")


def _who_was_first(done: Completion | None) -> str:
    if done is None:
        return "Nothing was recorded: this is no longer wanted."
    when = timezone.localtime(done.entered_at).strftime("%H:%M")
    what = done.summary or f"{done.get_outcome_display().lower()}: {done.reason}"
    return f"{done.by} was first, at {when} ({what}). Nothing was recorded twice."


def _close(task: Task, status: str) -> None:
    task.status = status
    task.closed_at = timezone.now()
    task.save(update_fields=["status", "closed_at"])
    announce([task.scope])


def reopen(task: Task) -> None:
    """Ask for a task again whose completion no longer stands."""
    # The plan may have opened the next one meanwhile; one open task per rule and subject is the law.
    Task.objects.filter(
        rule=task.rule,
        subject_kind=task.subject_kind,
        subject_id=task.subject_id,
        status=Task.Status.OPEN,
    ).exclude(pk=task.pk).update(status=Task.Status.WITHDRAWN, closed_at=timezone.now())
    task.status = Task.Status.OPEN
    task.closed_at = None
    task.save(update_fields=["status", "closed_at"])
    announce([task.scope])
