"""An animal that nobody has decided a food for: it is asked for, and the decision is a feeding plan."""

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from uuid import uuid4

import pytest
import time_machine
from django.urls import reverse

from husbandry.arrivals.effects import with_arrival
from husbandry.arrivals.newcomer import Newcomer
from husbandry.models import FeedingPlan, HealthRecord
from husbandry.rules import no_plan
from husbandry.services import HusbandryError
from refuge.rounds.loaders import load_facts
from refuge.rounds.models import Task
from refuge.rounds.planner import moment_for, plan_site
from refuge.rounds.recording import recorder
from refuge.rounds.services import record_new
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
def animal():
    make.RefugeFactory()
    enclosure = make.EnclosureFactory()
    return make.AnimalFactory(code="T069", placed_in=enclosure, arrived_on=TODAY)


def facts_of(animal):
    return load_facts(None, moment_for()).animal[animal.pk]


def asked(facts) -> list[str]:
    return [each.kind for each in no_plan(facts, LimitsFor({}), TODAY)]


class TestIsAsked:
    def test_of_one_without_any_plan(self, animal):
        plan_site()
        task = Task.objects.get(rule="husbandry.no_plan", status="open")
        assert (task.subject_label, task.is_unknown, task.role) == (facts_of(animal).label, True, "staff")
        assert task.reasons[0]["text"].startswith("Not known: what it eats. No feeding plan: decide")

    @pytest.mark.parametrize(
        "plan",
        [
            {},
            {"starts_on": TODAY + timedelta(days=3)},
            {"fasting_until": TODAY + timedelta(days=30)},
        ],
    )
    def test_not_of_one_with_a_plan_even_while_it_fasts_by_order(self, animal, plan):
        make.FeedingPlanFactory(animal=animal, **plan)
        assert asked(facts_of(animal)) == []

    def test_not_of_one_that_is_fed_with_its_group(self, animal):
        make.FeedingPlanFactory(animal=None, enclosure=animal.placements.get().enclosure)
        assert asked(facts_of(animal)) == []

    def test_not_of_one_in_brumation(self, animal):
        facts = facts_of(animal)
        assert asked(facts) == ["unknown"]
        assert asked(replace(facts, brumating_since=TODAY)) == []

    def test_again_when_its_plan_has_ended(self, animal):
        make.FeedingPlanFactory(animal=animal, starts_on=TODAY - timedelta(days=9), ends_on=TODAY)
        assert asked(facts_of(animal)) == ["unknown"]

    def test_of_a_newcomer_without_food_before_it_is_taken_in(self, animal):
        place = animal.placements.get().enclosure_id
        facts = load_facts(None, moment_for())
        assert with_arrival(facts, Newcomer(), place, TODAY).animal[-1].without_plan


class TestDecided:
    def entry(self, **more):
        food = make.FoodFactory(name="Smelt").pk
        return {"food": food, "ration_kg": "0.22", "every_days": "7", "uuid": str(uuid4()), **more}

    def decide(self, animal, typed):
        kind = recorder("first_plan")
        form = kind.form(animal.pk, data=typed)
        assert form.is_valid(), form.errors
        return record_new(
            kind=kind, subject_id=animal.pk, by=make.UserFactory(staff=True), cleaned=form.cleaned_data
        )

    def test_it_is_a_plan_from_today_and_an_observation(self, animal):
        saved = self.decide(animal, self.entry(fasting_until="2026-06-20"))
        plan = FeedingPlan.objects.get()
        assert (plan.animal, plan.ration_kg, plan.every_days) == (animal, 0.22, 7)
        assert (plan.starts_on, plan.fasting_until) == (TODAY, date(2026, 6, 20))
        assert saved.summary == "Feeding plan: Smelt every 7 days"
        assert HealthRecord.objects.get().finding == saved.summary
        assert asked(facts_of(animal)) == []

    def test_sent_twice_it_is_one_plan(self, animal):
        typed, by = self.entry(), make.UserFactory(staff=True)
        for _ in range(2):
            form = recorder("first_plan").form(animal.pk, data=typed)
            assert form.is_valid()
            record_new(kind=recorder("first_plan"), subject_id=animal.pk, by=by, cleaned=form.cleaned_data)
        assert FeedingPlan.objects.count() == HealthRecord.objects.count() == 1

    def test_who_comes_second_is_told(self, animal):
        first = self.entry()
        self.decide(animal, first)
        first = first | {"uuid": str(uuid4())}
        with pytest.raises(HusbandryError, match="has a feeding plan by now"):
            self.decide(animal, first)

    def test_a_food_is_chosen_and_a_ration_entered(self, animal):
        form = recorder("first_plan").form(animal.pk, data={"every_days": "7"})
        assert {"food", "ration_kg"} <= set(form.errors)

    def test_finishing_the_task_twice_makes_one_plan_and_the_first_meal_is_due(self, animal, client):
        plan_site()
        task = Task.objects.get(rule="husbandry.no_plan", status="open")
        client.force_login(make.UserFactory(staff=True))
        typed = self.entry() | {"outcome": "done"}
        with committed():
            for _ in range(2):
                assert client.post(reverse("task_finish", args=[task.pk]), typed).status_code in {200, 302}
        task.refresh_from_db()
        assert (task.status, FeedingPlan.objects.count()) == ("done", 1)
        assert Task.objects.get(rule="husbandry.feeding", status="open").due_on == TODAY
        assert not Task.objects.filter(rule="husbandry.no_plan", status="open").exists()

    def test_a_volunteer_is_not_asked_to_decide(self, animal, client):
        plan_site()
        task = Task.objects.get(rule="husbandry.no_plan", status="open")
        client.force_login(make.UserFactory())
        client.post(reverse("task_finish", args=[task.pk]), self.entry() | {"outcome": "done"})
        assert not FeedingPlan.objects.exists()
