"""Where facts come from: each app fills in what it knows, in the order of the apps."""

from collections.abc import Callable, Iterable
from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django.db.models import QuerySet

from refuge.rules.facts import Facts
from refuge.rules.limits import LimitsFor, Overrides

Scopes = frozenset[int] | None  # circuits to plan for; None means all


@dataclass(frozen=True)
class Moment:
    """The moment a plan is made for. Facts come from what happened before `now`."""

    now: datetime
    today: date
    zone: ZoneInfo
    overrides: Overrides = field(default_factory=dict)
    elevation_m: float = 0.0  # of the site
    founded_on: date | None = None  # the refuge here: nothing was due before

    def day(self, at: datetime) -> date:
        """The refuge's local day of an instant."""
        return at.astimezone(self.zone).date()

    def days_ago(self, at: datetime) -> float:
        """Days between an instant and now, as a fraction; never negative."""
        return max((self.now - at) / timedelta(days=1), 0.0)

    def limits(self, circuit_id: int | None = None, filter_id: int | None = None) -> LimitsFor:
        """Limits in force for a subject, for facts that need one to be computed."""
        return LimitsFor(self.overrides, circuit_id=circuit_id, filter_id=filter_id)


def of_waters(
    rows: QuerySet[Any, Any], scopes: Iterable[int] | None, water: str = "circuit"
) -> QuerySet[Any, Any]:
    """The rows of these waters, or all of them; `water`: the name by which a row knows its water."""
    # By the water's own key: a foreign key would have to see the values, which a prepared query does not show.
    return rows if scopes is None else rows.filter(**{f"{water}__pk__in": scopes})


Loader = Callable[[Facts, Scopes, Moment], None]

ORDER = ("enclosures", "husbandry", "filtration")  # inner app first: the next may use what it filled in
_loaders: dict[str, Loader] = {}


def loader(app: str) -> Callable[[Loader], Loader]:
    """Register the function that fills in an app's facts. Raises ValueError for an app registered twice."""

    def add(function: Loader) -> Loader:
        if app in _loaders:
            raise ValueError(f"app {app!r} has two fact loaders")
        _loaders[app] = function
        return function

    return add


def load_facts(scopes: Scopes, moment: Moment) -> Facts:
    """Facts of all subjects of these circuits: a fixed number of queries, whatever the size of the site."""
    facts = Facts()
    for app in sorted(_loaders, key=lambda name: ORDER.index(name) if name in ORDER else len(ORDER)):
        _loaders[app](facts, scopes, moment)
    return facts
