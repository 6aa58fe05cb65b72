"""The overview: what it counts, what it says, who may read it, and that it costs the same for any site."""

import re
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.utils import timezone

from husbandry.models import Quarantine
from refuge.rounds.models import Completion, Message, PlanRun, RuleFailure, Task
from refuge.rounds.overview import overview
from refuge.rounds.planner import moment_for, plan_site
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def manager():
    make.RefugeFactory()
    return make.UserFactory(manager=True)


def water(**filter_values):
    """A water with a 55 kg animal in quarantine, its filter and its feeding plan."""
    enclosure = make.EnclosureFactory()
    animal = make.AnimalFactory(placed_in=enclosure, mass_kg=55)
    make.FilterUnitFactory(circuit=enclosure.circuit, **filter_values)
    make.FeedingPlanFactory(animal=animal)
    make.QuarantineFactory(animal=animal)
    return enclosure


def seen(user):
    return overview(moment_for(), user)


def text(answer) -> str:
    return re.sub(r"\s+", " ", re.sub(r"<[^>]+>", " ", answer.content.decode()))


class TestWhatItFinds:
    def test_late_work_is_counted_by_kind_and_the_oldest_comes_first(self, manager):
        enclosure = water()
        for days in (20, 9):
            make.WaterTestFactory(circuit=enclosure.circuit, at=timezone.now() - timedelta(days=60 + days))
        plan_site()
        found = seen(manager)
        days = [task.due_on for task in found.late]
        assert days == sorted(days)
        assert sum(group.count for group in found.groups) == len(found.late)
        assert "Water test" in {group.title for group in found.groups}
        assert all(day < found.today for day in days)

    def test_a_water_beyond_its_capacity_comes_first(self, manager):
        water()
        full = water(layers=[("boulders", 0.05)])
        plan_site()
        first = seen(manager).circuits[0]
        assert first.facts.id == full.circuit_id
        assert first.is_over and first.facts.load_share > 1

    def test_animals_without_a_running_filter_are_over_capacity(self, manager):
        make.AnimalFactory(placed_in=make.EnclosureFactory(), mass_kg=5)
        assert [row.has_no_filter for row in seen(manager).circuits] == [True]

    def test_a_well_kept_water_is_not_listed(self, manager):
        enclosure = make.EnclosureFactory()
        make.FilterUnitFactory(circuit=enclosure.circuit)
        assert seen(manager).circuits == []

    def test_filter_that_is_cycling_or_was_never_tested_for_protection_is_named(self, manager):
        water(state="cycling")
        [row] = seen(manager).filters
        words = " ".join(words for _, words in row.notes)
        assert "Cycling since" in words
        assert "protection never tested" in words

    def test_quarantine_day_end_and_order(self, manager):
        late, early = water(), water()
        today = timezone.now().date()
        Quarantine.objects.filter(animal__placements__enclosure=early).update(
            started_on=today - timedelta(days=360),
            clock_from=today - timedelta(days=360),
            ends_on=today + timedelta(days=5),
        )
        rows = seen(manager).quarantines
        assert [row.animal.enclosure_id for row in rows] == [early.pk, late.pk]
        assert [(row.day, row.days_left) for row in rows] == [(361, 5), (201, 165)]

    def test_what_is_not_known_is_grouped_with_a_way_to_mend_it(self, manager):
        first, second = water(), water()
        plan_site()
        nitrate = next(group for group in seen(manager).unknowns if group.lacks == "nitrate")
        assert nitrate.ask == "Do a fuller water test"
        assert {path for _, path in nitrate.subjects} == {
            f"/waters/{each.circuit_id}/" for each in (first, second)
        }

    def test_who_worked(self, manager):
        water()
        plan_site()
        helper = make.UserFactory(name="Ana Reedbed")
        for task in Task.objects.all()[:3]:
            Completion.objects.create(task=task, by=helper, outcome="done")
        [worker] = seen(manager).workers
        assert (worker["by__name"], worker["tasks"]) == ("Ana Reedbed", 3)


class TestThePlansRun:
    def test_never_planned_is_said(self, manager, client):
        client.force_login(manager)
        assert "No whole plan was made yet" in text(client.get("/overview/"))

    @pytest.mark.parametrize(("hours", "is_old"), [(1, False), (25, False), (27, True)])
    def test_old_after_26_hours(self, manager, hours, is_old):
        run = plan_site()
        PlanRun.objects.filter(pk=run.pk).update(started_at=timezone.now() - timedelta(hours=hours))
        assert seen(manager).run_is_old is is_old

    def test_begun_and_never_finished_is_not_fine(self, manager):
        PlanRun.objects.create(day=timezone.now().date())
        assert seen(manager).run_is_old


class TestThePage:
    def test_failed_rules_and_lost_messages_are_shown_to_managers_only(self, manager, client):
        RuleFailure.objects.create(
            rule="water.x",
            subject_kind="circuit",
            subject_id=1,
            subject_label="W1",
            error="ZeroDivisionError",
        )
        Message.objects.create(
            person=manager,
            day=timezone.now().date(),
            kind="digest",
            channel="email",
            subject="Today",
            body="-",
            status="failed",
            last_error="mailbox full",
        )
        client.force_login(manager)
        page = text(client.get("/overview/"))
        assert "ZeroDivisionError" in page and "mailbox full" in page
        client.force_login(make.UserFactory(staff=True))
        page = text(client.get("/overview/"))
        assert "ZeroDivisionError" not in page and "mailbox full" not in page

    def test_volunteers_are_refused(self, manager, client):
        client.force_login(make.UserFactory())
        assert client.get("/overview/").status_code == 403

    def test_an_empty_site_is_all_well_in_words(self, manager, client):
        plan_site()
        client.force_login(manager)
        page = text(client.get("/overview/"))
        assert "Nothing is late" in page and "No animal is in quarantine" in page

    def test_costs_the_same_for_any_site(self, manager, client):
        client.force_login(manager)
        water(state="cycling")
        plan_site()
        few = _queries(client)
        for _ in range(7):
            water(state="cycling")
        plan_site()
        assert _queries(client) == few


def _queries(client) -> int:
    with CaptureQueriesContext(connection) as caught:
        assert client.get("/overview/").status_code == 200
    return len(caught)
