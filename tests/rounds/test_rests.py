"""What was put off stays put off, until something is found that nobody has judged yet."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from enclosures.services import water_test_record
from filtration.services import maintenance_record
from refuge.rounds import services
from refuge.rounds.models import Completion
from refuge.rounds.planner import plan_site
from tests.rounds.conftest import committed

pytestmark = pytest.mark.django_db


def put_off(walk, rule, outcome="could_not", *, by=None, reason="The hose is away", **where):
    task = walk.task(rule, **where)
    with committed():
        services.task_set_aside(
            task_id=task.pk, by=by or walk.staff, outcome=outcome, reason=reason, uuid=uuid4()
        )


def read(walk, *, hours_ago=0.0, **values):
    with committed():
        water_test_record(
            circuit=walk.pond.circuit,
            by=walk.staff,
            at=timezone.now() - timedelta(hours=hours_ago),
            uuid=uuid4(),
            temperature_c=26,
            **values,
        )


def trip(walk, *, passed):
    with committed():
        maintenance_record(
            unit=walk.barrel,
            kind="protection_test",
            by=walk.staff,
            at=timezone.now(),
            uuid=uuid4(),
            passed=passed,
        )


def days_ahead(task):
    return (task.due_on - timezone.localdate()).days


class TestWhatIsFoundLater:
    def test_a_failed_test_of_the_ground_fault_device_ends_a_rest_at_once(self, walk):
        put_off(walk, "filtration.protection_test", "not_needed", reason="Tested last week")
        assert days_ahead(walk.task("filtration.protection_test")) == 3
        trip(walk, passed=False)
        task = walk.task("filtration.protection_test")
        assert days_ahead(task) == 0
        assert task.reasons[0]["text"].startswith("It did not trip")

    def test_a_worse_reading_asks_for_the_change_that_could_not_be_made(self, walk):
        read(walk, hours_ago=3, ph=8.0, tan_mg_l=1.5, nitrite_n_mg_l=0)
        put_off(walk, "enclosures.water_change_now")
        assert days_ahead(walk.task("enclosures.water_change_now")) == 1
        read(walk, ph=8.5, tan_mg_l=8, nitrite_n_mg_l=5)
        assert days_ahead(walk.task("enclosures.water_change_now")) == 0

    def test_a_new_nitrate_far_beyond_its_limit_asks_for_the_change_that_was_not_needed(self, walk):
        where = {"subject_id": walk.pond.circuit_id}
        read(walk, hours_ago=30, ph=7.2, nitrate_n_mg_l=60, alkalinity_mg_l=150)
        put_off(walk, "enclosures.water_change", "not_needed", reason="The source is clouded", **where)
        assert days_ahead(walk.task("enclosures.water_change", **where)) == 7
        plan_site(day=timezone.localdate() + timedelta(days=1))
        assert days_ahead(walk.task("enclosures.water_change", **where)) == 7
        read(walk, ph=7.2, nitrate_n_mg_l=150, alkalinity_mg_l=150)
        assert days_ahead(walk.task("enclosures.water_change", **where)) <= 0

    def test_once_that_is_put_off_too_it_rests_again(self, walk):
        read(walk, hours_ago=3, ph=8.0, tan_mg_l=1.5, nitrite_n_mg_l=0)
        put_off(walk, "enclosures.water_change_now")
        read(walk, ph=8.5, tan_mg_l=8, nitrite_n_mg_l=5)
        put_off(walk, "enclosures.water_change_now", reason="Still away")
        task = walk.task("enclosures.water_change_now")
        assert days_ahead(task) == 1
        assert task.reasons[-1]["text"] == f"Put off by {walk.staff.name}: Still away"


class TestWhatWasKnown:
    def test_is_not_asked_again_by_the_next_plan(self, walk):
        read(walk, ph=8.0, tan_mg_l=1.5, nitrite_n_mg_l=0)
        put_off(walk, "enclosures.water_change_now")
        plan_site()
        assert days_ahead(walk.task("enclosures.water_change_now")) == 1

    def test_nor_by_a_record_that_says_nothing_new_of_it(self, walk):
        trip(walk, passed=False)
        put_off(walk, "filtration.protection_test", reason="The electrician comes tomorrow")
        read(walk, ph=7.2)
        assert days_ahead(walk.task("filtration.protection_test")) == 1

    def test_nor_by_what_the_calendar_alone_asks_for(self, walk):
        put_off(walk, "filtration.pump_clean", "not_needed", reason="New pump")
        plan_site(day=timezone.localdate() + timedelta(days=2))
        assert days_ahead(walk.task("filtration.pump_clean")) == 7


class TestOfSeveralRests:
    @pytest.mark.parametrize(
        ("first", "second", "days"), [("could_not", "not_needed", 7), ("not_needed", "could_not", 1)]
    )
    def test_the_newest_counts(self, walk, first, second, days):
        where = {"subject_id": walk.pond.circuit_id}
        put_off(walk, "enclosures.water_panel", first, **where)
        put_off(walk, "enclosures.water_panel", second, reason="The laboratory does it", **where)
        assert days_ahead(walk.task("enclosures.water_panel", **where)) == days

    def test_newest_is_what_was_entered_last_not_what_was_stored_last(self, walk):
        where = {"subject_id": walk.pond.circuit_id}
        put_off(walk, "enclosures.water_panel", "not_needed", **where)
        put_off(walk, "enclosures.water_panel", "could_not", **where)
        Completion.objects.filter(outcome="not_needed").update(entered_at=timezone.now())
        plan_site()
        assert days_ahead(walk.task("enclosures.water_panel", **where)) == 7
