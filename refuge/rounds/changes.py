"""What a record changed in the plan, in words: the plan of a circuit before and after, compared."""

from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from refuge.people.models import User
from refuge.rounds.selectors import open_tasks
from refuge.templatetags.look import due_words

Key = tuple[str, str, int]  # rule, kind and id of the subject
MOST_WORDS = 4
NEAR_DAYS = 14  # what moves further off than this is no news on the round


@dataclass(frozen=True, slots=True)
class Planned:
    """When one task is due, and where; and what its row says of why."""

    due_on: date
    title: str
    label: str
    stop_path: str
    reasons: Any = ()


@dataclass(frozen=True)
class PlanChange:
    """How the plan of a circuit moved: words for the person, and the stops on the walk whose rows say otherwise now."""

    words: list[str]
    stop_paths: set[str]


def planned(user: User, scope: int | None) -> dict[Key, Planned]:
    """The open tasks of a circuit that this person may see: 1 query."""
    columns = (
        "rule",
        "subject_kind",
        "subject_id",
        "due_on",
        "title",
        "subject_label",
        "stop_path",
        "reasons",
    )
    return {row[:3]: Planned(*row[3:]) for row in open_tasks(user).filter(scope=scope).values_list(*columns)}


def compare(before: dict[Key, Planned], after: dict[Key, Planned], *, done: Key, today: date) -> PlanChange:
    """What moved between two plans; the follow-up of the finished task comes first, then the soonest."""
    moved = sorted(
        (
            key
            for key in before.keys() | after.keys()
            if key != done and _day(before, key) != _day(after, key)
        ),
        key=lambda key: (after.get(key) or before[key]).due_on,
    )
    words = [_next_words(after[done], today)] if done in after else []
    near = today + timedelta(days=NEAR_DAYS)
    words += [
        _words(before.get(key), after.get(key), today)
        for key in moved
        if any(plan[key].due_on <= near for plan in (before, after) if key in plan)
    ]
    if len(words) > MOST_WORDS:
        words[MOST_WORDS:] = [f"and {len(words) - MOST_WORDS} more changes"]
    shown = {task.stop_path for task in before.values() if task.due_on <= today}
    renewed = {key for key in before.keys() | after.keys() if before.get(key) != after.get(key)}
    return PlanChange(words, shown & {(after.get(key) or before[key]).stop_path for key in renewed})


def _day(plan: dict[Key, Planned], key: Key) -> date | None:
    return plan[key].due_on if key in plan else None


def _when(due_on: date, today: date) -> str:
    return due_words((today - due_on).days, due_on)[1]


def _next_words(task: Planned, today: date) -> str:
    return f"Next: {_when(task.due_on, today)}"


def _words(before: Planned | None, after: Planned | None, today: date) -> str:
    task = after or before
    assert task is not None  # a key comes from one of the two plans
    name = f"{task.title}, {task.label}"
    if after is None:
        return f"No longer needed: {name}"
    if before is None:
        return f"New: {name}, {_when(after.due_on, today)}"
    return f"{name}: now {_when(after.due_on, today)}, was {_when(before.due_on, today)}"
