"""The words of every message: what one person is told. Reads nothing and writes nothing."""

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from itertools import groupby
from typing import Any

from django.template.loader import render_to_string

from refuge.people.models import User
from refuge.rounds.models import Task
from refuge.templatetags.look import due_words

MOST_LINES = 20  # a message is read on a phone; the list itself is a tap away
ITEM = "– "


@dataclass(frozen=True, slots=True)
class Words:
    """A message's subject and its text: paragraphs between blank lines, list lines starting with a dash."""

    subject: str
    body: str


@dataclass(frozen=True, slots=True)
class Block:
    """A paragraph of a text, or a heading with the list below it."""

    lead: str
    items: tuple[str, ...]


def work_of(person: User, tasks: Iterable[Task]) -> list[Task]:
    """Those of the tasks that the person may do and nobody else has been asked to do, in the same order."""
    return [
        task for task in tasks if person.may_act_as(task.role) and task.assigned_to_id in (None, person.pk)
    ]


def digest_words(person: User, tasks: Sequence[Task], day: date) -> Words:
    """What `person` is told in the morning of `day`. `tasks` are due by then and come in walking order."""
    work = work_of(person, tasks)
    overdue = sorted((task for task in work if task.due_on < day), key=lambda task: task.due_on)
    today = [task for task in work if task.due_on == day]
    shown_today = today[: max(0, MOST_LINES - len(overdue))]
    context = {
        "total": len(work),
        "overdue": len(overdue),
        "late": [_late_line(task, day, person) for task in overdue[:MOST_LINES]],
        "areas": [(name, [_line(task, person) for task in group]) for name, group in _by_area(shown_today)],
        "left": max(0, len(work) - MOST_LINES),
    }
    return _words("digest", context)


def overdue_words(tasks: Sequence[Task], day: date) -> Words:
    """What a manager is told about work that has waited for more than a day, longest first."""
    late = sorted(tasks, key=lambda task: task.due_on)
    context = {
        "total": len(late),
        "late": [_late_line(task, day) for task in late[:MOST_LINES]],
        "left": max(0, len(late) - MOST_LINES),
    }
    return _words("overdue", context)


def found_words(task: Task, kind: str) -> Words:
    """What a manager is told about what was found (a kind of reason): the finding, not when the work is due.

    The same finding gives the same words however often the plan moves, so that nobody is told of it twice.
    """
    found = [reason["text"] for reason in task.reasons if reason["kind"] == kind]
    return _words(kind, {"label": task.subject_label, "found": found})


def blocks(body: str) -> list[Block]:
    """The parts of a message's text, for pages and letters that show lists as lists."""
    found = []
    for part in body.strip().split("\n\n"):
        lines = part.split("\n")
        lead = " ".join(line for line in lines if not line.startswith(ITEM))
        items = tuple(line.removeprefix(ITEM) for line in lines if line.startswith(ITEM))
        found.append(Block(lead, items))
    return found


def _words(kind: str, context: dict[str, Any]) -> Words:
    """The first line of the template is the subject; blank lines part paragraphs, however many there are."""
    text = render_to_string(f"rounds/mail/{kind}.txt", context)
    subject, _, rest = text.strip().partition("\n")
    paragraphs = (_tidy(part) for part in rest.split("\n\n"))
    return Words(subject.strip()[:200], "\n\n".join(part for part in paragraphs if part))


def _tidy(part: str) -> str:
    return "\n".join(line.strip() for line in part.splitlines() if line.strip())


def _by_area(tasks: list[Task]) -> Iterable[tuple[str, Iterable[Task]]]:
    return groupby(tasks, key=lambda task: task.area_name)


def _line(task: Task, person: User) -> str:
    asked = " (you were asked)" if task.assigned_to_id == person.pk else ""
    return f"{task.title}: {task.subject_label}{asked}"


def _late_line(task: Task, day: date, person: User | None = None) -> str:
    name = f"{task.title}: {task.subject_label}" if person is None else _line(task, person)
    asked = f"; {task.assigned_to} was asked" if person is None and task.assigned_to else ""
    return f"{name}, {task.area_name}, {due_words((day - task.due_on).days, task.due_on)[1]}{asked}"
