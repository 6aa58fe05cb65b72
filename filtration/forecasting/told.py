"""What the rules may know of the stored forecasts: a few columns of the newest of each water."""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from datetime import date, timedelta
from typing import Any

from filtration.forecasting.models import WaterForecast
from refuge.prepared import prepared
from refuge.rounds.loaders import Moment, Scopes, of_waters
from refuge.rules.facts import RUNNING, CourseFacts, ForecastFacts

FORECAST_COUNTS_DAYS = 2  # an older one is no ground for the day's work


@prepared
def _forecast_rows(scopes: Scopes, since: date, until: date) -> Any:
    columns = ("sure_until", "doubt", "quantity", "limit", "chance", "width", "failure")
    told = (
        "outlook__maturing__days",
        "outlook__maturing__ladder",
        "outlook__maturing__planned_for",
        "outlook__maturing__grown",
        "outlook__courses",
        "outlook__disagreements",
    )
    rows = WaterForecast.objects.filter(lacks="", day__gte=since, day__lte=until)
    return (
        of_waters(rows, scopes)
        .order_by("circuit_id", "day")
        .values_list("circuit_id", "day", "tested_at", *told, *columns)
    )


def forecasts_of(scopes: Scopes, moment: Moment) -> dict[int, ForecastFacts]:
    """The newest forecast of each water, if it is of these days: 1 query of a few columns."""
    since = moment.today - timedelta(days=FORECAST_COUNTS_DAYS)
    found: dict[int, ForecastFacts] = {}
    for pk, day, tested_at, days, ladder, planned, grown, courses, against, *rest in _forecast_rows(
        scopes=scopes, since=since, until=moment.today
    ):
        found[pk] = ForecastFacts(
            day,
            moment.day(tested_at) if tested_at else None,
            *rest,
            is_young=days is not None,
            mature_in=days[1] if days else None,
            contradicted=tuple(each["quantity"] for each in against or ()),
            meal_shares=tuple(ladder or ()),
            planned_for=(planned[0], planned[1]) if planned else None,
            grown=grown,
            nitrate=_course(courses, "nitrate"),
            alkalinity=_course(courses, "alkalinity"),
        )
    return found


def grown_alone(
    filters: Sequence[tuple[int, int, str]], forecasts: Mapping[int, ForecastFacts]
) -> dict[int, float]:
    """How far cycling filters have grown by the forecasts of waters that no other filter cleans: it knows one bed, and
    goes by tests and meals where a curve goes by days alone.

    filters: (filter, circuit, state) of each. The share (0 to 1) of all its bacteria, by filter.
    """
    states: dict[int, set[str]] = defaultdict(set)
    for _, circuit_id, state in filters:
        if state in RUNNING:
            states[circuit_id].add(state)
    cycling = [
        (pk, forecasts.get(circuit_id))
        for pk, circuit_id, state in filters
        if state == "cycling" and states[circuit_id] == {state}
    ]
    return {pk: each.grown for pk, each in cycling if each is not None and each.grown is not None}


def _course(courses: dict[str, Any] | None, name: str) -> CourseFacts | None:
    """None in a forecast of an earlier version."""
    return CourseFacts(*courses[name]) if courses and name in courses else None
