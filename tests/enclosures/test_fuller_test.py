"""The fuller water test: its task is only done with what it was asked for."""

from datetime import timedelta

import pytest
from django.utils import timezone

from enclosures.models import WaterTest
from refuge.rounds.models import Task
from tests import factories as make
from tests.rounds.conftest import Walk, client_of

pytestmark = pytest.mark.django_db

RULE = "enclosures.water_panel"


@pytest.fixture
def walk(db):
    return Walk().plan_day()


@pytest.fixture
def task(walk):
    return walk.task(RULE, scope=walk.pond.circuit_id)


def finish(walk, task, **typed):
    return walk.finish(walk.volunteer, task, **({"outcome": "done", "basis": "n"} | typed))


@pytest.mark.parametrize(
    ("typed", "missing", "given"),
    [
        ({"ph": "7.2"}, ["Nitrate is missing", "Alkalinity is missing"], []),
        ({"nitrate_n_mg_l": "10"}, ["Alkalinity is missing"], ["Nitrate is missing"]),
        ({"alkalinity_mg_l": "90"}, ["Nitrate is missing"], ["Alkalinity is missing"]),
    ],
)
def test_what_is_missing_is_said_beside_its_field(walk, task, typed, missing, given):
    answer = finish(walk, task, **typed)
    html = answer.content.decode()
    assert answer.status_code == 422
    assert all(words in html for words in missing)
    assert not any(words in html for words in given)
    assert html.count("choose “Could not”") == len(missing)
    for name, value in typed.items():  # what was typed is still there
        assert f'name="{name}" value="{value}"' in html
    assert not WaterTest.objects.exists()
    assert Task.objects.get(pk=task.pk).status == "open"


def test_with_both_it_is_done_and_falls_due_again_later(walk, task):
    answer = finish(walk, task, nitrate_n_mg_l="10", alkalinity_mg_l="90")
    assert answer.status_code == 200
    test = WaterTest.objects.get()
    assert (test.nitrate_n_mg_l, test.alkalinity_mg_l) == (10, 90)
    again = walk.task(RULE, scope=walk.pond.circuit_id)
    assert again.due_on == timezone.now().date() + timedelta(days=30)


def test_a_kit_that_cannot_do_it_is_could_not(walk, task):
    answer = finish(walk, task, outcome="could_not", reason="The kit has no nitrate")
    assert answer.status_code == 200
    assert Task.objects.get(pk=task.pk).status == "could_not"
    assert not WaterTest.objects.exists()


def test_the_plain_water_test_asks_for_neither(walk):
    plain = walk.task("enclosures.water_test", scope=walk.pond.circuit_id)
    assert finish(walk, plain, ph="7.2").status_code == 200
    assert WaterTest.objects.get().ph == 7.2


def test_pages_of_waters_offer_one_water_test_and_it_is_corrected_there(walk):
    page = client_of(walk.manager).get(walk.pond.circuit.get_absolute_url()).content.decode()
    assert page.count("/record/water_test/") == 1
    assert "/record/fuller_water_test/" not in page
    test = make.WaterTestFactory(circuit=walk.pond.circuit)
    answer = client_of(walk.manager).get(f"/amend/enclosures.watertest/{test.pk}/").content.decode()
    assert "Nitrate and alkalinity are what this test is for" not in answer
