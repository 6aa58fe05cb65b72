"""Days to the next drain and rinse of one filter, each with the range of its water's forecast."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta

import pytest

from filtration.forecasting.models import WaterForecast
from filtration.upkeep import Ahead, drain_ahead, rinse_ahead
from refuge.people.selectors import site_today
from refuge.rules.facts import NO_STOP, FilterFacts
from tests.factories import FilterUnitFactory, RefugeFactory, UserFactory

UNIT = FilterFacts(
    id=7, label="F7", path="", stop=NO_STOP, circuit_id=1, state="mature", state_since=date(2026, 1, 1),
    void_l=50, cross_section_m2=0.25, temperature_c=24, has_layers=True,
    media_void_l=60, solids_g_day=20, carried_g=600,
)  # fmt: skip


def outlook(**work):
    return {"work": [{"filter": 3, "drain": [1, 2, 3, 1]}, {"filter": 7, **work}]}


def test_rinse_by_hand():
    # 30 g on each of 60 L are 1800 g; 1200 g are missing, and 30 % of 20 g a day pass the void.
    ahead = rinse_ahead(UNIT, 30, {})
    assert ahead.days == pytest.approx(1200 / 6)
    assert (ahead.said, ahead.range_words) == ("7 months", "")


def test_full_stones_ask_now_and_an_unfed_filter_not_within_ten_years():
    assert rinse_ahead(replace(UNIT, carried_g=1800), 30, {}).said == "now"
    assert rinse_ahead(replace(UNIT, solids_g_day=0), 30, {}).said == "over 10 years"
    assert rinse_ahead(replace(UNIT, media_void_l=0), 30, {}) is None


@pytest.mark.parametrize("state", ["building", "leak_tested", "resting"])
def test_a_filter_that_does_not_run_is_promised_nothing(state):
    still = replace(UNIT, state=state, solids_g_day=0)
    known = outlook(drain=[20, 30, 45, 1], rinse=[100, 190, None, 0.9])
    for ahead in (drain_ahead(still, 15, known), rinse_ahead(still, 30, known)):
        assert (ahead.said, ahead.range_words) == ("not while it does not run", "")


def test_each_filter_and_each_work_takes_its_own_range():
    known = outlook(drain=[20, 30, 45, 1], rinse=[100, 190, None, 0.9])
    assert drain_ahead(UNIT, 15, known).span == [20, 30, 45, 1]
    assert rinse_ahead(UNIT, 30, known).range_words == "3 months to over 10 years"


def test_a_range_that_the_days_have_left_is_not_shown():
    assert Ahead(60, [20, 30, 45, 1]).range_words == ""
    assert Ahead(30, [20, 30, 45, 1]).range_words == "20 to 45 days"
    assert Ahead(0, [0, 0, 0, 1]).range_words == ""


@pytest.mark.django_db
@pytest.mark.parametrize(("age", "is_shown"), [(0, True), (9, False)])
def test_the_page_of_the_filter_says_both(client, age, is_shown):
    RefugeFactory()
    client.force_login(UserFactory())
    unit = FilterUnitFactory()
    today = site_today()
    WaterForecast.objects.create(
        circuit=unit.circuit, day=today - timedelta(days=age), start_at=datetime.now(UTC),
        sure_until=today, doubt="longest",
        outlook={"work": [{"filter": unit.pk, "drain": [500, 900, None, 0.7], "rinse": [700, 900, None, 0.7]}]},
    )  # fmt: skip
    page = client.get(unit.get_absolute_url()).content.decode()
    assert "Next drain, by sediment" in page and "Next rinse, by solids" in page
    assert ("16 months to over 10 years" in page) == is_shown


@pytest.mark.django_db
def test_the_page_explains_the_sediment_with_its_numbers(client):
    RefugeFactory()
    client.force_login(UserFactory())
    unit = FilterUnitFactory(circuit__usual_temperature_c=30)
    page = client.get(unit.get_absolute_url()).content.decode().replace("\u00a0", " ")
    assert "70 % of them settle in the void" in page
    assert "55 % stay until they are drained" in page
    # 3 % a day at 20 degrees, 1.047 for each degree: 1.047^10 is 1.583.
    assert "4.7 % of it a day" in page
