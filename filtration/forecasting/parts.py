"""What is lost of the whole when filters of one water lose some of theirs, one after the other. Shares 0 to 1.

The forecast knows one bed. Two of two filters that keep 30 % each leave 30 % of the whole, not 0.65 times 0.65 of it:
so who has lost something counts for less at the next loss. (The bed as a sum of beds: arithmetic.)
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime, timedelta

# Days over which a film that lost more than those beside it catches up with them. Assumption: after a month a new
# filter has begun to work at 20 C, and most of what is left grows faster than that; see filtration.nitrification.
FILM_DAYS = 14.0


@dataclass
class Parts:
    """What each filter has left of what it would hold, by filter, and as of when.

    days: over which that is made up for; what lies in a void is not, within the weeks of a window.
    """

    days: float = math.inf
    _left: dict[int, tuple[datetime, float]] = field(default_factory=dict)

    def kept(self, shares: Mapping[int, float], filter_id: int, left: float, at: datetime) -> float:
        """Share of the whole that is left when one filter keeps `left` of its own; losses in the order of time.

        shares: of the media area, by filter.
        """
        holds = {pk: share * self._now(pk, at) for pk, share in shares.items()}
        whole = sum(holds.values())
        self._left[filter_id] = at, self._now(filter_id, at) * left
        return 1 - holds.get(filter_id, 0.0) / whole * (1 - left) if whole > 0 else 1.0

    def _now(self, filter_id: int, at: datetime) -> float:
        since, left = self._left.get(filter_id, (at, 1.0))
        return 1 - (1 - left) * math.exp(-((at - since) / timedelta(days=1)) / self.days)
