"""A water test falls due when the forecast is no longer sure enough; the other grounds for a test still hold."""

from dataclasses import replace
from datetime import timedelta

import pytest

from enclosures.rules import doubt_words, water_test
from refuge.rules.facts import ForecastFacts
from refuge.rules.limits import LimitsFor
from tests.enclosures.test_rules import TODAY, WATER, due, read

FORECAST = ForecastFacts(
    made_on=TODAY,
    tested_on=TODAY - timedelta(days=4),
    sure_until=TODAY + timedelta(days=3),
    doubt="may_pass",
    quantity="nitrite",
    limit=1.0,
    chance=0.35,
    width=0.8,
)
TESTED = replace(WATER, tests=(read(4),))


def with_forecast(facts=TESTED, **changes):
    return replace(facts, forecast=replace(FORECAST, **changes))


def test_due_on_the_day_of_doubt_with_its_numbers():
    found = due(water_test, with_forecast())
    assert found.on == TODAY + timedelta(days=3)
    assert found.reason.startswith("Forecast: nitrite may pass 1 mg/L N on 18 Jun 2026, chance 35\u00a0%")


@pytest.mark.parametrize(
    ("sure_in", "tested_ago", "due_in"),
    [(0, 0, 2), (0, 1, 1), (0, 4, 0), (5, 4, 5), (14, 4, 10), (14, 0, 14)],
)
def test_never_sooner_than_the_rest_and_never_later_than_the_longest_interval(sure_in, tested_ago, due_in):
    facts = replace(WATER, tests=(read(tested_ago),))
    day = TODAY - timedelta(days=tested_ago)
    facts = with_forecast(facts, tested_on=day, sure_until=TODAY + timedelta(days=sure_in))
    assert due(water_test, facts).on == TODAY + timedelta(days=due_in)


@pytest.mark.parametrize(
    ("quantity", "words"),
    [("alkalinity", "Read alkalinity too."), ("unionized", "Read ammonia, pH and temperature too.")],
)
def test_says_what_to_read_to_settle_the_doubt(quantity, words):
    assert due(water_test, with_forecast(quantity=quantity)).instruction == words


def test_nothing_in_doubt_leaves_the_longest_interval():
    facts = with_forecast(doubt="longest", quantity="", sure_until=TODAY + timedelta(days=14))
    assert due(water_test, facts).on == TODAY + timedelta(days=10)
    assert "nothing in doubt" in due(water_test, facts).reason


def test_the_longest_interval_holds_beside_a_doubt_and_claims_nothing_of_the_forecast():
    facts = with_forecast(replace(WATER, tests=(read(20),)), tested_on=TODAY - timedelta(days=20))
    found = due(water_test, facts)
    assert found.on == TODAY - timedelta(days=6)
    assert found.reason == "Last test 26 May 2026; at most 14 days apart"


def test_managers_set_the_rest_between_tests():
    limits = LimitsFor({("water.forecast_rest_days", "site", 0): 6})
    assert due(water_test, with_forecast(sure_until=TODAY), limits).on == TODAY + timedelta(days=2)


def test_one_that_does_not_know_the_last_test_counts_for_nothing():
    facts = with_forecast(replace(WATER, tests=(read(1),)))
    assert due(water_test, facts) == due(water_test, replace(facts, forecast=None))


@pytest.mark.parametrize("forecast", [None, replace(FORECAST, sure_until=None, failure="broke")])
def test_without_one_the_interval_by_load_stays(forecast):
    found = due(water_test, replace(TESTED, forecast=forecast))
    assert "every 14 days" in found.reason


def test_a_cycling_filter_is_still_tested_more_often():
    facts = with_forecast(replace(TESTED, is_cycling=True, tests=(read(0, tan=1.0),)), tested_on=TODAY)
    assert due(water_test, facts).on == TODAY + timedelta(days=1)


def test_a_bad_reading_still_asks_for_the_next_day():
    bad = replace(TESTED, tests=(read(0, nitrite=3.0),))
    assert due(water_test, with_forecast(bad, tested_on=TODAY)).on == TODAY + timedelta(days=1)


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({"doubt": "too_vague"}, "known to within 0.8 mg/L N only; the limit is 1 mg/L N"),
        ({"quantity": "alkalinity", "limit": 80.0}, "alkalinity may fall below 80 mg/L CaCO₃"),
        ({"quantity": "ph", "limit": 6.5}, "pH may fall below 6.5 on"),
        ({"quantity": "ph", "limit": 8.8}, "pH may pass 8.8 on"),
        ({"quantity": "unionized", "limit": 0.05}, "un-ionized ammonia may pass 0.05 mg/L N"),
    ],
)
def test_what_is_in_doubt_is_said(changes, words):
    assert words in doubt_words(replace(FORECAST, **changes))
