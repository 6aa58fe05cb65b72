"""Two plans compared, by tasks made by hand."""

from datetime import date, timedelta

import pytest

from refuge.rules.engine import Plan, Reason, Wanted
from refuge.rules.facts import NO_STOP
from refuge.rules.registry import RuleBook
from refuge.rules.shifts import shifts
from refuge.rules.triggers import AGAINST

TODAY = date(2026, 11, 25)
BOOK = RuleBook()


@BOOK.register("husbandry.feeding", kind="plan", title="Feed", recorder="feeding")
def feed(facts, limits, today):
    yield None


def task(days: int, *reasons: Reason) -> Plan:
    """A plan that wants one meal so many days from now."""
    due = TODAY + timedelta(days=days)
    rule = next(iter(BOOK.of_kind("plan")))
    why = reasons or (Reason("Plan: every 7 days", due, "elapsed"),)
    return Plan([Wanted(rule, 1, "T9 Gudgeon", "", NO_STOP, 1, due, False, why, "", {}, ())])


def test_a_day_gone_by_is_now_and_not_a_date():
    """From every seven days to every day, with the last meal five days ago: the meal is due now, not four days ago."""
    [shift] = shifts(task(2), task(-4), TODAY)
    assert (shift.kind, shift.before, shift.after) == ("moved", TODAY + timedelta(days=2), TODAY)
    assert shift.is_due_now and not shift.was_due_now


@pytest.mark.parametrize(("before", "after"), [(-54, -207), (-3, 0), (0, -1), (4, 4)])
def test_what_is_late_either_way_does_not_move(before, after):
    assert shifts(task(before), task(after), TODAY) == []


def test_what_was_late_and_is_put_off_moves_from_now():
    [shift] = shifts(task(-4), task(3), TODAY)
    assert shift.was_due_now and not shift.is_due_now


def test_what_goes_and_what_comes_is_not_before_today_either():
    [gone], [new] = shifts(task(-9), Plan(), TODAY), shifts(Plan(), task(-9), TODAY)
    assert (gone.kind, gone.before, new.kind, new.after) == ("gone", TODAY, "new", TODAY)


def test_a_meal_that_must_not_be_given_is_told_though_its_day_stays():
    against = Reason("No food until a test is good", TODAY, AGAINST)
    [shift] = shifts(task(2), task(2, Reason("Plan", TODAY, "elapsed"), against), TODAY)
    assert (shift.kind, shift.reason) == ("otherwise", "No food until a test is good")
    assert shifts(task(2, against), task(2, against), TODAY) == []


def test_a_meal_that_may_be_given_again_is_told_though_its_day_stays():
    against = Reason("No food until a test is good", TODAY, AGAINST)
    [shift] = shifts(task(2, against), task(2), TODAY)
    assert (shift.kind, shift.reason) == ("allowed", "Plan: every 7 days")
    [moved] = shifts(task(2, against), task(5), TODAY)
    assert moved.kind == "moved"
