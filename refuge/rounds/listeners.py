"""The planner listens to what services announce."""

from typing import Any

from django.dispatch import receiver

from refuge.events import records_changed
from refuge.rounds.digest import Words
from refuge.rounds.planner import plan_scopes
from refuge.rounds.reminders import tell_trouble

NOT_REPLANNED = Words(
    "A water could not be planned anew after a record",
    "What was entered is stored, but the work that follows from it could not be planned: lists may still show what "
    "was due before. The plan of the night tries again. The log of the web server says what went wrong.",
)


@receiver(records_changed)
def replan(scopes: frozenset[int], **kwargs: Any) -> None:
    """Plan these waters anew. What fails goes to the log by whoever told of the change, and managers learn of it."""
    try:
        plan_scopes(scopes)
    except Exception:
        tell_trouble(NOT_REPLANNED, about="replan")
        raise
