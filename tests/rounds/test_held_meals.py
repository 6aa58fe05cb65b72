"""Meals of which only a part is to be given for now: what the button says is what is recorded, on every way in."""

from datetime import timedelta
from uuid import uuid4

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from filtration.forecasting.models import WaterForecast
from husbandry.models import Feeding
from refuge.rounds.planner import plan_site
from tests.rounds.conftest import client_of
from tests.rounds.test_against import row_on


def young(walk, share: float) -> None:
    """The pond's filter is cycling, and its forecast bears so much of the plan."""
    walk.barrel.state = "cycling"
    walk.barrel.save()
    WaterForecast.objects.update_or_create(
        circuit=walk.pond.circuit,
        day=timezone.localdate(),
        defaults={
            "made_at": timezone.now(),
            "start_at": timezone.now(),
            "bands": b"not read here",
            "doubt": "longest",
            "sure_until": timezone.localdate() + timedelta(days=3),
            "outlook": {"maturing": {"days": [9.0, 14.0, 20.0, 1.0], "ladder": [share], "meal_kg": 1.0}},
        },
    )
    plan_site()


@pytest.fixture
def meal(walk):
    """Of 1.36 kg three tenths are borne."""
    young(walk, 0.3)
    return walk.task("husbandry.feeding")


def value_on(row: str) -> str:
    return row.partition('name="tap" value="')[2].partition('"')[0]


def test_the_button_says_what_it_records(walk, meal):
    row = row_on(client_of(walk.volunteer).get("/").content.decode(), meal)
    assert "Fed 408 g" in row.replace("\xa0", " ") and "Fed as planned" not in row
    assert "Only 408 g for now. Its filter is cycling. Plan: 1.36 kg" in row.replace("\xa0", " ")
    walk.finish(walk.volunteer, meal, tap=value_on(row))
    assert Feeding.objects.get().offered_kg == pytest.approx(0.3 * walk.plan.ration_kg, rel=1e-3)


def test_a_reader_of_pounds_reads_pounds(walk, meal):
    walk.volunteer.unit_system = "us"
    walk.volunteer.save()
    row = row_on(client_of(walk.volunteer).get("/").content.decode(), meal)
    assert "Fed 14.4 oz" in row.replace("\xa0", " ")


@pytest.mark.parametrize("value", ["1", "nan kg", "-2 kg", "1e9 kg", "x", ""])
def test_what_no_page_sent_along_records_what_the_task_says(walk, meal, value):
    walk.finish(walk.volunteer, meal, tap=value)
    assert Feeding.objects.get().offered_kg == pytest.approx(meal.prefill["offered_kg"])


def test_a_tap_that_comes_late_records_what_its_button_said_and_once(walk, meal):
    """A phone out of signal: it was given at noon by the page of the morning; by then the forecast bears more."""
    value = value_on(row_on(client_of(walk.volunteer).get("/").content.decode(), meal))
    young(walk, 0.5)
    uuid = str(uuid4())
    for _ in range(2):
        assert walk.finish(walk.volunteer, meal, tap=value, uuid=uuid).status_code == 200
    assert Feeding.objects.get().offered_kg == pytest.approx(0.408)


def test_the_api_records_it_with_no_fields_and_once(walk, meal):
    api = APIClient()
    api.force_authenticate(walk.staff)
    entry = {"uuid": str(uuid4()), "task": meal.pk}
    codes = [api.post("/api/completions/", entry, format="json").status_code for _ in range(2)]
    assert codes == [201, 200]
    assert Feeding.objects.get().offered_kg == pytest.approx(0.408)


def test_as_planned_the_button_says_so(walk):
    young(walk, 0.96)
    meal = walk.task("husbandry.feeding")
    row = row_on(client_of(walk.volunteer).get("/").content.decode(), meal)
    assert "Fed as planned" in row
    walk.finish(walk.volunteer, meal, tap=value_on(row))
    assert Feeding.objects.get().offered_kg == pytest.approx(walk.plan.ration_kg)


def test_where_none_is_to_be_given_there_is_no_button_and_the_form_fills_nothing_in(walk):
    young(walk, 0.0)
    meal = walk.task("husbandry.feeding")
    browser = client_of(walk.volunteer)
    row = row_on(browser.get("/").content.decode(), meal)
    assert 'name="tap"' not in row and "No food yet: its filter is cycling. Ask a manager" in row
    form = browser.get(f"/tasks/{meal.pk}/").content.decode()
    field = form.partition('name="offered_kg"')[2].partition(">")[0]
    assert "value=" not in field
    assert (
        "little food and much new water" in form
    )  # the detail stands on the task's own page, not in the list
    assert "little food and much new water" not in row
