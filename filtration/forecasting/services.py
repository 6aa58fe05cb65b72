"""Writes of forecasts: made for some waters or for all, one stored row a water and day.

Each water is on its own: one that fails keeps the others from nothing, and its failure is stored, so that the
rule of the forecast can say so to the manager.
"""

import logging
import time
from collections.abc import Iterable, Iterator
from datetime import date, datetime, timedelta
from typing import Any

from enclosures.models import Circuit
from filtration.forecasting.gather import Gathered, NotForecast, gather
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.outcome import outcome_of, sure_until, tested_at
from filtration.forecasting.packing import packed
from filtration.forecasting.wishes import take_wishes
from refuge.rounds.loaders import Moment
from refuge.rounds.planner import moment_for, plan_scopes

logger = logging.getLogger(__name__)

AT_ONCE = 25  # waters gathered together
KEPT_DAYS = 400
# A worker's tasks end after nine minutes: what does not fit is done at the next stroke of the clock.
BUDGET_S = 240.0
DOUBTS = {
    "may pass": "may_pass",
    "will pass": "will_pass",
    "too vague": "too_vague",
    "longest interval": "longest",
}


def forecast_waters(circuits: Iterable[int], *, moment: Moment | None = None) -> int:
    """Make and store the forecasts of these waters, as of now; how many were dealt with within the time there is."""
    moment, started, done = moment or moment_for(), time.monotonic(), 0
    for some in _in_parts(list(circuits)):
        for pk, gathered in gather(some, moment).items():
            _keep(pk, moment, _values(gathered, moment))
            done += 1
        if time.monotonic() - started > BUDGET_S:
            logger.warning("forecasts take long: the rest waits for the next stroke of the clock")
            break
    return done


def forecast_missing(*, moment: Moment | None = None) -> int:
    """Forecast every water that has none of today yet, and forget those of more than a year ago.

    The day's plan comes soon after. A water that never had a forecast is planned by it at once.
    """
    moment = moment or moment_for()
    made = WaterForecast.objects.filter(day=moment.today).values("circuit_id")
    missing = list(Circuit.objects.exclude(pk__in=made).order_by("pk").values_list("pk", flat=True))
    if not missing:  # at nearly every stroke of the clock
        return 0
    rows = WaterForecast.objects.filter(circuit__in=missing).order_by()
    known = set(rows.values_list("circuit_id", flat=True).distinct())
    done = forecast_waters(missing, moment=moment)
    new = [pk for pk in missing if pk not in known]
    if new:
        plan_scopes(new, now=moment.now)
    WaterForecast.objects.filter(day__lt=moment.today - timedelta(days=KEPT_DAYS)).delete()
    return done


def forecast_wanted() -> list[int]:
    """Forecast anew the waters about which something was recorded, and plan their work by it.

    A wish is taken before the records are read, so a record that comes in meanwhile is a new wish.
    """
    wanted = take_wishes(AT_ONCE)
    if wanted:
        forecast_waters(wanted)
        plan_scopes(wanted)
    return wanted


def _in_parts(circuits: list[int]) -> Iterator[list[int]]:
    for start in range(0, len(circuits), AT_ONCE):
        yield circuits[start : start + AT_ONCE]


def _values(gathered: Gathered | NotForecast, moment: Moment) -> dict[str, Any]:
    """The columns of one water's row, whatever became of it."""
    if isinstance(gathered, NotForecast):
        return {"start_at": moment.now, "lacks": gathered.lacks}
    try:
        return _made(gathered, moment.today)
    except Exception as error:  # one water's trouble must not hide the others' forecasts
        logger.exception("the forecast of circuit %s failed", gathered.circuit_id)
        return {"start_at": gathered.now, "failure": f"{type(error).__name__}: {error}"[:300]}


def _made(gathered: Gathered, today: date) -> dict[str, Any]:
    outcome = outcome_of(gathered)
    test = outcome.next_test
    limit = next((each for each in outcome.forecast.limits if each.quantity == test.quantity), None)
    return {
        "start_at": gathered.now,
        "tested_at": tested_at(gathered),
        "sure_until": sure_until(today, test),
        "doubt": DOUBTS[test.kind],
        "quantity": test.quantity,
        "limit": limit.value if limit else None,
        "chance": test.chance,
        "width": test.width,
        "bands": packed(outcome.forecast),
        "helped_bands": packed(outcome.helped) if outcome.helped else b"",
        "outlook": outcome.outlook,
    }


EMPTY: dict[str, Any] = {
    "tested_at": None,
    "sure_until": None,
    "doubt": "",
    "quantity": "",
    "limit": None,
    "chance": 0.0,
    "width": 0.0,
    "bands": b"",
    "helped_bands": b"",
    "outlook": {},
    "lacks": "",
    "failure": "",
}


def _keep(pk: int, moment: Moment, values: dict[str, Any]) -> None:
    """One row a water and day: a later run of that day replaces it."""
    made_at: datetime = moment.now
    WaterForecast.objects.update_or_create(
        circuit_id=pk, day=moment.today, defaults={**EMPTY, "made_at": made_at, **values}
    )
