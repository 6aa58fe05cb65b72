"""A new filter's way to mature, its next step, and what its page offers in each state."""

from dataclasses import replace
from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.utils import timezone

from filtration.nitrification import days_to_mature
from filtration.plans.services import design_build
from filtration.services import filter_set_state, maintenance_record
from filtration.young_life import next_step, way_of
from refuge.rounds.models import Task
from tests.factories import AreaFactory, EnclosureFactory, FilterDesignFactory, RefugeFactory, UserFactory
from tests.filtration.test_rules import BARREL, TODAY

NEW = replace(
    BARREL, state="building", state_since=TODAY, last_protection_on=None, protection_passed=None, last_bucket_at=None,
    leak_passed_on=None, commissioning_flow_m3_h=None, temperature_c=24.0,
)  # fmt: skip
PLANNED, BUILT = date(2026, 6, 1), date(2026, 6, 5)


def way(facts):
    return [(x.words, x.part, x.on) for x in way_of(facts, TODAY, planned_on=PLANNED, built_on=BUILT)]


def test_each_place_has_its_day_and_today_stands_out():
    assert way(replace(NEW, state="leak_tested", leak_passed_on=TODAY)) == [
        ("Planned", "past", PLANNED),
        ("Being built", "past", BUILT),
        ("Leak-tested", "now", TODAY),
        ("Running", "ahead", None),
        ("Mature", "ahead", None),
    ]


def test_once_it_runs_the_last_place_has_the_day_that_is_expected():
    runs = replace(NEW, state="cycling", leak_passed_on=date(2026, 6, 9), days_to_mature=20.4)
    assert way(runs)[-2:] == [
        ("Running", "now", TODAY),
        ("Mature", "ahead", TODAY + timedelta(days=20)),
    ]


def test_before_it_runs_the_last_place_says_how_long_it_takes():
    note = way_of(NEW, TODAY, planned_on=None, built_on=None)[-1].note
    assert note == f"about {round(days_to_mature(24.0))} days after it starts"


def test_without_a_plan_the_way_begins_where_it_is_built():
    assert way_of(NEW, TODAY, planned_on=None, built_on=None)[0].words == "Being built"


@pytest.mark.parametrize("state", ["mature", "disturbed", "resting"])
def test_one_that_was_mature_has_no_way_to_go(state):
    assert way_of(replace(NEW, state=state), TODAY, planned_on=PLANNED, built_on=BUILT) == ()


@pytest.mark.parametrize(
    ("changes", "key"),
    [
        ({}, "leak_test"),
        ({"state": "leak_tested"}, "protection_test"),
        ({"state": "leak_tested", "protection_passed": False, "last_protection_on": TODAY}, "protection_test"),
        ({"state": "leak_tested", "protection_passed": True, "last_protection_on": TODAY}, "filter_state"),
        ({"state": "leak_tested", "has_pump": False}, "filter_state"),
        ({"state": "cycling"}, "protection_test"),
        ({"state": "cycling", "protection_passed": True, "last_protection_on": TODAY}, "bucket_test"),
    ],
)  # fmt: skip
def test_one_thing_comes_next(changes, key):
    assert next_step(replace(NEW, **changes)).recorder == key


def test_once_it_was_measured_nothing_is_pushed():
    assert next_step(BARREL) is None


@pytest.mark.django_db
class TestPage:
    @pytest.fixture
    def manager(self, client):
        RefugeFactory()
        user = UserFactory(manager=True)
        client.force_login(user)
        return user

    @pytest.fixture
    def unit(self, manager):
        return design_build(
            design=FilterDesignFactory(), uuid=uuid4(), code="F77", name="New barrel", circuit=EnclosureFactory().circuit,
            area=AreaFactory(), is_protected=False, by=manager,
        )  # fmt: skip

    def look(self, client, unit):
        context = client.get(unit.get_absolute_url()).context
        step = context.get("next_step")
        return step and step.key, {each.key for each in context["record_buttons"]}, context

    def record(self, unit, kind, by, **seen):
        maintenance_record(unit=unit, kind=kind, by=by, at=timezone.now(), uuid=uuid4(), **seen)

    def open_rules(self, unit):
        return set(Task.objects.filter(status="open", due_on__lte=timezone.localdate(), subject_path=unit.get_absolute_url()).values_list("rule", flat=True))  # fmt: skip

    def test_from_the_leak_test_to_the_first_day_each_next_step_is_shown_and_due(
        self, client, unit, manager, django_capture_on_commit_callbacks
    ):
        steps = [
            ("leak_test", "filtration.leak_test", lambda: self.record(unit, "leak_test", manager, passed=True)),
            ("protection_test", "filtration.protection_test", lambda: self.record(unit, "protection_test", manager, passed=True)),
            ("filter_state", "filtration.start", lambda: filter_set_state(unit=unit, state="cycling", by=manager, at=timezone.now(), uuid=uuid4())),
            ("bucket_test", "filtration.bucket_test", lambda: self.record(unit, "bucket_test", manager, bucket_l=20, bucket_seconds=26)),
        ]  # fmt: skip
        for number, (key, rule, do) in enumerate(steps):
            if number:
                assert rule in self.open_rules(unit), rule
            assert self.look(client, unit)[0] == key
            with django_capture_on_commit_callbacks(execute=True):
                do()
            unit.refresh_from_db()
        assert self.look(client, unit)[0] is None
        assert not self.open_rules(unit)

    def test_what_its_state_forbids_is_not_offered(self, client, unit):
        _, offered, _ = self.look(client, unit)
        assert offered == {"protection_test", "inspection"}

    def test_the_way_is_a_list_in_order_with_today_marked(self, client, unit):
        page = client.get(unit.get_absolute_url()).content.decode()
        assert '<ol class="way">' in page
        assert page.count('aria-current="step"') == 1
        assert "after it starts" in page

    def test_a_volunteer_sees_the_way_but_no_step_that_is_not_theirs(self, client, unit):
        client.force_login(UserFactory())
        step, offered, context = self.look(client, unit)
        assert step is None
        assert "leak_test" not in offered
        assert context["way"]
