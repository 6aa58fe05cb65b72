"""The one signal by which services say what changed. The planner listens; services know nothing of it."""

import logging
from collections.abc import Iterable
from functools import partial

from django.db import transaction
from django.dispatch import Signal

# Arguments: scopes: frozenset[int], the circuits whose facts have changed.
records_changed = Signal()

# Sent by the worker every few minutes, before it looks whether the day is to be planned: what plans go by
# can be computed then. A receiver that fails keeps nobody else from the plan.
clock_struck = Signal()


logger = logging.getLogger(__name__)


def announce(scopes: Iterable[int | None]) -> None:
    """Tell listeners, once the transaction is committed, that facts of these circuits changed.

    Several announcements in one transaction are several calls: the planner is idempotent, so that costs
    time but changes nothing. What is stored by then must not look refused: a listener that fails is written to the
    log and keeps nobody else from being told.
    """
    known = frozenset(scope for scope in scopes if scope is not None)
    if known:
        transaction.on_commit(partial(_tell, known))


def _tell(scopes: frozenset[int]) -> None:
    for receiver, answer in records_changed.send_robust(sender=None, scopes=scopes):
        if isinstance(answer, Exception):  # the signal itself has logged where it failed
            logger.error("%s failed for circuits %s: %r", receiver, sorted(scopes), answer)
