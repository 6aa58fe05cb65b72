"""Forecasts in the background. Each may run at any moment, twice, or on two workers at once."""

import logging
from typing import Any

from celery import shared_task
from celery.signals import worker_ready
from kombu.exceptions import OperationalError

logger = logging.getLogger(__name__)

# People enter several things in a row; and a task nobody took is no use when the clock has struck.
SECONDS_TO_GATHER, EXPIRES_S = 3, 280
MOST_BATCHES = 8
ONE_TRY = {
    "max_retries": 1,
    "interval_start": 0,
    "interval_step": 0,
}  # the wish is stored: no page waits for it


@worker_ready.connect
def prepare_soon(**kwargs: Any) -> None:
    """A worker that starts compiles the forecast, if this machine has not yet, before a page asks for it."""
    prepare.apply_async(expires=EXPIRES_S)


@shared_task
def prepare() -> None:
    """Compile what forecasts need, or do nothing. A page that asks meanwhile waits instead of compiling as well."""
    from filtration.forecasting import services

    services.prepare_forecasts()


@shared_task
def forecast_wanted() -> None:
    """Forecast the waters that something was recorded about. A repeat finds nothing to do.

    A whole site's worth is done in several tasks, none of which meets its time limit.
    """
    from filtration.forecasting import services  # heavy: the pages' own process does without

    for _ in range(MOST_BATCHES):
        if not services.forecast_wanted():
            return
    ask_soon()


def ask_soon() -> None:
    """Ask the worker for the wanted forecasts. If nobody takes the wish, the clock's next stroke does."""
    try:
        forecast_wanted.apply_async(countdown=SECONDS_TO_GATHER, expires=EXPIRES_S, retry_policy=ONE_TRY)
    except OperationalError as error:  # a record that is stored must not look refused: the broker is away
        logger.warning("the worker could not be asked for a forecast: %s", error)
