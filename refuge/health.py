"""Whether this process can do its work, for a supervisor that asks: the database answers, the broker answers."""

import logging
from collections.abc import Callable

from django.db import connection
from django.http import HttpRequest, JsonResponse
from django.views.decorators.cache import never_cache
from django.views.decorators.http import require_safe

from refuge.celery import app

logger = logging.getLogger(__name__)


@never_cache
@require_safe
def healthz(request: HttpRequest) -> JsonResponse:
    """200 when all is well, else 503; names the part that does not answer, and no more than that."""
    parts = {"database": _answers(_ask_database), "broker": _answers(_ask_broker)}
    return JsonResponse(
        {name: "ok" if well else "no answer" for name, well in parts.items()},
        status=200 if all(parts.values()) else 503,
    )


def _answers(ask: Callable[[], None]) -> bool:
    try:
        ask()
    except Exception:  # whatever is wrong, the answer is the same; the log has the rest
        logger.exception("health check failed")
        return False
    return True


def _ask_database() -> None:
    with connection.cursor() as cursor:
        cursor.execute("SELECT 1")


def _ask_broker() -> None:
    with app.connection_for_write(connect_timeout=2) as broker:
        broker.ensure_connection(max_retries=1, interval_start=1, timeout=2)
