"""Parts of the page on which a refuge is set up: each app registers what is to be entered, and what is missing."""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field


@dataclass(frozen=True, slots=True)
class Row:
    """One thing that exists, with the page on which it is changed."""

    label: str
    detail: str
    url: str


@dataclass(frozen=True, slots=True)
class Gap:
    """Something the planner cannot do yet, and where it is put right."""

    words: str
    url: str


@dataclass(frozen=True, slots=True)
class SitePart:
    """One kind of thing: how many there are, how to add one, and what is missing about them.

    rows: the things themselves where they have no list page of their own. needed: why planning needs one.
    """

    title: str
    icon: str
    count: int
    new_url: str
    needed: str = ""
    list_url: str = ""
    text: str = ""
    rows: Sequence[Row] = field(default_factory=tuple)
    gaps: Sequence[Gap] = field(default_factory=tuple)

    @property
    def is_missing(self) -> bool:
        return bool(self.needed) and self.count == 0


GAPS_SHOWN = 10


def shortened(gaps: Sequence[Gap], words: str, url: str) -> list[Gap]:
    """The first few gaps of one kind, and how many more there are: 'And 12 more animals were never weighed'."""
    more = len(gaps) - GAPS_SHOWN
    return [*gaps[:GAPS_SHOWN], *([Gap(f"And {more} more {words}", url)] if more > 0 else [])]


Tell = Callable[[], SitePart]
_parts: list[tuple[int, Tell]] = []


def site_part(order: int) -> Callable[[Tell], Tell]:
    """Register a part of the set-up page; they are filled in from the lowest order up."""

    def add(tell: Tell) -> Tell:
        _parts.append((order, tell))
        return tell

    return add


def site_parts() -> list[SitePart]:
    """All parts in order. A fixed number of queries."""
    return [tell() for _, tell in sorted(_parts, key=lambda part: part[0])]
