"""A filter that stands is entered as what it is: nobody leak-tests one that has carried a water for years."""

from datetime import date, timedelta
from uuid import uuid4

import pytest
from django.urls import reverse
from django.utils import timezone

from filtration.forms import FilterForm
from filtration.services import filter_set_state, maintenance_record
from refuge.people.models import Refuge
from refuge.rounds.models import Task
from refuge.rounds.planner import plan_site
from tests.factories import (
    CircuitFactory,
    EnclosureFactory,
    FilterUnitFactory,
)

pytestmark = pytest.mark.django_db


def entered(**changes):
    tank = EnclosureFactory(circuit=CircuitFactory())
    return {
        "code": "F9", "name": "Old barrel", "circuit": tank.circuit_id, "area": tank.area_id, "position": 0,
        "shape": "round", "length_m": "60", "height_m": "100", "void_height_m": "25",
        "state": "mature", "state_since": "2020-05-01",
        "layer-TOTAL_FORMS": 1, "layer-INITIAL_FORMS": 0, "layer-0-medium": "lava_rock", "layer-0-depth_m": "30",
    } | changes  # fmt: skip


def saved(client, **changes):
    data = entered(**changes)
    answer = client.post(reverse("filter_new"), data)
    assert answer.status_code == 302, answer.content.decode()[:3000]
    from filtration.models import FilterUnit

    return FilterUnit.objects.get(circuit_id=data["circuit"])


def test_one_that_has_run_for_years_is_entered_as_mature_and_asks_for_no_leak_test(client, manager):
    unit = saved(client)
    assert (unit.state, unit.state_since) == ("mature", date(2020, 5, 1))
    plan_site()
    rules = set(Task.objects.filter(subject_id=unit.pk, subject_kind="filter").values_list("rule", flat=True))
    assert "filtration.leak_test" not in rules
    assert "filtration.bucket_test" in rules
    page = client.get(unit.circuit.get_absolute_url()).content.decode()
    assert "no running filter" not in page


def test_its_years_before_the_refuge_kept_its_records_here_make_no_task_overdue(client, manager):
    Refuge.objects.update(founded_on=timezone.localdate())
    unit = saved(client)
    plan_site()
    due = Task.objects.filter(subject_id=unit.pk, subject_kind="filter").values_list("due_on", flat=True)
    assert set(due) == {timezone.localdate()}


def test_one_that_is_being_built_is_so_from_today(client, manager):
    unit = saved(client, state="building", state_since="")
    assert (unit.state, unit.state_since) == ("building", timezone.localdate())


@pytest.mark.parametrize(
    ("changes", "field", "words"),
    [
        ({"state": ""}, "state", "Choose what it is now."),
        ({"state_since": ""}, "state_since", "Since when is missing."),
        ({"state_since": "0024-05-01"}, "state_since", "This lies before 1950."),
        ({"state_since": "2999-05-01"}, "state_since", "This lies ahead."),
    ],
)
def test_what_cannot_be_meant_is_refused_beside_its_field(client, manager, changes, field, words):
    answer = client.post(reverse("filter_new"), entered(**changes))
    assert answer.status_code == 422
    assert words in answer.context["form"].errors[field][0]


def test_water_that_stands_in_a_running_one_counts_from_when_it_is_entered(client, manager):
    unit = saved(client, water_m3="200 L")
    assert unit.is_water_counted
    assert unit.circuit.extra_volume_m3 == pytest.approx(0.2)
    assert not saved(client, state="building", code="F8", water_m3="200 L").is_water_counted


def test_its_state_can_be_put_right_until_a_record_tells_it():
    unit = FilterUnitFactory(state="building", state_since=timezone.localdate())
    assert "state" in FilterForm(instance=unit).fields
    now = timezone.now()
    maintenance_record(unit=unit, kind="leak_test", by=None, at=now, uuid=uuid4(), passed=True)
    unit.refresh_from_db()
    assert "state" not in FilterForm(instance=unit).fields


def test_one_that_moved_on_by_a_record_is_left_to_its_records():
    unit = FilterUnitFactory(state="mature", state_since=timezone.localdate() - timedelta(days=400))
    filter_set_state(unit=unit, state="resting", by=None, at=timezone.now(), uuid=uuid4())
    unit.refresh_from_db()
    assert "state" not in FilterForm(instance=unit).fields
