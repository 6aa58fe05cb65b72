"""The planner listens to what services announce."""

from typing import Any

from django.dispatch import receiver

from refuge.events import records_changed
from refuge.rounds.planner import plan_scopes


@receiver(records_changed)
def replan(scopes: frozenset[int], **kwargs: Any) -> None:
    plan_scopes(scopes)
