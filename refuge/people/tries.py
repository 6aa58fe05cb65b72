"""Slows down whoever guesses passwords: five wrong ones for a name from an address, then a quarter of an hour.

Counted in Django's cache, so each web process counts for itself unless they share one.
"""

from hashlib import sha256

from django.conf import settings
from django.core.cache import cache
from django.http import HttpRequest

ALLOWED = 5
WINDOW_S = 15 * 60


def tries_key(request: HttpRequest, username: str) -> str:
    """Under what the failures of this name from this address are counted."""
    who = f"{username.strip().lower()}\n{asking_address(request)}"
    return f"sign-in-tries-{sha256(who.encode()).hexdigest()}"


def asking_address(request: HttpRequest) -> str:
    """Who asks. Behind a proxy that is trusted, what the proxy itself added last."""
    if settings.ENVIRONMENT.trust_proxy:
        added = request.headers.get("X-Forwarded-For", "").rpartition(",")[2].strip()
        if added:
            return added
    return str(request.META.get("REMOTE_ADDR", ""))


def tries_spent(key: str) -> bool:
    """Whether no further try is heard until the window ends."""
    return int(cache.get(key, 0)) >= ALLOWED


def count_failure(key: str) -> None:
    """One more wrong password; the window runs from the first."""
    cache.add(key, 0, WINDOW_S)
    try:
        cache.incr(key)
    except ValueError:  # the window ended between the two lines
        cache.set(key, 1, WINDOW_S)


def forget_failures(key: str) -> None:
    """The right password came."""
    cache.delete(key)
