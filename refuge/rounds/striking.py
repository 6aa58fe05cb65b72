"""Striking out a record that is wrong as a whole: of something that did not happen, or not here."""

from typing import Any

from django.db import transaction
from django.utils import timezone

from refuge.events import announce
from refuge.people.models import Role, User
from refuge.people.selectors import site_today
from refuge.records import Amended
from refuge.rounds.models import Completion
from refuge.rounds.recording import recorder, recorder_of
from refuge.rounds.services import NotAllowed, reopen
from refuge.rules.registry import rules

NOT_YOURS_TO_STRIKE = (
    "A manager strikes records out; staff do so with their own on the day they entered them."
)


def may_strike_out(*, record: Any, by: User) -> bool:
    """Whether a person may strike a record out: a manager, or staff what they entered themselves today.

    Never one that set other things going, such as the end of a quarantine: those would go on standing.
    """
    kind = recorder_of(record)
    if kind is None or record.voided_at is not None or not kind.can_take_back or _set_more_going(record):
        return False
    own_of_today = record.by_id == by.pk and site_today(record.entered_at) == site_today()
    return by.may_act_as(kind.role) and (by.is_manager or (by.may_act_as(Role.STAFF) and own_of_today))


def _set_more_going(record: Any) -> bool:
    done = _completion_of(record)
    rule = rules.get(done.task.rule) if done else None
    return rule is not None and not recorder(rule.recorder).can_take_back


@transaction.atomic
def record_strike_out(*, record: Any, by: User, reason: str) -> None:
    """Strike a record out: it stays in its history with who, when and why, and counts no more.

    What followed from it is taken back as by an undo, a task that it finished is asked for again, and the plan and
    the forecast go by what is left. Repeated, it changes nothing. Raises NotAllowed when this person may not, Amended
    for an empty reason.
    """
    stored = type(record).everything.select_for_update(of=("self",)).get(pk=record.pk)
    if stored.voided_at is not None:
        return
    kind = recorder_of(stored)
    if kind is None or not may_strike_out(record=stored, by=by):
        raise NotAllowed(NOT_YOURS_TO_STRIKE)
    if not reason.strip():
        raise Amended("Say why: the reason stays beside the record.")
    kind.take_back(stored, by=by, reason=reason.strip())
    _take_from_round(stored)
    announce(kind.waters(stored))


def _completion_of(record: Any) -> Completion | None:
    """What the round says was done by it: a completion and its record carry the same uuid."""
    rows = Completion.objects.filter(uuid=record.uuid, undone_at__isnull=True)
    return rows.select_related("task").first()


def _take_from_round(record: Any) -> None:
    done = _completion_of(record)
    if done is None:
        return
    done.undone_at = timezone.now()
    done.save(update_fields=["undone_at"])
    reopen(done.task)
