"""Wall-clock times that a clock change skips or repeats, against the examples printed in RFC 5545."""

from datetime import UTC, date, datetime, time
from zoneinfo import ZoneInfo

import pytest

from refuge.rounds.schedule import SiteClock


@pytest.mark.parametrize(
    ("day", "at", "offset_hours_west", "shown"),
    [
        # "TZID=America/New_York:20071104T013000 indicates November 4, 2007 at 1:30 A.M. EDT (UTC-04:00)"
        (date(2007, 11, 4), time(1, 30), 4, time(1, 30)),
        # "TZID=America/New_York:20070311T023000 indicates March 11, 2007 at 3:30 A.M. EDT (UTC-04:00)"
        (date(2007, 3, 11), time(2, 30), 4, time(3, 30)),
        # Form #3 of the same section: 2:00 A.M. in New York on January 19, 1998, which is EST (UTC-05:00)
        (date(1998, 1, 19), time(2, 0), 5, time(2, 0)),
    ],
)
def test_rfc_5545_section_3_3_5_form_3(day, at, offset_hours_west, shown):
    expected = datetime(
        day.year, day.month, day.day, shown.hour + offset_hours_west, shown.minute, tzinfo=UTC
    )
    assert SiteClock(ZoneInfo("America/New_York"), at).morning(day) == expected
