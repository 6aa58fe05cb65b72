"""When the plan is made and people are told: tables for both clock changes, and a walk minute by minute."""

import subprocess
import sys
from datetime import UTC, date, datetime, time, timedelta
from functools import cache
from zoneinfo import ZoneInfo

import pytest
from dateutil import tz as dateutil_tz
from hypothesis import example, given, settings
from hypothesis import strategies as st

from refuge.rounds.schedule import SiteClock

# Clock changes of many kinds: an hour, half an hour, at midnight (the first or the last minute of a day), none.
ZONES = [
    "Europe/Lisbon",
    "America/New_York",
    "Australia/Lord_Howe",
    "America/Santiago",
    "America/Havana",
    "Africa/Cairo",
    "Asia/Kathmandu",
    "Pacific/Kiritimati",
    "UTC",
]
MORNINGS = [time(0), time(0, 30), time(1, 30), time(2, 0), time(2, 30), time(7, 0), time(20, 0), time(23, 59)]


def clock(zone: str, morning: time = time(7)) -> SiteClock:
    return SiteClock(ZoneInfo(zone), morning)


def utc(text: str) -> datetime:
    return datetime.fromisoformat(text).replace(tzinfo=UTC)


class TestMorning:
    @pytest.mark.parametrize(
        ("zone", "at", "day", "expected"),
        [
            # Clocks go forward 01:00 to 02:00 WEST on 28 March 2027: 01:30 does not occur.
            ("Europe/Lisbon", time(1, 30), "2027-03-28", "2027-03-28T01:30"),
            ("Europe/Lisbon", time(7, 0), "2027-03-27", "2027-03-27T07:00"),
            ("Europe/Lisbon", time(7, 0), "2027-03-28", "2027-03-28T06:00"),
            # Clocks go back 02:00 to 01:00 WET on 31 October 2027: 01:30 occurs twice.
            ("Europe/Lisbon", time(1, 30), "2027-10-31", "2027-10-31T00:30"),
            ("Europe/Lisbon", time(7, 0), "2027-10-31", "2027-10-31T07:00"),
            ("America/New_York", time(2, 30), "2027-03-14", "2027-03-14T07:30"),
            ("America/New_York", time(1, 30), "2027-11-07", "2027-11-07T05:30"),
            # Lord Howe moves by half an hour: 02:00 to 02:30 on 3 October, 02:00 to 01:30 on 4 April 2027.
            ("Australia/Lord_Howe", time(2, 15), "2027-10-03", "2027-10-02T15:45"),
            ("Australia/Lord_Howe", time(1, 45), "2027-04-04", "2027-04-03T14:45"),
            ("Australia/Lord_Howe", time(7, 0), "2027-10-03", "2027-10-02T20:00"),
            ("Australia/Lord_Howe", time(7, 0), "2027-04-04", "2027-04-03T20:30"),
            # Havana has no 00:00 to 00:59 on 14 March 2027, and has it twice on 7 November.
            ("America/Havana", time(0, 30), "2027-03-14", "2027-03-14T05:30"),
            ("America/Havana", time(0, 30), "2027-11-07", "2027-11-07T04:30"),
        ],
    )
    def test_both_clock_changes(self, zone, at, day, expected):
        assert clock(zone, at).morning(date.fromisoformat(day)) == utc(expected)

    @given(
        zone=st.sampled_from(ZONES),
        at=st.times().map(lambda at: at.replace(second=0, microsecond=0)),
        day=st.dates(date(2007, 1, 1), date(2035, 12, 30)),
    )
    @example(zone="America/New_York", at=time(2, 30), day=date(2027, 3, 14))
    @example(zone="Australia/Lord_Howe", at=time(2, 15), day=date(2027, 10, 3))
    @example(zone="America/Havana", at=time(0, 0), day=date(2027, 3, 14))
    def test_agrees_with_another_library(self, zone, at, day):
        theirs = datetime.combine(day, at, tzinfo=dateutil_tz.gettz(zone))
        assert clock(zone, at).morning(day) == dateutil_tz.resolve_imaginary(theirs).astimezone(UTC)


class TestPlanFrom:
    @pytest.mark.parametrize(
        ("zone", "at", "day", "expected"),
        [
            ("UTC", time(7), "2027-06-01", "2027-06-01T06:00"),
            ("UTC", time(0, 30), "2027-06-01", "2027-06-01T00:00"),
            ("UTC", time(0), "2027-06-01", "2027-06-01T00:00"),
            # An hour is sixty minutes, also in the night that has no 02:00 to 02:59.
            ("America/New_York", time(3, 30), "2027-03-14", "2027-03-14T06:30"),
            ("America/New_York", time(2, 0), "2027-11-07", "2027-11-07T06:00"),
        ],
    )
    def test_an_hour_before_the_morning_and_on_the_day_itself(self, zone, at, day, expected):
        assert clock(zone, at).plan_from(date.fromisoformat(day)) == utc(expected)

    @pytest.mark.parametrize("zone", ZONES)
    @pytest.mark.parametrize("at", MORNINGS[:3])
    def test_the_plan_is_never_later_than_the_morning(self, zone, at):
        site = clock(zone, at)
        for number in range(366):
            day = date(2027, 1, 1) + timedelta(days=number)
            assert site.day_starts(day) <= site.plan_from(day) <= site.morning(day)


class TestTelling:
    def test_a_day_that_starts_late_is_told_of_past_midnight(self):
        site, day = clock("UTC", time(23, 59)), date(2027, 6, 1)
        assert site.telling_due(None, utc("2027-06-02T00:02")) == day
        assert site.telling_due(day, utc("2027-06-02T00:07")) is None
        assert site.telling_due(None, utc("2027-06-02T11:59")) is None

    def test_twelve_hours_are_twelve_also_when_clocks_change(self):
        start, end = clock("Europe/Lisbon", time(0, 30)).telling(date(2027, 3, 28))
        assert (start, end) == (utc("2027-03-28T00:30"), utc("2027-03-28T12:30"))  # 13:30 on the wall


TODAY, YESTERDAY = date(2027, 6, 10), date(2027, 6, 9)


@pytest.mark.parametrize(
    ("now", "last", "plan", "tell"),
    [
        ("2027-06-10T05:59", YESTERDAY, None, None),
        ("2027-06-10T06:00", YESTERDAY, TODAY, None),  # windows hold their first instant …
        ("2027-06-10T06:59", TODAY, None, None),
        ("2027-06-10T07:00", YESTERDAY, TODAY, TODAY),
        ("2027-06-10T07:05", TODAY, None, None),
        ("2027-06-10T11:30", date(2027, 6, 2), TODAY, TODAY),  # off for a week: once, for today
        ("2027-06-10T18:59", YESTERDAY, TODAY, TODAY),
        ("2027-06-10T19:00", YESTERDAY, TODAY, None),  # … and not their last: no morning message at night
        ("2027-06-10T23:59", YESTERDAY, TODAY, None),
        ("2027-06-10T09:00", None, TODAY, TODAY),
        ("2027-06-10T09:00", date(2027, 6, 11), None, None),  # the site's zone was moved westward
    ],
)
def test_what_is_due(now, last, plan, tell):
    site = clock("UTC")
    assert site.plan_due(last, utc(now)) == plan
    assert site.telling_due(last, utc(now)) == tell


# From two days before each kind of clock change, or one; and an ordinary week.
WALKS = [
    ("Europe/Lisbon", date(2027, 3, 26)),
    ("Europe/Lisbon", date(2027, 10, 29)),
    ("America/New_York", date(2027, 3, 12)),
    ("America/New_York", date(2027, 11, 5)),
    ("Australia/Lord_Howe", date(2027, 4, 2)),
    ("Australia/Lord_Howe", date(2027, 10, 1)),
    ("America/Santiago", date(2027, 4, 2)),
    ("America/Santiago", date(2027, 9, 3)),
    ("America/Havana", date(2027, 3, 12)),
    ("America/Havana", date(2027, 11, 5)),
    ("Asia/Kathmandu", date(2027, 6, 7)),
]


class TestAgainstAWalkMinuteByMinute:
    @pytest.mark.parametrize(("zone", "first"), WALKS)
    @pytest.mark.parametrize("morning", [time(0), time(1, 30), time(2, 15), time(23, 59)])
    def test_each_day_is_planned_and_told_once_at_the_first_tick_of_its_window(self, zone, first, morning):
        ticks = list(walk(zone, first))[3::7]
        planned, told = run(clock(zone, morning), ticks)
        for day in (first + timedelta(days=1), first + timedelta(days=2)):
            reached = wall_reaches(zone, first, day, morning)
            assert told[day] == next(tick for tick in ticks if tick >= reached)
            assert planned[day] <= told[day]

    @settings(max_examples=25)
    @given(place=st.sampled_from(WALKS), off=st.integers(0, 3 * 1440), minutes=st.integers(1, 2 * 1440))
    def test_a_site_that_was_off_catches_up_once_and_tells_nobody_at_night(self, place, off, minutes):
        shown = walk(*place)
        ticks = list(shown)
        ticks = ticks[:off:5] + ticks[off + minutes :: 5]
        planned, told = run(clock(place[0]), ticks)
        for day, at in told.items():
            assert timedelta(hours=7) <= shown[at] - datetime.combine(day, time(0)) < timedelta(hours=19)
        assert set(planned) == {shown[tick].date() for tick in ticks if shown[tick].hour >= 6}


@cache
def walk(zone: str, first: date) -> dict[datetime, datetime]:
    """Every UTC minute that shows one of four days on the zone's wall, with what the wall shows."""
    there, last = ZoneInfo(zone), first + timedelta(days=3)
    start = datetime.combine(first - timedelta(days=1), time(0), tzinfo=UTC)
    minutes = (start + timedelta(minutes=n) for n in range(6 * 1440))
    shown = {minute: minute.astimezone(there).replace(tzinfo=None) for minute in minutes}
    return {minute: wall for minute, wall in shown.items() if first <= wall.date() <= last}


def run(site: SiteClock, ticks: list[datetime]) -> tuple[dict[date, datetime], dict[date, datetime]]:
    """Ask at every tick what is due, remember it as done, and fail when a day comes up twice."""
    planned: dict[date, datetime] = {}
    told: dict[date, datetime] = {}
    for now in ticks:
        for done, due in ((planned, site.plan_due), (told, site.telling_due)):
            day = due(max(done, default=None), now)
            if day is not None:
                assert day not in done
                done[day] = now
    return planned, told


def wall_reaches(zone: str, first: date, day: date, at: time) -> datetime:
    """The first minute whose wall shows `at` on `day`; where none does, when a clock left alone would show it."""
    wanted, shown = datetime.combine(day, at), walk(zone, first)
    exact = [minute for minute, wall in shown.items() if wall == wanted]
    if exact:
        return exact[0]
    jump = next(minute for minute, wall in shown.items() if wall > wanted)
    last = jump - timedelta(minutes=1)
    return last + (wanted - shown[last])


def test_it_imports_no_django():
    look = "import sys, refuge.rounds.schedule; sys.exit('django' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", look], check=False).returncode == 0
