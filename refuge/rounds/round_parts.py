"""What the page of the round shows: which part of it, its stops one stretch after the other, and how far it is."""

import json
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any
from urllib.parse import urlencode

from django.db.models import Count, Q, QuerySet
from django.urls import reverse

from refuge.people.models import User
from refuge.plain_values import is_storable
from refuge.rounds.models import Completion, Task
from refuge.rounds.selectors import completions_of_day, done_rows, open_tasks, task_rows
from refuge.rounds.walk import WALK, DoneRow, StopView, group
from refuge.rules.registry import rules

LATEST_SHOWN = 12
STOPS_A_PART = 30
READING = "reading"


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


@dataclass(frozen=True)
class Beyond:
    """A water whose reading lies beyond its limit: what was read, and the page that says what to do."""

    label: str
    words: str
    url: str


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
    return place if fits and all(is_storable(each) for each in place if isinstance(each, str)) else []


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


def beyond_limits(user: User, filters: Filters) -> list[Beyond]:
    """Waters beyond a limit, in walking order, whenever their next test is due: 1 query. None for the days ahead."""
    helped = [rule.key for rule in rules if rule.help_page]
    tasks = open_tasks(user).filter(rule__in=helped).order_by(*WALK)
    if filters.area:
        tasks = tasks.filter(area_code=filters.area)
    found = {
        task.subject_id: Beyond(
            task.subject_label, words, reverse(rules[task.rule].help_page, args=[task.subject_id])
        )
        for task in ([] if filters.ahead else tasks)
        if (words := _reading_words(task))
    }
    return list(found.values())


def _reading_words(task: Task) -> str:
    """'Nitrite was 1.5 mg/L N on 4 Mar 2026, above 1': the reason of a task that goes by a reading, without its rest."""
    texts = (each["text"] for each in task.reasons if each["kind"] == READING)
    return next(texts, "").partition(";")[0]


def count_due(user: User, filters: Filters, today: date) -> int:
    """How many tasks are due in the part of the round that is shown: 1 query."""
    tasks = due_tasks(user, filters, today)
    return (tasks.filter(area_code=filters.area) if filters.area else tasks).count()
