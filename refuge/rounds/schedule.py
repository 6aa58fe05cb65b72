"""When the day's plan is made and when the morning messages go: plain sums on the site's own wall clock.

Wall-clock times become instants as RFC 5545 section 3.3.5 reads them: a time that occurs twice, when clocks
go back, is its first occurrence; a time that does not occur, when clocks go forward, counts as if they had
not (02:30 is then 03:30). Instants are compared in UTC and windows are half open, [from, to).
"""

from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta, tzinfo

PLAN_LEAD = timedelta(hours=1)  # the plan stands this long before anybody is told of it
TELLING_ENDS = timedelta(hours=12)  # a site that was off in the morning tells people late, up to this


@dataclass(frozen=True, slots=True)
class SiteClock:
    """The refuge's time zone, and the time at which its day starts."""

    zone: tzinfo
    morning_at: time

    def local_day(self, now: datetime) -> date:
        """The date on the site's wall at the instant `now` (aware)."""
        return now.astimezone(self.zone).date()

    def day_starts(self, day: date) -> datetime:
        """The instant, in UTC, at which `day` begins at the site."""
        return self._instant(day, time(0))

    def morning(self, day: date) -> datetime:
        """The instant, in UTC, at which people are told of the work of `day`."""
        return self._instant(day, self.morning_at)

    def plan_from(self, day: date) -> datetime:
        """From when `day` is to be planned: an hour before its morning, but never on the day before."""
        return max(self.day_starts(day), self.morning(day) - PLAN_LEAD)

    def telling(self, day: date) -> tuple[datetime, datetime]:
        """The window, in UTC, in which the morning messages of `day` may go."""
        start = self.morning(day)
        return start, start + TELLING_ENDS

    def plan_due(self, last: date | None, now: datetime) -> date | None:
        """The day to plan at `now` when `last` was the latest day planned; None when nothing is due.

        Days that went by while the site was off are not planned afterwards: only today counts.
        """
        today = self.local_day(now)
        return today if _is_later(today, last) and now >= self.plan_from(today) else None

    def telling_due(self, last: date | None, now: datetime) -> date | None:
        """The day to tell people about at `now` when `last` was the latest they were told of, or None.

        A site that slept through the morning catches up once; after the window the day is left out. Where the
        day starts late, its window reaches past midnight, so yesterday is looked at as well.
        """
        today = self.local_day(now)
        for day in (today, today - timedelta(days=1)):
            start, end = self.telling(day)
            if start <= now < end:
                return day if _is_later(day, last) else None
        return None

    def _instant(self, day: date, at: time) -> datetime:
        return datetime.combine(day, at.replace(fold=0), tzinfo=self.zone).astimezone(UTC)


def _is_later(day: date, last: date | None) -> bool:
    """Clocks that go back at midnight show yesterday again; what was done for today is not done anew then."""
    return last is None or day > last
