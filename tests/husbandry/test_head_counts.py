"""Head counts: one that did not find everybody leaves the work due, with its reason, and managers hear of it."""

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
import time_machine
from django.db import connection
from django.test.utils import CaptureQueriesContext

from husbandry.models import HeadCount
from husbandry.rules import all_seen
from husbandry.services import HusbandryError, animal_record_amend, head_count_record
from husbandry.stays import animal_leave
from refuge.rounds.loaders import load_facts
from refuge.rounds.models import Message, Task
from refuge.rounds.planner import moment_for, plan_site
from refuge.rounds.recording import recorder
from refuge.rounds.services import record_new, task_set_aside
from refuge.rules.limits import LimitsFor
from tests import factories as make
from tests.rounds.conftest import committed

pytestmark = pytest.mark.django_db

NOW = datetime(2026, 6, 15, 16, 0, tzinfo=UTC)
TODAY = NOW.date()


@pytest.fixture(autouse=True)
def clock():
    with time_machine.travel(NOW, tick=False):
        yield


@pytest.fixture
def manager():
    make.RefugeFactory()
    return make.UserFactory(manager=True, name="Ana")


@pytest.fixture
def pond(manager):
    """Five have lived in it for a month."""
    pond = make.EnclosureFactory(code="P1", name="Pond")
    for _ in range(5):
        animal = make.AnimalFactory(arrived_on=TODAY - timedelta(days=30))
        make.PlacementFactory(animal=animal, enclosure=pond, starts_at=NOW - timedelta(days=30))
    return pond


def count(pond, seen: int, at: datetime = NOW, by=None):
    with committed():
        return head_count_record(enclosure=pond, by=by, at=at, uuid=uuid4(), seen=seen, note="Looked")


def task() -> Task:
    return Task.objects.get(rule="husbandry.all_seen", status="open")


class TestOneThatMissedSome:
    def test_leaves_the_work_due_that_day_with_its_reason(self, pond):
        count(pond, 1)
        assert task().due_on == TODAY
        assert task().reasons[0]["text"] == "1 of 5 seen on 15 Jun 2026: 4 missing"
        assert "Look for who is missing" in task().instruction
        assert task().prefill == {"seen": 5}

    def test_is_late_on_the_day_after(self, pond):
        count(pond, 4, NOW - timedelta(days=1))
        assert task().due_on == TODAY - timedelta(days=1)

    def test_tells_managers_once(self, pond, manager):
        make.UserFactory(staff=True)
        count(pond, 1)
        plan_site()
        count(pond, 1, NOW + timedelta(minutes=1))
        message = Message.objects.get()
        assert (message.person, message.kind, message.path) == (manager, "missing", f"/enclosures/{pond.pk}/")
        assert message.subject == "Not all animals seen: P1 Pond"
        assert "1 of 5 seen on 15 Jun 2026: 4 missing" in message.body

    def test_is_over_when_all_are_found(self, pond):
        count(pond, 1, NOW - timedelta(hours=2))
        count(pond, 5)
        assert task().due_on == TODAY + timedelta(days=1)
        assert [each["kind"] for each in task().reasons] == ["elapsed"]

    def test_ends_a_rest_that_was_given_before_it(self, pond, manager):
        plan_site()
        Task.objects.filter(pk=task().pk).update(due_on=TODAY)
        task_set_aside(task_id=task().pk, by=manager, outcome="not_needed", reason="Counted", uuid=uuid4())
        count(pond, 3)
        assert task().due_on == TODAY

    def test_says_nothing_of_those_who_came_after_it(self, pond):
        for each in pond.placements.all():
            each.ends_at = NOW - timedelta(days=3)
            each.save()
        HeadCount.objects.create(enclosure=pond, at=NOW - timedelta(days=5), seen=1, expected=5)
        newcomer = make.AnimalFactory(arrived_on=TODAY - timedelta(days=2))
        make.PlacementFactory(animal=newcomer, enclosure=pond, starts_at=NOW - timedelta(days=2))
        facts = load_facts(None, moment_for()).enclosure[pond.pk]
        assert facts.last_counted == (1, 5)
        assert [each.kind for each in all_seen(facts, LimitsFor({}), TODAY)] == ["elapsed"]


class TestGoneSince:
    """What a count missed may be explained by who left the refuge; never by who moved house."""

    def leave(self, pond, many: int, at: datetime = NOW, status: str = "died"):
        for place in list(pond.placements.filter(ends_at__isnull=True))[:many]:
            with committed():
                animal_leave(
                    animal=place.animal, status=status, by=make.UserFactory(manager=True), at=at, note="Found"
                )

    @pytest.mark.parametrize("status", ["died", "released", "transferred"])
    def test_all_explained_the_next_count_is_due_in_its_turn(self, pond, status):
        count(pond, 4, NOW - timedelta(hours=2))
        assert task().due_on == TODAY
        self.leave(pond, 1, status=status)
        assert task().due_on == TODAY + timedelta(days=1)
        assert [each["kind"] for each in task().reasons] == ["elapsed"]

    def test_one_of_two_explained_leaves_one_missing(self, pond):
        count(pond, 3, NOW - timedelta(hours=2))
        self.leave(pond, 1)
        assert task().due_on == TODAY
        assert task().reasons[0]["text"] == "3 of 4 seen on 15 Jun 2026: 1 missing"

    def test_who_was_gone_before_it_as_is_known_only_now_was_no_longer_to_be_seen(self, pond):
        count(pond, 4, NOW - timedelta(hours=2))
        self.leave(pond, 1, at=NOW - timedelta(hours=5))
        assert [each["kind"] for each in task().reasons] == ["elapsed"]

    def test_who_moved_house_since_explains_nothing(self, pond):
        count(pond, 4, NOW - timedelta(hours=2))
        place = pond.placements.first()
        place.ends_at = NOW - timedelta(hours=1)
        place.save()
        make.PlacementFactory(animal=place.animal, enclosure=make.EnclosureFactory(), starts_at=place.ends_at)
        assert load_facts(None, moment_for()).enclosure[pond.pk].last_counted == (4, 5)

    def test_who_came_since_does_not_count(self, pond):
        count(pond, 4, NOW - timedelta(hours=2))
        make.AnimalFactory(placed_in=pond)
        plan_site()
        assert "4 of 5 seen" in task().reasons[0]["text"]

    @pytest.mark.parametrize("many", [1, 6])
    def test_costs_one_query_for_any_number(self, pond, many, django_assert_num_queries):
        moment = moment_for()
        with CaptureQueriesContext(connection) as before:
            load_facts(None, moment)
        for _ in range(many):
            other = make.EnclosureFactory()
            make.AnimalFactory(placed_in=other)
            HeadCount.objects.create(enclosure=other, at=NOW, seen=0, expected=1)
        with django_assert_num_queries(len(before) + 1):
            load_facts(None, moment)


class TestEnteredLate:
    """Two of the five left an hour ago."""

    @pytest.fixture(autouse=True)
    def smaller(self, pond):
        for each in list(pond.placements.all())[:2]:
            each.ends_at = NOW - timedelta(hours=1)
            each.save()

    def test_it_is_held_against_those_who_lived_there_then(self, pond):
        late = count(pond, 5, NOW - timedelta(hours=3))
        assert (late.seen, late.expected) == (5, 5)
        assert count(pond, 3).expected == 3

    def test_more_than_those_is_refused(self, pond):
        for seen, at in ((4, NOW), (6, NOW - timedelta(hours=3))):
            with pytest.raises(HusbandryError, match="lived here at that time"):
                count(pond, seen, at)

    @pytest.mark.parametrize(("seen", "wrong"), [("5", []), ("6", ["seen"])])
    def test_the_form_goes_by_the_time_that_is_entered(self, pond, seen, wrong):
        at = NOW - timedelta(hours=3)
        form = recorder("head_count").form(pond.pk, data={"seen": seen, "at": f"{at:%Y-%m-%dT%H:%M}"})
        assert list(form.errors) == wrong
        assert "3 live here" in form.fields["seen"].help_text

    def test_all_seen_in_one_tap_means_those_of_the_time_of_the_tap(self, pond, manager):
        kind = recorder("head_count")
        tap = {**kind.one_tap(pond.pk, {}), "uuid": uuid4(), "at": NOW - timedelta(hours=3), "note": ""}
        for _ in range(2):
            saved = record_new(kind=kind, subject_id=pond.pk, by=manager, cleaned=tap)
            assert saved.summary == "5 of 5 seen"
        assert HeadCount.objects.count() == 1

    def test_corrected_to_another_time_it_is_held_against_those_of_that_time(self, pond, manager):
        record = count(pond, 3)
        earlier = NOW - timedelta(hours=3)
        amended = animal_record_amend(record=record, by=manager, reason="Earlier", at=earlier)
        assert (amended.seen, amended.expected) == (3, 5)
        form = recorder("head_count").amend_form(amended, data={"seen": "5", "at": f"{NOW:%Y-%m-%dT%H:%M}"})
        assert "seen" in form.errors
