"""The forecast listens: to records, which make it stale, and to the clock, which asks for the day's."""

from typing import Any

from django.dispatch import receiver

from filtration import tasks
from filtration.forecasting import wishes
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
