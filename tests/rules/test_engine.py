"""The engine is a loop without opinions: same facts, same plan; unknown and broken are outcomes of their own."""

from datetime import date

import pytest

from refuge.errors import OutOfRange
from refuge.rules.engine import evaluate
from refuge.rules.facts import EnclosureFacts, Facts, Stop
from refuge.rules.limits import LimitsFor, LimitSpec, LimitTable, UnknownLimit
from refuge.rules.registry import RuleBook
from refuge.rules.triggers import Due, Unknown, accumulating, days_text, elapsed, reading

DAY = date(2026, 3, 1)
STOP = Stop("A", "Area", 0, 0, "E1", "Tank", 0, "/enclosures/1/")


def tank(pk: int = 1) -> EnclosureFacts:
    return EnclosureFacts(
        pk, f"E{pk}", f"/enclosures/{pk}/", STOP, circuit_id=7, is_outdoor=False, purpose="resident"
    )


def book(**checks) -> RuleBook:
    made = RuleBook()
    for name, check in checks.items():
        made.register(f"test.{name}", kind="enclosure", title=name, recorder="any")(check)
    return made


def judge(rules: RuleBook, overrides=None, table=None):
    return evaluate(
        Facts(enclosure={1: tank()}), overrides or {}, DAY, book=rules, table=table or LimitTable()
    )


class TestEvaluate:
    def test_earliest_trigger_sets_the_day_and_all_reasons_stay(self):
        plan = judge(
            book(both=lambda f, lim, day: [Due(date(2026, 3, 9), "late", "a"), Due(DAY, "early", "b")])
        )
        assert plan.wanted[0].due_on == DAY
        assert [reason.text for reason in plan.wanted[0].reasons] == ["early", "late"]

    def test_nothing_asked_is_no_task(self):
        assert judge(book(quiet=lambda f, lim, day: [None])).wanted == []

    def test_missing_data_is_an_outcome_of_its_own(self):
        wanted = judge(book(lack=lambda f, lim, day: [Unknown("nitrate", "Test it")])).wanted[0]
        assert wanted.is_unknown
        assert wanted.due_on == DAY
        assert wanted.reasons[0].text == "Not known: nitrate. Test it"

    def test_what_is_due_anyway_is_not_called_unknown(self):
        both = judge(book(mix=lambda f, lim, day: [Unknown("x", "y"), Due(DAY, "late", "elapsed")])).wanted[0]
        assert not both.is_unknown

    @pytest.mark.parametrize(
        ("founded", "on"),
        [(date(2026, 2, 20), date(2026, 2, 20)), (None, date(2021, 5, 1)), (date(2026, 6, 1), DAY)],
    )
    def test_nothing_falls_due_before_somebody_could_first_be_asked(self, founded, on):
        rules = book(old=lambda f, lim, day: [Due(date(2021, 5, 1), "never", "a"), Due(DAY, "now", "b")])
        wanted = evaluate(Facts(enclosure={1: tank()}), {}, DAY, not_before=founded, book=rules).wanted[0]
        assert wanted.due_on == on
        assert [reason.text for reason in wanted.reasons] == ["never", "now"]

    def test_one_broken_rule_hides_no_other(self):
        plan = judge(book(bad=lambda f, lim, day: [1 / 0], good=lambda f, lim, day: [Due(DAY, "why", "a")]))
        assert [each.rule.key for each in plan.wanted] == ["test.good"]
        assert plan.broken[0].error == "ZeroDivisionError: division by zero"

    def test_limits_that_were_read_are_named_with_their_origin(self):
        table = LimitTable()
        table.define(LimitSpec("t.days", "Days", 5, "days", 1, 9))

        def check(facts, limits, day):
            return [Due(DAY, f"{limits['t.days']:g}", "a")]

        plan = judge(book(one=check), {("t.days", "circuit", 7): 2.0}, table)
        assert plan.wanted[0].reasons[0].text == "2"
        assert [(used.key, used.origin) for used in plan.wanted[0].limits] == [("t.days", "circuit")]


class TestRegistry:
    def test_a_key_used_twice_is_refused(self):
        rules = book(one=lambda f, lim, day: [])
        with pytest.raises(ValueError, match="registered twice"):
            rules.register("test.one", kind="enclosure", title="x", recorder="y")(lambda f, lim, day: [])

    def test_a_kind_without_facts_is_refused(self):
        with pytest.raises(ValueError, match="there are facts for"):
            RuleBook().register("test.x", kind="boat", title="x", recorder="y")(lambda f, lim, day: [])


class TestLimits:
    @pytest.fixture
    def table(self):
        made = LimitTable()
        made.define(LimitSpec("t.days", "Days", 5, "days", 1, 9, scopes=("site", "circuit", "filter")))
        return made

    @pytest.mark.parametrize(
        ("overrides", "value", "origin"),
        [
            ({}, 5, "default"),
            ({("t.days", "site", 0): 4.0}, 4, "site"),
            ({("t.days", "site", 0): 4.0, ("t.days", "circuit", 7): 3.0}, 3, "circuit"),
            ({("t.days", "circuit", 7): 3.0, ("t.days", "filter", 2): 2.0}, 2, "filter"),
            ({("t.days", "circuit", 8): 3.0}, 5, "default"),
        ],
    )
    def test_the_narrowest_value_wins(self, table, overrides, value, origin):
        setting = table.resolve("t.days", overrides, circuit_id=7, filter_id=2)
        assert (setting.value, setting.origin) == (value, origin)

    @pytest.mark.parametrize("value", [0.5, 10, float("nan"), float("inf")])
    def test_a_value_outside_its_bounds_is_refused(self, table, value):
        with pytest.raises(OutOfRange):
            table["t.days"].check(value)

    def test_an_unknown_limit_is_a_mistake_of_the_program(self, table):
        with pytest.raises(UnknownLimit):
            LimitsFor({}, table=table)["t.weeks"]


class TestTriggers:
    def test_never_done_is_due_today(self):
        assert elapsed(last=None, every_days=5, today=DAY, what="Look").on == DAY

    def test_elapsed_counts_from_the_last_time(self):
        assert elapsed(last=DAY, every_days=5, today=DAY, what="Look").on == date(2026, 3, 6)

    def test_accumulating_projects_the_day(self):
        due = accumulating(amount=10, limit=40, rate_per_day=3, today=DAY, what="Nitrate", unit="mg/L")
        assert due.on == date(2026, 3, 11)
        assert "reaches 40 mg/L in 10 days" in due.reason

    def test_past_the_limit_the_day_is_when_it_was_passed(self):
        due = accumulating(amount=46, limit=40, rate_per_day=3, today=DAY, what="Nitrate", unit="mg/L")
        assert due.on == date(2026, 2, 27)

    def test_accumulating_in_marks_names_amount_rate_and_limit(self):
        due = accumulating(
            amount=0.01, limit=0.04, rate_per_day=0.003, today=DAY, what="Sediment", kind="bucket", digits=1
        )
        assert due.on == date(2026, 3, 11)
        assert due.reason == (
            "Sediment {bucket:0.01:1} and rising {bucket:0.003} a day: reaches {bucket:0.04:1} in 10 days"
        )

    def test_accumulating_beyond_ten_years_says_nothing(self):
        assert accumulating(amount=0, limit=40, rate_per_day=0.001, today=DAY, what="x", unit="") is None

    def test_reading_within_its_limit_says_nothing(self):
        assert reading(value=0.05, limit=0.05, read_on=DAY, within_days=1, what="x", unit="") is None

    @pytest.mark.parametrize(
        ("days", "words"),
        [(0, "less than a day"), (1, "1 day"), (60, "60 days"), (200, "7 months"), (1096, "3.0 years")],
    )
    def test_days_in_words(self, days, words):
        assert days_text(days) == words


class TestWhatAReasonGoesBy:
    @pytest.mark.parametrize("kind", ["reading", "missing", "state", "event"])
    def test_is_its_words_where_something_was_found_or_happened(self, kind):
        assert Due(DAY, "It did not trip", kind).goes_by == "It did not trip"

    def test_is_nothing_for_the_calendar_and_growing_sums(self):
        assert not Due(DAY, "Drained last in May", "elapsed").goes_by
        assert not Due(DAY, "Sediment 12 L", "accumulating").goes_by

    def test_is_what_a_rule_names_where_its_words_change_by_themselves(self):
        due = Due(DAY, "60 % are back today", "event", about="Frost of 3 May")
        plan = judge(book(frost=lambda *_: [due]))
        assert plan.wanted[0].reasons[0].goes_by == "Frost of 3 May"
