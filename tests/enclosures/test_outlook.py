"""Where nitrate and alkalinity go, and when water is changed next: one number for one thing."""

from dataclasses import replace
from datetime import timedelta

import pytest
import time_machine

from enclosures.outlook import outlook
from enclosures.rules import water_change
from filtration.forecasting import services
from filtration.forecasting.models import WaterForecast
from refuge.rules.facts import CourseFacts, ForecastFacts, Reading
from refuge.rules.limits import LimitsFor
from refuge.rules.triggers import Due
from tests.enclosures.test_rules import TODAY, WATER, read
from tests.factories import UserFactory, WaterTestFactory
from tests.filtration.a_water import NOW, a_water, moment

LIMITS = LimitsFor({})
READ = replace(
    WATER,
    nitrate=Reading(30, TODAY),
    alkalinity=Reading(100, TODAY),
    last_change_on=TODAY - timedelta(days=3),
)
SEEN = ForecastFacts(
    made_on=TODAY,
    tested_on=TODAY,
    nitrate=CourseFacts(35.0, 35.7),
    alkalinity=CourseFacts(100.0, 72.0, passes_in=8.0),
)


def courses(facts):
    return {each.label: each for each in outlook(facts, LIMITS, TODAY).courses}


def test_without_a_forecast_the_meals_since_the_reading_count():
    # by hand: 2 g TAN a day in 1 m3 are 2 mg/L of nitrate a day, and 7.14 times that of alkalinity
    found = courses(READ)
    assert (found["Nitrate"].now, found["Nitrate"].per_day) == (30, 2)
    assert found["Alkalinity"].per_day == pytest.approx(-14.28, rel=0.01)


def test_todays_forecast_is_what_is_shown_where_there_is_one():
    found = courses(replace(READ, forecast=SEEN))
    assert (found["Nitrate"].now, found["Nitrate"].per_day) == (35.0, pytest.approx(0.05))
    assert found["Alkalinity"].per_day == -2
    assert found["Alkalinity"].reached_on == TODAY + timedelta(days=8)


def test_and_what_the_task_goes_by():
    due = [
        each for each in water_change(replace(READ, forecast=SEEN), LIMITS, TODAY) if isinstance(each, Due)
    ]
    nitrate = next(each for each in due if each.reason.startswith("Nitrate"))
    assert nitrate.reason.startswith("Nitrate, by the forecast, 35.0 mg/L N and rising 0.05 mg/L N a day")
    alkalinity = next(each for each in due if each.reason.startswith("Alkalinity"))
    assert alkalinity.on == TODAY + timedelta(days=8)


@pytest.mark.parametrize(
    "stale", [{"made_on": TODAY - timedelta(days=1)}, {"tested_on": TODAY - timedelta(days=1)}]
)
def test_a_forecast_of_yesterday_or_one_that_does_not_know_the_test_is_not(stale):
    assert courses(replace(READ, forecast=replace(SEEN, **stale)))["Nitrate"].now == 30


def test_alkalinity_that_is_used_up_falls_no_further():
    gone = courses(replace(READ, alkalinity=Reading(0.0, TODAY)))["Alkalinity"]
    assert gone.is_steady


def test_while_help_says_to_change_now_no_other_change_is_told():
    bad = replace(READ, tests=(read(nitrite=3.0),), source_name="Well")
    found = outlook(bad, LIMITS, TODAY)
    assert found.is_now
    assert found.change_on is None
    assert outlook(READ, LIMITS, TODAY).change_on is not None


@pytest.mark.django_db
class TestPage:
    @pytest.fixture(autouse=True)
    def at_noon(self):
        with time_machine.travel(NOW, tick=False):
            yield

    def section(self, client, circuit) -> str:
        client.force_login(UserFactory())
        page = client.get(circuit.get_absolute_url()).content.decode()
        return page[page.index('<section id="outlook">') :].split("</section>")[0]

    def test_says_the_nitrate_of_the_forecast(self, client):
        circuit = a_water()
        services.forecast_waters([circuit.pk], moment=moment())
        now, later, _ = WaterForecast.objects.get(circuit=circuit).outlook["courses"]["nitrate"]
        shown = self.section(client, circuit)
        assert f'<span class="value">{now:.0f}</span>' in shown
        assert f"{abs(later - now) / 14:.2f} a day" in shown
        assert "today’s forecast" in shown

    def test_says_no_date_of_a_change_beside_what_to_do_now(self, client):
        circuit = a_water()
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), nitrite_n_mg_l=3.0)
        services.forecast_waters([circuit.pk], moment=moment())
        shown = self.section(client, circuit)
        assert "Next change" not in shown
        assert "Water is to be changed now" in shown
