"""What the clock asks for. Each may run at any moment, twice, or on two workers at once."""

import logging
from typing import Any

from celery import shared_task
from celery.signals import worker_ready
from django.utils import timezone

from refuge.events import clock_struck
from refuge.rounds import delivery, reminders
from refuge.rounds.digest import Words

logger = logging.getLogger(__name__)

TICK_EXPIRES_S = 290

NO_PLAN = Words(
    "Today’s plan could not be made",
    "The plan of the day could not be made. Lists show what was planned before; it is tried again every few "
    "minutes. The log of the worker says what went wrong.",
)


@shared_task
def tick() -> None:
    """Plan the day and tell people of it when their hours have come, then send what waits."""
    for receiver, answer in clock_struck.send_robust(sender=None):
        if isinstance(answer, Exception):
            logger.error("%s failed before the plan", receiver, exc_info=answer)
    now = timezone.now()
    try:
        reminders.plan_when_due(now)
    except Exception:  # people are told of the work that stands all the same
        logger.exception("the plan of the day could not be made")
        reminders.tell_trouble(NO_PLAN, about="plan")
    reminders.tell_when_due(now)
    delivery.send_waiting()


@shared_task
def send_waiting() -> None:
    """Send the letters that wait. At most once each; see refuge.rounds.delivery."""
    delivery.send_waiting()


@worker_ready.connect
def catch_up(**kwargs: Any) -> None:
    """A site that was off does not wait for the clock's next stroke."""
    tick.apply_async(expires=TICK_EXPIRES_S)
