"""Days of the story, counted from today, so that the demo is as fresh on any day it is loaded."""

import calendar
from dataclasses import dataclass
from datetime import date, timedelta

HISTORY_DAYS = 548  # eighteen months


@dataclass(frozen=True, slots=True)
class Daybook:
    """The story's days: from `first` to `last`, which is yesterday."""

    today: date
    history_days: int = HISTORY_DAYS

    @property
    def first(self) -> date:
        return self.day(-self.history_days)

    @property
    def last(self) -> date:
        return self.day(-1)

    def day(self, offset: int) -> date:
        """The day `offset` days from today; the past is negative."""
        return self.today + timedelta(days=offset)

    def days(self) -> list[date]:
        """All days of the story, in order."""
        return [self.day(offset) for offset in range(-self.history_days, 0)]

    def latest(self, month: int, day: int, at_least_ago: int = 30) -> date:
        """The last time the calendar showed this day, not more recent than `at_least_ago` days."""
        before = self.day(-at_least_ago)
        found = _on(before.year, month, day)
        return found if found <= before else _on(before.year - 1, month, day)


def _on(year: int, month: int, day: int) -> date:
    return date(year, month, min(day, calendar.monthrange(year, month)[1]))
