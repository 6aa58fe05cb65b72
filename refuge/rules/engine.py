"""Facts, rules, limits and a day in; wanted tasks out. No query, no clock, no write.

The same input gives the same output in the same order. A rule that raises hides no other: it is reported.
"""

from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from datetime import date
from typing import Any

from refuge.rules.facts import KINDS, Facts, Stop, SubjectFacts
from refuge.rules.limits import LimitsFor, LimitTable, Overrides, Setting
from refuge.rules.limits import limits as all_limits
from refuge.rules.registry import Rule, RuleBook
from refuge.rules.registry import rules as all_rules
from refuge.rules.triggers import Due, Trigger, Unknown


@dataclass(frozen=True, slots=True)
class Reason:
    """One reason for a task, with the day it asks for and what was found or happened that it goes by, if anything."""

    text: str
    on: date
    kind: str
    goes_by: str = ""


@dataclass(frozen=True, slots=True)
class Wanted:
    """One task that should stand: the earliest of its triggers, with all reasons."""

    rule: Rule
    subject_id: int
    label: str
    path: str
    stop: Stop
    scope: int | None
    due_on: date
    is_unknown: bool
    reasons: tuple[Reason, ...]
    instruction: str
    prefill: dict[str, Any]
    limits: tuple[Setting, ...]

    @property
    def key(self) -> tuple[str, str, int]:
        return (self.rule.key, self.rule.kind, self.subject_id)


@dataclass(frozen=True, slots=True)
class Broken:
    """A rule that raised for one subject."""

    rule: Rule
    subject_id: int
    label: str
    scope: int | None
    error: str


@dataclass
class Plan:
    """What one evaluation wants, and what failed in it."""

    wanted: list[Wanted] = field(default_factory=list)
    broken: list[Broken] = field(default_factory=list)


def evaluate(
    facts: Facts,
    overrides: Overrides,
    today: date,
    *,
    not_before: date | None = None,
    book: RuleBook = all_rules,
    table: LimitTable = all_limits,
) -> Plan:
    """Judge every subject by every rule of its kind. Order: kind, subject id, rule key.

    not_before: no task falls due before this day, on which somebody could first be asked; the words stay.
    """
    plan = Plan()
    for kind in KINDS:
        rules = book.of_kind(kind)
        for subject_id, subject in sorted(facts.of(kind).items()):
            for rule in rules:
                _judge(rule, subject_id, subject, overrides, table, (today, not_before or date.min), plan)
    return plan


def scope_of(subject: SubjectFacts) -> int:
    """The circuit a subject belongs to: what is replanned together."""
    return getattr(subject, "circuit_id", subject.id)


def _judge(
    rule: Rule,
    subject_id: int,
    subject: SubjectFacts,
    overrides: Overrides,
    table: LimitTable,
    days: tuple[date, date],
    plan: Plan,
) -> None:
    """days: today, and the first on which anything can fall due."""
    today, first = days[0], min(days)
    scope = scope_of(subject)
    limits = LimitsFor(
        overrides, circuit_id=scope, filter_id=subject_id if rule.kind == "filter" else None, table=table
    )
    try:
        triggers = [_asked(each, first) for each in rule.check(subject, limits, today) if each is not None]
    except Exception as error:  # the one place where this is right: one broken rule hides no other
        plan.broken.append(Broken(rule, subject_id, subject.label, scope, f"{type(error).__name__}: {error}"))
        return
    if triggers:
        plan.wanted.append(_wanted(rule, subject, scope, triggers, tuple(limits.used.values()), today))


def _asked(trigger: Trigger, first: date) -> Trigger:
    return replace(trigger, on=first) if isinstance(trigger, Due) and trigger.on < first else trigger


def _wanted(
    rule: Rule,
    subject: SubjectFacts,
    scope: int,
    triggers: list[Trigger],
    used: tuple[Setting, ...],
    today: date,
) -> Wanted:
    dues = sorted((t for t in triggers if isinstance(t, Due)), key=lambda due: due.on)
    unknowns = [t for t in triggers if isinstance(t, Unknown)]
    reasons = [
        *(Reason(f"Not known: {u.lacks}. {u.ask}", today, "unknown") for u in unknowns),
        *(Reason(due.reason, due.on, due.kind, due.goes_by) for due in dues),
    ]
    reasons.sort(key=lambda reason: reason.on)
    instruction = " ".join(dict.fromkeys(due.instruction for due in dues if due.instruction))
    prefill = {name: value for due in reversed(dues) for name, value in due.prefill.items()}
    return Wanted(
        rule=rule,
        subject_id=subject.id,
        label=subject.label,
        path=subject.path,
        stop=subject.stop,
        scope=scope,
        due_on=reasons[0].on,
        is_unknown=bool(unknowns) and not any(due.on <= today for due in dues),
        reasons=tuple(reasons),
        instruction=instruction,
        prefill=prefill,
        limits=used,
    )


def first_due(plan: Plan) -> Iterator[Wanted]:
    """Wanted tasks in the order they fall due."""
    return iter(sorted(plan.wanted, key=lambda wanted: (wanted.due_on, wanted.key)))
