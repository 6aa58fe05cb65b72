"""The planner writes only the difference, in a fixed number of queries, and says why."""

from dataclasses import replace
from datetime import timedelta

import pytest
from django.utils import timezone

from refuge.rounds.models import RuleFailure, Task
from refuge.rounds.planner import plan_scopes, plan_site, preview
from refuge.rules.registry import rules
from tests import factories as make

pytestmark = pytest.mark.django_db


@pytest.fixture
def water():
    make.RefugeFactory()
    enclosure = make.EnclosureFactory()
    animal = make.AnimalFactory(placed_in=enclosure, mass_kg=55)
    make.FilterUnitFactory(circuit=enclosure.circuit)
    make.FeedingPlanFactory(animal=animal)
    return enclosure.circuit


def wanted() -> dict[str, Task]:
    return {task.rule: task for task in Task.objects.filter(status="open")}


class TestPlanSite:
    def test_every_subject_gets_its_work(self, water):
        plan_site()
        assert {
            "enclosures.water_test",
            "enclosures.water_change",
            "husbandry.all_seen",
            "husbandry.feeding",
            "filtration.drain",
            "filtration.protection_test",
        } <= set(wanted())
        assert not RuleFailure.objects.exists()

    def test_second_plan_changes_nothing(self, water):
        plan_site()
        again = plan_site()
        assert (again.opened, again.moved, again.withdrawn) == (0, 0, 0)
        assert again.standing == Task.objects.filter(status="open").count()

    def test_reason_carries_its_numbers_and_the_limits_it_used(self, water):
        make.WaterTestFactory(circuit=water, at=timezone.now() - timedelta(days=2))
        plan_site()
        task = wanted()["enclosures.water_test"]
        assert "what the filter can carry" in task.reasons[0]["text"]
        assert {
            "key": "water.interval_light_days",
            "value": 14,
            "unit": "days",
            "origin": "default",
        } in task.limits

    def test_missing_data_is_asked_for(self, water):
        plan_site()
        change = wanted()["enclosures.water_change"]
        assert any("Not known: nitrate" in reason["text"] for reason in change.reasons)

    @pytest.mark.parametrize("circuits", [1, 6])
    def test_costs_the_same_number_of_queries_for_any_site(self, circuits, django_assert_max_num_queries):
        make.RefugeFactory()
        for _ in range(circuits):
            enclosure = make.EnclosureFactory()
            animal = make.AnimalFactory(placed_in=enclosure, mass_kg=5)
            make.FilterUnitFactory(circuit=enclosure.circuit)
            make.FeedingPlanFactory(animal=animal)
            make.QuarantineFactory(animal=animal)
        with django_assert_max_num_queries(36):
            plan_site()


class TestPlanScopes:
    def test_replans_one_circuit_and_leaves_the_others(self, water):
        other = make.EnclosureFactory()
        make.AnimalFactory(placed_in=other)
        plan_site()
        Task.objects.filter(scope=other.circuit_id).update(title="untouched")
        make.WaterTestFactory(circuit=water)
        plan_scopes([water.pk])
        test = Task.objects.get(rule="enclosures.water_test", scope=water.pk, status="open")
        assert test.due_on > timezone.now().date()
        assert set(Task.objects.filter(scope=other.circuit_id).values_list("title", flat=True)) == {
            "untouched"
        }


class TestPreview:
    def test_writes_nothing(self, water):
        before, after = preview(lambda facts: facts, [water.pk])
        assert [each.key for each in before.wanted] == [each.key for each in after.wanted]
        assert not Task.objects.exists()


class TestBrokenRule:
    def test_hides_no_other_and_is_kept_for_the_manager(self, water, monkeypatch):
        rule = rules["filtration.drain"]
        monkeypatch.setitem(rules._rules, rule.key, _replaced(rule))
        plan_site()
        failure = RuleFailure.objects.get()
        assert failure.rule == "filtration.drain"
        assert "ZeroDivisionError" in failure.error
        assert "filtration.rinse" in wanted()


def _replaced(rule):
    return replace(rule, check=lambda facts, limits, today: [1 / 0])
