"""What a what-if keeps in this process: waters as they were read, and what was computed from them.

Bounded in number and in time. Nothing kept is changed by anybody: facts are copied before they are, arrays too.
"""

from collections.abc import Callable
from threading import Lock
from typing import Any, TypeVar, cast

from cachetools import TTLCache

TYPING_SECONDS = 120  # for what no record tells of: limits, species, foods
COMPUTED_SECONDS = 3600
_waters: TTLCache[Any, tuple[Any, Any]] = TTLCache(maxsize=64, ttl=TYPING_SECONDS)
_computed: TTLCache[str, Any] = TTLCache(maxsize=256, ttl=COMPUTED_SECONDS)
_lock = Lock()  # the caches are not made for threads
Kept = TypeVar("Kept")


def read_while(stamp: object, place: object) -> Any:
    """What was read at a place, if it bears the same stamp; else None."""
    with _lock:
        found = _waters.get(place)
    return found[1] if found and found[0] == stamp else None


def keep_read(stamp: object, place: object, value: Kept) -> Kept:
    with _lock:
        _waters[place] = (stamp, value)
    return value


def computed(name: str, make: Callable[[], Kept]) -> Kept:
    """What was computed under this name within the hour, else made now. The name must say all that it follows from."""
    with _lock:
        found = _computed.get(name)
    if found is None:
        found = make()
        with _lock:
            _computed[name] = found
    return cast(Kept, found)


def forget() -> None:
    """Keep nothing any more: for whoever measures, and for tests."""
    with _lock:
        _waters.clear()
        _computed.clear()
