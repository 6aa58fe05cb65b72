from django.http import HttpRequest
from django.utils.functional import SimpleLazyObject

from refuge.rounds.selectors import unread_count


def notices(request: HttpRequest) -> dict[str, object]:
    """How many messages this person has not read. Counted only by a page that shows it: 1 query."""

    def count() -> int:
        user = getattr(request, "user", None)
        if user is None or not user.is_authenticated:
            return 0
        return unread_count(user)

    return {"unread_notices": SimpleLazyObject(count)}
