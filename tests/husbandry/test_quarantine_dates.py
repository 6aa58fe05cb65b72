from datetime import date, timedelta
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from husbandry.quarantine_dates import check_dates, day_count, planned_end, restarted
from refuge.errors import OutOfRange

starts = st.dates(date(2000, 1, 1), date(2090, 1, 1))
lengths = st.integers(30, 1100)


def test_the_last_day_is_the_day_before_the_planned_end():
    end = planned_end(date(2025, 3, 1), 30)
    assert end == date(2025, 3, 31)
    assert day_count(date(2025, 3, 1), end - timedelta(days=1)) == 30


@given(starts, lengths)
def test_the_day_count_at_the_end_is_one_past_the_length(starts_on, days):
    assert day_count(starts_on, starts_on) == 1
    assert day_count(starts_on, planned_end(starts_on, days)) == days + 1


@given(starts, lengths)
def test_checks_lie_in_order_inside_the_quarantine(starts_on, days):
    checks = check_dates(starts_on, days)
    dates = [check.on for check in checks]
    assert dates == sorted(dates)
    assert all(starts_on <= on < planned_end(starts_on, days) for on in dates)
    assert checks[0].kind == "intake_exam"


@given(starts, lengths)
def test_samples_are_apart_and_their_results_are_back_for_the_release_exam(starts_on, days):
    checks = check_dates(starts_on, days)
    samples = [check.on for check in checks if check.kind.startswith("faecal")]
    release = next(check.on for check in checks if check.kind == "release_exam")
    assert len(samples) == 3
    assert all(6 <= (b - a).days <= 30 for a, b in pairwise(samples))
    assert (release - samples[-1]).days >= 3


@given(starts, st.integers(1, 29))
def test_a_short_one_by_order_of_the_vet_keeps_what_fits(starts_on, days):
    checks = check_dates(starts_on, days, vet_override=True)
    kinds = [check.kind for check in checks]
    assert {"intake_exam", "release_exam"} <= set(kinds)
    assert kinds.index("intake_exam") < kinds.index("release_exam")
    assert all(check.on < planned_end(starts_on, days) for check in checks)


@given(starts, lengths, st.integers(-500, 500))
def test_a_newcomer_never_shortens_a_quarantine(starts_on, days, shift):
    clock, end = restarted(starts_on, days, starts_on + timedelta(days=shift))
    assert clock == starts_on + timedelta(days=max(shift, 0))
    assert end == planned_end(clock, days) >= planned_end(starts_on, days)


@pytest.mark.parametrize("days", [0, -1, 3654, 30.0, True, None])
def test_lengths_that_are_no_whole_days_are_refused(days):
    with pytest.raises(OutOfRange, match="days"):
        planned_end(date(2025, 1, 1), days)


def test_a_day_before_the_start_is_refused():
    with pytest.raises(OutOfRange, match="today"):
        day_count(date(2025, 1, 2), date(2025, 1, 1))


def test_the_end_of_the_calendar_is_refused_not_wrapped():
    with pytest.raises(OutOfRange, match="starts_on"):
        planned_end(date(9999, 12, 1), 365)
