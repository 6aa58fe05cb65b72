"""Limits in force, from the managers' rows."""

from dataclasses import dataclass
from datetime import date
from typing import Any

from refuge.prepared import prepared
from refuge.rounds.models import Limit
from refuge.rules.limits import Overrides, limits


def overrides_on(day: date) -> Overrides:
    """The values managers set that are in force on a day: 1 query. The newest row of a scope wins."""
    newest = {(key, kind, scope_id): value for key, kind, scope_id, value in _rows(day=day) if key in limits}
    return {place: value for place, value in newest.items() if value is not None}


@prepared
def _rows(day: date) -> Any:
    rows = Limit.objects.filter(from_on__lte=day).order_by("from_on", "pk")
    return rows.values_list("key", "scope_kind", "scope_id", "value")


ORIGINS = {
    "default": "default",
    "site": "set for the site",
    "circuit": "set for this water",
    "filter": "set for this filter",
}


@dataclass(frozen=True)
class UsedLimit:
    """A limit that a task went by, in words."""

    key: str
    title: str
    said: str
    origin: str


def used_words(used: list[dict[str, Any]]) -> list[UsedLimit]:
    """The limits a task went by, as it keeps them; one that is not defined any more is left out."""
    return [
        UsedLimit(
            each["key"],
            limits[each["key"]].title,
            limits[each["key"]].said(each["value"]),
            ORIGINS[each["origin"]],
        )
        for each in used
        if each["key"] in limits
    ]
