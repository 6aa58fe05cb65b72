"""What the pages about limits show: values in force, who set them, and what another value would change."""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, replace
from datetime import date

from django.db.models import TextField
from django.db.models.functions import Cast

from refuge.rounds.loaders import Moment, Scopes, load_facts
from refuge.rounds.models import Limit, Task
from refuge.rounds.planner import judged
from refuge.rules.engine import Plan
from refuge.rules.facts import Facts
from refuge.rules.limits import LimitSpec, Overrides, limits

Place = tuple[str, int]  # (scope kind, scope id); the site is ("site", 0)
SITE: Place = ("site", 0)
TASKS_SHOWN = 20


@dataclass(frozen=True, slots=True)
class LimitRow:
    """One limit as the list shows it."""

    spec: LimitSpec
    said: str
    is_own: bool  # the site's own value, not the default
    exceptions: int  # circuits and filters with a value of their own
    last: Limit | None

    @property
    def default(self) -> str:
        return self.spec.said(self.spec.default)


@dataclass(frozen=True, slots=True)
class LimitGroup:
    """Limits of one subject matter."""

    name: str
    rows: list[LimitRow]


@dataclass(frozen=True, slots=True)
class OwnValue:
    """A value of its own that one circuit or filter has."""

    kind: str
    scope_id: int
    label: str
    said: str


@dataclass(frozen=True, slots=True)
class HistoryRow:
    """One entry of a limit's history, with the name of what it was for."""

    limit: Limit
    place: str
    said: str  # empty: back to the wider value


@dataclass(frozen=True, slots=True)
class Move:
    """One task another value would move, open (before None) or drop (after None)."""

    title: str
    label: str
    path: str
    before: date | None
    after: date | None
    reason: str


def limit_groups(moment: Moment) -> list[LimitGroup]:
    """Every limit, by what it is about: 1 query beside those of the moment."""
    latest = _latest_rows()
    exceptions: dict[str, int] = defaultdict(int)
    for key, kind, _ in moment.overrides:
        exceptions[key] += kind != "site"
    groups: dict[str, list[LimitRow]] = defaultdict(list)
    for spec in limits:
        setting = limits.resolve(spec.key, moment.overrides)
        groups[spec.key.partition(".")[0]].append(
            LimitRow(
                spec,
                spec.said(setting.value),
                setting.origin == "site",
                exceptions[spec.key],
                latest.get(spec.key),
            )
        )
    return [LimitGroup(name.capitalize(), rows) for name, rows in groups.items()]


def _latest_rows() -> dict[str, Limit]:
    """The row entered last for each limit."""
    rows = Limit.objects.select_related("by").order_by("entered_at", "pk")
    return {row.key: row for row in rows}


def place_labels(facts: Facts) -> dict[Place, str]:
    """What the site, each circuit and each filter are called."""
    circuits = {("circuit", pk): each.label for pk, each in facts.circuit.items()}
    filters = {("filter", pk): each.label for pk, each in facts.filter.items()}
    return {SITE: "The whole site", **circuits, **filters}


def own_values(key: str, moment: Moment, labels: dict[Place, str]) -> list[OwnValue]:
    """Circuits and filters with a value of their own, by name."""
    found = [
        OwnValue(kind, scope_id, labels.get((kind, scope_id), f"{kind} {scope_id}"), limits[key].said(value))
        for (own, kind, scope_id), value in moment.overrides.items()
        if own == key and kind != "site"
    ]
    return sorted(found, key=lambda each: (each.kind, each.label))


def history(key: str, labels: dict[Place, str]) -> list[HistoryRow]:
    """Every value that was ever set, the newest first: 1 query."""
    rows = Limit.objects.filter(key=key).select_related("by").order_by("-entered_at", "-pk")
    said = limits[key].said
    return [
        HistoryRow(
            row,
            labels.get((row.scope_kind, row.scope_id), row.scope_kind),
            "" if row.value is None else said(row.value),
        )
        for row in rows
    ]


def tasks_by_limit(key: str) -> tuple[list[Task], int]:
    """Open tasks that went by a limit, the first due first, and how many there are: 2 queries."""
    rows = Task.objects.filter(status=Task.Status.OPEN).annotate(gone_by=Cast("limits", TextField()))
    rows = rows.filter(gone_by__contains=f'"{key}"')
    return list(rows.order_by("due_on", "pk")[:TASKS_SHOWN]), rows.count()


def changed_overrides(overrides: Overrides, key: str, place: Place, value: float | None) -> Overrides:
    """The values in force as they would be with another one; None goes back to the wider value."""
    changed = {**overrides, (key, *place): value}
    return {where: each for where, each in changed.items() if each is not None}


def moves(moment: Moment, key: str, place: Place, value: float | None, scopes: Scopes) -> list[Move]:
    """What would move if a value were in force today: facts and plan made twice, nothing written.

    Facts are loaded anew, since some of them (the bioload's window) are computed by limits themselves.
    """
    other = replace(moment, overrides=changed_overrides(moment.overrides, key, place, value))
    return compared(_plan(moment, scopes), _plan(other, scopes))


def _plan(moment: Moment, scopes: Scopes) -> Plan:
    return judged(load_facts(scopes, moment), moment)


def compared(before: Plan, after: Plan) -> list[Move]:
    """Tasks that are due another day, are new, or are no longer wanted, the first due first."""
    old = {each.key: each for each in before.wanted}
    new = {each.key: each for each in after.wanted}
    found = [
        Move(
            title=(new.get(key) or old[key]).rule.title,
            label=(new.get(key) or old[key]).label,
            path=(new.get(key) or old[key]).path,
            before=old[key].due_on if key in old else None,
            after=new[key].due_on if key in new else None,
            reason=new[key].reasons[0].text if key in new else "",
        )
        for key in dict.fromkeys((*old, *new))
    ]
    changed = [each for each in found if each.before != each.after]
    return sorted(changed, key=lambda each: (each.after or each.before or date.max, each.title, each.label))


def scopes_of(place: Place, facts: Facts) -> Scopes:
    """The circuits a value for a place touches; None for all."""
    kind, scope_id = place
    if kind == "site":
        return None
    return frozenset({facts.filter[scope_id].circuit_id if kind == "filter" else scope_id})


def choices_for(spec: LimitSpec, labels: dict[Place, str]) -> list[tuple[str, object]]:
    """The places a limit can be set for, as a grouped choice: 'site:0', 'circuit:3', 'filter:8'."""
    groups: list[tuple[str, object]] = [("site:0", labels[SITE])]
    for kind, title in (("circuit", "One water"), ("filter", "One filter")):
        if kind in spec.scopes:
            groups.append((title, _options(kind, labels.items())))
    return groups


def _options(kind: str, labels: Iterable[tuple[Place, str]]) -> list[tuple[str, str]]:
    own = [(f"{kind}:{scope_id}", label) for (each, scope_id), label in labels if each == kind]
    return sorted(own, key=lambda option: option[1])
