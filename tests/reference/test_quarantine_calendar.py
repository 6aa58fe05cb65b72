"""Quarantine dates against calendars that are not ours: dateutil's recurrences, pandas, the calendar module."""

import calendar
from datetime import date, timedelta

import pandas as pd
import pytest
from dateutil.rrule import DAILY, MONTHLY, rrule

from husbandry.quarantine_dates import FLOOR_DAYS, check_dates, day_count, planned_end, restarted
from refuge.errors import OutOfRange

STARTS = [
    date(2023, 12, 31),
    date(2024, 1, 31),
    date(2024, 2, 28),
    date(2024, 2, 29),
    date(2025, 3, 1),
    date(2027, 3, 1),
    date(2099, 12, 31),
]
LENGTHS = [30, 90, 180, 365, 366, 730]


@pytest.mark.parametrize("starts_on", STARTS)
@pytest.mark.parametrize("days", LENGTHS)
def test_planned_end_matches_two_libraries(starts_on, days):
    end = planned_end(starts_on, days)
    assert end == pd.date_range(starts_on, periods=days + 1, freq="D")[-1].date()
    assert end == list(rrule(DAILY, dtstart=starts_on, count=days + 1))[-1].date()


@pytest.mark.parametrize("starts_on", STARTS)
def test_a_year_lands_a_day_early_when_a_leap_day_lies_in_it(starts_on):
    end = planned_end(starts_on, 365)
    # Year days counted by the calendar module, independent of date arithmetic.
    inside = [year for year in range(starts_on.year, end.year + 1) if calendar.isleap(year)]
    leap = any(starts_on <= date(year, 2, 29) < end or end == date(year, 2, 29) for year in inside)
    assert (end.month, end.day) != (starts_on.month, starts_on.day) if leap else end.day == starts_on.day


@pytest.mark.parametrize("starts_on", STARTS)
def test_day_count_matches_a_counted_range(starts_on):
    for today in (starts_on, starts_on + timedelta(days=59), starts_on + timedelta(days=364)):
        assert day_count(starts_on, today) == len(pd.date_range(starts_on, today, freq="D"))


@pytest.mark.parametrize("starts_on", STARTS)
def test_monthly_weighings_match_pandas_month_offsets(starts_on):
    ours = [check.on for check in check_dates(starts_on, 730) if check.kind == "monthly_weighing"]
    start, end = pd.Timestamp(starts_on), pd.Timestamp(planned_end(starts_on, 730))
    theirs = [start + pd.DateOffset(months=n) for n in range(1, 26)]
    assert ours == [stamp.date() for stamp in theirs if stamp < end]


def test_monthly_weighings_of_a_plain_day_match_a_recurrence():
    starts_on = date(2024, 1, 15)
    ours = [check.on for check in check_dates(starts_on, 365) if check.kind == "monthly_weighing"]
    until = planned_end(starts_on, 365) - timedelta(days=1)
    assert ours == [moment.date() for moment in rrule(MONTHLY, dtstart=starts_on, until=until)][1:]


def test_published_floor():
    # AZA, Quarantine page: a minimum of 30 days unless the veterinarian directs otherwise.
    assert FLOOR_DAYS == 30
    with pytest.raises(OutOfRange, match="29"):
        check_dates(date(2025, 5, 1), 29)
    assert check_dates(date(2025, 5, 1), 29, vet_override=True)
    assert check_dates(date(2025, 5, 1), 30)


def test_published_restart_rule():
    # AZA accreditation standards 2007 as quoted, reptiles and amphibians: a new animal restarts the period on
    # the date of addition.
    assert restarted(date(2025, 1, 1), 30, date(2025, 1, 20)) == (date(2025, 1, 20), date(2025, 2, 19))


def test_three_faecal_samples():
    # Tabaka 2003, Quarantine Protocols: a first, then a second and a third, since one misses parasites.
    for days in (30, 90, 365):
        kinds = [check.kind for check in check_dates(date(2025, 5, 1), days)]
        assert [kind for kind in kinds if kind.startswith("faecal")] == [
            f"faecal_sample_{n}" for n in (1, 2, 3)
        ]
