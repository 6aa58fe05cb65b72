"""Who is told what: once per person, day and kind, whatever the plan does afterwards."""

from datetime import UTC, date, datetime, time, timedelta

import pytest
import time_machine
from django.urls import reverse

from refuge.events import announce
from refuge.people.models import User
from refuge.rounds import reminders, tasks
from refuge.rounds.digest import MOST_LINES, Block, blocks, digest_words, overdue_words
from refuge.rounds.models import Message, Morning, PlanRun, Task
from tests import factories as make

DAY = date(2027, 6, 10)
MORNING = datetime(2027, 6, 10, 7, 0, tzinfo=UTC)

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def refuge():
    return make.RefugeFactory()


@pytest.fixture
def with_email(settings):
    settings.EMAIL_CONFIGURED = True


def task(title: str = "Water test", due_on: date = DAY, **fields: object) -> Task:
    values: dict[str, object] = {
        "rule": "enclosures.water_test",
        "subject_kind": "circuit",
        "subject_id": Task.objects.count() + 1,
        "subject_label": "W3 North pond",
        "subject_path": "/waters/3/",
        "area_code": "P",
        "area_name": "Pond field",
        "area_rank": 1,
        "stop_code": "W3",
        "stop_name": "North pond",
        "stop_position": 1,
        "stop_path": "/waters/3/",
    }
    return Task.objects.create(title=title, due_on=due_on, **(values | fields))


def told(kind: str, channel: str = "app") -> dict[str, Message]:
    """Messages of a kind by the name of who got them."""
    messages = Message.objects.filter(kind=kind, channel=channel).select_related("person")
    return {message.person.name: message for message in messages}


def tell(now: datetime = MORNING) -> bool:
    with time_machine.travel(now, tick=False):
        return reminders.tell_when_due(now)


class TestPlanWhenDue:
    def test_made_an_hour_before_the_morning_and_once(self):
        assert not reminders.plan_when_due(MORNING - timedelta(minutes=61))
        assert reminders.plan_when_due(MORNING - timedelta(minutes=60))
        assert not reminders.plan_when_due(MORNING - timedelta(minutes=55))
        assert PlanRun.objects.get().day == DAY

    def test_goes_by_the_wall_clock_of_the_refuge(self, refuge):
        refuge.time_zone, refuge.morning_at = "Pacific/Auckland", time(6, 30)
        refuge.save()
        assert not reminders.plan_when_due(datetime(2027, 6, 10, 17, 29, tzinfo=UTC))
        assert reminders.plan_when_due(datetime(2027, 6, 10, 17, 30, tzinfo=UTC))
        assert PlanRun.objects.get().day == date(2027, 6, 11)

    def test_a_site_that_was_off_for_days_plans_once(self):
        assert reminders.plan_when_due(MORNING)
        assert reminders.plan_when_due(MORNING + timedelta(days=4, hours=9))
        assert list(Morning.objects.values_list("day", flat=True)) == [DAY + timedelta(days=4), DAY]

    def test_a_plan_that_fails_leaves_no_mark_and_is_made_later(self, monkeypatch):
        with monkeypatch.context() as broken:
            broken.setattr(reminders, "plan_site", lambda now: 1 / 0)
            with pytest.raises(ZeroDivisionError):
                reminders.plan_when_due(MORNING)
        assert not Morning.objects.exists()
        assert reminders.plan_when_due(MORNING)

    def test_nothing_happens_before_there_is_a_refuge(self, refuge):
        refuge.delete()
        assert not reminders.plan_when_due(MORNING)
        assert not reminders.tell_when_due(MORNING)


class TestTellWhenDue:
    def test_everybody_who_wants_it_is_told_once(self):
        make.UserFactory(name="Ana")
        make.UserFactory(name="Bruno", wants_digest=False)
        make.UserFactory(name="Carla", is_active=False)
        assert not tell(MORNING - timedelta(minutes=1))
        assert tell()
        assert not tell(MORNING + timedelta(minutes=5))
        message = told("digest")["Ana"]
        assert Message.objects.get() == message
        assert (message.status, message.day, message.path) == ("sent", DAY, reverse("today"))
        assert message.sent_at is not None

    def test_not_after_the_window(self):
        make.UserFactory()
        assert not tell(MORNING + timedelta(hours=12))
        assert tell(MORNING + timedelta(hours=11, minutes=59))

    def test_a_later_plan_does_not_repeat_it(self):
        make.UserFactory(name="Ana")
        tell()
        task("Drain the sediment")
        Morning.objects.update(told_at=None)  # as if the note of it had been lost
        assert tell(MORNING + timedelta(minutes=5))
        assert told("digest")["Ana"].subject == "Nothing is due for you today"

    def test_by_email_too_where_that_is_set_up_and_the_person_has_an_address(self, with_email):
        make.UserFactory(name="Ana", email="ana@example.org")
        make.UserFactory(name="Bruno", email="")
        tell()
        assert set(told("digest")) == {"Ana", "Bruno"}
        assert {name: m.status for name, m in told("digest", "email").items()} == {"Ana": "waiting"}

    def test_no_email_where_it_is_not_set_up(self):
        make.UserFactory(email="ana@example.org")
        tell()
        assert told("digest", "email") == {}

    @pytest.mark.parametrize(("due_on", "named"), [("2027-06-08", True), ("2027-06-09", False)])
    def test_managers_hear_of_work_overdue_for_more_than_a_day(self, due_on, named):
        make.UserFactory(name="Ana", manager=True, wants_digest=False)
        make.UserFactory(name="Bruno", staff=True)
        task("Drain the sediment", date.fromisoformat(due_on), subject_label="Barrel 3")
        tell()
        assert set(told("overdue")) == ({"Ana"} if named else set())
        if named:
            assert "– Drain the sediment: Barrel 3, Pond field, 2 days over" in told("overdue")["Ana"].body

    @pytest.mark.parametrize("people", [1, 12])
    def test_costs_the_same_number_of_queries_for_any_site(self, people, django_assert_num_queries):
        for number in range(people):
            make.UserFactory(manager=number % 2 == 0)
            task(f"Task {number}", DAY - timedelta(days=3), assigned_to=User.objects.first())
        with django_assert_num_queries(15):  # of them 4 savepoints and 5 about the row of the day
            assert tell()
        assert Message.objects.filter(kind="digest").count() == people


class TestDigestWords:
    def test_overdue_first_then_by_area(self):
        late = task("Drain the sediment", DAY - timedelta(days=3), area_name="Quarantine room", area_rank=9)
        due = [task("Water test"), task("Feeding"), task("Daily look", area_name="Nursery", area_rank=2)]
        words = digest_words(make.UserFactory(), [*due, late], DAY)
        assert words.subject == "Today: 4 tasks, 1 overdue"
        assert words.body.split("\n") == [
            "4 tasks are due for you today, 1 of them overdue.",
            "",
            "Overdue",
            "– Drain the sediment: W3 North pond, Quarantine room, 3 days over",
            "",
            "Pond field",
            "– Water test: W3 North pond",
            "– Feeding: W3 North pond",
            "",
            "Nursery",
            "– Daily look: W3 North pond",
        ]

    def test_a_role_hears_of_what_it_may_do_and_of_nobody_elses_work(self):
        ana, bruno = make.UserFactory(name="Ana"), make.UserFactory(name="Bruno", staff=True)
        work = [
            task("Protection test", role="staff"),
            task("Water test", assigned_to=ana),
            task("Feeding"),
        ]
        assert digest_words(ana, work, DAY).body.endswith(
            "Pond field\n– Water test: W3 North pond (you were asked)\n– Feeding: W3 North pond"
        )
        assert digest_words(bruno, work, DAY).body.endswith(
            "Pond field\n– Protection test: W3 North pond\n– Feeding: W3 North pond"
        )

    def test_one_task_is_one_task(self):
        assert digest_words(make.UserFactory(), [task()], DAY).body.startswith("1 task is due for you today.")

    @pytest.mark.parametrize(("late", "due"), [(0, 25), (25, 0), (12, 13)])
    def test_a_long_list_is_cut_and_says_so(self, late, due):
        work = [task(due_on=DAY - timedelta(days=1)) for _ in range(late)] + [task() for _ in range(due)]
        body = digest_words(make.UserFactory(), work, DAY).body
        assert body.count("– ") == MOST_LINES
        assert body.endswith("\n\nAnd 5 more on the list.")

    def test_names_are_not_mangled(self):
        words = digest_words(
            make.UserFactory(), [task("Pump & strainer", subject_label="<Big> 'n' old")], DAY
        )
        assert "– Pump & strainer: <Big> 'n' old" in words.body

    def test_the_parts_are_found_again(self):
        assert blocks("Two tasks.\n\nPond field\n– One\n– Two\n\nAnd 3 more.") == [
            Block("Two tasks.", ()),
            Block("Pond field", ("One", "Two")),
            Block("And 3 more.", ()),
        ]


def test_overdue_work_says_who_was_asked():
    late = task("Water test", DAY - timedelta(days=9), assigned_to=make.UserFactory(name="Ana"))
    assert overdue_words([late], DAY).body.endswith(
        "– Water test: W3 North pond, Pond field, 9 days over; Ana was asked"
    )


class TestReadings:
    @pytest.fixture
    def water(self):
        make.UserFactory(name="Ana", manager=True)
        make.UserFactory(name="Bruno", staff=True)
        enclosure = make.EnclosureFactory(circuit__name="North pond")
        make.AnimalFactory(placed_in=enclosure, mass_kg=55)
        make.FilterUnitFactory(circuit=enclosure.circuit)
        return enclosure.circuit

    @pytest.fixture
    def measured(self, water, django_capture_on_commit_callbacks):
        """Record a water test at a moment, as its service would."""

        def measure(nitrite: float, at: datetime) -> None:
            with time_machine.travel(at, tick=False), django_capture_on_commit_callbacks(execute=True):
                make.WaterTestFactory(circuit=water, nitrite_n_mg_l=nitrite)
                announce([water.pk])

        return measure

    def test_managers_are_told_at_once_of_one_beyond_its_limit(self, measured, water):
        measured(3.0, MORNING)
        message = told("reading")["Ana"]
        assert set(told("reading")) == {"Ana"}
        assert "Nitrite was 3 mg/L N on 10 Jun 2027, above" in message.body
        assert message.about == f"enclosures.water_test:circuit:{water.pk}"
        assert (message.status, message.path) == ("sent", f"/waters/{water.pk}/help/")

    def test_nobody_is_told_of_a_good_one(self, measured):
        measured(0.0, MORNING)
        assert told("reading") == {}

    def test_once_a_day_for_the_same_water(self, measured):
        measured(3.0, MORNING)
        measured(5.0, MORNING + timedelta(hours=2))
        assert Message.objects.filter(kind="reading").count() == 1

    def test_the_same_reading_is_not_told_again_on_later_days(self, measured, water):
        measured(3.0, MORNING)
        for days in (1, 2):
            with time_machine.travel(MORNING + timedelta(days=days), tick=False):
                reminders.tell_findings([water.pk], DAY + timedelta(days=days))
        assert Message.objects.filter(kind="reading").count() == 1

    def test_a_new_bad_reading_on_another_day_is_told(self, measured):
        measured(3.0, MORNING)
        measured(4.0, MORNING + timedelta(days=1))
        assert Message.objects.filter(kind="reading").count() == 2

    def test_by_email_too(self, measured, with_email):
        measured(3.0, MORNING)
        assert set(told("reading", "email")) == {"Ana"}

    def test_one_told_to_nobody_at_once_is_told_in_the_morning(self, measured):
        measured(3.0, MORNING - timedelta(hours=9))
        Message.objects.all().delete()
        tell()
        assert set(told("reading")) == {"Ana"}


class TestTick:
    def test_does_everything_the_hour_asks_for_and_nothing_twice(self):
        make.UserFactory(name="Ana", manager=True)
        with time_machine.travel(MORNING, tick=False):
            tasks.tick()
            tasks.tick()
        assert PlanRun.objects.count() == 1
        assert Message.objects.count() == 1

    def test_people_are_told_even_when_the_plan_fails_and_managers_hear_why(self, monkeypatch):
        make.UserFactory(name="Ana", manager=True)
        make.UserFactory(name="Bruno")
        monkeypatch.setattr(reminders, "plan_site", lambda now: 1 / 0)
        with time_machine.travel(MORNING, tick=False):
            tasks.tick()
            tasks.tick()
        assert set(told("digest")) == {"Ana", "Bruno"}
        assert set(told("trouble")) == {"Ana"}
        assert Message.objects.filter(kind="trouble").count() == 1
