"""Writes of forecasts: made for some waters or for all, one stored row a water and day, and where the next may begin.

Each water is on its own: one that fails keeps the others from nothing, and its failure is stored, so that the
rule of the forecast can say so to the manager. The sums of two waters run at once, on threads: the compiled step lets
others work meanwhile. Only the calling thread reads and writes.
"""

import logging
import time
from collections.abc import Iterable, Iterator
from concurrent.futures import Future, ThreadPoolExecutor
from dataclasses import dataclass
from datetime import date, timedelta
from typing import Any

from django.conf import settings
from django.db import transaction

from enclosures.models import Circuit
from filtration.forecast import keep_compiled_in, prepare
from filtration.forecasting.gather import Gathered, NotForecast, gather
from filtration.forecasting.models import ForecastStart, WaterForecast
from filtration.forecasting.outcome import Outcome, outcome_of, sure_until, tested_at
from filtration.forecasting.packing import packed
from filtration.forecasting.run import assimilated
from filtration.forecasting.starts import row_of, starts_of, usable
from filtration.forecasting.wishes import fulfil, wishes
from refuge.rounds.loaders import Moment
from refuge.rounds.planner import moment_for, plan_scopes

logger = logging.getLogger(__name__)

AT_ONCE = 25  # waters gathered, and stored, together
THREADS = 2  # a refuge's machine has two cores or more; the main thread mostly waits for the database
KEPT_DAYS = 400
# A worker's tasks end after nine minutes: what does not fit is done at the next stroke of the clock.
BUDGET_S = 240.0
DOUBTS = {
    "may pass": "may_pass",
    "will pass": "will_pass",
    "too vague": "too_vague",
    "longest interval": "longest",
}


@dataclass(frozen=True, eq=False)
class Made:
    """One water's row, as columns, and where its next forecast may begin, if that is not kept yet."""

    circuit_id: int
    values: dict[str, Any]
    start: ForecastStart | None = None


def forecast_waters(
    circuits: Iterable[int], *, moment: Moment | None = None, keeps_starts: bool = True
) -> int:
    """Make and store the forecasts of these waters, as of now; how many were dealt with within the time there is.

    keeps_starts: False for a day gone by, so that today's forecast finds its own start again.
    """
    moment, started, done = moment or moment_for(), time.monotonic(), 0
    prepare_forecasts()  # not on two threads at once
    with ThreadPoolExecutor(THREADS) as pool:
        waiting: list[Future[Made]] = []
        for some in _in_parts(list(circuits)):
            asked = _asked(pool, some, moment)  # while these are read, the ones before are computed
            done += _store(waiting, moment, keeps_starts)
            waiting = asked
            if time.monotonic() - started > BUDGET_S:
                logger.warning("forecasts take long: the rest waits for the next stroke of the clock")
                break
        return done + _store(waiting, moment, keeps_starts)


def prepare_forecasts() -> None:
    """Compile the step, or load what was compiled: once for this machine, some seconds."""
    keep_compiled_in(settings.DATA_DIR / "compiled")
    prepare()


def _asked(pool: ThreadPoolExecutor, circuits: list[int], moment: Moment) -> list[Future[Made]]:
    """Read what these waters need, and have them computed."""
    found, starts = _gathered(circuits, moment), starts_of(circuits)
    return [pool.submit(_made, pk, water, starts.get(pk), moment) for pk, water in found.items()]


def _gathered(circuits: list[int], moment: Moment) -> dict[int, Gathered | NotForecast | Exception]:
    """These waters together; where that fails, each alone, so that the one that cannot be read hides no other."""
    try:
        return dict(gather(circuits, moment))
    except Exception as error:
        if len(circuits) == 1:
            logger.exception("circuit %s cannot be made ready for its forecast", circuits[0])
            return {circuits[0]: error}
    return {pk: water for each in circuits for pk, water in _gathered([each], moment).items()}


def _store(waiting: Iterable[Future[Made]], moment: Moment, keeps_starts: bool) -> int:
    """Keep what was made, as it is ready: one row a water and day, a later run of that day replaces it."""
    made = [each.result() for each in waiting]
    rows = [
        WaterForecast(
            circuit_id=each.circuit_id, day=moment.today, **(EMPTY | {"made_at": moment.now} | each.values)
        )
        for each in made
    ]
    with transaction.atomic():
        WaterForecast.objects.bulk_create(
            rows,
            update_conflicts=True,
            unique_fields=["circuit", "day"],
            update_fields=["made_at", "start_at", *EMPTY],
        )
        ForecastStart.objects.bulk_create(
            [each.start for each in made if each.start and keeps_starts],
            update_conflicts=True,
            unique_fields=["circuit"],
            update_fields=["taken", "digest", "draws", "members", "disagreements"],
        )
    return len(made)


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

    A wish goes when its forecast is stored and planned by: a worker that ends before leaves it to the next. A record
    that comes in meanwhile makes it a newer wish, which stays.
    """
    wanted = wishes(AT_ONCE)
    if wanted:
        forecast_waters(wanted)
        plan_scopes(list(wanted))
        fulfil(wanted)
    return list(wanted)


def _in_parts(circuits: list[int]) -> Iterator[list[int]]:
    for start in range(0, len(circuits), AT_ONCE):
        yield circuits[start : start + AT_ONCE]


def _made(
    pk: int, water: Gathered | NotForecast | Exception, kept: ForecastStart | None, moment: Moment
) -> Made:
    """The columns of one water's row, whatever became of it. No query: it runs on a thread."""
    if isinstance(water, NotForecast):
        return Made(pk, {"start_at": moment.now, "lacks": water.lacks})
    if isinstance(water, Exception):
        return Made(pk, {"start_at": moment.now, "failure": _words(water)})
    try:
        return _forecast(water, kept, moment.today)
    except Exception as error:  # one water's trouble must not hide the others' forecasts
        logger.exception("the forecast of circuit %s failed", pk)
        return Made(pk, {"start_at": water.now, "failure": _words(error)})


def _words(error: Exception) -> str:
    return f"{type(error).__name__}: {error}"[:300]


def _forecast(gathered: Gathered, kept: ForecastStart | None, today: date) -> Made:
    taken = assimilated(gathered, usable(gathered, kept))
    values = _columns(gathered, outcome_of(gathered, taken), today)
    start = row_of(gathered, taken.start) if taken.start else None
    is_new = start is not None and (kept is None or kept.digest != start.digest)
    return Made(gathered.circuit_id, values, start if is_new else None)


def _columns(gathered: Gathered, outcome: Outcome, today: date) -> dict[str, Any]:
    test = outcome.next_test
    return {
        "start_at": gathered.now,
        "tested_at": tested_at(gathered),
        "sure_until": sure_until(today, test),
        "doubt": DOUBTS[test.kind],
        "quantity": test.quantity,
        "limit": test.limit.value if test.limit else None,
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
