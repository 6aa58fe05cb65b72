"""Forecasts made, kept, wanted and told to the rules."""

import sys
from datetime import timedelta
from uuid import uuid4

import pytest
import time_machine
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from enclosures.services import water_test_record
from filtration import listeners, tasks
from filtration.forecasting import selectors, services, wishes
from filtration.forecasting.models import ForecastWanted, WaterForecast
from filtration.forecasting.packing import QUANTITIES, unpacked
from refuge.celery import app
from refuge.events import announce, clock_struck
from refuge.rounds import tasks as rounds_tasks
from refuge.rounds.loaders import load_facts
from refuge.rounds.models import RuleFailure, Task
from refuge.rounds.planner import plan_scopes
from tests.factories import EnclosureFactory, WaterTestFactory
from tests.filtration.a_water import NOW, a_water, days_ago, moment

pytestmark = pytest.mark.django_db


class TestMaking:
    def test_a_forecast_is_kept_with_its_bands_and_the_day_it_is_sure_until(self):
        circuit = a_water()
        assert services.forecast_waters([circuit.pk], moment=moment()) == 1
        row = WaterForecast.objects.get()
        assert row.is_made
        assert row.day <= row.sure_until <= row.day + timedelta(days=14)
        assert (row.start_at, row.tested_at) == (NOW, days_ago(2, 10))
        bands = unpacked(bytes(row.bands))
        assert bands.values.shape == (len(QUANTITIES), 57, 5)
        assert (bands.values[:, :, 1:] >= bands.values[:, :, :-1]).all()
        assert len(row.bands) < 6000

    def test_a_reading_draws_the_forecast_towards_it(self):
        circuit = a_water()
        nitrate = []
        for reading in (None, 40.0):
            if reading:
                WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=2), nitrate_n_mg_l=reading)
            services.forecast_waters([circuit.pk], moment=moment())
            row = WaterForecast.objects.get(circuit=circuit)
            nitrate.append(unpacked(bytes(row.bands)).at_hour("nitrate", 0)[2])
        assert nitrate[1] > nitrate[0]  # the same members, and a reading far above the four of 10 mg/L

    def test_a_later_run_replaces_the_days_and_leaves_earlier_days_be(self):
        circuit = a_water()
        for now in (NOW - timedelta(days=1), NOW, NOW + timedelta(hours=3)):
            services.forecast_waters([circuit.pk], moment=moment(now))
        assert WaterForecast.objects.count() == 2
        assert WaterForecast.objects.order_by("day").last().made_at == NOW + timedelta(hours=3)

    def test_the_same_records_on_the_same_day_give_the_same_forecast(self):
        circuit = a_water()
        services.forecast_waters([circuit.pk], moment=moment())
        first = bytes(WaterForecast.objects.get().bands)
        services.forecast_waters([circuit.pk], moment=moment())
        assert bytes(WaterForecast.objects.get().bands) == first

    def test_a_bad_test_changes_it(self):
        circuit = a_water()
        services.forecast_waters([circuit.pk], moment=moment())
        before = WaterForecast.objects.get()
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), tan_mg_l=8.0, ph=8.0)
        services.forecast_waters([circuit.pk], moment=moment())
        after = WaterForecast.objects.get()
        middle = [unpacked(bytes(row.bands)).at_hour("tan", 0)[2] for row in (before, after)]
        assert middle[1] > 2 * middle[0]
        assert after.helped_bands
        assert not before.helped_bands
        assert after.outlook["disagreements"]

    def test_help_lowers_the_ammonia(self):
        circuit = a_water()
        WaterTestFactory(circuit=circuit, at=NOW - timedelta(hours=1), tan_mg_l=4.0, ph=8.0)
        services.forecast_waters([circuit.pk], moment=moment())
        row = WaterForecast.objects.get()
        without, helped = (
            unpacked(bytes(data)).at_hour("tan", 24)[2] for data in (row.bands, row.helped_bands)
        )
        assert helped < 0.75 * without

    def test_what_cannot_be_forecast_is_kept_with_what_it_lacks(self):
        tank = EnclosureFactory()
        services.forecast_waters([tank.circuit_id], moment=moment())
        assert WaterForecast.objects.get().lacks == "a running filter with its media layers"

    def test_the_database_wants_a_forecast_or_why_there_is_none(self):
        tank = EnclosureFactory()
        with pytest.raises(IntegrityError), transaction.atomic():
            WaterForecast.objects.create(circuit=tank.circuit, day=NOW.date(), start_at=NOW)


class TestFailure:
    @pytest.fixture
    def one_breaks(self, monkeypatch):
        good, bad = a_water(), a_water()
        real = services.outcome_of

        def breaking(gathered, taken):
            if gathered.circuit_id == bad.pk:
                raise ZeroDivisionError("no flow")
            return real(gathered, taken)

        monkeypatch.setattr(services, "outcome_of", breaking)
        return good, bad

    def test_one_waters_failure_hides_no_other(self, one_breaks):
        good, bad = one_breaks
        services.forecast_waters([bad.pk, good.pk], moment=moment())
        assert WaterForecast.objects.get(circuit=good).is_made
        assert WaterForecast.objects.get(circuit=bad).failure == "ZeroDivisionError: no flow"

    def test_a_water_that_cannot_be_read_hides_no_other(self, monkeypatch):
        good, bad = a_water(), a_water()
        real = services.gather

        def breaking(circuits, moment):
            if bad.pk in circuits:
                raise KeyError("a source")
            return real(circuits, moment)

        monkeypatch.setattr(services, "gather", breaking)
        services.forecast_waters([bad.pk, good.pk], moment=moment())
        assert WaterForecast.objects.get(circuit=good).is_made
        assert WaterForecast.objects.get(circuit=bad).failure == "KeyError: 'a source'"

    def test_it_is_shown_like_a_broken_rule_while_tests_fall_due_by_load(self, one_breaks):
        _, bad = one_breaks
        services.forecast_waters([bad.pk], moment=moment())
        plan_scopes([bad.pk], now=NOW)
        assert "no flow" in RuleFailure.objects.get(rule="filtration.forecast").error
        reasons = Task.objects.get(rule="enclosures.water_test").reasons
        assert any("of what the filter can carry" in each["text"] for each in reasons)


class TestWishes:
    def test_many_records_are_one_wish(self, django_capture_on_commit_callbacks, monkeypatch):
        asked = []
        monkeypatch.setattr(tasks, "ask_soon", lambda: asked.append(1))
        circuit = a_water()
        with django_capture_on_commit_callbacks(execute=True):
            for _ in range(3):
                announce([circuit.pk])
        assert ForecastWanted.objects.count() == 1
        assert len(asked) == 3

    def test_a_record_is_stored_although_nobody_can_be_asked(self, monkeypatch):
        from kombu.exceptions import OperationalError

        def away(**options):
            raise OperationalError("no broker")

        monkeypatch.setattr(tasks.forecast_wanted, "apply_async", away)
        circuit = a_water()
        listeners.want_forecasts(frozenset([circuit.pk]))
        assert ForecastWanted.objects.filter(pk=circuit.pk).exists()

    def test_the_task_forecasts_plans_and_leaves_no_wish(self, monkeypatch):
        circuit = a_water()
        wishes.want_forecasts([circuit.pk])
        monkeypatch.setattr(services, "moment_for", moment)
        tasks.forecast_wanted()
        assert WaterForecast.objects.get(circuit=circuit).is_made
        assert not ForecastWanted.objects.exists()
        assert Task.objects.filter(rule="enclosures.water_test", scope=circuit.pk).exists()

    @pytest.mark.parametrize("killed_in", ["_store", "plan_scopes"])
    def test_a_worker_that_is_killed_leaves_the_wish_to_the_next(self, monkeypatch, killed_in):
        circuit = a_water()
        wishes.want_forecasts([circuit.pk])
        monkeypatch.setattr(services, "moment_for", moment)
        with monkeypatch.context() as broken:
            broken.setattr(services, killed_in, lambda *args: sys.exit("killed"))
            with pytest.raises(SystemExit):
                services.forecast_wanted()
        assert ForecastWanted.objects.filter(pk=circuit.pk).exists()
        assert services.forecast_wanted() == [circuit.pk]
        assert WaterForecast.objects.get(circuit=circuit).is_made
        assert not ForecastWanted.objects.exists()

    def test_a_record_that_comes_in_meanwhile_is_a_wish_that_stays(self, monkeypatch):
        first, second = a_water(), a_water()
        wishes.want_forecasts([first.pk, second.pk])
        monkeypatch.setattr(services, "moment_for", moment)
        monkeypatch.setattr(services, "plan_scopes", lambda scopes: wishes.want_forecasts([second.pk]))
        assert set(services.forecast_wanted()) == {first.pk, second.pk}
        assert [wish.pk for wish in ForecastWanted.objects.all()] == [second.pk]

    def test_a_test_that_was_recorded_is_forecast_and_planned_by_the_worker(
        self, django_capture_on_commit_callbacks, monkeypatch
    ):
        monkeypatch.setitem(app.conf, "task_always_eager", True)
        circuit = a_water()
        with time_machine.travel(NOW, tick=False):
            services.forecast_waters([circuit.pk])
            with django_capture_on_commit_callbacks(execute=True):
                water_test_record(
                    circuit=circuit,
                    by=None,
                    at=NOW - timedelta(minutes=5),
                    uuid=uuid4(),
                    temperature_c=24.0,
                    ph=8.1,
                    tan_mg_l=6.0,
                )
        row = WaterForecast.objects.get()
        assert row.tested_at == NOW - timedelta(minutes=5)
        assert row.helped_bands
        task = Task.objects.get(rule="enclosures.water_test", scope=circuit.pk)
        assert any(each["text"].startswith("Forecast: ") for each in task.reasons)

    def test_a_failure_before_the_plan_keeps_nobody_from_it(self, monkeypatch):
        made = []
        monkeypatch.setattr(services, "forecast_missing", lambda: 1 / 0)
        monkeypatch.setattr(rounds_tasks.reminders, "plan_when_due", made.append)
        rounds_tasks.tick()
        assert len(made) == 1

    def test_the_clock_forecasts_what_has_none_of_today(self, monkeypatch):
        monkeypatch.setattr(services, "moment_for", moment)
        first, second = a_water(), a_water()
        services.forecast_waters([first.pk], moment=moment())
        made = WaterForecast.objects.get().pk
        clock_struck.send(sender=None)
        assert WaterForecast.objects.filter(circuit=second).exists()
        assert WaterForecast.objects.get(circuit=first).pk == made
        assert set(Task.objects.values_list("scope", flat=True)) == {second.pk}  # the other's plan stands

    def test_old_forecasts_are_forgotten_after_more_than_a_year(self, monkeypatch):
        circuit = a_water()
        services.forecast_waters([circuit.pk], moment=moment(NOW - timedelta(days=500)))
        services.forecast_missing(moment=moment())
        assert [row.day for row in WaterForecast.objects.all()] == [NOW.date()]


class TestFacts:
    def test_the_rules_know_the_newest_forecast_of_these_days(self):
        circuit = a_water()
        services.forecast_waters([circuit.pk], moment=moment())
        forecast = load_facts(frozenset([circuit.pk]), moment()).circuit[circuit.pk].forecast
        row = WaterForecast.objects.get()
        assert (forecast.sure_until, forecast.quantity) == (row.sure_until, row.quantity)
        assert forecast.tested_on == days_ago(2).date()

    def test_an_old_one_is_no_ground_for_the_days_work(self):
        circuit = a_water()
        services.forecast_waters([circuit.pk], moment=moment())
        later = moment(NOW + timedelta(days=5))
        assert load_facts(frozenset([circuit.pk]), later).circuit[circuit.pk].forecast is None

    def test_the_plan_costs_the_same_with_forecasts_for_any_number_of_waters(self):
        circuits = [a_water().pk]

        def cost() -> int:
            services.forecast_waters(circuits, moment=moment())
            with CaptureQueriesContext(connection) as seen:
                load_facts(frozenset(circuits), moment())
            return len(seen)

        few = cost()
        circuits += [a_water().pk for _ in range(3)]
        assert cost() == few


class TestWaiting:
    def test_a_test_that_the_forecast_does_not_know_is_waited_for(self):
        """A wish is taken before its forecast is made: meanwhile only the test itself tells."""
        circuit = EnclosureFactory().circuit
        row = WaterForecast(circuit=circuit, made_at=timezone.now() - timedelta(minutes=1))
        assert not selectors.is_wanted(circuit.pk, row)
        WaterTestFactory(circuit=circuit, entered_at=timezone.now())
        assert selectors.is_wanted(circuit.pk, row)
        row.made_at = timezone.now()
        assert not selectors.is_wanted(circuit.pk, row)

    def test_one_that_does_not_come_is_not_waited_for(self):
        circuit = EnclosureFactory().circuit
        ForecastWanted.objects.create(circuit=circuit, since=timezone.now() - timedelta(hours=1))
        assert not selectors.is_wanted(circuit.pk, None)
