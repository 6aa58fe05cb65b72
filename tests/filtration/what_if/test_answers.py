"""What a what-if's answers cost, what is kept of them, what is offered ready made, and that they say what the forecast says."""

from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from filtration.forecasting.lines import risk_lines
from filtration.forecasting.models import WaterForecast
from filtration.forecasting.services import forecast_waters
from filtration.forecasting.wishes import want_forecasts
from filtration.what_if.ahead import look, water_now, water_of
from filtration.what_if.forms import WhatIfForm
from filtration.what_if.kept import forget
from filtration.what_if.ready import ready_made
from filtration.what_if.shown import shown
from husbandry.models import FeedingPlan
from refuge.rounds.planner import moment_for
from tests import factories as make
from tests.filtration.what_if.pages import part, text

pytestmark = pytest.mark.django_db


class TestCost:
    def test_costs_the_same_for_any_size(self, staff, path, tank):
        def grow(times):
            for _ in range(times):
                more = make.EnclosureFactory(circuit=tank.circuit)
                animal = make.AnimalFactory(placed_in=more, mass_kg=3)
                make.FeedingPlanFactory(animal=animal)
                make.FilterUnitFactory(circuit=tank.circuit)
                make.WaterTestFactory(circuit=tank.circuit)
                make.EnclosureFactory()

        def cost():
            forget()
            with CaptureQueriesContext(connection) as seen:
                assert staff.get(path, {"plan_every_days": "1", "plan": "1"}).status_code in (200, 422)
            return len(seen)

        grow(1)
        small = cost()
        grow(5)
        assert cost() == small <= 45

    def test_while_typing_the_water_is_not_read_again(self, staff, path, django_assert_max_num_queries):
        first = text(part(staff, path, {"plan_every_days": "1"}))
        with django_assert_max_num_queries(8):
            assert text(part(staff, path, {"plan_every_days": "1"})) == first

    def test_the_page_itself_is_never_old(self, staff, path, tank):
        staff.get(path)
        tank.circuit.filters.update(state="resting")
        assert "cannot be forecast without a running filter" in text(staff.get(path))

    def test_the_members_are_kept_but_never_old(self, tank):
        from filtration.what_if.ahead import digest

        first = water_of(tank.circuit_id, moment_for())
        make.WaterTestFactory(circuit=tank.circuit, tan_mg_l=2.0)
        second = water_of(tank.circuit_id, moment_for())
        assert digest(first.gathered) != digest(second.gathered)


class TestReadyMade:
    """Links that fill the form: each must be understood by it, and change something."""

    def test_they_offer_what_the_water_has(self, tank):
        words = [each.words for each in ready_made(water_of(tank.circuit_id, moment_for()))]
        assert words == ["Feed every day", "Pumps off overnight", "One animal more"]

    def test_each_fills_the_form_and_is_compared(self, staff, path):
        links = staff.get(path).context["ready"]
        for each in links:
            answer = staff.get(f"{path}?{each.query}")
            assert answer.status_code == 200
            assert answer.context["outlook"].is_changed
            for name, value in each.typed.items():
                assert answer.context["form"][name].value() == value
            assert each.query.replace("&", "&amp;") in answer.content.decode()

    def test_daily_meals_are_offered_weekly(self, tank):
        FeedingPlan.objects.update(every_days=1)
        assert ready_made(water_of(tank.circuit_id, moment_for()))[0].words == "Feed once a week"

    def test_without_food_or_weights_nothing_is_made_up(self, tank):
        FeedingPlan.objects.update(ends_on=timezone.localdate())
        assert [each.words for each in ready_made(water_of(tank.circuit_id, moment_for()))] == [
            "Pumps off overnight"
        ]


class TestSameAsTheForecast:
    """Where nothing was recorded since, what the water is heading for is what the page of its forecast says."""

    def noon(self, hour=12):
        return timezone.localtime().replace(hour=hour, minute=20, second=0, microsecond=0)

    def stored(self, tank):
        forecast_waters([tank.circuit_id], moment=moment_for(self.noon(8)))
        return WaterForecast.objects.get(circuit=tank.circuit).outlook

    def test_the_numbers_are_those_that_were_stored_hours_ago(self, tank):
        outlook = self.stored(tank)
        water = water_now(tank.circuit_id, lambda: moment_for(self.noon(15)))
        found = look(water, [])
        for course, kept in zip(found.courses, outlook["chances"], strict=True):
            assert course.before.chances == pytest.approx(kept, abs=0.0006)
        assert water.moment.now == self.noon(8)

    def test_the_words_are_those_of_its_page(self, tank):
        tank.circuit.water_tests.update(
            alkalinity_mg_l=85
        )  # so little that it is in danger whatever is drawn
        self.stored(tank)
        row = WaterForecast.objects.get(circuit=tank.circuit)
        water = water_now(tank.circuit_id, lambda: moment_for(self.noon(15)))
        mine = [
            f"{each['name']} {each['words']}"
            for each in (vars(row) for row in shown(look(water, []), water)["rows"])
        ]
        for line in risk_lines(row, water.moment.today):
            assert line.words.split("; the reading")[0].rstrip(".") in {each.rstrip(".") for each in mine}

    def test_what_was_recorded_since_counts(self, tank):
        self.stored(tank)
        want_forecasts([tank.circuit_id])  # as every service does that records something
        water = water_now(tank.circuit_id, lambda: moment_for(self.noon(15)))
        assert water.moment.now == self.noon(15)

    def test_the_forecast_of_yesterday_is_none_of_today(self, tank):
        forecast_waters([tank.circuit_id], moment=moment_for(self.noon(8) - timedelta(days=1)))
        water = water_now(tank.circuit_id, lambda: moment_for(self.noon(15)))
        assert water.moment.now == self.noon(15)


def test_a_filter_that_moves_along_cannot_be_lost_as_well(tank):
    unit = tank.circuit.filters.get()
    water = water_of(tank.circuit_id, moment_for())
    form = WhatIfForm({"split": tank.pk, "split_filter": unit.pk, "lose": unit.pk}, water=water, names={})
    assert not form.is_valid()
    assert "goes with what is split off" in str(form.errors["lose"])


class TestWhatIsKept:
    """What was read is kept for what is typed next, but a record of the water counts at once."""

    def test_a_record_counts_in_the_next_answer(self, staff, path, tank):
        assert part(staff, path, {"degrees": "1"}).context["basis"]["tests"] == 3
        make.WaterTestFactory(circuit=tank.circuit, at=timezone.now() - timedelta(hours=1), tan_mg_l=1.0)
        assert part(staff, path, {"degrees": "2"}).context["basis"]["tests"] == 3  # nobody was told of it
        want_forecasts([tank.circuit_id])  # as every service does that records something
        assert part(staff, path, {"degrees": "2"}).context["basis"]["tests"] == 4

    def test_the_page_reads_anew_and_what_is_typed_next_goes_by_it(self, staff, path, tank):
        part(staff, path, {"degrees": "1"})
        make.WaterTestFactory(circuit=tank.circuit, at=timezone.now() - timedelta(hours=1), tan_mg_l=1.0)
        assert staff.get(path).context["basis"]["tests"] == 4
        with CaptureQueriesContext(connection) as seen:
            assert part(staff, path, {"degrees": "1"}).context["basis"]["tests"] == 4
        assert len(seen) <= 6, [each["sql"][:80] for each in seen]
