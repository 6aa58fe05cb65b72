"""The planner: facts, rules and limits become tasks, and only the difference is written.

One planner serves the nightly run (`plan_site`), the replan of a circuit after a record (`plan_scopes`) and
the what-if (`preview`), so all three always agree. What was last done comes from the records, never from the
tasks; a task only remembers what people decided about it.
"""

import gc
import json
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, replace
from datetime import UTC, date, datetime
from hashlib import blake2b
from typing import Any

from django.db import transaction
from django.utils import timezone

from refuge.people.models import Refuge
from refuge.people.selectors import the_refuge
from refuge.prepared import prepared
from refuge.rounds.limits import overrides_on
from refuge.rounds.loaders import Moment, Scopes, load_facts
from refuge.rounds.models import Completion, PlanRun, RuleFailure, Task
from refuge.rules.engine import Broken, Plan, Reason, Wanted, evaluate
from refuge.rules.facts import Facts

Key = tuple[str, str, int]

# What a plan writes into a task. Only its fingerprint is read back and compared, so that the thousands of
# unchanged tasks of a large site are neither decoded nor written.
FIELDS = (
    "subject_label",
    "subject_path",
    "scope",
    "area_code",
    "area_name",
    "area_rank",
    "area_position",
    "stop_code",
    "stop_name",
    "stop_position",
    "stop_path",
    "title",
    "due_on",
    "is_unknown",
    "reasons",
    "instruction",
    "prefill",
    "limits",
    "role",
)
BATCH = 500


@dataclass(frozen=True)
class Changes:
    """What one planning changed."""

    opened: int
    moved: int
    withdrawn: int
    standing: int


def moment_for(
    now: datetime | None = None, day: date | None = None, *, refuge: Refuge | None = None
) -> Moment:
    """The moment to plan for: now, on the refuge's own calendar, with the limits in force.

    refuge: if it is known, it need not be asked for.
    """
    return _moment(refuge or the_refuge(), now, day)


def _moment(refuge: Refuge | None, now: datetime | None, day: date | None) -> Moment:
    now = now or timezone.now()
    zone = refuge.zone if refuge else timezone.get_default_timezone()
    today = day or now.astimezone(zone).date()
    if day is not None and day != now.astimezone(zone).date():
        now = datetime.combine(day, datetime.max.time(), tzinfo=zone).astimezone(UTC)
    return Moment(
        now=now,
        today=today,
        zone=zone,
        overrides=overrides_on(today),
        elevation_m=refuge.elevation_m if refuge else 0.0,
        founded_on=refuge.founded_on if refuge else None,
    )


def plan_site(*, now: datetime | None = None, day: date | None = None) -> PlanRun:
    """Plan the whole site and keep a note of the run. Running it twice changes nothing the second time."""
    started = timezone.now()
    changes = _plan(None, now, day)
    return PlanRun.objects.create(
        day=moment_for(now, day).today,
        started_at=started,
        finished_at=timezone.now(),
        opened=changes.opened,
        moved=changes.moved,
        withdrawn=changes.withdrawn,
        standing=changes.standing,
    )


def plan_scopes(scopes: Iterable[int], *, now: datetime | None = None) -> Changes:
    """Plan some circuits anew, after something was recorded about them."""
    return _plan(frozenset(scopes), now, None)


def preview(
    change: Callable[[Facts], Facts],
    scopes: Iterable[int],
    *,
    moment: Moment | None = None,
    facts: Facts | None = None,
) -> tuple[Plan, Plan]:
    """What would be wanted of these circuits as they are, and if `change` were made. Writes nothing.

    facts: those of exactly these circuits at that moment, if they are there already.
    """
    moment = moment or moment_for()
    facts = facts or load_facts(frozenset(scopes), moment)
    return judged(facts, moment), judged(change(facts.copy()), moment)


def judged(facts: Facts, moment: Moment) -> Plan:
    """What is wanted by these facts at a moment, by the limits in force then."""
    return evaluate(facts, moment.overrides, moment.today, not_before=moment.founded_on)


@transaction.atomic
def _plan(scopes: Scopes, now: datetime | None, day: date | None) -> Changes:
    # One planner at a time: a plan made from older facts must not overwrite one made from newer ones.
    refuge = Refuge.objects.select_for_update().filter(pk=Refuge.SINGLETON).first()
    moment = _moment(refuge, now, day)
    with _collector_paused():
        plan = judged(load_facts(scopes, moment), moment)
        _keep_failures(plan.broken, scopes)
        return _write_difference(_rested(plan.wanted, moment.today), scopes)


@contextmanager
def _collector_paused() -> Iterator[None]:
    """No cycle collection meanwhile: it would walk a whole site's living facts many times and free none."""
    was_enabled = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_enabled:
            gc.enable()


@dataclass(frozen=True)
class Rest:
    """What somebody could not do or found not needed is not asked for again before `until`.

    knew: what the task went by when they said so.
    """

    until: date
    who: str
    why: str
    knew: frozenset[str]

    def is_over_for(self, wanted: Wanted) -> bool:
        """Whether something was found or happened since that asks for the work sooner: nobody has judged that yet."""
        return any(
            each.goes_by and each.on < self.until and each.goes_by not in self.knew for each in wanted.reasons
        )


@prepared
def _rests(today: date) -> Any:
    rows = Completion.objects.filter(undone_at__isnull=True, rest_until__gt=today)
    return rows.order_by("entered_at", "pk").values_list(
        "task__rule",
        "task__subject_kind",
        "task__subject_id",
        "rest_until",
        "by__name",
        "reason",
        "task__reasons",
    )


def _rested(wanted: list[Wanted], today: date) -> list[Wanted]:
    """Put off what is at rest; of several rests of one task the one that was entered last counts."""
    rests: dict[Key, Rest] = {
        (rule, kind, subject_id): Rest(until, who, why, _known_then(reasons))  # type: ignore[misc]
        for rule, kind, subject_id, until, who, why, reasons in _rests(today=today)
    }
    return [_put_off(each, rests[each.key]) if each.key in rests else each for each in wanted]


def _known_then(reasons: list[dict[str, Any]]) -> frozenset[str]:
    return frozenset(each.get("goes_by") or each["text"] for each in reasons)


def _put_off(wanted: Wanted, rest: Rest) -> Wanted:
    if wanted.due_on >= rest.until or rest.is_over_for(wanted):
        return wanted
    reason = Reason(f"Put off by {rest.who}: {rest.why}", rest.until, "put_off")
    return replace(wanted, due_on=rest.until, reasons=(*wanted.reasons, reason))


def _values(wanted: Wanted) -> tuple[Any, ...]:
    stop = wanted.stop
    return (
        wanted.label[:120],
        wanted.path,
        wanted.scope,
        stop.area_code,
        stop.area_name,
        stop.area_rank,
        stop.area_position,
        stop.code,
        stop.name,
        stop.position,
        stop.path,
        wanted.rule.title,
        wanted.due_on,
        wanted.is_unknown,
        [_stored(reason) for reason in wanted.reasons],
        wanted.instruction,
        wanted.prefill,
        [{"key": s.key, "value": s.value, "unit": s.unit, "origin": s.origin} for s in wanted.limits],
        wanted.rule.role,
    )


def _stored(reason: Reason) -> dict[str, str]:
    """A reason as a task keeps it; what it goes by only where the words do not say it."""
    kept = {"text": reason.text, "on": reason.on.isoformat(), "kind": reason.kind}
    return kept | ({"goes_by": reason.goes_by} if reason.goes_by not in ("", reason.text) else {})


@prepared
def _open_tasks(scopes: Scopes) -> Any:
    rows = Task.objects.filter(status=Task.Status.OPEN)
    own = rows if scopes is None else rows.filter(scope__in=scopes)
    return own.values_list("pk", "fingerprint", "rule", "subject_kind", "subject_id")


def _write_difference(wanted: list[Wanted], scopes: Scopes) -> Changes:
    standing: dict[Any, Any] = {row[2:]: row[:2] for row in _open_tasks(scopes=scopes)}
    new: list[Task] = []
    moved: list[Task] = []
    for each in wanted:
        values = _values(each)
        fingerprint = _fingerprint(values)
        pk, before = standing.pop(each.key, (None, None))
        if before != fingerprint:
            (moved if pk else new).append(_task(each.key, values, fingerprint, pk))
    # A moved subject's task may still stand under its old circuit: a conflict there means it exists already.
    Task.objects.bulk_create(new, batch_size=BATCH, ignore_conflicts=True)
    Task.objects.bulk_update(moved, [*FIELDS, "fingerprint"], batch_size=BATCH)
    gone = [pk for pk, _ in standing.values()]
    _withdraw(gone)
    return Changes(len(new), len(moved), len(gone), len(wanted))


def _fingerprint(values: tuple[Any, ...]) -> str:
    return blake2b(json.dumps(values, default=str).encode(), digest_size=16).hexdigest()


def _task(key: Key, values: tuple[Any, ...], fingerprint: str, pk: int | None) -> Task:
    rule, kind, subject_id = key
    named = dict(zip(FIELDS, values, strict=True))
    return Task(pk=pk, rule=rule, subject_kind=kind, subject_id=subject_id, fingerprint=fingerprint, **named)


def _withdraw(pks: list[int]) -> None:
    for start in range(0, len(pks), BATCH):
        Task.objects.filter(pk__in=pks[start : start + BATCH], status=Task.Status.OPEN).update(
            status=Task.Status.WITHDRAWN, closed_at=timezone.now()
        )


def _keep_failures(broken: list[Broken], scopes: Scopes) -> None:
    old = RuleFailure.objects.all() if scopes is None else RuleFailure.objects.filter(scope__in=scopes)
    old.delete()
    RuleFailure.objects.bulk_create(
        [
            RuleFailure(
                rule=each.rule.key,
                subject_kind=each.rule.kind,
                subject_id=each.subject_id,
                subject_label=each.label[:120],
                scope=each.scope,
                error=each.error,
            )
            for each in broken
        ],
        ignore_conflicts=True,
    )
