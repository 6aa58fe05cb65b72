"""What was read or not found is told at once. Imported after refuge.rounds.listeners: the plan comes first."""

import logging
from typing import Any

from django.db import DatabaseError
from django.dispatch import receiver

from refuge.events import records_changed
from refuge.people.selectors import site_today
from refuge.rounds.reminders import tell_findings

logger = logging.getLogger(__name__)


@receiver(records_changed)
def tell_at_once(scopes: frozenset[int], **kwargs: Any) -> None:
    """A record that is stored must not look refused because nobody could be told; the morning tells again."""
    try:
        tell_findings(scopes, site_today())
    except DatabaseError:
        logger.exception("nobody was told of findings in circuits %s", sorted(scopes))
