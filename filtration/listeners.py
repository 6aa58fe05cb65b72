"""The forecast listens: to records, which make it stale, and to the clock, which asks for the day's.

Drains listen to meals that are entered late, corrected or struck out: what was expected at a drain follows from them.
"""

from datetime import timedelta
from typing import Any

from django.db.models import Q
from django.db.models.signals import post_save
from django.dispatch import receiver
from django.utils import timezone

from filtration import tasks
from filtration.drains import expect_all_anew
from filtration.forecasting import wishes
from husbandry.models import Feeding
from refuge.events import clock_struck, records_changed


@receiver(records_changed)
def want_forecasts(scopes: frozenset[int], **kwargs: Any) -> None:
    wishes.want_forecasts(scopes)
    tasks.ask_soon()


@receiver(clock_struck)
def forecast_on_time(**kwargs: Any) -> None:
    """Before each plan: whatever has no forecast of today, and wishes that were left over."""
    from filtration.forecasting import services  # heavy: only the worker needs it

    services.forecast_missing()
    tasks.forecast_wanted()


# A meal this young was entered in time: no drain came after it. One that is corrected was at most so long elsewhere.
IN_TIME, MOVED_BY = timedelta(minutes=5), timedelta(days=60)


@receiver(post_save, sender=Feeding)
def expect_drains_anew(instance: Feeding, created: bool, raw: bool = False, **kwargs: Any) -> None:
    """Of the drains after the meal; of one that is there already also after the time that it may have had before."""
    if raw or (created and timezone.now() - instance.at < IN_TIME):
        return
    after = instance.at if created else instance.at - MOVED_BY
    expect_all_anew(Q(filter__circuit=instance.circuit_id), after)
