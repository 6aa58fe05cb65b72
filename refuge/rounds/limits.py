"""Limits in force, from the managers' rows."""

from datetime import date

from refuge.rounds.models import Limit
from refuge.rules.limits import Overrides, limits


def overrides_on(day: date) -> Overrides:
    """The values managers set that are in force on a day: 1 query. The newest row of a scope wins."""
    rows = (
        Limit.objects.filter(from_on__lte=day)
        .order_by("from_on", "pk")
        .values_list("key", "scope_kind", "scope_id", "value")
    )
    newest = {(key, kind, scope_id): value for key, kind, scope_id, value in rows if key in limits}
    return {place: value for place, value in newest.items() if value is not None}
