"""The one signal by which services say what changed. The planner listens; services know nothing of it."""

from collections.abc import Iterable
from functools import partial

from django.db import transaction
from django.dispatch import Signal

# Arguments: scopes: frozenset[int], the circuits whose facts have changed.
records_changed = Signal()

# Sent by the worker every few minutes, before it looks whether the day is to be planned: what plans go by
# can be computed then. A receiver that fails keeps nobody else from the plan.
clock_struck = Signal()


def announce(scopes: Iterable[int | None]) -> None:
    """Tell listeners, once the transaction is committed, that facts of these circuits changed.

    Several announcements in one transaction are several calls: the planner is idempotent, so that costs
    time but changes nothing.
    """
    known = frozenset(scope for scope in scopes if scope is not None)
    if known:
        transaction.on_commit(partial(records_changed.send, sender=None, scopes=known))
