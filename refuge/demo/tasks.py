"""What the demo refuge's worker does besides: the forecasts that it would have made in the weeks before."""

from datetime import timedelta
from typing import Any

from celery import shared_task
from celery.signals import worker_ready

# Every second day of four weeks: enough to score, in some seconds.
DAYS_BACK, EVERY_DAYS = 28, 2
EXPIRES_S = 280


@worker_ready.connect
def recall_soon(**kwargs: Any) -> None:
    recall_forecasts.apply_async(expires=EXPIRES_S)


@shared_task
def recall_forecasts(days_ago: int = DAYS_BACK) -> None:
    """The forecasts of one past day from what was recorded before it, then those of the next; once, and only here.

    Days follow each other as tasks of their own, so that what somebody has just recorded does not wait for all.
    """
    from enclosures.models import Circuit
    from filtration.forecasting.models import WaterForecast
    from filtration.forecasting.services import forecast_waters
    from refuge.demo.place import REFUGE_NAME
    from refuge.people.selectors import the_refuge
    from refuge.rounds.planner import moment_for

    refuge, today = the_refuge(), moment_for()
    if refuge is None or refuge.name != REFUGE_NAME or days_ago <= 0:
        return
    moment = moment_for(today.now - timedelta(days=days_ago))
    days = {"day__lt": today.today} if days_ago == DAYS_BACK else {"day": moment.today}
    if not WaterForecast.objects.filter(**days).exists():
        forecast_waters(Circuit.objects.values_list("pk", flat=True), moment=moment, keeps_starts=False)
        recall_forecasts.delay(days_ago - EVERY_DAYS)
