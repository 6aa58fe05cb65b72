"""Dates of a quarantine. Day 1 is the day it starts; the animal may leave on the planned end, not before.

A length of 30 starting on 1 March therefore covers days 1 to 30 (1 to 30 March) and ends on 31 March.
Dates are plans. Release follows cleared tests and the veterinarian, not the calendar alone.
"""

from datetime import date, timedelta
from typing import NamedTuple

from dateutil.relativedelta import relativedelta

from refuge.errors import OutOfRange

# AZA, Quarantine page: at least 30 days under a veterinarian, unless the veterinarian directs otherwise.
FLOOR_DAYS = 30
LONGEST_DAYS = 3653
# Planned days within a quarantine: common practice, no source, but for the number of samples
# (three, since one misses parasites: Tabaka 2003, Quarantine Protocols).
INTAKE_EXAM_BY_DAY = 3
FIRST_FAECAL_SAMPLE_DAY = 5
FAECAL_SAMPLES = 3
FAECAL_GAP_DAYS = 30
RELEASE_EXAM_LEAD_DAYS = 7
LABORATORY_DAYS = 3


class PlannedCheck(NamedTuple):
    """One check and the date it should be done by.

    Kinds: intake_exam, faecal_sample_1 to _3, monthly_weighing, release_exam.
    """

    kind: str
    on: date


def checked_days(days: int, *, vet_override: bool = True) -> int:
    """`days` if it is a whole number a quarantine may last; below 30 only with a veterinarian's override."""
    if isinstance(days, bool) or not isinstance(days, int) or not 1 <= days <= LONGEST_DAYS:
        raise OutOfRange("days", days, f"a whole number from 1 to {LONGEST_DAYS}")
    if days < FLOOR_DAYS and not vet_override:
        raise OutOfRange("days", days, f"at least {FLOOR_DAYS} unless a veterinarian directs otherwise")
    return days


def planned_end(starts_on: date, days: int) -> date:
    """First date on which the animal may leave: `starts_on` plus `days`. OutOfRange below 1 day."""
    try:
        return starts_on + timedelta(days=checked_days(days))
    except OverflowError:
        raise OutOfRange("starts_on", starts_on, "early enough for the calendar") from None


def day_count(starts_on: date, today: date) -> int:
    """Which day of quarantine `today` is; 1 on `starts_on`. OutOfRange before the start."""
    if today < starts_on:
        raise OutOfRange("today", today, f"not before the start on {starts_on}")
    return (today - starts_on).days + 1


def restarted(clock_from: date, days: int, joined_on: date) -> tuple[date, date]:
    """New clock start and planned end after another animal joined the same water on `joined_on`.

    Adding an animal restarts the period on the date of addition (AZA 2007, reptiles and amphibians). One
    that was there before the clock began changes nothing.
    """
    clock = max(clock_from, joined_on)
    return clock, planned_end(clock, days)


def check_dates(starts_on: date, days: int, *, vet_override: bool = False) -> tuple[PlannedCheck, ...]:
    """The checks of a quarantine in order of date, all before its planned end.

    OutOfRange below 30 days unless `vet_override`; a very short one keeps only the checks that fit.
    """
    checked_days(days, vet_override=vet_override)
    end = planned_end(starts_on, days)
    intake = _on_day(starts_on, min(INTAKE_EXAM_BY_DAY, days))
    plan = [
        PlannedCheck("intake_exam", intake),
        *_faecal_samples(starts_on, days),
        *_monthly_weighings(starts_on, end),
        PlannedCheck("release_exam", max(intake, end - timedelta(days=RELEASE_EXAM_LEAD_DAYS))),
    ]
    return tuple(sorted((check for check in plan if check.on < end), key=lambda check: check.on))


def _on_day(starts_on: date, day: int) -> date:
    return starts_on + timedelta(days=day - 1)


def _faecal_samples(starts_on: date, days: int) -> list[PlannedCheck]:
    # 30 days apart where there is room; otherwise spread so that results are back for the release exam.
    room = days - RELEASE_EXAM_LEAD_DAYS - LABORATORY_DAYS - FIRST_FAECAL_SAMPLE_DAY
    gap = max(1, min(FAECAL_GAP_DAYS, room // (FAECAL_SAMPLES - 1)))
    return [
        PlannedCheck(f"faecal_sample_{n + 1}", _on_day(starts_on, FIRST_FAECAL_SAMPLE_DAY + n * gap))
        for n in range(FAECAL_SAMPLES)
    ]


def _monthly_weighings(starts_on: date, end: date) -> list[PlannedCheck]:
    months = relativedelta(end, starts_on).years * 12 + relativedelta(end, starts_on).months
    return [
        PlannedCheck("monthly_weighing", starts_on + relativedelta(months=n)) for n in range(1, months + 1)
    ]
