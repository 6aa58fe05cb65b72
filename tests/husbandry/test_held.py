"""What may be given for now stands wherever somebody reads how much to feed, and more of it is warned of, not refused."""

from datetime import timedelta

import pytest
from django.contrib.messages import get_messages
from django.urls import reverse
from django.utils import timezone

from husbandry.held import Held, held_of
from husbandry.models import Feeding
from refuge.rounds.recording import recorder
from tests import factories as make
from tests.rounds.conftest import Walk, client_of
from tests.rounds.test_held_meals import young

pytestmark = pytest.mark.django_db


@pytest.fixture
def walk():
    walk = Walk().plan_day()
    young(walk, 0.3)
    return walk


def new(key, subject):
    return reverse("record_new", args=[key, subject])


def said(page) -> str:
    return page.content.decode().replace("\xa0", " ")


AT_MOST = "At most 408 g for now. Its filter is cycling."


def test_a_held_meal_entered_outside_its_task_is_that_meal(walk):
    plan = walk.pond.feeding_plans.get()
    data = {"food": plan.food_id, "offered_kg": "400 g"}
    assert client_of(walk.volunteer).post(new("enclosure_feeding", walk.pond.pk), data).status_code == 302
    assert Feeding.objects.latest("pk").plan == plan


class TestRead:
    def test_on_the_enclosures_page_and_the_animals(self, walk):
        for page in (walk.pond.get_absolute_url(), walk.old.get_absolute_url()):
            assert AT_MOST in said(client_of(walk.volunteer).get(page))

    def test_in_the_form_of_the_task_and_of_a_meal_that_none_asked_for(self, walk):
        task = walk.task("husbandry.feeding")
        assert "At most 408 g for now." in said(client_of(walk.volunteer).get(f"/tasks/{task.pk}/"))
        assert AT_MOST in said(client_of(walk.volunteer).get(new("enclosure_feeding", walk.pond.pk)))

    def test_an_animal_without_a_plan_of_its_own_eats_on_top_of_the_others(self, walk):
        page = said(client_of(walk.volunteer).get(new("animal_feeding", walk.old.pk)))
        assert "Its filter is cycling. This comes on top of the planned meals." in page

    def test_a_meal_by_plan_that_no_task_asked_for_is_filled_in_with_it(self, walk):
        form = recorder("feeding").form(walk.plan.pk)
        assert form["offered_kg"].value() == "0.408"
        assert recorder("feeding").form(walk.plan.pk, prefill={}).fields["offered_kg"].help_text == ""

    def test_in_the_readers_units(self, walk):
        walk.volunteer.unit_system = "us"
        walk.volunteer.save()
        assert "At most 14.4 oz for now." in said(client_of(walk.volunteer).get(walk.pond.get_absolute_url()))

    def test_a_mature_water_says_nothing(self, walk):
        young(walk, 1.0)
        for page in (walk.pond.get_absolute_url(), new("enclosure_feeding", walk.pond.pk)):
            assert "At most" not in said(client_of(walk.volunteer).get(page)).partition("<main")[2]

    @pytest.mark.parametrize("plans", [1, 6])
    def test_costs_no_query_a_plan(self, walk, plans, django_assert_num_queries):
        from django.db import connection
        from django.test.utils import CaptureQueriesContext

        def queries() -> int:
            with CaptureQueriesContext(
                connection,
            ) as found:
                client_of(walk.volunteer).get(walk.pond.get_absolute_url())
            return len(found)

        before = queries()
        for _ in range(plans):
            make.FeedingPlanFactory(enclosure=walk.pond)
        assert queries() == before


class TestWarned:
    def typed(self, walk, kg, **more):
        return {"food": walk.plan.food_id, "offered_kg": kg, **more}

    def send(self, walk, **typed):
        return walk.send(walk.volunteer, new("enclosure_feeding", walk.pond.pk), phone=False, **typed)

    def messages(self, answer):
        return [str(each).replace("\xa0", " ") for each in get_messages(answer.wsgi_request)]

    def test_more_is_recorded_and_warned_of(self, walk):
        answer = self.send(walk, **self.typed(walk, "1 kg"))
        assert Feeding.objects.get().offered_kg == 1
        assert self.messages(answer)[1].startswith(
            "Recorded as you typed it. For now it was to be at most 408 g. Take out what is left, and test ammonia"
        )

    @pytest.mark.parametrize(
        "typed",
        [
            {"offered_kg": "0.41 kg"},
            {"offered_kg": "1 kg", "left_kg": "0.7 kg"},
            {"offered_kg": "1 kg", "refused": "on"},
        ],
    )
    def test_as_much_as_may_be_is_not_and_what_was_not_eaten_does_not_count(self, walk, typed):
        answer = self.send(walk, food=walk.plan.food_id, **typed)
        assert len(self.messages(answer)) == 1

    def test_of_another_day_nothing_is_said(self, walk):
        day = timezone.localtime() - timedelta(days=1)
        answer = self.send(walk, **self.typed(walk, "1 kg", at=f"{day:%Y-%m-%dT%H:%M}"))
        assert Feeding.objects.count() == 1 and len(self.messages(answer)) == 1

    def test_in_the_task_too_beside_its_line_at_the_foot(self, walk):
        task = walk.task("husbandry.feeding")
        answer = walk.finish(walk.volunteer, task, outcome="done", **self.typed(walk, "1 kg"))
        assert answer.status_code == 200
        assert "For now it was to be at most 408 g" in said(answer)

    def test_a_meal_that_is_corrected_is_not_measured_by_what_may_be_given_now(self, walk):
        self.send(walk, **self.typed(walk, "1 kg"))
        form = recorder("enclosure_feeding").amend_form(Feeding.objects.get())
        assert form.held is None


class TestWords:
    def test_none_is_none(self):
        held = Held("No food before Thu 11 Mar: its filter is cycling", 0.0)
        assert held.words == "No food before Thu 11 Mar: its filter is cycling."
        assert "it was to be no food" in held.warning(0.001)
        assert held.warning(0.0) == ""

    def test_without_any_plan_nothing_is_known(self):
        assert held_of([]) is None
