"""The walk: tasks grouped by the stop where they are done, in the order of the round. No query."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from urllib.parse import urlencode
from uuid import UUID

from django.urls import reverse
from django.utils import timezone

from refuge.rounds.models import Completion
from refuge.rounds.recording import recorder
from refuge.rounds.services import UNDO_SECONDS
from refuge.rules.facts import NO_STOP, Stop
from refuge.rules.registry import rules
from refuge.rules.triggers import AGAINST

# The columns that make a Stop, in its own order, under the names a task keeps them by.
STOP_COLUMNS = (
    "area_code",
    "area_name",
    "area_rank",
    "area_position",
    "stop_code",
    "stop_name",
    "stop_position",
    "stop_path",
)
# Walking order: clean areas first, the highest biosecurity rank last; codes settle what positions leave open.
WALK = ("area_rank", "area_position", "area_code", "stop_position", "stop_code", "stop_path")

NOT_AS_PLANNED = "So it is not done as planned: enter what was done all the same, or why it was not."


def walk_key(stop: Stop) -> tuple[int, int, str, int, str, str]:
    """Sorts stops as they are walked; the same order as WALK in the database."""
    return (stop.area_rank, stop.area_position, stop.area_code, stop.position, stop.code, stop.path)


def anchor(stop_path: str) -> str:
    """The id of a stop on the page: '/filters/3/' is 'stop-filters-3'."""
    return f"stop-{stop_path.strip('/').replace('/', '-') or 'none'}"


def against(reasons: Iterable[dict[str, Any]]) -> str:
    """What speaks against doing a task as planned, from its stored reasons; empty when nothing does."""
    return next((each["text"] for each in reasons if each["kind"] == AGAINST), "")


@dataclass(frozen=True, slots=True)
class Instead:
    """The link in place of a single button, while something speaks against it."""

    url: str
    words: str
    icon: str


@dataclass(frozen=True, slots=True)
class TaskRow:
    """An open task, as a list shows it."""

    id: int
    rule: str
    title: str
    subject_label: str
    subject_path: str
    due_on: date
    is_unknown: bool
    reasons: list[dict[str, Any]]
    prefill: dict[str, Any]
    scope: int | None
    taken_by_id: int | None
    taken_by: str | None
    stop: Stop
    today: date

    @property
    def is_over(self) -> bool:
        return not self.is_unknown and self.due_on < self.today

    @property
    def shown_due_on(self) -> date | None:
        """None while it waits for a measurement: then nobody knows when it is due."""
        return None if self.is_unknown else self.due_on

    @property
    def reason(self) -> str:
        return self.reasons[0]["text"] if self.reasons else ""

    @property
    def place(self) -> str:
        """Whom or what it is about, where the stop's own header does not say so already."""
        return "" if self.subject_path == self.stop.path else self.subject_label

    @property
    def against(self) -> str:
        return against(self.reasons)

    @property
    def tap_word(self) -> str:
        rule = rules.get(self.rule)
        if rule is None or self.against or not rule.one_tap:
            return ""
        return recorder(rule.recorder).tap_word(rule.one_tap, self.prefill)

    @property
    def tap_value(self) -> str:
        rule = rules.get(self.rule)
        return recorder(rule.recorder).tap_value(self.prefill) if rule else ""

    @property
    def instead(self) -> Instead | None:
        """What ends that which speaks against the task; from there it goes back to its stop on the walk."""
        rule = rules.get(self.rule)
        if not (rule and rule.instead and self.scope and self.against):
            return None
        key, words = rule.instead
        back = urlencode({"next": f"{reverse('today')}#{anchor(self.stop.path)}"})
        return Instead(f"{reverse('record_new', args=[key, self.scope])}?{back}", words, recorder(key).icon)

    @property
    def icon(self) -> str:
        rule = rules.get(self.rule)
        return recorder(rule.recorder).icon if rule else "note"

    @property
    def urgency(self) -> tuple[int, date, str, str]:
        """Overdue first, the oldest before others; then what waits for a measurement; then today; then later."""
        rank = 0 if self.is_over else 1 if self.is_unknown else 2
        return (rank, self.due_on, self.title, self.subject_label)


@dataclass(frozen=True, slots=True)
class DoneRow:
    """What somebody did about a task, as a list shows it."""

    uuid: UUID
    title: str
    subject_label: str
    subject_path: str
    outcome: str
    summary: str
    reason: str
    by_id: int
    by: str
    entered_at: datetime
    record_kind: str
    record_id: int | None
    stop: Stop

    @property
    def words(self) -> str:
        """'Fed 1.36 kg smelt', 'Could not: the pump is locked'."""
        if self.outcome == Completion.Outcome.DONE:
            return self.summary
        return f"{Completion.Outcome(self.outcome).label}: {self.reason}"

    @property
    def is_done(self) -> bool:
        return self.outcome == Completion.Outcome.DONE

    @property
    def place(self) -> str:
        return "" if self.subject_path == self.stop.path else self.subject_label

    @property
    def is_fresh(self) -> bool:
        """Whether it can still be taken back; later only an amendment is left."""
        return timezone.now() < self.entered_at + timedelta(seconds=UNDO_SECONDS)


@dataclass
class StopView:
    """One stop of the walk: what is open there, what was done today, and the hygiene step before it."""

    stop: Stop
    tasks: list[TaskRow] = field(default_factory=list)
    done: list[DoneRow] = field(default_factory=list)
    crossing: str = ""

    @property
    def anchor(self) -> str:
        return anchor(self.stop.path)

    @property
    def is_placed(self) -> bool:
        return self.stop.area_rank != NO_STOP.area_rank

    @property
    def name(self) -> str:
        return self.stop.name or self.stop.area_name

    @property
    def meta(self) -> str:
        """Where it is and how much is left: 'Quarantine room · 3 left'."""
        left = f"{len(self.tasks)} left" if self.tasks else "all done"
        return f"{self.stop.area_name} · {left}" if self.stop.name else left


def group(rows: Iterable[TaskRow], done: Iterable[DoneRow] = ()) -> list[StopView]:
    """Stops in walking order, each with its open tasks by urgency and what was done there."""
    stops: dict[str, StopView] = {}
    for row in rows:
        stops.setdefault(row.stop.path, StopView(row.stop)).tasks.append(row)
    for entry in done:
        stops.setdefault(entry.stop.path, StopView(entry.stop)).done.append(entry)
    for view in stops.values():
        view.tasks.sort(key=lambda row: row.urgency)
    return sorted(stops.values(), key=lambda view: walk_key(view.stop))


def add_crossings(stops: list[StopView], *, from_rank: int, last_rank: int) -> None:
    """Put the hygiene step before each stop that lies in a higher biosecurity rank than the one before it."""
    rank = from_rank
    for view in stops:
        if view.is_placed and view.stop.area_rank > rank:
            view.crossing = crossing_words(view.stop, is_last=view.stop.area_rank == last_rank)
            rank = view.stop.area_rank


def crossing_words(stop: Stop, *, is_last: bool) -> str:
    """The step between areas of different biosecurity. Common practice, no source."""
    step = (
        f"Before {stop.area_name}: wash your hands, put on fresh gloves, "
        "and use only the nets and buckets kept there."
    )
    return (
        f"{step} From here nobody goes back down the walk without washing and changing." if is_last else step
    )
