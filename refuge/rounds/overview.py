"""The manager's view over the whole site: what is late, overloaded, unwell, in quarantine, or cannot be judged.

Read from the open tasks and from the facts the planner reads; nothing here knows a rule or an app. A fixed
number of queries for any site.
"""

from collections import Counter, defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from django.db.models import Count, Max

from refuge.people.models import User
from refuge.rounds.loaders import Moment, load_facts
from refuge.rounds.models import Completion, Message, PlanRun, RuleFailure, Task
from refuge.rules.facts import AnimalFacts, CircuitFacts, Facts, FilterFacts
from refuge.rules.registry import rules
from refuge.rules.triggers import day_text
from refuge.rules.words import load_words

OLDEST_SHOWN = 10
SUBJECTS_SHOWN = 8
PLAN_OLD_AFTER = timedelta(hours=26)  # a night's plan, and two hours for a late one
WORKED_DAYS = 7
MESSAGES_DAYS = 14
# States in which a filter asks for somebody's eye; the others are at rest or well.
NEEDS_EYES = {"building": "being built", "cycling": "cycling", "disturbed": "disturbed"}
RUNNING = {"cycling", "mature", "disturbed"}

DUE_COLUMNS = (
    "pk",
    "rule",
    "title",
    "subject_kind",
    "subject_id",
    "subject_label",
    "subject_path",
    "area_name",
    "due_on",
    "reasons",
)


@dataclass(frozen=True, slots=True)
class DueTask:
    """An open task that is due today or late."""

    pk: int
    rule: str
    title: str
    subject_kind: str
    subject_id: int
    label: str
    path: str
    area: str
    due_on: date
    reasons: list[dict[str, Any]]

    @property
    def subject(self) -> tuple[str, int]:
        return (self.subject_kind, self.subject_id)


@dataclass(frozen=True, slots=True)
class LateGroup:
    """Late work of one kind: how much, where, and since when."""

    title: str
    count: int
    areas: list[tuple[str, int]]
    oldest: DueTask


@dataclass(frozen=True, slots=True)
class CircuitRow:
    """A water that carries too much, or whose own work (tests, changes) is late."""

    facts: CircuitFacts
    last_test_on: date | None
    late: list[DueTask]

    @property
    def is_over(self) -> bool:
        share = self.facts.load_share
        return share > 1 if share is not None else self.has_no_filter

    @property
    def load_words(self) -> str:
        return load_words(self.facts.load_share or 0.0, grown=self.facts.grown_share)

    @property
    def has_no_filter(self) -> bool:
        return bool(self.facts.animals) and self.facts.load_share is None


@dataclass(frozen=True, slots=True)
class FilterRow:
    """A filter that asks for attention, and why: (state of the look, words)."""

    facts: FilterFacts
    notes: list[tuple[str, str]]


@dataclass(frozen=True, slots=True)
class QuarantineRow:
    """One open quarantine."""

    animal: AnimalFacts
    day: int
    open_checks: int
    late_checks: int
    days_left: int
    next_check_on: date | None

    @property
    def late_words(self) -> str:
        return f"{self.late_checks} check{'s' if self.late_checks > 1 else ''} late"


@dataclass(frozen=True, slots=True)
class UnknownGroup:
    """What could not be judged for lack of one thing, and where to mend it."""

    lacks: str
    ask: str
    subjects: list[tuple[str, str]]

    @property
    def words(self) -> str:
        return f"Not known for {len(self.subjects)}: {self.lacks}"

    @property
    def shown(self) -> list[tuple[str, str]]:
        return self.subjects[:SUBJECTS_SHOWN]

    @property
    def more(self) -> int:
        return max(len(self.subjects) - SUBJECTS_SHOWN, 0)


@dataclass
class Overview:
    """Everything the page shows."""

    today: date
    late: list[DueTask]
    groups: list[LateGroup]
    circuits: list[CircuitRow]
    filters: list[FilterRow]
    quarantines: list[QuarantineRow]
    unknowns: list[UnknownGroup]
    run: PlanRun | None
    run_is_old: bool
    workers: list[dict[str, Any]]
    failures: list[RuleFailure] = field(default_factory=list)
    messages: list[Message] = field(default_factory=list)

    @property
    def oldest(self) -> list[DueTask]:
        return self.late[:OLDEST_SHOWN]

    @property
    def over_capacity(self) -> int:
        return sum(row.is_over for row in self.circuits)

    @property
    def not_judged(self) -> int:
        return sum(len(group.subjects) for group in self.unknowns)


def overview(moment: Moment, user: User) -> Overview:
    """The whole view. What concerns the program itself (failed rules, lost messages) is for managers only."""
    facts = load_facts(None, moment)
    due = due_tasks(moment.today)
    late = [task for task in due if task.due_on < moment.today]
    run = PlanRun.objects.first()
    return Overview(
        today=moment.today,
        late=late,
        groups=late_groups(late),
        circuits=circuit_rows(facts, late),
        filters=filter_rows(facts, due),
        quarantines=quarantine_rows(facts, moment.today),
        unknowns=unknown_groups(due),
        run=run,
        run_is_old=plan_is_old(run, moment.now),
        workers=workers(moment.now),
        failures=list(RuleFailure.objects.order_by("rule", "subject_label")) if user.is_manager else [],
        messages=lost_messages(moment.now) if user.is_manager else [],
    )


def due_tasks(today: date) -> list[DueTask]:
    """Open tasks due by today, the oldest first: 1 query."""
    rows = Task.objects.filter(status=Task.Status.OPEN, due_on__lte=today)
    order = ("due_on", "area_rank", "area_position", "stop_position", "pk")
    return [DueTask(*row) for row in rows.order_by(*order).values_list(*DUE_COLUMNS)]


def late_groups(late: Iterable[DueTask]) -> list[LateGroup]:
    """Late tasks by what is to be done, the most first; each names its areas and its oldest."""
    by_rule: dict[str, list[DueTask]] = defaultdict(list)
    for task in late:
        by_rule[task.rule].append(task)
    groups = [
        LateGroup(
            title=_title(tasks),
            count=len(tasks),
            areas=Counter(task.area for task in tasks).most_common(),
            oldest=min(tasks, key=lambda task: task.due_on),
        )
        for tasks in by_rule.values()
    ]
    return sorted(groups, key=lambda group: (-group.count, group.title))


def _title(tasks: list[DueTask]) -> str:
    rule = rules.get(tasks[0].rule)
    return rule.title if rule else tasks[0].title


def circuit_rows(facts: Facts, late: Iterable[DueTask]) -> list[CircuitRow]:
    """Waters over capacity first, the fullest before; then those whose own work is late."""
    works: dict[tuple[str, int], list[DueTask]] = defaultdict(list)
    for task in late:
        works[task.subject].append(task)
    rows = [
        CircuitRow(each, each.tests[0].on if each.tests else None, works["circuit", each.id])
        for each in facts.circuit.values()
    ]
    wanting = [row for row in rows if row.is_over or row.late]
    return sorted(wanting, key=lambda row: (not row.is_over, -(row.facts.load_share or 0.0), row.facts.label))


def filter_rows(facts: Facts, due: Iterable[DueTask]) -> list[FilterRow]:
    """Filters in a state that asks for eyes, unprotected ones, and those with work due for what was read or seen."""
    read: dict[tuple[str, int], list[str]] = defaultdict(list)
    for task in due:
        read[task.subject] += [each["text"] for each in task.reasons if each["kind"] in {"reading", "state"}]
    rows = [FilterRow(each, _filter_notes(each, read["filter", each.id])) for each in facts.filter.values()]
    wanting = [row for row in rows if row.notes]
    return sorted(wanting, key=lambda row: (all(kind != "act" for kind, _ in row.notes), row.facts.label))


def _filter_notes(unit: FilterFacts, read: list[str]) -> list[tuple[str, str]]:
    notes = [("act", words) for words in read]
    if unit.state in RUNNING and unit.has_pump and unit.protection_passed is None:
        notes.append(("unknown", "Residual-current (ground-fault) protection never tested"))
    if unit.state in NEEDS_EYES and not read:
        notes.append(("watch", f"{NEEDS_EYES[unit.state].capitalize()} since {day_text(unit.state_since)}"))
    return notes


def quarantine_rows(facts: Facts, today: date) -> list[QuarantineRow]:
    """Open quarantines, the first to end first."""
    rows = [
        QuarantineRow(
            animal=each,
            day=(today - each.quarantine.clock_from).days + 1,
            open_checks=len(each.quarantine.checks),
            late_checks=sum(check.due_on < today for check in each.quarantine.checks),
            days_left=(each.quarantine.ends_on - today).days,
            next_check_on=min((check.due_on for check in each.quarantine.checks), default=None),
        )
        for each in facts.animal.values()
        if each.quarantine is not None
    ]
    return sorted(rows, key=lambda row: (row.days_left, row.animal.label))


def unknown_groups(due: Iterable[DueTask]) -> list[UnknownGroup]:
    """What rules lacked, by the thing that is missing, the most often missing first."""
    found: dict[tuple[str, str], dict[str, str]] = defaultdict(dict)
    for task in due:
        for reason in task.reasons:
            if reason["kind"] == "unknown":
                lacks, _, ask = reason["text"].removeprefix("Not known: ").partition(". ")
                found[lacks, ask][task.path] = task.label
    groups = [
        UnknownGroup(lacks, ask, [(label, path) for path, label in subjects.items()])
        for (lacks, ask), subjects in found.items()
    ]
    return sorted(groups, key=lambda group: (-len(group.subjects), group.lacks))


def plan_is_old(run: PlanRun | None, now: datetime) -> bool:
    """Whether the last whole plan is older than it should ever be, or was never made or finished."""
    return run is None or run.finished_at is None or now - run.started_at > PLAN_OLD_AFTER


def workers(now: datetime) -> list[dict[str, Any]]:
    """Who finished tasks in the last days, how many, and when last: 1 query."""
    recent = Completion.objects.filter(
        entered_at__gte=now - timedelta(days=WORKED_DAYS),
        undone_at__isnull=True,
        outcome=Completion.Outcome.DONE,
    )
    counted = recent.values("by__name").annotate(tasks=Count("pk"), last=Max("entered_at"))
    return [dict(row) for row in counted.order_by("-tasks", "by__name")]


def lost_messages(now: datetime) -> list[Message]:
    """Messages given up in the last two weeks, the newest first: 1 query."""
    lost = Message.objects.filter(
        status=Message.Status.FAILED, created_at__gte=now - timedelta(days=MESSAGES_DAYS)
    )
    return list(lost.select_related("person")[:20])
